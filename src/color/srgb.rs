//! sRGB: what a screen shows.

use palette::convert::FromColorUnclamped;
use palette::white_point::D65;
use palette::{LinSrgb, Srgb};
use serde::ser::{Serialize, SerializeStruct, Serializer};

use super::gamut::{Mapped, blend_into_srgb, map_to_srgb};
use super::oklch::Oklch;
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

impl Serialize for Swatch {
    /// Writes two fields: `srgb`, the hexadecimal code, and `gamut_mapped`.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut fields = serializer.serialize_struct("Swatch", 2)?;
        fields.serialize_field("srgb", &self.hex())?;
        fields.serialize_field("gamut_mapped", &self.gamut_mapped)?;
        fields.end()
    }
}

impl Swatch {
    /// The swatch of a colour in linear sRGB: brought into the gamut by [`map_to_srgb`], encoded, and rounded to 8 bits.
    ///
    /// ```text
    /// V = 12.92 L                      L <= 0.0031308
    /// V = 1.055 L^(1/2.4) - 0.055      above
    /// ```
    ///
    /// Source: IEC 61966-2-1 (from memory), in the `palette` crate. Checked by: `tests/reference/color.rs`.
    #[must_use]
    pub fn of_linear(linear: [f64; 3]) -> Self {
        Self::encoded(map_to_srgb(linear))
    }

    /// The swatches of a column of colours, each the neighbour of the next, in which no edge may show that is not in the colours: brought into
    /// the gamut by [`blend_into_srgb`], whose `reach` is a number of colours.
    #[must_use]
    pub fn of_column(linear: &[[f64; 3]], reach: usize) -> Vec<Self> {
        let mapped = blend_into_srgb(linear, reach).into_iter();
        mapped.map(Self::encoded).collect()
    }

    fn encoded(Mapped { linear, changed }: Mapped) -> Self {
        let [red, green, blue] = linear;
        // Encoding and rounding are two steps, because palette's direct conversion to 8 bits uses a coarse table of f32.
        let encoded = Srgb::<f64>::from_linear(LinSrgb::new(red, green, blue));
        let bytes = encoded.into_format::<u8>();
        Self {
            srgb: [bytes.red, bytes.green, bytes.blue],
            linear,
            gamut_mapped: changed,
        }
    }

    /// The swatch of tristimulus values under a white. They are white-balanced by Bradford where that can be done (see [`Adaptation::to_d65`]) and
    /// not exposed up: a white of Y = 1 is `#ffffff`.
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
}
