//! Pictures of pixels: a sheet's SVG rasterised with the embedded fonts alone, and pixels as PNG.

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

/// Red, green and blue of every pixel, rows from the top.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Raster {
    pub(crate) width: u32,
    pub(crate) height: u32,
    pub(crate) rgb: Vec<u8>,
}

/// How small a PNG is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Packing {
    /// As small as it is worth the time.
    Close,
    /// As fast as can be: for one that is opened again at once.
    Loose,
}

impl Raster {
    /// A drawing that fills so many pixels.
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
            Ok(opaque(&pixels))
        });
        let rgb = strips.into_iter().collect::<Result<Vec<_>, String>>()?;
        Ok(Self {
            width,
            height,
            rgb: rgb.concat(),
        })
    }

    /// As a PNG that says how many of its pixels make an inch.
    pub(crate) fn png(&self, dpi: u32) -> Result<Vec<u8>, String> {
        self.packed(dpi, Packing::Close)
    }

    /// The same, packed as it is told.
    pub(super) fn packed(&self, dpi: u32, packing: Packing) -> Result<Vec<u8>, String> {
        let pixels_per_metre = (f64::from(dpi) / 0.0254).round() as u32;
        let mut png = Vec::new();
        let mut encoder = png::Encoder::new(&mut png, self.width, self.height);
        encoder.set_color(png::ColorType::Rgb);
        encoder.set_depth(png::BitDepth::Eight);
        encoder.set_source_srgb(png::SrgbRenderingIntent::Perceptual);
        encoder.set_pixel_dims(Some(png::PixelDimensions {
            xppu: pixels_per_metre,
            yppu: pixels_per_metre,
            unit: png::Unit::Meter,
        }));
        if packing == Packing::Loose {
            encoder.set_compression(png::Compression::Fast);
            encoder.set_filter(png::FilterType::NoFilter);
        } else if self.rgb.len() > LARGE {
            // Rows of a chart are mostly like the row above.
            encoder.set_compression(png::Compression::Fast);
            encoder.set_filter(png::FilterType::Up);
        } else {
            encoder.set_compression(png::Compression::Default);
            encoder.set_adaptive_filter(png::AdaptiveFilterType::Adaptive);
        }
        let written = encoder.write_header().and_then(|mut writer| {
            writer.write_image_data(&self.rgb)?;
            writer.finish()
        });
        written.map_err(|error| error.to_string())?;
        Ok(png)
    }
}

/// The pixels of a picture without holes.
fn opaque(pixels: &Pixmap) -> Vec<u8> {
    let pixels = pixels.pixels().iter();
    pixels
        .flat_map(|pixel| [pixel.red(), pixel.green(), pixel.blue()])
        .collect()
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
