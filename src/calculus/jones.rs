//! Jones matrices and the coherency matrix of partially polarized light.

use std::ops::Mul;

use nalgebra::Matrix2;

use super::{Complex, Stokes};
use crate::math;

/// A Jones matrix: what a part does to the pair of amplitudes `(Ex, Ey)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Jones(pub Matrix2<Complex>);

impl Jones {
    /// The part that does nothing.
    #[must_use]
    pub fn identity() -> Self {
        Self(Matrix2::identity())
    }

    /// A part with two orthogonal linear modes of vibration.
    ///
    /// `along` multiplies the vibration at `azimuth_rad` (counter-clockwise from East), `across` the one at
    /// right angles to it; with `c = cos azimuth`, `s = sin azimuth`
    ///
    /// ```text
    /// | along c^2 + across s^2    (along - across) c s   |
    /// | (along - across) c s      along s^2 + across c^2 |
    /// ```
    ///
    /// Every part of this program is a product of such matrices.
    ///
    /// Source: R(a) diag(along, across) R(-a); E. Hecht, Optics, section 8.13 (from memory).
    /// Checked by: `tests/published/jones.rs`, `tests/published/mueller.rs`.
    ///
    /// # Examples
    /// ```
    /// use polstack::calculus::{Complex, Jones};
    /// let polarizer = Jones::linear(Complex::from(1.0), Complex::from(0.0), 45f64.to_radians());
    /// assert!((polarizer.0[(0, 1)].re - 0.5).abs() < 1e-15);
    /// ```
    #[must_use]
    pub fn linear(along: Complex, across: Complex, azimuth_rad: f64) -> Self {
        let (sin2, cos2) = math::sincos(2.0 * azimuth_rad);
        let mean = (along + across) * 0.5;
        let half_difference = (along - across) * 0.5;
        Self(Matrix2::new(
            mean + half_difference * cos2,
            half_difference * sin2,
            half_difference * sin2,
            mean - half_difference * cos2,
        ))
    }

    /// A linear retarder: its slow axis, at `slow_azimuth_rad`, is multiplied by `exp(+i phase/2)`, its fast axis by
    /// `exp(-i phase/2)`.
    ///
    /// Checked by: `tests/published/mueller.rs`, `tests/laws/calculus.rs`.
    #[must_use]
    pub fn retarder(phase_rad: f64, slow_azimuth_rad: f64) -> Self {
        let slow = math::cis(0.5 * phase_rad);
        Self::linear(slow, slow.conj(), slow_azimuth_rad)
    }

    /// The same part turned as a whole by `angle_rad` counter-clockwise: `R(angle) J R(-angle)`.
    ///
    /// Checked by: `tests/laws/calculus.rs`.
    #[must_use]
    pub fn turned(self, angle_rad: f64) -> Self {
        let (sin, cos) = math::sincos(angle_rad);
        let rotation = Matrix2::new(cos, -sin, sin, cos).map(Complex::from);
        Self(rotation * self.0 * rotation.transpose())
    }

    /// The same part crossed by light that travels the other way, in the frame of the light that comes:
    /// the transpose, by reciprocity.
    ///
    /// Checked by: `tests/laws/calculus.rs`.
    #[must_use]
    pub fn reversed(self) -> Self {
        Self(self.0.transpose())
    }

    /// Transmittance for unpolarized light: half the squared Frobenius norm.
    #[must_use]
    pub fn transmittance(&self) -> f64 {
        0.5 * self.0.norm_squared()
    }
}

impl Mul for Jones {
    type Output = Self;

    /// `second * first`: light meets the right-hand factor first.
    fn mul(self, first: Self) -> Self {
        Self(self.0 * first.0)
    }
}

/// The coherency matrix of a beam, `<E E^dagger>`: Hermitian, never negative; its trace is the intensity.
///
/// Unlike a Stokes vector it gives the light behind a crossed analyzer as one of its elements, not as a difference
/// of large numbers.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Coherency {
    /// `<|Ex|^2>`.
    pub xx: f64,
    /// `<|Ey|^2>`.
    pub yy: f64,
    /// Real part of `<Ex Ey*>`.
    pub xy_re: f64,
    /// Imaginary part of `<Ex Ey*>`.
    pub xy_im: f64,
}

impl Coherency {
    /// The coherency matrix of light with a given Stokes vector.
    #[must_use]
    pub fn from_stokes(stokes: &Stokes) -> Self {
        let [s0, s1, s2, s3] = stokes.0;
        Self {
            xx: 0.5 * (s0 + s1),
            yy: 0.5 * (s0 - s1),
            xy_re: 0.5 * s2,
            xy_im: 0.5 * s3,
        }
    }

    /// The Stokes vector of this light.
    #[must_use]
    pub fn to_stokes(self) -> Stokes {
        Stokes([
            self.xx + self.yy,
            self.xx - self.yy,
            2.0 * self.xy_re,
            2.0 * self.xy_im,
        ])
    }

    /// The coherency matrix of this light after a part: `J C J^dagger`.
    #[must_use]
    pub fn through(self, part: &Jones) -> Self {
        let xy = Complex::new(self.xy_re, self.xy_im);
        let before = Matrix2::new(self.xx.into(), xy, xy.conj(), self.yy.into());
        let after = part.0 * before * part.0.adjoint();
        Self {
            xx: after[(0, 0)].re,
            yy: after[(1, 1)].re,
            xy_re: after[(0, 1)].re,
            xy_im: after[(0, 1)].im,
        }
    }

    /// The coherency matrix of this light and other light together, when the two are incoherent.
    #[must_use]
    pub fn plus(self, other: Self) -> Self {
        Self {
            xx: self.xx + other.xx,
            yy: self.yy + other.yy,
            xy_re: self.xy_re + other.xy_re,
            xy_im: self.xy_im + other.xy_im,
        }
    }

    /// Every element multiplied by `factor`.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Self {
        Self {
            xx: self.xx * factor,
            yy: self.yy * factor,
            xy_re: self.xy_re * factor,
            xy_im: self.xy_im * factor,
        }
    }

    /// Intensity.
    #[must_use]
    pub fn intensity(&self) -> f64 {
        self.xx + self.yy
    }

    /// Two mutually incoherent beams, each fully polarized, that together are this light. They are the columns of a matrix `A` with `A A^dagger = C`
    /// (Cholesky).
    ///
    /// Checked by: the unit test below it and `tests/laws/routes.rs`.
    #[must_use]
    pub fn beams(&self) -> Matrix2<Complex> {
        let xy = Complex::new(self.xy_re, self.xy_im);
        let zero = Complex::from(0.0);
        if self.xx >= self.yy {
            let a = self.xx.max(0.0).sqrt();
            let below = if a > 0.0 { xy.conj() / a } else { zero };
            let rest = (self.yy - below.norm_sqr()).max(0.0).sqrt();
            Matrix2::new(a.into(), zero, below, rest.into())
        } else {
            let a = self.yy.sqrt();
            let above = xy / a;
            let rest = (self.xx - above.norm_sqr()).max(0.0).sqrt();
            Matrix2::new(rest.into(), above, zero, a.into())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn incoherent_beams_add_up_to_the_coherency_matrix() {
        for stokes in [
            [1.0, 0.0, 0.0, 0.0],
            [1.0, 0.3, -0.2, 0.5],
            [1.0, -0.6, 0.8, 0.0],
            [2.0, -2.0, 0.0, 0.0],
        ] {
            let coherency = Coherency::from_stokes(&Stokes(stokes));
            let a = coherency.beams();
            let back = a * a.adjoint();
            assert!((back[(0, 0)].re - coherency.xx).abs() < 1e-15);
            assert!((back[(1, 1)].re - coherency.yy).abs() < 1e-15);
            let xy = Complex::new(coherency.xy_re, coherency.xy_im);
            assert!((back[(0, 1)] - xy).norm() < 1e-15);
        }
    }
}
