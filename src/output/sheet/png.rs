//! Pictures of pixels: a sheet's SVG rasterised with the embedded fonts alone, and pixels as PNG.

use std::sync::{Arc, OnceLock};

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{self, fontdb};

use super::font::{FAMILY, UNKNOWN, font, missing};
use crate::threads;

/// Pixels of the PNG to a point.
const PIXELS: f32 = 2.0;
/// What the PNG says of its size: 300 pixels an inch, so that it prints 13.5 cm wide.
const PIXELS_PER_METRE: u32 = 11_811;
/// Into how many strips a printed picture is cut, that threads draw: always the same, so that it does not depend on them.
const STRIPS: u32 = 16;

/// Red, green and blue of every pixel, rows from the top.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Raster {
    pub(crate) width: u32,
    pub(crate) height: u32,
    pub(crate) rgb: Vec<u8>,
}

/// A drawing as a PNG, two pixels to a point.
pub(crate) fn png(svg: &str) -> Result<Vec<u8>, String> {
    let tree = parse(svg)?;
    let size = (tree.size().to_int_size().scale_by(PIXELS)).ok_or("the sheet has no size")?;
    let mut pixels = pixmap(size.width(), size.height())?;
    let scale = Transform::from_scale(PIXELS, PIXELS);
    resvg::render(&tree, scale, &mut pixels.as_mut());
    let raster = Raster {
        width: size.width(),
        height: size.height(),
        rgb: opaque(&pixels).collect(),
    };
    encode(&raster, PIXELS_PER_METRE, false)
}

/// A drawing as a PNG of so many pixels, `dpi` of them to the inch.
pub(crate) fn print(svg: &str, (width, height): (u32, u32), dpi: u32) -> Result<Vec<u8>, String> {
    let tree = parse(svg)?;
    let scale = (
        width as f32 / tree.size().width(),
        height as f32 / tree.size().height(),
    );
    let rows = height.div_ceil(STRIPS);
    let strips = threads::map(0..STRIPS as usize, |strip| {
        let above = strip as u32 * rows;
        let high = rows.min(height.saturating_sub(above));
        if high == 0 {
            return Ok(Vec::new());
        }
        let mut pixels = pixmap(width, high)?;
        let place = Transform::from_row(scale.0, 0.0, 0.0, scale.1, 0.0, -(above as f32));
        resvg::render(&tree, place, &mut pixels.as_mut());
        Ok(opaque(&pixels).collect::<Vec<u8>>())
    });
    let rgb = strips.into_iter().collect::<Result<Vec<_>, String>>()?;
    let raster = Raster {
        width,
        height,
        rgb: rgb.concat(),
    };
    encode(&raster, (f64::from(dpi) / 0.0254).round() as u32, true)
}

/// A drawing over a ground of as many pixels (RGB), or over white; one pixel to a point.
pub(crate) fn overlay(svg: &str, ground: Option<&[u8]>) -> Result<Vec<u8>, String> {
    let tree = parse(svg)?;
    let size = tree.size().to_int_size();
    let mut drawn = pixmap(size.width(), size.height())?;
    resvg::render(&tree, Transform::identity(), &mut drawn.as_mut());
    let rgb = drawn.pixels().iter().enumerate().flat_map(|(k, pixel)| {
        // Channels come multiplied by their opacity already.
        let clear = 255 - u16::from(pixel.alpha());
        let below = |channel: usize| ground.map_or(255, |rgb| rgb[3 * k + channel]);
        let mix = |front: u8, back: u8| {
            (u16::from(front) + (u16::from(back) * clear + 127) / 255).min(255) as u8
        };
        [
            mix(pixel.red(), below(0)),
            mix(pixel.green(), below(1)),
            mix(pixel.blue(), below(2)),
        ]
    });
    Ok(rgb.collect())
}

/// A picture that is part of a drawing.
pub(super) fn picture_png(rgb: &[u8], (width, height): (u32, u32)) -> Vec<u8> {
    let rgb = rgb.to_vec();
    let raster = Raster { width, height, rgb };
    // Pictures have as many bytes as their size says: an empty one would be a mistake of the figure, which tests see.
    encode(&raster, PIXELS_PER_METRE, false).unwrap_or_default()
}

/// Pixels as a PNG of the usual density.
pub(crate) fn pixels_png(raster: &Raster) -> Result<Vec<u8>, String> {
    encode(raster, PIXELS_PER_METRE, false)
}

/// Pixels as a PNG; what is `large` is packed in haste.
fn encode(raster: &Raster, pixels_per_metre: u32, large: bool) -> Result<Vec<u8>, String> {
    let mut png = Vec::new();
    let mut encoder = png::Encoder::new(&mut png, raster.width, raster.height);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_source_srgb(png::SrgbRenderingIntent::Perceptual);
    encoder.set_pixel_dims(Some(png::PixelDimensions {
        xppu: pixels_per_metre,
        yppu: pixels_per_metre,
        unit: png::Unit::Meter,
    }));
    if large {
        // Rows of a chart are mostly like the row above.
        encoder.set_compression(png::Compression::Fast);
        encoder.set_filter(png::FilterType::Up);
    } else {
        encoder.set_compression(png::Compression::Default);
        encoder.set_adaptive_filter(png::AdaptiveFilterType::Adaptive);
    }
    let written = encoder.write_header().and_then(|mut writer| {
        writer.write_image_data(&raster.rgb)?;
        writer.finish()
    });
    written.map_err(|error| error.to_string())?;
    Ok(png)
}

fn pixmap(width: u32, height: u32) -> Result<Pixmap, String> {
    Pixmap::new(width, height).ok_or_else(|| "the sheet is too large for a picture".to_owned())
}

fn opaque(pixels: &Pixmap) -> impl Iterator<Item = u8> {
    (pixels.pixels().iter()).flat_map(|pixel| [pixel.red(), pixel.green(), pixel.blue()])
}

/// The SVG as it will be drawn. Characters that the fonts lack would be empty boxes; they become U+FFFD.
pub(crate) fn parse(svg: &str) -> Result<usvg::Tree, String> {
    let options = usvg::Options {
        fontdb: fonts(),
        ..usvg::Options::default()
    };
    let unknown: Vec<char> = missing(svg).filter(|c| !c.is_ascii()).collect();
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
