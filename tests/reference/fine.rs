//! Fringes and lines finer than the usual step of the wavelengths, against `fine/make_fine.py`; `fine/readings.md` lists what was read into
//! the description. `predict`, the back focal plane and the trace choose their step, and are as good as they say.

use std::path::Path;

use polstack::Scene;
use polstack::light_path::PartKind;
use polstack::optics::Specimen;
use polstack::scenario::{self, Scenario};
use polstack::spectrum::{Source, WavelengthGrid};
use polstack::study::aperture::back_focal_plane;
use polstack::study::predict::{Prediction, StepChoice, predict};
use polstack::study::trace::{Question, trace};
use serde::Deserialize;

use crate::common::close;
use crate::scene::scene_of;

#[derive(Deserialize)]
struct File {
    records: Vec<Record>,
}

#[derive(Deserialize)]
struct Record {
    scenario: String,
    na: f64,
    thickness_um: Option<f64>,
    width_nm: Option<f64>,
    sum: String,
    step_nm: Option<f64>,
    xyz: [f64; 3],
    xyz_with_plate: Option<[f64; 3]>,
    extinction_ratio: f64,
}

impl Record {
    fn name(&self) -> String {
        let Self {
            scenario,
            na,
            thickness_um,
            width_nm,
            ..
        } = self;
        format!("{scenario}, NA {na}, {thickness_um:?} um, {width_nm:?} nm")
    }

    fn scenario(&self) -> Scenario {
        let file = format!("tests/reference/fine/{}.toml", self.scenario);
        let mut scenario =
            scenario::read(&Path::new(env!("CARGO_MANIFEST_DIR")).join(file)).unwrap();
        scenario.scene.path.iris_na = Some(self.na);
        for part in &mut scenario.scene.path.parts {
            if let PartKind::Specimen(
                Specimen::Plate { thickness_um, .. } | Specimen::Across { thickness_um, .. },
            ) = &mut part.kind
            {
                *thickness_um = self.thickness_um.unwrap();
            }
        }
        if let Source::Line { width_nm, .. } = &mut scenario.scene.source {
            *width_nm = self.width_nm.unwrap();
        }
        scenario
    }
}

fn records(sum: &str) -> Vec<Record> {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/fine/fine.json");
    let file: File = serde_json::from_str(&std::fs::read_to_string(file).unwrap()).unwrap();
    let records: Vec<_> = (file.records.into_iter())
        .filter(|record| record.sum == sum)
        .collect();
    assert!(records.len() >= 7, "{sum}");
    records
}

fn largest(xyz: [f64; 3]) -> f64 {
    xyz.into_iter().fold(0.0, f64::max)
}

/// The fields of a prediction beside those expected: off by no more than so much in luminance, and in colour.
fn compare(name: &str, answer: &Prediction, expected: &Record, [luminance, color]: [f64; 2]) {
    let with_plate = answer.background.with_plate.as_ref().map(|field| field.xyz);
    let fields = [Some(answer.background.without_plate.xyz), with_plate];
    for (got, expected) in fields
        .into_iter()
        .zip([Some(expected.xyz), expected.xyz_with_plate])
    {
        let (Some(got), Some(expected)) = (got, expected) else {
            continue;
        };
        close(name, got[1] / expected[1], 1.0, luminance);
        for (got, x) in got.into_iter().zip(expected) {
            close(name, got, x, color * largest(expected));
        }
    }
    let ratio = answer.extinction_ratio.unwrap();
    close(name, ratio / expected.extinction_ratio, 1.0, luminance);
}

/// What the quadrature of the rays leaves, and the sums of the reference.
const REST: f64 = 2e-6;

#[test]
fn the_step_is_refined_until_the_answer_is_as_good_as_it_says() {
    let mut refined = 0;
    for record in records("integral") {
        let Scene { path, source, grid } = record.scenario().scene;
        let answer = predict(&scene_of(&path, &source, &grid)).unwrap();
        assert_ne!(
            answer.spectral_error.step,
            StepChoice::Exhausted,
            "{}",
            record.name()
        );
        refined += usize::from(answer.spectral_error.step == StepChoice::Refined);
        let error = answer.spectral_error;
        assert!(error.luminance <= 1e-3 && error.color <= 5e-3, "{error:?}");
        // The estimate is the last change; what is left may be a little more where halving gains little.
        let stated = [error.luminance, error.color].map(|e| 2.0 * e + REST);
        compare(&record.name(), &answer, &record, stated);
        // 200 um and 1 mm of calcite are grey in daylight; at the usual step they came out greyish yellow and yellow-green.
        let name = answer.background.without_plate.name;
        assert!(record.scenario != "along" || name == "grey", "{name}");
    }
    // Calcite along its axis and both lines; rings across the axis blur in the mean.
    assert_eq!(refined, 6);
}

#[test]
fn a_step_of_the_users_own_is_kept_and_its_error_told() {
    let truth = records("integral");
    for record in records("step") {
        let step_nm = record.step_nm.unwrap();
        let grid = WavelengthGrid::new(380.0, 780.0, step_nm.max(0.1)).unwrap();
        // Fringes of the thickest section at the finest steps take long in a test.
        if step_nm < 1.0 {
            continue;
        }
        let Scene { path, source, .. } = record.scenario().scene;
        let answer = predict(&scene_of(&path, &source, &grid)).unwrap();
        assert_eq!(answer.spectral_error.step, StepChoice::Given);
        compare(&record.name(), &answer, &record, [REST, REST]);
        let exact = truth.iter().find(|t| t.name() == record.name()).unwrap();
        let off = (record.xyz[1] / exact.xyz[1] - 1.0).abs();
        let error = answer.spectral_error.luminance;
        assert!(
            off <= 2.0 * error + REST,
            "{} every {step_nm} nm: off by {off:e}, said {error:e}",
            record.name()
        );
    }
}

#[test]
fn the_back_focal_plane_and_the_trace_choose_their_steps_too() {
    for record in records("integral") {
        if record.scenario == "across" || record.thickness_um == Some(1000.0) {
            continue;
        }
        let Scene { path, source, grid } = record.scenario().scene;
        let plane = back_focal_plane(&scene_of(&path, &source, &grid)).unwrap();
        let name = record.name();
        let error = plane.resolved.error;
        let off = plane.without_plate.relative_luminance / record.xyz[1];
        close(&name, off, 1.0, 2.0 * error.luminance + REST);
        let followed = trace(&scene_of(&path, &source, &grid), Question::default()).unwrap();
        assert_eq!(followed.resolved.error.step, StepChoice::Refined, "{name}");
        let last = followed.steps.last().unwrap().state.stokes.0[0];
        let answer = predict(&scene_of(&path, &source, &grid)).unwrap();
        let parallel = last / answer.background.without_plate.relative_luminance;
        // The trace is a fraction of the lamp's light, so the parallel field's transmittance is left: that of two sheets and the glass.
        assert!((0.15..0.35).contains(&parallel), "{name}: {parallel}");
    }
}
