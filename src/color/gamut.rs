//! Bringing a colour into what a screen can show.

use std::collections::VecDeque;

use super::oklch::{Oklch, oklab};

/// A colour brought into sRGB.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mapped {
    /// Linear sRGB, every channel within 0 to 1.
    pub linear: [f64; 3],
    /// Whether the colour lay outside sRGB and was changed.
    pub changed: bool,
}

/// A difference in Oklab that is just noticeable.
const JUST_NOTICEABLE: f64 = 0.02;

/// The search for a chroma ends when its bounds are this near.
const CHROMA_STEP: f64 = 1e-4;

/// A channel that is outside 0 to 1 by no more than this counts as inside. So much comes from the rounding of seven-digit matrices; it is a hundredth
/// of a step of 8 bits even where the curve of sRGB is steepest.
const ROUNDING: f64 = 1e-6;

/// Brings linear sRGB into 0 to 1 by lowering its chroma, with lightness and hue kept in Oklch.
///
/// This is the method of CSS Color 4. A lightness of 1 or more becomes white, one of 0 or less black. Otherwise chroma is lowered until the channels
/// can be cut to 0 to 1 with a change of just less than 0.02 in Oklab; then they are cut.
///
/// Source: W3C, CSS Color Module Level 4, section 13.2, "Binary Search Gamut Mapping with Local MINDE" (steps read
/// in the working group's issue 10226). It differs in one point: channels within 1e-6 of the gamut count as inside.
/// Checked by: this file's unit tests and `tests/reference/color.rs`.
///
/// # Examples
/// ```
/// let mapped = polstack::color::map_to_srgb([0.2, -0.3, 0.8]);
/// assert!(mapped.changed && mapped.linear[1] < 1e-2);
/// ```
#[must_use]
pub fn map_to_srgb(linear: [f64; 3]) -> Mapped {
    if is_inside(linear) {
        return Mapped {
            linear: cut(linear),
            changed: false,
        };
    }
    let origin = Oklch::of_linear(linear);
    let mapped = |linear| Mapped {
        linear,
        changed: true,
    };
    if origin.lightness >= 1.0 {
        return mapped([1.0; 3]);
    }
    if origin.lightness.is_nan() || origin.lightness <= 0.0 {
        return mapped([0.0; 3]);
    }
    let mut clipped = cut(linear);
    if difference(clipped, linear) < JUST_NOTICEABLE {
        return mapped(clipped);
    }
    let (mut low, mut high) = (0.0, origin.chroma);
    let mut low_is_inside = true;
    while high - low > CHROMA_STEP {
        let chroma = 0.5 * (low + high);
        let current = Oklch { chroma, ..origin }.to_linear();
        clipped = cut(current);
        if low_is_inside && is_inside(current) {
            low = chroma;
            continue;
        }
        let lost = difference(clipped, current);
        if lost >= JUST_NOTICEABLE {
            high = chroma;
        } else if JUST_NOTICEABLE - lost < CHROMA_STEP {
            break;
        } else {
            low_is_inside = false;
            low = chroma;
        }
    }
    mapped(clipped)
}

/// Halvings of the interval in which the share of chroma lies that a screen can show: the rest is far below a step of 8 bits.
const HALVINGS: usize = 24;

/// Brings a column of colours in linear sRGB, each the neighbour of the next, into 0 to 1 so that no edge shows that is not in the colours.
///
/// First a colour with a channel above 1 is darkened, channels in proportion, until that channel is 1. Then chroma is lowered until no channel is
/// below 0, with lightness and hue kept in Oklch. Neither is done colour by colour: the share of light, and then the share of chroma, that a colour
/// keeps is the least that is needed for any of those up to `reach` before and after it, taken as a mean over as many once more, with weights that
/// fall evenly to both sides. So both change slowly along the column, and colours near those that a screen cannot show give way a little with them,
/// where [`map_to_srgb`], which is meant for single swatches, bends at the edge of the gamut. [`Mapped::changed`] says whether the colour itself lay
/// outside. What is not a number is black.
///
/// The rule is our own: of those tried on interference colours, this one kept them nearest to what was computed among the ones without edges.
/// Checked by: this file's unit tests, `src/output/figure/chart/tests.rs`.
///
/// # Examples
/// ```
/// let (grey, vivid) = ([0.2; 3], [0.2, -0.3, 0.8]);
/// let column = polstack::color::blend_into_srgb(&[grey, grey, grey, grey, vivid], 1);
/// assert!(!column[0].changed && column[4].changed);
/// assert!(column[4].linear.iter().all(|channel| (0.0..=1.0).contains(channel)));
/// ```
#[must_use]
pub fn blend_into_srgb(column: &[[f64; 3]], reach: usize) -> Vec<Mapped> {
    let reach = reach.min(column.len());
    let shares = |needed: Vec<f64>| {
        let least = least_around(&needed, reach);
        means(&means(&least, reach / 2), reach.div_ceil(2))
    };
    let known = column
        .iter()
        .map(|linear| match linear.iter().all(|v| v.is_finite()) {
            true => *linear,
            false => [0.0; 3],
        });
    let known: Vec<[f64; 3]> = known.collect();
    let light = known.iter().map(|linear| {
        let largest = linear.iter().copied().fold(0.0, f64::max);
        if largest > 1.0 + ROUNDING {
            1.0 / largest
        } else {
            1.0
        }
    });
    let dimmed = known.iter().zip(shares(light.collect()));
    let dimmed: Vec<[f64; 3]> = dimmed
        .map(|(linear, share)| linear.map(|v| v * share))
        .collect();
    let chroma = shares(dimmed.iter().map(|linear| shown_share(*linear)).collect());
    (column.iter().zip(dimmed).zip(chroma))
        .map(|((linear, dimmed), share)| {
            let origin = Oklch::of_linear(dimmed);
            let kept = Oklch {
                chroma: share * origin.chroma,
                ..origin
            };
            Mapped {
                linear: match share >= 1.0 || origin.chroma == 0.0 {
                    true => cut(dimmed),
                    false => cut(kept.to_linear()),
                },
                changed: !is_inside(*linear),
            }
        })
        .collect()
}

/// The share of its chroma with which a screen can show a colour.
fn shown_share(linear: [f64; 3]) -> f64 {
    if is_inside(linear) {
        return 1.0;
    }
    let origin = Oklch::of_linear(linear);
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..HALVINGS {
        let share = 0.5 * (low + high);
        let chroma = share * origin.chroma;
        match is_inside(Oklch { chroma, ..origin }.to_linear()) {
            true => low = share,
            false => high = share,
        }
    }
    low
}

/// Of each value the least among those up to `reach` before and after.
fn least_around(values: &[f64], reach: usize) -> Vec<f64> {
    // Places of values that may still be the least, the least of them first: each is below all that come after it.
    let mut rising = VecDeque::new();
    let mut least = Vec::with_capacity(values.len());
    for end in 0..values.len() + reach {
        if let Some(value) = values.get(end) {
            while rising.back().is_some_and(|k: &usize| values[*k] >= *value) {
                rising.pop_back();
            }
            rising.push_back(end);
        }
        if end >= reach {
            while rising.front().is_some_and(|k| k + 2 * reach < end) {
                rising.pop_front();
            }
            least.extend(rising.front().map(|k| values[*k]));
        }
    }
    least
}

/// Of each value the mean of those up to `reach` before and after; beyond the ends the last values go on.
fn means(values: &[f64], reach: usize) -> Vec<f64> {
    let (Some(first), Some(last)) = (values.first(), values.last()) else {
        return Vec::new();
    };
    let beyond = |value: &f64| std::iter::repeat_n(*value, reach);
    let all = beyond(first)
        .chain(values.iter().copied())
        .chain(beyond(last));
    let all: Vec<f64> = all.collect();
    let mut sums = vec![0.0];
    for value in &all {
        sums.push(sums[sums.len() - 1] + value);
    }
    let window = 2 * reach + 1;
    let ends = sums.iter().zip(&sums[window..]);
    ends.map(|(before, after)| (after - before) / window as f64)
        .collect()
}

fn is_inside(linear: [f64; 3]) -> bool {
    (linear.iter()).all(|v| (-ROUNDING..=1.0 + ROUNDING).contains(v))
}

fn cut(linear: [f64; 3]) -> [f64; 3] {
    linear.map(|v| v.clamp(0.0, 1.0))
}

/// Euclidean distance in Oklab.
fn difference(one: [f64; 3], other: [f64; 3]) -> f64 {
    let (a, b) = (oklab(one), oklab(other));
    (0..3).map(|i| (a[i] - b[i]).powi(2)).sum::<f64>().sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math;

    #[test]
    fn what_a_screen_shows_is_left_alone() {
        for linear in [[0.0; 3], [1.0; 3], [0.2, 0.5, 0.9], [1.0, 0.0, 1.0]] {
            let mapped = map_to_srgb(linear);
            assert_eq!(mapped.linear, linear);
            assert!(!mapped.changed);
        }
    }

    #[test]
    fn hue_and_lightness_survive_within_a_just_noticeable_difference() {
        for linear in [
            [0.3, -0.2, 0.9],
            [1.4, 0.5, -0.1],
            [-0.4, 0.8, 0.6],
            [0.05, -0.06, 0.5],
        ] {
            let before = Oklch::of_linear(linear);
            let mapped = map_to_srgb(linear);
            let after = Oklch::of_linear(mapped.linear);
            assert!(mapped.changed && is_inside(mapped.linear));
            // The colour of lower chroma that was cut has the old hue and lightness; cutting moved it by 0.02 at most.
            let along = math::cos(before.hue_deg.to_radians()) * before.chroma;
            let across = math::sin(before.hue_deg.to_radians()) * before.chroma;
            let lab = oklab(mapped.linear);
            let off_plane = (lab[1] * across - lab[2] * along) / before.chroma;
            let moved = math::hypot(off_plane, after.lightness - before.lightness);
            assert!(moved <= JUST_NOTICEABLE, "{linear:?}: {moved}");
            // And it is not greyer than need be: a chroma larger by 0.03 loses more when cut.
            let fuller = Oklch {
                chroma: after.chroma + 0.03,
                ..before
            };
            let lost = difference(cut(fuller.to_linear()), fuller.to_linear());
            assert!(lost > JUST_NOTICEABLE, "{linear:?}: {lost}");
        }
    }

    #[test]
    fn a_column_keeps_hue_and_no_share_jumps() {
        // From grey to a blue that no screen shows.
        let (grey, vivid) = ([0.3; 3], [-0.2, 0.05, 1.5]);
        let mix = |share: f64| [0, 1, 2].map(|k| grey[k] + share * (vivid[k] - grey[k]));
        let column: Vec<[f64; 3]> = (0..=1000).map(|k| mix(1e-3 * f64::from(k))).collect();
        let mut sharpest = Vec::new();
        for reach in [0, 1, 7, 30, 2000] {
            let mapped = blend_into_srgb(&column, reach);
            assert!(!mapped[0].changed && mapped[1000].changed);
            let mut moved = Vec::new();
            for (linear, mapped) in column.iter().zip(&mapped) {
                assert!(is_inside(mapped.linear));
                let (before, after) = (Oklch::of_linear(*linear), Oklch::of_linear(mapped.linear));
                // Darkening in proportion keeps hue and chroma over lightness.
                assert!(after.lightness <= before.lightness + 1e-4);
                assert!(after.chroma / after.lightness <= before.chroma / before.lightness + 1e-4);
                if after.chroma > 0.01 {
                    assert!((after.hue_deg - before.hue_deg).abs() < 0.1, "{after:?}");
                }
                moved.push(difference(*linear, mapped.linear));
            }
            let bend = |three: &[f64]| (three[2] - 2.0 * three[1] + three[0]).abs();
            sharpest.push(moved.windows(3).map(bend).fold(0.0, f64::max));
        }
        // Colour by colour, what is moved begins with a bend; spread over many, it does not.
        let [alone, .., many, _] = sharpest[..] else {
            unreachable!()
        };
        assert!(many < 0.2 * alone, "{sharpest:?}");
    }

    #[test]
    fn the_least_and_the_mean_around_are_those_of_their_definitions() {
        let values: Vec<f64> = (0..40).map(|k| f64::from(k * k % 17)).collect();
        for reach in [0, 1, 5, 60] {
            let least = least_around(&values, reach);
            let mean = means(&values, reach);
            for k in 0..values.len() {
                let around = &values[k.saturating_sub(reach)..(k + reach + 1).min(40)];
                assert_eq!(least[k], around.iter().copied().fold(f64::MAX, f64::min));
                let at = |j: i32| values[j.clamp(0, 39) as usize];
                let (k, reach) = (k as i32, reach as i32);
                let sum: f64 = (k - reach..=k + reach).map(at).sum();
                assert!((mean[k as usize] - sum / f64::from(2 * reach + 1)).abs() < 1e-12);
            }
        }
        assert_eq!(
            (least_around(&[], 3), means(&[], 3)),
            (Vec::new(), Vec::new())
        );
    }

    #[test]
    fn beyond_white_is_white_and_below_black_black() {
        assert_eq!(map_to_srgb([1.2, 1.1, 1.05]).linear, [1.0; 3]);
        assert_eq!(map_to_srgb([-0.1, -0.2, -0.1]).linear, [0.0; 3]);
        assert_eq!(map_to_srgb([f64::NAN, 0.5, 0.5]).linear, [0.0; 3]);
        let column = [
            [1.2; 3],
            [1.0; 3],
            [0.0; 3],
            [-0.1, -0.2, -0.1],
            [f64::NAN, 0.5, 0.5],
        ];
        for mapped in [
            &blend_into_srgb(&column[..2], 0),
            &blend_into_srgb(&column[..2], 5),
        ] {
            assert!(mapped.iter().flat_map(|m| m.linear).all(|v| v > 0.83));
        }
        let dark = blend_into_srgb(&column[2..], 0);
        assert!(
            dark.iter().flat_map(|m| m.linear).all(|v| v < 1e-3),
            "{dark:?}"
        );
        assert!(blend_into_srgb(&[], 3).is_empty());
    }
}
