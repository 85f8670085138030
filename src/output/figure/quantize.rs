//! Few colours for many, and moving pictures of them: GIFs.

use std::sync::OnceLock;

use gif::{Encoder, EncodingError, Frame, Repeat};

/// How long a frame is shown, a fraction of a second of hundredths.
pub(super) const DELAY: (u16, u16) = (8, 100);

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

    /// The index of a colour: its own where the palette has it, else the nearest one's.
    pub(super) fn index(&self, color: [u8; 3]) -> u8 {
        let bin = bin(color);
        *self.nearest[bin as usize].get_or_init(|| {
            let color = middle(bin);
            let near = (0..self.colors.len()).min_by_key(|&k| distance(self.colors[k], color));
            near.unwrap_or(0) as u8
        })
    }
}

fn bin(color: [u8; 3]) -> u32 {
    let channels = color.into_iter().map(|v| u32::from(v) >> (8 - BITS));
    channels.fold(0, |bin, channel| bin << BITS | channel)
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

/// The index of each pixel's colour. Neighbours are mostly alike: the last colour is looked up once.
fn indices(rgb: &[u8], index: impl Fn([u8; 3]) -> u8) -> Vec<u8> {
    let mut last = ([0; 3], index([0; 3]));
    let pixels = rgb.as_chunks().0.iter().map(|&color| {
        if color != last.0 {
            last = (color, index(color));
        }
        last.1
    });
    pixels.collect()
}

/// A frame of `size` by `size` pixels as it stands in a GIF.
pub(super) fn packed(size: usize, rgb: &[u8], index: impl Fn([u8; 3]) -> u8) -> Frame<'static> {
    let side = size as u16;
    let mut frame = Frame::from_indexed_pixels(side, side, indices(rgb, index), None);
    frame.delay = DELAY.0;
    frame.make_lzw_pre_encoded();
    frame
}

/// A GIF of such frames that begins again for ever.
pub(super) fn gif(
    size: usize,
    colors: &[u8],
    frames: &[Frame<'_>],
) -> Result<Vec<u8>, EncodingError> {
    let (mut bytes, side) = (Vec::new(), size as u16);
    let mut encoder = Encoder::new(&mut bytes, side, side, colors)?;
    encoder.set_repeat(Repeat::Infinite)?;
    for frame in frames {
        encoder.write_lzw_pre_encoded_frame(frame)?;
    }
    drop(encoder);
    Ok(bytes)
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
        let found = indices(&rgb, |color| palette.index(color));
        let off = (found.iter().zip(plane())).flat_map(|(index, color)| {
            let got = palette.colors[usize::from(*index)];
            [0, 1, 2].map(|k| got[k].abs_diff(color[k]))
        });
        let off = off.max().unwrap();
        // 208 boxes over 256 x 256: 160 of 16 x 16 and 48 of 16 x 32, so 16 from a middle, and up to 6 for bins 4 wide and their rounding.
        assert!(off <= 22, "{off}");
    }
}
