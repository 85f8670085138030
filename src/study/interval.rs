//! The interval that an answer is told with.
//!
//! ```
//! use polstack::study::interval::Interval;
//! let sample: Vec<f64> = (0..=100).map(f64::from).collect();
//! let of = Interval::of(&sample);
//! assert_eq!((of.low, of.median, of.high), (5.0, 50.0, 95.0));
//! ```

use serde::Serialize;

/// Ends of the interval: 90 % lie between.
pub(super) const ENDS: (f64, f64) = (0.05, 0.95);

/// Median and 90 % interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Interval {
    /// The 5th percentile.
    pub low: f64,
    /// The middle.
    pub median: f64,
    /// The 95th percentile.
    pub high: f64,
}

impl Interval {
    /// Of a sample, linear between its values; not numbers without one.
    #[must_use]
    pub fn of(sample: &[f64]) -> Self {
        let mut sorted = sample.to_vec();
        sorted.sort_by(f64::total_cmp);
        Self {
            low: quantile(&sorted, ENDS.0),
            median: quantile(&sorted, 0.5),
            high: quantile(&sorted, ENDS.1),
        }
    }

    /// Its width.
    #[must_use]
    pub fn width(&self) -> f64 {
        self.high - self.low
    }
}

fn quantile(sorted: &[f64], part: f64) -> f64 {
    let Some(last) = sorted.len().checked_sub(1) else {
        return f64::NAN;
    };
    let place = part * last as f64;
    let below = place.floor() as usize;
    let above = (below + 1).min(last);
    sorted[below] + (place - below as f64) * (sorted[above] - sorted[below])
}
