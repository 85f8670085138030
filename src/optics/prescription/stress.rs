//! The stress that uneven cooling leaves in moulded glass, followed along a traced ray.

use std::ops::Range;

use super::surface::Surface;
use super::train::{TracedRay, Train};
use crate::math;

impl Train {
    /// Path difference that a traced ray collects in the glass between some of the surfaces, divided by that of a ray parallel to the axis at the
    /// rim. It is positive where the slow vibration lies in the plane of ray and axis, and NaN or infinite where the rim has no thickness.
    ///
    /// The stress is that of uneven cooling in a round plate, `sigma_r ~ 1 - r^2` and `sigma_theta ~ 1 - 3 r^2` with r = 1 at the rim, and no stress
    /// along the axis. A ray at an angle `a` to the axis is retarded by the difference `cos^2(a) sigma_r - sigma_theta`. Along a straight piece of
    /// length L that adds up to `L ((cos^2(a) - 1) + (3 - cos^2(a)) mean(r^2))`; parallel to the axis at the rim it adds up to twice the thickness.
    /// All the glass among the surfaces is taken to have the same stress at the same r.
    ///
    /// Source: S. Timoshenko and J. N. Goodier, Theory of Elasticity, thermal stress in a thin disc (from memory).
    /// Checked by: `tests/reference/lenses.rs`, `tests/laws/lenses.rs`.
    #[must_use]
    pub fn stress_along(&self, surfaces: Range<usize>, ray: &TracedRay) -> f64 {
        let along: f64 = (self.glasses(surfaces.clone()))
            .map(|front| {
                let [start, end] = [ray.surfaces[front], ray.surfaces[front + 1]];
                let (y0, y1) = (start.height_mm, end.height_mm);
                let axial = end.along_mm - start.along_mm;
                let length = math::hypot(y1 - y0, axial);
                let cos2 = (axial / length).powi(2);
                let mean_r2 = (y0 * y0 + y0 * y1 + y1 * y1) / (3.0 * self.rim_mm(front).powi(2));
                length * ((cos2 - 1.0) + (3.0 - cos2) * mean_r2)
            })
            .sum();
        along / (2.0 * self.edges_mm(surfaces).sum::<f64>())
    }

    /// Thickness at the rim of each piece of glass among some of the surfaces, mm. Beyond its clear aperture a surface is taken to be flat.
    pub fn edges_mm(&self, surfaces: Range<usize>) -> impl Iterator<Item = f64> + '_ {
        self.glasses(surfaces).map(|front| {
            let sag = |surface: &Surface| {
                let inside = self.rim_mm(front).min(surface.half_diameter_mm);
                surface.sag(inside).map_or(f64::NAN, |sag| sag.0)
            };
            let [first, last] = [&self.surfaces[front], &self.surfaces[front + 1]];
            first.thickness_mm + sag(last) - sag(first)
        })
    }

    /// Half the diameter of the glass behind a surface, mm.
    fn rim_mm(&self, front: usize) -> f64 {
        let half = |surface: usize| self.surfaces[surface].half_diameter_mm;
        half(front).max(half(front + 1))
    }

    /// Indices of those surfaces behind which the light is in glass until the next surface of the range.
    fn glasses(&self, surfaces: Range<usize>) -> impl Iterator<Item = usize> + '_ {
        let last = surfaces.end.saturating_sub(1);
        (surfaces.start..last).filter(|front| self.surfaces[*front].after.is_some())
    }
}
