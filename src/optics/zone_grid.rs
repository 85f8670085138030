//! How the aperture is divided for photographs of it.

use std::f64::consts::TAU;

/// How far the centre of a disc and its radius are usually off, as a share of its radius; see the measured accuracy in `photograph::disc::tests`.
pub const DISC_ERROR: f64 = 0.003;

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
    /// Zones end at this part of the disc's radius: the edge of a photographed disc is blurred.
    pub const WITHIN: f64 = 0.98;

    /// 1 to 64 rings and 1 to 256 sectors; `None` for other numbers.
    #[must_use]
    pub fn new(rings: usize, sectors: usize) -> Option<Self> {
        let fits = (1..=64).contains(&rings) && (1..=256).contains(&sectors);
        fits.then_some(Self { rings, sectors })
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

    /// Ring and sector of a zone.
    #[must_use]
    pub fn place(self, zone: usize) -> (usize, usize) {
        (zone / self.sectors, zone % self.sectors)
    }

    /// Where a zone begins and ends, from the centre, in radii of the disc.
    ///
    /// Checked by: this file's unit tests.
    #[must_use]
    pub fn rho_range(self, zone: usize) -> (f64, f64) {
        let ring = self.place(zone).0 as f64;
        let rho = |ring: f64| Self::WITHIN * (ring / self.rings as f64).sqrt();
        (rho(ring), rho(ring + 1.0))
    }

    /// Where a zone begins and ends, counter-clockwise from East, radians.
    ///
    /// Checked by: this file's unit tests.
    #[must_use]
    pub fn azimuth_range_rad(self, zone: usize) -> (f64, f64) {
        let sector = self.place(zone).1 as f64;
        let azimuth = |sector: f64| TAU * sector / self.sectors as f64;
        (azimuth(sector), azimuth(sector + 1.0))
    }

    /// The middle of a zone: the distance from the centre with half of the zone's area inside, in radii of the disc, and the azimuth, radians.
    ///
    /// Checked by: this file's unit tests.
    #[must_use]
    pub fn middle(self, zone: usize) -> (f64, f64) {
        let ((inner, outer), (from, to)) = (self.rho_range(zone), self.azimuth_range_rad(zone));
        let rho = (0.5 * (inner * inner + outer * outer)).sqrt();
        (rho, 0.5 * (from + to))
    }

    /// The zone of a point at a distance from the centre, in radii of the disc, and an azimuth in radians; `None` outside all zones.
    ///
    /// Checked by: this file's unit tests.
    #[must_use]
    pub fn zone_at(self, rho: f64, azimuth_rad: f64) -> Option<usize> {
        let share = (rho / Self::WITHIN) * (rho / Self::WITHIN);
        // A point that is no number lies outside, too.
        if share.is_nan() || share >= 1.0 {
            return None;
        }
        let ring = (share * self.rings as f64) as usize;
        let sector = (azimuth_rad.rem_euclid(TAU) / TAU * self.sectors as f64) as usize;
        // An angle just below 0 becomes a full turn by rounding: it is counted as 0.
        let sector = if sector >= self.sectors { 0 } else { sector };
        Some(ring.min(self.rings - 1) * self.sectors + sector)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    #[test]
    fn the_middle_of_each_zone_lies_in_it() {
        for (rings, sectors) in [(5, 16), (1, 1), (3, 7), (64, 256)] {
            let grid = ZoneGrid::new(rings, sectors).unwrap();
            for zone in 0..grid.count() {
                let (rho, azimuth) = grid.middle(zone);
                assert_eq!(grid.zone_at(rho, azimuth), Some(zone));
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
    fn grids_without_or_with_too_many_zones_are_none() {
        for (rings, sectors) in [(0, 16), (65, 16), (5, 0), (5, 257)] {
            assert_eq!(ZoneGrid::new(rings, sectors), None);
        }
    }
}
