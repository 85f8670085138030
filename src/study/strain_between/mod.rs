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
mod solve;
mod surface;

use std::collections::BTreeMap;

use nalgebra::DMatrix;
use thiserror::Error;

use super::bench::Bench;
use super::doubt::Stands;
use super::draws::Watch;
use super::fit::{FitError, Reading, bench_of, zones_against};
use super::reading::Zone;
use super::unknown::{Sampled, Unknowns};
use crate::light_path::{LightPath, PartKind};
use crate::math;
use crate::optics::{Rays, Strain};
use crate::scene::Scene;
use crate::threads;

pub use self::answer::{
    LeftOutLine, MapPictures, PhotographResiduals, StrainBetween, StrainNode, StrainZone,
};

use self::solve::{StrainProblem, StrainSolution};
use self::surface::PhotographSurface;

/// Stands of the sample that the strain is worked out in.
const STANDS: usize = 12;
/// Photographs that are needed at least.
pub const FEWEST_PHOTOGRAPHS: usize = 3;
/// Degree of the polynomials, and how many terms each has.
const DEGREE: usize = 4;
const TERMS: usize = (DEGREE + 1) * (DEGREE + 2) / 2;
/// Nodes of the map that is written, to a side; rings and spokes of the map that is drawn.
const NODES: usize = 17;
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
    Ok(StrainBetween {
        lens: scene.path.parts[carrier].name.clone(),
        reach,
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
        disc: (drawn.iter())
            .map(|(ray, _)| {
                let (sin, cos) = math::sincos(ray.azimuth_rad);
                answer.at((ray.s * cos, ray.s * sin), reach)
            })
            .collect(),
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

/// Of stands that explain readings, what a map of them does not hold: all but the strains of the lenses between the polars.
///
/// Checked by: `tests/cli/photographs.rs`.
#[must_use]
pub fn beside_map(unknowns: &Unknowns, stands: &[Vec<f64>]) -> Stands {
    let lenses = lenses_between(&unknowns.path);
    let (unknowns, points) = unknowns.some_of(stands, |unknown| match &unknown.sampled {
        Sampled::UniformStrain { part, .. }
        | Sampled::RadialStrain { part, .. }
        | Sampled::ScaledStrain { part, .. } => !lenses.contains(part),
        _ => true,
    });
    Stands { unknowns, points }
}

/// Lenses between the polars, by their index.
#[must_use]
pub fn lenses_between(path: &LightPath) -> Vec<usize> {
    let lower = path.find(|kind| matches!(kind, PartKind::Polarizer(_)));
    let (Some(lower), Some(analyzer)) = (lower, path.analyzer()) else {
        return Vec::new();
    };
    (lower..analyzer)
        .filter(|part| {
            let kind = &path.parts[*part].kind;
            matches!(kind, PartKind::Condenser(_) | PartKind::Objective(_))
        })
        .collect()
}

/// The lens that carries the sum: the last one.
fn carrier(path: &LightPath) -> Option<usize> {
    lenses_between(path).pop()
}

/// A stand with the strains of some of its lenses changed.
fn with_strains(
    stand: &LightPath,
    lenses: impl IntoIterator<Item = usize>,
    change: impl Fn(&mut Vec<Strain>),
) -> LightPath {
    let mut path = stand.clone();
    for part in lenses {
        if let PartKind::Condenser(lens) | PartKind::Objective(lens) = &mut path.parts[part].kind {
            change(&mut lens.strain);
        }
    }
    path
}

/// A stand whose lenses between the polars have fast axes where slow ones were.
fn exchanged_axes(stand: &LightPath) -> LightPath {
    with_strains(stand, lenses_between(stand), |strains| {
        for strain in strains {
            *strain = strain.scaled(-1.0);
        }
    })
}

/// Coefficients of the polynomials that come nearest to the sum of a stand's strains.
fn summed(stand: &LightPath, disc_na: f64) -> Vec<f64> {
    let mut strains: Vec<(f64, &Strain)> = Vec::new();
    for part in lenses_between(stand) {
        let (lens, side) = match &stand.parts[part].kind {
            // Rays cross a condenser opposite to where they cross the objective's pupil.
            PartKind::Condenser(lens) => (lens, -1.0),
            PartKind::Objective(lens) => (lens, 1.0),
            _ => continue,
        };
        let scale = side * disc_na / stand.rim_na(part);
        strains.extend(lens.strain.iter().map(|strain| (scale, strain)));
    }
    nearest(|(x, y)| {
        let (mut u, mut v) = (0.0, 0.0);
        for (scale, strain) in &strains {
            if let Some(local) = strain.at(scale * x, scale * y) {
                let (sin, cos) = math::sincos(2.0 * local.slow_azimuth_rad);
                u += local.path_difference_nm * cos;
                v += local.path_difference_nm * sin;
            }
        }
        (u, v)
    })
}

/// Coefficients of the polynomials that come nearest to a strain, given as `path difference x (cos, sin)(2 slow azimuth)` over the unit disc: those
/// of the cosine, then those of the sine.
fn nearest(strain: impl Fn((f64, f64)) -> (f64, f64)) -> Vec<f64> {
    let points: Vec<(f64, f64)> = (Rays::disc(1.0, 8, 32).iter())
        .map(|(ray, _)| {
            let (sin, cos) = math::sincos(ray.azimuth_rad);
            (ray.s * cos, ray.s * sin)
        })
        .collect();
    let wanted: Vec<(f64, f64)> = points.iter().map(|point| strain(*point)).collect();
    let wanted = DMatrix::from_fn(points.len(), 2, |row, column| match column {
        0 => wanted[row].0,
        _ => wanted[row].1,
    });
    let design = DMatrix::from_fn(points.len(), TERMS, |row, term| terms(points[row])[term]);
    let normal = design.transpose() * &design;
    let right = design.transpose() * wanted;
    match normal.cholesky() {
        Some(factor) => factor.solve(&right).as_slice().to_vec(),
        None => vec![0.0; 2 * TERMS],
    }
}

/// The terms of a polynomial at a point of the unit disc: products of Legendre polynomials of up to [`DEGREE`] together.
fn terms((x, y): (f64, f64)) -> [f64; TERMS] {
    let legendre = |x: f64| {
        let mut p = [1.0, x, 0.0, 0.0, 0.0];
        for n in 2..=DEGREE {
            let k = n as f64;
            p[n] = ((2.0 * k - 1.0) * x * p[n - 1] - (k - 1.0) * p[n - 2]) / k;
        }
        p
    };
    let (px, py) = (legendre(x), legendre(y));
    let mut all = [0.0; TERMS];
    let mut at = 0;
    for sum in 0..=DEGREE {
        for j in 0..=sum {
            all[at] = px[sum - j] * py[j];
            at += 1;
        }
    }
    all
}

/// Both components at a point.
fn components(coefficients: &[f64], at: (f64, f64)) -> (f64, f64) {
    let terms = terms(at);
    let sum = |part: &[f64]| part.iter().zip(&terms).map(|(c, t)| c * t).sum();
    (sum(&coefficients[..TERMS]), sum(&coefficients[TERMS..]))
}

/// Path difference and slow azimuth at a point.
fn local(coefficients: &[f64], at: (f64, f64)) -> (f64, f64) {
    let (cos, sin) = components(coefficients, at);
    let azimuth = 0.5 * math::atan2(sin, cos);
    (
        math::hypot(cos, sin),
        azimuth.rem_euclid(std::f64::consts::PI),
    )
}

fn mean(all: &[Vec<f64>]) -> Vec<f64> {
    let count = all.len().max(1) as f64;
    let width = all.first().map_or(0, Vec::len);
    (0..width)
        .map(|k| all.iter().map(|one| one[k]).sum::<f64>() / count)
        .collect()
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

/// Solutions of several stands together.
struct Spread {
    mean: Vec<f64>,
    covariance: DMatrix<f64>,
    misfit: f64,
}

impl Spread {
    fn new(found: &[StrainSolution]) -> Self {
        let all: Vec<Vec<f64>> = found.iter().map(|found| found.terms.clone()).collect();
        let mean = mean(&all);
        let count = all.len() as f64;
        let misfit = found.iter().map(|found| found.misfit).sum::<f64>() / count;
        let mut covariance = DMatrix::<f64>::zeros(mean.len(), mean.len());
        for found in found {
            let own = &found.covariance * (found.misfit.max(1.0) / count);
            covariance += own;
            let off = DMatrix::from_fn(mean.len(), 1, |k, _| found.terms[k] - mean[k]);
            covariance += &off * off.transpose() / (count - 1.0).max(1.0);
        }
        Self {
            mean,
            covariance,
            misfit,
        }
    }

    /// At a point in units of the disc's radius; `reach` is that radius over the lens's rim.
    fn at(&self, at: (f64, f64), reach: f64) -> StrainNode {
        let (path_difference_nm, slow_azimuth_rad) = local(&self.mean, at);
        let (u_nm, v_nm) = components(&self.mean, at);
        let (sin, cos) = math::sincos(2.0 * slow_azimuth_rad);
        // The derivative of the path difference by each coefficient.
        let terms = terms(at);
        let by = DMatrix::from_fn(2 * TERMS, 1, |k, _| {
            terms[k % TERMS] * if k < TERMS { cos } else { sin }
        });
        let variance = (by.transpose() * &self.covariance * &by)[(0, 0)];
        StrainNode {
            x: reach * at.0,
            y: reach * at.1,
            path_difference_nm,
            slow_azimuth_rad,
            u_nm,
            v_nm,
            error_nm: variance.max(0.0).sqrt(),
        }
    }

    /// A square grid over the lens's rim. Beyond the photographed disc a point has the strain of the disc's edge on the same spoke.
    fn grid(&self, reach: f64) -> impl Iterator<Item = StrainNode> + '_ {
        let place = |k: usize| 2.0 * k as f64 / (NODES - 1) as f64 - 1.0;
        let pairs = (0..NODES).flat_map(|row| (0..NODES).map(move |column| (column, row)));
        pairs.map(move |(column, row)| {
            let at = (place(column), place(row));
            let beyond = (math::hypot(at.0, at.1) / reach).max(1.0);
            let inside = (at.0 / (reach * beyond), at.1 / (reach * beyond));
            StrainNode {
                x: at.0,
                y: at.1,
                ..self.at(inside, reach)
            }
        })
    }
}
