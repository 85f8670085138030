//! Wavelengths fine enough for an answer.
//!
//! The usual step of 5 nm resolves sheets, coatings and plates of a few orders. A thick crystal has fringes in the spectrum that are finer, and
//! a narrow line falls between the steps; both are then taken at wrong weights, and a grey may come out as a colour. So the step is halved
//! until the answers stay as they are.

use serde::{Serialize, Serializer};

use std::f64::consts::FRAC_PI_4;

use crate::calculus::Stokes;
use crate::color::{ColorWeights, Xyz};
use crate::light_path::{LightPath, PartKind, PathError};
use crate::math;
use crate::optics::{Ray, Specimen};
use crate::scene::Scene;
use crate::spectrum::{Source, WavelengthGrid};

use super::StudyError;

/// Luminances are good to this, relatively, when halving the step changes them by no more.
const LUMINANCE: f64 = 1e-3;

/// X, Y and Z are good to this fraction of the largest of them: less than an eye tells apart.
const COLOR: f64 = 5e-3;

/// From one wavelength to the next no path difference changes by more of an order than this: fringes are then told from their aliases.
const ORDER_A_STEP: f64 = 0.4;

/// So many wavelengths take seconds.
const MANY: usize = 600;

/// Rays times wavelengths of one run, at most: a few seconds on two cores.
pub const MOST_WORK: usize = 100_000_000;

/// Wavelengths that count for less than this, of the most that any counts for X, Y or Z, need not tell their fringes.
const UNLIT: f64 = 1e-2;

/// The step is halved at most so many times: from 5 nm to 0.04 nm.
const MOST_HALVINGS: u32 = 7;

/// What the step between the wavelengths leaves in doubt, from the change of the answers when it is halved.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct SpectralError {
    /// Of luminances and extinction ratios, relatively.
    pub luminance: f64,
    /// Of X, Y and Z, as a fraction of the largest of them; of a state of polarization, of S1, S2 and S3 as a fraction of S0.
    pub color: f64,
    /// How the step came about.
    pub step: StepChoice,
}

impl SpectralError {
    fn is_small(self) -> bool {
        self.luminance <= LUMINANCE && self.color <= COLOR
    }
}

/// Wavelengths for an answer, and what their step leaves in doubt.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Resolved {
    /// What their step leaves in doubt.
    #[serde(rename = "spectral_error")]
    pub error: SpectralError,
    /// The wavelengths; of them a program is told the step.
    #[serde(rename = "wavelength_step_nm", serialize_with = "step_nm")]
    pub grid: WavelengthGrid,
}

fn step_nm<S: Serializer>(grid: &WavelengthGrid, serializer: S) -> Result<S::Ok, S::Error> {
    grid.step_nm().serialize(serializer)
}

impl Resolved {
    /// One wavelength, which has no step.
    pub(super) fn single(wavelength_nm: f64) -> Self {
        Self {
            grid: WavelengthGrid::single(wavelength_nm),
            error: SpectralError::default(),
        }
    }
}

/// How a step between wavelengths came about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum StepChoice {
    /// The user's own, kept as it is.
    #[default]
    Given,
    /// The usual one, which is fine enough.
    Usual,
    /// Finer than usual, because the answers ask for it.
    Refined,
    /// As fine as [`MOST_WORK`] allows, and not fine enough.
    Exhausted,
}

/// Light as it is compared between two steps: how much, and what else is told of it, each with what its change is measured by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Compared {
    luminance: f64,
    others: [f64; 3],
    /// For the luminance, and for the others.
    scale: [f64; 2],
}

impl Compared {
    /// A colour, measured by its own light.
    pub(super) fn alone(xyz: Xyz) -> Self {
        Self::beside(xyz, xyz)
    }

    /// A colour, measured by that of another, such as the brightest ray of a picture.
    pub(super) fn beside(xyz: Xyz, other: Xyz) -> Self {
        let largest = other.0.into_iter().fold(0.0, |a: f64, b| a.max(b.abs()));
        Self {
            luminance: xyz.luminance(),
            others: xyz.0,
            scale: [other.luminance(), largest],
        }
    }

    /// A state of polarization, measured by its own light.
    pub(super) fn state(Stokes([s0, others @ ..]): Stokes) -> Self {
        Self {
            luminance: s0,
            others,
            scale: [s0; 2],
        }
    }
}

/// The wavelengths for some answers.
///
/// `answer` gives the fields that the answers are made of over any grid; `rays` is how many rays will be run at the wavelengths found. A grid of
/// the user's own ([`WavelengthGrid::is_given`]) is kept, and only its error is told.
pub(super) fn resolve(
    scene: &Scene,
    rays: usize,
    answer: impl Fn(&WavelengthGrid) -> Result<Vec<Compared>, StudyError>,
) -> Result<Resolved, StudyError> {
    let grid = &scene.grid;
    let affordable = |grid: &WavelengthGrid| grid.wavelengths_nm().len() * rays <= MOST_WORK;
    // The first of ever finer steps that tells fringes apart, or the finest that can be afforded.
    let telling = |grid: WavelengthGrid| {
        let (mut grid, mut tells) = (grid.clone(), tells_fringes(scene, &grid)?);
        for _ in 0..MOST_HALVINGS {
            let finer = grid.halved();
            if tells || !affordable(&finer) {
                break;
            }
            tells = tells_fringes(scene, &finer)?;
            grid = finer;
        }
        Ok::<_, StudyError>((grid, tells))
    };
    let (mut here, tells) = if grid.is_given() {
        (grid.clone(), true)
    } else {
        telling(grid.clone())?
    };
    let mut told = answer(&here)?;
    loop {
        // One wavelength alone has no step.
        if here.wavelengths_nm().len() < 2 {
            let error = SpectralError::default();
            return Ok(resolved(grid, here, error, true));
        }
        // Steps that both miss a line, or take fringes for others, agree with each other: the step to compare with must tell them.
        let (finer, _) = telling(here.halved())?;
        let is_finer = affordable(&finer);
        let other = answer(&if is_finer {
            finer.clone()
        } else {
            here.doubled()
        })?;
        let error = difference(&told, &other);
        let enough = tells && error.is_small();
        let halvings = math::log2(grid.step_nm() / here.step_nm());
        if grid.is_given() || enough || !is_finer || halvings > f64::from(MOST_HALVINGS) - 0.5 {
            return Ok(resolved(grid, here, error, enough));
        }
        (here, told) = (finer, other);
    }
}

/// Whether a path under a lamp asks for so many wavelengths that a run takes long: to be told before it. Never where the grid is the
/// user's own, nor where it cannot be told: then the run says why.
#[must_use]
pub fn asks_for_many_wavelengths(scene: &Scene) -> bool {
    let mut finer = scene.grid.clone();
    for _ in 0..MOST_HALVINGS {
        if scene.grid.is_given() || tells_fringes(scene, &finer).unwrap_or(true) {
            break;
        }
        finer = finer.halved();
    }
    finer != scene.grid && finer.wavelengths_nm().len() >= MANY
}

fn resolved(
    asked: &WavelengthGrid,
    grid: WavelengthGrid,
    error: SpectralError,
    enough: bool,
) -> Resolved {
    let step = match enough {
        _ if asked.is_given() => StepChoice::Given,
        true if grid == *asked => StepChoice::Usual,
        true => StepChoice::Refined,
        false => StepChoice::Exhausted,
    };
    Resolved {
        error: SpectralError { step, ..error },
        grid,
    }
}

fn difference(one: &[Compared], other: &[Compared]) -> SpectralError {
    let off = |a: f64, b: f64, scale: f64| {
        if scale > 0.0 {
            (a - b).abs() / scale
        } else {
            0.0
        }
    };
    let mut error = SpectralError::default();
    for (a, b) in one.iter().zip(other) {
        let [luminance, color] = b.scale;
        error.luminance = error
            .luminance
            .max(off(a.luminance, b.luminance, luminance));
        for (a, b) in a.others.iter().zip(b.others) {
            error.color = error.color.max(off(*a, b, color));
        }
    }
    error
}

/// Whether a step is at most half the width of a line, and tells fringes from their aliases where the lamp has light.
fn tells_fringes(scene: &Scene, grid: &WavelengthGrid) -> Result<bool, StudyError> {
    let Scene { path, source, .. } = scene;
    if let Source::Line { width_nm, .. } = source
        && grid.step_nm() > 0.5 * width_nm
    {
        return Ok(false);
    }
    let wavelengths_nm = grid.wavelengths_nm();
    let weights = ColorWeights::new(grid, source)?;
    let weight = |of: &[f64; 3]| of.iter().copied().fold(0.0, f64::max);
    let most = (weights.per_wavelength().iter())
        .map(weight)
        .fold(0.0, f64::max);
    let lit = |k: usize| weight(&weights.per_wavelength()[k]) > UNLIT * most;
    for (s, azimuth_rad) in probes(path) {
        let mut before = None;
        for (k, &nm) in wavelengths_nm.iter().enumerate() {
            let orders = orders(path, Ray { s, azimuth_rad }, nm)?;
            if before.is_some_and(|before: f64| (orders - before).abs() > ORDER_A_STEP) && lit(k) {
                return Ok(false);
            }
            before = Some(orders);
        }
    }
    Ok(true)
}

/// The axis and directions of the rim: along and across a crystal's axis path differences are largest or least. Where an axis leans, both sides of it
/// are tried.
fn probes(path: &LightPath) -> impl Iterator<Item = (f64, f64)> {
    let axis = path.parts.iter().find_map(|part| match &part.kind {
        PartKind::Specimen(
            specimen @ (Specimen::Plate { .. } | Specimen::Askew(_) | Specimen::Biaxial(_)),
        ) => {
            let count = if specimen.has_one_side() { 8 } else { 4 };
            specimen
                .azimuth_rad()
                .map(|azimuth_rad| (azimuth_rad, count))
        }
        _ => None,
    });
    let (na, (first_rad, count)) = (path.na(), axis.unwrap_or((0.0, 4)));
    let rim = (0..count).map(move |k| (na, first_rad + f64::from(k) * FRAC_PI_4));
    std::iter::once((0.0, 0.0)).chain(rim)
}

/// Path differences of all retarders, plates and specimens together, in waves, whatever their azimuths.
fn orders(path: &LightPath, ray: Ray, wavelength_nm: f64) -> Result<f64, PathError> {
    let mut orders = 0.0;
    for (part, p) in path.parts.iter().enumerate() {
        orders += match &p.kind {
            PartKind::Retarder(plate) | PartKind::Plate(plate) => (plate
                .path_difference_nm(wavelength_nm))
            .map_err(|source| PathError::Table { part, source })?
            .abs(),
            PartKind::Specimen(specimen) => specimen.ray(ray, wavelength_nm).between_modes_nm(),
            _ => 0.0,
        } / wavelength_nm;
    }
    Ok(orders)
}
