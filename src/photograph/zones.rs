//! Pixels become zones: means, their ratio, its error, and why a zone is left out.

use std::f64::consts::PI;
use std::fmt;

use super::disc::PictureDisc;
use super::grid::{Orientation, zone_of};
use super::merge::Merged;
use super::noise::{PixelNoise, ROUNDING, quantisation};
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
    /// Its standard deviation as a share of it, from the pixels' noise, the steps of the counts, and the zone's border, which runs along whole pixels.
    pub relative_error: f64,
    /// What would be added to its logarithm if the disc's centre lay further right, or further down, or if the disc were larger, each by as much as the
    /// disc may be off ([`super::Pictures::disc_error`]): errors that the zones of a picture share.
    pub framing: [f64; 3],
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

/// What has been summed of one zone, or of a stretch of a row.
#[derive(Clone, Copy)]
struct Sums<const CHANNELS: usize> {
    counted: usize,
    saturated: usize,
    /// Of two neighbours in a row that both count.
    pairs: usize,
    channels: [ChannelSums; CHANNELS],
}

/// What has been summed of one zone in one channel.
#[derive(Clone, Copy, Default)]
struct ChannelSums {
    black: usize,
    crossed: PixelNoise,
    parallel: PixelNoise,
}

/// A pixel that counts: its light in both settings.
#[derive(Clone, Copy)]
struct Counted {
    crossed: [f64; 3],
    parallel: [f64; 3],
}

impl<const CHANNELS: usize> Sums<CHANNELS> {
    const NONE: Self = Self {
        counted: 0,
        saturated: 0,
        pairs: 0,
        channels: [ChannelSums {
            black: 0,
            crossed: PixelNoise::NONE,
            parallel: PixelNoise::NONE,
        }; CHANNELS],
    };

    #[inline]
    fn add(&mut self, pixel: &Counted, black: u8) {
        self.counted += 1;
        for (k, sums) in self.channels.iter_mut().enumerate() {
            sums.black += usize::from(black >> k & 1);
            sums.crossed.add(pixel.crossed[k]);
            sums.parallel.add(pixel.parallel[k]);
        }
    }

    /// Adds what a pixel and its neighbour to the left differ by.
    #[inline]
    fn add_pair(&mut self, pixel: &Counted, left: &Counted) {
        self.pairs += 1;
        for (k, sums) in self.channels.iter_mut().enumerate() {
            sums.crossed.add_pair(pixel.crossed[k], left.crossed[k]);
            sums.parallel.add_pair(pixel.parallel[k], left.parallel[k]);
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

/// One way to cut the disc: where it is taken to lie, and how the camera lay.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cutting {
    pub(super) disc: PictureDisc,
    pub(super) orientation: Orientation,
}

/// Cuts the disc into zones in several ways. Each pixel is looked at once: along a row, zones are stretches, and the pixels between two neighbouring
/// ends of stretches, whichever way they belong to, are summed together.
pub(super) fn zones(
    crossed: &Merged,
    parallel: &Merged,
    grid: ZoneGrid,
    cuttings: &[Cutting],
) -> Vec<Vec<SeenZone>> {
    let cut = Cut {
        crossed,
        parallel,
        grid,
        cuttings,
    };
    match crossed.header.channels {
        1 => cut.all::<1>(),
        _ => cut.all::<3>(),
    }
}

/// Tells what the zones would show if the disc lay elsewhere, or were larger; `off` is by how many pixels.
///
/// A zone's border runs along whole pixels: each pixel on it, half a zone from the middle, is in or out by a fraction that is anything from 0 to 1. Of
/// a square of N pixels the middle of what is summed is therefore off by some 0.29 / N^(1/4) pixels. (Worked out here; no source.)
pub(super) fn framed(zones: &mut [SeenZone], elsewhere: [&[SeenZone]; 3], off: f64) {
    for (at, zone) in zones.iter_mut().enumerate() {
        let ragged = ROUNDING / (zone.counted.max(1) as f64).sqrt().sqrt();
        for (k, channel) in zone.channels.iter_mut().enumerate() {
            let Ok(reading) = &mut channel.reading else {
                continue;
            };
            reading.framing = elsewhere.map(|zones| {
                let there = zones.get(at).and_then(|zone| zone.channels.get(k));
                let off = there.map_or(0.0, |there| {
                    math::log(there.parallel / there.crossed / reading.ratio)
                });
                if off.is_finite() { off } else { 0.0 }
            });
            let [right, down, _] = reading.framing;
            let border = math::hypot(right, down) * ragged / off;
            reading.relative_error = math::hypot(reading.relative_error, border);
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
    grid: ZoneGrid,
    cuttings: &'a [Cutting],
}

/// Pixels of a row that lie in one zone.
struct ZoneStretch {
    from: usize,
    to: usize,
    zone: usize,
}

impl Cutting {
    /// The zones of a row: stretches from left to right.
    fn stretches(&self, grid: ZoneGrid, width: usize, j: usize, into: &mut Vec<ZoneStretch>) {
        into.clear();
        let disc = self.disc.turned();
        let (first, last) = span(self.disc.center_x, self.disc.long_radius, width);
        let at = |i: usize| disc.normalized(i as f64 + 0.5, j as f64 + 0.5);
        let zone = |i: usize| {
            let (x, y) = at(i);
            zone_of(grid, x, y, self.orientation)
        };
        // From the place nearest to the disc's centre, the distance from the centre grows and the azimuth changes by less than half a turn to
        // either side: a zone that is left is not entered again.
        let (start, next) = (at(0), at(1));
        let step = (next.0 - start.0, next.1 - start.1);
        let nearest = -(start.0 * step.0 + start.1 * step.1) / (step.0 * step.0 + step.1 * step.1);
        let middle = (nearest.floor().clamp(-1.0, width as f64) + 1.0) as usize;
        let middle = middle.clamp(first, last);
        for (from, to) in [(first, middle), (middle, last)] {
            if from < to {
                stretches_between((from, zone(from)), (to - 1, zone(to - 1)), &zone, into);
            }
        }
    }
}

/// The zones between two pixels, both of them taken in, by halving.
fn stretches_between(
    (from, first): (usize, Option<usize>),
    (to, last): (usize, Option<usize>),
    zone: &impl Fn(usize) -> Option<usize>,
    into: &mut Vec<ZoneStretch>,
) {
    if first == last {
        add_stretch(from, to + 1, first, into);
    } else if to == from + 1 {
        add_stretch(from, from + 1, first, into);
        add_stretch(to, to + 1, last, into);
    } else {
        let middle = from.midpoint(to);
        let between = zone(middle);
        stretches_between((from, first), (middle, between), zone, into);
        stretches_between((middle + 1, zone(middle + 1)), (to, last), zone, into);
    }
}

fn add_stretch(from: usize, to: usize, zone: Option<usize>, into: &mut Vec<ZoneStretch>) {
    let Some(zone) = zone else {
        return;
    };
    match into.last_mut() {
        Some(before) if before.to == from && before.zone == zone => before.to = to,
        _ => into.push(ZoneStretch { from, to, zone }),
    }
}

/// A place in a row, with what has been summed left of it.
#[derive(Clone, Copy)]
struct Mark<const CHANNELS: usize> {
    before: Sums<CHANNELS>,
    /// What the pixel right of it and the one left of it differ by.
    across: Sums<CHANNELS>,
}

impl<const CHANNELS: usize> Mark<CHANNELS> {
    /// What lies between this place and a later one.
    fn to(&self, later: &Self) -> Sums<CHANNELS> {
        let mut sums = later.before;
        for less in [&self.before, &self.across] {
            sums.counted -= less.counted;
            sums.saturated -= less.saturated;
            sums.pairs -= less.pairs;
            for (sums, less) in sums.channels.iter_mut().zip(&less.channels) {
                sums.black -= less.black;
                sums.crossed.take(&less.crossed);
                sums.parallel.take(&less.parallel);
            }
        }
        sums
    }
}

impl Cut<'_> {
    fn all<const CHANNELS: usize>(&self) -> Vec<Vec<SeenZone>> {
        let height = self.crossed.header.height;
        let rows = self
            .cuttings
            .iter()
            .map(|cutting| span(cutting.disc.center_y, cutting.disc.long_radius, height));
        let (first, last) = rows.fold((height, 0), |all, of| (all.0.min(of.0), all.1.max(of.1)));
        let pieces = (last.saturating_sub(first)).div_ceil(ROWS);
        let parts = threads::map(0..pieces, |piece| {
            let from = first + piece * ROWS;
            self.rows::<CHANNELS>(from, last.min(from + ROWS))
        });
        let mut all = vec![Sums::<CHANNELS>::NONE; self.cuttings.len() * self.grid.count()];
        for part in &parts {
            for (sum, other) in all.iter_mut().zip(part) {
                sum.join(other);
            }
        }
        (self.cuttings.iter().zip(all.chunks(self.grid.count())))
            .map(|(cutting, all)| {
                all.iter()
                    .map(|sums| self.zone(&cutting.disc, sums))
                    .collect()
            })
            .collect()
    }

    /// The sums over some rows, for one way to cut after the other.
    fn rows<const CHANNELS: usize>(&self, from: usize, to: usize) -> Vec<Sums<CHANNELS>> {
        let count = self.grid.count();
        let width = self.crossed.header.width;
        let mut sums = vec![Sums::NONE; self.cuttings.len() * count];
        let mut stretches: Vec<Vec<ZoneStretch>> = Vec::new();
        stretches.resize_with(self.cuttings.len(), Vec::new);
        let (mut ends, mut marks) = (Vec::new(), Vec::new());
        for j in from..to {
            ends.clear();
            for (cutting, stretches) in self.cuttings.iter().zip(&mut stretches) {
                cutting.stretches(self.grid, width, j, stretches);
                ends.extend(stretches.iter().flat_map(|of| [of.from, of.to]));
            }
            ends.sort_unstable();
            ends.dedup();
            self.marks(j, &ends, &mut marks);
            let mark = |at: usize| ends.binary_search(&at).ok().and_then(|k| marks.get(k));
            for (sums, stretches) in sums.chunks_mut(count).zip(&stretches) {
                for of in stretches {
                    if let (Some(from), Some(to), Some(sum)) =
                        (mark(of.from), mark(of.to), sums.get_mut(of.zone))
                    {
                        sum.join(&from.to(to));
                    }
                }
            }
        }
        sums
    }

    /// What has been summed of a row at each of some places in it.
    fn marks<const CHANNELS: usize>(
        &self,
        j: usize,
        ends: &[usize],
        marks: &mut Vec<Mark<CHANNELS>>,
    ) {
        marks.clear();
        let (crossed, parallel) = (self.crossed.row(j), self.parallel.row(j));
        let mut sums = Sums::NONE;
        let mut left: Option<Counted> = None;
        for (k, &from) in ends.iter().enumerate() {
            let mut mark = Mark {
                before: sums,
                across: Sums::NONE,
            };
            for i in from..ends.get(k + 1).copied().unwrap_or(from) {
                let (Some((dark, black)), Some((bright, _))) =
                    (crossed.pixel::<CHANNELS>(i), parallel.pixel::<CHANNELS>(i))
                else {
                    sums.saturated += 1;
                    left = None;
                    continue;
                };
                let pixel = Counted {
                    crossed: dark,
                    parallel: bright,
                };
                sums.add(&pixel, black);
                if let Some(left) = &left {
                    sums.add_pair(&pixel, left);
                    if i == from {
                        mark.across.add_pair(&pixel, left);
                    }
                }
                left = Some(pixel);
            }
            marks.push(mark);
        }
    }

    fn zone<const CHANNELS: usize>(&self, disc: &PictureDisc, sums: &Sums<CHANNELS>) -> SeenZone {
        let area = PI * disc.long_radius * disc.short_radius * ZoneGrid::WITHIN * ZoneGrid::WITHIN;
        let expected = area / self.grid.count() as f64;
        let channel = |of: &ChannelSums| self.channel((sums.counted, sums.pairs), of, expected);
        SeenZone {
            expected,
            counted: sums.counted,
            saturated: sums.saturated,
            channels: sums.channels.iter().map(channel).collect(),
        }
    }

    fn channel(
        &self,
        (counted, pairs): (usize, usize),
        of: &ChannelSums,
        expected: f64,
    ) -> ZoneChannel {
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
                let variance = noise.variance(counted, pairs);
                (variance, variance / (counted as f64 * mean * mean))
            };
            let (dark_noise, of_crossed) = relative(&of.crossed, crossed);
            let (_, of_parallel) = relative(&of.parallel, parallel);
            let steps = quantisation(self.crossed, crossed, dark_noise.sqrt());
            Ok(ZoneReading {
                ratio: parallel / crossed,
                relative_error: (of_crossed + of_parallel + steps).sqrt(),
                framing: [0.0; 3],
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
