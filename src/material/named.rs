//! Birefringent things by the names that people have for them.

use std::sync::LazyLock;

use serde::{Deserialize, Serialize};

use super::data::rows;
use super::entry::Standing;
use super::{SODIUM_NM, catalog};

/// Something birefringent, as a chart for the wall calls it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct NamedBirefringence {
    /// In plain words: "starch", "sodium urate, negative".
    pub called: &'static str,
    /// The entry of the catalog that says how birefringent it is.
    pub entry: &'static str,
    /// Birefringence in sodium light without its sign; where only a range is known, the geometric mean of its ends.
    pub birefringence: f64,
    /// Ends of the range; both are the birefringence where one number is known.
    pub range: (f64, f64),
    /// How well the entry is known.
    pub standing: Standing,
    /// Where it comes from.
    pub source: &'static str,
}

#[derive(Deserialize)]
struct LineCsv {
    called: String,
    group: String,
    entry: String,
    low: Option<f64>,
    high: Option<f64>,
}

static LINES: LazyLock<Vec<LineCsv>> = LazyLock::new(|| rows(include_str!("data/named-lines.csv")));

/// Birefringent things that people know, the most important first.
///
/// # Examples
/// ```
/// let named = polstack::material::catalog::named_birefringences();
/// let starch = named.iter().find(|thing| thing.called == "starch").unwrap();
/// assert_eq!(starch.range, (0.013, 0.015));
/// ```
///
/// Checked by: this file's unit tests.
#[must_use]
pub fn named_birefringences() -> Vec<NamedBirefringence> {
    let entries = catalog::entries();
    let named = LINES.iter().filter_map(|row| {
        let entry = entries
            .iter()
            .find(|entry| entry.group == row.group && entry.name == row.entry)?;
        let of_law = || {
            let law = catalog::plate_material(&row.entry)?;
            let birefringence = law.at(SODIUM_NM).ok()??.abs();
            Some((birefringence, birefringence))
        };
        let range = row.low.zip(row.high).or_else(of_law)?;
        Some(NamedBirefringence {
            called: &row.called,
            entry: entry.name,
            birefringence: (range.0 * range.1).sqrt(),
            range,
            standing: entry.standing,
            source: entry.source,
        })
    });
    named.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_line_has_its_entry_and_the_numbers_of_it() {
        let named = named_birefringences();
        let text = include_str!("data/named-lines.csv");
        let lines = text.lines().filter(|line| !line.starts_with('#')).count() - 1;
        assert_eq!(named.len(), lines);
        for row in LINES.iter().filter(|row| row.group == "specimen") {
            let entries = catalog::entries();
            let entry = entries
                .iter()
                .find(|entry| entry.name == row.entry)
                .unwrap();
            let (low, high) = row.low.zip(row.high).unwrap();
            // "birefringence about 0.1 within a factor of 2" stands for 0.05 to 0.2.
            let said = match entry.values.contains("within a factor of 2") {
                true => vec![2.0 * low, 0.5 * high],
                false => vec![low, high],
            };
            for number in said {
                let words = entry.values.split([' ', ',', ')', ';']);
                let mut numbers = words.filter_map(|word| word.parse::<f64>().ok());
                assert!(
                    numbers.any(|other| (other - number).abs() < 1e-12),
                    "{}: {number}",
                    row.called
                );
            }
        }
        let of = |called: &str| named.iter().find(|thing| thing.called == called).unwrap();
        // The first list of check values, part B (tests/published/SOURCES.md).
        assert!((of("calcite").birefringence - 0.1722).abs() < 5e-5);
        assert!((of("magnesium fluoride").birefringence - 0.0118).abs() < 5e-5);
        assert_eq!(of("sodium urate, negative").standing, Standing::FromMemory);
        assert_eq!(of("quartz").standing, Standing::Read);
    }
}
