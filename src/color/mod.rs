//! From a spectrum to what is seen.
//!
//! A transmittance and a lamp give tristimulus values ([`ColorWeights`]); the parallel field is taken for white
//! ([`Adaptation`]); the rest of the way is sRGB ([`Swatch`]). [`Background`] does all of it for one field and says in
//! words what colour it is.
//!
//! The observer is the CIE 1931 2 degree one throughout. What the eye does in the dark (rods, dark adaptation, glare) is left out: a field ten
//! thousand times darker than white gets the name that its colour has when it is shown bright enough.
//!
//! ```
//! use polstack::color::{D65_WHITE, Lab, ciede2000};
//! let white = Lab::of(D65_WHITE, D65_WHITE);
//! let darker = Lab::of(D65_WHITE.scaled(0.5), D65_WHITE);
//! assert!((white.0[0] - 100.0).abs() < 1e-9);
//! assert!(ciede2000(white, darker) > 10.0);
//! ```

#![warn(clippy::disallowed_methods)]

mod adaptation;
mod background;
mod gamut;
mod lab;
mod naming;
mod oklch;
mod srgb;
mod xyz;

use thiserror::Error;

use crate::spectrum::TableError;

pub use adaptation::{Adaptation, D65_WHITE};
pub use background::{Background, EyeAdaptation, stops_within, white_stops};
pub use gamut::{Mapped, blend_into_srgb, map_to_srgb};
pub use lab::{Lab, ciede2000};
pub use naming::color_name;
pub use oklch::Oklch;
pub use srgb::{Swatch, linear_srgb};
pub use xyz::{ColorWeights, Xyz, integrate};

/// A colour that cannot be computed.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum ColorError {
    /// The lamp or the observer has no value at a wavelength of the grid.
    #[error("{table}: {error}")]
    Uncovered {
        /// The lamp's name, or "observer".
        table: String,
        /// What is missing.
        error: TableError,
    },
    /// A lamp's power is negative or not a number.
    #[error("lamp power is {power} at {wavelength_nm} nm, allowed is 0 or more")]
    Power {
        /// Where, nm.
        wavelength_nm: f64,
        /// The power.
        power: f64,
    },
    /// Lamp and observer have nothing in common on the grid, or the parallel field is dark.
    #[error(
        "luminance of {field} is {luminance}, needed is more than 0: the lamp must shine where the eye sees, and a sheet must pass something (k1 above 0)"
    )]
    NoLight {
        /// "lamp" or "parallel field".
        field: &'static str,
        /// Its luminance.
        luminance: f64,
    },
    /// A spectrum that does not belong to the grid.
    #[error("{values} transmittances for {wavelengths} wavelengths")]
    Length {
        /// Wavelengths of the grid.
        wavelengths: usize,
        /// Values that were given.
        values: usize,
    },
    /// A tristimulus value that is not a number.
    #[error("tristimulus values of {field} are {xyz:?}, allowed are finite numbers")]
    NotFinite {
        /// "field" or "parallel field".
        field: &'static str,
        /// The values.
        xyz: [f64; 3],
    },
}
