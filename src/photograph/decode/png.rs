//! PNG, row by row.

use std::io::Cursor;

use png::{BitDepth, ColorType, DecodeOptions, Decoder, Limits, Reader, Transformations};

use super::{Depth, MOST_BYTES, PictureHeader, RowSamples, Sink, damaged, pixels};
use crate::photograph::error::PhotographProblem;

/// A PNG whose header is read.
pub(in crate::photograph) struct Png<'a> {
    pub(super) header: PictureHeader,
    interlaced: bool,
    reader: Reader<Cursor<&'a [u8]>>,
}

impl<'a> Png<'a> {
    pub(super) fn new(bytes: &'a [u8]) -> Result<Self, PhotographProblem> {
        let mut options = DecodeOptions::default();
        options.set_ignore_text_chunk(true);
        options.set_ignore_iccp_chunk(true);
        let mut decoder = Decoder::new_with_options(Cursor::new(bytes), options);
        decoder.set_limits(Limits { bytes: MOST_BYTES });
        decoder.set_transformations(Transformations::IDENTITY);
        let first = decoder.read_header_info().map_err(damaged)?;
        let (channels, alpha) = match first.color_type {
            ColorType::Grayscale => (1, false),
            ColorType::GrayscaleAlpha => (1, true),
            ColorType::Rgb => (3, false),
            ColorType::Rgba => (3, true),
            ColorType::Indexed => return Err(pixels("numbers of a palette")),
        };
        let depth = match first.bit_depth {
            BitDepth::Eight => Depth::Eight,
            BitDepth::Sixteen => Depth::Sixteen,
            other => return Err(pixels(format!("of {} bits", other as u8))),
        };
        let header = PictureHeader {
            width: first.width as usize,
            height: first.height as usize,
            channels,
            alpha,
            depth,
        };
        let header = header.checked()?;
        let reader = decoder.read_info().map_err(damaged)?;
        // A colour that stands for "transparent" is an alpha channel by another name.
        if reader.info().trns.is_some() {
            return Err(PhotographProblem::NotOpaque);
        }
        Ok(Self {
            header,
            interlaced: reader.info().interlaced,
            reader,
        })
    }

    /// Pixels that are decoded at a time.
    pub(super) fn pixels_at_a_time(&self) -> usize {
        let rows = if self.interlaced {
            self.header.height
        } else {
            1
        };
        rows * self.header.width
    }

    pub(super) fn read(mut self, sink: &mut Sink<'_>) -> Result<(), PhotographProblem> {
        let mut counts = Vec::new();
        let mut hand_on = |j: usize, row: &[u8]| match self.header.depth {
            Depth::Eight => sink(0, j, RowSamples::Eight(row)),
            _ => {
                counts.clear();
                let pairs = row.as_chunks::<2>().0;
                counts.extend(pairs.iter().map(|&pair| u16::from_be_bytes(pair)));
                sink(0, j, RowSamples::Sixteen(&counts))
            }
        };
        if self.interlaced {
            let mut all = vec![0; self.reader.output_buffer_size()];
            self.reader.next_frame(&mut all).map_err(damaged)?;
            let length = (all.len() / self.header.height).max(1);
            return (all
                .chunks_exact(length)
                .take(self.header.height)
                .enumerate())
            .try_for_each(|(j, row)| hand_on(j, row));
        }
        for j in 0..self.header.height {
            match self.reader.next_row().map_err(damaged)? {
                Some(row) => hand_on(j, row.data())?,
                None => return Err(damaged("rows are missing")),
            }
        }
        Ok(())
    }
}
