//! What a false colour means: one scale for all discs of a command, in whole decades.

use crate::color::Xyz;
use crate::study::aperture::BackFocalPlane;
use crate::study::measures::NOTHING;

/// The most decades that the colours span.
const MOST_DECADES: i32 = 5;
/// Where there is no number.
pub(crate) const NO_NUMBER: [u8; 3] = [0xb4, 0xb4, 0xb4];

/// From light, relative to the parallel field's mean, to a place among the colours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LightScale {
    /// Powers of ten at the dark and at the light end.
    pub(crate) low: i32,
    pub(crate) high: i32,
    /// Whether light below the dark end occurs.
    pub(crate) cut: bool,
}

impl LightScale {
    /// Whole decades that hold some light: up to the brightest and down to the dimmest but for the dimmest hundredth, at most five. Light that is
    /// but the rounding of the arithmetic counts as none and does not stretch it.
    #[must_use]
    pub fn of(light: impl Iterator<Item = f64>) -> Self {
        Self::within(light, (1, MOST_DECADES), 100)
    }

    /// The same with so many decades at the fewest and at the most; one in `spared` values may be dimmer than the dark end.
    pub(crate) fn within(
        light: impl Iterator<Item = f64>,
        (fewest, most): (i32, i32),
        spared: usize,
    ) -> Self {
        let finite = light.filter(|light| light.is_finite());
        let (mut seen, none): (Vec<f64>, Vec<f64>) = finite.partition(|light| *light > NOTHING);
        seen.sort_by(f64::total_cmp);
        // A hair of slack: what is meant to be a power of ten may have been rounded.
        let slack = 1e-9;
        let (low, high) = match (seen.get(seen.len() / spared), seen.last()) {
            (Some(least), Some(most)) => (
                (least.log10() + slack).floor() as i32,
                (most.log10() - slack).ceil() as i32,
            ),
            _ => (-MOST_DECADES, 0),
        };
        let low = low.clamp(high - most, high - fewest);
        let dimmest = seen.first().copied().unwrap_or(0.0);
        Self {
            low,
            high,
            cut: !none.is_empty() || dimmest < 10f64.powi(low) * (1.0 - slack),
        }
    }

    /// For everything that a back focal plane's figures show, and the light of a film's frames.
    #[must_use]
    pub fn of_plane(plane: &BackFocalPlane, frames: impl Iterator<Item = f64>) -> Self {
        let views = std::iter::once(&plane.without_plate).chain(&plane.with_plate);
        let shown = views.map(|view| &view.light);
        let light = shown.chain(plane.build_up.iter().map(|step| &step.light));
        Self::of(light.flatten().map(Xyz::luminance).chain(frames))
    }

    /// The colour of some light among those from the dark end to the light one.
    pub(crate) fn color(&self, colors: &[[u8; 3]], light: f64) -> [u8; 3] {
        if light.is_nan() {
            return NO_NUMBER;
        }
        let log = light.max(f64::MIN_POSITIVE).log10();
        let span = f64::from(self.high - self.low);
        let place = ((log - f64::from(self.low)) / span).clamp(0.0, 1.0);
        colors[(place * (colors.len() - 1) as f64).round() as usize]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_scale_has_whole_decades_and_five_at_most() {
        let of = |values: &[f64]| {
            let scale = LightScale::of(values.iter().copied());
            (scale.low, scale.high, scale.cut)
        };
        assert_eq!(of(&[3e-4, 1.5e-3]), (-4, -2, false));
        assert_eq!(of(&[0.33, 0.43]), (-1, 0, false));
        assert_eq!(of(&[1e-4, 1e-2]), (-4, -2, false));
        assert_eq!(of(&[1e-12, 1.5e-3]), (-7, -2, true));
        assert_eq!(of(&[1e-4, 1e-4]), (-5, -4, false));
        assert_eq!(of(&[1e-33, 0.0, 2e-3, 1e-2]), (-3, -2, true));
        assert_eq!(of(&[0.0, f64::NAN]), (-5, 0, true));
        assert_eq!(of(&[f64::NAN, 0.5]), (-1, 0, false));
    }
}
