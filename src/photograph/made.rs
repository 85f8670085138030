//! Pictures made for tests, whose truth is known.
#![allow(clippy::disallowed_methods, reason = "tests are no engine")]

use std::collections::BTreeMap;
use std::io::Cursor;

use super::{Fetch, Pictures, Shot};

/// A picture as numbers from 0 to 1 of full scale.
#[derive(Clone)]
pub(super) struct Made {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) channels: usize,
    pub(super) values: Vec<f64>,
}

impl Made {
    /// From the light at a pixel's centre, for each channel.
    pub(super) fn new(
        (width, height): (usize, usize),
        channels: usize,
        light: impl Fn(f64, f64, usize) -> f64,
    ) -> Self {
        let mut values = Vec::new();
        for j in 0..height {
            for i in 0..width {
                values.extend((0..channels).map(|k| light(i as f64 + 0.5, j as f64 + 0.5, k)));
            }
        }
        Self {
            width,
            height,
            channels,
            values,
        }
    }

    pub(super) fn counts(&self) -> Vec<u16> {
        let count = |value: &f64| (value * 65535.0).round().clamp(0.0, 65535.0) as u16;
        self.values.iter().map(count).collect()
    }

    pub(super) fn bytes8(&self) -> Vec<u8> {
        let count = |value: &f64| (value * 255.0).round().clamp(0.0, 255.0) as u8;
        self.values.iter().map(count).collect()
    }

    /// 16 bits.
    pub(super) fn png(&self) -> Vec<u8> {
        let samples: Vec<u8> = self.counts().iter().flat_map(|c| c.to_be_bytes()).collect();
        self.png_with(png::BitDepth::Sixteen, &samples)
    }

    pub(super) fn png8(&self) -> Vec<u8> {
        self.png_with(png::BitDepth::Eight, &self.bytes8())
    }

    fn png_with(&self, depth: png::BitDepth, samples: &[u8]) -> Vec<u8> {
        let color = if self.channels == 3 {
            png::ColorType::Rgb
        } else {
            png::ColorType::Grayscale
        };
        png_of((self.width, self.height), color, depth, samples, None)
    }

    /// 16 bits.
    pub(super) fn tiff(&self) -> Vec<u8> {
        use tiff::encoder::colortype::{Gray16, RGB16};
        if self.channels == 3 {
            tiff_of::<RGB16>((self.width, self.height), &self.counts())
        } else {
            tiff_of::<Gray16>((self.width, self.height), &self.counts())
        }
    }

    /// 32 bits, floating point.
    pub(super) fn float_tiff(&self) -> Vec<u8> {
        use tiff::encoder::colortype::{Gray32Float, RGB32Float};
        let values: Vec<f32> = self.values.iter().map(|&value| value as f32).collect();
        if self.channels == 3 {
            tiff_of::<RGB32Float>((self.width, self.height), &values)
        } else {
            tiff_of::<Gray32Float>((self.width, self.height), &values)
        }
    }

    /// 8 bits, each square of 8 x 8 pixels having the light of its middle; in colour, grey all the same.
    pub(super) fn jpeg(&self) -> Vec<u8> {
        let (wide, high) = (self.width as u16, self.height as u16);
        let channels = self.channels as u8;
        let mut bytes = vec![0xff, 0xd8, 0xff, 0xdb, 0, 67, 0];
        // One count of a square's mean is one step.
        bytes.extend([8; 64]);
        bytes.extend([0xff, 0xc0, 0, 8 + 3 * channels, 8]);
        bytes.extend(high.to_be_bytes());
        bytes.extend(wide.to_be_bytes());
        bytes.push(channels);
        bytes.extend((1..=channels).flat_map(|k| [k, 0x11, 0]));
        // Lengths of means: nine codes of four bits; the rest of a square: one code of one bit, which ends it.
        bytes.extend([
            0xff, 0xc4, 0, 28, 0, 0, 0, 0, 9, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0,
        ]);
        bytes.extend(0..9);
        bytes.extend([
            0xff, 0xc4, 0, 20, 0x10, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0,
        ]);
        bytes.extend([0xff, 0xda, 0, 6 + 2 * channels, channels]);
        bytes.extend((1..=channels).flat_map(|k| [k, 0]));
        bytes.extend([0, 63, 0]);
        let mut bits = Bits::default();
        let (counts, mut before) = (self.bytes8(), 128);
        for j in (0..self.height).step_by(8) {
            for i in (0..self.width).step_by(8) {
                let at = (j + 4).min(self.height - 1) * self.width + (i + 4).min(self.width - 1);
                let mean = i32::from(counts[at * self.channels]);
                let change = mean - before;
                before = mean;
                let length = 32 - change.unsigned_abs().leading_zeros();
                let value = if change < 0 {
                    change + (1 << length) - 1
                } else {
                    change
                };
                bits.push(length, 4);
                bits.push(value as u32, length);
                bits.push(0, 1);
                for _ in 1..channels {
                    bits.push(0, 5);
                }
            }
        }
        bytes.extend(bits.finish());
        bytes.extend([0xff, 0xd9]);
        bytes
    }
}

/// Bits, the first one the highest of its byte; a zero byte follows each full one, as JPEG wants it.
#[derive(Default)]
struct Bits {
    bytes: Vec<u8>,
    held: u32,
    count: u32,
}

impl Bits {
    fn push(&mut self, value: u32, count: u32) {
        for k in (0..count).rev() {
            self.held = self.held << 1 | value >> k & 1;
            self.count += 1;
            if self.count == 8 {
                self.bytes.push(self.held as u8);
                if self.held == 0xff {
                    self.bytes.push(0);
                }
                (self.held, self.count) = (0, 0);
            }
        }
    }

    fn finish(mut self) -> Vec<u8> {
        while self.count > 0 {
            self.push(1, 1);
        }
        self.bytes
    }
}

pub(super) fn png_of(
    (width, height): (usize, usize),
    color: png::ColorType,
    depth: png::BitDepth,
    samples: &[u8],
    exif: Option<&[u8]>,
) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, width as u32, height as u32);
    encoder.set_color(color);
    encoder.set_depth(depth);
    encoder.set_compression(png::Compression::Fast);
    if color == png::ColorType::Indexed {
        encoder.set_palette(vec![0; 3 * 256]);
    }
    let mut writer = encoder.write_header().unwrap();
    if let Some(exif) = exif {
        writer
            .write_chunk(png::chunk::ChunkType(*b"eXIf"), exif)
            .unwrap();
    }
    writer.write_image_data(samples).unwrap();
    writer.finish().unwrap();
    bytes
}

pub(super) fn tiff_of<C: tiff::encoder::colortype::ColorType>(
    (width, height): (usize, usize),
    samples: &[C::Inner],
) -> Vec<u8>
where
    [C::Inner]: tiff::encoder::TiffValue,
{
    let mut bytes = Cursor::new(Vec::new());
    let mut encoder = tiff::encoder::TiffEncoder::new(&mut bytes).unwrap();
    (encoder.write_image::<C>(width as u32, height as u32, samples)).unwrap();
    bytes.into_inner()
}

/// A step that is blurred over about two pixels.
pub(super) fn step(outside: f64) -> f64 {
    1.0 / (1.0 + (outside / 0.5).exp())
}

/// A circle of light 1 with a blurred edge.
pub(super) fn disc(x: f64, y: f64, (cx, cy, radius): (f64, f64, f64)) -> f64 {
    step((x - cx).hypot(y - cy) - radius)
}

/// Numbers that look random, from -0.5 to 0.5, the same on every machine.
pub(super) struct Dice(pub(super) u64);

impl Dice {
    pub(super) fn roll(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as f64 / f64::from(1_u32 << 31) - 0.5
    }

    /// Nearly normal, of standard deviation 1.
    pub(super) fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.roll()).sum()
    }
}

/// Files in memory.
pub(super) fn files<const N: usize>(files: [(&str, Vec<u8>); N]) -> BTreeMap<String, Vec<u8>> {
    files.map(|(name, bytes)| (name.to_owned(), bytes)).into()
}

pub(super) fn fetch(files: &BTreeMap<String, Vec<u8>>) -> Box<Fetch<'_>> {
    Box::new(|name| {
        files
            .get(name)
            .cloned()
            .ok_or_else(|| "there is no such file".to_owned())
    })
}

pub(super) fn shot(name: &str, exposure_s: f64) -> Shot {
    Shot {
        name: name.to_owned(),
        exposure_s: Some(exposure_s),
    }
}

/// One crossed and one parallel picture, "crossed" and "parallel", both exposed for 1 s.
pub(super) fn pair() -> Pictures {
    Pictures::new(vec![shot("crossed", 1.0)], vec![shot("parallel", 1.0)])
}
