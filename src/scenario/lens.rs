//! From what is written to a lens and its strain.

use std::ops::Range;

use super::decode::Fault;
use super::located::{Limited, Located, NameOr, Number, Surfaces};
use super::names;
use super::schema::{
    ClampTable, CoatingWord, DispersionTable, LensTable, PartTable, SlowWord, StrainTable,
};
use super::tables::{self, Context, DISPERSION, STRAIN_MAP};
use crate::material::{Glass, Index};
use crate::optics::{Coating, Lens, RadialSlow, Strain, StrainMap};
use crate::spectrum::SpectralTable;

/// Most strain profiles on one lens.
const MOST_PROFILES: usize = 32;

pub(super) fn lens(
    written: &LensTable,
    part: &PartTable,
    context: &Context<'_>,
) -> Result<Lens, Fault> {
    let immersion = names::immersion(written.immersion.as_ref())?;
    let na = written.na.value();
    if na >= immersion {
        return Err(Fault::out_of_range(
            written.na.span(),
            format!("below the index of its immersion medium, {immersion}"),
        ));
    }
    let coating = match written.coating.as_ref().map(Located::get) {
        None | Some(CoatingWord::None) => Coating::None,
        Some(CoatingWord::Mgf2) => Coating::Mgf2,
        Some(CoatingWord::Ideal) => Coating::Ideal,
    };
    let surfaces = match &written.surfaces {
        Some(surfaces) => surfaces_of(surfaces)?,
        None if coating == Coating::Ideal => 0,
        None => {
            return Err(Fault::refused(
                written.na.span(),
                "belongs to a lens whose surfaces are not counted",
                "add `surfaces`: a number, or \"ideal\"",
            ));
        }
    };
    let glass = match &written.glass {
        Some(glass) => names::glass(glass)?,
        None if surfaces == 0 || coating == Coating::Ideal => Glass {
            name: "none".into(),
            index: Index::Constant(1.5),
            stress_optic_brewster: None,
        },
        None => {
            let surfaces = (written.surfaces.as_ref()).map_or(written.na.span(), Located::span);
            return Err(Fault::refused(
                surfaces,
                "asks for a glass",
                "add `glass`: a name of the catalog or an index",
            ));
        }
    };
    let mut profiles = Vec::new();
    if let Some(strain) = &part.strain {
        if strain.get().len() > MOST_PROFILES {
            let why = format!("holds {} profiles", strain.get().len());
            let remedy = format!("at most {MOST_PROFILES}");
            return Err(Fault::refused(strain.span(), why, remedy));
        }
        for profile in strain.get() {
            profiles.push(profile_of(profile, &glass, context)?);
        }
    }
    let dispersion = (part.strain_dispersion.as_ref())
        .map(|table| dispersion(table, profiles.is_empty(), context))
        .transpose()?;
    Ok(Lens {
        na,
        immersion,
        surfaces,
        glass,
        coating,
        strain: profiles,
        strain_dispersion: dispersion,
    })
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
        (None, Some(radial), None, None) => Ok(Strain::Radial {
            edge_nm: radial.get().edge_nm.value(),
            slow: match radial.get().slow.as_ref().map(Located::get) {
                None | Some(SlowWord::Radial) => RadialSlow::Radial,
                Some(SlowWord::Tangential) => RadialSlow::Tangential,
            },
        }),
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
        .map(|&[x, y, path_difference_nm, azimuth_deg]| {
            (x, y, path_difference_nm, azimuth_deg.to_radians())
        })
        .collect();
    StrainMap::new(&nodes).map_err(|error| table.unusable(error.to_string()))
}

/// Where the first strain map of a part is named.
pub(super) fn first_map(part: &PartTable) -> Option<Range<usize>> {
    let maps = part.strain.as_ref()?.get().iter();
    maps.filter_map(|profile| profile.get().map.as_ref())
        .map(|map| map.get().csv.span())
        .next()
}
