//! `fit` as CSV.

use super::text;
use crate::output::findings::takes_photographs;
use crate::study::fit::{Checklist, Fit, SettingCell};
use crate::study::strain_between::{StrainBetween, StrainNode};
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

/// Columns of photographs.
const PHOTOGRAPHS: [&str; 4] = [
    "photo",
    "photo_parallel",
    "exposure_s",
    "exposure_parallel_s",
];

/// The table of a checklist to fill in, as `fit` reads it: readings and parallel light are empty, and so are names and exposures of photographs.
#[must_use]
pub fn checklist(answer: &Checklist) -> String {
    let mut settings: Vec<&str> = Vec::new();
    for (name, _) in answer.steps.iter().flat_map(|step| &step.setting) {
        if !settings.contains(&name.as_str()) {
            settings.push(name);
        }
    }
    // The iris last, as the instructions have it.
    settings.sort_by_key(|name| *name == "na");
    let mut header = vec!["reading", "parallel", "error_percent"];
    if takes_photographs(answer) {
        header.extend(PHOTOGRAPHS);
    }
    let blank = header.len();
    let rows = (answer.steps.iter().enumerate()).map(|(number, step)| {
        let cell = |wanted: &&str| {
            let cell = step.setting.iter().find(|(name, _)| name == wanted);
            cell.map_or(String::new(), |(_, cell)| match cell {
                SettingCell::Number(number) => number.to_string(),
                SettingCell::Word(word) => word.clone(),
            })
        };
        let mut row = vec![String::new(); blank];
        row.extend(settings.iter().map(cell));
        row.push(match step.worth {
            None => format!("checklist {}", number + 1),
            Some(_) => format!("checklist {}: photographs", number + 1),
        });
        row
    });
    let settings = settings.iter().copied();
    text(header.into_iter().chain(settings).chain(["note"]), rows)
}

/// A row for each unknown, before and after the readings; what was struck out is empty.
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
        .map(|number| match number.is_nan() {
            true => String::new(),
            false => number.to_string(),
        });
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

/// The strain between the polars as a scenario's `strain = [{ map = { csv = "..." } }]` reads it, with the error of each node.
#[must_use]
pub fn strain_map(map: &StrainBetween) -> String {
    let header = ["x", "y", "path_difference_nm", "azimuth_deg", "error_nm"];
    let nodes = map.nodes.iter();
    text(header, nodes.map(|node| cells(node).to_vec()))
}

/// The strain in the middle of each zone of the photographs, beside what the fitted parts add up to.
#[must_use]
pub fn strain_zones(map: &StrainBetween) -> String {
    let header = [
        "ring",
        "sector",
        "x",
        "y",
        "path_difference_nm",
        "azimuth_deg",
        "error_nm",
        "fitted_nm",
        "fitted_azimuth_deg",
    ];
    let row = |zone: &crate::study::strain_between::StrainZone| {
        let mut row = vec![zone.ring.to_string(), zone.sector.to_string()];
        row.extend(cells(&zone.found));
        row.extend(
            [zone.fitted_nm, zone.fitted_azimuth_rad.to_degrees()]
                .map(|value| format!("{value:.3}")),
        );
        row
    };
    text(header, map.zones.iter().map(row))
}

fn cells(node: &StrainNode) -> [String; 5] {
    [
        node.x,
        node.y,
        node.path_difference_nm,
        node.slow_azimuth_rad.to_degrees(),
        node.error_nm,
    ]
    .map(|value| format!("{value:.4}"))
}
