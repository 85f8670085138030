//! Lines of equal light over the aperture.

use std::collections::BTreeMap;

use ndarray::Array2;

/// A point in units of the disc's radius, y up.
type Point = (f64, f64);

/// A number on rings and spokes of a disc: spokes evenly spaced from East.
#[derive(Debug, Clone)]
pub(crate) struct RingMap {
    /// Numerical aperture of each ring, rising.
    pub(crate) rings: Vec<f64>,
    /// The numbers, ring by ring.
    pub(crate) value: Array2<f64>,
    /// Numerical aperture of the disc.
    pub(crate) na: f64,
}

/// Extinction ratios that lines are drawn at, within a decade, and the most lines; fewer mantissas where there would be more.
const MANTISSAS: [&[f64]; 3] = [&[1.0, 2.0, 5.0], &[1.0, 3.0], &[1.0]];
const MOST_LINES: usize = 6;

/// A crossing of a line with an edge of the grid: the edge's first node, and whether it runs outward.
type Edge = (usize, usize, bool);

/// The lines on which the map has a value, as points in units of the disc's radius, y up; a closed line ends where it begins.
///
/// Marching squares on rings and spokes: along each edge the logarithm of the light is linear; in a saddle the mean of the corners
/// decides. Checked by: this file's unit tests.
pub(crate) fn isolines(map: &RingMap, value: f64) -> Vec<Vec<Point>> {
    let (rings, spokes) = map.value.dim();
    let height = |ring: usize, spoke: usize| {
        (map.value[[ring, spoke % spokes]].max(f64::MIN_POSITIVE)).ln() - value.ln()
    };
    let mut links: BTreeMap<Edge, Vec<Edge>> = BTreeMap::new();
    for ring in 0..rings.saturating_sub(1) {
        for spoke in 0..spokes {
            let next = (spoke + 1) % spokes;
            // Corners and edges counter-clockwise: inner, next inner, next outer, outer.
            let corners = [
                (ring, spoke),
                (ring, next),
                (ring + 1, next),
                (ring + 1, spoke),
            ];
            let edges = [
                (ring, spoke, false),
                (ring, next, true),
                (ring + 1, spoke, false),
                (ring, spoke, true),
            ];
            let heights = corners.map(|(ring, spoke)| height(ring, spoke));
            let crossed: Vec<usize> = (0..4)
                .filter(|&k| (heights[k] > 0.0) != (heights[(k + 1) % 4] > 0.0))
                .collect();
            let middle = heights.iter().sum::<f64>() > 0.0;
            let pairs: Vec<(usize, usize)> = match crossed[..] {
                [a, b] => vec![(a, b)],
                [_, _, _, _] if middle == (heights[0] > 0.0) => vec![(0, 1), (2, 3)],
                [_, _, _, _] => vec![(3, 0), (1, 2)],
                _ => Vec::new(),
            };
            for (a, b) in pairs {
                links.entry(edges[a]).or_default().push(edges[b]);
                links.entry(edges[b]).or_default().push(edges[a]);
            }
        }
    }
    let point = |(ring, spoke, outward): Edge| {
        let (to_ring, to_spoke) = match outward {
            true => (ring + 1, spoke),
            false => (ring, spoke + 1),
        };
        let (a, b) = (height(ring, spoke), height(to_ring, to_spoke));
        let part = if a == b { 0.5 } else { a / (a - b) };
        let r = map.rings[ring] + part * (map.rings[to_ring] - map.rings[ring]);
        let step = std::f64::consts::TAU / spokes as f64;
        let azimuth = step * (spoke as f64 + if outward { 0.0 } else { part });
        let (sin, cos) = azimuth.sin_cos();
        (r / map.na * cos, r / map.na * sin)
    };
    lines(links)
        .into_iter()
        .map(|line| line.into_iter().map(point).collect())
        .collect()
}

/// Squares that a disc is divided into each way, to see where lines crowd.
const SQUARES: usize = 22;

/// Lines are followed where no more than so many lie side by side in a square.
const MOST_IN_A_SQUARE: f64 = 3.0;

/// Lines, cut where they crowd so closely that no eye can follow them, and whether any were. In units of the disc's radius, as
/// [`isolines`] gives them.
pub(crate) fn followed(lines: Vec<Vec<Point>>) -> (Vec<Vec<Point>>, bool) {
    let side = 2.0 / SQUARES as f64;
    let square = |point: &Point| {
        let place = |v: f64| (((v + 1.0) / side) as usize).min(SQUARES - 1);
        place(point.0) * SQUARES + place(point.1)
    };
    let mut long = vec![0.0; SQUARES * SQUARES];
    for step in lines.iter().flat_map(|line| line.windows(2)) {
        long[square(&step[0])] += length(step);
    }
    // A square at the rim that lies partly outside the disc has room for fewer, but for one at least.
    let room: Vec<f64> = (0..SQUARES * SQUARES)
        .map(|square| {
            let middle = |place, part| side * (place as f64 + (part as f64 + 0.5) / 4.0) - 1.0;
            let (column, row) = (square / SQUARES, square % SQUARES);
            let inside = (0..16)
                .filter(|k| middle(column, k % 4).hypot(middle(row, k / 4)) < 1.0)
                .count();
            side * (MOST_IN_A_SQUARE * inside as f64 / 16.0).max(1.0)
        })
        .collect();
    let crowded = |point: &Point| long[square(point)] > room[square(point)];
    let cut = lines.iter().flatten().any(crowded);
    let mut kept = Vec::new();
    for line in lines {
        // What is cut off leaves no crumbs.
        let stays = |piece: &&[Point]| piece.len() == line.len() || length(piece) > 2.0 * side;
        kept.extend(line.split(crowded).filter(stays).map(<[Point]>::to_vec));
    }
    (kept, cut)
}

/// Length of a line.
pub(crate) fn length(line: &[Point]) -> f64 {
    let steps = line.windows(2);
    (steps.map(|at| (at[1].0 - at[0].0).hypot(at[1].1 - at[0].1))).sum()
}

/// Links joined to lines: those with loose ends first, then the closed ones.
fn lines(mut links: BTreeMap<Edge, Vec<Edge>>) -> Vec<Vec<Edge>> {
    let mut lines = Vec::new();
    while !links.is_empty() {
        let loose = links.iter().find(|(_, to)| to.len() == 1);
        let Some((&start, _)) = loose.or_else(|| links.iter().next()) else {
            break;
        };
        let (mut line, mut here) = (vec![start], start);
        while let Some(next) = links.get_mut(&here).and_then(Vec::pop) {
            if let Some(back) = links.get_mut(&next)
                && let Some(at) = back.iter().position(|edge| *edge == here)
            {
                back.remove(at);
            }
            line.push(next);
            here = next;
        }
        links.retain(|_, to| !to.is_empty());
        lines.push(line);
    }
    lines
}

/// Round extinction ratios within the range of a map, at most [`MOST_LINES`]; the brightest and the dimmest twentieth of its rays have none.
pub(crate) fn ratio_levels(map: &RingMap) -> Vec<f64> {
    let mut light: Vec<f64> = map.value.iter().copied().filter(|v| *v > 1e-12).collect();
    light.sort_by(f64::total_cmp);
    let (Some(&first), Some(&last)) = (
        light.get(light.len() / 20),
        light.get(light.len() * 19 / 20),
    ) else {
        return Vec::new();
    };
    let (least, most) = (1.0 / last, 1.0 / first);
    let mut levels = Vec::new();
    for mantissas in MANTISSAS {
        levels = (-2..13)
            .flat_map(|decade| mantissas.iter().map(move |m| m * 10f64.powi(decade)))
            .filter(|level| (least * 1.02..most / 1.02).contains(level))
            .collect();
        if levels.len() <= MOST_LINES {
            break;
        }
    }
    // Too many decades: those that pass most light, where lines lie far apart.
    levels.truncate(MOST_LINES);
    levels
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::optics::Rays;
    use std::f64::consts::TAU;

    fn map((rings, spokes): (usize, usize), light: impl Fn(f64, f64) -> f64) -> RingMap {
        let rays = Rays::even(0.6, rings, spokes);
        RingMap {
            value: Array2::from_shape_fn((rings, spokes), |(ring, spoke)| {
                light(rays.ring[ring] / 0.6, rays.spoke_rad[spoke])
            }),
            rings: rays.ring,
            na: 0.6,
        }
    }

    const COARSE: (usize, usize) = (33, 96);

    #[test]
    fn a_ring_is_one_closed_line() {
        // Its logarithm is linear along the radius: exact.
        let found = isolines(&map(COARSE, |r, _| (3.0 * r).exp()), 1.5f64.exp());
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].first(), found[0].last());
        assert_eq!(found[0].len(), 97);
        for (x, y) in &found[0] {
            assert!((x.hypot(*y) - 0.5).abs() < 1e-12, "{x} {y}");
        }
    }

    #[test]
    fn lines_are_cut_where_they_crowd_and_kept_elsewhere() {
        let wide = isolines(&map(COARSE, |r, _| (3.0 * r).exp()), 1.5f64.exp());
        assert_eq!(followed(wide.clone()), (wide, false));
        // Rings that crowd toward the rim, as a thick crystal's do.
        let rings = map((385, 512), |r, _| 1.1 + (120.0 * r * r).sin());
        let all = isolines(&rings, 1.0);
        let (kept, cut) = followed(all.clone());
        let points = |lines: &[Vec<Point>]| lines.iter().map(Vec::len).sum::<usize>();
        assert!(cut && points(&kept) < points(&all) / 2);
        // Neighbours lie pi / (240 r) apart: three to a square of 1/11 from r = 0.43 on. In the corners of squares at the rim a short piece may stay.
        let beyond = |radius: f64| {
            let far = kept.iter().flatten().filter(|(x, y)| x.hypot(*y) > radius);
            far.count() as f64 / points(&kept) as f64
        };
        assert!(
            beyond(0.35) > 0.05 && beyond(0.6) < 0.05,
            "{} {}",
            beyond(0.35),
            beyond(0.6)
        );
    }

    #[test]
    fn arms_of_a_cross_are_lines_that_end_on_the_rim_or_close() {
        let cross = |r: f64, phi: f64| 1e-6 + r.powi(4) * (2.0 * phi).sin().powi(2);
        let found = isolines(&map(COARSE, cross), 0.1);
        // One in each quarter, from rim to rim.
        assert_eq!(found.len(), 4);
        for line in &found {
            for (x, y) in [line[0], line[line.len() - 1]] {
                assert!((x.hypot(y) - 1.0).abs() < 1e-12);
            }
            for (x, y) in line {
                let (r, phi) = (x.hypot(*y), y.atan2(*x));
                assert!((cross(r, phi) / 0.1 - 1.0).abs() < 0.05, "{x} {y}");
            }
            // No more than a cell from point to point.
            for pair in line.windows(2) {
                let step = (pair[0].0 - pair[1].0).hypot(pair[0].1 - pair[1].1);
                assert!(step < (TAU / 96.0).hypot(1.0 / 32.0) + 1e-12);
            }
        }
        assert!(isolines(&map(COARSE, cross), 5.0).is_empty());
    }
}
