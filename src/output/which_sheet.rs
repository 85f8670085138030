//! Which of the compared sheets, in sentences.

use super::findings::{DECIDED, chance};
use super::numbers::digits;
use crate::material::catalog::SheetSection;
use crate::order::sort_by_number;
use crate::study::chart::{ComparedSheet, KnownLight, KnownRatio, SheetComparison};

/// Sheets that are less probably the darkest are not named.
const HARDLY: f64 = 0.02;

/// What the comparison says, most important first.
#[must_use]
pub(super) fn which_sheet(answer: &SheetComparison) -> Vec<String> {
    let mut real: Vec<&ComparedSheet> = (answer.sheets.iter())
        .filter(|row| row.section != SheetSection::Ideal)
        .collect();
    let chance_of = |row: &ComparedSheet| row.darkest_probability.unwrap_or(0.0);
    sort_by_number(&mut real, |sheet| -chance_of(sheet));
    let Some(first) = real.first() else {
        return Vec::new();
    };
    let darkest = if chance_of(first) >= DECIDED {
        format!(
            "Darkest {}: {}, {} sure.",
            answer.placed_in,
            first.sheet,
            chance(chance_of(first))
        )
    } else {
        let named = real.iter().filter(|row| chance_of(row) >= HARDLY);
        let named: Vec<String> = named
            .map(|row| format!("{} ({})", row.sheet, chance(chance_of(row))))
            .collect();
        format!(
            "Not decided which is darkest {}: {}. Read your own sheets, crossed and parallel.",
            answer.placed_in,
            named.join(", or ")
        )
    };
    std::iter::once(darkest)
        .chain(brightest(&answer.sheets))
        .collect()
}

/// The brightest real sheet; all of them, in the table's order, that pass as much in the digits told.
fn brightest(sheets: &[ComparedSheet]) -> Option<String> {
    let real = || (sheets.iter()).filter(|row| row.section != SheetSection::Ideal);
    let most = real()
        .map(|row| row.parallel.likely())
        .max_by(f64::total_cmp)?;
    let told = |light: f64| digits(100.0 * light, 2);
    let names: Vec<&str> = real()
        .filter(|row| told(row.parallel.likely()) == told(most))
        .map(|row| row.sheet.as_str())
        .collect();
    let (names, pair) = match names.split_last() {
        Some((last, others)) if !others.is_empty() => {
            let names = format!("{} and {last}, alike", others.join(", "));
            (names, "of each of which a parallel pair")
        }
        _ => (names.concat(), "of which a parallel pair"),
    };
    Some(format!(
        "Brightest: {names}, {pair} passes {} % of the lamp's light.",
        told(most)
    ))
}

/// Why light is told otherwise than in the catalog.
pub(super) const MIDDLE: &str = "Light with a range is the middle of it: the catalog's iodine sheets may pass up to 8 % less than is written there";

/// A transmittance, the middle of its interval, and the interval, in percent.
pub(super) fn light(light: &KnownLight) -> [String; 2] {
    let percent = |value: f64| digits(100.0 * value, 3);
    let range = light.doubt.map_or(String::new(), |range| {
        format!("{} to {}", percent(range.low), percent(range.high))
    });
    [format!("{} %", percent(light.likely())), range]
}

/// An extinction ratio and its interval.
pub(super) fn dark(ratio: &KnownRatio) -> [String; 2] {
    let told = |value: f64| digits(value, 3);
    let range = ratio.doubt.map_or(String::new(), |range| {
        format!("{} to {}", told(range.low), told(range.high))
    });
    let value = (ratio.extinction_ratio).map_or_else(|| "infinite".to_owned(), told);
    [value, range]
}

/// The path difference of a cover and its interval.
pub(super) fn cover(row: &ComparedSheet) -> [String; 2] {
    let range = row.cover.map_or(String::new(), |range| {
        format!("{:.0} to {:.0}", range.low, range.high)
    });
    [format!("{} nm", row.cover_nm), range]
}
