//! What a sample says about the distribution it was drawn from.

use serde::Serialize;
use statrs::distribution::{Binomial, DiscreteCDF};

use crate::math;

/// The standard normal distribution has 97.5 % below this.
const NORMAL_97_5: f64 = 1.959_963_984_540_054;

/// The most bins of a histogram; no more than twice the square root of the number of draws, and no fewer than 5.
const MOST_BINS: f64 = 40.0;

/// Widths of bins that are tried, narrowest first.
const WIDTHS: [f64; 14] = [
    1e-4, 2e-4, 5e-4, 1e-3, 2e-3, 5e-3, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0,
];

/// A percentile of the extinction ratio with its 95 % confidence interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Percentile {
    /// Which one.
    pub percent: f64,
    /// The least ratio that at least so many percent of the draws do not exceed.
    pub ratio: f64,
    /// Lower end of the interval; 0 where the draws are too few to set one.
    pub low: f64,
    /// Upper end; infinite where the draws are too few.
    pub high: f64,
}

impl Percentile {
    /// Of values in ascending order, at least one. The ends of the interval are two of these values. It holds whatever the distribution of the values
    /// is, because the number of values below the true percentile has a binomial distribution.
    ///
    /// Source: H. A. David and H. N. Nagaraja, Order Statistics, section 7.1 (from memory).
    /// Checked by: `tests/laws/draws.rs`.
    #[must_use]
    pub fn of(sorted: &[f64], percent: f64) -> Self {
        let (count, fraction) = (sorted.len(), percent / 100.0);
        // A hair less: 5 % of 100 draws are 5, and 0.05 times 100 is more.
        let rank = ((fraction * count as f64 - 1e-9).ceil() as usize).clamp(1, count);
        let (mut low, mut high) = (0.0, f64::INFINITY);
        if let Ok(below) = Binomial::new(fraction, count as u64) {
            let reached = |probability| below.inverse_cdf(probability) as usize;
            if let Some(rank) = reached(0.025).checked_sub(1) {
                low = sorted[rank.min(count - 1)];
            }
            if let Some(&value) = sorted.get(reached(0.975)) {
                high = value;
            }
        }
        Self {
            percent,
            ratio: sorted[rank - 1],
            low,
            high,
        }
    }
}

/// Wilson's 95 % interval of a probability, when `met` of `count` cases have met the condition.
///
/// Source: E. B. Wilson 1927, Journal of the American Statistical Association 22, 209 (from memory).
/// Checked by: `tests/laws/draws.rs`.
#[must_use]
pub fn wilson(met: usize, count: usize) -> (f64, f64) {
    let (n, z2) = (count.max(1) as f64, NORMAL_97_5 * NORMAL_97_5);
    let p = met as f64 / n;
    let middle = p + 0.5 * z2 / n;
    let reach = NORMAL_97_5 * (p * (1.0 - p) / n + 0.25 * z2 / (n * n)).sqrt();
    let scale = 1.0 + z2 / n;
    // Exactly 0 and 1 where no case, or every one, is met.
    let low = if met == 0 {
        0.0
    } else {
        (middle - reach) / scale
    };
    let high = if met >= count {
        1.0
    } else {
        (middle + reach) / scale
    };
    (low, high)
}

/// How many ratios lie in bins of equal width in the logarithm to base 10.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Histogram {
    /// Logarithm of the first bin's lower edge, a whole multiple of the width.
    pub first_log10: f64,
    /// Width of a bin.
    pub width_log10: f64,
    /// How many lie in each bin, its lower edge included.
    pub counts: Vec<usize>,
}

impl Histogram {
    /// Of those ratios that are finite and positive; `None` when there are none. The width is the narrowest of a 1-2-5 series that needs no more
    /// than 40 bins, and no more than twice the square root of the number of ratios.
    #[must_use]
    pub fn of(ratios: &[f64]) -> Option<Self> {
        let logs: Vec<f64> = (ratios.iter().map(|ratio| math::log10(*ratio)))
            .filter(|log| log.is_finite())
            .collect();
        let least = logs.iter().copied().reduce(f64::min)?;
        let most = logs.iter().copied().reduce(f64::max)?;
        let bins = |width: f64| (most / width).floor() - (least / width).floor() + 1.0;
        let most_bins = (2.0 * (logs.len() as f64).sqrt()).clamp(5.0, MOST_BINS);
        let few = |width: &f64| bins(*width) <= most_bins;
        // Ratios of doubles span at most 640 decades.
        let width_log10 = WIDTHS.into_iter().find(few).unwrap_or(20.0);
        let first = (least / width_log10).floor();
        let mut counts = vec![0; bins(width_log10) as usize];
        for log in logs {
            counts[((log / width_log10).floor() - first) as usize] += 1;
        }
        Some(Self {
            first_log10: first * width_log10,
            width_log10,
            counts,
        })
    }
}
