//! What to write or to ask for where a question cannot be answered.

use crate::scenario;
use crate::study::tolerate::Vary;
use crate::study::{BadTolerance, NoTurn, NoVary, StudyError};

/// The error and what to do about it.
pub(super) fn with_remedy(error: &StudyError) -> String {
    match remedy(error) {
        Some(remedy) => format!("{error}; {remedy}"),
        None => error.to_string(),
    }
}

fn remedy(error: &StudyError) -> Option<String> {
    let text = match error {
        StudyError::Path(error) | StudyError::AtWavelength { error, .. } => {
            scenario::remedy(error)?
        }
        StudyError::NoPrescription => {
            "measure its surfaces and write `prescription = { csv = \"lens.csv\" }` on it; `polstack lens --from` makes a table to start from"
        }
        StudyError::NoTolerance => {
            "write one beside a part, such as `tolerance = { azimuth_deg = 0.5 }`"
        }
        StudyError::Tolerance { why, .. } => match why {
            BadTolerance::FirstStrainLacksIt => {
                "give it one that has it, such as `strain = [ { uniform = { path_difference_nm = 0, azimuth_deg = 45 } } ]`"
            }
            BadTolerance::PartLacksIt => "take it out",
            BadTolerance::NotANumber => return None,
        },
        StudyError::NothingToVary { why, .. } => match why {
            NoVary::Slide | NoVary::Specimen => "choose another part",
            NoVary::Only(all) => {
                let words: Vec<_> = all.iter().map(|vary| option_word(*vary)).collect();
                return Some(format!("--vary takes here: {}", words.join(", ")));
            }
            NoVary::Unassumed(_) => "write it in the scenario with any strength above 0",
            NoVary::SurfacesTold => {
                "write `surfaces = 4` in place of `bending_deg` or `prescription`, or vary its strain"
            }
            NoVary::NoShape => "write it with any strength above 0",
            NoVary::NoAzimuth | NoVary::NoLens => return None,
        },
        StudyError::NothingToTurn { why, .. } => match why {
            NoTurn::Unstrained => {
                "turn a part with an axis, or give the lens uniform strain, a clamp or a map"
            }
            NoTurn::NoStrength => "give it a strength, or turn a part with an axis",
            NoTurn::Slide => "turn a polar, a retarder, a plate or a strained lens",
            NoTurn::Across => "turn one with cut = \"along\", or a polar",
            NoTurn::Hidden => "turn a part between the polars, or a polar",
        },
        StudyError::NoPlate => "add a part with `plate = { ... }`, or look without",
        StudyError::NoObjective => "add a part with `objective = { ... }`",
        _ => return None,
    };
    Some(text.to_owned())
}

/// What `--vary` calls it.
fn option_word(vary: Vary) -> &'static str {
    match vary {
        Vary::Strain => "strain",
        Vary::Azimuth => "azimuth",
        Vary::PathDifference => "path-difference",
        Vary::Surfaces => "surfaces",
        Vary::Stray => "stray",
    }
}
