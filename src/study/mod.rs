//! Answers: one question per file.

pub mod aperture;
pub mod chart;
pub mod draws;
mod lamp;
pub mod leak;
pub mod observer;
pub mod place;
pub mod predict;
pub mod quantity;
pub mod response;
mod root;
pub mod sobol;
mod stage;
pub mod tolerate;
pub mod trace;
pub mod visibility;
mod wavelengths;

use thiserror::Error;

use crate::color::ColorError;
use crate::light_path::PathError;
use crate::spectrum::TableError;

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
    /// No part of that name, or none named.
    #[error("{}; the parts are: {}", unknown(name.as_deref(), nearest.as_deref()), names.join(", "))]
    UnknownPart {
        /// The name; `None` where a part is needed and none is named.
        name: Option<String>,
        /// The one that was probably meant.
        nearest: Option<String>,
        /// All names.
        names: Vec<String>,
    },
    /// A part that has not got what is to be varied.
    #[error("the {kind} \"{part}\" has nothing of that kind to vary; {remedy}")]
    NothingToVary {
        /// The part.
        part: String,
        /// What it is.
        kind: &'static str,
        /// What to do.
        remedy: String,
    },
    /// A part that is the same at every azimuth.
    #[error("turning the {kind} \"{part}\" changes nothing: {remedy}")]
    NothingToTurn {
        /// The part.
        part: String,
        /// What it is.
        kind: &'static str,
        /// Why, and what to do.
        remedy: &'static str,
    },
    /// Plates asked for in a stack without any.
    #[error("there is no plate to look with; add a part with `plate = {{ ... }}`, or look without")]
    NoPlate,
    /// A ray that is not among the direct light's.
    #[error(
        "NA {s} is beyond the direct light's {na:.2}; take a ray from 0 to {na}, or open the iris"
    )]
    RayBeyond {
        /// Its numerical aperture.
        s: f64,
        /// That of the direct light.
        na: f64,
    },
    /// A path that cannot be run at one wavelength.
    #[error("{part} at {wavelength_nm} nm: {error}")]
    AtWavelength {
        /// The wavelength, nm.
        wavelength_nm: f64,
        /// The part's name.
        part: String,
        /// Why.
        error: PathError,
    },
    /// A number that a chart cannot be drawn with.
    #[error("{quantity} is {value}, allowed are {allowed}")]
    OutOfRange {
        /// Which number, with its unit.
        quantity: &'static str,
        /// The value.
        value: f64,
        /// What is allowed.
        allowed: String,
    },
    /// A sheet or a material that does not cover the wavelengths.
    #[error("{what}: {source}")]
    Table {
        /// Its name.
        what: String,
        /// What is missing.
        source: TableError,
    },
    /// Nothing to strain in a stack without an objective.
    #[error(
        "there is no objective whose strain could be varied; add a part with `objective = {{ ... }}`"
    )]
    NoObjective,
    /// A quantity that the path has not got.
    #[error("the path has no such quantity; take one that `Quantity::all` lists")]
    NoQuantity,
}

fn unknown(name: Option<&str>, nearest: Option<&str>) -> String {
    match (name, nearest) {
        (None, _) => "which part is meant is not said".to_owned(),
        (Some(name), None) => format!("there is no part \"{name}\""),
        (Some(name), Some(nearest)) => {
            format!("there is no part \"{name}\", did you mean \"{nearest}\"?")
        }
    }
}
