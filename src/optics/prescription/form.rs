//! A single lens whose surfaces are not known, from what a caliper and a data sheet say.

use thiserror::Error;

use super::surface::Surface;
use super::train::Train;
use crate::material::Glass;
use crate::math;

/// Wavelength that a focal length is stated at, nm.
const STATED_NM: f64 = 546.1;
/// The clear aperture is taken to end this far inside the rim, mm.
const BEZEL_MM: f64 = 0.5;
/// Conic constants among which the one without spherical aberration is looked for.
const CONICS: (f64, f64) = (-8.0, 1.0);

/// The usual forms of a single lens, curved side toward the lamp.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// A sphere, then a flat.
    PlanoConvex,
    /// Two spheres of the same radius.
    Biconvex,
    /// A paraboloid, then a flat.
    Parabolic,
    /// A conic that brings the outermost ray to the focus of the middle ones, then a flat.
    Aspheric,
}

/// What is known of a single lens.
#[derive(Debug, Clone, PartialEq)]
pub struct Form {
    /// Diameter, mm.
    pub diameter_mm: f64,
    /// Thickness in the middle, mm.
    pub thickness_mm: f64,
    /// Focal length at 546.1 nm, mm.
    pub focal_length_mm: f64,
    /// The glass.
    pub glass: Glass,
    /// The form.
    pub shape: Shape,
}

/// Numbers for which no lens can be made.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum FormError {
    /// The curved side is too strongly curved to be so wide.
    #[error(
        "a focal length of {focal_length_mm} mm asks for a curved side of {radius_mm:.2} mm radius in this glass, which is at most {:.2} mm wide where {diameter_mm} mm are asked for: the lens is of another shape (try shape=parabolic or shape=aspheric), or one of these numbers is off", 2.0 * radius_mm
    )]
    TooShort {
        /// Focal length, mm.
        focal_length_mm: f64,
        /// Diameter, mm.
        diameter_mm: f64,
        /// Radius that the curved side would need, mm.
        radius_mm: f64,
    },
    /// Two equal curved sides so far apart have no focal length so short.
    #[error(
        "two equal curved sides {thickness_mm} mm apart have no focal length of {focal_length_mm} mm in this glass: a thinner lens has"
    )]
    TooThick {
        /// Thickness in the middle, mm.
        thickness_mm: f64,
        /// Focal length, mm.
        focal_length_mm: f64,
    },
    /// The curved sides meet before the rim.
    #[error(
        "a thickness of {thickness_mm} mm is too little: the rim needs {needed_mm:.2} mm in the middle"
    )]
    TooThin {
        /// Thickness in the middle, mm.
        thickness_mm: f64,
        /// Least thickness in the middle, mm.
        needed_mm: f64,
    },
}

impl Form {
    /// The two surfaces, lamp's side first.
    ///
    /// # Errors
    /// [`FormError`] when no such lens can be made.
    ///
    /// Checked by: `tests/published/lens_forms.rs`.
    pub fn surfaces(&self) -> Result<Vec<Surface>, FormError> {
        let bend = self.glass.index.at(STATED_NM) - 1.0;
        let radius = match self.shape {
            Shape::Biconvex => {
                let thin = self.thickness_mm * bend * bend / ((1.0 + bend) * self.focal_length_mm);
                self.focal_length_mm * (bend + (bend * bend - thin).sqrt())
            }
            _ => self.focal_length_mm * bend,
        };
        let too_short = FormError::TooShort {
            focal_length_mm: self.focal_length_mm,
            diameter_mm: self.diameter_mm,
            radius_mm: radius,
        };
        if radius.is_nan() {
            return Err(FormError::TooThick {
                thickness_mm: self.thickness_mm,
                focal_length_mm: self.focal_length_mm,
            });
        }
        let surfaces = match self.shape {
            Shape::Parabolic => self.around(radius, -1.0),
            Shape::Aspheric => self.around(radius, self.conic(radius).ok_or(too_short.clone())?),
            _ => self.around(radius, 0.0),
        };
        let rim = 0.5 * self.diameter_mm;
        let sag = |surface: &Surface| surface.sag(rim).map(|sag| sag.0);
        let (first, last) = sag(&surfaces[0]).zip(sag(&surfaces[1])).ok_or(too_short)?;
        if self.thickness_mm <= first - last {
            return Err(FormError::TooThin {
                thickness_mm: self.thickness_mm,
                needed_mm: first - last,
            });
        }
        Ok(surfaces)
    }

    fn around(&self, radius_mm: f64, conic: f64) -> Vec<Surface> {
        let clear = (0.5 * self.diameter_mm - BEZEL_MM).max(0.4 * self.diameter_mm);
        let glass = Some(self.glass.clone());
        let front = Surface {
            conic,
            ..Surface::sphere(radius_mm, self.thickness_mm, glass, clear)
        };
        let back_mm = match self.shape {
            Shape::Biconvex => -radius_mm,
            _ => 0.0,
        };
        vec![front, Surface::sphere(back_mm, 0.0, None, clear)]
    }

    /// The conic constant whose outermost ray crosses the axis in the paraxial focus.
    fn conic(&self, radius_mm: f64) -> Option<f64> {
        let off = |conic: f64| {
            let train = Train::new(self.around(radius_mm, conic), 1.0);
            let at = train.at(STATED_NM);
            let ray = at.ray(train.surfaces[0].half_diameter_mm).ok()?;
            let last = ray.surfaces.last()?;
            Some(last.height_mm / -math::tan(last.slope_rad) - at.paraxial().back_focal_plane_mm)
        };
        // A more negative conic constant bends the rays at the rim less, so they meet the axis further away. A ray that does not get through is bent
        // too much.
        let (mut low, mut high) = CONICS;
        if off(low)? < 0.0 {
            return None;
        }
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            match off(middle) {
                Some(off) if off > 0.0 => low = middle,
                _ => high = middle,
            }
        }
        Some(0.5 * (low + high))
    }
}
