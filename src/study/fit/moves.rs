//! Where a member of a population may go next, seen from the half of the population that does not move.
//!
//! Readings often tell of two numbers nothing but their sum: stands then lie on a ridge, long and a thousand times narrower. So most moves are made along
//! the principal axes of the lending half ([`Axes`]), each scaled to its spread. The axes do not depend on the member that moves, so that a move which is
//! symmetric along them, or reversible about the normal distribution of the lending half, keeps the target distribution.
//!
//! Sources: C. J. F. ter Braak, Stat. Comput. 16, 239 (2006), equation 2 (moves by differences of two others, now and then by a whole difference, which
//! leads from mode to mode); R. M. Neal, in Bayesian Statistics 6, 475 (1999), section 5 (moves of any length that are reversible about a normal
//! distribution). Both from memory.

use std::f64::consts::FRAC_PI_2;

use nalgebra::{DMatrix, DVector, SymmetricEigen};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal, StandardUniform};

use crate::math;

/// Parts of the moves: about the normal distribution, along one axis, and along all axes by a difference of two lenders. The rest are by a difference of
/// the numbers themselves.
const ABOUT: f64 = 0.4;
const ONE_AXIS: f64 = 0.2;
const ALL_AXES: f64 = 0.2;
/// Of the rest, the part that takes a whole difference.
const WHOLE: f64 = 0.5;
/// Besides, the rest stray by this fraction of the difference, so that a population whose members lie on one line can leave it.
const STRAY: f64 = 0.05;
/// How much wider than the lending half the normal distribution is: stands in its tails are then left again.
const WIDER: f64 = 1.1;
/// Lenders that the axes are made of, at most.
const LENDERS: usize = 800;
/// An axis that is shorter than this part of the longest is lost in the last digits.
const SHORTEST: f64 = 1e-7;

/// Principal axes of points whose numbers are each scaled to spread 1.
pub(super) struct Axes {
    mean: DVector<f64>,
    /// From a point, less the mean, to the axes, and back.
    there: DMatrix<f64>,
    back: DMatrix<f64>,
}

impl Axes {
    /// `None` where points are too few, or lie in fewer directions than they have numbers.
    pub(super) fn of(points: &[&[f64]]) -> Option<Self> {
        let width = points.first()?.len();
        let stride = points.len().div_ceil(LENDERS).max(1);
        let some: Vec<&[f64]> = points.iter().step_by(stride).copied().collect();
        if some.len() < 2 * (width + 1) {
            return None;
        }
        let count = some.len() as f64;
        let over_all = |of: &dyn Fn(&[f64]) -> f64| some.iter().map(|p| of(p)).sum::<f64>() / count;
        let mean = DVector::from_fn(width, |k, _| over_all(&|p| p[k]));
        let size = DVector::from_fn(width, |k, _| over_all(&|p| (p[k] - mean[k]).powi(2)).sqrt());
        if !size.iter().all(|size| *size > 0.0 && size.is_finite()) {
            return None;
        }
        let scaled = DMatrix::from_fn(width, some.len(), |k, at| (some[at][k] - mean[k]) / size[k]);
        let covariance = &scaled * scaled.transpose() / count;
        let found = SymmetricEigen::try_new(covariance, f64::EPSILON, 1000)?;
        let longest = found.eigenvalues.max();
        let shortest = found.eigenvalues.min();
        if shortest.is_nan() || shortest < SHORTEST * SHORTEST * longest {
            return None;
        }
        let vectors = &found.eigenvectors;
        let length = |axis: usize| found.eigenvalues[axis].sqrt();
        Some(Self {
            there: DMatrix::from_fn(width, width, |axis, k| {
                vectors[(k, axis)] / (length(axis) * size[k])
            }),
            back: DMatrix::from_fn(width, width, |k, axis| {
                vectors[(k, axis)] * length(axis) * size[k]
            }),
            mean,
        })
    }

    /// A point along the axes.
    fn along(&self, point: &[f64]) -> DVector<f64> {
        &self.there * (DVector::from_column_slice(point) - &self.mean)
    }

    /// A point moved by so much along the axes.
    fn moved(&self, point: &[f64], by: &DVector<f64>) -> Vec<f64> {
        let off = &self.back * by;
        point.iter().zip(&off).map(|(x, off)| x + off).collect()
    }
}

/// A place that a member may go to.
pub(super) struct Proposal {
    pub(super) point: Vec<f64>,
    /// By how much, in the logarithm, the way back is proposed more often than the way there.
    pub(super) back: f64,
}

/// Where a point may go.
pub(super) fn proposal(
    point: &[f64],
    lending: &[&[f64]],
    axes: Option<&Axes>,
    random: &mut ChaCha8Rng,
) -> Proposal {
    let kind = uniform(random);
    match axes {
        Some(axes) if kind < ABOUT => about_normal(point, axes, random),
        Some(axes) if kind < ABOUT + ONE_AXIS + ALL_AXES => {
            let (one, other) = pair(lending, random);
            let difference = DVector::from_iterator(
                point.len(),
                one.iter().zip(other).map(|(one, other)| one - other),
            );
            let mut by = &axes.there * difference;
            let factor = match kind < ABOUT + ONE_AXIS {
                true => {
                    let kept = below(point.len(), random);
                    for (axis, along) in by.iter_mut().enumerate() {
                        if axis != kept {
                            *along = 0.0;
                        }
                    }
                    length(1, random)
                }
                false => length(point.len(), random),
            };
            Proposal {
                point: axes.moved(point, &(by * factor)),
                back: 0.0,
            }
        }
        _ => {
            let (one, other) = pair(lending, random);
            let factor = match uniform(random) < WHOLE {
                true => 1.0,
                false => length(point.len(), random),
            };
            let moved = (point.iter().zip(one.iter().zip(other)))
                .map(|(x, (a, b))| x + factor * (a - b) * (1.0 + STRAY * normal(random)));
            Proposal {
                point: moved.collect(),
                back: 0.0,
            }
        }
    }
}

/// From a point toward a draw of the normal distribution, by any part of the way: without readings it would leave that distribution as it is.
fn about_normal(point: &[f64], axes: &Axes, random: &mut ChaCha8Rng) -> Proposal {
    let from = axes.along(point);
    let (sin, cos) = math::sincos(FRAC_PI_2 * uniform(random));
    let to = from.map(|along| cos * along + sin * WIDER * normal(random));
    let log_normal = |at: &DVector<f64>| -0.5 * at.norm_squared() / (WIDER * WIDER);
    Proposal {
        back: log_normal(&from) - log_normal(&to),
        point: axes.moved(point, &(to - from)),
    }
}

fn uniform(random: &mut ChaCha8Rng) -> f64 {
    StandardUniform.sample(random)
}

fn normal(random: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(random)
}

/// A whole number below another.
fn below(count: usize, random: &mut ChaCha8Rng) -> usize {
    ((uniform(random) * count as f64) as usize).min(count - 1)
}

/// Two lenders, of which the second is another than the first.
fn pair<'a>(lending: &[&'a [f64]], random: &mut ChaCha8Rng) -> (&'a [f64], &'a [f64]) {
    let one = below(lending.len(), random);
    let other = (one + 1 + below(lending.len() - 1, random)) % lending.len();
    (lending[one], lending[other])
}

/// The length of a move is drawn between a small one and the usual 2.38/sqrt(2 d): in narrow valleys only small moves are accepted.
fn length(axes: usize, random: &mut ChaCha8Rng) -> f64 {
    2.38 / (2.0 * axes as f64).sqrt() * uniform(random).sqrt()
}
