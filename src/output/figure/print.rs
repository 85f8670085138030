//! Sheets to print: one drawing as SVG, as PNG at a number of pixels to the inch, and as PDF.
//!
//! The design is A4's, and larger paper shows it larger: a chart on A3 is read from farther away.

use krilla::geom::Size;
use krilla::metadata::Metadata;
use krilla::page::PageSettings;
use krilla::{Document, SerializeSettings};
use krilla_svg::{SurfaceExt, SvgSettings};
use rayon::prelude::*;
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg;

use super::canvas::{Canvas, Point, compose, printable};
use super::raster::{encode, parse};
use super::{Figure, FigureError};

/// Width of every upright sheet in points of the design, 1/72 inch on A4.
const WIDTH: f64 = 210.0 / 25.4 * 72.0;
/// Into how many strips a picture is cut, that threads draw: always the same, so that it does not depend on them.
const STRIPS: u32 = 16;

/// Paper of ISO 216.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PaperSize {
    /// 210 x 297 mm.
    A4,
    /// 297 x 420 mm.
    A3,
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
    if landscape {
        (height, width)
    } else {
        (width, height)
    }
}

/// Draws a sheet.
pub(super) fn sheet(
    figure: &'static str,
    title: &str,
    paper: Paper,
    landscape: bool,
    paint: impl FnOnce(&Canvas) -> Result<(), FigureError>,
) -> Result<Figure, FigureError> {
    let wrong = |reason: String| FigureError::Drawing { figure, reason };
    if !Paper::DPI.contains(&paper.dpi) {
        let (least, most) = (Paper::DPI.start(), Paper::DPI.end());
        let reason = format!("{} dpi, allowed are {least} to {most}", paper.dpi);
        return Err(wrong(reason));
    }
    let (width, height) = turned(paper.mm(), landscape);
    let shown = (format!("{width}mm"), format!("{height}mm"));
    let svg = compose(figure, title, paper.points(landscape), shown, paint)?;
    let tree = parse(&svg).map_err(wrong)?;
    let (png, pdf) = rayon::join(
        || picture(&tree, turned(paper.pixels(), landscape), paper.dpi),
        || pdf(&tree, title, (width, height)),
    );
    Ok(Figure {
        name: figure,
        svg,
        png: png.map_err(wrong)?,
        pdf: Some(pdf.map_err(wrong)?),
    })
}

fn picture(tree: &usvg::Tree, (width, height): (u32, u32), dpi: u32) -> Result<Vec<u8>, String> {
    let scale = (
        width as f32 / tree.size().width(),
        height as f32 / tree.size().height(),
    );
    let rows = height.div_ceil(STRIPS);
    let row = 3 * width as usize;
    let mut rgb = vec![0; row * height as usize];
    (rgb.par_chunks_mut(row * rows as usize).enumerate()).try_for_each(|(strip, rgb)| {
        let high = (rgb.len() / row) as u32;
        let mut pixels = Pixmap::new(width, high).ok_or("the sheet is too large for a picture")?;
        let above = -((strip as u32 * rows) as f32);
        let place = Transform::from_row(scale.0, 0.0, 0.0, scale.1, 0.0, above);
        resvg::render(tree, place, &mut pixels.as_mut());
        for (rgb, pixel) in rgb.chunks_exact_mut(3).zip(pixels.pixels()) {
            rgb.copy_from_slice(&[pixel.red(), pixel.green(), pixel.blue()]);
        }
        Ok::<(), String>(())
    })?;
    let per_metre = (f64::from(dpi) / 0.0254).round() as u32;
    encode(&rgb, (width, height), per_metre, true).map_err(|e| e.to_string())
}

fn pdf(tree: &usvg::Tree, title: &str, (width, height): (f64, f64)) -> Result<Vec<u8>, String> {
    let points = |mm: f64| (mm / 25.4 * 72.0) as f32;
    let size = Size::from_wh(points(width), points(height)).ok_or("the sheet has no size")?;
    // Columns of colour are pictures, cells are not: both are to be sRGB by its profile.
    let settings = SerializeSettings {
        no_device_cs: true,
        ..SerializeSettings::default()
    };
    let mut document = Document::new_with(settings);
    document.set_metadata(Metadata::new().title(printable(title)));
    let mut page = document.start_page_with(PageSettings::new(size));
    let mut surface = page.surface();
    let drawn = surface.draw_svg(tree, size, SvgSettings::default());
    surface.finish();
    page.finish();
    drawn.ok_or("the sheet cannot be drawn as PDF")?;
    document.finish().map_err(|error| format!("{error:?}"))
}
