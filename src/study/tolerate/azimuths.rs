//! A strain's limit over its azimuth: the worst, the best, and what most azimuths tolerate.

use rayon::prelude::*;

use crate::light_path::LightPath;
use crate::light_path::run::Quadrature;

use super::super::StudyError;
use super::super::predict::ACCURACY;
use super::super::quantity::{Quantity, QuantityKind};
use super::super::stage::golden;
use super::judge::{Asked, Judge};
use super::search::{Crossing, Limit, Reach, period_rad, uncertainty};

/// Azimuths, equally spaced over the strain's period, whose limit is found: where the light is tabulated over the azimuth, and
/// where it is tabulated for each azimuth anew.
const AZIMUTHS: (usize, usize) = (72, 24);

/// Points between two azimuths when shares of azimuths are counted.
const FINE: usize = 16;

/// Narrowings around the worst and the best azimuth, in the same two cases.
const REFINED: (usize, usize) = (14, 8);

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
    /// What so many of all azimuths still tolerate: 50, 90 and 95 %.
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
pub(super) fn strain_limits(
    asked: Asked<'_>,
    path: &LightPath,
    amount: Quantity,
    reach: Reach,
) -> Result<StrainLimits, StudyError> {
    let azimuth = match amount.kind {
        QuantityKind::StrainAmount { profile } => Quantity {
            part: amount.part,
            kind: QuantityKind::StrainAzimuth { profile },
        },
        _ => amount,
    };
    let written = azimuth.value(path).unwrap_or(0.0);
    let mut quadrature = asked.quadrature(path, ACCURACY)?;
    // The rays are chosen anew at the limit until they stay.
    for _ in 0..2 {
        let limits =
            Search::new(asked, path, (amount, azimuth), reach, &quadrature).limits(written)?;
        let Some(value) = limits.worst().value() else {
            return Ok(limits);
        };
        let worst = (limits.over_azimuths.as_ref()).map_or(written, |all| all.worst.azimuth_rad);
        let there = amount.with(&azimuth.with(path, worst), value);
        let finer = asked.quadrature(&there, ACCURACY)?;
        if finer.rays.count() <= quadrature.rays.count() {
            return Ok(limits);
        }
        quadrature = finer;
    }
    Search::new(asked, path, (amount, azimuth), reach, &quadrature).limits(written)
}

/// A strain's amount and azimuth, varied with one set of rays.
struct Search<'a> {
    asked: Asked<'a>,
    path: &'a LightPath,
    amount: Quantity,
    azimuth: Quantity,
    reach: Reach,
    quadrature: &'a Quadrature,
}

impl<'a> Search<'a> {
    fn new(
        asked: Asked<'a>,
        path: &'a LightPath,
        (amount, azimuth): (Quantity, Quantity),
        reach: Reach,
        quadrature: &'a Quadrature,
    ) -> Self {
        Self {
            asked,
            path,
            amount,
            azimuth,
            reach,
            quadrature,
        }
    }

    fn limits(&self, written: f64) -> Result<StrainLimits, StudyError> {
        let crossing = self.alone(written, self.reach.up_to(self.reach.end / 8.0))?;
        let as_written = self.limit(crossing, written)?;
        let over_azimuths = match period_rad(self.path, self.amount) {
            None => None,
            Some(_) if as_written == Limit::Missed => Some(AzimuthLimits::missed(written)),
            Some(period) => Some(self.over_azimuths(written, period, crossing)?),
        };
        Ok(StrainLimits {
            as_written,
            over_azimuths,
        })
    }

    /// Where the target is first missed at one azimuth, from a table for it alone: `near` the start, or else farther off. A
    /// pattern's table grows with the largest amount, and most limits are small.
    fn alone(&self, azimuth_rad: f64, near: Reach) -> Result<Crossing, StudyError> {
        let path = self.azimuth.with(self.path, azimuth_rad);
        let mut crossing = Crossing::Never;
        for reach in [near, self.reach] {
            let judge = self.judge(&path, &[self.amount], &[(0.0, reach.end)])?;
            crossing = reach.first_miss(|amount| judge.times(&[amount]))?;
            if crossing != Crossing::Never {
                break;
            }
        }
        Ok(crossing)
    }

    fn judge(
        &self,
        path: &LightPath,
        quantities: &[Quantity],
        ranges: &[(f64, f64)],
    ) -> Result<Judge<'a>, StudyError> {
        (self.asked).judge(path, quantities, ranges, &self.quadrature.rays)
    }

    /// A crossing with what the quadrature leaves open there.
    fn limit(&self, crossing: Crossing, azimuth_rad: f64) -> Result<Limit, StudyError> {
        let value = match crossing {
            Crossing::AtOnce => return Ok(Limit::Missed),
            Crossing::Never => return Ok(Limit::Beyond(self.reach.end)),
            Crossing::At(value) => value,
        };
        let path = self.azimuth.with(self.path, azimuth_rad);
        let judge = self.judge(&path, &[self.amount], &[(0.0, 1.01 * value)])?;
        let error = self.quadrature.error * judge.sensitivity(&[value])?;
        let uncertainty = uncertainty(value, value, error, |amount| judge.times(&[amount]))?;
        Ok(Limit::At { value, uncertainty })
    }

    fn over_azimuths(
        &self,
        written: f64,
        period: f64,
        there: Crossing,
    ) -> Result<AzimuthLimits, StudyError> {
        let near = match there {
            Crossing::At(value) => self.reach.up_to(4.0 * value),
            _ => self.reach,
        };
        let ranges = [(0.0, near.end), (written, written + period)];
        let both = self.judge(self.path, &[self.amount, self.azimuth], &ranges)?;
        let (fast, count, refined) = if both.is_fast() {
            (true, AZIMUTHS.0, REFINED.0)
        } else {
            (false, AZIMUTHS.1, REFINED.1)
        };
        // In nm; infinite where there is no limit.
        let at = |azimuth_rad: f64| -> Result<f64, StudyError> {
            let mut crossing = Crossing::Never;
            if fast {
                crossing = near.first_miss(|amount| both.times(&[amount, azimuth_rad]))?;
            }
            if crossing == Crossing::Never && !(fast && near == self.reach) {
                crossing = self.alone(azimuth_rad, near)?;
            }
            Ok(match crossing {
                Crossing::AtOnce => 0.0,
                Crossing::At(amount) => amount,
                Crossing::Never => f64::INFINITY,
            })
        };
        let step = period / count as f64;
        let sampled: Vec<f64> = (0..count)
            .into_par_iter()
            .map(|k| at(written + k as f64 * step))
            .collect::<Result<_, _>>()?;
        let extreme = |sign| self.extreme(&sampled, (written, step, refined), sign, &at);
        let worst = extreme(1.0)?;
        let random = SHARES
            .map(|share| (share, self.tolerated_by(share, &sampled, &worst)))
            .to_vec();
        Ok(AzimuthLimits {
            worst,
            best: extreme(-1.0)?,
            random,
        })
    }

    /// The azimuth whose limit times `sign` is least.
    fn extreme(
        &self,
        sampled: &[f64],
        (written, step, refined): (f64, f64, usize),
        sign: f64,
        at: &impl Fn(f64) -> Result<f64, StudyError>,
    ) -> Result<AtAzimuth, StudyError> {
        let (index, amount) = (sampled.iter().enumerate())
            .map(|(k, amount)| (k, *amount))
            .min_by(|a, b| (sign * a.1).total_cmp(&(sign * b.1)))
            .unwrap_or((0, f64::INFINITY));
        let (mut azimuth_rad, mut amount) = (written + index as f64 * step, amount);
        if amount.is_finite() {
            let (from, to) = (azimuth_rad - step, azimuth_rad + step);
            // A run that fails here has failed at the samples already.
            let narrowed = golden(from, to, refined, |azimuth| {
                at(azimuth).map_or(f64::INFINITY, |amount| sign * amount)
            });
            if narrowed.1 < sign * amount {
                (azimuth_rad, amount) = (narrowed.0, sign * narrowed.1);
            }
        }
        let crossing = if amount.is_finite() {
            Crossing::At(amount)
        } else {
            Crossing::Never
        };
        Ok(AtAzimuth {
            azimuth_rad,
            limit: self.limit(crossing, azimuth_rad)?,
        })
    }

    /// The amount that a share of all azimuths still tolerates. Its uncertainty is what every other sample would change, and
    /// what the quadrature leaves open at the worst azimuth.
    fn tolerated_by(&self, share: f64, sampled: &[f64], worst: &AtAzimuth) -> Limit {
        let value = quantile(sampled, 1.0 - share);
        if value.is_infinite() {
            return Limit::Beyond(self.reach.end);
        }
        let every_other: Vec<f64> = sampled.iter().step_by(2).copied().collect();
        let sampling = (quantile(&every_other, 1.0 - share) - value).abs();
        let light = match worst.limit {
            Limit::At {
                value: least,
                uncertainty,
            } if least > 0.0 => uncertainty * value / least,
            _ => 0.0,
        };
        Limit::At {
            value,
            uncertainty: (sampling + light).min(value),
        }
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

/// The value below which a fraction of a periodic function's values lie, from equally spaced samples; infinite where too few
/// samples are finite.
fn quantile(sampled: &[f64], fraction: f64) -> f64 {
    let fine = interpolated(sampled);
    let pieces = || fine.iter().zip(fine.iter().cycle().skip(1));
    let below = |value: f64| -> f64 {
        let share = |(a, b): (&f64, &f64)| match (a.min(*b), a.max(*b)) {
            (low, _) if value < low => 0.0,
            (_, high) if value >= high => 1.0,
            // One end has no limit.
            (_, high) if high.is_infinite() => 0.5,
            (low, high) => (value - low) / (high - low),
        };
        pieces().map(share).sum::<f64>() / fine.len() as f64
    };
    let mut low = fine.iter().copied().fold(f64::INFINITY, f64::min);
    let finite = fine.iter().copied().filter(|value| value.is_finite());
    let mut high = finite.fold(low, f64::max);
    if low.is_infinite() || below(high) < fraction {
        return f64::INFINITY;
    }
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if below(middle) < fraction {
            low = middle;
        } else {
            high = middle;
        }
    }
    high
}

/// A periodic function between its equally spaced samples: its logarithm runs along the cubics of Catmull and Rom. Next to a
/// sample that is infinite or nothing it stays what it is at the nearest one.
fn interpolated(sampled: &[f64]) -> Vec<f64> {
    let count = sampled.len();
    let log = |k: usize| sampled[k % count].ln();
    let point = |point: usize| {
        let (k, t) = (point / FINE, (point % FINE) as f64 / FINE as f64);
        let [before, here, next, after] = [k + count - 1, k, k + 1, k + 2].map(log);
        if ![before, here, next, after].iter().all(|l| l.is_finite()) {
            return sampled[(if t < 0.5 { k } else { k + 1 }) % count];
        }
        let (slope, slope_next) = (0.5 * (next - before), 0.5 * (after - here));
        let rise = next - here;
        let square = 3.0 * rise - 2.0 * slope - slope_next;
        let cube = slope + slope_next - 2.0 * rise;
        (here + t * (slope + t * (square + t * cube))).exp()
    };
    (0..count * FINE).map(point).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `1 / |sin 2t|`: a fraction `p` of all azimuths lies below `1 / cos(p pi / 2)`.
    #[test]
    fn quantiles_of_a_cosecant_are_those_of_its_closed_form() {
        let sampled: Vec<f64> = (0..72)
            .map(|k| {
                1.0 / (2.0 * (f64::from(k) * 2.5f64.to_radians() + 0.003))
                    .sin()
                    .abs()
            })
            .collect();
        for fraction in [0.05f64, 0.1, 0.5] {
            let exact = 1.0 / (0.5 * std::f64::consts::PI * fraction).cos();
            let got = quantile(&sampled, fraction);
            assert!(
                (got / exact - 1.0).abs() < 1e-5,
                "{fraction}: {got} {exact}"
            );
        }
    }
}
