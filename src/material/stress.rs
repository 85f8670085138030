//! The stress-optic law and its units.

/// Path difference in nm that a stress leaves: `C (sigma_1 - sigma_2) t`.
///
/// `stress_optic_brewster` in Brewster (1e-12 / Pa), positive when the slow axis lies along the larger tension;
/// `stress_difference_mpa` in MPa, `thickness_mm` in mm. Units: 1 Brewster x 1 MPa x 1 mm = 1e-12 x 1e6 x 1e-3 m = 1 nm.
///
/// Source: D. Brewster's law, as in S. P. Timoshenko and J. N. Goodier, Theory of Elasticity, chapter 5 (from memory).
/// Checked by: `tests/published/stress.rs`, `tests/published/disc.rs`.
///
/// # Examples
/// ```
/// // 10 mm of B270 under 1 MPa: its maker states 27.5 nm per cm and MPa.
/// let nm = polstack::material::stress_path_difference_nm(2.75, 1.0, 10.0);
/// assert!((nm - 27.5).abs() < 1e-12);
/// ```
#[must_use]
pub fn stress_path_difference_nm(
    stress_optic_brewster: f64,
    stress_difference_mpa: f64,
    thickness_mm: f64,
) -> f64 {
    stress_optic_brewster * stress_difference_mpa * thickness_mm
}

/// Stress-optic coefficient in Brewster from a glass's photoelastic (strain-optic) coefficients:
/// `C = n^3 (1 + nu) (p12 - p11) / (2 E)`.
///
/// `youngs_modulus_gpa` in GPa, `poissons_ratio`, `p11` and `p12` without units.
/// Units: 1 / GPa = 1e-9 / Pa = 1000 Brewster.
///
/// Sign: an elongation along x changes `1/n_x^2` by `p11` and `1/n_y^2` by `p12` times it; with `p12 > p11` n_x falls
/// less than n_y, so the slow axis lies along the tension and C is positive.
///
/// Source: F. Pockels; J. F. Nye, Physical Properties of Crystals, chapter 13 (from memory).
/// Checked by: `tests/published/stress.rs`.
#[must_use]
pub fn stress_optic_brewster(
    index: f64,
    youngs_modulus_gpa: f64,
    poissons_ratio: f64,
    p11: f64,
    p12: f64,
) -> f64 {
    1e3 * index.powi(3) * (1.0 + poissons_ratio) * (p12 - p11) / (2.0 * youngs_modulus_gpa)
}
