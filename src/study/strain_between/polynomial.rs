//! Polynomials over the disc of a photograph, of which a smooth strain is made.

use nalgebra::DMatrix;

use crate::math;
use crate::optics::Rays;

/// Degree of the polynomials, and how many terms each has.
const DEGREE: usize = 4;
pub(super) const TERMS: usize = (DEGREE + 1) * (DEGREE + 2) / 2;

/// Coefficients of the polynomials that come nearest to a strain, given as `path difference x (cos, sin)(2 slow azimuth)` over the unit disc: those
/// of the cosine, then those of the sine.
pub(super) fn nearest(strain: impl Fn((f64, f64)) -> (f64, f64)) -> Vec<f64> {
    let points: Vec<(f64, f64)> = (Rays::disc(1.0, 8, 32).iter())
        .map(|(ray, _)| {
            let (sin, cos) = math::sincos(ray.azimuth_rad);
            (ray.s * cos, ray.s * sin)
        })
        .collect();
    let wanted: Vec<(f64, f64)> = points.iter().map(|point| strain(*point)).collect();
    let wanted = DMatrix::from_fn(points.len(), 2, |row, column| match column {
        0 => wanted[row].0,
        _ => wanted[row].1,
    });
    let design = DMatrix::from_fn(points.len(), TERMS, |row, term| terms(points[row])[term]);
    let normal = design.transpose() * &design;
    let right = design.transpose() * wanted;
    match normal.cholesky() {
        Some(factor) => factor.solve(&right).as_slice().to_vec(),
        None => vec![0.0; 2 * TERMS],
    }
}

/// The terms of a polynomial at a point of the unit disc: products of Legendre polynomials of up to [`DEGREE`] together.
pub(super) fn terms((x, y): (f64, f64)) -> [f64; TERMS] {
    let legendre = |x: f64| {
        let mut p = [1.0, x, 0.0, 0.0, 0.0];
        for n in 2..=DEGREE {
            let k = n as f64;
            p[n] = ((2.0 * k - 1.0) * x * p[n - 1] - (k - 1.0) * p[n - 2]) / k;
        }
        p
    };
    let (px, py) = (legendre(x), legendre(y));
    let mut all = [0.0; TERMS];
    let mut at = 0;
    for sum in 0..=DEGREE {
        for j in 0..=sum {
            all[at] = px[sum - j] * py[j];
            at += 1;
        }
    }
    all
}

/// Both components at a point.
pub(super) fn components(coefficients: &[f64], at: (f64, f64)) -> (f64, f64) {
    let terms = terms(at);
    let sum = |part: &[f64]| part.iter().zip(&terms).map(|(c, t)| c * t).sum();
    (sum(&coefficients[..TERMS]), sum(&coefficients[TERMS..]))
}

/// Path difference and slow azimuth at a point.
pub(super) fn local(coefficients: &[f64], at: (f64, f64)) -> (f64, f64) {
    let (cos, sin) = components(coefficients, at);
    let azimuth = 0.5 * math::atan2(sin, cos);
    (
        math::hypot(cos, sin),
        azimuth.rem_euclid(std::f64::consts::PI),
    )
}

/// Coefficients of several polynomials, their mean.
pub(super) fn mean(all: &[Vec<f64>]) -> Vec<f64> {
    let count = all.len().max(1) as f64;
    let width = all.first().map_or(0, Vec::len);
    (0..width)
        .map(|k| all.iter().map(|one| one[k]).sum::<f64>() / count)
        .collect()
}
