//! Lens groups: condenser and objective.

use std::sync::Arc;

use thiserror::Error;

use super::prescription::{Passed, PassedTable, Reach, Stop, Surface};
use super::strain::Strain;
use crate::calculus::Complex;
use crate::material::Glass;
use crate::math;
use crate::spectrum::SpectralTable;

/// What covers the surfaces of a lens.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Coating {
    /// Bare glass.
    None,
    /// One quarter-wave layer of magnesium fluoride (n = 1.38, 550/(4 x 1.38) nm thick).
    Mgf2,
    /// Passes both vibrations whole.
    Ideal,
}

/// What is known of a lens's surfaces, each form better than the one before.
#[derive(Debug, Clone, PartialEq)]
pub enum LensForm {
    /// The lens has so many glass-air surfaces, and they share the bending equally. No real lens of that many surfaces leaks less. With 0 surfaces
    /// the lens changes nothing.
    Equal {
        /// Their number.
        surfaces: u32,
    },
    /// A number of surfaces that share the bending equally and together act like the surfaces of a real lens, which share it unequally. It need not
    /// be a whole number. Used by studies of what is not known of a lens.
    ActsLike {
        /// Their number.
        surfaces: f64,
    },
    /// How far each glass-air surface bends the outermost ray.
    Bending {
        /// Signed angles in the order of the light, radians, for the ray at the lens's full numerical aperture.
        bending_rad: Vec<f64>,
    },
    /// The surfaces themselves.
    Prescription(Arc<Prescription>),
}

/// A lens told by its surfaces.
#[derive(Debug, Clone, PartialEq)]
pub struct Prescription {
    /// The surfaces in the order of the light: those of a condenser from the lamp to the slide, those of an objective from the slide to the eye.
    pub surfaces: Vec<Surface>,
    /// What [`LightPath::settle_prescriptions`](crate::light_path::LightPath::settle_prescriptions) found when it traced rays through them, and
    /// through the condenser's other lens if there is one. `None` before that.
    pub settled: Option<Settled>,
}

/// A prescription once its rays are traced.
#[derive(Debug, Clone, PartialEq)]
pub struct Settled {
    /// The outermost ray at 546.1 nm. Its numerical aperture is what the surfaces let through, in object space: the rim of the strain maps.
    pub reach: Reach,
    /// What the lens's own surfaces pass.
    pub passed: PassedTable,
}

impl LensForm {
    /// From surfaces that are yet to be traced.
    #[must_use]
    pub fn prescription(surfaces: Vec<Surface>) -> Self {
        Self::Prescription(Arc::new(Prescription {
            surfaces,
            settled: None,
        }))
    }
}

/// A lens group that turns collimated light into rays of up to `na`, or such rays into collimated light. A condenser's second lens starts from the
/// beam of the first one instead of from collimated light.
#[derive(Debug, Clone, PartialEq)]
pub struct Lens {
    /// Full numerical aperture. Its rim is the rim of the strain maps, unless a prescription says how far these reach.
    pub na: f64,
    /// Refractive index of the medium on the specimen's side.
    pub immersion: f64,
    /// Its surfaces.
    pub form: LensForm,
    /// The glass. A prescription names its own glasses; then this is the first of them.
    pub glass: Glass,
    /// What covers the surfaces. The surfaces of a prescription have coatings of their own; only `Ideal` acts on them too, and makes them pass
    /// everything.
    pub coating: Coating,
    /// Strain, crossed in this order, in the middle of the group.
    pub strain: Vec<Strain>,
    /// Stress-optic coefficient relative to its catalog value, against wavelength; `None` for 1 everywhere.
    pub strain_dispersion: Option<SpectralTable>,
}

/// A lens that cannot bend the ray.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum LensError {
    /// There are too few equal surfaces: each would have to bend the ray by more than its glass can.
    #[error(
        "{surfaces} surface(s) of index {glass_index:.4} cannot bend a ray by {:.1} degrees; give the lens more surfaces",
        deviation_rad.to_degrees()
    )]
    TooFew {
        /// Number of surfaces.
        surfaces: u32,
        /// Index of the glass at the wavelength tried.
        glass_index: f64,
        /// By how much the ray is to be bent, radians.
        deviation_rad: f64,
    },
    /// One surface that would have to bend more than its glass can.
    #[error(
        "surface {surface} of index {glass_index:.4} cannot bend a ray by {:.1} degrees: at most {:.1}",
        bending_rad.to_degrees(),
        math::acos(1.0 / glass_index).to_degrees()
    )]
    TooMuch {
        /// Number of the surface, from 1.
        surface: usize,
        /// Index of the glass at the wavelength tried.
        glass_index: f64,
        /// By how much it is to bend the ray, radians.
        bending_rad: f64,
    },
    /// A ray does not get through the surfaces of a prescription.
    #[error("at {wavelength_nm:.1} nm the ray of NA {na:.4} does not pass surface {surface}: {}", why.words())]
    Stopped {
        /// Number of the surface, from 1.
        surface: usize,
        /// What happens to it there.
        why: Stop,
        /// The ray's numerical aperture in object space.
        na: f64,
        /// The wavelength, nm.
        wavelength_nm: f64,
    },
    /// The surfaces of a prescription do not bring light together.
    #[error(
        "its surfaces do not bring parallel light together: nothing reaches the specimen from them"
    )]
    GathersNothing,
}

impl Lens {
    /// A lens in air on both sides, uncoated and without strain, whose surfaces share the bending equally.
    #[must_use]
    pub fn new(na: f64, surfaces: u32, glass: Glass) -> Self {
        Self {
            na,
            immersion: 1.0,
            form: LensForm::Equal { surfaces },
            glass,
            coating: Coating::None,
            strain: Vec::new(),
            strain_dispersion: None,
        }
    }

    /// Amplitude transmittances `(t_p, t_s)` of a share of the surfaces, for a ray that the lens bends by `deviation_rad`. Their squares are
    /// transmittances of power. Share 1 is all surfaces; share 0.5 is half of them, which stand on either side of the strain in the middle. If the
    /// bending is told surface by surface, the ray is taken to be the outermost one.
    ///
    /// # Errors
    /// [`LensError`] when one surface would have to bend the ray by more than its glass can, and for a prescription, which needs
    /// [`LightPath::passage`](crate::light_path::LightPath::passage).
    ///
    /// Checked by: `tests/published/fresnel.rs`, `tests/published/coating.rs`, `tests/published/extinction.rs`.
    pub fn amplitudes(
        &self,
        deviation_rad: f64,
        wavelength_nm: f64,
        share: f64,
    ) -> Result<(Complex, Complex), LensError> {
        Ok(self
            .passed(deviation_rad, 1.0, wavelength_nm)?
            .amplitudes(share))
    }

    /// What all its surfaces pass of a ray that the lens bends by `deviation_rad`. `of_full` is this angle divided by the angle by which the lens
    /// bends its outermost ray.
    ///
    /// `Equal` surfaces bend by `beta = deviation/N` each. Incidence at one surface:
    /// `tan i = n_g sin(beta) / (n_g cos(beta) - 1)`, air to glass; glass to air is the same by reciprocity. Bare:
    /// `t_p/t_s = 1/cos(beta)`, `t_s` from Fresnel.
    ///
    /// Source: Fresnel's formulas with `i - t = beta`; Born and Wolf, section 1.5 (from memory).
    pub(crate) fn passed(
        &self,
        deviation_rad: f64,
        of_full: f64,
        wavelength_nm: f64,
    ) -> Result<Passed, LensError> {
        if self.is_ideal() {
            return Ok(Passed::WHOLE);
        }
        let glass_index = self.glass.index.at(wavelength_nm);
        match &self.form {
            LensForm::Equal { surfaces } => {
                self.alike(f64::from(*surfaces), deviation_rad, wavelength_nm)
            }
            LensForm::ActsLike { surfaces } => self.alike(*surfaces, deviation_rad, wavelength_nm),
            LensForm::Bending { bending_rad } => {
                let mut whole = Passed::WHOLE;
                for (surface, full_rad) in (1..).zip(bending_rad) {
                    let bending_rad = full_rad * of_full;
                    let too_much = LensError::TooMuch {
                        surface,
                        glass_index,
                        bending_rad,
                    };
                    let one = self.surface(glass_index, bending_rad.abs(), wavelength_nm);
                    whole = whole + one.ok_or(too_much)?;
                }
                Ok(whole)
            }
            LensForm::Prescription(_) => Err(LensError::GathersNothing),
        }
    }

    /// Surfaces that share the bending equally.
    fn alike(
        &self,
        surfaces: f64,
        deviation_rad: f64,
        wavelength_nm: f64,
    ) -> Result<Passed, LensError> {
        let glass_index = self.glass.index.at(wavelength_nm);
        let one = self.surface(glass_index, deviation_rad / surfaces, wavelength_nm);
        let one = one.ok_or(LensError::TooFew {
            surfaces: surfaces.round() as u32,
            glass_index,
            deviation_rad,
        })?;
        Ok(one * surfaces)
    }

    /// One surface between air and glass that bends a ray by an angle; `None` where it cannot.
    fn surface(&self, glass_index: f64, bending_rad: f64, wavelength_nm: f64) -> Option<Passed> {
        let forward = glass_index * math::cos(bending_rad) - 1.0;
        if !(bending_rad.is_finite() && forward > 0.0) {
            return None;
        }
        let incidence_rad = math::atan2(glass_index * math::sin(bending_rad), forward);
        let index = (1.0, glass_index);
        Some(match self.coating {
            Coating::Mgf2 => Passed::coated(index, incidence_rad, wavelength_nm),
            _ => Passed::bare(index, incidence_rad, incidence_rad - bending_rad),
        })
    }

    /// Whether the surfaces do nothing.
    #[must_use]
    pub fn is_ideal(&self) -> bool {
        self.form == LensForm::Equal { surfaces: 0 } || self.coating == Coating::Ideal
    }

    /// Number of glass-air surfaces that share the bending equally; `None` if the lens is told in another way.
    #[must_use]
    pub fn equal_surfaces(&self) -> Option<u32> {
        match self.form {
            LensForm::Equal { surfaces } => Some(surfaces),
            _ => None,
        }
    }

    /// Factor on every path difference of the strain at one wavelength.
    ///
    /// # Errors
    /// When a given dispersion does not cover the wavelength.
    pub fn strain_factor(&self, wavelength_nm: f64) -> Result<f64, crate::spectrum::TableError> {
        (self.strain_dispersion.as_ref()).map_or(Ok(1.0), |table| table.at(wavelength_nm))
    }
}

/// `(t_p, t_s)` of `count` equal surfaces air -> layer -> glass, each with one layer of index `layer` that is a quarter
/// wave thick at normal incidence at `design_nm`, for light of `wavelength_nm` that meets each at `incidence_rad` in air: see
/// [`Passed::layered`].
///
/// Checked by: `tests/published/coating.rs`.
#[must_use]
pub fn coated_surfaces(
    layer: f64,
    design_nm: f64,
    glass: f64,
    incidence_rad: f64,
    wavelength_nm: f64,
    count: f64,
) -> (Complex, Complex) {
    let index = (1.0, glass);
    Passed::layered(layer, design_nm, index, incidence_rad, wavelength_nm).amplitudes(count)
}
