//! How rays cross the lenses: bent equally, surface by surface, or traced.

use std::ops::Range;

use super::error::PathError;
use super::stack::{LightPath, PartKind};
use crate::optics::prescription::{
    Passed, Reach, Stop, Stopped, Surface, TracedRay, Train, TrainAt,
};
use crate::optics::{Lens, LensError, LensForm, StressProfile};

/// Wavelength at which a prescription's apertures, planes and stress are told, nm.
pub const TOLD_NM: f64 = 546.1;
/// Wavelengths between which rays must pass, nm, and the part of a limit that the glass sets within which they are followed.
const SHORT_NM: f64 = 360.0;
const LONG_NM: f64 = 830.0;
const WITHIN: f64 = 0.999;
/// Values of a stress profile from the axis to the rim.
const PROFILE: usize = 129;

/// How rays cross the lens at one place of a path.
#[derive(Debug, Clone)]
pub struct Passage<'a> {
    path: &'a LightPath,
    part: usize,
    lens: &'a Lens,
    /// Traced with the other lens of its condenser, where the lens has a prescription.
    traced: Option<Traced>,
}

/// A prescription on its side of the specimen.
#[derive(Debug, Clone, PartialEq)]
pub struct Traced {
    /// All surfaces on that side, collimated side first.
    pub train: Train,
    /// The lens's own among them.
    pub own: Range<usize>,
    /// The outermost ray at 546.1 nm.
    pub reach: Reach,
}

/// A passage at one wavelength.
#[derive(Debug, Clone)]
pub struct PassageAt<'a> {
    passage: &'a Passage<'a>,
    wavelength_nm: f64,
    train: Option<TrainAt<'a>>,
}

impl LightPath {
    /// How rays cross the lens at `part`.
    ///
    /// # Errors
    /// [`PathError::Lens`] for a prescription that gathers no light; [`PathError::NoLens`] where no lens stands.
    pub fn passage(&self, part: usize) -> Result<Passage<'_>, PathError> {
        let (PartKind::Condenser(lens) | PartKind::Objective(lens)) = &self.parts[part].kind else {
            return Err(PathError::NoLens { part });
        };
        Ok(Passage {
            path: self,
            part,
            lens,
            traced: self.traced(part)?,
        })
    }

    /// The prescription of the lens at `part`, traced; `None` where it has none.
    ///
    /// # Errors
    /// [`PathError::Lens`] when it gathers no light, [`PathError::HalfPrescribed`] when the condenser's other lens has none.
    pub fn traced(&self, part: usize) -> Result<Option<Traced>, PathError> {
        let (train, own) = match &self.parts[part].kind {
            PartKind::Objective(lens) => match prescription(lens) {
                None => return Ok(None),
                Some(surfaces) => {
                    let train = Train::turned(surfaces, lens.immersion);
                    (train, 0..surfaces.len())
                }
            },
            PartKind::Condenser(lens) => {
                if prescription(lens).is_none() {
                    return Ok(None);
                }
                let (mut all, mut own, mut immersion) = (Vec::new(), 0..0, 1.0);
                for (index, lens) in self.condensers() {
                    let surfaces =
                        prescription(lens).ok_or(PathError::HalfPrescribed { part: index })?;
                    if index == part {
                        own = all.len()..all.len() + surfaces.len();
                    }
                    all.extend(surfaces.iter().cloned());
                    immersion = lens.immersion;
                }
                (Train::new(all, immersion), own)
            }
            _ => return Ok(None),
        };
        let mut reach = train.at(TOLD_NM).reach().ok_or(PathError::Lens {
            part,
            source: LensError::GathersNothing,
        })?;
        // Where not a clear aperture is the limit but the glass, rays of another colour may not get as far.
        for nm in [SHORT_NM, TOLD_NM, LONG_NM] {
            let at = train.at(nm).reach();
            if let Some(at) = at.filter(|at| at.limit.why != Stop::ClearAperture) {
                reach.na = reach.na.min(at.na * WITHIN);
            }
        }
        Ok(Some(Traced { train, own, reach }))
    }

    /// Writes into every lens with a prescription how far its surfaces reach: its full numerical aperture, and its numerical aperture where
    /// that is not a number or above it. A condenser's first lens gets that of its beam.
    ///
    /// # Errors
    /// As [`Self::traced`].
    pub fn settle_prescriptions(&mut self) -> Result<(), PathError> {
        for part in 0..self.parts.len() {
            let Some(Traced { train, own, reach }) = self.traced(part)? else {
                continue;
            };
            let at = train.at(TOLD_NM);
            let last = own.end == train.surfaces.len();
            let beam = match at.ray(reach.height_mm).map(|ray| ray.surfaces[own.end - 1]) {
                Ok(ray) if !last => ray.index.1 * ray.slope_rad.sin().abs(),
                _ => reach.na,
            };
            let (PartKind::Condenser(lens) | PartKind::Objective(lens)) =
                &mut self.parts[part].kind
            else {
                continue;
            };
            if let LensForm::Prescription { full_na, .. } = &mut lens.form {
                *full_na = reach.na;
            }
            // NaN stands for what the surfaces reach.
            if !(lens.na <= beam) || !last {
                lens.na = beam;
            }
        }
        Ok(())
    }

    /// Path difference over the aperture that uneven cooling leaves in the lens at `part`, along the rays that its prescription traces at
    /// 546.1 nm.
    ///
    /// # Errors
    /// [`PathError::NoPrescription`] without one; [`PathError::NoRim`] where the glass has no thickness at the rim.
    pub fn stress_profile(&self, part: usize) -> Result<StressProfile, PathError> {
        let Traced { train, own, reach } = self
            .traced(part)?
            .ok_or(PathError::NoPrescription { part })?;
        let edge_mm = train.edge_mm(own.clone());
        if edge_mm.is_nan() || edge_mm <= 0.0 {
            return Err(PathError::NoRim { part, edge_mm });
        }
        let at = train.at(TOLD_NM);
        let near = (reach.height_mm, reach.na);
        let value = |k: usize| {
            let na = reach.na * k as f64 / (PROFILE - 1) as f64;
            let ray = at.height_of(na, near).and_then(|height| at.ray(height));
            let ray = ray.map_err(|stopped| lens_error(part, stopped, na, TOLD_NM))?;
            Ok(train.stress_along(own.clone(), &ray))
        };
        let values = (0..PROFILE)
            .map(value)
            .collect::<Result<Vec<f64>, PathError>>()?;
        StressProfile::new(values).ok_or(PathError::NoRim { part, edge_mm })
    }
}

fn prescription(lens: &Lens) -> Option<&[Surface]> {
    match &lens.form {
        LensForm::Prescription { surfaces, .. } if !surfaces.is_empty() => Some(surfaces),
        _ => None,
    }
}

fn lens_error(part: usize, stopped: Stopped, na: f64, wavelength_nm: f64) -> PathError {
    PathError::Lens {
        part,
        source: LensError::Stopped {
            surface: stopped.surface + 1,
            why: stopped.why,
            na,
            wavelength_nm,
        },
    }
}

impl Passage<'_> {
    /// The passage at one wavelength.
    #[must_use]
    pub fn at(&self, wavelength_nm: f64) -> PassageAt<'_> {
        PassageAt {
            passage: self,
            wavelength_nm,
            train: (self.traced.as_ref()).map(|traced| traced.train.at(wavelength_nm)),
        }
    }

    /// Numerical aperture, behind the lens, of the ray that has `s` in object space.
    ///
    /// # Errors
    /// [`PathError::Lens`] when the ray does not get there.
    pub fn behind(&self, s: f64) -> Result<f64, PathError> {
        let (Some(traced), at) = (&self.traced, self.at(TOLD_NM)) else {
            return Ok(s);
        };
        if traced.own.end == traced.train.surfaces.len() {
            return Ok(s);
        }
        let (_, ray) = at.trace(s)?;
        let last = ray.surfaces[traced.own.end - 1];
        Ok(last.index.1 * last.slope_rad.sin().abs())
    }
}

impl<'a> PassageAt<'a> {
    /// What all surfaces of the lens pass of the ray that has the numerical aperture `s` in object space.
    ///
    /// # Errors
    /// [`PathError::Lens`] when the ray does not pass.
    pub fn passed(&self, s: f64) -> Result<Passed, PathError> {
        let Passage {
            path, part, lens, ..
        } = *self.passage;
        if lens.is_ideal() {
            return Ok(Passed::WHOLE);
        }
        let Some(Traced { own, .. }) = &self.passage.traced else {
            let deviation_rad = path.deviation_rad(part, s);
            let of_full = match lens.form {
                LensForm::Bending { .. } => {
                    deviation_rad / path.deviation_rad(part, path.rim_na(part))
                }
                _ => 1.0,
            };
            return lens
                .passed(deviation_rad, of_full, self.wavelength_nm)
                .map_err(|source| PathError::Lens { part, source });
        };
        let (at, ray) = self.trace(s)?;
        Ok(at.passed_by(own.clone(), &ray))
    }

    /// The traced ray that has the numerical aperture `s` in object space.
    fn trace(&self, s: f64) -> Result<(&TrainAt<'a>, TracedRay), PathError> {
        let Passage { part, traced, .. } = self.passage;
        let (Some(at), Some(Traced { reach, .. })) = (&self.train, traced) else {
            return Err(PathError::NoPrescription { part: *part });
        };
        let ray = (at.height_of(s, (reach.height_mm, reach.na)))
            .and_then(|height| at.ray(height))
            .map_err(|stopped| lens_error(*part, stopped, s, self.wavelength_nm))?;
        Ok((at, ray))
    }
}
