//! The light of each ray of a photograph as a function of the strain at that ray.

use std::f64::consts::PI;

use super::lenses::carrier;
use super::polynomial::{TERMS, terms};
use crate::light_path::{LightPath, PartKind, run};
use crate::math;
use crate::optics::Strain;
use crate::study::bench::BenchLight;
use crate::study::reading::Zone;

/// Strain that the functions reach to, nm, either way in both components, and nodes along each: Chebyshev series of so many terms give the light of
/// 546 nm to better than 1e-6 of the parallel light.
pub(super) const REACH_NM: f64 = 150.0;
const COUNT: usize = 9;

/// A ray of a photograph.
#[derive(Debug, Clone)]
pub(super) struct PhotographRay {
    weight: f64,
    /// The terms of the polynomials where it crosses the disc.
    pub(super) terms: [f64; TERMS],
    /// Chebyshev coefficients of its crossed and its parallel light over both components of the strain.
    crossed: [[f64; COUNT]; COUNT],
    parallel: [[f64; COUNT]; COUNT],
}

/// A photograph of one stand.
#[derive(Debug, Clone)]
pub(super) struct PhotographSurface {
    /// The rays of each zone, and what its few wavelengths lack.
    pub(super) zones: Vec<(Vec<PhotographRay>, f64)>,
    pub(super) stray_fraction: f64,
}

/// Light and how it grows with both components of the strain.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Slope {
    pub(super) light: f64,
    pub(super) by: [f64; 2],
}

impl PhotographSurface {
    /// Of a stand that is set for the photograph and whose carrier is free of strain; `disc_na` is the unit of the polynomials.
    /// `None` where the stand cannot be run.
    pub(super) fn new(light: &BenchLight, path: &LightPath, disc_na: f64) -> Option<Self> {
        let lens = carrier(path)?;
        let azimuth_rad = light.parallel_azimuth_rad(path).ok()?;
        let (nm, luminous) = (&light.wavelengths_nm, &light.luminous);
        let weight: Vec<[f64; 1]> = luminous.iter().map(|weight| [*weight]).collect();
        let node = |k: usize| math::cos(PI * (k as f64 + 0.5) / COUNT as f64);
        let mut strained = path.clone();
        let mut crossed = Vec::with_capacity(COUNT * COUNT);
        let mut parallel = Vec::with_capacity(COUNT * COUNT);
        for k in 0..COUNT {
            for l in 0..COUNT {
                let (cos, sin) = (REACH_NM * node(k), REACH_NM * node(l));
                if let PartKind::Condenser(lens) | PartKind::Objective(lens) =
                    &mut strained.parts[lens].kind
                {
                    lens.strain = vec![Strain::Uniform {
                        path_difference_nm: math::hypot(cos, sin),
                        slow_azimuth_rad: 0.5 * math::atan2(sin, cos),
                    }];
                }
                let with_plate = light.with_plate;
                let dark = run::crossed_ray_sums(&strained, &light.rays, nm, &weight, with_plate);
                let bright = run::parallel_rays(&strained, &light.rays, nm, luminous, azimuth_rad);
                crossed.push(dark.ok()?.into_iter().map(|[light]| light).collect());
                parallel.push(bright.ok()?);
            }
        }
        let weights = chebyshev_weights();
        let zone = |zone: &Zone| {
            (light.rays_of(*zone))
                .map(|(ray, at, weight)| {
                    let (sin, cos) = math::sincos(at.azimuth_rad);
                    PhotographRay {
                        weight,
                        terms: terms((at.s * cos / disc_na, at.s * sin / disc_na)),
                        crossed: chebyshev(&crossed, ray, &weights),
                        parallel: chebyshev(&parallel, ray, &weights),
                    }
                })
                .collect()
        };
        Some(Self {
            zones: (light.zones.iter().zip(&light.factors))
                .map(|(of, factor)| (zone(of), *factor))
                .collect(),
            stray_fraction: path.stray_fraction,
        })
    }
}

/// What the value at each node adds to each coefficient of a Chebyshev series.
fn chebyshev_weights() -> [[f64; COUNT]; COUNT] {
    let count = COUNT as f64;
    let weight = |i: usize, k: usize| {
        let scale = if i == 0 { 1.0 } else { 2.0 };
        scale / count * math::cos(PI * i as f64 * (k as f64 + 0.5) / count)
    };
    std::array::from_fn(|i| std::array::from_fn(|k| weight(i, k)))
}

/// Coefficients of a ray's light from its values at the nodes, row by row.
fn chebyshev(
    values: &[Vec<f64>],
    ray: usize,
    weights: &[[f64; COUNT]; COUNT],
) -> [[f64; COUNT]; COUNT] {
    let mut all = [[0.0; COUNT]; COUNT];
    for (row, along) in all.iter_mut().zip(weights) {
        for (coefficient, across) in row.iter_mut().zip(weights) {
            for (k, one) in along.iter().enumerate() {
                for (l, other) in across.iter().enumerate() {
                    *coefficient += one * other * values[k * COUNT + l][ray];
                }
            }
        }
    }
    all
}

/// Chebyshev polynomials and their derivatives at a strain, nm.
fn polynomials(nm: f64) -> ([f64; COUNT], [f64; COUNT]) {
    let x = (nm / REACH_NM).clamp(-1.0, 1.0);
    let (mut t, mut d) = ([1.0; COUNT], [0.0; COUNT]);
    t[1] = x;
    d[1] = 1.0;
    for n in 2..COUNT {
        t[n] = 2.0 * x * t[n - 1] - t[n - 2];
        d[n] = 2.0 * t[n - 1] + 2.0 * x * d[n - 1] - d[n - 2];
    }
    (t, d.map(|slope| slope / REACH_NM))
}

impl PhotographRay {
    /// Crossed and parallel light at a strain, weighted.
    pub(super) fn at(&self, (cos, sin): (f64, f64)) -> (Slope, Slope) {
        let (u, du) = polynomials(cos);
        let (v, dv) = polynomials(sin);
        let sum = |coefficients: &[[f64; COUNT]; COUNT]| {
            let mut slope = Slope::default();
            for (i, row) in coefficients.iter().enumerate() {
                let (mut along, mut steeper) = (0.0, 0.0);
                for (j, coefficient) in row.iter().enumerate() {
                    along += coefficient * v[j];
                    steeper += coefficient * dv[j];
                }
                slope.light += self.weight * u[i] * along;
                slope.by[0] += self.weight * du[i] * along;
                slope.by[1] += self.weight * u[i] * steeper;
            }
            slope
        };
        (sum(&self.crossed), sum(&self.parallel))
    }
}
