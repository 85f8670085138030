//! Extinction of a microscope: bias, weak specimens, and the surfaces of its lenses. Rotation and leak of single flat surfaces and of
//! slabs are checked in `fresnel.rs`.

use polstack::calculus::Stokes;
use polstack::light_path::{LightPath, Part, PartKind, run};
use polstack::material::{Glass, Index, PolarizingSheet, SheetTransmittance};
use polstack::optics::{Coating, Lens, Polarizer, Rays, Specimen};
use serde::Deserialize;

use super::common::close;
use super::triple::Triple;

const GREEN_NM: f64 = 546.1;
const GLASS: f64 = 1.52;

#[derive(Deserialize)]
struct Row {
    kind: String,
    x: f64,
    expected: f64,
}

fn read() -> Triple<Row> {
    Triple::read(
        include_str!("extinction.csv"),
        include_str!("extinction.toml"),
    )
}

/// A microscope of two lenses of bare surfaces between two sheets.
fn microscope(
    transmittance: SheetTransmittance,
    analyzer_deg: f64,
    (na, surfaces): (f64, u32),
    specimen_nm: f64,
) -> LightPath {
    let part = |kind| Part {
        name: String::new(),
        kind,
        tolerance: None,
    };
    let polar = |deg: f64| {
        let sheet = PolarizingSheet {
            name: String::new(),
            transmittance: transmittance.clone(),
            index: 1.5,
            cover_nm: 0.0,
            cover_is_told: true,
        };
        Polarizer::new(sheet, deg.to_radians())
    };
    let lens = || Lens {
        na,
        immersion: 1.0,
        form: polstack::optics::LensForm::Equal { surfaces },
        glass: Glass {
            name: String::new(),
            index: Index::Constant(GLASS),
            stress_optic_brewster: None,
        },
        coating: Coating::None,
        strain: Vec::new(),
        strain_dispersion: None,
    };
    let specimen = Specimen::Stated {
        path_difference_nm: specimen_nm,
        slow_azimuth_rad: 45f64.to_radians(),
    };
    LightPath {
        // Light that the lower polar passes whole.
        lamp: Stokes([1.0, 1.0, 0.0, 0.0]),
        iris_na: None,
        view_na: None,
        parts: vec![
            part(PartKind::Polarizer(polar(0.0))),
            part(PartKind::Condenser(lens())),
            part(PartKind::Specimen(specimen)),
            part(PartKind::Objective(lens())),
            part(PartKind::Analyzer(polar(analyzer_deg))),
        ],
        stray_fraction: 0.0,
    }
}

fn crossed(path: &LightPath) -> f64 {
    path.check(&[GREEN_NM]).unwrap();
    let rays = Rays::disc(path.na(), 8, 32);
    run::fields(path, &rays, &[GREEN_NM], &[1.0])
        .unwrap()
        .crossed[0]
}

/// Light of an ideal microscope without a leak.
fn through_specimen(path_difference_nm: f64) -> f64 {
    crossed(&microscope(
        SheetTransmittance::Ideal,
        90.0,
        (0.25, 0),
        path_difference_nm,
    ))
}

/// Twice the turn from crossed at which the light changes by the largest fraction a degree.
fn half_shade_deg(extinction: f64) -> f64 {
    // Crossed over parallel 2 k1 k2/(k1^2 + k2^2) = 1/E, for a lamp that is unpolarized.
    let k2 = extinction - (extinction * extinction - 1.0).sqrt();
    let light = |deg: f64| {
        let sheets = SheetTransmittance::Constant { k1: 1.0, k2 };
        let mut path = microscope(sheets, 90.0 + deg, (0.25, 0), 0.0);
        path.lamp = Stokes::UNPOLARIZED;
        crossed(&path)
    };
    let step = 1e-3 / extinction.sqrt();
    let contrast = |deg: f64| (light(deg + step) - light(deg - step)) / light(deg);
    // A golden section search: the contrast has one maximum between the crossed position and 45 degrees.
    let (mut low, mut high) = (0.0, 45.0);
    let golden = 0.5 * (5f64.sqrt() - 1.0);
    for _ in 0..60 {
        let (a, b) = (high - golden * (high - low), low + golden * (high - low));
        if contrast(a) > contrast(b) {
            high = b;
        } else {
            low = a;
        }
    }
    low + high
}

/// The path difference that passes `1/E`.
fn equal_nm(extinction: f64) -> f64 {
    let (mut low, mut high) = (0.0, 0.5 * GREEN_NM);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if through_specimen(middle) * extinction < 1.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}

#[test]
fn bias_and_weak_specimens_follow_the_extinction() {
    let triple = read();
    for row in &triple.rows {
        let tolerance = triple.tolerance(&row.kind);
        let quantity = format!("{} of {}", row.kind, row.x);
        match row.kind.as_str() {
            "bias_deg" | "bias_read_deg" => {
                close(&quantity, half_shade_deg(row.x), row.expected, tolerance);
            }
            "small" => {
                let got = through_specimen(row.x);
                close(&quantity, got / row.expected, 1.0, tolerance);
            }
            "equal_nm" => close(&quantity, equal_nm(row.x) / row.expected, 1.0, tolerance),
            other => panic!("unknown kind {other}"),
        }
    }
}

/// A ray at 45 degrees through all surfaces of both lenses, `[(1 - c^N)/(1 + c^N)]^2` with `c = cos(i - t)`: amplitudes add, so
/// the leak grows with the square of the number of surfaces.
#[test]
fn leak_of_a_microscope_follows_the_number_of_its_surfaces() {
    let tolerance = read().tolerance("surfaces");
    for (na, surfaces) in [(0.25, 2), (0.25, 8), (0.65, 2), (0.65, 6)] {
        let path = |deg| microscope(SheetTransmittance::Ideal, deg, (na, surfaces), 0.0);
        let ray = Rays {
            ring: vec![na],
            sectors: Vec::new(),
            ring_weight: vec![1.0],
            spoke_rad: vec![45f64.to_radians()],
            spoke_weight: vec![1.0],
        };
        let light = |deg| run::crossed_rays(&path(deg), &ray, &[GREEN_NM], &[1.0]).unwrap()[0];
        // Each lens bends the ray by asin(NA), an equal part at each of its surfaces.
        let c = (na.asin() / f64::from(surfaces))
            .cos()
            .powi(2 * surfaces as i32);
        let expected = ((1.0 - c) / (1.0 + c)).powi(2);
        let quantity = format!("{} surfaces at NA {na}", 2 * surfaces);
        close(
            &quantity,
            light(90.0) / light(0.0) / expected,
            1.0,
            tolerance,
        );
    }
}

/// Over the filled aperture `sin^2(2 phi) NA^4` leaves a sixth of what leaks at its edge at 45 degrees.
#[test]
fn the_mean_leak_is_a_sixth_of_the_edge() {
    let tolerance = read().tolerance("mean");
    for na in [0.05, 0.1, 0.25] {
        let path = microscope(SheetTransmittance::Ideal, 90.0, (na, 4), 0.0);
        let ray = Rays {
            ring: vec![na],
            sectors: Vec::new(),
            ring_weight: vec![1.0],
            spoke_rad: vec![45f64.to_radians()],
            spoke_weight: vec![1.0],
        };
        let edge = run::crossed_rays(&path, &ray, &[GREEN_NM], &[1.0]).unwrap()[0];
        let tolerance = tolerance * na * na;
        close(
            &format!("mean over edge at NA {na}"),
            6.0 * crossed(&path) / edge,
            1.0,
            tolerance,
        );
    }
}
