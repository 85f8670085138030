//! The field: light over path difference and azimuth against whole predictions of that specimen, and the stage turning it.

use std::f64::consts::PI;

use polstack::Scene;
use polstack::light_path::{Part, PartKind};
use polstack::optics::Specimen;
use polstack::study::predict::predict;
use polstack::study::view::{FieldLight, FieldSpecimen, SpecimenMap, SpecimenPoint};

use crate::common::close;

fn scene(name: &str) -> Scene {
    let file = format!("{}/scenarios/{name}.toml", env!("CARGO_MANIFEST_DIR"));
    polstack::scenario::read(file.as_ref()).unwrap().scene
}

/// A scene with a specimen behind its slide.
fn with_specimen(scene: &Scene, point: SpecimenPoint) -> Scene {
    let mut path = scene.path.clone();
    let behind = 1 + path
        .parts
        .iter()
        .position(|part| matches!(part.kind, PartKind::Slide(_)))
        .unwrap();
    let specimen = Part {
        name: "specimen".to_owned(),
        kind: PartKind::Specimen(Specimen::Stated {
            path_difference_nm: point.path_difference_nm,
            slow_azimuth_rad: point.slow_azimuth_rad,
        }),
        tolerance: None,
    };
    path.parts.insert(behind, specimen);
    scene.with_path(path)
}

#[test]
fn every_specimen_looks_as_a_prediction_of_it_does() {
    for name in ["pond-life", "leaking-stand", "strained-objective"] {
        let scene = scene(name);
        let light = FieldLight::new(&scene).unwrap();
        for (nm, azimuth) in [
            (0.0, 0.0),
            (120.0, 0.3),
            (-250.0, 1.0),
            (551.0, 2.5),
            (1733.0, 0.9),
        ] {
            let point = SpecimenPoint::of(nm, azimuth);
            let told = predict(&with_specimen(&scene, point)).unwrap();
            for (plates, field) in [
                (false, Some(&told.background.without_plate)),
                (true, told.background.with_plate.as_ref()),
            ] {
                let Some(field) = field else { continue };
                let seen = light.at(point, plates);
                for k in 0..3 {
                    // The wavelengths of a prediction may be finer: fringes are told to a part in a thousand of the parallel light.
                    close(name, seen.0[k], field.xyz[k], 1e-3);
                }
                if nm.abs() < 300.0 {
                    close(name, seen.0[1], field.xyz[1], 2e-6);
                }
            }
        }
    }
}

#[test]
fn a_turned_stage_turns_the_picture_and_the_slow_directions() {
    let scene = scene("pond-life");
    let light = FieldLight::new(&scene).unwrap();
    // One point in the corner of a map.
    let mut nm = vec![0.0; 25];
    nm[0] = 200.0;
    let map = SpecimenMap::new((5, 5), &nm, &[30.0; 25], 2.0).unwrap();
    let specimen = FieldSpecimen::Map(map);
    assert_eq!(specimen.width_um(), 10.0);
    let still = light.view(&specimen, 5, 0.0);
    let expected = light.at(SpecimenPoint::of(200.0, 30f64.to_radians()), false);
    close("still", still.without_plate[0].0[1], expected.0[1], 1e-4);
    let turned = light.view(&specimen, 5, 0.5 * PI);
    // North-West comes to South-West, and the slow direction to 120 degrees.
    let expected = light.at(SpecimenPoint::of(200.0, 120f64.to_radians()), true);
    close(
        "turned",
        turned.with_plate.as_ref().unwrap()[20].0[1],
        expected.0[1],
        1e-4,
    );
    let empty = light.at(SpecimenPoint::NOTHING, false);
    close("empty", turned.without_plate[0].0[1], empty.0[1], 1e-12);
}

#[test]
fn maps_that_cannot_be_are_refused() {
    let map = |size, nm: &[f64], deg: &[f64]| {
        SpecimenMap::new(size, nm, deg, 1.0)
            .unwrap_err()
            .to_string()
    };
    assert!(map((1, 4), &[0.0; 4], &[0.0; 4]).contains("1 by 4"));
    assert!(map((2, 2), &[0.0, 0.0, f64::NAN, 0.0], &[0.0; 4]).contains("column 1, row 2"));
    assert!(map((2, 2), &[0.0; 4], &[0.0, 9e9, 0.0, 0.0]).contains("column 2, row 1"));
}
