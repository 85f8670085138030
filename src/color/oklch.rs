//! Oklch, for what must be even to the eye.

use palette::convert::FromColorUnclamped;
use palette::{LinSrgb, Oklab};

use crate::math;

/// A colour in the cylinder of Oklab: lightness 0 to 1, chroma (0 to about 0.32 in sRGB), hue in degrees.
///
/// Source: B. Ottosson 2020, "A perceptual color space for image processing", in the `palette` crate; read from linear
/// sRGB. Checked by: `tests/reference/color.rs`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Oklch {
    /// 0 black, 1 white.
    pub lightness: f64,
    /// 0 neutral.
    pub chroma: f64,
    /// 0 to 360; red is near 29, yellow 110, green 142, blue 264. Says nothing where chroma is 0.
    pub hue_deg: f64,
}

impl Oklch {
    /// Oklch of a colour in linear sRGB.
    #[must_use]
    pub fn of_linear(linear: [f64; 3]) -> Self {
        let [l, a, b] = oklab(linear);
        Self {
            lightness: l,
            chroma: math::hypot(a, b),
            hue_deg: math::atan2(b, a).to_degrees().rem_euclid(360.0),
        }
    }

    /// The colour in linear sRGB; channels may lie outside 0 to 1.
    #[must_use]
    pub fn to_linear(self) -> [f64; 3] {
        let (sin, cos) = math::sincos(self.hue_deg.to_radians());
        let lab = Oklab::<f64>::new(self.lightness, self.chroma * cos, self.chroma * sin);
        let rgb = LinSrgb::<f64>::from_color_unclamped(lab);
        [rgb.red, rgb.green, rgb.blue]
    }
}

/// Oklab `[L, a, b]` of linear sRGB.
pub(super) fn oklab([red, green, blue]: [f64; 3]) -> [f64; 3] {
    let lab = Oklab::<f64>::from_color_unclamped(LinSrgb::<f64>::new(red, green, blue));
    [lab.l, lab.a, lab.b]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn oklch_of_the_primaries_is_the_known_one() {
        // Ottosson's page gives sRGB red, green and blue these values, to the digits shown (from memory).
        for (linear, lightness, chroma, hue_deg) in [
            ([1.0, 0.0, 0.0], 0.62796, 0.25768, 29.234),
            ([0.0, 1.0, 0.0], 0.86644, 0.29483, 142.495),
            ([0.0, 0.0, 1.0], 0.45201, 0.31321, 264.052),
        ] {
            let got = Oklch::of_linear(linear);
            assert!((got.lightness - lightness).abs() < 1e-5, "{got:?}");
            assert!((got.chroma - chroma).abs() < 1e-5, "{got:?}");
            assert!((got.hue_deg - hue_deg).abs() < 1e-3, "{got:?}");
            for (back, there) in got.to_linear().iter().zip(linear) {
                assert!((back - there).abs() < 1e-6, "{got:?}");
            }
        }
    }
}
