//! The bright patch on a coarse copy of the picture.

use super::fit::Oval;
use crate::math::{cos, sin};
use crate::photograph::grey::Grey;
use crate::threads;

/// The longest side of the coarse copy.
const LONGEST: usize = 1024;

/// A patch is brighter than this share of the way from the background to the brightest: half of an edge that has half of the middle's light.
const THRESHOLD: f64 = 0.25;

/// The faintest disc beside a speck, as a share of the speck's light.
const FAINTEST: f64 = 0.02;

/// How large a second bright patch may be beside the first.
pub(super) const SECOND_SHARE: f64 = 0.1;

/// Directions in which the outline is looked at.
pub(super) const DIRECTIONS: usize = 360;

/// The levels of light that an edge lies between.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Levels {
    pub(super) background: f64,
    pub(super) bright: f64,
}

/// A bright patch.
pub(super) struct Patch {
    /// Pixels in a row or column of a bin.
    bin: usize,
    /// Bins.
    columns: usize,
    rows: usize,
    /// Area, bins.
    pub(super) area: usize,
    /// Area of the second largest patch over that of this one.
    pub(super) second_share: f64,
    /// Points of the outline that are not the picture's border, pixels.
    pub(super) outline: Vec<(f64, f64)>,
    pub(super) levels: Levels,
}

/// The largest bright patch for several ideas of what the brightest is, as specks may be brighter than the disc.
pub(super) fn patches(picture: &Grey) -> Vec<Patch> {
    let coarse = Coarse::of(picture);
    let mut sorted = coarse.values.clone();
    sorted.sort_by(f32::total_cmp);
    let percentile = |share: f64| {
        let at = ((sorted.len().saturating_sub(1)) as f64 * share) as usize;
        f64::from(sorted.get(at).copied().unwrap_or_default())
    };
    let background = percentile(0.02);
    let rises = [1.0, 0.995, 0.95, 0.7].map(|share| percentile(share) - background);
    let mut tried = Vec::new();
    for rise in rises {
        // What is much fainter than the brightest is no disc, and the same threshold is not tried twice.
        if rise > FAINTEST * rises[0] && !tried.contains(&rise) {
            tried.push(rise);
        }
    }
    (tried.iter())
        .filter_map(|rise| coarse.patch(background + THRESHOLD * rise))
        .collect()
}

/// A copy of the picture in bins, without specks of one bin.
struct Coarse {
    bin: usize,
    columns: usize,
    rows: usize,
    values: Vec<f32>,
}

impl Coarse {
    fn of(picture: &Grey) -> Self {
        let bin = picture.width.max(picture.height).div_ceil(LONGEST).max(1);
        let (columns, rows) = (picture.width.div_ceil(bin), picture.height.div_ceil(bin));
        let means = threads::map(0..rows, |row| {
            let mut sums = vec![(0.0_f64, 0_usize); columns];
            let lines = picture
                .values
                .chunks(picture.width)
                .skip(row * bin)
                .take(bin);
            for line in lines {
                for (sum, pixels) in sums.iter_mut().zip(line.chunks(bin)) {
                    sum.0 += pixels.iter().map(|&value| f64::from(value)).sum::<f64>();
                    sum.1 += pixels.len();
                }
            }
            let mean = |(sum, count): &(f64, usize)| (sum / (*count).max(1) as f64) as f32;
            sums.iter().map(mean).collect::<Vec<_>>()
        });
        let means = means.concat();
        let at = |i: usize, j: usize| means.get(j * columns + i).copied().unwrap_or_default();
        let medians = threads::map(0..rows, |j| {
            let median = |i: usize| {
                let mut nine = [0.0; 9];
                for (k, value) in nine.iter_mut().enumerate() {
                    let column = (i + k % 3).saturating_sub(1).min(columns - 1);
                    let row = (j + k / 3).saturating_sub(1).min(rows - 1);
                    *value = at(column, row);
                }
                nine.sort_by(f32::total_cmp);
                nine[4]
            };
            (0..columns).map(median).collect::<Vec<_>>()
        });
        Self {
            bin,
            columns,
            rows,
            values: medians.concat(),
        }
    }

    /// The largest patch of neighbouring bins above a threshold.
    fn patch(&self, threshold: f64) -> Option<Patch> {
        // 0: not bright; otherwise the number of the patch, from 1; `NONE`: bright and not yet in a patch.
        const NONE: u32 = u32::MAX;
        let bright = self
            .values
            .iter()
            .map(|&value| f64::from(value) > threshold);
        let mut labels: Vec<u32> = bright.map(|bright| if bright { NONE } else { 0 }).collect();
        let mut areas = Vec::new();
        let mut ahead = Vec::new();
        for start in 0..labels.len() {
            if labels.get(start) != Some(&NONE) {
                continue;
            }
            let label = areas.len() as u32 + 1;
            let mut area = 0;
            ahead.push(start);
            while let Some(at) = ahead.pop() {
                match labels.get_mut(at) {
                    Some(free) if *free == NONE => *free = label,
                    _ => continue,
                }
                area += 1;
                let column = at % self.columns;
                ahead.extend((column > 0).then(|| at - 1));
                ahead.extend((column + 1 < self.columns).then_some(at + 1));
                ahead.extend(at.checked_sub(self.columns));
                ahead.push(at + self.columns);
            }
            areas.push(area);
        }
        let (largest, &area) =
            (areas.iter().enumerate()).max_by_key(|&(k, &area)| (area, std::cmp::Reverse(k)))?;
        let others = areas.iter().enumerate().filter(|&(k, _)| k != largest);
        let second = others.map(|(_, &area)| area).max().unwrap_or(0);
        let label = largest as u32 + 1;
        let levels = self.levels(&labels, label)?;
        let outline = self.outline(&labels, label, area);
        Some(Patch {
            bin: self.bin,
            columns: self.columns,
            rows: self.rows,
            area,
            second_share: second as f64 / area as f64,
            outline,
            levels,
        })
    }

    /// The light of the patch and of what is not bright; `None` where the two are no different in kind.
    fn levels(&self, labels: &[u32], label: u32) -> Option<Levels> {
        let of = |wanted: u32| {
            let mut chosen: Vec<f32> = (labels.iter().zip(&self.values))
                .filter(|&(&found, _)| found == wanted)
                .map(|(_, &value)| value)
                .collect();
            chosen.sort_by(f32::total_cmp);
            let quantile = |share: f64| {
                let at = (chosen.len() as f64 * share) as usize;
                chosen.get(at).copied().map(f64::from)
            };
            Some((quantile(0.5)?, quantile(0.75)? - quantile(0.25)?))
        };
        let (bright, _) = of(label)?;
        let (background, spread) = of(0)?;
        let contrast = bright - background;
        // The background must be dim, and what rises above it more than its own noise.
        (contrast > 3.0 * spread && background < 0.6 * bright)
            .then_some(Levels { background, bright })
    }

    /// The outermost bins of the patch, seen from its middle. Where the patch reaches the picture's border there is no edge.
    fn outline(&self, labels: &[u32], label: u32, area: usize) -> Vec<(f64, f64)> {
        let mut sums = (0.0, 0.0);
        for at in (0..labels.len()).filter(|&at| labels.get(at) == Some(&label)) {
            sums.0 += (at % self.columns) as f64 + 0.5;
            sums.1 += (at / self.columns) as f64 + 0.5;
        }
        let (x, y) = (sums.0 / area as f64, sums.1 / area as f64);
        let (wide, high) = (self.columns as f64, self.rows as f64);
        let along = |k: usize| {
            let angle = std::f64::consts::TAU * k as f64 / DIRECTIONS as f64;
            let (dx, dy) = (cos(angle), sin(angle));
            let mut last = None;
            for step in 0.. {
                let distance = 0.5 * f64::from(step);
                let (u, v) = (x + distance * dx, y + distance * dy);
                if !((0.0..wide).contains(&u) && (0.0..high).contains(&v)) {
                    break;
                }
                if labels.get(v as usize * self.columns + u as usize) == Some(&label) {
                    last = Some((u, v));
                }
            }
            let (u, v) = last?;
            let free = u > 1.5 && v > 1.5 && u < wide - 1.5 && v < high - 1.5;
            free.then_some((u * self.bin as f64, v * self.bin as f64))
        };
        (0..DIRECTIONS).filter_map(along).collect()
    }
}

impl Patch {
    /// Area, pixels.
    pub(super) fn area_pixels(&self) -> f64 {
        self.area as f64 * (self.bin * self.bin) as f64
    }

    /// Bins whose middle lies in an ellipse.
    pub(super) fn bins_inside(&self, oval: &Oval) -> usize {
        let middle = |k: usize| (k as f64 + 0.5) * self.bin as f64;
        let inside = |&(i, j): &(usize, usize)| oval.distance((middle(i), middle(j))) <= 0.0;
        let bins = (0..self.rows).flat_map(|j| (0..self.columns).map(move |i| (i, j)));
        bins.filter(inside).count()
    }
}
