//! How many rays a picture needs.

use std::f64::consts::TAU;

use crate::light_path::{LightPath, PartKind};
use crate::optics::{Ray, Rays, Specimen};
use crate::study::measures::GREEN_NM;

/// How finely a picture is sampled.
struct Fineness {
    /// Rings and spokes of a picture without fringes.
    fewest: (usize, usize),
    /// The most: finer fringes are drawn too coarsely.
    most: (usize, usize),
    /// Rays to a fringe.
    to_a_fringe: f64,
}

/// For paper: light is interpolated linearly between rays, which is off by at most 2 % of a fringe.
const STILL: Fineness = Fineness {
    fewest: (65, 256),
    most: (385, 1536),
    to_a_fringe: 16.0,
};

/// For many small frames: off by at most 8 % of a fringe.
const MOVING: Fineness = Fineness {
    fewest: (49, 192),
    most: (129, 512),
    to_a_fringe: 8.0,
};

/// Places at which a path difference is looked at along the rim or a radius.
const PLACES: usize = 720;

/// Evenly spaced rings and spokes for a picture of a path: more of them where a crystal has fringes, within bounds.
#[must_use]
pub fn picture_rays(path: &LightPath) -> Rays {
    rays(path, &STILL)
}

/// The same for one of many small frames.
pub(super) fn frame_rays(path: &LightPath) -> Rays {
    rays(path, &MOVING)
}

fn rays(path: &LightPath, fineness: &Fineness) -> Rays {
    let (mut outward, mut around) = (0f64, 0f64);
    for part in &path.parts {
        if let PartKind::Specimen(specimen) = &part.kind {
            let (out, round) = fringes(specimen, path.na());
            (outward, around) = (outward + out, around + round);
        }
    }
    let count = |fringes: f64, fewest: usize, most: usize| {
        // `as` takes what is beyond all whole numbers to the largest.
        ((fineness.to_a_fringe * fringes).ceil() as usize).clamp(fewest, most)
    };
    let (fewest, most) = (fineness.fewest, fineness.most);
    Rays::even(
        path.na(),
        count(outward, fewest.0, most.0),
        count(around, fewest.1, most.1),
    )
}

/// Fringes in green light along the radius that has most, and around the rim.
fn fringes(specimen: &Specimen, na: f64) -> (f64, f64) {
    let at = |s: f64, azimuth_rad: f64| {
        let seen = specimen.ray(Ray { s, azimuth_rad }, GREEN_NM);
        match seen.circular_nm {
            0.0 => seen.path_difference_nm,
            _ => seen.between_modes_nm(),
        }
    };
    let along = |points: &mut dyn Iterator<Item = f64>| {
        let seen: Vec<f64> = points.collect();
        let steps = seen.windows(2).map(|pair| (pair[1] - pair[0]).abs());
        steps.sum::<f64>() / GREEN_NM
    };
    let place = |k: usize| k as f64 / PLACES as f64;
    let directions = if specimen.has_one_side() { 16 } else { 8 };
    let outward = (0..directions)
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
