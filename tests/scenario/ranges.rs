//! Every number has a range, both ends of which are allowed.

use polstack::scenario::Problem;

use super::{bench, read_text};

struct Case {
    from: &'static str,
    /// With `@` for the number.
    to: &'static str,
    key: &'static str,
    ends: (f64, f64),
    /// Just outside.
    outside: (&'static str, &'static str),
}

fn case(
    from: &'static str,
    to: &'static str,
    key: &'static str,
    ends: (f64, f64),
    outside: (&'static str, &'static str),
) -> Case {
    Case {
        from,
        to,
        key,
        ends,
        outside,
    }
}

fn cases() -> Vec<Case> {
    let angle = ((-3600.0, 3600.0), ("-3600.1", "3600.1"));
    let nm = ((-1e6, 1e6), ("-1000001", "1000001"));
    let strain_nm = ((-1e4, 1e4), ("-10001", "10001"));
    let index = ((1.0, 4.0), ("0.99", "4.01"));
    let wave = ((360.0, 830.0), ("359.9", "830.1"));
    let lens = "{ na = 0.88, surfaces = 4, glass = 1.52 }";
    let radial = "{ radial = { edge_nm = 40 } }";
    let sheet = "{ k1 = 0.8, k2 = 8e-6 }";
    let fibre = "{ path_difference_nm = 30, azimuth_deg = 20 }";
    let plate = "{ path_difference_nm = 550, azimuth_deg = 45 }";
    let clamp = "stress_optic_brewster = 2.7";
    let lamp = "{ blackbody_k = 3200 }";
    vec![
        case(
            "na = 0.6\n",
            "na = @\n",
            "aperture.na",
            (1e-4, 4.0),
            ("0.00009", "4.01"),
        ),
        case(
            lamp,
            "{ blackbody_k = @ }",
            "light.source.blackbody_k",
            (500.0, 5e4),
            ("499", "50001"),
        ),
        case(
            lamp,
            "{ line_nm = @, width_nm = 300 }",
            "light.source.line_nm",
            wave.0,
            wave.1,
        ),
        case(
            lamp,
            "{ line_nm = 550, width_nm = @ }",
            "light.source.width_nm",
            (0.1, 300.0),
            ("0.09", "300.1"),
        ),
        case(
            "[light]\n",
            "[light]\nstokes = [1e6, @, 0, 0]\n",
            "light.stokes",
            (-1e6, 1e6),
            ("-1000001", "1000001"),
        ),
        case(
            "[light]\n",
            "[view]\nna = @\n[light]\n",
            "view.na",
            (1e-4, 0.99),
            ("0", "1"),
        ),
        case(
            "[light]\n",
            "[stray]\nfraction = @\n[light]\n",
            "stray.fraction",
            (0.0, 1.0),
            ("-1e-9", "1.0001"),
        ),
        case(
            "[light]\n",
            "[spectrum]\nfrom_nm = @\nto_nm = 830\n[light]\n",
            "spectrum.from_nm",
            wave.0,
            wave.1,
        ),
        case(
            "[light]\n",
            "[spectrum]\nfrom_nm = 360\nto_nm = @\n[light]\n",
            "spectrum.to_nm",
            wave.0,
            wave.1,
        ),
        case(
            "[light]\n",
            "[spectrum]\nstep_nm = @\n[light]\n",
            "spectrum.step_nm",
            (0.1, 50.0),
            ("0.09", "51"),
        ),
        case(
            lens,
            "{ na = @, immersion = 4, surfaces = 0 }",
            "part.condenser.na",
            (1e-4, 3.9),
            ("0", "4.01"),
        ),
        case(
            lens,
            "{ na = 0.8, immersion = @, surfaces = 0 }",
            "part.condenser.immersion",
            index.0,
            index.1,
        ),
        case(
            lens,
            "{ na = 0.8, surfaces = @, glass = 4 }",
            "part.condenser.surfaces",
            (0.0, 200.0),
            ("-1", "201"),
        ),
        case(
            lens,
            "{ na = 0.8, surfaces = 0, glass = @ }",
            "part.condenser.glass",
            index.0,
            index.1,
        ),
        case(
            sheet,
            "{ k1 = @, k2 = 0 }",
            "part.polarizer.sheet.k1",
            (0.0, 1.0),
            ("-1e-300", "1.00001"),
        ),
        case(
            sheet,
            "{ k1 = 1, k2 = @ }",
            "part.polarizer.sheet.k2",
            (0.0, 1.0),
            ("-1e-300", "1.00001"),
        ),
        case(
            sheet,
            "{ k1 = 1, k2 = 0 }, index = @",
            "part.polarizer.index",
            index.0,
            index.1,
        ),
        case(
            sheet,
            "{ k1 = 1, k2 = 0 }, contact = @",
            "part.polarizer.contact",
            index.0,
            index.1,
        ),
        case(
            "azimuth_deg = 0 ",
            "azimuth_deg = @ ",
            "part.polarizer.azimuth_deg",
            angle.0,
            angle.1,
        ),
        case(
            "glass = 1.515",
            "glass = @",
            "part.slide.glass",
            index.0,
            index.1,
        ),
        case(
            "mount = 1.515",
            "mount = @",
            "part.slide.mount",
            index.0,
            index.1,
        ),
        case(
            "path_difference_nm = 30",
            "path_difference_nm = @",
            "part.specimen.path_difference_nm",
            nm.0,
            nm.1,
        ),
        case(
            "azimuth_deg = 20",
            "azimuth_deg = @",
            "part.specimen.azimuth_deg",
            angle.0,
            angle.1,
        ),
        case(
            plate,
            "{ path_difference_nm = @, azimuth_deg = 0 }",
            "part.plate.path_difference_nm",
            nm.0,
            nm.1,
        ),
        case(
            plate,
            "{ path_difference_nm = 1, azimuth_deg = @ }",
            "part.plate.azimuth_deg",
            angle.0,
            angle.1,
        ),
        case(
            plate,
            "{ path_difference_nm = 1, azimuth_deg = 0, at_nm = @ }",
            "part.plate.at_nm",
            wave.0,
            wave.1,
        ),
        case(
            "edge_nm = 40",
            "edge_nm = @",
            "part.strain.radial.edge_nm",
            strain_nm.0,
            strain_nm.1,
        ),
        case(
            radial,
            "{ uniform = { path_difference_nm = @, azimuth_deg = 0 } }",
            "part.strain.uniform.path_difference_nm",
            strain_nm.0,
            strain_nm.1,
        ),
        case(
            radial,
            "{ uniform = { path_difference_nm = 1, azimuth_deg = @ } }",
            "part.strain.uniform.azimuth_deg",
            angle.0,
            angle.1,
        ),
        case(
            "contacts = 4",
            "contacts = @",
            "part.strain.clamp.contacts",
            (2.0, 64.0),
            ("1", "65"),
        ),
        case(
            "force_n = 5",
            "force_n = @",
            "part.strain.clamp.force_n",
            (0.0, 1e4),
            ("-0.001", "10001"),
        ),
        case(
            "diameter_mm = 26",
            "diameter_mm = @",
            "part.strain.clamp.diameter_mm",
            (0.1, 1000.0),
            ("0", "1000.1"),
        ),
        case(
            clamp,
            "stress_optic_brewster = @",
            "part.strain.clamp.stress_optic_brewster",
            (-100.0, 100.0),
            ("-101", "101"),
        ),
        case(
            clamp,
            "stress_optic_brewster = 1, azimuth_deg = @",
            "part.strain.clamp.azimuth_deg",
            angle.0,
            angle.1,
        ),
        case(
            "{ azimuth_deg = 0.5 }",
            "{ azimuth_deg = @ }",
            "part.tolerance.azimuth_deg",
            (0.0, 90.0),
            ("-0.1", "90.1"),
        ),
        case(
            "{ azimuth_deg = 0.5 }",
            "{ path_difference_nm = @ }",
            "part.tolerance.path_difference_nm",
            (0.0, 1e6),
            ("-0.1", "1e7"),
        ),
        case(
            fibre,
            "{ material = \"none\", thickness_um = @, azimuth_deg = 0 }",
            "part.specimen.thickness_um",
            (0.001, 1e5),
            ("0", "100001"),
        ),
        case(
            fibre,
            "{ material = \"quartz\", thickness_um = 9, axis_from_normal_deg = @, azimuth_deg = 0 }",
            "part.specimen.axis_from_normal_deg",
            (0.0, 90.0),
            ("-0.1", "90.1"),
        ),
        case(
            fibre,
            "{ material = \"topaz\", thickness_um = 9, normal = \"z\", two_v_deg = @, azimuth_deg = 0 }",
            "part.specimen.two_v_deg",
            (0.1, 90.0),
            ("0.09", "90.1"),
        ),
    ]
}

fn text(case: &Case, number: &str) -> String {
    // A glass of index 1 or a slide of index 1 must not be what stops the ends of other ranges.
    bench(case.from, &case.to.replace('@', number))
}

#[test]
fn both_ends_of_every_range_are_allowed() {
    for case in cases() {
        for end in [case.ends.0, case.ends.1] {
            // Other things may be wrong with the stack then, but not this number.
            if let Err(error) = read_text(&text(&case, &format!("{end}"))) {
                let range = matches!(
                    error.problem(),
                    Problem::OutOfRange { .. } | Problem::WrongType { .. }
                );
                assert!(!range, "{} = {end}: {error}", case.key);
            }
        }
    }
}

#[test]
fn nothing_outside_a_range_is_allowed() {
    for case in cases() {
        let numbers = [
            case.outside.0,
            case.outside.1,
            "nan",
            "-nan",
            "inf",
            "-inf",
            "1e400",
            "-1e400",
        ];
        for number in numbers {
            let error = read_text(&text(&case, number)).unwrap_err();
            let Problem::OutOfRange { allowed } = error.problem() else {
                panic!("{} = {number}: {error}", case.key)
            };
            let message = error.to_string();
            assert!(
                message.contains(&format!("`{}` = {number} ", case.key)),
                "{message}"
            );
            assert!(
                message.contains(&format!("allowed: {allowed}")),
                "{message}"
            );
            assert_eq!(error.exit_code(), 2);
        }
    }
}

#[test]
fn nothing_but_a_number_is_a_number() {
    for case in cases() {
        for wrong in ["true", "[]", "[1]", "1979-05-27", "{}", "{ n = 1 }"] {
            let error = read_text(&text(&case, wrong)).unwrap_err();
            let wrong_type = matches!(error.problem(), Problem::WrongType { .. });
            assert!(wrong_type, "{} = {wrong}: {error}", case.key);
        }
    }
}
