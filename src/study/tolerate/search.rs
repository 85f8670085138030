//! Where a target is first missed on the way from a start.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use crate::light_path::{LightPath, PartKind};
use crate::optics::Strain;

use super::super::StudyError;
use super::super::quantity::{Quantity, QuantityKind};

/// A value beyond which a target is missed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Limit {
    /// There is none: the target is missed from the start.
    Missed,
    /// Here.
    At {
        /// The value.
        value: f64,
        /// What the quadrature leaves open.
        uncertainty: f64,
    },
    /// There is none up to this value.
    Beyond(f64),
}

impl Limit {
    /// The value, where there is a limit.
    #[must_use]
    pub fn value(&self) -> Option<f64> {
        match *self {
            Self::At { value, .. } => Some(value),
            _ => None,
        }
    }
}

/// Where a function of the distance falls below 1 first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Crossing {
    AtOnce,
    At(f64),
    Never,
}

/// Growth of the steps on the way.
const GROWTH: f64 = 1.15;

/// How far a search goes from its start: the first step, the longest one, and the end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Reach {
    pub(super) first: f64,
    pub(super) longest: f64,
    pub(super) end: f64,
}

impl Reach {
    /// For path differences, to half a wave of the shortest light.
    pub(super) fn path_difference(shortest_nm: f64) -> Self {
        Self {
            first: 0.01,
            longest: 4.0,
            end: 0.5 * shortest_nm,
        }
    }

    /// For an azimuth, to a quarter turn.
    pub(super) fn azimuth() -> Self {
        Self {
            first: 1e-5,
            longest: 2f64.to_radians(),
            end: FRAC_PI_2,
        }
    }

    /// For the stray fraction, to all the light.
    pub(super) fn fraction() -> Self {
        Self {
            first: 1e-9,
            longest: 0.05,
            end: 1.0,
        }
    }

    /// The same way, cut off or not.
    pub(super) fn up_to(self, end: f64) -> Self {
        Self {
            end: self.end.min(end),
            ..self
        }
    }

    /// Distances that are tried one after the other; a region of misses narrower than a step can be passed over.
    fn steps(self) -> impl Iterator<Item = f64> {
        let mut next = Some(self.first.min(self.end));
        std::iter::from_fn(move || {
            let here = next?;
            let ahead = here + ((GROWTH - 1.0) * here).min(self.longest);
            next = (here < self.end).then(|| ahead.min(self.end));
            Some(here)
        })
    }

    /// Where `times`, a function of the distance, first falls below 1.
    pub(super) fn first_miss(
        self,
        times: impl Fn(f64) -> Result<f64, StudyError>,
    ) -> Result<Crossing, StudyError> {
        let missed = |distance| Ok::<_, StudyError>(times(distance)? < 1.0);
        if missed(0.0)? {
            return Ok(Crossing::AtOnce);
        }
        let mut met = 0.0;
        for distance in self.steps() {
            if missed(distance)? {
                return Ok(Crossing::At(halved(met, distance, missed)?));
            }
            met = distance;
        }
        Ok(Crossing::Never)
    }
}

/// The border between a place where something is not so and one where it is, to the last bits.
pub(super) fn halved(
    mut not: f64,
    mut so: f64,
    is_so: impl Fn(f64) -> Result<bool, StudyError>,
) -> Result<f64, StudyError> {
    while (so - not).abs() > 1e-13 * so.abs().max(not.abs()) {
        let middle = 0.5 * (not + so);
        if middle == so || middle == not {
            break;
        }
        if is_so(middle)? {
            so = middle;
        } else {
            not = middle;
        }
    }
    Ok(0.5 * (not + so))
}

/// What an error of the light leaves open at a limit: the error of `times` over its slope, both logarithmic.
pub(super) fn uncertainty(
    at: f64,
    scale: f64,
    relative_error: f64,
    times: impl Fn(f64) -> Result<f64, StudyError>,
) -> Result<f64, StudyError> {
    let step = 1e-4 * scale;
    let slope = (times(at + step)? / times(at - step)?).ln() / (2.0 * step);
    let open = (relative_error / slope).abs();
    // Before a background without light there is no slope and no error.
    Ok(if open.is_finite() { open } else { 0.0 })
}

/// After what turn a strain profile looks the same again, radians; `None` for one that has no azimuth.
pub(super) fn period_rad(path: &LightPath, amount: Quantity) -> Option<f64> {
    let QuantityKind::StrainAmount { profile } = amount.kind else {
        return None;
    };
    let (PartKind::Condenser(lens) | PartKind::Objective(lens)) =
        &path.parts.get(amount.part?)?.kind
    else {
        return None;
    };
    match lens.strain.get(profile)? {
        Strain::Uniform { .. } => Some(PI),
        Strain::Radial { .. } => None,
        Strain::Clamp { contacts, .. } => Some(TAU / f64::from(*contacts)),
        Strain::Map(_) => Some(TAU),
    }
}
