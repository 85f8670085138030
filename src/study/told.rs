//! How answers tell a program their numbers: angles in degrees, and a word where nothing leaks.

use serde::ser::{Serialize, SerializeMap, Serializer};

/// What is said where no light leaks and an extinction ratio is therefore not a number.
pub const INFINITE: &str = "infinite: no light leaks in this model; real parts always leak some";

/// A number in a message: one that would take many noughts, as a power of ten.
pub(crate) fn brief(value: f64) -> String {
    let size = value.abs();
    match size == 0.0 || (1e-6..1e15).contains(&size) {
        true => value.to_string(),
        false => format!("{value:e}"),
    }
}

/// An angle of radians, in degrees.
pub(crate) fn degrees<S: Serializer>(angle_rad: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    angle_rad.to_degrees().serialize(serializer)
}

/// The same of an angle that there need not be.
pub(super) fn known_degrees<S: Serializer>(
    angle_rad: &Option<f64>,
    serializer: S,
) -> Result<S::Ok, S::Error> {
    angle_rad.map(f64::to_degrees).serialize(serializer)
}

/// The key `extinction_ratio`; where nothing leaks it is null, and the key `extinction_note` says why. For a flattened field.
pub(crate) fn noted_ratio<S: Serializer>(
    ratio: &Option<f64>,
    serializer: S,
) -> Result<S::Ok, S::Error> {
    let mut keys = serializer.serialize_map(None)?;
    keys.serialize_entry("extinction_ratio", ratio)?;
    if ratio.is_none() {
        keys.serialize_entry("extinction_note", INFINITE)?;
    }
    keys.end()
}
