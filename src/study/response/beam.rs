//! Light at a block of wavelengths.

use crate::calculus::Coherency;

/// Wavelengths that are summed at once: the widest vector in use.
pub(super) const LANES: usize = 8;

/// One number at each of a block of wavelengths.
pub(super) type Lanes = [f64; LANES];

/// A coherency matrix at each of a block of wavelengths: `xx, yy, xy_re, xy_im`. Aligned to the widest vectors.
#[derive(Debug, Clone, Copy, Default)]
#[repr(align(64))]
pub(super) struct Beam(pub(super) [Lanes; 4]);

impl Beam {
    pub(super) fn coherency(&self, lane: usize) -> Coherency {
        let [xx, yy, xy_re, xy_im] = self.0.map(|lanes| lanes[lane]);
        Coherency {
            xx,
            yy,
            xy_re,
            xy_im,
        }
    }

    pub(super) fn set(&mut self, lane: usize, light: Coherency) {
        let numbers = [light.xx, light.yy, light.xy_re, light.xy_im];
        for (lanes, number) in self.0.iter_mut().zip(numbers) {
            lanes[lane] = number;
        }
    }
}
