//! Plain words for a colour.

use super::Oklch;

/// Below this chroma a colour is a grey.
const GREY: f64 = 0.025;
/// Below this chroma it is a greyish hue.
const GREYISH: f64 = 0.07;
/// Below this lightness a hue is deep or dark.
const DARK: f64 = 0.45;
/// From this lightness on a hue is pale, unless it is strong.
const PALE: f64 = 0.82;
/// Chroma from which a light colour is no longer pale.
const STRONG: f64 = 0.11;

/// Lightness from which a red is pink.
const PINK: f64 = 0.70;

/// Greys from dark to light: lightness below which the word holds.
const GREYS: [(f64, &str); 4] = [
    (0.12, "black"),
    (0.45, "dark grey"),
    (0.82, "grey"),
    (0.96, "grey-white"),
];

/// Hues: the angle in degrees below which the word holds. Purple-red lies on both sides of 0.
const HUES: [(f64, &str); 13] = [
    (10.0, "purple-red"),
    (45.0, "red"),
    (78.0, "orange"),
    (112.0, "yellow"),
    (132.0, "yellow-green"),
    (160.0, "green"),
    (210.0, "blue-green"),
    (240.0, "sky blue"),
    (277.0, "blue"),
    (295.0, "violet"),
    (318.0, "purple"),
    (342.0, "magenta"),
    (360.0, "purple-red"),
];

/// A plain English name for a colour on a screen whose white is the microscope's bright field.
///
/// The rule, in Oklch (lightness L, chroma C, hue h in degrees):
///
/// 1. C below 0.025: a grey. L below 0.12 "black", below 0.45 "dark grey", below 0.82 "grey", below 0.96 "grey-white",
///    else "white".
/// 2. Otherwise a hue by its sector: purple-red from 342 through 0 to 10, red to 45, orange to 78, yellow to 112,
///    yellow-green to 132, green to 160, blue-green to 210, sky blue to 240, blue to 277, violet to 295, purple to
///    318, magenta to 342. A lower end belongs to its sector.
/// 3. Red and purple-red of L 0.70 or more are "pink".
/// 4. One word before the hue: "pale" for L of 0.82 or more with C below 0.11; for lower L, "greyish" when C is below 0.07, and
///    for L below 0.45 "deep", or "dark greyish" when C is below 0.07.
///
/// The words are plain English and the borders our own, chosen from the hue angles of sRGB's corners and from a list of computed
/// interference colours, not from any experiment with observers. The rule names what the swatch looks like, not the order
/// of an interference colour: at 550 nm, near its darkest tint, a first-order red plate is "purple", at 530 nm "magenta".
///
/// Checked by: this file's unit tests.
///
/// # Examples
/// ```
/// use polstack::color::{Swatch, color_name};
/// assert_eq!(color_name(Swatch::of_linear([0.0, 0.0, 0.45]).oklch()), "deep blue");
/// ```
#[must_use]
pub fn color_name(color: Oklch) -> String {
    let Oklch {
        lightness,
        chroma,
        hue_deg,
    } = color;
    let up_to = |table: &[(f64, &'static str)], value: f64| {
        (table.iter())
            .find(|(end, _)| value < *end)
            .map(|(_, word)| *word)
    };
    if chroma < GREY {
        return up_to(&GREYS, lightness).unwrap_or("white").to_owned();
    }
    let hue = match up_to(&HUES, hue_deg.rem_euclid(360.0)).unwrap_or("purple-red") {
        "red" | "purple-red" if lightness >= PINK => "pink",
        hue => hue,
    };
    let before = match (lightness, chroma) {
        (l, c) if l >= PALE && c < STRONG => "pale ",
        (l, _) if l >= PALE => "",
        (l, c) if l < DARK && c < GREYISH => "dark greyish ",
        (l, _) if l < DARK => "deep ",
        (_, c) if c < GREYISH => "greyish ",
        _ => "",
    };
    format!("{before}{hue}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::color::Swatch;

    fn name(linear: [f64; 3]) -> String {
        color_name(Swatch::of_linear(linear).oklch())
    }

    #[test]
    fn greys_are_named_by_lightness_alone() {
        for (linear, expected) in [
            (0.0, "black"),
            (0.05, "dark grey"),
            (0.45, "grey"),
            (0.7, "grey-white"),
            (1.0, "white"),
        ] {
            assert_eq!(name([linear; 3]), expected);
        }
    }

    #[test]
    fn the_corners_of_the_screen_have_their_usual_names() {
        for (linear, expected) in [
            ([1.0, 0.0, 0.0], "red"),
            ([1.0, 1.0, 0.0], "yellow"),
            ([0.0, 1.0, 0.0], "green"),
            ([0.0, 1.0, 1.0], "blue-green"),
            ([0.0, 0.0, 1.0], "blue"),
            ([1.0, 0.0, 1.0], "magenta"),
            ([1.0, 0.38, 0.0], "orange"),
            ([0.45, 0.0, 0.1], "purple-red"),
            ([0.8, 0.87, 0.9], "grey-white"),
            ([0.75, 0.87, 1.0], "pale blue"),
            ([0.3, 0.4, 0.5], "greyish blue"),
            ([0.02, 0.03, 0.06], "dark greyish blue"),
            ([1.0, 0.4, 0.5], "pale pink"),
            ([1.0, 0.25, 0.35], "pink"),
            ([1.0, 0.98, 0.7], "pale yellow"),
        ] {
            assert_eq!(
                name(linear),
                expected,
                "{:?}",
                Swatch::of_linear(linear).oklch()
            );
        }
    }

    #[test]
    fn every_hue_angle_has_a_word_and_sectors_close_the_circle() {
        let at = |hue_deg| {
            color_name(Oklch {
                lightness: 0.6,
                chroma: 0.15,
                hue_deg,
            })
        };
        assert_eq!(at(0.0), "purple-red");
        assert_eq!(at(359.999), "purple-red");
        assert_eq!(at(-1.0), "purple-red");
        assert_eq!(at(10.0), "red");
        assert_eq!(at(341.999), "magenta");
        assert_eq!(at(277.0), "violet");
        let ends: Vec<f64> = HUES.iter().map(|(end, _)| *end).collect();
        assert!(ends.is_sorted() && ends[12] == 360.0);
    }
}
