//! The colours of a map: dark is little, light is much.

use std::sync::OnceLock;

use crate::color::{Oklch, Swatch};

/// How many colours there are.
const COLORS: usize = 256;

/// Points of the curve that the colours are taken from.
const POINTS: usize = 2048;

/// Colours from dark wine over violet, blue and sea green to pale mint, evenly spaced to the eye.
///
/// A curve of our own through Oklab: lightness rises evenly, hue turns evenly from red to green by way of blue, and chroma is a
/// hump that stays inside sRGB. The colours stand at equal distances along that curve, so equal steps of the value look alike, and
/// in grey the map still rises without a break.
///
/// Checked by: this file's unit tests.
pub(crate) fn colors() -> &'static [[u8; 3]] {
    static RAMP: OnceLock<Vec<[u8; 3]>> = OnceLock::new();
    RAMP.get_or_init(computed)
}

fn computed() -> Vec<[u8; 3]> {
    let points: Vec<Oklch> = (0..=POINTS)
        .map(|k| curve(k as f64 / POINTS as f64))
        .collect();
    let mut along = vec![0.0];
    for pair in points.windows(2) {
        along.push(along[along.len() - 1] + distance(pair[0], pair[1]));
    }
    let whole = along[along.len() - 1];
    (0..COLORS)
        .map(|k| {
            let target = whole * k as f64 / (COLORS - 1) as f64;
            let point = along.partition_point(|&length| length < target);
            Swatch::of_linear(points[point.min(POINTS)].to_linear()).srgb
        })
        .collect()
}

/// So many of them, the first and the last among them.
pub(crate) fn some_colors(count: usize) -> Vec<[u8; 3]> {
    let place = |k| k * (COLORS - 1) / (count.max(2) - 1);
    (0..count).map(|k| colors()[place(k)]).collect()
}

/// Colours for what is less and what is more than it should be: blue, nearly white in the middle, orange; an odd number of them.
pub(crate) fn diverging() -> &'static [[u8; 3]] {
    static RAMP: OnceLock<Vec<[u8; 3]>> = OnceLock::new();
    RAMP.get_or_init(|| {
        let half = (COLORS / 2) as f64;
        (0..=COLORS)
            .map(|k| {
                let off = k as f64 / half - 1.0;
                let color = Oklch {
                    lightness: 0.97 - 0.45 * off.abs(),
                    chroma: 0.14 * off.abs(),
                    hue_deg: if off < 0.0 { 255.0 } else { 45.0 },
                };
                Swatch::of_linear(color.to_linear()).srgb
            })
            .collect()
    })
}

fn curve(t: f64) -> Oklch {
    Oklch {
        lightness: 0.16 + 0.80 * t,
        chroma: 0.04 + 0.09 * (std::f64::consts::PI * t).sin(),
        hue_deg: (375.0 - 235.0 * t) % 360.0,
    }
}

/// Distance in Oklab.
fn distance(a: Oklch, b: Oklch) -> f64 {
    let flat = |c: Oklch| {
        let (sin, cos) = c.hue_deg.to_radians().sin_cos();
        (c.chroma * cos, c.chroma * sin)
    };
    let ((ax, ay), (bx, by)) = (flat(a), flat(b));
    (a.lightness - b.lightness).hypot((ax - bx).hypot(ay - by))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_curve_needs_no_gamut_mapping() {
        for k in 0..=POINTS {
            let t = k as f64 / POINTS as f64;
            let swatch = Swatch::of_linear(curve(t).to_linear());
            assert!(!swatch.gamut_mapped, "{t}: {:?}", curve(t).to_linear());
        }
    }

    #[test]
    fn lightness_rises_all_the_way_and_steps_are_even() {
        let seen: Vec<Oklch> = (colors().iter())
            .map(|&[r, g, b]| {
                let rgb = palette::Srgb::new(r, g, b).into_format::<f64>();
                let linear = rgb.into_linear();
                Oklch::of_linear([linear.red, linear.green, linear.blue])
            })
            .collect();
        assert_eq!(seen.len(), COLORS);
        assert!(seen[0].lightness < 0.2 && seen[COLORS - 1].lightness > 0.93);
        let stride = 16;
        let steps: Vec<f64> = (0..COLORS - stride)
            .map(|k| {
                assert!(seen[k + 1].lightness > seen[k].lightness - 0.003, "{k}");
                assert!(
                    seen[k + stride].lightness > seen[k].lightness + 0.015,
                    "{k}"
                );
                distance(seen[k], seen[k + stride])
            })
            .collect();
        let mean = steps.iter().sum::<f64>() / steps.len() as f64;
        for (k, step) in steps.iter().enumerate() {
            assert!((step / mean - 1.0).abs() < 0.15, "{k}: {step} of {mean}");
        }
    }
}
