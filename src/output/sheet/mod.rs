//! What is drawn, as a plain list of items: figures only fill it, [`svg()`], [`png()`] and [`pdf()`] only read it.
//!
//! Everything is given in points, y downward. Nothing is drawn while a sheet is filled, so nothing can fail then.

mod backend;
mod dashes;
mod font;
mod pdf;
mod png;
mod svg;
mod words;

use std::cell::RefCell;

pub(crate) use self::backend::{SheetBackend, UNIT};
pub(crate) use self::font::{missing, width};
pub(crate) use self::pdf::pdf;
#[cfg(test)]
pub(crate) use self::png::parse;
pub(crate) use self::png::{Raster, overlay, pixels_png, png, print};
pub(crate) use self::svg::svg;

use self::dashes::dashed;
use self::words::printable;

/// A point of the sheet.
pub(crate) type Point = (f64, f64);

/// Red, green and blue of sRGB.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Color(pub(crate) u8, pub(crate) u8, pub(crate) u8);

impl Color {
    pub(crate) const WHITE: Self = Self(255, 255, 255);

    /// `#rrggbb`.
    pub(crate) fn hex(self) -> String {
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
        Self {
            color,
            width,
            dashes: &[],
        }
    }
}

/// One drawn thing.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Item {
    /// A line through points, without dashes: a dashed line is many.
    Line {
        points: Vec<Point>,
        color: Color,
        width: f64,
    },
    /// A full area within an outline.
    Area { outline: Vec<Point>, color: Color },
    /// A full rectangle: corner, then width and height.
    Box {
        corner: Point,
        size: Point,
        color: Color,
    },
    /// A circle, full where it has no pen.
    Circle {
        centre: Point,
        radius: f64,
        color: Color,
        pen_width: Option<f64>,
    },
    /// A text on one line, in characters that may be printed. `at` is where its baseline begins.
    Text { text: String, at: Point, set: Type },
    /// A picture of columns and rows of pixels (RGB, rows from the top); `flat` where each pixel is to be a rectangle of one colour.
    Picture {
        corner: Point,
        size: Point,
        pixels: (u32, u32),
        rgb: Vec<u8>,
        flat: bool,
    },
}

/// A sheet: its size in points, and what is drawn on it in this order.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Sheet {
    pub(crate) title: String,
    pub(crate) size: Point,
    items: RefCell<Vec<Item>>,
}

impl Sheet {
    /// A white sheet.
    pub(crate) fn new(title: &str, size: Point) -> Self {
        let sheet = Self::clear(title, size);
        sheet.fill((0.0, 0.0), size, Color::WHITE);
        sheet
    }

    /// A sheet that what lies below shows through.
    pub(crate) fn clear(title: &str, size: Point) -> Self {
        Self {
            title: printable(title),
            size,
            items: RefCell::default(),
        }
    }

    fn push(&self, item: Item) {
        self.items.borrow_mut().push(item);
    }

    /// What is drawn.
    pub(crate) fn items(&self) -> Vec<Item> {
        self.items.borrow().clone()
    }

    /// Characters of its texts, and of its title, that the embedded font lacks, each once.
    pub(crate) fn missing_characters(&self) -> Vec<char> {
        let items = self.items.borrow();
        let texts = items.iter().filter_map(|item| match item {
            Item::Text { text, .. } => Some(text.as_str()),
            _ => None,
        });
        let mut all: Vec<char> = texts.flat_map(missing).collect();
        all.sort_unstable();
        all.dedup();
        all
    }

    /// A line through points.
    pub(crate) fn line(&self, points: &[Point], pen: Pen) {
        let pieces = if pen.dashes.is_empty() {
            vec![points.to_vec()]
        } else {
            dashed(points, pen.dashes)
        };
        for points in pieces {
            self.push(Item::Line {
                points,
                color: pen.color,
                width: pen.width,
            });
        }
    }

    /// A circle line.
    pub(crate) fn circle(&self, centre: Point, radius: f64, pen: Pen) {
        self.push(Item::Circle {
            centre,
            radius,
            color: pen.color,
            pen_width: Some(pen.width),
        });
    }

    /// A full circle.
    pub(crate) fn dot(&self, centre: Point, radius: f64, color: Color) {
        self.push(Item::Circle {
            centre,
            radius,
            color,
            pen_width: None,
        });
    }

    /// A full rectangle between two corners.
    pub(crate) fn fill(&self, from: Point, to: Point, color: Color) {
        let (left, top) = (from.0.min(to.0), from.1.min(to.1));
        self.push(Item::Box {
            corner: (left, top),
            size: ((to.0 - from.0).abs(), (to.1 - from.1).abs()),
            color,
        });
    }

    /// A full polygon.
    pub(crate) fn polygon(&self, corners: &[Point], color: Color) {
        self.push(Item::Area {
            outline: corners.to_vec(),
            color,
        });
    }

    /// The outline of a rectangle.
    pub(crate) fn frame(&self, from: Point, to: Point, pen: Pen) {
        let (a, b) = ((to.0, from.1), (from.0, to.1));
        // Once round and a little further, so that the last corner is joined too.
        self.line(&[from, a, to, b, from, a], pen);
    }

    /// A text at a point.
    pub(crate) fn text(&self, text: &str, at: Point, set: Type) {
        let wide = self.width(text, set);
        let back = match set.h {
            HPos::Left => 0.0,
            HPos::Center => 0.5 * wide,
            HPos::Right => wide,
        };
        // Capitals and digits are 0.73 of the size high; a line in the middle of them is in the middle of a text.
        let down = match set.v {
            VPos::Top => 0.76 * set.size,
            VPos::Center => 0.353 * set.size,
            VPos::Bottom => -0.273 * set.size,
        };
        let at = if set.upward {
            (at.0 + down, at.1 + back)
        } else {
            (at.0 - back, at.1 + down)
        };
        self.baseline_text(text, at, set);
    }

    /// A text whose baseline begins at a point.
    pub(crate) fn baseline_text(&self, text: &str, at: Point, set: Type) {
        let text = printable(text);
        if !text.is_empty() {
            self.push(Item::Text { text, at, set });
        }
    }

    /// Width of a text.
    pub(crate) fn width(&self, text: &str, set: Type) -> f64 {
        width(&printable(text), set)
    }

    /// A text that is set smaller, and then cut, until it is at most `room` wide.
    pub(crate) fn fitted(&self, text: &str, at: Point, room: f64, set: Type) {
        let (text, set) = words::fitted(text, room, set);
        self.text(&text, at, set);
    }

    /// A text in lines at most `room` wide, broken between words; a word that is wider stands alone.
    pub(crate) fn wrapped(&self, text: &str, room: f64, set: Type) -> Vec<String> {
        words::wrapped(text, room, set)
    }

    /// A square picture of `side` by `side` pixels (RGB, rows from the top), shown `size` wide.
    pub(crate) fn picture(&self, corner: Point, size: f64, side: u32, rgb: &[u8]) {
        self.push(Item::Picture {
            corner,
            size: (size, size),
            pixels: (side, side),
            rgb: rgb.to_vec(),
            flat: false,
        });
    }

    /// A picture of `pixels` columns and rows (RGB, rows from the top) shown as so many flat rectangles.
    pub(crate) fn mosaic(&self, corner: Point, size: Point, pixels: (u32, u32), rgb: &[u8]) {
        self.push(Item::Picture {
            corner,
            size,
            pixels,
            rgb: rgb.to_vec(),
            flat: true,
        });
    }
}
