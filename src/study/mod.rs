//! Answers: one question per file.

pub mod leak;
pub mod place;
pub mod predict;

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
}
