//! Few colours for many: the palette of a GIF.

use std::sync::OnceLock;

/// Bits of a channel that are told apart.
const BITS: u32 = 6;

/// Colours are chosen by the look of one pixel in so many.
const EVERY: i32 = 3;

/// At most 256 colours, and for every bin of colours the nearest of them, found when it is first asked for.
pub(super) struct Palette {
    colors: Vec<[u8; 3]>,
    nearest: Vec<OnceLock<u8>>,
}

impl Palette {
    pub(super) fn of(colors: Vec<[u8; 3]>) -> Self {
        let nearest = vec![OnceLock::new(); 1 << (3 * BITS)];
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
        let bin = bin(color);
        *self.nearest[bin as usize].get_or_init(|| {
            let color = middle(bin);
            let near = (0..self.colors.len()).min_by_key(|&k| distance(self.colors[k], color));
            near.unwrap_or(0) as u8
        })
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

/// So many colours that stand for many others.
pub(super) fn chosen(seen: impl Iterator<Item = [u8; 3]>, count: usize) -> Vec<[u8; 3]> {
    let pixels: Vec<u8> = seen.flat_map(|[r, g, b]| [r, g, b, 255]).collect();
    let chosen = color_quant::NeuQuant::new(EVERY, count, &pixels).color_map_rgb();
    chosen.as_chunks().0.to_vec()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_colours_are_met_within_a_few_steps() {
        let plane = || (0..=255u8).flat_map(|r| (0..=255u8).map(move |g| [r, g, 128]));
        let palette = Palette::of(blend_greys(&chosen(plane(), 208), 48));
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
