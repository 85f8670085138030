//! Labels kept clear of each other, and upright lines that mark places on an axis, with words above the frame.

use super::axes::AxesPanel;
use super::look::*;

/// Centres of blocks, each as near as can be to where it is wanted, none over another, all between `top` and `bottom` where they fit.
/// `wanted` gives (centre, height).
pub(super) fn spread(wanted: impl Iterator<Item = (f64, f64)>, top: f64, bottom: f64) -> Vec<f64> {
    let (mut places, high): (Vec<f64>, Vec<f64>) = wanted.unzip();
    let mut order: Vec<usize> = (0..places.len()).collect();
    order.sort_by(|&a, &b| places[a].total_cmp(&places[b]));
    let mut free = top;
    for &k in &order {
        let half = 0.5 * high[k];
        places[k] = places[k].max(free + half);
        free = places[k] + half;
    }
    let mut free = bottom;
    for &k in order.iter().rev() {
        let half = 0.5 * high[k];
        places[k] = places[k].min(free - half);
        free = places[k] - half;
    }
    places
}

/// Draws marks over a panel, each from its value of x, its words and its dashes; the words keep between `left` and `right` and clear of
/// each other.
pub(super) fn draw(
    sheet: &Sheet,
    panel: &AxesPanel,
    marks: &[(f64, String, &'static [f64])],
    (left, right): (f64, f64),
) {
    let set = BODY.sized(13.0).centred();
    let (top, bottom) = (panel.top, panel.bottom);
    let wanted = (marks.iter()).map(|(x, words, _)| (panel.x(*x), sheet.width(words, set) + 12.0));
    for ((x, words, dashes), place) in marks.iter().zip(spread(wanted, left, right)) {
        let x = panel.x(*x);
        let pen = Pen::dashed(FRAME, 1.6, dashes);
        sheet.line(&[(x, top - 8.0), (x, bottom)], pen);
        let leader = [(place, top - 16.0), (x, top - 8.0)];
        sheet.line(&leader, Pen::full(FRAME, 1.0));
        sheet.text(words, (place, top - 26.0), set);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_do_not_cover_each_other() {
        let wanted = [(100.0, 20.0), (104.0, 40.0), (101.0, 20.0), (399.0, 20.0)];
        let places = spread(wanted.into_iter(), 0.0, 400.0);
        assert_eq!(places, [100.0, 150.0, 120.0, 390.0]);
    }
}
