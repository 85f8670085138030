//! A number of the light path that a study may vary.
//!
//! # Examples
//! ```
//! use polstack::study::quantity::Quantity;
//! let path = polstack::scenario::read("scenarios/pond-life.toml".as_ref()).unwrap().scene.path;
//! let strain = Quantity::all(&path)[0];
//! assert_eq!((strain.words().as_str(), strain.unit()), ("strain of the 1st profile", "nm"));
//! let strained = strain.with(&path, 3.0);
//! assert_eq!(strain.value(&strained), Some(3.0));
//! ```

use crate::light_path::{LightPath, PartKind};
use crate::optics::{AskewPlate, BiaxialPlate, LensForm, Ray, Retarder, Specimen, Strain};

use super::measures::GREEN_NM;

/// One number of a light path. Angles are in radians, path differences in nm, both absolute and not offsets.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Quantity {
    /// Index of its part in [`LightPath::parts`]; `None` for a number of the whole stack.
    pub part: Option<usize>,
    /// Which number.
    pub kind: QuantityKind,
}

/// The kinds of quantity.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum QuantityKind {
    /// How much one strain profile of a lens is, nm: [`Strain::amount_nm`].
    StrainAmount {
        /// Index of the profile in the lens.
        profile: usize,
    },
    /// Azimuth of one strain profile: a uniform strain's slow azimuth, a clamp's first contact, a map's turn. A radial strain
    /// has none.
    StrainAzimuth {
        /// Index of the profile in the lens.
        profile: usize,
    },
    /// Azimuth of a polar, a retarder, a plate or a specimen.
    Azimuth,
    /// Path difference of a retarder, a plate or a specimen, nm: a retarder's as stated, a crystal's at right angles and 546.1 nm.
    PathDifference,
    /// Fraction of the light that parallel polars pass which reaches the image unpolarized.
    StrayFraction,
    /// Number of surfaces of a lens, a whole number.
    Surfaces,
}

impl Quantity {
    /// Every quantity that a path has, part by part, the stray fraction last.
    #[must_use]
    pub fn all(path: &LightPath) -> Vec<Self> {
        let mut all = Vec::new();
        for (part, p) in path.parts.iter().enumerate() {
            let profiles = match &p.kind {
                PartKind::Condenser(lens) | PartKind::Objective(lens) => lens.strain.len(),
                _ => 0,
            };
            let strains = (0..profiles).flat_map(|profile| {
                [
                    QuantityKind::StrainAmount { profile },
                    QuantityKind::StrainAzimuth { profile },
                ]
            });
            let others = [
                QuantityKind::PathDifference,
                QuantityKind::Azimuth,
                QuantityKind::Surfaces,
            ];
            all.extend(strains.chain(others).map(|kind| Self {
                part: Some(part),
                kind,
            }));
        }
        all.push(Self {
            part: None,
            kind: QuantityKind::StrayFraction,
        });
        all.retain(|quantity| quantity.value(path).is_some());
        all
    }

    /// What it is in a path; `None` in a path that has no such quantity.
    #[must_use]
    pub fn value(&self, path: &LightPath) -> Option<f64> {
        if self.kind == QuantityKind::StrayFraction {
            return Some(path.stray_fraction);
        }
        match (&path.parts.get(self.part?)?.kind, self.kind) {
            (PartKind::Condenser(lens) | PartKind::Objective(lens), kind) => match kind {
                QuantityKind::StrainAmount { profile } => amount_nm(lens.strain.get(profile)?),
                QuantityKind::StrainAzimuth { profile } => azimuth_rad(lens.strain.get(profile)?),
                QuantityKind::Surfaces => {
                    (lens.equal_surfaces().filter(|count| *count > 0)).map(f64::from)
                }
                _ => None,
            },
            (PartKind::Polarizer(polar) | PartKind::Analyzer(polar), QuantityKind::Azimuth) => {
                Some(polar.azimuth_rad)
            }
            (PartKind::Retarder(plate) | PartKind::Plate(plate), kind) => match kind {
                QuantityKind::PathDifference => Some(plate.path_difference_nm),
                QuantityKind::Azimuth => Some(plate.slow_azimuth_rad),
                _ => None,
            },
            (PartKind::Specimen(specimen), kind) => of_specimen(specimen, kind),
            _ => None,
        }
    }

    /// Gives it a value. A path that has no such quantity stays as it is; surfaces are rounded to a whole number.
    ///
    /// The amount of a clamp or a map is set by scaling, which cannot bring back a pattern that was scaled to nothing, nor its
    /// sign: always start from the path as written.
    ///
    /// Checked by: `tests/laws/response.rs`.
    pub fn set(&self, path: &mut LightPath, value: f64) {
        if self.kind == QuantityKind::StrayFraction {
            path.stray_fraction = value;
            return;
        }
        let part = self.part.and_then(|part| path.parts.get_mut(part));
        let Some(part) = part else { return };
        match (&mut part.kind, self.kind) {
            (PartKind::Condenser(lens) | PartKind::Objective(lens), kind) => match kind {
                QuantityKind::StrainAmount { profile } => {
                    if let Some(strain) = lens.strain.get_mut(profile) {
                        set_amount_nm(strain, value);
                    }
                }
                QuantityKind::StrainAzimuth { profile } => {
                    if let Some(strain) = lens.strain.get_mut(profile)
                        && let Some(azimuth) = azimuth_rad(strain)
                    {
                        *strain = strain.turned(value - azimuth);
                    }
                }
                // `as` takes what is below 0, beyond all whole numbers, or no number to the nearest end.
                QuantityKind::Surfaces => {
                    lens.form = LensForm::Equal {
                        surfaces: value.round() as u32,
                    }
                }
                _ => {}
            },
            (PartKind::Polarizer(polar) | PartKind::Analyzer(polar), QuantityKind::Azimuth) => {
                polar.azimuth_rad = value;
            }
            (PartKind::Retarder(plate) | PartKind::Plate(plate), kind) => {
                set_plate(plate, kind, value);
            }
            (PartKind::Specimen(specimen), kind) => set_specimen(specimen, kind, value),
            _ => {}
        }
    }

    /// In plain words, without the part's name.
    #[must_use]
    pub fn words(&self) -> String {
        let nth = |profile: usize| ordinal(profile + 1);
        match self.kind {
            QuantityKind::StrainAmount { profile } => {
                format!("strain of the {} profile", nth(profile))
            }
            QuantityKind::StrainAzimuth { profile } => {
                format!("azimuth of the {} profile", nth(profile))
            }
            QuantityKind::Azimuth => "azimuth".to_owned(),
            QuantityKind::PathDifference => "path difference".to_owned(),
            QuantityKind::StrayFraction => "stray fraction".to_owned(),
            QuantityKind::Surfaces => "surfaces".to_owned(),
        }
    }

    /// The unit that people are told it in: angles are shown in degrees. Empty for a pure number.
    #[must_use]
    pub fn unit(&self) -> &'static str {
        match self.kind {
            QuantityKind::StrainAmount { .. } | QuantityKind::PathDifference => "nm",
            QuantityKind::StrainAzimuth { .. } | QuantityKind::Azimuth => "deg",
            QuantityKind::StrayFraction | QuantityKind::Surfaces => "",
        }
    }

    /// A value in [`Self::unit`].
    #[must_use]
    pub fn in_unit(&self, value: f64) -> f64 {
        match self.kind {
            QuantityKind::StrainAzimuth { .. } | QuantityKind::Azimuth => value.to_degrees(),
            _ => value,
        }
    }

    /// The value that is this in [`Self::unit`].
    #[must_use]
    pub fn from_unit(&self, value: f64) -> f64 {
        match self.kind {
            QuantityKind::StrainAzimuth { .. } | QuantityKind::Azimuth => value.to_radians(),
            _ => value,
        }
    }

    /// The path with this quantity at a value.
    #[must_use]
    pub fn with(&self, path: &LightPath, value: f64) -> LightPath {
        let mut path = path.clone();
        self.set(&mut path, value);
        path
    }
}

/// A number as an ordinal: 1st, 2nd, 11th, 21st, 2.5th.
pub(crate) fn ordinal(number: impl std::fmt::Display) -> String {
    let digits = number.to_string();
    let ends = |end: &str| digits.ends_with(end);
    let suffix = match () {
        () if ["11", "12", "13"].into_iter().any(ends) || digits.contains('.') => "th",
        () if ends("1") => "st",
        () if ends("2") => "nd",
        () if ends("3") => "rd",
        () => "th",
    };
    format!("{digits}{suffix}")
}

/// `None` for a pattern of no strain at all, which no factor makes a strain.
fn amount_nm(strain: &Strain) -> Option<f64> {
    let amount = strain.amount_nm();
    match strain {
        Strain::Uniform { .. } | Strain::Radial { .. } => Some(amount),
        Strain::Clamp { .. } | Strain::Map(_) => (amount > 0.0).then_some(amount),
    }
}

fn set_amount_nm(strain: &mut Strain, value: f64) {
    match strain {
        Strain::Uniform {
            path_difference_nm, ..
        } => *path_difference_nm = value,
        Strain::Radial { edge_nm, .. } => *edge_nm = value,
        Strain::Clamp { .. } | Strain::Map(_) => {
            if let Some(amount) = amount_nm(strain) {
                *strain = strain.scaled(value / amount);
            }
        }
    }
}

fn azimuth_rad(strain: &Strain) -> Option<f64> {
    match strain {
        Strain::Uniform {
            slow_azimuth_rad, ..
        } => Some(*slow_azimuth_rad),
        Strain::Radial { .. } => None,
        Strain::Clamp {
            first_azimuth_rad, ..
        } => Some(*first_azimuth_rad),
        Strain::Map(map) => Some(map.turn_rad()),
    }
}

fn set_plate(plate: &mut Retarder, kind: QuantityKind, value: f64) {
    match kind {
        QuantityKind::PathDifference => plate.path_difference_nm = value,
        QuantityKind::Azimuth => plate.slow_azimuth_rad = value,
        _ => {}
    }
}

fn of_specimen(specimen: &Specimen, kind: QuantityKind) -> Option<f64> {
    match (specimen, kind) {
        (_, QuantityKind::Azimuth) => specimen.azimuth_rad(),
        (
            Specimen::Stated {
                path_difference_nm, ..
            },
            QuantityKind::PathDifference,
        ) => Some(*path_difference_nm),
        (
            Specimen::Plate { thickness_um, .. }
            | Specimen::Askew(AskewPlate { thickness_um, .. })
            | Specimen::Biaxial(BiaxialPlate { thickness_um, .. }),
            QuantityKind::PathDifference,
        ) => nm_a_micrometre(specimen).map(|slope| slope * thickness_um),
        _ => None,
    }
}

fn set_specimen(specimen: &mut Specimen, kind: QuantityKind, value: f64) {
    let slope = nm_a_micrometre(specimen);
    match (specimen, kind) {
        (specimen, QuantityKind::Azimuth) => {
            if let Some(azimuth_rad) = specimen.azimuth_mut() {
                *azimuth_rad = value;
            }
        }
        (
            Specimen::Stated {
                path_difference_nm, ..
            },
            QuantityKind::PathDifference,
        ) => *path_difference_nm = value,
        (
            Specimen::Plate { thickness_um, .. }
            | Specimen::Askew(AskewPlate { thickness_um, .. })
            | Specimen::Biaxial(BiaxialPlate { thickness_um, .. }),
            QuantityKind::PathDifference,
        ) => {
            if let Some(slope) = slope {
                *thickness_um = value / slope;
            }
        }
        _ => {}
    }
}

/// Path difference of a crystal plate, extraordinary minus ordinary or slow minus fast, that each micrometre adds at right angles at [`GREEN_NM`];
/// `None` where there is none.
fn nm_a_micrometre(specimen: &Specimen) -> Option<f64> {
    let upright = Ray {
        s: 0.0,
        azimuth_rad: 0.0,
    };
    let slope = match specimen {
        Specimen::Plate { crystal, .. } => {
            1e3 * (crystal.extraordinary.at(GREEN_NM) - crystal.ordinary.at(GREEN_NM))
        }
        Specimen::Askew(plate) => {
            let of_a_micrometre = AskewPlate {
                thickness_um: 1.0,
                ..plate.clone()
            };
            of_a_micrometre.ray(upright, GREEN_NM).path_difference_nm
        }
        Specimen::Biaxial(plate) => {
            1e3 * plate.impermeability(GREEN_NM).modes(upright).difference()
        }
        _ => return None,
    };
    (slope != 0.0).then_some(slope)
}

#[cfg(test)]
mod tests {
    use super::ordinal;

    #[test]
    fn ordinals_are_those_of_the_language() {
        for (number, words) in [
            (1, "1st"),
            (2, "2nd"),
            (3, "3rd"),
            (4, "4th"),
            (11, "11th"),
            (12, "12th"),
            (13, "13th"),
            (21, "21st"),
            (32, "32nd"),
            (111, "111th"),
        ] {
            assert_eq!(ordinal(number), words);
        }
        assert_eq!(ordinal(2.5), "2.5th");
    }
}
