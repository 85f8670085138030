//! Adds one picture to the sums, row by row.

use super::{COUNT, KeptPicture, Merged};
use crate::photograph::curve::eotf;
use crate::photograph::decode::{PictureHeader, RowSamples};
use crate::photograph::error::PhotographProblem;

/// What adds one picture to the sums.
pub(super) struct Adding<'a> {
    sum: &'a mut Merged,
    header: PictureHeader,
    /// The exposure's bit.
    bit: u16,
    /// Whether no exposure before was as long.
    longest: bool,
    curve: Vec<f32>,
    /// Pixels that were saturated.
    pub(super) saturated: usize,
}

impl<'a> Adding<'a> {
    pub(super) fn new(
        sum: &'a mut Merged,
        header: PictureHeader,
        number: usize,
        longest: bool,
    ) -> Self {
        Self {
            sum,
            header,
            bit: 1 << number,
            longest,
            curve: (0..=u8::MAX)
                .map(|count| eotf(f64::from(count) / 255.0) as f32)
                .collect(),
            saturated: 0,
        }
    }

    /// Adds a stretch of a row.
    pub(super) fn add(
        &mut self,
        x: usize,
        y: usize,
        samples: RowSamples<'_>,
    ) -> Result<(), PhotographProblem> {
        let opaque = match samples {
            RowSamples::Eight(row) => {
                let curve = std::mem::take(&mut self.curve);
                let value = |c: u8| curve.get(usize::from(c)).copied().unwrap_or_default();
                let opaque = self.add_row(x, y, row, u8::MAX, f32::from, value);
                self.curve = curve;
                opaque
            }
            RowSamples::Sixteen(row) => {
                let (stored, channels) = (self.header.stored(), self.header.channels);
                for color in row
                    .chunks_exact(stored)
                    .flat_map(|pixel| &pixel[..channels])
                {
                    if let Some(occurs) = self.sum.occurring.get_mut(usize::from(*color)) {
                        *occurs = true;
                    }
                }
                match &self.sum.kept {
                    KeptPicture::Counts(_) => self.keep_row(x, y, row),
                    KeptPicture::Sums { .. } => {
                        self.add_row(x, y, row, u16::MAX, f32::from, |c| f32::from(c) * COUNT)
                    }
                }
            }
            RowSamples::Float(row) => {
                if !row.iter().all(|value| value.is_finite()) {
                    return Err(PhotographProblem::NotFinite);
                }
                self.add_row(x, y, row, 1.0, |c| c, |c| c)
            }
        };
        if opaque {
            Ok(())
        } else {
            Err(PhotographProblem::NotOpaque)
        }
    }

    /// Keeps a stretch of a row of a picture that stands alone; whether it is opaque.
    fn keep_row(&mut self, x: usize, y: usize, row: &[u16]) -> bool {
        let (stored, channels) = (self.header.stored(), self.header.channels);
        let first = (y * self.header.width + x) * channels;
        let samples = first..first + row.len() / stored * channels;
        let limit = self.sum.limit;
        let KeptPicture::Counts(counts) = &mut self.sum.kept else {
            return true;
        };
        let Some(counts) = counts.get_mut(samples) else {
            return true;
        };
        let mut clear = true;
        for (kept, pixel) in (counts.chunks_exact_mut(channels)).zip(row.chunks_exact(stored)) {
            let (colors, alpha) = pixel.split_at(channels);
            clear &= alpha.iter().all(|&alpha| alpha == u16::MAX);
            self.saturated += usize::from(colors.iter().any(|&c| f64::from(c) >= limit));
            kept.copy_from_slice(colors);
        }
        clear
    }

    /// Adds a stretch of a row; whether it is opaque.
    fn add_row<T: Copy + PartialEq>(
        &mut self,
        x: usize,
        y: usize,
        row: &[T],
        opaque: T,
        count: impl Fn(T) -> f32,
        value: impl Fn(T) -> f32,
    ) -> bool {
        let PictureHeader {
            width, channels, ..
        } = self.header;
        let stored = self.header.stored();
        let first = y * width + x;
        let pixels = first..(first + row.len() / stored);
        let limit = self.sum.limit;
        let KeptPicture::Sums { sums, free, black } = &mut self.sum.kept else {
            return true;
        };
        let (Some(sums), Some(free), Some(black)) = (
            sums.get_mut(pixels.start * channels..pixels.end * channels),
            free.get_mut(pixels.clone()),
            black.get_mut(pixels),
        ) else {
            return true;
        };
        let mut clear = true;
        let kept = sums.chunks_exact_mut(channels).zip(free).zip(black);
        for (samples, ((sums, free), black)) in row.chunks_exact(stored).zip(kept) {
            let (colors, alpha) = samples.split_at(channels);
            clear &= alpha.iter().all(|&alpha| alpha == opaque);
            if self.longest {
                *black = (colors.iter().enumerate())
                    .fold(0, |bits, (k, &c)| bits | u8::from(count(c) == 0.0) << k);
            }
            if colors.iter().any(|&c| f64::from(count(c)) >= limit) {
                self.saturated += 1;
                continue;
            }
            *free |= self.bit;
            for (sum, &c) in sums.iter_mut().zip(colors) {
                *sum += value(c);
            }
        }
        clear
    }
}
