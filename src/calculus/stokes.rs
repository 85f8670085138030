//! Stokes vectors.
//!
//! # Examples
//! ```
//! use polstack::calculus::{Complex, Stokes};
//! let right = Stokes::from_amplitudes(Complex::new(1.0, 0.0), Complex::new(0.0, -1.0));
//! assert!((right.0[3].abs() - right.0[0]).abs() < 1e-15); // circular, all of it
//! let level = Stokes([1.0, 1.0, 0.0, 0.0]);
//! assert!((level.turned(std::f64::consts::FRAC_PI_4).0[2] - 1.0).abs() < 1e-15);
//! ```

use serde::Serialize;

use super::Complex;
use crate::math;

/// A Stokes vector `(S0, S1, S2, S3)`, S3 > 0 right-handed.
///
/// `S0 = |Ex|^2 + |Ey|^2`, `S1 = |Ex|^2 - |Ey|^2`, `S2 = 2 Re Ex Ey*`, `S3 = 2 Im Ex Ey*`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Stokes(pub [f64; 4]);

impl Stokes {
    /// Unpolarized light of intensity 1.
    pub const UNPOLARIZED: Self = Self([1.0, 0.0, 0.0, 0.0]);

    /// The Stokes vector of fully polarized light with the amplitudes `(ex, ey)`.
    ///
    /// Source: Hecht, Optics, section 8.13 (from memory); S3 has the sign of exp(i(kz - wt)), see [`crate::conventions`].
    /// Checked by: the unit tests of [`crate::conventions`], `tests/laws/calculus.rs`.
    #[must_use]
    pub fn from_amplitudes(ex: Complex, ey: Complex) -> Self {
        let cross = ex * ey.conj();
        let (x, y) = (ex.norm_sqr(), ey.norm_sqr());
        Self([x + y, x - y, 2.0 * cross.re, 2.0 * cross.im])
    }

    /// The same light turned as a whole by `angle_rad` counter-clockwise.
    #[must_use]
    pub fn turned(self, angle_rad: f64) -> Self {
        let (sin, cos) = math::sincos(2.0 * angle_rad);
        let [s0, s1, s2, s3] = self.0;
        Self([s0, s1 * cos - s2 * sin, s1 * sin + s2 * cos, s3])
    }

    /// Degree of polarization, 0 to 1; 0 for darkness.
    #[must_use]
    pub fn degree_of_polarization(&self) -> f64 {
        let [s0, s1, s2, s3] = self.0;
        if s0 == 0.0 {
            0.0
        } else {
            (s1 * s1 + s2 * s2 + s3 * s3).sqrt() / s0
        }
    }

    /// Azimuth of the ellipse's long axis in radians, counter-clockwise from East, within (-90, 90] deg.
    #[must_use]
    pub fn azimuth_rad(&self) -> f64 {
        0.5 * math::atan2(self.0[2], self.0[1])
    }

    /// Ellipticity angle in radians, within -45 to 45 deg; positive is right-handed. 0 for unpolarized light.
    #[must_use]
    pub fn ellipticity_rad(&self) -> f64 {
        let [_, s1, s2, s3] = self.0;
        0.5 * math::atan2(s3, math::hypot(s1, s2))
    }

    /// Whether light can have this Stokes vector: S0 > 0, finite, degree of polarization at most 1.
    #[must_use]
    pub fn is_physical(&self) -> bool {
        self.0.iter().all(|s| s.is_finite())
            && self.0[0] > 0.0
            && self.degree_of_polarization() <= 1.0 + 1e-12
    }
}
