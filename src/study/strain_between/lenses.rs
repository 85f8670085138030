//! The lenses between the polars, and their strain.

use super::polynomial::nearest;
use crate::light_path::{LightPath, PartKind};
use crate::math;
use crate::optics::Strain;
use crate::study::doubt::Stands;
use crate::study::unknown::{Sampled, Unknowns};

/// Lenses between the polars, by their index.
#[must_use]
pub fn lenses_between(path: &LightPath) -> Vec<usize> {
    let lower = path.find(|kind| matches!(kind, PartKind::Polarizer(_)));
    let (Some(lower), Some(analyzer)) = (lower, path.analyzer()) else {
        return Vec::new();
    };
    (lower..analyzer)
        .filter(|part| {
            let kind = &path.parts[*part].kind;
            matches!(kind, PartKind::Condenser(_) | PartKind::Objective(_))
        })
        .collect()
}

/// The lens that carries the sum: the last one.
pub(super) fn carrier(path: &LightPath) -> Option<usize> {
    lenses_between(path).pop()
}

/// A stand with the strains of some of its lenses changed.
pub(super) fn with_strains(
    stand: &LightPath,
    lenses: impl IntoIterator<Item = usize>,
    change: impl Fn(&mut Vec<Strain>),
) -> LightPath {
    let mut path = stand.clone();
    for part in lenses {
        if let PartKind::Condenser(lens) | PartKind::Objective(lens) = &mut path.parts[part].kind {
            change(&mut lens.strain);
        }
    }
    path
}

/// A stand whose lenses between the polars have fast axes where slow ones were.
pub(super) fn exchanged_axes(stand: &LightPath) -> LightPath {
    with_strains(stand, lenses_between(stand), |strains| {
        for strain in strains {
            *strain = strain.scaled(-1.0);
        }
    })
}

/// Coefficients of the polynomials that come nearest to the sum of a stand's strains.
pub(super) fn summed(stand: &LightPath, disc_na: f64) -> Vec<f64> {
    let mut strains: Vec<(f64, &Strain)> = Vec::new();
    for part in lenses_between(stand) {
        let (lens, side) = match &stand.parts[part].kind {
            // Rays cross a condenser opposite to where they cross the objective's pupil.
            PartKind::Condenser(lens) => (lens, -1.0),
            PartKind::Objective(lens) => (lens, 1.0),
            _ => continue,
        };
        let scale = side * disc_na / stand.rim_na(part);
        strains.extend(lens.strain.iter().map(|strain| (scale, strain)));
    }
    nearest(|(x, y)| {
        let (mut u, mut v) = (0.0, 0.0);
        for (scale, strain) in &strains {
            if let Some(local) = strain.at(scale * x, scale * y) {
                let (sin, cos) = math::sincos(2.0 * local.slow_azimuth_rad);
                u += local.path_difference_nm * cos;
                v += local.path_difference_nm * sin;
            }
        }
        (u, v)
    })
}

/// Of stands that explain readings, what a map of them does not hold: all but the strains of the lenses between the polars.
///
/// Checked by: `tests/cli/photographs.rs`.
#[must_use]
pub fn beside_map(unknowns: &Unknowns, stands: &[Vec<f64>]) -> Stands {
    let lenses = lenses_between(&unknowns.path);
    let (unknowns, points) = unknowns.some_of(stands, |unknown| match &unknown.sampled {
        Sampled::UniformStrain { part, .. }
        | Sampled::RadialStrain { part, .. }
        | Sampled::ScaledStrain { part, .. } => !lenses.contains(part),
        _ => true,
    });
    Stands { unknowns, points }
}
