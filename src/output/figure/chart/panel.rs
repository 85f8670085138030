//! Curves over the path difference that columns of colour share.

use super::super::axes::{AxesPanel, AxisScale};
use super::super::look::{FRAME, INK};
use super::super::marks::spread;
use super::super::numbers::plain;
use super::column::PathAxis;
use super::{SMALL, heading};
use crate::output::sheet::{Color, HPos, Pen, Point, Sheet};

/// Pens of a first, second and third curve.
pub(super) const PENS: [Pen; 3] = [
    Pen::full(INK, 0.9),
    Pen::dashed(INK, 0.9, &[4.0, 2.0]),
    Pen::dashed(INK, 0.9, &[1.0, 1.4]),
];
/// The most points of a curve that are drawn.
const POINTS: usize = 1500;

/// A panel of curves.
pub(super) struct CurvePanel<'a> {
    pub(super) heading: &'a str,
    /// End of its axis, which begins at 0.
    pub(super) most: f64,
    pub(super) curves: Vec<(Vec<f64>, Pen)>,
    /// Places on curves: path difference and value.
    pub(super) marks: Vec<(f64, f64)>,
}

impl<'a> CurvePanel<'a> {
    /// With an axis that holds all of the curves.
    pub(super) fn of<'v>(heading: &'a str, curves: impl Iterator<Item = &'v [f64]>) -> Self {
        let curves: Vec<_> = curves.map(<[f64]>::to_vec).zip(PENS).collect();
        let values = curves.iter().flat_map(|(values, _)| values).copied();
        let most = values.filter(|v| v.is_finite()).fold(0.0, f64::max);
        Self {
            heading,
            most: if most > 0.0 { 1.05 * most } else { 1.0 },
            curves,
            marks: Vec::new(),
        }
    }

    /// Draws it from `left`, `width` wide; headings are `high` above the columns.
    pub(super) fn draw(
        &self,
        sheet: &Sheet,
        axis: &PathAxis,
        (left, width): (f64, f64),
        high: f64,
    ) {
        heading(sheet, self.heading, (left, axis.top - 8.0), (width, high));
        let ticks = (width / 18.0).clamp(2.0, 6.0) as u32;
        let x = AxisScale::linear(0.0, self.most, ticks);
        let panel = axis
            .panel((left, left + width), (x, ""))
            .gridded(false, true);
        panel.draw(sheet);
        for (values, pen) in &self.curves {
            let every = values.len().div_ceil(POINTS).max(1);
            let points: Vec<Point> = (values.iter().enumerate())
                .filter(|(k, _)| k % every == 0 || k + 1 == values.len())
                .map(|(k, &value)| (value, axis.at(k)))
                .collect();
            panel.curve(sheet, &points, *pen);
        }
        self.marks(sheet, &panel)
    }

    /// Dots with their path differences, which stand where there is more room.
    fn marks(&self, sheet: &Sheet, panel: &AxesPanel<'_>) {
        for on_left in [true, false] {
            let side: Vec<(f64, f64)> = (self.marks.iter().copied())
                .filter(|(nm, value)| nm.is_finite() && value.is_finite())
                .filter(|(_, value)| (*value > 0.5 * self.most) == on_left)
                .collect();
            let wanted: Vec<(f64, f64)> = (side.iter())
                .map(|(nm, _)| (panel.y(*nm), 1.25 * SMALL.size))
                .collect();
            let places = spread(&wanted, panel.top + 1.0, panel.bottom - 1.0);
            for ((nm, value), place) in side.into_iter().zip(places) {
                let text = plain(nm, 1);
                let (x, y) = (panel.x(value), panel.y(nm));
                sheet.dot((x, y), 1.5, INK);
                let (away, h) = if on_left {
                    (-1.0, HPos::Right)
                } else {
                    (1.0, HPos::Left)
                };
                let room = sheet.width(&text, SMALL) + 1.0;
                let end = (x + 6.0 * away)
                    .min(panel.right - if on_left { 0.0 } else { room })
                    .max(panel.left + if on_left { room } else { 0.0 });
                let leader = [(x, y), (end - 0.7 * away, place)];
                sheet.line(&leader, Pen::full(FRAME, 0.4));
                // Whatever curve runs there gives way to the number.
                let (a, b) = if on_left {
                    (end - room, end)
                } else {
                    (end, end + room)
                };
                let half = 0.6 * SMALL.size;
                sheet.fill((a, place - half), (b, place + half), Color::WHITE);
                sheet.text(&text, (end, place), SMALL.anchored(h));
            }
        }
    }
}
