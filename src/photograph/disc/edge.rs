//! Points of the disc's edge, finer than a pixel: along rays from the middle, where the light is halfway between the disc's near its edge and the
//! background's.

use super::coarse::Levels;
use super::fit::Oval;
use crate::math::{cos, hypot, sin};
use crate::photograph::grey::Grey;
use crate::threads;

/// Rays beside each other of which the median is taken, so that a single bright or dark pixel does not matter.
const SIDE_BY_SIDE: usize = 5;

/// The least step of light at an edge, as a share of the step from the background to the middle of the patch.
const LEAST_STEP: f64 = 0.2;

/// The points that are found, and how many rays were looked along.
pub(super) fn points(
    picture: &Grey,
    oval: &Oval,
    window: f64,
    levels: Levels,
) -> (Vec<(f64, f64)>, usize) {
    let radius = oval.radius();
    let rays = ((std::f64::consts::TAU * radius) as usize).clamp(90, 720);
    let look = EdgeSearch {
        picture,
        oval,
        half_width: (window * radius).max(6.0),
        step: (radius / 800.0).max(0.5),
        spacing_rad: std::f64::consts::TAU / rays as f64,
        levels,
    };
    let found = threads::map(0..rays, |k| look.along(k as f64 * look.spacing_rad));
    (found.into_iter().flatten().collect(), rays)
}

struct EdgeSearch<'a> {
    picture: &'a Grey,
    oval: &'a Oval,
    /// How far inside and outside the expected edge is looked, pixels.
    half_width: f64,
    /// Pixels.
    step: f64,
    spacing_rad: f64,
    levels: Levels,
}

impl EdgeSearch<'_> {
    /// The edge in one direction.
    fn along(&self, angle: f64) -> Option<(f64, f64)> {
        let (x, y) = (self.oval.center_x, self.oval.center_y);
        let (edge_x, edge_y) = self.oval.edge(angle);
        let expected = hypot(edge_x - x, edge_y - y);
        let from = (expected - self.half_width).max(0.0);
        let profile = self.profile(angle, from, expected + self.half_width);
        let place = |at: f64| from + at * self.step;
        let jump = self.steepest(&profile)?;
        // What is near the edge may be blurred.
        let blur = ((0.15 * self.half_width).max(2.0) / self.step).ceil() as usize;
        let inner = profile.get(..(jump + 1).checked_sub(blur)?)?;
        let outer = profile.get(jump + blur..).unwrap_or_default();
        let bright = line_at(inner, jump as f64)?;
        let dim = if outer.len() > 4 {
            median(outer.to_vec())?
        } else {
            self.levels.background
        };
        if bright - dim < LEAST_STEP * (self.levels.bright - self.levels.background) {
            return None;
        }
        let at = crossing(&profile, 0.5 * (bright + dim), jump)?;
        Some((x + place(at) * cos(angle), y + place(at) * sin(angle)))
    }

    /// Light along a ray, as far as it is in the picture.
    fn profile(&self, angle: f64, from: f64, to: f64) -> Vec<f64> {
        let beside: [(f64, f64); SIDE_BY_SIDE] = std::array::from_fn(|k| {
            let share = k as f64 / SIDE_BY_SIDE as f64 - 0.4;
            let angle = angle + share * self.spacing_rad;
            (cos(angle), sin(angle))
        });
        let mut profile = Vec::new();
        let count = ((to - from) / self.step) as usize;
        for k in 0..=count {
            let distance = from + k as f64 * self.step;
            let mut values = [0.0; SIDE_BY_SIDE];
            for (value, (dx, dy)) in values.iter_mut().zip(beside) {
                let (x, y) = (self.oval.center_x, self.oval.center_y);
                match self.picture.at(x + distance * dx, y + distance * dy) {
                    Some(light) => *value = light,
                    None => return profile,
                }
            }
            values.sort_by(f64::total_cmp);
            profile.push(values[SIDE_BY_SIDE / 2]);
        }
        profile
    }

    /// Where the light before exceeds the light behind by the most.
    fn steepest(&self, profile: &[f64]) -> Option<usize> {
        let reach = ((0.2 * self.half_width).max(2.0) / self.step).ceil() as usize;
        let mut sums = vec![0.0];
        let mut sum = 0.0;
        for value in profile {
            sum += value;
            sums.push(sum);
        }
        let mut best = None;
        let mut most = 0.0;
        for (at, three) in sums.windows(2 * reach + 1).enumerate() {
            let (Some(first), Some(middle), Some(last)) =
                (three.first(), three.get(reach), three.last())
            else {
                break;
            };
            let fall = (middle - first) - (last - middle);
            if fall > most {
                most = fall;
                best = Some(at + reach);
            }
        }
        best.filter(|&at| at > 0)
    }
}

/// A straight line through a profile, at a place.
fn line_at(profile: &[f64], at: f64) -> Option<f64> {
    let count = profile.len() as f64;
    let mean = profile.iter().sum::<f64>() / count;
    if profile.len() < 4 {
        return (!profile.is_empty()).then_some(mean);
    }
    let middle = 0.5 * (count - 1.0);
    let (mut along, mut square) = (0.0, 0.0);
    for (k, value) in profile.iter().enumerate() {
        let offset = k as f64 - middle;
        along += offset * (value - mean);
        square += offset * offset;
    }
    Some(mean + along / square * (at - middle))
}

fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied()
}

/// The place nearest to `near` at which a profile falls through a level.
fn crossing(profile: &[f64], level: f64, near: usize) -> Option<f64> {
    let near = near as f64;
    let mut best: Option<f64> = None;
    for (k, pair) in profile.windows(2).enumerate() {
        if let &[before, behind] = pair
            && before >= level
            && behind < level
        {
            let at = k as f64 + (before - level) / (before - behind);
            if best.is_none_or(|best| (at - near).abs() < (best - near).abs()) {
                best = Some(at);
            }
        }
    }
    best
}
