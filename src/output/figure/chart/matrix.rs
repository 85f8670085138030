//! Colours in rows and columns.

use super::super::look::*;
use super::foot::{Foot, exposure};
use super::{EDGE, HEADING, LEADING, TEXT};
use crate::study::chart::{ColorGrid, Panel, Tint};

/// More columns than these are drawn on a sheet held sideways.
const UPRIGHT: usize = 7;
/// Where the first panel begins.
const TOP: f64 = 86.0;
/// Above the cells of a panel: its heading, what the columns are, their labels.
const ABOVE: f64 = 40.0;
/// Below a panel.
const BELOW: f64 = 14.0;
/// The most room for labels of rows, and for a cell.
const LABELS: f64 = 110.0;
const CELL: Point = (110.0, 70.0);
/// White between cells, and free room about their words.
const JOINT: f64 = 1.5;
const PAD: f64 = 3.0;
/// Sizes of the words in cells.
const LARGEST: f64 = 8.0;
const SMALLEST: f64 = 4.0;
/// Legs of the corner mark.
const CORNER: f64 = 5.0;

/// Whether it can be drawn.
pub(super) fn check(chart: &ColorGrid) -> Result<(), String> {
    let (rows, columns) = (chart.rows.len(), chart.columns.len());
    if rows == 0 || columns == 0 || chart.panels.is_empty() {
        return Err("there are no cells".to_owned());
    }
    fn whole<T>(table: &[Vec<T>], rows: usize, columns: usize) -> bool {
        table.len() == rows && table.iter().all(|row| row.len() == columns)
    }
    let broken = |panel: &&Panel| {
        !(whole(&panel.cells, rows, columns) && whole(&panel.labels, rows, columns))
    };
    match chart.panels.iter().find(broken) {
        None => Ok(()),
        Some(Panel { heading, .. }) => Err(format!(
            "cells of `{heading}` are not {rows} rows of {columns}"
        )),
    }
}

/// What it shows.
pub(super) fn subject(chart: &ColorGrid) -> String {
    let (columns, rows) = (&chart.columns_are, &chart.rows_are);
    format!("Colour against {columns} and {rows}")
}

/// Whether the sheet is held sideways.
pub(super) fn is_wide(chart: &ColorGrid) -> bool {
    chart.columns.len() > UPRIGHT
}

/// Where the cells stand, and whether colours are named in them.
pub(super) struct Table {
    pub(super) left: f64,
    pub(super) cell: Point,
    pub(super) named: bool,
}

/// Draws it.
pub(super) fn draw(sheet: &Sheet, chart: &ColorGrid) {
    let foot = Foot::of(sheet, &chart.conditions, &remarks(chart));
    foot.draw(sheet);
    let bottom = sheet.size.1 - EDGE - foot.height();
    let labels = std::iter::once(&chart.rows_are).chain(&chart.rows);
    let labels = labels
        .map(|words| sheet.width(words, TEXT))
        .fold(0.0, f64::max);
    let left = EDGE + labels.min(LABELS) + 8.0;
    let panels = chart.panels.len() as f64;
    let high = (bottom - TOP) / panels - ABOVE - BELOW;
    let wide = (sheet.size.0 - EDGE - left) / chart.columns.len() as f64;
    let cell = (
        wide.min(CELL.0),
        (high / chart.rows.len() as f64).min(CELL.1),
    );
    let named = true;
    let table = Table { left, cell, named };
    let set = table.type_of(sheet, chart);
    let step = ABOVE + BELOW + table.cell.1 * chart.rows.len() as f64;
    for (k, panel) in chart.panels.iter().enumerate() {
        table.panel(sheet, chart, panel, TOP + k as f64 * step, set);
    }
}

impl Table {
    /// The largest type at which the words of every cell have room.
    fn type_of(&self, sheet: &Sheet, chart: &ColorGrid) -> Type {
        let mut set = TEXT.sized(LARGEST).centred();
        while set.size > SMALLEST && !self.fits(sheet, chart, set) {
            set.size -= 0.5;
        }
        set
    }

    /// Whether the words of every cell have room.
    pub(super) fn fits(&self, sheet: &Sheet, chart: &ColorGrid, set: Type) -> bool {
        let mut words = chart.panels.iter().flat_map(|panel| {
            let labels = panel.labels.iter().flatten();
            panel.cells.iter().flatten().zip(labels)
        });
        words.all(|(tint, label)| self.lines(sheet, &tint.name, label, set).is_some())
    }

    /// The lines of a cell; none where they have no room.
    fn lines(&self, sheet: &Sheet, name: &str, label: &str, set: Type) -> Option<Vec<String>> {
        let width = self.cell.0 - JOINT - 2.0 * PAD;
        let mut lines = match self.named {
            true => sheet.wrapped(name, width, set),
            false => Vec::new(),
        };
        lines.extend(sheet.wrapped(label, width, set));
        let high = lines.len() as f64 * LEADING * set.size;
        let fit = lines.iter().all(|line| sheet.width(line, set) <= width);
        (fit && high <= self.cell.1 - JOINT - 2.0).then_some(lines)
    }

    fn panel(&self, sheet: &Sheet, chart: &ColorGrid, panel: &Panel, top: f64, set: Type) {
        let (wide, high) = self.cell;
        let right = self.left + wide * chart.columns.len() as f64;
        let head = HEADING.sized(9.0);
        let heading = format!("{}, with {}", panel.heading, panel.labels_are);
        sheet.fitted(&heading, (EDGE, top), 0.5 * (right - EDGE), head);
        let rows = panel.row_exposure_stops.as_ref();
        let exposed = match rows {
            Some(_) => {
                "each row exposed for itself above white, by the stops at its name".to_owned()
            }
            None => exposure(panel.exposure_stops),
        };
        sheet.fitted(&exposed, (right, top), 0.48 * (right - EDGE), TEXT.right());
        let first = top + ABOVE - 8.0;
        let label = self.left - 8.0 - EDGE;
        sheet.fitted(&chart.rows_are, (EDGE, first - 7.0), label, HEADING);
        let above = (0.5 * (self.left + right), first - 17.0);
        let room = right - self.left;
        sheet.fitted(&chart.columns_are, above, room, HEADING.centred());
        for (k, column) in chart.columns.iter().enumerate() {
            let x = self.left + (k as f64 + 0.5) * wide;
            sheet.fitted(column, (x, first - 7.0), wide - 3.0, TEXT.centred());
        }
        let beside = TEXT.right().sized(TEXT.size.min(high / LEADING));
        for (j, row) in chart.rows.iter().enumerate() {
            let y = first + j as f64 * high;
            let middle = y + 0.5 * high;
            match rows {
                Some(_) => {
                    let line = 0.5 * LEADING * beside.size;
                    let stops = match panel.stops_of_row(j) {
                        0.0 => "as white is".to_owned(),
                        stops => format!("{stops:+.1} stops"),
                    };
                    sheet.fitted(row, (self.left - 8.0, middle - line), label, beside);
                    sheet.fitted(&stops, (self.left - 8.0, middle + line), label, beside);
                }
                None => sheet.fitted(row, (self.left - 8.0, middle), label, beside),
            }
            for (k, tint) in panel.cells[j].iter().enumerate() {
                let corner = (self.left + k as f64 * wide, y);
                self.cell(sheet, tint, &panel.labels[j][k], corner, set);
            }
        }
    }

    pub(super) fn cell(&self, sheet: &Sheet, tint: &Tint, label: &str, (x, y): Point, set: Type) {
        let (right, bottom) = (x + self.cell.0 - JOINT, y + self.cell.1 - JOINT);
        let [r, g, b] = tint.swatch.srgb;
        sheet.fill((x, y), (right, bottom), Color(r, g, b));
        sheet.frame((x, y), (right, bottom), Pen::full(FRAME, 0.4));
        let color = ink_on(tint.swatch.linear);
        if tint.swatch.gamut_mapped {
            let (x, y) = (right - 1.5, y + 1.5);
            let corner = [(x, y), (x - CORNER, y), (x, y + CORNER)];
            sheet.polygon(&corner, color);
        }
        let lines = self.lines(sheet, &tint.name, label, set);
        let middle = (0.5 * (x + right), 0.5 * (y + bottom));
        let room = (LEADING * set.size, self.cell.0);
        // A number alone stands even where it is a hair too wide.
        let lines = lines.unwrap_or_else(|| match self.named {
            true => Vec::new(),
            false => vec![label.to_owned()],
        });
        sheet.block(&lines, middle, room, set.inked(color));
    }
}

/// What is said in the foot about this chart.
fn remarks(chart: &ColorGrid) -> Vec<String> {
    let by_row = |panel: &Panel| panel.row_exposure_stops.is_some();
    let mut said = vec![
        match chart.panels.iter().any(by_row) {
            true => "One exposure for each panel or row, stated there; a stop doubles the light.",
            false => "One exposure for each panel, stated above it.",
        }
        .to_owned(),
    ];
    said.extend(gamut_key(chart).map(str::to_owned));
    said
}

/// What the corner marks mean, where there are any.
pub(super) fn gamut_key(chart: &ColorGrid) -> Option<&'static str> {
    let mut cells = (chart.panels.iter()).flat_map(|panel| panel.cells.iter().flatten());
    let mapped = cells.any(|tint| tint.swatch.gamut_mapped);
    mapped.then_some(
        "A corner mark: more colourful than a screen can show, brought in by lowering the chroma.",
    )
}
