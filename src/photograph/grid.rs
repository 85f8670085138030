//! Rings and sectors of equal area, and how the camera's directions become the microscope's.

use std::f64::consts::TAU;

use super::error::{PhotographError, PhotographProblem};
use crate::math::{atan2, hypot};

/// The blurred edge of the disc is left out: what lies further from the centre than this, in radii.
pub(super) const OUTERMOST: f64 = 0.98;

/// How the camera's picture lies to the microscope: azimuth 0 is East of the microscope, 90 degrees North.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Orientation {
    /// Whether left and right are exchanged, before turning.
    pub flip: bool,
    /// By how much the picture is then turned, counter-clockwise, radians.
    pub turn_rad: f64,
}

/// Zones of equal area: rings, each cut into sectors. Zone number = ring x sectors + sector; ring 0 is the innermost, sector 0 begins at East and
/// reaches counter-clockwise.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ZoneGrid {
    rings: usize,
    sectors: usize,
}

impl Default for ZoneGrid {
    fn default() -> Self {
        Self {
            rings: 5,
            sectors: 16,
        }
    }
}

impl ZoneGrid {
    /// Rings (1 to 64) and sectors (1 to 256).
    ///
    /// # Errors
    /// [`PhotographProblem::OutOfRange`].
    ///
    /// Checked by: `photograph::grid::tests`.
    pub fn new(rings: usize, sectors: usize) -> Result<Self, PhotographError> {
        let refused = |what, value: usize, allowed| {
            PhotographError::request(PhotographProblem::OutOfRange {
                what,
                value: value as f64,
                allowed,
            })
        };
        if !(1..=64).contains(&rings) {
            return Err(refused("rings", rings, "1 to 64"));
        }
        if !(1..=256).contains(&sectors) {
            return Err(refused("sectors", sectors, "1 to 256"));
        }
        Ok(Self { rings, sectors })
    }

    /// Rings.
    #[must_use]
    pub fn rings(self) -> usize {
        self.rings
    }

    /// Sectors of a ring.
    #[must_use]
    pub fn sectors(self) -> usize {
        self.sectors
    }

    /// All zones.
    #[must_use]
    pub fn count(self) -> usize {
        self.rings * self.sectors
    }

    /// Where a zone begins and ends, from the centre, in radii of the disc.
    ///
    /// Checked by: `photograph::grid::tests`.
    #[must_use]
    pub fn rho_range(self, zone: usize) -> (f64, f64) {
        let ring = (zone / self.sectors) as f64;
        let rho = |ring: f64| OUTERMOST * (ring / self.rings as f64).sqrt();
        (rho(ring), rho(ring + 1.0))
    }

    /// Where a zone begins and ends, counter-clockwise from East, radians.
    ///
    /// Checked by: `photograph::grid::tests`.
    #[must_use]
    pub fn azimuth_range_rad(self, zone: usize) -> (f64, f64) {
        let sector = (zone % self.sectors) as f64;
        let azimuth = |sector: f64| TAU * sector / self.sectors as f64;
        (azimuth(sector), azimuth(sector + 1.0))
    }

    /// The middle of a zone: the distance from the centre with half of the zone's area inside, in radii of the disc, and the azimuth, radians.
    ///
    /// Checked by: `photograph::grid::tests`.
    #[must_use]
    pub fn middle(self, zone: usize) -> (f64, f64) {
        let ((inner, outer), (from, to)) = (self.rho_range(zone), self.azimuth_range_rad(zone));
        let rho = (0.5 * (inner * inner + outer * outer)).sqrt();
        (rho, 0.5 * (from + to))
    }

    /// The zone of a point in normalised coordinates of the picture; `None` outside all zones.
    ///
    /// Checked by: `photograph::grid::tests`.
    #[must_use]
    pub fn zone_of(self, x: f64, y: f64, orientation: Orientation) -> Option<usize> {
        let rho = hypot(x, y);
        let share = (rho / OUTERMOST) * (rho / OUTERMOST);
        // A point that is no number lies outside, too.
        if share.is_nan() || share >= 1.0 {
            return None;
        }
        let x = if orientation.flip { -x } else { x };
        let azimuth = (atan2(y, x) + orientation.turn_rad).rem_euclid(TAU);
        let ring = (share * self.rings as f64) as usize;
        let sector = (azimuth / TAU * self.sectors as f64) as usize;
        // An angle just below 0 becomes a full turn by rounding: it is counted as 0.
        let sector = if sector >= self.sectors { 0 } else { sector };
        Some(ring.min(self.rings - 1) * self.sectors + sector)
    }
}

#[cfg(test)]
#[allow(clippy::disallowed_methods, reason = "tests are no engine")]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    #[test]
    fn the_middle_of_each_zone_lies_in_it() {
        for (rings, sectors) in [(5, 16), (1, 1), (3, 7), (64, 256)] {
            let grid = ZoneGrid::new(rings, sectors).unwrap();
            for zone in 0..grid.count() {
                let (rho, azimuth) = grid.middle(zone);
                let (x, y) = (rho * azimuth.cos(), rho * azimuth.sin());
                assert_eq!(grid.zone_of(x, y, Orientation::default()), Some(zone));
            }
        }
    }

    #[test]
    fn zones_have_equal_areas() {
        let grid = ZoneGrid::default();
        let area = |zone| {
            let ((inner, outer), (from, to)) = (grid.rho_range(zone), grid.azimuth_range_rad(zone));
            0.5 * (outer * outer - inner * inner) * (to - from)
        };
        for zone in 0..80 {
            approx::assert_relative_eq!(area(zone), PI * 0.98 * 0.98 / 80.0, max_relative = 1e-12);
        }
    }

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
            grid.zone_of(x, y, Orientation { flip, turn_rad }).unwrap() % 16
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
        assert_eq!(grid.zone_of(0.98, 0.0, Orientation::default()), None);
        assert_eq!(grid.zone_of(f64::NAN, 0.0, Orientation::default()), None);
        assert_eq!(grid.zone_of(0.5, -1e-300, Orientation::default()), Some(16));
        assert_eq!(grid.zone_of(0.0, 0.0, Orientation::default()), Some(0));
    }

    #[test]
    fn grids_without_or_with_too_many_zones_are_refused() {
        for (rings, sectors) in [(0, 16), (65, 16), (5, 0), (5, 257)] {
            let error = ZoneGrid::new(rings, sectors).unwrap_err();
            assert!(matches!(
                error.problem(),
                PhotographProblem::OutOfRange { .. }
            ));
        }
    }
}
