//! A sample of stands in numbers.

use std::f64::consts::{PI, TAU};

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use serde::Serialize;

use super::likelihood::ReadLine;
use super::{Likelihood, Reading};
use crate::light_path::LightPath;
use crate::math;
use crate::study::interval::{ENDS, Interval};
use crate::study::unknown::{Sampled, Told, Unknowns};

/// Draws of the prior where its interval has no simple form.
const PRIOR_DRAWS: usize = 20_000;
/// The readings tell a number when its interval after them is narrower than this fraction of its interval before them.
const TOLD: f64 = 0.5;
/// Beyond this correlation two numbers are not told apart.
const CORRELATED: f64 = 0.9;

/// What the readings left of an unknown.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Posted {
    /// Median and interval.
    #[serde(flatten)]
    pub interval: Interval,
    /// Mean.
    pub mean: f64,
    /// Standard deviation.
    pub sd: f64,
}

/// One told number before and after the readings. Azimuths of strains in degrees about their mean direction: an end may lie beyond 0 or 180.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct UnknownAnswer {
    /// What it is.
    #[serde(flatten)]
    pub told_as: Told,
    /// Before.
    pub prior: Interval,
    /// After.
    pub posterior: Posted,
    /// Whether the interval shrank to less than half.
    pub told: bool,
}

/// A reading against the model.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReadingAnswer {
    /// Line of the readings file.
    pub line: usize,
    /// What was read: parallel light over this light; of a photograph, of its zones together.
    pub measured: f64,
    /// What the stands of the sample would show.
    pub predicted: Interval,
    /// How many standard deviations of its error the reading lies above the middle of that; of a photograph, of the error that its zones share.
    pub z: f64,
    /// How the stand was set.
    pub words: String,
    /// Whether it is a photograph: a line of the readings file may hold a meter reading too.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub photograph: bool,
    /// The zones of a photograph.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub zones: Vec<ZoneAnswer>,
    /// Whether no stand explains it beside the others.
    pub spoiled: bool,
    /// The reading's note.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub note: String,
}

/// A zone of a photograph against the model.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ZoneAnswer {
    /// Ring, from 0 at the axis.
    pub ring: usize,
    /// Sector, from 0 at East, counter-clockwise.
    pub sector: usize,
    /// Channel of a colour camera: 0 red, 1 green, 2 blue.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub channel: Option<usize>,
    /// What was read: parallel light over this light.
    pub measured: f64,
    /// What the stands of the sample would show, their median.
    pub predicted: f64,
    /// How many standard deviations of its own error it lies above that, once the errors that the zones share are taken off.
    pub z: f64,
}

/// Numbers that the readings do not tell apart.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Ambiguous {
    /// Their names.
    pub names: Vec<String>,
    /// Correlation of the sampled numbers.
    pub correlation: f64,
    /// In how many separate groups the stands lie.
    pub modes: usize,
}

pub(super) fn unknowns(unknowns: &Unknowns, sample: &[Vec<f64>]) -> Vec<UnknownAnswer> {
    let prior = priors(unknowns);
    (unknowns.told().enumerate().zip(prior))
        .map(|((at, told), prior)| {
            let values: Vec<f64> = sample.iter().map(|row| row[at]).collect();
            let values = match told.is_axis() {
                true => unwrapped(&values),
                false => values,
            };
            let count = values.len() as f64;
            let mean = values.iter().sum::<f64>() / count;
            let square: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
            let interval = Interval::of(&values);
            UnknownAnswer {
                told_as: told.clone(),
                told: interval.width() < TOLD * prior.width(),
                prior,
                posterior: Posted {
                    interval,
                    mean,
                    sd: (square / (count - 1.0).max(1.0)).sqrt(),
                },
            }
        })
        .collect()
}

/// Azimuths of axes, degrees, each within 90 of the mean direction.
fn unwrapped(degrees: &[f64]) -> Vec<f64> {
    let (mut sin, mut cos) = (0.0, 0.0);
    for value in degrees {
        let (s, c) = math::sincos(2.0 * value.to_radians());
        sin += s;
        cos += c;
    }
    let middle = (0.5 * math::atan2(sin, cos)).rem_euclid(PI).to_degrees();
    (degrees.iter())
        .map(|value| middle + (value - middle + 90.0).rem_euclid(180.0) - 90.0)
        .collect()
}

/// The prior's interval of each told number.
fn priors(unknowns: &Unknowns) -> Vec<Interval> {
    let drawn = unknowns.list.iter().any(|unknown| unknown.count() > 1);
    let mut random = ChaCha8Rng::seed_from_u64(0);
    let draws: Vec<Vec<f64>> = (0..if drawn { PRIOR_DRAWS } else { 0 })
        .map(|_| unknowns.told_values(&unknowns.draw(&mut random)))
        .collect();
    let mut all = Vec::new();
    for unknown in &unknowns.list {
        if let (Sampled::UniformStrain { .. }, first) = (&unknown.sampled, all.len()) {
            for (at, told) in (first..).zip(&unknown.told) {
                let values: Vec<f64> = draws.iter().map(|row| row[at]).collect();
                all.push(Interval::of(&match told.is_axis() {
                    true => unwrapped(&values),
                    false => values,
                }));
            }
        } else {
            let value = |part| unknown.told_values(&[unknown.priors[0].quantile(part)])[0];
            all.push(Interval {
                low: value(ENDS.0),
                median: value(0.5),
                high: value(ENDS.1),
            });
        }
    }
    all
}

pub(super) fn readings(
    path: &LightPath,
    readings: &[Reading],
    likelihood: &Likelihood,
    light: &[Vec<f64>],
    spoiled: Option<usize>,
) -> Vec<ReadingAnswer> {
    (likelihood.lines.iter().enumerate())
        .map(|(number, of)| {
            let lights = &of.lights;
            let line = &readings[lights.clone()];
            let count = line.len() as f64;
            // The light of zones of equal area adds up to the light of all.
            let of_all = |light: &mut dyn Iterator<Item = f64>| count / light.sum::<f64>();
            let measured = of_all(&mut line.iter().map(|reading| 1.0 / reading.ratio));
            let ratios: Vec<f64> = (light.iter())
                .map(|light| of_all(&mut light[lights.clone()].iter().copied()))
                .collect();
            let predicted = Interval::of(&ratios);
            let zoned = line[0].setting.zone.is_some();
            let sd = match zoned {
                true => of.common,
                false => likelihood.read[lights.start].1,
            };
            ReadingAnswer {
                line: line[0].line,
                measured,
                predicted,
                z: math::log(measured / predicted.median) / sd,
                photograph: zoned,
                zones: match zoned {
                    true => zones(line, of, likelihood, light),
                    false => Vec::new(),
                },
                words: line[0].setting.words(path),
                spoiled: spoiled == Some(number),
                note: line[0].note.clone(),
            }
        })
        .collect()
}

/// The zones of a photograph against the middle of what stands would show.
fn zones(
    line: &[Reading],
    of: &ReadLine,
    likelihood: &Likelihood,
    light: &[Vec<f64>],
) -> Vec<ZoneAnswer> {
    let medians: Vec<f64> = (of.lights.clone())
        .map(|at| {
            let ratios: Vec<f64> = light.iter().map(|light| 1.0 / light[at]).collect();
            Interval::of(&ratios).median
        })
        .collect();
    against(
        line,
        of,
        &medians,
        likelihood.read[of.lights.clone()].iter().map(|read| read.1),
    )
}

/// The zones of a photograph against ratios that a model shows; `model_error` is added to each zone's own error.
pub(in crate::study) fn zones_against(
    line: &[Reading],
    predicted: &[f64],
    model_error: f64,
) -> Vec<ZoneAnswer> {
    let sd = line.iter().map(|zone| math::hypot(zone.error, model_error));
    against(line, &ReadLine::new(line, 0), predicted, sd)
}

/// The same with the standard deviations of the zones' own errors; the errors that they share are taken off as far as is probable.
fn against(
    line: &[Reading],
    of: &ReadLine,
    predicted: &[f64],
    sd: impl Iterator<Item = f64>,
) -> Vec<ZoneAnswer> {
    let off: Vec<(f64, f64)> = (line.iter().zip(predicted).zip(sd))
        .map(|((reading, predicted), sd)| (-math::log(reading.ratio / predicted), sd))
        .collect();
    (line.iter().zip(predicted).zip(of.left(&off)))
        .filter_map(|((reading, &predicted), left)| {
            let zone = reading.setting.zone?;
            let (ring, sector) = zone.grid.place(zone.number);
            Some(ZoneAnswer {
                ring,
                sector,
                channel: zone.channel,
                measured: reading.ratio,
                predicted,
                z: -left,
            })
        })
        .collect()
}

/// What the readings do not tell apart: pairs of unknowns of which one can make up for the other, and unknowns whose values in the stands lie in
/// separate groups.
pub(super) fn ambiguous(unknowns: &Unknowns, points: &[Vec<f64>]) -> Vec<Ambiguous> {
    // Each sampled number, with the unknown that it belongs to.
    let sampled: Vec<(usize, Vec<f64>)> = (unknowns.places().enumerate())
        .flat_map(|(unknown, (_, place))| place.map(move |at| (unknown, at)))
        .map(|(unknown, at)| {
            let values = points.iter().map(|point| point[at]).collect();
            (unknown, standardized(values))
        })
        .collect();
    let name = |unknown: usize| unknowns.list[unknown].told[0].name.clone();
    let mut all: Vec<Ambiguous> = Vec::new();
    for (at, (one, values)) in sampled.iter().enumerate() {
        for (other, others) in sampled[at + 1..].iter().filter(|(other, _)| other != one) {
            let product = values.iter().zip(others).map(|(x, y)| x * y);
            let correlation = product.sum::<f64>() / points.len() as f64;
            if correlation.abs() <= CORRELATED {
                continue;
            }
            // Along the line on which they stand in for each other.
            let sign = correlation.signum();
            let along = (values.iter().zip(others)).map(|(x, y)| x + sign * y);
            let pair = Ambiguous {
                names: vec![name(*one), name(*other)],
                correlation,
                modes: modes(along.collect()),
            };
            // Of a uniform strain, two numbers are sampled: the pair is told once.
            match all.iter_mut().find(|known| known.names == pair.names) {
                Some(known) if known.correlation.abs() >= correlation.abs() => {}
                Some(known) => *known = pair,
                None => all.push(pair),
            }
        }
    }
    for (unknown, values) in sampled {
        let modes = modes(values);
        let name = name(unknown);
        if modes > 1 && !all.iter().any(|known| known.names.contains(&name)) {
            all.push(Ambiguous {
                names: vec![name],
                correlation: 1.0,
                modes,
            });
        }
    }
    all
}

fn standardized(values: Vec<f64>) -> Vec<f64> {
    let count = values.len() as f64;
    let mean = values.iter().sum::<f64>() / count;
    let sd = (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / count).sqrt();
    let scale = if sd > 0.0 { 1.0 / sd } else { 0.0 };
    values.into_iter().map(|v| (v - mean) * scale).collect()
}

/// Bins of the density in which groups are looked for, how wide it is smoothed, and how deep a valley parts two groups, relative to the lower peak;
/// each holds at least this part of the stands.
const BINS: usize = 128;
const SMOOTH: f64 = 0.25;
const VALLEY: f64 = 0.5;
const LEAST_GROUP: f64 = 0.05;

/// In how many groups values lie: peaks of their smoothed density with a valley between.
fn modes(values: Vec<f64>) -> usize {
    let values = standardized(values);
    let at = |bin: usize| -4.0 + 8.0 * (bin as f64 + 0.5) / BINS as f64;
    let mut counts = [0.0; BINS];
    for value in &values {
        let bin = ((value + 4.0) / 8.0 * BINS as f64).clamp(0.0, BINS as f64 - 1.0);
        counts[bin as usize] += 1.0 / values.len() as f64;
    }
    let density: Vec<f64> = (0..BINS)
        .map(|bin| {
            let kernel = |other: usize| {
                let off = (at(bin) - at(other)) / SMOOTH;
                math::exp(-0.5 * off * off) / (SMOOTH * TAU.sqrt())
            };
            (0..BINS).map(|other| counts[other] * kernel(other)).sum()
        })
        .collect();
    // From left to right: a group ends in a valley, and the next begins where the density has risen enough again.
    let mut groups = 1;
    let (mut peak, mut valley, mut left, mut passed) = (0.0f64, f64::INFINITY, 0.0, 0.0);
    for (here, count) in density.into_iter().zip(counts) {
        passed += count;
        if here < VALLEY * peak && here < valley {
            (valley, left) = (here, passed);
        } else if valley.is_infinite() || VALLEY * here > valley {
            let both_count = left >= LEAST_GROUP && 1.0 - left >= LEAST_GROUP;
            groups += usize::from(valley.is_finite() && both_count);
            peak = if valley.is_finite() {
                here
            } else {
                peak.max(here)
            };
            valley = f64::INFINITY;
        }
    }
    groups
}

#[cfg(test)]
mod tests {
    use super::modes;

    /// Even quantiles of normal distributions: middle, spread and how many.
    fn values(parts: &[(f64, f64, usize)]) -> Vec<f64> {
        let prior = |mean, sd| crate::study::unknown::Prior::normal(mean, sd);
        (parts.iter())
            .flat_map(|&(mean, sd, count)| {
                (0..count).map(move |k| prior(mean, sd).quantile((k as f64 + 0.5) / count as f64))
            })
            .collect()
    }

    #[test]
    fn groups_are_counted_where_a_valley_parts_them() {
        assert_eq!(modes(values(&[(0.0, 1.0, 1000)])), 1);
        assert_eq!(modes(values(&[(0.0, 1.0, 500), (6.0, 1.0, 500)])), 2);
        assert_eq!(
            modes(values(&[
                (-8.0, 1.0, 400),
                (0.0, 1.0, 300),
                (8.0, 1.0, 300)
            ])),
            3
        );
        // Too near to each other, and too few to be a group.
        assert_eq!(modes(values(&[(0.0, 1.0, 500), (2.0, 1.0, 500)])), 1);
        assert_eq!(modes(values(&[(0.0, 1.0, 980), (9.0, 1.0, 20)])), 1);
    }
}
