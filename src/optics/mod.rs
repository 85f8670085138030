//! The parts of a light path, one physical thing per file: what each does to a ray.
//!
//! A part acts as a chain of [`LinearElement`]s, each with two orthogonal linear modes of vibration. Signs and frames are
//! those of [`crate::conventions`].

mod element;
mod interface;
mod lens;
mod polarizer;
mod rays;
mod retarder;
mod specimen;
mod strain;

pub use element::LinearElement;
pub use interface::{Slide, flat_interface};
pub use lens::{Coating, Lens, LensError, coated_surfaces};
pub use polarizer::{FilmRay, Polarizer};
pub use rays::{Ray, Rays};
pub use retarder::Retarder;
pub use specimen::{CrystalRay, Specimen};
pub use strain::{AMOUNT_WITHIN, LocalStrain, RadialSlow, Strain, StrainMap, StrainMapError};
