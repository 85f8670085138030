//! From what is written to a lens and its strain.

use super::decode::Fault;
use super::located::{Limited, Located, NameOr, Number, Surfaces};
use super::names;
use super::prescription::{self, MOST_SURFACES};
use super::schema::{
    ClampTable, CoatingWord, DispersionTable, LensTable, PartTable, SlowWord, StrainTable,
};
use super::spans::along_ray;
use super::tables::{self, Context, DISPERSION, STRAIN_MAP};
use crate::material::{Glass, Index};
use crate::optics::{Coating, Lens, LensForm, RadialAlong, RadialSlow, Strain, StrainMap};
use crate::spectrum::SpectralTable;

/// Most strain profiles on one lens.
const MOST_PROFILES: usize = 32;

pub(super) fn lens(
    table: &Located<LensTable>,
    part: &PartTable,
    context: &Context<'_>,
) -> Result<Lens, Fault> {
    let written = table.get();
    let immersion = names::immersion(written.immersion.as_ref())?;
    let na = na(table, immersion)?;
    let coating = coating(written.coating.as_ref().map(Located::get).copied());
    let form = form(table, coating, context)?;
    let glass = glass(table, &form, coating)?;
    let mut profiles = Vec::new();
    if let Some(strain) = &part.strain {
        if strain.get().len() > MOST_PROFILES {
            let why = format!("holds {} profiles", strain.get().len());
            let remedy = format!("at most {MOST_PROFILES}");
            return Err(Fault::refused(strain.span(), why, remedy));
        }
        for profile in strain.get() {
            profiles.push(profile_of(profile, &form, &glass, context)?);
        }
    }
    let dispersion = (part.strain_dispersion.as_ref())
        .map(|table| dispersion(table, profiles.is_empty(), context))
        .transpose()?;
    Ok(Lens {
        na,
        immersion,
        form,
        glass,
        coating,
        strain: profiles,
        strain_dispersion: dispersion,
    })
}

/// The full NA; NaN where a prescription is to say it.
fn na(table: &Located<LensTable>, immersion: f64) -> Result<f64, Fault> {
    match &table.get().na {
        Some(na) if na.value() >= immersion => {
            let allowed = format!("below the index of its immersion medium, {immersion}");
            Err(Fault::out_of_range(na.span(), allowed))
        }
        Some(na) => Ok(na.value()),
        None if table.get().prescription.is_some() => Ok(f64::NAN),
        None => Err(Fault::missing(table.span(), "na")),
    }
}

pub(super) fn coating(word: Option<CoatingWord>) -> Coating {
    match word {
        None | Some(CoatingWord::None) => Coating::None,
        Some(CoatingWord::Mgf2) => Coating::Mgf2,
        Some(CoatingWord::Ideal) => Coating::Ideal,
    }
}

fn form(
    table: &Located<LensTable>,
    coating: Coating,
    context: &Context<'_>,
) -> Result<LensForm, Fault> {
    let written = table.get();
    match (
        &written.surfaces,
        &written.bending_deg,
        &written.prescription,
    ) {
        (Some(surfaces), None, None) => Ok(LensForm::Equal {
            surfaces: surfaces_of(surfaces)?,
        }),
        (None, Some(bending), None) => {
            let count = bending.get().len();
            if !(1..=MOST_SURFACES).contains(&count) {
                let why = format!("holds {count} angles");
                let remedy = format!("one for each glass-air surface, 1 to {MOST_SURFACES}");
                return Err(Fault::refused(bending.span(), why, remedy));
            }
            let radians = bending.get().iter().map(|deg| deg.value().to_radians());
            Ok(LensForm::Bending {
                bending_rad: radians.collect(),
            })
        }
        (None, None, Some(prescription)) => {
            let csv = &prescription.get().csv;
            prescription::read(csv, context, coating)
        }
        (None, None, None) if coating == Coating::Ideal => Ok(LensForm::Equal { surfaces: 0 }),
        (None, None, None) => Err(Fault::refused(
            table.span(),
            "does not tell the lens's surfaces",
            "add `surfaces` (a number, or \"ideal\"), `bending_deg` or `prescription`",
        )),
        _ => Err(Fault::refused(
            table.span(),
            "tells the surfaces in more than one way",
            "allowed: one of surfaces, bending_deg, prescription",
        )),
    }
}

fn glass(table: &Located<LensTable>, form: &LensForm, coating: Coating) -> Result<Glass, Fault> {
    let written = table.get();
    if let LensForm::Prescription(told) = form {
        if let Some(glass) = &written.glass {
            return Err(Fault::refused(
                glass.span(),
                "stands beside a prescription, which names its own glasses",
                "take `glass` out",
            ));
        }
        let first = told
            .surfaces
            .iter()
            .find_map(|surface| surface.after.clone());
        return Ok(first.unwrap_or_else(no_glass));
    }
    match &written.glass {
        Some(glass) => names::glass(glass),
        None if coating == Coating::Ideal || *form == (LensForm::Equal { surfaces: 0 }) => {
            Ok(no_glass())
        }
        None => {
            let surfaces = written.surfaces.as_ref().map(Located::span);
            let surfaces = surfaces.or(written.bending_deg.as_ref().map(Located::span));
            Err(Fault::refused(
                surfaces.unwrap_or(table.span()),
                "asks for a glass",
                "add `glass`: a name of the catalog or an index",
            ))
        }
    }
}

/// What stands for the glass of surfaces that do nothing.
fn no_glass() -> Glass {
    Glass {
        name: "none".into(),
        index: Index::Constant(1.5),
        stress_optic_brewster: None,
    }
}

fn surfaces_of(written: &Located<NameOr<Limited<Surfaces>>>) -> Result<u32, Fault> {
    match written.get() {
        // Whole and at most 200: nothing is cut off.
        NameOr::Other(count) => Ok(count.value() as u32),
        NameOr::Name(name) if name == "ideal" => Ok(0),
        NameOr::Name(_) => Err(names::unknown_among(
            written,
            "number of surfaces",
            ["ideal"],
        )),
    }
}

fn dispersion(
    written: &Located<DispersionTable>,
    strain_free: bool,
    context: &Context<'_>,
) -> Result<SpectralTable, Fault> {
    if strain_free {
        let why = "stands on a part without strain";
        return Err(Fault::refused(
            written.span(),
            why,
            "add `strain`, or take it out",
        ));
    }
    let csv = &written.get().csv;
    tables::read_spectral(csv, context, &DISPERSION)?.spectrum(1)
}

fn profile_of(
    written: &Located<StrainTable>,
    form: &LensForm,
    glass: &Glass,
    context: &Context<'_>,
) -> Result<Strain, Fault> {
    let StrainTable {
        uniform,
        radial,
        clamp,
        map,
    } = written.get();
    match (uniform, radial, clamp, map) {
        (Some(uniform), None, None, None) => Ok(Strain::Uniform {
            path_difference_nm: uniform.get().path_difference_nm.value(),
            slow_azimuth_rad: uniform.get().azimuth_deg.value().to_radians(),
        }),
        (None, Some(radial), None, None) => {
            if let Some(along) = along_ray(written)
                && !matches!(form, LensForm::Prescription(_))
            {
                return Err(Fault::refused(
                    along,
                    "asks for rays through a lens whose surfaces are not known",
                    "add `prescription` to the lens, or take `along` out",
                ));
            }
            Ok(Strain::Radial {
                edge_nm: radial.get().edge_nm.value(),
                slow: match radial.get().slow.as_ref().map(Located::get) {
                    None | Some(SlowWord::Radial) => RadialSlow::Radial,
                    Some(SlowWord::Tangential) => RadialSlow::Tangential,
                },
                // Rays are followed once the whole stack is known.
                along: RadialAlong::Axis,
            })
        }
        (None, None, Some(clamp), None) => clamp_of(clamp, glass),
        (None, None, None, Some(map)) => strain_map(&map.get().csv, context).map(Strain::Map),
        _ => Err(Fault::refused(
            written.span(),
            "does not say one strain profile",
            "allowed: one of uniform, radial, clamp, map in each { }",
        )),
    }
}

fn clamp_of(written: &Located<ClampTable>, glass: &Glass) -> Result<Strain, Fault> {
    let clamp = written.get();
    let own = clamp.stress_optic_brewster.as_ref().map(Number::value);
    let Some(stress_optic_brewster) = own.or(glass.stress_optic_brewster) else {
        return Err(Fault::refused(
            written.span(),
            "presses a glass whose stress-optic coefficient is not known",
            "add `stress_optic_brewster`, or name a glass that has one",
        ));
    };
    Ok(Strain::Clamp {
        // Whole and at most 64: nothing is cut off.
        contacts: clamp.contacts.value() as u32,
        force_n: clamp.force_n.value(),
        diameter_mm: clamp.diameter_mm.value(),
        first_azimuth_rad: (clamp.azimuth_deg.as_ref()).map_or(0.0, |deg| deg.value().to_radians()),
        stress_optic_brewster,
    })
}

fn strain_map(csv: &Located<String>, context: &Context<'_>) -> Result<StrainMap, Fault> {
    let table = tables::read(csv, context.files, &STRAIN_MAP)?;
    let nodes: Vec<_> = (table.rows.iter())
        .map(|&[x, y, path_difference_nm, azimuth_deg, _error_nm]| {
            (x, y, path_difference_nm, azimuth_deg.to_radians())
        })
        .collect();
    StrainMap::new(&nodes).map_err(|error| table.unusable(error.to_string()))
}
