//! What of a part can be varied, and the shapes of strain.

use super::quantity::{Quantity, QuantityKind};
use crate::light_path::{LightPath, PartKind};
use crate::optics::Strain;

/// What to vary.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Vary {
    /// How much strain.
    Strain,
    /// An azimuth.
    Azimuth,
    /// A path difference.
    PathDifference,
    /// The number of a lens's surfaces.
    Surfaces,
    /// The fraction of stray light.
    Stray,
}

impl Vary {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Strain => "strain",
            Self::Azimuth => "azimuth",
            Self::PathDifference => "path difference",
            Self::Surfaces => "number of surfaces",
            Self::Stray => "stray light",
        }
    }
}

/// The shapes of strain.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Profile {
    /// The same everywhere.
    Uniform,
    /// Growing with the square of the radius.
    Radial,
    /// Pressed by contacts.
    Clamp,
    /// A measured map.
    Map,
}

impl Profile {
    /// In a word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Uniform => "uniform",
            Self::Radial => "radial",
            Self::Clamp => "clamp",
            Self::Map => "map",
        }
    }

    /// The shape of the strain whose amount or azimuth a quantity is.
    #[must_use]
    pub fn of_quantity(path: &LightPath, quantity: Quantity) -> Option<Self> {
        strain_of(path, quantity).map(Self::of)
    }

    /// The shape of a strain.
    #[must_use]
    pub fn of(strain: &Strain) -> Self {
        match strain {
            Strain::Uniform { .. } => Self::Uniform,
            Strain::Radial { .. } => Self::Radial,
            Strain::Clamp { .. } => Self::Clamp,
            Strain::Map(_) => Self::Map,
        }
    }
}

/// The strain whose amount or azimuth a quantity is.
pub(super) fn strain_of(path: &LightPath, quantity: Quantity) -> Option<&Strain> {
    let (QuantityKind::StrainAmount { profile } | QuantityKind::StrainAzimuth { profile }) =
        quantity.kind
    else {
        return None;
    };
    match &path.parts.get(quantity.part?)?.kind {
        PartKind::Condenser(lens) | PartKind::Objective(lens) => lens.strain.get(profile),
        _ => None,
    }
}
