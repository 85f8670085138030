//! Charts for a slide or a screen: less of them, in type that is read from the last row. The rest stands on the chart for paper.

use super::super::axes::{AxisScale, BESIDE_SLIDE, on_wall};
use super::super::look::*;
use super::super::print::{Held, Paper, printed};
use super::column::{self, PathAxis};
use super::foot::{Foot, circumstances, exposure};
use super::matrix::Table;
use super::names::{self, NameLook};
use super::scale::is_toned_down;
use crate::output::CAUTION;
use crate::output::sheet::{FOOT_TYPE, LEAST_TYPE};
use crate::study::chart::{ColorGrid, Conditions, ORDER_NM, Panel, Scale};

/// Free room around a slide, between its parts, and from line to line.
pub(super) const EDGE: f64 = 24.0;
const GAP: f64 = 16.0;
pub(super) const LINE: f64 = 1.2 * LEAST_TYPE;
pub(super) const TEXT: Type = BODY.sized(LEAST_TYPE);
/// Room for the ruler, the width of a column of colour, and that of the panel of curves.
const RULER: f64 = 88.0;
const COLUMN: f64 = 44.0;
const CURVES: f64 = 190.0;
/// So many columns are shown, the last ones.
const COLUMNS: usize = 3;
/// The largest cell.
const CELL: Point = (150.0, 60.0);

/// A slide with its head and its foot; `paint` has the sheet between two heights.
pub(super) fn on_slide(
    figure: &'static str,
    (title, subject): (Option<&str>, &str),
    paper: Paper,
    (conditions, remark): (&Conditions, &str),
    paint: impl FnOnce(&Sheet, (f64, f64)),
) -> Result<Figure, FigureError> {
    let large = title.unwrap_or(subject);
    let held = Held {
        sideways: true,
        own_size: true,
    };
    printed(figure, large, paper, held, |sheet| {
        let room = sheet.size.0 - 2.0 * EDGE;
        sheet.fitted(large, (EDGE, 28.0), room, BODY.sized(26.0).bold());
        if title.is_some() {
            sheet.fitted(subject, (EDGE, 58.0), room, SOFT.sized(LEAST_TYPE));
        }
        let version = env!("CARGO_PKG_VERSION");
        let said = [
            format!("{remark} {}", circumstances(conditions)),
            format!("{CAUTION} Computed by polstack {version}; notes are on the chart for paper."),
        ];
        let foot = Foot::set(sheet, &said, (EDGE, SOFT.sized(FOOT_TYPE)), 1.0);
        foot.draw(sheet);
        paint(sheet, (74.0, sheet.size.1 - EDGE - foot.height()));
    })
}

/// Under what the columns hold that are shown: where the first are left out, those of the microscope's.
pub(super) fn of_shown(scale: &Scale) -> Conditions {
    let mut conditions = scale.conditions.clone();
    if let Some(polars) = scale.beside.filter(|_| scale.bands.len() > COLUMNS) {
        conditions.polars = polars.to_owned();
        // That of the first column.
        conditions.white_xy = None;
    }
    conditions
}

/// What the marks mean that are shown.
pub(super) fn key(scale: &Scale) -> String {
    let bands = &scale.bands[scale.bands.len().saturating_sub(COLUMNS)..];
    let mut said = Vec::new();
    if scale.path_difference_nm.last() > Some(&ORDER_NM) {
        said.push("Thin lines across: ends of the orders.");
    }
    if !scale.differences.is_empty() {
        said.push("Plate added: the specimen's slow direction lies along the plate's; subtracted: across.");
    }
    if bands.iter().any(is_toned_down) {
        said.push("A rule at the left of a column: more colourful than a screen can show.");
    }
    said.join(" ")
}

/// Colour over path difference: the last columns with the names of their hues, and how different the colours of plate added and subtracted look.
pub(super) fn scale(sheet: &Sheet, scale: &Scale, axis: PathAxis, (top, bottom): (f64, f64)) {
    let axis = PathAxis {
        top: top + 2.0 * LINE + 12.0,
        bottom: bottom - 2.6 * LINE,
        ..axis
    };
    let left = EDGE + RULER;
    axis.ruler_of(sheet, left, 9, BESIDE_SLIDE, "path difference, nm");
    let bands = &scale.bands[scale.bands.len().saturating_sub(COLUMNS)..];
    let curve = scale.differences.last();
    let right = sheet.size.0 - EDGE - curve.map_or(0.0, |_| CURVES + GAP);
    let each = (right - left) / bands.len() as f64;
    let look = NameLook::on_slide(LEAST_TYPE);
    let heading = |words: &str, (from, to): (f64, f64)| {
        let set = TEXT.bold().centred();
        let lines = sheet.wrapped_to(words, to - from, 2, set);
        let middle = (
            0.5 * (from + to),
            axis.top - 8.0 - 0.5 * LINE * lines.len() as f64,
        );
        sheet.block(&lines, middle, (LINE, to - from), set);
    };
    for (k, band) in bands.iter().enumerate() {
        let x = left + GAP + each * k as f64;
        axis.grid(sheet, x - GAP, x);
        column::draw(sheet, &axis, band, x, COLUMN);
        let names = each - GAP - COLUMN;
        names::draw(sheet, &axis, band, &look, x + COLUMN, names);
        heading(&band.heading, (x, x + each - GAP));
    }
    let Some(curve) = curve else { return };
    let values = curve.ciede2000.iter().copied();
    let most = values.filter(|v| v.is_finite()).fold(1.0, f64::max);
    let x = AxisScale::linear(0.0, 1.05 * most, 3).titled("CIEDE2000");
    let ends = (right + GAP, sheet.size.0 - EDGE);
    let panel = axis
        .panel(ends, x)
        .gridded(false, true)
        .looking(on_wall(LEAST_TYPE));
    panel.draw(sheet);
    let points = curve.ciede2000.iter().enumerate();
    let points: Vec<Point> = points.map(|(k, &value)| (value, axis.at(k))).collect();
    panel.curve(sheet, &points, Pen::full(INK, 1.8));
    heading("added against subtracted", ends);
}

/// Colours in rows and columns: each cell with its number, and with the colour's name where all of them have room.
pub(super) fn grid(sheet: &Sheet, chart: &ColorGrid, (top, bottom): (f64, f64)) {
    let named = |panel: &Panel, row: usize| match panel.row_exposure_stops {
        Some(_) => format!("{}, {:+.1}", chart.rows[row], panel.stops_of_row(row)),
        None => chart.rows[row].clone(),
    };
    let rows = chart.rows.len();
    let labels =
        (chart.panels.iter()).flat_map(|panel| (0..rows).map(move |row| named(panel, row)));
    let wide = labels
        .map(|words| sheet.width(&words, TEXT))
        .fold(0.0, f64::max);
    let corner = format!("{}, by {}", chart.rows_are, chart.columns_are);
    let left = EDGE + wide.max(sheet.width(&corner, TEXT)) + GAP;
    let step = (bottom - top) / chart.panels.len() as f64;
    let cell = (
        ((sheet.size.0 - EDGE - left) / chart.columns.len() as f64).min(CELL.0),
        ((step - 2.0 * LINE - GAP) / rows as f64).min(CELL.1),
    );
    let mut table = Table {
        left,
        cell,
        named: true,
    };
    let set = TEXT.centred();
    table.named = table.fits(sheet, chart, set);
    for (k, panel) in chart.panels.iter().enumerate() {
        let top = top + step * k as f64 + 0.5 * LINE;
        let heading = format!("{}: {}", panel.heading, panel.labels_are);
        sheet.text(&heading, (EDGE, top), TEXT.bold());
        let exposed = match panel.row_exposure_stops {
            Some(_) => "behind a name: stops above white".to_owned(),
            None => exposure(panel.exposure_stops),
        };
        let from = EDGE + sheet.width(&heading, TEXT.bold()) + GAP;
        let end = sheet.size.0 - EDGE;
        sheet.fitted(&exposed, (end, top), end - from, TEXT.right());
        let first = top + 1.5 * LINE;
        sheet.text(&corner, (EDGE, first - 0.5 * LINE), SOFT.sized(LEAST_TYPE));
        for (k, column) in chart.columns.iter().enumerate() {
            let x = left + cell.0 * (k as f64 + 0.5);
            sheet.fitted(column, (x, first - 0.5 * LINE), cell.0 - 2.0, set);
        }
        for (row, tints) in panel.cells.iter().enumerate() {
            let y = first + cell.1 * row as f64;
            sheet.text(&named(panel, row), (EDGE, y + 0.5 * cell.1), TEXT);
            for (k, tint) in tints.iter().enumerate() {
                let corner = (left + cell.0 * k as f64, y);
                // Without the spaces of large numbers, for which a cell has no room.
                let label = match &panel.labels[row][k] {
                    label if label.ends_with('%') => label.clone(),
                    label => label.replace(' ', ""),
                };
                table.cell(sheet, tint, &label, corner, set);
            }
        }
    }
}
