//! A picture of one number for each pixel, on which the disc is looked for.

use super::merge::Merged;
use crate::threads;

/// Light of each pixel, in any unit.
pub(super) struct Grey {
    /// Pixels.
    pub(super) width: usize,
    /// Pixels.
    pub(super) height: usize,
    /// Row by row.
    pub(super) values: Vec<f32>,
}

/// Rows that one piece of work takes.
const ROWS: usize = 64;

/// Of more pixels, squares of so many that no more are left are taken together.
const MOST_PIXELS: usize = 16_000_000;

impl Grey {
    /// The mean of the channels' rates. A pixel that is saturated in every exposure gets full scale in the shortest.
    ///
    /// Of a large picture, squares of so many pixels to a side are taken together: the second answer, else 1. Pixels to the right and at the bottom
    /// that fill no square are left out.
    pub(super) fn of(merged: &Merged) -> (Self, usize) {
        match merged.header.channels {
            1 => Self::of_channels::<1>(merged),
            _ => Self::of_channels::<3>(merged),
        }
    }

    fn of_channels<const CHANNELS: usize>(merged: &Merged) -> (Self, usize) {
        let pixels = merged.header.width * merged.header.height;
        let mut side = 1;
        while pixels > MOST_PIXELS * side * side {
            side += 1;
        }
        let (width, height) = (merged.header.width / side, merged.header.height / side);
        let brightest = 1.0 / merged.shortest_exposure();
        let light =
            |(rates, _): ([f64; 3], u8)| rates[..CHANNELS].iter().sum::<f64>() / CHANNELS as f64;
        let area = (side * side) as f64;
        let pieces = threads::map(0..height.div_ceil(ROWS), |piece| {
            let rows = piece * ROWS..height.min((piece + 1) * ROWS);
            let mut values = Vec::with_capacity(rows.len() * width);
            for j in rows {
                let mut sums = vec![0.0; width];
                for row in (j * side..(j + 1) * side).map(|j| merged.row(j)) {
                    for (i, sum) in sums.iter_mut().enumerate() {
                        for i in i * side..(i + 1) * side {
                            *sum += row.pixel::<CHANNELS>(i).map_or(brightest, light);
                        }
                    }
                }
                values.extend(sums.iter().map(|sum| (sum / area) as f32));
            }
            values
        });
        let grey = Self {
            width,
            height,
            values: pieces.concat(),
        };
        (grey, side)
    }

    /// The value between the four nearest pixels' centres; `None` outside the picture.
    pub(super) fn at(&self, x: f64, y: f64) -> Option<f64> {
        let (x, y) = (x - 0.5, y - 0.5);
        let (most_x, most_y) = (self.width as f64 - 1.0, self.height as f64 - 1.0);
        if !((0.0..=most_x).contains(&x) && (0.0..=most_y).contains(&y)) {
            return None;
        }
        let (i, j) = (
            (x as usize).min(self.width.checked_sub(2)?),
            (y as usize).min(self.height.checked_sub(2)?),
        );
        let (right, down) = (x - i as f64, y - j as f64);
        let value =
            |i: usize, j: usize| self.values.get(j * self.width + i).copied().map(f64::from);
        let upper = value(i, j)? * (1.0 - right) + value(i + 1, j)? * right;
        let lower = value(i, j + 1)? * (1.0 - right) + value(i + 1, j + 1)? * right;
        Some(upper * (1.0 - down) + lower * down)
    }
}
