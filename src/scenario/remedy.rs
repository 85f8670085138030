//! What to write in a scenario so that its stack can be run.

use crate::light_path::{Misplaced, Needed, PathError};

/// What a scenario must say instead, for a stack that cannot be run; `None` where the error says all there is to say.
///
/// # Examples
/// ```
/// use polstack::light_path::{Needed, PathError};
/// let error = PathError::Missing { what: Needed::Analyzer };
/// assert_eq!(error.to_string(), "there is no analyzer");
/// assert!(polstack::scenario::remedy(&error).unwrap().contains("`analyzer = { ... }`"));
/// ```
#[must_use]
pub fn remedy(error: &PathError) -> Option<&'static str> {
    Some(match error {
        PathError::Missing { what } => match what {
            Needed::Polarizer => {
                "crossed polars need a lower polar: add a part with `polarizer = { ... }` below the specimen"
            }
            Needed::Analyzer => {
                "crossed polars need one: add a last part with `analyzer = { ... }`"
            }
            Needed::Polars => "a light path needs a polarizer and an analyzer",
            Needed::Objective => {
                "add one, or say with `[view] na = ...` how wide the eye or camera looks"
            }
        },
        PathError::NoContact { .. } => "put the sheet right before the slide or take `contact` out",
        PathError::Order { how, .. } => match how {
            Misplaced::AfterAnalyzer => {
                "the analyzer is the last part of the stack: move it to the end"
            }
            Misplaced::PolarizerAfterObjective => {
                "the sheet above the objective is the analyzer: write `analyzer = { ... }`"
            }
            Misplaced::AfterObjective => {
                "parts are listed in the order of the light: put it before the objective"
            }
            Misplaced::CondenserAfterSlide => {
                "parts are listed in the order of the light: put it before them"
            }
        },
        _ => return None,
    })
}
