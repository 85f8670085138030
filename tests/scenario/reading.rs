//! What a good file becomes.

use std::f64::consts::{FRAC_PI_2, FRAC_PI_4};

use polstack::light_path::{PartKind, ToleranceKind};
use polstack::material::{Birefringence, Index, SheetTransmittance};
use polstack::optics::{Coating, RadialSlow, Strain};
use polstack::spectrum::{Source, WavelengthGrid};

use super::{BENCH, bench, read_text};

#[test]
fn the_bench_becomes_its_light_path() {
    let scenario = read_text(BENCH).unwrap();
    assert_eq!(scenario.title, "Bench");
    assert_eq!(
        scenario.scene.source,
        Source::Blackbody {
            temperature_k: 3200.0
        }
    );
    assert_eq!(scenario.scene.grid, WavelengthGrid::default());
    assert_eq!(scenario.notes, Vec::<String>::new());
    let path = &scenario.scene.path;
    assert_eq!(
        (path.iris_na, path.view_na, path.stray_fraction),
        (Some(0.6), None, 0.0)
    );
    assert_eq!(path.lamp.0, [1.0, 0.0, 0.0, 0.0]);
    let names: Vec<&str> = path.parts.iter().map(|part| part.name.as_str()).collect();
    let expected = [
        "condenser",
        "lower polar",
        "slide",
        "fibre",
        "objective",
        "plate",
        "analyzer",
    ];
    assert_eq!(names, expected);

    let PartKind::Condenser(lens) = &path.parts[0].kind else {
        panic!()
    };
    assert_eq!(
        (lens.na, lens.immersion, lens.equal_surfaces(), lens.coating),
        (0.88, 1.0, Some(4), Coating::None)
    );
    assert_eq!(lens.glass.index, Index::Constant(1.52));
    assert_eq!(lens.strain[0], Strain::radial(40.0));
    assert_eq!(
        lens.strain[1],
        Strain::Clamp {
            contacts: 4,
            force_n: 5.0,
            diameter_mm: 26.0,
            first_azimuth_rad: 0.0,
            stress_optic_brewster: 2.7
        }
    );
    let PartKind::Analyzer(polar) = &path.parts[6].kind else {
        panic!()
    };
    assert_eq!(polar.azimuth_rad, FRAC_PI_2);
    assert_eq!(polar.sheet.index, 1.5);
    assert_eq!(
        polar.sheet.transmittance,
        SheetTransmittance::Constant { k1: 0.8, k2: 8e-6 }
    );
    let PartKind::Plate(plate) = &path.parts[5].kind else {
        panic!()
    };
    assert_eq!((plate.path_difference_nm, plate.at_nm), (550.0, 550.0));
    assert_eq!(
        (&plate.material, plate.slow_azimuth_rad),
        (&Birefringence::None, FRAC_PI_4)
    );
    let tolerance = path.parts[5].tolerance.unwrap();
    assert_eq!(tolerance.azimuth_rad, Some(0.5_f64.to_radians()));
    assert_eq!(tolerance.kind, ToleranceKind::Normal);
}

#[test]
fn line_ends_and_byte_order_marks_change_nothing() {
    let plain = read_text(BENCH).unwrap();
    assert_eq!(read_text(&BENCH.replace('\n', "\r\n")).unwrap(), plain);
    assert_eq!(read_text(&format!("\u{feff}{BENCH}")).unwrap(), plain);
    let error = read_text(&bench("na = 0.88", "na = 7.2").replace('\n', "\r\n")).unwrap_err();
    assert_eq!(error.line_and_column(), Some((11, 20)));
    assert!(!error.to_string().contains('\r'));
}

#[test]
fn headers_and_dotted_keys_mean_the_same_as_inline_tables() {
    let plain = read_text(BENCH).unwrap();
    let header = bench(
        "slide = { glass = 1.515, mount = 1.515 }",
        "[part.slide]\nglass = 1.515\nmount = 1.515",
    );
    assert_eq!(read_text(&header).unwrap(), plain);
    let dotted = bench(
        "slide = { glass = 1.515, mount = 1.515 }",
        "slide.glass = 1.515\nslide.mount = 1.515",
    );
    assert_eq!(read_text(&dotted).unwrap(), plain);
}

#[test]
fn optional_keys_are_read() {
    let text = bench(
        "[[part]]\n",
        "[stray]\nfraction = 1e-5\n\n[view]\nna = 0.05\n\n[[part]]\n",
    );
    let path = read_text(&text).unwrap().scene.path;
    assert_eq!((path.stray_fraction, path.view_na), (1e-5, Some(0.05)));

    let text = bench("edge_nm = 40", "edge_nm = 40, slow = \"tangential\"");
    let PartKind::Condenser(lens) = &read_text(&text).unwrap().scene.path.parts[0].kind else {
        panic!()
    };
    assert_eq!(
        lens.strain[0],
        Strain::Radial {
            edge_nm: 40.0,
            slow: RadialSlow::Tangential,
            along: polstack::optics::RadialAlong::Axis,
        }
    );

    let text = bench(
        "{ azimuth_deg = 0.5 }",
        "{ path_difference_nm = 2, distribution = \"uniform\" }",
    );
    let tolerance = read_text(&text).unwrap().scene.path.parts[5]
        .tolerance
        .unwrap();
    assert_eq!(tolerance.path_difference_nm, Some(2.0));
    assert_eq!(
        (tolerance.azimuth_rad, tolerance.kind),
        (None, ToleranceKind::Uniform)
    );

    let text = bench(
        "[[part]]\n",
        "[spectrum]\nfrom_nm = 400\nstep_nm = 10\n\n[[part]]\n",
    );
    let grid = read_text(&text).unwrap().scene.grid;
    assert_eq!((grid.ends_nm(), grid.step_nm()), ((400.0, 780.0), 10.0));
}

#[test]
fn without_a_title_the_file_s_name_stands_for_it() {
    let scenario = read_text(&bench("title = \"Bench\"", "")).unwrap();
    assert_eq!(scenario.title, "bench");
}

#[test]
fn without_an_iris_the_aperture_is_as_wide_as_the_lenses() {
    let path = read_text(&bench("[aperture]\nna = 0.6\n", ""))
        .unwrap()
        .scene
        .path;
    assert_eq!((path.iris_na, path.na()), (None, 0.6));
}

#[test]
fn a_lamp_s_state_is_scaled_to_its_intensity() {
    let text = bench("[light]\n", "[light]\nstokes = [2, 0, -1, 1.5]\n");
    assert_eq!(
        read_text(&text).unwrap().scene.path.lamp.0,
        [1.0, 0.0, -0.5, 0.75]
    );
}

#[test]
fn a_lens_of_ideal_surfaces_needs_no_glass() {
    for ideal in [
        "surfaces = 0",
        "surfaces = \"ideal\"",
        "surfaces = 8, coating = \"ideal\"",
    ] {
        let text = bench("surfaces = 8, glass = 1.52, coating = \"mgf2\"", ideal);
        let PartKind::Objective(lens) = &read_text(&text).unwrap().scene.path.parts[4].kind else {
            panic!()
        };
        assert!(lens.is_ideal(), "{ideal}");
    }
}

#[test]
fn an_ideal_sheet_is_known_by_name() {
    let text = bench("sheet = { k1 = 0.8, k2 = 8e-6 }", "sheet = \"ideal\"");
    let PartKind::Polarizer(polar) = &read_text(&text).unwrap().scene.path.parts[1].kind else {
        panic!()
    };
    assert_eq!(polar.sheet.transmittance, SheetTransmittance::Ideal);
}
