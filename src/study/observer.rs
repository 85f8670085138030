//! Who looks, and what they need to tell a specimen from its background.
//!
//! ```
//! use polstack::color::{Adaptation, D65_WHITE};
//! use polstack::study::observer::{CONTRAST, Criterion};
//! let eye = Criterion::Contrast { least: CONTRAST };
//! // A specimen brighter by a fifth than what is about it is seen twice as well as it must be.
//! let times = eye.times(D65_WHITE.scaled(1.2), D65_WHITE, &Adaptation::NONE);
//! assert!((times - 2.0).abs() < 1e-12);
//! ```

use super::measures::NOTHING;
use crate::color::{Adaptation, D65_WHITE, Lab, Xyz, ciede2000};

/// Weber contrast that an eye needs in the dark background of crossed polars: 10 % or more. In good light 1 to 2 % is enough.
///
/// Source: S. Hecht 1934; H. R. Blackwell 1946 (both from memory).
pub const CONTRAST: f64 = 0.1;

/// CIEDE2000 difference that is just visible side by side; below it two colours are alike. Common practice, no source.
pub const JUST_VISIBLE: f64 = 1.0;

/// CIEDE2000 difference that an eye sees without looking for it; common practice, no source.
pub const COLOR_DIFFERENCE: f64 = 2.0;

/// Electrons that fill a pixel: an ordinary small one; common practice, no source.
pub const FULL_WELL: f64 = 10_000.0;

/// Signal-to-noise ratio with which a detail counts as seen.
///
/// Source: A. Rose 1948 (from memory).
pub const SNR: f64 = 5.0;

/// What an observer goes by, with the threshold from which a specimen is seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Criterion {
    /// Weber contrast `|L_s - L_b| / L_b` of the luminances; infinite before a background without light.
    Contrast {
        /// From here on it is seen.
        least: f64,
    },
    /// CIEDE2000 difference; the parallel field is white.
    Color {
        /// From here on it is seen.
        least: f64,
    },
    /// Signal-to-noise ratio of the difference of two pixels, `|n_s - n_b| / sqrt(n_s + n_b)`, with shot noise alone and an
    /// exposure that fills the brighter one. The camera weighs the wavelengths as the eye does.
    Signal {
        /// From here on it is seen.
        least: f64,
        /// Electrons that fill a pixel.
        full_well: f64,
    },
}

impl Criterion {
    /// From here on a specimen is seen.
    #[must_use]
    pub fn least(&self) -> f64 {
        match *self {
            Self::Contrast { least } | Self::Color { least } | Self::Signal { least, .. } => least,
        }
    }

    /// How much a specimen differs from its background, both relative to the luminance of the parallel field; `balance` takes
    /// the parallel field to D65.
    ///
    /// Checked by: `tests/laws/visibility.rs`.
    #[must_use]
    pub fn measure(&self, specimen: Xyz, background: Xyz, balance: &Adaptation) -> f64 {
        let light = |field: Xyz| {
            let luminance = field.luminance();
            if luminance > NOTHING { luminance } else { 0.0 }
        };
        let (here, there) = (light(specimen), light(background));
        let difference = (here - there).abs();
        match *self {
            // 0/0 would be no number.
            _ if difference == 0.0 && !matches!(self, Self::Color { .. }) => 0.0,
            Self::Contrast { .. } => difference / there,
            Self::Color { .. } => {
                let lab = |field| Lab::of(balance.apply(field), D65_WHITE);
                ciede2000(lab(specimen), lab(background))
            }
            Self::Signal { full_well, .. } => {
                let brighter = here.max(there);
                difference * (full_well / (brighter * (here + there))).sqrt()
            }
        }
    }

    /// The same in units of the threshold: seen from 1 on.
    #[must_use]
    pub fn times(&self, specimen: Xyz, background: Xyz, balance: &Adaptation) -> f64 {
        self.measure(specimen, background, balance) / self.least()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const GREY: Xyz = D65_WHITE;

    #[test]
    fn a_full_pixel_beside_an_empty_one_has_the_noise_of_its_electrons() {
        let camera = Criterion::Signal {
            least: 5.0,
            full_well: 10_000.0,
        };
        let snr = camera.measure(GREY.scaled(1e-3), Xyz::BLACK, &Adaptation::NONE);
        assert!((snr - 100.0).abs() < 1e-12, "{snr}");
        // 10 000 and 9 000 electrons: 1000 / sqrt(19000).
        let snr = camera.measure(GREY.scaled(1e-3), GREY.scaled(9e-4), &Adaptation::NONE);
        assert!((snr - 1000.0 / 19_000f64.sqrt()).abs() < 1e-9, "{snr}");
    }

    #[test]
    fn contrast_is_the_difference_over_the_background() {
        let eye = Criterion::Contrast { least: 0.02 };
        let of = |specimen: f64, background: f64| {
            eye.measure(
                GREY.scaled(specimen),
                GREY.scaled(background),
                &Adaptation::NONE,
            )
        };
        assert!((of(1.02, 1.0) - 0.02).abs() < 1e-15 && (of(0.0, 1.0) - 1.0).abs() < 1e-15);
        assert_eq!((of(1.0, 0.0), of(0.0, 0.0)), (f64::INFINITY, 0.0));
    }
}
