//! Crystals cut across their axis: path differences, and the dark rings that are seen.

use polstack::calculus::Stokes;
use polstack::light_path::{LightPath, Part, PartKind, run};
use polstack::material::{Glass, Index, PolarizingSheet, SheetTransmittance, catalog};
use polstack::optics::{Coating, Lens, LensForm, Polarizer, Ray, Rays, Specimen};
use serde::Deserialize;

use super::common::close;
use super::triple::Triple;

const WAVELENGTH_NM: f64 = 589.3;

#[derive(Deserialize)]
struct Row {
    kind: String,
    crystal: String,
    thickness_um: f64,
    x: f64,
    expected: f64,
}

fn read() -> Triple<Row> {
    Triple::read(
        include_str!("across_plates.csv"),
        include_str!("across_plates.toml"),
    )
}

fn specimen(row: &Row) -> Specimen {
    Specimen::Across {
        crystal: catalog::crystal(&row.crystal).expect("a catalogued crystal"),
        thickness_um: row.thickness_um,
    }
}

#[test]
fn path_difference_across_the_axis_grows_with_the_square_of_the_aperture() {
    let triple = read();
    for row in triple.rows.iter().filter(|row| row.kind == "path_nm") {
        let ray = Ray {
            s: row.x,
            azimuth_rad: 0.7,
        };
        let seen = specimen(row).ray(ray, WAVELENGTH_NM);
        let tolerance = triple.tolerance(match row.crystal.as_str() {
            "quartz" => "path_quartz_nm",
            _ => "path_nm",
        });
        let quantity = format!("{}, NA {}", row.crystal, row.x);
        close(&quantity, seen.path_difference_nm, row.expected, tolerance);
        close("vibration", seen.azimuth_rad, 0.7, 0.0);
    }
}

/// The crystal between ideal lenses and ideal crossed polars.
fn microscope(specimen: Specimen) -> LightPath {
    let part = |kind| Part {
        name: String::new(),
        kind,
        tolerance: None,
    };
    let polar = |deg: f64| {
        let sheet = PolarizingSheet {
            name: String::new(),
            transmittance: SheetTransmittance::Ideal,
            index: 1.5,
            cover_nm: 0.0,
            cover_is_told: true,
        };
        Polarizer::new(sheet, deg.to_radians())
    };
    let lens = || Lens {
        na: 0.95,
        immersion: 1.0,
        form: LensForm::Equal { surfaces: 0 },
        glass: Glass {
            name: String::new(),
            index: Index::Constant(1.5),
            stress_optic_brewster: None,
        },
        coating: Coating::Ideal,
        strain: Vec::new(),
        strain_dispersion: None,
    };
    LightPath {
        lamp: Stokes::UNPOLARIZED,
        iris_na: None,
        view_na: None,
        parts: vec![
            part(PartKind::Polarizer(polar(0.0))),
            part(PartKind::Condenser(lens())),
            part(PartKind::Specimen(specimen)),
            part(PartKind::Objective(lens())),
            part(PartKind::Analyzer(polar(90.0))),
        ],
        stray_fraction: 0.0,
    }
}

/// Numerical apertures of the dark rings along the spoke at 45 degrees, found from the light alone: the least of three neighbours, then a
/// parabola through them.
fn dark_rings(path: &LightPath, na: f64) -> Vec<f64> {
    let step = na / 4000.0;
    let ring: Vec<f64> = (1..=4000).map(|k| step * f64::from(k)).collect();
    let rays = Rays {
        sectors: Vec::new(),
        ring_weight: vec![1.0; ring.len()],
        spoke_rad: vec![45f64.to_radians()],
        spoke_weight: vec![1.0],
        ring,
    };
    let light = run::crossed_rays(path, &rays, &[WAVELENGTH_NM], &[1.0]).expect("light");
    (1..light.len() - 1)
        .filter(|&k| light[k] < light[k - 1] && light[k] <= light[k + 1])
        .map(|k| {
            let (a, b, c) = (light[k - 1], light[k], light[k + 1]);
            rays.ring[k] + step * 0.5 * (a - c) / (a - 2.0 * b + c)
        })
        .collect()
}

#[test]
fn dark_rings_stand_where_the_path_difference_is_a_whole_wavelength() {
    let triple = read();
    for row in triple.rows.iter().filter(|row| row.kind == "ring_na") {
        let path = microscope(specimen(row));
        let rings = dark_rings(&path, if row.thickness_um > 500.0 { 0.2 } else { 0.9 });
        let got = rings[row.x as usize - 1];
        let quantity = format!("{} um, ring {}", row.thickness_um, row.x);
        let tolerance = triple.tolerance("ring_na") * row.expected;
        close(&quantity, got, row.expected, tolerance);
    }
}
