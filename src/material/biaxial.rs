//! Crystals with two optic axes.
//!
//! The axes X, Y and Z of the indicatrix (the ellipsoid of the indices) are named so that the index rises from X to Z. Both optic axes lie in the
//! plane of X and Z, at equal angles to either side of Z.
//!
//! # Examples
//! ```
//! use polstack::material::{SODIUM_NM, catalog};
//! let muscovite = catalog::biaxial("muscovite").unwrap();
//! assert!(!muscovite.is_positive(SODIUM_NM));
//! assert!((muscovite.acute_angle_rad(SODIUM_NM).to_degrees() - 38.5).abs() < 1e-9);
//! ```

use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI};

use super::Index;
use crate::math;

/// The sodium line, nm: the wavelength of indices in tables of minerals.
pub const SODIUM_NM: f64 = 589.3;

/// A crystal with two optic axes.
#[derive(Debug, Clone, PartialEq)]
pub struct Biaxial {
    /// Catalog name, or the indices as they were written.
    pub name: String,
    /// Indices of vibrations along X, Y and Z.
    pub principal: [Index; 3],
    /// What is added to the middle index at every wavelength, so that the optic axes enclose the angle that is told.
    pub middle_shift: f64,
}

impl Biaxial {
    /// The indices of vibrations along X, Y and Z.
    #[must_use]
    pub fn indices(&self, wavelength_nm: f64) -> [f64; 3] {
        let [x, y, z] = &self.principal;
        [
            x.at(wavelength_nm),
            y.at(wavelength_nm) + self.middle_shift,
            z.at(wavelength_nm),
        ]
    }

    /// The angle between Z and either optic axis, radians within 0 to a right angle.
    ///
    /// `cos^2 V = na^2 (ng^2 - nb^2) / (nb^2 (ng^2 - na^2))`
    ///
    /// Source: optical mineralogy; from memory. Checked by: `tests/reference/crystals.rs` against a 4x4 solver.
    #[must_use]
    pub fn angle_from_z_rad(&self, wavelength_nm: f64) -> f64 {
        let [a, b, g] = self.indices(wavelength_nm).map(|n| n * n);
        // Both tangents' squares are kept apart, so that neither of the two uniaxial ends loses digits.
        let (across, along) = (g * (b - a), a * (g - b));
        math::atan2(across.max(0.0).sqrt(), along.max(0.0).sqrt())
    }

    /// Whether Z halves the acute angle between the optic axes; if not, X does and the crystal is negative.
    #[must_use]
    pub fn is_positive(&self, wavelength_nm: f64) -> bool {
        self.angle_from_z_rad(wavelength_nm) <= FRAC_PI_4
    }

    /// The acute angle between the optic axes, 2V, radians.
    #[must_use]
    pub fn acute_angle_rad(&self, wavelength_nm: f64) -> f64 {
        let twice = 2.0 * self.angle_from_z_rad(wavelength_nm);
        twice.min(PI - twice)
    }

    /// The same crystal with another acute angle between its optic axes at [`SODIUM_NM`], radians: its sign, its least and its largest index stay, and
    /// the middle index follows, shifted by the same amount at every wavelength.
    ///
    /// `nb^2 = na^2 ng^2 / (na^2 + cos^2 V (ng^2 - na^2))`, V counted from Z.
    #[must_use]
    pub fn with_acute_angle(mut self, two_v_rad: f64) -> Self {
        let half = 0.5 * two_v_rad;
        let from_z = match self.is_positive(SODIUM_NM) {
            true => half,
            false => FRAC_PI_2 - half,
        };
        let [a, b, g] = self.indices(SODIUM_NM);
        let (a, g) = (a * a, g * g);
        let cos = math::cos(from_z);
        self.middle_shift += (a * g / (a + cos * cos * (g - a))).sqrt() - b;
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn crystal(indices: [f64; 3]) -> Biaxial {
        Biaxial {
            name: String::new(),
            principal: indices.map(Index::Constant),
            middle_shift: 0.0,
        }
    }

    #[test]
    fn the_angle_that_is_told_comes_out_again() {
        for (indices, positive) in [([1.52, 1.523, 1.53], true), ([1.53, 1.68, 1.686], false)] {
            for degrees in [0.0f64, 5.0, 37.0, 60.0, 89.0] {
                let told = crystal(indices).with_acute_angle(degrees.to_radians());
                assert_eq!(told.is_positive(SODIUM_NM), positive, "{indices:?}");
                let got = told.acute_angle_rad(SODIUM_NM).to_degrees();
                // An angle of nought is a square root of a rounded nought.
                assert!((got - degrees).abs() < 1e-5, "{degrees}: {got}");
                let [a, _, g] = told.indices(SODIUM_NM);
                assert_eq!([a, g], [indices[0], indices[2]]);
            }
        }
    }

    /// Values of the handbook's middle set of muscovite, calculated for the first list of check values (tests/published/SOURCES.md).
    #[test]
    fn muscovites_middle_indices_give_their_angle() {
        let two_v = crystal([1.564, 1.5985, 1.6025]).acute_angle_rad(SODIUM_NM);
        assert!((two_v.to_degrees() - 36.97).abs() < 5e-3, "{two_v}");
    }

    #[test]
    fn a_uniaxial_crystal_has_its_axes_along_z_or_x() {
        assert_eq!(crystal([1.5, 1.5, 1.6]).angle_from_z_rad(SODIUM_NM), 0.0);
        let flat = crystal([1.5, 1.6, 1.6]);
        assert_eq!(flat.angle_from_z_rad(SODIUM_NM), FRAC_PI_2);
        assert_eq!(flat.acute_angle_rad(SODIUM_NM), 0.0);
    }
}
