//! Lens groups: condenser and objective.

use std::f64::consts::TAU;

use thiserror::Error;

use super::interface::cosine;
use super::strain::Strain;
use crate::calculus::Complex;
use crate::material::Glass;
use crate::spectrum::SpectralTable;

/// Index of the antireflection layer, magnesium fluoride.
const LAYER_INDEX: f64 = 1.38;
/// Wavelength in nm at which the layer is a quarter wave at normal incidence.
const LAYER_DESIGN_NM: f64 = 550.0;

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

/// A lens group that takes collimated light (a condenser's second lens: the first one's beam) to rays of `na`, or back.
#[derive(Debug, Clone, PartialEq)]
pub struct Lens {
    /// Full numerical aperture: the rim of the strain maps.
    pub na: f64,
    /// Refractive index of the medium on the specimen's side.
    pub immersion: f64,
    /// Number of glass-air surfaces that share the bending equally; 0 makes the lens the identity.
    pub surfaces: u32,
    /// The glass.
    pub glass: Glass,
    /// What covers the surfaces.
    pub coating: Coating,
    /// Strain, crossed in this order, in the middle of the group.
    pub strain: Vec<Strain>,
    /// Stress-optic coefficient relative to its catalog value, against wavelength; `None` for 1 everywhere.
    pub strain_dispersion: Option<SpectralTable>,
}

/// A lens that cannot bend the ray.
#[derive(Debug, Clone, PartialEq, Error)]
#[error(
    "{surfaces} surface(s) of index {glass_index:.4} cannot bend a ray by {:.1} degrees; give the lens more surfaces",
    deviation_rad.to_degrees()
)]
pub struct LensError {
    /// Number of surfaces.
    pub surfaces: u32,
    /// Index of the glass at the wavelength tried.
    pub glass_index: f64,
    /// By how much the ray is to be bent, radians.
    pub deviation_rad: f64,
}

impl Lens {
    /// A lens between air and air, bare and without strain.
    #[must_use]
    pub fn new(na: f64, surfaces: u32, glass: Glass) -> Self {
        Self {
            na,
            immersion: 1.0,
            surfaces,
            glass,
            coating: Coating::None,
            strain: Vec::new(),
            strain_dispersion: None,
        }
    }

    /// Amplitude transmittances `(t_p, t_s)`, power-normalised, of a share of the surfaces for a ray that the lens bends by
    /// `deviation_rad`: share 1 for all of them, 0.5 for each side of the strain, which sits in the middle.
    ///
    /// The deviation is shared equally, `beta = deviation/N` a surface. Incidence at one surface:
    /// `tan i = n_g sin(beta) / (n_g cos(beta) - 1)`, air to glass; glass to air is the same by reciprocity. Bare:
    /// `t_p/t_s = 1/cos(beta)`, `t_s` from Fresnel.
    ///
    /// Source: Fresnel's formulas with `i - t = beta`; Born and Wolf, section 1.5 (from memory).
    /// Checked by: `tests/published/fresnel.rs`, `tests/published/coating.rs`, `tests/published/extinction.rs`.
    ///
    /// # Errors
    /// [`LensError`] when one surface would have to bend the ray by more than its glass can.
    pub fn amplitudes(
        &self,
        deviation_rad: f64,
        wavelength_nm: f64,
        share: f64,
    ) -> Result<(Complex, Complex), LensError> {
        if self.is_ideal() {
            return Ok((Complex::from(1.0), Complex::from(1.0)));
        }
        let glass_index = self.glass.index.at(wavelength_nm);
        let beta = deviation_rad / f64::from(self.surfaces);
        let forward = glass_index * beta.cos() - 1.0;
        if !(beta.is_finite() && forward > 0.0) {
            return Err(LensError {
                surfaces: self.surfaces,
                glass_index,
                deviation_rad,
            });
        }
        let incidence = (glass_index * beta.sin()).atan2(forward);
        let count = f64::from(self.surfaces) * share;
        Ok(match self.coating {
            Coating::Mgf2 => coated_surfaces(
                LAYER_INDEX,
                LAYER_DESIGN_NM,
                glass_index,
                incidence,
                wavelength_nm,
                count,
            ),
            Coating::None | Coating::Ideal => {
                let (cos1, cos2) = (incidence.cos(), (incidence - beta).cos());
                let t_s = 2.0 * (glass_index * cos1 * cos2).sqrt() / (cos1 + glass_index * cos2);
                let t_p = t_s / beta.cos();
                (t_p.powf(count).into(), t_s.powf(count).into())
            }
        })
    }

    /// Whether the surfaces do nothing.
    #[must_use]
    pub fn is_ideal(&self) -> bool {
        self.surfaces == 0 || self.coating == Coating::Ideal
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
/// wave thick at normal incidence at `design_nm`, for light of `wavelength_nm` that meets each at `incidence_rad` in air.
///
/// By the layer's characteristic matrix
///
/// ```text
/// | cos d           -i sin(d)/eta |
/// | -i eta sin(d)    cos d        |     d = 2 pi n h cos(theta) / wavelength,  exp(i(kz - wt))
/// ```
///
/// with `eta = n cos(theta)` for s and `n / cos(theta)` for p, and `t = 2 eta0 / (eta0 B + C)`, power-normalised by
/// `sqrt(eta_glass / eta0)`. In this convention an index-matched layer gives `exp(+i d)`; most books print the conjugate. The
/// phase is taken without jumps (near `d`) before it is multiplied by `count`.
///
/// Source: H. A. Macleod, Thin-Film Optical Filters, chapter 2 (from memory; sign of i reversed).
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
    let s = incidence_rad.sin();
    let indices = [1.0, layer, glass];
    let cosines = [incidence_rad.cos(), cosine(layer, s), cosine(glass, s)];
    let thickness_nm = design_nm / (4.0 * layer);
    let phase = TAU * layer * thickness_nm * cosines[1] / wavelength_nm;
    let (sin, cos) = phase.sin_cos();
    let whole = |[air, layer, glass]: [f64; 3]| {
        let b = Complex::new(cos, -sin * glass / layer);
        let c = Complex::new(glass * cos, -layer * sin);
        let t = 2.0 * (air * glass).sqrt() / (b * air + c);
        let unwrapped = phase + (t * Complex::cis(-phase)).arg();
        Complex::from_polar(t.norm().powf(count), unwrapped * count)
    };
    let admittance = |power: i32| [0, 1, 2].map(|k| indices[k] * cosines[k].powi(power));
    (whole(admittance(-1)), whole(admittance(1)))
}
