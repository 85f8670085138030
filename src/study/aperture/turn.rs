//! One part turned, frame by frame.

use std::f64::consts::{PI, TAU};

use crate::color::Xyz;
use crate::light_path::run;
use crate::light_path::{LightPath, PartKind};
use crate::optics::{Rays, Specimen, Strain};
use crate::scene::Scene;
use crate::study::lamp::Lamp;
use crate::study::tolerate::named;
use crate::study::{NoTurn, StudyError};

use super::picture::frame_rays;
use super::quick::FewWavelengths;
use super::{Resolved, light, resolved};

/// Turned by this angle, radians, in which nothing repeats itself, a part that matters changes some ray's light by more than [`SEEN`] of the
/// brightest one's: less does not show in a picture.
const TRIED_RAD: f64 = 0.4;
const SEEN: f64 = 1e-4;

/// Of many frames each may take so much less work than a still picture.
const FRAMES_AS_ONE: usize = 4;

/// Estimated relative error that is good enough for the parallel field's mean, which pictures are drawn against.
const ACCURACY: f64 = 1e-4;

/// A part that turns, ready to be looked at.
#[derive(Debug, Clone, PartialEq)]
pub struct Turn<'a> {
    path: &'a LightPath,
    part: usize,
    /// The wavelengths of every frame, and what their step leaves in doubt.
    pub resolved: Resolved,
    /// Those that are run: few stand for them all.
    few: FewWavelengths,
    /// Mean of the parallel field of the stack as written.
    parallel: Xyz,
    /// The rays of every frame.
    pub rays: Rays,
    /// Plates in.
    pub plates: bool,
}

/// Index of the part of a name, where turning it changes something, and the turn after which it is as before, radians.
///
/// # Errors
/// [`StudyError::UnknownPart`], [`StudyError::NothingToTurn`].
pub fn turnable(path: &LightPath, name: &str) -> Result<(usize, f64), StudyError> {
    let part = named(path, Some(name))?;
    let refused = |why| StudyError::NothingToTurn {
        part: path.parts[part].name.clone(),
        kind: path.parts[part].kind.word(),
        why,
    };
    match &path.parts[part].kind {
        PartKind::Condenser(lens) | PartKind::Objective(lens) => {
            let with_axis = |s: &&Strain| s.period_rad().is_some();
            let has_strength = |s: &Strain| s.amount_nm() != 0.0;
            let turning: Vec<&Strain> = lens.strain.iter().filter(with_axis).collect();
            if turning.iter().any(|s| has_strength(s)) {
                return Ok((part, TAU));
            }
            Err(refused(if turning.is_empty() {
                NoTurn::Unstrained
            } else {
                NoTurn::NoStrength
            }))
        }
        PartKind::Slide(_) => Err(refused(NoTurn::Slide)),
        PartKind::Specimen(Specimen::Across { .. }) => Err(refused(NoTurn::Across)),
        PartKind::Specimen(specimen) if specimen.has_one_side() => Ok((part, TAU)),
        _ => Ok((part, PI)),
    }
}

/// The path with a part turned counter-clockwise about the microscope's axis.
#[must_use]
pub(super) fn turned(path: &LightPath, part: usize, angle_rad: f64) -> LightPath {
    let mut path = path.clone();
    match &mut path.parts[part].kind {
        PartKind::Polarizer(polar) | PartKind::Analyzer(polar) => polar.azimuth_rad += angle_rad,
        PartKind::Retarder(plate) | PartKind::Plate(plate) => plate.slow_azimuth_rad += angle_rad,
        PartKind::Condenser(lens) | PartKind::Objective(lens) => {
            for strain in &mut lens.strain {
                *strain = strain.turned(angle_rad);
            }
        }
        PartKind::Specimen(specimen) => {
            if let Some(azimuth_rad) = specimen.azimuth_mut() {
                *azimuth_rad += angle_rad;
            }
        }
        PartKind::Slide(_) => {}
    }
    path
}

impl<'a> Turn<'a> {
    /// Of the part at an index that [`turnable`] gives; `plates` in or out, and in where the part is one.
    ///
    /// # Errors
    /// [`StudyError`] when the path cannot be run, no light is seen, plates are wanted where there is none, or the part lies where its
    /// azimuth cannot show.
    pub fn new(scene: &'a Scene, part: usize, plates: bool) -> Result<Self, StudyError> {
        let Scene { path, source, grid } = scene;
        let has_plate = path.find(|kind| matches!(kind, PartKind::Plate(_)));
        if plates && has_plate.is_none() {
            return Err(StudyError::NoPlate);
        }
        let kind = &path.parts[part].kind;
        let plates = plates || matches!(kind, PartKind::Plate(_));
        let usual = Lamp::new(source, grid)?;
        let mean = run::quadrature(path, usual.wavelengths_nm, &usual.luminous, ACCURACY)?.rays;
        let rays = frame_rays(path);
        let resolved = resolved(scene, &mean, FRAMES_AS_ONE * rays.count())?;
        let lamp = Lamp::new(source, &resolved.grid)?;
        let fields = run::fields(path, &mean, lamp.wavelengths_nm, &lamp.luminous)?;
        let parallel = lamp.weights.xyz(&fields.parallel)?;
        let turn = Self {
            few: FewWavelengths::for_pictures(path, &lamp, parallel, plates)?,
            parallel,
            resolved: resolved.clone(),
            rays,
            path,
            part,
            plates,
        };
        if turn.shows()? {
            return Ok(turn);
        }
        Err(StudyError::NothingToTurn {
            part: path.parts[part].name.clone(),
            kind: kind.word(),
            why: NoTurn::Hidden,
        })
    }

    /// Whether turning the part changes anything.
    fn shows(&self) -> Result<bool, StudyError> {
        let (before, after) = (self.light(0.0)?, self.light(TRIED_RAD)?);
        let brightest = (before.iter().chain(&after))
            .map(Xyz::luminance)
            .fold(0.0, f64::max);
        let mut pairs = before.iter().zip(&after);
        Ok(pairs.any(|(a, b)| (a.luminance() - b.luminance()).abs() > SEEN * brightest))
    }

    /// The parallel field of the stack as written, of luminance 1.
    #[must_use]
    pub fn parallel(&self) -> Xyz {
        self.parallel.scaled(1.0 / self.parallel.luminance())
    }

    /// The path with the part turned by an angle from how it is written, radians counter-clockwise.
    #[must_use]
    pub fn path_at(&self, angle_rad: f64) -> LightPath {
        turned(self.path, self.part, angle_rad)
    }

    /// Light of each ray then, relative to the mean of the parallel field of the stack as written: in the order of [`Rays::iter`].
    ///
    /// # Errors
    /// [`StudyError`] when the path cannot be run: a strain map that no longer covers the aperture.
    ///
    /// Checked by: `tests/laws/aperture.rs`.
    pub fn light(&self, angle_rad: f64) -> Result<Vec<Xyz>, StudyError> {
        let path = self.path_at(angle_rad);
        let lamp = (&self.few.wavelengths_nm[..], &self.few.weights[..]);
        Ok(light(&path, lamp, &self.rays, self.plates, self.parallel)?)
    }
}
