//! The catalog of materials.

use super::{Birefringence, Glass, Sheet, Uniaxial};

/// How well a catalog entry is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// Read in the named source.
    Read,
    /// From memory of the named source.
    FromMemory,
    /// Made up for examples.
    Invented,
}

/// One line of the printed catalog.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// "source", "sheet", "glass", "crystal", "plate", "coating", "immersion", "specimen".
    pub group: &'static str,
    /// The name that files use.
    pub name: &'static str,
    /// The values that matter, in words with units.
    pub values: String,
    /// Where they come from.
    pub source: &'static str,
    /// How well they are known.
    pub standing: Standing,
}

/// All entries, group by group.
#[must_use]
pub fn entries() -> Vec<Entry> {
    Vec::new()
}

/// A glass or polymer by name.
#[must_use]
pub fn glass(_name: &str) -> Option<Glass> {
    None
}

/// A sheet polarizer by name.
#[must_use]
pub fn sheet(_name: &str) -> Option<Sheet> {
    None
}

/// A uniaxial crystal by name.
#[must_use]
pub fn crystal(_name: &str) -> Option<Uniaxial> {
    None
}

/// A plate material by name: crystals, gypsum, mica, polymer film, "none".
#[must_use]
pub fn plate_material(_name: &str) -> Option<Birefringence> {
    None
}

/// Refractive index of an immersion medium by name: "air", "water", "oil".
#[must_use]
pub fn immersion(_name: &str) -> Option<f64> {
    None
}

/// The names of a group.
#[must_use]
pub fn names(_group: &str) -> Vec<&'static str> {
    Vec::new()
}
