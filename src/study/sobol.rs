//! How much of the variance of a function each of its variables causes.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

use crate::threads;

/// Resamples of the bootstrap.
const RESAMPLES: usize = 400;

/// The most groups of rows that are drawn again.
const MOST_GROUPS: usize = 2000;

/// Resamples that lie outside the interval at either end: 2.5 %.
const OUTSIDE: usize = RESAMPLES / 40;

/// An estimate with its 95 % bootstrap interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The estimate.
    pub value: f64,
    /// Lower end of the interval.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// Sobol indices of one variable. Sampling leaves them a little below 0 or above 1 where they are nearly that.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sobol {
    /// First order: the share of the variance that goes when this variable alone is known.
    pub first: Estimate,
    /// Total: the share that stays when all others are known.
    pub total: Estimate,
}

/// Sobol indices of each variable of a function of independent variables.
///
/// `a` and `b` are its values at two independent samples of all variables, row by row; `mixed[i]` those at the rows of the first
/// sample with variable `i` taken from the second. With V the variance of `a` and `b` together,
///
/// ```text
/// S_i = mean of b (mixed_i - a) / V        T_i = mean of (a - mixed_i)^2 / (2 V)
/// ```
///
/// where the mean of all values is subtracted from `b` first, which only makes the estimate scatter less. The intervals are the middle 95 % of the
/// estimates from rows drawn again with replacement (bootstrap); where there are more than 2000 rows, 2000 groups of neighbouring rows are drawn
/// instead. `seed` names the random numbers. `None` when the lengths differ, or the values are not finite or do not vary.
///
/// Source: A. Saltelli and others 2010, Computer Physics Communications 181, 259, table 2: (b) for S, and (f), which is M. J. W.
/// Jansen's of 1999, for T (from memory).
/// Checked by: `tests/published/sobol.rs`.
#[must_use]
pub fn sobol(a: &[f64], b: &[f64], mixed: &[Vec<f64>], seed: u64) -> Option<Vec<Sobol>> {
    let rows = a.len();
    let good = |values: &[f64]| values.len() == rows && values.iter().all(|v| v.is_finite());
    if !(good(a) && good(b) && mixed.iter().all(|values| good(values))) {
        return None;
    }
    let all = || a.iter().chain(b);
    let mean = all().sum::<f64>() / (2 * rows) as f64;
    let sums = GroupSums::of(a, b, mixed, mean);
    let total = sums.total();
    let variance = variance(&total);
    // Equal values leave the rounding of their mean.
    let rounding = (1e-14 * mean).powi(2);
    if variance.is_nan() || variance <= rounding {
        return None;
    }
    let whole = indices(&total)?;
    let resampled: Vec<Vec<f64>> = threads::map(0..RESAMPLES, |resample| {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        // The streams from the far end: draws take theirs from 0 on.
        random.set_stream(u64::MAX - resample as u64);
        let total = sums.resampled(&mut random);
        indices(&total).unwrap_or_else(|| whole.clone())
    });
    let estimate = |index: usize| {
        let mut values: Vec<f64> = resampled.iter().map(|indices| indices[index]).collect();
        values.sort_by(f64::total_cmp);
        Estimate {
            value: whole[index],
            low: values[OUTSIDE],
            high: values[RESAMPLES - 1 - OUTSIDE],
        }
    };
    Some(
        (0..mixed.len())
            .map(|variable| Sobol {
                first: estimate(2 * variable),
                total: estimate(2 * variable + 1),
            })
            .collect(),
    )
}

/// What each group of rows adds to the sums that the indices are made of: the number of rows, `a + b`, `a^2 + b^2` and, for each
/// variable, the two terms above; `a` and `b` without the mean.
struct GroupSums {
    group: Vec<f64>,
    /// Numbers of a group.
    width: usize,
}

impl GroupSums {
    fn of(a: &[f64], b: &[f64], mixed: &[Vec<f64>], mean: f64) -> Self {
        let (rows, width) = (a.len(), 3 + 2 * mixed.len());
        let groups = rows.min(MOST_GROUPS);
        let mut group = vec![0.0; width * groups];
        let mut row = Vec::with_capacity(width);
        for (index, (a, b)) in a.iter().zip(b).enumerate() {
            let (a, b) = (a - mean, b - mean);
            row.clear();
            row.extend([1.0, a + b, a * a + b * b]);
            for values in mixed {
                let mixed = values[index] - mean;
                row.extend([b * (mixed - a), 0.5 * (a - mixed) * (a - mixed)]);
            }
            let start = index * groups / rows * width;
            add(&mut group[start..start + width], &row);
        }
        Self { group, width }
    }

    fn total(&self) -> Vec<f64> {
        let mut total = vec![0.0; self.width];
        for group in self.group.chunks_exact(self.width) {
            add(&mut total, group);
        }
        total
    }

    /// The sum of as many groups, drawn with replacement.
    fn resampled(&self, random: &mut ChaCha8Rng) -> Vec<f64> {
        let mut total = vec![0.0; self.width];
        let groups = self.group.len() / self.width;
        for _ in 0..groups {
            // A number below 2^64 times the number of groups, in whole 2^64.
            let wide = u128::from(random.next_u64()) * groups as u128;
            let start = (wide >> 64) as usize * self.width;
            add(&mut total, &self.group[start..start + self.width]);
        }
        total
    }
}

fn variance(total: &[f64]) -> f64 {
    let values = 2.0 * total[0];
    total[2] / values - (total[1] / values).powi(2)
}

/// First order and total of each variable in turn; `None` without variance.
fn indices(total: &[f64]) -> Option<Vec<f64>> {
    let variance = variance(total);
    let scale = total[0] * variance;
    (variance > 0.0).then(|| total[3..].iter().map(|sum| sum / scale).collect())
}

fn add(total: &mut [f64], row: &[f64]) {
    for (total, number) in total.iter_mut().zip(row) {
        *total += number;
    }
}
