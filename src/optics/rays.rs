//! Rays over the aperture and their quadrature.

use std::f64::consts::{PI, TAU};
use std::num::NonZeroUsize;
use std::ops::Range;

use gauss_quad::GaussLegendre;
use serde::Serialize;
use serde::ser::{SerializeMap, Serializer};

use crate::order::sort_by_number;

/// Directions, radians, and weights closer than this, relatively, are the same but for rounding.
const SAME: f64 = 1e-12;

/// One ray, named by where it crosses the objective's exit pupil.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ray {
    /// Its own numerical aperture `n sin(theta)`, the same in every flat layer.
    pub s: f64,
    /// Azimuth in the pupil, radians counter-clockwise from East.
    pub azimuth_rad: f64,
}

impl Serialize for Ray {
    /// Its numerical aperture, and its azimuth in degrees.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut keys = serializer.serialize_map(None)?;
        keys.serialize_entry("na", &self.s)?;
        keys.serialize_entry("azimuth_deg", &self.azimuth_rad.to_degrees())?;
        keys.end()
    }
}

impl Ray {
    /// The same ray at a place where its numerical aperture is `steepness` times as large.
    #[must_use]
    pub fn at(self, steepness: f64) -> Self {
        Self {
            s: steepness * self.s,
            ..self
        }
    }
}

/// How many rays a quadrature has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct RayCounts {
    /// Rings.
    pub rings: usize,
    /// Number of spokes of the ring that has the most.
    pub spokes: usize,
    /// Number of rays. Where rays are drawn toward a clamp's contacts, it is less than rings times spokes.
    pub count: usize,
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
    /// Which spokes each ring has; empty where every ring has all of them.
    pub sectors: Vec<Range<usize>>,
}

impl Rays {
    /// Rays at Gauss-Legendre nodes in `s^2` times equally spaced azimuths, with uniform weight over the disc. Means are exact for polynomials in
    /// (s_x, s_y) up to an order that grows with the number of nodes.
    ///
    /// At least one ring and one spoke are taken.
    ///
    /// Checked by: `tests/laws/quadrature.rs`.
    pub fn disc(na: f64, rings: usize, spokes: usize) -> Self {
        let spokes = spokes.max(1);
        let (ring, ring_weight) = (gauss_legendre(rings, 0.0, 1.0).into_iter())
            .map(|(square, weight)| (na * square.sqrt(), weight))
            .unzip();
        Self {
            ring,
            ring_weight,
            spoke_rad: (0..spokes)
                .map(|k| TAU * k as f64 / spokes as f64)
                .collect(),
            spoke_weight: vec![1.0 / spokes as f64; spokes],
            sectors: Vec::new(),
        }
    }

    /// Rays for a disc with points on or near its rim at which the integrand is singular, such as a clamp's contacts. The disc is divided into cells
    /// of `s^2` and azimuth. Toward each point the cells are halved both ways again and again, down to `gap` (a fraction of the radius) or 1e-4, so
    /// that no cell is much larger than its distance from a point. Each cell has `nodes` Gauss-Legendre nodes in either direction.
    ///
    /// ```text
    /// below the rim          a point at the corner, one side of it
    /// 1    +-------+-------+
    ///      |       |       |     level 0: the upper half, in two cells,
    /// 1/2  +-------+-------+     and the outer half of what is left;
    ///      |   |   |       |     level 1: the same in the quarter at the corner;
    /// 1/4  +---+---+       |     and so on
    ///      |   | . |       |
    /// 0    .---+---+-------+ azimuth
    /// ```
    ///
    /// `points_rad` are the points' azimuths; without any the rays are those of [`Self::disc`].
    ///
    /// Checked by: this file's unit tests and `tests/laws/quadrature.rs`.
    #[must_use]
    pub fn toward_points(na: f64, points_rad: &[f64], gap: f64, nodes: usize) -> Self {
        let gap = gap.max(1e-4);
        let mut points: Vec<f64> = points_rad.iter().map(|a| a.rem_euclid(TAU)).collect();
        points.sort_by(f64::total_cmp);
        points.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
        let Some(&first) = points.first() else {
            return Self::disc(na, nodes, 4 * nodes);
        };
        let next = points.iter().skip(1).copied().chain([first + TAU]);
        let stretches: Vec<(f64, f64)> = points.iter().copied().zip(next).collect();
        let mut rays = Self {
            ring: Vec::new(),
            ring_weight: Vec::new(),
            spoke_rad: Vec::new(),
            spoke_weight: Vec::new(),
            sectors: Vec::new(),
        };
        // Near the rim, s^2 changes twice as fast as s.
        let (mut size, least) = (1.0, 2.0 * gap);
        loop {
            let half = 0.5 * size;
            if size <= least {
                rays.add_cells(
                    na,
                    (0.0, size),
                    &[(0.0, half), (half, size)],
                    &stretches,
                    nodes,
                );
                return rays;
            }
            rays.add_cells(
                na,
                (half, size),
                &[(0.0, half), (half, size)],
                &stretches,
                nodes,
            );
            rays.add_cells(na, (0.0, half), &[(half, size)], &stretches, nodes);
            size = half;
        }
    }

    /// Adds rings between `below_rim.0` and `below_rim.1` (values of `1 - s^2`, with s = 1 at the rim), with spokes on both sides of every point.
    /// Each of the `cells` is a range of azimuth, from a point toward half the way to the next point, as fractions of that half way.
    fn add_cells(
        &mut self,
        na: f64,
        below_rim: (f64, f64),
        cells: &[(f64, f64)],
        stretches: &[(f64, f64)],
        nodes: usize,
    ) {
        let first = self.spoke_rad.len();
        for &(here, next) in stretches {
            let half_way = 0.5 * (next - here);
            for &(from, to) in cells {
                for (offset, weight) in gauss_legendre(nodes, from * half_way, to * half_way) {
                    self.spoke_rad.extend([here + offset, next - offset]);
                    self.spoke_weight.extend([weight / TAU; 2]);
                }
            }
        }
        let sector = first..self.spoke_rad.len();
        for (below, weight) in gauss_legendre(nodes, below_rim.0, below_rim.1) {
            self.ring.push(na * (1.0 - below).sqrt());
            self.ring_weight.push(weight);
            self.sectors.push(sector.clone());
        }
    }

    /// Rays for a picture: rings equally spaced from the axis to the rim, both included, and equally spaced azimuths. Each ray is weighted by the
    /// area around it. At least two rings are taken.
    #[must_use]
    pub fn even(na: f64, rings: usize, spokes: usize) -> Self {
        let last = rings.max(2) - 1;
        let edge = |k: f64| (k / last as f64).clamp(0.0, 1.0).powi(2);
        let numbers = || (0..=last).map(|k| k as f64);
        Self {
            ring: numbers().map(|k| na * k / last as f64).collect(),
            ring_weight: numbers().map(|k| edge(k + 0.5) - edge(k - 0.5)).collect(),
            ..Self::disc(na, 1, spokes)
        }
    }

    /// Rings times sectors of equal area within `s <= na`, each with `nodes` Gauss-Legendre nodes either way: the rays of a zone are
    /// `nodes` neighbouring rings times `nodes` neighbouring spokes, and the weights of all add up to 1.
    ///
    /// Checked by: this file's unit tests.
    #[must_use]
    pub fn zones(na: f64, rings: usize, sectors: usize, nodes: usize) -> Self {
        let cells = |count: usize, whole: f64| {
            let width = whole / count.max(1) as f64;
            (0..count)
                .flat_map(move |k| gauss_legendre(nodes, k as f64 * width, (k + 1) as f64 * width))
        };
        let (ring, ring_weight) = cells(rings, 1.0)
            .map(|(square, weight)| (na * square.sqrt(), weight))
            .unzip();
        let (spoke_rad, spoke_weight) = cells(sectors, TAU)
            .map(|(azimuth, weight)| (azimuth, weight / TAU))
            .unzip();
        Self {
            ring,
            ring_weight,
            spoke_rad,
            spoke_weight,
            sectors: Vec::new(),
        }
    }

    /// One ray of each two that lie opposite to each other about the axis, with the weight of both: enough for means over what is the same for both.
    /// `None` where the second half of a ring's spokes is not the first one, turned by half a turn.
    ///
    /// Checked by: this file's unit tests and `tests/laws/routes.rs`.
    #[must_use]
    pub fn one_of_opposites(&self) -> Option<Self> {
        let mut spoke_weight = self.spoke_weight.clone();
        let mut sectors = Vec::with_capacity(self.ring.len());
        for ring in 0..self.ring.len() {
            let Range { start, end } = self.sector(ring);
            let middle = start + (end - start) / 2;
            let opposite = |(here, there): (usize, usize)| {
                let turn = self.spoke_rad[there] - self.spoke_rad[here] - PI;
                let weights = self.spoke_weight[there] - self.spoke_weight[here];
                turn.abs() < SAME && weights.abs() < SAME * self.spoke_weight[here]
            };
            if !(end - start).is_multiple_of(2) || !(start..middle).zip(middle..end).all(opposite) {
                return None;
            }
            for (here, there) in (start..middle).zip(middle..end) {
                spoke_weight[here] = self.spoke_weight[here] + self.spoke_weight[there];
            }
            sectors.push(start..middle);
        }
        Some(Self {
            spoke_weight,
            sectors,
            ..self.clone()
        })
    }

    /// How many rays.
    #[must_use]
    pub fn count(&self) -> usize {
        (0..self.ring.len())
            .map(|ring| self.sector(ring).len())
            .sum()
    }

    /// Rings, spokes and rays.
    #[must_use]
    pub fn counts(&self) -> RayCounts {
        let rings = self.ring.len();
        let most = (0..rings).map(|ring| self.sector(ring).len()).max();
        RayCounts {
            rings,
            spokes: most.unwrap_or(0),
            count: self.count(),
        }
    }

    /// The spokes that a ring has.
    #[must_use]
    pub fn sector(&self, ring: usize) -> Range<usize> {
        (self.sectors.get(ring).cloned()).unwrap_or(0..self.spoke_rad.len())
    }

    /// The rays ring by ring with their weights.
    pub fn iter(&self) -> impl Iterator<Item = (Ray, f64)> + '_ {
        (self.ring.iter().zip(&self.ring_weight).enumerate()).flat_map(
            move |(ring, (&s, &ring_weight))| {
                self.sector(ring).map(move |spoke| {
                    let azimuth_rad = self.spoke_rad[spoke];
                    let weight = ring_weight * self.spoke_weight[spoke];
                    (Ray { s, azimuth_rad }, weight)
                })
            },
        )
    }
}

/// Gauss-Legendre nodes and weights on `from..to`, ascending.
fn gauss_legendre(count: usize, from: f64, to: f64) -> Vec<(f64, f64)> {
    let half = 0.5 * (to - from);
    let rule = GaussLegendre::new(NonZeroUsize::new(count).unwrap_or(NonZeroUsize::MIN));
    let mut nodes: Vec<(f64, f64)> = (rule.iter())
        .map(|&(node, weight)| (from + half * (1.0 + node), half * weight))
        .collect();
    sort_by_number(&mut nodes, |node| node.0);
    nodes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math;

    #[test]
    fn a_pole_on_the_rim_is_integrated() {
        // Mean of 1 / (distance to a point of the rim) over the unit disc: in polar coordinates about that point,
        // the integral over -90 to 90 deg of 2 cos, over pi: 4 / pi.
        let azimuth = 0.7;
        let mean = |rays: Rays| -> f64 {
            let (y, x) = math::sincos(azimuth);
            (rays.iter())
                .map(|(ray, weight)| {
                    let (sin, cos) = math::sincos(ray.azimuth_rad);
                    weight / math::hypot(ray.s * cos - x, ray.s * sin - y)
                })
                .sum()
        };
        let exact = 4.0 / std::f64::consts::PI;
        // The part that is left out lies within 1e-4 of the pole, so the error is of that order.
        let off = (mean(Rays::toward_points(1.0, &[azimuth, 2.0, 4.0], 0.0, 8)) - exact).abs();
        assert!(off < 1e-4, "{off:e}");
        let plain = (mean(Rays::disc(1.0, 66, 264)) - exact).abs();
        assert!(plain > 10.0 * off, "{plain:e} against {off:e}");
    }

    #[test]
    fn a_pictures_rays_reach_from_axis_to_rim_and_their_areas_add_up() {
        let rays = Rays::even(0.8, 65, 12);
        assert_eq!((rays.ring[0], rays.ring[64], rays.count()), (0.0, 0.8, 780));
        assert!((rays.iter().map(|(_, weight)| weight).sum::<f64>() - 1.0).abs() < 1e-13);
    }

    #[test]
    fn one_of_opposites_has_the_means_of_what_half_a_turn_leaves_alike() {
        let opposite = vec![0.3, 0.3 + PI, 1.0 + PI, 1.0];
        for points in [vec![], opposite] {
            let rays = Rays::toward_points(0.8, &points, 0.01, 6);
            let half = rays.one_of_opposites().unwrap();
            assert_eq!(2 * half.count(), rays.count());
            let mean = |rays: &Rays| -> f64 {
                (rays.iter())
                    .map(|(ray, weight)| {
                        weight * math::exp(math::sincos(2.0 * ray.azimuth_rad + ray.s).0)
                    })
                    .sum()
            };
            assert!((mean(&half) - mean(&rays)).abs() < 1e-14);
        }
        assert!(
            Rays::toward_points(0.8, &[0.3, 2.0], 0.01, 6)
                .one_of_opposites()
                .is_none()
        );
        assert!(Rays::disc(0.8, 3, 7).one_of_opposites().is_none());
    }

    #[test]
    fn weights_add_up_and_smooth_moments_are_exact() {
        for points in [vec![], vec![0.3], vec![5.0, 1.0, 1.0 + TAU, 2.5]] {
            let rays = Rays::toward_points(0.8, &points, 0.01, 6);
            let moment = |f: fn(f64, f64) -> f64| -> f64 {
                (rays.iter())
                    .map(|(ray, weight)| {
                        let (sin, cos) = math::sincos(ray.azimuth_rad);
                        weight * f(ray.s * cos, ray.s * sin)
                    })
                    .sum()
            };
            assert!((moment(|_, _| 1.0) - 1.0).abs() < 1e-13);
            assert!((moment(|x, _| x * x) - 0.16).abs() < 1e-9);
            assert!(moment(|x, y| x * y).abs() < 1e-9);
        }
    }
}
