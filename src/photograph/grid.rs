//! How the camera's directions become the microscope's.

use crate::math::{atan2, hypot};
use crate::optics::ZoneGrid;

/// How the camera's picture lies to the microscope: azimuth 0 is East of the microscope, 90 degrees North.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Orientation {
    /// Whether left and right are exchanged, before turning.
    pub flip: bool,
    /// By how much the picture is then turned, counter-clockwise, radians.
    pub turn_rad: f64,
}

/// The zone of a point in normalised coordinates of the picture; `None` outside all zones.
pub(super) fn zone_of(grid: ZoneGrid, x: f64, y: f64, orientation: Orientation) -> Option<usize> {
    let rho = hypot(x, y);
    let x = if orientation.flip { -x } else { x };
    grid.zone_at(rho, atan2(y, x) + orientation.turn_rad)
}

#[cfg(test)]
#[allow(clippy::disallowed_methods, reason = "tests are no engine")]
mod tests {
    use super::*;

    #[test]
    fn flip_comes_before_turn() {
        let grid = ZoneGrid::default();
        let at = |degrees: f64| {
            (
                0.9 * degrees.to_radians().cos(),
                0.9 * degrees.to_radians().sin(),
            )
        };
        let sector = |degrees: f64, flip, turn_deg: f64| {
            let (x, y) = at(degrees);
            let turn_rad = turn_deg.to_radians();
            zone_of(grid, x, y, Orientation { flip, turn_rad }).unwrap() % 16
        };
        // 10 degrees, mirrored: 170; turned by 30: 200 degrees, in sector 8 (180 to 202.5).
        assert_eq!(sector(10.0, true, 30.0), 8);
        assert_eq!(sector(10.0, false, 30.0), 1);
        assert_eq!(sector(10.0, false, -30.0), 15);
        assert_eq!(sector(10.0, false, 720.0), 0);
    }

    #[test]
    fn outside_and_just_below_east() {
        let grid = ZoneGrid::default();
        assert_eq!(zone_of(grid, 0.98, 0.0, Orientation::default()), None);
        assert_eq!(zone_of(grid, f64::NAN, 0.0, Orientation::default()), None);
        assert_eq!(
            zone_of(grid, 0.5, -1e-300, Orientation::default()),
            Some(16)
        );
        assert_eq!(zone_of(grid, 0.0, 0.0, Orientation::default()), Some(0));
    }
}
