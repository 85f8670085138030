//! Which of the compared sheets, in sentences.

use super::findings::chance;
use super::numbers::digits;
use crate::material::catalog::SheetSection;
use crate::study::chart::{ComparedSheet, KnownLight, KnownRatio, SheetComparison};

/// The darkest sheet is called so from this probability on.
const DECIDED: f64 = 0.9;
/// Sheets that are less probably the darkest are not named.
const HARDLY: f64 = 0.02;

/// What the comparison says, most important first.
#[must_use]
pub(super) fn which_sheet(answer: &SheetComparison) -> Vec<String> {
    let mut real: Vec<&ComparedSheet> = (answer.sheets.iter())
        .filter(|row| row.section != SheetSection::Ideal)
        .collect();
    let chance_of = |row: &ComparedSheet| row.darkest_probability.unwrap_or(0.0);
    real.sort_by(|a, b| chance_of(b).total_cmp(&chance_of(a)));
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
    let light = |row: &&&ComparedSheet| row.parallel.likely();
    let brightest = real.iter().max_by(|a, b| light(a).total_cmp(&light(b)));
    let brightest = brightest.map(|row| {
        format!(
            "Brightest: {}, of which a parallel pair passes {} % of the lamp's light.",
            row.sheet,
            digits(100.0 * row.parallel.likely(), 2)
        )
    });
    std::iter::once(darkest).chain(brightest).collect()
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
