//! Pictures as rows of counts: PNG, TIFF and JPEG are opened, judged by their header, and read piece by piece.

mod jpeg;
mod png;
mod tiff;

use super::error::PhotographProblem;

/// The fewest pixels across that a picture may have.
const SMALLEST: usize = 32;

/// The most pixels that a picture may have.
const MOST_PIXELS: usize = 64_000_000;

/// The most bytes that one stretch of decoded pixels may take: 64 megapixels of four 16-bit samples.
const MOST_BYTES: usize = 512_000_000;

/// What a picture's numbers are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Depth {
    /// 8 bits that follow a curve.
    Eight,
    /// 16 bits, linear.
    Sixteen,
    /// 32-bit floating point, linear, full scale 1.
    Float,
}

impl Depth {
    /// The count at full scale.
    pub(super) fn full_scale(self) -> f64 {
        match self {
            Self::Eight => 255.0,
            Self::Sixteen => 65535.0,
            Self::Float => 1.0,
        }
    }

    /// In words.
    pub(super) fn words(self) -> &'static str {
        match self {
            Self::Eight => "8-bit counts",
            Self::Sixteen => "16-bit counts",
            Self::Float => "floating-point numbers",
        }
    }
}

/// What the header of a picture says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct PictureHeader {
    /// Pixels.
    pub(super) width: usize,
    /// Pixels.
    pub(super) height: usize,
    /// Colour channels: 1 or 3.
    pub(super) channels: usize,
    /// Whether an alpha channel follows them.
    pub(super) alpha: bool,
    pub(super) depth: Depth,
}

impl PictureHeader {
    /// RowSamples of a pixel in the file.
    pub(super) fn stored(self) -> usize {
        self.channels + usize::from(self.alpha)
    }

    /// Refuses sizes that are not read.
    fn checked(self) -> Result<Self, PhotographProblem> {
        let (width, height) = (self.width, self.height);
        if width.saturating_mul(height) > MOST_PIXELS {
            return Err(PhotographProblem::TooLarge { width, height });
        }
        if width.min(height) < SMALLEST {
            return Err(PhotographProblem::TooSmall { width, height });
        }
        Ok(self)
    }
}

/// A stretch of samples of one row, pixel after pixel.
#[derive(Debug, Clone, Copy)]
pub(super) enum RowSamples<'a> {
    Eight(&'a [u8]),
    Sixteen(&'a [u16]),
    Float(&'a [f32]),
}

/// Takes stretches of rows: the column of the first pixel, the row, the samples.
pub(super) type Sink<'a> =
    dyn FnMut(usize, usize, RowSamples<'_>) -> Result<(), PhotographProblem> + 'a;

/// A picture whose header is read and whose pixels are not.
pub(super) enum Opened<'a> {
    Png(Box<png::Png<'a>>),
    Tiff(Box<tiff::Tiff<'a>>),
    Jpeg(Box<jpeg::Jpeg<'a>>),
}

impl<'a> Opened<'a> {
    /// Reads the header.
    pub(super) fn new(bytes: &'a [u8]) -> Result<Self, PhotographProblem> {
        match bytes {
            [0x89, b'P', b'N', b'G', ..] => Ok(Self::Png(Box::new(png::Png::new(bytes)?))),
            [b'I', b'I', 42 | 43, 0, ..] | [b'M', b'M', 0, 42 | 43, ..] => {
                Ok(Self::Tiff(Box::new(tiff::Tiff::new(bytes)?)))
            }
            [0xff, 0xd8, ..] => Ok(Self::Jpeg(Box::new(jpeg::Jpeg::new(bytes)?))),
            _ => Err(PhotographProblem::NotAPicture),
        }
    }

    pub(super) fn header(&self) -> PictureHeader {
        match self {
            Self::Png(picture) => picture.header,
            Self::Tiff(picture) => picture.header,
            Self::Jpeg(picture) => picture.header,
        }
    }

    /// Bytes that are needed while the pixels are decoded.
    pub(super) fn works_on(&self) -> usize {
        let header = self.header();
        let pixel = header.stored()
            * match header.depth {
                Depth::Eight => 1,
                Depth::Sixteen => 2,
                Depth::Float => 4,
            };
        let pixels = match self {
            Self::Png(picture) => picture.pixels_at_a_time(),
            Self::Tiff(picture) => picture.pixels_at_a_time(),
            Self::Jpeg(_) => header.width * header.height,
        };
        pixels.saturating_mul(pixel)
    }

    /// Hands all pixels to `sink`, each once.
    pub(super) fn read(self, sink: &mut Sink<'_>) -> Result<(), PhotographProblem> {
        match self {
            Self::Png(picture) => picture.read(sink),
            Self::Tiff(picture) => picture.read(sink),
            Self::Jpeg(picture) => picture.read(sink),
        }
    }
}

/// What a decoder says, as a problem.
#[allow(clippy::needless_pass_by_value, reason = "it stands in `map_err`")]
fn damaged(why: impl ToString) -> PhotographProblem {
    let words: String = why.to_string();
    let why = words
        .chars()
        .filter(|c| !c.is_control())
        .take(200)
        .collect();
    PhotographProblem::Damaged { why }
}

/// Pixels of a kind that is not read.
fn pixels(what: impl Into<String>) -> PhotographProblem {
    PhotographProblem::Pixels { what: what.into() }
}
