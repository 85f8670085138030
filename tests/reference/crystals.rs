//! Plates of crystals with two optic axes, of crystals with one that leans, and quartz that turns light, against a 4x4 solver: `crystals/make_crystals.py`.

use std::f64::consts::{FRAC_PI_4, PI};

use polstack::light_path::{LightPath, Part, PartKind, run};
use polstack::material::{Biaxial, Glass, Index, PolarizingSheet, Uniaxial, catalog};
use polstack::optics::{AskewPlate, BiaxialPlate, Lens, Polarizer, Ray, Rays, Specimen};
use polstack::spectrum::{Source, WavelengthGrid};
use polstack::study::aperture::back_focal_plane;
use serde::Deserialize;
use serde::de::DeserializeOwned;

use crate::common::close;
use crate::scene::scene_of;

const NM: f64 = 589.3;
/// What is asked for of rings and melatopes.
const NA: f64 = 1e-4;

#[derive(Deserialize)]
struct File<T> {
    records: Vec<T>,
}

fn records<T: DeserializeOwned>(text: &str, least: usize) -> Vec<T> {
    let file: File<T> = serde_json::from_str(text).unwrap();
    assert!(file.records.len() >= least);
    file.records
}

fn ray(s: f64, degrees: f64) -> Ray {
    Ray {
        s,
        azimuth_rad: degrees.to_radians(),
    }
}

#[derive(Deserialize)]
struct Plate {
    indices: [f64; 3],
    normal: [f64; 3],
    azimuth_deg: f64,
    s: f64,
    ray_deg: f64,
    slow: f64,
    fast: f64,
    slow_from_p_deg: f64,
}

#[test]
fn waves_of_plates_cut_at_any_angle_agree_with_a_4x4_solver() {
    for case in records::<Plate>(include_str!("crystals/plates.json"), 160) {
        let [least, _, largest] = case.indices;
        let plate = BiaxialPlate {
            crystal: Biaxial {
                name: String::new(),
                principal: case.indices.map(Index::Constant),
                middle_shift: 0.0,
            },
            thickness_um: 100.0,
            normal: case.normal,
            azimuth_rad: case.azimuth_deg.to_radians(),
        };
        let ray = ray(case.s, case.ray_deg);
        let what = format!("{:?} {:?} {ray:?}", case.indices, case.normal);
        let modes = plate.impermeability(NM).modes(ray);
        // The solver's eigenvalues are good to about that.
        close(&what, modes.normal[0], case.slow, 1e-13);
        close(&what, modes.normal[1], case.fast, 1e-13);
        let seen = plate.ray(ray, NM);
        let expected = 1e5 * (case.slow - case.fast);
        close(&what, seen.path_difference_nm, expected, 2e-8);
        // The section across the mean normal against the two sections across the waves' own normals: they differ in the second order of the
        // birefringence.
        let turned = seen.azimuth_rad - ray.azimuth_rad - case.slow_from_p_deg.to_radians();
        let off = (turned + FRAC_PI_4).rem_euclid(PI) - FRAC_PI_4;
        close(&what, off, 0.0, 0.5 * (largest - least).powi(2));
    }
}

#[derive(Deserialize)]
struct Askew {
    ordinary_index: f64,
    extraordinary_index: f64,
    axis_from_normal_deg: f64,
    azimuth_deg: f64,
    s: f64,
    ray_deg: f64,
    ordinary: f64,
    extraordinary: f64,
    extraordinary_from_p_deg: f64,
}

#[test]
fn waves_of_an_axis_that_leans_agree_with_a_4x4_solver() {
    for case in records::<Askew>(include_str!("crystals/askew.json"), 80) {
        let (no, ne) = (case.ordinary_index, case.extraordinary_index);
        let plate = AskewPlate {
            crystal: Uniaxial {
                name: String::new(),
                ordinary: Index::Constant(no),
                extraordinary: Index::Constant(ne),
                rotation: None,
            },
            thickness_um: 100.0,
            axis_from_normal_rad: case.axis_from_normal_deg.to_radians(),
            azimuth_rad: case.azimuth_deg.to_radians(),
        };
        let ray = ray(case.s, case.ray_deg);
        let what = format!("{no} {ne} {} {ray:?}", case.axis_from_normal_deg);
        let seen = plate.ray(ray, NM);
        let expected = 1e5 * (case.extraordinary - case.ordinary);
        close(&what, seen.path_difference_nm, expected, 2e-8);
        // As above: one section in place of two.
        let turned =
            seen.azimuth_rad - ray.azimuth_rad - case.extraordinary_from_p_deg.to_radians();
        let off = (turned + FRAC_PI_4).rem_euclid(PI) - FRAC_PI_4;
        close(&what, off, 0.0, 0.5 * (ne - no).powi(2));
    }
}

#[derive(Deserialize)]
struct ActiveAskew {
    wavelength_nm: f64,
    axis_from_normal_deg: f64,
    azimuth_deg: f64,
    s: f64,
    ray_deg: f64,
    difference: f64,
    circular_share: f64,
    s1: f64,
    s2: f64,
}

#[test]
fn elliptic_waves_of_quartz_cut_askew_agree_with_a_4x4_solver() {
    for case in records::<ActiveAskew>(include_str!("crystals/active-askew.json"), 18) {
        let plate = AskewPlate {
            crystal: catalog::crystal("quartz").unwrap(),
            thickness_um: 1000.0,
            axis_from_normal_rad: case.axis_from_normal_deg.to_radians(),
            azimuth_rad: case.azimuth_deg.to_radians(),
        };
        let ray = ray(case.s, case.ray_deg);
        let what = format!("{} {ray:?}", case.axis_from_normal_deg);
        let seen = plate.ray(ray, case.wavelength_nm);
        let whole = seen.between_modes_nm();
        // To the first order in the activity, as for the plate across the axis.
        close(&what, whole, 1e6 * case.difference, 2e-4 * whole);
        close(&what, seen.circular_nm / whole, case.circular_share, 1e-3);
        let twice = 2.0 * (seen.azimuth_rad - ray.azimuth_rad);
        let linear = seen.path_difference_nm / whole;
        close(&what, linear * twice.cos(), case.s1, 1e-3);
        close(&what, linear * twice.sin(), case.s2, 1e-3);
    }
}

#[derive(Deserialize)]
struct Figure {
    material: String,
    thickness_um: f64,
    two_v_deg: f64,
    positive: bool,
    indices: [f64; 3],
    melatope_na: f64,
    rings: Vec<Ring>,
}

#[derive(Deserialize)]
struct Ring {
    #[serde(rename = "where")]
    side: String,
    na: f64,
}

/// The crystal between ideal lenses and ideal crossed polars, its axial plane halfway between them.
fn conoscope(figure: &Figure) -> LightPath {
    let normal = if figure.positive {
        [0.0, 0.0, 1.0]
    } else {
        [1.0, 0.0, 0.0]
    };
    // With Z upright the azimuth is that of Y, which stands across the axial plane.
    let azimuth_deg: f64 = if figure.positive { 135.0 } else { 45.0 };
    let plate = BiaxialPlate {
        crystal: catalog::biaxial(&figure.material).unwrap(),
        thickness_um: figure.thickness_um,
        normal,
        azimuth_rad: azimuth_deg.to_radians(),
    };
    let glass = Glass {
        name: String::new(),
        index: Index::Constant(1.5),
        stress_optic_brewster: None,
    };
    let lens = || Lens::new(0.95, 0, glass.clone());
    let polar = |deg: f64| Polarizer::new(PolarizingSheet::ideal(), deg.to_radians());
    LightPath {
        parts: vec![
            Part::new("lower polar", PartKind::Polarizer(polar(0.0))),
            Part::new("condenser", PartKind::Condenser(lens())),
            Part::new("crystal", PartKind::Specimen(Specimen::Biaxial(plate))),
            Part::new("objective", PartKind::Objective(lens())),
            Part::new("analyzer", PartKind::Analyzer(polar(90.0))),
        ],
        ..LightPath::default()
    }
}

/// Numerical apertures at which the light is dark along a radius: the least of three neighbours, then a parabola through them.
fn dark_places(path: &LightPath, azimuth_rad: f64) -> Vec<f64> {
    let step = 0.95 / 9500.0;
    let ring: Vec<f64> = (0..=9500).map(|k| step * f64::from(k)).collect();
    let rays = Rays {
        sectors: Vec::new(),
        ring_weight: vec![1.0; ring.len()],
        spoke_rad: vec![azimuth_rad],
        spoke_weight: vec![1.0],
        ring,
    };
    let light = run::crossed_rays(path, &rays, &[NM], &[1.0]).unwrap();
    (1..light.len() - 1)
        .filter(|&k| light[k] < light[k - 1] && light[k] <= light[k + 1] && light[k] < 1e-3)
        .map(|k| {
            let (a, b, c) = (light[k - 1], light[k], light[k + 1]);
            rays.ring[k] + step * 0.5 * (a - c) / (a - 2.0 * b + c)
        })
        .collect()
}

#[test]
fn melatopes_and_rings_stand_where_a_4x4_solver_has_them() {
    let mut rings = 0;
    for figure in records::<Figure>(include_str!("crystals/figures.json"), 6) {
        let crystal = catalog::biaxial(&figure.material).unwrap();
        for (got, expected) in crystal.indices(NM).iter().zip(figure.indices) {
            close(&figure.material, *got, expected, 1e-14);
        }
        let path = conoscope(&figure);
        let in_plane = dark_places(&path, FRAC_PI_4);
        let across = dark_places(&path, -FRAC_PI_4);
        let nearest = |places: &[f64], na: f64| {
            let off = |place: &f64| (place - na).abs();
            let found = places.iter().min_by(|a, b| off(a).total_cmp(&off(b)));
            *found.unwrap_or(&f64::INFINITY)
        };
        let found = nearest(&in_plane, figure.melatope_na);
        close(&figure.material, found, figure.melatope_na, NA);
        for ring in &figure.rings {
            let places = if ring.side == "across" {
                &across
            } else {
                &in_plane
            };
            let name = format!("{}, ring {}", figure.material, ring.side);
            close(&name, nearest(places, ring.na), ring.na, NA);
            rings += 1;
        }
    }
    assert!(rings > 15, "{rings}");
}

#[test]
fn the_angle_is_computed_and_read_off_the_figure() {
    for figure in records::<Figure>(include_str!("crystals/figures.json"), 6) {
        let source = Source::named("cie-d65").unwrap();
        let grid = WavelengthGrid::new(400.0, 700.0, 10.0).unwrap();
        let scene = scene_of(&conoscope(&figure), &source, &grid);
        let plane = back_focal_plane(&scene).unwrap();
        let told = plane.crystal.unwrap();
        assert_eq!(told.optic_sign == "positive", figure.positive);
        let name = &figure.material;
        close(name, told.two_v_rad.to_degrees(), figure.two_v_deg, 1e-9);
        // 2E in its closed form, sin E = n sin V, of the solver's melatope: sin E is its NA.
        let two_e = 2.0 * figure.melatope_na.asin();
        close(name, told.two_e_rad.unwrap(), two_e, 1e-6);
        for melatope in told.melatopes {
            close(name, melatope.na, figure.melatope_na, 1e-7);
            assert!(melatope.seen);
            let off = (melatope.azimuth_rad - FRAC_PI_4).rem_euclid(PI);
            close(name, off.min(PI - off), 0.0, 1e-12);
        }
        let read = told.read_off.unwrap();
        close(name, read.half_distance_na, figure.melatope_na, NA);
        close(name, read.two_v_rad, figure.two_v_deg.to_radians(), NA);
    }
}

#[derive(Deserialize)]
struct Active {
    wavelength_nm: f64,
    s: f64,
    difference: f64,
    circular_share: f64,
    linear_share: f64,
    deg_per_mm: f64,
}

#[test]
fn elliptic_waves_of_quartz_agree_with_a_4x4_solver() {
    let crystal = catalog::crystal("quartz").unwrap();
    for case in records::<Active>(include_str!("crystals/active.json"), 24) {
        let nm = case.wavelength_nm;
        let what = format!("{nm} nm, NA {}", case.s);
        let power = crystal.rotation.as_ref().unwrap().deg_per_mm(nm);
        close(&what, power, case.deg_per_mm, 1e-12);
        let section = Specimen::Across {
            crystal: crystal.clone(),
            thickness_um: 1000.0,
        };
        let seen = section.ray(ray(case.s, 0.0), nm);
        let whole = seen.between_modes_nm();
        // A perturbation of the first order in the activity: the rest is its square, and its product with the birefringence.
        close(&what, whole, 1e6 * case.difference, 2e-4 * whole);
        // The slow vibration: the extraordinary one far from the axis, left circular on it.
        close(&what, seen.circular_nm / whole, case.circular_share, 1e-3);
        close(
            &what,
            seen.path_difference_nm / whole,
            case.linear_share,
            1e-3,
        );
    }
}
