//! What is drawn, as a list of items: figures only fill it. The list is written as SVG and as PDF; [`Raster`] reads the SVG.
//!
//! Everything is given in points, y downward. Filling a sheet cannot fail.

mod backend;
mod bare;
mod font;
mod frame;
mod parts;
mod pdf;
mod png;
mod slide;

use std::cell::RefCell;
use std::ops::Range;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;

pub(crate) use self::backend::{SheetBackend, UNIT};
pub use self::bare::SlideTheme;
pub(crate) use self::font::missing_characters;
#[cfg(feature = "cli")]
pub(crate) use self::pdf::pdf_of_pages;
use self::png::Packing;
pub(crate) use self::png::{ClearRaster, DPI, Raster, apng, parse};
#[cfg(test)]
pub(crate) use self::slide::slides_can_be_read;
pub(crate) use self::slide::{FOOT_TYPE, LEAST_TYPE, SLIDE, SLIDE_PIXELS};

use self::font::{FAMILY, printable};

/// A point of the sheet.
pub(crate) type Point = (f64, f64);

/// Red, green and blue of sRGB.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Color(pub(crate) u8, pub(crate) u8, pub(crate) u8);

impl Color {
    pub(crate) const WHITE: Self = Self(255, 255, 255);

    /// `#rrggbb`.
    fn hex(self) -> String {
        format!("#{:02x}{:02x}{:02x}", self.0, self.1, self.2)
    }
}

/// What of a text stands at its point, across.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum HPos {
    Left,
    Center,
    Right,
}

/// What of a text stands at its point, up and down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum VPos {
    Top,
    Center,
    Bottom,
}

/// How a text is set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Type {
    pub(crate) size: f64,
    pub(crate) bold: bool,
    pub(crate) color: Color,
    pub(crate) h: HPos,
    pub(crate) v: VPos,
    /// Whether it reads upward.
    pub(crate) upward: bool,
}

/// The same type with one thing changed.
impl Type {
    /// From the point at which a text is set to the left end of its foot.
    fn to_foot(self, text: &str) -> Point {
        let width = font::width(text, self);
        let back = match self.h {
            HPos::Left => 0.0,
            HPos::Center => 0.5 * width,
            HPos::Right => width,
        };
        // Capitals and digits are 0.73 of the size high; a line in the middle of them is in the middle of a text.
        let down = match self.v {
            VPos::Top => 0.76 * self.size,
            VPos::Center => 0.353 * self.size,
            VPos::Bottom => -0.273 * self.size,
        };
        match self.upward {
            true => (down, back),
            false => (-back, down),
        }
    }

    pub(crate) const fn sized(self, size: f64) -> Self {
        Self { size, ..self }
    }

    pub(crate) const fn bold(self) -> Self {
        self.weighted(true)
    }

    pub(crate) const fn weighted(self, bold: bool) -> Self {
        Self { bold, ..self }
    }

    pub(crate) const fn inked(self, color: Color) -> Self {
        Self { color, ..self }
    }

    /// Anchored across at some part of it.
    pub(crate) const fn anchored(self, h: HPos) -> Self {
        Self { h, ..self }
    }

    pub(crate) const fn centred(self) -> Self {
        self.anchored(HPos::Center)
    }

    pub(crate) const fn right(self) -> Self {
        self.anchored(HPos::Right)
    }

    pub(crate) const fn turned(self, upward: bool) -> Self {
        Self { upward, ..self }
    }
}

/// A pen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Pen {
    pub(crate) color: Color,
    pub(crate) width: f64,
    /// Lengths drawn and left out by turns; empty for a full line.
    pub(crate) dashes: &'static [f64],
}

impl Pen {
    /// A full line.
    pub(crate) const fn full(color: Color, width: f64) -> Self {
        Self::dashed(color, width, &[])
    }

    /// A dashed line.
    pub(crate) const fn dashed(color: Color, width: f64, dashes: &'static [f64]) -> Self {
        Self {
            color,
            width,
            dashes,
        }
    }
}

/// One thing that is drawn.
#[derive(Debug, Clone, PartialEq)]
enum Item {
    /// A line through points.
    Line(Vec<Point>, Pen),
    /// A circle line.
    Circle(Point, f64, Pen),
    /// A full circle.
    Dot(Point, f64, Color),
    /// A full rectangle, by its corner and size.
    Fill(Point, Point, Color),
    /// A full polygon.
    Polygon(Vec<Point>, Color),
    /// A text, by the left end of its foot.
    Text(String, Point, Type),
    Picture(PlacedPicture),
}

/// A picture, by its corner and size.
#[derive(Debug, Clone, PartialEq)]
struct PlacedPicture {
    corner: Point,
    size: Point,
    raster: Raster,
    /// Shown as flat rectangles.
    mosaic: bool,
    /// Nothing is shown beyond the disc that fills it.
    disc: bool,
}

/// Items of a sheet that stay together when it is cut into slides, by their places in its list.
#[derive(Debug, Clone, PartialEq)]
struct KeptTogether {
    items: Range<usize>,
    how: Keep,
}

/// How items stay together.
#[derive(Debug, Clone, PartialEq)]
enum Keep {
    /// Lines of a running text, which is this.
    Running(String),
    /// Heads and legends of all that is drawn: they are on each slide.
    Everywhere,
    /// Notes of the panel that they stand under: they are at the foot of its slide alone.
    Note,
}

/// A sheet: its size in points, and what is drawn on it in this order.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Sheet {
    pub(crate) title: String,
    pub(crate) size: Point,
    items: RefCell<Vec<Item>>,
    /// What slides keep together; where one holds another, it comes later.
    kept: RefCell<Vec<KeptTogether>>,
    /// How small pictures in the SVG are made.
    packing: Packing,
}

impl Sheet {
    /// A white sheet that becomes pixels at once and is kept in no other form: no time goes into making its pictures small.
    pub(crate) fn for_pixels(title: &str, size: Point) -> Self {
        Self {
            packing: Packing::Loose,
            ..Self::new(title, size)
        }
    }

    /// A white sheet.
    pub(crate) fn new(title: &str, size: Point) -> Self {
        let sheet = Self {
            title: printable(title),
            size,
            items: RefCell::default(),
            kept: RefCell::default(),
            packing: Packing::Close,
        };
        sheet.fill((0.0, 0.0), size, Color::WHITE);
        sheet
    }

    fn push(&self, item: Item) {
        self.items.borrow_mut().push(item);
    }

    /// What is drawn is kept together on slides in some way.
    fn keep<T>(&self, how: Keep, draw: impl FnOnce() -> T) -> T {
        let from = self.items.borrow().len();
        let drawn = draw();
        let items = from..self.items.borrow().len();
        self.kept.borrow_mut().push(KeptTogether { items, how });
        drawn
    }

    /// What is drawn is a head or a legend of all else: where the sheet is cut into slides, each of them has it.
    pub(crate) fn on_each_slide(&self, draw: impl FnOnce(&Self)) {
        self.keep(Keep::Everywhere, || draw(self));
    }

    /// What is drawn are notes of the panel above them alone: where the sheet is cut into slides, only that panel's has them.
    pub(crate) fn as_note(&self, draw: impl FnOnce(&Self)) {
        self.keep(Keep::Note, || draw(self));
    }

    /// The sheet as SVG; `shown` is the width and height that it is to have, with units.
    pub(crate) fn svg(&self, shown: (&str, &str)) -> String {
        let size = (short(self.size.0), short(self.size.1));
        let title = escaped(&self.title);
        let items = self.items.borrow();
        let drawn: Vec<String> = items.iter().map(|item| item.svg(self.packing)).collect();
        let drawn = drawn.join("\n");
        format!(
            r#"<svg xmlns="http://www.w3.org/2000/svg" width="{}" height="{}" viewBox="0 0 {} {}" stroke-linejoin="round" font-family="{FAMILY}">
<title>{title}</title>
{drawn}
</svg>
"#,
            shown.0, shown.1, size.0, size.1
        )
    }

    /// A line through points.
    pub(crate) fn line(&self, points: &[Point], pen: Pen) {
        self.push(Item::Line(points.to_vec(), pen));
    }

    /// A circle line.
    pub(crate) fn circle(&self, centre: Point, radius: f64, pen: Pen) {
        self.push(Item::Circle(centre, radius, pen));
    }

    /// A full circle.
    pub(crate) fn dot(&self, centre: Point, radius: f64, color: Color) {
        self.push(Item::Dot(centre, radius, color));
    }

    /// A full rectangle between two corners.
    pub(crate) fn fill(&self, from: Point, to: Point, color: Color) {
        let corner = (from.0.min(to.0), from.1.min(to.1));
        let size = ((to.0 - from.0).abs(), (to.1 - from.1).abs());
        self.push(Item::Fill(corner, size, color));
    }

    /// A full polygon.
    pub(crate) fn polygon(&self, corners: &[Point], color: Color) {
        self.push(Item::Polygon(corners.to_vec(), color));
    }

    /// The outline of a rectangle.
    pub(crate) fn frame(&self, from: Point, to: Point, pen: Pen) {
        let (a, b) = ((to.0, from.1), (from.0, to.1));
        // Once round and a little further, so that the last corner is joined too.
        self.line(&[from, a, to, b, from, a], pen);
    }

    /// A text at a point.
    pub(crate) fn text(&self, text: &str, at: Point, set: Type) {
        let text = printable(text);
        if text.is_empty() {
            return;
        }
        let (x, y) = set.to_foot(&text);
        let foot = (at.0 + x, at.1 + y);
        self.push(Item::Text(text, foot, set));
    }

    /// A square picture of `side` by `side` pixels (RGB, rows from the top), shown `size` wide.
    pub(crate) fn picture(&self, corner: Point, size: f64, side: u32, rgb: Vec<u8>) {
        self.image(corner, (size, size), (side, side), rgb, false);
    }

    /// A disc that fills a square picture, with its rim.
    pub(crate) fn disc(&self, (x, y): Point, radius: f64, (side, rgb): (u32, Vec<u8>), rim: Pen) {
        self.picture((x - radius, y - radius), 2.0 * radius, side, rgb);
        self.circle((x, y), radius, rim);
    }

    /// A picture of `pixels` columns and rows (RGB, rows from the top) shown as so many flat rectangles.
    pub(crate) fn mosaic(&self, corner: Point, size: Point, pixels: (u32, u32), rgb: Vec<u8>) {
        self.image(corner, size, pixels, rgb, true);
    }

    fn image(&self, corner: Point, size: Point, pixels: (u32, u32), bytes: Vec<u8>, mosaic: bool) {
        let (width, height) = pixels;
        let raster = Raster {
            width,
            height,
            bytes,
        };
        self.push(Item::Picture(PlacedPicture {
            corner,
            size,
            raster,
            mosaic,
            disc: false,
        }));
    }
}

impl Item {
    /// Its SVG element; a picture is in it as a PNG.
    fn svg(&self, packing: Packing) -> String {
        let round = |(x, y): &Point, radius: &f64, look: &str| {
            let (x, y, r) = (short(*x), short(*y), short(*radius));
            format!(r#"<circle cx="{x}" cy="{y}" r="{r}" {look}/>"#)
        };
        match self {
            Self::Line(points, pen) => {
                let (points, stroke) = (listed(points), pen.stroke());
                format!(r#"<polyline points="{points}" fill="none" {stroke}/>"#)
            }
            Self::Circle(centre, radius, pen) => {
                round(centre, radius, &format!(r#"fill="none" {}"#, pen.stroke()))
            }
            Self::Dot(centre, radius, color) => {
                round(centre, radius, &format!(r#"fill="{}""#, color.hex()))
            }
            Self::Fill(corner, size, color) => {
                format!(
                    r#"<rect {} fill="{}"/>"#,
                    place(*corner, *size),
                    color.hex()
                )
            }
            Self::Polygon(corners, color) => {
                let (points, fill) = (listed(corners), color.hex());
                format!(r#"<polygon points="{points}" fill="{fill}"/>"#)
            }
            Self::Text(text, (x, y), set) => {
                let (x, y) = (short(*x), short(*y));
                let turned = match set.upward {
                    true => format!(r#" transform="rotate(270 {x} {y})""#),
                    false => String::new(),
                };
                let weight = match set.bold {
                    true => r#" font-weight="bold""#,
                    false => "",
                };
                let (size, fill, text) = (short(set.size), set.color.hex(), escaped(text));
                format!(
                    r#"<text x="{x}" y="{y}" font-size="{size}"{weight} fill="{fill}"{turned}>{text}</text>"#
                )
            }
            Self::Picture(picture) => {
                let raster = &picture.raster;
                // Pictures have as many bytes as their size says: an empty one would be a mistake of the figure, which tests see.
                let png = match picture.disc {
                    true => bare::disc_of(raster).packed(DPI, packing),
                    false => raster.packed(DPI, packing),
                }
                .unwrap_or_default();
                let look = match picture.mosaic {
                    true => r#" preserveAspectRatio="none" style="image-rendering:pixelated""#,
                    false => "",
                };
                let place = place(picture.corner, picture.size);
                let png = STANDARD.encode(png);
                format!(r#"<image {place}{look} href="data:image/png;base64,{png}"/>"#)
            }
        }
    }
}

impl Pen {
    fn stroke(self) -> String {
        let (color, width) = (self.color.hex(), short(self.width));
        let dashes: Vec<String> = self.dashes.iter().map(|dash| short(*dash)).collect();
        let dashes = match dashes.is_empty() {
            true => String::new(),
            false => format!(r#" stroke-dasharray="{}""#, dashes.join(" ")),
        };
        format!(r#"stroke="{color}" stroke-width="{width}"{dashes}"#)
    }
}

fn place((x, y): Point, (width, height): Point) -> String {
    let [x, y, width, height] = [x, y, width, height].map(short);
    format!(r#"x="{x}" y="{y}" width="{width}" height="{height}""#)
}

fn listed(points: &[Point]) -> String {
    let pairs = points
        .iter()
        .map(|(x, y)| format!("{},{}", short(*x), short(*y)));
    pairs.collect::<Vec<_>>().join(" ")
}

/// Text as XML and HTML write it between tags.
pub(crate) fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;")
}

/// Hundredths of a point, which no eye tells apart; what is no number is 0.
fn hundredths(value: f64) -> f64 {
    let hundredths = (100.0 * value).round() / 100.0;
    match hundredths.is_finite() && hundredths != 0.0 {
        true => hundredths.clamp(-1e6, 1e6),
        false => 0.0,
    }
}

fn short(value: f64) -> String {
    hundredths(value).to_string()
}
