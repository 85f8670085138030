//! The strain between the polars, as photographs of the back focal plane show it.
//!
//! Two lenses that are strained act nearly like one: what photographs tell is the sum of what stands between the polars. It is described as a smooth
//! surface over the aperture, `path difference x (cos, sin)(2 slow azimuth)` as two polynomials. Everything else, geometry and sheets and plates, is as
//! the model has it in stands that explain the readings: the answer is worked out in several of them, and how far they differ is part of its error.
//!
//! Two strains that do not lie along or across each other also turn the light, by half the product of their retardances times the sine of twice the
//! angle between their axes: a picture with the analyzer off shows a turn of a tenth of a degree. So the strains of a stand stay where the stand has
//! them, and what is sought is what one lens has to add for the sum to explain the photographs.
//!
//! Of each ray the model gives the light as a function of the strain at that ray (`surface`); the polynomials are those whose zones come nearest to the
//! photographs (`solve`).
//!
//! What photographs can tell: to second order in the retardance `G` with slow azimuth `a` from the lower polar, and the analyzer `d` off crossed,
//! the light is `leak + sin^2(d - r) + cos(2 d) v^2 / 4 - sin(2 d) u v / 4` with `(u, v) = G (cos, sin)(2 a)` and the geometry's turn `r`. From
//! azimuths of the analyzer alone follow `v^2` and `u v` only. Both polars turned together show `u` and `v` each in its turn. All of these stay the same
//! when every slow axis becomes a fast one; only a plate of known slow axis in the light tells those two apart.

mod solve;
mod surface;

use nalgebra::DMatrix;
use thiserror::Error;

use super::bench::Bench;
use super::draws::Watch;
use super::fit::{FitError, Reading, bench_of};
use super::reading::Zone;
use super::unknown::Unknowns;
use crate::light_path::{LightPath, PartKind};
use crate::math;
use crate::optics::{Rays, Strain};
use crate::scene::Scene;
use crate::threads;

use self::solve::{StrainProblem, StrainSolution};
use self::surface::PhotographSurface;

/// Stands of the sample that the strain is worked out in.
const STANDS: usize = 12;
/// Photographs that are needed at least.
pub const FEWEST_PHOTOGRAPHS: usize = 3;
/// Degree of the polynomials, and how many terms each has.
const DEGREE: usize = 4;
const TERMS: usize = (DEGREE + 1) * (DEGREE + 2) / 2;
/// Nodes of the map that is written, to a side.
const NODES: usize = 17;
/// Solutions that fit nearly as well as the best are not told from it: so much more misfit.
const AS_GOOD: f64 = 4.0;

/// The strain between the polars.
#[derive(Debug, Clone, PartialEq)]
pub struct StrainBetween {
    /// The lens that carries it in the model.
    pub lens: String,
    /// Radius of the photographed disc over the lens's rim: beyond it the map goes on as it is at the disc's edge, and is not measured.
    pub reach: f64,
    /// The map, a square grid over the lens's rim, row by row from the South.
    pub nodes: Vec<StrainNode>,
    /// The middle of each zone of the photographs.
    pub zones: Vec<StrainZone>,
    /// Lines of the readings file whose photographs were used.
    pub lines: Vec<usize>,
    /// Lines that were left out, with the reason.
    pub left_out: Vec<(usize, String)>,
    /// Misfit per degree of freedom; errors are widened by its root where it is above 1.
    pub misfit: f64,
    /// Whether the photographs tell the strain from its mirror pictures; otherwise the one nearest to the fitted parts is given.
    pub settled: bool,
    /// Each zone of each photograph against the model before and after.
    pub residuals: Vec<ZoneResidual>,
}

/// The strain at a point of the map.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StrainNode {
    /// East and North, in units of the lens's rim.
    pub at: (f64, f64),
    /// Path difference, nm.
    pub path_difference_nm: f64,
    /// Slow azimuth, radians counter-clockwise from East.
    pub slow_azimuth_rad: f64,
    /// One standard deviation of the path difference, nm.
    pub error_nm: f64,
}

/// The strain in the middle of a zone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StrainZone {
    /// Ring, from 0 at the axis.
    pub ring: usize,
    /// Sector, from 0 at East, counter-clockwise.
    pub sector: usize,
    /// What the photographs say.
    pub found: StrainNode,
    /// What the fitted parts add up to there, nm and radians.
    pub fitted: (f64, f64),
}

/// A zone of a photograph: crossed light over parallel light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ZoneResidual {
    /// Line of the readings file.
    pub line: usize,
    /// The zone.
    pub zone: Zone,
    /// As it was photographed.
    pub measured: f64,
    /// As the fitted parts have it.
    pub before: f64,
    /// As the map has it.
    pub after: f64,
}

/// Why there is no map.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum StrainBetweenError {
    /// Too few photographs.
    #[error(
        "a strain map needs at least {FEWEST_PHOTOGRAPHS} photographs with the stand as in the file, with different azimuths of the polars; there are {0}"
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
    let (kept, left_out) = usable(readings);
    let mut lines: Vec<usize> = kept.iter().map(|reading| reading.line).collect();
    lines.dedup();
    if lines.len() < FEWEST_PHOTOGRAPHS {
        return Err(StrainBetweenError::TooFew(lines.len()));
    }
    let carrier = carrier(&scene.path).ok_or(StrainBetweenError::NoLens)?;
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
        let surfaces = threads::map(0..bench.lights.len(), |k| {
            let path = bench.set(&bench.lights[k], &stand)?;
            PhotographSurface::new(&bench.lights[k], &path, &Summed::new(&stand, disc_na))
        });
        let Some(surfaces) = surfaces.into_iter().collect::<Option<Vec<_>>>() else {
            continue;
        };
        let problem = StrainProblem::new(&surfaces, &kept, model_error);
        let start = match found.first() {
            Some(first) => first.terms.clone(),
            None => Summed::new(&stand, disc_na).nearest(),
        };
        let Some((solution, alone)) = problem.solve(&start, found.is_empty()) else {
            continue;
        };
        settled &= alone;
        fitted.push(Summed::new(&stand, disc_na).nearest());
        found.push(solution);
    }
    let first = found.first().ok_or(StrainBetweenError::NoSolution)?;
    let before = bench.direct_all(chosen[0]);
    let residuals = (kept.iter().zip(&before).zip(&first.light))
        .filter_map(|((reading, before), after)| {
            Some(ZoneResidual {
                line: reading.line,
                zone: reading.setting.zone?,
                measured: 1.0 / reading.ratio,
                before: *before,
                after: *after,
            })
        })
        .collect();
    let answer = Spread::new(&found);
    let fitted = mean(&fitted);
    Ok(StrainBetween {
        lens: scene.path.parts[carrier].name.clone(),
        reach,
        nodes: (answer.grid(reach)).collect(),
        zones: zones(&bench, disc_na)
            .map(|(zone, at)| {
                let (ring, sector) = zone.grid.place(zone.number);
                StrainZone {
                    ring,
                    sector,
                    found: answer.at(at, reach),
                    fitted: local(&fitted, at),
                }
            })
            .collect(),
        lines,
        left_out,
        misfit: answer.misfit,
        settled,
        residuals,
    })
}

/// Photographs of the stand as in the file, whatever the polars, plates, lamp and iris; and why others are left out.
fn usable(readings: &[Reading]) -> (Vec<Reading>, Vec<(usize, String)>) {
    let mut left_out: Vec<(usize, String)> = Vec::new();
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
        if left_out
            .last()
            .is_none_or(|(line, _)| *line != reading.line)
        {
            left_out.push((reading.line, why.to_owned()));
        }
    }
    (kept, left_out)
}

/// Lenses between the polars.
fn between(path: &LightPath) -> Vec<usize> {
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
    between(path).pop()
}

/// The sum of the strains of a stand over the photographed disc.
struct Summed<'a> {
    disc_na: f64,
    /// Each with the factor from places in the disc to places in its lens.
    strains: Vec<(f64, &'a Strain)>,
}

impl<'a> Summed<'a> {
    fn new(stand: &'a LightPath, disc_na: f64) -> Self {
        let mut strains: Vec<(f64, &Strain)> = Vec::new();
        for part in between(stand) {
            let (lens, side) = match &stand.parts[part].kind {
                // Rays cross a condenser opposite to where they cross the objective's pupil.
                PartKind::Condenser(lens) => (lens, -1.0),
                PartKind::Objective(lens) => (lens, 1.0),
                _ => continue,
            };
            let scale = side * disc_na / stand.rim_na(part);
            strains.extend(lens.strain.iter().map(|strain| (scale, strain)));
        }
        Self { disc_na, strains }
    }

    /// At a point in units of the disc's radius: `path difference x (cos, sin)(2 slow azimuth)`.
    fn at(&self, (x, y): (f64, f64)) -> (f64, f64) {
        let (mut u, mut v) = (0.0, 0.0);
        for (scale, strain) in &self.strains {
            if let Some(local) = strain.at(scale * x, scale * y) {
                let (sin, cos) = math::sincos(2.0 * local.slow_azimuth_rad);
                u += local.path_difference_nm * cos;
                v += local.path_difference_nm * sin;
            }
        }
        (u, v)
    }

    /// Coefficients of the polynomials that come nearest to it.
    fn nearest(&self) -> Vec<f64> {
        nearest(|point| self.at(point))
    }
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

/// Zones of the first photograph, each once, with their middle in units of the disc's radius.
fn zones<'a>(bench: &'a Bench<'_>, disc_na: f64) -> impl Iterator<Item = (Zone, (f64, f64))> + 'a {
    let light = bench.lights.first();
    light.into_iter().flat_map(move |light| {
        light.zones.iter().map(move |zone| {
            let (mut x, mut y, mut count) = (0.0, 0.0, 0.0);
            for (_, ray, _) in light.rays_of(*zone) {
                let (sin, cos) = math::sincos(ray.azimuth_rad);
                x += ray.s * cos;
                y += ray.s * sin;
                count += disc_na;
            }
            (*zone, (x / count, y / count))
        })
    })
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
        let (nm, slow_azimuth_rad) = local(&self.mean, at);
        let (sin, cos) = math::sincos(2.0 * slow_azimuth_rad);
        // The derivative of the path difference by each coefficient.
        let terms = terms(at);
        let by = DMatrix::from_fn(2 * TERMS, 1, |k, _| {
            terms[k % TERMS] * if k < TERMS { cos } else { sin }
        });
        let variance = (by.transpose() * &self.covariance * &by)[(0, 0)];
        StrainNode {
            at: (reach * at.0, reach * at.1),
            path_difference_nm: nm,
            slow_azimuth_rad,
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
                at,
                ..self.at(inside, reach)
            }
        })
    }
}
