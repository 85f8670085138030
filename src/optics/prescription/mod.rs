//! Lenses told by their surfaces: rays traced through them, and what each surface passes of p and s.
//!
//! # Examples
//! ```
//! use polstack::optics::prescription::{Surface, Train};
//! let glass = polstack::material::catalog::glass("N-BK7").unwrap();
//! // Plano-convex, the curved side to the parallel light.
//! let surfaces = vec![
//!     Surface::sphere(10.0, 4.0, Some(glass.clone()), 6.0),
//!     Surface::sphere(0.0, 0.0, None, 6.0),
//! ];
//! let lens = Train::new(surfaces, 1.0);
//! let focal_length = 10.0 / (glass.index.at(546.1) - 1.0);
//! assert!((lens.at(546.1).paraxial().focal_length_mm - focal_length).abs() < 1e-12);
//! ```

mod form;
mod paraxial;
mod passed;
mod stress;
mod surface;
mod table;
mod train;

pub use form::{Form, FormError, Shape};
pub use paraxial::Paraxial;
pub use passed::Passed;
pub use surface::Surface;
pub use table::{PassedRow, PassedTable};
pub use train::{Reach, Stop, Stopped, SurfaceRay, TracedRay, Train, TrainAt};
