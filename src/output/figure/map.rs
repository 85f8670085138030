//! Leak over the aperture.

use ndarray::Array2;

use super::look::*;
use crate::color::Xyz;
use crate::light_path::LightPath;
use crate::optics::Rays;
use crate::output::disc::{LightScale, RingMap, Sampler, ramp};
use crate::study::aperture::BackFocalPlane;

/// Pixels of a disc to a point.
const FINENESS: f64 = 2.0;

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
        let polars_rad = (path.polars())
            .filter(|_| !path.is_circular())
            .map(|(low, high)| (low.azimuth_rad, high.azimuth_rad));
        Self::on(rays, leak).map(|map| Self {
            na: path.na(),
            polars_rad,
            has_objective: path.has_objective(),
            ..map
        })
    }

    /// Light of a back focal plane's rays as luminance, checked.
    pub(super) fn of_light(answer: &BackFocalPlane, light: &[Xyz]) -> Result<Self, FigureError> {
        let map = Self {
            na: answer.na,
            polars_rad: answer.polars_rad,
            has_objective: answer.has_objective,
            ..Self::on(&answer.rays, light.iter().map(Xyz::luminance).collect())?
        };
        map.check().map(|()| map)
    }

    /// The map as lines of equal light are drawn on.
    pub(super) fn ring_map(&self) -> RingMap {
        RingMap {
            rings: self.rings.clone(),
            value: self.value.clone(),
            na: self.na,
        }
    }

    /// A map of so many values as there are rays, of a disc that its outermost ring bounds.
    fn on(rays: &Rays, light: Vec<f64>) -> Result<Self, FigureError> {
        let (rings, spokes) = (rays.ring.len(), rays.spoke_rad.len());
        let values = light.len();
        let wrong = |_| FigureError::MapShape {
            values,
            rings,
            spokes,
        };
        Ok(Self {
            rings: rays.ring.clone(),
            spokes: rays.spoke_rad.clone(),
            value: Array2::from_shape_vec((rings, spokes), light).map_err(wrong)?,
            na: rays.ring.last().copied().unwrap_or(0.0),
            polars_rad: None,
            has_objective: true,
        })
    }

    /// Whether there is a disc and a value for each of its points.
    pub(super) fn check(&self) -> Result<(), FigureError> {
        let (rings, spokes, values) = (self.rings.len(), self.spokes.len(), self.value.len());
        if rings == 0 || spokes == 0 || self.value.dim() != (rings, spokes) {
            return Err(FigureError::MapShape {
                values,
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
    fn picture(&self, scale: &LightScale, side: u32) -> Vec<u8> {
        let light: Vec<[f32; 1]> = self.value.iter().map(|light| [*light as f32]).collect();
        let sampler = Sampler::new(&self.rings, &self.spokes, self.na, side);
        sampler.picture(&light, |_, [light]| scale.color(ramp::colors(), light))
    }

    /// Draws the disc, its rim and the marks of the polars.
    pub(super) fn draw_marked(&self, sheet: &Sheet, scale: &LightScale, disc: (Point, f64)) {
        self.draw(sheet, scale, disc);
        polar_marks(sheet, self.polars_rad, disc, 1.0);
    }

    /// Draws the disc and its rim.
    pub(super) fn draw(&self, sheet: &Sheet, scale: &LightScale, (centre, radius): (Point, f64)) {
        let side = (FINENESS * 2.0 * radius).ceil().max(8.0) as u32;
        let pixels = self.picture(scale, side);
        sheet.disc(centre, radius, (side, pixels), Pen::full(INK, 1.2));
    }
}

/// Marks of the polars' azimuths outside the rim of a disc: the lower polar's thick, the analyzer's thin and longer;
/// `weight` makes both thicker.
pub(super) fn polar_marks(
    sheet: &Sheet,
    polars_rad: Option<(f64, f64)>,
    (centre, radius): (Point, f64),
    weight: f64,
) {
    let Some((lower, analyzer)) = polars_rad else {
        return;
    };
    let long = 0.04 * radius + 3.0;
    for (azimuth, width, length) in [(lower, 4.0, long), (analyzer, 1.4, 1.5 * long)] {
        let (sin, cos) = azimuth.sin_cos();
        for side in [1.0, -1.0] {
            let at = |r: f64| (centre.0 + side * r * cos, centre.1 - side * r * sin);
            let ends = [at(radius + 1.5), at(radius + 1.5 + length)];
            sheet.line(&ends, Pen::full(INK, weight * width));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    #[test]
    fn pixels_follow_the_scale_and_turn_counter_clockwise_from_the_east() {
        // Each quarter of the disc a decade brighter than the one before.
        let mut map = ApertureMap {
            rings: vec![0.3],
            spokes: [0.125, 0.375, 0.625, 0.875].map(|turn| turn * TAU).to_vec(),
            value: Array2::from_shape_vec((1, 4), vec![1e-4, 1e-3, 1e-2, 1e-1]).unwrap(),
            na: 0.6,
            polars_rad: None,
            has_objective: true,
        };
        let colors = ramp::colors();
        let scale = LightScale::of(map.value.iter().copied());
        let pixels = map.picture(&scale, 101);
        let pixel = |column: usize, row: usize| {
            let start = 3 * (row * 101 + column);
            [pixels[start], pixels[start + 1], pixels[start + 2]]
        };
        assert_eq!(pixel(80, 20), colors[0]); // north-east
        assert_eq!(pixel(20, 20), colors[85]);
        assert_eq!(pixel(20, 80), colors[170]);
        assert_eq!(pixel(80, 80), colors[255]);
        assert_eq!([pixel(0, 0), pixel(100, 100)], [[255; 3]; 2]);
        map.value.fill(f64::NAN);
        let pixels = map.picture(&scale, 11);
        assert_eq!(pixels[3 * 60..3 * 61], scale.color(colors, f64::NAN));
        assert!(!colors.contains(&scale.color(colors, f64::NAN)));
    }

    #[test]
    fn a_wrong_table_is_refused() {
        let mut map = ApertureMap::on(&Rays::even(0.6, 2, 3), vec![5.0; 6]).unwrap();
        map.check().unwrap();
        map.na = f64::INFINITY;
        assert!(matches!(map.check(), Err(FigureError::MapNa { .. })));
        map.na = 0.6;
        map.spokes.push(1.0);
        assert!(matches!(map.check(), Err(FigureError::MapShape { .. })));
        assert!(ApertureMap::on(&Rays::even(0.6, 2, 3), vec![5.0; 5]).is_err());
    }
}
