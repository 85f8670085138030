//! Retarders and accessory plates.

use std::f64::consts::TAU;

use super::element::LinearElement;
use crate::material::Birefringence;
use crate::spectrum::TableError;

/// A plate of stated path difference, taken at normal incidence.
#[derive(Debug, Clone, PartialEq)]
pub struct Retarder {
    /// Path difference in nm at `at_nm`.
    pub path_difference_nm: f64,
    /// The wavelength in nm for which the path difference is stated.
    pub at_nm: f64,
    /// How the path difference changes with the wavelength.
    pub material: Birefringence,
    /// Slow azimuth, radians.
    pub slow_azimuth_rad: f64,
}

impl Retarder {
    /// Path difference in nm at a wavelength: scaled by the material's birefringence.
    ///
    /// # Errors
    /// [`TableError`] when the material's table does not cover the wavelength.
    ///
    /// Checked by: `tests/published/plates.rs`.
    pub fn path_difference_nm(&self, wavelength_nm: f64) -> Result<f64, TableError> {
        Ok(self.path_difference_nm * self.material.relative(wavelength_nm, self.at_nm)?)
    }

    /// Thickness in micrometres that the material needs; `None` without a material.
    #[must_use]
    pub fn thickness_um(&self) -> Option<f64> {
        let birefringence = self.material.at(self.at_nm).ok()??;
        Some(self.path_difference_nm.abs() * 1e-3 / birefringence)
    }

    /// The retarder at one wavelength, as a linear element.
    ///
    /// # Errors
    /// [`TableError`] when the material's table does not cover the wavelength.
    pub fn element(&self, wavelength_nm: f64) -> Result<LinearElement, TableError> {
        let phase = TAU * self.path_difference_nm(wavelength_nm)? / wavelength_nm;
        Ok(LinearElement::retarder(self.slow_azimuth_rad, phase))
    }
}
