//! Where the aperture's bright disc lies on a picture: a bright patch is looked for on a coarse copy, its edge is followed on the picture itself, and
//! an ellipse is laid through the edge.

mod coarse;
mod edge;
mod fit;

use super::error::PhotographProblem;
use super::grey::Grey;
use crate::math::{cos, sin};
use crate::optics::DISC_ERROR;
use coarse::Patch;
use fit::Oval;

/// The smallest radius that is taken, pixels.
pub(super) const SMALLEST_RADIUS: f64 = 16.0;

/// By how much the long axis may exceed the short one.
const TILT: f64 = 0.03;

/// The share of the disc's edge that must be in the picture.
const LEAST_EDGE: f64 = 0.25;

/// The share of the disc's edge that must be seen for an ellipse; a circle is laid through less.
const EDGE_FOR_ELLIPSE: f64 = 0.5;

/// How far from the fitted edge a point may lie, in radii, to speak for the fit. Irises have straight blades.
const NEAR_EDGE: f64 = 0.03;

/// The share of the edge in the picture that must speak for the fit.
const LEAST_SUPPORT: f64 = 0.6;

/// By how much the bright patch may be larger or smaller than the disc.
const AREA_BOUNDS: std::ops::RangeInclusive<f64> = 0.8..=1.25;

/// How many times as large a fainter patch must be for its problem to be told instead.
const MUCH_LARGER: usize = 4;

/// The disc that a picture was read with.
///
/// Lengths are in pixels, x to the right and y downward from the picture's top left corner, where the centre of the first pixel is at 0.5, 0.5.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PictureDisc {
    /// Centre, pixels from the left.
    pub center_x: f64,
    /// Centre, pixels from the top.
    pub center_y: f64,
    /// Half of the long axis, pixels.
    pub long_radius: f64,
    /// Half of the short axis, pixels.
    pub short_radius: f64,
    /// Azimuth of the long axis, counter-clockwise as seen on the picture, radians from 0 to pi.
    pub azimuth_rad: f64,
    /// Whether it was found on the picture rather than given.
    pub found: bool,
    /// The share of its edge that is in the picture, from 0 to 1.
    pub edge_in_picture: f64,
}

impl PictureDisc {
    /// The mean radius, pixels.
    #[must_use]
    pub fn radius(&self) -> f64 {
        0.5 * (self.long_radius + self.short_radius)
    }

    /// Where it is, in words.
    #[must_use]
    pub fn words(&self) -> String {
        format!(
            "centre {:.1}, {:.1}, radius {:.1} pixels",
            self.center_x,
            self.center_y,
            self.radius()
        )
    }

    /// Normalised coordinates of a point of the picture: x to the right, y upward, the disc's edge at a distance of 1 from the centre.
    ///
    /// Checked by: `photograph::zones::tests`.
    #[must_use]
    pub fn normalized(&self, x: f64, y: f64) -> (f64, f64) {
        self.turned().normalized(x, y)
    }

    /// Whether its centre or its radius lies off another disc's by more than twice what a disc may be off ([`DISC_ERROR`]).
    pub(super) fn is_elsewhere(&self, other: &Self) -> bool {
        let off = [
            self.center_x - other.center_x,
            self.center_y - other.center_y,
            self.radius() - other.radius(),
        ];
        let most = 2.0 * DISC_ERROR * other.radius();
        off.iter().any(|off| off.abs() > most)
    }

    /// On a picture with so many times as many pixels to a side.
    pub(super) fn enlarged(self, times: f64) -> Self {
        Self {
            center_x: times * self.center_x,
            center_y: times * self.center_y,
            long_radius: times * self.long_radius,
            short_radius: times * self.short_radius,
            ..self
        }
    }

    /// With the long axis's sine and cosine taken once.
    pub(super) fn turned(&self) -> TurnedDisc {
        TurnedDisc {
            disc: *self,
            cos: cos(self.azimuth_rad),
            sin: sin(self.azimuth_rad),
        }
    }
}

/// A disc whose long axis's sine and cosine are known.
#[derive(Clone, Copy)]
pub(super) struct TurnedDisc {
    disc: PictureDisc,
    cos: f64,
    sin: f64,
}

impl TurnedDisc {
    pub(super) fn normalized(&self, x: f64, y: f64) -> (f64, f64) {
        let (a, b) = (self.disc.long_radius, self.disc.short_radius);
        let (dx, dy) = (x - self.disc.center_x, -(y - self.disc.center_y));
        if a == b {
            return (dx / a, dy / a);
        }
        let p = (dx * self.cos + dy * self.sin) / a;
        let q = (dy * self.cos - dx * self.sin) / b;
        (p * self.cos - q * self.sin, p * self.sin + q * self.cos)
    }
}

/// Finds the disc.
pub(super) fn find(picture: &Grey) -> Result<PictureDisc, PhotographProblem> {
    let mut problem = PhotographProblem::NoDisc;
    let mut largest = 0;
    for patch in coarse::patches(picture) {
        match around(picture, &patch) {
            Ok(oval) => return judged(picture, oval),
            // A fainter patch has a say where it is much larger: the first may be a speck.
            Err(error) if largest == 0 || patch.area > MUCH_LARGER * largest => {
                largest = patch.area;
                problem = error;
            }
            Err(_) => {}
        }
    }
    Err(problem)
}

/// The ellipse around a bright patch.
fn around(picture: &Grey, patch: &Patch) -> Result<Oval, PhotographProblem> {
    let rough_radius = (patch.area_pixels() / std::f64::consts::PI).sqrt();
    if rough_radius < 0.7 * SMALLEST_RADIUS {
        return Err(match rough_radius {
            // A few bright pixels are dust or noise.
            tiny if tiny < 3.0 => PhotographProblem::NoDisc,
            radius => PhotographProblem::DiscTooSmall { radius },
        });
    }
    if patch.second_share > coarse::SECOND_SHARE {
        let share = patch.second_share;
        return Err(PhotographProblem::SeveralDiscs { share });
    }
    let circle = fit::least_median_circle(&patch.outline).ok_or(PhotographProblem::NoDisc)?;
    let whole = patch.outline.len() as f64 >= EDGE_FOR_ELLIPSE * coarse::DIRECTIONS as f64;
    let mut oval = fit::robust(&patch.outline, circle, whole).unwrap_or(circle);
    let largest = 2.0 * picture.width.max(picture.height) as f64;
    let mut support = 0.0;
    for window in [0.2, 0.12, 0.1] {
        let radius = oval.radius();
        if !(radius.is_finite() && radius < largest) {
            return Err(PhotographProblem::DiscShape);
        }
        let share = edge_in_picture(picture.width, picture.height, &oval);
        if share < LEAST_EDGE {
            return Err(PhotographProblem::DiscCut { share });
        }
        let (points, rays) = edge::points(picture, &oval, window, patch.levels);
        let as_ellipse = points.len() as f64 >= EDGE_FOR_ELLIPSE * rays as f64;
        oval = fit::robust(&points, oval, as_ellipse).ok_or(PhotographProblem::DiscShape)?;
        let near = (NEAR_EDGE * oval.radius()).max(1.5);
        let speak = points
            .iter()
            .filter(|&&point| oval.distance(point).abs() < near);
        support = speak.count() as f64
            / (rays as f64 * edge_in_picture(picture.width, picture.height, &oval)).max(1.0);
    }
    let area = patch.area as f64 / patch.bins_inside(&oval).max(1) as f64;
    if support < LEAST_SUPPORT || !AREA_BOUNDS.contains(&area) {
        return Err(PhotographProblem::DiscShape);
    }
    Ok(oval)
}

/// Refuses a disc that is too small or tilted.
fn judged(picture: &Grey, oval: Oval) -> Result<PictureDisc, PhotographProblem> {
    let radius = oval.radius();
    if radius < SMALLEST_RADIUS {
        return Err(PhotographProblem::DiscTooSmall { radius });
    }
    let (long, short, azimuth_rad) = oval.axes().ok_or(PhotographProblem::DiscShape)?;
    if long > (1.0 + TILT) * short {
        let percent = 100.0 * (long / short - 1.0);
        return Err(PhotographProblem::Tilted { percent });
    }
    Ok(PictureDisc {
        center_x: oval.center_x,
        center_y: oval.center_y,
        long_radius: long,
        short_radius: short,
        azimuth_rad,
        found: true,
        edge_in_picture: edge_in_picture(picture.width, picture.height, &oval),
    })
}

/// The share of an ellipse's edge that lies in the picture.
pub(super) fn edge_in_picture(width: usize, height: usize, oval: &Oval) -> f64 {
    const DIRECTIONS: usize = 720;
    let (width, height) = (width as f64, height as f64);
    let inside = (0..DIRECTIONS).filter(|&k| {
        let (x, y) = oval.edge(std::f64::consts::TAU * k as f64 / DIRECTIONS as f64);
        (0.0..=width).contains(&x) && (0.0..=height).contains(&y)
    });
    inside.count() as f64 / DIRECTIONS as f64
}

/// A circle as an ellipse.
pub(super) fn circle(center_x: f64, center_y: f64, radius: f64) -> Oval {
    Oval::circle(center_x, center_y, radius)
}

#[cfg(test)]
mod tests;
