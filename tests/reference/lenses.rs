//! Rays through prescriptions against a lens design library, surfaces against a 4x4 solver (`lenses/make_lenses.py`).

use polstack::material::{Glass, Index};
use polstack::optics::prescription::{Passed, Surface, Train};
use serde_json::Value;

use super::common::close;

const GREEN_NM: f64 = 546.1;

fn fixture() -> Value {
    serde_json::from_str(include_str!("lenses/lenses.json")).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

fn train(lens: &Value, half_diameter_mm: f64) -> Train {
    let rows = lens["surfaces"].as_array().unwrap();
    let glass = |row: &Value| {
        let index = number(&row["index"]);
        (index != 1.0).then(|| Glass {
            name: String::new(),
            index: Index::Constant(index),
            stress_optic_brewster: None,
        })
    };
    let surface = |row: &Value| Surface {
        conic: number(&row["conic"]),
        aspheric: [0, 1, 2, 3].map(|k| number(&row["aspheric"][k])),
        ..Surface::sphere(
            number(&row["radius_mm"]),
            number(&row["thickness_mm"]),
            glass(row),
            half_diameter_mm,
        )
    };
    let immersion = number(&rows.last().unwrap()["index"]);
    Train::new(rows.iter().map(surface).collect(), immersion)
}

#[test]
fn rays_go_as_a_lens_design_library_traces_them() {
    let mut rays = 0;
    for (name, lens) in fixture().as_object().unwrap() {
        let train = train(lens, 15.0);
        let at = train.at(GREEN_NM);
        let paraxial = at.paraxial();
        for (what, got, key) in [
            ("power", 1.0 / paraxial.focal_length_mm, "power_per_mm"),
            (
                "front",
                paraxial.front_focal_plane_mm,
                "front_focal_plane_mm",
            ),
            ("back", paraxial.back_focal_plane_mm, "back_focal_plane_mm"),
        ] {
            // Planes in mm, the power per mm.
            close(&format!("{name}: {what}"), got, number(&lens[key]), 1e-9);
        }
        for expected in lens["rays"].as_array().unwrap() {
            let entrance = number(&expected["entrance_mm"]);
            let ray = at.ray(entrance).unwrap();
            let what = |of: &str| format!("{name} at {entrance}: {of}");
            close(&what("na"), ray.na, number(&expected["na"]), 1e-12);
            let surfaces = expected["surfaces"].as_array().unwrap();
            assert_eq!(ray.surfaces.len(), surfaces.len());
            for (got, expected) in ray.surfaces.iter().zip(surfaces) {
                for (of, got, key) in [
                    ("height", got.height_mm, "height_mm"),
                    ("slope", got.slope_rad.to_degrees(), "slope_deg"),
                    ("incidence", got.incidence_rad.to_degrees(), "incidence_deg"),
                    (
                        "refraction",
                        got.refraction_rad.to_degrees(),
                        "refraction_deg",
                    ),
                ] {
                    close(&what(of), got, number(&expected[key]), 1e-10);
                }
            }
            rays += 1;
        }
    }
    assert_eq!(rays, 108);
}

#[test]
fn surfaces_pass_what_a_4x4_solver_finds() {
    let fixture = fixture();
    let mut compared = 0;
    for name in ["two moulded lenses", "cemented doublet"] {
        let lens = &fixture[name];
        let train = train(lens, 15.0);
        let at = train.at(GREEN_NM);
        for expected in lens["passed"].as_array().unwrap() {
            let ray = at.ray(number(&expected["entrance_mm"])).unwrap();
            let surface = expected["surface"].as_u64().unwrap() as usize;
            let ray = ray.surfaces[surface];
            let passed = match expected["coated"].as_bool().unwrap() {
                true => {
                    let nm = number(&expected["wavelength_nm"]);
                    Passed::coated(ray.index, ray.incidence_rad, nm)
                }
                false => Passed::bare(ray.index, ray.incidence_rad, ray.refraction_rad),
            };
            let (p, s) = passed.amplitudes(1.0);
            let what = format!("{name}, {expected}");
            for (got, key) in [(p, "p"), (s, "s")] {
                close(&what, got.re, number(&expected[key][0]), 1e-12);
                close(&what, got.im, number(&expected[key][1]), 1e-12);
            }
            compared += 1;
        }
    }
    assert!(compared > 100, "{compared}");
}

#[test]
fn stress_adds_up_along_the_ray_as_by_quadrature() {
    for (name, lens) in fixture().as_object().unwrap() {
        let Some(stress) = lens.get("stress") else {
            continue;
        };
        let front = stress["front"].as_u64().unwrap() as usize;
        let train = train(lens, number(&stress["rim_mm"]));
        let at = train.at(GREEN_NM);
        let rays = lens["rays"].as_array().unwrap().iter();
        for (ray, expected) in rays.zip(stress["of_rays"].as_array().unwrap()) {
            let traced = at.ray(number(&ray["entrance_mm"])).unwrap();
            let got = train.stress_along(front..front + 2, &traced);
            close(name, got, number(expected), 1e-11);
        }
    }
}
