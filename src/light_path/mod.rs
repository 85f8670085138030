//! An ordered stack of parts and its run over rays and wavelengths.

mod stack;

pub use stack::{LightPath, Part, PartKind, PathError, Space, Tolerance, ToleranceKind};
