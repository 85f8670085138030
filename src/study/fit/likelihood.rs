//! How well readings go together with light: normal errors of the logarithm, some of them shared by the zones of a photograph.
//!
//! What zones share is their exposures' error, and the errors that the disc has where it was found. The one belongs to a photograph; of the others half
//! of the variance belongs to a photograph, and half to all of them: the same edge of the same iris is found in the same way.

use std::ops::Range;

use nalgebra::{DMatrix, Matrix3, Matrix4, Vector3, Vector4};
use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::Reading;
use crate::math;

/// The part of the variance of where the disc lies that all photographs share; the rest belongs to each.
pub(in crate::study) const FRAMING_SHARED: f64 = 0.5;

/// The readings as their likelihood takes them.
#[derive(Debug, Clone)]
pub(super) struct Likelihood {
    /// Logarithm of each light relative to the parallel light, and the standard deviation of its own error.
    pub(super) read: Vec<(f64, f64)>,
    /// The lines of the readings file. A meter's line holds one light, a grey photograph's line one for each zone, a colour photograph's as many for
    /// each channel.
    pub(super) lines: Vec<ReadLine>,
    /// Of what all photographs share: the inverse of 1 plus the weights of all lines.
    shared: Matrix3<f64>,
    /// What normalises it: minus the logarithm of the likelihood of readings without misfit.
    norm: f64,
}

/// A line of the readings file.
#[derive(Debug, Clone)]
pub(super) struct ReadLine {
    /// Which lights it holds.
    pub(super) lights: Range<usize>,
    /// Standard deviation of the error that they share.
    pub(super) common: f64,
    /// What a disc that lies elsewhere adds to each light's logarithm.
    framing: Vec<[f64; 3]>,
    weights: Option<LineWeights>,
}

/// How the lights of a photograph are weighed: errors that they share are taken off by the formula of Sherman, Morrison and Woodbury.
#[derive(Debug, Clone)]
struct LineWeights {
    /// Of each light, what a misfit of it adds to each error that this photograph has for itself: exposures, and the disc's place.
    own: Vec<Vector4<f64>>,
    /// The inverse of 1 plus the weights of these errors.
    inverse: Matrix4<f64>,
    /// Of each light, what a misfit of it adds to each error that all photographs share, once the photograph's own errors are taken off.
    shared: Vec<Vector3<f64>>,
    /// What the line adds to the weights of the shared errors.
    shared_weight: Matrix3<f64>,
}

impl ReadLine {
    /// A line of readings, of which the first light is number `start`.
    pub(super) fn new(line: &[Reading], start: usize) -> Self {
        Self {
            lights: start..start + line.len(),
            common: line[0].common_error,
            // Light is one over the ratio.
            framing: (line.iter())
                .map(|reading| reading.framing.map(|part| -part))
                .collect(),
            weights: None,
        }
    }

    fn is_photograph(&self) -> bool {
        self.common > 0.0 || self.framing.iter().flatten().any(|part| *part != 0.0)
    }

    /// What the errors that this photograph has for itself add to a light's logarithm, and what the shared ones add.
    fn columns(&self, at: usize, shared: f64) -> (Vector4<f64>, Vector3<f64>) {
        let all = self.framing[at];
        let own = (1.0 - shared).sqrt();
        let [right, down, larger] = all.map(|part| own * part);
        let own = Vector4::new(self.common, right, down, larger);
        (own, Vector3::from(all.map(|part| shared.sqrt() * part)))
    }

    fn weigh(&mut self, read: &[(f64, f64)]) {
        if !self.is_photograph() {
            return;
        }
        let columns: Vec<_> = (0..self.lights.len())
            .map(|at| self.columns(at, FRAMING_SHARED))
            .collect();
        let weighed = || {
            let sds = read[self.lights.clone()].iter().map(|(_, sd)| sd);
            columns.iter().zip(sds.map(|sd| 1.0 / (sd * sd)))
        };
        let mut plain = Matrix4::identity();
        let mut crossed = nalgebra::Matrix4x3::zeros();
        for ((own, shared), weight) in weighed() {
            plain += weight * own * own.transpose();
            crossed += weight * own * shared.transpose();
        }
        let inverse = plain.try_inverse().unwrap_or_else(Matrix4::identity);
        let taken = inverse * crossed;
        let mut shared_weight = Matrix3::zeros();
        let (mut owns, mut shares) = (Vec::new(), Vec::new());
        for ((own, shared), weight) in weighed() {
            let left = weight * (shared - taken.transpose() * own);
            shared_weight += left * shared.transpose();
            owns.push(weight * own);
            shares.push(left);
        }
        self.weights = Some(LineWeights {
            own: owns,
            inverse,
            shared: shares,
            shared_weight,
        });
    }

    /// Half of the logarithm of the determinant of the errors that the line has for itself.
    fn half_log(&self) -> f64 {
        let determinant = (self.weights.as_ref()).map_or(1.0, |of| of.inverse.determinant());
        -0.5 * math::log(determinant)
    }

    /// What lights lie off by, in standard deviations of their own errors, once the errors that they share are taken off as far as is probable; `off`
    /// and standard deviations of its lights.
    pub(super) fn left(&self, off: &[(f64, f64)]) -> Vec<f64> {
        let (mut weight, mut along) = (Matrix4::identity(), Vector4::zeros());
        let columns = |at: usize| self.columns(at, 0.0).0;
        for (at, (off, sd)) in off.iter().enumerate() {
            let column = columns(at);
            weight += column * column.transpose() / (sd * sd);
            along += column * (off / (sd * sd));
        }
        let shared = weight
            .try_inverse()
            .map_or_else(Vector4::zeros, |inverse| inverse * along);
        (off.iter().enumerate())
            .map(|(at, (off, sd))| (off - columns(at).dot(&shared)) / sd)
            .collect()
    }
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
        let lines: Vec<ReadLine> = (readings.chunk_by(same))
            .map(|line| {
                start += line.len();
                ReadLine::new(line, start - line.len())
            })
            .collect();
        Self::weighed(read, lines)
    }

    fn weighed(read: Vec<(f64, f64)>, mut lines: Vec<ReadLine>) -> Self {
        lines.iter_mut().for_each(|line| line.weigh(&read));
        let whole = Matrix3::identity() + Self::shared_weights(&lines, None);
        let norm: f64 = (read.iter())
            .map(|(_, sd)| math::log(sd * std::f64::consts::TAU.sqrt()))
            .sum();
        let norm = norm + lines.iter().map(ReadLine::half_log).sum::<f64>();
        let shared = whole.try_inverse().unwrap_or_else(Matrix3::identity);
        Self {
            norm: norm + 0.5 * math::log(whole.determinant()),
            read,
            lines,
            shared,
        }
    }

    /// The weights of what all photographs share, without a line that is left out.
    fn shared_weights(lines: &[ReadLine], skip: Option<usize>) -> Matrix3<f64> {
        let kept = lines.iter().enumerate().filter(|(k, _)| skip != Some(*k));
        let weights = kept.filter_map(|(_, line)| line.weights.as_ref());
        weights.map(|of| of.shared_weight).sum()
    }

    /// With errors that are larger by what light that is only nearly computed may be off, a number for each line: lights of one line are off alike, so
    /// that together they may add no more misfit than one of them.
    pub(super) fn widened(&self, off: &[f64]) -> Self {
        let mut read = self.read.clone();
        for (line, off) in self.lines.iter().zip(off) {
            let all = off * (line.lights.len() as f64).sqrt();
            for (_, sd) in &mut read[line.lights.clone()] {
                *sd = math::hypot(*sd, all);
            }
        }
        Self::weighed(read, self.lines.clone())
    }

    /// Whether light that is off so much, line by line, adds next to nothing to the errors.
    pub(super) fn outweighs(&self, off: &[f64], part: f64) -> bool {
        (self.lines.iter().zip(off)).all(|(line, off)| {
            let count = line.lights.len() as f64;
            let sum: f64 = self.read[line.lights.clone()]
                .iter()
                .map(|(_, sd)| sd)
                .sum();
            off * count.sqrt() <= part * sum / count
        })
    }

    /// Whether a line holds several lights.
    pub(super) fn has_photographs(&self) -> bool {
        self.lines.iter().any(|line| line.lights.len() > 1)
    }

    /// Misfit of all lines but one that is left out: a chi-squared number with as many degrees of freedom as there are lights.
    fn chi_squared(&self, light: &[f64], skip: Option<usize>) -> f64 {
        self.misfit(|at| self.read[at].0 - math::log(light[at]), skip)
    }

    /// What the readings tell of some numbers, to first order: the inverse of the covariance that they leave. `slopes[number][light]` says by how much
    /// the logarithm of each light changes with each number.
    pub(super) fn information(&self, slopes: &[Vec<f64>]) -> DMatrix<f64> {
        let both = |i: usize, j: usize, sign: f64| {
            self.misfit(|at| slopes[i][at] + sign * slopes[j][at], None)
        };
        let mut all = DMatrix::zeros(slopes.len(), slopes.len());
        for i in 0..slopes.len() {
            for j in 0..=i {
                all[(i, j)] = 0.25 * (both(i, j, 1.0) - both(i, j, -1.0));
                all[(j, i)] = all[(i, j)];
            }
        }
        all
    }

    /// The same of lights whose logarithms lie off by what a function tells.
    fn misfit(&self, off: impl Fn(usize) -> f64, skip: Option<usize>) -> f64 {
        let mut sum = 0.0;
        let mut all_share = Vector3::zeros();
        for (number, line) in self.lines.iter().enumerate() {
            if skip == Some(number) {
                continue;
            }
            let Some(weights) = &line.weights else {
                for at in line.lights.clone() {
                    let z = off(at) / self.read[at].1;
                    sum += z * z;
                }
                continue;
            };
            let mut own = Vector4::zeros();
            for (k, at) in line.lights.clone().enumerate() {
                let off = off(at);
                let z = off / self.read[at].1;
                sum += z * z;
                own += off * weights.own[k];
                all_share += off * weights.shared[k];
            }
            sum -= own.dot(&(weights.inverse * own));
        }
        let shared = match skip {
            None => self.shared,
            Some(_) => (Matrix3::identity() + Self::shared_weights(&self.lines, skip))
                .try_inverse()
                .unwrap_or_else(Matrix3::identity),
        };
        sum - all_share.dot(&(shared * all_share))
    }

    /// Its logarithm, normalised.
    pub(super) fn log(&self, light: &[f64], skip: Option<usize>) -> f64 {
        -0.5 * self.chi_squared(light, skip) - self.norm
    }

    /// How often stands would be read with as much misfit as these readings have. Two things are looked at, and the less probable one counts, twice since
    /// there are two: the misfit of all lights, and how far a whole photograph lies off. Among hundreds of zones whose errors are told too large the second
    /// would be lost: a wrong exposure is but one number.
    pub(super) fn p_value(&self, light: &[Vec<f64>]) -> f64 {
        let all = self.p_of_lights(light);
        match self.p_of_photographs(light) {
            Some(whole) => (2.0 * all.min(whole)).min(1.0),
            None => all,
        }
    }

    /// How often a whole photograph, of those that there are, would lie as far off as the worst of these; `None` without photographs. The error
    /// that the best zone has, as the model's is in all of them, is counted as if it had one sign in all.
    fn p_of_photographs(&self, light: &[Vec<f64>]) -> Option<f64> {
        let photographs: Vec<&ReadLine> = (self.lines.iter())
            .filter(|line| line.is_photograph())
            .collect();
        if photographs.is_empty() || light.is_empty() {
            return None;
        }
        let each = light.iter().map(|light| {
            let off = photographs.iter().map(|line| self.whole_off(line, light));
            let worst = off.fold(0.0f64, |worst, off| worst.max(off.abs()));
            let one_as_far = math::erfc(worst / std::f64::consts::SQRT_2);
            -math::expm1(photographs.len() as f64 * math::log1p(-one_as_far))
        });
        Some(each.sum::<f64>() / light.len() as f64)
    }

    /// By how many standard deviations a whole photograph is brighter than the light of a stand.
    fn whole_off(&self, line: &ReadLine, light: &[f64]) -> f64 {
        let read = &self.read[line.lights.clone()];
        let light = &light[line.lights.clone()];
        let seen: f64 = read.iter().map(|(log, _)| math::exp(*log)).sum();
        let shown: f64 = light.iter().sum();
        let mean = |of: &dyn Fn(usize) -> f64| -> f64 {
            let parts = light.iter().enumerate().map(|(at, light)| light * of(at));
            parts.sum::<f64>() / shown
        };
        let least = read
            .iter()
            .fold(f64::INFINITY, |least, (_, sd)| least.min(*sd));
        let parts = (light.iter().zip(read)).map(|(light, (_, sd))| light / shown * sd);
        let own: f64 = parts.map(|part| part * part).sum();
        let moved = [0, 1, 2].map(|k| mean(&|at| line.framing[at][k]));
        let squares: f64 = moved.iter().map(|moved| moved * moved).sum();
        let sd = (line.common * line.common + squares + least * least + own).sqrt();
        math::log(seen / shown) / sd
    }

    /// How often the readings of stands would have as much misfit: it is distributed as chi-squared, whatever the stand.
    fn p_of_lights(&self, light: &[Vec<f64>]) -> f64 {
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::optics::ZoneGrid;
    use crate::study::reading::{BenchSetting, Zone};

    #[test]
    fn a_photograph_that_lies_off_as_a_whole_is_not_lost_among_its_zones() {
        let grid = ZoneGrid::default();
        let zone = |line: usize, number: usize| Reading {
            line,
            ratio: 500.0,
            error: if number < grid.sectors() { 0.02 } else { 0.2 },
            common_error: 0.05,
            framing: [0.0; 3],
            setting: BenchSetting {
                zone: Some(Zone {
                    grid,
                    number,
                    channel: None,
                }),
                ..BenchSetting::default()
            },
            note: String::new(),
        };
        let lines = [2, 3, 4].map(|line| (0..grid.count()).map(move |number| zone(line, number)));
        let readings: Vec<Reading> = lines.into_iter().flatten().collect();
        let likelihood = Likelihood::new(&readings, 0.02);
        // The second photograph alone is brighter than the stand by a factor.
        let p = |factor: f64| {
            let light = |reading: &Reading| match reading.line {
                3 => 1.0 / (500.0 * factor),
                _ => 1.0 / 500.0,
            };
            likelihood.p_value(&[readings.iter().map(light).collect()])
        };
        assert_eq!(p(1.0), 1.0);
        assert!(p(1.1) > 0.01, "{}", p(1.1));
        assert!(p(1.4) < 1e-3, "{}", p(1.4));
        // Of all lights together nobody would see it.
        let light = readings.iter().map(|of| match of.line {
            3 => 1.0 / 700.0,
            _ => 1.0 / 500.0,
        });
        let all = likelihood.p_of_lights(&[light.collect()]);
        assert!(all > 0.99, "{all}");
    }
}
