//! A column of colour over path difference, and the axis that everything on the sheet shares with it.

use super::super::axes::{AxesPanel, AxisScale, BESIDE_PAPER, Look, ON_PAPER};
use super::super::look::*;
use super::super::numbers::linear_ticks;
use super::{LEADING, TEXT};
use crate::color::Swatch;
use crate::study::chart::{Band, ORDER_NM, Tint};

/// Room at the left of a column for the rule beside colours out of the gamut.
pub(super) const GUTTER: f64 = 6.0;
/// Marks of orders stand at least so far apart.
const CLEAR: f64 = 5.0;
/// Width of the ruler with the names of the orders.
pub(super) const RULER: f64 = 46.0;

/// Path difference upward.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct PathAxis {
    /// First and last path difference, nm, and the step between two.
    pub(super) first_nm: f64,
    pub(super) last_nm: f64,
    pub(super) step_nm: f64,
    /// Where the lower end of the first and the upper end of the last stand.
    pub(super) bottom: f64,
    pub(super) top: f64,
}

impl PathAxis {
    /// A path difference by its place in the list.
    pub(super) fn at(&self, k: usize) -> f64 {
        self.first_nm + k as f64 * self.step_nm
    }

    /// Where a path difference stands. Every tint reaches half a step to either side.
    pub(super) fn y(&self, nm: f64) -> f64 {
        let (low, high) = self.ends();
        let share = (nm - low) / (high - low);
        self.bottom - (self.bottom - self.top) * share
    }

    /// Each order is marked, or on a long scale each second, fifth or so, that marks do not run together.
    fn every(&self) -> u32 {
        let apart = (self.y(0.0) - self.y(ORDER_NM)).abs();
        let steps = [1, 2, 5, 10, 20, 50];
        let clear = (steps.into_iter()).find(|step| f64::from(*step) * apart >= CLEAR);
        clear.unwrap_or(100)
    }

    /// Whole orders within the axis that are marked, from the first, in nm.
    fn orders(&self) -> Vec<f64> {
        let last = (self.last_nm / ORDER_NM + 1e-9).floor() as u32;
        let every = self.every() as usize;
        let orders = (every as u32..=last).step_by(every).map(f64::from);
        let orders = orders.map(|order| order * ORDER_NM);
        orders.filter(|nm| *nm >= self.first_nm).collect()
    }

    /// Thin lines at the orders.
    pub(super) fn grid(&self, sheet: &Sheet, left: f64, right: f64) {
        for y in self.order_lines() {
            sheet.line(&[(left, y), (right, y)], Pen::full(GRID, 0.5));
        }
    }

    /// Its ends, half a step beyond the first and the last path difference.
    fn ends(&self) -> (f64, f64) {
        let half = 0.5 * self.step_nm;
        (self.first_nm - half, self.last_nm + half)
    }

    /// Runs of tints that are alike, and where the lower and the upper end of each stand.
    pub(super) fn runs<'b>(
        &self,
        tints: &'b [Tint],
        alike: impl Fn(&Tint, &Tint) -> bool,
    ) -> Vec<(&'b [Tint], f64, f64)> {
        let (half, mut next) = (0.5 * self.step_nm, 0);
        let run = |run: &'b [Tint]| {
            let first = next;
            next += run.len();
            let [low, high] = [self.at(first) - half, self.at(next - 1) + half];
            (run, self.y(low), self.y(high))
        };
        tints.chunk_by(alike).map(run).collect()
    }

    /// A panel in which the path difference goes upward, with lines at the orders.
    pub(super) fn panel(&self, (left, right): (f64, f64), x: AxisScale) -> AxesPanel {
        let orders = self.orders().into_iter().map(|nm| (nm, String::new()));
        let y = AxisScale::ticked(self.ends().0, self.ends().1, orders);
        AxesPanel::new([left, right, self.top, self.bottom], x, y).looking(ON_PAPER)
    }

    /// The ruler in nm, with its right edge at `right`.
    pub(super) fn ruler(&self, sheet: &Sheet, right: f64) {
        self.ruler_of(sheet, right, 20, BESIDE_PAPER, "");
        for nm in linear_ticks(self.first_nm, self.last_nm, 100).0 {
            let y = self.y(nm);
            sheet.line(&[(right - 2.5, y), (right, y)], Pen::full(FRAME, 0.5));
        }
        self.orders_beside(sheet, right - RULER)
    }

    /// A ruler of so many numbers at the most, without more.
    pub(super) fn ruler_of(&self, sheet: &Sheet, right: f64, most: u32, look: Look, title: &str) {
        let (ends, within) = (self.ends(), (self.first_nm, self.last_nm));
        let nm = AxisScale::linear_within(ends.0, ends.1, within, most).titled(title);
        let area = [right, right + GUTTER, self.top, self.bottom];
        AxesPanel::new(area, AxisScale::bare(), nm)
            .gridded(false, false)
            .looking(look)
            .axes(sheet);
    }

    /// "order 1" from 0 to the first whole order, and so on, at the left of the ruler.
    fn orders_beside(&self, sheet: &Sheet, left: f64) {
        let set = TEXT.centred().turned(true);
        self.names_of_orders(sheet, left + 5.0, set);
        for y in self.order_lines() {
            sheet.line(&[(left, y), (left + 11.0, y)], Pen::full(INK, 1.0));
        }
    }

    /// Names of the orders about `x`, as long as there is room: "order 2" upward, or "2".
    pub(super) fn names_of_orders(&self, sheet: &Sheet, x: f64, set: Type) {
        if self.every() > 1 {
            return;
        }
        let bounds = [&[self.first_nm], &self.orders()[..], &[self.last_nm]].concat();
        for pair in bounds.windows(2) {
            let (low, high) = (self.y(pair[0]), self.y(pair[1]));
            let order = (0.5 * (pair[0] + pair[1]) / ORDER_NM).floor() + 1.0;
            let long = format!("order {order}");
            let at = (x, 0.5 * (low + high));
            if low - high > sheet.width(&long, set) + 6.0 {
                sheet.text(&long, at, set);
            } else if low - high > LEADING * set.size {
                sheet.text(&order.to_string(), at, set.turned(false));
            }
        }
    }

    /// Where whole orders stand that are marked.
    pub(super) fn order_lines(&self) -> Vec<f64> {
        self.orders().into_iter().map(|nm| self.y(nm)).collect()
    }
}

/// Colours of a column are toned down alike over so many nanometres of path difference.
const BLENDED_NM: f64 = 25.0;

/// The colours of a band as a screen shows them side by side.
pub(super) fn blended(axis: &PathAxis, band: &Band) -> Vec<Swatch> {
    let linear: Vec<[f64; 3]> = band.tints.iter().map(|tint| tint.linear).collect();
    let reach = (BLENDED_NM / axis.step_nm).round() as usize;
    Swatch::of_column(&linear, reach)
}

/// Colours from the lower end of the axis upward, from `left` on, without a frame.
pub(super) fn fill(sheet: &Sheet, axis: &PathAxis, colors: &[Swatch], (left, width): (f64, f64)) {
    let rgb: Vec<u8> = (colors.iter().rev())
        .flat_map(|swatch| swatch.srgb)
        .collect();
    let size = (width, axis.bottom - axis.top);
    sheet.mosaic((left, axis.top), size, (1, colors.len() as u32), rgb);
}

/// The colours of a band from `left` to `right`, with a rule at the left where a screen cannot show them.
pub(super) fn draw(sheet: &Sheet, axis: &PathAxis, band: &Band, left: f64, width: f64) {
    fill(sheet, axis, &blended(axis, band), (left, width));
    let corner = (left + width, axis.bottom);
    sheet.frame((left, axis.top), corner, Pen::full(FRAME, 0.5));
    let mapped = |tint: &Tint| tint.swatch.gamut_mapped;
    for (run, low, high) in axis.runs(&band.tints, |a, b| mapped(a) == mapped(b)) {
        if mapped(&run[0]) {
            let ends = [(left - 2.5, low), (left - 2.5, high)];
            sheet.line(&ends, Pen::full(INK, 1.4));
        }
    }
}
