//! How rays cross the lenses: bent equally, surface by surface, or traced.

use std::ops::Range;
use std::sync::Arc;

use super::error::PathError;
use super::stack::{LightPath, Part, PartKind};
use crate::math;
use crate::optics::prescription::{
    Passed, PassedRow, PassedTable, Reach, Stop, Stopped, Surface, TracedRay, Train, TrainAt,
};
use crate::optics::{Lens, LensError, LensForm, Prescription, Settled, StressProfile};

/// The wavelength, nm, for which a prescription's apertures, planes and stress are computed and told.
pub const TOLD_NM: f64 = 546.1;
/// Rays must pass at all wavelengths from `SHORT_NM` to `LONG_NM`. Where the glass sets the limit and not a clear aperture, rays are followed up to
/// the fraction `WITHIN` of that limit.
const SHORT_NM: f64 = 360.0;
const LONG_NM: f64 = 830.0;
const WITHIN: f64 = 0.999;
/// Number of values of a stress profile, from the axis to the rim.
const PROFILE: usize = 65;

/// How rays cross the lens at one place of a path.
#[derive(Debug, Clone)]
pub struct Passage<'a> {
    path: &'a LightPath,
    part: usize,
    lens: &'a Lens,
    /// The surfaces of the lens, traced together with those of the condenser's other lens. Only where the lens has a prescription that
    /// [`LightPath::settle_prescriptions`] has not traced yet.
    traced: Option<Traced>,
}

/// The surfaces of a prescription, among all surfaces that the light crosses on the same side of the specimen.
#[derive(Debug, Clone, PartialEq)]
pub struct Traced {
    /// All surfaces on that side, collimated side first.
    pub train: Train,
    /// Which of these surfaces are the lens's own.
    pub own: Range<usize>,
    /// The outermost ray at 546.1 nm.
    pub reach: Reach,
}

/// A passage at one wavelength.
#[derive(Debug, Clone)]
pub struct PassageAt<'a> {
    passage: &'a Passage<'a>,
    wavelength_nm: f64,
    /// What the surfaces pass, if the lens holds a table of it for this wavelength.
    kept: Option<PassedRow<'a>>,
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
            traced: match settled(lens) {
                Some(_) => None,
                None => self.traced(part)?,
            },
        })
    }

    /// The prescription of the lens at `part`, traced; `None` where it has none.
    ///
    /// # Errors
    /// [`PathError::Lens`] when it gathers no light, [`PathError::HalfPrescribed`] when the condenser's other lens has none.
    pub fn traced(&self, part: usize) -> Result<Option<Traced>, PathError> {
        let Some((train, own)) = self.train(part)? else {
            return Ok(None);
        };
        let settled = match &self.parts[part].kind {
            PartKind::Condenser(lens) | PartKind::Objective(lens) => settled(lens),
            _ => None,
        };
        let reach = match settled {
            Some(settled) => settled.reach,
            None => reach_of(&train, part)?,
        };
        Ok(Some(Traced { train, own, reach }))
    }

    /// All surfaces on the side of the specimen that the lens at `part` stands on, collimated side first, and which of them are the lens's own.
    /// `None` where the lens has no prescription.
    fn train(&self, part: usize) -> Result<Option<(Train, Range<usize>)>, PathError> {
        Ok(Some(match &self.parts[part].kind {
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
                let (mut all, mut own) = (Vec::new(), 0..0);
                for (index, lens) in self.condensers() {
                    let surfaces =
                        prescription(lens).ok_or(PathError::HalfPrescribed { part: index })?;
                    if index == part {
                        own = all.len()..all.len() + surfaces.len();
                    }
                    all.extend(Train::new(surfaces.to_vec(), lens.immersion).surfaces);
                }
                (Train { surfaces: all }, own)
            }
            _ => return Ok(None),
        }))
    }

    /// Traces every lens with a prescription, and keeps in the lens how far its surfaces reach and what they pass. Where the numerical aperture of
    /// the lens is not a number, or larger than the surfaces let through, it is set to what they let through. The first of a condenser's two lenses
    /// gets the numerical aperture of the beam between the lenses.
    ///
    /// # Errors
    /// As [`Self::traced`], and [`PathError::Lens`] when a ray of some colour does not pass.
    pub fn settle_prescriptions(&mut self) -> Result<(), PathError> {
        for Part { kind, .. } in &mut self.parts {
            if let PartKind::Condenser(lens) | PartKind::Objective(lens) = kind
                && let LensForm::Prescription(told) = &mut lens.form
            {
                lens.form = LensForm::prescription(told.surfaces.clone());
            }
        }
        // Rays that cross a condenser's first lens go through the second one too, so the tables of both are made in one trace. The second table waits
        // here for its lens.
        let mut second: Option<(Reach, PassedTable)> = None;
        for part in 0..self.parts.len() {
            let Some((train, own)) = self.train(part)? else {
                continue;
            };
            let last = own.end == train.surfaces.len();
            let (reach, passed) = match second.take().filter(|_| own.start > 0) {
                Some(made) => made,
                None => {
                    let reach = reach_of(&train, part)?;
                    let rest = (!last).then_some(own.end..train.surfaces.len());
                    let owns: Vec<_> = std::iter::once(own.clone()).chain(rest).collect();
                    let outermost = (reach.height_mm, reach.na);
                    let mut tables = PassedTable::of_ranges(&train, &owns, reach.na, outermost)
                        .map_err(|(nm, na, stopped)| lens_error(part, stopped, na, nm))?
                        .into_iter();
                    let Some(passed) = tables.next() else {
                        continue;
                    };
                    second = tables.next().map(|table| (reach, table));
                    (reach, passed)
                }
            };
            let outermost = (reach.height_mm, reach.na);
            let beam = match last {
                true => reach.na,
                false => {
                    // The `na` of the condenser's last lens may stop the beam down.
                    let stopped_down = self.condenser().map_or(f64::NAN, |(_, lens)| lens.na);
                    let na = reach.na.min(stopped_down);
                    let at = train.at(TOLD_NM);
                    let ray = (at.height_of(na, outermost)).and_then(|height| at.ray(height));
                    let ray = ray.map_err(|stopped| lens_error(part, stopped, na, TOLD_NM))?;
                    let behind = ray.surfaces[own.end - 1];
                    behind.index.1 * math::sin(behind.slope_rad).abs()
                }
            };
            let (PartKind::Condenser(lens) | PartKind::Objective(lens)) =
                &mut self.parts[part].kind
            else {
                continue;
            };
            if let LensForm::Prescription(told) = &mut lens.form {
                *told = Arc::new(Prescription {
                    surfaces: told.surfaces.clone(),
                    settled: Some(Settled { reach, passed }),
                });
            }
            // NaN means that the file gives no numerical aperture: then it is what the surfaces let through.
            if lens.na.is_nan() || lens.na > beam || !last {
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
        for edge_mm in train.edges_mm(own.clone()) {
            if edge_mm.is_nan() || edge_mm <= 0.0 {
                return Err(PathError::NoRim { part, edge_mm });
            }
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
        let edge_mm = f64::NAN;
        StressProfile::new(values).ok_or(PathError::NoRim { part, edge_mm })
    }
}

fn reach_of(train: &Train, part: usize) -> Result<Reach, PathError> {
    reach(train).ok_or(PathError::Lens {
        part,
        source: LensError::GathersNothing,
    })
}

/// The outermost ray at 546.1 nm. Where the glass sets the limit and not a clear aperture (total reflection, or a ray that misses the surface), rays
/// of another colour may not get as far, so the limit is lowered to what passes at all of them.
fn reach(train: &Train) -> Option<Reach> {
    let mut reach = train.at(TOLD_NM).reach()?;
    for nm in [SHORT_NM, TOLD_NM, LONG_NM] {
        let at = train.at(nm);
        let passes = nm != TOLD_NM && at.height_of(reach.na, (reach.height_mm, reach.na)).is_ok();
        if passes || (nm == TOLD_NM && reach.limit.why == Stop::ClearAperture) {
            continue;
        }
        reach.na = reach.na.min(at.reach()?.na) * WITHIN;
    }
    Some(reach)
}

fn settled(lens: &Lens) -> Option<&Settled> {
    match &lens.form {
        LensForm::Prescription(told) => told.settled.as_ref(),
        _ => None,
    }
}

fn prescription(lens: &Lens) -> Option<&[Surface]> {
    match &lens.form {
        LensForm::Prescription(told) if !told.surfaces.is_empty() => Some(&told.surfaces),
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
            kept: (settled(self.lens).filter(|settled| settled.passed.covers(wavelength_nm)))
                .map(|settled| settled.passed.at(wavelength_nm)),
        }
    }

    /// Whether the ray that has the numerical aperture `s` in object space passes at all these wavelengths.
    ///
    /// # Errors
    /// [`PathError::Lens`] when it does not.
    pub fn check(&self, s: f64, wavelengths_nm: &[f64]) -> Result<(), PathError> {
        let kept = |nm: &f64| {
            settled(self.lens)
                .is_some_and(|settled| s <= settled.reach.na && settled.passed.covers(*nm))
        };
        (wavelengths_nm.iter().filter(|nm| !kept(nm)))
            .try_for_each(|nm| self.at(*nm).passed(s).map(drop))
    }

    /// What all surfaces of the lens pass, at some wavelengths, of the rays that have the numerical apertures `s` in object space: one row for
    /// each wavelength.
    ///
    /// # Errors
    /// [`PathError::Lens`] when a ray does not pass.
    pub fn over(&self, s: &[f64], wavelengths_nm: &[f64]) -> Result<Vec<Vec<Passed>>, PathError> {
        if let Some(settled) = settled(self.lens)
            && wavelengths_nm.iter().all(|nm| settled.passed.covers(*nm))
        {
            return Ok(settled.passed.over(s, wavelengths_nm));
        }
        let row = |nm: &f64| {
            let at = self.at(*nm);
            s.iter().map(|s| at.passed(*s)).collect()
        };
        wavelengths_nm.iter().map(row).collect()
    }

    /// Numerical aperture, behind the lens, of the ray that has `s` in object space.
    ///
    /// # Errors
    /// [`PathError::Lens`] when the ray does not get there.
    pub fn behind(&self, s: f64) -> Result<f64, PathError> {
        if prescription(self.lens).is_none() {
            return Ok(s);
        }
        self.traced(s, TOLD_NM, |at, own, ray| {
            if own.end == at.train().surfaces.len() {
                return s;
            }
            let last = ray.surfaces[own.end - 1];
            last.index.1 * math::sin(last.slope_rad).abs()
        })
    }

    /// What is asked of the traced ray that has the numerical aperture `s` in object space.
    fn traced<T>(
        &self,
        s: f64,
        wavelength_nm: f64,
        asked: impl FnOnce(&TrainAt<'_>, Range<usize>, &TracedRay) -> T,
    ) -> Result<T, PathError> {
        let part = self.part;
        let now = match self.traced {
            Some(_) => None,
            None => self.path.traced(part)?,
        };
        let traced = (self.traced.as_ref()).or(now.as_ref());
        let Traced { train, own, reach } = traced.ok_or(PathError::NoPrescription { part })?;
        let at = train.at(wavelength_nm);
        let ray = (at.height_of(s, (reach.height_mm, reach.na)))
            .and_then(|height| at.ray(height))
            .map_err(|stopped| lens_error(part, stopped, s, wavelength_nm))?;
        Ok(asked(&at, own.clone(), &ray))
    }

    /// Numerical aperture that a prescription's surfaces let through.
    #[must_use]
    pub fn full_na(&self) -> Option<f64> {
        let unsettled = self.traced.as_ref().map(|traced| traced.reach.na);
        unsettled.or(settled(self.lens).map(|settled| settled.reach.na))
    }
}

impl PassageAt<'_> {
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
        if let Some(kept) = &self.kept {
            return Ok(kept.at(s));
        }
        if prescription(lens).is_some() {
            let passed = |at: &TrainAt<'_>, own, ray: &TracedRay| at.passed_by(own, ray);
            return self.passage.traced(s, self.wavelength_nm, passed);
        }
        let deviation_rad = path.deviation_rad(part, s);
        let of_full = match lens.form {
            LensForm::Bending { .. } => deviation_rad / path.deviation_rad(part, path.rim_na(part)),
            _ => 1.0,
        };
        (lens.passed(deviation_rad, of_full, self.wavelength_nm))
            .map_err(|source| PathError::Lens { part, source })
    }
}
