//! How much strain there is, more or less of it, and turned.

use std::f64::consts::PI;

use polstack::optics::{LocalStrain, RadialSlow, Strain, StrainMap};

use crate::common::close;

fn clamp(contacts: u32) -> Strain {
    Strain::Clamp {
        contacts,
        force_n: 3.0,
        diameter_mm: 20.0,
        first_azimuth_rad: 0.4,
        stress_optic_brewster: 2.75,
    }
}

/// A radial strain of 12 nm at the rim as a table of 41 x 41 points.
fn radial_map() -> Strain {
    let steps = || (-20..=20).map(|k| f64::from(k) / 20.0);
    let nodes: Vec<_> = steps()
        .flat_map(|x| steps().map(move |y| (x, y, 12.0 * (x * x + y * y), y.atan2(x))))
        .collect();
    Strain::Map(StrainMap::new(&nodes).unwrap())
}

fn all() -> [Strain; 5] {
    [
        Strain::Uniform {
            path_difference_nm: 7.0,
            slow_azimuth_rad: 0.3,
        },
        Strain::Radial {
            edge_nm: 12.0,
            slow: RadialSlow::Tangential,
            along: polstack::optics::RadialAlong::Axis,
        },
        clamp(2),
        clamp(3),
        radial_map(),
    ]
}

/// Path difference times `(cos, sin)(2 azimuth)`.
fn vector(local: LocalStrain) -> [f64; 2] {
    let (sin, cos) = (2.0 * local.slow_azimuth_rad).sin_cos();
    [cos, sin].map(|v| local.path_difference_nm * v)
}

#[test]
fn amounts_are_the_profiles_own_numbers_or_the_mean_square_of_the_middle() {
    close("uniform", all()[0].amount_nm(), 7.0, 0.0);
    close("radial", all()[1].amount_nm(), 12.0, 0.0);
    // rms of sigma_1 - sigma_2 over r < 0.8 R in units of P/(pi D t): the values of check D, the first worked out anew.
    for (contacts, rms) in [(2, 7.0574), (3, 7.117)] {
        let amount = clamp(contacts).amount_nm() / (2.75 * 3.0 / (PI * 20.0));
        close("clamp", amount, rms, 5e-4);
    }
    // rms of 12 r^2 over r < 0.8: 12 x 0.64 / sqrt 3; the table is linear between its points.
    close("map", radial_map().amount_nm(), 7.68 / 3f64.sqrt(), 0.02);
}

#[test]
fn more_of_a_strain_is_the_same_pattern() {
    for strain in all() {
        for factor in [0.0, 0.25, 3.0, -2.0] {
            let scaled = strain.scaled(factor);
            // What comes from a mean square has no sign.
            let signed = matches!(strain, Strain::Uniform { .. } | Strain::Radial { .. });
            let expected = factor * strain.amount_nm();
            let expected = if signed { expected } else { expected.abs() };
            close("amount", scaled.amount_nm(), expected, 1e-12);
            for (x, y) in [(0.1, 0.2), (-0.5, 0.3), (0.0, -0.9)] {
                let (a, b) = (strain.at(x, y).unwrap(), scaled.at(x, y).unwrap());
                for (a, b) in vector(a).into_iter().zip(vector(b)) {
                    close("local strain", b, factor * a, 1e-11);
                }
            }
        }
    }
}

#[test]
fn a_turned_strain_is_the_same_seen_by_a_turned_observer() {
    for strain in all() {
        for angle in [0.3, -2.0, 0.5 * PI] {
            let turned = strain.turned(angle);
            // The rays of the mean see a turned table at other points.
            let tolerance = if matches!(strain, Strain::Map(_)) {
                2e-3
            } else {
                1e-9
            };
            close("amount", turned.amount_nm(), strain.amount_nm(), tolerance);
            let uniform = matches!(strain, Strain::Uniform { .. });
            for (r, phi) in [(0.1, 0.2), (0.6, 2.3), (0.9, -0.9)] {
                let at = |strain: &Strain, phi: f64| {
                    let (sin, cos) = phi.sin_cos();
                    strain.at(r * cos, r * sin).unwrap()
                };
                let mut before = at(&strain, if uniform { phi } else { phi - angle });
                before.slow_azimuth_rad += angle;
                for (a, b) in vector(before).into_iter().zip(vector(at(&turned, phi))) {
                    close("local strain", b, a, 1e-11);
                }
            }
        }
    }
}

#[test]
fn a_strain_turned_by_its_period_is_the_same() {
    for strain in all() {
        // A radial one is the same after any turn.
        let turned = strain.turned(strain.period_rad().unwrap_or(1.0));
        for (x, y) in [(0.1, 0.2), (-0.5, 0.3), (0.0, -0.9)] {
            let (a, b) = (strain.at(x, y).unwrap(), turned.at(x, y).unwrap());
            for (a, b) in vector(a).into_iter().zip(vector(b)) {
                close("local strain", b, a, 1e-11);
            }
        }
    }
}
