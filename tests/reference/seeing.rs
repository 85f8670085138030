//! What a faint specimen shows by its own light and by bias, against `seeing/make_seeing.py`; `seeing/readings.md` lists what was read into the
//! description.

use std::f64::consts::{FRAC_PI_2, PI};
use std::path::Path;

use polstack::light_path::{LightPath, PartKind};
use polstack::optics::Strain;
use polstack::scenario::{self, Scenario};
use polstack::study::tolerate::{Limits, See, Subject, Target, tolerate, verdict};
use polstack::study::visibility::{Thresholds, visibility};
use serde_json::Value;

use crate::common::close;
use crate::scene::scene_of;

/// Relative: what the two quadratures leave.
const TOLERANCE: f64 = 1e-6;

fn records(answer: &str) -> Vec<Value> {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/seeing/seeing.json");
    let all: Value = serde_json::from_str(&std::fs::read_to_string(file).unwrap()).unwrap();
    let mut records = all["records"].as_array().unwrap().clone();
    records.retain(|record| record["answer"] == answer);
    records
}

fn read(record: &Value) -> Scenario {
    let name = record["scenario"].as_str().unwrap();
    let file = format!("tests/reference/seeing/{name}.toml");
    scenario::read(&Path::new(env!("CARGO_MANIFEST_DIR")).join(file)).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

/// The objective's uniform strain, its last profile, replaced.
fn strained(path: &LightPath, nm: f64, azimuth_deg: f64) -> LightPath {
    let mut path = path.clone();
    for part in &mut path.parts {
        if let PartKind::Objective(lens) = &mut part.kind {
            *lens.strain.last_mut().unwrap() = Strain::Uniform {
                path_difference_nm: nm,
                slow_azimuth_rad: azimuth_deg.to_radians(),
            };
        }
    }
    path
}

fn of_record(scenario: &Scenario, record: &Value) -> LightPath {
    let [nm, azimuth_deg] = ["strain_nm", "strain_azimuth_deg"].map(|key| number(&record[key]));
    strained(&scenario.scene.path, nm, azimuth_deg)
}

fn see(path_difference_nm: f64) -> Target {
    let thresholds = Thresholds::default();
    Target::See(See {
        path_difference_nm,
        with_plate: false,
        contrast: thresholds.contrast,
        color_difference: thresholds.color_difference,
        full_well: None,
        snr: thresholds.snr,
    })
}

#[test]
fn own_light_and_bias_agree_with_the_independent_model() {
    let mut biased = 0;
    let records = records("contrast");
    assert!(records.len() > 80);
    for record in records.iter().filter(|record| record["plate"] == "out") {
        let scenario = read(record);
        let path = of_record(&scenario, record);
        let target = see(number(&record["path_difference_nm"]));
        let answer = verdict(
            &scene_of(&path, &scenario.scene.source, &scenario.scene.grid),
            &target,
        )
        .unwrap();
        let own = number(&record["at_own"]["own"]);
        close(
            &format!("{record}: own"),
            answer.times * Thresholds::default().contrast / own,
            1.0,
            TOLERANCE,
        );
        let (seen, expected) = (answer.bias.unwrap(), &record["at_bias"]);
        let [bias, contrast, turned] =
            ["bias", "contrast", "contrast_turned"].map(|key| number(&expected[key]));
        // Where there is next to no bias its azimuth is nobody's.
        if bias < 1e-3 {
            continue;
        }
        biased += 1;
        close(
            &format!("{record}: bias"),
            (seen.with_bias - seen.own) / bias,
            1.0,
            1e-5,
        );
        close(
            &format!("{record}: with bias"),
            seen.with_bias,
            contrast,
            1e-5 * contrast.abs(),
        );
        close(
            &format!("{record}: turned"),
            seen.turned,
            turned,
            1e-5 * contrast.abs(),
        );
        let off = seen.azimuth_rad - number(&expected["azimuth_deg"]).to_radians();
        let off = (off + FRAC_PI_2).rem_euclid(PI) - FRAC_PI_2;
        close(&format!("{record}: azimuth"), off, 0.0, 1e-5);
    }
    assert!(biased > 40, "{biased}");
}

#[test]
fn the_smallest_specimen_agrees_with_the_independent_model() {
    let records = records("smallest specimen");
    assert!(records.len() > 20);
    for record in records.iter().filter(|record| record["plate"] == "out") {
        let scenario = read(record);
        let path = of_record(&scenario, record);
        let (source, grid) = (&scenario.scene.source, &scenario.scene.grid);
        let thresholds = Thresholds {
            contrast: number(&record["share"]),
            ..Thresholds::default()
        };
        let answer = visibility(&scene_of(&path, source, grid), &thresholds).unwrap();
        let smallest = answer.observers[0].smallest.unwrap().path_difference_nm;
        let expected = number(&record["path_difference_nm"]);
        close(&record.to_string(), smallest / expected, 1.0, TOLERANCE);
    }
}

#[test]
fn the_strain_that_hides_a_specimen_agrees_with_the_independent_model() {
    let mut compared = 0;
    for record in records("strain limit") {
        if record["plate"] != "out" {
            continue;
        }
        let scenario = read(&record);
        let azimuths_deg = record["strain_azimuths_deg"].as_array().unwrap();
        let path = strained(&scenario.scene.path, 1.0, number(&azimuths_deg[0]));
        let subject = Subject::of(&path, Some("objective"), None, None).unwrap();
        // The profile that is varied is the last one.
        let quantity = polstack::study::quantity::Quantity::all(&path)
            .into_iter()
            .filter(|quantity| quantity.part == subject.quantity.part)
            .rfind(|quantity| {
                use polstack::study::quantity::QuantityKind;
                matches!(quantity.kind, QuantityKind::StrainAmount { .. })
            })
            .unwrap();
        let target = see(number(&record["specimen_nm"]));
        let (source, grid) = (&scenario.scene.source, &scenario.scene.grid);
        let limits = tolerate(&scene_of(&path, source, grid), &target, quantity)
            .unwrap()
            .limits;
        let Limits::Strain(strain) = limits else {
            panic!("{limits:?}")
        };
        let limit = match record["strain_azimuth"].as_str().unwrap() {
            "least" => strain.worst(),
            _ => strain.as_written,
        };
        let expected = number(&record["strain_nm"]);
        close(
            &record.to_string(),
            limit.value().unwrap() / expected,
            1.0,
            1e-5,
        );
        compared += 1;
    }
    assert_eq!(compared, 6);
}
