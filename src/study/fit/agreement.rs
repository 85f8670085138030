//! How far populations that were drawn independently of each other agree, and so what the answer rests on.

use super::Population;
use super::blame::{BlameShare, Shares};
use crate::study::draws::Plan;

/// As many populations share the members, as long as each has so many.
const MOST: usize = 4;
const FEWEST: usize = 2;
const MEMBERS: usize = 250;

/// The plans of populations that have `plan.draws` members together.
pub(super) fn plans(plan: Plan) -> Vec<Plan> {
    shared_out(plan, (plan.draws / MEMBERS).clamp(FEWEST, MOST))
}

/// The same for so many populations.
pub(super) fn shared_out(plan: Plan, count: usize) -> Vec<Plan> {
    (0..count as u64)
        .map(|number| Plan {
            draws: plan.draws.div_ceil(count),
            // Far from the seeds that a user is likely to give.
            seed: plan.seed ^ number.wrapping_mul(0x9e37_79b9_7f4a_7c15),
        })
        .collect()
}

/// All populations as one, and which of its members belong to each.
pub(super) fn joined(populations: &[Population]) -> (Population, Vec<usize>) {
    let count = populations.len() as f64;
    let evidence: Vec<f64> = populations.iter().map(|of| of.log_evidence).collect();
    let mut all = Population {
        points: Vec::new(),
        log_likelihood: Vec::new(),
        log_evidence: mean_of_logarithms(&evidence),
        powers: Vec::new(),
        moves: populations.iter().map(|of| of.moves).sum::<f64>() / count,
    };
    let mut belongs = Vec::new();
    for (number, of) in populations.iter().enumerate() {
        all.points.extend_from_slice(&of.points);
        all.log_likelihood.extend_from_slice(&of.log_likelihood);
        all.powers.extend_from_slice(&of.powers);
        belongs.resize(all.points.len(), number);
    }
    (all, belongs)
}

/// Logarithm of the mean of numbers that are given by their logarithms.
fn mean_of_logarithms(logarithms: &[f64]) -> f64 {
    let largest = logarithms.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let sum: f64 = (logarithms.iter())
        .map(|log| crate::math::exp(log - largest))
        .sum();
    largest + crate::math::log(sum / logarithms.len() as f64)
}

/// As many independent draws would tell the mean of each sampled number as well as the populations do, of the number that is told worst.
///
/// The variance of the populations' means against the variance within them: A. Gelman et al., Bayesian Data Analysis, third edition, section 11.4 (from
/// memory). With so few populations it is known to a factor of about two, and the worst of many numbers looks worse than it is.
pub(super) fn independent_draws(points: &[Vec<f64>], belongs: &[usize]) -> usize {
    let members = points.len() as f64;
    let width = points.first().map_or(0, Vec::len);
    let count = belongs.last().map_or(0, |last| last + 1);
    let worst = (0..width)
        .map(|k| {
            let values: Vec<Vec<f64>> = (0..count)
                .map(|population| {
                    (points.iter().zip(belongs))
                        .filter(|(_, belongs)| **belongs == population)
                        .map(|(point, _)| point[k])
                        .collect()
                })
                .collect();
            let means: Vec<f64> = values.iter().map(|values| mean(values)).collect();
            let within: Vec<f64> = values.iter().map(|values| variance(values)).collect();
            let between = variance(&means) / count as f64;
            match between > 0.0 {
                true => mean(&within) / between,
                false => members,
            }
        })
        .fold(members, f64::min);
    worst.max(1.0) as usize
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

fn variance(values: &[f64]) -> f64 {
    let middle = mean(values);
    let squares: f64 = values.iter().map(|value| (value - middle).powi(2)).sum();
    squares / (values.len() as f64 - 1.0).max(1.0)
}

/// Of each population, how often each of the blamed is the largest, in the order of `blame`.
pub(super) fn blame_by_population(
    shares: &Shares,
    blame: &[BlameShare],
    belongs: &[usize],
) -> Vec<Vec<f64>> {
    let count = belongs.last().map_or(0, |last| last + 1);
    let mut often = vec![vec![0.0; blame.len()]; count];
    for (&member, &largest) in shares.members.iter().zip(&shares.largest) {
        let (part, cause) = &shares.of[largest];
        let of = blame
            .iter()
            .position(|of| of.part == *part && of.cause == *cause);
        if let Some(of) = of {
            often[belongs[member]][of] += 1.0;
        }
    }
    for row in &mut often {
        let all: f64 = row.iter().sum();
        row.iter_mut().for_each(|often| *often /= all.max(1.0));
    }
    often
}
