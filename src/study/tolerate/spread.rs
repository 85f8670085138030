//! How the values of a periodic function are spread, from equally spaced samples.

use crate::math;

/// Points between two samples.
const FINE: usize = 16;

/// The value below which a fraction of a periodic function's values lie, from equally spaced samples; infinite where too few
/// samples are finite.
pub(super) fn quantile(sampled: &[f64], fraction: f64) -> f64 {
    let fine = interpolated(sampled);
    let pieces = || fine.iter().zip(fine.iter().cycle().skip(1));
    let below = |value: f64| -> f64 {
        let share = |(a, b): (&f64, &f64)| match (a.min(*b), a.max(*b)) {
            (low, _) if value < low => 0.0,
            (_, high) if value >= high => 1.0,
            // One end has no limit.
            (_, high) if high.is_infinite() => 0.5,
            (low, high) => (value - low) / (high - low),
        };
        pieces().map(share).sum::<f64>() / fine.len() as f64
    };
    let mut low = fine.iter().copied().fold(f64::INFINITY, f64::min);
    let finite = fine.iter().copied().filter(|value| value.is_finite());
    let mut high = finite.fold(low, f64::max);
    if low.is_infinite() || below(high) < fraction {
        return f64::INFINITY;
    }
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if below(middle) < fraction {
            low = middle;
        } else {
            high = middle;
        }
    }
    high
}

/// A periodic function between its equally spaced samples: its logarithm is interpolated by the cubics of Catmull and Rom. Next to a sample that is
/// infinite or 0 the function keeps the value of the nearest sample.
fn interpolated(sampled: &[f64]) -> Vec<f64> {
    let count = sampled.len();
    let log = |k: usize| math::log(sampled[k % count]);
    let point = |point: usize| {
        let (k, t) = (point / FINE, (point % FINE) as f64 / FINE as f64);
        let [before, here, next, after] = [k + count - 1, k, k + 1, k + 2].map(log);
        if ![before, here, next, after].iter().all(|l| l.is_finite()) {
            return sampled[(if t < 0.5 { k } else { k + 1 }) % count];
        }
        let (slope, slope_next) = (0.5 * (next - before), 0.5 * (after - here));
        let rise = next - here;
        let square = 3.0 * rise - 2.0 * slope - slope_next;
        let cube = slope + slope_next - 2.0 * rise;
        math::exp(here + t * (slope + t * (square + t * cube)))
    };
    (0..count * FINE).map(point).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `1 / |sin 2t|`: a fraction `p` of all azimuths lies below `1 / cos(p pi / 2)`.
    #[test]
    fn quantiles_of_a_cosecant_are_those_of_its_closed_form() {
        let sampled: Vec<f64> = (0..72)
            .map(|k| 1.0 / math::sin(2.0 * (f64::from(k) * 2.5f64.to_radians() + 0.003)).abs())
            .collect();
        for fraction in [0.05f64, 0.1, 0.5] {
            let exact = 1.0 / math::cos(0.5 * std::f64::consts::PI * fraction);
            let got = quantile(&sampled, fraction);
            assert!(
                (got / exact - 1.0).abs() < 1e-5,
                "{fraction}: {got} {exact}"
            );
        }
    }
}
