//! What makes a stack impossible to run. How to mend it in a file or on the command line is told by `scenario::remedy` and `cli/remedy.rs`, because
//! the engine knows neither.

use thiserror::Error;

use crate::optics::LensError;
use crate::spectrum::TableError;

/// Something that no stack can do without.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Needed {
    /// A lower polar.
    Polarizer,
    /// An analyzer.
    Analyzer,
    /// Both polars; found missing when a path is run that [`LightPath::check`](super::LightPath::check) has not accepted.
    Polars,
    /// An objective, or the aperture of an eye or camera in its place.
    Objective,
}

impl Needed {
    fn word(self) -> &'static str {
        match self {
            Self::Polarizer => "polarizer",
            Self::Analyzer => "analyzer",
            Self::Polars => "pair of polars",
            Self::Objective => "objective",
        }
    }
}

/// How a part can stand in an impossible place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Misplaced {
    /// Any part that stands behind the analyzer.
    AfterAnalyzer,
    /// A polarizer behind the objective, where only the analyzer can be.
    PolarizerAfterObjective,
    /// A part behind the objective that belongs below it.
    AfterObjective,
    /// A condenser behind the slide or the specimen.
    CondenserAfterSlide,
}

impl Misplaced {
    fn words(self) -> &'static str {
        match self {
            Self::AfterAnalyzer => "after the analyzer",
            Self::PolarizerAfterObjective | Self::AfterObjective => "after the objective",
            Self::CondenserAfterSlide => "after the slide or specimen",
        }
    }
}

/// A stack that cannot be run. Parts are named by their index in [`LightPath::parts`](super::LightPath::parts).
#[derive(Debug, Clone, PartialEq, Error)]
pub enum PathError {
    /// Something is missing that no stack can do without.
    #[error("there is no {}", what.word())]
    Missing {
        /// What is missing.
        what: Needed,
    },
    /// More parts of one kind than a stack can have.
    #[error("there is another {what}; a stack has {}", if *most == 1 { "one" } else { "at most two" })]
    Twice {
        /// Index of the second.
        part: usize,
        /// The kind.
        what: &'static str,
        /// How many there may be, 1 or 2.
        most: usize,
    },
    /// A condenser of two lenses of which the second makes the beam less steep; it must make it steeper.
    #[error(
        "rays leave the condenser's first lens at up to {:.1} degrees and its second at {:.1}; each must bend them further: give the first the smaller NA",
        angle_rad.to_degrees(),
        next_rad.to_degrees()
    )]
    Narrowing {
        /// Index of the first lens.
        part: usize,
        /// The steepest angle behind it, radians.
        angle_rad: f64,
        /// The same behind the second one.
        next_rad: f64,
    },
    /// A sheet joined to a slide that is not there.
    #[error("its contact medium joins the sheet to a slide, and no slide follows it")]
    NoContact {
        /// Index of the sheet.
        part: usize,
    },
    /// A part in an impossible place.
    #[error("the {what} stands {}", how.words())]
    Order {
        /// Index of the part.
        part: usize,
        /// The kind.
        what: &'static str,
        /// What is wrong with its place.
        how: Misplaced,
    },
    /// Rays too steep for a medium: they would be totally reflected.
    #[error(
        "rays up to NA {na} cannot cross a medium of index {index:.4} ({medium}); close the iris below it or raise the index"
    )]
    TooSteep {
        /// Index of the part.
        part: usize,
        /// The largest NA of the rays.
        na: f64,
        /// Refractive index of the medium.
        index: f64,
        /// Which medium.
        medium: &'static str,
    },
    /// A lens that cannot bend the rays.
    #[error("{source}")]
    Lens {
        /// Index of the part.
        part: usize,
        /// Why.
        source: LensError,
    },
    /// A part that was taken for a lens.
    #[error("it is no lens")]
    NoLens {
        /// Index of the part.
        part: usize,
    },
    /// A lens of which the surfaces were asked for.
    #[error("it has no prescription: its surfaces are not known")]
    NoPrescription {
        /// Index of the part.
        part: usize,
    },
    /// A condenser of two lenses of which one has a prescription.
    #[error(
        "the condenser's other lens has a prescription and this one has none: rays are traced through both or through neither"
    )]
    HalfPrescribed {
        /// Index of the lens without one.
        part: usize,
    },
    /// Strain along the ray in a lens that ends in an edge.
    #[error(
        "strain along the ray is told by a reading along the axis at the rim, where this glass is {edge_mm:.2} mm thick: give it a smaller half diameter or more thickness"
    )]
    NoRim {
        /// Index of the part.
        part: usize,
        /// Thickness of the glass at the rim, mm.
        edge_mm: f64,
    },
    /// A table that does not cover the wavelengths.
    #[error("{source}")]
    Table {
        /// Index of the part.
        part: usize,
        /// Why.
        source: TableError,
    },
    /// A strain map that does not cover the rays.
    #[error(
        "the strain map does not cover the aperture: nothing at x = {x:.4}, y = {y:.4} (fractions of the full NA)"
    )]
    MapUncovered {
        /// Index of the part.
        part: usize,
        /// Where, as a fraction of the full aperture.
        x: f64,
        /// Where, as a fraction of the full aperture.
        y: f64,
    },
}

impl PathError {
    /// Index of the part that is to blame, where one is.
    #[must_use]
    pub fn part(&self) -> Option<usize> {
        match self {
            Self::Missing { .. } => None,
            Self::Twice { part, .. }
            | Self::Narrowing { part, .. }
            | Self::NoContact { part }
            | Self::Order { part, .. }
            | Self::TooSteep { part, .. }
            | Self::Lens { part, .. }
            | Self::NoLens { part }
            | Self::NoPrescription { part }
            | Self::HalfPrescribed { part }
            | Self::NoRim { part, .. }
            | Self::Table { part, .. }
            | Self::MapUncovered { part, .. } => Some(*part),
        }
    }
}
