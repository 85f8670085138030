//! Rows of numbers times one vector, which is most of the work of a fit.

use pulp::{Arch, Simd, WithSimd};

/// Partial sums of a row, the same whatever the width of the processor's vectors: the bytes that come out do not depend on it.
const PARTIAL: usize = 8;
/// So many rows are summed side by side, so that no sum waits for its own last addition.
const ABREAST: usize = 4;

/// The sum of products of each row with `by`, appended to `out`. A row is as long as `by`.
pub(super) fn times(rows: &[Vec<f64>], by: &[f64], out: &mut Vec<f64>) {
    Arch::new().dispatch(Times { rows, by, out });
}

struct Times<'a> {
    rows: &'a [Vec<f64>],
    by: &'a [f64],
    out: &'a mut Vec<f64>,
}

impl WithSimd for Times<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        let (groups, rest) = self.rows.as_chunks::<ABREAST>();
        for group in groups {
            self.out.extend(sums(group, self.by));
        }
        for row in rest {
            self.out.extend(sums(std::array::from_ref(row), self.by));
        }
    }
}

#[inline(always)]
fn sums<const ROWS: usize>(rows: &[Vec<f64>; ROWS], by: &[f64]) -> [f64; ROWS] {
    let mut partial = [[0.0; PARTIAL]; ROWS];
    let (blocks, rest) = by.as_chunks::<PARTIAL>();
    for (block, by) in blocks.iter().enumerate() {
        for row in 0..ROWS {
            let own = &rows[row][block * PARTIAL..][..PARTIAL];
            for k in 0..PARTIAL {
                partial[row][k] += own[k] * by[k];
            }
        }
    }
    let mut all = [0.0; ROWS];
    for row in 0..ROWS {
        let mut sum = 0.0;
        for (own, by) in rows[row][blocks.len() * PARTIAL..].iter().zip(rest) {
            sum += own * by;
        }
        all[row] = partial[row].iter().sum::<f64>() + sum;
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_of_any_number_and_length_are_summed() {
        for (count, length) in [(0, 3), (1, 0), (3, 7), (4, 8), (9, 21), (13, 40)] {
            let rows: Vec<Vec<f64>> = (0..count)
                .map(|row| (0..length).map(|k| (row * k) as f64 - 5.0).collect())
                .collect();
            let by: Vec<f64> = (0..length).map(|k| 3.0 - k as f64).collect();
            let mut out = vec![-1.0];
            times(&rows, &by, &mut out);
            // Whole numbers: every order of the sum gives the same.
            let plain = |row: &Vec<f64>| row.iter().zip(&by).map(|(x, y)| x * y).sum::<f64>();
            let wanted: Vec<f64> = std::iter::once(-1.0)
                .chain(rows.iter().map(plain))
                .collect();
            assert_eq!(out, wanted);
        }
    }
}
