//! An invented prediction for the tests of figures.

use crate::calculus::Stokes;
use crate::light_path::{LightPath, Part, PartKind};
use crate::material::{Birefringence, Glass, Index, Sheet, SheetTransmittance};
use crate::optics::{Coating, Lens, LensForm, Polarizer, Rays, Retarder, Strain};
use crate::scene::Scene;
use crate::spectrum::{Source, WavelengthGrid};
use crate::study::predict::{Prediction, leak_map, predict};

use super::ApertureMap;

/// A strained condenser between sheets, with or without a plate.
pub(super) fn path(plate: bool) -> LightPath {
    let part = |name: &str, kind| Part {
        name: name.to_owned(),
        kind,
        tolerance: None,
    };
    let polar = |azimuth_deg: f64| {
        let sheet = Sheet {
            name: "given".to_owned(),
            transmittance: SheetTransmittance::Constant { k1: 0.75, k2: 3e-5 },
            index: 1.5,
            cover_nm: 0.0,
        };
        Polarizer::new(sheet, azimuth_deg.to_radians())
    };
    let lens = |strain| Lens {
        na: 0.6,
        immersion: 1.0,
        form: LensForm::Equal { surfaces: 0 },
        glass: Glass {
            name: "1.52".to_owned(),
            index: Index::Constant(1.52),
            stress_optic_brewster: None,
        },
        coating: Coating::Ideal,
        strain,
        strain_dispersion: None,
    };
    let radial = Strain::radial(30.0);
    let mut parts = vec![
        part("lower polar", PartKind::Polarizer(polar(0.0))),
        part("condenser", PartKind::Condenser(lens(vec![radial]))),
        part("objective", PartKind::Objective(lens(vec![]))),
        part("analyzer", PartKind::Analyzer(polar(90.0))),
    ];
    if plate {
        let retarder = Retarder {
            path_difference_nm: 550.0,
            at_nm: 550.0,
            material: Birefringence::None,
            slow_azimuth_rad: 45f64.to_radians(),
        };
        parts.insert(3, part("plate", PartKind::Plate(retarder)));
    }
    LightPath {
        lamp: Stokes::UNPOLARIZED,
        iris_na: Some(0.6),
        view_na: None,
        parts,
        stray_fraction: 0.0,
    }
}

/// Sixteen parts, most of them retarders with long names.
pub(super) fn many_parts() -> LightPath {
    let mut path = path(true);
    for k in 0..11 {
        let azimuth_deg = 17.0 * f64::from(k);
        let retarder = Retarder {
            path_difference_nm: 60.0 + 20.0 * f64::from(k),
            at_nm: 550.0,
            material: Birefringence::None,
            slow_azimuth_rad: azimuth_deg.to_radians(),
        };
        let part = Part {
            name: format!("rotating compensator on its long intermediate tube {k}"),
            kind: PartKind::Retarder(retarder),
            tolerance: None,
        };
        path.parts.insert(1, part);
    }
    path
}

/// What it shows, coarsely.
pub(super) fn predicted(plate: bool, source: &Source) -> (Prediction, ApertureMap) {
    let path = path(plate);
    let grid = WavelengthGrid::new(400.0, 700.0, 20.0).unwrap();
    path.check(grid.wavelengths_nm()).unwrap();
    let rays = Rays::disc(path.na(), 16, 64);
    let scene = Scene {
        path: path.clone(),
        source: source.clone(),
        grid,
    };
    let leak = leak_map(&scene, &rays).unwrap();
    let map = ApertureMap::of(&path, &rays, leak).unwrap();
    (predict(&scene).unwrap(), map)
}
