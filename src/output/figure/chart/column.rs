//! A column of colour over path difference, and the axis that everything on the sheet shares with it.

use super::super::axes::{AxesPanel, AxisScale, BESIDE_PAPER, ON_PAPER};
use super::super::look::{FRAME, GRID, INK};
use super::super::numbers::linear_ticks;
use super::{LEADING, TEXT};
use crate::output::sheet::{Pen, Sheet};
use crate::study::chart::{Band, ORDER_NM};

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

    /// Whole orders within the axis that are marked, from the first.
    fn orders(&self) -> Vec<u32> {
        let last = (self.last_nm / ORDER_NM + 1e-9).floor() as u32;
        let every = self.every();
        (1..=last)
            .filter(|order| order % every == 0)
            .filter(|&order| f64::from(order) * ORDER_NM >= self.first_nm)
            .collect()
    }

    /// Thin lines at the orders.
    pub(super) fn grid(&self, sheet: &Sheet, left: f64, right: f64) {
        for order in self.orders() {
            let y = self.y(f64::from(order) * ORDER_NM);
            sheet.line(&[(left, y), (right, y)], Pen::full(GRID, 0.5));
        }
    }

    /// Its ends, half a step beyond the first and the last path difference.
    fn ends(&self) -> (f64, f64) {
        let half = 0.5 * self.step_nm;
        (self.first_nm - half, self.last_nm + half)
    }

    /// A panel in which the path difference goes upward, with lines at the orders.
    pub(super) fn panel<'a>(
        &self,
        (left, right): (f64, f64),
        x: (AxisScale, &'a str),
    ) -> AxesPanel<'a> {
        let orders = self.orders().into_iter();
        let orders = orders.map(|order| f64::from(order) * ORDER_NM);
        let y = AxisScale::unnumbered(self.ends().0, self.ends().1, orders);
        AxesPanel::new([left, right, self.top, self.bottom], x, (y, "")).looking(ON_PAPER)
    }

    /// The ruler in nm, with its right edge at `right`.
    pub(super) fn ruler(&self, sheet: &Sheet, right: f64) {
        let (ends, within) = (self.ends(), (self.first_nm, self.last_nm));
        let nm = AxisScale::linear_within(ends.0, ends.1, within, 20);
        let nothing = AxisScale::bare();
        let area = [right, right + GUTTER, self.top, self.bottom];
        let panel = AxesPanel::new(area, (nothing, ""), (nm, ""))
            .gridded(false, false)
            .looking(BESIDE_PAPER);
        panel.axes(sheet);
        for nm in linear_ticks(self.first_nm, self.last_nm, 100).0 {
            let y = self.y(nm);
            sheet.line(&[(right - 2.5, y), (right, y)], Pen::full(FRAME, 0.5));
        }
        self.names_of_orders(sheet, right - RULER)
    }

    /// "order 1" from 0 to the first whole order, and so on.
    fn names_of_orders(&self, sheet: &Sheet, left: f64) {
        let mut bounds = vec![self.first_nm];
        bounds.extend(self.orders().iter().map(|&k| f64::from(k) * ORDER_NM));
        bounds.push(self.last_nm);
        let x = left + 5.0;
        let set = TEXT.centred().turned(true);
        for pair in bounds.windows(2).filter(|_| self.every() == 1) {
            let (low, high) = (self.y(pair[0]), self.y(pair[1]));
            let order = (0.5 * (pair[0] + pair[1]) / ORDER_NM).floor() + 1.0;
            let long = format!("order {order}");
            let middle = 0.5 * (low + high);
            if low - high > sheet.width(&long, set) + 6.0 {
                sheet.text(&long, (x, middle), set);
            } else if low - high > LEADING * set.size {
                let set = set.turned(false);
                sheet.text(&order.to_string(), (x, middle), set);
            }
        }
        for order in self.orders() {
            let y = self.y(f64::from(order) * ORDER_NM);
            sheet.line(&[(left, y), (left + 11.0, y)], Pen::full(INK, 1.0));
        }
    }
}

/// The colours of a band from `left` to `right`, with a rule at the left where a screen cannot show them.
pub(super) fn draw(sheet: &Sheet, axis: &PathAxis, band: &Band, left: f64, width: f64) {
    let rgb: Vec<u8> = (band.tints.iter().rev())
        .flat_map(|tint| tint.swatch.srgb)
        .collect();
    let size = (width, axis.bottom - axis.top);
    sheet.mosaic((left, axis.top), size, (1, band.tints.len() as u32), rgb);
    let thin = Pen::full(FRAME, 0.5);
    let corner = (left + width, axis.bottom);
    sheet.frame((left, axis.top), corner, thin);
    let half = 0.5 * axis.step_nm;
    for (mapped, from, to) in runs(band.tints.iter().map(|tint| tint.swatch.gamut_mapped)) {
        if mapped {
            let ends = [(from, -half), (to, half)]
                .map(|(k, half)| (left - 2.5, axis.y(axis.at(k) + half)));
            sheet.line(&ends, Pen::full(INK, 1.4));
        }
    }
}

/// Runs of equal values with their first and last places.
pub(super) fn runs<T: PartialEq>(values: impl Iterator<Item = T>) -> Vec<(T, usize, usize)> {
    let mut runs: Vec<(T, usize, usize)> = Vec::new();
    for (k, value) in values.enumerate() {
        match runs.last_mut() {
            Some(run) if run.0 == value => run.2 = k,
            _ => runs.push((value, k, k)),
        }
    }
    runs
}
