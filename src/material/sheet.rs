//! Sheet polarizers as materials: their principal transmittances.

use crate::spectrum::{SpectralTable, TableError};

/// Principal transmittances of a polarizing sheet, measured in air at normal incidence, surfaces included.
#[derive(Debug, Clone, PartialEq)]
pub enum SheetTransmittance {
    /// Passes one vibration whole and the other not at all, and has no surfaces.
    Ideal,
    /// Two transmittances that are the same at every wavelength.
    Constant {
        /// Transmittance of the passed vibration, 0 to 1.
        k1: f64,
        /// Transmittance of the absorbed vibration, 0 to k1.
        k2: f64,
    },
    /// Two tables. Between their rows `k1` is linear, and of `k2` the logarithm is linear.
    Table {
        /// Transmittance of the passed vibration.
        k1: SpectralTable,
        /// Transmittance of the absorbed vibration.
        k2: SpectralTable,
    },
}

impl SheetTransmittance {
    /// The same sheet with another leak: `k2` times a factor, but never more than `k1`.
    #[must_use]
    pub fn leaking(&self, factor: f64) -> Self {
        match self {
            Self::Ideal => Self::Ideal,
            Self::Constant { k1, k2 } => Self::Constant {
                k1: *k1,
                k2: (k2 * factor).min(*k1),
            },
            Self::Table { k1, k2 } => Self::Table {
                k1: k1.clone(),
                k2: k2.map(|k2| k2 * factor),
            },
        }
    }

    /// Makes the absorbed vibration vanish: the same sheet without its leak.
    pub fn absorb_fully(&mut self) {
        match self {
            Self::Ideal => {}
            Self::Constant { k2, .. } => *k2 = 0.0,
            Self::Table { k2, .. } => *k2 = k2.map(|_| 0.0),
        }
    }
}

/// A polarizing sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct PolarizingSheet {
    /// Catalog name, or a word for where the numbers come from.
    pub name: String,
    /// Principal transmittances.
    pub transmittance: SheetTransmittance,
    /// Refractive index of the film.
    pub index: f64,
    /// Out-of-plane path difference `((n_x + n_y)/2 - n_z) d` of the protective film on either side of the dyed layer, nm; 0 without one.
    pub cover_nm: f64,
    /// Whether the cover is told: by the user, or by an entry of the catalog that is named for it. If not, it is the usual one of the catalog's sheets, or none.
    pub cover_is_told: bool,
}

impl PolarizingSheet {
    /// Index of the usual sheets' plastic film: common practice, no source.
    pub const FILM_INDEX: f64 = 1.5;
    /// Cover of the catalog's sheets, nm: films of cellulose triacetate have 40 to 60, and covers of low path difference exist (from memory).
    pub const USUAL_COVER_NM: f64 = 50.0;

    /// A sheet that is the same at every wavelength, without a cover.
    #[must_use]
    pub fn constant(k1: f64, k2: f64) -> Self {
        Self {
            name: "k1, k2".to_owned(),
            transmittance: SheetTransmittance::Constant { k1, k2 },
            index: Self::FILM_INDEX,
            cover_nm: 0.0,
            cover_is_told: false,
        }
    }

    /// The ideal sheet.
    #[must_use]
    pub fn ideal() -> Self {
        Self {
            name: "ideal".to_owned(),
            transmittance: SheetTransmittance::Ideal,
            index: Self::FILM_INDEX,
            cover_nm: 0.0,
            cover_is_told: true,
        }
    }

    /// `(k1, k2)` at one wavelength.
    ///
    /// # Errors
    /// [`TableError::Uncovered`] outside a table.
    pub fn principal_transmittances(&self, wavelength_nm: f64) -> Result<(f64, f64), TableError> {
        Ok(match &self.transmittance {
            SheetTransmittance::Ideal => (1.0, 0.0),
            SheetTransmittance::Constant { k1, k2 } => (*k1, *k2),
            SheetTransmittance::Table { k1, k2 } => {
                (k1.at(wavelength_nm)?, k2.at_logarithmic(wavelength_nm)?)
            }
        })
    }

    /// What its two bare surfaces pass in air at normal incidence: `(4 n/(1+n)^2)^2`; 1 for the ideal sheet, which has none.
    ///
    /// Source: Fresnel (M. Born and E. Wolf, Principles of Optics, section 1.5, from memory).
    #[must_use]
    pub fn bare_surfaces(&self) -> f64 {
        if matches!(self.transmittance, SheetTransmittance::Ideal) {
            return 1.0;
        }
        let n = self.index;
        (4.0 * n / ((1.0 + n) * (1.0 + n))).powi(2)
    }
}
