//! The polar decomposition of a Mueller matrix.

use nalgebra::{Matrix3, Matrix4, SymmetricEigen, Vector3};

use super::{Mueller, Stokes};
use crate::math;

/// A Mueller matrix as a product of three: `M = depolarizer * retarder * diattenuator`. Light meets the diattenuator first.
///
/// Source: S.-Y. Lu and R. A. Chipman 1996, J. Opt. Soc. Am. A 13, 1106 (abstract read; the steps from memory).
/// Checked by: `tests/published/mueller.rs`, `tests/laws/calculus.rs`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PolarDecomposition {
    /// Diattenuator, with the transmittance of the whole.
    pub diattenuator: Mueller,
    /// Retarder.
    pub retarder: Mueller,
    /// Depolarizer, with the polarizance of the whole.
    pub depolarizer: Mueller,
    /// Diattenuation, 0 to 1.
    pub diattenuation: f64,
    /// Polarizance, 0 to 1.
    pub polarizance: f64,
    /// Retardance in radians, 0 to pi.
    pub retardance_rad: f64,
    /// Depolarization power `1 - |tr m_delta| / 3`.
    pub depolarization: f64,
}

impl PolarDecomposition {
    /// Decomposes a Mueller matrix. `None` when the matrix is singular (a perfect polarizer) or passes nothing, because the decomposition is not
    /// unique then.
    #[must_use]
    pub fn of(mueller: &Mueller) -> Option<Self> {
        let m00 = mueller.0[(0, 0)];
        let m = mueller.0 / m00;
        let d: Vector3<f64> = m.fixed_view::<1, 3>(0, 1).transpose();
        let p: Vector3<f64> = m.fixed_view::<3, 1>(1, 0).into();
        let diattenuation = d.norm();
        if !(m00.is_finite() && m00 > 0.0) || diattenuation >= 1.0 - 1e-9 {
            return None;
        }
        let diattenuator = diattenuator(d);
        let rest = m * diattenuator.try_inverse()?;
        let inner: Matrix3<f64> = rest.fixed_view::<3, 3>(1, 1).into();
        let lower = depolarizer_block(inner)?;
        let turn = lower.try_inverse()? * inner;
        let embed = |block: Matrix3<f64>, polarizance: Vector3<f64>| {
            let mut whole = Matrix4::identity();
            whole.fixed_view_mut::<3, 3>(1, 1).copy_from(&block);
            whole.fixed_view_mut::<3, 1>(1, 0).copy_from(&polarizance);
            whole
        };
        let depolarizer = embed(lower, rest.fixed_view::<3, 1>(1, 0).into());
        // tr R = 1 + 2 cos(retardance) for the 3 x 3 turn of the Poincare sphere; the axis vector gives the sine,
        // which keeps small retardances exact.
        let sine = 0.5
            * Vector3::new(
                turn[(2, 1)] - turn[(1, 2)],
                turn[(0, 2)] - turn[(2, 0)],
                turn[(1, 0)] - turn[(0, 1)],
            )
            .norm();
        Some(Self {
            diattenuator: Mueller(diattenuator * m00),
            retarder: Mueller(embed(turn, Vector3::zeros())),
            depolarizer: Mueller(depolarizer),
            diattenuation,
            polarizance: p.norm(),
            retardance_rad: math::atan2(sine, 0.5 * (turn.trace() - 1.0)),
            depolarization: 1.0 - lower.trace().abs() / 3.0,
        })
    }

    /// The state that the retarder delays most, of intensity 1. `None` below a retardance of 1e-7 rad, where only rounding errors would decide it.
    ///
    /// A retarder turns the Poincare sphere by its retardance about this state, right-handed in the frame (S1, S2, S3). The azimuth of a linear
    /// retarder's slow vibration is half the azimuth of this point on the sphere. For a half wave, either end of the axis may be returned, because
    /// both are right.
    ///
    /// Source: the sign follows from [`super::Jones::retarder`]. Checked by: `tests/laws/trace.rs`.
    #[must_use]
    pub fn slow_state(&self) -> Option<Stokes> {
        if self.retardance_rad < 1e-7 {
            return None;
        }
        let turn: Matrix3<f64> = self.retarder.0.fixed_view::<3, 3>(1, 1).into();
        let odd = Vector3::new(
            turn[(2, 1)] - turn[(1, 2)],
            turn[(0, 2)] - turn[(2, 0)],
            turn[(1, 0)] - turn[(0, 1)],
        );
        let axis = if self.retardance_rad < 3.0 {
            odd
        } else {
            // Near a half wave the sine is too small to give the axis a; use (T + T^t)/2 = cos + (1 - cos) a a^t instead.
            let even = 0.5 * (turn + turn.transpose())
                - Matrix3::identity() * math::cos(self.retardance_rad);
            let longest = even.column(even.diagonal().imax()).into_owned();
            longest * if longest.dot(&odd) < 0.0 { -1.0 } else { 1.0 }
        };
        let axis = axis.normalize();
        Some(Stokes([1.0, axis[0], axis[1], axis[2]]))
    }
}

/// A diattenuator of transmittance 1 for unpolarized light with diattenuation vector `d`, `|d| < 1`.
fn diattenuator(d: Vector3<f64>) -> Matrix4<f64> {
    let squared = d.norm_squared();
    let root = (1.0 - squared).sqrt();
    // 1/(1 + root) equals (1 - root)/|d|^2, without the loss of digits at small |d|.
    let block = Matrix3::identity() * root + d * d.transpose() / (1.0 + root);
    let mut whole = Matrix4::identity();
    whole.fixed_view_mut::<1, 3>(0, 1).copy_from(&d.transpose());
    whole.fixed_view_mut::<3, 1>(1, 0).copy_from(&d);
    whole.fixed_view_mut::<3, 3>(1, 1).copy_from(&block);
    whole
}

/// The symmetric factor of `inner = lower * rotation`, with the sign of the determinant: `lower^2 = inner inner^T`.
fn depolarizer_block(inner: Matrix3<f64>) -> Option<Matrix3<f64>> {
    let eigen = SymmetricEigen::try_new(inner * inner.transpose(), f64::EPSILON, 1000)?;
    let roots = eigen.eigenvalues.map(|v| v.max(0.0).sqrt());
    let sign = if inner.determinant() < 0.0 { -1.0 } else { 1.0 };
    Some(
        eigen.eigenvectors * Matrix3::from_diagonal(&roots) * eigen.eigenvectors.transpose() * sign,
    )
}
