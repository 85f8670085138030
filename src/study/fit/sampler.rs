//! Draws from the distribution of unknown numbers after readings, by sequential Monte Carlo.
//!
//! A population is drawn from the prior and led to the posterior through distributions between them: the likelihood to a power that rises from
//! 0 to 1. Each step of the power keeps half of the effective sample size; then the population is drawn anew by its weights and moved by
//! Metropolis steps. What comes out is a sample in which every mode has its weight, and the evidence, which a search for the best fit has not.
//!
//! Source: P. Del Moral, A. Doucet, A. Jasra, J. R. Stat. Soc. B 68, 411 (2006), sections 2 and 3 (steps, weights, evidence), from memory. Moves
//! (`moves`) take what they need to know from the half of the population that does not move, so that each leaves its target distribution as it is.

use std::sync::atomic::Ordering;

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::{Distribution, StandardUniform};
use thiserror::Error;

use super::moves::{Axes, proposal};
use crate::math;
use crate::study::draws::{Plan, Watch};
use crate::threads;

/// Fewest members: two halves, of which each lends pairs to the other.
const FEWEST: usize = 8;
/// Share of the effective sample size that a step of the power keeps.
const KEEPS: f64 = 0.5;
/// Moves that each member must have made, on average, before the power is raised again, and within how many rounds.
const MOVES: f64 = 6.0;
const MOST_ROUNDS: usize = 80;
/// At the end members move this many times more, so that copies of one part.
const AT_THE_END: f64 = 2.0;
/// Most steps of the power; each keeps half the sample, so that even a likelihood of one member in 10^9 takes 30.
const MOST_STEPS: usize = 500;

/// What is sampled. Points are of one length for one problem.
pub trait Posterior: Sync {
    /// A point of the prior.
    fn draw(&self, random: &mut ChaCha8Rng) -> Vec<f64>;
    /// Logarithm of the prior's density, to a constant; minus infinity where it forbids a point.
    fn log_prior(&self, point: &[f64]) -> f64;
    /// Logarithm of the likelihood; minus infinity or not a number where a point explains nothing.
    fn log_likelihood(&self, point: &[f64]) -> f64;
    /// Logarithm of the likelihood that the population that `sample_on` begins with was drawn by, at a point of this likelihood. The power leads from
    /// the one to the other.
    fn log_before(&self, _point: &[f64], _log_likelihood: f64) -> f64 {
        0.0
    }
}

/// A sample of the posterior, every member of the same weight.
#[derive(Debug, Clone, PartialEq)]
pub struct Population {
    /// The points.
    pub points: Vec<Vec<f64>>,
    /// Their logarithms of the likelihood.
    pub log_likelihood: Vec<f64>,
    /// Logarithm of the evidence: of the likelihood's mean over the prior.
    pub log_evidence: f64,
    /// Powers of the likelihood that were taken, the last one 1.
    pub powers: Vec<f64>,
    /// How often each member moved on average once the whole likelihood counted.
    pub moves: f64,
}

/// Why there is no sample.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum SampleError {
    /// Too few members to lend each other pairs.
    #[error("{0} draws are too few: at least {FEWEST} are needed")]
    TooFew(usize),
    /// No member of the prior explains the readings at all.
    #[error("no stand that the priors allow explains the readings")]
    Impossible,
    /// Stopped from outside.
    #[error("stopped")]
    Stopped,
}

#[derive(Clone)]
struct Member {
    point: Vec<f64>,
    log_prior: f64,
    log_before: f64,
    log_likelihood: f64,
}

impl Member {
    /// What the likelihood gains over the one before.
    fn gain(&self) -> f64 {
        match self.log_likelihood {
            f64::NEG_INFINITY => f64::NEG_INFINITY,
            log => log - self.log_before,
        }
    }

    /// Logarithm of the distribution of a power.
    fn target(&self, power: f64) -> f64 {
        self.log_prior + (1.0 - power) * self.log_before + power * self.log_likelihood
    }
}

/// Draws `plan.draws` points of the posterior.
///
/// Every member has random numbers of its own, so that the answer does not depend on the number of threads. `watch` is told how much of
/// the way is done, in percent.
///
/// # Errors
/// [`SampleError`].
///
/// Checked by: `tests/laws/fit.rs`.
pub fn sample(
    problem: &impl Posterior,
    plan: Plan,
    watch: Watch,
) -> Result<Population, SampleError> {
    let random = Random { seed: plan.seed };
    let draw = |index: usize| problem.draw(&mut random.of(0, index));
    led(problem, draw, plan, watch)
}

/// Leads a population that was drawn by another likelihood, [`Posterior::log_before`], on to this one; where more draws are asked for than it has
/// members, it begins with copies. The evidence is that of both ways together.
///
/// # Errors
/// [`SampleError`].
///
/// Checked by: `tests/laws/fit.rs`.
pub(super) fn sample_on(
    problem: &impl Posterior,
    before: &Population,
    plan: Plan,
    watch: Watch,
) -> Result<Population, SampleError> {
    let draw = |index: usize| before.points[index % before.points.len()].clone();
    let mut population = led(problem, draw, plan, watch)?;
    population.log_evidence += before.log_evidence;
    Ok(population)
}

/// Leads members that are drawn to the whole likelihood.
fn led(
    problem: &impl Posterior,
    draw: impl Fn(usize) -> Vec<f64> + Sync + Send,
    plan: Plan,
    watch: Watch,
) -> Result<Population, SampleError> {
    let count = plan.draws;
    if count < FEWEST {
        return Err(SampleError::TooFew(count));
    }
    let random = Random { seed: plan.seed };
    let mut members = threads::map(0..count, |index| member(problem, draw(index)));
    let (mut power, mut log_evidence, mut powers, mut round) = (0.0, 0.0, Vec::new(), 1);
    let mut moves = 0.0;
    while power < 1.0 {
        if powers.len() == MOST_STEPS
            || members
                .iter()
                .all(|m| m.log_likelihood == f64::NEG_INFINITY)
        {
            return Err(SampleError::Impossible);
        }
        let step = next_step(&members, 1.0 - power);
        let (weights, log_mean) = weights(&members, step);
        power = if step == 1.0 - power {
            1.0
        } else {
            power + step
        };
        powers.push(power);
        log_evidence += log_mean;
        members = drawn_anew(&members, &weights, &mut random.of(round, count));
        let wanted = if power == 1.0 {
            AT_THE_END * MOVES
        } else {
            MOVES
        };
        let mut moved = 0.0;
        for _ in 0..MOST_ROUNDS {
            if watch.stop.load(Ordering::Relaxed) {
                return Err(SampleError::Stopped);
            }
            round += 1;
            moved += move_all(problem, &mut members, power, &random, round);
            if moved >= wanted * count as f64 {
                break;
            }
        }
        moves = moved / count as f64;
        round += 1;
        (watch.progress)(part_done(power, powers[0]));
    }
    let (points, log_likelihood) = (members.into_iter())
        .map(|member| (member.point, member.log_likelihood))
        .unzip();
    Ok(Population {
        points,
        log_likelihood,
        log_evidence,
        powers,
        moves,
    })
}

/// How much of the work is done, in percent, from the power that is reached: its steps are about equally large in its logarithm.
fn part_done(power: f64, first: f64) -> usize {
    match first < 1.0 {
        true => (100.0 * (1.0 - math::log(power) / math::log(first))) as usize,
        false => 100,
    }
}

fn member(problem: &impl Posterior, point: Vec<f64>) -> Member {
    let finite = |value: f64| {
        if value.is_nan() {
            f64::NEG_INFINITY
        } else {
            value
        }
    };
    let log_prior = finite(problem.log_prior(&point));
    let log_likelihood = match log_prior {
        f64::NEG_INFINITY => f64::NEG_INFINITY,
        _ => finite(problem.log_likelihood(&point)),
    };
    let log_before = match log_likelihood {
        f64::NEG_INFINITY => 0.0,
        log => finite(problem.log_before(&point, log)),
    };
    Member {
        point,
        log_prior,
        log_before,
        log_likelihood,
    }
}

/// Random numbers, a stream for each member and round.
struct Random {
    seed: u64,
}

impl Random {
    fn of(&self, round: u64, index: usize) -> ChaCha8Rng {
        let mut random = ChaCha8Rng::seed_from_u64(self.seed);
        random.set_stream(round << 32 | index as u64);
        random
    }
}

/// The step of the power, at most `rest`, that keeps half of the effective sample size.
fn next_step(members: &[Member], rest: f64) -> f64 {
    let enough = |step: f64| {
        let (weights, _) = weights(members, step);
        let sum: f64 = weights.iter().sum();
        let squares: f64 = weights.iter().map(|w| w * w).sum();
        sum * sum / squares >= KEEPS * members.len() as f64
    };
    if enough(rest) {
        return rest;
    }
    // Where less than half of the members explain anything, the first step only leaves out the others.
    let (mut low, mut high) = (math::log(rest) - 60.0, math::log(rest));
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        match enough(math::exp(middle)) {
            true => low = middle,
            false => high = middle,
        }
    }
    math::exp(low)
}

/// Weights of a step of the power, the largest 1, and the logarithm of the mean of the true ones.
fn weights(members: &[Member], step: f64) -> (Vec<f64>, f64) {
    let largest = (members.iter()).fold(f64::NEG_INFINITY, |most, m| most.max(m.gain()));
    let weights: Vec<f64> = (members.iter())
        .map(|m| math::exp(step * (m.gain() - largest)))
        .collect();
    let mean = weights.iter().sum::<f64>() / weights.len() as f64;
    (weights, step * largest + math::log(mean))
}

/// A population drawn by weight: systematic resampling, in the members' order.
fn drawn_anew(members: &[Member], weights: &[f64], random: &mut ChaCha8Rng) -> Vec<Member> {
    let start: f64 = StandardUniform.sample(random);
    let stride = weights.iter().sum::<f64>() / members.len() as f64;
    let (mut passed, mut at) = (weights[0], 0);
    (0..members.len())
        .map(|k| {
            let place = (k as f64 + start) * stride;
            while place >= passed && at + 1 < members.len() {
                at += 1;
                passed += weights[at];
            }
            members[at].clone()
        })
        .collect()
}

/// Moves one half of the population by what the other is like, then the other way round; returns how many members moved.
fn move_all(
    problem: &impl Posterior,
    members: &mut [Member],
    power: f64,
    random: &Random,
    round: u64,
) -> f64 {
    let middle = members.len() / 2;
    let mut moved = 0;
    for first in [true, false] {
        let (low, high) = members.split_at_mut(middle);
        let (moving, lending, from) = match first {
            true => (low, &*high, 0),
            false => (high, &*low, middle),
        };
        let lending: Vec<&[f64]> = lending.iter().map(|member| &member.point[..]).collect();
        let axes = Axes::of(&lending);
        let proposed = threads::map(0..moving.len(), |index| {
            let mut random = random.of(round, from + index);
            let old = &moving[index];
            let to = proposal(&old.point, &lending, axes.as_ref(), &mut random);
            let level: f64 = StandardUniform.sample(&mut random);
            let new = member(problem, to.point);
            let possible = new.log_likelihood > f64::NEG_INFINITY && new.point != old.point;
            let gain = new.target(power) - old.target(power) + to.back;
            (possible && gain >= math::log(level)).then_some(new)
        });
        for (member, new) in moving.iter_mut().zip(proposed) {
            if let Some(new) = new {
                *member = new;
                moved += 1;
            }
        }
    }
    moved as f64
}
