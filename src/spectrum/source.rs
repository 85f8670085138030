//! Lamps.

use super::{SpectralTable, TableError};

/// A lamp's relative spectral power.
#[derive(Debug, Clone, PartialEq)]
pub enum Source {
    /// A tabulated spectrum, relative power.
    Table {
        /// Catalog name or file name.
        name: String,
        /// Relative power against wavelength.
        power: SpectralTable,
    },
    /// Planck's radiator.
    Blackbody {
        /// Temperature, K.
        temperature_k: f64,
    },
    /// A Gaussian line.
    Line {
        /// Centre, nm.
        centre_nm: f64,
        /// Full width at half maximum, nm.
        width_nm: f64,
    },
}

impl Source {
    /// A lamp of the catalog; `None` for an unknown name.
    #[must_use]
    pub fn named(_name: &str) -> Option<Self> {
        None
    }

    /// The catalog's lamp names.
    #[must_use]
    pub fn names() -> Vec<&'static str> {
        Vec::new()
    }

    /// A word for the lamp.
    #[must_use]
    pub fn name(&self) -> String {
        String::new()
    }

    /// Relative power at one wavelength.
    ///
    /// # Errors
    /// [`TableError::Uncovered`] outside a table.
    pub fn power(&self, _wavelength_nm: f64) -> Result<f64, TableError> {
        Ok(1.0)
    }
}
