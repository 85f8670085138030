//! sRGB, and Oklch for what must be even to the eye.

use palette::convert::FromColorUnclamped;
use palette::white_point::D65;
use palette::{LinSrgb, Oklab, Srgb};

use super::gamut::{Mapped, map_to_srgb};
use super::{Adaptation, Xyz};

/// Linear sRGB `[R, G, B]` of tristimulus values relative to D65; outside 0 to 1 when a screen cannot show it.
///
/// ```text
/// | R |   |  3.2404542 -1.5371385 -0.4985314 | | X |
/// | G | = | -0.9692660  1.8760108  0.0415560 | | Y |
/// | B |   |  0.0556434 -0.2040259  1.0572252 | | Z |
/// ```
///
/// Source: primaries and white of IEC 61966-2-1 to seven digits, in the `palette` crate. The standard prints four
/// (3.2406, ...), which moves a channel by up to 2e-4.
/// Checked by: `tests/reference/color.rs`.
#[must_use]
pub fn linear_srgb(xyz: Xyz) -> [f64; 3] {
    let [x, y, z] = xyz.0;
    let rgb = LinSrgb::<f64>::from_color_unclamped(palette::Xyz::<D65, f64>::new(x, y, z));
    [rgb.red, rgb.green, rgb.blue]
}

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
    /// Of linear sRGB.
    #[must_use]
    pub fn of_linear(linear: [f64; 3]) -> Self {
        let [l, a, b] = oklab(linear);
        Self {
            lightness: l,
            chroma: a.hypot(b),
            hue_deg: b.atan2(a).to_degrees().rem_euclid(360.0),
        }
    }

    /// As linear sRGB, perhaps outside 0 to 1.
    #[must_use]
    pub fn to_linear(self) -> [f64; 3] {
        let (sin, cos) = self.hue_deg.to_radians().sin_cos();
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

/// A colour that a screen can show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Swatch {
    /// Encoded red, green and blue, 0 to 255.
    pub srgb: [u8; 3],
    /// The same before encoding, 0 to 1.
    pub linear: [f64; 3],
    /// Whether the colour lies outside sRGB and was brought into it.
    pub gamut_mapped: bool,
}

impl Swatch {
    /// Of linear sRGB: brought into the gamut by [`map_to_srgb`], encoded, rounded to 8 bits.
    ///
    /// ```text
    /// V = 12.92 L                      L <= 0.0031308
    /// V = 1.055 L^(1/2.4) - 0.055      above
    /// ```
    ///
    /// Source: IEC 61966-2-1 (from memory), in the `palette` crate. Checked by: `tests/reference/color.rs`.
    #[must_use]
    pub fn of_linear(linear: [f64; 3]) -> Self {
        let Mapped { linear, changed } = map_to_srgb(linear);
        let [red, green, blue] = linear;
        // In two steps: palette's direct way to 8 bits goes through a coarse table of f32.
        let encoded = Srgb::<f64>::from_linear(LinSrgb::new(red, green, blue));
        let bytes = encoded.into_format::<u8>();
        Self {
            srgb: [bytes.red, bytes.green, bytes.blue],
            linear,
            gamut_mapped: changed,
        }
    }

    /// Of tristimulus values under a white, white-balanced by Bradford where that can be done (see
    /// [`Adaptation::to_d65`]), shown at the same exposure: a white of Y = 1 is `#ffffff`.
    #[must_use]
    pub fn of_xyz(xyz: Xyz, white: Xyz) -> Self {
        let adaptation = Adaptation::to_d65(white).unwrap_or(Adaptation::NONE);
        Self::of_linear(linear_srgb(adaptation.apply(xyz)))
    }

    /// `#rrggbb`, lower case.
    #[must_use]
    pub fn hex(&self) -> String {
        let [red, green, blue] = self.srgb;
        format!("#{red:02x}{green:02x}{blue:02x}")
    }

    /// In Oklch.
    #[must_use]
    pub fn oklch(&self) -> Oklch {
        Oklch::of_linear(self.linear)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::color::D65_WHITE;

    #[test]
    fn d65_white_is_ffffff_and_neutral() {
        let linear = linear_srgb(D65_WHITE);
        assert!(linear.iter().all(|v| (v - 1.0).abs() < 3e-7), "{linear:?}");
        let swatch = Swatch::of_linear(linear);
        assert_eq!(swatch.hex(), "#ffffff");
        assert!(!swatch.gamut_mapped);
        assert!(swatch.oklch().chroma < 1e-6, "{:?}", swatch.oklch());
    }

    /// The curve at 0.2139 and 0.2142 is 255 times 0.49985 and 0.50016, on either side of 127.5; 12.92 * 0.002 * 255 is 6.6.
    #[test]
    fn encoding_follows_the_curve_on_both_of_its_parts() {
        assert_eq!(
            Swatch::of_linear([0.2139, 0.2142, 0.002]).srgb,
            [127, 128, 7]
        );
        assert_eq!(Swatch::of_linear([0.45; 3]).hex(), "#b3b3b3");
    }

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
