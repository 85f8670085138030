//! Sheets as PDF: lines stay lines, text stays text that can be searched, colours are sRGB by its profile.

use std::collections::BTreeMap;

use miniz_oxide::deflate::compress_to_vec_zlib;
use pdf_writer::types::{CidFontType, FontFlags, LineJoinStyle, SystemInfo, UnicodeCmap};
use pdf_writer::{Buf, Content, Filter, Finish, Name, Pdf, Rect, Ref, Str, TextStr};

use super::font::{Font, font};
use super::{Color, Item, Pen, PlacedPicture, Point, Raster, Sheet, Type, hundredths};

/// The profile of sRGB; see the fonts' README for where it is from.
const SRGB: &[u8] = include_bytes!("srgb.icc");
const SRGB_NAME: Name<'static> = Name(b"srgb");
/// How hard streams are packed, 0 to 10.
const EFFORT: u8 = 7;
/// Handle length over radius of the cubic curve that stands for a quarter of a circle: 4/3 tan(22.5 degrees), which leaves it by 0.03 % at most.
const QUARTER: f64 = 0.552_284_749_830_793_4;

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

fn picture_name(number: usize) -> String {
    format!("picture{number}")
}

fn picture_ref(number: usize) -> Ref {
    Ref::new(FIRST_PICTURE + number as i32)
}

/// A page's own objects: the page and what stands on it. Those of the first are fixed, the others come after the pictures.
fn page_refs(number: usize, pictures: usize) -> (Ref, Ref) {
    match number.checked_sub(1) {
        None => (PAGE, CONTENT),
        Some(before) => {
            let first = FIRST_PICTURE + (pictures + 2 * before) as i32;
            (Ref::new(first), Ref::new(first + 1))
        }
    }
}

impl Sheet {
    /// The sheet as a PDF of one page, `width` by `height` of 1/72 inch.
    pub(crate) fn pdf(&self, size: Point) -> Result<Vec<u8>, String> {
        document(&self.title, &[(self, size)])
    }
}

/// Sheets as the pages of a PDF, each of its own size in points of 1/72 inch.
#[cfg(feature = "cli")]
pub(crate) fn pdf_of_pages(title: &str, sheets: &[Sheet]) -> Result<Vec<u8>, String> {
    let pages: Vec<_> = sheets.iter().map(|sheet| (sheet, sheet.size)).collect();
    document(title, &pages)
}

fn document(title: &str, pages: &[(&Sheet, Point)]) -> Result<Vec<u8>, String> {
    let [Some(regular), Some(bold)] = [false, true].map(font) else {
        return Err("the embedded font cannot be read".to_owned());
    };
    let items: Vec<_> = pages.iter().map(|(page, _)| page.items.borrow()).collect();
    let mut book = Page {
        content: Content::new(),
        pictures: Vec::new(),
        used: [BTreeMap::new(), BTreeMap::new()],
        fonts: [regular, bold],
    };
    let mut drawn = Vec::new();
    for ((sheet, (width, height)), items) in pages.iter().zip(&items) {
        let first = book.pictures.len();
        // The page's y goes up, the sheet's down.
        let scale = [width / sheet.size.0, -height / sheet.size.1].map(|scale| scale as f32);
        (book.content)
            .transform([scale[0], 0.0, 0.0, scale[1], 0.0, *height as f32])
            .set_line_join(LineJoinStyle::RoundJoin)
            .set_fill_color_space(SRGB_NAME)
            .set_stroke_color_space(SRGB_NAME);
        items.iter().for_each(|item| book.draw(item));
        drawn.push(DrawnPage {
            content: std::mem::replace(&mut book.content, Content::new()).finish(),
            pictures: first..book.pictures.len(),
            size: (*width as f32, *height as f32),
        });
    }
    Ok(book.written(title, &drawn))
}

/// A page that is drawn: its content, which of the pictures it shows, and its size.
struct DrawnPage {
    content: Buf,
    pictures: std::ops::Range<usize>,
    size: (f32, f32),
}

/// A page while it is drawn, in the sheet's points, with the pictures and glyphs of all pages so far.
struct Page<'a> {
    content: Content,
    pictures: Vec<&'a Raster>,
    /// Glyphs that texts use, with their characters, of each font.
    used: [BTreeMap<u16, char>; 2],
    fonts: [&'static Font; 2],
}

impl<'a> Page<'a> {
    fn draw(&mut self, item: &'a Item) {
        match item {
            Item::Line(points, pen) => {
                self.through(points);
                self.stroke(*pen);
            }
            Item::Circle(centre, radius, pen) => {
                self.round(*centre, *radius);
                self.stroke(*pen);
            }
            Item::Dot(centre, radius, color) => {
                self.round(*centre, *radius);
                self.fill(*color);
            }
            Item::Fill(corner, size, color) => {
                let ([x, y], [width, height]) = (at(*corner), at(*size));
                self.content.rect(x, y, width, height);
                self.fill(*color);
            }
            Item::Polygon(corners, color) => {
                self.through(corners);
                self.fill(*color);
            }
            Item::Text(text, foot, set) => self.text(text, *foot, *set),
            Item::Picture(picture) => self.picture(picture),
        }
    }

    fn through(&mut self, points: &[Point]) {
        for (k, point) in points.iter().enumerate() {
            let [x, y] = at(*point);
            match k {
                0 => self.content.move_to(x, y),
                _ => self.content.line_to(x, y),
            };
        }
    }

    /// A circle as four cubic curves.
    fn round(&mut self, (x, y): Point, radius: f64) {
        let handle = QUARTER * radius;
        let [x0, y0] = at((x + radius, y));
        self.content.move_to(x0, y0);
        let mut east = (1.0, 0.0);
        for _ in 0..4 {
            let south = (-east.1, east.0);
            let place = |along: f64, across: f64| {
                at((
                    x + along * east.0 + across * south.0,
                    y + along * east.1 + across * south.1,
                ))
            };
            let ([x1, y1], [x2, y2], [x3, y3]) = (
                place(radius, handle),
                place(handle, radius),
                place(0.0, radius),
            );
            self.content.cubic_to(x1, y1, x2, y2, x3, y3);
            east = south;
        }
        self.content.close_path();
    }

    fn stroke(&mut self, pen: Pen) {
        let dashes = pen.dashes.iter().map(|dash| *dash as f32);
        (self.content)
            .set_stroke_color(channels(pen.color))
            .set_line_width(pen.width as f32)
            .set_dash_pattern(dashes, 0.0)
            .stroke();
    }

    fn fill(&mut self, color: Color) {
        (self.content)
            .set_fill_color(channels(color))
            .fill_nonzero();
    }

    fn text(&mut self, text: &str, foot: Point, set: Type) {
        let weight = usize::from(set.bold);
        let mut glyphs = Vec::new();
        for c in text.chars() {
            let glyph = self.fonts[weight].glyph(c);
            self.used[weight].entry(glyph.0).or_insert(c);
            glyphs.extend(glyph.0.to_be_bytes());
        }
        let [x, y] = at(foot);
        // Glyphs stand upright again; an upward text is turned by a quarter.
        let place = match set.upward {
            true => [0.0, -1.0, -1.0, 0.0, x, y],
            false => [1.0, 0.0, 0.0, -1.0, x, y],
        };
        (self.content)
            .set_fill_color(channels(set.color))
            .begin_text()
            .set_font(font_name(set.bold), set.size as f32)
            .set_text_matrix(place)
            .show(Str(&glyphs))
            .end_text();
    }

    fn picture(&mut self, picture: &'a PlacedPicture) {
        let name = picture_name(self.pictures.len());
        self.pictures.push(&picture.raster);
        let ([x, y], [width, height]) = (at(picture.corner), at(picture.size));
        (self.content)
            .save_state()
            .transform([width, 0.0, 0.0, -height, x, y + height])
            .x_object(Name(name.as_bytes()))
            .restore_state();
    }

    /// The file: the pages with their fonts, pictures and the profile of their colours.
    fn written(self, title: &str, pages: &[DrawnPage]) -> Vec<u8> {
        let mut pdf = Pdf::new();
        let count = self.pictures.len();
        let refs: Vec<_> = (0..pages.len()).map(|k| page_refs(k, count)).collect();
        pdf.catalog(CATALOG).pages(PAGES);
        pdf.pages(PAGES)
            .kids(refs.iter().map(|(page, _)| *page))
            .count(pages.len() as i32);
        pdf.document_info(INFO).title(TextStr(title));
        let profile = compress_to_vec_zlib(SRGB, EFFORT);
        (pdf.icc_profile(PROFILE, &profile))
            .n(3)
            .filter(Filter::FlateDecode);
        for (drawn, (page_ref, content_ref)) in pages.iter().zip(refs) {
            let content = compress_to_vec_zlib(&drawn.content, EFFORT);
            pdf.stream(content_ref, &content)
                .filter(Filter::FlateDecode);
            let mut page = pdf.page(page_ref);
            page.media_box(Rect::new(0.0, 0.0, drawn.size.0, drawn.size.1))
                .parent(PAGES)
                .contents(content_ref);
            let mut resources = page.resources();
            (resources.color_spaces().insert(SRGB_NAME))
                .start::<pdf_writer::writers::ColorSpace>()
                .icc_based(PROFILE);
            let mut names = resources.fonts();
            for (bold, first) in [false, true].into_iter().zip(FONTS) {
                names.pair(font_name(bold), Ref::new(first));
            }
            names.finish();
            let mut objects = resources.x_objects();
            for k in drawn.pictures.clone() {
                objects.pair(Name(picture_name(k).as_bytes()), picture_ref(k));
            }
            objects.finish();
            resources.finish();
            page.finish();
        }
        for (k, raster) in self.pictures.iter().enumerate() {
            let packed = compress_to_vec_zlib(&raster.bytes, EFFORT);
            let mut picture = pdf.image_xobject(picture_ref(k), &packed);
            picture.filter(Filter::FlateDecode);
            picture
                .width(raster.width as i32)
                .height(raster.height as i32)
                .bits_per_component(8)
                .color_space()
                .icc_based(PROFILE);
        }
        for (k, used) in self.used.iter().enumerate() {
            write_font(&mut pdf, FONTS[k], self.fonts[k], k == 1, used);
        }
        pdf.finish()
    }
}

/// A point or a size as the page's numbers.
fn at((x, y): Point) -> [f32; 2] {
    [x, y].map(|value| hundredths(value) as f32)
}

/// A colour's channels from 0 to 1.
fn channels(color: Color) -> [f32; 3] {
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
