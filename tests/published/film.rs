//! Sheets under oblique rays.

use std::f64::consts::FRAC_PI_2;

use polstack::material::{PolarizingSheet, SheetTransmittance};
use polstack::optics::{LinearElement, Polarizer, Ray, Rays};
use serde::Deserialize;

use super::common::close;
use super::triple::Triple;

#[derive(Deserialize)]
struct Row {
    kind: String,
    angle: f64,
    azimuth_deg: Option<f64>,
    expected: f64,
}

/// An ideal film at one ray, by the azimuth that it absorbs.
fn film(absorbed_rad: f64, ray: Ray) -> LinearElement {
    let sheet = PolarizingSheet {
        name: String::new(),
        transmittance: SheetTransmittance::Ideal,
        index: 1.5,
        cover_nm: 0.0,
        cover_is_told: true,
    };
    let polarizer = Polarizer::new(sheet, absorbed_rad + FRAC_PI_2);
    let seen = polarizer.film_ray(ray);
    let (passed, absorbed) = seen.amplitudes(polarizer.absorbances(550.0).unwrap());
    LinearElement::real(seen.absorbed_azimuth_rad, absorbed, passed)
}

/// Fraction of the light behind the first sheet that the second one passes.
fn leak(ray: Ray) -> f64 {
    let [first, second] = [0.0, FRAC_PI_2].map(|azimuth| film(azimuth, ray).jones());
    (second * first).transmittance() / first.transmittance()
}

fn got(row: &Row) -> Option<f64> {
    let ray = || {
        Some(Ray {
            s: row.angle.to_radians().sin(),
            azimuth_rad: row.azimuth_deg?.to_radians(),
        })
    };
    Some(match row.kind.as_str() {
        "ray" | "exact" => leak(ray()?),
        "quarter_e" => 1.0 / leak(ray()?),
        // s^4 and its even powers: twelve rings and 48 spokes carry far more than the digits given.
        _ => {
            let rays = Rays::disc(row.angle, 12, 48);
            1.0 / rays
                .iter()
                .map(|(ray, weight)| weight * leak(ray))
                .sum::<f64>()
        }
    })
}

#[test]
fn crossed_ideal_sheets_leak_obliquely_as_yeh_and_gu_say() {
    let triple: Triple<Row> = Triple::read(include_str!("film.csv"), include_str!("film.toml"));
    for row in &triple.rows {
        let got = got(row).expect("a ray has an azimuth");
        let tolerance = triple.tolerance(&row.kind);
        let quantity = format!("{} of {}, {:?} deg", row.kind, row.angle, row.azimuth_deg);
        if matches!(row.kind.as_str(), "exact" | "quarter_e") {
            close(&quantity, got, row.expected, tolerance);
        } else {
            close(&quantity, got / row.expected, 1.0, tolerance);
        }
    }
}

/// The same formula at any ray, not only at those of the table.
#[test]
fn the_leak_of_every_ray_follows_the_closed_form() {
    for ring in 1..=10 {
        for spoke in 0..24 {
            let ray = Ray {
                s: 0.1 * f64::from(ring),
                azimuth_rad: f64::to_radians(15.0 * f64::from(spoke) + 3.0),
            };
            let square = (ray.s / 1.5).powi(2);
            let (sin, cos) = ray.azimuth_rad.sin_cos();
            let expected = (square * sin * cos).powi(2)
                / ((1.0 - square * cos * cos) * (1.0 - square * sin * sin));
            close(&format!("{ray:?}"), leak(ray), expected, 1e-15);
        }
    }
}
