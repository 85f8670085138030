//! What lies on the stage.

use super::interface::cosine;
use super::rays::Ray;
use crate::material::Uniaxial;
use crate::math;

/// A birefringent specimen.
#[derive(Debug, Clone, PartialEq)]
pub enum Specimen {
    /// A stated path difference, the same for every ray and wavelength.
    Stated {
        /// Path difference, nm.
        path_difference_nm: f64,
        /// Slow azimuth, radians.
        slow_azimuth_rad: f64,
    },
    /// A plate of a uniaxial crystal with its optic axis in the plane of the stage.
    Plate {
        /// The crystal.
        crystal: Uniaxial,
        /// Thickness, micrometres.
        thickness_um: f64,
        /// Azimuth of the optic axis, radians.
        axis_azimuth_rad: f64,
    },
    /// A plate of a uniaxial crystal cut across its optic axis, which stands along the microscope's. Optical activity is left out.
    Across {
        /// The crystal.
        crystal: Uniaxial,
        /// Thickness, micrometres.
        thickness_um: f64,
    },
}

/// What a crystal plate does to one ray.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CrystalRay {
    /// Azimuth, in the pupil frame, of the extraordinary vibration.
    pub azimuth_rad: f64,
    /// Path difference extraordinary minus ordinary, nm.
    pub path_difference_nm: f64,
}

impl Specimen {
    /// What the specimen does to one ray at one wavelength.
    #[must_use]
    pub fn ray(&self, ray: Ray, wavelength_nm: f64) -> CrystalRay {
        match self {
            Self::Stated {
                path_difference_nm,
                slow_azimuth_rad,
            } => CrystalRay {
                azimuth_rad: *slow_azimuth_rad,
                path_difference_nm: *path_difference_nm,
            },
            Self::Plate {
                crystal,
                thickness_um,
                axis_azimuth_rad,
            } => {
                let indices = indices(crystal, wavelength_nm);
                CrystalRay::of(ray, *axis_azimuth_rad, *thickness_um, indices)
            }
            Self::Across {
                crystal,
                thickness_um,
            } => CrystalRay::across(ray, *thickness_um, indices(crystal, wavelength_nm)),
        }
    }
}

/// Ordinary and extraordinary.
fn indices(crystal: &Uniaxial, wavelength_nm: f64) -> (f64, f64) {
    (
        crystal.ordinary.at(wavelength_nm),
        crystal.extraordinary.at(wavelength_nm),
    )
}

impl CrystalRay {
    /// What a plate does to a ray: principal indices `(no, ne)`, the optic axis in the plane of the plate.
    ///
    /// `Gamma = d (k_ez - k_oz)` with `k_oz = sqrt(no^2 - s^2)` and
    /// `k_ez = sqrt(ne^2 - s_across^2 - s_along^2 ne^2/no^2)`; the extraordinary vibration is the axis' projection
    /// across the ray at the mean index.
    ///
    /// Source: Yeh and Gu, chapter 3; Born and Wolf, chapter 15 (from memory).
    /// Checked by: `tests/published/oblique_plates.rs`.
    #[must_use]
    pub fn of(ray: Ray, axis_azimuth_rad: f64, thickness_um: f64, (no, ne): (f64, f64)) -> Self {
        let (sin, cos) = math::sincos(axis_azimuth_rad - ray.azimuth_rad);
        let (along, across) = (ray.s * cos, ray.s * sin);
        let k_o = (no * no - ray.s * ray.s).sqrt();
        let k_e = (ne * ne - across * across - (along * ne / no).powi(2)).sqrt();
        let tilt = cosine(0.5 * (no + ne), ray.s);
        Self {
            azimuth_rad: ray.azimuth_rad + math::atan2(sin, tilt * cos),
            path_difference_nm: 1e3 * thickness_um * (k_e - k_o),
        }
    }

    /// What a plate does to a ray: principal indices `(no, ne)`, the plate cut across its optic axis.
    ///
    /// `Gamma = d (k_ez - k_oz)` with `k_oz = sqrt(no^2 - s^2)` and `k_ez = (no/ne) sqrt(ne^2 - s^2)`; the extraordinary vibration lies
    /// in the meridional plane.
    ///
    /// Source: Yeh and Gu, chapter 3; Born and Wolf, chapter 15 (from memory).
    /// Checked by: `tests/published/across_plates.rs`.
    #[must_use]
    pub fn across(ray: Ray, thickness_um: f64, (no, ne): (f64, f64)) -> Self {
        let k_o = (no * no - ray.s * ray.s).sqrt();
        let k_e = no / ne * (ne * ne - ray.s * ray.s).sqrt();
        Self {
            azimuth_rad: ray.azimuth_rad,
            path_difference_nm: 1e3 * thickness_um * (k_e - k_o),
        }
    }
}
