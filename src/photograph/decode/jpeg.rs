//! JPEG, decoded whole: it has 8 bits, so that it is small.

use zune_jpeg::JpegDecoder;
use zune_jpeg::errors::DecodeErrors;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

use super::{Depth, PictureHeader, RowSamples, Sink, damaged, pixels};
use crate::photograph::error::PhotographProblem;

/// A JPEG whose header is read.
pub(in crate::photograph) struct Jpeg<'a> {
    pub(super) header: PictureHeader,
    decoder: JpegDecoder<&'a [u8]>,
}

/// The longest side that the format can tell.
const LONGEST: usize = 65_535;

impl<'a> Jpeg<'a> {
    pub(super) fn new(bytes: &'a [u8]) -> Result<Self, PhotographProblem> {
        let options = DecoderOptions::default()
            .set_strict_mode(true)
            .set_max_width(LONGEST)
            .set_max_height(LONGEST);
        let mut decoder = JpegDecoder::new_with_options(bytes, options);
        decoder.decode_headers().map_err(said)?;
        let (width, height) =
            (decoder.dimensions()).ok_or_else(|| damaged("its size is missing"))?;
        let (channels, space) = match decoder.get_input_colorspace() {
            Some(ColorSpace::Luma) => (1, ColorSpace::Luma),
            Some(ColorSpace::YCbCr | ColorSpace::RGB) => (3, ColorSpace::RGB),
            Some(ColorSpace::CMYK | ColorSpace::YCCK) => return Err(pixels("CMYK, for printing")),
            _ => return Err(pixels("of a colour space other than grey and RGB")),
        };
        decoder.set_options(options.jpeg_set_out_colorspace(space));
        let header = PictureHeader {
            width,
            height,
            channels,
            alpha: false,
            depth: Depth::Eight,
        };
        let header = header.checked()?;
        if !has_end(bytes) {
            return Err(damaged("its end is missing"));
        }
        Ok(Self { header, decoder })
    }

    pub(super) fn read(mut self, sink: &mut Sink<'_>) -> Result<(), PhotographProblem> {
        let length = self.header.width * self.header.channels;
        let all = self.decoder.decode().map_err(said)?;
        if all.len() != length * self.header.height {
            return Err(damaged(
                "it holds another number of pixels than its header says",
            ));
        }
        (all.chunks_exact(length).enumerate())
            .try_for_each(|(j, row)| sink(0, j, RowSamples::Eight(row)))
    }
}

/// What the decoder says.
fn said(error: DecodeErrors) -> PhotographProblem {
    match error {
        DecodeErrors::Unsupported(what) => pixels(format!("{what:?}")),
        other => damaged(format!("{other:?}")),
    }
}

/// Whether the marker that ends a picture follows the beginning of its pixels. Pixels never look like the marker, and thumbnails stand before them.
fn has_end(bytes: &[u8]) -> bool {
    let mut at = 2;
    while let Some(&[0xff, marker, high, low]) = bytes.get(at..).and_then(<[u8]>::first_chunk) {
        match marker {
            // The beginning of the pixels.
            0xda => {
                let pixels = bytes.get(at..).unwrap_or_default();
                return pixels.windows(2).any(|pair| pair == [0xff, 0xd9]);
            }
            // Bytes between markers may be filled up.
            0xff => at += 1,
            // Markers without a length.
            0x01 | 0xd0..=0xd8 => at += 2,
            _ => at += 2 + usize::from(u16::from_be_bytes([high, low])),
        }
    }
    false
}
