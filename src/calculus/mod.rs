//! Jones, Mueller and Stokes: pure algebra, knows no optics.
//!
//! The signs are those of [`crate::conventions`].
//!
//! ```
//! use polstack::calculus::{Coherency, Jones, Stokes};
//! // What passes nothing but light along East leaves half of unpolarized light.
//! let polarizer = Jones::linear(1.0.into(), 0.0.into(), 0.0);
//! let light = Coherency::from_stokes(&Stokes::UNPOLARIZED).through(&polarizer);
//! assert!((light.intensity() - 0.5).abs() < 1e-15);
//! ```

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
