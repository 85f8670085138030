//! CIE L*a*b* and the difference of two colours.

use palette::color_difference::Ciede2000;
use palette::white_point::D65;

use super::Xyz;

/// CIE 1976 `[L*, a*, b*]`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lab(pub [f64; 3]);

impl Lab {
    /// Of a colour, relative to a white in the same unit.
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
                t.cbrt()
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
/// Source: G. Sharma, W. Wu, E. N. Dalal 2005, Color Res. Appl. 30, 21; the arithmetic is the `palette` crate's.
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
    let [one, other] = [one, other].map(|Lab([l, a, b])| palette::Lab::<D65, f64>::new(l, a, b));
    one.difference(other)
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
}
