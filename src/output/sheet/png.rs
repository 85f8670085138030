//! Pictures of pixels: a sheet's SVG rasterised with the embedded fonts alone, and pixels as PNG.

use std::collections::HashMap;
use std::sync::{Arc, OnceLock};

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{self, fontdb};

use super::font::{FAMILY, UNKNOWN, font, missing_characters};
use crate::threads;

/// Pixels to the inch of a PNG for the screen: two pixels to a point print 13.5 cm wide.
pub(crate) const DPI: u32 = 300;
/// Rows of a strip that a thread draws: always the same, so that a picture does not depend on the threads.
const STRIP: u32 = 512;
/// Pictures of more bytes than this are packed in haste.
const LARGE: usize = 12_000_000;
/// The most colours of a palette.
const PALETTE: usize = 256;
/// Drawings have fewer colours than this, photographs more: what is drawn is packed as it is, what changes from pixel to pixel as differences.
const DRAWN_COLORS: usize = 16_384;

/// Red, green and blue of every pixel, and its opacity where there are four channels; rows from the top.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Raster<const CHANNELS: usize = 3> {
    pub(crate) width: u32,
    pub(crate) height: u32,
    pub(crate) bytes: Vec<u8>,
}

/// A picture with holes.
pub(crate) type ClearRaster = Raster<4>;

/// How small a PNG is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Packing {
    /// As small as it is worth the time.
    Close,
    /// As fast as can be: for one that is opened again at once.
    Loose,
}

impl<const CHANNELS: usize> Raster<CHANNELS> {
    /// A drawing that fills so many pixels, drawn strip by strip.
    pub(crate) fn of(tree: &usvg::Tree, (width, height): (u32, u32)) -> Result<Self, String> {
        let scale = (
            width as f32 / tree.size().width(),
            height as f32 / tree.size().height(),
        );
        let strips = threads::map(0..height.div_ceil(STRIP) as usize, |strip| {
            let above = strip as u32 * STRIP;
            let pixels = Pixmap::new(width, STRIP.min(height - above));
            let mut pixels = pixels.ok_or("the sheet is too large for a picture")?;
            let place = Transform::from_row(scale.0, 0.0, 0.0, scale.1, 0.0, -(above as f32));
            resvg::render(tree, place, &mut pixels.as_mut());
            // Colours as they are and not dimmed by their opacity.
            let channels = pixels.pixels().iter().flat_map(|pixel| {
                let pixel = pixel.demultiply();
                let all = [pixel.red(), pixel.green(), pixel.blue(), pixel.alpha()];
                std::array::from_fn::<u8, CHANNELS, _>(|k| all[k])
            });
            Ok(channels.collect())
        });
        let strips: Result<Vec<Vec<u8>>, String> = strips.into_iter().collect();
        let bytes = strips?.concat();
        Ok(Self {
            width,
            height,
            bytes,
        })
    }

    /// As a PNG that says how many of its pixels make an inch.
    pub(crate) fn png(&self, dpi: u32) -> Result<Vec<u8>, String> {
        self.packed(dpi, Packing::Close)
    }

    /// The same, packed as it is told. A picture of at most 256 colours has a palette: it is half as large.
    pub(super) fn packed(&self, dpi: u32, packing: Packing) -> Result<Vec<u8>, String> {
        let pixels_per_metre = (f64::from(dpi) / 0.0254).round() as u32;
        let mut png = Vec::new();
        let mut encoder = encoder::<CHANNELS>(&mut png, self.width, self.height);
        encoder.set_pixel_dims(Some(png::PixelDimensions {
            xppu: pixels_per_metre,
            yppu: pixels_per_metre,
            unit: png::Unit::Meter,
        }));
        encoder.set_compression(png::Compression::Default);
        let mut indices = None;
        if packing == Packing::Loose {
            encoder.set_compression(png::Compression::Fast);
            encoder.set_filter(png::FilterType::NoFilter);
        } else if self.bytes.len() > LARGE {
            // Rows of a chart are mostly like the row above.
            encoder.set_compression(png::Compression::Fast);
            encoder.set_filter(png::FilterType::Up);
        } else if let Some((colors, own)) = self.colors() {
            encoder.set_filter(png::FilterType::NoFilter);
            if colors.len() <= PALETTE {
                encoder.set_color(png::ColorType::Indexed);
                let part = |from: usize, to: usize| -> Vec<u8> {
                    let part = colors.iter().flat_map(|color| &color[from..to]);
                    part.copied().collect()
                };
                encoder.set_palette(part(0, 3));
                if CHANNELS == 4 {
                    encoder.set_trns(part(3, 4));
                }
                let own = own.into_iter().map(|place| place as u8);
                indices = Some(own.collect::<Vec<u8>>());
            }
        } else {
            encoder.set_adaptive_filter(png::AdaptiveFilterType::Adaptive);
        }
        let written = encoder.write_header().and_then(|mut writer| {
            writer.write_image_data(indices.as_ref().unwrap_or(&self.bytes))?;
            writer.finish()
        });
        written.map_err(|error| error.to_string())?;
        Ok(png)
    }

    /// The colours in the order in which they appear, and which of them each pixel has; none for a picture of so many colours that it is more a
    /// photograph than a drawing.
    fn colors(&self) -> Option<(Vec<[u8; CHANNELS]>, Vec<u16>)> {
        let (mut colors, mut places) = (Vec::new(), HashMap::new());
        let mut indices = Vec::with_capacity(self.bytes.len() / CHANNELS);
        let mut last = None;
        for &color in self.bytes.as_chunks::<CHANNELS>().0 {
            // Neighbours are mostly alike.
            let place = match last {
                Some((before, place)) if before == color => place,
                _ => *places.entry(color).or_insert_with(|| {
                    colors.push(color);
                    (colors.len() - 1) as u16
                }),
            };
            if colors.len() > DRAWN_COLORS {
                return None;
            }
            last = Some((color, place));
            indices.push(place);
        }
        Some((colors, indices))
    }
}

/// An encoder of pictures of a size, with so many channels.
fn encoder<const CHANNELS: usize>(
    bytes: &mut Vec<u8>,
    width: u32,
    height: u32,
) -> png::Encoder<'static, &mut Vec<u8>> {
    let mut encoder = png::Encoder::new(bytes, width, height);
    encoder.set_color(match CHANNELS {
        4 => png::ColorType::Rgba,
        _ => png::ColorType::Rgb,
    });
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_source_srgb(png::SrgbRenderingIntent::Perceptual);
    encoder
}

/// Frames of one size as an animated PNG that begins again for ever; `delay` is how long each is shown, a fraction of a second. Of each frame after
/// the first only the rectangle is kept in which it differs from the one before.
pub(crate) fn apng<const CHANNELS: usize>(
    (width, height): (u32, u32),
    frames: &[Vec<u8>],
    delay: (u16, u16),
) -> Result<Vec<u8>, String> {
    let mut bytes = Vec::new();
    let mut encoder = encoder::<CHANNELS>(&mut bytes, width, height);
    encoder.set_adaptive_filter(png::AdaptiveFilterType::Adaptive);
    let written = (encoder.set_animated(frames.len() as u32, 0))
        .and_then(|()| encoder.set_frame_delay(delay.0, delay.1))
        .and_then(|()| encoder.write_header())
        .and_then(|mut writer| {
            let stride = CHANNELS * width as usize;
            for (k, frame) in frames.iter().enumerate() {
                let before = k.checked_sub(1).map(|before| &frames[before]);
                let [left, top, right, below] = changed(before, frame, stride, CHANNELS);
                writer.reset_frame_position()?;
                writer.set_frame_dimension((right - left) as u32, (below - top) as u32)?;
                writer.set_frame_position(left as u32, top as u32)?;
                let rows = frame.chunks_exact(stride).take(below).skip(top);
                let within = CHANNELS * left..CHANNELS * right;
                let part: Vec<u8> = rows.flat_map(|row| &row[within.clone()]).copied().collect();
                writer.write_image_data(&part)?;
            }
            writer.finish()
        });
    written.map_err(|error| error.to_string())?;
    Ok(bytes)
}

/// Left, top, right and lower edge of the rectangle in which a frame differs from the one before, one pixel at least; the whole first frame.
fn changed(before: Option<&Vec<u8>>, frame: &[u8], stride: usize, channels: usize) -> [usize; 4] {
    let whole = [0, 0, stride / channels, frame.len() / stride];
    let Some(before) = before else { return whole };
    let rows = before.chunks_exact(stride).zip(frame.chunks_exact(stride));
    let mut edges = [whole[2], whole[3], 0, 0];
    for (y, (old, new)) in rows.enumerate().filter(|(_, (old, new))| old != new) {
        let off = |k: &usize| old[*k] != new[*k];
        let first = (0..stride).find(off).unwrap_or(0) / channels;
        let last = (0..stride).rev().find(off).unwrap_or(0) / channels;
        edges = [
            edges[0].min(first),
            edges[1].min(y),
            edges[2].max(last + 1),
            y + 1,
        ];
    }
    match edges[3] {
        0 => [0, 0, 1, 1],
        _ => edges,
    }
}

/// The SVG as it will be drawn. Characters that the fonts lack would be empty boxes; they become U+FFFD.
pub(crate) fn parse(svg: &str) -> Result<usvg::Tree, String> {
    let options = usvg::Options {
        fontdb: fonts(),
        ..usvg::Options::default()
    };
    let unknown = missing_characters(svg);
    let shown = |c| if unknown.contains(&c) { UNKNOWN } else { c };
    let known: String = svg.chars().map(shown).collect();
    usvg::Tree::from_str(&known, &options).map_err(|error| error.to_string())
}

/// The embedded fonts. The machine's own are not looked at.
fn fonts() -> Arc<fontdb::Database> {
    static FONTS: OnceLock<Arc<fontdb::Database>> = OnceLock::new();
    let load = || {
        let mut database = fontdb::Database::new();
        for font in [false, true].into_iter().filter_map(font) {
            database.load_font_source(fontdb::Source::Binary(Arc::new(font.bytes)));
        }
        database.set_sans_serif_family(FAMILY.split(',').next().unwrap_or_default());
        Arc::new(database)
    };
    Arc::clone(FONTS.get_or_init(load))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every frame comes out as it went in, though only what differs is kept; read by the decoder of the same crate.
    #[test]
    fn an_animated_png_gives_back_its_frames() {
        let (width, height) = (7u32, 5u32);
        for channels in [3, 4] {
            let frame = |k: usize| -> Vec<u8> {
                let pixel = |at: usize| {
                    (0..channels).map(move |c| {
                        [(at * 7 + c) as u8, 200][usize::from(at / 7 == k && at % 7 > 2)]
                    })
                };
                (0..35).flat_map(pixel).collect()
            };
            let frames = [frame(1), frame(2), frame(2), frame(4)];
            let encoded = match channels {
                4 => apng::<4>,
                _ => apng::<3>,
            };
            let bytes = encoded((width, height), &frames, (2, 25)).unwrap();
            let mut reader = png::Decoder::new(&bytes[..]).read_info().unwrap();
            let animation = *reader.info().animation_control().unwrap();
            assert_eq!((animation.num_frames, animation.num_plays), (4, 0));
            let mut shown = vec![0; frames[0].len()];
            for frame in &frames {
                let mut part = vec![0; reader.output_buffer_size()];
                reader.next_frame(&mut part).unwrap();
                let control = *reader.info().frame_control().unwrap();
                assert_eq!((control.delay_num, control.delay_den), (2, 25));
                let wide = channels * control.width as usize;
                for row in 0..control.height as usize {
                    let at = channels
                        * ((control.y_offset as usize + row) * width as usize
                            + control.x_offset as usize);
                    shown[at..at + wide].copy_from_slice(&part[row * wide..(row + 1) * wide]);
                }
                assert_eq!(&shown, frame);
            }
        }
    }
    /// Few colours, some, and many, with holes and without, all come out as they went in.
    #[test]
    fn a_png_gives_back_its_pixels_with_a_palette_and_without() {
        fn given_back<const CHANNELS: usize>(colors: u32, palette: bool) {
            let (width, height) = (200u32, 150u32);
            let pixel = |place: u32| {
                let [_, r, g, b] = (place % colors * 7919).to_be_bytes();
                [r, g, b, 255 - g]
            };
            let bytes = (0..width * height).flat_map(|k| pixel(k).into_iter().take(CHANNELS));
            let raster = Raster::<CHANNELS> {
                width,
                height,
                bytes: bytes.collect(),
            };
            let png = raster.png(DPI).unwrap();
            let mut decoder = png::Decoder::new(&png[..]);
            decoder.set_transformations(png::Transformations::EXPAND);
            let mut reader = decoder.read_info().unwrap();
            assert_eq!(reader.info().palette.is_some(), palette);
            let mut got = vec![0; reader.output_buffer_size()];
            reader.next_frame(&mut got).unwrap();
            assert!(got == raster.bytes, "{CHANNELS} channels, {colors} colours");
        }
        for (colors, palette) in [(1, true), (256, true), (257, false), (20_000, false)] {
            given_back::<3>(colors, palette);
            given_back::<4>(colors, palette);
        }
    }
}
