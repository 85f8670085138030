//! The strain between the polars, as photographs of the back focal plane show it.
//!
//! Two lenses that are strained act nearly like one: what photographs tell is the sum of what stands between the polars. It is described as a smooth
//! surface over the aperture, `path difference x (cos, sin)(2 slow azimuth)` as two polynomials, carried by one lens. Everything else, geometry and
//! sheets and plates, is as the model has it in stands that explain the readings: the answer is worked out in several of them, and how far they differ
//! is part of its error. Every other lens between the polars keeps the strain that it has in the stand, and that is added to the carrier's: two
//! retarders whose axes differ also turn the light a little, which a picture with the analyzer off shows (with one lens for both, strains of 8 and 9 nm
//! came out 0.3 nm too small).
//!
//! Of each ray the model gives the light as a function of the strain at that ray (`surface`); the polynomials are those whose zones come nearest to the
//! photographs (`solve`).
//!
//! What photographs can tell: to second order in the retardance `G` with slow azimuth `a` from the lower polar, and the analyzer `d` off crossed,
//! the light is `leak + sin^2(d - r) + cos(2 d) v^2 / 4 - sin(2 d) u v / 4` with `(u, v) = G (cos, sin)(2 a)` and the geometry's turn `r`. From
//! azimuths of the analyzer alone follow `v^2` and `u v` only. Both polars turned together show `u` and `v` each in its turn. All of these stay the same
//! when every slow axis becomes a fast one; only a plate of known slow axis in the light tells those two apart.
//!
//! ```
//! use polstack::study::strain_between::{StrainBetweenError, can_be_mapped};
//! let scene = polstack::scenario::read("scenarios/leaking-stand.toml".as_ref()).unwrap().scene;
//! // Without photographs there is nothing to map.
//! assert_eq!(can_be_mapped(&scene, &[]), Err(StrainBetweenError::TooFew(0)));
//! ```

mod answer;
mod lenses;
mod polynomial;
mod solve;
mod spread;
mod surface;

use std::collections::BTreeMap;

use thiserror::Error;

use super::bench::Bench;
use super::draws::Watch;
use super::fit::{FitError, Reading, bench_of, zones_against};
use super::reading::Zone;
use super::unknown::Unknowns;
use crate::light_path::LightPath;
use crate::math;
use crate::optics::Rays;
use crate::scene::Scene;
use crate::threads;

pub use self::answer::{
    LeftOutLine, MapPictures, PhotographResiduals, StrainBetween, StrainNode, StrainZone,
};

pub use self::lenses::{beside_map, lenses_between};

use self::lenses::{carrier, exchanged_axes, summed, with_strains};
use self::polynomial::{local, mean};
use self::solve::{StrainProblem, StrainSolution};
use self::spread::Spread;
use self::surface::PhotographSurface;

/// Stands of the sample that the strain is worked out in.
const STANDS: usize = 12;
/// Photographs that are needed at least.
pub const FEWEST_PHOTOGRAPHS: usize = 3;
/// Rings and spokes of the map that is drawn.
const DRAWN: (usize, usize) = (33, 120);
/// An analyzer that stands nearer to where it is written than this, radians, stands as written.
const AS_WRITTEN_RAD: f64 = 1e-3;
/// Solutions that fit nearly as well as the best are not told from it: so much more misfit.
const AS_GOOD: f64 = 4.0;

/// Why there is no map.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum StrainBetweenError {
    /// Too few photographs.
    #[error(
        "a strain map needs at least {FEWEST_PHOTOGRAPHS} photographs with the stand as in the file, with different azimuths of the polars; there are {0} (no lens turned, no part out, the lower polar in its place)"
    )]
    TooFew(usize),
    /// No lens between the polars.
    #[error("no lens stands between the polars: there is no strain to map")]
    NoLens,
    /// A photograph's setting cannot be run.
    #[error(transparent)]
    Setting(#[from] FitError),
    /// No solution in any stand.
    #[error("no strain explains the photographs in any stand")]
    NoSolution,
}

/// Whether there are photographs enough, and a lens, for [`strain_between`]: to be asked before a long fit.
///
/// # Errors
/// [`StrainBetweenError`].
pub fn can_be_mapped(scene: &Scene, readings: &[Reading]) -> Result<(), StrainBetweenError> {
    Mappable::new(scene, readings).map(|_| ())
}

/// What a map is made from.
struct Mappable {
    /// Zones of the photographs that it takes.
    kept: Vec<Reading>,
    left_out: Vec<LeftOutLine>,
    /// The lens that carries the sum.
    carrier: usize,
}

impl Mappable {
    fn new(scene: &Scene, readings: &[Reading]) -> Result<Self, StrainBetweenError> {
        let (kept, left_out) = usable(readings);
        let lines = lines_of(&kept).len();
        if lines < FEWEST_PHOTOGRAPHS {
            return Err(StrainBetweenError::TooFew(lines));
        }
        Ok(Self {
            kept,
            left_out,
            carrier: carrier(&scene.path).ok_or(StrainBetweenError::NoLens)?,
        })
    }
}

/// Maps the strain between the polars from the photographs among the readings; `stands` are points of the unknowns that explain the readings.
///
/// # Errors
/// [`StrainBetweenError`].
///
/// Checked by: `tests/laws/photographs.rs`.
pub fn strain_between(
    scene: &Scene,
    unknowns: &Unknowns,
    readings: &[Reading],
    stands: &[Vec<f64>],
    model_error: f64,
    watch: Watch,
) -> Result<StrainBetween, StrainBetweenError> {
    let Mappable {
        kept,
        left_out,
        carrier,
    } = Mappable::new(scene, readings)?;
    let bench = bench_of(scene, unknowns, &kept)?;
    let disc_na = (kept.iter())
        .map(|reading| {
            reading
                .setting
                .na
                .unwrap_or(f64::INFINITY)
                .min(scene.path.na())
        })
        .fold(0.0, f64::max);
    let reach = disc_na / scene.path.rim_na(carrier);
    let stride = stands.len().div_ceil(STANDS).max(1);
    let chosen: Vec<&Vec<f64>> = stands.iter().step_by(stride).collect();
    let mut found: Vec<StrainSolution> = Vec::new();
    let mut fitted: Vec<Vec<f64>> = Vec::new();
    let mut settled = true;
    for (number, point) in chosen.iter().enumerate() {
        if watch.stop.load(std::sync::atomic::Ordering::Relaxed) {
            break;
        }
        (watch.progress)(100 * number / chosen.len());
        let stand = unknowns.with(point);
        let solved = |stand: &LightPath, start: &[f64], widely: bool| {
            let without = with_strains(stand, [carrier], Vec::clear);
            let surfaces = threads::map(0..bench.lights.len(), |k| {
                let path = bench.set(&bench.lights[k], &without)?;
                PhotographSurface::new(&bench.lights[k], &path, disc_na)
            });
            let surfaces = surfaces.into_iter().collect::<Option<Vec<_>>>()?;
            let others = summed(&without, disc_na);
            StrainProblem::new(&surfaces, &kept, model_error).solve(start, &others, widely)
        };
        let parts = summed(&stand, disc_na);
        let start = found.first().map_or(&parts, |first| &first.terms);
        let Some((solution, alone)) = solved(&stand, start, found.is_empty()) else {
            continue;
        };
        settled &= alone;
        if found.is_empty() {
            // Every slow axis a fast one, in all lenses at once.
            let exchanged: Vec<f64> = solution.terms.iter().map(|nm| -nm).collect();
            let other = solved(&exchanged_axes(&stand), &exchanged, false);
            settled &= other.is_none_or(|(other, _)| !other.is_as_good_as(&solution));
        }
        fitted.push(parts);
        found.push(solution);
    }
    if found.is_empty() {
        return Err(StrainBetweenError::NoSolution);
    }
    let answer = Spread::new(&found);
    let fitted = mean(&fitted);
    let drawn = Rays::even(1.0, DRAWN.0, DRAWN.1);
    let disc: Vec<StrainNode> = (drawn.iter())
        .map(|(ray, _)| {
            let (sin, cos) = math::sincos(ray.azimuth_rad);
            answer.at((ray.s * cos, ray.s * sin), reach)
        })
        .collect();
    let rms = |of: &dyn Fn(&StrainNode) -> f64| {
        let (mut square, mut area) = (0.0, 0.0);
        for ((_, weight), node) in drawn.iter().zip(&disc) {
            square += weight * of(node).powi(2);
            area += weight;
        }
        (square / area).sqrt()
    };
    Ok(StrainBetween {
        lens: scene.path.parts[carrier].name.clone(),
        reach,
        rms_nm: rms(&|node| node.path_difference_nm),
        rms_error_nm: rms(&|node| node.error_nm),
        misfit: answer.misfit,
        settled,
        lines: lines_of(&kept),
        left_out,
        zones: (zones(&bench, disc_na).iter())
            .map(|(zone, at)| {
                let (ring, sector) = zone.grid.place(zone.number);
                let (fitted_nm, fitted_azimuth_rad) = local(&fitted, *at);
                StrainZone {
                    ring,
                    sector,
                    found: answer.at(*at, reach),
                    fitted_nm,
                    fitted_azimuth_rad,
                }
            })
            .collect(),
        residuals: residuals(&kept, &found, model_error),
        nodes: answer.grid(reach).collect(),
        disc,
        drawn,
        as_written: as_written(scene, &kept),
    })
}

/// Lines of the readings file, each once.
fn lines_of(readings: &[Reading]) -> Vec<usize> {
    let mut lines: Vec<usize> = readings.iter().map(|reading| reading.line).collect();
    lines.dedup();
    lines
}

/// The photographs against the middle of what the map shows in the stands.
fn residuals(
    kept: &[Reading],
    found: &[StrainSolution],
    model_error: f64,
) -> Vec<PhotographResiduals> {
    let mut at = 0;
    (kept.chunk_by(|one, other| one.line == other.line))
        .map(|line| {
            let predicted = |zone: usize| {
                let light = found.iter().map(|found| found.light[zone]);
                found.len() as f64 / light.sum::<f64>()
            };
            let predicted: Vec<f64> = (at..at + line.len()).map(predicted).collect();
            at += line.len();
            PhotographResiduals {
                line: line[0].line,
                zones: zones_against(line, &predicted, model_error),
            }
        })
        .collect()
}

/// The line of the first photograph of the stand as it is written.
fn as_written(scene: &Scene, kept: &[Reading]) -> Option<usize> {
    let (_, analyzer) = scene.path.polars()?;
    let is_written = |reading: &&Reading| {
        let setting = &reading.setting;
        let near = |rad: f64| (rad - analyzer.azimuth_rad).abs() < AS_WRITTEN_RAD;
        setting.analyzer_rad.is_none_or(near)
            && setting.polars_turned_rad == 0.0
            && setting.plates.is_empty()
            && setting.lamp.is_none()
            && setting.na.is_none_or(|na| na >= scene.path.na())
    };
    (kept.iter().find(is_written)).map(|reading| reading.line)
}

/// Photographs of the stand as in the file, whatever the polars, plates, lamp and iris; and why others are left out.
fn usable(readings: &[Reading]) -> (Vec<Reading>, Vec<LeftOutLine>) {
    let mut left_out: Vec<LeftOutLine> = Vec::new();
    let mut kept = Vec::new();
    for reading in readings {
        let setting = &reading.setting;
        let why = if setting.zone.is_none() {
            "a meter reads no zones"
        } else if !setting.turned.is_empty() {
            "a lens is turned in it"
        } else if !setting.out.is_empty() {
            "parts are out in it"
        } else if setting.polar_at.is_some() {
            "the lower polar stands elsewhere in it"
        } else {
            kept.push(reading.clone());
            continue;
        };
        if left_out.last().is_none_or(|left| left.line != reading.line) {
            let line = reading.line;
            left_out.push(LeftOutLine { line, why });
        }
    }
    (kept, left_out)
}

/// Zones that any photograph shows, each once, with their middle in units of the disc's radius.
fn zones(bench: &Bench<'_>, disc_na: f64) -> Vec<(Zone, (f64, f64))> {
    let mut all = BTreeMap::new();
    for light in &bench.lights {
        for zone in &light.zones {
            all.entry(zone.number).or_insert_with(|| {
                let (mut x, mut y, mut count) = (0.0, 0.0, 0.0);
                for (_, ray, _) in light.rays_of(*zone) {
                    let (sin, cos) = math::sincos(ray.azimuth_rad);
                    x += ray.s * cos;
                    y += ray.s * sin;
                    count += disc_na;
                }
                (*zone, (x / count, y / count))
            });
        }
    }
    all.into_values().collect()
}
