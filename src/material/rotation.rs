//! Optical activity against wavelength.

/// How far a crystal turns the plane of polarization of light that runs along its optic axis.
#[derive(Debug, Clone, PartialEq)]
pub struct RotatoryPower {
    /// Pairs (a, b) of `rho = constant + sum_i a_i / (L^2 - b_i)`, degrees per mm, L the wavelength in micrometres.
    pub terms: Vec<(f64, f64)>,
    /// Constant term, degrees per mm.
    pub constant_deg_per_mm: f64,
    /// Component of the gyration tensor at right angles to the axis over that along it.
    pub across_over_along: f64,
    /// Whether the crystal is left-handed: it then turns the plane counter-clockwise as the eye sees it, a right-handed one clockwise.
    pub is_left: bool,
}

impl RotatoryPower {
    /// Degrees that a millimetre turns the plane of polarization by, clockwise as the eye sees it; below 0 for a left-handed crystal.
    ///
    /// # Examples
    /// ```
    /// let quartz = polstack::material::catalog::crystal("quartz").unwrap();
    /// let turned = quartz.rotation.unwrap().deg_per_mm(589.3);
    /// assert!((turned - 21.72).abs() < 0.01);
    /// ```
    /// Checked by: `tests/published/rotation.rs`.
    #[must_use]
    pub fn deg_per_mm(&self, wavelength_nm: f64) -> f64 {
        let square = (wavelength_nm * 1e-3).powi(2);
        let terms = self.terms.iter().map(|&(a, b)| a / (square - b));
        let right = self.constant_deg_per_mm + terms.sum::<f64>();
        if self.is_left { -right } else { right }
    }
}
