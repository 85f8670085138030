//! What makes a question impossible to answer. How a file or a command mends it is told by those who know files and commands.

use thiserror::Error;

use super::told::brief;
use super::vary::{Profile, Vary};
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
    /// No lens is told by its surfaces.
    #[error("no lens has a prescription: what a lens does besides needs its surfaces")]
    NoPrescription,
    /// A tolerance study without a tolerance.
    #[error("no part has a tolerance")]
    NoTolerance,
    /// A tolerance of something that the part has not, or that is no tolerance.
    #[error("{part}: its tolerance of the {what} cannot be drawn from; {}", why.words())]
    Tolerance {
        /// The part's name.
        part: String,
        /// Of what.
        what: &'static str,
        /// Why not.
        why: BadTolerance,
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
    #[error("the {kind} \"{part}\" has nothing of that kind to vary; {}", why.words())]
    NothingToVary {
        /// The part.
        part: String,
        /// What it is.
        kind: &'static str,
        /// Why not.
        why: NoVary,
    },
    /// A part that is the same at every azimuth.
    #[error("turning the {kind} \"{part}\" changes nothing: {}", why.words())]
    NothingToTurn {
        /// The part.
        part: String,
        /// What it is.
        kind: &'static str,
        /// Why.
        why: NoTurn,
    },
    /// A place that the lower polar has not got in this stand.
    #[error("the lower polar has no such place in this stand")]
    NoPlaceForPolar,
    /// A lamp of which a channel of a colour camera sees nothing.
    #[error(
        "a channel of the camera sees nothing of this lamp's light: take a grey picture, or other light"
    )]
    UnseenByCamera,
    /// A camera that cannot be.
    #[error("the camera's {quantity} is {value}; allowed: {allowed}")]
    Camera {
        /// What of the camera.
        quantity: &'static str,
        /// Its value.
        value: f64,
        /// What is possible.
        allowed: &'static str,
    },
    /// Plates asked for in a stack without any.
    #[error("there is no plate to look with")]
    NoPlate,
    /// A ray that is not among the direct light's.
    #[error(
        "NA {} is beyond the direct light's {na:.2}; take a ray from 0 to {na}, or open the iris",
        brief(*s)
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
    #[error("there is no objective whose strain could be varied")]
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

/// Why a tolerance cannot be drawn from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BadTolerance {
    /// It is that of a lens's first strain, which has no such number.
    FirstStrainLacksIt,
    /// The part has no such number.
    PartLacksIt,
    /// It is not a finite number, 0 or more.
    NotANumber,
}

impl BadTolerance {
    fn words(self) -> &'static str {
        match self {
            Self::FirstStrainLacksIt => {
                "it is that of the lens's first strain profile, which has none"
            }
            Self::PartLacksIt => "the part has none",
            Self::NotANumber => "it is a finite number, 0 or more",
        }
    }
}

/// Why a part has nothing to vary.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NoVary {
    /// A slide has no number that could be off.
    Slide,
    /// The lens has no strain with an azimuth.
    NoAzimuth,
    /// The specimen is what shows the fault; it is not one.
    Specimen,
    /// The part has only these.
    Only(&'static [Vary]),
    /// Strain is asked for of a part that is no lens.
    NoLens,
    /// A strain of a shape that has to be described.
    Unassumed(Profile),
    /// A strain of no strength, whose shape nobody can tell.
    NoShape,
    /// A lens whose surfaces are known: their number is not free.
    SurfacesTold,
}

impl NoVary {
    fn words(&self) -> String {
        match self {
            Self::Slide => "a slide has no number that could be off".to_owned(),
            Self::NoAzimuth => {
                "no strain with an azimuth is written there: a radial one has none".to_owned()
            }
            Self::Specimen => {
                "the empty field is judged, or a specimen of a stated path difference".to_owned()
            }
            Self::Only(all) => {
                let words: Vec<_> = all.iter().map(|vary| vary.words()).collect();
                format!("it has {}", words.join(", "))
            }
            Self::NoLens => "strain is a lens's".to_owned(),
            Self::Unassumed(shape) => format!("a {} cannot be assumed", shape.word()),
            Self::SurfacesTold => {
                "its surfaces are told one by one, so that their number is not free".to_owned()
            }
            Self::NoShape => "its strain is 0 everywhere and has no shape".to_owned(),
        }
    }
}

/// Why turning a part changes nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoTurn {
    /// A lens without a strain that has an axis.
    Unstrained,
    /// A lens whose strain has no strength.
    NoStrength,
    /// A slide.
    Slide,
    /// A crystal cut across its axis.
    Across,
    /// A part that lies where its azimuth cannot show.
    Hidden,
}

impl NoTurn {
    fn words(self) -> &'static str {
        match self {
            Self::Unstrained => {
                "a lens without strain, or with radial strain alone, is the same at every azimuth"
            }
            Self::NoStrength => "its strain is 0 as written, which is the same at every azimuth",
            Self::Slide => "a slide is the same at every azimuth",
            Self::Across => "a crystal cut across its axis is the same at every azimuth",
            Self::Hidden => {
                "it lies where its azimuth cannot show, as a lens below the lower polar"
            }
        }
    }
}
