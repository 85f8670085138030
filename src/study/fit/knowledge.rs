//! What readings that could be taken would leave of the question which part is to blame, in stands that take the place of the true one.

use nalgebra::{Cholesky, DMatrix};

use super::around::{Around, Told};
use super::simulated::Simulated;
use super::{FitError, SampleError};
use crate::math;
use crate::scene::Scene;
use crate::study::draws::Watch;
use crate::threads;

/// How many stands take the place of the true one, and how many where photographs are among the candidates.
const TRUE_STANDS: usize = 300;
pub(super) const TRUE_STANDS_OF_PHOTOGRAPHS: usize = 150;
/// How many stands are taken to be like the true one: those whose readings are nearest to its readings.
const ALIKE: usize = 120;
/// Added to the diagonal of the normal equations, relatively.
const RIDGE: f64 = 1e-6;
/// A part that has this probability after the readings is the one to blame.
const DECIDED: f64 = 0.9;
/// Readings are chosen until the next one would add less information than this (nats), or until there are this many.
pub(super) const LEAST_NATS: f64 = 0.02;
pub(super) const MOST_STEPS: usize = 10;

/// What every candidate tells in the stands that take the place of the true one, for readings with photographs among them.
pub(super) struct Exact<'a> {
    around: Around<'a>,
    stands: Vec<usize>,
    told: Vec<Told>,
}

impl<'a> Exact<'a> {
    /// A candidate that cannot be run in one of these stands is none.
    pub(super) fn new(
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
    /// The readings that were chosen.
    pub(super) chosen: Vec<usize>,
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
    pub(super) fn with(read: &'a Simulated, exact: &'a Exact<'a>) -> Self {
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

    /// Chooses a reading.
    pub(super) fn add(&mut self, reading: usize) {
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
    pub(super) fn nats(&self, more: Option<usize>) -> f64 {
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
    pub(super) fn decided(&self) -> f64 {
        let left = threads::map(0..self.stands.len(), |stand| self.left(stand, None));
        let sure = |left: &&Vec<f64>| left.iter().any(|probability| *probability >= DECIDED);
        left.iter().filter(sure).count() as f64 / self.stands.len().max(1) as f64
    }

    /// The reading to add to those chosen that leaves the readings with most information, and how much.
    pub(super) fn best(&self) -> Option<(usize, f64)> {
        let all = threads::map(0..self.read.lights.len(), |reading| {
            (reading, self.nats(Some(reading)))
        });
        (all.into_iter())
            .filter(|(reading, _)| !self.chosen.contains(reading))
            .reduce(|best, other| if other.1 > best.1 { other } else { best })
    }
}
