//! What a false colour means, as a bar with its decades and as an axis.

use super::axes::{AT_RIGHT, AxesPanel, AxisScale};
use super::look::*;
use super::numbers::power_of_ten;
use crate::output::disc::{LightScale, ramp};

/// Left edge and width of the bar.
const BAR: f64 = 648.0;
const BAR_WIDTH: f64 = 24.0;
/// Middle of the words beside it, and from one line of them to the next.
const WORDS: f64 = BAR + 98.0;
const LINE: f64 = 19.0;

/// A scale as an axis, with ticks at some mantissas and numbers at powers of ten.
pub(super) fn decade_axis(scale: &LightScale, mantissas: &[u32]) -> AxisScale {
    part_axis(scale, f64::from(scale.high), mantissas)
}

/// The same up to the logarithm of some light.
fn part_axis(scale: &LightScale, high: f64, mantissas: &[u32]) -> AxisScale {
    let LightScale { low, cut, .. } = *scale;
    let words = |_, exponent| match cut && exponent == low {
        true => format!("≤ {}", power_of_ten(exponent)),
        false => power_of_ten(exponent),
    };
    AxisScale::steps((f64::from(low), high), mantissas, words, false)
}

/// What the colours mean, in words beside a bar from `top` to `bottom` at the right of the sheet.
pub(super) fn bar(sheet: &Sheet, scale: &LightScale, ends: (f64, f64)) {
    bar_up_to(sheet, scale, f64::INFINITY, ends);
}

/// The same without what is brighter than all light of a figure.
pub(super) fn bar_up_to(
    sheet: &Sheet,
    scale: &LightScale,
    brightest: f64,
    (top, bottom): (f64, f64),
) {
    let (low, end) = (f64::from(scale.low), f64::from(scale.high));
    let high = brightest.log10().max(low + 1.0).min(end);
    let axis = part_axis(scale, high, &[1, 2, 5]);
    let part = (high - low) / (end - low);
    let colors = ramp::colors();
    let colors = &colors[..(part * colors.len() as f64).round() as usize];
    colored_bar(sheet, axis, colors, BAR, (top, bottom));
    let words = "light over the parallel field's mean";
    let set = BODY.centred().turned(true);
    for (k, line) in sheet.wrapped(words, bottom - top, set).iter().enumerate() {
        sheet.text(line, (WORDS + LINE * k as f64, 0.5 * (top + bottom)), set);
    }
}

/// The bar alone with its axis, from `left` on.
pub(super) fn colored_bar(
    sheet: &Sheet,
    axis: AxisScale,
    colors: &[[u8; 3]],
    left: f64,
    (top, bottom): (f64, f64),
) {
    // From the light end down, each colour over the rest of the bar, so that no seams show.
    for (k, &[r, g, b]) in colors.iter().rev().enumerate() {
        let y = top + (bottom - top) * k as f64 / colors.len() as f64;
        sheet.fill((left, y), (left + BAR_WIDTH, bottom), Color(r, g, b));
    }
    let area = [left, left + BAR_WIDTH, top, bottom];
    AxesPanel::new(area, AxisScale::bare(), axis)
        .gridded(false, false)
        .looking(AT_RIGHT)
        .draw(sheet);
}
