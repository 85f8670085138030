//! A quarter-wave antireflection layer on a lens surface.

use std::f64::consts::{FRAC_PI_2, TAU};

use polstack::calculus::Complex;
use polstack::optics::{coated_surfaces, flat_interface};
use serde::Deserialize;

use super::common::close;
use super::triple::Triple;

const GLASS: f64 = 1.5185;
const LAYER: f64 = 1.3785;
const DESIGN_NM: f64 = 550.0;

#[derive(Deserialize)]
struct Row {
    angle_deg: f64,
    bare: f64,
    coated: f64,
    phase_deg: f64,
    r_s: f64,
    r_p: f64,
}

fn read() -> Triple<Row> {
    Triple::read(include_str!("coating.csv"), include_str!("coating.toml"))
}

#[test]
fn a_coating_trades_diattenuation_for_phase() {
    let triple = read();
    let [ratio, phase, reflectance] =
        ["ratio", "phase_deg", "reflectance"].map(|name| triple.tolerance(name));
    for row in &triple.rows {
        let angle = row.angle_deg.to_radians();
        let at = |what: &str| format!("{what} at {} deg", row.angle_deg);
        let (p, s) = flat_interface(1.0, GLASS, angle.sin());
        close(&at("bare t_p/t_s"), p / s, row.bare, ratio);
        let (p, s) = coated_surfaces(LAYER, DESIGN_NM, GLASS, angle, 550.0, 1.0);
        close(&at("coated t_p/t_s"), (p / s).norm(), row.coated, ratio);
        let got = (p / s).arg().to_degrees();
        close(&at("phase p - s"), got, row.phase_deg, phase);
        close(&at("R_s"), 1.0 - s.norm_sqr(), row.r_s, reflectance);
        close(&at("R_p"), 1.0 - p.norm_sqr(), row.r_p, reflectance);
    }
}

/// Amplitude reflection and transmission `(r, t)` of a surface with admittances `a` and `b`, fields unnormalised.
fn surface(a: f64, b: f64) -> (f64, f64) {
    ((a - b) / (a + b), 2.0 * a / (a + b))
}

/// The layer by adding up its multiple reflections, `t = t1 t2 e^(i d) / (1 + r1 r2 e^(2 i d))`: each passage through the
/// layer is `exp(+i d)` in exp(i(kz - wt)). Another route than the characteristic matrix, and one that fixes the sign.
fn airy(admittances: [f64; 3], phase: f64) -> Complex {
    let [air, layer, glass] = admittances;
    let ((r1, t1), (r2, t2)) = (surface(air, layer), surface(layer, glass));
    let sum = Complex::cis(phase) * t1 * t2 / (1.0 + Complex::cis(2.0 * phase) * r1 * r2);
    sum * (glass / air).sqrt()
}

#[test]
fn the_characteristic_matrix_is_the_sum_of_all_reflections() {
    let tolerance = read().tolerance("airy");
    for (degrees, wavelength_nm) in [(0.0, 550.0), (30.0, 400.0), (40.5, 550.0), (75.0, 780.0)] {
        let angle = f64::to_radians(degrees);
        let cosine = |n: f64| (1.0 - (angle.sin() / n).powi(2)).sqrt();
        let phase = TAU * 0.25 * DESIGN_NM * cosine(LAYER) / wavelength_nm;
        let (p, s) = coated_surfaces(LAYER, DESIGN_NM, GLASS, angle, wavelength_nm, 1.0);
        for (got, power) in [(p, -1), (s, 1)] {
            let expected = airy(
                [1.0, LAYER, GLASS].map(|n| n * cosine(n).powi(power)),
                phase,
            );
            // Books' admittance for p gives the tangential field: its ratio to the whole field cancels in the flux.
            let quantity = format!("admittance power {power} at {degrees} deg, {wavelength_nm} nm");
            close(&quantity, (got - expected).norm(), 0.0, tolerance);
        }
    }
}

/// A layer of the glass itself is no layer: bare Fresnel, and the phase of the way through it, `+d`.
#[test]
fn an_index_matched_layer_only_delays() {
    for degrees in [0.0, 40.0, 70.0] {
        let angle = f64::to_radians(degrees);
        let sine = angle.sin();
        let (bare_p, bare_s) = flat_interface(1.0, GLASS, sine);
        let (p, s) = coated_surfaces(GLASS, DESIGN_NM, GLASS, angle, DESIGN_NM, 1.0);
        let delay = Complex::cis(FRAC_PI_2 * (1.0 - (sine / GLASS).powi(2)).sqrt());
        close("p", (p - delay * bare_p).norm(), 0.0, 1e-14);
        close("s", (s - delay * bare_s).norm(), 0.0, 1e-14);
    }
}

/// Powers multiply phases that have not been cut at 180 degrees: half a surface twice is one surface, also where the phase of
/// eight surfaces goes round.
#[test]
fn powers_of_a_coated_surface_follow_its_whole_phase() {
    let of = |count: f64| coated_surfaces(LAYER, DESIGN_NM, GLASS, 0.7, 400.0, count);
    let (one, eight) = (of(1.0), of(8.0));
    close("p", (one.0.powi(8) - eight.0).norm(), 0.0, 1e-13);
    let (half, four) = (of(0.5), of(4.0));
    close("p, halves", (half.0.powi(8) - four.0).norm(), 0.0, 1e-13);
    close("s, halves", (half.1 * half.1 - one.1).norm(), 0.0, 1e-13);
}
