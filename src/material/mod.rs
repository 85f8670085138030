//! What the parts are made of: refractive indices, birefringence, stress-optic coefficients, sheet polarizers.

mod birefringence;
pub mod catalog;
mod index;
mod sheet;

pub use birefringence::{Birefringence, Uniaxial};
pub use index::{Glass, Index};
pub use sheet::{Sheet, SheetTransmittance};
