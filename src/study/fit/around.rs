//! What readings would leave of the question which part is to blame, where they tell a stand so exactly that hardly another drawn stand is like it: with
//! photographs among them.
//!
//! Some stands take the place of the true one. Around each of them the logarithm of every light is taken to change in proportion to the unknown numbers,
//! so that readings, with all errors that they share, leave a normal distribution of these numbers. Leaks are not taken to be so simple: each part's is a
//! polynomial of the numbers, stray light is itself, and the largest is looked for in stands drawn from that distribution.
//!
//! Source: L. Tierney and J. B. Kadane, J. Am. Stat. Assoc. 81, 82 (1986), for the normal distribution; from memory.

use nalgebra::{Cholesky, DMatrix, DVector};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::{Distribution, StandardNormal};

use super::blame::Shares;
use super::likelihood::Likelihood;
use super::{BenchSetting, FitError, Reading, SampleError, photo};
use crate::math;
use crate::optics::ZoneGrid;
use crate::scene::Scene;
use crate::study::bench::{Bench, BenchNumbers, BenchSurface, Care, SurfaceWork};
use crate::study::draws::Watch;
use crate::study::leak::Cause;
use crate::study::unknown::Unknowns;
use crate::threads;

/// Stands drawn around each that takes the place of the true one.
const DRAWN: usize = 60;
/// Steps to both sides by which slopes are found, in standard deviations of the prior: with direct runs, and with polynomials.
const STEP: f64 = 1e-3;
const STEP_ON_SURFACE: f64 = 1e-2;

/// Stands that take the place of the true one.
pub(super) struct Around<'a> {
    bench: Bench<'a>,
    model_error: f64,
    grid: ZoneGrid,
    /// Standard deviation of the prior of each sampled number: the unit of what follows.
    unit: Vec<f64>,
    stands: Vec<TrueStand>,
    leaks: BenchNumbers,
    /// Parts and causes, and which of them is stray light.
    groups: usize,
    stray: Option<usize>,
}

/// One of them.
struct TrueStand {
    point: Vec<f64>,
    /// The inverse of the covariance before the readings that are thought of.
    known: DMatrix<f64>,
    /// What the polynomials lack of each leak here.
    lacking: Vec<f64>,
    normals: Vec<DVector<f64>>,
}

/// What a reading, or a photograph, tells in each of the stands.
pub(super) type Told = Vec<DMatrix<f64>>;

/// Readings that were taken already, and polynomials of their light.
pub(super) struct AlreadyRead<'a> {
    pub(super) bench: &'a Bench<'a>,
    pub(super) surface: &'a BenchSurface,
    pub(super) likelihood: &'a Likelihood,
}

impl<'a> Around<'a> {
    /// `trues` are places in `shares`; `taken` is what was read already, and `None` for nothing.
    pub(super) fn new(
        scene: &Scene,
        unknowns: &'a Unknowns,
        (points, shares): (&[Vec<f64>], &Shares),
        trues: &[usize],
        taken: Option<&AlreadyRead<'_>>,
        (grid, model_error, seed): (ZoneGrid, f64, u64),
    ) -> Result<Self, FitError> {
        let plain = [BenchSetting::default()];
        let bench =
            Bench::new(scene, unknowns, &plain, Care::Little).map_err(|(_, error)| error)?;
        let unit: Vec<f64> = (unknowns.list.iter())
            .flat_map(|unknown| unknown.priors.iter().map(|prior| prior.mean_and_sd().1))
            .collect();
        let all: Vec<&Vec<f64>> = shares.members.iter().map(|at| &points[*at]).collect();
        let whole: Vec<f64> = shares.ratios.iter().map(|ratio| 1.0 / ratio).collect();
        let leak = |group: usize, at: usize| shares.share[group][at] * whole[at];
        let groups = shares.of.len();
        let values: Vec<Vec<f64>> = (0..groups)
            .map(|group| (0..all.len()).map(|at| leak(group, at)).collect())
            .collect();
        let leaks = bench.numbers(&all, &values, &whole);
        let stray = (shares.of.iter())
            .position(|(_, cause)| *cause == Cause::StrayLight)
            .filter(|_| all.first().is_some_and(|p| bench.stray(p).is_some()));
        let dimensions = unit.len();
        let stands = threads::map(0..trues.len(), |number| {
            let at = trues[number];
            let point = all[at].clone();
            let mut work = SurfaceWork::default();
            let found = bench.numbers_at(&leaks, &point, &mut work);
            let lacking = (found.iter().enumerate())
                .map(|(group, found)| leak(group, at) - found)
                .collect();
            let mut random = ChaCha8Rng::seed_from_u64(seed);
            random.set_stream((1 << 32) + number as u64);
            let mut normal = || {
                let part = |_, _| StandardNormal.sample(&mut random);
                DVector::<f64>::from_fn(dimensions, part)
            };
            let mut known = DMatrix::identity(dimensions, dimensions);
            if let Some(taken) = taken {
                known += of_taken(taken, &point, &unit);
            }
            TrueStand {
                normals: (0..=DRAWN).map(|_| normal()).collect(),
                point,
                known,
                lacking,
            }
        });
        Ok(Self {
            bench,
            model_error,
            grid,
            unit,
            stands,
            leaks,
            groups,
            stray,
        })
    }

    /// What a reading would tell, or a photograph; `None` for a setting that cannot be run.
    pub(super) fn told(
        &self,
        scene: &Scene,
        setting: &BenchSetting,
        photograph: bool,
        watch: Watch,
    ) -> Result<Option<Told>, FitError> {
        let settings = match photograph {
            true => photo::zones(setting, self.grid),
            false => vec![setting.clone()],
        };
        let Ok(bench) = Bench::new(scene, self.bench.unknowns, &settings, Care::Full) else {
            return Ok(None);
        };
        let told = threads::map(0..self.stands.len(), |number| {
            if watch.stop.load(std::sync::atomic::Ordering::Relaxed) {
                return None;
            }
            let point = &self.stands[number].point;
            let here = bench.direct_all(point);
            let readings: Vec<Reading> = photo::simulated(&settings, &here);
            let slopes = slopes(point, &self.unit, STEP, &mut |there| {
                bench.direct_all(there)
            });
            let all = here.iter().chain(slopes.iter().flatten());
            let runs = all.clone().all(|number| number.is_finite());
            let likelihood = || Likelihood::new(&readings, self.model_error);
            runs.then(|| likelihood().information(&slopes))
        });
        if watch.stop.load(std::sync::atomic::Ordering::Relaxed) {
            return Err(SampleError::Stopped.into());
        }
        Ok(told.into_iter().collect())
    }

    /// The probabilities that readings leave for each part and cause in a stand.
    pub(super) fn left<'b>(
        &self,
        stand: usize,
        told: impl Iterator<Item = &'b DMatrix<f64>>,
    ) -> Vec<f64> {
        let TrueStand {
            point,
            known,
            lacking,
            normals,
        } = &self.stands[stand];
        let all = told.fold(known.clone(), |sum, told| sum + told);
        let Some(root) = Cholesky::new(all).map(|cholesky| cholesky.l()) else {
            return Vec::new();
        };
        let off = |normal: &DVector<f64>| root.tr_solve_lower_triangular(normal);
        let Some(middle) = off(&normals[0]) else {
            return Vec::new();
        };
        let mut work = SurfaceWork::default();
        let mut left = vec![0.0; self.groups];
        let mut count = 0.0;
        for normal in &normals[1..] {
            let Some(from_middle) = off(normal) else {
                continue;
            };
            let there: Vec<f64> = (point.iter().zip(&self.unit).enumerate())
                .map(|(k, (at, unit))| at + unit * (middle[k] + from_middle[k]))
                .collect();
            if !self.bench.unknowns.log_prior(&there).is_finite() {
                continue;
            }
            let mut leaks = self.bench.numbers_at(&self.leaks, &there, &mut work);
            for (leak, lacking) in leaks.iter_mut().zip(lacking) {
                *leak += lacking;
            }
            if let Some(group) = self.stray {
                leaks[group] = self.bench.stray(&there).unwrap_or(0.0);
            }
            let largest = (0..leaks.len()).reduce(|best, other| match leaks[other] > leaks[best] {
                true => other,
                false => best,
            });
            left[largest.unwrap_or(0)] += 1.0;
            count += 1.0;
        }
        left.iter_mut()
            .for_each(|part| *part /= f64::max(count, 1.0));
        left
    }

    /// Expected information of a reading itself, beside what is known: half the logarithm of by how much the numbers' common variance shrinks, on average.
    pub(super) fn of_reading(&self, told: &[DMatrix<f64>]) -> f64 {
        let log = |matrix: DMatrix<f64>| {
            let root = Cholesky::new(matrix).map(|cholesky| cholesky.l());
            root.map_or(0.0, |root| {
                root.diagonal().iter().map(|part| math::log(*part)).sum()
            })
        };
        let each = self.stands.iter().zip(told);
        let sum: f64 = each
            .map(|(stand, told)| log(&stand.known + told) - log(stand.known.clone()))
            .sum();
        sum / self.stands.len().max(1) as f64
    }

    /// The probability that is told in place of none: half of one stand's.
    pub(super) fn least() -> f64 {
        0.5 / DRAWN as f64
    }
}

/// By how much the logarithm of each light changes with each number.
fn slopes(
    point: &[f64],
    unit: &[f64],
    step: f64,
    light: &mut dyn FnMut(&[f64]) -> Vec<f64>,
) -> Vec<Vec<f64>> {
    (unit.iter().enumerate())
        .map(|(number, unit)| {
            let mut there = |sign: f64| {
                let mut there = point.to_vec();
                there[number] += sign * step * unit;
                light(&there)
            };
            let (more, less) = (there(1.0), there(-1.0));
            (more.iter().zip(&less))
                .map(|(more, less)| math::log(more / less) / (2.0 * step))
                .collect()
        })
        .collect()
}

fn of_taken(taken: &AlreadyRead<'_>, point: &[f64], unit: &[f64]) -> DMatrix<f64> {
    let mut work = SurfaceWork::default();
    let slopes = slopes(point, unit, STEP_ON_SURFACE, &mut |there| {
        taken.bench.by_surface(taken.surface, there, &mut work);
        work.light.clone()
    });
    let known = taken.likelihood.information(&slopes);
    match known.iter().all(|number| number.is_finite()) {
        true => known,
        false => DMatrix::zeros(unit.len(), unit.len()),
    }
}
