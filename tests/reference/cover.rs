//! A sheet's cover against a 4x4 solver, in which the dyed layer is an absorbing crystal (`cover/make_cover.py`).

use polstack::light_path::{LightPath, Part, PartKind, run};
use polstack::material::{Glass, Index, PolarizingSheet};
use polstack::optics::{Lens, Polarizer, Rays};
use serde_json::Value;

use super::common::close;

fn fixture() -> Value {
    serde_json::from_str(include_str!("cover/cover.json")).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

fn sheet(cover_nm: f64) -> PolarizingSheet {
    PolarizingSheet {
        cover_nm,
        cover_is_told: true,
        ..PolarizingSheet::constant(0.8, 8e-6)
    }
}

#[test]
fn a_cover_retards_a_ray_as_a_negative_c_plate_does() {
    for case in fixture()["phases"].as_array().unwrap() {
        let polar = Polarizer::new(sheet(number(&case["cover_nm"])), 0.0);
        let nm = number(&case["wavelength_nm"]);
        let got = std::f64::consts::TAU * polar.cover_nm(number(&case["s"])) / nm;
        let expected = number(&case["phase_rad"]);
        // The solver's plate lies in a medium of index 1.5, at whose surfaces it also reflects a little.
        close(
            &case.to_string(),
            got,
            expected,
            1e-3 * expected.abs() + 2e-5,
        );
    }
}

#[test]
fn a_covered_sheet_leaks_as_an_absorbing_crystal_with_a_plate_on_it() {
    for case in fixture()["leaks"].as_array().unwrap() {
        let (na, nm) = (number(&case["na"]), [number(&case["wavelength_nm"])]);
        let sheet = sheet(number(&case["cover_nm"]));
        let polar = |deg: f64| Polarizer::new(sheet.clone(), deg.to_radians());
        let glass = Glass {
            name: String::new(),
            index: Index::Constant(1.5),
            stress_optic_brewster: None,
        };
        let lens = || Lens::new(na, 0, glass.clone());
        let path = LightPath {
            parts: vec![
                Part::new("condenser", PartKind::Condenser(lens())),
                Part::new("lower polar", PartKind::Polarizer(polar(0.0))),
                Part::new("objective", PartKind::Objective(lens())),
                Part::new("analyzer", PartKind::Analyzer(polar(90.0))),
            ],
            ..LightPath::default()
        };
        path.check(&nm).unwrap();
        let fields = run::fields(&path, &Rays::disc(na, 24, 96), &nm, &[1.0]).unwrap();
        let expected = number(&case["leak"]);
        let got = fields.crossed[0] / fields.parallel[0];
        // The model's film has no thickness that retards or reflects within.
        close(&case.to_string(), got, expected, 2e-3 * expected);
    }
}
