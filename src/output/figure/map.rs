//! Leak over the aperture.

use ndarray::Array2;

use super::FigureError;
use super::disc::Sampler;
use super::light_scale::LightScale;
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

    /// The disc as `side` by `side` pixels on white, in colours of a scale.
    pub(super) fn picture(&self, scale: &LightScale, colors: &[[u8; 3]], side: u32) -> Vec<u8> {
        let light: Vec<[f32; 1]> = self.value.iter().map(|light| [*light as f32]).collect();
        let sampler = Sampler::new(&self.rings, &self.spokes, self.na, side);
        sampler.picture(&light, |_, [light]| scale.color(colors, light))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

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
        let scale = LightScale::of([5.0].into_iter());
        let colors = [[9; 3], [7; 3]];
        let seen = map.picture(&scale, &colors, 9);
        let color = scale.color(&colors, 5.0);
        assert_eq!([&seen[120..123], &seen[111..114]], [&color[..]; 2]);
        map.na = f64::INFINITY;
        assert!(matches!(map.check(), Err(FigureError::MapNa { .. })));
        map.na = 0.6;
        map.spokes.push(1.0);
        assert!(matches!(map.check(), Err(FigureError::MapShape { .. })));
    }
}
