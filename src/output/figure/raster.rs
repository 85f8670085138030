//! From SVG to PNG, with an embedded font.

use std::collections::BTreeSet;
use std::sync::{Arc, OnceLock};

use plotters::style::{FontStyle, register_font};
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{self, fontdb};

/// Pixels of the PNG to a point.
const PIXELS: f32 = 2.0;
/// What the PNG says of its size: 300 pixels an inch, so that it prints 13.5 cm wide.
pub(super) const PIXELS_PER_METRE: u32 = 11_811;
/// The embedded font, and what a viewer without it may take.
pub(super) const FONT: &str = "DejaVu Sans, Verdana, sans-serif";

/// What is said where there is none.
pub(super) const NO_FONT: &str = "the embedded font cannot be read";

/// The SVG as it will be drawn. Characters that the font lacks would be empty boxes; they become U+FFFD.
pub(super) fn parse(svg: &str) -> Result<usvg::Tree, String> {
    let options = usvg::Options {
        fontdb: fonts().ok_or(NO_FONT)?,
        ..usvg::Options::default()
    };
    let parse = |svg: &str| usvg::Tree::from_str(svg, &options).map_err(|e| e.to_string());
    let tree = parse(svg)?;
    let missing = missing_glyphs(tree.root());
    if missing.is_empty() {
        return Ok(tree);
    }
    let shown = |c| if missing.contains(&c) { '\u{fffd}' } else { c };
    parse(&svg.chars().map(shown).collect::<String>())
}

/// The drawing as a PNG.
pub(super) fn rasterise(tree: &usvg::Tree) -> Result<Vec<u8>, String> {
    let pixels = pixels(tree, PIXELS)?;
    let rgb: Vec<u8> = (pixels.pixels().iter())
        .flat_map(|pixel| [pixel.red(), pixel.green(), pixel.blue()])
        .collect();
    let size = (pixels.width(), pixels.height());
    encode(&rgb, size, PIXELS_PER_METRE, false).map_err(|e| e.to_string())
}

/// The drawing as pixels, so many to a point.
pub(super) fn pixels(tree: &usvg::Tree, to_a_point: f32) -> Result<Pixmap, String> {
    let size = (tree.size().to_int_size().scale_by(to_a_point)).ok_or("the sheet has no size")?;
    let mut pixels =
        Pixmap::new(size.width(), size.height()).ok_or("the sheet is too large for a picture")?;
    let scale = Transform::from_scale(to_a_point, to_a_point);
    resvg::render(tree, scale, &mut pixels.as_mut());
    Ok(pixels)
}

/// A picture as a PNG; what is `large` is packed in haste.
pub(super) fn encode(
    rgb: &[u8],
    (width, height): (u32, u32),
    pixels_per_metre: u32,
    large: bool,
) -> Result<Vec<u8>, png::EncodingError> {
    let mut png = Vec::new();
    let mut encoder = png::Encoder::new(&mut png, width, height);
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
    let mut writer = encoder.write_header()?;
    writer.write_image_data(rgb)?;
    writer.finish()?;
    Ok(png)
}

/// Characters of the drawing's texts that no embedded font has.
pub(super) fn missing_glyphs(group: &usvg::Group) -> BTreeSet<char> {
    let mut missing = BTreeSet::new();
    for node in group.children() {
        match node {
            usvg::Node::Group(inner) => missing.append(&mut missing_glyphs(inner)),
            usvg::Node::Text(text) => {
                let glyphs = (text.layouted().iter()).flat_map(|span| &span.positioned_glyphs);
                // Glyph 0 is the font's empty box.
                for glyph in glyphs.filter(|glyph| glyph.id.0 == 0) {
                    missing.extend(glyph.text.chars().filter(|c| !c.is_ascii()));
                }
            }
            usvg::Node::Path(_) | usvg::Node::Image(_) => {}
        }
    }
    missing
}

/// The embedded fonts, made known to both the drawing library, which measures with them, and the rasteriser. The machine's own fonts
/// are not looked at.
pub(super) fn fonts() -> Option<Arc<fontdb::Database>> {
    static FONTS: OnceLock<Option<Arc<fontdb::Database>>> = OnceLock::new();
    FONTS
        .get_or_init(|| {
            let mut database = fontdb::Database::new();
            for (style, bytes) in [
                (FontStyle::Normal, dejavu::sans::regular()),
                (FontStyle::Bold, dejavu::sans::bold()),
            ] {
                register_font(FONT, style, bytes).ok()?;
                database.load_font_source(fontdb::Source::Binary(Arc::new(bytes)));
            }
            (database.len() == 2).then(|| Arc::new(database))
        })
        .clone()
}
