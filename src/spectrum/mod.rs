//! Wavelengths, lamps and the standard observer.
//!
//! Everything spectral is sampled on one [`WavelengthGrid`]; tables keep their own wavelengths and are
//! read by [`SpectralTable`], which refuses to extrapolate.
//!
//! ```
//! use polstack::spectrum::WavelengthGrid;
//! let grid = WavelengthGrid::new(400.0, 550.0, 50.0)?;
//! assert_eq!(grid.wavelengths_nm(), [400.0, 450.0, 500.0, 550.0]);
//! # Ok::<(), polstack::spectrum::GridError>(())
//! ```

#![warn(clippy::disallowed_methods)]

mod camera;
mod embedded;
mod gauss;
mod grid;
mod observer;
mod source;
mod table;

pub use camera::{CameraChannel, CameraSensitivity, Channel};
pub use gauss::{fewer_wavelengths, fewer_wavelengths_for};
pub use grid::{GridError, WavelengthGrid};
pub use observer::cie1931;
pub use source::Source;
pub use table::{SpectralTable, TableError};
