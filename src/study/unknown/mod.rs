//! Numbers of a light path that nobody knows exactly: which they are, and what each may be before anything is read.
//!
//! A strain, a sheet's leak, an azimuth: each unknown has a prior. [`Unknowns::of_bench`] takes what a user at the bench cannot know of a
//! stand; [`Unknowns::of_file`] what the file and the catalog leave open when all that is written is taken at its word.
//!
//! # Examples
//! ```
//! use polstack::study::unknown::Unknowns;
//! let path = polstack::scenario::read("scenarios/pond-life.toml".as_ref()).unwrap().scene.path;
//! let unknowns = Unknowns::of_bench(&path);
//! assert!(unknowns.names().contains(&"condenser.radial.edge_nm"));
//! ```

mod list;
mod prior;

use std::f64::consts::PI;

use serde::Serialize;

pub use list::{UnknownError, cover_prior};
pub use prior::{Prior, SIGMAS_OF_90};

use super::interval::Interval;
use super::leak::Cause;
use super::quantity::{Quantity, QuantityKind};
use crate::math;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;

use crate::light_path::{LightPath, PartKind};
use crate::optics::{LensForm, Strain};

/// Where an axis may lie in any direction, 90 % of its azimuths lie within 162 degrees; draws of it scatter a little.
const ANY_AXIS_DEG: f64 = 155.0;

/// A number that is told of an unknown.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Told {
    /// Its name: that of the part, the kind and the key in the scenario.
    pub name: String,
    /// The part that it belongs to.
    pub part: String,
    /// What it makes leak.
    pub cause: Cause,
    /// Its unit; empty for a pure number.
    pub unit: &'static str,
}

impl Told {
    /// Whether it is the azimuth of a strain, which is the same again after half a turn.
    #[must_use]
    pub fn is_axis(&self) -> bool {
        self.name.ends_with(".azimuth_deg") && self.cause == Cause::Strain
    }

    /// Whether its interval before any reading says nothing: that of an axis which may lie in any direction. After readings a wide interval may hold two
    /// narrow groups.
    #[must_use]
    pub fn is_any(&self, prior: &Interval) -> bool {
        self.is_axis() && prior.width() > ANY_AXIS_DEG
    }
}

/// What of a path an unknown is, and by which numbers it is sampled.
#[derive(Debug, Clone, PartialEq)]
pub enum Sampled {
    /// A uniform strain, by `G cos 2a` and `G sin 2a` in nm.
    UniformStrain {
        /// Index of the lens.
        part: usize,
        /// Index of the profile in the lens.
        profile: usize,
    },
    /// The edge of a radial strain, nm.
    RadialStrain {
        /// Index of the lens.
        part: usize,
        /// Index of the profile in the lens.
        profile: usize,
    },
    /// A clamp or a map, by the logarithm of a factor on what is written.
    ScaledStrain {
        /// Index of the lens.
        part: usize,
        /// Index of the profile in the lens.
        profile: usize,
        /// What a factor of 1 is told as: newtons of a clamp, 1 of a map.
        written: f64,
    },
    /// The absorbed vibration that a sheet passes, by the logarithm of a factor on what is written.
    SheetLeak {
        /// Indices of the polars that are cut from it.
        parts: Vec<usize>,
        /// `k2` as written, at 550 nm.
        written: f64,
    },
    /// The cover of a sheet, nm.
    SheetCover {
        /// Indices of the polars that are cut from it.
        parts: Vec<usize>,
    },
    /// How many surfaces of equal bending act like those of a lens, by its logarithm.
    Bending {
        /// Index of the lens.
        part: usize,
        /// By how much it bends the outermost ray that is used, radians.
        deviation_rad: f64,
    },
    /// Another number of the path, nm or radians.
    Number(Quantity),
    /// The stray fraction, by its logarithm.
    Stray,
}

/// One unknown: what it is, the priors of its sampled numbers, and what is told of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Unknown {
    /// What it is.
    pub sampled: Sampled,
    /// Of each sampled number. Those of a uniform strain lie along and across its written azimuth.
    pub priors: Vec<Prior>,
    /// What is told of it, as many numbers as are sampled.
    pub told: Vec<Told>,
    /// Of a uniform strain: twice the azimuth along which the first prior lies, radians.
    turn_rad: f64,
}

/// The unknowns of a path.
///
/// A *point* holds the sampled numbers of all unknowns, one after the other.
///
/// Checked by: `tests/laws/unknowns.rs`.
#[derive(Debug, Clone, PartialEq)]
pub struct Unknowns {
    /// The path as written, with the strain profiles of 0 nm that unknowns need.
    pub path: LightPath,
    /// The unknowns, part by part, stray light last.
    pub list: Vec<Unknown>,
}

impl Unknown {
    /// How many numbers are sampled.
    #[must_use]
    pub fn count(&self) -> usize {
        self.priors.len()
    }

    /// Its numbers as they are told.
    pub(crate) fn told_values(&self, point: &[f64]) -> Vec<f64> {
        match &self.sampled {
            Sampled::UniformStrain { .. } => {
                let (nm, azimuth_rad) = axis(point[0], point[1]);
                vec![nm, azimuth_rad.to_degrees()]
            }
            Sampled::ScaledStrain { written, .. } | Sampled::SheetLeak { written, .. } => {
                vec![written * math::exp(point[0])]
            }
            Sampled::Bending { .. } | Sampled::Stray => vec![math::exp(point[0])],
            Sampled::Number(quantity) => vec![quantity.in_unit(point[0])],
            Sampled::RadialStrain { .. } | Sampled::SheetCover { .. } => vec![point[0]],
        }
    }

    /// The sampled numbers of which these are told.
    fn sample(&self, told: &[f64], point: &mut Vec<f64>) {
        match &self.sampled {
            Sampled::UniformStrain { .. } => {
                let (sin, cos) = math::sincos(2.0 * told[1].to_radians());
                point.extend([told[0] * cos, told[0] * sin]);
            }
            Sampled::ScaledStrain { written, .. } | Sampled::SheetLeak { written, .. } => {
                point.push(math::log(told[0] / written));
            }
            Sampled::Bending { .. } | Sampled::Stray => point.push(math::log(told[0])),
            Sampled::Number(quantity) => point.push(quantity.from_unit(told[0])),
            Sampled::RadialStrain { .. } | Sampled::SheetCover { .. } => point.push(told[0]),
        }
    }

    /// The numbers that the light is a smooth function of.
    pub(crate) fn smooth(&self, point: &[f64], out: &mut Vec<f64>) {
        match &self.sampled {
            Sampled::ScaledStrain { .. } | Sampled::SheetLeak { .. } | Sampled::Stray => {
                out.push(math::exp(point[0]));
            }
            // What p gains on s at the rim of the light, where bare surfaces bend alike: t_p/t_s = 1/cos(deviation/N) at each of N.
            Sampled::Bending { deviation_rad, .. } => {
                let surfaces = math::exp(point[0]);
                out.push(-surfaces * math::log(math::cos(deviation_rad / surfaces).max(1e-6)));
            }
            _ => out.extend(point),
        }
    }

    /// Gives a path these numbers. The path must be that of [`Unknowns::path`]: patterns are scaled from what is written.
    fn set(&self, path: &mut LightPath, point: &[f64]) {
        match &self.sampled {
            Sampled::UniformStrain { part, profile } => {
                let (nm, azimuth_rad) = axis(point[0], point[1]);
                if let Some(strain) = strain_mut(path, *part, *profile) {
                    *strain = Strain::Uniform {
                        path_difference_nm: nm,
                        slow_azimuth_rad: azimuth_rad,
                    };
                }
            }
            Sampled::RadialStrain { part, profile } => {
                if let Some(Strain::Radial { edge_nm, .. }) = strain_mut(path, *part, *profile) {
                    *edge_nm = point[0];
                }
            }
            Sampled::ScaledStrain { part, profile, .. } => {
                if let Some(strain) = strain_mut(path, *part, *profile) {
                    *strain = strain.scaled(math::exp(point[0]));
                }
            }
            Sampled::SheetLeak { parts, .. } => {
                for part in parts {
                    if let PartKind::Polarizer(polar) | PartKind::Analyzer(polar) =
                        &mut path.parts[*part].kind
                    {
                        polar.sheet.transmittance =
                            polar.sheet.transmittance.leaking(math::exp(point[0]));
                    }
                }
            }
            Sampled::SheetCover { parts } => {
                for part in parts {
                    if let PartKind::Polarizer(polar) | PartKind::Analyzer(polar) =
                        &mut path.parts[*part].kind
                    {
                        polar.sheet.cover_nm = point[0];
                    }
                }
            }
            Sampled::Bending { part, .. } => {
                if let PartKind::Condenser(lens) | PartKind::Objective(lens) =
                    &mut path.parts[*part].kind
                {
                    lens.form = LensForm::ActsLike {
                        surfaces: math::exp(point[0]),
                    };
                }
            }
            Sampled::Number(quantity) => quantity.set(path, point[0]),
            Sampled::Stray => path.stray_fraction = math::exp(point[0]),
        }
    }
}

/// Path difference and slow azimuth, from 0 to 180 degrees, of the strain whose components are these.
fn axis(cos2: f64, sin2: f64) -> (f64, f64) {
    (
        math::hypot(cos2, sin2),
        (0.5 * math::atan2(sin2, cos2)).rem_euclid(PI),
    )
}

fn strain_mut(path: &mut LightPath, part: usize, profile: usize) -> Option<&mut Strain> {
    match &mut path.parts[part].kind {
        PartKind::Condenser(lens) | PartKind::Objective(lens) => lens.strain.get_mut(profile),
        _ => None,
    }
}

impl Unknowns {
    /// How many numbers a point holds.
    #[must_use]
    pub fn count(&self) -> usize {
        self.list.iter().map(Unknown::count).sum()
    }

    /// The unknowns, each with its place in a point.
    pub fn places(&self) -> impl Iterator<Item = (&Unknown, std::ops::Range<usize>)> {
        let mut next = 0;
        self.list.iter().map(move |unknown| {
            let first = next;
            next += unknown.count();
            (unknown, first..next)
        })
    }

    /// What is told, number by number.
    pub fn told(&self) -> impl Iterator<Item = &Told> {
        self.list.iter().flat_map(|unknown| &unknown.told)
    }

    /// The names of what is told.
    #[must_use]
    pub fn names(&self) -> Vec<&str> {
        self.told().map(|told| told.name.as_str()).collect()
    }

    /// A point as it is told, in the order of [`Self::told`]: units as there, azimuths of strains from 0 to 180 degrees.
    #[must_use]
    pub fn told_values(&self, point: &[f64]) -> Vec<f64> {
        (self.places())
            .flat_map(|(unknown, place)| unknown.told_values(&point[place]))
            .collect()
    }

    /// The point of which these numbers are told; `None` where a number that is sampled by its logarithm is not above 0.
    #[must_use]
    pub fn point(&self, told: &[f64]) -> Option<Vec<f64>> {
        let mut point = Vec::with_capacity(self.count());
        for (unknown, place) in self.places() {
            unknown.sample(&told[place], &mut point);
        }
        point.iter().all(|value| value.is_finite()).then_some(point)
    }

    /// The path with the numbers of a point.
    #[must_use]
    pub fn with(&self, point: &[f64]) -> LightPath {
        let mut path = self.path.clone();
        for (unknown, place) in self.places() {
            unknown.set(&mut path, &point[place]);
        }
        path
    }

    /// Some of the unknowns, and of each point their numbers.
    #[must_use]
    pub fn some_of(
        &self,
        points: &[Vec<f64>],
        keep: impl Fn(&Unknown) -> bool,
    ) -> (Self, Vec<Vec<f64>>) {
        let (mut list, mut places) = (Vec::new(), Vec::new());
        for (unknown, place) in self.places().filter(|(unknown, _)| keep(unknown)) {
            list.push(unknown.clone());
            places.push(place);
        }
        let of = |point: &Vec<f64>| -> Vec<f64> {
            (places.iter().flat_map(|place| &point[place.clone()]))
                .copied()
                .collect()
        };
        let path = self.path.clone();
        (Self { path, list }, points.iter().map(of).collect())
    }

    /// A point of the prior.
    pub(crate) fn draw(&self, random: &mut ChaCha8Rng) -> Vec<f64> {
        let mut point = Vec::with_capacity(self.count());
        for unknown in &self.list {
            unknown.draw(random, &mut point);
        }
        point
    }

    /// A point of the prior with random numbers of its own for each unknown, told by its name: two stands that both do not know a number of that
    /// name get the same draw of it, whatever else they do not know.
    pub(crate) fn draw_by_name(&self, seed: u64, draw: usize) -> Vec<f64> {
        let mut point = Vec::with_capacity(self.count());
        for unknown in &self.list {
            let mut random = ChaCha8Rng::seed_from_u64(seed ^ number_of(&unknown.told[0].name));
            random.set_stream(draw as u64);
            unknown.draw(&mut random, &mut point);
        }
        point
    }

    /// Logarithm of the prior's density, to a constant.
    pub(crate) fn log_prior(&self, point: &[f64]) -> f64 {
        (self.places())
            .map(|(unknown, place)| {
                let here = &point[place];
                let along: Vec<f64> = match unknown.sampled {
                    Sampled::UniformStrain { .. } => {
                        turned(-unknown.turn_rad, [here[0], here[1]]).to_vec()
                    }
                    _ => here.to_vec(),
                };
                (unknown.priors.iter().zip(along))
                    .map(|(prior, value)| prior.log_density(value))
                    .sum::<f64>()
            })
            .sum()
    }
}

impl Unknown {
    fn draw(&self, random: &mut ChaCha8Rng, point: &mut Vec<f64>) {
        let drawn: Vec<f64> = self.priors.iter().map(|prior| prior.draw(random)).collect();
        match self.sampled {
            Sampled::UniformStrain { .. } => {
                point.extend(turned(self.turn_rad, [drawn[0], drawn[1]]));
            }
            _ => point.extend(drawn),
        }
    }
}

/// A number for a name: FNV-1a of 64 bits.
///
/// Source: G. Fowler, L. C. Noll and K.-P. Vo, the FNV hash (from memory); any number that differs from name to name would do.
fn number_of(name: &str) -> u64 {
    (name.bytes()).fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    })
}

fn turned(angle_rad: f64, [x, y]: [f64; 2]) -> [f64; 2] {
    let (sin, cos) = math::sincos(angle_rad);
    [cos * x - sin * y, sin * x + cos * y]
}

/// The quantity that the crossing error is: the analyzer's azimuth.
fn crossing(analyzer: usize) -> Quantity {
    Quantity {
        part: Some(analyzer),
        kind: QuantityKind::Azimuth,
    }
}
