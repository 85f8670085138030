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

impl Grey {
    /// The mean of the channels' rates. A pixel that is saturated in every exposure gets full scale in the shortest.
    pub(super) fn of(merged: &Merged) -> Self {
        let (width, height) = (merged.header.width, merged.header.height);
        let channels = merged.header.channels as f64;
        let brightest = (1.0 / merged.shortest_exposure()) as f32;
        let pieces = threads::map(0..height.div_ceil(ROWS), |piece| {
            let rows = piece * ROWS..height.min((piece + 1) * ROWS);
            let mut values = Vec::with_capacity(rows.len() * width);
            for j in rows {
                let row = merged.row(j);
                values.extend((0..width).map(|i| match row.pixel(i) {
                    Some((rates, _)) => (rates.iter().sum::<f64>() / channels) as f32,
                    None => brightest,
                }));
            }
            values
        });
        Self {
            width,
            height,
            values: pieces.concat(),
        }
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
