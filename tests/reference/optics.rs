//! Whole predictions against an independent implementation of the optical model in Python: `optics/model.py`, written from the
//! model's description by somebody who had not seen this program. `optics/readings.md` lists what each reading of the
//! description was. `optics/make_cases.py` writes the expected numbers, with its own, finer quadrature.

use std::path::{Path, PathBuf};

use polstack::scenario;
use polstack::study::predict::predict;
use serde_json::Value;

use crate::common::close;

/// Relative: what the two quadratures leave. Light below 1e-14 of the parallel field is compared at 1e-20 of it.
const TOLERANCE: f64 = 1e-6;

/// The index of B270 outside 436 to 656 nm is extrapolated by two different laws, which moves its surfaces' losses: the
/// extinction ratio, where they cancel, is still compared.
const OWN_GLASS_LAW: [&str; 1] = ["a38"];

fn cases() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference");
    let files = |folder: PathBuf| {
        let files = std::fs::read_dir(folder).unwrap();
        files.map(|entry| entry.unwrap().path())
    };
    // Whole runs beside the maps have crystals cut across their axis.
    let whole = |path: &PathBuf| {
        path.file_name()
            .is_some_and(|name| name.to_string_lossy().starts_with("full-"))
    };
    let mut cases: Vec<PathBuf> = files(folder.join("optics/cases"))
        .chain(files(folder.join("maps")).filter(whole))
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
        .collect();
    cases.sort();
    cases
}

fn numbers(value: &Value) -> Vec<f64> {
    value
        .as_array()
        .unwrap()
        .iter()
        .map(|v| v.as_f64().unwrap())
        .collect()
}

/// Largest relative difference, where light below 1e-14 of `scale` counts as that much.
fn worst(got: &[f64], expected: &[f64], scale: &[f64]) -> f64 {
    assert_eq!(got.len(), expected.len());
    (got.iter().zip(expected).zip(scale))
        .map(|((g, e), s)| (g - e).abs() / e.abs().max(1e-14 * s))
        .fold(0.0, f64::max)
}

#[test]
#[allow(
    clippy::print_stdout,
    reason = "what was compared is worth reading in a test's output"
)]
fn predictions_agree_with_an_independent_implementation() {
    let cases = cases();
    assert!(cases.len() >= 58, "{} cases", cases.len());
    let mut failures = Vec::new();
    for case in cases {
        let name = case.file_stem().unwrap().to_string_lossy().into_owned();
        let text = std::fs::read_to_string(case.with_extension("json")).unwrap();
        let expected: Value = serde_json::from_str(&text).unwrap();
        let scenario = scenario::read(&case).unwrap_or_else(|error| panic!("{error}"));
        let got = predict(&scenario.scene).unwrap();
        let spectrum = &expected["spectrum"];
        let parallel = numbers(&spectrum["parallel"]);
        let mut off = vec![
            (
                "parallel",
                worst(&got.spectrum.fields.parallel, &parallel, &parallel),
            ),
            (
                "crossed",
                worst(
                    &got.spectrum.fields.crossed,
                    &numbers(&spectrum["crossed"]),
                    &parallel,
                ),
            ),
        ];
        assert_eq!(
            got.spectrum.fields.crossed_with_plate.is_some(),
            spectrum["crossed_with_plate"].is_array()
        );
        if let Some(plate) = &got.spectrum.fields.crossed_with_plate {
            let expected = numbers(&spectrum["crossed_with_plate"]);
            off.push(("crossed with plate", worst(plate, &expected, &parallel)));
        }
        if OWN_GLASS_LAW.iter().any(|own| name.starts_with(own)) {
            off.clear();
        }
        if let Some(ratio) = expected["extinction_ratio"].as_f64() {
            let got = got.extinction_ratio.unwrap_or(f64::INFINITY);
            off.push(("extinction ratio", (got / ratio - 1.0).abs()));
        }
        println!(
            "{name}: {off:?}, quadrature error {:.1e}",
            got.quadrature_error
        );
        failures.extend(
            off.into_iter()
                .filter(|(_, off)| off.is_nan() || *off > TOLERANCE)
                .map(|(what, off)| format!("{name}: {what} off by {off:.2e}")),
        );
    }
    assert!(failures.is_empty(), "{failures:#?}");
}

#[test]
fn the_descriptions_own_check_comes_out() {
    // Perfect film above an ideal condenser at NA 0.65, k1 0.8 and k2 8e-6: 1/1344.
    let case = cases()
        .into_iter()
        .find(|path| path.to_string_lossy().contains("a07"));
    let scenario = scenario::read(&case.unwrap()).unwrap();
    let got = predict(&scenario.scene).unwrap();
    close(
        "extinction ratio",
        got.extinction_ratio.unwrap(),
        1344.0,
        0.5,
    );
}
