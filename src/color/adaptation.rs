//! White balance.

use super::Xyz;

/// White of sRGB, CIE D65 as the sRGB matrix has it.
///
/// Source: IEC 61966-2-1 gives x = 0.3127, y = 0.3290; these are the five-digit tristimulus values that the
/// common seven-digit matrix was made with (ASTM E308 table, from memory). They differ from the rounded chromaticity's
/// by 2e-4 in Z.
pub const D65_WHITE: Xyz = Xyz([0.95047, 1.0, 1.08883]);

/// Bradford's matrix from XYZ to sharpened cone responses.
///
/// Source: colour-science 0.4.7 (BSD-3), `CHROMATIC_ADAPTATION_TRANSFORMS["Bradford"]`, after K. M. Lam's thesis,
/// University of Bradford 1985.
const BRADFORD: [[f64; 3]; 3] = [
    [0.8951, 0.2664, -0.1614],
    [-0.7502, 1.7135, 0.0367],
    [0.0389, -0.0685, 1.0296],
];

/// Its inverse, from exact fractions. `palette`, and many books, round it to seven digits; then white does not come out
/// white.
const BRADFORD_INVERSE: [[f64; 3]; 3] = [
    [
        0.986_992_905_466_712_1,
        -0.147_054_256_420_990_1,
        0.159_962_651_663_731_25,
    ],
    [
        0.432_305_269_723_394_5,
        0.518_360_271_536_777_6,
        0.049_291_228_212_855_615,
    ],
    [
        -0.008_528_664_575_177_331,
        0.040_042_821_654_084_86,
        0.968_486_695_787_55,
    ],
];

fn times(matrix: &[[f64; 3]; 3], v: [f64; 3]) -> [f64; 3] {
    [0, 1, 2].map(|i| matrix[i][0] * v[0] + matrix[i][1] * v[1] + matrix[i][2] * v[2])
}

/// White balance from one white to D65 by Bradford's linear transform, whole or in part.
///
/// Source: ICC and CIE 160:2004 (the linear form; from memory). The degree is CIECAM16's D (C. Li and others, Color Res. Appl. 42, 703 (2017); CIE 248:2022; both from memory,
/// the formula read in colour-science 0.4.7).
/// Checked by: `tests/reference/color.rs`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Adaptation {
    gain: [f64; 3],
}

impl Adaptation {
    /// Least cone response of a white that can be balanced, relative to that of D65 of the same luminance.
    pub const LEAST_RESPONSE: f64 = 0.01;

    /// The adaptation that leaves colours as they are.
    pub const NONE: Self = Self { gain: [1.0; 3] };

    /// From `white`, of any luminance above 0, to D65.
    ///
    /// `None` when no balance makes sense: one of the white's three responses is below [`Self::LEAST_RESPONSE`] of D65's. That is
    /// light of nearly one wavelength (a sodium lamp, a narrow green filter), which no camera balances either; a
    /// blackbody of 1000 K still passes.
    #[must_use]
    pub fn to_d65(white: Xyz) -> Option<Self> {
        Self::by_degree(white, 1.0)
    }

    /// The same for an eye that has adapted to `white` only in part: `degree` 1 is full adaptation to it, 0 none, so that the eye takes daylight
    /// (D65) for white and `white` keeps its own colour. Each response is multiplied by
    ///
    /// ```text
    /// D R_D65/R_white + 1 - D
    /// ```
    ///
    /// Source: CIECAM16's degree of adaptation D (see [`Adaptation`]), with D65 as the white of an unadapted eye, and with Bradford's
    /// responses in place of its own, so that full adaptation is the balance that everything else here has.
    /// Checked by: `tests/reference/color.rs`.
    ///
    /// # Examples
    /// ```
    /// use polstack::color::{Adaptation, Xyz};
    /// let tungsten = Xyz([1.0985, 1.0, 0.3558]);
    /// let unadapted = Adaptation::by_degree(tungsten, 0.0).unwrap();
    /// assert_eq!(unadapted.apply(tungsten), tungsten);
    /// ```
    #[must_use]
    pub fn by_degree(white: Xyz, degree: f64) -> Option<Self> {
        let luminance = white.luminance();
        if !(luminance.is_finite() && luminance > 0.0) {
            return None;
        }
        let from = times(&BRADFORD, white.scaled(1.0 / luminance).0);
        let to = times(&BRADFORD, D65_WHITE.0);
        let enough = (0..3).all(|i| from[i] >= Self::LEAST_RESPONSE * to[i]);
        enough.then(|| Self {
            gain: [0, 1, 2].map(|i| degree * (to[i] / from[i]) + (1.0 - degree)),
        })
    }

    /// Takes a colour seen under the old white, and returns the colour that looks the same under D65. The old white keeps its luminance.
    ///
    /// # Examples
    /// ```
    /// use polstack::color::{Adaptation, D65_WHITE, Xyz};
    /// let tungsten = Xyz([1.0985, 1.0, 0.3558]);
    /// let balanced = Adaptation::to_d65(tungsten).unwrap().apply(tungsten);
    /// assert!((balanced.0[2] - D65_WHITE.0[2]).abs() < 1e-15);
    /// ```
    #[must_use]
    pub fn apply(&self, color: Xyz) -> Xyz {
        if *self == Self::NONE {
            return color;
        }
        let response = times(&BRADFORD, color.0);
        let balanced = [0, 1, 2].map(|i| response[i] * self.gain[i]);
        Xyz(times(&BRADFORD_INVERSE, balanced))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::color::ColorWeights;
    use crate::spectrum::{Source, WavelengthGrid};

    #[test]
    fn the_two_matrices_undo_each_other() {
        for i in 0..3 {
            let mut unit = [0.0; 3];
            unit[i] = 1.0;
            let back = times(&BRADFORD_INVERSE, times(&BRADFORD, unit));
            for (b, u) in back.iter().zip(unit) {
                assert!((b - u).abs() < 4e-16, "{back:?}");
            }
        }
    }

    fn white_of(source: &Source) -> Xyz {
        ColorWeights::new(&WavelengthGrid::default(), source)
            .unwrap()
            .white()
    }

    #[test]
    fn the_white_itself_becomes_d65_and_keeps_its_luminance() {
        for name in Source::names() {
            let white = white_of(&Source::named(name).unwrap());
            let adaptation = Adaptation::to_d65(white).unwrap();
            let balanced = adaptation.apply(white.scaled(0.3));
            for (b, d) in balanced.0.iter().zip(D65_WHITE.0) {
                assert!((b - 0.3 * d).abs() < 1e-15, "{name}: {balanced:?}");
            }
        }
    }

    #[test]
    fn adaptation_in_part_lies_in_proportion_between_none_and_full() {
        let lamp = white_of(&Source::named("cie-a").unwrap());
        let color = Xyz([0.2, 0.1, 0.3]);
        let full = Adaptation::to_d65(lamp).unwrap().apply(color);
        for degree in [0.0, 0.3, 0.8, 1.0] {
            let part = Adaptation::by_degree(lamp, degree).unwrap().apply(color);
            for axis in 0..3 {
                let between = degree * full.0[axis] + (1.0 - degree) * color.0[axis];
                assert!((part.0[axis] - between).abs() < 1e-15, "{degree}: {part:?}");
            }
        }
        assert_eq!(Adaptation::by_degree(lamp, 1.0), Adaptation::to_d65(lamp));
        assert_eq!(Adaptation::by_degree(lamp, 0.0), Some(Adaptation::NONE));
    }

    #[test]
    fn light_of_one_wavelength_cannot_be_balanced_and_a_candle_can() {
        for centre_nm in [450.0, 546.1, 589.3, 650.0] {
            let line = Source::Line {
                centre_nm,
                width_nm: 10.0,
            };
            assert_eq!(Adaptation::to_d65(white_of(&line)), None, "{centre_nm} nm");
        }
        let ember = Source::Blackbody {
            temperature_k: 1000.0,
        };
        assert!(Adaptation::to_d65(white_of(&ember)).is_some());
        assert_eq!(Adaptation::to_d65(Xyz::BLACK), None);
        assert_eq!(Adaptation::to_d65(Xyz([f64::NAN; 3])), None);
        let color = Xyz([0.1, 0.2, 0.3]);
        assert_eq!(Adaptation::NONE.apply(color), color);
    }
}
