//! Crystal plates under oblique rays.

use polstack::material::catalog;
use polstack::optics::{Ray, Specimen};
use serde::Deserialize;

use super::common::close;
use super::triple::Triple;

const THICKNESS_UM: f64 = 60.4393;
const WAVELENGTH_NM: f64 = 589.3;

#[derive(Deserialize)]
struct Row {
    na: f64,
    delta_deg: f64,
    expected: f64,
}

fn read() -> Triple<Row> {
    Triple::read(
        include_str!("oblique_plates.csv"),
        include_str!("oblique_plates.toml"),
    )
}

fn path_nm(crystal: &str, na: f64, delta_deg: f64) -> f64 {
    let specimen = Specimen::Plate {
        crystal: catalog::crystal(crystal).expect("a catalogued crystal"),
        thickness_um: THICKNESS_UM,
        axis_azimuth_rad: 0.3 + delta_deg.to_radians(),
    };
    let ray = Ray {
        s: na,
        azimuth_rad: 0.3,
    };
    specimen.ray(ray, WAVELENGTH_NM).path_difference_nm
}

#[test]
fn a_first_order_plate_in_a_cone_changes_with_the_ray() {
    let triple = read();
    for row in &triple.rows {
        let quantity = format!("quartz, NA {}, {} deg", row.na, row.delta_deg);
        let got = path_nm("quartz", row.na, row.delta_deg);
        close(&quantity, got, row.expected, triple.tolerance("path_nm"));
    }
}

/// The extraordinary wave's component along the axis of the stack, from its own equation: a wave at angle psi to the optic
/// axis has `1/n^2 = cos^2 psi / no^2 + sin^2 psi / ne^2`. Found by bisection, without the closed form.
fn solved_k_e(no: f64, ne: f64, na: f64, delta_deg: f64) -> f64 {
    let along = na * delta_deg.to_radians().cos();
    let (mut low, mut high) = (0.0, 2.0);
    for _ in 0..100 {
        let k = 0.5 * (low + high);
        let n2 = na * na + k * k;
        let cos2 = along * along / n2;
        if n2 * (cos2 / (no * no) + (1.0 - cos2) / (ne * ne)) < 1.0 {
            low = k;
        } else {
            high = k;
        }
    }
    0.5 * (low + high)
}

#[test]
fn the_closed_form_solves_the_wave_normal_equation() {
    let tolerance = read().tolerance("solved");
    for name in ["quartz", "calcite", "mgf2"] {
        let crystal = catalog::crystal(name).expect("a catalogued crystal");
        let no = crystal.ordinary.at(WAVELENGTH_NM);
        let ne = crystal.extraordinary.at(WAVELENGTH_NM);
        for na in [0.0, 0.3, 0.65, 0.95] {
            for delta_deg in [0.0, 20.0, 45.0, 70.0, 90.0] {
                let k_o = (no * no - na * na).sqrt();
                let k_e = solved_k_e(no, ne, na, delta_deg);
                let expected = 1e3 * THICKNESS_UM * (k_e - k_o);
                let quantity = format!("{name}, NA {na}, {delta_deg} deg");
                close(&quantity, path_nm(name, na, delta_deg), expected, tolerance);
            }
        }
    }
}
