//! Pixels become zones: means, their ratio, its error, and why a zone is left out.

use std::f64::consts::PI;
use std::fmt;

use super::disc::PictureDisc;
use super::grid::{Orientation, zone_of};
use super::merge::Merged;
use super::noise::{PixelNoise, quantisation};
use crate::math;
use crate::optics::ZoneGrid;
use crate::threads;

/// Rows that one piece of work takes. The sums are taken in the rows' order whatever the number of threads.
const ROWS: usize = 32;

/// The fewest pixels of a zone that is read.
const FEWEST_PIXELS: usize = 16;

/// The share of a zone's expected pixels that must count.
const LEAST_SHARE: f64 = 0.5;

/// The share of black pixels above which a zone was too dark for the longest exposure.
const MOST_BLACK: f64 = 0.05;

/// What one zone shows.
#[derive(Debug, Clone, PartialEq)]
pub struct SeenZone {
    /// Pixels that the zone's area amounts to.
    pub expected: f64,
    /// Pixels that count: not saturated in at least one exposure of each setting.
    pub counted: usize,
    /// Pixels of the zone in the picture that are saturated in every exposure of a setting.
    pub saturated: usize,
    /// One for each colour channel of the pictures: grey, or red, green and blue.
    pub channels: Vec<ZoneChannel>,
}

/// What one zone shows in one colour channel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ZoneChannel {
    /// Mean of the crossed pictures' light per exposure, full scale 1; 0 where no pixel counts.
    pub crossed: f64,
    /// Mean of the parallel pictures' light per exposure, full scale 1; 0 where no pixel counts.
    pub parallel: f64,
    /// Pixels that count and whose count is 0 in the longest crossed exposure.
    pub black: usize,
    /// The reading, or why there is none.
    pub reading: Result<ZoneReading, LeftOut>,
}

/// Parallel light over crossed light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ZoneReading {
    /// The ratio.
    pub ratio: f64,
    /// Its standard deviation as a share of it, from the pixels' noise and the steps of the counts.
    pub relative_error: f64,
}

/// Why a zone is left out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LeftOut {
    /// Fewer than half of its pixels count, or fewer than 16.
    FewPixels {
        /// Pixels that count.
        counted: usize,
        /// Pixels that its area amounts to.
        expected: f64,
    },
    /// More than 5 % of its pixels are black in the longest crossed exposure.
    TooDark {
        /// The share of black pixels, from 0 to 1.
        share: f64,
    },
    /// The mean of the crossed or of the parallel pictures is not above 0.
    NoLight,
}

impl fmt::Display for LeftOut {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::FewPixels { counted, expected } => {
                write!(f, "only {counted} of {expected:.0} pixels count")
            }
            Self::TooDark { share } => write!(
                f,
                "{:.0} % of its pixels are black in the longest crossed exposure",
                100.0 * share
            ),
            Self::NoLight => f.write_str("no light is left above the dark counts"),
        }
    }
}

/// What has been summed of one zone.
#[derive(Clone)]
pub(super) struct ZoneSums {
    pub(super) counted: usize,
    saturated: usize,
    /// Of two neighbours in a row that both count.
    pub(super) pairs: usize,
    channels: [ChannelSums; 3],
}

/// What has been summed of one zone in one channel.
#[derive(Clone, Copy, Default)]
struct ChannelSums {
    black: usize,
    crossed: PixelNoise,
    parallel: PixelNoise,
}

/// A pixel that counts.
#[derive(Clone, Copy)]
struct Counted {
    zone: usize,
    crossed: [f64; 3],
    parallel: [f64; 3],
}

impl ZoneSums {
    fn empty() -> Self {
        Self {
            counted: 0,
            saturated: 0,
            pairs: 0,
            channels: [ChannelSums::default(); 3],
        }
    }

    fn add(&mut self, pixel: &Counted, black: u8, left: Option<&Counted>) {
        self.counted += 1;
        self.pairs += usize::from(left.is_some());
        for (k, sums) in self.channels.iter_mut().enumerate() {
            sums.black += usize::from(black >> k & 1);
            sums.crossed
                .add(pixel.crossed[k], left.map(|left| left.crossed[k]));
            sums.parallel
                .add(pixel.parallel[k], left.map(|left| left.parallel[k]));
        }
    }

    fn join(&mut self, other: &Self) {
        self.counted += other.counted;
        self.saturated += other.saturated;
        self.pairs += other.pairs;
        for (sums, other) in self.channels.iter_mut().zip(&other.channels) {
            sums.black += other.black;
            sums.crossed.join(&other.crossed);
            sums.parallel.join(&other.parallel);
        }
    }
}

/// Cuts the disc into zones.
pub(super) fn zones(
    crossed: &Merged,
    parallel: &Merged,
    disc: PictureDisc,
    grid: ZoneGrid,
    orientation: Orientation,
) -> Vec<SeenZone> {
    let cut = Cut {
        crossed,
        parallel,
        disc,
        grid,
        orientation,
    };
    let height = crossed.header.height;
    let (first, last) = span(disc.center_y, disc.long_radius, height);
    let pieces = (last.saturating_sub(first)).div_ceil(ROWS);
    let parts = threads::map(0..pieces, |piece| {
        let from = first + piece * ROWS;
        cut.rows(from, last.min(from + ROWS))
    });
    let mut all = vec![ZoneSums::empty(); grid.count()];
    for part in &parts {
        for (sum, other) in all.iter_mut().zip(part) {
            sum.join(other);
        }
    }
    all.iter().map(|sums| cut.zone(sums)).collect()
}

/// Widens the errors by what the zones would show if the disc were elsewhere.
pub(super) fn widen(zones: &mut [SeenZone], elsewhere: &[SeenZone]) {
    let pairs = zones.iter_mut().zip(elsewhere);
    let channels = pairs.flat_map(|(here, there)| here.channels.iter_mut().zip(&there.channels));
    for (here, there) in channels {
        if let Ok(reading) = &mut here.reading {
            let off = math::log(there.parallel / there.crossed / reading.ratio);
            if off.is_finite() {
                reading.relative_error = math::hypot(reading.relative_error, off);
            }
        }
    }
}

/// The first pixel, and the one after the last, that a stretch around a place reaches.
fn span(center: f64, reach: f64, size: usize) -> (usize, usize) {
    let last = (center + reach + 1.0).ceil().clamp(0.0, size as f64) as usize;
    ((center - reach - 1.0).max(0.0) as usize, last)
}

struct Cut<'a> {
    crossed: &'a Merged,
    parallel: &'a Merged,
    disc: PictureDisc,
    grid: ZoneGrid,
    orientation: Orientation,
}

impl Cut<'_> {
    /// The sums over some rows.
    fn rows(&self, from: usize, to: usize) -> Vec<ZoneSums> {
        let mut sums = vec![ZoneSums::empty(); self.grid.count()];
        let disc = self.disc.turned();
        let width = self.crossed.header.width;
        let (first, last) = span(self.disc.center_x, self.disc.long_radius, width);
        for j in from..to {
            let (crossed, parallel) = (self.crossed.row(j), self.parallel.row(j));
            let mut left: Option<Counted> = None;
            for i in first..last {
                let (x, y) = disc.normalized(i as f64 + 0.5, j as f64 + 0.5);
                let zone = zone_of(self.grid, x, y, self.orientation);
                let Some((zone, sum)) = zone.and_then(|zone| Some((zone, sums.get_mut(zone)?)))
                else {
                    left = None;
                    continue;
                };
                match (crossed.pixel(i), parallel.pixel(i)) {
                    (Some((crossed, black)), Some((parallel, _))) => {
                        let pixel = Counted {
                            zone,
                            crossed,
                            parallel,
                        };
                        sum.add(
                            &pixel,
                            black,
                            left.as_ref().filter(|left| left.zone == zone),
                        );
                        left = Some(pixel);
                    }
                    _ => {
                        sum.saturated += 1;
                        left = None;
                    }
                }
            }
        }
        sums
    }

    fn zone(&self, sums: &ZoneSums) -> SeenZone {
        let area = PI
            * self.disc.long_radius
            * self.disc.short_radius
            * ZoneGrid::WITHIN
            * ZoneGrid::WITHIN;
        let expected = area / self.grid.count() as f64;
        let channels = self.crossed.header.channels;
        let channel = |of: &ChannelSums| self.channel(sums, of, expected);
        SeenZone {
            expected,
            counted: sums.counted,
            saturated: sums.saturated,
            channels: sums.channels.iter().take(channels).map(channel).collect(),
        }
    }

    fn channel(&self, sums: &ZoneSums, of: &ChannelSums, expected: f64) -> ZoneChannel {
        let counted = sums.counted;
        let (crossed, parallel) = (of.crossed.mean(counted), of.parallel.mean(counted));
        let share = of.black as f64 / counted.max(1) as f64;
        let reading = if (counted as f64) < LEAST_SHARE * expected || counted < FEWEST_PIXELS {
            Err(LeftOut::FewPixels { counted, expected })
        } else if share > MOST_BLACK {
            Err(LeftOut::TooDark { share })
        } else if !(crossed > 0.0 && parallel > 0.0) {
            Err(LeftOut::NoLight)
        } else {
            let relative = |noise: &PixelNoise, mean: f64| {
                let variance = noise.variance(counted, sums.pairs);
                (variance, variance / (counted as f64 * mean * mean))
            };
            let (dark_noise, of_crossed) = relative(&of.crossed, crossed);
            let (_, of_parallel) = relative(&of.parallel, parallel);
            let steps = quantisation(self.crossed, crossed, dark_noise.sqrt());
            Ok(ZoneReading {
                ratio: parallel / crossed,
                relative_error: (of_crossed + of_parallel + steps).sqrt(),
            })
        };
        ZoneChannel {
            crossed,
            parallel,
            black: of.black,
            reading,
        }
    }
}
