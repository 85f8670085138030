//! Answers made visible: one format per file. Knows studies, not files.

#[cfg(feature = "figures")]
pub mod camera;
pub mod csv;
#[cfg(any(feature = "figures", feature = "page"))]
#[cfg_attr(
    not(all(feature = "figures", feature = "cli")),
    allow(dead_code, reason = "figures draw more than the page")
)]
pub mod disc;
#[cfg(feature = "figures")]
pub mod figure;
#[cfg_attr(
    not(feature = "cli"),
    allow(dead_code, reason = "tables and figures say some of it")
)]
pub(crate) mod findings;
pub mod json;
#[cfg(feature = "cli")]
pub mod lesson;
#[cfg_attr(
    not(feature = "cli"),
    allow(dead_code, reason = "tables say most of it")
)]
pub(crate) mod numbers;
#[cfg_attr(
    not(feature = "cli"),
    allow(dead_code, reason = "tables say most of it")
)]
mod sentences;
#[cfg(feature = "figures")]
pub(crate) mod sheet;
#[cfg(any(feature = "cli", feature = "figures"))]
mod specimen;
#[cfg(feature = "cli")]
pub mod table;
#[cfg(any(feature = "cli", feature = "figures"))]
mod which_sheet;
mod words;

#[cfg(any(feature = "cli", feature = "figures"))]
pub use specimen::SpecimenWords;

pub use findings::{FitReport, ambiguities, findings, map_findings};

pub use crate::study::told::INFINITE;

/// A note on some of the stands that are put side by side.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StandNote {
    /// A whole sentence.
    pub words: String,
    /// Indices of the stands that it is about.
    pub stands: Vec<usize>,
}

/// What every answer says.
pub const CAUTION: &str = "Predicted from a simplified model: it identifies nothing and is no diagnostic device. Dim the lamp before polars are \
uncrossed or a sheet is lifted; never look at the sun or a laser; follow local rules for glass, adhesives and lamps.";

/// The same in one line under a figure: figures are passed on without the text around them.
#[cfg(feature = "figures")]
pub(crate) const CAUTION_IN_A_LINE: &str = "Predicted from a simplified model; identifies nothing and is no diagnostic device. Dim the lamp before polars are \
uncrossed; never look at the sun or a laser.";

/// The same on a frame of a moving picture, where there is less room.
#[cfg(feature = "figures")]
pub(crate) const CAUTION_ON_A_FRAME: &str =
    "Simplified model: identifies nothing. Dim the lamp before uncrossing polars.";
