//! A microscope does not know which way is North.

use polstack::calculus::Stokes;
use polstack::light_path::{LightPath, PartKind, run};
use polstack::material::{Index, Uniaxial};
use polstack::optics::{Coating, Lens, RadialSlow, Rays, Specimen, Strain};
use proptest::prelude::*;

use crate::common::close;
use crate::paths::{analyzer, lens, part, polarizer, retarder, sheet, slide, stack, uniform};

const WAVELENGTHS_NM: [f64; 3] = [420.0, 546.1, 690.0];

fn microscope(sheet_above: bool) -> LightPath {
    let clamp = Strain::Clamp {
        contacts: 3,
        force_n: 4.0,
        diameter_mm: 22.0,
        first_azimuth_rad: 0.25,
        stress_optic_brewster: 2.75,
    };
    let radial = Strain::Radial {
        edge_nm: 12.0,
        slow: RadialSlow::Tangential,
        along: polstack::optics::RadialAlong::Axis,
    };
    let crystal = Specimen::Plate {
        crystal: Uniaxial {
            name: "invented".to_owned(),
            ordinary: Index::Constant(1.54),
            extraordinary: Index::Constant(1.55),
            rotation: None,
        },
        thickness_um: 8.0,
        axis_azimuth_rad: 0.5,
    };
    let mut parts = vec![
        polarizer(sheet(0.8, 1e-4), 7.0),
        part(
            "condenser",
            PartKind::Condenser(lens(0.9, 5, Coating::None, vec![clamp, radial])),
        ),
        slide(),
        part("crystal", PartKind::Specimen(crystal)),
        part(
            "objective",
            PartKind::Objective(lens(0.5, 4, Coating::Mgf2, vec![uniform(6.0, 33.0)])),
        ),
        part("plate", PartKind::Plate(retarder(530.0, 52.0))),
        analyzer(sheet(0.7, 1e-3), 98.0),
    ];
    if sheet_above {
        parts.swap(0, 1);
    }
    let mut path = stack(0.4, parts);
    path.lamp = Stokes([1.0, 0.3, -0.2, 0.4]);
    path.stray_fraction = 1e-3;
    path
}

/// The same stack with every azimuth sent to another one.
fn with_azimuths(mut path: LightPath, to: impl Fn(f64) -> f64) -> LightPath {
    let strained = |lens: &mut Lens| {
        for strain in &mut lens.strain {
            match strain {
                Strain::Uniform {
                    slow_azimuth_rad: azimuth,
                    ..
                }
                | Strain::Clamp {
                    first_azimuth_rad: azimuth,
                    ..
                } => *azimuth = to(*azimuth),
                Strain::Radial { .. } => {}
                Strain::Map(_) => unreachable!("the microscope above has none"),
            }
        }
    };
    for part in &mut path.parts {
        match &mut part.kind {
            PartKind::Polarizer(polar) | PartKind::Analyzer(polar) => {
                polar.azimuth_rad = to(polar.azimuth_rad);
            }
            PartKind::Retarder(plate) | PartKind::Plate(plate) => {
                plate.slow_azimuth_rad = to(plate.slow_azimuth_rad);
            }
            PartKind::Condenser(lens) | PartKind::Objective(lens) => strained(lens),
            PartKind::Slide(_) => {}
            PartKind::Specimen(specimen) => {
                if let Some(azimuth) = specimen.azimuth_mut() {
                    *azimuth = to(*azimuth);
                }
            }
        }
    }
    path
}

/// All transmittances, one after the other.
fn light(path: &LightPath, spokes: usize) -> Vec<f64> {
    let fields = run::fields(
        path,
        &Rays::disc(path.na(), 4, spokes),
        &WAVELENGTHS_NM,
        &[1.0; 3],
    )
    .unwrap();
    [
        fields.parallel,
        fields.crossed,
        fields.crossed_with_plate.unwrap(),
    ]
    .concat()
}

fn same_light(what: &str, one: &[f64], other: &[f64], tolerance: f64) {
    for (one, other) in one.iter().zip(other) {
        close(what, one / other, 1.0, tolerance);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]

    /// The spokes do not turn along, so the mean must have converged: the clamp's field, the least smooth, falls by
    /// (0.4/0.9)^3 with each of its harmonics, to 1e-16 at the order of 48 spokes.
    #[test]
    fn turning_the_whole_microscope_changes_nothing(angle in -7.0..7.0f64, sheet_above: bool) {
        let path = microscope(sheet_above);
        let mut turned = with_azimuths(path.clone(), |azimuth| azimuth + angle);
        turned.lamp = path.lamp.turned(angle);
        same_light("turned", &light(&turned, 48), &light(&path, 48), 1e-12);
    }

    /// Turning one part alone does change the light, so the test above can fail.
    #[test]
    fn turning_the_polars_alone_changes_the_light(angle in 0.1..1.4f64, sheet_above: bool) {
        let path = microscope(sheet_above);
        let mut turned = path.clone();
        for part in &mut turned.parts {
            if let PartKind::Polarizer(polar) | PartKind::Analyzer(polar) = &mut part.kind {
                polar.azimuth_rad += angle;
            }
        }
        let (one, other) = (light(&path, 48), light(&turned, 48));
        prop_assert!(one.iter().zip(&other).any(|(a, b)| (a / b - 1.0).abs() > 1e-3));
    }
}

/// Azimuths and handedness change sign; rays come in mirrored pairs, so this holds at any number of spokes.
#[test]
fn a_microscope_seen_in_a_mirror_shows_the_same() {
    for sheet_above in [false, true] {
        let path = microscope(sheet_above);
        let mut mirrored = with_azimuths(path.clone(), |azimuth| -azimuth);
        let Stokes([s0, s1, s2, s3]) = path.lamp;
        mirrored.lamp = Stokes([s0, s1, -s2, -s3]);
        same_light("mirrored", &light(&mirrored, 10), &light(&path, 10), 1e-13);
        let mut half = mirrored.clone();
        half.lamp = Stokes([s0, s1, -s2, s3]);
        let off = (light(&half, 10).iter().zip(light(&path, 10)))
            .map(|(a, b)| (a / b - 1.0).abs())
            .fold(0.0, f64::max);
        assert!(off > 1e-3, "handedness does not matter: {off:e}");
    }
}
