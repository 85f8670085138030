//! Mueller matrices.
//!
//! # Examples
//! ```
//! use polstack::calculus::{Jones, Mueller, Stokes};
//! let quarter_wave = Jones::retarder(std::f64::consts::FRAC_PI_2, std::f64::consts::FRAC_PI_4);
//! let circular = Mueller::from_jones(&quarter_wave).apply(&Stokes([1.0, 1.0, 0.0, 0.0]));
//! assert!((circular.0[3].abs() - 1.0).abs() < 1e-12);
//! ```

use std::ops::{Add, Mul};

use nalgebra::{Matrix2, Matrix4, SymmetricEigen, Vector4};
use serde::{Serialize, Serializer};

use super::{Complex, Jones, Stokes};

/// A Mueller matrix: what a part does to a Stokes vector.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mueller(pub Matrix4<f64>);

impl Serialize for Mueller {
    /// Row by row.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let rows = [0, 1, 2, 3].map(|i| [0, 1, 2, 3].map(|j| self.0[(i, j)]));
        rows.serialize(serializer)
    }
}

impl Mueller {
    /// The part that does nothing.
    #[must_use]
    pub fn identity() -> Self {
        Self(Matrix4::identity())
    }

    /// The Pauli matrices in the order of the Stokes parameters: `S_i = tr(sigma_i <E E^dagger>)`.
    fn pauli() -> [Matrix2<Complex>; 4] {
        let [zero, one, i] = [
            Complex::new(0.0, 0.0),
            Complex::new(1.0, 0.0),
            Complex::new(0.0, 1.0),
        ];
        [
            Matrix2::new(one, zero, zero, one),
            Matrix2::new(one, zero, zero, -one),
            Matrix2::new(zero, one, one, zero),
            Matrix2::new(zero, i, -i, zero),
        ]
    }

    /// The Mueller matrix of a non-depolarizing part: `M_ij = 1/2 tr(sigma_i J sigma_j J^dagger)`.
    ///
    /// The third Pauli matrix is `| 0 i | -i 0 |`, which makes `S3 = 2 Im Ex Ey*`; many books have the other sign.
    ///
    /// Checked by: `tests/laws/calculus.rs` (homomorphism), `tests/published/mueller.rs`.
    #[must_use]
    pub fn from_jones(jones: &Jones) -> Self {
        let pauli = Self::pauli();
        let adjoint = jones.0.adjoint();
        Self(Matrix4::from_fn(|i, j| {
            0.5 * (pauli[i] * jones.0 * pauli[j] * adjoint).trace().re
        }))
    }

    /// The Jones matrix with this Mueller matrix, up to a common phase; `None` unless the part is
    /// non-depolarizing (its coherency matrix has one eigenvalue above `1e-9` of the trace).
    ///
    /// Source: S. R. Cloude 1986, Optik 75, 26 (from memory): the eigenvector of the coherency matrix.
    /// Checked by: `tests/laws/calculus.rs`.
    #[must_use]
    pub fn to_jones(&self) -> Option<Jones> {
        let eigen = SymmetricEigen::new(self.cloude_coherency());
        let (best, &largest) = (eigen.eigenvalues.iter().enumerate())
            .max_by(|a, b| a.1.total_cmp(b.1))
            .filter(|(_, value)| value.is_finite() && **value > 0.0)?;
        let pure = (eigen.eigenvalues.iter().enumerate())
            .all(|(i, value)| i == best || value.abs() <= 1e-9 * largest);
        let vector = eigen.eigenvectors.column(best);
        let jones = (Self::pauli().iter().zip(vector.iter()))
            .fold(Matrix2::zeros(), |sum, (sigma, &v)| sum + sigma * v);
        pure.then(|| Jones(jones * Complex::from(largest.sqrt())))
    }

    /// The coherency matrix of the part in the Pauli basis, `1/4 sum m_ij (sigma_i x sigma_j*)` turned into the basis
    /// in which a pure part with `J = sum v_k sigma_k` gives `v v^dagger`.
    fn cloude_coherency(&self) -> Matrix4<Complex> {
        let pauli = Self::pauli();
        // A pure part's matrix is M_ij = 1/2 sum_kl v_k v_l* tr(sigma_i sigma_k sigma_j sigma_l); the traces
        // are orthogonal, so the same traces bring v v^dagger back.
        Matrix4::from_fn(|k, l| {
            let mut sum = Complex::from(0.0);
            for i in 0..4 {
                for j in 0..4 {
                    sum += (pauli[i] * pauli[l] * pauli[j] * pauli[k]).trace()
                        * (self.0[(i, j)] / 8.0);
                }
            }
            sum
        })
    }

    /// Eigenvalues of the part's coherency matrix, largest first; they add up to `m00`.
    ///
    /// Source: S. R. Cloude 1986, Optik 75, 26 (from memory). Checked by: `tests/published/mueller.rs`.
    #[must_use]
    pub fn cloude_eigenvalues(&self) -> [f64; 4] {
        let mut values: [f64; 4] = SymmetricEigen::new(self.cloude_coherency())
            .eigenvalues
            .into();
        values.sort_by(|a, b| b.total_cmp(a));
        values
    }

    /// Whether some mixture of Jones matrices has this Mueller matrix: all Cloude eigenvalues at least
    /// `-tolerance * m00`.
    #[must_use]
    pub fn is_realisable(&self, tolerance: f64) -> bool {
        self.0.iter().all(|m| m.is_finite())
            && self.cloude_eigenvalues()[3] >= -tolerance * self.0[(0, 0)].abs()
    }

    /// Depolarization index `sqrt((sum m_ij^2 - m00^2) / (3 m00^2))`: 1 for a pure part, 0 for an ideal depolarizer.
    ///
    /// Source: J. J. Gil and E. Bernabeu 1986, Optica Acta 33, 185 (from memory).
    /// Checked by: `tests/published/mueller.rs`.
    #[must_use]
    pub fn depolarization_index(&self) -> f64 {
        let m00 = self.0[(0, 0)];
        ((self.0.norm_squared() - m00 * m00).max(0.0) / (3.0 * m00 * m00)).sqrt()
    }

    /// The Stokes vector after the part.
    #[must_use]
    pub fn apply(&self, stokes: &Stokes) -> Stokes {
        Stokes((self.0 * Vector4::from(stokes.0)).into())
    }

    /// Every element multiplied by `factor`.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Self {
        Self(self.0 * factor)
    }
}

impl Mul for Mueller {
    type Output = Self;

    /// `second * first`: light meets the right-hand factor first.
    fn mul(self, first: Self) -> Self {
        Self(self.0 * first.0)
    }
}

impl Add for Mueller {
    type Output = Self;

    /// The sum for light that goes through one part or the other and adds incoherently.
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}
