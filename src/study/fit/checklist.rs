//! Before any reading: the fewest readings that decide which part is to blame, in an order that a bench can follow.
//!
//! Stands are drawn from the priors, and every candidate reading of [`super::next`] is simulated on each of them. Readings are then chosen one by
//! one. Some of the stands take the place of the true one in turn; chosen is the reading with which all readings so far tell most, on average over
//! these, of the part to blame. What readings tell is measured by the logarithm of the probability that they leave for the right part. That
//! probability comes from the stands whose readings are most like the true stand's; how shares of the leak go with readings among them is fitted by
//! straight lines and taken off, so that hundreds of stands do, where thousands would be needed to find some with the very same readings.
//!
//! Sources: D. V. Lindley, Ann. Math. Statist. 27, 986 (1956), for the information; M. A. Beaumont, W. Zhang and D. J. Balding, Genetics 162, 2025
//! (2002), for the stands nearby and the straight lines; G. L. Nemhauser and others, Math. Program. 14, 265 (1978), for choosing one by one. All from
//! memory.

use nalgebra::{Cholesky, DMatrix};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::{Distribution, StandardNormal};
use serde::Serialize;

use super::around::{Around, Told};
use super::blame::{self, Shares};
use super::next::{PhotographWorth, as_map, candidates};
use super::photo;
use super::{
    BenchSetting, BlameShare, FitError, FitQuestion, Interval, READING_ERROR, SampleError,
    SettingCell,
};
use crate::math;
use crate::scene::Scene;
use crate::study::bench::{Bench, Care};
use crate::study::draws::Watch;
use crate::study::leak::Cause;
use crate::study::unknown::Unknowns;
use crate::threads;

/// How many stands are drawn at most, and how many of them take the place of the true one.
const STANDS: usize = 1500;
const TRUE_STANDS: usize = 300;
/// How many where photographs are among the candidates.
pub(super) const TRUE_STANDS_OF_PHOTOGRAPHS: usize = 150;
/// How many stands are taken to be like the true one: those whose readings are nearest to its readings.
const ALIKE: usize = 120;
/// Added to the diagonal of the normal equations, relatively.
const RIDGE: f64 = 1e-6;
/// A part that has this probability after the readings is the one to blame.
const DECIDED: f64 = 0.9;
/// Readings are chosen until they decide in this fraction of the stands, until the next one would add less information than this (nats), or until
/// there are this many.
const ENOUGH: f64 = 0.9;
const LEAST_NATS: f64 = 0.02;
const MOST_STEPS: usize = 10;
/// For parts and causes with at least this probability before any reading, the answer tells what would be read if they were to blame.
const PROBABLE: f64 = 0.04;
const MOST_CULPRITS: usize = 5;

/// Readings to take, in order.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Checklist {
    /// Stands drawn from the priors, and the seed.
    pub draws: usize,
    /// The seed.
    pub seed: u64,
    /// Who is to blame before any reading, most probable first.
    pub before: Vec<BlameShare>,
    /// The readings.
    pub steps: Vec<ChecklistStep>,
}

/// One reading to take.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ChecklistStep {
    /// The setting as columns of a readings file.
    #[serde(serialize_with = "as_map")]
    pub setting: Vec<(String, SettingCell)>,
    /// How the stand is set; crossed and parallel light are read, or photographed.
    pub words: String,
    /// Of a photograph of the back focal plane: what it alone is worth. `None` for a meter reading.
    #[serde(rename = "photograph", skip_serializing_if = "Option::is_none")]
    pub worth: Option<PhotographWorth>,
    /// What the stands drawn would read: parallel light over this light; of a photograph, over its whole disc.
    pub ratio: Interval,
    /// The same for those stands in which a part is to blame, of the parts that are most probable before any reading.
    pub if_to_blame: Vec<IfToBlame>,
    /// Information about the blamed part in this reading and those before it, nats, on average.
    pub told_nats: f64,
    /// The fraction of the stands in which this reading and those before it decide which part is to blame.
    pub decided: f64,
    /// The setting itself.
    #[serde(skip)]
    pub bench: BenchSetting,
}

/// What a reading would be if a part were to blame.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct IfToBlame {
    /// The part.
    pub part: String,
    /// What is wrong with it.
    pub cause: Cause,
    /// The reading.
    pub ratio: Interval,
}

/// Chooses readings for a stand of which nothing has been read yet.
///
/// # Errors
/// [`FitError`].
///
/// Checked by: `tests/laws/checklist.rs`.
pub fn checklist(
    scene: &Scene,
    unknowns: &Unknowns,
    question: &FitQuestion,
    watch: Watch,
) -> Result<Checklist, FitError> {
    if unknowns.list.is_empty() {
        return Err(FitError::NothingUnknown);
    }
    let draws = question.plan.draws.min(STANDS);
    let seed = question.plan.seed;
    let points: Vec<Vec<f64>> = (0..draws)
        .map(|draw| unknowns.draw(&mut stream(seed, draw)))
        .collect();
    let shares = blame::shares(scene, unknowns, &points, watch)?;
    let settings = candidates(&unknowns.path, question.can.as_deref(), &[]);
    let sd = math::hypot(READING_ERROR, question.model_error);
    let of = (&points[..], &shares);
    let mut read = Simulated::new(scene, unknowns, &settings, of, (sd, seed), watch)?;
    let (mut exact, mut meter) = (None, Vec::new());
    if let Some(grid) = question.photographs {
        meter = Knowledge::new(&read).curve(watch)?;
        let ratio = Interval::of(&shares.ratios).median;
        let taken = photo::photographs(&unknowns.path, ratio, &[]);
        read.add_photographs(scene, unknowns, &taken, of, watch)?;
        let trues = read.trues(TRUE_STANDS_OF_PHOTOGRAPHS);
        let how = (grid, question.model_error, seed);
        let around = Around::new(scene, unknowns, of, &trues, None, how)?;
        exact = Some(Exact::new(&mut read, around, trues, scene, watch)?);
    }
    let fresh = || match &exact {
        None => Knowledge::new(&read),
        Some(exact) => Knowledge::with(&read, exact),
    };
    let mut chosen = fresh();
    let mut told = 0.0;
    while chosen.chosen.len() < MOST_STEPS && chosen.decided() < ENOUGH {
        if watch.stop.load(std::sync::atomic::Ordering::Relaxed) {
            return Err(SampleError::Stopped.into());
        }
        (watch.progress)(100 * chosen.chosen.len() / MOST_STEPS);
        let Some((best, nats)) = chosen.best() else {
            break;
        };
        if nats - told < LEAST_NATS {
            break;
        }
        chosen.add(best);
        told = nats;
    }
    let culprits = blame::blame(&shares);
    let nothing = fresh();
    let mut so_far = fresh();
    let steps = (in_bench_order(&read, &chosen.chosen).into_iter())
        .map(|at| {
            so_far.add(at);
            let (setting, light) = &read.lights[at];
            let is_photograph = read.is_photograph(at);
            let of = |keep: &dyn Fn(usize) -> bool| {
                let kept = (light.iter().zip(&read.blamed)).filter(|(_, blamed)| keep(**blamed));
                Interval::of(&kept.map(|(log, _)| math::exp(*log)).collect::<Vec<_>>())
            };
            let probable = culprits
                .iter()
                .filter(|culprit| culprit.largest >= PROBABLE);
            ChecklistStep {
                setting: setting.columns(&unknowns.path),
                words: setting.words(&unknowns.path),
                worth: is_photograph.then(|| PhotographWorth::of(nothing.nats(Some(at)), &meter)),
                ratio: of(&|_| true),
                if_to_blame: (probable.take(MOST_CULPRITS))
                    .filter_map(|culprit| {
                        let key = (culprit.part.clone(), culprit.cause);
                        let at = shares.of.iter().position(|of| *of == key)?;
                        Some(IfToBlame {
                            part: key.0,
                            cause: key.1,
                            ratio: of(&|blamed| blamed == at),
                        })
                    })
                    .collect(),
                told_nats: so_far.nats(None),
                decided: so_far.decided(),
                bench: setting.clone(),
            }
        })
        .collect();
    Ok(Checklist {
        draws,
        seed,
        before: culprits,
        steps,
    })
}

fn stream(seed: u64, number: usize) -> ChaCha8Rng {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    random.set_stream(number as u64);
    random
}

/// Readings of the same state of the stand one after the other, from the open iris down; states in the order in which they were chosen.
fn in_bench_order(read: &Simulated, chosen: &[usize]) -> Vec<usize> {
    let state = |at: &usize| {
        let setting = BenchSetting {
            na: None,
            ..read.lights[*at].0.clone()
        };
        (read.is_photograph(*at), setting)
    };
    let mut order: Vec<usize> = Vec::new();
    for first in chosen {
        if order.contains(first) {
            continue;
        }
        let mut same: Vec<usize> = (chosen.iter().copied())
            .filter(|at| state(at) == state(first))
            .collect();
        let na = |at: &usize| read.lights[*at].0.na.unwrap_or(f64::INFINITY);
        same.sort_by(|a, b| na(b).total_cmp(&na(a)));
        order.extend(same);
    }
    order
}

/// Every candidate on every stand.
pub(super) struct Simulated {
    /// Logarithm of the parallel light over the light, stand by stand.
    lights: Vec<(BenchSetting, Vec<f64>)>,
    /// The same with the errors of readings, in standard deviations of them. Of photographs, which stand behind, there is nothing here.
    read: Vec<Vec<f64>>,
    /// The shares of the leak of each part and cause, stand by stand.
    share: Vec<Vec<f64>>,
    /// The part and cause that is to blame in each stand.
    blamed: Vec<usize>,
}

impl Simulated {
    pub(super) fn new(
        scene: &Scene,
        unknowns: &Unknowns,
        settings: &[BenchSetting],
        (points, shares): (&[Vec<f64>], &Shares),
        (sd, seed): (f64, u64),
        watch: Watch,
    ) -> Result<Self, FitError> {
        let lights = threads::map(0..settings.len(), |k| {
            // What cannot be run is no candidate.
            let bench = Bench::new(scene, unknowns, &settings[k..=k], Care::Full).ok()?;
            let light = bench.lights.first()?;
            let mut logs = Vec::with_capacity(shares.members.len());
            for member in &shares.members {
                if watch.stop.load(std::sync::atomic::Ordering::Relaxed) {
                    return None;
                }
                logs.push(-math::log(bench.meter(light, &points[*member])));
            }
            // Nor is a setting a candidate that cannot be run in some of the stands, or that leaves no light.
            logs.iter()
                .all(|log| log.is_finite())
                .then(|| (settings[k].clone(), logs))
        });
        if watch.stop.load(std::sync::atomic::Ordering::Relaxed) {
            return Err(SampleError::Stopped.into());
        }
        let lights: Vec<(BenchSetting, Vec<f64>)> = lights.into_iter().flatten().collect();
        let read = (lights.iter().enumerate())
            .map(|(k, (_, logs))| {
                let mut random = stream(seed, points.len() + k);
                logs.iter()
                    .map(|log| {
                        let error: f64 = StandardNormal.sample(&mut random);
                        log / sd + error
                    })
                    .collect()
            })
            .collect();
        Ok(Self {
            lights,
            read,
            share: shares.share.clone(),
            blamed: shares.largest.clone(),
        })
    }

    fn is_photograph(&self, candidate: usize) -> bool {
        candidate >= self.read.len()
    }

    /// Stands that take the place of the true one.
    pub(super) fn trues(&self, most: usize) -> Vec<usize> {
        let many = self.blamed.len();
        (0..many).step_by(many.div_ceil(most).max(1)).collect()
    }

    /// Adds photographs, with the light of their whole disc.
    fn add_photographs(
        &mut self,
        scene: &Scene,
        unknowns: &Unknowns,
        settings: &[BenchSetting],
        (points, shares): (&[Vec<f64>], &Shares),
        watch: Watch,
    ) -> Result<(), FitError> {
        // The errors are of no account here.
        let whole = Self::new(scene, unknowns, settings, (points, shares), (1.0, 0), watch)?;
        self.lights.extend(whole.lights);
        Ok(())
    }
}

/// What every candidate tells in the stands that take the place of the true one, for readings with photographs among them.
struct Exact<'a> {
    around: Around<'a>,
    stands: Vec<usize>,
    told: Vec<Told>,
}

impl<'a> Exact<'a> {
    /// A candidate that cannot be run in one of these stands is none.
    fn new(
        read: &mut Simulated,
        around: Around<'a>,
        stands: Vec<usize>,
        scene: &Scene,
        watch: Watch,
    ) -> Result<Self, FitError> {
        let all = (0..read.lights.len())
            .map(|at| around.told(scene, &read.lights[at].0, read.is_photograph(at), watch))
            .collect::<Result<Vec<Option<Told>>, FitError>>()?;
        let runs = |at: &usize| all[*at].is_some();
        let meters = read.read.len();
        let kept: Vec<usize> = (0..all.len()).filter(runs).collect();
        read.read = (kept.iter().filter(|at| **at < meters))
            .map(|at| std::mem::take(&mut read.read[*at]))
            .collect();
        read.lights = kept.iter().map(|at| read.lights[*at].clone()).collect();
        Ok(Self {
            around,
            stands,
            told: all.into_iter().flatten().collect(),
        })
    }
}

/// What readings leave of the question, for stands that take the place of the true one.
pub(super) struct Knowledge<'a> {
    read: &'a Simulated,
    exact: Option<&'a Exact<'a>>,
    /// The true stands.
    stands: Vec<usize>,
    chosen: Vec<usize>,
    /// Of each true stand, the squared distance of every stand in the chosen readings, in standard deviations.
    distance: Vec<Vec<f64>>,
}

impl<'a> Knowledge<'a> {
    /// Of meter readings alone.
    pub(super) fn new(read: &'a Simulated) -> Self {
        let stands = read.trues(TRUE_STANDS);
        Self {
            read,
            exact: None,
            distance: vec![vec![0.0; read.blamed.len()]; stands.len()],
            stands,
            chosen: Vec::new(),
        }
    }

    /// Of photographs too.
    fn with(read: &'a Simulated, exact: &'a Exact<'a>) -> Self {
        Self {
            exact: Some(exact),
            distance: vec![vec![0.0; read.blamed.len()]; exact.stands.len()],
            stands: exact.stands.clone(),
            ..Self::new(read)
        }
    }

    /// What the best reading tells, the best two, and so on, as long as one more adds to it.
    pub(super) fn curve(mut self, watch: Watch) -> Result<Vec<f64>, FitError> {
        let mut told: Vec<f64> = Vec::new();
        while told.len() < MOST_STEPS {
            if watch.stop.load(std::sync::atomic::Ordering::Relaxed) {
                return Err(SampleError::Stopped.into());
            }
            match self.best() {
                Some((best, nats)) if nats - told.last().unwrap_or(&0.0) >= LEAST_NATS => {
                    self.add(best);
                    told.push(nats);
                }
                _ => break,
            }
        }
        Ok(told)
    }

    fn add(&mut self, reading: usize) {
        if self.read.is_photograph(reading) {
            self.chosen.push(reading);
            return;
        }
        for (distance, stand) in self.distance.iter_mut().zip(&self.stands) {
            let read = &self.read.read[reading];
            for (distance, other) in distance.iter_mut().zip(read) {
                *distance += (other - read[*stand]).powi(2);
            }
        }
        self.chosen.push(reading);
    }

    /// The probabilities that the chosen readings, and one more, leave for each part and cause. The stand that takes the place of the true one is left
    /// out of the stands like it.
    fn left(&self, stand: usize, more: Option<usize>) -> Vec<f64> {
        if let Some(exact) = self.exact
            && (self.chosen.iter().chain(&more)).any(|at| self.read.is_photograph(*at))
        {
            let all = self.chosen.iter().chain(&more);
            let told = all.map(|at| &exact.told[*at][stand]);
            return exact.around.left(stand, told);
        }
        let own = self.stands[stand];
        let mut near: Vec<(f64, usize)> = (self.distance[stand].iter().enumerate())
            .filter(|(other, _)| *other != own)
            .map(|(other, distance)| {
                let off = more.map_or(0.0, |more| {
                    let read = &self.read.read[more];
                    (read[other] - read[own]).powi(2)
                });
                (distance + off, other)
            })
            .collect();
        let alike = ALIKE.min(near.len());
        if alike < 2 {
            return Vec::new();
        }
        near.select_nth_unstable_by(alike - 1, |a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        near.truncate(alike);
        near.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let furthest = near[alike - 1].0.max(f64::MIN_POSITIVE);
        let weights: Vec<f64> = (near.iter())
            .map(|(distance, _)| 1.0 - distance / furthest)
            .collect();
        // Rows: 1 and how far each reading of a like stand lies from the true one's.
        let readings: Vec<&Vec<f64>> = (self.chosen.iter().chain(&more))
            .map(|reading| &self.read.read[*reading])
            .collect();
        let terms = 1 + readings.len();
        let row = |other: usize, term: usize| match term {
            0 => 1.0,
            term => readings[term - 1][other] - readings[term - 1][own],
        };
        let rows = DMatrix::from_fn(alike, terms, |k, term| row(near[k].1, term));
        let shares = DMatrix::from_fn(alike, self.read.share.len(), |k, group| {
            self.read.share[group][near[k].1]
        });
        let weighted = DMatrix::from_fn(alike, terms, |k, term| weights[k] * rows[(k, term)]);
        let mut normal = weighted.transpose() * &rows;
        for term in 0..terms {
            normal[(term, term)] *= 1.0 + RIDGE;
            normal[(term, term)] += f64::MIN_POSITIVE;
        }
        let Some(slopes) =
            Cholesky::new(normal).map(|n| n.solve(&(weighted.transpose() * &shares)))
        else {
            return Vec::new();
        };
        // The shares of stands like the true one, as they would be if their readings were its readings.
        let mut adjusted = shares;
        for term in 1..terms {
            for k in 0..alike {
                for group in 0..adjusted.ncols() {
                    adjusted[(k, group)] -= slopes[(term, group)] * rows[(k, term)];
                }
            }
        }
        let mut left = vec![0.0; adjusted.ncols()];
        for (k, weight) in weights.iter().enumerate() {
            let largest = (0..adjusted.ncols()).reduce(|best, g| {
                if adjusted[(k, g)] > adjusted[(k, best)] {
                    g
                } else {
                    best
                }
            });
            left[largest.unwrap_or(0)] += weight;
        }
        let sum: f64 = weights.iter().sum();
        left.iter_mut().for_each(|part| *part /= sum);
        left
    }

    /// The information in the readings so far and one more, nats.
    fn nats(&self, more: Option<usize>) -> f64 {
        let count = self.read.blamed.len() as f64;
        let each = |stand: usize| {
            let group = self.read.blamed[self.stands[stand]];
            let before = self.read.blamed.iter().filter(|g| **g == group).count() as f64 - 1.0;
            // A cause that none of the like stands shows gets the probability of half a stand: otherwise its logarithm would be infinite.
            let left = self.left(stand, more).get(group).copied().unwrap_or(0.0);
            let left = left.max(0.5 / ALIKE as f64);
            math::log(left / (before / (count - 1.0)).max(0.5 / count))
        };
        let sum: f64 = (0..self.stands.len()).map(each).sum();
        sum / self.stands.len().max(1) as f64
    }

    /// The part of the stands in which a part has become as good as sure.
    fn decided(&self) -> f64 {
        let left = threads::map(0..self.stands.len(), |stand| self.left(stand, None));
        let sure = |left: &&Vec<f64>| left.iter().any(|probability| *probability >= DECIDED);
        left.iter().filter(sure).count() as f64 / self.stands.len().max(1) as f64
    }

    /// The reading to add to those chosen that leaves the readings with most information, and how much.
    fn best(&self) -> Option<(usize, f64)> {
        let all = threads::map(0..self.read.lights.len(), |reading| {
            (reading, self.nats(Some(reading)))
        });
        (all.into_iter())
            .filter(|(reading, _)| !self.chosen.contains(reading))
            .reduce(|best, other| if other.1 > best.1 { other } else { best })
    }
}
