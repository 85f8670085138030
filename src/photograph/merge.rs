//! Several exposures of one setting become one picture of rates: light per exposure, of the exposures in which a pixel is not saturated.

mod adding;

use super::decode::{Depth, Opened, PictureHeader};
use super::error::{PhotographError, PhotographProblem};
use super::exposure::{CameraNotes, ExposureKind, PictureExposure};
use super::{Fetch, Pictures, Shot};
use crate::threads;
use adding::Adding;

/// The most exposures of one setting: `free` has a bit for each.
pub(super) const MOST_EXPOSURES: usize = 16;

/// A count of 16 bits is kept as its 65536th part, which a 32-bit number holds exactly, and so are sums of up to 256 of them.
const COUNT: f32 = 1.0 / 65536.0;

/// What is kept over what the count means: full scale is 65535.
const FULL_SCALE: f64 = 65536.0 / 65535.0;

/// The most bytes that pictures may take at a time.
const MOST_MEMORY: usize = 940_000_000;

/// The pictures of one setting, summed.
pub(super) struct Merged {
    pub(super) header: PictureHeader,
    kept: KeptPicture,
    /// The count from which a pixel is saturated.
    limit: f64,
    /// For each set of exposures, a bit for each: what dark counts add to the sum, and the sum of the exposures.
    weights: Vec<(f64, f64)>,
    /// What a kept sum is multiplied by, so that full scale is 1.
    scale: f64,
    /// Of pictures of 16 bits, which counts occur.
    occurring: Vec<bool>,
    /// The smallest gap between counts that occur: 16 where a camera's 12 bits stand at the top of 16.
    pub(super) step_counts: f64,
    pub(super) shots: Vec<MergedShot>,
}

/// What is kept of the pixels.
enum KeptPicture {
    /// The counts of a single picture of 16 bits, pixel by pixel and channel by channel.
    Counts(Vec<u16>),
    /// Of several pictures, or of other numbers:
    Sums {
        /// Pixel by pixel and channel by channel, the sum over the exposures in which the pixel is not saturated.
        sums: Vec<f32>,
        /// Of each pixel, a bit for each exposure in which it is not saturated.
        free: Vec<u16>,
        /// Of each pixel, a bit for each channel whose count is 0 in the longest exposure.
        black: Vec<u8>,
    },
}

/// What is kept of a picture that has been added.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct MergedShot {
    pub(super) name: String,
    pub(super) exposure: PictureExposure,
    /// See [`CameraNotes::orientation`].
    pub(super) orientation: Option<u32>,
    /// Saturated pixels of the whole picture.
    pub(super) saturated: usize,
}

/// One row of merged pixels.
#[derive(Clone, Copy)]
pub(super) struct MergedRow<'a> {
    merged: &'a Merged,
    kept: KeptRow<'a>,
}

#[derive(Clone, Copy)]
enum KeptRow<'a> {
    Counts(&'a [u16]),
    Sums {
        sums: &'a [f32],
        free: &'a [u16],
        black: &'a [u8],
    },
}

/// The pictures of a line: the crossed ones and the parallel ones, read at the same time where both fit into memory together.
pub(super) fn merge_both(
    pictures: &Pictures,
    fetch: &Fetch<'_>,
) -> Result<(Merged, Merged), PhotographError> {
    let crossed = Merging::new(&pictures.crossed, "crossed", pictures, fetch)?;
    let parallel = Merging::new(&pictures.parallel, "parallel", pictures, fetch)?;
    let (header, first) = crossed.first()?;
    let keeps = |shots: usize| kept_bytes(header, shots);
    let kept = keeps(pictures.crossed.len()) + keeps(pictures.parallel.len());
    if kept + 2 * first.works_on <= MOST_MEMORY {
        let (crossed, parallel) = threads::join(
            || crossed.merged(Some(first), 0),
            || parallel.merged(None, 0),
        );
        return Ok((crossed?, parallel?));
    }
    let crossed = crossed.merged(Some(first), 0)?;
    let parallel = parallel.merged(None, keeps(pictures.crossed.len()))?;
    Ok((crossed, parallel))
}

/// Bytes that are kept of the pictures of a setting.
fn kept_bytes(header: PictureHeader, shots: usize) -> usize {
    let pixels = header.width * header.height;
    match header.depth {
        Depth::Sixteen if shots == 1 => 2 * header.channels * pixels,
        _ => (4 * header.channels + 3) * pixels,
    }
}

/// A picture's file.
struct Fetched {
    bytes: Vec<u8>,
    /// Bytes that are needed while it is decoded, the file among them.
    works_on: usize,
}

/// What reads and sums the pictures of one setting, one after another.
struct Merging<'a> {
    shots: &'a [Shot],
    pictures: &'a Pictures,
    fetch: &'a Fetch<'a>,
}

impl<'a> Merging<'a> {
    fn new(
        shots: &'a [Shot],
        setting: &'static str,
        pictures: &'a Pictures,
        fetch: &'a Fetch<'a>,
    ) -> Result<Self, PhotographError> {
        let count = shots.len();
        if !(1..=MOST_EXPOSURES).contains(&count) {
            let problem = PhotographProblem::PictureCount { setting, count };
            return Err(PhotographError::request(problem));
        }
        Ok(Self {
            shots,
            pictures,
            fetch,
        })
    }

    /// The file of the first picture, and what its header says.
    fn first(&self) -> Result<(PictureHeader, Fetched), PhotographError> {
        self.fetched(&self.shots[0])
    }

    fn fetched(&self, shot: &Shot) -> Result<(PictureHeader, Fetched), PhotographError> {
        let blame = |problem| PhotographError::of(&shot.name, problem);
        let bytes =
            (self.fetch)(&shot.name).map_err(|why| blame(PhotographProblem::Unreadable { why }))?;
        let opened = Opened::new(&bytes).map_err(blame)?;
        let header = opened.header();
        let works_on = bytes.len() + opened.works_on();
        drop(opened);
        Ok((header, Fetched { bytes, works_on }))
    }

    /// `elsewhere`: bytes that the line's other pictures keep.
    fn merged(
        &self,
        mut first: Option<Fetched>,
        elsewhere: usize,
    ) -> Result<Merged, PhotographError> {
        let mut merged: Option<Merged> = None;
        for (number, shot) in self.shots.iter().enumerate() {
            let fetched = match first.take() {
                Some(fetched) => fetched,
                None => self.fetched(shot)?.1,
            };
            self.add(&mut merged, (number, shot), &fetched, elsewhere)
                .map_err(|problem| PhotographError::of(&shot.name, problem))?;
        }
        let mut merged = merged.ok_or_else(|| {
            PhotographError::request(PhotographProblem::PictureCount {
                setting: "crossed",
                count: 0,
            })
        })?;
        merged.weigh(self.pictures.dark_counts);
        merged.step_counts = smallest_gap(&merged.occurring);
        Ok(merged)
    }

    fn add(
        &self,
        merged: &mut Option<Merged>,
        (number, shot): (usize, &Shot),
        fetched: &Fetched,
        elsewhere: usize,
    ) -> Result<(), PhotographProblem> {
        let opened = Opened::new(&fetched.bytes)?;
        let header = opened.header();
        allowed(header, self.pictures)?;
        let needed = elsewhere + kept_bytes(header, self.shots.len()) + fetched.works_on;
        if needed > MOST_MEMORY {
            return Err(PhotographProblem::TooMuchMemory { bytes: needed });
        }
        let notes = CameraNotes::of(&fetched.bytes);
        let exposure = notes.exposure(shot.exposure_s)?;
        let sum = match merged {
            Some(sum) => {
                sum.fits(header, exposure.kind)?;
                sum
            }
            None => {
                let limit = self.pictures.saturation * header.depth.full_scale();
                merged.insert(Merged::empty(header, self.shots.len(), limit))
            }
        };
        let longest = (sum.shots.iter()).all(|other| exposure.relative > other.exposure.relative);
        let mut adding = Adding::new(sum, header, number, longest);
        opened.read(&mut |x, y, samples| adding.add(x, y, samples))?;
        let saturated = adding.saturated;
        sum.shots.push(MergedShot {
            name: shot.name.clone(),
            exposure,
            orientation: notes.orientation,
            saturated,
        });
        Ok(())
    }
}

/// The smallest gap between counts that occur; 1 where fewer than two do.
fn smallest_gap(occurring: &[bool]) -> f64 {
    let counts = occurring.iter().enumerate().filter(|(_, occurs)| **occurs);
    let counts: Vec<usize> = counts.map(|(count, _)| count).collect();
    let gaps = counts.windows(2).map(|pair| pair[1] - pair[0]);
    gaps.min().unwrap_or(1) as f64
}

/// Refuses pictures that the request does not allow.
fn allowed(header: PictureHeader, pictures: &Pictures) -> Result<(), PhotographProblem> {
    if header.depth == Depth::Eight && !pictures.accept_curves {
        return Err(PhotographProblem::Curve);
    }
    if header.depth != Depth::Sixteen && pictures.dark_counts != 0.0 {
        return Err(PhotographProblem::DarkCounts);
    }
    Ok(())
}

/// Refuses a picture that cannot stand beside the first one of the line.
pub(super) fn same_frame(
    header: PictureHeader,
    first: PictureHeader,
) -> Result<(), PhotographProblem> {
    let sizes = [header, first].map(|of| (of.width, of.height));
    if sizes[0] != sizes[1] {
        return Err(PhotographProblem::OtherSize {
            size: sizes[0],
            first: sizes[1],
        });
    }
    if header.channels != first.channels {
        return Err(PhotographProblem::OtherChannels {
            channels: header.channels,
            first: first.channels,
        });
    }
    Ok(())
}

/// Refuses an exposure that is told otherwise than the first one of the line.
pub(super) fn same_exposure(
    this: ExposureKind,
    first: ExposureKind,
) -> Result<(), PhotographProblem> {
    if this == first {
        return Ok(());
    }
    Err(PhotographProblem::MixedExposures { this, first })
}

impl Merged {
    fn empty(header: PictureHeader, shots: usize, limit: f64) -> Self {
        let pixels = header.width * header.height;
        let samples = pixels * header.channels;
        let kept = match header.depth {
            Depth::Sixteen if shots == 1 => KeptPicture::Counts(vec![0; samples]),
            _ => KeptPicture::Sums {
                sums: vec![0.0; samples],
                free: vec![0; pixels],
                black: vec![0; pixels],
            },
        };
        let scale = match header.depth {
            Depth::Sixteen => FULL_SCALE,
            Depth::Eight | Depth::Float => 1.0,
        };
        Self {
            header,
            kept,
            limit,
            weights: Vec::new(),
            scale,
            occurring: vec![false; 1 << 16],
            step_counts: 1.0,
            shots: Vec::new(),
        }
    }

    /// Whether a further picture of the setting can be added.
    fn fits(&self, header: PictureHeader, kind: ExposureKind) -> Result<(), PhotographProblem> {
        same_frame(header, self.header)?;
        if header.depth != self.header.depth {
            return Err(PhotographProblem::OtherDepth {
                depth: header.depth.words(),
                first: self.header.depth.words(),
            });
        }
        match self.shots.first() {
            Some(first) => same_exposure(kind, first.exposure.kind),
            None => Ok(()),
        }
    }

    /// Tabulates what belongs to each set of exposures.
    fn weigh(&mut self, dark_counts: f64) {
        let all = 1_usize << self.shots.len();
        let weights = (0..all).map(|set| {
            let within = self
                .shots
                .iter()
                .enumerate()
                .filter(|(k, _)| set >> k & 1 == 1);
            within.fold((0.0, 0.0), |(dark, exposure), (_, shot)| {
                (
                    dark + dark_counts / Depth::Sixteen.full_scale(),
                    exposure + shot.exposure.relative,
                )
            })
        });
        self.weights = weights.collect();
    }

    /// The sum of all exposures.
    pub(super) fn whole_exposure(&self) -> f64 {
        self.weights.last().map_or(0.0, |weight| weight.1)
    }

    /// The longest exposure.
    pub(super) fn longest_exposure(&self) -> f64 {
        (self.shots.iter()).fold(0.0, |longest, shot| shot.exposure.relative.max(longest))
    }

    /// The shortest exposure.
    pub(super) fn shortest_exposure(&self) -> f64 {
        (self.shots.iter()).fold(f64::INFINITY, |shortest, shot| {
            shot.exposure.relative.min(shortest)
        })
    }

    /// The row of this number, counted from the top; rows outside the picture are empty.
    pub(super) fn row(&self, j: usize) -> MergedRow<'_> {
        let width = self.header.width;
        let pixels = j.saturating_mul(width)..j.saturating_add(1).saturating_mul(width);
        let samples = pixels.start.saturating_mul(self.header.channels)
            ..pixels.end.saturating_mul(self.header.channels);
        let kept = match &self.kept {
            KeptPicture::Counts(counts) => KeptRow::Counts(counts.get(samples).unwrap_or_default()),
            KeptPicture::Sums { sums, free, black } => KeptRow::Sums {
                sums: sums.get(samples).unwrap_or_default(),
                free: free.get(pixels.clone()).unwrap_or_default(),
                black: black.get(pixels).unwrap_or_default(),
            },
        };
        MergedRow { merged: self, kept }
    }

    /// Light per exposure of a kept sum.
    #[inline]
    fn rate(&self, sum: f32, (dark, exposure): (f64, f64)) -> f64 {
        (f64::from(sum) * self.scale - dark) / exposure
    }
}

impl MergedRow<'_> {
    /// The rates of a pixel's channels, and a bit for each channel that is black; `None` where the pixel is saturated in every exposure, or outside
    /// the picture.
    #[inline]
    pub(super) fn pixel<const CHANNELS: usize>(&self, i: usize) -> Option<([f64; 3], u8)> {
        let samples = i * CHANNELS..(i + 1) * CHANNELS;
        let mut rates = [0.0; 3];
        match self.kept {
            KeptRow::Counts(counts) => {
                let counts = counts.get(samples)?;
                let weight = *self.merged.weights.last()?;
                let mut black = 0;
                for (k, (rate, &count)) in rates.iter_mut().zip(counts).enumerate() {
                    if f64::from(count) >= self.merged.limit {
                        return None;
                    }
                    black |= u8::from(count == 0) << k;
                    *rate = self.merged.rate(f32::from(count) * COUNT, weight);
                }
                Some((rates, black))
            }
            KeptRow::Sums { sums, free, black } => {
                let set = *free.get(i)?;
                if set == 0 {
                    return None;
                }
                let weight = *self.merged.weights.get(usize::from(set))?;
                for (rate, &sum) in rates.iter_mut().zip(sums.get(samples)?) {
                    *rate = self.merged.rate(sum, weight);
                }
                Some((rates, *black.get(i)?))
            }
        }
    }
}
