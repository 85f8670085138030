//! Upright lines that mark places on an axis, with words above the frame.

use super::look::{BODY, FRAME};
use super::spread::spread;
use crate::output::sheet::{Pen, Sheet};

/// One mark.
pub(super) struct AxisMark {
    pub(super) x: f64,
    pub(super) words: String,
    pub(super) dashes: &'static [f64],
}

/// Draws them over a frame from `top` to `bottom`; the words keep between `left` and `right` and clear of each other.
pub(super) fn draw(
    sheet: &Sheet,
    marks: &[AxisMark],
    (top, bottom): (f64, f64),
    (left, right): (f64, f64),
) {
    let set = BODY.sized(13.0).centred();
    let wanted = (marks.iter())
        .map(|mark| (mark.x, sheet.width(&mark.words, set) + 12.0))
        .collect::<Vec<_>>();
    for (mark, place) in marks.iter().zip(spread(&wanted, left, right)) {
        let pen = Pen::dashed(FRAME, 1.6, mark.dashes);
        sheet.line(&[(mark.x, top - 8.0), (mark.x, bottom)], pen);
        let leader = [(place, top - 16.0), (mark.x, top - 8.0)];
        sheet.line(&leader, Pen::full(FRAME, 1.0));
        sheet.text(&mark.words, (place, top - 26.0), set);
    }
}
