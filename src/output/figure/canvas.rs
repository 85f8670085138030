//! The sheet that figures are drawn on.
//!
//! Everything is given in points, y downward: of a sheet 800 wide, or of the paper that a chart is printed on. The drawing library rounds to
//! whole numbers, so the SVG has ten of its own units to a point and is scaled down by its view box.

use std::cell::RefCell;

use plotters::coord::Shift;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{FontStyle, FontTransform};

use super::raster::{FONT, NO_FONT, fonts, parse, rasterise};
use super::{Figure, FigureError};

/// Width of every sheet that is not printed on paper of its own.
pub(super) const WIDTH: f64 = 800.0;
/// Room at the left and right of titles and captions.
pub(super) const MARGIN: f64 = 28.0;
/// SVG units to a point.
const UNIT: f64 = 10.0;
/// Line height of the embedded font over its size: (ascender 1901 + descender 483) / 2048. The drawing library measures by line height.
const LINE_HEIGHT: f64 = 2384.0 / 2048.0;
/// What it divides the size of a text by when it writes it.
const SIZE_DIVISOR: f64 = 1.24;

/// Colour of text.
pub(super) const INK: RGBColor = RGBColor(0x1e, 0x1e, 0x24);
/// Colour of text that may be overlooked.
pub(super) const SOFT_INK: RGBColor = RGBColor(0x55, 0x55, 0x5e);
/// Colour of axes and frames.
pub(super) const FRAME: RGBColor = RGBColor(0x6e, 0x6e, 0x78);
/// Colour of a grid.
pub(super) const GRID: RGBColor = RGBColor(0xdc, 0xdc, 0xe2);

/// A point of the sheet.
pub(super) type Point = (f64, f64);

/// How a text is set.
#[derive(Clone, Copy)]
pub(super) struct Type {
    pub(super) size: f64,
    pub(super) bold: bool,
    pub(super) color: RGBColor,
    pub(super) h: HPos,
    pub(super) v: VPos,
    /// Whether it reads upward.
    pub(super) upward: bool,
}

/// Ordinary text, anchored at its left.
pub(super) const BODY: Type = Type {
    size: 15.0,
    bold: false,
    color: INK,
    h: HPos::Left,
    v: VPos::Center,
    upward: false,
};

/// A pen.
#[derive(Clone, Copy)]
pub(super) struct Pen {
    pub(super) color: RGBColor,
    pub(super) width: f64,
    /// Lengths drawn and left out by turns; empty for a full line.
    pub(super) dashes: &'static [f64],
}

impl Pen {
    pub(super) const fn full(color: RGBColor, width: f64) -> Self {
        Self {
            color,
            width,
            dashes: &[],
        }
    }

    fn style(self) -> ShapeStyle {
        ShapeStyle {
            color: self.color.to_rgba(),
            filled: false,
            stroke_width: (self.width * UNIT).round() as u32,
        }
    }
}

/// A sheet while it is drawn on.
pub(super) struct Canvas<'a> {
    figure: &'static str,
    area: DrawingArea<SVGBackend<'a>, Shift>,
    /// What must be rewritten in the finished SVG.
    patches: RefCell<Vec<(String, String)>>,
}

impl Canvas<'_> {
    fn failed(&self) -> impl Fn(DrawingAreaErrorKind<std::io::Error>) -> FigureError {
        let figure = self.figure;
        move |error| FigureError::Drawing {
            figure,
            reason: error.to_string(),
        }
    }

    /// A line through points.
    pub(super) fn line(&self, points: &[Point], pen: Pen) -> Result<(), FigureError> {
        let pieces = if pen.dashes.is_empty() {
            vec![points.to_vec()]
        } else {
            dashed(points, pen.dashes)
        };
        for piece in pieces {
            let piece: Vec<_> = piece.into_iter().map(units).collect();
            (self.area.draw(&PathElement::new(piece, pen.style()))).map_err(self.failed())?;
        }
        Ok(())
    }

    /// A circle line.
    pub(super) fn circle(&self, centre: Point, radius: f64, pen: Pen) -> Result<(), FigureError> {
        let circle = Circle::new(units(centre), (radius * UNIT).round() as i32, pen.style());
        self.area.draw(&circle).map_err(self.failed())
    }

    /// A full circle.
    pub(super) fn dot(
        &self,
        centre: Point,
        radius: f64,
        color: RGBColor,
    ) -> Result<(), FigureError> {
        let size = (radius * UNIT).round() as i32;
        (self
            .area
            .draw(&Circle::new(units(centre), size, color.filled())))
        .map_err(self.failed())
    }

    /// A full rectangle between two corners.
    pub(super) fn fill(&self, from: Point, to: Point, color: RGBColor) -> Result<(), FigureError> {
        let rectangle = Rectangle::new([units(from), units(to)], color.filled());
        self.area.draw(&rectangle).map_err(self.failed())
    }

    /// A full polygon.
    pub(super) fn polygon(&self, corners: &[Point], color: RGBColor) -> Result<(), FigureError> {
        let corners: Vec<_> = corners.iter().copied().map(units).collect();
        (self.area.draw(&Polygon::new(corners, color.filled()))).map_err(self.failed())
    }

    /// The outline of a rectangle.
    pub(super) fn frame(&self, from: Point, to: Point, pen: Pen) -> Result<(), FigureError> {
        let (a, b) = ((to.0, from.1), (from.0, to.1));
        // Once round and a little further, so that the last corner is joined too.
        self.line(&[from, a, to, b, from, a], pen)
    }

    /// A text at a point.
    pub(super) fn text(&self, text: &str, at: Point, set: Type) -> Result<(), FigureError> {
        let transform = if set.upward {
            FontTransform::Rotate270
        } else {
            FontTransform::None
        };
        let style = TextStyle::from(font(set, SIZE_DIVISOR).transform(transform))
            .pos(Pos::new(set.h, set.v))
            .color(&set.color);
        // The SVG's "half an x-height" leaves capitals and digits a little high.
        let drop = match set.v {
            VPos::Center => 0.08 * set.size,
            VPos::Top | VPos::Bottom => 0.0,
        };
        let at = if set.upward {
            (at.0 + drop, at.1)
        } else {
            (at.0, at.1 + drop)
        };
        let text = Text::new(printable(text), units(at), style);
        self.area.draw(&text).map_err(self.failed())
    }

    /// Width of a text.
    pub(super) fn width(&self, text: &str, set: Type) -> Result<f64, FigureError> {
        let (_, (width, _)) = font(set, LINE_HEIGHT)
            .layout_box(&printable(text))
            .map_err(|error| FigureError::Drawing {
                figure: self.figure,
                reason: error.to_string(),
            })?;
        Ok(f64::from(width) / UNIT)
    }

    /// A text that is set smaller, and then cut, until it is at most `width` wide.
    pub(super) fn fitted(
        &self,
        text: &str,
        at: Point,
        width: f64,
        set: Type,
    ) -> Result<(), FigureError> {
        let mut set = set;
        let smallest = 0.75 * set.size;
        while self.width(text, set)? > width && set.size - 0.5 >= smallest {
            set.size -= 0.5;
        }
        let mut kept = text.to_owned();
        while self.width(&kept, set)? > width {
            let mut chars: Vec<char> = kept.trim_end_matches('…').chars().collect();
            if chars.pop().is_none() {
                break;
            }
            kept = chars.into_iter().collect::<String>().trim_end().to_owned() + "…";
        }
        self.text(&kept, at, set)
    }

    /// A text in lines at most `width` wide, broken between words; a word that is wider stands alone.
    pub(super) fn wrapped(
        &self,
        text: &str,
        width: f64,
        set: Type,
    ) -> Result<Vec<String>, FigureError> {
        let space = self.width("n n", set)? - 2.0 * self.width("n", set)?;
        let (mut lines, mut used) = (Vec::<String>::new(), 0.0);
        for word in text.split_whitespace() {
            let wide = self.width(word, set)?;
            match lines.last_mut() {
                Some(line) if used + space + wide <= width => {
                    *line += " ";
                    *line += word;
                    used += space + wide;
                }
                _ => {
                    lines.push(word.to_owned());
                    used = wide;
                }
            }
        }
        Ok(lines)
    }

    /// Title and subtitle at the head of a sheet.
    pub(super) fn head(&self, title: &str, subtitle: &str) -> Result<(), FigureError> {
        let room = WIDTH - 2.0 * MARGIN;
        let (heading, below) = (
            Type {
                size: 20.0,
                bold: true,
                ..BODY
            },
            Type {
                color: SOFT_INK,
                ..BODY
            },
        );
        self.fitted(title, (MARGIN, 30.0), room, heading)?;
        self.fitted(subtitle, (MARGIN, 56.0), room, below)
    }

    /// A square picture of `side` by `side` pixels (RGB, rows from the top), shown `size` wide.
    pub(super) fn picture(
        &self,
        corner: Point,
        size: f64,
        side: u32,
        rgb: &[u8],
    ) -> Result<(), FigureError> {
        self.image(corner, (size, size), (side, side), rgb, "")
    }

    /// A picture of `pixels` columns and rows (RGB, rows from the top) shown as so many flat rectangles.
    pub(super) fn mosaic(
        &self,
        corner: Point,
        size: Point,
        pixels: (u32, u32),
        rgb: &[u8],
    ) -> Result<(), FigureError> {
        let flat = " preserveAspectRatio=\"none\" style=\"image-rendering:pixelated\"";
        self.image(corner, size, pixels, rgb, flat)
    }

    fn image(
        &self,
        corner: Point,
        size: Point,
        (columns, rows): (u32, u32),
        rgb: &[u8],
        how: &str,
    ) -> Result<(), FigureError> {
        let picture =
            BitMapElement::with_ref(units(corner), (columns, rows), rgb).ok_or_else(|| {
                FigureError::Drawing {
                    figure: self.figure,
                    reason: format!("{} bytes for {columns} x {rows} pixels", rgb.len()),
                }
            })?;
        self.area.draw(&picture).map_err(self.failed())?;
        // The drawing library shows one pixel in one unit, and calls a PNG by a media type that does not exist.
        let (width, height) = units(size);
        self.patches.borrow_mut().push((
            format!("width=\"{columns}\" height=\"{rows}\" href=\"data:png;"),
            format!("width=\"{width}\" height=\"{height}\"{how} href=\"data:image/png;"),
        ));
        Ok(())
    }
}

/// Room for the caution under every figure.
const FOOT: f64 = 30.0;

/// What every figure says: figures are passed on without the text around them.
pub(super) const CAUTION: &str = "Predicted from a simplified model; identifies nothing and is no diagnostic device. Dim the lamp before polars are \
uncrossed; never look at the sun or a laser.";

/// Draws a figure of a given height; the caution is added below.
pub(super) fn draw(
    figure: &'static str,
    title: &str,
    height: f64,
    paint: impl FnOnce(&Canvas) -> Result<(), FigureError>,
) -> Result<Figure, FigureError> {
    let wrong = |reason: String| FigureError::Drawing { figure, reason };
    let size = (WIDTH, height + FOOT);
    let shown = (size.0.to_string(), size.1.to_string());
    let svg = compose(figure, title, size, shown, |canvas| {
        paint(canvas)?;
        let set = Type {
            size: 11.0,
            color: SOFT_INK,
            ..BODY
        };
        let at = (MARGIN, height + 0.4 * FOOT);
        canvas.fitted(CAUTION, at, WIDTH - 2.0 * MARGIN, set)
    })?;
    let png = parse(&svg)
        .and_then(|tree| rasterise(&tree))
        .map_err(wrong)?;
    Ok(Figure {
        name: figure,
        svg,
        png,
        pdf: None,
    })
}

/// The SVG of a sheet of a size in points; `shown` is the size that it is to have, with a unit.
pub(super) fn compose(
    figure: &'static str,
    title: &str,
    size: Point,
    shown: (String, String),
    paint: impl FnOnce(&Canvas) -> Result<(), FigureError>,
) -> Result<String, FigureError> {
    // The drawing library measures with the fonts.
    fonts().ok_or_else(|| FigureError::Drawing {
        figure,
        reason: NO_FONT.to_owned(),
    })?;
    let (wide, high) = units(size);
    let mut svg = String::new();
    let mut patches = vec![
        (
            format!("width=\"{wide}\" height=\"{high}\""),
            format!(
                "width=\"{}\" height=\"{}\" stroke-linejoin=\"round\"",
                shown.0, shown.1
            ),
        ),
        (
            format!("viewBox=\"0 0 {wide} {high}\""),
            format!("viewBox=\"0 0 {} {}\"", size.0 * UNIT, size.1 * UNIT),
        ),
    ];
    {
        let backend = SVGBackend::with_string(&mut svg, (wide as u32, high as u32));
        let canvas = Canvas {
            figure,
            area: backend.into_drawing_area(),
            patches: RefCell::default(),
        };
        canvas.area.fill(&WHITE).map_err(canvas.failed())?;
        paint(&canvas)?;
        canvas.area.present().map_err(canvas.failed())?;
        patches.extend(canvas.patches.take());
    }
    patches.push((">\n".to_owned(), format!(">\n{}", title_element(title))));
    for (from, to) in patches {
        svg = svg.replacen(&from, &to, 1);
    }
    Ok(svg)
}

/// What a screen reader and a pointer held still are told.
fn title_element(title: &str) -> String {
    let title = printable(title).replace('&', "&amp;").replace('<', "&lt;");
    format!("<title>{title}</title>\n")
}

fn font(set: Type, factor: f64) -> FontDesc<'static> {
    let style = if set.bold {
        FontStyle::Bold
    } else {
        FontStyle::Normal
    };
    FontDesc::new(FontFamily::Name(FONT), set.size * UNIT * factor, style)
}

/// A text on one line, without the characters that XML does not allow.
pub(super) fn printable(text: &str) -> String {
    let allowed = |c: char| !c.is_control() && !matches!(c, '\u{fffe}' | '\u{ffff}');
    let spaced: String = text
        .chars()
        .map(|c| if allowed(c) { c } else { ' ' })
        .collect();
    spaced.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn units((x, y): Point) -> (i32, i32) {
    ((x * UNIT).round() as i32, (y * UNIT).round() as i32)
}

/// A line cut into dashes: `pattern` gives lengths drawn and left out by turns.
fn dashed(points: &[Point], pattern: &[f64]) -> Vec<Vec<Point>> {
    let mut pieces = Vec::new();
    let mut piece: Vec<Point> = points.first().copied().into_iter().collect();
    let mut turn = 0;
    let mut left = pattern[0].max(0.1);
    for pair in points.windows(2) {
        let (mut from, to) = (pair[0], pair[1]);
        loop {
            let length = (to.0 - from.0).hypot(to.1 - from.1);
            if length <= left {
                left -= length;
                piece.push(to);
                break;
            }
            let part = left / length;
            from = (
                from.0 + part * (to.0 - from.0),
                from.1 + part * (to.1 - from.1),
            );
            piece.push(from);
            let done = std::mem::replace(&mut piece, vec![from]);
            if turn % 2 == 0 {
                pieces.push(done);
            }
            turn += 1;
            left = pattern[turn % pattern.len()].max(0.1);
        }
    }
    if turn % 2 == 0 && piece.len() > 1 {
        pieces.push(piece);
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::super::raster::missing_glyphs;
    use super::*;
    use resvg::usvg;

    #[test]
    fn dashes_go_round_corners_and_add_up() {
        let corner = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0)];
        let pieces = dashed(&corner, &[6.0, 2.0]);
        assert_eq!(pieces.len(), 3);
        assert_eq!(pieces[0], [(0.0, 0.0), (6.0, 0.0)]);
        assert_eq!(pieces[1], [(8.0, 0.0), (10.0, 0.0), (10.0, 4.0)]);
        assert_eq!(pieces[2], [(10.0, 6.0), (10.0, 10.0)]);
    }

    #[test]
    fn a_title_too_long_is_cut_and_a_strange_one_survives() {
        let long = "aperture ".repeat(40);
        let odd = "a < b & \"c\" \u{1}\u{ffff}\n d' 顕微鏡";
        let figure = draw("test", odd, 90.0, |canvas| {
            canvas.head(&long, odd)?;
            let set = Type { size: 20.0, ..BODY };
            let ten = canvas.width("mmmmmmmmmm", set)?;
            // The advance of "m" in the font is 1995 of 2048 units.
            assert!((ten - 200.0 * 1995.0 / 2048.0).abs() < 0.2, "{ten}");
            Ok(())
        })
        .unwrap();
        let tree = usvg::roxmltree::Document::parse(&figure.svg).unwrap();
        let texts: Vec<&str> = (tree.descendants())
            .filter(|node| node.has_tag_name("text"))
            .filter_map(|node| node.text().map(str::trim))
            .collect();
        assert!(texts[0].ends_with("aperture…") || texts[0].ends_with('…'));
        assert!(texts[0].chars().count() < 100);
        assert_eq!(texts[1], "a < b & \"c\" d' 顕微鏡");
        let options = usvg::Options {
            fontdb: fonts().unwrap(),
            ..usvg::Options::default()
        };
        let drawn = usvg::Tree::from_str(&figure.svg, &options).unwrap();
        let missing: String = missing_glyphs(drawn.root()).into_iter().collect();
        assert_eq!(missing.chars().count(), 3, "{missing}");
        // With U+FFFD in place of the boxes the picture is another one.
        let replaced = figure.svg.replace(['顕', '微', '鏡'], "\u{fffd}");
        assert_eq!(figure.png, rasterise(&parse(&replaced).unwrap()).unwrap());
    }
}
