//! Which of several places is best, and where along a scan that changes.

use super::HARDLY;
use crate::light_path::{LightPath, PartKind, PathError, run};
use crate::math;
use crate::order::sort_by_number;
use crate::study::lamp::Lamp;
use crate::study::measures::{ACCURACY, NOTHING};
use crate::study::root::root;

/// What the rounding of the arithmetic may change a leak by, relatively.
const ROUNDING: f64 = 1e-12;

/// Luminous light of the empty field.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct PlaceLight {
    /// Transmittance at parallel polars.
    pub(super) parallel: f64,
    /// At crossed polars over that at parallel ones.
    pub(super) leak: f64,
    /// Estimated relative error of both.
    pub(super) error: f64,
}

impl PlaceLight {
    /// Of a path without specimens, plates out.
    pub(super) fn of(path: &LightPath, lamp: &Lamp) -> Result<Self, PathError> {
        let Lamp {
            wavelengths_nm,
            luminous,
            ..
        } = lamp;
        path.check(wavelengths_nm)?;
        let path = &without_plates(path.clone());
        let quadrature = run::quadrature(path, wavelengths_nm, luminous, ACCURACY)?;
        let fields = run::fields(path, &quadrature.rays, wavelengths_nm, luminous)?;
        let parallel = lamp.luminance(&fields.parallel);
        // Without light nothing is worse.
        let leak = match lamp.luminance(&fields.crossed) / parallel {
            leak if leak > NOTHING => leak,
            leak if leak.is_nan() => f64::INFINITY,
            _ => 0.0,
        };
        Ok(Self {
            parallel,
            leak,
            error: quadrature.error + ROUNDING,
        })
    }

    /// Extinction ratio; `None` when nothing leaks.
    pub(super) fn extinction_ratio(&self) -> Option<f64> {
        (self.leak > NOTHING).then(|| 1.0 / self.leak)
    }

    /// Logarithm of this leak over another, and how far the quadratures leave that in doubt.
    fn against(&self, other: &Self) -> (f64, f64) {
        let log = |light: &Self| math::log(light.leak.max(NOTHING));
        (log(self) - log(other), self.error + other.error)
    }

    /// Whether this leaks less than another beyond doubt.
    pub(super) fn beats(&self, other: &Self) -> bool {
        let (difference, doubt) = self.against(other);
        difference < -doubt
    }
}

/// The path without its plates. They are out anyhow, and a run need not look at the field with them in.
pub(super) fn without_plates(mut path: LightPath) -> LightPath {
    (path.parts).retain(|part| !matches!(part.kind, PartKind::Plate(_)));
    path
}

/// The index of the place that leaks least. Several may be equal within their errors: then `preferred` if it is one of them, or else the first.
pub(super) fn best(lights: &[Option<PlaceLight>], preferred: usize) -> Option<usize> {
    let unbeaten = |index: &usize| {
        let light = lights.get(*index).copied().flatten();
        light.is_some_and(|light| !lights.iter().flatten().any(|other| other.beats(&light)))
    };
    Some(preferred)
        .filter(unbeaten)
        .or_else(|| (0..lights.len()).find(unbeaten))
}

/// Whether several places stand and leak within [`HARDLY`] of each other.
pub(super) fn all_alike(lights: impl Iterator<Item = Option<PlaceLight>>) -> bool {
    let leaks: Vec<f64> = lights
        .flatten()
        .map(|light| light.leak.max(NOTHING))
        .collect();
    let least = leaks.iter().copied().fold(f64::INFINITY, f64::min);
    leaks.len() > 1 && leaks.iter().all(|leak| *leak <= least * (1.0 + HARDLY))
}

/// Where the best of several places changes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Change {
    /// Value of what is scanned.
    pub(super) at: f64,
    /// What the quadratures leave it uncertain by.
    pub(super) uncertainty: f64,
    /// Index of the place that is best below it.
    pub(super) from: usize,
    /// Index of the place that is best above it.
    pub(super) to: usize,
    /// Extinction ratio of both there.
    pub(super) extinction_ratio: Option<f64>,
}

/// Every change of the best place along a rising scan: `lights[place][k]` belongs to `scan[k]`, and `light` gives any other value
/// between. Two changes of the same pair within one step stay unseen.
///
/// Places are taken in pairs; where a pair changes sides beyond doubt the logarithm of its ratio is brought to 0, and the
/// root counts when no third place is better there.
pub(super) fn changes(
    scan: &[f64],
    lights: &[Vec<Option<PlaceLight>>],
    light: impl Fn(usize, f64) -> Result<PlaceLight, PathError>,
) -> Result<Vec<Change>, PathError> {
    let mut found = Vec::new();
    for a in 0..lights.len() {
        for b in a + 1..lights.len() {
            for ends in brackets(scan, &lights[a], &lights[b]) {
                let pair = |x: f64| Ok::<_, PathError>((light(a, x)?, light(b, x)?));
                // The search ends when the difference that is left is a hundredth of its error.
                let at = root(ends[0], ends[1], 0.0, |x| {
                    let (a, b) = pair(x)?;
                    let (difference, doubt) = a.against(&b);
                    let equal = difference.abs() <= 0.01 * doubt;
                    Ok::<_, PathError>(if equal { 0.0 } else { difference })
                })?;
                let (here, there) = pair(at)?;
                // A place that is refused there is no rival.
                let rival = (0..lights.len())
                    .filter(|third| *third != a && *third != b)
                    .filter_map(|third| light(third, at).ok())
                    .any(|rival| rival.beats(&here) && rival.beats(&there));
                if !rival {
                    let (from, to) = if ends[0].1 < 0.0 { (a, b) } else { (b, a) };
                    found.push(Change {
                        at,
                        uncertainty: uncertainty(at, ends, &pair)?,
                        from,
                        to,
                        extinction_ratio: here.extinction_ratio(),
                    });
                }
            }
        }
    }
    sort_by_number(&mut found, |found| found.at);
    Ok(found)
}

/// A value of the scan, and the logarithm of the pair's ratio there.
type ScanPoint = (f64, f64);

/// Steps of the scan, each from one value to the next at which a pair is apart beyond doubt, over which the pair changes sides.
fn brackets(
    scan: &[f64],
    a: &[Option<PlaceLight>],
    b: &[Option<PlaceLight>],
) -> Vec<[ScanPoint; 2]> {
    let mut found = Vec::new();
    let mut before: Option<ScanPoint> = None;
    for (&x, pair) in scan.iter().zip(a.iter().zip(b)) {
        let (Some(a), Some(b)) = pair else { continue };
        let (difference, doubt) = a.against(b);
        if difference.abs() <= doubt {
            continue;
        }
        let here = (x, difference);
        if let Some(before) = before.filter(|before| before.1 * difference < 0.0) {
            found.push([before, here]);
        }
        before = Some(here);
    }
    found
}

/// `(doubt of A + doubt of B) / |d ln(A/B)/dx|`, the slope taken over a hundredth of the step on either side.
fn uncertainty(
    x: f64,
    [low, high]: [ScanPoint; 2],
    pair: &impl Fn(f64) -> Result<(PlaceLight, PlaceLight), PathError>,
) -> Result<f64, PathError> {
    let step = high.0 - low.0;
    let (from, to) = ((x - 0.01 * step).max(low.0), (x + 0.01 * step).min(high.0));
    let (a, b) = pair(from)?;
    let (below, doubt) = a.against(&b);
    let (a, b) = pair(to)?;
    let (above, doubt_above) = a.against(&b);
    let slope = (above - below).abs() / (to - from);
    Ok((doubt.max(doubt_above) / slope).min(step))
}
