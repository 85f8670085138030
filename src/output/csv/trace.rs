//! `trace` as CSV.

use super::text;
use crate::study::trace::{State, StepKind, StretchMatrix, Trace, TraceStep};

/// A row a part: its name and kind, Stokes vector, degrees of polarization, ellipse, the fraction that it passes and, where matrices were
/// asked for, its Mueller matrix, a row after the other; what lies between the polars is the last row then. Cells without a value are empty.
#[must_use]
pub fn trace(answer: &Trace) -> String {
    let header = [
        "after",
        "kind",
        "s0",
        "s1",
        "s2",
        "s3",
        "degree_of_polarization",
        "degree_of_linear_polarization",
        "degree_of_circular_polarization",
        "azimuth_deg",
        "ellipticity_deg",
        "axis_ratio",
        "handedness",
        "passed",
    ];
    let matrices = answer.between_polars.is_some();
    let mut columns: Vec<String> = header.map(str::to_owned).to_vec();
    if matrices {
        columns.extend((0..16).map(|k| format!("m{}{}", k / 4, k % 4)));
    }
    let whole = (answer.between_polars.iter()).map(|matrix| {
        let named = ["everything between the polars", "between polars"].map(str::to_owned);
        let empty = vec![String::new(); header.len() - named.len()];
        [named.to_vec(), empty, elements(Some(matrix))].concat()
    });
    let rows = (answer.steps.iter())
        .map(|step| {
            let mut cells = cells(step);
            if matrices {
                cells.extend(elements(step.matrix.as_ref()));
            }
            cells
        })
        .chain(whole);
    text(&columns, rows)
}

fn cells(step: &TraceStep) -> Vec<String> {
    let State {
        stokes,
        polarized,
        linear,
        circular,
        azimuth_rad,
        ellipticity_rad,
        axis_ratio,
        right_handed,
    } = step.state;
    let hand = match right_handed {
        Some(true) => "right",
        Some(false) => "left",
        None => "",
    };
    let known = |value: Option<f64>| value.map_or(String::new(), |value| value.to_string());
    let mut cells = vec![step.name.clone(), step.kind.word().to_owned()];
    if step.kind == StepKind::Out {
        cells.extend(vec![String::new(); 12]);
        return cells;
    }
    cells.extend(stokes.0.map(|s| s.to_string()));
    cells.extend([polarized, linear, circular].map(|degree| degree.to_string()));
    cells.extend([azimuth_rad, ellipticity_rad].map(|angle| known(angle.map(f64::to_degrees))));
    cells.extend([known(axis_ratio), hand.to_owned(), known(step.passed)]);
    cells
}

fn elements(matrix: Option<&StretchMatrix>) -> Vec<String> {
    (0..16)
        .map(|k| matrix.map_or(String::new(), |m| m.mueller.0[(k / 4, k % 4)].to_string()))
        .collect()
}
