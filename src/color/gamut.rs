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
    fn beyond_white_is_white_and_below_black_black() {
        assert_eq!(map_to_srgb([1.2, 1.1, 1.05]).linear, [1.0; 3]);
        assert_eq!(map_to_srgb([-0.1, -0.2, -0.1]).linear, [0.0; 3]);
        assert_eq!(map_to_srgb([f64::NAN, 0.5, 0.5]).linear, [0.0; 3]);
    }
}
