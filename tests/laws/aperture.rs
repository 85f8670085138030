//! The back focal plane.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use polstack::light_path::{LightPath, PartKind, Setting, reference, run};
use polstack::material::{Index, Uniaxial, catalog};
use polstack::optics::{Coating, Ray, Rays, Specimen};
use polstack::spectrum::{Source, WavelengthGrid};
use polstack::study::StudyError;
use polstack::study::aperture::{Turn, back_focal_plane, light_of_rays, picture_rays, turnable};
use polstack::study::predict::{leak_map, predict};

use crate::common::close;
use crate::paths::{
    analyzer, ideal_lenses, ideal_sheet, lens_pair, part, polarizer, retarder, sheet, stack,
    uniform,
};
use crate::routes::everything;
use crate::scene::scene_of;

fn lamp() -> (Source, WavelengthGrid) {
    let grid = WavelengthGrid::new(400.0, 700.0, 20.0).unwrap();
    (Source::named("led-b3").unwrap(), grid)
}

fn calcite(thickness_um: f64) -> Specimen {
    Specimen::Across {
        crystal: catalog::crystal("calcite").unwrap(),
        thickness_um,
    }
}

/// A specimen between ideal lenses and ideal crossed polars.
fn conoscope(na: f64, specimen: Specimen, turn_deg: f64) -> LightPath {
    let [condenser, objective] = ideal_lenses(na);
    let parts = vec![
        polarizer(ideal_sheet(), turn_deg),
        condenser,
        part("crystal", PartKind::Specimen(specimen)),
        objective,
        analyzer(ideal_sheet(), turn_deg + 90.0),
    ];
    stack(na, parts)
}

#[test]
fn a_crystal_across_its_axis_shows_a_dark_cross_and_rings() {
    let nm = 546.1;
    let (no, ne) = (1.66, 1.49);
    let specimen = Specimen::Across {
        crystal: Uniaxial {
            name: "invented".to_owned(),
            ordinary: Index::Constant(no),
            extraordinary: Index::Constant(ne),
            rotation: None,
        },
        thickness_um: 60.0,
    };
    for turn in [0.0f64, 20.0] {
        let path = conoscope(0.9, specimen.clone(), turn);
        let rays = Rays::even(0.9, 21, 48);
        let light = run::crossed_rays(&path, &rays, &[nm], &[1.0]).unwrap();
        for ((ray, _), got) in rays.iter().zip(light) {
            let s2 = ray.s * ray.s;
            let nm_off = 6e4 * (no / ne * (ne * ne - s2).sqrt() - (no * no - s2).sqrt());
            let sine = (2.0 * (ray.azimuth_rad - turn.to_radians())).sin();
            let expected = 0.5 * (sine * (PI * nm_off / nm).sin()).powi(2);
            close(&format!("{ray:?}"), got, expected, 1e-12);
        }
    }
}

#[test]
fn light_over_the_map_has_the_mean_that_predict_finds_and_its_luminance_is_the_leak_map() {
    let (source, grid) = lamp();
    for sheet_above in [false, true] {
        let mut path = everything(sheet_above);
        path.stray_fraction = 1e-4;
        let answer = predict(&scene_of(&path, &source, &grid)).unwrap();
        let rays = Rays::disc(path.na(), answer.rays.rings, answer.rays.spokes);
        let light = light_of_rays(&scene_of(&path, &source, &grid), &rays, false).unwrap();
        let with = light_of_rays(&scene_of(&path, &source, &grid), &rays, true).unwrap();
        let leak = leak_map(&scene_of(&path, &source, &grid), &rays).unwrap();
        for (light, leak) in light.iter().zip(leak) {
            close("luminance", light.luminance(), leak, 1e-12 * leak);
        }
        let fields = [
            (light, answer.background.without_plate.xyz),
            (with, answer.background.with_plate.as_ref().unwrap().xyz),
        ];
        for (light, expected) in fields {
            for (channel, expected) in expected.into_iter().enumerate() {
                let mean: f64 = (rays.iter().zip(&light))
                    .map(|((_, weight), light)| weight * light.0[channel])
                    .sum();
                close("mean", mean, expected, 1e-12 * expected);
            }
        }
        let plane = back_focal_plane(&scene_of(&path, &source, &grid)).unwrap();
        let ratio = plane.without_plate.extinction_ratio.unwrap();
        close(
            "ratio",
            ratio / answer.extinction_ratio.unwrap(),
            1.0,
            1e-12,
        );
        // The picture's rays, weighted by their areas: the trapezoid rule over 65 rings, an error of about 1/64^2.
        let mean: f64 = (plane.rays.iter().zip(&plane.without_plate.light))
            .map(|((_, weight), light)| weight * light.luminance())
            .sum();
        close("picture's mean", mean * ratio, 1.0, 2e-3);
    }
}

#[test]
fn turning_the_whole_stack_turns_the_map() {
    let (source, grid) = lamp();
    let spokes = 72;
    let path = |turn_deg: f64| {
        let lenses = lens_pair(0.6, [vec![uniform(20.0, 30.0 + turn_deg)], vec![]]);
        let [condenser, mut objective] = lenses;
        if let PartKind::Objective(lens) = &mut objective.kind {
            lens.coating = Coating::None;
        }
        let parts = vec![
            polarizer(sheet(0.8, 1e-5), turn_deg),
            condenser,
            objective,
            analyzer(sheet(0.8, 1e-5), turn_deg + 90.0),
        ];
        stack(0.6, parts)
    };
    let rays = Rays::even(0.6, 9, spokes);
    let light =
        |turn_deg| light_of_rays(&scene_of(&path(turn_deg), &source, &grid), &rays, false).unwrap();
    let (before, after) = (light(0.0), light(40.0));
    for ring in 0..9 {
        for spoke in 0..spokes {
            // 40 degrees are 8 spokes.
            let old = before[ring * spokes + spoke].luminance();
            let new = after[ring * spokes + (spoke + 8) % spokes].luminance();
            close("light", new, old, 1e-12 * old);
        }
    }
}

#[test]
fn the_stack_is_dark_at_first_and_itself_at_last() {
    let (source, grid) = lamp();
    for sheet_above in [false, true] {
        let mut path = everything(sheet_above);
        path.stray_fraction = 1e-4;
        let answer = predict(&scene_of(&path, &source, &grid)).unwrap();
        let plane = back_focal_plane(&scene_of(&path, &source, &grid)).unwrap();
        let (first, last) = (&plane.build_up[0], plane.build_up.last().unwrap());
        assert_eq!(first.extinction_ratio, None);
        assert!(first.relative_luminance < 1e-25 && first.part.is_none() && !first.stray);
        let expected = answer.background.without_plate.relative_luminance;
        close("last", last.relative_luminance, expected, 1e-12 * expected);
        assert!(last.stray);
        assert_eq!(last.light, plane.without_plate.light);
        // Every part that is not perfect is put in once, in the order of the light; the plate stays out.
        let put_in: Vec<&str> = (plane.build_up.iter())
            .filter_map(|step| step.part.as_deref())
            .collect();
        let expected: Vec<&str> = (path.parts.iter())
            .map(|part| part.name.as_str())
            .filter(|name| *name != "plate")
            .collect();
        assert_eq!(put_in, expected);
    }
}

/// Surfaces turn the vibration by `a sin 2 phi`, in step with it; strain along 45 degrees adds a quarter out of step: the light of the rim is
/// `a^2 sin^2 2 phi + sin^2(delta/2)`, to first order, at one wavelength.
#[test]
fn circular_polars_are_dark_before_any_part_is_real() {
    let (source, grid) = lamp();
    let wave = |azimuth_deg| part("wave", PartKind::Retarder(retarder(137.5, azimuth_deg)));
    let [condenser, objective] = lens_pair(0.3, [vec![uniform(20.0, 30.0)], Vec::new()]);
    let parts = vec![
        polarizer(sheet(0.8, 1e-4), 0.0),
        wave(45.0),
        condenser,
        objective,
        wave(-45.0),
        analyzer(sheet(0.8, 1e-4), 90.0),
    ];
    let answer = back_focal_plane(&scene_of(&stack(0.3, parts), &source, &grid)).unwrap();
    let steps = &answer.build_up;
    let names: Vec<_> = steps.iter().map(|step| step.part.as_deref()).collect();
    let expected = ["lower polar", "condenser", "analyzer"].map(Some);
    assert_eq!((names[0], &names[1..]), (None, &expected[..]));
    assert_eq!(steps[0].extinction_ratio, None);
    assert!(steps.iter().all(|step| step.cross.is_none()));
    assert!(steps[2].relative_luminance > steps[1].relative_luminance);
}

#[test]
fn strain_opens_the_dark_cross_of_the_lens_surfaces() {
    let grid = WavelengthGrid::single(550.0);
    let source = Source::Line {
        centre_nm: 550.0,
        width_nm: 1.0,
    };
    let path = |strain_nm: f64, azimuth_deg: f64| {
        let [condenser, mut objective] =
            lens_pair(0.5, [vec![uniform(strain_nm, azimuth_deg)], vec![]]);
        if let PartKind::Objective(lens) = &mut objective.kind {
            lens.coating = Coating::None;
        }
        let parts = vec![
            polarizer(ideal_sheet(), 0.0),
            condenser,
            objective,
            analyzer(ideal_sheet(), 90.0),
        ];
        stack(0.5, parts)
    };
    let plane = |path: &LightPath| back_focal_plane(&scene_of(path, &source, &grid)).unwrap();
    let cross = |path: &LightPath| plane(path).build_up.last().unwrap().cross.unwrap();
    let light = |path: &LightPath, s: f64, azimuth_rad: f64| {
        let ray = Ray { s, azimuth_rad };
        let passed = reference::jones(path, 0..4, Setting::EMPTY, ray, 550.0).unwrap();
        passed
            .0
            .iter()
            .map(|amplitude| amplitude.norm_sqr())
            .sum::<f64>()
    };
    // Along the polars a strain does nothing on the arms.
    let closed = cross(&path(2.0, 0.0));
    close("closed", closed.opening, 0.0, 0.0);
    close("black", closed.filled, 0.0, 1e-9);
    close("turned", closed.turned_rad.unwrap(), 0.0, 1e-9);
    // At 45 degrees it fills the arms, out of step with what bare surfaces leave.
    let strained = path(2.0, 45.0);
    let seen = cross(&strained);
    assert_eq!((seen.opening, seen.parted_rad), (0.0, None));
    let all: Vec<f64> = (plane(&strained).rays.iter())
        .map(|(ray, _)| light(&strained, ray.s, ray.azimuth_rad))
        .collect();
    let darkest = all.iter().copied().fold(f64::INFINITY, f64::min);
    let brightest = all.iter().copied().fold(0.0, f64::max);
    close("filled", seen.filled, darkest / brightest, 1e-9);
    // An analyzer that is off works in step: the arms part on a diagonal, and the middle is no longer the darkest.
    let mut off = path(0.0, 0.0);
    if let PartKind::Analyzer(polar) = &mut off.parts[3].kind {
        polar.azimuth_rad += 0.3f64.to_radians();
    }
    let seen = cross(&off);
    let parted_rad = seen.parted_rad.unwrap();
    let along = (0..=1000).map(|k| light(&off, 0.0005 * f64::from(k), parted_rad));
    let (darkest, _) = (along.enumerate())
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .unwrap();
    close("opening", seen.opening, darkest as f64 / 1000.0, 5e-3);
    assert!((0.2..0.9).contains(&seen.opening), "{seen:?}");
    assert!(light(&off, 0.0, 0.0) > 100.0 * light(&off, 0.5 * seen.opening, parted_rad));
    // One looks along the dark diagonal and across it.
    let sections = plane(&off).sections;
    close("dark direction", sections[0].azimuth_rad, parted_rad, 1e-9);
    let across = (sections[1].azimuth_rad - parted_rad).abs();
    close("bright direction", across, FRAC_PI_2, 1e-9);
}

#[test]
fn a_turning_part_is_the_part_at_another_azimuth() {
    let (source, grid) = lamp();
    let path = conoscope(0.7, calcite(25.0), 0.0);
    let (index, period_rad) = turnable(&path, "Analyzer").unwrap();
    assert_eq!((index, period_rad), (4, PI));
    let scene = scene_of(&path, &source, &grid);
    let turn = Turn::new(&scene, index, false).unwrap();
    let mut by_hand = path.clone();
    if let PartKind::Analyzer(polar) = &mut by_hand.parts[4].kind {
        polar.azimuth_rad += 0.4;
    }
    assert_eq!(turn.path_at(0.4), by_hand);
    let turned = turn.light(0.4).unwrap();
    let unturned = |path: &LightPath| {
        let scene = scene_of(path, &source, &grid);
        Turn::new(&scene, index, false).unwrap().light(0.0).unwrap()
    };
    // A half turn is as no turn.
    for (got, expected) in [
        (&turned, unturned(&by_hand)),
        (&turn.light(PI).unwrap(), unturned(&path)),
    ] {
        assert_eq!(got.len(), expected.len());
        for (got, expected) in got.iter().zip(expected) {
            close("light", got.luminance(), expected.luminance(), 1e-7);
        }
    }
    // Both are relative to the parallel field, which ideal polars and lenses leave alone. In the moving picture few wavelengths stand for many:
    // a step of 8 bits is 3e-4 of the brightest light or more.
    let all_wavelengths =
        light_of_rays(&scene_of(&by_hand, &source, &grid), &turn.rays, false).unwrap();
    for (got, expected) in turned.iter().zip(all_wavelengths) {
        close("light", got.luminance(), expected.luminance(), 1e-5);
    }
    let no_plate = Turn::new(&scene, index, true);
    assert_eq!(no_plate, Err(StudyError::NoPlate));
    for (name, words) in [
        (
            "crystal",
            "a crystal cut across its axis is the same at every azimuth",
        ),
        ("objective", "a lens without strain"),
        ("analyser", "did you mean \"analyzer\"?"),
    ] {
        let error = turnable(&path, name).unwrap_err().to_string();
        assert!(error.contains(words), "{error}");
    }
    let lens = everything(false);
    assert_eq!(turnable(&lens, "condenser").unwrap().1, TAU);
    assert!(turnable(&lens, "slide").is_err());
}

#[test]
fn a_thick_crystal_gets_more_rays_within_bounds() {
    let few = picture_rays(&conoscope(0.9, calcite(5.0), 0.0));
    let more = picture_rays(&conoscope(0.9, calcite(100.0), 0.0));
    let most = picture_rays(&conoscope(0.9, calcite(1e5), 0.0));
    assert_eq!((few.ring.len(), few.spoke_rad.len()), (65, 256));
    assert!(more.ring.len() > 100 && more.spoke_rad.len() == 256);
    assert_eq!(most.ring.len(), 385);
    let along = Specimen::Plate {
        crystal: catalog::crystal("quartz").unwrap(),
        thickness_um: 1e6,
        axis_azimuth_rad: FRAC_PI_2,
    };
    assert!(picture_rays(&conoscope(0.9, along, 0.0)).count() <= 385 * 1536);
}

#[test]
fn a_quick_frame_looks_like_the_whole_sum() {
    use polstack::color::{Adaptation, linear_srgb};
    use polstack::study::aperture::quick_frame;
    use polstack::study::predict::predict;
    for name in [
        "pond-life",
        "leaking-stand",
        "strained-objective",
        "two-lens-condenser",
        "circular-polars",
    ] {
        let file = format!("{}/scenarios/{name}.toml", env!("CARGO_MANIFEST_DIR"));
        let scene = polstack::scenario::read(file.as_ref()).unwrap().scene;
        let told = predict(&scene).unwrap();
        for plates in [false, true] {
            let Ok(frame) = quick_frame(&scene, (17, 64), plates) else {
                continue;
            };
            close(
                name,
                frame.background.without_plate.relative_luminance
                    / told.background.without_plate.relative_luminance,
                1.0,
                1e-4,
            );
            let all = polstack::study::aperture::light_of_rays(&scene, &frame.plane.rays, plates)
                .unwrap();
            // On a screen that shows the brightest ray as bright as it can, no colour is off by more than one step of 8 bits.
            let balance = Adaptation::to_d65(frame.plane.parallel).unwrap_or(Adaptation::NONE);
            let linear = |xyz| linear_srgb(balance.apply(xyz));
            let largest = all.iter().flat_map(|xyz| linear(*xyz)).fold(0.0, f64::max);
            let code = |value: f64| {
                let [red, _, _]: [f64; 3] = palette::Srgb::from_linear(palette::LinSrgb::new(
                    (value / largest).clamp(0.0, 1.0),
                    0.0,
                    0.0,
                ))
                .into();
                255.0 * red
            };
            for (few, all) in frame.plane.light.iter().zip(&all) {
                for (few, all) in linear(*few).into_iter().zip(linear(*all)) {
                    assert!(
                        (code(few) - code(all)).abs() <= 1.0,
                        "{name} {plates}: {few} {all}"
                    );
                }
            }
        }
    }
}
