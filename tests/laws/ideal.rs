//! Perfect parts leak nothing, except where geometry makes them.

use std::f64::consts::TAU;

use polstack::light_path::{LightPath, PartKind, run};
use polstack::optics::{Polarizer, Rays};
use proptest::prelude::*;

use crate::common::close;
use crate::paths::{analyzer, ideal_lenses, ideal_sheet, part, polarizer, sheet, stack};

fn light(path: &LightPath, rays: &Rays) -> (f64, f64) {
    let fields = run::fields(path, rays, &[550.0], &[1.0]).unwrap();
    (fields.crossed[0], fields.parallel[0])
}

proptest! {
    /// A lens only carries the p and s directions round; it must not leak by doing so. What is left is the square of the
    /// rounding of an azimuth of up to 8 radians, 1e-15.
    #[test]
    fn ideal_lenses_leak_nothing_at_any_aperture_and_azimuth(na in 0.01..0.99f64, azimuth in -360.0..360.0f64) {
        let mut parts = vec![polarizer(ideal_sheet(), azimuth)];
        parts.extend(ideal_lenses(na));
        parts.push(analyzer(ideal_sheet(), azimuth + 90.0));
        let (crossed, parallel) = light(&stack(na, parts), &Rays::disc(na, 4, 16));
        prop_assert!((0.0..1e-29).contains(&crossed), "{}", crossed);
        close("parallel", parallel, 0.5, 1e-14);
    }
}

/// An ideal sheet above the condenser.
fn sheet_above(na: f64, polar: Polarizer) -> LightPath {
    let azimuth_deg = polar.azimuth_rad.to_degrees();
    let sheet = polar.sheet.clone();
    let [condenser, objective] = ideal_lenses(na);
    let polar = part("lower polar", PartKind::Polarizer(polar));
    let upper = analyzer(sheet, azimuth_deg + 90.0);
    stack(na, vec![condenser, polar, objective, upper])
}

/// A ray at azimuth phi from the passed direction sees the absorbed one, (cos(theta') sin phi, cos phi) in p and s, turned by
/// psi from where it is on the axis: `sin psi = sin phi cos phi (1 - cos theta') / sqrt(cos^2 theta' sin^2 phi + cos^2 phi)`. Half of
/// the lamp's light leaks by sin^2 psi. Mean over the disc by the midpoint rule, whose error falls with the square of the step.
fn foreshortening_leak(na: f64, n_film: f64) -> f64 {
    let (rings, spokes) = (2000, 64);
    let mut sum = 0.0;
    for ring in 0..rings {
        let square = (f64::from(ring) + 0.5) / f64::from(rings);
        let cos = (1.0 - square * (na / n_film).powi(2)).sqrt();
        for spoke in 0..spokes {
            let (s, c) = (TAU * f64::from(spoke) / f64::from(spokes)).sin_cos();
            let sine = s * c * (1.0 - cos) / (cos * s).hypot(c);
            sum += 0.5 * sine * sine;
        }
    }
    sum / f64::from(rings * spokes)
}

#[test]
fn an_ideal_sheet_above_the_condenser_leaks_by_foreshortening_alone() {
    for na in [0.1, 0.25, 0.65, 0.9] {
        for azimuth in [0.0f64, 0.4] {
            let polar = Polarizer::new(ideal_sheet(), azimuth);
            let rays = Rays::disc(na, 10, 64);
            let (crossed, parallel) = light(&sheet_above(na, polar.clone()), &rays);
            let expected = foreshortening_leak(na, 1.5);
            // The midpoint rule over 2000 rings: relative error below 1e-6.
            close(&format!("NA {na}"), crossed / expected, 1.0, 1e-6);
            close("all light", crossed + parallel, 0.5, 1e-14);
            let (straight, _) = light(
                &sheet_above(
                    na,
                    Polarizer {
                        foreshortened: false,
                        ..polar
                    },
                ),
                &rays,
            );
            assert!((0.0..1e-29).contains(&straight), "{straight:e}");
        }
    }
}

/// In small NA the leak grows as its fourth power: mean of `sin^2 phi cos^2 phi s^4/4` over the disc, (NA/n)^4/96 of the
/// parallel light.
#[test]
fn foreshortening_grows_with_the_fourth_power_of_the_aperture() {
    for na in [0.02, 0.05] {
        let path = sheet_above(na, Polarizer::new(ideal_sheet(), 0.0));
        let (crossed, parallel) = light(&path, &Rays::disc(na, 4, 16));
        let expected = (na / 1.5f64).powi(4) / 96.0;
        // The next term of the series is of the order of (NA/n)^2.
        close(
            "crossed over parallel",
            crossed / parallel / expected,
            1.0,
            2e-3,
        );
    }
}

/// The value in the first description of the model (tests/published/SOURCES.md) for a perfect film of k1 0.8, k2 8e-6 above the condenser: one part in 1344 at NA 0.65.
#[test]
fn a_perfect_film_above_the_condenser_leaks_one_part_in_1344() {
    let path = sheet_above(0.65, Polarizer::new(sheet(0.8, 8e-6), 0.0));
    let (crossed, parallel) = light(&path, &Rays::disc(0.65, 10, 48));
    close("parallel over crossed", parallel / crossed, 1344.0, 0.5);
}

/// A sheet passes along the axis what was measured, wherever it lies and whatever its surfaces: also a coated one, whose k1 is more than two bare
/// surfaces of its film let through (0.9216 at an index of 1.5).
#[test]
fn a_sheet_passes_what_was_measured_in_either_place() {
    let na = 1e-4;
    for (k1, k2) in [(0.8, 1e-4), (0.9215, 1e-4), (0.97, 1e-4), (1.0, 1e-2)] {
        let [condenser, objective] = ideal_lenses(na);
        let upper = || analyzer(sheet(k1, k2), 90.0);
        let lower = || polarizer(sheet(k1, k2), 0.0);
        let below = stack(
            na,
            vec![lower(), condenser.clone(), objective.clone(), upper()],
        );
        let above = stack(na, vec![condenser, lower(), objective, upper()]);
        let rays = Rays::disc(na, 2, 8);
        let [(crossed, parallel), (same_crossed, same_parallel)] =
            [light(&below, &rays), light(&above, &rays)];
        close("parallel", same_parallel / parallel, 1.0, 1e-7);
        close("crossed", same_crossed / crossed, 1.0, 1e-7);
        close("as measured", parallel, 0.5 * (k1 * k1 + k2 * k2), 1e-12);
    }
}
