//! Panels of two axes: ticks, numbers, grids and titles exist here once. plotters draws them, through the sheet's own backend.

use std::ops::Range;

use plotters::chart::{ChartBuilder, LabelAreaPosition};
use plotters::coord::ranged1d::{KeyPointHint, NoDefaultFormatting, Ranged, ValueFormatter};
use plotters::drawing::IntoDrawingArea;
use plotters::style::{Color as _, RGBColor, ShapeStyle, TRANSPARENT, TextStyle};

use super::look::{BODY, FRAME, GRID, INK};
use super::numbers::{decade_steps, linear_ticks, plain, power_of_ten};
use super::spread::spread;
use crate::output::sheet::{Color, Pen, Point, Sheet, SheetBackend, Type, UNIT};

/// Length of a tick, and room for numbers and title below an axis and beside it.
const TICK: f64 = 6.0;
const BELOW: f64 = 54.0;
const BESIDE: f64 = 74.0;
/// A value this near to a tick's is the tick's: plotters hands back what it was given.
const SAME: f64 = 1e-9;

/// What an axis spans, and where it has ticks.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Scale {
    logarithmic: bool,
    from: f64,
    to: f64,
    /// Values, and the numbers that stand there.
    ticks: Vec<(f64, String)>,
}

impl Scale {
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

    /// Powers of ten; `cut` where less than the lowest is shown there too.
    pub(super) fn decades(bottom: i32, top: i32, cut: bool) -> Self {
        let words = |exponent| match cut && exponent == bottom {
            true => format!("≤ {}", power_of_ten(exponent)),
            false => power_of_ten(exponent),
        };
        Self {
            logarithmic: true,
            from: 10f64.powi(bottom),
            to: 10f64.powi(top),
            ticks: (bottom..=top).map(|k| (10f64.powi(k), words(k))).collect(),
        }
    }

    /// Steps of some mantissas between two values, given by their logarithms; all steps but powers of ten go without a number where
    /// they are many.
    pub(super) fn steps(
        (low, high): (f64, f64),
        mantissas: &[u32],
        words: fn(u32, i32) -> String,
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

impl Ranged for Scale {
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

impl ValueFormatter<f64> for Scale {
    fn format_ext(&self, value: &f64) -> String {
        let near = |tick: &&(f64, String)| (tick.0 - value).abs() <= SAME * value.abs();
        let words = self.ticks.iter().find(near).map(|tick| tick.1.clone());
        words.unwrap_or_default()
    }
}

/// A curve's name, line by line, the pen that it is drawn with, and the value that it ends at.
pub(super) struct Name<'a> {
    pub(super) lines: &'a [String],
    pub(super) pen: Pen,
    pub(super) ends_at: Option<f64>,
}

/// A panel: where it stands on the sheet, and its axes.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Panel<'a> {
    pub(super) left: f64,
    pub(super) right: f64,
    pub(super) top: f64,
    pub(super) bottom: f64,
    pub(super) x: Scale,
    pub(super) y: Scale,
    pub(super) x_title: &'a str,
    pub(super) y_title: &'a str,
    /// Whether the ticks of x and of y go on as lines of a grid.
    pub(super) grid: (bool, bool),
}

impl Panel<'_> {
    /// Where a value of x stands.
    pub(super) fn x(&self, value: f64) -> f64 {
        self.left + self.x.share(value) * (self.right - self.left)
    }

    /// Where a value of y stands; one beyond the axis stands at its end.
    pub(super) fn y(&self, value: f64) -> f64 {
        let share = self.y.share(value).clamp(0.0, 1.0);
        self.bottom - share * (self.bottom - self.top)
    }

    /// Draws its axes.
    pub(super) fn draw(&self, sheet: &Sheet) {
        // Filling a list cannot fail, and a panel lies within its sheet: tests see that its titles are there.
        let _ = self.through_plotters(sheet);
        self.frame(sheet);
    }

    /// Draws its frame, once more where what is drawn in it covers the edge.
    pub(super) fn frame(&self, sheet: &Sheet) {
        let corners: (Point, Point) = ((self.left, self.top), (self.right, self.bottom));
        sheet.frame(corners.0, corners.1, Pen::full(FRAME, 1.2));
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

    /// Names of curves at the right of the panel, each as near as can be to where its curve ends, with a line to it.
    pub(super) fn names(&self, sheet: &Sheet, names: &[Name<'_>], (size, width): (f64, f64)) {
        let line = 1.27 * size;
        let end = |name: &Name| name.ends_at.map_or(self.bottom, |value| self.y(value));
        let wanted: Vec<(f64, f64)> = (names.iter())
            .map(|name| (end(name), name.lines.len() as f64 * line + 6.0))
            .collect();
        let left = self.right + 24.0;
        let places = spread(&wanted, self.top - 8.0, self.bottom + 8.0);
        for (name, place) in names.iter().zip(places) {
            let Pen { color, dashes, .. } = name.pen;
            if name.ends_at.is_some() {
                let leader = [(self.right + 3.0, end(name)), (left - 5.0, place)];
                sheet.line(&leader, Pen::full(color, 1.2));
            }
            for (number, words) in name.lines.iter().enumerate() {
                let below = (number as f64 - 0.5 * (name.lines.len() as f64 - 1.0)) * line;
                let set = Type {
                    size,
                    bold: dashes.is_empty(),
                    color,
                    ..BODY
                };
                sheet.fitted(words, (left, place + below), width, set);
            }
        }
    }

    fn through_plotters(
        &self,
        sheet: &Sheet,
    ) -> Result<(), plotters::drawing::DrawingAreaErrorKind<std::convert::Infallible>> {
        let units = |points: f64| (points * UNIT).round() as i32;
        let (width, height) = sheet.size;
        let area = SheetBackend(sheet).into_drawing_area();
        let ink = rgb(INK);
        let text = || TextStyle::from(("sans-serif", BODY.size * UNIT)).color(&ink);
        let mut chart = ChartBuilder::on(&area)
            .margin_left(units(self.left - BESIDE))
            .margin_right(units(width - self.right))
            .margin_top(units(self.top))
            .margin_bottom(units(height - self.bottom - BELOW))
            .set_label_area_size(LabelAreaPosition::Left, units(BESIDE))
            .set_label_area_size(LabelAreaPosition::Bottom, units(BELOW))
            .build_cartesian_2d(self.x.clone(), self.y.clone())?;
        let mut mesh = chart.configure_mesh();
        if !self.grid.0 {
            mesh.disable_x_mesh();
        }
        if !self.grid.1 {
            mesh.disable_y_mesh();
        }
        mesh.light_line_style(TRANSPARENT)
            .bold_line_style(line(GRID, 1.0))
            .axis_style(line(FRAME, 1.2))
            .set_tick_mark_size(LabelAreaPosition::Left, units(TICK))
            .set_tick_mark_size(LabelAreaPosition::Bottom, units(TICK))
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
