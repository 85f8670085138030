//! What a line of the catalog is made of.

use serde::{Deserialize, Serialize};

/// Name of a plate without a material.
pub(super) const NO_MATERIAL: &str = "none";
/// Where the grades come from.
pub const STRESS_GRADE_SOURCE: &str = "ISO 10110-18, annex; from memory";

/// How well a catalog entry is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Standing {
    /// Read in the named source.
    Read,
    /// From memory of the named source.
    #[serde(rename = "from memory")]
    FromMemory,
    /// Made up: for examples, or as an idealisation.
    Invented,
}

impl Standing {
    /// In words, for the printed catalog.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Read => "read",
            Self::FromMemory => "from memory",
            Self::Invented => "invented",
        }
    }
}

/// Kinds of object that people look at with a polarizing microscope.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
pub enum SpecimenClass {
    /// Crystals and grains, 100 nm and more.
    #[serde(rename = "strong crystal")]
    StrongCrystal,
    /// Fibres, tens to hundreds of nm.
    #[serde(rename = "fibre")]
    Fibre,
    /// Living things that are thin: a few nm and less.
    #[serde(rename = "faint living structure")]
    FaintLivingStructure,
}

impl SpecimenClass {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::StrongCrystal => "strong crystal",
            Self::Fibre => "fibre",
            Self::FaintLivingStructure => "faint living structure",
        }
    }
}

/// What a sheet polarizer is made for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum SheetSection {
    /// Sheets as optics dealers cut them: the dyed film between sheets of plastic, or between glass.
    #[serde(rename = "laminated sheet")]
    Laminated,
    /// Thin, self-adhesive film as on flat displays.
    #[serde(rename = "display film")]
    Display,
    /// No real sheet, for comparison.
    #[serde(rename = "ideal")]
    Ideal,
    /// Not of the catalog: told by a scenario's own numbers.
    #[serde(rename = "the scenario's own")]
    Own,
}

impl SheetSection {
    /// In words, as a heading.
    #[must_use]
    pub fn heading(self) -> &'static str {
        match self {
            Self::Laminated => "Laminated sheets",
            Self::Display => "Display films",
            Self::Ideal => "Ideal, for comparison",
            Self::Own => "The scenario's own",
        }
    }
}

/// What is known of a sheet beside its numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SheetAbout {
    /// What it is made for.
    pub section: SheetSection,
    /// Factors between which the catalog's `k1` is right; `None` where it is exact by definition.
    pub k1_factors: Option<(f64, f64)>,
}

/// Where the slow direction of an elongated object lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum SlowAlong {
    /// Along its length: positive elongation.
    Along,
    /// Across its length: negative elongation.
    Across,
}

/// One line of the printed catalog.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Entry {
    /// "lamp", "sheet", "glass", "crystal", "biaxial crystal", "plate", "coating", "immersion", "specimen", "stress grade".
    pub group: &'static str,
    /// The name that files use.
    pub name: &'static str,
    /// The values that matter, in words with units.
    pub values: String,
    /// Where they come from.
    pub source: &'static str,
    /// How well they are known: the weakest of an entry's values; `source` says which.
    pub standing: Standing,
}
