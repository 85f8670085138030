//! The smallest path difference that shows, against closed forms and against whole predictions.

use std::f64::consts::PI;

use polstack::light_path::{LightPath, PartKind};
use polstack::optics::Specimen;
use polstack::spectrum::{Source, WavelengthGrid};
use polstack::study::observer::Criterion;
use polstack::study::predict::{GREEN_NM, predict};
use polstack::study::visibility::{LEAST_NM, Seen, Thresholds, Visibility, visibility};

use crate::common::close;
use crate::paths::{
    analyzer, ideal_lenses, ideal_sheet, lens_pair, part, polarizer, retarder, sheet, slide, stack,
    uniform,
};
use crate::scene::scene_of;

fn green() -> (Source, WavelengthGrid) {
    let line = Source::Line {
        centre_nm: GREEN_NM,
        width_nm: 1.0,
    };
    (line, WavelengthGrid::single(GREEN_NM))
}

fn in_green(path: &LightPath, thresholds: &Thresholds) -> Visibility {
    let (source, grid) = green();
    visibility(&scene_of(path, &source, &grid), thresholds).unwrap()
}

fn eye(seen: &Visibility) -> &Seen {
    &seen.observers[0]
}

/// Crossed sheets `k1, k2` leak `1/E = 2 k1 k2 / (k1^2 + k2^2)`; a specimen at 45 degrees adds `sin^2 (1 - 1/E)`. It equals the
/// background at `lambda / (pi sqrt E)` for small path differences: 17.4, 5.50, 1.738, 0.550 nm (computed for planning).
#[test]
fn a_specimen_equals_the_background_at_lambda_over_pi_root_e() {
    for (extinction, planned, digit) in [
        (1e2, 17.4, 0.05),
        (1e3, 5.50, 0.005),
        (1e4, 1.738, 5e-4),
        (1e5, 0.550, 5e-4),
    ] {
        // k2 from E with k1 = 0.8: k2^2 - 2 E k1 k2 + k1^2 = 0.
        let k1 = 0.8;
        let k2 = k1 / (extinction + (extinction * extinction - 1.0f64).sqrt());
        let mut parts = vec![polarizer(sheet(k1, k2), 0.0)];
        parts.extend(ideal_lenses(0.2));
        parts.push(analyzer(sheet(k1, k2), 90.0));
        let path = stack(0.2, parts);
        let equal = Thresholds {
            contrast: 1.0,
            ..Thresholds::default()
        };
        let answer = in_green(&path, &equal);
        let smallest = eye(&answer).smallest.unwrap();
        let exact = GREEN_NM / PI * (1.0 / (extinction - 1.0f64)).sqrt().asin();
        let got = smallest.path_difference_nm;
        close(&format!("E {extinction:e}"), got, exact, 1e-7 * exact);
        // asin and 1/(E - 1) together: 2/3 of 1/E.
        let small = GREEN_NM / (PI * extinction.sqrt());
        close("for small ones", got, small, 0.7 * small / extinction);
        close("as planned", small, planned, digit);
        let turn = (smallest.azimuth_rad.to_degrees() - 45.0).rem_euclid(90.0);
        close("diagonal", turn.min(90.0 - turn), 0.0, 0.01);
        close(
            "background",
            eye(&answer).background * extinction,
            1.0,
            1e-7,
        );
    }
}

/// Behind a strain of `B` at 45 degrees a specimen of `G` leaves `sin^2(b + g)` or, turned by 90 degrees, `sin^2(b - g)`, with
/// `(b, g) = pi (B, G)/lambda`. Their mean less `sin^2 b` is the specimen's own light, `cos(2 b) sin^2 g`; the rest is lent by the strain.
#[test]
fn a_bias_lends_light_that_is_not_the_specimens_own() {
    let bias_nm = 20.0;
    let mut parts = vec![polarizer(ideal_sheet(), 0.0)];
    parts.extend(lens_pair(0.2, [Vec::new(), vec![uniform(bias_nm, 45.0)]]));
    parts.push(analyzer(ideal_sheet(), 90.0));
    let thresholds = Thresholds::default();
    let answer = in_green(&stack(0.2, parts), &thresholds);
    let smallest = eye(&answer).smallest.unwrap();
    let b = PI * bias_nm / GREEN_NM;
    let g = ((thresholds.contrast / (2.0 * b).cos()).sqrt() * b.sin()).asin();
    let exact = g * GREEN_NM / PI;
    let got = smallest.path_difference_nm;
    close("smallest, nm", got, exact, 1e-7 * exact);
    let bias = smallest.bias.unwrap();
    let contrast = |phase: f64| (phase.sin() / b.sin()).powi(2) - 1.0;
    close("own light", bias.own, thresholds.contrast, 1e-7);
    close("with bias", bias.with_bias, contrast(b + g), 1e-7);
    close("turned", bias.turned, contrast(b - g), 1e-7);
    close("azimuth", bias.azimuth_rad, PI / 4.0, 1e-7);
    // Six times as bright beside the background as its own light makes it, and darker than that when it is turned.
    assert!(bias.with_bias > 6.0 * bias.own && bias.turned < -0.4);
}

/// More strain hides more. Judged by all its light, a specimen of 1 nm seemed to show better behind 5 nm of strain than behind none.
#[test]
fn strain_at_one_azimuth_never_makes_a_specimen_show_better() {
    let source = Source::named("led-b3").unwrap();
    let grid = WavelengthGrid::default();
    for azimuth_deg in [0.0, 30.0, 45.0, 135.0] {
        let smallest = |strain_nm: f64| {
            let mut parts = vec![polarizer(sheet(0.8, 8e-6), 0.0)];
            let strain = vec![uniform(strain_nm, azimuth_deg)];
            parts.extend(lens_pair(0.3, [Vec::new(), strain]));
            parts.push(analyzer(sheet(0.8, 8e-6), 90.0));
            let path = stack(0.3, parts);
            let answer =
                visibility(&scene_of(&path, &source, &grid), &Thresholds::default()).unwrap();
            answer
                .observers
                .iter()
                .map(|seen| seen.smallest.unwrap().path_difference_nm)
                .collect::<Vec<_>>()
        };
        let none = smallest(0.0);
        let mut before = none.clone();
        for strain_nm in [1.0, 2.0, 5.0, 10.0, 20.0] {
            let now = smallest(strain_nm);
            for (now, before) in now.iter().zip(&before) {
                assert!(*now > 0.999 * before, "{azimuth_deg}: {now} {before}");
            }
            before = now;
        }
        // At 0 degrees the strain lies along the polars and hides nothing.
        if azimuth_deg != 0.0 {
            assert!(before[0] > 2.0 * none[0], "{before:?} {none:?}");
        }
    }
}

#[test]
fn everything_shows_where_nothing_leaks() {
    let mut parts = vec![polarizer(ideal_sheet(), 0.0)];
    parts.extend(ideal_lenses(0.2));
    parts.push(analyzer(ideal_sheet(), 90.0));
    let answer = in_green(&stack(0.2, parts), &Thresholds::default());
    for seen in &answer.observers {
        assert_eq!(seen.smallest.unwrap().path_difference_nm, LEAST_NM);
    }
}

fn strained(with_specimen: Option<(f64, f64)>) -> LightPath {
    let [condenser, objective] =
        lens_pair(0.3, [vec![uniform(4.0, 20.0)], vec![uniform(6.0, 65.0)]]);
    let specimen = with_specimen.map(|(nm, azimuth_rad)| {
        let stated = Specimen::Stated {
            path_difference_nm: nm,
            slow_azimuth_rad: azimuth_rad,
        };
        part("specimen", PartKind::Specimen(stated))
    });
    let parts = [
        Some(polarizer(sheet(0.8, 1e-4), 0.0)),
        Some(condenser),
        Some(slide()),
        specimen,
        Some(objective),
        Some(part("plate", PartKind::Plate(retarder(550.0, 45.0)))),
        Some(analyzer(sheet(0.8, 1e-4), 91.0)),
    ];
    let mut path = stack(0.3, parts.into_iter().flatten().collect());
    path.stray_fraction = 1e-4;
    path
}

/// What whole predictions with the specimen in its place say, in units of the threshold: of the mean of its light and that of the same
/// specimen turned by 90 degrees; plates in, of the fainter one.
fn by_prediction(seen: &Seen, (nm, azimuth_rad): (f64, f64)) -> f64 {
    use polstack::color::{Adaptation, ColorWeights, Xyz};
    let source = Source::named("led-b3").unwrap();
    let grid = WavelengthGrid::default();
    let weights = ColorWeights::new(&grid, &source).unwrap();
    let looks = |azimuth_rad: f64| {
        let path = strained(Some((nm, azimuth_rad)));
        let answer = predict(&scene_of(&path, &source, &grid)).unwrap();
        let empty = answer.beside_specimen.unwrap();
        let (here, there) = if seen.with_plate {
            (
                answer.background.with_plate.unwrap(),
                empty.background.with_plate.unwrap(),
            )
        } else {
            (
                answer.background.without_plate,
                empty.background.without_plate,
            )
        };
        let parallel = weights.xyz(&answer.spectrum.fields.parallel).unwrap();
        let balance = Adaptation::to_d65(parallel).unwrap();
        (Xyz(here.xyz), Xyz(there.xyz), balance)
    };
    let (here, there, balance) = looks(azimuth_rad);
    let (turned, ..) = looks(azimuth_rad + PI / 2.0);
    let times = |specimen: Xyz| seen.criterion.times(specimen, there, &balance);
    if seen.with_plate {
        times(here).min(times(turned))
    } else {
        times(Xyz([0, 1, 2].map(|i| 0.5 * (here.0[i] + turned.0[i]))))
    }
}

#[test]
fn the_smallest_visible_agrees_with_whole_predictions_on_both_sides() {
    let source = Source::named("led-b3").unwrap();
    let grid = WavelengthGrid::default();
    let answer = visibility(
        &scene_of(&strained(None), &source, &grid),
        &Thresholds::default(),
    )
    .unwrap();
    assert_eq!(answer.observers.len(), 4);
    for seen in &answer.observers {
        let smallest = seen.smallest.expect("something shows");
        let (nm, azimuth) = (smallest.path_difference_nm, smallest.azimuth_rad);
        let step = (1e-4 * nm).max(2.0 * smallest.uncertainty_nm);
        assert!(by_prediction(seen, (nm + step, azimuth)) > 1.0);
        for k in 0..12 {
            let turned = azimuth + PI * f64::from(k) / 12.0;
            assert!(by_prediction(seen, (nm - step, turned)) < 1.0, "{k}");
        }
    }
}

/// What covers means: the object's own path differences are judged.
#[test]
fn catalog_objects_are_covered_as_the_smallest_says() {
    let source = Source::named("led-b3").unwrap();
    let grid = WavelengthGrid::default();
    let answer = visibility(
        &scene_of(&strained(None), &source, &grid),
        &Thresholds::default(),
    )
    .unwrap();
    for seen in answer.observers.iter().filter(|seen| !seen.with_plate) {
        let smallest = seen.smallest.unwrap().path_difference_nm;
        for covered in &seen.covers {
            let (from, to) = covered.object.path_difference_nm;
            let word = match (from >= smallest, to >= smallest) {
                (true, true) => "yes",
                (false, true) => "partly",
                _ => "no",
            };
            assert_eq!(covered.shows.word(), word, "{}", covered.object.name);
        }
    }
    assert!(matches!(
        answer.observers[1].criterion,
        Criterion::Signal { .. }
    ));
}
