//! Light between the rays of a disc, so smoothly interpolated that few rays do.

use std::f64::consts::TAU;

/// A disc on rings and spokes at even distances, the axis among the rings: cubic polynomials go through the four nearest rays outward and around
/// (on the other side of the axis the rings go on). At least four rings and an even number of spokes are needed.
pub(crate) struct SmoothDisc<'a, const N: usize> {
    /// Rings and spokes.
    pub(crate) counts: (usize, usize),
    /// The rays' numbers, ring by ring.
    pub(crate) light: &'a [[f64; N]],
}

impl<const N: usize> SmoothDisc<'_, N> {
    /// The number of a ray; a ring below 0 is that ring on the other side.
    fn ray(&self, ring: isize, spoke: isize) -> [f64; N] {
        let (rings, spokes) = (self.counts.0 as isize, self.counts.1 as isize);
        let other_side = if ring < 0 { spokes / 2 } else { 0 };
        let spoke = (spoke + other_side).rem_euclid(spokes);
        self.light[(ring.abs().min(rings - 1) * spokes + spoke) as usize]
    }

    /// At a distance from the axis in units of the disc's radius, and an azimuth.
    pub(crate) fn at(&self, radius: f64, azimuth_rad: f64) -> [f64; N] {
        let (rings, spokes) = self.counts;
        let last = (rings - 1) as f64;
        let outward = (radius * last).clamp(0.0, last);
        // The outermost cell takes the ring before it a second time, on its inner side.
        let ring = (outward as isize).min(rings as isize - 3).max(0);
        let around = azimuth_rad.rem_euclid(TAU) / TAU * spokes as f64;
        let spoke = around as isize;
        let (by_ring, by_spoke) = (cubic(outward - ring as f64), cubic(around - spoke as f64));
        let mut value = [0.0; N];
        for (r, ring_weight) in (ring - 1..).zip(by_ring) {
            for (s, spoke_weight) in (spoke - 1..).zip(by_spoke) {
                let ray = self.ray(r, s);
                for (value, ray) in value.iter_mut().zip(ray) {
                    *value += ring_weight * spoke_weight * ray;
                }
            }
        }
        value
    }
}

/// Weights of four values at -1, 0, 1 and 2 for the cubic polynomial through them, at a place from 0 to 2.
///
/// Source: J. L. Lagrange's interpolation (textbook).
fn cubic(x: f64) -> [f64; 4] {
    [
        -x * (x - 1.0) * (x - 2.0) / 6.0,
        (x + 1.0) * (x - 1.0) * (x - 2.0) / 2.0,
        -(x + 1.0) * x * (x - 2.0) / 2.0,
        (x + 1.0) * x * (x - 1.0) / 6.0,
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math;

    /// A dark cross and a fifth-order pattern, as strained lenses leave.
    fn pattern(r: f64, azimuth_rad: f64) -> f64 {
        let cross = (r * r * math::sin(2.0 * azimuth_rad)).powi(2);
        cross + 0.1 * r.powi(5) * math::cos(5.0 * azimuth_rad + 0.3) + 1e-3
    }

    #[test]
    fn few_rays_are_smoothly_interpolated() {
        let off = |(rings, spokes): (usize, usize)| {
            let light: Vec<[f64; 1]> = (0..rings * spokes)
                .map(|ray| {
                    let (ring, spoke) = (ray / spokes, ray % spokes);
                    let r = ring as f64 / (rings - 1) as f64;
                    [pattern(r, TAU * spoke as f64 / spokes as f64)]
                })
                .collect();
            let disc = SmoothDisc {
                counts: (rings, spokes),
                light: &light,
            };
            let mut worst = 0.0f64;
            for k in 0..4000 {
                let (r, azimuth) = (f64::from(k) / 3999.0, 0.7 * f64::from(k));
                worst = worst.max((disc.at(r, azimuth)[0] - pattern(r, azimuth)).abs());
            }
            worst
        };
        // A step of 8 bits is 3e-4 where a screen's curve is steepest; the error falls with the fourth power.
        let (coarse, fine) = (off((17, 64)), off((33, 128)));
        assert!(fine < 1e-4 && coarse < 16.0 * 1.5e-4, "{coarse} {fine}");
    }
}
