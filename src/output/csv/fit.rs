//! `fit` as CSV.

use super::text;
use crate::study::fit::Fit;
use crate::study::unknown::Unknowns;

/// A row for each stand, a column for each unknown number, as a scenario's `[doubt] sample` reads it.
#[must_use]
pub fn sample(unknowns: &Unknowns, points: &[Vec<f64>]) -> String {
    let mut text = unknowns.names().join(",");
    text.push('\n');
    for point in points {
        let cells: Vec<String> = (unknowns.told_values(point).iter())
            .map(f64::to_string)
            .collect();
        text.push_str(&cells.join(","));
        text.push('\n');
    }
    text
}

/// A row for each unknown, before and after the readings.
#[must_use]
pub fn unknowns(answer: &Fit) -> String {
    let header = [
        "name",
        "part",
        "cause",
        "unit",
        "prior_low",
        "prior_median",
        "prior_high",
        "low",
        "median",
        "high",
        "mean",
        "sd",
        "told",
    ];
    let rows = answer.unknown.iter().map(|row| {
        let (prior, posted) = (row.prior, row.posterior);
        let [a, b, c, d, e, f, g, h] = [
            prior.low,
            prior.median,
            prior.high,
            posted.interval.low,
            posted.interval.median,
            posted.interval.high,
            posted.mean,
            posted.sd,
        ]
        .map(|number| number.to_string());
        [
            row.told_as.name.clone(),
            row.told_as.part.clone(),
            row.told_as.cause.words().to_owned(),
            row.told_as.unit.to_owned(),
            a,
            b,
            c,
            d,
            e,
            f,
            g,
            h,
            u8::from(row.told).to_string(),
        ]
    });
    text(header, rows)
}
