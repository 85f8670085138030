//! Whether a target is met, as a function of some numbers of the path.

use crate::color::ColorError;
use crate::light_path::{LightPath, PathError, run};
use crate::optics::Rays;

use super::super::StudyError;
use super::super::lamp::Lamp;
use super::super::quantity::Quantity;
use super::super::response::Response;
use super::super::stage::{Bias, Looks, Stage, Staged, emptied};
use super::{See, Target};

/// What is asked of a path, and under which lamp.
#[derive(Clone, Copy)]
pub(super) struct Wanted<'a> {
    pub(super) lamp: &'a Lamp<'a>,
    pub(super) target: &'a Target,
}

impl<'a> Wanted<'a> {
    /// Rays for the empty field, which is the darkest and asks for the most.
    pub(super) fn quadrature(
        &self,
        path: &LightPath,
        accuracy: f64,
    ) -> Result<run::Quadrature, PathError> {
        let Lamp {
            wavelengths_nm,
            luminous,
            ..
        } = self.lamp;
        run::quadrature(&emptied(path), wavelengths_nm, luminous, accuracy)
    }

    /// Extinction ratio of the empty field as it stands; infinite where nothing leaks.
    pub(super) fn extinction(&self, path: &LightPath, rays: &Rays) -> Result<f64, StudyError> {
        let Lamp {
            wavelengths_nm,
            luminous,
            ..
        } = self.lamp;
        let fields = run::fields(&emptied(path), rays, wavelengths_nm, luminous)?;
        let luminance = self.lamp.luminance(&fields.parallel);
        if luminance <= 0.0 {
            let field = "parallel field";
            return Err(StudyError::Color(ColorError::NoLight { field, luminance }));
        }
        Ok(self
            .lamp
            .extinction_ratio(&fields.parallel, &fields.crossed))
    }

    /// By how many times the target is met as the path stands; missed below 1.
    pub(super) fn times(&self, path: &LightPath, rays: &Rays) -> Result<f64, StudyError> {
        match self.target {
            Target::Extinction(least) => Ok(self.extinction(path, rays)? / least),
            Target::See(_) => self.as_it_is(path, rays)?.times(&[]),
        }
    }

    /// A judge of the path as it stands. Of a specimen only path difference and azimuth then vary, and over these the light is a finite sum.
    pub(super) fn as_it_is(&self, path: &LightPath, rays: &Rays) -> Result<Judge<'a>, StudyError> {
        self.judge(path, &[], &[], rays, Some(1))
    }

    /// A judge of the path as a function of some quantities, each within its range. `nodes` is that of [`Lamp::response`].
    pub(super) fn judge(
        &self,
        path: &LightPath,
        quantities: &[Quantity],
        ranges: &[(f64, f64)],
        rays: &Rays,
        nodes: Option<usize>,
    ) -> Result<Judge<'a>, StudyError> {
        let lamp = self.lamp;
        Ok(match *self.target {
            Target::Extinction(least) => {
                let empty = emptied(path);
                let response = lamp.response(&empty, quantities, ranges, rays, false, nodes)?;
                Judge::Empty(lamp, response, least)
            }
            Target::See(see) => {
                let staged = Staged::of(path);
                let moved: Vec<_> = quantities.iter().map(|q| staged.moved(*q)).collect();
                let plate = see.with_plate;
                let stage = Stage::new(&staged, &moved, ranges, plate, rays, lamp, nodes)?;
                Judge::Specimen(stage, see)
            }
        })
    }
}

/// Tells by how many times a path meets a target, as a function of some quantities, from tabulated light.
pub(super) enum Judge<'a> {
    /// The empty field, and the extinction ratio that is asked for.
    Empty(&'a Lamp<'a>, Response, f64),
    /// A specimen, and how it is to show.
    Specimen(Stage<'a>, See),
}

impl Judge<'_> {
    /// Whether the light is tabulated: otherwise every answer is a run of its own.
    pub(super) fn is_fast(&self) -> bool {
        match self {
            Self::Empty(_, response, _) => response.nodes().is_some(),
            Self::Specimen(stage, _) => stage.is_fast(),
        }
    }

    /// By how many times the target is met with the quantities at `values`; missed below 1.
    pub(super) fn times(&self, values: &[f64]) -> Result<f64, StudyError> {
        match self {
            Self::Empty(lamp, response, least) => {
                let light = response.light(values)?;
                Ok(lamp.extinction_ratio(&light.parallel, &light.crossed) / least)
            }
            Self::Specimen(stage, see) => Ok(best(stage, see, values)?.1),
        }
    }

    /// What bias makes of the specimen with the quantities at `values`; `None` where none is looked at, or with the plates in.
    pub(super) fn bias(&self, values: &[f64]) -> Result<Option<Bias>, StudyError> {
        match self {
            Self::Empty(..) => Ok(None),
            Self::Specimen(stage, see) => Ok(stage.looks(values, see.path_difference_nm)?.bias()),
        }
    }

    /// The largest factor by which a relative error of the light can grow into a relative error of [`Self::times`].
    pub(super) fn sensitivity(&self, values: &[f64]) -> Result<f64, StudyError> {
        match self {
            // The parallel and the crossed field may be off either way.
            Self::Empty(..) => Ok(2.0),
            Self::Specimen(stage, see) => {
                let (azimuth_rad, _, looks) = best(stage, see, values)?;
                Ok(looks.sensitivity(&see.criteria(), azimuth_rad))
            }
        }
    }
}

/// At the specimen's best azimuth: that azimuth, by how many times the target is met there, and the fields.
fn best(stage: &Stage<'_>, see: &See, values: &[f64]) -> Result<(f64, f64, Looks), StudyError> {
    let looks = stage.looks(values, see.path_difference_nm)?;
    let (azimuth_rad, times) = looks.best(&see.criteria());
    Ok((azimuth_rad, times, looks))
}
