//! Colour charts on paper.

mod column;
mod fan;
mod foot;
mod matrix;
mod names;
mod panel;
mod scale;

use super::look::{BODY, SOFT_INK};
use super::print::{Paper, printed};
use super::{Figure, FigureError};
use crate::output::sheet::{Sheet, Type};
use crate::study::chart::{ColorGrid, Scale};

/// A chart to draw.
#[derive(Debug, Clone, Copy)]
pub enum ChartRef<'a> {
    /// Colour over path difference.
    Scale(&'a Scale),
    /// Colours in rows and columns.
    ColorGrid(&'a ColorGrid),
}

/// Free paper around a chart.
const EDGE: f64 = 36.0;
/// Between the lines of a text, over its size.
const LEADING: f64 = 1.2;
/// Ordinary and small text on paper.
const TEXT: Type = BODY.sized(6.5);
const SMALL: Type = BODY.sized(5.5);
const HEADING: Type = BODY.sized(7.0).bold();

/// A chart as a sheet to print, with its PDF; `figure` is what its files are called.
///
/// Colours are those of the tints' swatches, exactly. `title` is that of the scenario, where there is one. Characters of a text that
/// the embedded font lacks become U+FFFD in PNG and PDF; the SVG keeps them.
///
/// # Errors
/// [`FigureError::Drawing`] where path differences do not ascend in equal steps, where a row or column is empty or of another length than
/// its neighbours, or where the dpi are not among [`Paper::DPI`].
pub fn chart_figure(
    figure: &'static str,
    title: Option<&str>,
    chart: ChartRef<'_>,
    paper: Paper,
) -> Result<Figure, FigureError> {
    let wrong = |reason| FigureError::Drawing { figure, reason };
    match chart {
        ChartRef::Scale(scale) => {
            let axis = scale::check(scale).map_err(wrong)?;
            let subject = scale::subject(scale);
            printed(figure, title.unwrap_or(subject), paper, false, |sheet| {
                let size = paper.points(false);
                head(sheet, size.0, title, subject);
                scale::draw(sheet, size, scale, axis)
            })
        }
        ChartRef::ColorGrid(chart) => {
            matrix::check(chart).map_err(wrong)?;
            let subject = matrix::subject(chart);
            let landscape = matrix::is_wide(chart);
            printed(
                figure,
                title.unwrap_or(&subject),
                paper,
                landscape,
                |sheet| {
                    let size = paper.points(landscape);
                    head(sheet, size.0, title, &subject);
                    matrix::draw(sheet, size, chart)
                },
            )
        }
    }
}

/// What the chart shows, under the scenario's title where there is one.
fn head(sheet: &Sheet, width: f64, title: Option<&str>, subject: &str) {
    let set = BODY.sized(15.0).bold();
    let below = BODY.sized(9.0).inked(SOFT_INK);
    let room = width - 2.0 * EDGE;
    sheet.fitted(title.unwrap_or(subject), (EDGE, 42.0), room, set);
    if title.is_some() {
        sheet.fitted(subject, (EDGE, 60.0), room, below);
    }
}

/// A heading that stands on `bottom`, `width` wide from `left` and at most `height` high; it reads upward where its words are wider.
fn heading(sheet: &Sheet, text: &str, (left, bottom): (f64, f64), (width, height): (f64, f64)) {
    let set = HEADING;
    let line = LEADING * set.size;
    let mut widest = 0.0_f64;
    for word in text.split_whitespace() {
        widest = widest.max(sheet.width(word, set));
    }
    let upward = widest > width || sheet.wrapped(text, width, set).len() as f64 * line > height;
    let (length, across) = if upward {
        (height, width)
    } else {
        (width, height)
    };
    let most = (across / line).floor() as usize;
    let lines = sheet.wrapped_to(text, length, most, set);
    let block = lines.len() as f64 * line;
    for (k, text) in lines.iter().enumerate() {
        let offset = (k as f64 + 0.5) * line;
        if upward {
            let at = (left + 0.5 * (width - block) + offset, bottom);
            sheet.fitted(text, at, length, set.turned(upward));
        } else {
            let at = (left + 0.5 * width, bottom - block + offset);
            let set = set.centred();
            sheet.fitted(text, at, length, set);
        }
    }
}

#[cfg(test)]
mod tests;
