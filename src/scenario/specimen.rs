//! From what is written to a specimen.

use std::ops::Range;

use super::decode::Fault;
use super::located::{Located, Number};
use super::names::{self, Crystal};
use super::schema::{CutWord, Normal, RotationWord, SpecimenTable};
use crate::material::catalog::{self, SlowAlong};
use crate::material::{Biaxial, Index, Uniaxial};
use crate::optics::{AskewPlate, BiaxialPlate, Specimen};

/// A plate's normal is no shorter than this.
const SHORTEST_NORMAL: f64 = 1e-6;

pub(super) fn specimen(written: &Located<SpecimenTable>) -> Result<Specimen, Fault> {
    let table = written.get();
    let what = (
        &table.path_difference_nm,
        &table.object,
        &table.material,
        &table.indices,
    );
    let is_crystal = table.thickness_um.is_some();
    let only_azimuth = !is_crystal && cut_keys(table).iter().all(|(_, span)| span.is_none());
    match what {
        (Some(path_difference), None, None, None) if only_azimuth => Ok(Specimen::Stated {
            path_difference_nm: path_difference.value(),
            slow_azimuth_rad: azimuth_rad(written)?,
        }),
        (None, Some(object), None, None) if only_azimuth => Ok(Specimen::Stated {
            path_difference_nm: along_its_length_nm(object)?,
            slow_azimuth_rad: azimuth_rad(written)?,
        }),
        (None, None, Some(material), None) if is_crystal => match names::crystal(material)? {
            Crystal::Uniaxial(crystal) => uniaxial(written, crystal),
            Crystal::Biaxial(crystal) => biaxial(written, told_apart(table, crystal)),
        },
        (None, None, None, Some(indices)) if is_crystal => {
            if let Some(two_v) = &table.two_v_deg {
                return Err(Fault::refused(
                    two_v.span(),
                    "is given beside three indices, which tell the angle already",
                    "take two_v_deg out; it stands beside a material of the catalog",
                ));
            }
            biaxial(written, own(indices)?)
        }
        (None, None, Some(_), None) | (None, None, None, Some(_)) => {
            Err(missing(written, "thickness_um"))
        }
        _ => Err(Fault::refused(
            written.span(),
            "does not say one specimen",
            "allowed: { path_difference_nm, azimuth_deg }, { object, azimuth_deg }, { material, thickness_um, azimuth_deg }, { material, thickness_um, cut = \"across\" }, { material, thickness_um, axis_from_normal_deg, azimuth_deg }, or for a crystal with two optic axes { material, thickness_um, normal, azimuth_deg }",
        )),
    }
}

/// The keys that say how a crystal is cut, with where they stand.
fn cut_keys(table: &SpecimenTable) -> [(&'static str, Option<Range<usize>>); 5] {
    [
        ("cut", table.cut.as_ref().map(Located::span)),
        (
            "axis_from_normal_deg",
            table.axis_from_normal_deg.as_ref().map(Number::span),
        ),
        ("rotation", table.rotation.as_ref().map(Located::span)),
        ("normal", table.normal.as_ref().map(Located::span)),
        ("two_v_deg", table.two_v_deg.as_ref().map(Located::span)),
    ]
}

/// Refuses keys of [`cut_keys`] that this crystal has nothing for.
fn refuse_keys(
    table: &SpecimenTable,
    refused: &[&str],
    why: &str,
    remedy: &str,
) -> Result<(), Fault> {
    let found = (cut_keys(table).into_iter())
        .find_map(|(key, span)| span.filter(|_| refused.contains(&key)));
    match found {
        Some(span) => Err(Fault::refused(span, why, remedy)),
        None => Ok(()),
    }
}

fn azimuth_rad(written: &Located<SpecimenTable>) -> Result<f64, Fault> {
    match &written.get().azimuth_deg {
        Some(azimuth) => Ok(azimuth.value().to_radians()),
        None => Err(missing(written, "azimuth_deg")),
    }
}

fn missing(written: &Located<SpecimenTable>, key: &str) -> Fault {
    Fault::missing(written.span(), key)
}

fn thickness_um(table: &SpecimenTable) -> f64 {
    table.thickness_um.as_ref().map_or(0.0, Number::value)
}

/// The path difference of an object of the catalog, counted from its length: below 0 where its slow direction lies across.
fn along_its_length_nm(named: &Located<String>) -> Result<f64, Fault> {
    let object = catalog::elongated(named.get()).ok_or_else(|| {
        let names = catalog::elongated_objects().map(|object| object.name);
        names::unknown_among(named, "elongated object of the catalog", names)
    })?;
    let (from, to) = object.path_difference_nm;
    let middle = 0.5 * (from + to);
    Ok(match object.slow {
        Some(SlowAlong::Across) => -middle,
        _ => middle,
    })
}

fn uniaxial(written: &Located<SpecimenTable>, crystal: Uniaxial) -> Result<Specimen, Fault> {
    let table = written.get();
    let one_axis = "is given for a crystal with one optic axis";
    let cuts = "write cut = \"along\", cut = \"across\" or axis_from_normal_deg in its place";
    refuse_keys(table, &["normal"], one_axis, cuts)?;
    refuse_keys(table, &["two_v_deg"], one_axis, "take two_v_deg out")?;
    let thickness_um = thickness_um(table);
    if let Some(from_normal) = &table.axis_from_normal_deg {
        refuse_keys(
            table,
            &["cut"],
            "is given beside axis_from_normal_deg, which says how the crystal is cut",
            "take one of the two out",
        )?;
        return Ok(Specimen::Askew(AskewPlate {
            crystal: turning(crystal, table.rotation.as_ref())?,
            thickness_um,
            axis_from_normal_rad: from_normal.value().to_radians(),
            azimuth_rad: azimuth_rad(written)?,
        }));
    }
    if table.cut.as_ref().map(Located::get) == Some(&CutWord::Across) {
        if let Some(azimuth) = &table.azimuth_deg {
            return Err(Fault::refused(
                azimuth.span(),
                "is given for a crystal cut across its axis, which is the same at every azimuth",
                "take azimuth_deg out, or cut = \"across\"",
            ));
        }
        return Ok(Specimen::Across {
            crystal: turning(crystal, table.rotation.as_ref())?,
            thickness_um,
        });
    }
    refuse_keys(
        table,
        &["rotation"],
        "is given for a crystal that light does not cross along its axis",
        "it stands beside cut = \"across\" or axis_from_normal_deg",
    )?;
    Ok(Specimen::Plate {
        crystal,
        thickness_um,
        axis_azimuth_rad: azimuth_rad(written)?,
    })
}

/// A crystal that turns light the way that is written.
fn turning(
    mut crystal: Uniaxial,
    written: Option<&Located<RotationWord>>,
) -> Result<Uniaxial, Fault> {
    let Some(written) = written else {
        return Ok(crystal);
    };
    let Some(power) = &mut crystal.rotation else {
        let why = format!("is given for {}, which turns no light", crystal.name);
        return Err(Fault::refused(written.span(), why, "take rotation out"));
    };
    match written.get() {
        RotationWord::Right => power.is_left = false,
        RotationWord::Left => power.is_left = true,
        RotationWord::None => crystal.rotation = None,
    }
    Ok(crystal)
}

/// A crystal of the catalog with the angle between its axes that is written.
fn told_apart(table: &SpecimenTable, crystal: Biaxial) -> Biaxial {
    match &table.two_v_deg {
        Some(degrees) => crystal.with_acute_angle(degrees.value().to_radians()),
        None => crystal,
    }
}

/// A crystal of one's own.
fn own(written: &Located<Vec<Number<super::located::RefractiveIndex>>>) -> Result<Biaxial, Fault> {
    let indices: Vec<f64> = written.get().iter().map(Number::value).collect();
    match indices[..] {
        [x, y, z] if x <= y && y <= z && x < z => Ok(Biaxial {
            name: format!("n = {x}, {y}, {z}"),
            principal: [x, y, z].map(Index::Constant),
            middle_shift: 0.0,
        }),
        _ => Err(Fault::refused(
            written.span(),
            "does not tell three indices that rise",
            "allowed: [least, middle, largest]; the middle one may be like either of the others",
        )),
    }
}

fn biaxial(written: &Located<SpecimenTable>, crystal: Biaxial) -> Result<Specimen, Fault> {
    let table = written.get();
    refuse_keys(
        table,
        &["cut", "axis_from_normal_deg", "rotation"],
        "is given for a crystal with two optic axes",
        "write in its place which axis of the indicatrix stands upright: normal = \"x\", \"y\" or \"z\" (the index rises from x to z)",
    )?;
    let Some(normal) = &table.normal else {
        return Err(missing(written, "normal"));
    };
    Ok(Specimen::Biaxial(BiaxialPlate {
        crystal,
        thickness_um: thickness_um(table),
        normal: components(normal)?,
        azimuth_rad: azimuth_rad(written)?,
    }))
}

fn components(written: &Located<Normal>) -> Result<[f64; 3], Fault> {
    let wrong = |why: &str| {
        let remedy =
            "allowed: \"x\", \"y\", \"z\", or three components along X, Y and Z: [x, y, z]";
        Err(Fault::refused(written.span(), why, remedy))
    };
    match written.get() {
        Normal::Axis(axis) => Ok(*axis),
        Normal::Components(components) => match components[..] {
            [x, y, z] if x * x + y * y + z * z >= SHORTEST_NORMAL * SHORTEST_NORMAL => {
                Ok([x, y, z])
            }
            [_, _, _] => wrong("is a direction of no length"),
            _ => wrong("has not three components"),
        },
    }
}
