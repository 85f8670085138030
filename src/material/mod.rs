//! What the parts are made of: refractive indices, birefringence, stress-optic coefficients, sheet polarizers.
//!
//! ```
//! use polstack::material::catalog;
//! let sheet = catalog::sheet("iodine-medium").unwrap();
//! let (passed, absorbed) = sheet.principal_transmittances(550.0)?;
//! assert!(passed > 1000.0 * absorbed);
//! # Ok::<(), polstack::spectrum::TableError>(())
//! ```

#![warn(clippy::disallowed_methods)]

mod biaxial;
mod birefringence;
pub mod catalog;
mod data;
mod entry;
mod index;
mod listing;
mod named;
mod rotation;
mod sheet;
mod stress;

pub use biaxial::{Biaxial, SODIUM_NM};
pub use birefringence::{Birefringence, Uniaxial};
pub use index::{Glass, Index};
pub use rotation::RotatoryPower;
pub use sheet::{PolarizingSheet, SheetTransmittance};
pub use stress::{stress_optic_brewster, stress_path_difference_nm};
