//! Curves over the path difference that columns of colour share.

use super::super::axes::{AxesPanel, AxisScale};
use super::super::look::*;
use super::super::marks::spread;
use super::super::numbers::plain;
use super::column::PathAxis;
use super::{SMALL, heading};

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
    pub(super) fn draw(&self, sheet: &Sheet, axis: &PathAxis, left: f64, width: f64, high: f64) {
        heading(sheet, self.heading, (left, axis.top - 8.0), (width, high));
        let ticks = (width / 18.0).clamp(2.0, 6.0) as u32;
        let x = AxisScale::linear(0.0, self.most, ticks);
        let panel = axis.panel((left, left + width), x).gridded(false, true);
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
    fn marks(&self, sheet: &Sheet, panel: &AxesPanel) {
        let known =
            (self.marks.iter().copied()).filter(|(nm, value)| nm.is_finite() && value.is_finite());
        let (left, right): (Vec<_>, _) = known.partition(|(_, value)| *value > 0.5 * self.most);
        // Numbers at the left of their dots, then those at the right.
        for (side, away, h) in [(left, -1.0, HPos::Right), (right, 1.0, HPos::Left)] {
            let wanted = side.iter().map(|(nm, _)| (panel.y(*nm), 1.25 * SMALL.size));
            let places = spread(wanted, panel.top + 1.0, panel.bottom - 1.0);
            for ((nm, value), place) in side.into_iter().zip(places) {
                let text = plain(nm, 1);
                let (x, y) = (panel.x(value), panel.y(nm));
                sheet.dot((x, y), 1.5, INK);
                let room = sheet.width(&text, SMALL) + 1.0;
                let (before, after) = match h {
                    HPos::Right => (room, 0.0),
                    _ => (0.0, room),
                };
                let end = (x + 6.0 * away)
                    .min(panel.right - after)
                    .max(panel.left + before);
                let leader = [(x, y), (end - 0.7 * away, place)];
                sheet.line(&leader, Pen::full(FRAME, 0.4));
                // Whatever curve runs there gives way to the number.
                let (from, to) = (end - before, end + after);
                let half = 0.6 * SMALL.size;
                sheet.fill((from, place - half), (to, place + half), Color::WHITE);
                sheet.text(&text, (end, place), SMALL.anchored(h));
            }
        }
    }
}
