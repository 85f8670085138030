//! Leak over the aperture, between the rays that were run.

use std::f64::consts::TAU;

use ndarray::Array2;

use super::FigureError;
use crate::light_path::LightPath;
use crate::optics::Rays;

/// What the back focal plane shows at the crossed setting, on rings and spokes.
#[derive(Debug, Clone, PartialEq)]
pub struct ApertureMap {
    /// Numerical aperture of each ring, rising.
    pub rings: Vec<f64>,
    /// Azimuth of each spoke, radians counter-clockwise from East, rising from 0 to below a full turn.
    pub spokes: Vec<f64>,
    /// Light relative to the mean of the parallel field, ring by ring.
    pub value: Array2<f64>,
    /// Numerical aperture of the disc.
    pub na: f64,
    /// Azimuths that lower polar and analyzer pass, radians; `None` for circular polars.
    pub polars_rad: Option<(f64, f64)>,
    /// Whether it lies in the back focal plane of an objective.
    pub has_objective: bool,
}

impl ApertureMap {
    /// From [`leak_map`](crate::study::predict::leak_map) of a path on the rays of a disc.
    ///
    /// # Errors
    /// [`FigureError::MapShape`] for a number of values other than that of the rays.
    ///
    /// # Examples
    /// ```no_run
    /// # fn f(scene: polstack::Scene) -> Result<(), Box<dyn std::error::Error>> {
    /// use polstack::{output::figure::ApertureMap, study::predict::leak_picture};
    /// let (rays, light) = leak_picture(&scene)?;
    /// let map = ApertureMap::of(&scene.path, &rays, light)?;
    /// # Ok(()) }
    /// ```
    pub fn of(path: &LightPath, rays: &Rays, leak: Vec<f64>) -> Result<Self, FigureError> {
        let (rings, spokes) = (rays.ring.len(), rays.spoke_rad.len());
        let values = leak.len();
        let value =
            Array2::from_shape_vec((rings, spokes), leak).map_err(|_| FigureError::MapShape {
                values,
                rings,
                spokes,
            })?;
        let polars_rad = (path.polars())
            .filter(|_| !path.is_circular())
            .map(|(low, high)| (low.azimuth_rad, high.azimuth_rad));
        Ok(Self {
            rings: rays.ring.clone(),
            spokes: rays.spoke_rad.clone(),
            value,
            na: path.na(),
            polars_rad,
            has_objective: path.has_objective(),
        })
    }

    /// Whether there is a disc and a value for each of its points.
    pub(super) fn check(&self) -> Result<(), FigureError> {
        let (rings, spokes) = (self.rings.len(), self.spokes.len());
        if rings == 0 || spokes == 0 || self.value.dim() != (rings, spokes) {
            return Err(FigureError::MapShape {
                values: self.value.len(),
                rings,
                spokes,
            });
        }
        if !(self.na.is_finite() && self.na > 0.0) {
            return Err(FigureError::MapNa { na: self.na });
        }
        Ok(())
    }

    /// A reader of the light between rings and spokes, for a map that [`Self::check`] accepts.
    ///
    /// Linear in the numerical aperture and in the azimuth. The centre has the mean of the innermost ring; beyond the outermost ring
    /// the light stays as it is there.
    pub(super) fn reader(&self) -> impl Fn(f64, f64) -> f64 {
        let centre = self.value.row(0).mean().unwrap_or(f64::NAN);
        move |s, azimuth_rad| {
            let spoke = self.spoke(azimuth_rad);
            let above = self.rings.partition_point(|&ring| ring <= s);
            if above == self.rings.len() {
                return self.on_ring(above - 1, spoke);
            }
            let (from, start) = match above.checked_sub(1) {
                Some(below) => (self.rings[below], self.on_ring(below, spoke)),
                None => (0.0, centre),
            };
            let part = (s - from) / (self.rings[above] - from);
            start + part * (self.on_ring(above, spoke) - start)
        }
    }

    /// The spokes on both sides of an azimuth, and how far it is from the first to the second.
    fn spoke(&self, azimuth_rad: f64) -> (usize, usize, f64) {
        let count = self.spokes.len();
        let azimuth = azimuth_rad.rem_euclid(TAU);
        let after = self.spokes.partition_point(|&spoke| spoke <= azimuth);
        let (before, after) = ((after + count - 1) % count, after % count);
        let gap = (self.spokes[after] - self.spokes[before]).rem_euclid(TAU);
        let part = (azimuth - self.spokes[before]).rem_euclid(TAU);
        (
            before,
            after,
            if gap > 0.0 {
                (part / gap).min(1.0)
            } else {
                0.0
            },
        )
    }

    fn on_ring(&self, ring: usize, (before, after, part): (usize, usize, f64)) -> f64 {
        let (a, b) = (self.value[[ring, before]], self.value[[ring, after]]);
        a + part * (b - a)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn light_between_the_rays_is_interpolated_and_at_the_ends_held() {
        let rays = Rays::disc(0.6, 12, 40);
        // Linear in s, and in the azimuth at the first quarter turn's spokes.
        let value = Array2::from_shape_fn((12, 40), |(ring, spoke)| {
            2.0 * rays.ring[ring] + (rays.spoke_rad[spoke] - TAU / 2.0).abs()
        });
        let map = ApertureMap {
            rings: rays.ring.clone(),
            spokes: rays.spoke_rad,
            value,
            na: 0.6,
            polars_rad: None,
            has_objective: true,
        };
        map.check().unwrap();
        let at = map.reader();
        for (s, azimuth) in [(0.2f64, 0.1f64), (0.45, 2.0), (0.5, 6.2), (0.3, -0.2)] {
            let expected = 2.0 * s + (azimuth.rem_euclid(TAU) - TAU / 2.0).abs();
            assert!((at(s, azimuth) - expected).abs() < 1e-12, "{s} {azimuth}");
        }
        let outermost = map.rings[11];
        assert_eq!(at(0.6, 1.0), at(outermost, 1.0));
        let mean = map.value.row(0).mean().unwrap();
        assert!((at(0.0, 0.3) - mean).abs() < 1e-12 && (at(0.0, 4.0) - mean).abs() < 1e-12);
    }

    #[test]
    fn one_value_is_everywhere_and_a_wrong_table_is_refused() {
        let mut map = ApertureMap {
            rings: vec![0.3],
            spokes: vec![0.0],
            value: Array2::from_elem((1, 1), 5.0),
            na: 0.6,
            polars_rad: None,
            has_objective: true,
        };
        let at = map.reader();
        assert_eq!([at(0.0, 1.0), at(0.3, 2.0), at(0.6, 6.0)], [5.0; 3]);
        drop(at);
        map.na = f64::INFINITY;
        assert!(matches!(map.check(), Err(FigureError::MapNa { .. })));
        map.na = 0.6;
        map.spokes.push(1.0);
        assert!(matches!(map.check(), Err(FigureError::MapShape { .. })));
    }
}
