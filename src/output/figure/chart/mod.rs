//! Colour charts on paper.

mod column;
mod fan;
mod foot;
mod matrix;
mod names;
mod panel;
mod scale;
mod sheets;
mod slide;
mod wall;

use super::look::*;
use super::print::{Held, Paper, PaperSize, printed};
use crate::study::chart::{ColorGrid, Scale};

pub use sheets::compared_figure;
pub use wall::wall_figures;

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
/// Colours of cells are those of the tints' swatches, exactly; those of columns are brought into the gamut smoothly along the scale
/// ([`crate::color::blend_into_srgb`]). `title` is that of the scenario, where there is one. Characters of a text that
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
    let wrong = undrawn::<String>(figure);
    let wide = paper.size == PaperSize::Wide;
    match chart {
        ChartRef::Scale(scale) => {
            let axis = scale::check(scale).map_err(wrong)?;
            let titles = (title, scale::subject(scale));
            if wide && scale.lines.is_empty() {
                let (shown, key) = (slide::of_shown(scale), slide::key(scale));
                let said = (&shown, &*key);
                return slide::on_slide(figure, titles, paper, said, |sheet, room| {
                    slide::scale(sheet, scale, axis, room)
                });
            }
            on_paper(figure, titles, paper, false, |sheet| {
                scale::draw(sheet, scale, axis)
            })
        }
        ChartRef::ColorGrid(chart) => {
            matrix::check(chart).map_err(wrong)?;
            let subject = matrix::subject(chart);
            let titles = (title, &*subject);
            if wide {
                let key = matrix::gamut_key(chart).unwrap_or("");
                let said = (&chart.conditions, key);
                return slide::on_slide(figure, titles, paper, said, |sheet, room| {
                    slide::grid(sheet, chart, room)
                });
            }
            on_paper(figure, titles, paper, matrix::is_wide(chart), |sheet| {
                matrix::draw(sheet, chart)
            })
        }
    }
}

/// A sheet with its head: what the chart shows, under the scenario's title where there is one.
fn on_paper(
    figure: &'static str,
    (title, subject): (Option<&str>, &str),
    paper: Paper,
    sideways: bool,
    paint: impl FnOnce(&Sheet),
) -> Result<Figure, FigureError> {
    let large = title.unwrap_or(subject);
    let own_size = false;
    let held = Held { sideways, own_size };
    printed(figure, large, paper, held, |sheet| {
        let room = sheet.size.0 - 2.0 * EDGE;
        sheet.fitted(large, (EDGE, 42.0), room, BODY.sized(15.0).bold());
        if title.is_some() {
            sheet.fitted(subject, (EDGE, 60.0), room, SOFT.sized(9.0));
        }
        paint(sheet);
    })
}

/// A heading that stands on `bottom`, `width` wide from `left` and at most `height` high; it reads upward where its words are wider.
fn heading(sheet: &Sheet, text: &str, (left, bottom): (f64, f64), (width, height): (f64, f64)) {
    let set = HEADING;
    let line = LEADING * set.size;
    let broken = sheet.wrapped(text, width, set);
    let upward = broken.len() as f64 * line > height
        || broken.iter().any(|line| sheet.width(line, set) > width);
    let (length, across) = match upward {
        true => (height, width),
        false => (width, height),
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
            sheet.fitted(text, at, length, set.centred());
        }
    }
}

#[cfg(test)]
mod tests;
