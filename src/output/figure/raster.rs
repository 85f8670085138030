//! From SVG to PNG, with an embedded font.

use std::collections::BTreeSet;
use std::sync::{Arc, OnceLock};

use plotters::style::{FontStyle, register_font};
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{self, fontdb};

/// Pixels of the PNG to a point.
const PIXELS: f32 = 2.0;
/// What the PNG says of its size: 300 pixels an inch, so that it prints 13.5 cm wide.
const PIXELS_PER_METRE: u32 = 11_811;
/// The embedded font, and what a viewer without it may take.
pub(super) const FONT: &str = "DejaVu Sans, Verdana, sans-serif";

/// The SVG as a PNG. Characters that the font lacks would be empty boxes; they become U+FFFD.
pub(super) fn rasterise(svg: &str, fonts: Arc<fontdb::Database>) -> Result<Vec<u8>, String> {
    let pixels = pixels(svg, &fonts, PIXELS)?;
    let rgb: Vec<u8> = (pixels.pixels().iter())
        .flat_map(|pixel| [pixel.red(), pixel.green(), pixel.blue()])
        .collect();
    encode(pixels.width(), pixels.height(), &rgb).map_err(|e| e.to_string())
}

/// The SVG as pixels, so many to a point.
pub(super) fn pixels(
    svg: &str,
    fonts: &Arc<fontdb::Database>,
    to_a_point: f32,
) -> Result<Pixmap, String> {
    let options = usvg::Options {
        fontdb: Arc::clone(fonts),
        ..usvg::Options::default()
    };
    let parse = |svg: &str| usvg::Tree::from_str(svg, &options).map_err(|e| e.to_string());
    let mut tree = parse(svg)?;
    let missing = missing_glyphs(tree.root());
    if !missing.is_empty() {
        let shown = |c| if missing.contains(&c) { '\u{fffd}' } else { c };
        tree = parse(&svg.chars().map(shown).collect::<String>())?;
    }
    let size = (tree.size().to_int_size().scale_by(to_a_point)).ok_or("the sheet has no size")?;
    let mut pixels =
        Pixmap::new(size.width(), size.height()).ok_or("the sheet is too large for a picture")?;
    let scale = Transform::from_scale(to_a_point, to_a_point);
    resvg::render(&tree, scale, &mut pixels.as_mut());
    Ok(pixels)
}

/// A picture (red, green and blue of each pixel) as a PNG.
pub(super) fn encode(width: u32, height: u32, rgb: &[u8]) -> Result<Vec<u8>, png::EncodingError> {
    let mut png = Vec::new();
    let mut encoder = png::Encoder::new(&mut png, width, height);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_source_srgb(png::SrgbRenderingIntent::Perceptual);
    encoder.set_pixel_dims(Some(png::PixelDimensions {
        xppu: PIXELS_PER_METRE,
        yppu: PIXELS_PER_METRE,
        unit: png::Unit::Meter,
    }));
    encoder.set_compression(png::Compression::Default);
    encoder.set_adaptive_filter(png::AdaptiveFilterType::Adaptive);
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
