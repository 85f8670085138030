//! Sheet polarizers, in collimated light and under oblique rays.

use std::f64::consts::FRAC_PI_2;

use super::element::LinearElement;
use super::interface::{cosine, flat_interface};
use super::rays::Ray;
use crate::material::{PolarizingSheet, SheetTransmittance};
use crate::math;
use crate::spectrum::TableError;

/// Index of a sheet's cover and its thickness in um: cellulose triacetate, from memory. What a cover does depends on its path difference; the
/// thickness changes the effect by less than one part in a thousand.
const COVER_INDEX: f64 = 1.48;
const COVER_UM: f64 = 80.0;

/// A sheet polarizer at an azimuth.
#[derive(Debug, Clone, PartialEq)]
pub struct Polarizer {
    /// The sheet.
    pub sheet: PolarizingSheet,
    /// Azimuth of the passed vibration, radians.
    pub azimuth_rad: f64,
    /// Refractive index of a medium that joins its upper surface to the slide above it; `None` where it lies free.
    pub contact: Option<f64>,
    /// Whether its axis is seen foreshortened by oblique rays; `false` only to study the leak.
    pub foreshortened: bool,
    /// Whether its two surfaces treat p and s differently under oblique rays; `false` only to study the leak.
    pub surfaces: bool,
}

/// How one ray sees a film: what follows from the geometry alone and is the same at every wavelength.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FilmRay {
    /// Azimuth, in the pupil frame, of the vibration that is absorbed.
    pub absorbed_azimuth_rad: f64,
    /// `1 / cos(theta')`: how much longer the path through the film is.
    pub path: f64,
    /// `sin^2(psi)`: how much of the absorption axis lies across the ray.
    pub across: f64,
}

/// What the dyed layer and the surfaces of a sheet do at normal incidence, at one wavelength.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Absorbances {
    /// `alpha_1` of the passed vibration.
    pub passed: f64,
    /// `alpha_2` of the absorbed vibration.
    pub absorbed: f64,
    /// What the two surfaces pass, divided by what bare surfaces would pass: 1 for bare ones, more for coated ones.
    pub coated: f64,
}

impl FilmRay {
    /// Amplitudes `(passed, absorbed)` of a film, bare surfaces apart:
    /// `t1 = exp(-alpha_1/(2 cos theta'))`, `t2 = exp(-(alpha_2 sin^2 psi + alpha_1 cos^2 psi)/(2 cos theta'))`, both times the root of
    /// what a coating gains.
    ///
    /// Checked by: `tests/published/film.rs`.
    #[must_use]
    pub fn amplitudes(&self, of: Absorbances) -> (f64, f64) {
        // At exactly psi = 90 deg the term with alpha_1 is left out, because alpha_1 may be infinite, and infinity times 0 is not a number.
        let rest = 1.0 - self.across;
        let along = if rest > 0.0 { of.passed * rest } else { 0.0 };
        let gain = of.coated.sqrt();
        (
            gain * math::exp(-0.5 * of.passed * self.path),
            gain * math::exp(-0.5 * (of.absorbed * self.across + along) * self.path),
        )
    }
}

impl Polarizer {
    /// A sheet at an azimuth, with everything that it really does.
    #[must_use]
    pub fn new(sheet: PolarizingSheet, azimuth_rad: f64) -> Self {
        Self {
            sheet,
            azimuth_rad,
            contact: None,
            foreshortened: true,
            surfaces: true,
        }
    }

    /// In collimated light: `R(az) diag(sqrt k1, sqrt k2) R(-az)`.
    ///
    /// # Errors
    /// [`TableError`] when the sheet's table does not cover the wavelength.
    ///
    /// Checked by: `tests/laws/malus.rs`, `tests/published/sheets.rs`.
    pub fn collimated(&self, wavelength_nm: f64) -> Result<LinearElement, TableError> {
        let (k1, k2) = self.sheet.principal_transmittances(wavelength_nm)?;
        Ok(LinearElement::real(self.azimuth_rad, k1.sqrt(), k2.sqrt()))
    }

    /// Geometry of an O-type film for a ray in object space.
    ///
    /// The absorption axis lies in the film at `azimuth + 90 deg`. Across the ray it has the components
    /// `a_p = cos(theta') cos(az + 90 - phi)` and `a_s = sin(az + 90 - phi)`, `theta' = asin(s/n_f)`; they
    /// name the absorbed vibration, and `sin^2(psi) = a_p^2 + a_s^2`.
    ///
    /// Source: P. Yeh and C. Gu, Optics of Liquid Crystal Displays (from memory).
    /// Checked by: `tests/published/film.rs`, `tests/laws/ideal.rs`.
    #[must_use]
    pub fn film_ray(&self, ray: Ray) -> FilmRay {
        let absorption = self.azimuth_rad + FRAC_PI_2;
        if !self.foreshortened {
            return FilmRay {
                absorbed_azimuth_rad: absorption,
                path: 1.0,
                across: 1.0,
            };
        }
        let cos_inside = cosine(self.sheet.index, ray.s);
        let (sin, cos) = math::sincos(absorption - ray.azimuth_rad);
        let along_p = cos_inside * cos;
        FilmRay {
            absorbed_azimuth_rad: ray.azimuth_rad + math::atan2(sin, along_p),
            path: 1.0 / cos_inside,
            across: along_p * along_p + sin * sin,
        }
    }

    /// Absorbances of the passed and of the absorbed vibration: `alpha_i = -ln(k_i/T)`, with `T = T0 = (4 n/(1+n)^2)^2` for two bare surfaces in air.
    /// A `k1` above `T0` must have been measured on a sheet with coated surfaces. Then `T = k1`: `alpha_1` is not below 0, and the sheet passes what
    /// was measured, as it does in collimated light.
    ///
    /// # Errors
    /// [`TableError`] when the sheet's table does not cover the wavelength.
    ///
    /// Checked by: `tests/published/film.rs`, `tests/laws/ideal.rs`.
    pub fn absorbances(&self, wavelength_nm: f64) -> Result<Absorbances, TableError> {
        let (k1, k2) = self.sheet.principal_transmittances(wavelength_nm)?;
        let bare = self.sheet.bare_surfaces();
        let surfaces = bare.max(k1);
        let absorbance = |k: f64| -math::log(k / surfaces);
        Ok(Absorbances {
            passed: absorbance(k1),
            absorbed: absorbance(k2),
            coated: surfaces / bare,
        })
    }

    /// Path difference of p over s, nm, that the cover on the specimen's side of the dyed layer gives a ray of numerical aperture `s`.
    ///
    /// The cover is a negative C plate, its optic axis along the normal: `d (k_ez - k_oz)` with `k_oz = sqrt(n_o^2 - s^2)` and
    /// `k_ez = n_o sqrt(1 - s^2/n_e^2)`. The cover on the other side does nothing that can be seen: there the light is either
    /// not polarized yet, or no longer meets a polarizer that would show a change.
    ///
    /// Checked by: `tests/reference/cover.rs`.
    #[must_use]
    pub fn cover_nm(&self, s: f64) -> f64 {
        if self.sheet.cover_nm == 0.0 {
            return 0.0;
        }
        let (ordinary, extraordinary) = self.cover_indices();
        let (o2, e2, s2) = (ordinary * ordinary, extraordinary * extraordinary, s * s);
        let (o, e) = ((o2 - s2).sqrt(), ordinary * (1.0 - s2 / e2).sqrt());
        // The difference of the two square roots, written so that no digits are lost.
        1e3 * COVER_UM * s2 * (e2 - o2) / (e2 * (o + e))
    }

    /// Principal indices of the cover.
    pub(crate) fn cover_indices(&self) -> (f64, f64) {
        let birefringence = self.sheet.cover_nm / (1e3 * COVER_UM);
        (COVER_INDEX, COVER_INDEX - birefringence)
    }

    /// `(t_p, t_s)` of one of the film's two surfaces toward a medium of index `n`, for a ray `s`.
    #[must_use]
    pub fn surface(&self, n: f64, s: f64) -> (f64, f64) {
        if matches!(self.sheet.transmittance, SheetTransmittance::Ideal) {
            (1.0, 1.0)
        } else if self.surfaces {
            flat_interface(n, self.sheet.index, s)
        } else {
            flat_interface(n, self.sheet.index, 0.0)
        }
    }
}
