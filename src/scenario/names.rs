//! Names of the catalog in a scenario.

use super::decode::Fault;
use super::error::Problem;
use super::located::{Limited, Located, NameOr, RefractiveIndex};
use crate::material::{Biaxial, Birefringence, Glass, Index, Uniaxial, catalog};

/// The fault of a name that the catalog does not have.
pub(super) fn unknown<T>(named: &Located<T>, what: &'static str, groups: &[&str]) -> Fault {
    let names = groups.iter().flat_map(|group| catalog::names(group));
    unknown_among(named, what, names)
}

/// The fault of a name that is none of these.
pub(super) fn unknown_among<T>(
    named: &Located<T>,
    what: &'static str,
    names: impl IntoIterator<Item = &'static str>,
) -> Fault {
    let mut known: Vec<String> = Vec::new();
    for name in names {
        // A crystal is a plate material as well and may be listed twice.
        if !known.iter().any(|other| other == name) {
            known.push(name.to_owned());
        }
    }
    Fault::at(named.span(), Problem::UnknownName { what, known })
}

type NameOrIndex = Located<NameOr<Limited<RefractiveIndex>>>;

/// A glass by name or index.
pub(super) fn glass(written: &NameOrIndex) -> Result<Glass, Fault> {
    match written.get() {
        NameOr::Name(name) => {
            catalog::glass(name).ok_or_else(|| unknown(written, "glass of the catalog", &["glass"]))
        }
        NameOr::Other(index) => Ok(Glass {
            name: format!("n = {}", index.value()),
            index: Index::Constant(index.value()),
            stress_optic_brewster: None,
        }),
    }
}

/// A mounting medium: a glass, an immersion medium or an index.
pub(super) fn mount(written: &NameOrIndex) -> Result<Index, Fault> {
    match written.get() {
        NameOr::Name(name) => catalog::glass(name)
            .map(|glass| glass.index)
            .or_else(|| catalog::immersion(name).map(Index::Constant))
            .ok_or_else(|| {
                let what = "glass or immersion medium of the catalog";
                unknown(written, what, &["glass", "immersion"])
            }),
        NameOr::Other(index) => Ok(Index::Constant(index.value())),
    }
}

/// An immersion medium's index; air where none is named.
pub(super) fn immersion(written: Option<&NameOrIndex>) -> Result<f64, Fault> {
    match written.map(|written| (written, written.get())) {
        None => Ok(1.0),
        Some((_, NameOr::Other(index))) => Ok(index.value()),
        Some((written, NameOr::Name(name))) => catalog::immersion(name)
            .ok_or_else(|| unknown(written, "immersion medium of the catalog", &["immersion"])),
    }
}

/// A plate's material; none where none is named.
pub(super) fn plate_material(written: Option<&Located<String>>) -> Result<Birefringence, Fault> {
    let Some(named) = written else {
        return Ok(Birefringence::None);
    };
    if named.get() == "none" {
        return Ok(Birefringence::None);
    }
    catalog::plate_material(named.get()).ok_or_else(|| {
        let names = ["plate", "crystal"].map(catalog::names);
        let names = names.into_iter().flatten().chain(["none"]);
        unknown_among(named, "plate material of the catalog", names)
    })
}

/// A crystal with one optic axis or with two.
pub(super) enum Crystal {
    Uniaxial(Uniaxial),
    Biaxial(Biaxial),
}

const CRYSTALS: [&str; 2] = ["crystal", "biaxial crystal"];

/// A crystal of the catalog.
pub(super) fn crystal(named: &Located<String>) -> Result<Crystal, Fault> {
    // A plate material that is no crystal is told apart from a slip of the pen.
    let name = named.get().as_str();
    let uniaxial = catalog::crystal(name).map(Crystal::Uniaxial);
    let biaxial = || catalog::biaxial(name).map(Crystal::Biaxial);
    (uniaxial.or_else(biaxial)).ok_or_else(|| match catalog::plate_material(name) {
        Some(_) => Fault::refused(
            named.span(),
            "is no crystal whose principal indices are in the catalog; a specimen of stated thickness must be one",
            format!("allowed: {}", CRYSTALS.map(|group| catalog::names(group).join(", ")).join(", ")),
        ),
        None => unknown(named, "crystal of the catalog", &CRYSTALS),
    })
}
