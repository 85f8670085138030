//! Panels of two axes: ticks, numbers, grids and titles exist here once. plotters draws them, through the sheet's own backend.

use std::ops::Range;

use plotters::chart::{ChartBuilder, LabelAreaPosition};
use plotters::coord::ranged1d::{KeyPointHint, NoDefaultFormatting, Ranged, ValueFormatter};
use plotters::drawing::IntoDrawingArea;
use plotters::style::{Color as _, RGBColor, TRANSPARENT, TextStyle};

use super::look::*;
use super::marks::spread;
use super::numbers::{decade_steps, linear_ticks, plain};
use crate::output::sheet::{LEAST_TYPE, SheetBackend, UNIT};

/// How a panel is drawn: the type of its numbers and titles; the width of its frame, a little more than that of the grid; the length of a
/// tick; and the room for numbers and title at the left, at the right and below, which is none where there is no such axis.
#[derive(Clone, Copy)]
pub(super) struct Look(Type, f64, f64, [f64; 3]);

/// An axis below and one at the left.
const FIGURE: Look = Look(BODY, 1.2, 6.0, [81.0, 0.0, 54.0]);
/// An axis below alone; one at the right alone, with smaller numbers.
const BELOW_ALONE: Look = Look(BODY, 1.2, 6.0, [0.0, 0.0, 54.0]);
pub(super) const AT_RIGHT: Look = Look(BODY.sized(13.0), 1.2, 5.0, [0.0, 60.0, 0.0]);
/// On paper lines are thinner and numbers smaller: an axis below alone, and one at the left alone.
pub(super) const ON_PAPER: Look = Look(BODY.sized(5.5), 0.6, 3.0, [0.0, 0.0, 20.0]);
pub(super) const BESIDE_PAPER: Look = Look(BODY.sized(6.5), 0.6, 4.0, [34.0, 0.0, 0.0]);
/// On a slide: an axis at the left alone.
pub(super) const BESIDE_SLIDE: Look = Look(BODY.sized(LEAST_TYPE), 1.2, 6.0, [84.0, 0.0, 0.0]);
/// In a booklet: an axis below alone.
pub(super) const IN_BOOKLET: Look = Look(BODY.sized(8.0), 0.6, 3.0, [0.0, 0.0, 22.0]);
/// On a wall everything goes by the size of the names: an axis below alone.
pub(super) const fn on_wall(size: f64) -> Look {
    let room = [0.0, 0.0, 3.2 * size];
    Look(BODY.sized(size), 0.05 * size, 0.3 * size, room)
}
/// Type of the names of curves.
const NAMES: Type = BODY.sized(14.0);

/// What an axis spans, where it has ticks, and its title.
#[derive(Clone, Default)]
pub(super) struct AxisScale {
    logarithmic: bool,
    from: f64,
    to: f64,
    /// Values, and the numbers that stand there.
    ticks: Vec<(f64, String)>,
    title: String,
}

impl AxisScale {
    /// Even steps, at most `most` or so.
    pub(super) fn linear(from: f64, to: f64, most: u32) -> Self {
        Self::linear_within(from, to, (from, to), most)
    }

    /// The same from the first to the last of some values, or so far about the only one.
    pub(super) fn over(values: &[f64], about: f64, most: u32) -> Self {
        match (values[0], values[values.len() - 1]) {
            (first, last) if first < last => Self::linear(first, last, most),
            (only, _) => Self::linear(only - about, only + about, most),
        }
    }

    /// The same with ticks in a part of it only.
    pub(super) fn linear_within(from: f64, to: f64, within: (f64, f64), most: u32) -> Self {
        let (ticks, decimals) = linear_ticks(within.0, within.1, most);
        let numbered = ticks.into_iter().map(|tick| (tick, plain(tick, decimals)));
        Self::ticked(from, to, numbered)
    }

    /// Ticks at some values, each with its number.
    pub(super) fn ticked(from: f64, to: f64, ticks: impl Iterator<Item = (f64, String)>) -> Self {
        let (ticks, rest) = (ticks.collect(), Self::default());
        Self {
            from,
            to,
            ticks,
            ..rest
        }
    }

    /// No ticks at all.
    pub(super) fn bare() -> Self {
        Self::ticked(0.0, 1.0, std::iter::empty())
    }

    /// Steps of some mantissas between two values, given by their logarithms; all steps but powers of ten go without a number where
    /// they are many.
    pub(super) fn steps(
        (low, high): (f64, f64),
        mantissas: &[u32],
        words: impl Fn(u32, i32) -> String,
        all: bool,
    ) -> Self {
        let ticks = decade_steps(low, high, mantissas).into_iter();
        let numbered = ticks.map(|(log, mantissa, exponent)| {
            let number = (all || mantissa == 1).then(|| words(mantissa, exponent));
            (10f64.powf(log), number.unwrap_or_default())
        });
        Self {
            logarithmic: true,
            ..Self::ticked(10f64.powf(low), 10f64.powf(high), numbered)
        }
    }

    /// The same with a title.
    pub(super) fn titled(self, title: &str) -> Self {
        let title = title.to_owned();
        Self { title, ..self }
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
        let tick = self.ticks.iter().find(|tick| tick.0 == *value);
        tick.map(|tick| tick.1.clone()).unwrap_or_default()
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
pub(super) struct AxesPanel {
    pub(super) left: f64,
    pub(super) right: f64,
    pub(super) top: f64,
    pub(super) bottom: f64,
    x: AxisScale,
    y: AxisScale,
    /// Whether the ticks of x and of y go on as lines of a grid.
    grid: (bool, bool),
    look: Look,
}

impl AxesPanel {
    /// A panel of a figure, from left, right, top, bottom, and its axes.
    pub(super) fn new([left, right, top, bottom]: [f64; 4], x: AxisScale, y: AxisScale) -> Self {
        Self {
            left,
            right,
            top,
            bottom,
            x,
            y,
            grid: (true, true),
            look: FIGURE,
        }
    }

    /// A panel whose rows are named beside it: it has an axis below alone.
    pub(super) fn of_rows(area: [f64; 4], x: AxisScale) -> Self {
        Self::new(area, x, AxisScale::bare()).looking(BELOW_ALONE)
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
        let units = |points: f64| (points * UNIT).round() as i32;
        let rgb = |Color(red, green, blue)| RGBColor(red, green, blue);
        let line = |color, width: f64| rgb(color).stroke_width((width * UNIT) as u32);
        let (width, height) = sheet.size;
        let area = SheetBackend(sheet).into_drawing_area();
        let (ink, Look(text, frame, tick, [left, right, below])) = (rgb(INK), self.look);
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
        // Filling a sheet cannot fail, and a panel lies within it: tests see that its titles are there.
        let Ok(mut chart) = builder.build_cartesian_2d(self.x.clone(), self.y.clone()) else {
            return;
        };
        let mut mesh = chart.configure_mesh();
        for (side, _) in sides {
            mesh.set_tick_mark_size(side, units(tick));
        }
        if !self.grid.0 {
            mesh.disable_x_mesh();
        }
        if !self.grid.1 {
            mesh.disable_y_mesh();
        }
        let drawn = (mesh.light_line_style(TRANSPARENT))
            .bold_line_style(line(GRID, frame / 1.2))
            .axis_style(line(FRAME, frame))
            .label_style(TextStyle::from(("sans-serif", text.size * UNIT)).color(&ink))
            .x_desc(&self.x.title)
            .y_desc(&self.y.title)
            .draw();
        debug_assert!(drawn.is_ok());
    }

    /// Draws its frame, once more where what is drawn in it covers the edge.
    pub(super) fn frame(&self, sheet: &Sheet) {
        let (from, to) = ((self.left, self.top), (self.right, self.bottom));
        sheet.frame(from, to, Pen::full(FRAME, self.look.1));
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
        let wanted = (names.iter())
            .map(|(lines, end, _)| (end.unwrap_or(self.bottom), lines.len() as f64 * line + 6.0));
        let places = spread(wanted, self.top - 8.0, self.bottom + 8.0);
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
        let at = (self.left + 10.0, self.bottom - 13.0);
        sheet.text(words, at, SOFT.sized(13.0));
    }
}
