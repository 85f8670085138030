//! Where a target is first missed on the way from a start.

use std::f64::consts::FRAC_PI_2;

use super::super::vary::strain_of;
use crate::light_path::LightPath;
use crate::math;

use super::super::StudyError;
use super::super::quantity::Quantity;
use super::super::root::root;

/// A value beyond which a target is missed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Limit {
    /// There is none: the target is missed from the start.
    Missed,
    /// Here.
    At {
        /// The value.
        value: f64,
        /// What the quadrature leaves open.
        uncertainty: f64,
    },
    /// There is none up to this value.
    Beyond(f64),
}

impl Limit {
    /// The value, where there is a limit.
    #[must_use]
    pub fn value(&self) -> Option<f64> {
        match *self {
            Self::At { value, .. } => Some(value),
            _ => None,
        }
    }

    /// Limits in the order of what they tolerate.
    pub(super) fn order(&self) -> f64 {
        match *self {
            Self::Missed => 0.0,
            Self::At { value, .. } => value,
            Self::Beyond(_) => f64::INFINITY,
        }
    }
}

/// Where a function of the distance falls below 1 first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum FirstMiss {
    AtOnce,
    At(f64),
    /// Its least value on the way.
    Never(f64),
}

/// A limit is found exactly where the target is met 1 times over to within this fraction.
pub(super) const EXACT: f64 = 1e-13;

/// Two neighbouring distances between which a function falls below 1, each with the function's value there; or that it does so at once, or never.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Bracket {
    AtOnce,
    Between((f64, f64), (f64, f64)),
    Never(f64),
}

/// Growth of the steps on the way.
const GROWTH: f64 = 1.15;

/// How far a search goes from its start: the first step, the longest one, and the end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct SearchSpan {
    pub(super) first: f64,
    pub(super) longest: f64,
    pub(super) end: f64,
}

impl SearchSpan {
    /// For path differences, to half a wave of the shortest light.
    pub(super) fn path_difference(shortest_nm: f64) -> Self {
        Self {
            first: 0.01,
            longest: 4.0,
            end: 0.5 * shortest_nm,
        }
    }

    /// For an azimuth, to a quarter turn.
    pub(super) fn azimuth() -> Self {
        Self {
            first: 1e-5,
            longest: 2f64.to_radians(),
            end: FRAC_PI_2,
        }
    }

    /// For the azimuth of a strain that looks the same again after a period, to half of it.
    pub(super) fn turn(period_rad: f64) -> Self {
        Self {
            first: 0.2f64.to_radians(),
            longest: 3f64.to_radians(),
            end: 0.5 * period_rad,
        }
    }

    /// For the stray fraction, to all the light.
    pub(super) fn fraction() -> Self {
        Self {
            first: 1e-9,
            longest: 0.05,
            end: 1.0,
        }
    }

    /// The first eighth of the span, where most limits are.
    pub(super) fn start(self) -> Self {
        self.up_to(0.125 * self.end)
    }

    /// The same span, ended at `end` where it would go farther.
    pub(super) fn up_to(self, end: f64) -> Self {
        Self {
            end: self.end.min(end),
            ..self
        }
    }

    /// Distances that are tried one after the other; a region of misses narrower than a step can be passed over.
    fn steps(self) -> impl Iterator<Item = f64> {
        let mut next = Some(self.first.min(self.end));
        std::iter::from_fn(move || {
            let here = next?;
            let ahead = here + ((GROWTH - 1.0) * here).min(self.longest);
            next = (here < self.end).then(|| ahead.min(self.end));
            Some(here)
        })
    }

    /// Where `times`, a function of the distance, first falls below 1.
    pub(super) fn first_miss(
        self,
        times: impl Fn(f64) -> Result<f64, StudyError>,
    ) -> Result<FirstMiss, StudyError> {
        Ok(match self.bracket(&times)? {
            Bracket::AtOnce => FirstMiss::AtOnce,
            Bracket::Between(met, missed) => FirstMiss::At(border(met, missed, EXACT, times)?),
            Bracket::Never(least) => FirstMiss::Never(least),
        })
    }

    /// The two steps between which `times` first falls below 1.
    pub(super) fn bracket(
        self,
        times: impl Fn(f64) -> Result<f64, StudyError>,
    ) -> Result<Bracket, StudyError> {
        let mut met = (0.0, times(0.0)?);
        if met.1 < 1.0 {
            return Ok(Bracket::AtOnce);
        }
        let mut least = met.1;
        for distance in self.steps() {
            let here = (distance, times(distance)?);
            if here.1 < 1.0 {
                return Ok(Bracket::Between(met, here));
            }
            least = least.min(here.1);
            met = here;
        }
        Ok(Bracket::Never(least))
    }
}

/// Where `times` crosses 1 between a distance at which the target is met and one at which it is missed, each given with the value of `times` there.
/// The answer is good when `times` is within `exact` of 1.
pub(super) fn border(
    (met, at_met): (f64, f64),
    (missed, at_missed): (f64, f64),
    exact: f64,
    times: impl Fn(f64) -> Result<f64, StudyError>,
) -> Result<f64, StudyError> {
    root(
        (met, math::log(at_met)),
        (missed, math::log(at_missed)),
        exact,
        |distance| Ok(math::log(times(distance)?)),
    )
}

/// The uncertainty that an error of the light leaves in a limit: the relative error of `times` divided by the slope of its logarithm.
pub(super) fn uncertainty(
    at: f64,
    scale: f64,
    relative_error: f64,
    times: impl Fn(f64) -> Result<f64, StudyError>,
) -> Result<f64, StudyError> {
    let step = 1e-4 * scale;
    let slope = math::log(times(at + step)? / times(at - step)?) / (2.0 * step);
    let open = (relative_error / slope).abs();
    // Before a background without light there is no slope and no error.
    Ok(if open.is_finite() { open } else { 0.0 })
}

/// The smallest turn after which a strain looks the same again, radians; `None` for a strain without an azimuth.
pub(super) fn period_rad(path: &LightPath, quantity: Quantity) -> Option<f64> {
    strain_of(path, quantity)?.period_rad()
}
