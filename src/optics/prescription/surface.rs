//! One surface of a lens: its shape, and where a ray meets it.

use crate::material::Glass;
use crate::optics::Coating;

/// After so many Newton steps toward an aspheric surface without meeting it, a ray counts as missing it.
const MOST_STEPS: usize = 50;
/// The surface counts as met once two steps differ by less than this, mm.
const MET_MM: f64 = 1e-14;

/// A surface of revolution between two media.
///
/// ```text
/// z(h) = h^2/R / (1 + sqrt(1 - (1 + conic) h^2/R^2)) + a4 h^4 + a6 h^6 + a8 h^8 + a10 h^10
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Surface {
    /// Radius of curvature at the vertex, mm: positive where the centre lies on the side that the light goes to, 0 for a flat one.
    pub radius_mm: f64,
    /// Conic constant: 0 for a sphere, -1 for a paraboloid.
    pub conic: f64,
    /// Even aspheric terms of the orders 4, 6, 8 and 10, in mm^-3, mm^-5, mm^-7 and mm^-9.
    pub aspheric: [f64; 4],
    /// Distance along the axis to the next surface, mm.
    pub thickness_mm: f64,
    /// The medium behind the surface; `None` for air.
    pub after: Option<Glass>,
    /// Half the clear diameter, mm.
    pub half_diameter_mm: f64,
    /// The coating of the surface. It acts only where the surface has air on one side.
    pub coating: Coating,
}

impl Surface {
    /// A bare sphere, flat where the radius is 0.
    #[must_use]
    pub fn sphere(
        radius_mm: f64,
        thickness_mm: f64,
        after: Option<Glass>,
        half_diameter_mm: f64,
    ) -> Self {
        Self {
            radius_mm,
            conic: 0.0,
            aspheric: [0.0; 4],
            thickness_mm,
            after,
            half_diameter_mm,
            coating: Coating::None,
        }
    }

    /// `1/R`, 0 for a flat surface.
    #[must_use]
    pub fn curvature(&self) -> f64 {
        if self.radius_mm == 0.0 {
            0.0
        } else {
            1.0 / self.radius_mm
        }
    }

    /// Height above the vertex plane and slope `dz/dh` at a distance from the axis; `None` beyond the conic's own edge.
    #[must_use]
    pub fn sag(&self, h: f64) -> Option<(f64, f64)> {
        let c = self.curvature();
        let square = h * h;
        let root = 1.0 - (1.0 + self.conic) * c * c * square;
        if root.is_nan() || root <= 0.0 {
            return None;
        }
        let root = root.sqrt();
        let [a4, a6, a8, a10] = self.aspheric;
        let power = square * square * (a4 + square * (a6 + square * (a8 + square * a10)));
        let slope =
            square * (4.0 * a4 + square * (6.0 * a6 + square * (8.0 * a8 + square * 10.0 * a10)));
        Some((c * square / (1.0 + root) + power, h * (c / root + slope)))
    }

    /// Where a ray that crosses the vertex plane at height `h` with the direction `(across, along)` meets the surface: the height there,
    /// the depth behind the vertex plane, and the surface's slope; `None` where it misses.
    ///
    /// Source: W. T. Welford, Aberrations of Optical Systems, chapter 4 (from memory): closed form for the conic, Newton's method from there.
    /// Checked by: `tests/reference/lenses.rs`, `tests/published/lens_forms.rs`.
    pub(super) fn meet(&self, h: f64, (across, along): (f64, f64)) -> Option<(f64, f64, f64)> {
        let c = self.curvature();
        let a = c * (across * across + (1.0 + self.conic) * along * along);
        let b = along - c * h * across;
        let square = b * b - a * c * h * h;
        if square.is_nan() || square < 0.0 {
            return None;
        }
        let mut path = c * h * h / (b + square.sqrt());
        let at = |path: f64| {
            let y = h + across * path;
            let (z, slope) = self.sag(y)?;
            Some((y, z, slope))
        };
        if self.aspheric == [0.0; 4] {
            let (y, _, slope) = at(path)?;
            return Some((y, along * path, slope));
        }
        for _ in 0..MOST_STEPS {
            let (y, z, slope) = at(path)?;
            let step = (z - along * path) / (along - slope * across);
            path += step;
            if !path.is_finite() {
                return None;
            }
            if step.abs() <= MET_MM * (1.0 + path.abs()) {
                return Some((y, along * path, slope));
            }
        }
        None
    }

    /// The same surface crossed the other way. `before` is the glass that lay in front of it, and now lies behind it; `thickness_mm` is the distance
    /// to the surface that lay in front.
    pub(super) fn turned(&self, before: Option<Glass>, thickness_mm: f64) -> Self {
        Self {
            radius_mm: -self.radius_mm,
            aspheric: self.aspheric.map(|a| -a),
            thickness_mm,
            after: before,
            ..self.clone()
        }
    }
}
