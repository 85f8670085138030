//! The polynomials whose zones come nearest to the photographs: Levenberg and Marquardt's method.
//!
//! Besides the polynomials' coefficients there are numbers of little interest, each held near 0 by what is known of it: light that leaks everywhere
//! alike beyond what the stand's sheets leak; a factor of each photograph, the error of its exposures; and how far the disc lies from where it was
//! taken to be, in each photograph and in all of them.
//!
//! Source: K. Levenberg, Quart. Appl. Math. 2, 164 (1944); D. W. Marquardt, J. Soc. Indust. Appl. Math. 11, 431 (1963). From memory.

use std::f64::consts::TAU;

use nalgebra::{DMatrix, DVector};

use super::AS_GOOD;
use super::polynomial::{TERMS, nearest};
use super::surface::{PhotographRay, PhotographSurface, Slope};
use crate::math;
use crate::order::sort_by_number;
use crate::study::fit::{FRAMING_SHARED, Reading};
use crate::study::measures::GREEN_NM;
use crate::threads;

/// Standard deviation of a coefficient before any photograph, nm: strain of lenses is seldom beyond it.
const COEFFICIENT_NM: f64 = 60.0;
/// Standard deviation of the leak beyond what the stand leaks, as a part of the darkest zone's light.
const LEAK: f64 = 0.3;
/// The same for terms beyond the second degree while a solution is looked for roughly, the steps of that, and how many terms there are below.
const STIFF_NM: f64 = 0.3;
const ROUGH_STEPS: usize = 25;
const LOW_TERMS: usize = 6;
/// Steps at most, and when a step gains too little to go on.
const STEPS: usize = 80;
const GAIN: f64 = 1e-7;
/// Coefficients that differ less than this, nm root mean square, are the same solution.
const SAME_NM: f64 = 1.0;

/// A solution.
#[derive(Debug, Clone)]
pub(super) struct StrainSolution {
    /// The polynomials' coefficients, nm.
    pub(super) terms: Vec<f64>,
    pub(super) covariance: DMatrix<f64>,
    /// Misfit per degree of freedom.
    pub(super) misfit: f64,
    /// Crossed over parallel light of each zone.
    pub(super) light: Vec<f64>,
    sum: f64,
}

impl StrainSolution {
    /// Whether it fits nearly as well as another one.
    pub(super) fn is_as_good_as(&self, other: &Self) -> bool {
        self.sum <= other.sum + AS_GOOD
    }
}

/// Photographs of one stand, and what was photographed.
pub(super) struct StrainProblem<'a> {
    zones: Vec<PhotographedZone<'a>>,
    /// Standard deviations of the leak, and of the factor of each line.
    leak_sd: f64,
    factor_sd: Vec<f64>,
}

/// A zone of a photograph.
struct PhotographedZone<'a> {
    rays: &'a [PhotographRay],
    factor: f64,
    stray_fraction: f64,
    /// Logarithm of its light, the standard deviation of its own error, and the number of its line.
    read: (f64, f64, usize),
    /// What a disc elsewhere takes from that.
    framing: [f64; 3],
}

impl<'a> StrainProblem<'a> {
    pub(super) fn new(
        surfaces: &'a [PhotographSurface],
        readings: &[Reading],
        model_error: f64,
    ) -> Self {
        let rays = surfaces
            .iter()
            .flat_map(|surface| (surface.zones.iter()).map(|zone| (zone, surface.stray_fraction)));
        let mut factor_sd: Vec<f64> = Vec::new();
        let mut line = None;
        let zones = (rays.zip(readings))
            .map(|(((rays, factor), stray_fraction), reading)| {
                if line != Some(reading.line) {
                    line = Some(reading.line);
                    factor_sd.push(reading.common_error.max(1e-3));
                }
                let sd = math::hypot(reading.error, model_error);
                PhotographedZone {
                    rays,
                    factor: *factor,
                    stray_fraction,
                    read: (-math::log(reading.ratio), sd, factor_sd.len() - 1),
                    framing: reading.framing,
                }
            })
            .collect();
        let darkest = readings.iter().map(|r| 1.0 / r.ratio).fold(1.0, f64::min);
        Self {
            zones,
            leak_sd: LEAK * darkest,
            factor_sd,
        }
    }

    /// The best solution, and whether it stands alone. From a start that is a solution in another stand the way is short; without one (`widely`) many
    /// starts are tried, for there are false solutions in which slow and fast axes change places from one part of the disc to another. Of solutions
    /// that fit alike the nearest to `start` is taken. Starts and solutions are the strain of all lenses; `others` is that of all but the carrier.
    pub(super) fn solve(
        &self,
        start: &[f64],
        others: &[f64],
        widely: bool,
    ) -> Option<(StrainSolution, bool)> {
        let starts = match widely {
            true => self.starts(start),
            false => vec![start.to_vec()],
        };
        let starts: Vec<Vec<f64>> = (starts.iter())
            .map(|start| {
                start
                    .iter()
                    .zip(others)
                    .map(|(all, other)| all - other)
                    .collect()
            })
            .collect();
        let found = threads::map(0..starts.len(), |k| {
            let rough = match widely {
                true => self.from(starts[k].clone(), ROUGH_STEPS, STIFF_NM)?.terms,
                false => starts[k].clone(),
            };
            self.from(rough, STEPS, COEFFICIENT_NM)
        });
        let mut found: Vec<StrainSolution> = found.into_iter().flatten().collect();
        for found in &mut found {
            for (term, other) in found.terms.iter_mut().zip(others) {
                *term += other;
            }
        }
        let best = found.iter().map(|found| found.sum).min_by(f64::total_cmp)?;
        let good = found
            .into_iter()
            .filter(|found| found.sum <= best + AS_GOOD);
        let mut good: Vec<(f64, StrainSolution)> = good
            .map(|found| (distance(&found.terms, start), found))
            .collect();
        sort_by_number(&mut good, |found| found.0);
        let alone = (good.iter()).all(|(_, f)| distance(&f.terms, &good[0].1.terms) < SAME_NM);
        good.into_iter().next().map(|(_, found)| (found, alone))
    }

    /// What is believed and its mirror pictures; and even strains in eight directions, or none, with radial ones of both signs, or none, as strong as
    /// the light asks for.
    fn starts(&self, believed: &[f64]) -> Vec<Vec<f64>> {
        let mut starts: Vec<Vec<f64>> = [(1.0, 1.0), (-1.0, -1.0), (1.0, -1.0), (-1.0, 1.0)]
            .iter()
            .map(|(u, v)| {
                let signed = believed.iter().enumerate();
                signed
                    .map(|(k, nm)| nm * if k < TERMS { u } else { v })
                    .collect()
            })
            .collect();
        // On average over azimuths of the polars a retardance G lets G^2 / 8 through.
        let light: Vec<f64> = (self.zones.iter())
            .map(|zone| math::exp(zone.read.0))
            .collect();
        let mean = light.iter().sum::<f64>() / light.len().max(1) as f64;
        let nm = (8.0 * mean).sqrt() / TAU * GREEN_NM;
        for even in 0..9 {
            let (sin, cos) = math::sincos(f64::from(even) * TAU / 8.0);
            let even_nm = if even == 8 { 0.0 } else { nm };
            for radial in [-1.5, 0.0, 1.5] {
                starts.push(nearest(|(x, y)| {
                    let radial_nm = radial * nm;
                    (
                        even_nm * cos + radial_nm * (x * x - y * y),
                        even_nm * sin + radial_nm * 2.0 * x * y,
                    )
                }));
            }
        }
        starts
    }

    /// The numbers: the coefficients, the leak, each line's factor and disc, and the disc of all lines.
    fn count(&self) -> usize {
        2 * TERMS + 1 + 4 * self.factor_sd.len() + 3
    }

    /// Goes downhill from a start in so many steps at most; terms beyond the second degree are held near 0 by `high_nm`.
    fn from(&self, start: Vec<f64>, steps: usize, high_nm: f64) -> Option<StrainSolution> {
        let count = self.count();
        let mut at = DVector::from_vec(start);
        at = at.resize_vertically(count, 0.0);
        let mut here = self.linear(&at, high_nm)?;
        let mut damping = 1e-3;
        for _ in 0..steps {
            let mut damped = here.normal.clone();
            for k in 0..count {
                damped[(k, k)] *= 1.0 + damping;
            }
            let step = damped.cholesky()?.solve(&here.slope);
            let next = &at + &step;
            match self
                .linear(&next, high_nm)
                .filter(|next| next.sum <= here.sum)
            {
                Some(better) => {
                    let gain = here.sum - better.sum;
                    (at, here) = (next, better);
                    damping = (0.3 * damping).max(1e-9);
                    if gain < GAIN * here.sum.max(1.0) {
                        break;
                    }
                }
                None if damping > 1e8 => break,
                None => damping *= 8.0,
            }
        }
        let whole = here.normal.cholesky()?.inverse();
        let free = (self.zones.len() as f64 - 2.0 * TERMS as f64).max(1.0);
        Some(StrainSolution {
            terms: at.as_slice()[..2 * TERMS].to_vec(),
            covariance: whole.view((0, 0), (2 * TERMS, 2 * TERMS)).into_owned(),
            misfit: here.sum / free,
            light: here.light,
            sum: here.sum,
        })
    }

    /// Misfit at some numbers, with the normal equations of a step from there; `None` where a zone has no light.
    fn linear(&self, at: &DVector<f64>, high_nm: f64) -> Option<Linear> {
        let count = at.len();
        let leak_at = 2 * TERMS;
        let mut linear = Linear {
            normal: DMatrix::zeros(count, count),
            slope: DVector::zeros(count),
            sum: 0.0,
            light: Vec::with_capacity(self.zones.len()),
        };
        for k in 0..count {
            let sd = match k {
                k if k < leak_at && k % TERMS < LOW_TERMS => COEFFICIENT_NM,
                k if k < leak_at => high_nm,
                k if k == leak_at => self.leak_sd,
                k => self.factor_sd.get(k - leak_at - 1).copied().unwrap_or(1.0),
            };
            linear.add(&[(k, 1.0 / sd)], -at[k] / sd);
        }
        let mut row = Vec::with_capacity(2 * TERMS + 8);
        for zone in &self.zones {
            let (mut dark, mut bright) = ([0.0; 2 * TERMS], [0.0; 2 * TERMS]);
            let (mut crossed, mut parallel) = (0.0, 0.0);
            for ray in zone.rays {
                let sum = |part: &[f64]| part.iter().zip(&ray.terms).map(|(c, t)| c * t).sum();
                let all = at.as_slice();
                let strain = (sum(&all[..TERMS]), sum(&all[TERMS..leak_at]));
                let (one, other) = ray.at(strain);
                crossed += one.light;
                parallel += other.light;
                let add = |to: &mut [f64; 2 * TERMS], slope: &Slope| {
                    for (k, term) in ray.terms.iter().enumerate() {
                        to[k] += slope.by[0] * term;
                        to[TERMS + k] += slope.by[1] * term;
                    }
                };
                add(&mut dark, &one);
                add(&mut bright, &other);
            }
            let ratio = crossed / parallel;
            let light = zone.factor * (ratio + zone.stray_fraction) + at[leak_at];
            if light.is_nan() || light <= 0.0 {
                return None;
            }
            linear.light.push(light);
            let (read, sd, line) = zone.read;
            let scale = 1.0 / (light * sd);
            row.clear();
            row.extend((0..leak_at).map(|k| {
                let slope = zone.factor * (dark[k] - ratio * bright[k]) / parallel;
                (k, scale * slope)
            }));
            row.push((leak_at, scale));
            row.push((leak_at + 1 + line, 1.0 / sd));
            let mut off = read - math::log(light) - at[leak_at + 1 + line];
            let discs = leak_at + 1 + self.factor_sd.len();
            for (start, part) in [
                (discs + 3 * line, 1.0 - FRAMING_SHARED),
                (count - 3, FRAMING_SHARED),
            ] {
                for (k, framing) in zone.framing.iter().enumerate() {
                    let slope = part.sqrt() * framing;
                    row.push((start + k, slope / sd));
                    off -= slope * at[start + k];
                }
            }
            linear.add(&row, off / sd);
        }
        Some(linear)
    }
}

/// Normal equations.
struct Linear {
    normal: DMatrix<f64>,
    slope: DVector<f64>,
    sum: f64,
    light: Vec<f64>,
}

impl Linear {
    /// Adds an equation: what is off, and how much of it each number takes away.
    fn add(&mut self, row: &[(usize, f64)], off: f64) {
        for (k, a) in row {
            for (l, b) in row {
                self.normal[(*k, *l)] += a * b;
            }
            self.slope[*k] += a * off;
        }
        self.sum += off * off;
    }
}

/// Root mean square of what two solutions differ by, nm.
fn distance(one: &[f64], other: &[f64]) -> f64 {
    let squares = one.iter().zip(other).map(|(a, b)| (a - b) * (a - b));
    (squares.sum::<f64>() / one.len().max(1) as f64).sqrt()
}
