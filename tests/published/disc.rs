//! Strain of a disc pressed at its rim, and of an annealed one.

use std::f64::consts::PI;

use polstack::optics::{LinearElement, LocalStrain, RadialSlow, Rays, Strain};
use serde::Deserialize;

use super::common::close;
use super::triple::Triple;

const DIAMETER_MM: f64 = 25.0;
const THICKNESS_MM: f64 = 5.0;
const FORCE_N: f64 = 10.0;
const LINE_NM: f64 = 546.1;

#[derive(Deserialize)]
struct Row {
    kind: String,
    contacts: Option<u32>,
    x: Option<f64>,
    y: Option<f64>,
    azimuth_deg: Option<f64>,
    expected: f64,
}

fn clamp(contacts: u32, force_n: f64, diameter_mm: f64, first_deg: f64, brewster: f64) -> Strain {
    Strain::Clamp {
        contacts,
        force_n,
        diameter_mm,
        first_azimuth_rad: first_deg.to_radians(),
        stress_optic_brewster: brewster,
    }
}

/// The disc of the table, pressed along y, at a point in mm: path difference of 1 Brewster.
fn of_table(x_mm: f64, y_mm: f64) -> LocalStrain {
    let radius = 0.5 * DIAMETER_MM;
    clamp(2, FORCE_N, DIAMETER_MM, 90.0, 1.0)
        .at(x_mm / radius, y_mm / radius)
        .unwrap()
}

/// A disc whose path difference in nm is the stress difference in units of P/(pi D t): `Gamma = C P k / (pi D)`.
fn in_units(contacts: u32, r: f64, azimuth_deg: f64) -> f64 {
    let (sin, cos) = azimuth_deg.to_radians().sin_cos();
    let strain = clamp(contacts, PI, 1.0, 0.0, 1.0);
    strain.at(r * cos, r * sin).unwrap().path_difference_nm
}

/// Root of the mean square over `r < limit`, by the program's own rays (Gauss-Legendre in r^2, even azimuths).
fn rms(contacts: u32, limit: f64) -> f64 {
    let rays = Rays::disc(limit, 60, 360);
    let mean: f64 = rays
        .iter()
        .map(|(ray, weight)| {
            weight * in_units(contacts, ray.s, ray.azimuth_rad.to_degrees()).powi(2)
        })
        .sum();
    mean.sqrt()
}

/// The azimuth of an axis in degrees, -90 to 90.
fn axis_deg(azimuth_rad: f64) -> f64 {
    (azimuth_rad.to_degrees() + 90.0).rem_euclid(180.0) - 90.0
}

fn annealed_leak(edge_nm: f64) -> f64 {
    let strain = Strain::Radial {
        edge_nm,
        slow: RadialSlow::Tangential,
        along: polstack::optics::RadialAlong::Axis,
    };
    let rays = Rays::disc(1.0, 20, 32);
    rays.iter()
        .map(|(ray, weight)| {
            let (sin, cos) = ray.azimuth_rad.sin_cos();
            let local = strain.at(ray.s * cos, ray.s * sin).unwrap();
            let phase = 2.0 * PI * local.path_difference_nm / LINE_NM;
            let jones = LinearElement::retarder(local.slow_azimuth_rad, phase).jones();
            weight * jones.0[(1, 0)].norm_sqr()
        })
        .sum()
}

fn got(row: &Row) -> Option<f64> {
    Some(match row.kind.as_str() {
        "table_mpa" => of_table(row.x?, row.y?).path_difference_nm / THICKNESS_MM,
        "sigma_1_deg" => axis_deg(of_table(row.x?, row.y?).slow_azimuth_rad),
        "units" | "units_5" => in_units(row.contacts?, row.x?, row.azimuth_deg?),
        "rms" => rms(row.contacts?, row.x?),
        "centre_nm" | "leak" => {
            let strain = clamp(row.contacts?, FORCE_N, DIAMETER_MM, 90.0, row.azimuth_deg?);
            let path_nm = strain.at(0.0, 0.0)?.path_difference_nm;
            if row.kind == "leak" {
                (PI * path_nm / LINE_NM).sin().powi(2)
            } else {
                path_nm
            }
        }
        "annealed_leak" => annealed_leak(row.x?),
        _ => return None,
    })
}

#[test]
fn pressed_and_annealed_discs_agree_with_elasticity() {
    let triple: Triple<Row> = Triple::read(include_str!("disc.csv"), include_str!("disc.toml"));
    for row in &triple.rows {
        let quantity = format!(
            "{} of {:?} contacts at ({:?}, {:?}), {:?}",
            row.kind, row.contacts, row.x, row.y, row.azimuth_deg
        );
        let got = got(row).expect("a known kind with its numbers");
        close(&quantity, got, row.expected, triple.tolerance(&row.kind));
    }
}

/// Hertz's stresses in full, x and y in units of the radius, result in P/(pi R t): another form than the program's sum of
/// fields in polar coordinates.
fn hertz(x: f64, y: f64) -> (f64, f64) {
    let (r1, r2) = (
        (x * x + (1.0 - y).powi(2)).powi(2),
        (x * x + (1.0 + y).powi(2)).powi(2),
    );
    let sigma_x = -2.0 * ((1.0 - y) * x * x / r1 + (1.0 + y) * x * x / r2 - 0.5);
    let sigma_y = -2.0 * ((1.0 - y).powi(3) / r1 + (1.0 + y).powi(3) / r2 - 0.5);
    let tau = 2.0 * ((1.0 - y).powi(2) * x / r1 - (1.0 + y).powi(2) * x / r2);
    (sigma_x - sigma_y, 2.0 * tau)
}

/// Over the disc, as (difference, shear) so that axes count too. Roundings of numbers of order 100 near the contacts.
#[test]
fn two_forces_give_hertz_stresses_everywhere() {
    // Gamma = 2 C P k / D with k in P/(R t), so this path difference in nm is k pi.
    let strain = clamp(2, 1.0, 2.0, 90.0, PI);
    for ring in 1..20 {
        for spoke in 0..36 {
            let (r, azimuth) = (
                0.05 * f64::from(ring),
                (10.0 * f64::from(spoke)).to_radians(),
            );
            let (x, y) = (r * azimuth.cos(), r * azimuth.sin());
            let local = strain.at(x, y).unwrap();
            let (sin, cos) = (2.0 * local.slow_azimuth_rad).sin_cos();
            let (difference, shear) = hertz(x, y);
            let scale = 1.0 + difference.hypot(shear);
            let path_nm = local.path_difference_nm;
            close(
                "difference",
                path_nm * cos / scale,
                difference / scale,
                1e-13,
            );
            close("shear", path_nm * sin / scale, shear / scale, 1e-13);
        }
    }
}

/// On the diameter across the load the difference is `8 (1 - xi^2)/(1 + xi^2)^2`, down to nothing at the rim.
#[test]
fn across_the_load_the_stress_falls_to_nothing_at_the_rim() {
    for xi in [0.0, 0.1, 0.5, 0.9, 1.0] {
        let square: f64 = xi * xi;
        let expected = 8.0 * (1.0 - square) / (1.0 + square).powi(2);
        close(
            &format!("xi = {xi}"),
            in_units(2, xi, 90.0),
            expected,
            1e-14,
        );
    }
}

/// Nothing pulls along the rim between the contacts, so the principal axes there are the radius and the rim itself. (That
/// nothing pulls across the rim needs the mean stress, which no path difference shows.)
#[test]
fn the_rim_carries_no_shear_between_the_contacts() {
    for contacts in [2, 3, 4, 5] {
        let strain = clamp(contacts, 7.0, 30.0, 17.0, 2.5);
        for step in 0..72 {
            let from_contact = 5.0 * f64::from(step);
            let spacing = 360.0 / f64::from(contacts);
            let near = (from_contact + 4.0).rem_euclid(spacing) < 8.0;
            let azimuth = (17.0 + from_contact).to_radians();
            let local = strain.at(azimuth.cos(), azimuth.sin()).unwrap();
            if !near {
                let shear =
                    local.path_difference_nm * (2.0 * (local.slow_azimuth_rad - azimuth)).sin();
                close(
                    &format!("{contacts} contacts, {from_contact} deg"),
                    shear,
                    0.0,
                    1e-13,
                );
            }
        }
    }
}

/// C > 0: under two opposed forces the slow axis at the centre lies across them, along the tension.
#[test]
fn the_slow_axis_lies_across_a_compression() {
    for load_deg in [0.0, 30.0, 90.0, 135.0] {
        let local = clamp(2, 5.0, 26.0, load_deg, 2.77).at(0.0, 0.0).unwrap();
        let across = axis_deg((load_deg + 90.0).to_radians());
        let got = axis_deg(local.slow_azimuth_rad);
        let apart = axis_deg((got - across).to_radians());
        close(&format!("load at {load_deg} deg"), apart, 0.0, 1e-12);
    }
}
