//! What a field of view looks like: its colour, in numbers and in words.

use serde::Serialize;

use super::{Adaptation, ColorError, Swatch, Xyz, color_name, linear_srgb};
use crate::math;

/// The look of a field of view, relative to the parallel field.
///
/// At the bright field's exposure a good background is black, so the swatch is exposed up, and `exposure_stops`
/// says by how much. The order of things:
///
/// 1. White balance on the parallel field: Bradford from its tristimulus values to D65, after which it is neutral; for an eye that is adapted
///    to it only in part, the same by a degree ([`Adaptation::by_degree`]), and it keeps some of its colour. Light of
///    nearly one wavelength cannot be balanced (see [`Adaptation::to_d65`]); then no colour is balanced, and the field keeps
///    the light's own colour.
/// 2. Linear sRGB, parallel field at 1.
/// 3. Exposure: the smallest number of tenths of a stop, never below 0 and at most 40 stops, that brings the largest channel to
///    at least 0.45. A field without any light is left black at 0 stops.
/// 4. Gamut mapping, encoding ([`Swatch`]), and a name ([`color_name`]) for the exposed swatch.
///
/// Checked by: this file's unit tests and `tests/reference/color.rs`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Background {
    /// Luminance over that of the parallel field.
    pub relative_luminance: f64,
    /// Tristimulus values over the luminance of the parallel field, before white balance and exposure.
    pub xyz: [f64; 3],
    /// Their chromaticity; `None` for no light.
    pub xy: Option<[f64; 2]>,
    /// The exposed swatch, `#rrggbb`.
    pub srgb: String,
    /// By how many stops it is exposed up; one stop doubles.
    pub exposure_stops: f64,
    /// The exposed swatch in words.
    pub name: String,
    /// Whether the exposed swatch lies outside sRGB and was brought in by lowering its chroma.
    pub gamut_mapped: bool,
    /// Whether the parallel field could be balanced to neutral.
    pub white_balanced: bool,
    /// What the eye takes for white.
    pub adaptation: EyeAdaptation,
}

/// What an eye takes for white when it looks at a field.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EyeAdaptation {
    /// CIECAM16's D: 1 where the eye takes the parallel field for white, 0 where it takes daylight for it. `None` where the light could not be
    /// balanced.
    pub degree: Option<f64>,
    /// The parallel field on a screen, `#rrggbb`: white under full adaptation.
    pub parallel_srgb: String,
    /// By how many stops the parallel field is darkened there, 0 or below: a coloured light as bright as white would leave the screen's gamut.
    pub parallel_exposure_stops: f64,
}

/// Exposure brings the largest linear channel of a swatch to at least this.
const LEAST_CHANNEL: f64 = 0.45;

/// A rounding error, in tenths of a stop: it moves a channel by less than the gamut's tolerance.
const ROUNDING: f64 = 1e-5;

/// The most that a swatch is exposed up, in tenths of a stop.
const MOST_TENTHS: i32 = 400;

impl Background {
    /// The look of a field beside the parallel field under the same lamp; both are given in the same unit.
    ///
    /// # Errors
    /// [`ColorError::NotFinite`], or [`ColorError::NoLight`] for a dark parallel field.
    ///
    /// # Examples
    /// ```
    /// use polstack::color::{Background, D65_WHITE};
    /// let leak = Background::of(D65_WHITE.scaled(1e-3), D65_WHITE).unwrap();
    /// assert_eq!((leak.exposure_stops, leak.name.as_str()), (8.9, "grey"));
    /// ```
    pub fn of(field: Xyz, parallel: Xyz) -> Result<Self, ColorError> {
        Self::seen(field, parallel, 1.0)
    }

    /// The same to an eye whose adaptation to the parallel field has this degree, 0 to 1; see [`Adaptation::by_degree`].
    ///
    /// # Errors
    /// As [`Self::of`].
    pub fn seen(field: Xyz, parallel: Xyz, degree: f64) -> Result<Self, ColorError> {
        Self::shown(field, parallel, degree, None)
    }

    /// The look of a field to an eye adapted to the parallel field, exposed up by so many stops and not by the usual rule.
    ///
    /// # Errors
    /// As [`Self::of`].
    pub fn exposed(field: Xyz, parallel: Xyz, stops: f64) -> Result<Self, ColorError> {
        Self::shown(field, parallel, 1.0, Some(stops))
    }

    fn shown(
        field: Xyz,
        parallel: Xyz,
        degree: f64,
        stops: Option<f64>,
    ) -> Result<Self, ColorError> {
        for (name, xyz) in [("field", field.0), ("parallel field", parallel.0)] {
            if !xyz.iter().all(|v| v.is_finite()) {
                return Err(ColorError::NotFinite { field: name, xyz });
            }
        }
        if parallel.luminance() <= 0.0 {
            return Err(ColorError::NoLight {
                field: "parallel field",
                luminance: parallel.luminance(),
            });
        }
        let relative = Xyz(field.0.map(|v| v / parallel.luminance()));
        let balance = Adaptation::by_degree(parallel, degree);
        let shown = |xyz| linear_srgb(balance.unwrap_or(Adaptation::NONE).apply(xyz));
        let linear = shown(relative);
        let (stops, factor) = match stops {
            Some(stops) => (stops, math::exp2(stops)),
            None => {
                let tenths = f64::from(exposure_tenths(linear));
                // Dividing gives the decimal that prints with one digit; multiplying by 0.1 does not.
                (tenths / 10.0, math::exp2(0.1 * tenths))
            }
        };
        let exposed = linear.map(|v| v * factor);
        let swatch = Swatch::of_linear(exposed);
        Ok(Self {
            relative_luminance: relative.luminance(),
            xyz: relative.0,
            xy: relative.chromaticity(),
            srgb: swatch.hex(),
            exposure_stops: stops,
            name: color_name(swatch.oklch()),
            gamut_mapped: swatch.gamut_mapped,
            white_balanced: balance.is_some(),
            adaptation: EyeAdaptation::of(
                shown(parallel.scaled(1.0 / parallel.luminance())),
                balance.map(|_| degree),
            ),
        })
    }
}

impl EyeAdaptation {
    /// From the parallel field in linear sRGB.
    fn of(parallel: [f64; 3], degree: Option<f64>) -> Self {
        let stops = match degree {
            Some(1.0) => 0.0,
            _ => white_stops(largest(parallel)),
        };
        let swatch = Swatch::of_linear(parallel.map(|v| v * math::exp2(stops)));
        Self {
            degree,
            parallel_srgb: swatch.hex(),
            parallel_exposure_stops: stops,
        }
    }
}

fn largest(linear: [f64; 3]) -> f64 {
    linear.into_iter().fold(f64::NEG_INFINITY, f64::max)
}

/// The exposure rule, in tenths of a stop.
fn exposure_tenths(linear: [f64; 3]) -> i32 {
    if linear == [0.0; 3] {
        return 0;
    }
    let largest = largest(linear);
    (0..MOST_TENTHS)
        .find(|&tenths| largest * math::exp2(0.1 * f64::from(tenths)) >= LEAST_CHANNEL)
        .unwrap_or(MOST_TENTHS)
}

/// Whole tenths of a stop by which linear sRGB is exposed so that its largest channel just stays within 1: at most 40 stops up or, where it may be
/// darkened, down. A colour without any light is not exposed.
///
/// Checked by: `src/study/chart/tint.rs`.
#[must_use]
pub fn stops_within(largest_channel: f64, darkened: bool) -> f64 {
    if largest_channel <= 0.0 {
        return 0.0;
    }
    // A number of tenths that is whole except for the rounding of seven-digit matrices counts as whole.
    let tenths = (-10.0 * math::log2(largest_channel) + ROUNDING).floor();
    let most = f64::from(MOST_TENTHS);
    tenths.clamp(if darkened { -most } else { 0.0 }, most) / 10.0
}

/// Stops, 0 or below, at which a parallel field that the eye does not take for white is shown: a colour as bright as white would leave the screen's
/// gamut. By a two-hundredth it may.
#[must_use]
pub fn white_stops(largest_channel: f64) -> f64 {
    match largest_channel <= 1.005 {
        true => 0.0,
        false => stops_within(largest_channel, true),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::color::{ColorWeights, D65_WHITE};
    use crate::spectrum::{Source, SpectralTable, WavelengthGrid};

    #[test]
    fn exposure_is_the_smallest_tenth_of_a_stop_that_is_enough() {
        for (largest, tenths) in [
            (1.0, 0),
            (0.45, 0),
            (0.449_999, 1),
            (0.45 / 2.0, 10),
            (0.45 / 2.0 - 1e-9, 11),
            (1e-3, 89), // log2(450) = 8.8138
            (1e-30, 400),
            (-1.0, 400),
        ] {
            assert_eq!(exposure_tenths([largest, -2.0, -3.0]), tenths, "{largest}");
        }
    }

    #[test]
    fn no_light_is_black_at_0_stops_and_the_parallel_field_white() {
        let none = Background::of(Xyz::BLACK, D65_WHITE).unwrap();
        assert_eq!(none.srgb, "#000000");
        assert_eq!(
            (none.exposure_stops, none.name.as_str(), none.xy),
            (0.0, "black", None)
        );
        for name in Source::names() {
            let grid = WavelengthGrid::default();
            let white = ColorWeights::new(&grid, &Source::named(name).unwrap())
                .unwrap()
                .white();
            let bright = Background::of(white.scaled(7.0), white.scaled(7.0)).unwrap();
            assert_eq!(
                (bright.srgb.as_str(), bright.name.as_str()),
                ("#ffffff", "white")
            );
            assert!((bright.relative_luminance - 1.0).abs() < 1e-15);
            // A neutral leak is grey under every lamp.
            let leak = Background::of(white.scaled(1e-4), white).unwrap();
            assert_eq!(leak.name, "grey", "{name}");
        }
    }

    #[test]
    fn what_is_no_field_is_refused() {
        assert!(Background::of(Xyz([f64::NAN, 1.0, 1.0]), D65_WHITE).is_err());
        assert!(Background::of(D65_WHITE, Xyz([1.0, f64::INFINITY, 1.0])).is_err());
        assert!(matches!(
            Background::of(D65_WHITE, Xyz::BLACK),
            Err(ColorError::NoLight { .. })
        ));
    }

    #[test]
    fn a_field_in_green_light_stays_green() {
        let line = Source::Line {
            centre_nm: 546.1,
            width_nm: 10.0,
        };
        let white = ColorWeights::new(&WavelengthGrid::default(), &line)
            .unwrap()
            .white();
        let field = Background::of(white.scaled(1e-3), white).unwrap();
        assert!(!field.white_balanced && field.gamut_mapped);
        assert!(field.name.ends_with("green"), "{}", field.name);
    }

    /// A pair of crossed iodine sheets of the common kind, on the axis: `k1 k2` against `(k1^2 + k2^2)/2`.
    fn crossed_sheets(lamp: &str) -> Background {
        // Principal transmittances of Shurcliff's HN-32, 1962 (from memory).
        const SHEET: [(f64, f64, f64); 9] = [
            (375.0, 0.33, 1e-3),
            (400.0, 0.47, 3e-3),
            (450.0, 0.68, 5e-4),
            (500.0, 0.75, 5e-5),
            (550.0, 0.70, 2e-5),
            (600.0, 0.67, 2e-5),
            (650.0, 0.70, 2e-5),
            (700.0, 0.77, 3e-5),
            (780.0, 0.84, 2e-4),
        ];
        let table = |f: fn(&(f64, f64, f64)) -> f64| {
            SpectralTable::new(SHEET.iter().map(|row| (row.0, f(row)))).unwrap()
        };
        let (k1, k2) = (table(|row| row.1), table(|row| row.2));
        let grid = WavelengthGrid::default();
        let (crossed, parallel): (Vec<f64>, Vec<f64>) = (grid.wavelengths_nm().iter())
            .map(|&nm| (k1.at(nm).unwrap(), k2.at_logarithmic(nm).unwrap()))
            .map(|(k1, k2)| (k1 * k2, 0.5 * (k1 * k1 + k2 * k2)))
            .unzip();
        let weights = ColorWeights::new(&grid, &Source::named(lamp).unwrap()).unwrap();
        Background::of(
            weights.xyz(&crossed).unwrap(),
            weights.xyz(&parallel).unwrap(),
        )
        .unwrap()
    }

    #[test]
    fn crossed_iodine_sheets_look_deep_blue_or_violet() {
        for lamp in ["cie-d65", "cie-a", "led-b3", "led-b5"] {
            let look = crossed_sheets(lamp);
            assert!(
                ["deep blue", "deep violet"].contains(&look.name.as_str()),
                "{lamp}: {look:?}"
            );
            assert!(
                (5.0..14.0).contains(&look.exposure_stops),
                "{lamp}: {look:?}"
            );
        }
    }

    #[test]
    fn a_coloured_parallel_field_is_told_as_it_looks() {
        let lamp = ColorWeights::new(&WavelengthGrid::default(), &Source::named("cie-a").unwrap());
        let white = lamp.unwrap().white();
        let full = Background::of(white.scaled(0.01), white).unwrap();
        assert_eq!(
            full,
            Background::seen(white.scaled(0.01), white, 1.0).unwrap()
        );
        assert_eq!(full.adaptation.parallel_srgb, "#ffffff");
        let daylight = Background::seen(white.scaled(0.01), white, 0.0).unwrap();
        // A neutral leak keeps the lamp's colour, as the parallel field does.
        assert_eq!(
            (full.name.as_str(), daylight.name.as_str()),
            ("grey", "orange")
        );
        let EyeAdaptation {
            degree,
            parallel_srgb,
            parallel_exposure_stops,
        } = daylight.adaptation;
        assert_eq!(degree, Some(0.0));
        assert!(parallel_srgb.starts_with("#f") && (-1.0..-0.8).contains(&parallel_exposure_stops));
        assert_eq!(daylight.relative_luminance, full.relative_luminance);
    }

    #[test]
    fn a_first_order_red_plate_is_magenta_or_near_its_darkest_tint_purple() {
        let grid = WavelengthGrid::default();
        // docs/colours.md shows these names: at 530, 550 and 565 nm, to an eye fully adapted, adapted by 0.8, adapted to daylight.
        let all = [
            (
                "cie-d65",
                [["magenta"; 3], ["deep purple"; 3], ["deep violet"; 3]],
            ),
            (
                "led-b3",
                [
                    ["magenta"; 3],
                    ["deep purple", "deep purple", "purple"],
                    ["deep violet", "deep violet", "deep purple"],
                ],
            ),
            (
                "led-b1",
                [
                    ["magenta", "magenta", "purple-red"],
                    ["deep purple", "purple", "magenta"],
                    ["deep violet", "deep violet", "magenta"],
                ],
            ),
            (
                "cie-a",
                [
                    ["magenta", "magenta", "purple-red"],
                    ["purple", "purple", "purple-red"],
                    ["deep violet", "deep violet", "magenta"],
                ],
            ),
        ];
        let mut wrong = String::new();
        let cases = all.iter().flat_map(|(lamp, names)| {
            [530.0, 550.0, 565.0]
                .into_iter()
                .zip(names)
                .flat_map(move |(nm, names)| {
                    let degrees = [1.0, 0.8, 0.0].into_iter().zip(names);
                    degrees.map(move |(degree, name)| (*lamp, nm, degree, *name))
                })
        });
        for (lamp, path_difference_nm, degree, expected) in cases {
            let weights = ColorWeights::new(&grid, &Source::named(lamp).unwrap()).unwrap();
            let plate: Vec<f64> = (grid.wavelengths_nm().iter())
                .map(|nm| math::sin(std::f64::consts::PI * path_difference_nm / nm).powi(2))
                .collect();
            let plate = weights.xyz(&plate).unwrap();
            let look = Background::seen(plate, weights.white(), degree).unwrap();
            if look.name != expected {
                wrong += &format!(
                    "{lamp}, {path_difference_nm} nm, degree {degree}: {}\n",
                    look.name
                );
            }
        }
        assert!(wrong.is_empty(), "{wrong}");
    }
}
