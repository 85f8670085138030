//! How far quartz turns light along its axis.

use polstack::material::catalog;
use polstack::optics::{Ray, Specimen};
use serde::Deserialize;

use super::common::close;
use super::triple::Triple;

#[derive(Deserialize)]
struct Row {
    line: String,
    wavelength_nm: f64,
    digits: u32,
    deg_per_mm: f64,
}

#[test]
fn quartz_turns_light_along_its_axis_as_published() {
    let triple: Triple<Row> =
        Triple::read(include_str!("rotation.csv"), include_str!("rotation.toml"));
    let crystal = catalog::crystal("quartz").unwrap();
    let section = Specimen::Across {
        crystal: crystal.clone(),
        thickness_um: 1000.0,
    };
    for row in &triple.rows {
        let power = crystal.rotation.as_ref().unwrap();
        let relative = triple.tolerance(match row.digits {
            3 => "three_digits",
            _ => "two_digits",
        });
        let tolerance = relative * row.deg_per_mm;
        let got = power.deg_per_mm(row.wavelength_nm);
        close(&row.line, got, row.deg_per_mm, tolerance);
        // The same out of the specimen: half the phase between the circular vibrations.
        let axis = Ray {
            s: 0.0,
            azimuth_rad: 0.0,
        };
        let nm = section.ray(axis, row.wavelength_nm).circular_nm;
        let turned = (std::f64::consts::PI * nm / row.wavelength_nm).to_degrees();
        close(&row.line, -turned, row.deg_per_mm, tolerance);
    }
}
