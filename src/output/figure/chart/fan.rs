//! Lines of equal birefringence: path difference over thickness.

use super::super::axes::AxisScale;
use super::super::look::{FRAME, INK, SOFT_INK};
use super::super::marks::spread;
use super::super::numbers::plain;
use super::SMALL;
use super::column::PathAxis;
use crate::output::sheet::{Pen, Sheet};
use crate::study::chart::BirefringenceLine;

/// Room for labels at the right of the fan.
pub(super) const LABELS: f64 = 74.0;
/// Height of a label with the room to the next.
const LINE: f64 = 1.3 * SMALL.size;
/// The thickness in micrometres that 1800 nm are drawn over: about three orders and a half of them.
const THICKNESS_UM: f64 = 50.0;
/// Ends of the thickness axis.
const ROUND: [f64; 5] = [1.0, 2.0, 3.0, 5.0, 10.0];

/// Where a line leaves the fan, and what is said there.
struct LineEnd<'a> {
    line: &'a BirefringenceLine,
    at: (f64, f64),
    label: String,
}

/// Draws it from `left`, `width` wide without its labels; labels above are at most `high`.
pub(super) fn draw(
    sheet: &Sheet,
    axis: &PathAxis,
    lines: &[BirefringenceLine],
    (left, width): (f64, f64),
    high: f64,
) {
    let right = left + width;
    let most_um = round_up(0.8 * THICKNESS_UM * axis.last_nm / 1800.0);
    let thickness = (AxisScale::linear(0.0, most_um, 6), "thickness, µm");
    let panel = axis.panel((left, right), thickness);
    panel.draw(sheet);
    let x = |um: f64| panel.x(um);
    let (mut above, mut beside) = (Vec::new(), Vec::new());
    for line in lines {
        let slope = 1000.0 * line.birefringence;
        if !(slope.is_finite() && slope > 0.0) {
            continue;
        }
        let label = label(line);
        let start = axis.first_nm.max(0.0);
        if slope * most_um > axis.last_nm {
            let at = (x(axis.last_nm / slope), axis.top);
            above.push(LineEnd { line, at, label });
        } else if slope * most_um > start {
            let at = (right, axis.y(slope * most_um));
            beside.push(LineEnd { line, at, label });
        }
        let end = (axis.last_nm / slope).min(most_um);
        let points = [
            (x((start / slope).min(end)), axis.y(start)),
            (x(end), axis.y(slope * end)),
        ];
        sheet.line(&points, pen(line));
    }
    panel.frame(sheet);
    labels_above(sheet, axis, &above, (left, right + LABELS), high);
    labels_beside(sheet, axis, &beside, right)
}

/// A full line for materials, a thin dashed one for a round number.
fn pen(line: &BirefringenceLine) -> Pen {
    if line.materials.is_empty() {
        Pen::dashed(SOFT_INK, 0.5, &[3.0, 2.0])
    } else {
        Pen::full(INK, 0.9)
    }
}

fn label(line: &BirefringenceLine) -> String {
    // Three digits behind the point, or the four that the catalog's are rounded to.
    let four = plain(line.birefringence, 4);
    let number = four.strip_suffix('0').unwrap_or(&four);
    let mut words = vec![number.to_owned()];
    if !line.materials.is_empty() {
        words.push(line.materials.join(", "));
    }
    words.join(" ")
}

fn labels_above(
    sheet: &Sheet,
    axis: &PathAxis,
    ends: &[LineEnd],
    (left, right): (f64, f64),
    high: f64,
) {
    let wanted: Vec<(f64, f64)> = ends.iter().map(|end| (end.at.0, LINE)).collect();
    for (end, place) in ends.iter().zip(spread(&wanted, left - LINE, right)) {
        let leader = [end.at, (place, axis.top - 8.0)];
        sheet.line(&leader, Pen::full(FRAME, 0.4));
        let set = SMALL.turned(true).weighted(!end.line.materials.is_empty());
        sheet.fitted(&end.label, (place, axis.top - 10.0), high - 4.0, set);
    }
}

fn labels_beside(sheet: &Sheet, axis: &PathAxis, ends: &[LineEnd], right: f64) {
    let wanted: Vec<(f64, f64)> = ends.iter().map(|end| (end.at.1, LINE)).collect();
    for (end, place) in ends
        .iter()
        .zip(spread(&wanted, axis.top, axis.bottom + 3.0))
    {
        let leader = [end.at, (right + 8.0, place)];
        sheet.line(&leader, Pen::full(FRAME, 0.4));
        let set = SMALL.weighted(!end.line.materials.is_empty());
        sheet.fitted(&end.label, (right + 10.0, place), LABELS - 10.0, set);
    }
}

/// The next round number.
fn round_up(value: f64) -> f64 {
    let unit = 10f64.powf(value.log10().floor());
    (ROUND.iter())
        .map(|round| round * unit)
        .find(|&round| round >= value * (1.0 - 1e-9))
        .unwrap_or(value)
}
