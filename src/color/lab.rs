//! CIE L*a*b* and the difference of two colours.

use serde::Serialize;

use super::Xyz;
use crate::math;

/// CIE 1976 `[L*, a*, b*]`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Lab(pub [f64; 3]);

impl Lab {
    /// L*a*b* of a colour, relative to a white in the same unit.
    ///
    /// `L* = 116 f(Y/Yn) - 16`, `a* = 500 (f(X/Xn) - f(Y/Yn))`, `b* = 200 (f(Y/Yn) - f(Z/Zn))`; `f` is the cube root
    /// above `(6/29)^3` and `t/(3 (6/29)^2) + 4/29` below.
    ///
    /// The colour is divided by its white, nothing more; balance it with [`super::Adaptation`] first when it is to be compared with
    /// a colour under another lamp.
    ///
    /// Source: CIE 015:2018, section 8.2.1 (from memory). Checked by: `tests/reference/color.rs`.
    ///
    /// # Examples
    /// ```
    /// use polstack::color::{D65_WHITE, Lab};
    /// assert_eq!(Lab::of(D65_WHITE, D65_WHITE), Lab([100.0, 0.0, 0.0]));
    /// ```
    #[must_use]
    pub fn of(color: Xyz, white: Xyz) -> Self {
        const EDGE: f64 = 6.0 / 29.0;
        let f = |t: f64| {
            if t > EDGE * EDGE * EDGE {
                math::cbrt(t)
            } else {
                t / (3.0 * EDGE * EDGE) + 4.0 / 29.0
            }
        };
        let [x, y, z] = [0, 1, 2].map(|i| f(color.0[i] / white.0[i]));
        Self([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)])
    }
}

/// CIEDE2000 colour difference with the parametric factors 1; about 1 is just noticeable side by side.
///
/// If two hues are exactly opposite, or so nearly that rounding decides, their mean hue jumps: there the formula has two answers, 1 % apart (pair 14
/// of the paper).
///
/// Source: G. Sharma, W. Wu, E. N. Dalal 2005, Color Res. Appl. 30, 21, equations (2) to (22) (from memory). Not
/// `palette`'s: version 0.7.7 leaves a mean hue above 360 degrees as it is, which is off by 3e-5 at reddish hues.
/// Checked by: `tests/published/ciede2000.rs`, `tests/reference/color.rs`.
///
/// # Examples
/// ```
/// use polstack::color::{Lab, ciede2000};
/// let difference = ciede2000(Lab([50.0, 2.5, 0.0]), Lab([50.0, 0.0, -2.5]));
/// assert!((difference - 4.3065).abs() < 5e-5);
/// ```
#[must_use]
pub fn ciede2000(one: Lab, other: Lab) -> f64 {
    let Lab([l1, a1, b1]) = one;
    let Lab([l2, a2, b2]) = other;

    // a* is stretched near the neutral axis.
    let saturation = |chroma: f64| (chroma.powi(7) / (chroma.powi(7) + 25f64.powi(7))).sqrt();
    let mean_ab = 0.5 * (math::hypot(a1, b1) + math::hypot(a2, b2));
    let stretch = 1.5 - 0.5 * saturation(mean_ab);
    let (a1, a2) = (a1 * stretch, a2 * stretch);
    let (c1, c2) = (math::hypot(a1, b1), math::hypot(a2, b2));
    // atan2(0, 0) is 0, as the paper asks for a neutral colour.
    let hue_deg = |a: f64, b: f64| math::atan2(b, a).to_degrees().rem_euclid(360.0);
    let (h1, h2) = (hue_deg(a1, b1), hue_deg(a2, b2));

    let neutral = c1 * c2 == 0.0;
    let apart = h2 - h1;
    let turn_deg = match apart {
        _ if neutral => 0.0,
        d if d > 180.0 => d - 360.0,
        d if d < -180.0 => d + 360.0,
        d => d,
    };
    let mean_hue_deg = match h1 + h2 {
        sum if neutral => sum,
        sum if apart.abs() <= 180.0 => 0.5 * sum,
        sum if sum < 360.0 => 0.5 * (sum + 360.0),
        sum => 0.5 * (sum - 360.0),
    };
    let (mean_l, mean_c) = (0.5 * (l1 + l2), 0.5 * (c1 + c2));

    let cos_deg = |degrees: f64| math::cos(degrees.to_radians());
    let hue_factor = 1.0 - 0.17 * cos_deg(mean_hue_deg - 30.0)
        + 0.24 * cos_deg(2.0 * mean_hue_deg)
        + 0.32 * cos_deg(3.0 * mean_hue_deg + 6.0)
        - 0.20 * cos_deg(4.0 * mean_hue_deg - 63.0);
    let off_middle = (mean_l - 50.0).powi(2);
    let scale_l = 1.0 + 0.015 * off_middle / (20.0 + off_middle).sqrt();
    let scale_c = 1.0 + 0.045 * mean_c;
    let scale_h = 1.0 + 0.015 * mean_c * hue_factor;

    let lightness = (l2 - l1) / scale_l;
    let chroma = (c2 - c1) / scale_c;
    let hue = 2.0 * (c1 * c2).sqrt() * math::sin((0.5 * turn_deg).to_radians()) / scale_h;
    // Among blue colours, differences of chroma and of hue act together.
    let blue_deg = 30.0 * math::exp(-((mean_hue_deg - 275.0) / 25.0).powi(2));
    let rotation = -2.0 * saturation(mean_c) * math::sin((2.0 * blue_deg).to_radians());
    let squared = lightness.powi(2) + chroma.powi(2) + hue.powi(2) + rotation * chroma * hue;
    // Never negative but for rounding: |rotation| is at most 2.
    squared.max(0.0).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lightness_of_grey_is_the_textbook_one() {
        let white = Xyz([0.9, 1.0, 0.8]);
        // L* of 18.4187 % is 50 (inverse of the formula), of 0.1 % it lies on the straight part: 903.2963 Y.
        for (y, lightness) in [
            (((50.0 + 16.0) / 116.0f64).powi(3), 50.0),
            (0.001, 0.9032963),
            (0.0, 0.0),
        ] {
            let Lab([l, a, b]) = Lab::of(white.scaled(y), white);
            assert!((l - lightness).abs() < 1e-7, "{l}, {lightness}");
            assert!(a.abs() < 1e-12 && b.abs() < 1e-12);
        }
    }

    /// Two reddish hues whose mean lies beyond 360 degrees before it is reduced.
    /// The value is colour-science 0.4.7's.
    #[test]
    fn a_mean_hue_is_reduced_to_one_turn() {
        let one = Lab([
            52.626_656_586_584_32,
            16.894_471_051_431_054,
            -17.312_746_861_905_765,
        ]);
        let other = Lab([
            27.361_647_383_667_41,
            36.710_758_145_418_65,
            50.029_549_355_248_45,
        ]);
        let difference = ciede2000(one, other);
        assert!(
            (difference - 41.520_598_731_071_5).abs() < 1e-10,
            "{difference}"
        );
    }

    #[test]
    fn equal_colours_do_not_differ() {
        for lab in [[0.0; 3], [50.0, 0.0, 0.0], [40.0, 20.0, -30.0]] {
            assert_eq!(ciede2000(Lab(lab), Lab(lab)), 0.0);
        }
    }
}
