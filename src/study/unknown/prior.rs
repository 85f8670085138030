//! What one number may be before anything is read.

use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal, StandardUniform};
use statrs::distribution::{ContinuousCDF, Normal as StandardNormalCdf};

use crate::math;

/// How many standard deviations a 90 % interval reaches to either side of a normal distribution's middle.
pub const SIGMAS_OF_90: f64 = 1.644_853_626_951_472_2;

/// The distribution of one sampled number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Prior {
    /// Normal, or what of a normal distribution lies above an end.
    Normal {
        /// Its middle.
        mean: f64,
        /// Its standard deviation, above 0.
        sd: f64,
        /// Nothing lies below this; minus infinity where there is no end.
        low: f64,
    },
    /// The same everywhere between two ends.
    Uniform {
        /// Lower end.
        low: f64,
        /// Upper end, above the lower.
        high: f64,
    },
}

impl Prior {
    /// A whole normal distribution.
    #[must_use]
    pub fn normal(mean: f64, sd: f64) -> Self {
        let low = f64::NEG_INFINITY;
        Self::Normal { mean, sd, low }
    }

    /// The same above an end.
    #[must_use]
    pub fn above(self, end: f64) -> Self {
        match self {
            Self::Normal { mean, sd, low } => Self::Normal {
                mean,
                sd,
                low: low.max(end),
            },
            Self::Uniform { low, high } => Self::Uniform {
                low: low.max(end),
                high,
            },
        }
    }

    /// Normal in the logarithm, for a number that is known up to a factor: 90 % lie between `value / factor` and `value * factor`.
    #[must_use]
    pub fn within_a_factor(value: f64, factor: f64) -> Self {
        Self::normal(math::log(value), math::log(factor) / SIGMAS_OF_90)
    }

    /// One draw.
    pub(crate) fn draw(&self, random: &mut ChaCha8Rng) -> f64 {
        match *self {
            Self::Normal { mean, sd, low } if low == f64::NEG_INFINITY => {
                let off: f64 = StandardNormal.sample(random);
                mean + sd * off
            }
            _ => {
                let part: f64 = StandardUniform.sample(random);
                self.quantile(part)
            }
        }
    }

    /// Logarithm of the density, to a constant; minus infinity where it forbids the value.
    pub(crate) fn log_density(&self, value: f64) -> f64 {
        match *self {
            Self::Normal { mean, sd, low } if value >= low => -0.5 * ((value - mean) / sd).powi(2),
            Self::Uniform { low, high } if (low..=high).contains(&value) => 0.0,
            _ => f64::NEG_INFINITY,
        }
    }

    /// The value below which a part of the draws lie.
    #[must_use]
    pub fn quantile(&self, part: f64) -> f64 {
        match *self {
            Self::Normal { mean, sd, low } => {
                let Ok(normal) = StandardNormalCdf::new(0.0, 1.0) else {
                    return mean;
                };
                let below = normal.cdf((low - mean) / sd);
                let value = mean + sd * normal.inverse_cdf(below + part * (1.0 - below));
                value.max(low)
            }
            Self::Uniform { low, high } => low + part * (high - low),
        }
    }

    /// Middle and standard deviation.
    #[must_use]
    pub fn mean_and_sd(&self) -> (f64, f64) {
        match *self {
            Self::Normal { .. } => {
                let [low, middle, high] =
                    [0.158_655_25, 0.5, 0.841_344_75].map(|p| self.quantile(p));
                (middle, 0.5 * (high - low))
            }
            Self::Uniform { low, high } => (0.5 * (low + high), (high - low) / 12f64.sqrt()),
        }
    }
}
