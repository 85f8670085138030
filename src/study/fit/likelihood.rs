//! How well readings go together with light: normal errors of the logarithm, some of them shared by the zones of a photograph.

use std::ops::Range;

use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::Reading;
use crate::math;

/// The readings as their likelihood takes them: normal errors of the logarithm, some of them shared.
#[derive(Debug, Clone)]
pub(super) struct Likelihood {
    /// Logarithm of each light relative to the parallel light, and the standard deviation of its own error.
    pub(super) read: Vec<(f64, f64)>,
    /// The lines of the readings file: which lights each holds, and the standard deviation of the error that they share. A meter's line holds one
    /// light, a grey photograph's line one for each zone, a colour photograph's as many for each channel.
    pub(super) lines: Vec<(Range<usize>, f64)>,
    /// What normalises it: minus the logarithm of the likelihood of readings without misfit.
    norm: f64,
}

impl Likelihood {
    pub(super) fn new(readings: &[Reading], model_error: f64) -> Self {
        let read: Vec<(f64, f64)> = (readings.iter())
            .map(|reading| {
                (
                    -math::log(reading.ratio),
                    math::hypot(reading.error, model_error),
                )
            })
            .collect();
        let same = |one: &Reading, other: &Reading| {
            one.setting.zone.is_some() && other.setting.zone.is_some() && one.line == other.line
        };
        let mut start = 0;
        let lines: Vec<(Range<usize>, f64)> = (readings.chunk_by(same))
            .map(|line| {
                start += line.len();
                (start - line.len()..start, line[0].common_error)
            })
            .collect();
        let norm = Self::norm(&read, &lines);
        Self { read, lines, norm }
    }

    /// What normalises errors.
    fn norm(read: &[(f64, f64)], lines: &[(Range<usize>, f64)]) -> f64 {
        let norm: f64 = (read.iter())
            .map(|(_, sd)| math::log(sd * std::f64::consts::TAU.sqrt()))
            .sum();
        let shared = lines.iter().map(|(line, common)| {
            let weight: f64 = read[line.clone()]
                .iter()
                .map(|(_, sd)| 1.0 / (sd * sd))
                .sum();
            0.5 * math::log(1.0 + common * common * weight)
        });
        norm + shared.sum::<f64>()
    }

    /// With errors that are larger by what light that is only nearly computed may be off, a number for each line: lights of one line are off alike, so
    /// that together they may add no more misfit than one of them.
    pub(super) fn widened(&self, off: &[f64]) -> Self {
        let mut wide = self.clone();
        for ((line, _), off) in self.lines.iter().zip(off) {
            let all = off * (line.len() as f64).sqrt();
            for (_, sd) in &mut wide.read[line.clone()] {
                *sd = math::hypot(*sd, all);
            }
        }
        wide.norm = Self::norm(&wide.read, &wide.lines);
        wide
    }

    /// Whether light that is off so much, line by line, adds next to nothing to the errors.
    pub(super) fn outweighs(&self, off: &[f64], part: f64) -> bool {
        (self.lines.iter().zip(off)).all(|((line, _), off)| {
            let count = line.len() as f64;
            let mean = self.read[line.clone()]
                .iter()
                .map(|(_, sd)| sd)
                .sum::<f64>()
                / count;
            off * count.sqrt() <= part * mean
        })
    }

    /// Whether a line holds several lights.
    pub(super) fn has_photographs(&self) -> bool {
        self.lines.iter().any(|(line, _)| line.len() > 1)
    }

    /// Standardized misfit of a light, its shared error not counted.
    fn misfit(&self, light: &[f64], at: usize) -> f64 {
        let (read, sd) = self.read[at];
        (read - math::log(light[at])) / sd
    }

    /// Misfit of all lines but one that is left out: a chi-squared number with as many degrees of freedom as there are lights.
    ///
    /// A shared error of variance s^2 adds s^2 to every element of a line's covariance; its inverse is by Sherman and Morrison's formula.
    fn chi_squared(&self, light: &[f64], skip: Option<usize>) -> f64 {
        let mut sum = 0.0;
        for (number, (line, common)) in self.lines.iter().enumerate() {
            if skip == Some(number) {
                continue;
            }
            let (mut own, mut along, mut weight) = (0.0, 0.0, 0.0);
            for at in line.clone() {
                let (z, sd) = (self.misfit(light, at), self.read[at].1);
                own += z * z;
                along += z / sd;
                weight += 1.0 / (sd * sd);
            }
            let variance = common * common;
            sum += own - variance * along * along / (1.0 + variance * weight);
        }
        sum
    }

    /// Its logarithm, normalised.
    pub(super) fn log(&self, light: &[f64], skip: Option<usize>) -> f64 {
        -0.5 * self.chi_squared(light, skip) - self.norm
    }

    /// How often stands would be read with as much misfit as these readings have: the misfit of the readings of a stand is distributed as chi-squared,
    /// whatever the stand.
    pub(super) fn p_value(&self, light: &[Vec<f64>]) -> f64 {
        let Ok(chi) = ChiSquared::new(self.read.len() as f64) else {
            return 1.0;
        };
        let each = light.iter().map(|light| {
            let misfit = self.chi_squared(light, None);
            if misfit.is_finite() {
                chi.sf(misfit)
            } else {
                0.0
            }
        });
        each.sum::<f64>() / light.len() as f64
    }
}
