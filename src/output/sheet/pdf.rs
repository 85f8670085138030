//! A sheet as PDF: lines stay lines, text stays text that can be searched, colours are sRGB by its profile.

use std::collections::BTreeMap;

use miniz_oxide::deflate::compress_to_vec_zlib;
use pdf_writer::types::{CidFontType, FontFlags, LineJoinStyle, SystemInfo, UnicodeCmap};
use pdf_writer::{Content, Filter, Finish, Name, Pdf, Rect, Ref, Str, TextStr};
use resvg::tiny_skia::{PathSegment, Pixmap, Transform};
use resvg::usvg::{self, ImageKind, Node, Paint, Tree};

use super::Point;
use super::font::{Font, font};
use super::png::opaque;

/// The profile of sRGB; see the fonts' README for where it is from.
const SRGB: &[u8] = include_bytes!("srgb.icc");
const SRGB_NAME: Name<'static> = Name(b"srgb");
/// How hard streams are packed, 0 to 10.
const EFFORT: u8 = 7;

const CATALOG: Ref = Ref::new(1);
const PAGES: Ref = Ref::new(2);
const PAGE: Ref = Ref::new(3);
const CONTENT: Ref = Ref::new(4);
const PROFILE: Ref = Ref::new(5);
const INFO: Ref = Ref::new(6);
/// Five objects each: regular, then bold.
const FONTS: [i32; 2] = [10, 15];
const FIRST_PICTURE: i32 = 20;

/// Name of a font on the page.
fn font_name(bold: bool) -> Name<'static> {
    Name(if bold { b"bold" } else { b"regular" })
}

/// The sheet as a PDF of one page, `width` by `height` of 1/72 inch.
pub(crate) fn pdf(tree: &Tree, title: &str, (width, height): Point) -> Result<Vec<u8>, String> {
    let fonts = [false, true].map(font);
    let [Some(regular), Some(bold)] = fonts else {
        return Err("the embedded font cannot be read".to_owned());
    };
    let mut pdf = Pdf::new();
    pdf.catalog(CATALOG).pages(PAGES);
    pdf.pages(PAGES).kids([PAGE]).count(1);
    pdf.document_info(INFO).title(TextStr(title));
    let profile = compress_to_vec_zlib(SRGB, EFFORT);
    let mut icc = pdf.icc_profile(PROFILE, &profile);
    icc.n(3).filter(Filter::FlateDecode);
    icc.finish();
    let mut page = Page {
        content: Content::new(),
        pictures: Vec::new(),
        used: [BTreeMap::new(), BTreeMap::new()],
        fonts: [regular, bold],
    };
    // The page's y goes up, the sheet's down.
    let scale = (
        width as f32 / tree.size().width(),
        height as f32 / tree.size().height(),
    );
    page.content.set_line_join(LineJoinStyle::RoundJoin);
    page.content.set_fill_color_space(SRGB_NAME);
    page.content.set_stroke_color_space(SRGB_NAME);
    let place = Transform::from_row(scale.0, 0.0, 0.0, -scale.1, 0.0, height as f32);
    page.group(tree.root(), place);
    let content = compress_to_vec_zlib(&page.content.finish(), EFFORT);
    pdf.stream(CONTENT, &content).filter(Filter::FlateDecode);
    let mut written = pdf.page(PAGE);
    written
        .media_box(Rect::new(0.0, 0.0, width as f32, height as f32))
        .parent(PAGES)
        .contents(CONTENT);
    let mut resources = written.resources();
    let mut spaces = resources.color_spaces();
    spaces
        .insert(SRGB_NAME)
        .start::<pdf_writer::writers::ColorSpace>()
        .icc_based(PROFILE);
    spaces.finish();
    let mut names = resources.fonts();
    for (k, bold) in [false, true].into_iter().enumerate() {
        names.pair(font_name(bold), Ref::new(FONTS[k]));
    }
    names.finish();
    let mut objects = resources.x_objects();
    for (k, _) in page.pictures.iter().enumerate() {
        objects.pair(Name(picture_name(k).as_bytes()), picture_ref(k));
    }
    objects.finish();
    resources.finish();
    written.finish();
    for (k, (rgb, (columns, rows))) in page.pictures.iter().enumerate() {
        let packed = compress_to_vec_zlib(rgb, EFFORT);
        let mut picture = pdf.image_xobject(picture_ref(k), &packed);
        picture.filter(Filter::FlateDecode);
        picture
            .width(*columns as i32)
            .height(*rows as i32)
            .bits_per_component(8)
            .color_space()
            .icc_based(PROFILE);
    }
    for (k, used) in page.used.iter().enumerate() {
        write_font(&mut pdf, FONTS[k], page.fonts[k], k == 1, used);
    }
    Ok(pdf.finish())
}

fn picture_name(number: usize) -> String {
    format!("picture{number}")
}

fn picture_ref(number: usize) -> Ref {
    Ref::new(FIRST_PICTURE + number as i32)
}

/// The page while it is drawn.
struct Page {
    content: Content,
    pictures: Vec<(Vec<u8>, (u32, u32))>,
    /// Glyphs that texts use, with their characters, of each font.
    used: [BTreeMap<u16, char>; 2],
    fonts: [&'static Font; 2],
}

impl Page {
    /// Draws what a group holds; `place` leads from the drawing to the page.
    fn group(&mut self, group: &usvg::Group, place: Transform) {
        for node in group.children() {
            let place_of = place.pre_concat(node.abs_transform());
            match node {
                Node::Group(inner) => self.group(inner, place),
                Node::Path(path) => self.path(path, place_of),
                Node::Text(text) => self.text(text, place_of),
                Node::Image(image) => self.picture(image, place_of),
            }
        }
    }

    fn path(&mut self, path: &usvg::Path, place: Transform) {
        let Some(outline) = path.data().clone().transform(place) else {
            return;
        };
        for segment in outline.segments() {
            match segment {
                PathSegment::MoveTo(p) => self.content.move_to(p.x, p.y),
                PathSegment::LineTo(p) => self.content.line_to(p.x, p.y),
                // Circles become cubic curves; nothing else on a sheet is round.
                PathSegment::QuadTo(p, q) => self.content.cubic_to(p.x, p.y, p.x, p.y, q.x, q.y),
                PathSegment::CubicTo(p, q, r) => {
                    (self.content).cubic_to(p.x, p.y, q.x, q.y, r.x, r.y)
                }
                PathSegment::Close => self.content.close_path(),
            };
        }
        if let Some(fill) = path.fill() {
            self.content.set_fill_color(unit(fill.paint()));
            self.content.fill_nonzero();
        } else if let Some(stroke) = path.stroke() {
            let dashes = stroke.dasharray().unwrap_or_default().iter();
            (self.content)
                .set_stroke_color(unit(stroke.paint()))
                .set_line_width(stroke.width().get() * place.sx)
                .set_dash_pattern(dashes.map(|dash| dash * place.sx), 0.0)
                .stroke();
        } else {
            self.content.end_path();
        }
    }

    fn picture(&mut self, image: &usvg::Image, place: Transform) {
        let ImageKind::PNG(png) = image.kind() else {
            return;
        };
        // What a sheet packed is a picture again.
        let Ok(pixels) = Pixmap::decode_png(png) else {
            return;
        };
        let name = picture_name(self.pictures.len());
        let (width, height) = (image.size().width(), image.size().height());
        let m = place.pre_translate(0.0, height).pre_scale(width, -height);
        self.pictures
            .push((opaque(&pixels), (pixels.width(), pixels.height())));
        (self.content)
            .save_state()
            .transform([m.sx, m.ky, m.kx, m.sy, m.tx, m.ty])
            .x_object(Name(name.as_bytes()))
            .restore_state();
    }

    /// A text: one chunk of one span, as a sheet writes it.
    fn text(&mut self, text: &usvg::Text, place: Transform) {
        for chunk in text.chunks() {
            let Some(span) = chunk.spans().first() else {
                continue;
            };
            let bold = span.font().weight() > 400;
            let font = self.fonts[usize::from(bold)];
            let mut glyphs = Vec::new();
            for c in chunk.text().chars() {
                let glyph = font.glyph(c);
                (self.used[usize::from(bold)]).entry(glyph.0).or_insert(c);
                glyphs.extend(glyph.0.to_be_bytes());
            }
            if let Some(fill) = span.fill() {
                self.content.set_fill_color(unit(fill.paint()));
            }
            let start = (chunk.x().unwrap_or(0.0), chunk.y().unwrap_or(0.0));
            let m = place.pre_translate(start.0, start.1).pre_scale(1.0, -1.0);
            (self.content)
                .begin_text()
                .set_font(font_name(bold), span.font_size().get())
                .set_text_matrix([m.sx, m.ky, m.kx, m.sy, m.tx, m.ty])
                .show(Str(&glyphs))
                .end_text();
        }
    }
}

/// A colour's channels from 0 to 1; sheets know no other paint.
fn unit(paint: &Paint) -> [f32; 3] {
    match paint {
        Paint::Color(color) => [color.red, color.green, color.blue].map(|v| f32::from(v) / 255.0),
        _ => [0.0; 3],
    }
}

/// A font as five objects from number `first` on: composite font, glyphs, description, file, and which character each glyph is.
fn write_font(pdf: &mut Pdf, first: i32, font: &Font, bold: bool, used: &BTreeMap<u16, char>) {
    let [composite, glyphs, description, file, characters] =
        [0, 1, 2, 3, 4].map(|k| Ref::new(first + k));
    let name = Name(if bold {
        b"DejaVuSans-Bold"
    } else {
        b"DejaVuSans"
    });
    let system = SystemInfo {
        registry: Str(b"Adobe"),
        ordering: Str(b"Identity"),
        supplement: 0,
    };
    pdf.type0_font(composite)
        .base_font(name)
        .encoding_predefined(Name(b"Identity-H"))
        .descendant_font(glyphs)
        .to_unicode(characters);
    let mut cid = pdf.cid_font(glyphs);
    cid.subtype(CidFontType::Type2)
        .base_font(name)
        .system_info(system)
        .font_descriptor(description)
        .cid_to_gid_map_predefined(Name(b"Identity"));
    let mut widths = cid.widths();
    for glyph in used.keys() {
        let width = 1000.0 * font.advance(ttf_parser::GlyphId(*glyph));
        widths.consecutive(*glyph, [width as f32]);
    }
    widths.finish();
    cid.finish();
    let face = &font.face;
    let scaled = |units: i16| 1000.0 * f32::from(units) / f32::from(face.units_per_em());
    let bounds = face.global_bounding_box();
    pdf.font_descriptor(description)
        .name(name)
        .flags(FontFlags::NON_SYMBOLIC)
        .bbox(Rect::new(
            scaled(bounds.x_min),
            scaled(bounds.y_min),
            scaled(bounds.x_max),
            scaled(bounds.y_max),
        ))
        .italic_angle(0.0)
        .ascent(scaled(face.ascender()))
        .descent(scaled(face.descender()))
        .cap_height(scaled(face.capital_height().unwrap_or(1493)))
        .stem_v(if bold { 140.0 } else { 80.0 })
        .font_file2(file);
    let packed = compress_to_vec_zlib(font.bytes, EFFORT);
    pdf.stream(file, &packed)
        .filter(Filter::FlateDecode)
        .pair(Name(b"Length1"), font.bytes.len() as i32);
    let mut cmap = UnicodeCmap::new(Name(b"characters"), system);
    for (glyph, c) in used {
        cmap.pair(*glyph, *c);
    }
    let cmap = compress_to_vec_zlib(&cmap.finish(), EFFORT);
    pdf.stream(characters, &cmap).filter(Filter::FlateDecode);
}
