//! Crystals with two optic axes, crystals with one that leans, quartz that turns light, and needles beside a plate: what must hold whatever the numbers.

use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI};

use polstack::light_path::{LightPath, PartKind, run};
use polstack::material::{Biaxial, Index, catalog};
use polstack::optics::{AskewPlate, BiaxialPlate, Rays, Specimen};
use polstack::spectrum::{Source, WavelengthGrid};
use polstack::study::aperture::{OFF_MIDDLE, SectionsAlong, back_focal_plane, quick_frame};
use polstack::study::chart::{Polars, ScaleRequest, charted_object, plate, usual_lamp};
use polstack::study::predict::predict;

use crate::common::close;
use crate::paths::{analyzer, ideal_lenses, ideal_sheet, part, polarizer, retarder, stack};
use crate::scene::scene_of;

const NM: f64 = 589.3;

fn conoscope(na: f64, specimen: Specimen, plate_nm: f64, analyzer_deg: f64) -> LightPath {
    let [condenser, objective] = ideal_lenses(na);
    let parts = vec![
        polarizer(ideal_sheet(), 0.0),
        condenser,
        part("crystal", PartKind::Specimen(specimen)),
        objective,
        part("plate", PartKind::Plate(retarder(plate_nm, 45.0))),
        analyzer(ideal_sheet(), analyzer_deg),
    ];
    stack(na, parts)
}

/// A plate across its acute bisectrix, the axial plane at 45 degrees.
fn bisectrix(name: &str, thickness_um: f64) -> BiaxialPlate {
    let crystal = catalog::biaxial(name).unwrap();
    let positive = crystal.is_positive(NM);
    BiaxialPlate {
        crystal,
        thickness_um,
        normal: if positive {
            [0.0, 0.0, 1.0]
        } else {
            [1.0, 0.0, 0.0]
        },
        azimuth_rad: if positive { 3.0 * FRAC_PI_4 } else { FRAC_PI_4 },
    }
}

fn one_ray(s: f64, azimuth_rad: f64) -> Rays {
    Rays {
        ring: vec![s],
        sectors: Vec::new(),
        ring_weight: vec![1.0],
        spoke_rad: vec![azimuth_rad],
        spoke_weight: vec![1.0],
    }
}

fn light(path: &LightPath, s: f64, azimuth_rad: f64, plates: bool) -> f64 {
    let weight = [[1.0]];
    let rays = one_ray(s, azimuth_rad);
    run::crossed_ray_sums(path, &rays, &[NM], &weight, plates).unwrap()[0][0]
}

/// Plate slow along the axial plane: between the axes it adds in a negative crystal and subtracts in a positive one, beyond them the other way round. The
/// rule of the bench, here read in the light itself.
#[test]
fn the_plate_tells_the_sign_of_a_crystal() {
    for (name, thickness_um) in [
        ("muscovite", 25.0),
        ("aragonite", 20.0),
        ("baryte", 60.0),
        ("anhydrite", 20.0),
    ] {
        let plate = bisectrix(name, thickness_um);
        let positive = plate.crystal.is_positive(NM);
        let [_, middle, _] = plate.crystal.indices(NM);
        let melatope = middle * (0.5 * plate.crystal.acute_angle_rad(NM)).sin();
        let path = conoscope(0.95, Specimen::Biaxial(plate), 60.0, 90.0);
        for (s, between) in [(0.5 * melatope, true), (1.2 * melatope, false)] {
            for azimuth_rad in [FRAC_PI_4, FRAC_PI_4 + PI] {
                let out = light(&path, s, azimuth_rad, false);
                let with = light(&path, s, azimuth_rad, true);
                let adds = with > out;
                // Less than half a wave in all, so that more path difference is more light.
                assert!(out.max(with) < 0.45, "{name}: {out} {with}");
                assert_eq!(adds, positive != between, "{name} at {s}: {out} {with}");
            }
        }
    }
}

#[test]
fn isogyres_pass_through_the_melatopes_at_every_azimuth() {
    for turn in [0.0, 0.3, 0.7, 1.2] {
        let mut plate = bisectrix("muscovite", 200.0);
        plate.azimuth_rad += turn;
        let axes = plate.optic_axes(NM);
        let [_, middle, _] = plate.crystal.indices(NM);
        let path = conoscope(0.9, Specimen::Biaxial(plate), 550.0, 90.0);
        for [x, y, _] in axes {
            let dark = light(&path, middle * x.hypot(y), y.atan2(x), false);
            close("light at a melatope", dark, 0.0, 1e-9);
        }
        // And the axial plane along a polar is a dark bar; beside it is light.
        if turn == 0.0 {
            let mut plate = bisectrix("muscovite", 200.0);
            plate.azimuth_rad = 0.0;
            let path = conoscope(0.9, Specimen::Biaxial(plate), 550.0, 90.0);
            for s in [0.1, 0.4, 0.8] {
                close("bar", light(&path, s, 0.0, false), 0.0, 1e-20);
                close("bar", light(&path, s, FRAC_PI_2, false), 0.0, 1e-20);
            }
            assert!(light(&path, 0.4, 0.6, false) > 1e-3);
        }
    }
}

/// A tilted plate shows one axis in the aperture and the other outside of it; upside down it shows the figure turned by half a turn.
#[test]
fn a_tilted_plate_shows_one_axis() {
    let tilted = |sign: f64| {
        let plate = BiaxialPlate {
            normal: [0.8, 0.0, 0.6 * sign],
            ..bisectrix("topaz", 100.0)
        };
        let path = conoscope(0.9, Specimen::Biaxial(plate), 550.0, 90.0);
        let source = Source::named("cie-d65").unwrap();
        let grid = WavelengthGrid::new(450.0, 650.0, 20.0).unwrap();
        let told = back_focal_plane(&scene_of(&path, &source, &grid)).unwrap();
        told.crystal.unwrap()
    };
    let (one, other) = (tilted(1.0), tilted(-1.0));
    let seen = |figure: &polstack::study::aperture::CrystalFigure| {
        figure.melatopes.iter().filter(|m| m.seen).count()
    };
    assert_eq!((seen(&one), seen(&other)), (1, 1), "{one:?}");
    assert_eq!(one.read_off, None);
    let mut azimuths = [&one, &other].map(|figure| {
        let found = figure.melatopes.iter().find(|m| m.seen);
        found.unwrap().azimuth_rad
    });
    azimuths.sort_by(f64::total_cmp);
    close("half a turn", azimuths[1] - azimuths[0], PI, 1e-12);
}

/// Of a plate whose normal halves the obtuse angle both axes lie outside the aperture, and the acute angle is told all the same.
#[test]
fn the_obtuse_bisectrix_shows_no_axis() {
    let plate = BiaxialPlate {
        normal: [0.0, 0.0, 1.0],
        ..bisectrix("muscovite", 30.0)
    };
    let path = conoscope(0.9, Specimen::Biaxial(plate), 550.0, 90.0);
    let source = Source::named("cie-d65").unwrap();
    let grid = WavelengthGrid::new(450.0, 650.0, 20.0).unwrap();
    let plane = back_focal_plane(&scene_of(&path, &source, &grid)).unwrap();
    let told = plane.crystal.unwrap();
    assert!(told.melatopes.iter().all(|m| !m.seen && m.na > 1.0));
    assert_eq!(told.read_off, None);
    close("2V", told.two_v_rad.to_degrees(), 38.5, 1e-9);
}

/// Where light runs along an axis that leans there is no path difference, whatever the azimuth; beside it there is. The first ring is nearest there.
#[test]
fn a_leaning_axis_comes_out_at_its_own_place() {
    let crystal = catalog::crystal("calcite").unwrap();
    let (no, degrees) = (crystal.ordinary.at(NM), 20.0f64);
    for azimuth_rad in [0.0, 0.6, 2.2, 4.0] {
        let plate = Specimen::Askew(AskewPlate {
            crystal: crystal.clone(),
            thickness_um: 20.0,
            axis_from_normal_rad: degrees.to_radians(),
            azimuth_rad,
        });
        let path = conoscope(0.9, plate, 550.0, 90.0);
        let melatope = no * degrees.to_radians().sin();
        close(
            "melatope",
            light(&path, melatope, azimuth_rad, false),
            0.0,
            1e-20,
        );
        // Along the polars from there the arms are dark; halfway between them it is light, on either side.
        let (x, y) = (melatope * azimuth_rad.cos(), melatope * azimuth_rad.sin());
        let beside = |dx: f64, dy: f64| {
            let (x, y) = (x + dx, y + dy);
            light(&path, x.hypot(y), y.atan2(x), false)
        };
        for (dx, dy) in [(0.1, 0.0), (-0.1, 0.0), (0.0, 0.1), (0.0, -0.1)] {
            let arm = beside(dx, dy);
            let (a, b) = (beside(dx + dy, dy + dx), beside(dx - dy, dy - dx));
            assert!(arm < 0.05 * a.min(b), "{azimuth_rad}: {arm} {a} {b}");
        }
        // Opposite to it the crystal is another.
        assert!(light(&path, melatope, azimuth_rad + PI + 0.4, false) > 1e-3);
    }
}

/// Cut nearer and nearer to across its axis, quartz is what it is across it, activity and all.
#[test]
fn askew_quartz_becomes_quartz_across_its_axis() {
    let crystal = catalog::crystal("quartz").unwrap();
    let across = conoscope(0.5, quartz(1000.0, false), 137.0, 90.0);
    let mut before = f64::INFINITY;
    for degrees in [10.0f64, 1.0, 0.1, 0.0] {
        let plate = Specimen::Askew(AskewPlate {
            crystal: crystal.clone(),
            thickness_um: 1000.0,
            axis_from_normal_rad: degrees.to_radians(),
            azimuth_rad: 0.8,
        });
        let path = conoscope(0.5, plate, 137.0, 90.0);
        let off = (0..24).map(|k| (0.02 * f64::from(k), 0.41 * f64::from(k)));
        let off = off
            .map(|(s, azimuth)| {
                (light(&path, s, azimuth, true) - light(&across, s, azimuth, true)).abs()
            })
            .fold(0.0, f64::max);
        assert!(off < before, "{degrees}: {off} {before}");
        before = off;
    }
    close("across", before, 0.0, 1e-11);
}

fn quartz(thickness_um: f64, is_left: bool) -> Specimen {
    let mut crystal = catalog::crystal("quartz").unwrap();
    if let Some(power) = &mut crystal.rotation {
        power.is_left = is_left;
    }
    Specimen::Across {
        crystal,
        thickness_um,
    }
}

/// A millimetre of right-handed quartz turns the light clockwise, to smaller azimuths; the analyzer follows, and the middle is dark again.
#[test]
fn the_analyzer_that_follows_the_rotation_darkens_the_middle() {
    let turned = (catalog::crystal("quartz").unwrap().rotation.unwrap()).deg_per_mm(NM);
    for (is_left, sign) in [(false, -1.0), (true, 1.0)] {
        let path = |off: f64| conoscope(0.3, quartz(1000.0, is_left), 550.0, 90.0 + off);
        let at = |off: f64| light(&path(off), 0.0, 0.0, false);
        close("turned along", at(sign * turned), 0.0, 1e-25);
        let expected = (2.0 * turned).to_radians().sin().powi(2) * 0.5;
        close("turned the other way", at(-sign * turned), expected, 1e-12);
        close(
            "not turned",
            at(0.0),
            0.5 * turned.to_radians().sin().powi(2),
            1e-12,
        );
    }
}

/// Left-handed quartz is the mirror image of right-handed.
#[test]
fn the_other_hand_is_the_mirror_image() {
    let right = conoscope(0.5, quartz(3000.0, false), 137.0, 90.0);
    let left = conoscope(0.5, quartz(3000.0, true), 137.0, 90.0);
    let mut differ = 0.0f64;
    for k in 0..24 {
        let (s, azimuth) = (0.02 * f64::from(k), 0.41 * f64::from(k));
        // Mirrored at the plate's slow direction, which is halfway between the polars: these are exchanged.
        let mirrored = FRAC_PI_2 - azimuth;
        let one = light(&right, s, azimuth, true);
        close("mirrored", one, light(&left, s, mirrored, true), 1e-12);
        differ = differ.max((one - light(&left, s, azimuth, true)).abs());
    }
    assert!(differ > 0.05, "{differ}");
}

/// Without rotation, or far from the axis, the section is what it was.
#[test]
fn rotation_fades_away_from_the_axis() {
    let mut still = catalog::crystal("quartz").unwrap();
    still.rotation = None;
    let still = Specimen::Across {
        crystal: still,
        thickness_um: 500.0,
    };
    let (active, still) = (
        conoscope(0.95, quartz(500.0, false), 550.0, 90.0),
        conoscope(0.95, still, 550.0, 90.0),
    );
    let arm = |path: &LightPath, s: f64| light(path, s, 0.0, false);
    assert!(arm(&active, 0.0) > 0.01);
    let mut before = f64::INFINITY;
    for s in [0.0, 0.2, 0.5, 0.9] {
        close("dark arm", arm(&still, s), 0.0, 1e-25);
        // The circular share falls with the birefringence that grows as s^2.
        let bound = arm(&active, s);
        assert!(bound < before.max(1e-9), "{s}: {bound} {before}");
        before = bound.max(1e-4);
    }
    assert!(arm(&active, 0.9) < 1e-4);
}

#[test]
fn a_needle_and_its_opposite_exchange_their_two_colours() {
    let told = |nm: f64| {
        let needle = Specimen::Stated {
            path_difference_nm: nm,
            slow_azimuth_rad: 0.2,
        };
        let path = conoscope(0.2, needle, 550.0, 90.0);
        let source = Source::named("cie-d65").unwrap();
        let grid = WavelengthGrid::new(400.0, 700.0, 10.0).unwrap();
        let answer = predict(&scene_of(&path, &source, &grid)).unwrap();
        answer.turned.unwrap()
    };
    let (negative, positive) = (told(-150.0), told(150.0));
    assert_eq!(negative.path_difference_nm, -150.0);
    assert_eq!(positive.path_difference_nm, 150.0);
    let [along, across] = [&negative.along, &negative.across].map(|b| b.name.clone());
    assert!(
        along.contains("yellow") && across.contains("blue"),
        "{along}, {across}"
    );
    for (one, other) in [
        (&negative.along, &positive.across),
        (&negative.across, &positive.along),
    ] {
        for (a, b) in one.xyz.iter().zip(other.xyz) {
            close("exchanged", *a, b, 1e-12);
        }
    }
}

#[test]
fn a_chart_puts_an_object_in_its_two_positions() {
    let request = ScaleRequest {
        source: &usual_lamp(),
        sheet: &catalog::sheet("ideal").unwrap(),
        polars: Polars::Linear,
        dispersion: None,
        to_nm: 1000.0,
        step_nm: 5.0,
        exposure_stops: 0.0,
        adaptation_degree: 1.0,
        microscope: None,
    };
    let first_order = polstack::study::chart::accessory_plate(550.0);
    let chart = plate(&request, Some(&first_order)).unwrap();
    for (name, negative) in [("monosodium urate crystal", true), ("cotton fibre", false)] {
        let object = catalog::elongated(name).unwrap();
        let told = charted_object(&chart, &object).unwrap();
        assert_eq!(told.elongation == "negative", negative);
        let (from, to) = object.path_difference_nm;
        let [_, added, subtracted] = [0, 1, 2].map(|k| &chart.bands[k].tints);
        for (k, nm) in [from, 0.5 * (from + to), to].into_iter().enumerate() {
            let at = (nm / 5.0).round() as usize;
            let (along, across) = if negative {
                (subtracted, added)
            } else {
                (added, subtracted)
            };
            assert_eq!(told.positions[0].along[k], along[at]);
            assert_eq!(told.positions[0].across[k], across[at]);
        }
    }
    assert_eq!(catalog::elongated("quartz section"), None);
}

/// Path differences of a crystal without dispersion do not depend on the wavelength, and grow with the thickness.
#[test]
fn thickness_scales_the_path_difference() {
    let plate = |thickness_um| BiaxialPlate {
        crystal: Biaxial {
            name: String::new(),
            principal: [1.5, 1.56, 1.6].map(Index::Constant),
            middle_shift: 0.0,
        },
        thickness_um,
        normal: [0.2, 0.5, 0.9],
        azimuth_rad: 1.0,
    };
    let ray = polstack::optics::Ray {
        s: 0.7,
        azimuth_rad: 2.0,
    };
    let one = plate(10.0).ray(ray, 450.0).path_difference_nm;
    close(
        "twice",
        plate(20.0).ray(ray, 700.0).path_difference_nm,
        2.0 * one,
        1e-9,
    );
}

fn askew(from_normal_deg: f64, azimuth_deg: f64) -> AskewPlate {
    AskewPlate {
        crystal: catalog::crystal("calcite").unwrap(),
        thickness_um: 20.0,
        axis_from_normal_rad: from_normal_deg.to_radians(),
        azimuth_rad: azimuth_deg.to_radians(),
    }
}

/// Where the leaning axis is said to come out, the plate does not retard, and nowhere else near.
#[test]
fn a_leaning_axis_comes_out_where_nothing_is_retarded() {
    let grid = WavelengthGrid::new(500.0, 600.0, 50.0).unwrap();
    let source = Source::named("cie-d65").unwrap();
    for (from_normal_deg, seen, reflected) in [
        (20.0, true, false),
        (35.0, false, false),
        (50.0, false, true),
    ] {
        let plate = askew(from_normal_deg, 130.0);
        let path = conoscope(0.8, Specimen::Askew(plate.clone()), 550.0, 90.0);
        let plane = back_focal_plane(&scene_of(&path, &source, &grid)).unwrap();
        let axis = plane.leaning_axis.unwrap();
        assert_eq!(axis.comes_out.seen, seen, "{from_normal_deg}");
        assert_eq!(axis.in_air_rad.is_none(), reflected, "{from_normal_deg}");
        assert_eq!(axis.optic_sign, "negative");
        let nm = |s: f64, azimuth_rad: f64| {
            let ray = polstack::optics::Ray { s, azimuth_rad };
            plate.ray(ray, NM).path_difference_nm.abs()
        };
        let at = axis.comes_out;
        assert!(nm(at.na, at.azimuth_rad) < 1e-6, "{from_normal_deg}");
        for (ds, da) in [(0.01, 0.0), (-0.01, 0.0), (0.0, 0.02), (0.0, -0.02)] {
            assert!(nm(at.na + ds, at.azimuth_rad + da) > 0.1, "{ds} {da}");
        }
        if let Some(in_air_rad) = axis.in_air_rad {
            close("in air", in_air_rad.sin(), at.na, 1e-12);
        }
    }
}

/// A dark cross about the middle is measured where the figure's middle lies within a stated share of the aperture, and nowhere else, however the crystal is
/// turned.
#[test]
fn a_cross_is_measured_about_the_middle_of_a_centred_figure_alone() {
    let grid = WavelengthGrid::new(500.0, 600.0, 50.0).unwrap();
    let source = Source::named("cie-d65").unwrap();
    let na = 0.8;
    let tilted = |normal: [f64; 3]| BiaxialPlate {
        crystal: catalog::biaxial("muscovite").unwrap(),
        thickness_um: 30.0,
        normal,
        azimuth_rad: 0.4,
    };
    let index = askew(1.0, 0.0).crystal.ordinary.at(NM);
    let limit_deg = (OFF_MIDDLE * na / index).asin().to_degrees();
    let cases = [
        (Specimen::Askew(askew(0.9 * limit_deg, 0.0)), None),
        (Specimen::Askew(askew(1.1 * limit_deg, 10.0)), Some(10.0)),
        (Specimen::Askew(askew(20.0, 0.0)), Some(0.0)),
        (Specimen::Askew(askew(20.0, 30.0)), Some(30.0)),
        (Specimen::Askew(askew(20.0, 250.0)), Some(70.0)),
        (Specimen::Askew(askew(90.0, 30.0)), None),
        (Specimen::Biaxial(tilted([1.0, 0.0, 0.0])), None),
        (Specimen::Biaxial(tilted([0.0, 1.0, 0.0])), None),
        (
            Specimen::Biaxial(tilted([0.9, 0.0, 0.3])),
            Some(0.4f64.to_degrees()),
        ),
    ];
    for (specimen, off_deg) in cases {
        let path = conoscope(na, specimen.clone(), 550.0, 90.0);
        let scene = scene_of(&path, &source, &grid);
        let plane = back_focal_plane(&scene).unwrap();
        let last = plane.build_up.last().unwrap();
        assert_eq!(last.is_centred, off_deg.is_none(), "{specimen:?}");
        let quick = quick_frame(&scene, (17, 64), false).unwrap().plane;
        assert_eq!(quick.is_centred(), off_deg.is_none(), "{specimen:?}");
        match off_deg {
            Some(off_deg) => {
                assert!(last.cross.is_none() && quick.cross().is_none());
                // Leaning along a polar, the diameter through the middle lies along a dark arm.
                let (along, expected_deg) = match off_deg {
                    0.0 => (SectionsAlong::BesideArms, 45.0),
                    off_deg => (SectionsAlong::FigureMiddle, off_deg),
                };
                assert_eq!(plane.sections_along, along);
                let at = plane.sections[0].azimuth_rad.to_degrees();
                close("first diameter", at, expected_deg, 1e-9);
            }
            None => assert_ne!(plane.sections_along, SectionsAlong::FigureMiddle),
        }
    }
    // Within the limit a cross is there to be measured.
    let path = conoscope(
        na,
        Specimen::Askew(askew(0.9 * limit_deg, 0.0)),
        550.0,
        90.0,
    );
    let plane = back_focal_plane(&scene_of(&path, &source, &grid)).unwrap();
    assert!(plane.build_up.last().unwrap().cross.is_some());
}

/// Without a path difference there is nothing that two colours could tell, and an iris that is wide open mixes those of a crystal that leans.
#[test]
fn colours_that_are_alike_beside_a_plate_are_told_as_alike() {
    let source = Source::named("cie-d65").unwrap();
    let grid = WavelengthGrid::new(400.0, 700.0, 10.0).unwrap();
    let told = |na: f64, specimen: Specimen| {
        let path = conoscope(na, specimen, 550.0, 90.0);
        predict(&scene_of(&path, &source, &grid))
            .unwrap()
            .turned
            .unwrap()
    };
    let stated = |nm: f64| Specimen::Stated {
        path_difference_nm: nm,
        slow_azimuth_rad: 0.2,
    };
    let none = told(0.2, stated(0.0));
    assert!(none.is_alike() && none.color_difference_on_axis < 1e-9);
    let needle = told(0.2, stated(-150.0));
    assert!(!needle.is_alike() && needle.color_difference > 20.0);
    // Of ideal parts every ray shows a stated path difference alike.
    close(
        "axis",
        needle.color_difference_on_axis,
        needle.color_difference,
        1e-6,
    );
    let wide = told(0.85, Specimen::Askew(askew(20.0, 0.0)));
    assert!(
        wide.is_alike() && wide.color_difference_on_axis > 10.0,
        "{wide:?}"
    );
    // Of a figure full of fringes the two colours are mixtures, alike or not.
    let mica = told(0.85, Specimen::Biaxial(bisectrix("muscovite", 100.0)));
    assert!(mica.is_mixed() && !needle.is_mixed(), "{mica:?}");
    let narrow = told(0.02, Specimen::Askew(askew(20.0, 0.0)));
    assert!(!narrow.is_alike(), "{narrow:?}");
}

/// The arms of a crystal with two optic axes part as rectangular hyperbolas through the places where the axes come out do: by `m sqrt(sin 2p)`. Where
/// these are out of sight, a dark fringe is not taken for an arm.
#[test]
fn arms_of_two_optic_axes_part_as_hyperbolas_do() {
    let grid = WavelengthGrid::new(420.0, 680.0, 10.0).unwrap();
    let source = Source::named("cie-d65").unwrap();
    let na = 0.8;
    let cross = |plate: &BiaxialPlate| {
        let path = conoscope(na, Specimen::Biaxial(plate.clone()), 550.0, 90.0);
        let plane = back_focal_plane(&scene_of(&path, &source, &grid)).unwrap();
        let cross = plane.build_up.last().unwrap().cross;
        (cross, plane.crystal.unwrap().melatopes[0].na / na)
    };
    for azimuth_deg in [0.0, 10.0, 20.0, 45.0, 60.0, 120.0] {
        let mut plate = bisectrix("muscovite", 100.0);
        plate.azimuth_rad = f64::to_radians(azimuth_deg);
        let (cross, distance) = cross(&plate);
        let cross = cross.unwrap();
        let sin = (2.0 * plate.azimuth_rad).sin();
        let expected = distance * sin.abs().sqrt();
        close(&format!("{azimuth_deg}"), cross.opening, expected, 0.05);
        if let Some(parted_rad) = cross.parted_rad {
            let diagonal = if sin > 0.0 { 45.0 } else { 135.0 };
            close("diagonal", parted_rad.to_degrees(), diagonal, 1e-6);
        }
        assert_eq!(cross.turned_rad, None);
    }
    // The axes come out at NA 0.89.
    let [x, y, z] = [1.52, 1.53, 1.55];
    for azimuth_deg in [30.0, 45.0, 60.0, 130.0] {
        let plate = BiaxialPlate {
            crystal: Biaxial {
                name: String::new(),
                principal: [x, y, z].map(Index::Constant),
                middle_shift: 0.0,
            },
            thickness_um: 50.0,
            normal: [0.0, 0.0, 1.0],
            azimuth_rad: f64::to_radians(azimuth_deg),
        };
        assert_eq!(cross(&plate).0, None, "{azimuth_deg}");
    }
}
