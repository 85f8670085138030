//! Tristimulus values.

use serde::Serialize;

use super::ColorError;
use crate::spectrum::{Source, WavelengthGrid, cie1931};

/// CIE 1931 tristimulus values `[X, Y, Z]`; Y is luminance, 1 for whatever the context calls white.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Xyz(pub [f64; 3]);

impl Xyz {
    /// No light.
    pub const BLACK: Self = Self([0.0; 3]);

    /// Luminance Y.
    #[must_use]
    pub fn luminance(&self) -> f64 {
        self.0[1]
    }

    /// Chromaticity `[x, y]`; `None` where X + Y + Z is not positive, as for darkness.
    #[must_use]
    pub fn chromaticity(&self) -> Option<[f64; 2]> {
        let sum: f64 = self.0.iter().sum();
        (sum > 0.0).then(|| [self.0[0] / sum, self.0[1] / sum])
    }

    /// Every value multiplied by `factor`.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Self {
        Self(self.0.map(|v| v * factor))
    }
}

/// What each wavelength of a grid adds to X, Y and Z under one lamp.
///
/// `weight_i = S(l_i) [x-bar, y-bar, z-bar](l_i) / sum_j S(l_j) y-bar(l_j)`, so a transmittance of 1 everywhere has
/// Y = 1. A plain sum over the grid. Many spectra under one lamp share one of these.
///
/// Source: CIE 015:2018, section 7.1 (from memory). Checked by: `tests/reference/color.rs`,
/// `tests/published/colour.rs`.
#[derive(Debug, Clone, PartialEq)]
pub struct ColorWeights {
    weight: Vec<[f64; 3]>,
    white: Xyz,
}

impl ColorWeights {
    /// For a grid and a lamp.
    ///
    /// # Errors
    /// [`ColorError`] when lamp or observer does not cover the grid, the lamp's power is negative somewhere, or no
    /// light is seen at all.
    pub fn new(grid: &WavelengthGrid, source: &Source) -> Result<Self, ColorError> {
        let mut weight = Vec::with_capacity(grid.wavelengths_nm().len());
        for &wavelength_nm in grid.wavelengths_nm() {
            let power = source
                .power(wavelength_nm)
                .map_err(|error| ColorError::Uncovered {
                    table: source.name(),
                    error,
                })?;
            if !(power.is_finite() && power >= 0.0) {
                return Err(ColorError::Power {
                    wavelength_nm,
                    power,
                });
            }
            let bars = cie1931(wavelength_nm).map_err(|error| ColorError::Uncovered {
                table: "observer".to_owned(),
                error,
            })?;
            weight.push(bars.map(|bar| power * bar));
        }
        let luminance: f64 = weight.iter().map(|w| w[1]).sum();
        if !(luminance.is_finite() && luminance > 0.0) {
            return Err(ColorError::NoLight {
                field: "lamp",
                luminance,
            });
        }
        for value in weight.iter_mut().flatten() {
            *value /= luminance;
        }
        let white = weight
            .iter()
            .fold([0.0; 3], |sum, w| [0, 1, 2].map(|k| sum[k] + w[k]));
        Ok(Self {
            weight,
            white: Xyz(white),
        })
    }

    /// The lamp itself: a transmittance of 1 everywhere.
    #[must_use]
    pub fn white(&self) -> Xyz {
        self.white
    }

    /// The weights, one `[X, Y, Z]` for each wavelength of the grid.
    #[must_use]
    pub fn per_wavelength(&self) -> &[[f64; 3]] {
        &self.weight
    }

    /// Tristimulus values of a transmittance given at the grid's wavelengths.
    ///
    /// # Errors
    /// [`ColorError::Length`] when there are more or fewer values than wavelengths.
    pub fn xyz(&self, transmittance: &[f64]) -> Result<Xyz, ColorError> {
        self.check(transmittance)?;
        let mut sum = [0.0; 3];
        for (weight, t) in self.weight.iter().zip(transmittance) {
            for (s, w) in sum.iter_mut().zip(weight) {
                *s += w * t;
            }
        }
        Ok(Xyz(sum))
    }

    /// Luminous transmittance: Y alone.
    ///
    /// # Errors
    /// [`ColorError::Length`] when there are more or fewer values than wavelengths.
    pub fn luminous(&self, transmittance: &[f64]) -> Result<f64, ColorError> {
        self.check(transmittance)?;
        let pairs = self.weight.iter().zip(transmittance);
        Ok(pairs.map(|(weight, t)| weight[1] * t).sum())
    }

    fn check(&self, transmittance: &[f64]) -> Result<(), ColorError> {
        if transmittance.len() == self.weight.len() {
            Ok(())
        } else {
            Err(ColorError::Length {
                wavelengths: self.weight.len(),
                values: transmittance.len(),
            })
        }
    }
}

/// Tristimulus values of one transmittance under one lamp, Y = 1 for a transmittance of 1 everywhere.
///
/// # Errors
/// [`ColorError`], as [`ColorWeights::new`] and [`ColorWeights::xyz`].
///
/// # Examples
/// ```
/// use polstack::{color::integrate, spectrum::{Source, WavelengthGrid}};
/// let grid = WavelengthGrid::default();
/// let grey = vec![0.25; grid.wavelengths_nm().len()];
/// let xyz = integrate(&grid, &Source::named("cie-d65").unwrap(), &grey).unwrap();
/// assert!((xyz.luminance() - 0.25).abs() < 1e-15);
/// ```
pub fn integrate(
    grid: &WavelengthGrid,
    source: &Source,
    transmittance: &[f64],
) -> Result<Xyz, ColorError> {
    ColorWeights::new(grid, source)?.xyz(transmittance)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn white_xy_of_each_lamp_is_the_known_one() {
        // Tabulated white points; a sum from 380 to 780 nm differs from them in the fourth or fifth digit.
        for (name, xy) in [
            ("cie-a", [0.44758, 0.40745]),
            ("cie-d65", [0.31270, 0.32900]),
            ("led-b1", [0.4560, 0.4078]),
            ("led-b2", [0.4357, 0.4012]),
            ("led-b3", [0.3756, 0.3723]),
            ("led-b4", [0.3422, 0.3502]),
            ("led-b5", [0.3118, 0.3236]),
        ] {
            let source = Source::named(name).unwrap();
            let weights = ColorWeights::new(&WavelengthGrid::default(), &source).unwrap();
            let got = weights.white().chromaticity().unwrap();
            for (g, e) in got.iter().zip(xy) {
                assert!((g - e).abs() < 1e-4, "{name}: {got:?}, {xy:?}");
            }
            assert!((weights.white().luminance() - 1.0).abs() < 1e-14);
        }
    }

    #[test]
    fn monochromatic_light_has_the_observers_own_chromaticity() {
        let line = Source::Line {
            centre_nm: 546.0,
            width_nm: 1.0,
        };
        let grid = WavelengthGrid::single(546.0);
        let xyz = integrate(&grid, &line, &[0.5]).unwrap();
        let [x, y, z] = cie1931(546.0).unwrap();
        assert!((xyz.luminance() - 0.5).abs() < 1e-15);
        assert!((xyz.chromaticity().unwrap()[1] - y / (x + y + z)).abs() < 1e-15);
        assert_eq!(Xyz::BLACK.chromaticity(), None);
    }

    #[test]
    fn what_cannot_be_summed_is_refused() {
        let grid = WavelengthGrid::default();
        let d65 = Source::named("cie-d65").unwrap();
        let weights = ColorWeights::new(&grid, &d65).unwrap();
        assert_eq!(
            weights.luminous(&[1.0]),
            Err(ColorError::Length {
                wavelengths: 81,
                values: 1
            })
        );
        let wide = WavelengthGrid::new(380.0, 800.0, 5.0).unwrap();
        let error = ColorWeights::new(&wide, &d65).unwrap_err().to_string();
        assert!(error.starts_with("cie-d65: 785 nm"), "{error}");
        let beyond = Source::Line {
            centre_nm: 2000.0,
            width_nm: 1.0,
        };
        assert!(matches!(
            ColorWeights::new(&grid, &beyond),
            Err(ColorError::NoLight { .. })
        ));
        let frozen = Source::Blackbody { temperature_k: 0.0 };
        assert!(ColorWeights::new(&grid, &frozen).is_err());
    }
}
