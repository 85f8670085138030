//! The parts of a light path, one physical thing per file: what each does to a ray.
//!
//! A part acts as a chain of [`LinearElement`]s, each with two orthogonal linear modes of vibration. Signs and frames are
//! those of [`crate::conventions`].
//!
//! # Examples
//! ```
//! let sheet = polstack::material::catalog::sheet("iodine-medium").unwrap();
//! let polar = polstack::optics::Polarizer::new(sheet, 0.0);
//! let (k1, k2) = polar.sheet.principal_transmittances(546.1)?;
//! assert!(k1 > 0.6 && k2 < 1e-4);
//!
//! let disc = polstack::optics::Rays::disc(0.25, 6, 24);
//! let mean_square: f64 = disc.iter().map(|(ray, weight)| weight * ray.s * ray.s).sum();
//! assert!((mean_square - 0.25 * 0.25 / 2.0).abs() < 1e-12);
//! # Ok::<(), polstack::spectrum::TableError>(())
//! ```

#![warn(clippy::disallowed_methods)]

mod askew;
mod biaxial;
mod element;
mod interface;
mod lens;
mod polarizer;
pub mod prescription;
mod rays;
mod retarder;
mod specimen;
mod strain;
mod strain_map;
mod zone_grid;

pub use askew::AskewPlate;
pub use biaxial::{BiaxialPlate, Impermeability, PlateModes};
pub use element::LinearElement;
pub use interface::{Slide, flat_interface};
pub use lens::{Coating, Lens, LensError, LensForm, Prescription, Settled, coated_surfaces};
pub use polarizer::{FilmRay, Polarizer};
pub use rays::{Ray, RayCounts, Rays};
pub use retarder::Retarder;
pub use specimen::{CrystalRay, Specimen};
pub use strain::{AMOUNT_WITHIN, LocalStrain, RadialAlong, RadialSlow, Strain, StressProfile};
pub use strain_map::{StrainMap, StrainMapError};
pub use zone_grid::{DISC_ERROR, ZoneGrid};
