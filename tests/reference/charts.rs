//! Colour charts against plain sums in Python: `charts/make_charts.py`, on the independent optical model of `optics/model.py`. `charts/readings.md`
//! lists what each reading of the description was.

use std::path::Path;

use polstack::Scene;
use polstack::color::Xyz;
use polstack::light_path::PartKind;
use polstack::material::{PolarizingSheet, SheetTransmittance, catalog};
use polstack::optics::{Retarder, Strain};
use polstack::scenario;
use polstack::spectrum::{Source, SpectralTable, WavelengthGrid};
use polstack::study::chart::{
    Dispersion, GridShown, Polars, Scale, ScaleRequest, background, interference, plate, sheets,
};
use serde_json::Value;

use crate::common::close;
use crate::scene::scene_of;

/// Relative: sums in another order.
const SUMS: f64 = 1e-11;
/// Relative, under a blackbody: the reference has the second radiation constant to ten digits.
const TEN_DIGITS: f64 = 1e-8;
/// Relative: what two quadratures leave, each settled to 1e-6 or better.
const QUADRATURES: f64 = 1e-6;

fn fixture(name: &str) -> Value {
    let text = std::fs::read_to_string(folder().join("charts").join(name)).unwrap();
    serde_json::from_str(&text).unwrap()
}

fn folder() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference")
}

fn records(of: &Value) -> &[Value] {
    let records = of["records"].as_array().unwrap();
    assert!(records.len() >= 6);
    records
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value}"))
}

fn word(value: &Value) -> &str {
    value.as_str().unwrap_or_else(|| panic!("{value}"))
}

fn three(value: &Value) -> [f64; 3] {
    [0, 1, 2].map(|k| number(&value[k]))
}

fn source(value: &Value) -> Source {
    match value {
        Value::String(name) => Source::named(name).unwrap_or_else(|| panic!("{name}")),
        other => Source::Blackbody {
            temperature_k: number(&other["blackbody_k"]),
        },
    }
}

fn sheet(of: &Value, name: &str) -> PolarizingSheet {
    if name == "ideal" {
        return catalog::sheet(name).unwrap();
    }
    let given = &of["sheets"][name];
    let table = |key: &str| {
        let all = |key: &str| given[key].as_array().unwrap().iter().map(number);
        SpectralTable::new(all("wavelength_nm").zip(all(key))).unwrap()
    };
    PolarizingSheet {
        name: name.to_owned(),
        transmittance: match given["k1"].as_f64() {
            Some(k1) => SheetTransmittance::Constant {
                k1,
                k2: number(&given["k2"]),
            },
            None => SheetTransmittance::Table {
                k1: table("k1"),
                k2: table("k2"),
            },
        },
        index: 1.5,
        cover_nm: 0.0,
        cover_is_told: true,
    }
}

fn request<'a>(source: &'a Source, sheet: &'a PolarizingSheet, step_nm: f64) -> ScaleRequest<'a> {
    ScaleRequest {
        source,
        sheet,
        polars: Polars::Linear,
        dispersion: None,
        // The scale's second path difference is the one that is asked.
        to_nm: step_nm.max(10.0) + 1e-6,
        step_nm,
        exposure_stops: 0.0,
        adaptation_degree: 1.0,
        microscope: None,
    }
}

/// A request whose scale holds a path difference, and where: any number is a whole multiple of itself, and small ones of
/// themselves too.
fn holding<'a>(
    source: &'a Source,
    sheet: &'a PolarizingSheet,
    path_difference_nm: f64,
) -> (ScaleRequest<'a>, usize) {
    match path_difference_nm {
        0.0 => (request(source, sheet, 10.0), 0),
        nm => (request(source, sheet, nm), 1),
    }
}

fn quartz(at_nm: f64) -> Dispersion {
    Dispersion {
        name: "quartz".to_owned(),
        material: catalog::plate_material("quartz").unwrap(),
        at_nm,
    }
}

/// How far sums under a lamp may be off, relatively.
fn sums(record: &Value) -> f64 {
    if record["source"].is_string() {
        SUMS
    } else {
        TEN_DIGITS
    }
}

#[track_caller]
fn same(what: &str, got: Xyz, expected: &Value, tolerance: f64) {
    for (got, expected) in got.0.iter().zip(three(expected)) {
        close(what, *got, expected, tolerance * expected.abs().max(1e-6));
    }
}

#[test]
fn ideal_interference_colours_agree() {
    let of = fixture("ideal.json");
    let (ideal, quartz) = (
        catalog::sheet("ideal").unwrap(),
        quartz(number(&of["named_at_nm"])),
    );
    for record in records(&of) {
        let lamp = source(&record["source"]);
        let nm = number(&record["path_difference_nm"]);
        for polars in [Polars::Linear, Polars::Circular] {
            let (request, at) = holding(&lamp, &ideal, nm);
            let request = ScaleRequest {
                polars,
                dispersion: (record["dispersion"] == "quartz").then_some(&quartz),
                ..request
            };
            let chart = interference(&request).unwrap();
            let what = format!("{} {} {nm} nm", record["source"], record["dispersion"]);
            assert_eq!(chart.path_difference_nm[at], nm);
            same(
                &what,
                chart.bands[0].tints[at].xyz,
                &record["xyz"],
                sums(record),
            );
        }
    }
}

#[test]
fn landmarks_agree() {
    let of = fixture("landmarks.json");
    let (ideal, quartz) = (
        catalog::sheet("ideal").unwrap(),
        quartz(number(&of["named_at_nm"])),
    );
    for record in records(&of) {
        let lamp = source(&record["source"]);
        let request = ScaleRequest {
            dispersion: (record["dispersion"] == "quartz").then_some(&quartz),
            to_nm: 800.0,
            ..request(&lamp, &ideal, 50.0)
        };
        let chart = interference(&request).unwrap();
        let band = &chart.bands[0];
        let found = match word(&record["landmark"]) {
            "first maximum" => band.first_maximum,
            _ => band.first_minimum,
        };
        let (nm, luminance) = found.unwrap();
        // Luminance is flat where it is extreme: a rounding of 1e-16 leaves 1e-6 nm open.
        close(
            "landmark, nm",
            nm,
            number(&record["path_difference_nm"]),
            2e-5,
        );
        close(
            "luminance",
            luminance,
            number(&record["luminance"]),
            sums(record),
        );
    }
}

#[test]
fn colours_between_real_sheets_agree() {
    let of = fixture("sheets.json");
    for record in records(&of) {
        if record["specimen_azimuth_deg"] != 45 {
            continue;
        }
        let (lamp, sheet) = (
            source(&record["source"]),
            sheet(&of, word(&record["sheet"])),
        );
        let nm = number(&record["path_difference_nm"]);
        let (request, at) = holding(&lamp, &sheet, nm);
        let request = ScaleRequest {
            polars: match word(&record["polars"]) {
                "linear" => Polars::Linear,
                _ => Polars::Circular,
            },
            ..request
        };
        let chart = interference(&request).unwrap();
        same(
            &record.to_string(),
            chart.bands[0].tints[at].xyz,
            &record["xyz"],
            sums(record),
        );
    }
}

#[test]
fn plates_added_and_subtracted_agree() {
    let of = fixture("plate.json");
    let given = &of["plate"];
    let retarder = Retarder {
        path_difference_nm: number(&given["path_difference_nm"]),
        at_nm: number(&given["at_nm"]),
        material: catalog::plate_material(word(&given["material"])).unwrap(),
        slow_azimuth_rad: 0.0,
    };
    for record in records(&of) {
        let (lamp, sheet) = (
            source(&record["source"]),
            sheet(&of, word(&record["sheet"])),
        );
        let (request, at) = holding(&lamp, &sheet, number(&record["path_difference_nm"]));
        let chart = plate(&request, Some(&retarder)).unwrap();
        let what = record.to_string();
        for (band, key) in [(1, "added"), (2, "subtracted")] {
            let (tint, expected) = (&chart.bands[band].tints[at], &record[key]);
            same(&what, tint.xyz, &expected["xyz"], sums(record));
            for (got, expected) in tint.lab.0.iter().zip(three(&expected["lab"])) {
                close(&what, *got, expected, 1e3 * sums(record));
            }
        }
        let expected = number(&record["ciede2000"]);
        close(&what, chart.differences[0].ciede2000[at], expected, 1e-8);
    }
}

#[test]
fn microscopes_with_a_specimen_agree() {
    let of = fixture("microscopes.json");
    let ideal = catalog::sheet("ideal").unwrap();
    let mut compared = 0;
    for record in records(&of) {
        // Charts run over every nanometre.
        if record["step_nm"] != 1 {
            continue;
        }
        let file = folder()
            .join("optics/cases")
            .join(word(&record["scenario"]));
        let scenario = scenario::read(&file.with_extension("toml")).unwrap();
        let nm = number(&record["path_difference_nm"]);
        let (request, at) = holding(&scenario.scene.source, &ideal, nm);
        let request = ScaleRequest {
            microscope: Some((&scenario.scene.path, &scenario.scene.grid)),
            ..request
        };
        let along = along_the_plate(&scenario, number(&record["specimen_to_lower_polar_deg"]));
        let tint = |chart: &Scale, band: usize| chart.bands[band].tints[at].xyz;
        let what = record.to_string();
        if along {
            let chart = interference(&request).unwrap();
            same(&what, tint(&chart, 1), &record["xyz"], QUADRATURES);
            compared += 1;
        }
        if !record["xyz_with_plate"].is_null() {
            let chart = plate(&request, None).unwrap();
            let band = if along { 4 } else { 5 };
            same(
                &what,
                tint(&chart, band),
                &record["xyz_with_plate"],
                QUADRATURES,
            );
            compared += 1;
        }
    }
    assert!(compared >= 18, "{compared}");
}

/// Whether the chart's specimen, which lies along the plate, is the one at this angle.
fn along_the_plate(scenario: &scenario::Scenario, to_lower_polar_deg: f64) -> bool {
    let (lower, _) = scenario.scene.path.polars().unwrap();
    let plate = (scenario.scene.path.parts.iter()).find_map(|part| match &part.kind {
        PartKind::Plate(plate) => Some(plate),
        _ => None,
    });
    let slow_rad = lower.azimuth_rad + to_lower_polar_deg.to_radians();
    plate.map_or(to_lower_polar_deg > 0.0, |plate| {
        (2.0 * (plate.slow_azimuth_rad - slow_rad)).cos() > 0.0
    })
}

#[test]
fn backgrounds_of_a_strained_objective_agree() {
    let of = fixture("background.json");
    let file = folder().join("charts").join(word(&of["scenario"]));
    let scenario = scenario::read(&file).unwrap();
    for record in records(&of) {
        let edge_nm = number(&record["objective_edge_nm"]);
        let na = number(&record["na"]);
        let Scene { path, source, grid } = &scenario.scene;
        let chart = background(
            &scene_of(path, source, grid),
            &[edge_nm],
            &[na],
            GridShown::default(),
        )
        .unwrap();
        let what = record.to_string();
        same(
            &what,
            chart.panels[0].cells[0][0].xyz,
            &record["xyz"],
            QUADRATURES,
        );
        same(
            &what,
            chart.panels[1].cells[0][0].xyz,
            &record["xyz_with_plate"],
            QUADRATURES,
        );
        let expected = number(&record["extinction_ratio"]);
        close(
            &what,
            chart.extinction_ratio[0][0].unwrap(),
            expected,
            QUADRATURES * expected,
        );
    }
    assert!(matches!(strain(&scenario), Strain::Radial { .. }));
}

fn strain(scenario: &scenario::Scenario) -> &Strain {
    (scenario.scene.path.parts.iter())
        .find_map(|part| match &part.kind {
            PartKind::Objective(lens) => lens.strain.first(),
            _ => None,
        })
        .unwrap()
}

#[test]
fn pairs_of_sheets_agree() {
    let of = fixture("pairs.json");
    let grid = WavelengthGrid::new(380.0, 780.0, 1.0).unwrap();
    for record in records(&of) {
        let lamp = source(&record["source"]);
        let sheet = sheet(&of, word(&record["sheet"]));
        let chart = sheets(&[sheet], &[lamp], &grid, None, GridShown::default()).unwrap();
        let what = record.to_string();
        same(
            &what,
            chart.panels[0].cells[0][0].xyz,
            &record["parallel_xyz"],
            sums(record),
        );
        same(
            &what,
            // The reference has both over the lamp's luminance.
            chart.panels[1].cells[0][0]
                .xyz
                .scaled(chart.panels[0].cells[0][0].xyz.luminance()),
            &record["crossed_xyz"],
            sums(record),
        );
        let expected = number(&record["extinction_ratio"]);
        close(
            &what,
            chart.extinction_ratio[0][0].unwrap(),
            expected,
            sums(record) * expected,
        );
    }
}
