//! Which number of the path is meant.

use crate::light_path::{LightPath, PartKind};
use crate::optics::Strain;

use super::super::error::{NoVary, StudyError};
use super::super::quantity::{Quantity, QuantityKind};
use super::super::vary::{Profile, Vary};

/// A name must be at least this similar (Jaro-Winkler, 0 to 1) to be suggested; as in the catalog.
const SIMILAR: f64 = 0.75;

/// A quantity to vary, and the path that has it.
#[derive(Debug, Clone, PartialEq)]
pub struct Subject {
    /// The path; a strain that was asked for and is not written is in it, of 0 nm.
    pub path: LightPath,
    /// The quantity.
    pub quantity: Quantity,
    /// Whether such a strain was put in.
    pub assumed: bool,
}

impl Subject {
    /// The quantity that is meant by a part's name and what is asked for. Without `vary`: strain of a lens, azimuth of a polar,
    /// path difference of a retarder, a plate or a specimen. Without `profile`: a lens's first strain, or a uniform one.
    ///
    /// # Errors
    /// [`StudyError::UnknownPart`], [`StudyError::NothingToVary`].
    pub fn of(
        path: &LightPath,
        part: Option<&str>,
        vary: Option<Vary>,
        profile: Option<Profile>,
    ) -> Result<Self, StudyError> {
        let here = |part, kind| Self {
            path: path.clone(),
            quantity: Quantity { part, kind },
            assumed: false,
        };
        if vary == Some(Vary::Stray) {
            return Ok(here(None, QuantityKind::StrayFraction));
        }
        let index = named(path, part)?;
        let kind = &path.parts[index].kind;
        let refused = |why| StudyError::NothingToVary {
            part: path.parts[index].name.clone(),
            kind: kind.word(),
            why,
        };
        let usual = match kind {
            PartKind::Condenser(_) | PartKind::Objective(_) => Vary::Strain,
            PartKind::Polarizer(_) | PartKind::Analyzer(_) => Vary::Azimuth,
            PartKind::Retarder(_) | PartKind::Plate(_) | PartKind::Specimen(_) => {
                Vary::PathDifference
            }
            PartKind::Slide(_) => return Err(refused(NoVary::Slide)),
        };
        let subject = match vary.unwrap_or(usual) {
            Vary::Strain => return strain(path, index, profile, refused),
            Vary::Azimuth if usual == Vary::Strain => {
                let mut subject = strain(path, index, profile, refused)?;
                let QuantityKind::StrainAmount { profile } = subject.quantity.kind else {
                    return Ok(subject);
                };
                subject.quantity.kind = QuantityKind::StrainAzimuth { profile };
                if subject.assumed || subject.quantity.value(&subject.path).is_none() {
                    return Err(refused(NoVary::NoAzimuth));
                }
                subject
            }
            Vary::Azimuth => here(Some(index), QuantityKind::Azimuth),
            Vary::PathDifference => here(Some(index), QuantityKind::PathDifference),
            Vary::Surfaces | Vary::Stray => here(Some(index), QuantityKind::Surfaces),
        };
        if matches!(kind, PartKind::Specimen(_)) {
            return Err(refused(NoVary::Specimen));
        }
        let told = matches!(kind, PartKind::Condenser(lens) | PartKind::Objective(lens) if lens.equal_surfaces().is_none());
        if told && subject.quantity.kind == QuantityKind::Surfaces {
            return Err(refused(NoVary::SurfacesTold));
        }
        if subject.quantity.value(path).is_none() {
            return Err(refused(NoVary::Only(match usual {
                Vary::Strain => &[Vary::Strain, Vary::Azimuth, Vary::Surfaces],
                Vary::PathDifference => &[Vary::PathDifference, Vary::Azimuth],
                _ => &[Vary::Azimuth],
            })));
        }
        Ok(subject)
    }
}

/// Index of the part of a name.
pub(in crate::study) fn named(path: &LightPath, name: Option<&str>) -> Result<usize, StudyError> {
    let wanted = name.unwrap_or_default();
    let found = (path.parts.iter()).position(|part| part.name.eq_ignore_ascii_case(wanted));
    found.ok_or_else(|| {
        let names: Vec<String> = path.parts.iter().map(|part| part.name.clone()).collect();
        let nearest = (names.iter())
            .map(|known| {
                let similarity =
                    strsim::jaro_winkler(&known.to_lowercase(), &wanted.to_lowercase());
                (similarity, known)
            })
            .filter(|(similarity, _)| *similarity >= SIMILAR)
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, known)| known.clone());
        StudyError::UnknownPart {
            name: name.map(str::to_owned),
            nearest,
            names,
        }
    })
}

fn strain(
    path: &LightPath,
    index: usize,
    profile: Option<Profile>,
    refused: impl Fn(NoVary) -> StudyError,
) -> Result<Subject, StudyError> {
    let mut path = path.clone();
    let (PartKind::Condenser(lens) | PartKind::Objective(lens)) = &mut path.parts[index].kind
    else {
        return Err(refused(NoVary::NoLens));
    };
    let wanted = |strain: &Strain| profile.is_none_or(|wanted| Profile::of(strain) == wanted);
    let written = lens.strain.iter().position(wanted);
    let profile = match written {
        Some(profile) => profile,
        None => {
            lens.strain.push(match profile {
                None | Some(Profile::Uniform) => Strain::Uniform {
                    path_difference_nm: 0.0,
                    slow_azimuth_rad: 0.0,
                },
                Some(Profile::Radial) => Strain::radial(0.0),
                Some(shape @ (Profile::Clamp | Profile::Map)) => {
                    return Err(refused(NoVary::Unassumed(shape)));
                }
            });
            lens.strain.len() - 1
        }
    };
    let quantity = Quantity {
        part: Some(index),
        kind: QuantityKind::StrainAmount { profile },
    };
    if quantity.value(&path).is_none() {
        return Err(refused(NoVary::NoShape));
    }
    Ok(Subject {
        path,
        quantity,
        assumed: written.is_none(),
    })
}
