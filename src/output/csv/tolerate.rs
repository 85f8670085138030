//! `tolerate` as CSV.

use super::text;
use crate::study::draws::Draws;
use crate::study::tolerate::{Limit, Limits, Tolerable, Tolerances};

/// The limits of `tolerate`, one a row: part, quantity, unit, written, case, limit, uncertainty, none_up_to. Angles in degrees. Without a
/// limit the cell is empty, and `none_up_to` says how far was looked; both are empty where the target is missed without it.
#[must_use]
pub fn tolerances(answer: &Tolerances) -> String {
    let header = [
        "part",
        "quantity",
        "unit",
        "written",
        "case",
        "limit",
        "uncertainty",
        "none_up_to",
    ];
    text(header, answer.quantities.iter().flat_map(rows))
}

/// The extinction ratios of instruments drawn from tolerances: percent, extinction_ratio, low, high, met, done, asked; the interval is that of
/// 95 % confidence, and the last three, the same in each row, count draws that meet the target, were done, and were asked for.
#[must_use]
pub fn draws(draws: &Draws) -> String {
    let header = [
        "percent",
        "extinction_ratio",
        "low",
        "high",
        "met",
        "done",
        "asked",
    ];
    let rows = draws.percentiles.iter().map(|each| {
        let counts = [draws.met, draws.done, draws.asked].map(|count| count.to_string());
        let [met, done, asked] = counts;
        let [percent, ratio, low, high] =
            [each.percent, each.ratio, each.low, each.high].map(|number| number.to_string());
        [percent, ratio, low, high, met, done, asked]
    });
    text(header, rows)
}

fn rows(each: &Tolerable) -> Vec<[String; 8]> {
    let quantity = each.quantity;
    let row = |case: String, limit: &Limit| {
        let told = |value: f64| quantity.in_unit(value).to_string();
        let [mut value, mut uncertainty, mut none_up_to] = [const { String::new() }; 3];
        match *limit {
            Limit::Missed => {}
            Limit::At {
                value: at,
                uncertainty: open,
            } => (value, uncertainty) = (told(at), told(open)),
            Limit::Beyond(end) => none_up_to = told(end),
        }
        [
            each.part.clone().unwrap_or_default(),
            quantity.words(),
            quantity.unit().to_owned(),
            told(each.written),
            case,
            value,
            uncertainty,
            none_up_to,
        ]
    };
    let own = |case: &str, limit: &Limit| row(case.to_owned(), limit);
    match &each.limits {
        Limits::Strain(strain) => {
            let mut rows = vec![own("as written", &strain.as_written)];
            if let Some(over) = &strain.over_azimuths {
                rows.push(own("worst", &over.worst.limit));
                rows.push(own("best", &over.best.limit));
                let random = over.random.iter();
                rows.extend(
                    random.map(|(share, limit)| row(format!("{share} of azimuths"), limit)),
                );
            }
            rows
        }
        Limits::Between { below, above } => vec![own("below", below), own("above", above)],
        Limits::AtMost(most) => vec![own("at most", most)],
        Limits::AtLeast(fewest) => vec![own(
            "at least",
            &fewest.map_or(Limit::Missed, |fewest| Limit::At {
                value: f64::from(fewest),
                uncertainty: 0.0,
            }),
        )],
    }
}
