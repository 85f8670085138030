//! What readings told: shares of the leak with their intervals, readings against the model, and each unknown before and after.

use super::axes::{AxesPanel, AxisScale};
use super::look::*;
use super::numbers::{extent, whole_step};
use crate::output::findings::{chance, is_decided, named_leak};
use crate::output::numbers::{of_its_errors, supported};
use crate::study::fit::{BlameShare, Fit, Interval, ReadingAnswer, UnknownAnswer};

/// Before and after, and what was read.
const BEFORE: Color = Color(0xd3, 0xd8, 0xe0);
const AFTER: Color = Color(0x2c, 0x74, 0xb8);
const READ: Color = Color(0xb0, 0x3a, 0x10);
/// Where strips begin and end, room for words at their left, and the height of a row.
const FROM: f64 = 290.0;
const TO: f64 = 575.0;
const ROW: f64 = 24.0;
const NAMES: f64 = FROM - MARGIN - 10.0;
/// Between two panels, and above the first.
const GAP: f64 = 92.0;
const TOP: f64 = 118.0;
/// Shares that are drawn at most.
const MOST_SHARES: usize = 10;
const TEXT: Type = BODY.sized(13.0);

/// The figure "fit", of a fit [`Fit::as_far_as_it_holds`].
///
/// # Errors
/// [`FigureError::Drawing`].
pub fn fit_figure(title: &str, answer: &Fit) -> Result<Figure, FigureError> {
    let shares = &answer.blame[..answer.blame.len().min(MOST_SHARES)];
    let readings = &answer.readings;
    let high = |rows: usize| match rows {
        0 => 0.0,
        rows => ROW * rows as f64 + GAP,
    };
    let height = [shares.len(), readings.len(), answer.unknown.len()].map(high);
    let height = TOP + height[0] + height[1] + height[2] - 56.0;
    let subtitle = match readings.len() {
        _ if !answer.consistent => {
            "Readings and model do not go together: they tell nothing of the stand".to_owned()
        }
        0 => "Before any reading: what is known of the stand".to_owned(),
        1 => "What one reading tells of the stand".to_owned(),
        many => format!("What {many} readings tell of the stand"),
    };
    draw("fit", (title, &subtitle), height, |sheet| {
        let mut top = TOP;
        if !shares.is_empty() {
            shares_panel(sheet, answer, shares, top);
            top += high(shares.len());
        }
        if !readings.is_empty() {
            readings_panel(sheet, readings, answer.consistent, top);
            top += high(readings.len());
        }
        strips(sheet, &answer.unknown, answer.consistent, top);
    })
}

fn heading(sheet: &Sheet, words: &str, top: f64) {
    sheet.fitted(words, (MARGIN, top - 16.0), ROOM, BODY.bold());
}

/// A panel of so many rows with its axis below.
fn panel(sheet: &Sheet, top: f64, rows: usize, x: AxisScale) -> AxesPanel {
    let area = [FROM, TO, top, top + ROW * rows as f64];
    let panel = AxesPanel::of_rows(area, x).gridded(true, false);
    panel.draw(sheet);
    panel
}

/// A row by its number, with its name at the left; gives back where it stands.
fn row(sheet: &Sheet, top: f64, number: usize, name: &str, set: Type) -> f64 {
    let y = top + ROW * (number as f64 + 0.5);
    sheet.fitted(name, (FROM - 10.0, y), NAMES, set.right());
    y
}

/// A bar for an interval, from so far above its height to as far below, with a stroke at its middle.
fn bar(sheet: &Sheet, (y, half): (f64, f64), of: &Interval, x: impl Fn(f64) -> f64) {
    let [low, middle, high] = [of.low, of.median, of.high].map(x);
    sheet.fill((low, y - half), (high.max(low + 1.0), y + half), AFTER);
    let stroke = [(middle, y - half - 2.0), (middle, y + half + 2.0)];
    sheet.line(&stroke, Pen::full(INK, 2.0));
}

/// How far a reading is off, in words.
fn off_by(errors: f64) -> String {
    match of_its_errors(errors) {
        None => "off by nothing".to_owned(),
        Some(errors) => errors.replace('-', "−"),
    }
}

/// Types at which texts that stand below one another all have room, and are alike.
fn alike<'a>(
    sheet: &Sheet,
    texts: impl Iterator<Item = (&'a str, bool)>,
    room: f64,
    set: Type,
) -> Type {
    let widths = texts.map(|(text, bold)| sheet.width(text, set.weighted(bold)));
    let widest = widths.fold(room, f64::max);
    set.sized(set.size * (room / widest).max(0.75))
}

fn shares_panel(sheet: &Sheet, answer: &Fit, shares: &[BlameShare], top: f64) {
    let words = "Shares of the leak: middle and 90 % interval; at the right, how probably it is the largest (bold: decided)";
    heading(sheet, words, top);
    let percent = |share: f64| 100.0 * share;
    let low = shares.iter().map(|s| percent(s.share.low));
    let high = shares.iter().map(|s| percent(s.share.high));
    let x = AxisScale::linear(low.fold(0.0, f64::min), high.fold(10.0, f64::max), 6);
    let panel = panel(sheet, top, shares.len(), x.titled("percent of the leak"));
    for (number, share) in shares.iter().enumerate() {
        let y = row(
            sheet,
            top,
            number,
            &named_leak(&share.part, share.cause),
            TEXT,
        );
        bar(sheet, (y, 6.0), &share.share, |s| panel.x(percent(s)));
        let words = chance(share.largest);
        let set = TEXT.weighted(is_decided(answer, number));
        sheet.text(&words, (TO + 10.0, y), set);
    }
}

fn readings_panel(sheet: &Sheet, readings: &[ReadingAnswer], consistent: bool, top: f64) {
    let words = match consistent {
        true => "Readings (dots) against what the stands that explain them show (90 % interval)",
        false => "Readings (dots) against what the stands that come nearest show (90 % interval)",
    };
    heading(sheet, words, top);
    let ratios = (readings.iter()).flat_map(|r| [r.measured, r.predicted.low, r.predicted.high]);
    let extent = extent(ratios.filter(|ratio| *ratio > 0.0).map(f64::log10));
    let (low, high) = extent.map_or((0.0, 4.0), |(low, high)| (low - 0.1, high + 0.1));
    // Wide spans have a number at powers of ten, narrow ones at every step.
    let mantissas: &[u32] = match high - low {
        span if span > 2.5 => &[1],
        span if span > 0.8 => &[1, 2, 5],
        _ => &[1, 2, 3, 4, 5, 6, 7, 8, 9],
    };
    let words = |mantissa, exponent| whole_step(mantissa, exponent, 6);
    let x = AxisScale::steps((low, high), mantissas, words, true);
    let x = x.titled("parallel over crossed light");
    let panel = panel(sheet, top, readings.len(), x);
    for (number, reading) in readings.iter().enumerate() {
        let name = match reading.note.as_str() {
            "" => format!("line {}", reading.line),
            note => format!("line {}: {note}", reading.line),
        };
        let y = row(sheet, top, number, &name, TEXT);
        // The dot stands over the interval, which it would hide where that is narrow.
        bar(sheet, (y + 5.0, 3.0), &reading.predicted, |ratio| {
            panel.x(ratio)
        });
        sheet.dot((panel.x(reading.measured), y - 5.0), 4.0, READ);
        let words = off_by(reading.z);
        let set = TEXT.weighted(reading.spoiled);
        sheet.fitted(&words, (TO + 10.0, y), WIDTH - TO - 20.0, set);
    }
}

/// Each unknown on a scale of its own, from the least to the most that was thought possible before or is now; its middle and ends in numbers. Where the
/// readings tell nothing, only what was thought possible before.
fn strips(sheet: &Sheet, unknowns: &[UnknownAnswer], consistent: bool, top: f64) {
    let words = match consistent {
        true => {
            "Unknown numbers: before (pale) and after (dark), 90 % intervals, each on a scale of its own"
        }
        false => "Unknown numbers before the readings, 90 % intervals, each on a scale of its own",
    };
    heading(sheet, words, top);
    let said: Vec<String> = (unknowns.iter())
        .map(|unknown| numbers_of(unknown, consistent))
        .collect();
    let (room, bold) = (
        WIDTH - TO - 20.0,
        unknowns.iter().map(|unknown| unknown.told),
    );
    let texts = said.iter().map(String::as_str).zip(bold);
    let set = alike(sheet, texts, room, TEXT.sized(12.0));
    let names = unknowns
        .iter()
        .map(|unknown| (&*unknown.told_as.name, false));
    let named = alike(sheet, names, NAMES, TEXT);
    for (number, (unknown, words)) in unknowns.iter().zip(&said).enumerate() {
        let before = &unknown.prior;
        let after = match consistent {
            true => &unknown.posterior.interval,
            false => before,
        };
        // Of an azimuth of which nothing was known, the strip is the whole axis.
        let any = unknown.told_as.is_any(before);
        let logarithmic =
            !any && before.low > 0.0 && before.high > 10.0 * before.low && after.low > 0.0;
        let at = |value: f64| if logarithmic { value.ln() } else { value };
        let (from, to) = match any {
            true => (after.median - 90.0, after.median + 90.0),
            false => (before.low, before.high),
        };
        let least = at(from).min(at(after.low));
        let most = at(to).max(at(after.high));
        let x = |value: f64| match most > least {
            true => FROM + (at(value) - least) / (most - least) * (TO - FROM),
            false => 0.5 * (FROM + TO),
        };
        let y = row(sheet, top, number, &unknown.told_as.name, named);
        let pale = if any { (FROM, TO) } else { (x(from), x(to)) };
        sheet.fill((pale.0, y - 8.0), (pale.1, y + 8.0), BEFORE);
        if consistent {
            bar(sheet, (y, 6.0), after, x);
        }
        let set = set.weighted(unknown.told);
        sheet.fitted(words, (TO + 10.0, y), room, set);
    }
    let words = match consistent {
        true => {
            "Bold: the readings told it, to less than half of what was thought possible before. Wide ranges above 0 are drawn on a logarithmic scale."
        }
        false => "Wide ranges above 0 are drawn on a logarithmic scale.",
    };
    let y = top + ROW * (unknowns.len() as f64 + 0.5) + 4.0;
    sheet.as_note(|sheet| sheet.fitted(words, (MARGIN, y), ROOM, TEXT.inked(SOFT_INK)));
}

/// The middle and the ends of an unknown as it is known now.
fn numbers_of(unknown: &UnknownAnswer, consistent: bool) -> String {
    let of = match consistent {
        true => &unknown.posterior.interval,
        false => &unknown.prior,
    };
    if !consistent && unknown.told_as.is_any(of) {
        return "any".to_owned();
    }
    let [middle, low, high] = [of.median, of.low, of.high]
        .map(|value| supported(value, of.low, of.high).replace('-', "−"));
    let words = format!("{middle} ({low} to {high}) {}", unknown.told_as.unit);
    words.trim_end().to_owned()
}

#[cfg(test)]
mod tests {
    use resvg::tiny_skia::Pixmap;
    use resvg::usvg::roxmltree::Document;

    use super::super::tests::{no_text_is_covered_or_cut, texts};
    use super::*;
    use crate::output::findings;
    use crate::output::sheet::SlideTheme;
    use crate::study::fit::Posted;
    use crate::study::leak::Cause;
    use crate::study::unknown::Told;

    fn unknown(name: &str, prior: [f64; 3], interval: [f64; 3], told: bool) -> UnknownAnswer {
        let of = |[low, median, high]: [f64; 3]| Interval { low, median, high };
        UnknownAnswer {
            told_as: Told {
                name: name.to_owned(),
                part: "condenser".to_owned(),
                cause: Cause::Strain,
                unit: "deg",
            },
            prior: of(prior),
            posterior: Posted {
                interval: of(interval),
                mean: interval[1],
                sd: 1.0,
            },
            told,
        }
    }

    /// Of two stands by their populations, with an axis of which nothing was known and numbers of different lengths.
    fn drawn(populations: &[f64], draws: usize) -> Figure {
        let mut answer = findings::tests::answer(populations, draws).answer;
        let azimuth = "condenser.uniform.azimuth_deg";
        answer.unknown = vec![
            unknown(azimuth, [10.0, 90.0, 171.0], [40.0, 60.0, 80.0], false),
            unknown(
                "condenser.long",
                [-90.0, 0.0, 90.0],
                [-90.51, -90.497, -90.48],
                true,
            ),
            unknown("condenser.short", [-9.0, 0.0, 9.0], [-1.0, 1.0, 3.0], true),
        ];
        let figure = fit_figure("Stand", &answer).unwrap();
        no_text_is_covered_or_cut(&figure);
        figure
    }

    /// Texts of a figure with their sizes, and whether they are bold.
    fn sized(svg: &str) -> Vec<(String, String, bool)> {
        let document = Document::parse(svg).unwrap();
        (document
            .descendants()
            .filter(|node| node.has_tag_name("text")))
        .map(|node| {
            let text = node.text().unwrap_or_default().to_owned();
            let size = node.attribute("font-size").unwrap().to_owned();
            (text, size, node.attribute("font-weight").is_some())
        })
        .collect()
    }

    #[test]
    fn a_share_is_bold_where_it_is_decided_alone() {
        for (populations, draws, words, bold) in [
            (&[0.97, 0.95][..], 500, "96 %", true),
            (&[0.88], 500, "88 %", false),
            (&[0.95, 0.81], 500, "88 %", false),
            (&[0.99, 0.85], 500, "92 %", false),
            (&[0.95], 5, "95 %", false),
            // So little do populations differ by chance.
            (&[0.93, 0.89], 500, "91 %", true),
        ] {
            let report = findings::tests::answer(populations, draws);
            let sure = findings::findings(&report)[0].contains(" is the largest leak: ")
                && !findings::findings(&report)[0].contains("Not decided");
            assert_eq!(sure, bold, "{populations:?}");
            let all = sized(&drawn(populations, draws).svg);
            let share = all.iter().find(|text| text.0 == words).unwrap();
            assert_eq!(share.2, bold, "{populations:?}");
        }
    }

    #[test]
    fn numbers_are_alike_and_an_axis_that_may_lie_anywhere_is_a_whole_strip() {
        let figure = drawn(&[0.88], 500);
        let all = sized(&figure.svg);
        let sizes: Vec<&String> = (all.iter())
            .filter(|text| text.0.contains(" to ") && text.0.ends_with(" deg"))
            .map(|text| &text.1)
            .collect();
        assert!(
            sizes.len() == 3 && sizes.iter().all(|size| *size == sizes[0]),
            "{all:?}"
        );
        assert!(texts(&figure).iter().all(|text| !text.ends_with('…')));
        // The first strip is pale to both its ends, where the interval before is not; before and after it the paper is bare.
        let picture = Pixmap::decode_png(&figure.png).unwrap();
        let y = TOP + 2.0 * ROW + GAP + 0.5 * ROW;
        let seen = |x: f64, row: f64| {
            let pixel = picture
                .pixel((2.0 * x) as u32, (2.0 * (y + ROW * row)) as u32)
                .unwrap();
            Color(pixel.red(), pixel.green(), pixel.blue())
        };
        assert_eq!([FROM + 1.0, TO - 1.0].map(|x| seen(x, 0.0)), [BEFORE; 2]);
        assert_eq!(
            [FROM - 2.0, TO + 2.0].map(|x| seen(x, 0.0)),
            [Color::WHITE; 2]
        );
        // What bold numbers mean is said on the slide that holds them alone.
        for slide in figure.sheet.slides(SlideTheme::Light) {
            let said = slide.svg(("1", "1"));
            assert_eq!(said.contains("Bold: "), said.contains("Unknown numbers"));
        }
    }

    #[test]
    fn a_reading_that_is_off_by_nothing_says_so() {
        for (errors, words) in [
            (-0.04, "off by nothing"),
            (0.04, "off by nothing"),
            (-0.06, "−0.1 of its errors"),
            (2.0, "+2.0 of its errors"),
        ] {
            assert_eq!(off_by(errors), words);
        }
    }
}
