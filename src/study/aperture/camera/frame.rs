//! Where the aperture lies in a camera's picture.

use std::f64::consts::TAU;

use crate::math;

/// Radius of the disc over the picture's width.
const RADIUS: f64 = 0.45;

/// How a camera sees the disc of the aperture. Pixels count from the picture's top left corner, x to the right and y downward; the middle of the first
/// pixel is at 0.5, 0.5.
///
/// Camera and microscope agree on azimuths by two numbers that a reader of the picture needs too: the picture is first mirrored left to right where
/// `flip` says so, and then `turn_rad` is added to its azimuths. What comes out is the microscope's: 0 is East, counter-clockwise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PictureFrame {
    /// The disc's centre, pixels.
    pub center_x: f64,
    /// The disc's centre, pixels.
    pub center_y: f64,
    /// The disc's radius, pixels.
    pub radius: f64,
    /// Whether the picture is mirrored.
    pub flip: bool,
    /// What its azimuths lack, radians counter-clockwise.
    pub turn_rad: f64,
}

impl PictureFrame {
    /// Of a picture so many pixels across, the disc's centre `decentred` radii East of the picture's middle.
    pub(super) fn new(pixels: u32, decentred: f64, flip: bool, turn_rad: f64) -> Self {
        let middle = 0.5 * f64::from(pixels);
        let centred = Self {
            center_x: middle,
            center_y: middle,
            radius: RADIUS * f64::from(pixels),
            flip,
            turn_rad,
        };
        let (center_x, center_y) = centred.pixel(decentred, 0.0);
        Self {
            center_x,
            center_y,
            ..centred
        }
    }

    /// Where in the aperture a point of the picture lies: its distance from the axis, 1 at the edge of the disc, and its azimuth, radians.
    #[must_use]
    pub fn place(&self, x: f64, y: f64) -> (f64, f64) {
        let (right, up) = self.off_center(x, y);
        let east = if self.flip { -right } else { right };
        let azimuth_rad = math::atan2(up, east) + self.turn_rad;
        (
            math::hypot(right, up) / self.radius,
            azimuth_rad.rem_euclid(TAU),
        )
    }

    /// Where in the picture a place of the aperture lies: the other way round.
    #[must_use]
    pub fn pixel(&self, distance: f64, azimuth_rad: f64) -> (f64, f64) {
        let (sin, cos) = math::sincos(azimuth_rad - self.turn_rad);
        let right = if self.flip { -cos } else { cos };
        let r = distance * self.radius;
        (self.center_x + r * right, self.center_y - r * sin)
    }

    fn off_center(&self, x: f64, y: f64) -> (f64, f64) {
        (x - self.center_x, self.center_y - y)
    }

    /// How much of the pixel around a point lies in the disc. Within a pixel the disc's edge is taken to be straight.
    pub(super) fn cover(&self, x: f64, y: f64) -> f64 {
        let (right, up) = self.off_center(x, y);
        let r = math::hypot(right, up);
        let inside = self.radius - r;
        if inside.abs() >= 1.0 {
            return if inside > 0.0 { 1.0 } else { 0.0 };
        }
        let (one, other) = ((right / r).abs(), (up / r).abs());
        let (long, short) = (one.max(other), one.min(other));
        // The edge cuts a corner off the pixel, or crosses it from side to side.
        let corner = 0.5 * (long + short) - inside.abs();
        let less = if corner <= 0.0 {
            0.0
        } else if corner < short {
            0.5 * corner * corner / (long * short)
        } else {
            0.5 - inside.abs() / long
        };
        if inside > 0.0 { 1.0 - less } else { less }
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::{FRAC_PI_2, PI};

    use super::*;

    #[test]
    fn the_covered_pixels_add_up_to_the_disc() {
        let frame = PictureFrame::new(101, 0.03, false, 0.3);
        let middles = || (0..101).map(|k| f64::from(k) + 0.5);
        let area: f64 = middles()
            .flat_map(|y| middles().map(move |x| frame.cover(x, y)))
            .sum();
        let disc = PI * frame.radius.powi(2);
        assert!((area / disc - 1.0).abs() < 1e-4, "{area} {disc}");
    }

    /// As the specification of photographs has it: mirrored first, then turned.
    #[test]
    fn places_are_where_a_reader_looks_for_them() {
        for (flip, turn) in [(false, 0.0), (true, 0.0), (false, 0.4), (true, -1.1)] {
            let frame = PictureFrame::new(200, 0.05, flip, turn);
            for (distance, azimuth) in [(0.5, 0.3), (0.9, 4.0)] {
                let (x, y) = frame.pixel(distance, azimuth);
                let (dx, dy) = (
                    (x - frame.center_x) / frame.radius,
                    -(y - frame.center_y) / frame.radius,
                );
                let dx = if flip { -dx } else { dx };
                let read = (math::atan2(dy, dx) + turn).rem_euclid(TAU);
                assert!(
                    (read - azimuth).abs() < 1e-12
                        && (math::hypot(dx, dy) - distance).abs() < 1e-12
                );
                let (back, back_rad) = frame.place(x, y);
                assert!((back - distance).abs() < 1e-12 && (back_rad - azimuth).abs() < 1e-12);
            }
        }
        // East of the picture's middle lies the disc's centre: to the right, or with the picture turned by 90 degrees below.
        let plain = PictureFrame::new(200, 0.05, false, 0.0);
        assert!((plain.center_x - 104.5).abs() < 1e-12 && plain.center_y == 100.0);
        let turned = PictureFrame::new(200, 0.05, false, FRAC_PI_2);
        assert!((turned.center_y - 104.5).abs() < 1e-12 && (turned.center_x - 100.0).abs() < 1e-12);
    }
}
