//! Panels of two axes: ticks, numbers, grids and titles exist here once. plotters draws them, through the sheet's own backend.

use std::ops::Range;

use plotters::chart::{ChartBuilder, LabelAreaPosition};
use plotters::coord::ranged1d::{KeyPointHint, NoDefaultFormatting, Ranged, ValueFormatter};
use plotters::drawing::IntoDrawingArea;
use plotters::style::{Color as _, RGBColor, ShapeStyle, TRANSPARENT, TextStyle};

use super::look::{BODY, FRAME, GRID, INK, SOFT_INK};
use super::marks::spread;
use super::numbers::{decade_steps, linear_ticks, plain};
use crate::output::sheet::{Color, Pen, Point, Sheet, SheetBackend, Type, UNIT};

/// How a panel is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Look {
    text: Type,
    /// Width of the frame, a little more than that of the grid, and length of a tick.
    line: f64,
    tick: f64,
    /// Room for numbers and title at the left, at the right and below; none where there is no such axis.
    room: [f64; 3],
}

impl Look {
    const fn new(text: Type, line: f64, tick: f64, room: [f64; 3]) -> Self {
        Self {
            text,
            line,
            tick,
            room,
        }
    }
}

/// An axis below and one at the left.
const FIGURE: Look = Look::new(BODY, 1.2, 6.0, [81.0, 0.0, 54.0]);
/// An axis below alone; one at the right alone, with smaller numbers.
pub(super) const BELOW_ALONE: Look = Look::new(BODY, 1.2, 6.0, [0.0, 0.0, 54.0]);
pub(super) const AT_RIGHT: Look = Look::new(BODY.sized(13.0), 1.2, 5.0, [0.0, 60.0, 0.0]);
/// On paper lines are thinner and numbers smaller: an axis below alone, and one at the left alone.
pub(super) const ON_PAPER: Look = Look::new(BODY.sized(5.5), 0.6, 3.0, [0.0, 0.0, 20.0]);
pub(super) const BESIDE_PAPER: Look = Look::new(BODY.sized(6.5), 0.6, 4.0, [34.0, 0.0, 0.0]);
/// Type of the names of curves, and of notes in a panel.
const NAMES: Type = BODY.sized(14.0);
const NOTE: Type = BODY.sized(13.0).inked(SOFT_INK);
/// A value this near to a tick's is the tick's: plotters hands back what it was given.
const SAME: f64 = 1e-9;

/// What an axis spans, and where it has ticks.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct AxisScale {
    logarithmic: bool,
    from: f64,
    to: f64,
    /// Values, and the numbers that stand there.
    ticks: Vec<(f64, String)>,
}

impl AxisScale {
    /// Even steps, at most `most` or so.
    pub(super) fn linear(from: f64, to: f64, most: u32) -> Self {
        Self::linear_within(from, to, (from, to), most)
    }

    /// The same with ticks in a part of it only.
    pub(super) fn linear_within(from: f64, to: f64, within: (f64, f64), most: u32) -> Self {
        let (ticks, decimals) = linear_ticks(within.0, within.1, most);
        let numbered = ticks.into_iter().map(|tick| (tick, plain(tick, decimals)));
        Self {
            logarithmic: false,
            from,
            to,
            ticks: numbered.collect(),
        }
    }

    /// Ticks without numbers at some values.
    pub(super) fn unnumbered(from: f64, to: f64, ticks: impl Iterator<Item = f64>) -> Self {
        Self {
            logarithmic: false,
            from,
            to,
            ticks: ticks.map(|tick| (tick, String::new())).collect(),
        }
    }

    /// No ticks at all.
    pub(super) fn bare() -> Self {
        Self::unnumbered(0.0, 1.0, std::iter::empty())
    }

    /// Steps of some mantissas between two values, given by their logarithms; all steps but powers of ten go without a number where
    /// they are many.
    pub(super) fn steps(
        (low, high): (f64, f64),
        mantissas: &[u32],
        words: impl Fn(u32, i32) -> String,
        all: bool,
    ) -> Self {
        let numbered = decade_steps(low, high, mantissas).into_iter();
        Self {
            logarithmic: true,
            from: 10f64.powf(low),
            to: 10f64.powf(high),
            ticks: numbered
                .map(|(log, mantissa, exponent)| match all || mantissa == 1 {
                    true => (10f64.powf(log), words(mantissa, exponent)),
                    false => (10f64.powf(log), String::new()),
                })
                .collect(),
        }
    }

    /// Where a value stands, 0 at one end and 1 at the other.
    fn share(&self, value: f64) -> f64 {
        let at = |value: f64| match self.logarithmic {
            true => value.max(f64::MIN_POSITIVE).log10(),
            false => value,
        };
        (at(value) - at(self.from)) / (at(self.to) - at(self.from))
    }
}

impl Ranged for AxisScale {
    type FormatOption = NoDefaultFormatting;
    type ValueType = f64;

    fn map(&self, value: &f64, (start, end): (i32, i32)) -> i32 {
        start + (self.share(*value) * f64::from(end - start)).round() as i32
    }

    fn key_points<H: KeyPointHint>(&self, _hint: H) -> Vec<f64> {
        self.ticks.iter().map(|tick| tick.0).collect()
    }

    fn range(&self) -> Range<f64> {
        self.from..self.to
    }
}

impl ValueFormatter<f64> for AxisScale {
    fn format_ext(&self, value: &f64) -> String {
        let near = |tick: &&(f64, String)| (tick.0 - value).abs() <= SAME * value.abs();
        let words = self.ticks.iter().find(near).map(|tick| tick.1.clone());
        words.unwrap_or_default()
    }
}

/// A curve: lightness, width and dashes of its pen all tell it from the others.
pub(super) struct NamedCurve {
    /// Its name, in paragraphs.
    pub(super) name: Vec<String>,
    pub(super) pen: Pen,
    /// Values of x and y; where there is nothing to draw, y is not a number.
    pub(super) points: Vec<(f64, f64)>,
}

/// A panel: where it stands on the sheet, its axes, and how it is drawn.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct AxesPanel<'a> {
    pub(super) left: f64,
    pub(super) right: f64,
    pub(super) top: f64,
    pub(super) bottom: f64,
    x: AxisScale,
    y: AxisScale,
    x_title: &'a str,
    y_title: &'a str,
    /// Whether the ticks of x and of y go on as lines of a grid.
    grid: (bool, bool),
    look: Look,
}

impl<'a> AxesPanel<'a> {
    /// A panel of a figure, from left, right, top, bottom, and its axes with their titles.
    pub(super) fn new(
        [left, right, top, bottom]: [f64; 4],
        (x, x_title): (AxisScale, &'a str),
        (y, y_title): (AxisScale, &'a str),
    ) -> Self {
        Self {
            left,
            right,
            top,
            bottom,
            x,
            y,
            x_title,
            y_title,
            grid: (true, true),
            look: FIGURE,
        }
    }

    /// The same with lines of a grid at the ticks of x, of y or of both.
    pub(super) fn gridded(self, x: bool, y: bool) -> Self {
        let grid = (x, y);
        Self { grid, ..self }
    }

    /// The same drawn in another way.
    pub(super) fn looking(self, look: Look) -> Self {
        Self { look, ..self }
    }

    /// Where a value of x stands; one beyond the axis stands at its end.
    pub(super) fn x(&self, value: f64) -> f64 {
        self.left + self.x.share(value).clamp(0.0, 1.0) * (self.right - self.left)
    }

    /// The same for y.
    pub(super) fn y(&self, value: f64) -> f64 {
        let share = self.y.share(value).clamp(0.0, 1.0);
        self.bottom - share * (self.bottom - self.top)
    }

    /// Draws its axes and its frame.
    pub(super) fn draw(&self, sheet: &Sheet) {
        self.axes(sheet);
        self.frame(sheet);
    }

    /// Draws its axes without the frame.
    pub(super) fn axes(&self, sheet: &Sheet) {
        // Filling a sheet cannot fail, and a panel lies within it: tests see that its titles are there.
        let _ = self.through_plotters(sheet);
    }

    /// Draws its frame, once more where what is drawn in it covers the edge.
    pub(super) fn frame(&self, sheet: &Sheet) {
        let corners: (Point, Point) = ((self.left, self.top), (self.right, self.bottom));
        sheet.frame(corners.0, corners.1, Pen::full(FRAME, self.look.line));
    }

    /// A curve: it breaks where a value is not a number, and a point without neighbours is a dot.
    pub(super) fn curve(&self, sheet: &Sheet, points: &[(f64, f64)], pen: Pen) {
        for run in points.split(|(x, y)| !x.is_finite() || y.is_nan()) {
            let run: Vec<Point> = run.iter().map(|(x, y)| (self.x(*x), self.y(*y))).collect();
            match run.as_slice() {
                [] => {}
                [alone] => sheet.dot(*alone, 1.6 * pen.width, pen.color),
                _ => sheet.line(&run, pen),
            }
        }
    }

    /// Curves with their names at the right of the panel, each as near as can be to where its curve ends, with a line to it; names are
    /// at most `room` wide.
    pub(super) fn named_curves(&self, sheet: &Sheet, curves: &[NamedCurve], room: f64) {
        let line = 1.27 * NAMES.size;
        let left = self.right + 24.0;
        let mut names = Vec::new();
        for NamedCurve { name, pen, points } in curves {
            self.curve(sheet, points, *pen);
            let set = NAMES.weighted(pen.dashes.is_empty()).inked(pen.color);
            let wrap = |words: &String| sheet.wrapped(words, room, set);
            let lines: Vec<String> = name.iter().flat_map(wrap).collect();
            let last = points.iter().rev().find(|(_, y)| !y.is_nan());
            names.push((lines, last.map(|last| self.y(last.1)), set));
        }
        let wanted: Vec<(f64, f64)> = (names.iter())
            .map(|(lines, end, _)| (end.unwrap_or(self.bottom), lines.len() as f64 * line + 6.0))
            .collect();
        let places = spread(&wanted, self.top - 8.0, self.bottom + 8.0);
        for ((lines, end, set), place) in names.iter().zip(places) {
            if let Some(end) = end {
                let leader = [(self.right + 3.0, *end), (left - 5.0, place)];
                sheet.line(&leader, Pen::full(set.color, 1.2));
            }
            sheet.block(lines, (left, place), (line, room), *set);
        }
    }

    /// A few words at the lower left.
    pub(super) fn note(&self, sheet: &Sheet, words: &str) {
        sheet.text(words, (self.left + 10.0, self.bottom - 13.0), NOTE);
    }

    fn through_plotters(
        &self,
        sheet: &Sheet,
    ) -> Result<(), plotters::drawing::DrawingAreaErrorKind<std::convert::Infallible>> {
        let units = |points: f64| (points * UNIT).round() as i32;
        let (width, height) = sheet.size;
        let area = SheetBackend(sheet).into_drawing_area();
        let ink = rgb(INK);
        let look = self.look;
        let text = || TextStyle::from(("sans-serif", look.text.size * UNIT)).color(&ink);
        let [left, right, below] = look.room;
        let sides = [
            (LabelAreaPosition::Left, left),
            (LabelAreaPosition::Right, right),
            (LabelAreaPosition::Bottom, below),
        ];
        let mut builder = ChartBuilder::on(&area);
        builder
            .margin_left(units(self.left - left))
            .margin_right(units(width - self.right - right))
            .margin_top(units(self.top))
            .margin_bottom(units(height - self.bottom - below));
        for (side, room) in sides {
            builder.set_label_area_size(side, units(room));
        }
        let mut chart = builder.build_cartesian_2d(self.x.clone(), self.y.clone())?;
        let mut mesh = chart.configure_mesh();
        for (side, _) in sides {
            mesh.set_tick_mark_size(side, units(look.tick));
        }
        if !self.grid.0 {
            mesh.disable_x_mesh();
        }
        if !self.grid.1 {
            mesh.disable_y_mesh();
        }
        mesh.light_line_style(TRANSPARENT)
            .bold_line_style(line(GRID, look.line / 1.2))
            .axis_style(line(FRAME, look.line))
            .x_label_formatter(&|value| self.x.format_ext(value))
            .y_label_formatter(&|value| self.y.format_ext(value))
            .label_style(text())
            .axis_desc_style(text())
            .x_desc(self.x_title)
            .y_desc(self.y_title)
            .draw()
    }
}

fn rgb(color: Color) -> RGBColor {
    RGBColor(color.0, color.1, color.2)
}

fn line(color: Color, width: f64) -> ShapeStyle {
    rgb(color).stroke_width((width * UNIT) as u32)
}
