//! Flat interfaces and slides against Fresnel's formulas.

use polstack::calculus::{Complex, Jones};
use polstack::material::Index;
use polstack::optics::{Slide, flat_interface};
use serde::Deserialize;

use super::common::close;
use super::triple::Triple;

#[derive(Deserialize)]
struct Row {
    kind: String,
    n: f64,
    angle_deg: Option<f64>,
    expected: f64,
}

/// Crossed over parallel for light that vibrates at 45 degrees to the plane of incidence.
fn leak((p, s): (f64, f64)) -> f64 {
    let jones = Jones::linear(Complex::from(p), Complex::from(s), 45f64.to_radians());
    (jones.0[(1, 0)] / jones.0[(0, 0)]).norm_sqr()
}

fn got(row: &Row) -> Option<f64> {
    let n = row.n;
    let reflected = |(p, s): (f64, f64)| (1.0 - p * p, 1.0 - s * s);
    let normal = reflected(flat_interface(1.0, n, 0.0)).0;
    Some(match row.kind.as_str() {
        "r0" => normal,
        "slab_t" => (1.0 - normal) / (1.0 + normal),
        "brewster_deg" => least_p(n),
        "critical_deg" => last_transmitted(n),
        kind => {
            let sine = row.angle_deg?.to_radians().sin();
            let outside = flat_interface(1.0, n, sine);
            let slide = Slide {
                glass: Index::Constant(n),
                mount: Index::Constant(n),
            };
            match kind {
                "r_s" => reflected(outside).1,
                "r_p" => reflected(outside).0,
                "t_s" => outside.1 * outside.1,
                "t_p" => outside.0 * outside.0,
                "p_over_s" => outside.0 / outside.1,
                "r_s_inside" => reflected(flat_interface(n, 1.0, n * sine)).1,
                "r_p_inside" => reflected(flat_interface(n, 1.0, n * sine)).0,
                "rotation_deg" => 45.0 - (outside.1 / outside.0).atan().to_degrees(),
                "leak_1" => leak(outside),
                "leak_slab" => leak(slide.transmittances(1.0, 1.0, sine, 550.0)),
                _ => return None,
            }
        }
    })
}

/// The angle in degrees at which the p vibration is least reflected, by bisection on the slope of its transmittance.
fn least_p(n: f64) -> f64 {
    let transmitted = |deg: f64| flat_interface(1.0, n, deg.to_radians().sin()).0;
    bisect(40.0, 80.0, |deg| {
        transmitted(deg + 0.02) > transmitted(deg - 0.02)
    })
}

/// The steepest angle in degrees inside the glass at which anything leaves it.
fn last_transmitted(n: f64) -> f64 {
    bisect(0.0, 90.0, |deg| {
        let (p, s) = flat_interface(n, 1.0, n * deg.to_radians().sin());
        p.is_finite() && s.is_finite()
    })
}

/// Where `holds` stops to hold.
fn bisect(mut low: f64, mut high: f64, holds: impl Fn(f64) -> bool) -> f64 {
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if holds(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

#[test]
fn flat_surfaces_obey_fresnel() {
    let triple: Triple<Row> =
        Triple::read(include_str!("fresnel.csv"), include_str!("fresnel.toml"));
    for row in &triple.rows {
        let got = got(row).expect("a known kind");
        let tolerance = triple.tolerance(&row.kind);
        let quantity = format!("{} of {} at {:?} deg", row.kind, row.n, row.angle_deg);
        if row.kind.starts_with("leak") {
            close(&quantity, got / row.expected, 1.0, tolerance);
        } else {
            close(&quantity, got, row.expected, tolerance);
        }
    }
}

/// `R_p = R_s^2` at 45 degrees for any glass: holds in the formulas exactly, here to rounding.
#[test]
fn at_45_degrees_the_p_reflectance_is_the_square_of_the_s_reflectance() {
    for n in [1.1, 1.333, 1.5168, 1.85, 2.4] {
        let (p, s) = flat_interface(1.0, n, 45f64.to_radians().sin());
        let r_s = 1.0 - s * s;
        close(&format!("R_p of {n}"), 1.0 - p * p, r_s * r_s, 1e-15);
    }
}

/// The leak of `N` equal surfaces is `[(1-c^N)/(1+c^N)]^2`, so a lens group of `N` bare surfaces that each bend by beta leaks
/// as if `c = cos(beta)`.
#[test]
fn leak_of_many_surfaces_adds_in_amplitude() {
    let sine = 30f64.to_radians().sin();
    let (p, s) = flat_interface(1.0, 1.5168, sine);
    let c = s / p;
    for count in [1, 2, 4, 8] {
        let expected = ((1.0 - c.powi(count)) / (1.0 + c.powi(count))).powi(2);
        let lens = polstack::optics::Lens {
            na: 1.0,
            immersion: 1.0,
            form: polstack::optics::LensForm::Equal {
                surfaces: count as u32,
            },
            glass: polstack::material::Glass {
                name: String::new(),
                index: Index::Constant(1.5168),
                stress_optic_brewster: None,
            },
            coating: polstack::optics::Coating::None,
            strain: Vec::new(),
            strain_dispersion: None,
        };
        // Each surface bends by i - t at an incidence of 30 degrees; the group's deviation is their sum.
        let bend = 30f64.to_radians() - (sine / 1.5168).asin();
        let deviation = bend * f64::from(count);
        assert!(deviation < std::f64::consts::FRAC_PI_2);
        let (tp, ts) = lens.amplitudes(deviation, 550.0, 1.0).unwrap();
        let got = leak((tp.re, ts.re));
        close(&format!("{count} surfaces"), got / expected, 1.0, 1e-11);
    }
}
