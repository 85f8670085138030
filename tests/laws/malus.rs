//! Sheets turned against each other.

use polstack::calculus::Stokes;
use polstack::light_path::{LightPath, run};
use polstack::material::PolarizingSheet;
use polstack::optics::{Coating, Rays};
use proptest::prelude::*;

use crate::common::close;
use crate::paths::{analyzer, ideal_lenses, ideal_sheet, polarizer, sheet, stack};

/// Sheets at azimuths in degrees in front of and behind ideal lenses.
fn sheets(sheet: &PolarizingSheet, lower_deg: &[f64], upper_deg: f64) -> LightPath {
    let mut parts: Vec<_> = (lower_deg.iter())
        .map(|&azimuth| polarizer(sheet.clone(), azimuth))
        .collect();
    parts.extend(ideal_lenses(0.25));
    parts.push(analyzer(sheet.clone(), upper_deg));
    stack(0.25, parts)
}

/// `(crossed, parallel)` at one wavelength; in a stack with ideal lenses every ray is like every other.
fn light(path: &LightPath) -> (f64, f64) {
    let rays = Rays::disc(path.na(), 2, 5);
    let fields = run::fields(path, &rays, &[550.0], &[1.0]).unwrap();
    (fields.crossed[0], fields.parallel[0])
}

proptest! {
    /// Azimuths of up to 13 radians are rounded by 1e-15, and twice the angle between them counts.
    #[test]
    fn malus_law_holds_for_ideal_sheets(lower in -360.0..360.0f64, angle in -360.0..360.0f64) {
        let (got, parallel) = light(&sheets(&ideal_sheet(), &[lower], lower + angle));
        close("passed", got, 0.5 * angle.to_radians().cos().powi(2), 1e-14);
        close("parallel", parallel, 0.5, 1e-15);
    }

    /// `K0 cos^2 + K90 sin^2`, with `K0 = (k1^2 + k2^2)/2` and `K90 = k1 k2`.
    #[test]
    fn malus_law_holds_for_real_sheets(
        k1 in 0.1..1.0f64, leak in 0.0..1.0f64, lower in -360.0..360.0f64, angle in -360.0..360.0f64,
    ) {
        let k2 = k1 * leak * leak * leak;
        let (along, across) = (0.5 * (k1 * k1 + k2 * k2), k1 * k2);
        let (got, parallel) = light(&sheets(&sheet(k1, k2), &[lower], lower + angle));
        let (sin, cos) = angle.to_radians().sin_cos();
        close("passed", got, along * cos * cos + across * sin * sin, 1e-14);
        close("parallel pair", parallel, along, 1e-14);
        let (crossed, _) = light(&sheets(&sheet(k1, k2), &[lower], lower + 90.0));
        close("crossed pair", crossed, across, 1e-14);
    }

    /// A sheet that meets polarized light follows the law by itself.
    #[test]
    fn a_polarized_lamp_obeys_malus_at_the_first_sheet(lamp in 0.0..180.0f64, lower in 0.0..180.0f64) {
        let mut path = sheets(&ideal_sheet(), &[lower], lower);
        path.lamp = Stokes([1.0, 1.0, 0.0, 0.0]).turned(lamp.to_radians());
        let (got, _) = light(&path);
        close("passed", got, (lamp - lower).to_radians().cos().powi(2), 1e-14);
    }

    /// `1/2 cos^2N(90 deg / N)` through N + 1 sheets that turn from 0 to 90 degrees in equal steps.
    #[test]
    fn a_ladder_of_sheets_carries_light_through_crossed_ends(steps in 2u32..40) {
        let step = 90.0 / f64::from(steps);
        let lower: Vec<f64> = (0..steps).map(|k| step * f64::from(k)).collect();
        let (got, _) = light(&sheets(&ideal_sheet(), &lower, 90.0));
        let expected = 0.5 * step.to_radians().cos().powi(2 * steps as i32);
        close("passed", got, expected, 1e-13);
    }
}

/// However good its lenses, a path of one sheet pair can be no darker than its sheets, whatever stands at the side of the lamp.
#[test]
fn a_pair_is_as_dark_as_its_sheets_at_every_aperture() {
    for na in [0.01, 0.25, 0.65, 0.95] {
        let mut parts = vec![polarizer(sheet(0.8, 8e-6), 0.0)];
        parts.extend(ideal_lenses(na));
        parts.push(analyzer(sheet(0.8, 8e-6), 90.0));
        let (crossed, parallel) = light(&stack(na, parts));
        close("crossed", crossed, 6.4e-6, 1e-19);
        close("parallel", parallel, 0.320_000_000_032, 1e-15);
    }
}

#[test]
fn lenses_without_surfaces_and_ideal_coatings_are_the_same() {
    let lens = |surfaces, coating| crate::paths::lens(0.65, surfaces, coating, Vec::new());
    for deviation_rad in [0.1, 0.65] {
        let none = lens(0, Coating::None).amplitudes(deviation_rad, 550.0, 1.0);
        let ideal = lens(6, Coating::Ideal).amplitudes(deviation_rad, 550.0, 1.0);
        assert_eq!(none, ideal);
        assert_eq!(none.unwrap(), (1.0.into(), 1.0.into()));
    }
}
