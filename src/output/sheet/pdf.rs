//! A sheet as PDF: lines stay lines, text stays text that can be searched, colours are sRGB by its profile.

use std::collections::BTreeMap;

use miniz_oxide::deflate::compress_to_vec_zlib;
use pdf_writer::types::{CidFontType, FontFlags, LineJoinStyle, SystemInfo, UnicodeCmap};
use pdf_writer::{Content, Filter, Finish, Name, Pdf, Rect, Ref, Str, TextStr};

use super::font::{Font, UNKNOWN, font};
use super::{Color, Item, Point, Sheet, Type};

/// The profile of sRGB; see the fonts' README for where it is from.
const SRGB: &[u8] = include_bytes!("srgb.icc");
const SRGB_NAME: Name<'static> = Name(b"srgb");
/// How hard streams are packed, 0 to 10.
const EFFORT: u8 = 7;
/// Control points of a quarter of a circle lie at this fraction of its radius.
const QUARTER: f64 = 0.552_284_75;

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
pub(crate) fn pdf(sheet: &Sheet, (width, height): Point) -> Result<Vec<u8>, String> {
    let fonts = [false, true].map(font);
    let [Some(regular), Some(bold)] = fonts else {
        return Err("the embedded font cannot be read".to_owned());
    };
    let mut pdf = Pdf::new();
    pdf.catalog(CATALOG).pages(PAGES);
    pdf.pages(PAGES).kids([PAGE]).count(1);
    pdf.document_info(INFO).title(TextStr(&sheet.title));
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
    page.draw(sheet, width / sheet.size.0);
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
    /// Draws all items, enlarged by a factor; the page's y goes up, the sheet's down.
    fn draw(&mut self, sheet: &Sheet, factor: f64) {
        let height = (sheet.size.1 * factor) as f32;
        let factor = factor as f32;
        (self.content).transform([factor, 0.0, 0.0, -factor, 0.0, height]);
        self.content.set_line_join(LineJoinStyle::RoundJoin);
        self.content.set_fill_color_space(SRGB_NAME);
        self.content.set_stroke_color_space(SRGB_NAME);
        for item in sheet.items() {
            self.item(item);
        }
    }

    fn item(&mut self, item: Item) {
        match item {
            Item::Line {
                points,
                color,
                width,
            } => {
                self.pen(color, width);
                self.path(&points);
                self.content.stroke();
            }
            Item::Area { outline, color } => {
                self.fill(color);
                self.path(&outline);
                self.content.close_path().fill_nonzero();
            }
            Item::Box {
                corner,
                size,
                color,
            } => {
                self.fill(color);
                let [x, y, w, h] = [corner.0, corner.1, size.0, size.1].map(|v| v as f32);
                self.content.rect(x, y, w, h).fill_nonzero();
            }
            Item::Circle {
                centre,
                radius,
                color,
                pen_width,
            } => {
                self.round(centre, radius, |page| match pen_width {
                    Some(width) => page.pen(color, width),
                    None => page.fill(color),
                });
                match pen_width {
                    Some(_) => self.content.stroke(),
                    None => self.content.fill_nonzero(),
                };
            }
            Item::Text { text, at, set } => self.text(&text, at, set),
            Item::Picture {
                corner,
                size,
                pixels,
                rgb,
                ..
            } => {
                let name = picture_name(self.pictures.len());
                self.pictures.push((rgb, pixels));
                let [x, y, w, h] = [corner.0, corner.1, size.0, size.1].map(|v| v as f32);
                self.content.save_state();
                self.content.transform([w, 0.0, 0.0, -h, x, y + h]);
                self.content.x_object(Name(name.as_bytes()));
                self.content.restore_state();
            }
        }
    }

    fn pen(&mut self, color: Color, width: f64) {
        self.content.set_stroke_color(unit(color));
        self.content.set_line_width(width as f32);
    }

    fn fill(&mut self, color: Color) {
        self.content.set_fill_color(unit(color));
    }

    fn path(&mut self, points: &[Point]) {
        for (number, (x, y)) in points.iter().enumerate() {
            if number == 0 {
                self.content.move_to(*x as f32, *y as f32);
            } else {
                self.content.line_to(*x as f32, *y as f32);
            }
        }
    }

    fn round(&mut self, (x, y): Point, radius: f64, look: impl FnOnce(&mut Self)) {
        look(self);
        let at = |dx: f64, dy: f64| ((x + radius * dx) as f32, (y + radius * dy) as f32);
        let start = at(1.0, 0.0);
        self.content.move_to(start.0, start.1);
        for [(ax, ay), (bx, by)] in [
            [(1.0, 0.0), (0.0, 1.0)],
            [(0.0, 1.0), (-1.0, 0.0)],
            [(-1.0, 0.0), (0.0, -1.0)],
            [(0.0, -1.0), (1.0, 0.0)],
        ] {
            let (p, q) = (
                at(ax + QUARTER * bx, ay + QUARTER * by),
                at(bx + QUARTER * ax, by + QUARTER * ay),
            );
            let end = at(bx, by);
            self.content.cubic_to(p.0, p.1, q.0, q.1, end.0, end.1);
        }
    }

    fn text(&mut self, text: &str, (x, y): Point, set: Type) {
        let which = usize::from(set.bold);
        let font = self.fonts[which];
        let mut glyphs = Vec::new();
        for c in text.chars() {
            let glyph = font.glyph(c);
            let shown = font.face.glyph_index(c).map_or(UNKNOWN, |_| c);
            self.used[which].entry(glyph.0).or_insert(shown);
            glyphs.extend(glyph.0.to_be_bytes());
        }
        self.fill(set.color);
        let (x, y) = (x as f32, y as f32);
        let matrix = if set.upward {
            [0.0, -1.0, -1.0, 0.0, x, y]
        } else {
            [1.0, 0.0, 0.0, -1.0, x, y]
        };
        self.content
            .begin_text()
            .set_font(font_name(set.bold), set.size as f32)
            .set_text_matrix(matrix)
            .show(Str(&glyphs))
            .end_text();
    }
}

fn unit(color: Color) -> [f32; 3] {
    [color.0, color.1, color.2].map(|v| f32::from(v) / 255.0)
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
