//! The background as a card: what colour the field has, and how much it was exposed up to be seen.

use palette::Srgb;

use super::look::{BODY, FRAME, MARGIN, SOFT_INK, WIDTH, draw, head};
use super::numbers::{plain, significant};
use super::{Figure, FigureError};
use crate::color::{Background, Swatch};
use crate::output::sheet::{Color, Pen, Sheet};
use crate::study::predict::Prediction;

/// Where the first row begins, how high a row is, and what stands below the last one.
const TOP: f64 = 84.0;
const ROW: f64 = 414.0;
/// Between two swatches.
const GAP: f64 = 32.0;
/// Heights of a swatch and of the strip at one exposure.
const SWATCH: f64 = 170.0;
const STRIP: f64 = 40.0;

/// One swatch with its heading.
struct Entry<'a> {
    heading: String,
    look: &'a Background,
}

/// Draws it.
pub(super) fn figure(title: &str, prediction: &Prediction) -> Result<Figure, FigureError> {
    let rows = rows(prediction);
    let height = TOP + ROW * rows.len() as f64;
    draw("background", title, height, |sheet| {
        head(
            sheet,
            title,
            "Background between crossed polars, and its exposure",
        );
        for (k, row) in rows.iter().enumerate() {
            let count = row.len() as f64;
            let width = (WIDTH - 2.0 * MARGIN - GAP * (count - 1.0)) / count;
            for (column, entry) in row.iter().enumerate() {
                let x = MARGIN + column as f64 * (width + GAP);
                swatch(sheet, entry, x, TOP + ROW * k as f64, width);
            }
        }
    })
}

/// The empty field, and the field seen through a specimen where there is one; plate out, then in.
fn rows(prediction: &Prediction) -> Vec<Vec<Entry<'_>>> {
    let (out, within) = (&prediction.without_plate, prediction.with_plate.as_ref());
    match &prediction.beside_specimen {
        None => vec![row("", out, within)],
        Some(beside) => vec![
            row(
                "beside the specimen",
                &beside.without_plate,
                beside.with_plate.as_ref(),
            ),
            row("through the specimen", out, within),
        ],
    }
}

fn row<'a>(
    place: &str,
    without_plate: &'a Background,
    with_plate: Option<&'a Background>,
) -> Vec<Entry<'a>> {
    let heading = |plate: &str| {
        let words: Vec<&str> = [place, plate]
            .into_iter()
            .filter(|words| !words.is_empty())
            .collect();
        words.join(", ")
    };
    let Some(with_plate) = with_plate else {
        let heading = if place.is_empty() {
            "crossed polars"
        } else {
            place
        };
        return vec![Entry {
            heading: heading.to_owned(),
            look: without_plate,
        }];
    };
    vec![
        Entry {
            heading: heading("plate out"),
            look: without_plate,
        },
        Entry {
            heading: heading("plate in"),
            look: with_plate,
        },
    ]
}

fn swatch(sheet: &Sheet, entry: &Entry, x: f64, top: f64, width: f64) {
    let Entry { heading, look } = entry;
    let frame = Pen::full(FRAME, 1.0);
    let (large, small) = (BODY.sized(17.0).bold(), BODY.sized(14.0).inked(SOFT_INK));
    sheet.fitted(heading, (x, top + 10.0), width, BODY);
    let shown = srgb(&look.srgb);
    let [r, g, b] = shown;
    let (from, to) = ((x, top + 26.0), (x + width, top + 26.0 + SWATCH));
    sheet.fill(from, to, Color(r, g, b));
    sheet.frame(from, to, frame);
    let mut y = to.1 + 24.0;
    sheet.fitted(&look.name, (x, y), width - 100.0, large);
    let hex = BODY.right();
    sheet.text(&look.srgb, (x + width, y), hex);
    for (line, text) in lines(look).iter().enumerate() {
        let set = if line < 2 { BODY } else { small };
        y += if line == 0 { 27.0 } else { 22.0 };
        sheet.fitted(text, (x, y), width, set);
    }
    // White of the parallel field is known only where the light could be balanced to it.
    if look.white_balanced {
        strip(
            sheet,
            at_no_stops(shown, look.exposure_stops),
            x,
            top + 352.0,
            width,
        );
    }
}

/// What is said below a swatch: exposure in two lines, then numbers.
fn lines(look: &Background) -> Vec<String> {
    let mut lines = if look.exposure_stops > 0.0 {
        vec![
            format!(
                "shown {} stops brighter than",
                plain(look.exposure_stops, 1)
            ),
            "the parallel field's exposure".to_owned(),
        ]
    } else {
        vec![
            "shown at the exposure of".to_owned(),
            "the parallel field".to_owned(),
        ]
    };
    lines.push(format!(
        "relative luminance {}",
        significant(look.relative_luminance)
    ));
    lines.push(match look.xy {
        Some([x, y]) => format!("chromaticity x {}, y {}", plain(x, 4), plain(y, 4)),
        None => "no light".to_owned(),
    });
    if look.gamut_mapped {
        lines.push("more colourful than a screen can show".to_owned());
    }
    if !look.white_balanced {
        lines.push("light of nearly one colour: no white balance".to_owned());
    }
    lines
}

/// The field as it is beside the parallel field, at the same exposure.
fn strip(sheet: &Sheet, [r, g, b]: [u8; 3], x: f64, y: f64, width: f64) {
    let middle = x + 0.5 * width;
    sheet.fill((x, y), (middle, y + STRIP), Color(r, g, b));
    sheet.fill((middle, y), (x + width, y + STRIP), Color(255, 255, 255));
    sheet.frame((x, y), (x + width, y + STRIP), Pen::full(FRAME, 1.0));
    let linear = Srgb::new(r, g, b).into_format::<f64>().into_linear();
    let dark = 0.2126 * linear.red + 0.7152 * linear.green + 0.0722 * linear.blue < 0.18;
    let set = BODY.sized(13.0).centred();
    let on_field = set.inked(if dark {
        Color(0xd8, 0xd8, 0xdc)
    } else {
        set.color
    });
    let quarter = 0.25 * width;
    sheet.text("same exposure", (x + quarter, y + 0.5 * STRIP), on_field);
    sheet.text("parallel field", (middle + quarter, y + 0.5 * STRIP), set)
}

/// A swatch's colour with the exposure taken back.
fn at_no_stops([r, g, b]: [u8; 3], exposure_stops: f64) -> [u8; 3] {
    let linear = Srgb::new(r, g, b).into_format::<f64>().into_linear();
    let factor = (-exposure_stops).exp2();
    Swatch::of_linear([linear.red, linear.green, linear.blue].map(|v| v * factor)).srgb
}

/// Bytes of `#rrggbb`; black for anything else.
fn srgb(hex: &str) -> [u8; 3] {
    let byte = |k: usize| {
        let digits = hex.get(1 + 2 * k..3 + 2 * k)?;
        u8::from_str_radix(digits, 16).ok()
    };
    [0, 1, 2].map(|k| byte(k).unwrap_or(0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::color::D65_WHITE;

    #[test]
    fn hex_is_read_back() {
        assert_eq!(srgb("#1a2aff"), [0x1a, 0x2a, 0xff]);
        assert_eq!(
            [srgb(""), srgb("#é1"), srgb("#12")],
            [[0; 3], [0; 3], [0x12, 0, 0]]
        );
    }

    #[test]
    fn taking_the_exposure_back_gives_the_field_beside_the_parallel_one() {
        let direct = Swatch::of_xyz(D65_WHITE.scaled(0.05), D65_WHITE).srgb;
        let look = Background::of(D65_WHITE.scaled(0.05), D65_WHITE).unwrap();
        assert!(look.exposure_stops > 3.0);
        let back = at_no_stops(srgb(&look.srgb), look.exposure_stops);
        for (a, b) in direct.iter().zip(back) {
            assert!(a.abs_diff(b) <= 1, "{direct:?} {back:?}");
        }
        assert_eq!(at_no_stops([255; 3], 0.0), [255; 3]);
    }

    #[test]
    fn a_card_without_light_says_so() {
        let dark = Background::of(crate::color::Xyz::BLACK, D65_WHITE).unwrap();
        let lines = lines(&dark);
        assert_eq!(lines[2..], ["relative luminance 0", "no light"]);
    }
}
