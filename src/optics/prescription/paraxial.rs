//! What a train does to rays near its axis.

use super::train::TrainAt;

/// Cardinal planes of a train in air on the collimated side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Paraxial {
    /// Focal length in air, mm; infinite where the train bends nothing.
    pub focal_length_mm: f64,
    /// Front focal plane, mm behind the first vertex: negative before it.
    pub front_focal_plane_mm: f64,
    /// Back focal plane, mm behind the last vertex.
    pub back_focal_plane_mm: f64,
}

impl TrainAt<'_> {
    /// Focal length and focal planes.
    ///
    /// By the product of the refractions `(h, n u) -> (h, n u - h (n' - n)/R)` and of the ways between, `(h, n u) -> (h + t u, n u)`.
    ///
    /// Source: M. Born and E. Wolf, Principles of Optics, section 4.4 (from memory).
    /// Checked by: `tests/published/lens_forms.rs`, `tests/reference/lenses.rs`.
    #[must_use]
    pub fn paraxial(&self) -> Paraxial {
        // Height h and n u of two rays: one comes in parallel to the axis at height 1, the other starts at the first vertex with slope 1.
        let mut rays = [(1.0, 0.0), (0.0, 1.0)];
        let surfaces = &self.train().surfaces;
        for (number, surface) in surfaces.iter().enumerate() {
            let (before, after) = self.index(number);
            let way = match number + 1 == surfaces.len() {
                true => 0.0,
                false => surface.thickness_mm,
            };
            for (height, reduced) in &mut rays {
                *reduced -= *height * (after - before) * surface.curvature();
                *height += way * *reduced / after;
            }
        }
        let last = surfaces
            .len()
            .checked_sub(1)
            .map_or(1.0, |k| self.index(k).1);
        let [(height, power), (_, other)] = rays;
        Paraxial {
            focal_length_mm: -1.0 / power,
            front_focal_plane_mm: other / power,
            back_focal_plane_mm: -last * height / power,
        }
    }
}
