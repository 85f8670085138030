//! Answers: one question per file.

pub mod draws;
pub mod leak;
pub mod predict;
pub mod quantity;
pub mod response;
pub mod sobol;

use thiserror::Error;

use crate::color::ColorError;
use crate::light_path::PathError;

/// A question that cannot be answered.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum StudyError {
    /// The light path cannot be run.
    #[error(transparent)]
    Path(#[from] PathError),
    /// The light cannot be turned into colour.
    #[error(transparent)]
    Color(#[from] ColorError),
    /// A tolerance study without a tolerance.
    #[error(
        "no part has a tolerance; write one beside a part, such as `tolerance = {{ azimuth_deg = 0.5 }}`"
    )]
    NoTolerance,
    /// A tolerance of something that the part has not, or that is no tolerance.
    #[error("{part}: its tolerance of the {what} cannot be drawn from; {remedy}")]
    Tolerance {
        /// The part's name.
        part: String,
        /// Of what.
        what: &'static str,
        /// What to do.
        remedy: &'static str,
    },
    /// No draws asked for.
    #[error("0 draws say nothing; ask for at least 1")]
    NoDraws,
}
