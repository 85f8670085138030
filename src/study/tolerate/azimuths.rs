//! A strain's limit over its azimuth: the worst, the best, and what most azimuths tolerate.

use std::f64::consts::PI;

use crate::light_path::LightPath;
use crate::math;
use crate::optics::Rays;
use crate::threads;

use super::super::StudyError;
use super::super::measures::ACCURACY;
use super::super::quantity::{Quantity, QuantityKind};
use super::super::stage::golden;
use super::super::vary::Profile;
use super::ROUGH;
use super::judge::{Judge, Wanted};
use super::search::{
    Bracket, EXACT, FirstMiss, Limit, SearchSpan, border, period_rad, uncertainty,
};
use super::spread::quantile;

/// How the worst and the best azimuth of a strain are searched.
struct Sampling {
    /// Azimuths, equally spaced over the strain's period, whose limit is found.
    azimuths: usize,
    /// How many times the interval around the worst, and around the best, of these azimuths is then made narrower (golden section).
    narrowings: usize,
}

/// For a uniform strain: its light is tabulated over amount and azimuth together, so that one azimuth costs little.
const UNIFORM: Sampling = Sampling {
    azimuths: 72,
    narrowings: 14,
};
/// For every other strain: its light is tabulated anew for each azimuth.
const SHAPED: Sampling = Sampling {
    azimuths: 24,
    narrowings: 8,
};

/// The exact limit is looked for within this fraction of the rough one, to either side.
const NEAR: f64 = 0.03;

/// Where a rough search finds the target met at least this many times over at every amount, no exact search follows: there is no limit.
const CLEAR: f64 = 1.05;

/// Nodes of a rough search's table: for the near part of the range, which is searched first, and for the whole range.
const SKETCHED: (usize, usize) = (9, 35);

/// Shares of azimuths that a limit is given for.
const SHARES: [f64; 3] = [0.5, 0.9, 0.95];

/// How much a strain may be.
#[derive(Debug, Clone, PartialEq)]
pub struct StrainLimits {
    /// At its azimuth as written.
    pub as_written: Limit,
    /// Over all azimuths; `None` for a radial strain, which has none.
    pub over_azimuths: Option<AzimuthLimits>,
}

impl StrainLimits {
    /// At the worst azimuth, or the only limit there is.
    #[must_use]
    pub fn worst(&self) -> Limit {
        (self.over_azimuths.as_ref()).map_or(self.as_written, |azimuths| azimuths.worst.limit)
    }
}

/// Limits of a strain whose azimuth may be anything.
#[derive(Debug, Clone, PartialEq)]
pub struct AzimuthLimits {
    /// The azimuth that tolerates least.
    pub worst: AtAzimuth,
    /// The azimuth that tolerates most.
    pub best: AtAzimuth,
    /// For a share of all azimuths (50, 90 and 95 %), the amount that so many of them still tolerate.
    pub random: Vec<(f64, Limit)>,
}

/// A limit at one azimuth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AtAzimuth {
    /// The strain's azimuth, radians.
    pub azimuth_rad: f64,
    /// The limit.
    pub limit: Limit,
}

/// The limits of a strain's amount.
///
/// A first search with few rays finds the limit roughly. Near that value the rays are chosen anew, because a larger strain may need more of them
/// and because those drawn toward the contacts of a clamp have to turn with the clamp. With these rays the limit is found exactly.
pub(super) fn strain_limits(
    asked: Wanted<'_>,
    path: &LightPath,
    amount: Quantity,
    reach: SearchSpan,
) -> Result<StrainLimits, StudyError> {
    let azimuth = match amount.kind {
        QuantityKind::StrainAmount { profile } => Quantity {
            part: amount.part,
            kind: QuantityKind::StrainAzimuth { profile },
        },
        _ => amount,
    };
    let search = Search {
        asked,
        path,
        amount,
        azimuth,
        reach,
    };
    let written = azimuth.value(path).unwrap_or(0.0);
    let rough = search.rough(written, reach.start())?;
    let as_written = search.limit(written, rough)?;
    let over_azimuths = match period_rad(path, amount) {
        None => None,
        Some(_) if as_written == Limit::Missed => Some(AzimuthLimits::missed(written)),
        Some(period) => Some(search.over_azimuths(written, period, as_written)?),
    };
    Ok(StrainLimits {
        as_written,
        over_azimuths,
    })
}

/// A strain's amount and azimuth, varied.
#[derive(Clone, Copy)]
struct Search<'a> {
    asked: Wanted<'a>,
    path: &'a LightPath,
    amount: Quantity,
    azimuth: Quantity,
    reach: SearchSpan,
}

impl<'a> Search<'a> {
    /// Roughly the amount at which the target is first missed at one azimuth. Amounts up to `near` are searched first, and all the others only if
    /// the target is met up to there: the table of a strain pattern grows with its largest amount, and most limits are small.
    fn rough(&self, azimuth_rad: f64, near: SearchSpan) -> Result<FirstMiss, StudyError> {
        let path = self.azimuth.with(self.path, azimuth_rad);
        let rays = self.asked.quadrature(&path, ROUGH)?.rays;
        let way = |reach, nodes| self.on_the_way(&path, reach, &rays, Some(nodes));
        match way(near, SKETCHED.0)? {
            FirstMiss::Never(_) if near != self.reach => way(self.reach, SKETCHED.1),
            crossing => Ok(crossing),
        }
    }

    fn on_the_way(
        &self,
        path: &LightPath,
        reach: SearchSpan,
        rays: &Rays,
        nodes: Option<usize>,
    ) -> Result<FirstMiss, StudyError> {
        let ranges = [(0.0, reach.end)];
        let judge = (self.asked).judge(path, &[self.amount], &ranges, rays, nodes)?;
        reach.first_miss(|amount| judge.times(&[amount]))
    }

    /// The exact limit at one azimuth, where a rough one is known.
    fn limit(&self, azimuth_rad: f64, rough: FirstMiss) -> Result<Limit, StudyError> {
        match rough {
            FirstMiss::At(value) => {
                if let Some(limit) = self.limit_near(azimuth_rad, value)? {
                    return Ok(limit);
                }
            }
            FirstMiss::Never(least) if least > CLEAR => return Ok(Limit::Beyond(self.reach.end)),
            _ => {}
        }
        let path = self.azimuth.with(self.path, azimuth_rad);
        let rays = self.asked.quadrature(&path, ACCURACY)?.rays;
        match self.on_the_way(&path, self.reach, &rays, None)? {
            FirstMiss::AtOnce => Ok(Limit::Missed),
            FirstMiss::Never(_) => Ok(Limit::Beyond(self.reach.end)),
            FirstMiss::At(value) => {
                // Where the light hardly depends on the strain the quadrature leaves all open.
                let open = Limit::At {
                    value,
                    uncertainty: value,
                };
                Ok(self.limit_near(azimuth_rad, value)?.unwrap_or(open))
            }
        }
    }

    /// The limit near a value, with rays chosen there; `None` when there is none.
    fn limit_near(&self, azimuth_rad: f64, value: f64) -> Result<Option<Limit>, StudyError> {
        let path = self.azimuth.with(self.path, azimuth_rad);
        let at = |amount| self.amount.with(&path, amount);
        let quadrature = self.asked.quadrature(&at(value), ACCURACY)?;
        let rays = &quadrature.rays;
        let (low, high) = (value * (1.0 - NEAR), value * (1.0 + NEAR));
        for nodes in [Some(SKETCHED.0), None] {
            let ranges = [(low, high)];
            let judge = (self.asked).judge(&path, &[self.amount], &ranges, rays, nodes)?;
            let times = |amount: f64| judge.times(&[amount]);
            let (met, missed) = ((low, times(low)?), (high, times(high)?));
            if !(met.1 >= 1.0 && missed.1 < 1.0) {
                return Ok(None);
            }
            let value = border(met, missed, EXACT, times)?;
            // A sketch is good when a run of its own says the same.
            let sketched = nodes.is_some();
            if sketched && math::log(self.asked.times(&at(value), rays)?).abs() > 0.01 * ACCURACY {
                continue;
            }
            let error = quadrature.error * judge.sensitivity(&[value])?;
            return Ok(Some(Limit::At {
                value,
                uncertainty: uncertainty(value, value, error, times)?,
            }));
        }
        Ok(None)
    }

    fn over_azimuths(
        &self,
        written: f64,
        period: f64,
        as_written: Limit,
    ) -> Result<AzimuthLimits, StudyError> {
        let near = as_written
            .value()
            .map_or(self.reach, |value| self.reach.up_to(4.0 * value));
        let both = self.over_both(written, as_written)?;
        // In nm; infinite where there is no limit.
        let at = |azimuth_rad: f64| -> Result<f64, StudyError> {
            let crossing = match &both {
                Some(both) => self
                    .reach
                    .first_miss(|amount| both.times(&[amount, azimuth_rad])),
                None => self.rough(azimuth_rad, near),
            };
            Ok(match crossing? {
                FirstMiss::AtOnce => 0.0,
                FirstMiss::At(amount) => amount,
                FirstMiss::Never(_) => f64::INFINITY,
            })
        };
        let Sampling {
            azimuths: count,
            narrowings,
        } = if both.is_some() { UNIFORM } else { SHAPED };
        let step = period / count as f64;
        let sampled = threads::map(0..count, |k| at(written + k as f64 * step));
        let sampled: Vec<f64> = sampled.into_iter().collect::<Result<_, _>>()?;
        let samples = Samples {
            first_rad: written,
            step_rad: step,
            amounts: &sampled,
        };
        let (mut worst, worst_off) = self.extreme(samples, narrowings, 1.0, &at)?;
        let (mut best, best_off) = self.extreme(samples, narrowings, -1.0, &at)?;
        let here = AtAzimuth {
            azimuth_rad: written,
            limit: as_written,
        };
        if as_written.order() < worst.limit.order() {
            worst = here;
        }
        if as_written.order() > best.limit.order() {
            best = here;
        }
        let off = worst_off.max(best_off);
        let random = SHARES.map(|share| (share, tolerated_by(share, &sampled, off, self.reach)));
        Ok(AzimuthLimits {
            worst,
            best,
            random: random.to_vec(),
        })
    }

    /// Judges a uniform strain over amount and azimuth together. `None` for any other strain, whose table over both would cost more than a table for
    /// each azimuth.
    fn over_both(&self, written: f64, as_written: Limit) -> Result<Option<Judge<'a>>, StudyError> {
        if Profile::of_quantity(self.path, self.amount) != Some(Profile::Uniform) {
            return Ok(None);
        }
        let there = as_written
            .value()
            .map(|value| self.amount.with(self.path, value));
        let rays = (self.asked)
            .quadrature(there.as_ref().unwrap_or(self.path), ACCURACY)?
            .rays;
        let ranges = [(0.0, self.reach.end), (written, written + PI)];
        let quantities = [self.amount, self.azimuth];
        let judge = self
            .asked
            .judge(self.path, &quantities, &ranges, &rays, None)?;
        Ok(judge.is_fast().then_some(judge))
    }

    /// The azimuth with the smallest limit (`sign` 1) or the largest one (-1), and by which fraction its exact limit is off the sampled one.
    fn extreme(
        &self,
        samples: Samples<'_>,
        narrowings: usize,
        sign: f64,
        at: &impl Fn(f64) -> Result<f64, StudyError>,
    ) -> Result<(AtAzimuth, f64), StudyError> {
        let (index, mut amount) = (samples.amounts.iter().enumerate())
            .map(|(k, amount)| (k, *amount))
            .min_by(|a, b| (sign * a.1).total_cmp(&(sign * b.1)))
            .unwrap_or((0, f64::INFINITY));
        let mut azimuth_rad = samples.first_rad + index as f64 * samples.step_rad;
        if amount.is_finite() {
            let (from, to) = (
                azimuth_rad - samples.step_rad,
                azimuth_rad + samples.step_rad,
            );
            // A run that fails here has failed at the samples already.
            let narrowed = golden(from, to, narrowings, |azimuth| {
                at(azimuth).map_or(f64::INFINITY, |amount| sign * amount)
            });
            if narrowed.1 < sign * amount {
                (azimuth_rad, amount) = (narrowed.0, sign * narrowed.1);
            }
        }
        let rough = if amount.is_finite() {
            FirstMiss::At(amount)
        } else {
            self.rough(azimuth_rad, self.reach)?
        };
        let mut limit = self.limit(azimuth_rad, rough)?;
        let mut off = 0.0;
        if let Limit::At { value, uncertainty } = &mut limit
            && amount.is_finite()
        {
            // Another azimuth may lie that much farther out.
            off = (*value / amount - 1.0).abs();
            *uncertainty += off * *value;
        }
        Ok((AtAzimuth { azimuth_rad, limit }, off))
    }
}

/// Limits in nm at equally spaced azimuths.
#[derive(Clone, Copy)]
struct Samples<'a> {
    first_rad: f64,
    step_rad: f64,
    amounts: &'a [f64],
}

/// The amount that a share of all azimuths still tolerates. Its uncertainty has two parts: how much the answer changes when every other sample is
/// left out, and by which fraction the samples are `off` where an exact limit is known.
fn tolerated_by(share: f64, sampled: &[f64], off: f64, reach: SearchSpan) -> Limit {
    let value = quantile(sampled, 1.0 - share);
    if value.is_infinite() {
        return Limit::Beyond(reach.end);
    }
    let every_other: Vec<f64> = sampled.iter().step_by(2).copied().collect();
    let sampling = (quantile(&every_other, 1.0 - share) - value).abs();
    Limit::At {
        value,
        uncertainty: (sampling + off * value).min(value),
    }
}

impl AzimuthLimits {
    /// The target is missed without any strain.
    fn missed(azimuth_rad: f64) -> Self {
        let missed = AtAzimuth {
            azimuth_rad,
            limit: Limit::Missed,
        };
        Self {
            worst: missed,
            best: missed,
            random: SHARES.map(|share| (share, Limit::Missed)).to_vec(),
        }
    }
}

/// How far a strain may be turned from an azimuth, counter-clockwise (`sign` 1) or clockwise (-1). Rays are drawn toward the contacts of a clamp and
/// turn with them, so every azimuth has its own rays.
pub(super) fn turn_limit(
    asked: Wanted<'_>,
    path: &LightPath,
    azimuth: Quantity,
    (from, sign): (f64, f64),
    period_rad: f64,
) -> Result<Limit, StudyError> {
    let reach = SearchSpan::turn(period_rad);
    let times = |accuracy: f64, turn: f64| {
        let path = azimuth.with(path, from + sign * turn);
        let rays = asked.quadrature(&path, accuracy)?.rays;
        asked.times(&path, &rays)
    };
    let exact = |turn: f64| times(ACCURACY, turn);
    let rough = match reach.bracket(|turn| times(ROUGH, turn))? {
        Bracket::Between((met, _), (missed, _)) => {
            Bracket::Between((met, exact(met)?), (missed, exact(missed)?))
        }
        other => other,
    };
    let bracket = match rough {
        Bracket::Between(met, missed) if met.1 >= 1.0 && missed.1 < 1.0 => rough,
        _ => reach.bracket(exact)?,
    };
    let (met, missed) = match bracket {
        Bracket::AtOnce => return Ok(Limit::Missed),
        Bracket::Never(_) => return Ok(Limit::Beyond(from + sign * reach.end)),
        Bracket::Between(met, missed) => (met, missed),
    };
    let turn = border(met, missed, 0.01 * ACCURACY, exact)?;
    let there = azimuth.with(path, from + sign * turn);
    let quadrature = asked.quadrature(&there, ACCURACY)?;
    let judge = asked.as_it_is(&there, &quadrature.rays)?;
    let error = quadrature.error * judge.sensitivity(&[])?;
    Ok(Limit::At {
        value: from + sign * turn,
        uncertainty: uncertainty(turn, turn, error, exact)?,
    })
}
