//! Bringing a colour into what a screen can show.

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

/// From this share of the most chroma that a screen has at a lightness and hue, a band's chroma is held back.
const HELD_BACK_FROM: f64 = 0.8;

/// Halvings of the interval in which the most chroma lies: the rest is far below a step of 8 bits.
const HALVINGS: usize = 24;

/// Brings linear sRGB into 0 to 1 for a band of many colours side by side, in which no edge may show that is not in the colours themselves.
///
/// Lightness and hue are kept in Oklch. Chroma C is kept up to 0.8 of the most that a screen has there, M; beyond, it nears M and never reaches it:
/// with `u = (C/M - 0.8)/0.2`, `C' = M (0.8 + 0.2 u/sqrt(1 + u^2))`. So neighbours stay apart where [`map_to_srgb`], which is meant for single
/// swatches, lets whole stretches end at the same edge of the gamut, and what the colour becomes depends on the colour alone, not on its
/// neighbours. The price: a colour that a screen just shows loses 6 % of its chroma. A lightness of 1 or more becomes white, one of 0 or less black.
/// [`Mapped::changed`] says whether the colour lay outside.
///
/// The rule is our own. Checked by: this file's unit tests, `src/output/figure/chart/tests.rs`.
///
/// # Examples
/// ```
/// let pale = polstack::color::blend_into_srgb([0.5, 0.4, 0.45]);
/// assert!(!pale.changed && (pale.linear[1] - 0.4).abs() < 1e-6);
/// ```
#[must_use]
pub fn blend_into_srgb(linear: [f64; 3]) -> Mapped {
    let changed = !is_inside(linear);
    let origin = Oklch::of_linear(linear);
    let plain = |level: f64| Mapped {
        linear: [level; 3],
        changed,
    };
    if origin.lightness >= 1.0 {
        return plain(1.0);
    }
    if origin.lightness.is_nan() || origin.lightness <= 0.0 {
        return plain(0.0);
    }
    let most = most_chroma(origin);
    let beyond = (origin.chroma / most - HELD_BACK_FROM) / (1.0 - HELD_BACK_FROM);
    if most > 0.0 && beyond <= 0.0 {
        return Mapped {
            linear: cut(linear),
            changed,
        };
    }
    let held = beyond / (1.0 + beyond * beyond).sqrt();
    let chroma = match held.is_finite() {
        true => most * (HELD_BACK_FROM + (1.0 - HELD_BACK_FROM) * held),
        false => most,
    };
    Mapped {
        linear: cut(Oklch { chroma, ..origin }.to_linear()),
        changed,
    }
}

/// The most chroma that sRGB has at the lightness and hue of a colour.
fn most_chroma(color: Oklch) -> f64 {
    // No colour of sRGB has more than 0.33.
    let (mut low, mut high) = (0.0, 0.4);
    for _ in 0..HALVINGS {
        let chroma = 0.5 * (low + high);
        match is_inside(Oklch { chroma, ..color }.to_linear()) {
            true => low = chroma,
            false => high = chroma,
        }
    }
    low
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
    fn a_band_keeps_lightness_and_hue_and_neighbours_apart() {
        // From grey to a blue that no screen shows.
        let (grey, vivid) = ([0.3; 3], [0.05, 0.05, 1.5]);
        let mix = |share: f64| [0, 1, 2].map(|k| grey[k] + share * (vivid[k] - grey[k]));
        let steps: Vec<f64> = (0..=1000).map(|k| f64::from(k) * 1e-3).collect();
        let mapped: Vec<Mapped> = steps.iter().map(|s| blend_into_srgb(mix(*s))).collect();
        assert!(!mapped[0].changed && mapped[1000].changed);
        for (share, mapped) in steps.iter().zip(&mapped) {
            assert!(is_inside(mapped.linear));
            let (before, after) = (
                Oklch::of_linear(mix(*share)),
                Oklch::of_linear(mapped.linear),
            );
            assert!((before.lightness - after.lightness).abs() < 2e-3, "{share}");
            assert!(after.chroma <= before.chroma + 1e-6, "{share}");
        }
        // Steps change evenly: nowhere does one differ from the next by more than a tenth of itself or of what an eye tells apart.
        let step: Vec<f64> = mapped
            .windows(2)
            .map(|pair| difference(pair[0].linear, pair[1].linear))
            .collect();
        for pair in step.windows(2) {
            let jump = (pair[1] - pair[0]).abs();
            assert!(jump < 0.1 * pair[0] + 1e-4, "{jump} after {}", pair[0]);
        }
    }

    #[test]
    fn beyond_white_is_white_and_below_black_black() {
        assert_eq!(map_to_srgb([1.2, 1.1, 1.05]).linear, [1.0; 3]);
        assert_eq!(map_to_srgb([-0.1, -0.2, -0.1]).linear, [0.0; 3]);
        assert_eq!(map_to_srgb([f64::NAN, 0.5, 0.5]).linear, [0.0; 3]);
        assert_eq!(blend_into_srgb([1.2, 1.1, 1.05]).linear, [1.0; 3]);
        assert_eq!(blend_into_srgb([1.0; 3]).linear, [1.0; 3]);
        assert_eq!(blend_into_srgb([0.0; 3]).linear, [0.0; 3]);
        assert_eq!(blend_into_srgb([f64::NAN, 0.5, 0.5]).linear, [0.0; 3]);
    }
}
