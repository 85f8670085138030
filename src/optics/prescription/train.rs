//! A train: surfaces one after the other, and rays traced through them.
//!
//! A train is always crossed from its collimated side to the specimen. In an objective the light really goes the other way, so its surfaces are
//! turned round.

use crate::material::{Glass, Index};
use crate::math;
use crate::optics::Coating;

use super::surface::Surface;

/// Number of heights at which rays are tried, from the axis outward, to find the edge of the bundle.
const SAMPLES: usize = 100;
/// Number of halvings that find the edge between two such heights.
const HALVINGS: usize = 60;
/// The most steps of the search for a ray of given numerical aperture, and how near to that numerical aperture it must come.
const MOST_STEPS: usize = 100;
const NEAR: f64 = 4e-15;
/// A search has failed if it ends further from the wanted numerical aperture than this fraction of it.
const FAR: f64 = 1e-9;
/// A train whose bundle has a smaller numerical aperture than this counts as one that does not bring light together.
const LEAST_NA: f64 = 1e-6;
/// The factor by which each step of a search for an outer bound goes further out, and the most steps that it makes.
const BEYOND: f64 = 1.02;
const MOST_BEYOND: usize = 10;

/// Surfaces in the order of the light from the collimated side, air before the first.
#[derive(Debug, Clone, PartialEq)]
pub struct Train {
    /// The surfaces; what follows the last is the medium on the specimen's side.
    pub surfaces: Vec<Surface>,
}

/// A train at one wavelength.
#[derive(Debug, Clone)]
pub struct TrainAt<'a> {
    train: &'a Train,
    /// Refractive index after each surface.
    indices: Vec<f64>,
    wavelength_nm: f64,
}

/// Why a ray gets no further.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stop {
    /// It does not meet the surface.
    Missed,
    /// It is totally reflected.
    TotalReflection,
    /// It lies outside the clear aperture.
    ClearAperture,
    /// It and rays further out come out less steep than rays nearer to the axis.
    TurnsBack,
}

impl Stop {
    /// In plain words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Missed => "it passes the surface by",
            Self::TotalReflection => "it is totally reflected",
            Self::ClearAperture => "it lies outside the clear aperture",
            Self::TurnsBack => "rays further out come out less steep",
        }
    }
}

/// Where and why a ray gets no further.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stopped {
    /// Index of the surface.
    pub surface: usize,
    /// Why.
    pub why: Stop,
}

/// A ray at one surface. Angles are in radians; a slope is positive where the ray leads away from the axis upward.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SurfaceRay {
    /// Height above the axis, mm.
    pub height_mm: f64,
    /// Distance behind the first vertex, mm.
    pub along_mm: f64,
    /// Angle between the ray and the surface's normal before it.
    pub incidence_rad: f64,
    /// The same behind it.
    pub refraction_rad: f64,
    /// Slope behind it.
    pub slope_rad: f64,
    /// Refractive indices before and behind it.
    pub index: (f64, f64),
}

impl SurfaceRay {
    /// By how much the surface bends the ray, radians.
    #[must_use]
    pub fn bending_rad(&self) -> f64 {
        self.incidence_rad - self.refraction_rad
    }
}

/// A ray through all surfaces.
#[derive(Debug, Clone, PartialEq)]
pub struct TracedRay {
    /// The ray at each surface.
    pub surfaces: Vec<SurfaceRay>,
    /// Numerical aperture with which it reaches the specimen, positive toward the axis.
    pub na: f64,
}

/// How wide a bundle gets through a train.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reach {
    /// Height of its outermost ray in front of the train, mm.
    pub height_mm: f64,
    /// Numerical aperture of that ray.
    pub na: f64,
    /// What stops the next one.
    pub limit: Stopped,
}

impl Train {
    /// A train that ends in a medium of index `immersion`.
    #[must_use]
    pub fn new(mut surfaces: Vec<Surface>, immersion: f64) -> Self {
        if let Some(last) = surfaces.last_mut() {
            last.after = (immersion != 1.0).then(|| Glass {
                name: "immersion".to_owned(),
                index: Index::Constant(immersion),
                stress_optic_brewster: None,
            });
        }
        Self { surfaces }
    }

    /// A train of surfaces that are given the other way round: `immersion` is the index of the medium before their first surface. The train starts at
    /// its collimated side, which is the last surface given.
    #[must_use]
    pub fn turned(surfaces: &[Surface], immersion: f64) -> Self {
        let turned = (0..surfaces.len()).rev().map(|k| match k.checked_sub(1) {
            Some(before) => {
                let Surface {
                    after,
                    thickness_mm,
                    ..
                } = &surfaces[before];
                surfaces[k].turned(after.clone(), *thickness_mm)
            }
            None => surfaces[k].turned(None, 0.0),
        });
        Self::new(turned.collect(), immersion)
    }

    /// The train at one wavelength.
    #[must_use]
    pub fn at(&self, wavelength_nm: f64) -> TrainAt<'_> {
        let index = |surface: &Surface| {
            (surface.after.as_ref()).map_or(1.0, |glass| glass.index.at(wavelength_nm))
        };
        TrainAt {
            train: self,
            indices: self.surfaces.iter().map(index).collect(),
            wavelength_nm,
        }
    }

    /// Whether a surface's coating acts. It does where one side of the surface is air.
    pub(super) fn coating(&self, surface: usize) -> Coating {
        let before = surface
            .checked_sub(1)
            .and_then(|k| self.surfaces[k].after.as_ref());
        let Surface { after, coating, .. } = &self.surfaces[surface];
        match (before, after) {
            (Some(_), Some(_)) if *coating == Coating::Mgf2 => Coating::None,
            _ => *coating,
        }
    }
}

impl<'a> TrainAt<'a> {
    /// The train.
    #[must_use]
    pub fn train(&self) -> &'a Train {
        self.train
    }

    /// The wavelength, nm.
    #[must_use]
    pub fn wavelength_nm(&self) -> f64 {
        self.wavelength_nm
    }

    /// Refractive indices before and behind a surface.
    #[must_use]
    pub fn index(&self, surface: usize) -> (f64, f64) {
        let before = surface.checked_sub(1).map_or(1.0, |k| self.indices[k]);
        (before, self.indices[surface])
    }

    /// Follows a ray that comes in parallel to the axis at a height, and returns its numerical aperture at the end. Clear apertures do not stop it
    /// here.
    ///
    /// Source: sequential ray tracing, W. T. Welford, Aberrations of Optical Systems, chapter 4 (from memory), in the plane of the axis.
    fn follow(&self, height_mm: f64, mut each: impl FnMut(SurfaceRay)) -> Result<f64, Stopped> {
        let (mut height, mut slope, mut vertex) = (height_mm, 0.0f64, 0.0);
        for (number, surface) in self.train.surfaces.iter().enumerate() {
            let stopped = |why| Stopped {
                surface: number,
                why,
            };
            let (sin, cos) = math::sincos(slope);
            let (y, z, tilt) = surface
                .meet(height, (sin, cos))
                .ok_or(stopped(Stop::Missed))?;
            let index = self.index(number);
            let normal_rad = -math::atan(tilt);
            let incidence_rad = slope - normal_rad;
            let sine = index.0 / index.1 * math::sin(incidence_rad);
            if incidence_rad.abs() >= std::f64::consts::FRAC_PI_2 {
                return Err(stopped(Stop::Missed));
            }
            if sine.abs() >= 1.0 {
                return Err(stopped(Stop::TotalReflection));
            }
            let refraction_rad = math::asin(sine);
            slope = normal_rad + refraction_rad;
            each(SurfaceRay {
                height_mm: y,
                along_mm: vertex + z,
                incidence_rad,
                refraction_rad,
                slope_rad: slope,
                index,
            });
            if slope.abs() >= std::f64::consts::FRAC_PI_2 {
                return Err(stopped(Stop::Missed));
            }
            height = y + (surface.thickness_mm - z) * math::tan(slope);
            vertex += surface.thickness_mm;
        }
        let last = self.indices.last().copied().unwrap_or(1.0);
        Ok(-last * math::sin(slope))
    }

    /// Traces a ray that comes in parallel to the axis at a height. Clear apertures do not stop it here.
    ///
    /// # Errors
    /// [`Stopped`] where it misses a surface or is totally reflected.
    ///
    /// Checked by: `tests/reference/lenses.rs`, `tests/published/lens_forms.rs`.
    pub fn ray(&self, height_mm: f64) -> Result<TracedRay, Stopped> {
        let mut surfaces = Vec::with_capacity(self.train.surfaces.len());
        let na = self.follow(height_mm, |at| surfaces.push(at))?;
        Ok(TracedRay { surfaces, na })
    }

    /// The numerical aperture of the ray that comes in at a height. Here a clear aperture stops it too, with an error.
    fn within(&self, height_mm: f64) -> Result<f64, Stopped> {
        let mut surface = 0;
        let mut outside = None;
        let na = self.follow(height_mm, |at| {
            let clear = self.train.surfaces[surface].half_diameter_mm * (1.0 + 1e-12);
            if outside.is_none() && at.height_mm.abs() > clear {
                outside = Some(Stopped {
                    surface,
                    why: Stop::ClearAperture,
                });
            }
            surface += 1;
        });
        outside.map_or(na, Err)
    }

    /// The outermost ray of the bundle that comes in parallel to the axis: the height at which it enters, its numerical aperture, and what stops the
    /// next ray further out.
    ///
    /// `None` for a train that does not gather light.
    #[must_use]
    pub fn reach(&self) -> Option<Reach> {
        let widest = self.train.surfaces.first()?.half_diameter_mm * 1.001;
        let (mut height_mm, mut na) = (0.0, 0.0);
        let mut next = widest;
        let mut limit = None;
        // From the axis outward to the first ray that is stopped, and then by halving to the edge.
        for sample in 1..=SAMPLES {
            let height = widest * sample as f64 / SAMPLES as f64;
            match self.further(height, na) {
                Ok(found) => (height_mm, na) = (height, found),
                Err(stopped) => {
                    (next, limit) = (height, Some(stopped));
                    break;
                }
            }
        }
        let mut limit = limit?;
        for _ in 0..HALVINGS {
            let middle = 0.5 * (height_mm + next);
            match self.further(middle, na) {
                Ok(found) => (height_mm, na) = (middle, found),
                Err(stopped) => (next, limit) = (middle, stopped),
            }
        }
        (na > LEAST_NA).then_some(Reach {
            height_mm,
            na,
            limit,
        })
    }

    /// The numerical aperture of the ray that comes in at a height; an error if it is smaller than `than`.
    fn further(&self, height_mm: f64, than: f64) -> Result<f64, Stopped> {
        let na = self.within(height_mm)?;
        if na >= than {
            Ok(na)
        } else {
            Err(self.turns_back())
        }
    }

    /// The height at which a ray must come in to reach the specimen with the numerical aperture `na`. `near` is the height and numerical aperture of
    /// the outermost ray; the height lies between the axis and that ray, or, at another wavelength, a little beyond it. It is found by the secant
    /// method, kept between bounds (the Illinois rule).
    ///
    /// # Errors
    /// [`Stopped`] where no ray gets there.
    pub fn height_of(&self, na: f64, near: (f64, f64)) -> Result<f64, Stopped> {
        let off = |height: f64| Ok::<f64, Stopped>(self.follow(height, |_| {})? - na);
        let mut high = (0.0, -na);
        let mut next = near.0;
        // Goes outward step by step. Once a ray is too far out to get through, goes back by half the way each time.
        let mut too_far: Option<(f64, Stopped)> = None;
        let mut steps = 0;
        while high.1 < -NEAR * na {
            match off(next) {
                Ok(off) => high = (next, off),
                Err(stopped) => too_far = Some((next, stopped)),
            }
            next = match too_far {
                Some((height, _)) => 0.5 * (high.0 + height),
                None => high.0 * BEYOND,
            };
            steps += 1;
            match too_far {
                Some((_, stopped)) if steps > MOST_BEYOND + HALVINGS => return Err(stopped),
                None if steps > MOST_BEYOND => return Err(self.turns_back()),
                _ => {}
            }
        }
        self.height_below(na, (high.0, high.1 + na))
    }

    fn turns_back(&self) -> Stopped {
        Stopped {
            surface: self.train.surfaces.len().saturating_sub(1),
            why: Stop::TurnsBack,
        }
    }

    /// The same height, searched between the axis and `outer`: the height and numerical aperture of a ray that has at least `na`.
    ///
    /// # Errors
    /// [`Stopped`] where a ray in between gets nowhere.
    pub(super) fn height_below(&self, na: f64, outer: (f64, f64)) -> Result<f64, Stopped> {
        if na == 0.0 {
            return Ok(0.0);
        }
        let off = |height: f64| Ok::<f64, Stopped>(self.follow(height, |_| {})? - na);
        let (mut low, mut high) = ((0.0, -na), (outer.0, outer.1 - na));
        // Rays steepen nearly in proportion to their height.
        let mut height = outer.0 * na / outer.1;
        let mut stayed = 0;
        let mut miss = f64::INFINITY;
        for _ in 0..MOST_STEPS {
            if !(low.0..=high.0).contains(&height) {
                height = 0.5 * (low.0 + high.0);
            }
            let now = off(height)?;
            miss = now.abs();
            if miss <= NEAR * na {
                break;
            }
            // If the same bound stays twice, its value is halved, so that the next step moves it.
            if now < 0.0 {
                low = (height, now);
                stayed = if stayed > 0 { stayed + 1 } else { 1 };
                if stayed > 1 {
                    high.1 *= 0.5;
                }
            } else {
                high = (height, now);
                stayed = if stayed < 0 { stayed - 1 } else { -1 };
                if stayed < -1 {
                    low.1 *= 0.5;
                }
            }
            let next = (low.0 * high.1 - high.0 * low.1) / (high.1 - low.1);
            if next == height || high.0 - low.0 <= f64::EPSILON * height {
                break;
            }
            height = next;
        }
        if miss > FAR * na {
            // The surfaces are shaped so irregularly that the numerical aperture jumps over `na`.
            return Err(self.turns_back());
        }
        Ok(height)
    }
}
