//! What readings told: shares of the leak with their intervals, readings against the model, and each unknown before and after.

use super::axes::{AxesPanel, AxisScale};
use super::look::*;
use super::numbers::{extent, whole_step};
use crate::output::findings::{chance, named_leak};
use crate::output::numbers::supported;
use crate::study::fit::{BlameShare, Fit, Interval, ReadingAnswer, UnknownAnswer};

/// Before and after, and what was read.
const BEFORE: Color = Color(0xd3, 0xd8, 0xe0);
const AFTER: Color = Color(0x2c, 0x74, 0xb8);
const READ: Color = Color(0xb0, 0x3a, 0x10);
/// Where strips begin and end, room for words at their left, and the height of a row.
const FROM: f64 = 290.0;
const TO: f64 = 610.0;
const ROW: f64 = 24.0;
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
            shares_panel(sheet, shares, top);
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
fn row(sheet: &Sheet, top: f64, number: usize, name: &str) -> f64 {
    let y = top + ROW * (number as f64 + 0.5);
    sheet.fitted(name, (FROM - 10.0, y), FROM - MARGIN - 10.0, TEXT.right());
    y
}

/// A bar for an interval, with a stroke at its middle.
fn bar(sheet: &Sheet, y: f64, of: &Interval, x: impl Fn(f64) -> f64) {
    let [low, middle, high] = [of.low, of.median, of.high].map(x);
    sheet.fill((low, y - 6.0), (high.max(low + 1.0), y + 6.0), AFTER);
    sheet.line(&[(middle, y - 8.0), (middle, y + 8.0)], Pen::full(INK, 2.0));
}

fn shares_panel(sheet: &Sheet, shares: &[BlameShare], top: f64) {
    let words = "Shares of the leak: middle and 90 % interval; at the right, how probably it is the largest";
    heading(sheet, words, top);
    let percent = |share: f64| 100.0 * share;
    let low = shares.iter().map(|s| percent(s.share.low));
    let high = shares.iter().map(|s| percent(s.share.high));
    let x = AxisScale::linear(low.fold(0.0, f64::min), high.fold(10.0, f64::max), 6);
    let panel = panel(sheet, top, shares.len(), x.titled("percent of the leak"));
    for (number, share) in shares.iter().enumerate() {
        let y = row(sheet, top, number, &named_leak(&share.part, share.cause));
        bar(sheet, y, &share.share, |s| panel.x(percent(s)));
        let words = chance(share.largest);
        let set = TEXT.weighted(number == 0);
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
        let y = row(sheet, top, number, &name);
        bar(sheet, y, &reading.predicted, |ratio| panel.x(ratio));
        sheet.dot((panel.x(reading.measured), y), 5.5, Color::WHITE);
        sheet.dot((panel.x(reading.measured), y), 4.0, READ);
        let words = format!(
            "{:+.1} of its errors",
            (10.0 * reading.z).round() / 10.0 + 0.0
        )
        .replace('-', "−");
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
    for (number, unknown) in unknowns.iter().enumerate() {
        let before = &unknown.prior;
        let after = match consistent {
            true => &unknown.posterior.interval,
            false => before,
        };
        let logarithmic = before.low > 0.0 && before.high > 10.0 * before.low && after.low > 0.0;
        let at = |value: f64| if logarithmic { value.ln() } else { value };
        let least = at(before.low).min(at(after.low));
        let most = at(before.high).max(at(after.high));
        let x = |value: f64| match most > least {
            true => FROM + (at(value) - least) / (most - least) * (TO - FROM),
            false => 0.5 * (FROM + TO),
        };
        let y = top + ROW * (number as f64 + 0.5);
        sheet.line(&[(FROM, y), (TO, y)], Pen::full(GRID, 1.0));
        sheet.fill((x(before.low), y - 8.0), (x(before.high), y + 8.0), BEFORE);
        if consistent {
            bar(sheet, y, after, x);
        }
        row(sheet, top, number, &unknown.told_as.name);
        let [middle, low, high] = [after.median, after.low, after.high]
            .map(|value| supported(value, after.low, after.high).replace('-', "−"));
        let words = match !consistent && unknown.told_as.is_any(before) {
            true => "any".to_owned(),
            false => format!("{middle} ({low} to {high}) {}", unknown.told_as.unit),
        };
        let set = TEXT.sized(12.0).weighted(unknown.told);
        sheet.fitted(words.trim_end(), (TO + 10.0, y), WIDTH - TO - 20.0, set);
    }
    let words = match consistent {
        true => {
            "Bold: the readings told it, to less than half of what was thought possible before. Wide ranges above 0 are drawn on a logarithmic scale."
        }
        false => "Wide ranges above 0 are drawn on a logarithmic scale.",
    };
    let y = top + ROW * (unknowns.len() as f64 + 0.5) + 4.0;
    sheet.fitted(words, (MARGIN, y), ROOM, TEXT.inked(SOFT_INK));
}
