//! How many rays a picture needs.

use std::f64::consts::TAU;

use crate::light_path::{LightPath, PartKind};
use crate::optics::{Ray, Rays, Specimen};
use crate::study::predict::GREEN_NM;

/// Rings and spokes of a picture without fringes.
const FEWEST: (usize, usize) = (65, 256);

/// The most: finer fringes are drawn too coarsely.
const MOST: (usize, usize) = (385, 1536);

/// Rays to a fringe: between them light is interpolated linearly, which is then off by at most 2 % of the fringe.
const TO_A_FRINGE: f64 = 16.0;

/// Places at which a path difference is looked at along the rim or a radius.
const PLACES: usize = 720;

/// Evenly spaced rings and spokes for a picture of a path: more of them where a crystal has fringes, within bounds.
#[must_use]
pub fn picture_rays(path: &LightPath) -> Rays {
    let (mut outward, mut around) = (0f64, 0f64);
    for part in &path.parts {
        if let PartKind::Specimen(specimen) = &part.kind {
            let (out, round) = fringes(specimen, path.na());
            (outward, around) = (outward + out, around + round);
        }
    }
    let count = |fringes: f64, fewest: usize, most: usize, multiple: usize| {
        // `as` takes what is beyond all whole numbers to the largest.
        let wanted = ((TO_A_FRINGE * fringes).ceil() as usize).min(most);
        wanted.next_multiple_of(multiple).clamp(fewest, most)
    };
    Rays::even(
        path.na(),
        count(outward, FEWEST.0, MOST.0, 1),
        count(around, FEWEST.1, MOST.1, 8),
    )
}

/// Fringes in green light along the radius that has most, and around the rim.
fn fringes(specimen: &Specimen, na: f64) -> (f64, f64) {
    let at = |s: f64, azimuth_rad: f64| {
        specimen
            .ray(Ray { s, azimuth_rad }, GREEN_NM)
            .path_difference_nm
    };
    let along = |points: &mut dyn Iterator<Item = f64>| {
        let seen: Vec<f64> = points.collect();
        let steps = seen.windows(2).map(|pair| (pair[1] - pair[0]).abs());
        steps.sum::<f64>() / GREEN_NM
    };
    let place = |k: usize| k as f64 / PLACES as f64;
    let outward = (0..8)
        .map(|k| TAU * f64::from(k) / 16.0)
        .map(|azimuth| along(&mut (0..=PLACES).map(|k| at(na * place(k), azimuth))))
        .fold(0.0, f64::max);
    let around = along(&mut (0..=PLACES).map(|k| at(na, TAU * place(k))));
    (outward, around)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::material::catalog;

    #[test]
    fn fringes_of_calcite_are_counted() {
        let crystal = catalog::crystal("calcite").unwrap();
        let across = Specimen::Across {
            crystal: crystal.clone(),
            thickness_um: 100.0,
        };
        // Ring m stands near NA 0.28 sqrt(m) in yellow light: 3 or 4 of them within 0.5, none around the rim.
        let (outward, around) = fringes(&across, 0.5);
        assert!((3.0..4.0).contains(&outward) && around == 0.0, "{outward}");
        let along = Specimen::Plate {
            crystal,
            thickness_um: 100.0,
            axis_azimuth_rad: 0.3,
        };
        let (outward, around) = fringes(&along, 0.5);
        // From the axis of the crystal to across it and back, twice around.
        assert!(outward > 1.0 && around > 4.0, "{outward} {around}");
    }
}
