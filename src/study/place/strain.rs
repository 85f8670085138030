//! The strain of a condenser as one number that can be turned up and down.

use serde::Serialize;

use super::contest::Change;
use crate::calculus::Stokes;
use crate::light_path::{LightPath, PartKind};
use crate::math;
use crate::optics::{Rays, Strain};

/// The scan reaches up to this root mean square over the used aperture, nm, or twice what is written where that is more: beyond a
/// fifth of a wave a condenser is waste.
const MOST_NM: f64 = 100.0;

/// Rim of the radial strain that is assumed in a condenser without any, at a factor of 1, nm; a profile that is written without strength
/// gets as much, or as many newtons on each contact.
const ASSUMED_NM: f64 = 10.0;

/// Less than this is none, or profiles that cancel.
const NONE_NM: f64 = 1e-6;

/// Steps of the scan, closer together toward none.
const STEPS: usize = 24;

/// Rings and spokes of the mean over the used aperture.
const RAYS: (usize, usize) = (32, 128);

/// A condenser's strain, every profile multiplied by one factor.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Scan {
    /// Factors, rising from 0.
    pub(super) factor: Vec<f64>,
    /// Root mean square path difference over the used aperture at a factor of 1, nm.
    pub(super) rms_nm: f64,
    /// The same as written, nm.
    pub(super) written_rms_nm: f64,
    /// Each lens of the condenser with its strain at a factor of 1.
    lenses: Vec<(usize, Vec<Strain>)>,
    /// Whether the shape of the strain is assumed: because no profile is written, not even one with a strength of 0.
    pub(super) assumed: bool,
}

/// One profile of a condenser's strain, by its own number.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ProfileAmount {
    /// Name of the lens.
    pub part: String,
    /// The number.
    #[serde(flatten)]
    pub amount: Amount,
}

/// The number that a strain profile is written with.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "profile", rename_all = "snake_case")]
pub enum Amount {
    /// The same everywhere.
    Uniform {
        /// Path difference, nm.
        path_difference_nm: f64,
    },
    /// Growing toward the rim.
    Radial {
        /// Path difference at the rim, nm.
        edge_nm: f64,
    },
    /// Forces on the rim.
    Clamp {
        /// Force of each contact, N.
        force_n: f64,
    },
    /// A measured map.
    Map {
        /// Its [`Strain::amount_nm`].
        rms_nm: f64,
    },
}

/// A strain of the condenser at which the best place changes. JSON names the two places, and tells the ratio behind them (`output::json`).
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StrainFlip {
    /// What the condenser's whole strain is multiplied by.
    pub factor: f64,
    /// Root mean square path difference of the condenser over the used aperture, nm.
    pub rms_nm: f64,
    /// Relative uncertainty that the quadratures leave in `factor`, and so in `rms_nm` and in every profile.
    pub relative_uncertainty: f64,
    /// Index of the place that is best below it.
    #[serde(skip)]
    pub from: usize,
    /// Index of the place that is best above it.
    #[serde(skip)]
    pub to: usize,
    /// Extinction ratio of both there; `None` when nothing leaks.
    #[serde(skip)]
    pub extinction_ratio: Option<f64>,
    /// Each profile there.
    pub profiles: Vec<ProfileAmount>,
}

impl Scan {
    /// Of a path's condenser; `None` without one.
    pub(super) fn of(path: &LightPath) -> Option<Self> {
        let mut lenses: Vec<(usize, Vec<Strain>)> = (path.condensers())
            .map(|(part, lens)| (part, lens.strain.clone()))
            .collect();
        let written_rms_nm = rms_nm(path, &lenses)?;
        let mut assumed = false;
        if written_rms_nm < NONE_NM {
            for (_, strain) in &mut lenses {
                *strain = strain.iter().filter_map(with_strength).collect();
            }
            assumed = rms_nm(path, &lenses)? < NONE_NM;
        }
        if assumed {
            for (_, strain) in &mut lenses {
                strain.push(Strain::radial(ASSUMED_NM));
            }
        }
        let rms_nm = rms_nm(path, &lenses)?;
        let most = MOST_NM.max(2.0 * rms_nm) / rms_nm;
        let factor = (0..=STEPS)
            .map(|k| most * (k as f64 / STEPS as f64).powi(2))
            .collect();
        Some(Self {
            factor,
            rms_nm,
            written_rms_nm,
            lenses,
            assumed,
        })
    }

    /// The largest root mean square of the scan, nm.
    pub(super) fn most_nm(&self) -> f64 {
        self.factor[STEPS] * self.rms_nm
    }

    /// Whether the light of a path depends on its condenser's strain: before the lower polar unpolarized light does not.
    pub(super) fn matters(path: &LightPath) -> bool {
        let Stokes([_, polarized @ ..]) = path.lamp;
        let behind_polar = |(part, _)| path.lower_polar().is_none_or(|low| part > low);
        polarized != [0.0; 3] || path.condensers().any(behind_polar)
    }

    /// The path with its condenser's strain multiplied.
    pub(super) fn path(&self, path: &LightPath, factor: f64) -> LightPath {
        let mut path = path.clone();
        let mut strains = self.lenses.iter();
        for part in &mut path.parts {
            if let PartKind::Condenser(lens) = &mut part.kind
                && let Some((_, strain)) = strains.next()
            {
                lens.strain = strain.iter().map(|strain| strain.scaled(factor)).collect();
            }
        }
        path
    }

    /// A change of the best place with its strain in numbers. `path` names the lenses.
    pub(super) fn flip(&self, change: &Change, path: &LightPath) -> StrainFlip {
        let profiles = self.lenses.iter().flat_map(|(part, strain)| {
            let part = &path.parts[*part].name;
            strain.iter().map(|strain| ProfileAmount {
                part: part.clone(),
                amount: Amount::of(&strain.scaled(change.at)),
            })
        });
        StrainFlip {
            factor: change.at,
            rms_nm: change.at * self.rms_nm,
            relative_uncertainty: change.uncertainty / change.at,
            from: change.from,
            to: change.to,
            extinction_ratio: change.extinction_ratio,
            profiles: profiles.collect(),
        }
    }
}

impl Amount {
    fn of(strain: &Strain) -> Self {
        match *strain {
            Strain::Uniform {
                path_difference_nm, ..
            } => Self::Uniform { path_difference_nm },
            Strain::Radial { edge_nm, .. } => Self::Radial { edge_nm },
            Strain::Clamp { force_n, .. } => Self::Clamp { force_n },
            Strain::Map(_) => Self::Map {
                rms_nm: strain.amount_nm(),
            },
        }
    }
}

/// A profile written with a strength of 0 gets one, so that it can be multiplied; `None` for a map without any strain, which has no shape.
fn with_strength(strain: &Strain) -> Option<Strain> {
    let mut strain = strain.clone();
    match &mut strain {
        Strain::Uniform {
            path_difference_nm: strength,
            ..
        }
        | Strain::Radial {
            edge_nm: strength, ..
        }
        | Strain::Clamp {
            force_n: strength, ..
        } => {
            if *strength == 0.0 {
                *strength = ASSUMED_NM;
            }
        }
        Strain::Map(_) => return (strain.amount_nm() > 0.0).then_some(strain),
    }
    Some(strain)
}

/// Root mean square over the direct light of the sum of all profiles, each as `path difference x (cos, sin)(2 azimuth)`: what
/// thin retarders add up to. `None` without a lens.
fn rms_nm(path: &LightPath, lenses: &[(usize, Vec<Strain>)]) -> Option<f64> {
    let (part, _) = lenses.first()?;
    // Every lens of a condenser is crossed over the same fraction of its own aperture, and opposite to the pupil.
    let scale = -1.0 / path.rim_na(*part);
    let mut squares = 0.0;
    for (ray, weight) in Rays::disc(path.na(), RAYS.0, RAYS.1).iter() {
        let (sin, cos) = math::sincos(ray.azimuth_rad);
        let (x, y) = (scale * ray.s * cos, scale * ray.s * sin);
        let (mut cos2, mut sin2) = (0.0, 0.0);
        for local in lenses
            .iter()
            .flat_map(|(_, strain)| strain)
            .filter_map(|strain| strain.at(x, y))
        {
            let (sin, cos) = math::sincos(2.0 * local.slow_azimuth_rad);
            cos2 += local.path_difference_nm * cos;
            sin2 += local.path_difference_nm * sin;
        }
        squares += weight * (cos2 * cos2 + sin2 * sin2);
    }
    Some(squares.sqrt())
}
