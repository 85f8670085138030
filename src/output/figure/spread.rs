//! Labels kept clear of each other.

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
