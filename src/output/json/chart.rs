//! Colour charts as JSON.

use serde::Serialize;

use super::text;
use crate::output::CAUTION;
use crate::study::chart::{Band, ColorGrid, Conditions, Panel, Scale, Tint};

/// A chart of colour over path difference as one JSON document, with a line break at its end. `chart` is its kind, `scenario`
/// the title of the microscope that it is for.
///
/// Checked by: `tests/cli/chart.rs`.
#[must_use]
pub fn scale(chart: &str, scenario: Option<&str>, answer: &Scale) -> String {
    text(&ScaleDocument {
        chart,
        scenario,
        conditions: conditions(&answer.conditions),
        exposure_stops: answer.exposure_stops,
        at_nm: answer.at_nm,
        path_difference_nm: &answer.path_difference_nm,
        bands: answer.bands.iter().map(band).collect(),
        birefringence: (answer.lines.iter())
            .map(|line| Line {
                birefringence: line.birefringence,
                materials: &line.materials,
            })
            .collect(),
        added_from_subtracted: (answer.differences.iter())
            .map(|each| Apart {
                heading: &each.heading,
                ciede2000: &each.ciede2000,
            })
            .collect(),
        caution: CAUTION,
    })
}

/// A chart of rows and columns as one JSON document; the arguments are those of [`scale`].
///
/// Checked by: `tests/cli/chart.rs`.
#[must_use]
pub fn matrix(chart: &str, scenario: Option<&str>, answer: &ColorGrid) -> String {
    text(&MatrixDocument {
        chart,
        scenario,
        conditions: conditions(&answer.conditions),
        rows_are: &answer.rows_are,
        columns_are: &answer.columns_are,
        rows: &answer.rows,
        columns: &answer.columns,
        panels: answer.panels.iter().map(panel).collect(),
        extinction_ratio: &answer.extinction_ratio,
        caution: CAUTION,
    })
}

fn conditions(of: &Conditions) -> Holds<'_> {
    let (from_nm, to_nm, step_nm) = of.wavelengths_nm;
    Holds {
        lamp: of.lamp.as_deref(),
        observer: "CIE 1931, 2 degrees",
        white_xy: of.white_xy,
        white_balanced: of.white_balanced,
        polars: &of.polars,
        wavelengths: Wavelengths {
            from_nm,
            to_nm,
            step_nm,
        },
        notes: &of.notes,
    }
}

fn band(of: &Band) -> BandDocument<'_> {
    let place = |(path_difference_nm, relative_luminance)| ExtremumJson {
        path_difference_nm,
        relative_luminance,
    };
    BandDocument {
        heading: &of.heading,
        first_maximum: of.first_maximum.map(place),
        first_minimum: of.first_minimum.map(place),
        keenest_nm: of.keenest_nm,
        tints: of.tints.iter().map(tint).collect(),
        discrimination_per_nm: &of.discrimination_per_nm,
    }
}

fn panel(of: &Panel) -> PanelDocument<'_> {
    PanelDocument {
        heading: &of.heading,
        exposure_stops: of.exposure_stops,
        labels_are: &of.labels_are,
        labels: &of.labels,
        cells: (of.cells.iter())
            .map(|row| row.iter().map(tint).collect())
            .collect(),
    }
}

fn tint(of: &Tint) -> TintDocument<'_> {
    TintDocument {
        xyz: of.xyz.0,
        lab: of.lab.0,
        srgb: of.swatch.hex(),
        gamut_mapped: of.swatch.gamut_mapped,
        name: &of.name,
    }
}

#[derive(Serialize)]
struct ScaleDocument<'a> {
    chart: &'a str,
    scenario: Option<&'a str>,
    conditions: Holds<'a>,
    exposure_stops: f64,
    at_nm: Option<f64>,
    path_difference_nm: &'a [f64],
    bands: Vec<BandDocument<'a>>,
    birefringence: Vec<Line<'a>>,
    added_from_subtracted: Vec<Apart<'a>>,
    caution: &'static str,
}

#[derive(Serialize)]
struct MatrixDocument<'a> {
    chart: &'a str,
    scenario: Option<&'a str>,
    conditions: Holds<'a>,
    rows_are: &'a str,
    columns_are: &'a str,
    rows: &'a [String],
    columns: &'a [String],
    panels: Vec<PanelDocument<'a>>,
    extinction_ratio: &'a [Vec<Option<f64>>],
    caution: &'static str,
}

#[derive(Serialize)]
struct Holds<'a> {
    lamp: Option<&'a str>,
    observer: &'static str,
    white_xy: Option<[f64; 2]>,
    white_balanced: bool,
    polars: &'a str,
    wavelengths: Wavelengths,
    notes: &'a [String],
}

#[derive(Serialize)]
struct Wavelengths {
    from_nm: f64,
    to_nm: f64,
    step_nm: f64,
}

#[derive(Serialize)]
struct BandDocument<'a> {
    heading: &'a str,
    first_maximum: Option<ExtremumJson>,
    first_minimum: Option<ExtremumJson>,
    keenest_nm: f64,
    tints: Vec<TintDocument<'a>>,
    discrimination_per_nm: &'a [f64],
}

#[derive(Serialize)]
struct ExtremumJson {
    path_difference_nm: f64,
    relative_luminance: f64,
}

#[derive(Serialize)]
struct PanelDocument<'a> {
    heading: &'a str,
    exposure_stops: f64,
    labels_are: &'a str,
    labels: &'a [Vec<String>],
    cells: Vec<Vec<TintDocument<'a>>>,
}

#[derive(Serialize)]
struct TintDocument<'a> {
    xyz: [f64; 3],
    lab: [f64; 3],
    srgb: String,
    gamut_mapped: bool,
    name: &'a str,
}

#[derive(Serialize)]
struct Line<'a> {
    birefringence: f64,
    materials: &'a [String],
}

#[derive(Serialize)]
struct Apart<'a> {
    heading: &'a str,
    ciede2000: &'a [f64],
}
