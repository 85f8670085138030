//! Names of colours beside a column, each with a leader where it holds over enough room.

use super::super::look::*;
use super::super::marks::spread;
use super::SMALL;
use super::column::PathAxis;
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

/// Draws them; `left` is the right edge of the column, and `width` what names and leaders may take.
pub(super) fn draw(sheet: &Sheet, axis: &PathAxis, band: &Band, left: f64, width: f64) {
    let room = width - LEADER;
    let runs = axis.runs(&band.tints, |a, b| a.name == b.name).into_iter();
    let named = runs.map(|(tint, low, high)| {
        let lines = match sheet.width(&tint.name, SMALLEST) > room {
            true => sheet.wrapped_to(&tint.name, room, 2, SMALL),
            false => vec![tint.name.clone()],
        };
        ColorName { lines, low, high }
    });
    let pen = Pen::full(FRAME, 0.4);
    for (run, place) in placed(named.collect(), axis) {
        let (edge, bracket) = (left + 1.0, left + 2.5);
        let (low, high) = (run.low - 0.3, run.high + 0.3);
        let around = [(edge, low), (bracket, low), (bracket, high), (edge, high)];
        sheet.line(&around, pen);
        let leader = [(bracket, 0.5 * (low + high)), (left + LEADER - 1.5, place)];
        sheet.line(&leader, pen);
        sheet.block(&run.lines, (left + LEADER, place), (CLOSE, room), SMALL);
    }
}

/// The names that find a place near their colours, the largest first to stay.
fn placed(mut named: Vec<ColorName>, axis: &PathAxis) -> Vec<(ColorName, f64)> {
    let middle = |run: &ColorName| 0.5 * (run.low + run.high);
    let high = |run: &ColorName| run.low - run.high;
    named.retain(|run| high(run) >= LEAST);
    loop {
        let room = |run: &ColorName| LINE + CLOSE * (run.lines.len() as f64 - 1.0);
        let wanted = named.iter().map(|run| (middle(run), room(run)));
        let places = spread(wanted, axis.top - 0.5 * LINE, axis.bottom + 0.5 * LINE);
        let off = |k: usize| (places[k] - middle(&named[k])).abs();
        let worst = (0..named.len()).max_by(|&a, &b| off(a).total_cmp(&off(b)));
        let Some(worst) = worst.filter(|worst| off(*worst) > FARTHEST) else {
            return named.into_iter().zip(places).collect();
        };
        let near = |k: &usize| (middle(&named[*k]) - middle(&named[worst])).abs() <= 3.0 * LINE;
        let least = (0..named.len())
            .filter(near)
            .min_by(|&a, &b| high(&named[a]).total_cmp(&high(&named[b])));
        named.remove(least.unwrap_or(worst));
    }
}
