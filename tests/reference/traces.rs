//! States after each part and Mueller matrices against an independent implementation in Python: `traces/make_traces.py`, with the
//! parts of `optics/model.py`. `traces/readings.md` lists what each reading of the description was.

use std::path::{Path, PathBuf};

use polstack::calculus::Mueller;
use polstack::optics::Ray;
use polstack::scenario;
use polstack::study::trace::{Decomposition, Question, StepKind, Trace, trace};
use serde_json::Value;

use crate::common::close;

/// Of S0 = 1 or a matrix's transmittance, for one ray: rounding.
const RAY: f64 = 1e-12;
/// The same for means over the aperture, relative to the light that is there; the reference settles to 1e-10 and our quadrature is
/// asked for 1e-6 of the last light.
const MEAN: f64 = 1e-8;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/traces")
}

fn records(name: &str) -> Vec<Value> {
    let text = std::fs::read_to_string(folder().join(name)).unwrap();
    let document: Value = serde_json::from_str(&text).unwrap();
    document["records"].as_array().unwrap().clone()
}

fn number(value: &Value) -> f64 {
    value
        .as_f64()
        .unwrap_or_else(|| panic!("{value} is no number"))
}

/// The record's question, answered.
fn answer(record: &Value, matrices: bool) -> Trace {
    let what = record["what"].as_str().unwrap();
    let ray = &record["ray"];
    let question = Question {
        ray: ray.is_object().then(|| Ray {
            s: number(&ray["s"]),
            azimuth_rad: number(&ray["azimuth_deg"]).to_radians(),
        }),
        wavelength_nm: (!what.ends_with("over the lamp")).then_some(546.1),
        plates: record["with_plate"].as_bool().unwrap_or(true),
        matrices,
    };
    let file = folder().join(record["scenario"].as_str().unwrap());
    let scene = scenario::read(&file).unwrap_or_else(|error| panic!("{error}"));
    trace(&scene.scene, question).unwrap()
}

#[test]
fn states_agree_with_an_independent_implementation() {
    let records = records("traces.json");
    assert!(records.len() >= 39, "{} records", records.len());
    for record in &records {
        let answer = answer(record, false);
        let tolerance = if record["ray"].is_object() { RAY } else { MEAN };
        let what = format!("{} {}", record["scenario"], record["what"]);
        let steps: Vec<_> = (answer.steps.iter())
            .filter(|step| step.kind != StepKind::Out)
            .collect();
        let states = record["states"].as_array().unwrap();
        assert_eq!(steps.len(), states.len(), "{what}");
        for (k, (step, expected)) in steps.iter().zip(states).enumerate() {
            if k > 0 {
                assert_eq!(step.name, record["parts"][k - 1].as_str().unwrap());
            }
            let what = format!("{what} after {}", step.name);
            let s0 = number(&expected["stokes"][0]);
            for (got, expected) in step
                .state
                .stokes
                .0
                .iter()
                .zip(expected["stokes"].as_array().unwrap())
            {
                close(&what, *got, number(expected), tolerance * s0);
            }
            let degree = number(&expected["degree_of_polarization"]);
            close(&what, step.state.polarized, degree, tolerance);
            let angle = |got: Option<f64>, key: &str, period: f64| {
                assert_eq!(got.is_some(), expected[key].is_number(), "{what}: {key}");
                if let Some(got) = got {
                    // An angle is worth as much as the polarized light that has it.
                    let off = (got.to_degrees() - number(&expected[key])) / period;
                    let off = (off - off.round()) * period;
                    close(&what, off * degree, 0.0, 60.0 * tolerance);
                }
            };
            if step.state.linear > 1e-6 {
                angle(step.state.azimuth_rad, "azimuth_deg", 180.0);
            }
            angle(step.state.ellipticity_rad, "ellipticity_deg", 360.0);
        }
    }
}

#[test]
fn matrices_and_their_decompositions_agree_with_an_independent_implementation() {
    let records = records("matrices.json");
    assert!(records.len() >= 89, "{} records", records.len());
    let mut decomposed = 0;
    for record in records
        .iter()
        .filter(|record| record["scenario"].is_string())
    {
        let tolerance = if record["ray"].is_object() { RAY } else { MEAN };
        let answer = answer(record, true);
        let matrix = match record["part"].as_str() {
            None => answer.between_polars.as_ref(),
            Some(part) => {
                let step = answer.steps.iter().find(|step| step.name == part);
                step.unwrap().matrix.as_ref()
            }
        };
        let matrix = matrix.unwrap();
        let what = format!(
            "{} {} {}",
            record["scenario"], record["what"], record["part"]
        );
        let m00 = number(&record["mueller"][0][0]);
        let same = |got: &Mueller, expected: &Value, tolerance: f64| {
            for row in 0..4 {
                for column in 0..4 {
                    let expected = number(&expected[row][column]);
                    close(&what, got.0[(row, column)], expected, tolerance);
                }
            }
        };
        same(&matrix.mueller, &record["mueller"], tolerance * m00);
        let expected = &record["decomposition"];
        if expected.is_null() {
            continue;
        }
        decomposed += 1;
        let parts = matrix.decomposition.as_ref().unwrap();
        let Decomposition {
            diattenuation,
            polarizance,
            retardance_rad,
            depolarization,
            ..
        } = *parts;
        // Taking apart costs a few digits.
        let tolerance = 100.0 * tolerance;
        for (key, got) in [
            ("diattenuation", diattenuation),
            ("polarizance", polarizance),
            ("depolarization", depolarization),
            ("depolarization_index", matrix.depolarization_index.unwrap()),
        ] {
            close(
                &format!("{what} {key}"),
                got,
                number(&expected[key]),
                tolerance,
            );
        }
        let retardance = number(&expected["retardance_deg"]);
        close(
            &what,
            retardance_rad.to_degrees(),
            retardance,
            60.0 * tolerance,
        );
        same(&parts.retarder, &expected["retarder"], tolerance);
        same(
            &parts.diattenuator.scaled(1.0 / m00),
            &expected["diattenuator"],
            tolerance,
        );
        same(&parts.depolarizer, &expected["depolarizer"], tolerance);
    }
    assert!(decomposed >= 40, "{decomposed}");
}
