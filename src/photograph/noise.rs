//! The noise of a zone's pixels, from neighbours in a row: what differs slowly over the zone is not noise.

use super::curve::eight_bit_step;
use super::decode::Depth;
use super::merge::Merged;

/// The standard deviation of rounding to whole counts, in counts: 1 over the root of 12.
pub(super) const ROUNDING: f64 = 0.29;

/// Sums over the pixels of a zone.
#[derive(Clone, Copy, Default)]
pub(super) struct PixelNoise {
    sum: f64,
    squares: f64,
    differences: f64,
}

impl PixelNoise {
    pub(super) const NONE: Self = Self {
        sum: 0.0,
        squares: 0.0,
        differences: 0.0,
    };

    /// Adds a pixel.
    #[inline]
    pub(super) fn add(&mut self, value: f64) {
        self.sum += value;
        self.squares += value * value;
    }

    /// Adds what a pixel and its neighbour to the left differ by.
    #[inline]
    pub(super) fn add_pair(&mut self, value: f64, left: f64) {
        self.differences += (value - left) * (value - left);
    }

    pub(super) fn join(&mut self, other: &Self) {
        self.sum += other.sum;
        self.squares += other.squares;
        self.differences += other.differences;
    }

    /// Takes away what is in another sum.
    pub(super) fn take(&mut self, other: &Self) {
        self.sum -= other.sum;
        self.squares -= other.squares;
        self.differences -= other.differences;
    }

    /// The mean of so many pixels, 0 of none.
    pub(super) fn mean(&self, count: usize) -> f64 {
        self.sum / count.max(1) as f64
    }

    /// The variance of one pixel: half the mean square difference of so many pairs of neighbours; the plain variance where there is no pair.
    pub(super) fn variance(&self, count: usize, pairs: usize) -> f64 {
        if pairs > 0 {
            return 0.5 * self.differences / pairs as f64;
        }
        let mean = self.mean(count);
        (self.squares / count.max(1) as f64 - mean * mean).max(0.0)
    }
}

/// What rounding to whole counts adds to the square of the relative error, where the noise is too small to smooth the steps.
pub(super) fn quantisation(crossed: &Merged, mean: f64, noise: f64) -> f64 {
    let step = match crossed.header.depth {
        Depth::Sixteen => crossed.step_counts / Depth::Sixteen.full_scale(),
        Depth::Eight => eight_bit_step(mean * crossed.longest_exposure()),
        Depth::Float => 0.0,
    };
    let step = step / crossed.whole_exposure();
    if noise >= 0.5 * step {
        return 0.0;
    }
    let share = ROUNDING * step / mean;
    share * share
}
