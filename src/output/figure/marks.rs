//! Labels kept clear of each other, and upright lines that mark places on an axis, with words above the frame.

use super::look::{BODY, FRAME};
use crate::output::sheet::{Pen, Sheet};

/// Centres of blocks, each as near as can be to where it is wanted, none over another, all between `top` and `bottom` where they fit.
/// `wanted` holds (centre, height).
pub(super) fn spread(wanted: &[(f64, f64)], top: f64, bottom: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    order.sort_by(|&a, &b| wanted[a].0.total_cmp(&wanted[b].0));
    let mut places: Vec<f64> = wanted.iter().map(|w| w.0).collect();
    let mut free = top;
    for &k in &order {
        let half = 0.5 * wanted[k].1;
        places[k] = places[k].max(free + half);
        free = places[k] + half;
    }
    let mut free = bottom;
    for &k in order.iter().rev() {
        let half = 0.5 * wanted[k].1;
        places[k] = places[k].min(free - half);
        free = places[k] - half;
    }
    places
}

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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_do_not_cover_each_other() {
        let wanted = [(100.0, 20.0), (104.0, 40.0), (101.0, 20.0), (399.0, 20.0)];
        let places = spread(&wanted, 0.0, 400.0);
        assert_eq!(places, [100.0, 150.0, 120.0, 390.0]);
    }
}
