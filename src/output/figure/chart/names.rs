//! Names of colours beside a column, each with a leader where it holds over enough room.

use super::super::look::FRAME;
use super::super::marks::spread;
use super::SMALL;
use super::column::{PathAxis, runs};
use crate::output::sheet::{Pen, Sheet, Type};
use crate::study::chart::Band;

/// Length of a leader.
pub(super) const LEADER: f64 = 10.0;
/// Runs lower than this have no name.
const LEAST: f64 = 1.5;
/// The farthest that a name stands from the middle of its colour.
const FARTHEST: f64 = 9.0;
/// Height of a name, with the room between two.
const LINE: f64 = 1.25 * SMALL.size;

/// A name that is too wide in this size takes two lines, which stand closer than two names.
const SMALLEST: Type = SMALL.sized(SMALL.size - 1.0);
const CLOSE: f64 = 1.17 * SMALL.size;

/// A colour name on one or two lines, and where it holds: lower and upper end.
struct ColorName {
    lines: Vec<String>,
    low: f64,
    high: f64,
}

impl ColorName {
    fn height(&self) -> f64 {
        self.low - self.high
    }
}

/// Draws them; `left` is the right edge of the column, and `width` what names and leaders may take.
pub(super) fn draw(sheet: &Sheet, axis: &PathAxis, band: &Band, left: f64, width: f64) {
    let half = 0.5 * axis.step_nm;
    let named: Vec<ColorName> = runs(band.tints.iter().map(|tint| tint.name.as_str()))
        .into_iter()
        .map(|(name, from, to)| ColorName {
            lines: match sheet.width(name, SMALLEST) > width - LEADER {
                true => sheet.wrapped_to(name, width - LEADER, 2, SMALL),
                false => vec![name.to_owned()],
            },
            low: axis.y(axis.at(from) - half),
            high: axis.y(axis.at(to) + half),
        })
        .collect();
    let pen = Pen::full(FRAME, 0.4);
    for (run, place) in placed(named, axis) {
        let (edge, bracket) = (left + 1.0, left + 2.5);
        let (low, high) = (run.low - 0.3, run.high + 0.3);
        let middle = 0.5 * (low + high);
        sheet.line(
            &[(edge, low), (bracket, low), (bracket, high), (edge, high)],
            pen,
        );
        sheet.line(&[(bracket, middle), (left + LEADER - 1.5, place)], pen);
        let room = (CLOSE, width - LEADER);
        sheet.block(&run.lines, (left + LEADER, place), room, SMALL);
    }
}

/// The names that find a place near their colours, the largest first to stay.
fn placed(mut named: Vec<ColorName>, axis: &PathAxis) -> Vec<(ColorName, f64)> {
    named.retain(|run| run.height() >= LEAST);
    loop {
        let wanted: Vec<(f64, f64)> = (named.iter())
            .map(|run| {
                (
                    0.5 * (run.low + run.high),
                    LINE + CLOSE * (run.lines.len() as f64 - 1.0),
                )
            })
            .collect();
        let places = spread(&wanted, axis.top - 0.5 * LINE, axis.bottom + 0.5 * LINE);
        let off = |k: usize| (places[k] - wanted[k].0).abs();
        let worst = (0..named.len()).max_by(|&a, &b| off(a).total_cmp(&off(b)));
        match worst {
            Some(worst) if off(worst) > FARTHEST => {
                let near = |k: &usize| (wanted[*k].0 - wanted[worst].0).abs() <= 3.0 * LINE;
                let least = (0..named.len())
                    .filter(near)
                    .min_by(|&a, &b| named[a].height().total_cmp(&named[b].height()));
                named.remove(least.unwrap_or(worst));
            }
            _ => return named.into_iter().zip(places).collect(),
        }
    }
}
