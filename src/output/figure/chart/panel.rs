//! Curves over the path difference that columns of colour share.

use super::super::look::{FRAME, INK};
use super::super::numbers::{linear_ticks, plain};
use super::super::spread::spread;
use super::column::Axis;
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
pub(super) struct Panel<'a> {
    pub(super) heading: &'a str,
    pub(super) left: f64,
    pub(super) width: f64,
    /// End of its axis, which begins at 0.
    pub(super) most: f64,
    pub(super) curves: Vec<(Vec<f64>, Pen)>,
    /// Places on curves: path difference and value.
    pub(super) marks: Vec<(f64, f64)>,
}

impl Panel<'_> {
    /// The end of an axis that holds all of these.
    pub(super) fn most<'v>(curves: impl Iterator<Item = &'v [f64]>) -> f64 {
        let most = (curves.flatten().copied())
            .filter(|v| v.is_finite())
            .fold(0.0, f64::max);
        if most > 0.0 { 1.05 * most } else { 1.0 }
    }

    fn x(&self, value: f64) -> f64 {
        self.left + self.width * (value / self.most).clamp(0.0, 1.0)
    }

    /// Draws it; headings are `high` above the columns.
    pub(super) fn draw(&self, sheet: &Sheet, axis: &Axis, high: f64) {
        let right = self.left + self.width;
        heading(
            sheet,
            self.heading,
            (self.left, axis.top - 8.0),
            (self.width, high),
        );
        axis.grid(sheet, self.left, right);
        let thin = Pen::full(FRAME, 0.5);
        sheet.frame((self.left, axis.top), (right, axis.bottom), thin);
        self.ticks(sheet, axis);
        for (values, pen) in &self.curves {
            let every = values.len().div_ceil(POINTS).max(1);
            let points: Vec<Point> = (values.iter().enumerate())
                .filter(|(k, value)| value.is_finite() && (k % every == 0 || k + 1 == values.len()))
                .map(|(k, &value)| (self.x(value), axis.y(axis.at(k))))
                .collect();
            if points.len() > 1 {
                sheet.line(&points, *pen);
            }
        }
        self.marks(sheet, axis)
    }

    fn ticks(&self, sheet: &Sheet, axis: &Axis) {
        let most = (self.width / 18.0).clamp(2.0, 6.0) as u32;
        let (ticks, decimals) = linear_ticks(0.0, self.most, most);
        let set = SMALL.centred().hanging();
        for tick in ticks {
            let x = self.x(tick);
            let ends = [(x, axis.bottom), (x, axis.bottom + 3.0)];
            sheet.line(&ends, Pen::full(FRAME, 0.5));
            let text = if tick == 0.0 {
                "0".to_owned()
            } else {
                plain(tick, decimals)
            };
            sheet.text(&text, (x, axis.bottom + 4.5), set);
        }
    }

    /// Dots with their path differences, which stand where there is more room.
    fn marks(&self, sheet: &Sheet, axis: &Axis) {
        for on_left in [true, false] {
            let side: Vec<(f64, f64)> = (self.marks.iter().copied())
                .filter(|(nm, value)| nm.is_finite() && value.is_finite())
                .filter(|(_, value)| (*value > 0.5 * self.most) == on_left)
                .collect();
            let wanted: Vec<(f64, f64)> = (side.iter())
                .map(|(nm, _)| (axis.y(*nm), 1.25 * SMALL.size))
                .collect();
            let places = spread(&wanted, axis.top + 1.0, axis.bottom - 1.0);
            for ((nm, value), place) in side.into_iter().zip(places) {
                let text = plain(nm, 1);
                let (x, y) = (self.x(value), axis.y(nm));
                sheet.dot((x, y), 1.5, INK);
                let (away, h) = if on_left {
                    (-1.0, HPos::Right)
                } else {
                    (1.0, HPos::Left)
                };
                let room = sheet.width(&text, SMALL) + 1.0;
                let end = (x + 6.0 * away)
                    .min(self.left + self.width - if on_left { 0.0 } else { room })
                    .max(self.left + if on_left { room } else { 0.0 });
                let leader = [(x, y), (end - 0.7 * away, place)];
                sheet.line(&leader, Pen::full(FRAME, 0.4));
                // Whatever curve runs there gives way to the number.
                let (a, b) = if on_left {
                    (end - room, end)
                } else {
                    (end, end + room)
                };
                let half = 0.6 * SMALL.size;
                sheet.fill((a, place - half), (b, place + half), Color(255, 255, 255));
                sheet.text(&text, (end, place), SMALL.anchored(h));
            }
        }
    }
}
