//! TIFF, strip by strip or tile by tile.

use std::io::Cursor;

use tiff::ColorType;
use tiff::decoder::{Decoder, DecodingResult, Limits};
use tiff::tags::Tag;

use super::{Depth, MOST_BYTES, PictureHeader, RowSamples, Sink, damaged, pixels};
use crate::photograph::error::PhotographProblem;

/// A TIFF whose header is read.
pub(in crate::photograph) struct Tiff<'a> {
    pub(super) header: PictureHeader,
    decoder: Decoder<Cursor<&'a [u8]>>,
}

/// The value of the tag `PlanarConfiguration` for channels that are kept in planes of their own.
const PLANES: u16 = 2;

/// The bit of the tag `NewSubfileType` for a picture that is a smaller copy of another in the file.
const REDUCED: u32 = 1;

/// The value of the tag `SampleFormat` for floating point.
const FLOATING_POINT: u16 = 3;

/// The value of the tag `SampleFormat` for unsigned whole numbers.
const UNSIGNED: u16 = 1;

impl<'a> Tiff<'a> {
    pub(super) fn new(bytes: &'a [u8]) -> Result<Self, PhotographProblem> {
        let mut limits = Limits::default();
        limits.decoding_buffer_size = MOST_BYTES;
        limits.intermediate_buffer_size = MOST_BYTES;
        let decoder = Decoder::new(Cursor::new(bytes)).map_err(damaged)?;
        let mut decoder = decoder.with_limits(limits);
        let (width, height) = decoder.dimensions().map_err(damaged)?;
        let kind = (decoder.find_tag_unsigned::<u32>(Tag::NewSubfileType)).map_err(damaged)?;
        if kind.is_some_and(|kind| kind & REDUCED == REDUCED) {
            return Err(pixels("a small preview, as in a camera's raw file"));
        }
        // A palette or a colour space of another kind has no colour type here.
        let color = decoder.colortype().map_err(|error| match error {
            tiff::TiffError::UnsupportedError(_) => {
                pixels("of a colour space other than grey and RGB")
            }
            other => damaged(other),
        })?;
        let (channels, alpha, bits) = match color {
            ColorType::Gray(bits) => (1, false, bits),
            ColorType::RGB(bits) => (3, false, bits),
            ColorType::RGBA(bits) => (3, true, bits),
            ColorType::Palette(_) => return Err(pixels("numbers of a palette")),
            ColorType::CMYK(_) | ColorType::CMYKA(_) => return Err(pixels("CMYK, for printing")),
            ColorType::YCbCr(_) => return Err(pixels("YCbCr")),
            ColorType::Lab(_) => return Err(pixels("L*a*b*")),
            _ => return Err(pixels("of several bands, or grey with alpha")),
        };
        let formats = (decoder.find_tag_unsigned_vec::<u16>(Tag::SampleFormat)).map_err(damaged)?;
        let format = (formats.as_deref())
            .and_then(<[u16]>::first)
            .map_or(UNSIGNED, |&format| format);
        let depth = match (bits, format) {
            (8, UNSIGNED) => Depth::Eight,
            (16, UNSIGNED) => Depth::Sixteen,
            (32, FLOATING_POINT) => Depth::Float,
            (_, UNSIGNED) => return Err(pixels(format!("of {bits} bits"))),
            (_, FLOATING_POINT) => return Err(pixels(format!("floating point of {bits} bits"))),
            _ => return Err(pixels("whole numbers with a sign")),
        };
        let planar =
            (decoder.find_tag_unsigned::<u16>(Tag::PlanarConfiguration)).map_err(damaged)?;
        if planar == Some(PLANES) && channels > 1 {
            return Err(pixels("kept in a plane for each colour"));
        }
        let header = PictureHeader {
            width: width as usize,
            height: height as usize,
            channels,
            alpha,
            depth,
        };
        let header = header.checked()?;
        for tag in [Tag::TileWidth, Tag::TileLength] {
            decoder.find_tag_unsigned::<u32>(tag).map_err(damaged)?;
        }
        Ok(Self { header, decoder })
    }

    /// Pixels of a strip or tile.
    pub(super) fn pixels_at_a_time(&self) -> usize {
        let (wide, high) = self.decoder.chunk_dimensions();
        let (width, height) = (self.header.width, self.header.height);
        (wide as usize).min(width) * (high as usize).min(height)
    }

    pub(super) fn read(mut self, sink: &mut Sink<'_>) -> Result<(), PhotographProblem> {
        let PictureHeader { width, height, .. } = self.header;
        let (wide, high) = self.decoder.chunk_dimensions();
        let (wide, high) = (wide as usize, high as usize);
        if wide == 0 || high == 0 {
            return Err(damaged("its strips or tiles have no size"));
        }
        let stored = self.header.stored();
        let mut number = 0;
        for y in (0..height).step_by(high) {
            for x in (0..width).step_by(wide) {
                let chunk = self.decoder.read_chunk(number).map_err(said)?;
                number += 1;
                let place = Stretch {
                    x,
                    y,
                    samples: wide.min(width - x) * stored,
                    rows: high.min(height - y),
                };
                match (&chunk, self.header.depth) {
                    (DecodingResult::U8(all), Depth::Eight) => {
                        place.hand_on(all, |row| RowSamples::Eight(row), sink)?;
                    }
                    (DecodingResult::U16(all), Depth::Sixteen) => {
                        place.hand_on(all, |row| RowSamples::Sixteen(row), sink)?;
                    }
                    (DecodingResult::F32(all), Depth::Float) => {
                        place.hand_on(all, |row| RowSamples::Float(row), sink)?;
                    }
                    _ => {
                        return Err(damaged(
                            "its strips or tiles hold other numbers than its header says",
                        ));
                    }
                }
            }
        }
        Ok(())
    }
}

/// Where a strip or tile lies.
struct Stretch {
    x: usize,
    y: usize,
    /// In a row of it.
    samples: usize,
    rows: usize,
}

impl Stretch {
    fn hand_on<T>(
        &self,
        all: &[T],
        of: impl for<'r> Fn(&'r [T]) -> RowSamples<'r>,
        sink: &mut Sink<'_>,
    ) -> Result<(), PhotographProblem> {
        if all.len() != self.samples * self.rows {
            return Err(damaged(
                "a strip or tile is of another length than its header says",
            ));
        }
        (all.chunks_exact(self.samples).enumerate())
            .try_for_each(|(row, samples)| sink(self.x, self.y + row, of(samples)))
    }
}

/// What the decoder says of pixels.
fn said(error: tiff::TiffError) -> PhotographProblem {
    match error {
        tiff::TiffError::UnsupportedError(what) => {
            pixels(format!("stored in another way ({what})"))
        }
        other => damaged(other),
    }
}
