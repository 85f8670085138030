//! Refractive index against wavelength, and the glasses that use it.
//!
//! # Examples
//! ```
//! let glass = polstack::material::catalog::glass("N-BK7").unwrap();
//! assert!((glass.index.at(587.56) - 1.5168).abs() < 1e-5);
//! ```

/// Refractive index of a transparent medium against vacuum wavelength.
#[derive(Debug, Clone, PartialEq)]
pub enum Index {
    /// The same at every wavelength.
    Constant(f64),
    /// `n^2 = 1 + a0 + sum_i b_i L^2 / (L^2 - c_i)`, L the wavelength in micrometres, c_i in square micrometres.
    Sellmeier {
        /// Constant term.
        a0: f64,
        /// Pairs (b, c); c in square micrometres.
        terms: Vec<(f64, f64)>,
    },
    /// `n^2 = sum_i a_i L^p_i`, L the wavelength in micrometres.
    SquaredPowers(Vec<(f64, i32)>),
    /// `n = sum_i a_i L^p_i`, L the wavelength in micrometres.
    Powers(Vec<(f64, i32)>),
}

impl Index {
    /// The index at one vacuum wavelength.
    ///
    /// The law is evaluated as it stands, also outside of the range in which it was measured; the catalog tells that range.
    #[must_use]
    pub fn at(&self, wavelength_nm: f64) -> f64 {
        let um = wavelength_nm * 1e-3;
        let sum = |terms: &[(f64, i32)]| terms.iter().map(|&(a, p)| a * um.powi(p)).sum::<f64>();
        match self {
            Self::Constant(n) => *n,
            Self::Sellmeier { a0, terms } => {
                let square = um * um;
                let sum: f64 = terms.iter().map(|&(b, c)| b * square / (square - c)).sum();
                (1.0 + a0 + sum).sqrt()
            }
            Self::SquaredPowers(terms) => sum(terms).sqrt(),
            Self::Powers(terms) => sum(terms),
        }
    }
}

/// An isotropic glass or moulded polymer.
#[derive(Debug, Clone, PartialEq)]
pub struct Glass {
    /// Catalog name, or the index as it was written.
    pub name: String,
    /// Refractive index.
    pub index: Index,
    /// Stress-optic coefficient in Brewster (1e-12 / Pa), positive when the slow axis lies along a tension; `None` when
    /// unknown.
    pub stress_optic_brewster: Option<f64>,
}
