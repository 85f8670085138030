//! Labels kept clear of each other, and upright lines that mark places on an axis, with words above the frame.

use super::axes::AxesPanel;
use super::look::*;
use crate::order::order_of;

/// Centres of blocks, each as near as can be to where it is wanted, none over another, all between `top` and `bottom` where they fit.
/// `wanted` gives (centre, height).
pub(super) fn spread(wanted: impl Iterator<Item = (f64, f64)>, top: f64, bottom: f64) -> Vec<f64> {
    let (mut places, high): (Vec<f64>, Vec<f64>) = wanted.unzip();
    let order = order_of(&places);
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

/// The same, but blocks that crowd are moved to both sides, so that the squares of their ways add up to the least that is possible; they reach
/// beyond `bottom` only where there is no room for all.
pub(super) fn spread_evenly(
    wanted: impl Iterator<Item = (f64, f64)>,
    top: f64,
    bottom: f64,
) -> Vec<f64> {
    let (wanted, high): (Vec<f64>, Vec<f64>) = wanted.unzip();
    let order = order_of(&wanted);
    // With the heights of all before it taken away, the centre of a block may not lie above that of the one before. Blocks that would are
    // pooled: they share their mean.
    let (mut before, mut pools) = (Vec::new(), Vec::<(f64, usize)>::new());
    let mut total = 0.0;
    for &k in &order {
        before.push(total + 0.5 * high[k]);
        total += high[k];
        let mut pool = (wanted[k] - before[before.len() - 1], 1);
        while let Some(&(mean, count)) = pools.last()
            && mean >= pool.0
        {
            let both = count + pool.1;
            pool.0 = (mean * count as f64 + pool.0 * pool.1 as f64) / both as f64;
            pool.1 = both;
            pools.pop();
        }
        pools.push(pool);
    }
    let means = pools.iter().flat_map(|(mean, count)| vec![*mean; *count]);
    let mut places = vec![0.0; wanted.len()];
    for ((k, mean), before) in order.into_iter().zip(means).zip(before) {
        places[k] = mean.min(bottom - total).max(top) + before;
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

    #[test]
    fn a_crowd_is_moved_to_both_sides_and_kept_within_its_ends() {
        let wanted = [(100.0, 20.0), (104.0, 40.0), (101.0, 20.0), (399.0, 20.0)];
        let places = spread_evenly(wanted.into_iter(), 0.0, 400.0);
        // Ways of the first three: -15, 31 and 4 about the mean (they stand at 20, 30 and 20 from each other) add up to 0.
        let ways: f64 = (0..3).map(|k| places[k] - wanted[k].0).sum();
        assert!(ways.abs() < 1e-9, "{places:?}");
        assert!((places[2] - places[0] - 20.0).abs() < 1e-9);
        assert!((places[1] - places[2] - 30.0).abs() < 1e-9);
        assert_eq!(places[3], 390.0);
        let low = spread_evenly([(2.0, 10.0), (3.0, 10.0)].into_iter(), 0.0, 100.0);
        assert_eq!(low, [5.0, 15.0]);
    }
}
