//! `place` as CSV.

use super::text;
use crate::output::words::place;
use crate::study::place::Placement;

/// A row for each polar, place and iris. `best` is 1 where the place of the lower polar is the best one at that iris, and what leaks
/// most is named with its share. `known_low` to `known_high` is what the ratio may be as far as the parts are known, at the scenario's own
/// iris alone. Places where the polar cannot stand have no rows; a ratio is empty where nothing leaks.
#[must_use]
pub fn placement(answer: &Placement) -> String {
    let header = [
        "polar",
        "place",
        "iris_na",
        "extinction_ratio",
        "relative_luminance",
        "parallel_luminance",
        "quadrature_error",
        "best",
        "leaks_most",
        "cause",
        "share",
        "known_low",
        "known_median",
        "known_high",
    ];
    let lists = [
        ("lower polar", &answer.lower),
        ("analyzer", &answer.analyzer),
    ];
    let rows = lists.into_iter().flat_map(|(polar, list)| {
        list.iter().enumerate().flat_map(move |(index, row)| {
            let seen = answer.iris_na.iter().zip(&row.at_iris).enumerate();
            seen.filter_map(move |(k, (na, at))| {
                let at = at.as_ref()?;
                let best = polar == "lower polar" && answer.verdict.best_at[k] == Some(index);
                let most = at.leak.shares.first();
                let known = row.known.as_ref().filter(|_| *na == answer.na);
                let known = known.and_then(|known| known.extinction_ratio);
                let [low, median, high] = known
                    .map_or([String::new(), String::new(), String::new()], |known| {
                        [known.low, known.median, known.high].map(|ratio| ratio.to_string())
                    });
                Some([
                    polar.to_owned(),
                    place(row),
                    na.to_string(),
                    at.extinction_ratio
                        .map_or(String::new(), |ratio| ratio.to_string()),
                    at.relative_luminance.to_string(),
                    at.parallel_luminance.to_string(),
                    at.quadrature_error.to_string(),
                    u8::from(best).to_string(),
                    most.map_or(String::new(), |share| share.part.clone()),
                    most.map_or("", |share| share.cause.words()).to_owned(),
                    most.map_or(String::new(), |share| share.share.to_string()),
                    low,
                    median,
                    high,
                ])
            })
        })
    });
    text(header, rows)
}
