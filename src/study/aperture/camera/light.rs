//! The luminance of the back focal plane at any place, from rays enough.

use std::f64::consts::TAU;

use crate::light_path::run;
use crate::light_path::{LightPath, PathError};
use crate::optics::Rays;
use crate::study::aperture::SmoothDisc;

/// Rings and spokes that are tried one after the other.
const LADDER: [(usize, usize); 4] = [(33, 128), (65, 256), (129, 512), (257, 1024)];
/// Rings and spokes of the rays between them that the light is compared on.
const PROBES: (usize, usize) = (13, 29);
/// Between rays the light may be off by so much of itself, or by so much of the parallel field's mean, whichever is more.
const OF_ITSELF: f64 = 1e-3;
const OF_PARALLEL: f64 = 1e-6;

/// Light of the back focal plane on rings and spokes that are fine enough.
pub(super) struct DiscLight {
    counts: (usize, usize),
    light: Vec<[f64; 1]>,
    /// By how many times what is allowed the light between rays is off, on the rays that it was compared on.
    pub(super) off: f64,
}

impl DiscLight {
    /// Luminance over `unit`, with an even `stray` added; the lamp as wavelengths, each with its weight.
    pub(super) fn new(
        path: &LightPath,
        (wavelengths_nm, luminous): (&[f64], &[[f64; 1]]),
        plates: bool,
        unit: f64,
        stray: f64,
    ) -> Result<Self, PathError> {
        let light = |rays: &Rays| -> Result<Vec<[f64; 1]>, PathError> {
            let sums = run::crossed_ray_sums(path, rays, wavelengths_nm, luminous, plates)?;
            Ok(sums.into_iter().map(|[sum]| [sum / unit + stray]).collect())
        };
        let on = |counts: (usize, usize)| -> Result<Self, PathError> {
            let rays = Rays::even(path.na(), counts.0, counts.1);
            let mut disc = Self {
                counts,
                light: light(&rays)?,
                off: 0.0,
            };
            let probes = between(path.na(), counts);
            for ((ray, _), [light]) in probes.iter().zip(light(&probes)?) {
                let off = (disc.at(ray.s / path.na(), ray.azimuth_rad) - light).abs();
                disc.off = disc.off.max(off / (OF_ITSELF * light).max(OF_PARALLEL));
            }
            Ok(disc)
        };
        let mut disc = on(LADDER[0])?;
        for counts in &LADDER[1..] {
            // Elsewhere than on the probes it may be somewhat further off.
            if disc.off <= 0.5 {
                break;
            }
            disc = on(*counts)?;
        }
        Ok(disc)
    }

    /// At a distance from the axis in units of the disc's radius, and an azimuth.
    pub(super) fn at(&self, radius: f64, azimuth_rad: f64) -> f64 {
        let disc = SmoothDisc {
            counts: self.counts,
            light: &self.light,
        };
        // Near darkness a polynomial may pass below it.
        disc.at(radius, azimuth_rad)[0].max(0.0)
    }
}

/// Rays halfway between rings and spokes, where interpolation is worst; the innermost and the outermost ring are among them.
fn between(na: f64, (rings, spokes): (usize, usize)) -> Rays {
    let halfway = |k: usize, of: usize, cells: usize| (k * (cells - 1) / (of - 1)) as f64 + 0.5;
    let last = rings - 1;
    Rays {
        ring: (0..PROBES.0)
            .map(|k| na * halfway(k, PROBES.0, last) / last as f64)
            .collect(),
        ring_weight: vec![0.0; PROBES.0],
        spoke_rad: (0..PROBES.1)
            .map(|k| TAU * halfway(k, PROBES.1, spokes) / spokes as f64)
            .collect(),
        spoke_weight: vec![0.0; PROBES.1],
        sectors: Vec::new(),
    }
}
