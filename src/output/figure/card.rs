//! The background as a card: what colour the field has, and how much it was exposed up to be seen.

use palette::Srgb;

use super::look::*;
use super::numbers::{plain, significant};
use crate::color::{Background, Swatch};
use crate::output::words::adapted;
use crate::study::predict::Prediction;

/// Where the first row begins, how high a row is, and what stands below the last one.
const TOP: f64 = 84.0;
const ROW: f64 = 414.0;
/// Between two swatches.
const GAP: f64 = 32.0;
/// Heights of a swatch and of the strip at one exposure.
const SWATCH: f64 = 170.0;
const STRIP: f64 = 40.0;

/// Draws the figure.
pub(super) fn figure(title: &str, prediction: &Prediction) -> Result<Figure, FigureError> {
    let rows = rows(prediction);
    let height = TOP + ROW * rows.len() as f64;
    let degree = prediction.background.without_plate.adaptation.degree;
    let subtitle = match degree {
        None | Some(1.0) => "Background between crossed polars, and its exposure".to_owned(),
        part => format!(
            "Background between crossed polars, to an eye {}",
            adapted(part, "the parallel field")
        ),
    };
    draw("background", (title, &subtitle), height, |sheet| {
        for (k, row) in rows.iter().enumerate() {
            let count = row.len() as f64;
            let width = (ROOM - GAP * (count - 1.0)) / count;
            for (column, (heading, look)) in row.iter().enumerate() {
                let at = (MARGIN + column as f64 * (width + GAP), TOP + ROW * k as f64);
                swatch(sheet, heading, look, at, width);
            }
        }
    })
}

/// The empty field, and the field seen through a specimen where there is one; plate out, then in: each with its heading.
fn rows(prediction: &Prediction) -> Vec<Vec<(String, &Background)>> {
    let row = |place: &str, out, within: Option<_>| match within {
        None if place.is_empty() => vec![("crossed polars".to_owned(), out)],
        None => vec![(place.to_owned(), out)],
        Some(within) => [("plate out", out), ("plate in", within)]
            .map(|(plate, look)| {
                let both = format!("{place}, {plate}");
                (both.trim_start_matches(", ").to_owned(), look)
            })
            .to_vec(),
    };
    let (out, within) = (
        &prediction.background.without_plate,
        prediction.background.with_plate.as_ref(),
    );
    let Some(beside) = &prediction.beside_specimen else {
        return vec![row("", out, within)];
    };
    let (empty, empty_within) = (
        &beside.background.without_plate,
        beside.background.with_plate.as_ref(),
    );
    vec![
        row("beside the specimen", empty, empty_within),
        row("through the specimen", out, within),
    ]
}

fn swatch(sheet: &Sheet, heading: &str, look: &Background, (x, top): Point, width: f64) {
    let (large, small) = (BODY.sized(17.0).bold(), SOFT.sized(14.0));
    sheet.fitted(heading, (x, top + 10.0), width, BODY);
    // Black for what is no colour, which no study says.
    let shown: Srgb<u8> = look.srgb.parse().unwrap_or_default();
    let (from, to) = ((x, top + 26.0), (x + width, top + 26.0 + SWATCH));
    sheet.fill(from, to, Color(shown.red, shown.green, shown.blue));
    sheet.frame(from, to, Pen::full(FRAME, 1.0));
    let mut y = to.1 + 24.0;
    sheet.fitted(&look.name, (x, y), width - 100.0, large);
    sheet.text(&look.srgb, (x + width, y), BODY.right());
    for (line, text) in lines(look).iter().enumerate() {
        let set = if line < 2 { BODY } else { small };
        y += if line == 0 { 27.0 } else { 22.0 };
        sheet.fitted(text, (x, y), width, set);
    }
    // How the parallel field looks is known only where the light could be balanced.
    if look.white_balanced {
        let parallel = &look.adaptation;
        let stops = look.exposure_stops - parallel.parallel_exposure_stops;
        let halves = [
            at_no_stops(shown, stops),
            at_no_stops(parallel.parallel_srgb.parse().unwrap_or_default(), 0.0),
        ];
        strip(sheet, halves, (x, top + 352.0), width);
    }
}

/// What is said below a swatch: exposure in two lines, then numbers.
fn lines(look: &Background) -> Vec<String> {
    let luminance = significant(look.relative_luminance);
    let [shown, than] = match look.exposure_stops {
        stops if stops > 0.0 => [
            format!("shown {} stops brighter than", plain(stops, 1)),
            "the parallel field's exposure".to_owned(),
        ],
        _ => ["shown at the exposure of", "the parallel field"].map(str::to_owned),
    };
    let chromaticity = match look.xy {
        Some([x, y]) => format!("chromaticity x {}, y {}", plain(x, 4), plain(y, 4)),
        None => "no light".to_owned(),
    };
    let luminance = format!("relative luminance {luminance}");
    let mut lines = vec![shown, than, luminance, chromaticity];
    let vivid = look
        .gamut_mapped
        .then_some("more colourful than a screen can show");
    let single = (!look.white_balanced).then_some("light of nearly one colour: no white balance");
    lines.extend(vivid.into_iter().chain(single).map(str::to_owned));
    lines
}

/// The field as it is beside the parallel field, at the same exposure.
fn strip(sheet: &Sheet, halves: [Swatch; 2], (x, y): Point, width: f64) {
    let set = BODY.sized(13.0).centred();
    for (k, half) in halves.into_iter().enumerate() {
        let words = ["same exposure", "parallel field"][k];
        let [r, g, b] = half.srgb;
        let ink = match half.srgb {
            [255, 255, 255] => set.color,
            _ => ink_on(half.linear),
        };
        let (left, right) = (x + 0.5 * width * k as f64, x + 0.5 * width * (k + 1) as f64);
        sheet.fill((left, y), (right, y + STRIP), Color(r, g, b));
        let middle = (0.5 * (left + right), y + 0.5 * STRIP);
        sheet.text(words, middle, set.inked(ink));
    }
    sheet.frame((x, y), (x + width, y + STRIP), Pen::full(FRAME, 1.0));
}

/// A swatch's colour with the exposure taken back.
pub(super) fn at_no_stops(shown: Srgb<u8>, exposure_stops: f64) -> Swatch {
    let linear = shown.into_format::<f64>().into_linear();
    let factor = (-exposure_stops).exp2();
    Swatch::of_linear([linear.red, linear.green, linear.blue].map(|v| v * factor))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::color::D65_WHITE;

    #[test]
    fn taking_the_exposure_back_gives_the_field_beside_the_parallel_one() {
        let direct = Swatch::of_xyz(D65_WHITE.scaled(0.05), D65_WHITE).srgb;
        let look = Background::of(D65_WHITE.scaled(0.05), D65_WHITE).unwrap();
        assert!(look.exposure_stops > 3.0);
        let back = at_no_stops(look.srgb.parse().unwrap(), look.exposure_stops);
        for (a, b) in direct.iter().zip(back.srgb) {
            assert!(a.abs_diff(b) <= 1, "{direct:?} {back:?}");
        }
        assert_eq!(at_no_stops(Srgb::new(255, 255, 255), 0.0).srgb, [255; 3]);
    }

    #[test]
    fn a_card_without_light_says_so() {
        let dark = Background::of(crate::color::Xyz::BLACK, D65_WHITE).unwrap();
        let lines = lines(&dark);
        assert_eq!(lines[2..], ["relative luminance 0", "no light"]);
    }
}
