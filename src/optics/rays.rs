//! Rays over the aperture and their quadrature.

use std::f64::consts::TAU;
use std::num::NonZeroUsize;

use gauss_quad::GaussLegendre;

/// One ray, named by where it crosses the objective's exit pupil.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ray {
    /// Its own numerical aperture `n sin(theta)`, the same in every flat layer.
    pub s: f64,
    /// Azimuth in the pupil, radians counter-clockwise from East.
    pub azimuth_rad: f64,
}

/// Rays that fill a disc `s <= na` evenly: rings times spokes, with product weights that add up to 1.
#[derive(Debug, Clone, PartialEq)]
pub struct Rays {
    /// Numerical aperture of each ring.
    pub ring: Vec<f64>,
    /// Weight of each ring.
    pub ring_weight: Vec<f64>,
    /// Azimuth of each spoke, radians.
    pub spoke_rad: Vec<f64>,
    /// Weight of each spoke.
    pub spoke_weight: Vec<f64>,
}

impl Rays {
    /// Gauss-Legendre in `s^2` times equally spaced azimuths: exact for polynomials in (s_x, s_y) up to the order that the
    /// nodes carry, with uniform weight over the disc.
    ///
    /// At least one ring and one spoke are taken.
    ///
    /// Checked by: `tests/laws/quadrature.rs`.
    pub fn disc(na: f64, rings: usize, spokes: usize) -> Self {
        let spokes = spokes.max(1);
        let rule = GaussLegendre::new(NonZeroUsize::new(rings).unwrap_or(NonZeroUsize::MIN));
        let mut nodes: Vec<(f64, f64)> = rule
            .iter()
            .map(|&(node, weight)| (na * (0.5 * (1.0 + node)).sqrt(), 0.5 * weight))
            .collect();
        nodes.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (ring, ring_weight) = nodes.into_iter().unzip();
        Self {
            ring,
            ring_weight,
            spoke_rad: (0..spokes)
                .map(|k| TAU * k as f64 / spokes as f64)
                .collect(),
            spoke_weight: vec![1.0 / spokes as f64; spokes],
        }
    }

    /// How many rays.
    #[must_use]
    pub fn count(&self) -> usize {
        self.ring.len() * self.spoke_rad.len()
    }

    /// The rays ring by ring with their weights.
    pub fn iter(&self) -> impl Iterator<Item = (Ray, f64)> + '_ {
        (self.ring.iter().zip(&self.ring_weight)).flat_map(move |(&s, &ring_weight)| {
            (self.spoke_rad.iter().zip(&self.spoke_weight))
                .map(move |(&azimuth_rad, &weight)| (Ray { s, azimuth_rad }, ring_weight * weight))
        })
    }
}
