//! Sheets to print: one drawing as SVG, as PNG at a number of pixels to the inch, and as PDF.
//!
//! The design is A4's, and larger paper shows it larger: a chart on A3 is read from farther away. A sheet of its own design is drawn at its own size.

use super::look::{Figure, FigureError, Point, Sheet, finished, undrawn};
use crate::output::sheet::SLIDE;

/// Width of every upright sheet in points of the design, 1/72 inch on A4.
const WIDTH: f64 = 210.0 / 25.4 * 72.0;
/// Paper of ISO 216, or a screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PaperSize {
    /// 210 x 297 mm.
    A4,
    /// 297 x 420 mm.
    A3,
    /// 420 x 594 mm.
    A2,
    /// 594 x 841 mm.
    A1,
    /// 16 to 9, always held sideways: 325.12 x 182.88 mm, which at 300 dpi are 3840 x 2160 pixels.
    Wide,
}

/// What a chart is printed on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Paper {
    /// Its size.
    pub size: PaperSize,
    /// Pixels of the PNG to the inch, 72 to 1200.
    pub dpi: u32,
}

impl Paper {
    /// The dpi that are allowed: below, small print cannot be read; above, the picture has hundreds of millions of pixels.
    pub const DPI: std::ops::RangeInclusive<u32> = 72..=1200;

    /// Width and height in mm of the sheet held upright.
    #[must_use]
    pub fn mm(self) -> (f64, f64) {
        match self.size {
            PaperSize::A4 => (210.0, 297.0),
            PaperSize::A3 => (297.0, 420.0),
            PaperSize::A2 => (420.0, 594.0),
            PaperSize::A1 => (594.0, 841.0),
            PaperSize::Wide => (182.88, 325.12),
        }
    }

    /// Width and height in pixels of the sheet held upright.
    ///
    /// # Examples
    /// ```
    /// use polstack::output::figure::{Paper, PaperSize};
    /// let paper = Paper { size: PaperSize::A3, dpi: 300 };
    /// assert_eq!(paper.pixels(), (3508, 4961));
    /// ```
    #[must_use]
    pub fn pixels(self) -> (u32, u32) {
        let pixels = |mm: f64| (mm / 25.4 * f64::from(self.dpi)).round() as u32;
        let (width, height) = self.mm();
        (pixels(width), pixels(height))
    }

    /// Width and height in points of the design.
    pub(super) fn points(self, landscape: bool) -> Point {
        let (width, height) = self.mm();
        turned((WIDTH, height / width * WIDTH), landscape)
    }
}

fn turned<T>((width, height): (T, T), landscape: bool) -> (T, T) {
    match landscape {
        true => (height, width),
        false => (width, height),
    }
}

/// How a sheet is drawn.
#[derive(Debug, Clone, Copy)]
pub(super) struct Held {
    /// Whether it is held sideways.
    pub(super) sideways: bool,
    /// At its own size, in points of 1/72 inch, and not in the design of A4, shown larger on larger paper; on a screen in points of a slide.
    pub(super) own_size: bool,
}

/// Draws a sheet to print.
pub(super) fn printed(
    figure: &'static str,
    title: &str,
    paper: Paper,
    held: Held,
    paint: impl FnOnce(&Sheet),
) -> Result<Figure, FigureError> {
    if !Paper::DPI.contains(&paper.dpi) {
        let (least, most) = (Paper::DPI.start(), Paper::DPI.end());
        let reason = format!("{} dpi, allowed are {least} to {most}", paper.dpi);
        return Err(undrawn(figure)(reason));
    }
    let landscape = held.sideways || paper.size == PaperSize::Wide;
    let (width, height) = turned(paper.mm(), landscape);
    let points = |mm: f64| mm / 25.4 * 72.0;
    let size = (points(width), points(height));
    let drawn = match held.own_size {
        true if paper.size == PaperSize::Wide => SLIDE,
        true => size,
        false => paper.points(landscape),
    };
    let sheet = Sheet::new(title, drawn);
    paint(&sheet);
    let shown = (format!("{width}mm"), format!("{height}mm"));
    let pixels = turned(paper.pixels(), landscape);
    finished(figure, &sheet, shown, (pixels, paper.dpi), Some(size))
}
