//! Few colours for many: the palette of a GIF.

use crate::threads;

/// Bits of a channel that are told apart.
const BITS: u32 = 6;

/// At most 256 colours, with the nearest one to every colour.
pub(super) struct Palette {
    colors: Vec<[u8; 3]>,
    nearest: Vec<u8>,
}

impl Palette {
    pub(super) fn of(colors: Vec<[u8; 3]>) -> Self {
        let nearest = threads::map(0..1 << (3 * BITS), |bin| {
            let color = middle(bin as u32);
            let near = (0..colors.len()).min_by_key(|&k| distance(colors[k], color));
            near.unwrap_or(0) as u8
        });
        Self { colors, nearest }
    }

    pub(super) fn bytes(&self) -> &[u8] {
        self.colors.as_flattened()
    }

    /// The index of each pixel's colour: its own where the palette has it, else the nearest one's.
    pub(super) fn indices(&self, rgb: &[u8]) -> Vec<u8> {
        let mut last = ([0; 3], self.index([0; 3]));
        (rgb.chunks_exact(3))
            .map(|pixel| {
                let color = [pixel[0], pixel[1], pixel[2]];
                if color != last.0 {
                    last = (color, self.index(color));
                }
                last.1
            })
            .collect()
    }

    fn index(&self, color: [u8; 3]) -> u8 {
        self.nearest[bin(color) as usize]
    }
}

fn bin(color: [u8; 3]) -> u32 {
    color
        .iter()
        .fold(0, |bin, v| bin << BITS | u32::from(*v) >> (8 - BITS))
}

/// The colour in the middle of a bin; the ends are black and white themselves.
fn middle(bin: u32) -> [u8; 3] {
    let most = (1 << BITS) - 1;
    [2, 1, 0].map(|channel| ((bin >> (BITS * channel) & most) * 255 / most) as u8)
}

fn distance(a: [u8; 3], b: [u8; 3]) -> u32 {
    // Green counts most to the eye, blue least.
    (a.iter().zip(b).zip([3, 6, 1]))
        .map(|((a, b), weight)| weight * u32::from(a.abs_diff(b)).pow(2))
        .sum()
}

/// Colours with greys from black to white after them.
pub(super) fn blend_greys(colors: &[[u8; 3]], greys: usize) -> Vec<[u8; 3]> {
    let last = greys.max(2) - 1;
    let grey = (0..=last).map(|k| [(k * 255 / last) as u8; 3]);
    colors.iter().copied().chain(grey).collect()
}

/// At most `count` colours that stand for many: the box of colours that spreads most is cut in two at its median, again and again; each
/// box is then its mean.
///
/// Source: P. Heckbert 1982, Computer Graphics 16 (3), 297, "Color image quantization for frame buffer display" (from memory).
pub(super) fn median_cut(seen: impl Iterator<Item = [u8; 3]>, count: usize) -> Vec<[u8; 3]> {
    let mut often = vec![0u32; 1 << (3 * BITS)];
    for color in seen {
        often[bin(color) as usize] += 1;
    }
    let bins: Vec<([u8; 3], u64)> = (often.iter().enumerate())
        .filter(|(_, often)| **often > 0)
        .map(|(bin, often)| (middle(bin as u32), u64::from(*often)))
        .collect();
    if bins.is_empty() {
        return vec![[0; 3]];
    }
    let mut boxes = vec![bins];
    while boxes.len() < count {
        let spread = |bins: &[([u8; 3], u64)], channel: usize| {
            let values = || bins.iter().map(|(color, _)| color[channel]);
            values().max().unwrap_or(0) - values().min().unwrap_or(0)
        };
        let widest = (boxes.iter().enumerate())
            .flat_map(|(k, bins)| [0, 1, 2].map(|channel| (spread(bins, channel), k, channel)))
            .max_by_key(|(spread, k, _)| (*spread, usize::MAX - k));
        let Some((1.., k, channel)) = widest else {
            break;
        };
        let mut bins = boxes.swap_remove(k);
        bins.sort_by_key(|(color, _)| (color[channel], *color));
        let whole: u64 = bins.iter().map(|(_, often)| often).sum();
        let mut below = 0;
        let cut = bins.iter().position(|(_, often)| {
            below += often;
            2 * below >= whole
        });
        let cut = cut.map_or(1, |cut| cut + 1).clamp(1, bins.len() - 1);
        let upper = bins.split_off(cut);
        boxes.extend([bins, upper]);
    }
    let mean = |bins: &Vec<([u8; 3], u64)>| {
        let whole: u64 = bins.iter().map(|(_, often)| often).sum();
        [0, 1, 2].map(|channel| {
            let sum: u64 = (bins.iter())
                .map(|(color, often)| u64::from(color[channel]) * often)
                .sum();
            ((sum + whole / 2) / whole) as u8
        })
    };
    boxes.iter().map(mean).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_colours_are_kept_and_many_are_met_within_a_few_steps() {
        let few = [[0, 0, 0], [255, 0, 0], [0, 255, 255]];
        let mut kept = median_cut(few.into_iter().cycle().take(90), 8);
        kept.sort_unstable();
        assert_eq!(kept, [[0, 0, 0], [0, 255, 255], [255, 0, 0]]);
        let plane = || (0..=255u8).flat_map(|r| (0..=255u8).map(move |g| [r, g, 128]));
        let palette = Palette::of(blend_greys(&median_cut(plane(), 208), 48));
        assert_eq!(palette.bytes().len(), 768);
        let rgb: Vec<u8> = plane().flatten().collect();
        let off = (palette.indices(&rgb).iter().zip(plane()))
            .map(|(index, color)| {
                let got = palette.colors[usize::from(*index)];
                (got.iter().zip(color))
                    .map(|(a, b)| a.abs_diff(b))
                    .max()
                    .unwrap()
            })
            .max()
            .unwrap();
        // 208 boxes over 256 x 256: 160 of 16 x 16 and 48 of 16 x 32, so 16 from a middle, and up to 6 for bins 4 wide and their rounding.
        assert!(off <= 22, "{off}");
    }
}
