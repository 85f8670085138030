//! Jones, Mueller and Stokes: pure algebra, knows no optics.
//!
//! The signs are those of [`crate::conventions`].

#![warn(clippy::disallowed_methods)]

mod decomposition;
mod jones;
mod mueller;
mod stokes;

pub use decomposition::PolarDecomposition;
pub use jones::{Coherency, Jones};
pub use mueller::Mueller;
pub use stokes::Stokes;

/// A complex amplitude.
pub type Complex = num_complex::Complex<f64>;
