//! Invented light paths for the laws.

use polstack::calculus::Stokes;
use polstack::light_path::{LightPath, Part, PartKind};
use polstack::material::{Birefringence, Glass, Index, PolarizingSheet, SheetTransmittance};
use polstack::optics::{Coating, Lens, LensForm, Polarizer, Retarder, Slide, Strain};

pub(crate) fn part(name: &str, kind: PartKind) -> Part {
    Part {
        name: name.to_owned(),
        kind,
        tolerance: None,
    }
}

pub(crate) fn sheet(k1: f64, k2: f64) -> PolarizingSheet {
    PolarizingSheet {
        name: "given".to_owned(),
        transmittance: SheetTransmittance::Constant { k1, k2 },
        index: 1.5,
        cover_nm: 0.0,
        cover_is_told: false,
    }
}

pub(crate) fn ideal_sheet() -> PolarizingSheet {
    PolarizingSheet {
        name: "ideal".to_owned(),
        transmittance: SheetTransmittance::Ideal,
        index: 1.5,
        cover_nm: 0.0,
        cover_is_told: false,
    }
}

pub(crate) fn polarizer(sheet: PolarizingSheet, azimuth_deg: f64) -> Part {
    part(
        "lower polar",
        PartKind::Polarizer(Polarizer::new(sheet, azimuth_deg.to_radians())),
    )
}

pub(crate) fn analyzer(sheet: PolarizingSheet, azimuth_deg: f64) -> Part {
    part(
        "analyzer",
        PartKind::Analyzer(Polarizer::new(sheet, azimuth_deg.to_radians())),
    )
}

pub(crate) fn retarder(path_difference_nm: f64, azimuth_deg: f64) -> Retarder {
    Retarder {
        path_difference_nm,
        at_nm: 550.0,
        material: Birefringence::None,
        slow_azimuth_rad: azimuth_deg.to_radians(),
    }
}

pub(crate) fn lens(na: f64, surfaces: u32, coating: Coating, strain: Vec<Strain>) -> Lens {
    Lens {
        na,
        immersion: 1.0,
        form: LensForm::Equal { surfaces },
        glass: Glass {
            name: "1.52".to_owned(),
            index: Index::Constant(1.52),
            stress_optic_brewster: None,
        },
        coating,
        strain,
        strain_dispersion: None,
    }
}

pub(crate) fn slide() -> Part {
    let index = Index::Constant(1.515);
    part(
        "slide",
        PartKind::Slide(Slide {
            glass: index.clone(),
            mount: index,
        }),
    )
}

pub(crate) fn stack(iris_na: f64, parts: Vec<Part>) -> LightPath {
    let path = LightPath {
        lamp: Stokes::UNPOLARIZED,
        iris_na: Some(iris_na),
        view_na: None,
        parts,
        stray_fraction: 0.0,
    };
    path.check(&[380.0, 550.0, 780.0])
        .expect("a path that can be run");
    path
}

/// A condenser and an objective that do nothing to the light.
pub(crate) fn ideal_lenses(na: f64) -> [Part; 2] {
    lens_pair(na, [Vec::new(), Vec::new()])
}

/// A condenser and an objective with ideal surfaces and strain.
pub(crate) fn lens_pair(na: f64, [below, above]: [Vec<Strain>; 2]) -> [Part; 2] {
    [
        part(
            "condenser",
            PartKind::Condenser(lens(na, 4, Coating::Ideal, below)),
        ),
        part(
            "objective",
            PartKind::Objective(lens(na, 4, Coating::Ideal, above)),
        ),
    ]
}

/// Strain that is the same everywhere.
pub(crate) fn uniform(path_difference_nm: f64, azimuth_deg: f64) -> Strain {
    Strain::Uniform {
        path_difference_nm,
        slow_azimuth_rad: azimuth_deg.to_radians(),
    }
}
