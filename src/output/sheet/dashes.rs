//! Dashed lines.

use super::Point;

/// A line cut into dashes: `pattern` gives lengths drawn and left out by turns.
pub(super) fn dashed(points: &[Point], pattern: &[f64]) -> Vec<Vec<Point>> {
    let mut pieces = Vec::new();
    let mut piece: Vec<Point> = points.first().copied().into_iter().collect();
    let mut turn = 0;
    let mut left = pattern[0].max(0.1);
    for pair in points.windows(2) {
        let (mut from, to) = (pair[0], pair[1]);
        loop {
            let length = (to.0 - from.0).hypot(to.1 - from.1);
            if length <= left {
                left -= length;
                piece.push(to);
                break;
            }
            let part = left / length;
            from = (
                from.0 + part * (to.0 - from.0),
                from.1 + part * (to.1 - from.1),
            );
            piece.push(from);
            let done = std::mem::replace(&mut piece, vec![from]);
            if turn % 2 == 0 {
                pieces.push(done);
            }
            turn += 1;
            left = pattern[turn % pattern.len()].max(0.1);
        }
    }
    if turn % 2 == 0 && piece.len() > 1 {
        pieces.push(piece);
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dashes_go_round_corners_and_add_up() {
        let corner = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0)];
        let pieces = dashed(&corner, &[6.0, 2.0]);
        assert_eq!(pieces.len(), 3);
        assert_eq!(pieces[0], [(0.0, 0.0), (6.0, 0.0)]);
        assert_eq!(pieces[1], [(8.0, 0.0), (10.0, 0.0), (10.0, 4.0)]);
        assert_eq!(pieces[2], [(10.0, 6.0), (10.0, 10.0)]);
    }
}
