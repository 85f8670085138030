//! Lines of equal birefringence: path difference over thickness.

use super::super::axes::AxisScale;
use super::super::look::*;
use super::super::marks::spread;
use super::super::numbers::plain;
use super::SMALL;
use super::column::PathAxis;
use crate::study::chart::BirefringenceLine;

/// Room for labels at the right of the fan.
pub(super) const LABELS: f64 = 74.0;
/// Height of a label with the room to the next.
const LINE: f64 = 1.3 * SMALL.size;
/// The thickness in micrometres that 1800 nm are drawn over: about three orders and a half of them.
const THICKNESS_UM: f64 = 50.0;
/// Ends of the thickness axis.
const ROUND: [f64; 5] = [1.0, 2.0, 3.0, 5.0, 10.0];

/// Draws it from `left`, `width` wide without its labels; labels above are at most `high`.
pub(super) fn draw(
    sheet: &Sheet,
    axis: &PathAxis,
    lines: &[BirefringenceLine],
    (left, width): (f64, f64),
    high: f64,
) {
    let right = left + width;
    let most_um = most_um(axis.last_nm);
    let thickness = AxisScale::linear(0.0, most_um, 6).titled("thickness, µm");
    let panel = axis.panel((left, right), thickness);
    panel.draw(sheet);
    // Where lines leave the fan above and at the right, and what is said there.
    let (mut above, mut beside) = (Vec::new(), Vec::new());
    for line in lines {
        let slope = 1000.0 * line.birefringence;
        if !(slope.is_finite() && slope > 0.0) {
            continue;
        }
        let start = axis.first_nm.max(0.0);
        if slope * most_um > axis.last_nm {
            above.push((line, panel.x(axis.last_nm / slope)));
        } else if slope * most_um > start {
            beside.push((line, axis.y(slope * most_um)));
        }
        let end = (axis.last_nm / slope).min(most_um);
        let from = (panel.x((start / slope).min(end)), axis.y(start));
        let to = (panel.x(end), axis.y(slope * end));
        // A full line for materials, a thin dashed one for a round number.
        let pen = match line.materials.is_empty() {
            true => Pen::dashed(SOFT_INK, 0.5, &[3.0, 2.0]),
            false => Pen::full(INK, 0.9),
        };
        sheet.line(&[from, to], pen);
    }
    panel.frame(sheet);
    let label = |line: &BirefringenceLine, at, near, far, room, set: Type| {
        sheet.line(&[at, near], Pen::full(FRAME, 0.4));
        let set = set.weighted(!line.materials.is_empty());
        sheet.fitted(&label(line), far, room, set);
    };
    let wanted = above.iter().map(|(_, x)| (*x, LINE));
    let places = spread(wanted, left - LINE, right + LABELS);
    for ((line, x), place) in above.iter().zip(places) {
        let (at, near, far) = (
            (*x, axis.top),
            (place, axis.top - 8.0),
            (place, axis.top - 10.0),
        );
        label(line, at, near, far, high - 4.0, SMALL.turned(true));
    }
    let wanted = beside.iter().map(|(_, y)| (*y, LINE));
    let places = spread(wanted, axis.top, axis.bottom + 3.0);
    for ((line, y), place) in beside.iter().zip(places) {
        let (at, near, far) = ((right, *y), (right + 8.0, place), (right + 10.0, place));
        label(line, at, near, far, LABELS - 10.0, SMALL);
    }
}

fn label(line: &BirefringenceLine) -> String {
    // Three digits behind the point, or the four that the catalog's are rounded to.
    let four = plain(line.birefringence, 4);
    let number = four.strip_suffix('0').unwrap_or(&four);
    let words = format!("{number} {}", line.materials.join(", "));
    words.trim_end().to_owned()
}

/// The end of the thickness axis, micrometres, that suits a scale of path difference.
pub(super) fn most_um(last_nm: f64) -> f64 {
    round_up(0.8 * THICKNESS_UM * last_nm / 1800.0)
}

/// The next round number.
fn round_up(value: f64) -> f64 {
    let unit = 10f64.powf(value.log10().floor());
    (ROUND.iter())
        .map(|round| round * unit)
        .find(|&round| round >= value * (1.0 - 1e-9))
        .unwrap_or(value)
}
