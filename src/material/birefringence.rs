//! Birefringence against wavelength.

use super::{Index, RotatoryPower};
use crate::spectrum::{SpectralTable, TableError};

/// A uniaxial crystal's two principal indices.
#[derive(Debug, Clone, PartialEq)]
pub struct Uniaxial {
    /// Catalog name.
    pub name: String,
    /// Ordinary index.
    pub ordinary: Index,
    /// Extraordinary index.
    pub extraordinary: Index,
    /// How it turns light that runs along its optic axis; `None` where it does not.
    pub rotation: Option<RotatoryPower>,
}

impl Uniaxial {
    /// `n_e - n_o`: negative for calcite.
    #[must_use]
    pub fn birefringence(&self, wavelength_nm: f64) -> f64 {
        self.extraordinary.at(wavelength_nm) - self.ordinary.at(wavelength_nm)
    }
}

/// How the path difference of a plate changes with the wavelength, and how thick the plate is.
#[derive(Debug, Clone, PartialEq)]
pub enum Birefringence {
    /// The path difference is the same at every wavelength. There is no material, so no thickness follows.
    None,
    /// Birefringence constant in wavelength.
    Constant(f64),
    /// A uniaxial crystal cut along its axis.
    Uniaxial(Uniaxial),
    /// Birefringence tabulated against wavelength.
    Table(SpectralTable),
}

impl Birefringence {
    /// Size of the birefringence at one wavelength; `None` without a material.
    ///
    /// # Errors
    /// [`TableError`] outside a table.
    pub fn at(&self, wavelength_nm: f64) -> Result<Option<f64>, TableError> {
        Ok(match self {
            Self::None => None,
            Self::Constant(b) => Some(*b),
            Self::Uniaxial(crystal) => Some(crystal.birefringence(wavelength_nm).abs()),
            Self::Table(table) => Some(table.at(wavelength_nm)?),
        })
    }

    /// Birefringence at one wavelength relative to that at `reference_nm`: 1 without a material.
    ///
    /// # Errors
    /// [`TableError`] outside a table.
    pub fn relative(&self, wavelength_nm: f64, reference_nm: f64) -> Result<f64, TableError> {
        match (self.at(wavelength_nm)?, self.at(reference_nm)?) {
            (Some(here), Some(there)) => Ok(here / there),
            _ => Ok(1.0),
        }
    }
}
