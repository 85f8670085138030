//! The state after each part.

use std::f64::consts::PI;
use std::path::Path;

use polstack::Scene;
use polstack::calculus::{Jones, Mueller, PolarDecomposition, Stokes};
use polstack::light_path::{LightPath, reference};
use polstack::optics::{Ray, Rays};
use polstack::scenario::{self, Scenario};
use polstack::spectrum::{Source, WavelengthGrid};
use polstack::study::StudyError;
use polstack::study::predict::predict;
use polstack::study::trace::{Question, StepKind, Trace, trace};
use proptest::prelude::*;

use crate::common::close;
use crate::paths::{
    analyzer, ideal_lenses, ideal_sheet, part, polarizer, retarder, sheet, stack, uniform,
};
use crate::routes::{everything, with_section};
use crate::scene::scene_of;
use polstack::light_path::PartKind;

const NM: f64 = 550.0;

fn lamp() -> Source {
    Source::named("led-b3").unwrap()
}

fn follow(path: &LightPath, question: Question) -> Trace {
    let grid = WavelengthGrid::new(400.0, 700.0, 20.0).unwrap();
    trace(&scene_of(path, &lamp(), &grid), question).unwrap()
}

/// One ray at [`NM`].
fn along(s: f64, azimuth_deg: f64) -> Question {
    Question {
        ray: Some(Ray {
            s,
            azimuth_rad: azimuth_deg.to_radians(),
        }),
        wavelength_nm: Some(NM),
        ..Question::default()
    }
}

fn shipped() -> Vec<(String, Scenario)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
    let mut files: Vec<_> = (std::fs::read_dir(folder).unwrap())
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|end| end == "toml"))
        .collect();
    files.sort();
    (files.iter())
        .map(|file| (file.display().to_string(), scenario::read(file).unwrap()))
        .collect()
}

fn last(trace: &Trace) -> f64 {
    trace.steps.last().unwrap().state.stokes.0[0]
}

proptest! {
    #[test]
    fn malus_law_holds_along_the_stack(lower in 0.0..180.0f64, turn in -90.0..90.0f64) {
        let mut parts = vec![polarizer(ideal_sheet(), lower)];
        parts.extend(ideal_lenses(0.4));
        parts.push(analyzer(ideal_sheet(), lower + turn));
        let answer = follow(&stack(0.4, parts), along(0.2, 70.0));
        close("behind the lower polar", answer.steps[1].state.stokes.0[0], 0.5, 1e-15);
        let malus = turn.to_radians().cos().powi(2);
        close("behind the analyzer", last(&answer), 0.5 * malus, 1e-14);
        close("passed", answer.steps[4].passed.unwrap(), malus, 1e-14);
        let azimuth = answer.steps[2].state.azimuth_rad.unwrap();
        close("azimuth", (2.0 * (azimuth - lower.to_radians())).cos(), 1.0, 1e-14);
        prop_assert!(answer.steps[2].state.right_handed.is_none());
    }

    /// A retarder's axis comes out of its Mueller matrix as it was put in.
    #[test]
    fn the_slow_state_of_a_retarder_is_its_slow_vibration(
        azimuth in 0.0..180.0f64, phase in 0.001..3.1f64,
    ) {
        let mueller = Mueller::from_jones(&Jones::retarder(phase, azimuth.to_radians()));
        let parts = PolarDecomposition::of(&mueller).unwrap();
        close("retardance", parts.retardance_rad, phase, 1e-9);
        let slow = parts.slow_state().unwrap().0;
        let expected = Stokes([1.0, 1.0, 0.0, 0.0]).turned(azimuth.to_radians()).0;
        for (got, expected) in slow.iter().zip(expected) {
            close("slow state", *got, expected, 1e-9);
        }
    }
}

#[test]
fn a_half_wave_has_an_axis_and_no_retardance_has_none() {
    let of = |phase| PolarDecomposition::of(&Mueller::from_jones(&Jones::retarder(phase, 0.3)));
    let [_, s1, s2, s3] = of(PI).unwrap().slow_state().unwrap().0;
    // Slow and fast cannot be told apart.
    close(
        "axis",
        (s1 * 0.6f64.cos() + s2 * 0.6f64.sin()).abs(),
        1.0,
        1e-12,
    );
    close("circular", s3, 0.0, 1e-12);
    assert!(of(0.0).unwrap().slow_state().is_none());
}

/// Fast axis at +45 degrees: right circular; at -45: left. The way there is a quarter of a great circle.
#[test]
fn a_quarter_wave_makes_circular_light_of_the_right_hand() {
    for (slow_deg, right) in [(135.0, true), (45.0, false)] {
        let plate = part(
            "quarter wave",
            PartKind::Retarder(retarder(0.25 * NM, slow_deg)),
        );
        let mut parts = vec![polarizer(ideal_sheet(), 0.0), plate];
        parts.extend(ideal_lenses(0.4));
        parts.push(analyzer(ideal_sheet(), 90.0));
        let answer = follow(&stack(0.4, parts), along(0.0, 0.0));
        let step = &answer.steps[2];
        let sign = if right { 1.0 } else { -1.0 };
        close("S3", step.state.stokes.0[3], 0.5 * sign, 1e-15);
        close("axes", step.state.axis_ratio.unwrap(), 1.0, 1e-12);
        assert_eq!(step.state.right_handed, Some(right));
        assert_eq!(step.state.azimuth_rad, None);
        assert_eq!(answer.steps[0].state.azimuth_rad, None);
        assert_eq!(answer.steps[0].state.ellipticity_rad, None);
        assert_eq!(step.arc[0], [1.0, 0.0, 0.0]);
        for place in &step.arc {
            close("on the great circle", place[0].hypot(place[2]), 1.0, 1e-14);
        }
        close("end of the arc", step.arc.last().unwrap()[2], sign, 1e-14);
        close("half through the analyzer", last(&answer), 0.25, 1e-15);
    }
}

/// Every arc begins at the state in front and ends at the state behind, whatever the path difference.
#[test]
fn arcs_join_the_states() {
    let path = with_section(false);
    let mut seen = 0;
    for (ray, plates) in [(Some(0.5), true), (Some(0.0), false), (None, true)] {
        let question = Question {
            plates,
            ..along(ray.unwrap_or(0.0), 200.0)
        };
        let answer = follow(
            &path,
            Question {
                ray: ray.and(question.ray),
                ..question
            },
        );
        for pair in answer
            .steps
            .windows(2)
            .filter(|pair| !pair[1].arc.is_empty())
        {
            seen += 1;
            let arc = &pair[1].arc;
            for (state, place) in [(&pair[0], arc[0]), (&pair[1], arc[arc.len() - 1])] {
                let s = state.state.stokes.0;
                for axis in 0..3 {
                    close(&pair[1].name, place[axis], s[axis + 1] / s[0], 1e-12);
                }
            }
        }
    }
    // Retarder, six crystals, stated specimen and plate; no plate; no crystals.
    assert_eq!(seen, 9 + 8 + 3);
}

#[test]
fn the_last_state_is_the_prediction() {
    for (name, scene) in shipped() {
        let Scene { path, source, grid } = &scene.scene;
        for stray_fraction in [0.0, 1e-4] {
            let mut path = path.clone();
            path.stray_fraction = stray_fraction;
            let predicted = predict(&scene_of(&path, source, grid)).unwrap();
            let luminous: Vec<f64> = {
                let weights = polstack::color::ColorWeights::new(grid, source).unwrap();
                weights.per_wavelength().iter().map(|w| w[1]).collect()
            };
            let sum: f64 = luminous.iter().sum();
            let fields = &predicted.spectrum.fields;
            let settings = [
                (false, Some(&fields.crossed)),
                (true, fields.crossed_with_plate.as_ref()),
            ];
            for (plates, field) in settings {
                let Some(field) = field else { continue };
                let question = Question {
                    plates,
                    ..Question::default()
                };
                let got = trace(&scene_of(&path, source, grid), question).unwrap();
                let expected = field.iter().zip(&luminous).map(|(t, w)| t * w).sum::<f64>() / sum;
                close(&name, last(&got), expected, 1e-9 * expected);
                let stray = got.steps.last().unwrap().kind == StepKind::Stray;
                assert_eq!(stray, stray_fraction > 0.0);
                for k in [10, 40] {
                    let wavelength_nm = Some(grid.wavelengths_nm()[k]);
                    let question = Question {
                        wavelength_nm,
                        ..question
                    };
                    let got = trace(&scene_of(&path, source, grid), question).unwrap();
                    close(&name, last(&got), field[k], 1e-9 * field[k]);
                }
            }
        }
    }
}

#[test]
fn light_is_never_gained_nor_polarized_more_than_wholly() {
    for (_, scene) in shipped() {
        for plates in [false, true] {
            let question = Question {
                plates,
                ..Question::default()
            };
            let answer = trace(&scene.scene, question).unwrap();
            for pair in answer.steps.windows(2) {
                let [before, after] = [0, 1].map(|k| pair[k].state.stokes);
                if pair[1].kind != StepKind::Stray {
                    assert!(after.0[0] <= before.0[0] * (1.0 + 1e-12), "{pair:?}");
                }
                assert!(after.degree_of_polarization() <= 1.0 + 1e-12, "{pair:?}");
            }
        }
    }
}

#[test]
fn the_mean_over_the_aperture_is_the_mean_of_its_rays() {
    let path = everything(true);
    let whole = follow(
        &path,
        Question {
            wavelength_nm: Some(NM),
            ..Question::default()
        },
    );
    let mut sums = vec![[0.0; 4]; whole.steps.len()];
    for (ray, weight) in Rays::disc(path.na(), 12, 48).iter() {
        let one = follow(
            &path,
            Question {
                ray: Some(ray),
                ..along(0.0, 0.0)
            },
        );
        for (sum, step) in sums.iter_mut().zip(&one.steps) {
            for (sum, s) in sum.iter_mut().zip(step.state.stokes.0) {
                *sum += weight * s;
            }
        }
    }
    // The map's kinks leave an error of the quadratures, which differ.
    let error = 10.0 * whole.quadrature_error.unwrap().max(1e-6);
    for (sum, step) in sums.iter().zip(&whole.steps) {
        for (sum, s) in sum.iter().zip(step.state.stokes.0) {
            close(&step.name, s, *sum, error);
        }
    }
}

#[test]
fn matrices_multiply_along_a_ray_and_carry_the_states() {
    let path = everything(false);
    let question = Question {
        plates: true,
        matrices: true,
        ..along(0.5, 110.0)
    };
    let answer = follow(&path, question);
    let mut whole = Mueller::identity();
    for step in &answer.steps[1..] {
        whole = step.matrix.as_ref().unwrap().mueller * whole;
        let state = whole.apply(&path.lamp);
        for (got, expected) in step.state.stokes.0.iter().zip(state.0) {
            close(&step.name, *got, expected, 1e-13);
        }
    }
    let setting = polstack::light_path::Setting {
        plates: true,
        specimens: true,
        analyzer_azimuth_rad: None,
    };
    let jones = |range| {
        let jones = reference::jones(&path, range, setting, question.ray.unwrap(), NM).unwrap();
        Mueller::from_jones(&jones)
    };
    let off = (whole.0 - jones(0..path.parts.len()).0).amax();
    close("the whole", off, 0.0, 1e-13);
    let between = answer.between_polars.unwrap();
    let off = (between.mueller.0 - jones(1..path.parts.len() - 1).0).amax();
    close("between the polars", off, 0.0, 1e-13);
    close(
        "one ray depolarizes nothing",
        between.depolarization_index.unwrap(),
        1.0,
        1e-12,
    );
}

#[test]
fn the_matrix_over_the_lamp_is_the_mean_of_those_at_its_wavelengths() {
    let path = everything(true);
    let grid = WavelengthGrid::new(500.0, 600.0, 50.0).unwrap();
    let ray = along(0.4, 60.0).ray;
    let of = |wavelength_nm| {
        let question = Question {
            ray,
            wavelength_nm,
            plates: true,
            matrices: true,
        };
        let answer = trace(&scene_of(&path, &lamp(), &grid), question).unwrap();
        answer.between_polars.unwrap().mueller
    };
    let weights = polstack::color::ColorWeights::new(&grid, &lamp()).unwrap();
    let luminous: Vec<f64> = weights.per_wavelength().iter().map(|w| w[1]).collect();
    let sum: f64 = luminous.iter().sum();
    let mean = (grid.wavelengths_nm().iter().zip(&luminous))
        .map(|(nm, weight)| of(Some(*nm)).scaled(weight / sum))
        .fold(Mueller::identity().scaled(0.0), |sum, m| sum + m);
    close(
        "largest difference",
        (mean.0 - of(None).0).amax(),
        0.0,
        1e-14,
    );
}

#[test]
fn a_plate_that_is_out_changes_nothing_and_says_so() {
    let path = everything(false);
    let answer = follow(&path, along(0.3, 0.0));
    let at = (answer.steps.iter())
        .position(|step| step.kind == StepKind::Out)
        .unwrap();
    assert_eq!(answer.steps[at].name, "plate");
    assert_eq!(answer.steps[at].state, answer.steps[at - 1].state);
    let mut without = path;
    without.parts.remove(at - 1);
    let bare = follow(&without, along(0.3, 0.0));
    assert_eq!(bare.steps[at], answer.steps[at + 1]);
}

#[test]
fn where_no_light_comes_the_state_is_dark() {
    let mut parts = vec![polarizer(ideal_sheet(), 30.0)];
    parts.extend(ideal_lenses(0.4));
    parts.push(analyzer(ideal_sheet(), 120.0));
    let answer = follow(
        &stack(0.4, parts),
        Question {
            matrices: true,
            ..Question::default()
        },
    );
    let end = answer.steps.last().unwrap();
    assert_eq!(end.state.stokes.0, [0.0; 4]);
    assert_eq!((end.state.azimuth_rad, end.state.axis_ratio), (None, None));
    assert!(end.matrix.as_ref().unwrap().decomposition.is_none());
}

/// The parallel light of a path of sheets alone is (k1^2 + k2^2)/2, of which a fraction is added unpolarized.
#[test]
fn stray_light_is_added_unpolarized_behind_the_analyzer() {
    let (k1, k2) = (0.8, 1e-4);
    let mut parts = vec![polarizer(sheet(k1, k2), 0.0)];
    parts.extend(ideal_lenses(0.4));
    parts.push(analyzer(sheet(k1, k2), 90.0));
    let mut path = stack(0.4, parts);
    path.stray_fraction = 1e-3;
    for question in [Question::default(), along(0.3, 20.0)] {
        let answer = follow(&path, question);
        let [before, after] = [4, 5].map(|k| answer.steps[k].state.stokes.0);
        close(
            "added",
            after[0] - before[0],
            5e-4 * (k1 * k1 + k2 * k2),
            1e-15,
        );
        assert_eq!(before[1..], after[1..]);
    }
}

#[test]
fn rays_beyond_the_light_and_wavelengths_beyond_the_tables_are_refused() {
    let path = everything(false);
    let grid = WavelengthGrid::default();
    for s in [0.66, -0.1, f64::NAN, f64::INFINITY] {
        let error = trace(&scene_of(&path, &lamp(), &grid), along(s, 0.0)).unwrap_err();
        assert!(matches!(error, StudyError::RayBeyond { .. }), "{error}");
    }
    assert!(trace(&scene_of(&path, &lamp(), &grid), along(0.65, 0.0)).is_ok());
    let mut parts = vec![polarizer(ideal_sheet(), 0.0)];
    parts.extend(crate::paths::lens_pair(
        0.4,
        [vec![uniform(5.0, 45.0)], Vec::new()],
    ));
    parts.push(analyzer(ideal_sheet(), 90.0));
    let mut path = stack(0.4, parts);
    let PartKind::Condenser(lens) = &mut path.parts[1].kind else {
        unreachable!("the second part is the condenser")
    };
    let rows = [(400.0, 1.0), (700.0, 0.9)];
    lens.strain_dispersion = Some(polstack::spectrum::SpectralTable::new(rows).unwrap());
    let question = Question {
        wavelength_nm: Some(390.0),
        ..Question::default()
    };
    let grid = WavelengthGrid::new(400.0, 700.0, 50.0).unwrap();
    let error = trace(&scene_of(&path, &lamp(), &grid), question)
        .unwrap_err()
        .to_string();
    assert!(error.starts_with("condenser at 390 nm: "), "{error}");
    assert!(error.contains("400 to 700 nm"), "{error}");
}
