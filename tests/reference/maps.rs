//! Single rays of the back focal plane, and crystals cut across their axis, against an independent implementation in Python:
//! `maps/make_maps.py`; `maps/readings.md` lists what was read into the description. Whole runs with such crystals are compared in `optics.rs`.

use std::path::{Path, PathBuf};

use polstack::material::catalog;
use polstack::optics::{Ray, Rays, Specimen};
use polstack::scenario;
use polstack::study::aperture::light_of_rays;
use serde::Deserialize;

use crate::common::close;
use crate::scene::scene_of;

/// Relative: what the two quadratures leave in the parallel field.
const TOLERANCE: f64 = 1e-6;

#[derive(Deserialize)]
struct File<T> {
    records: Vec<T>,
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/maps")
}

fn records<T: serde::de::DeserializeOwned>(name: &str) -> Vec<T> {
    let text = std::fs::read_to_string(folder().join(name)).unwrap();
    let file: File<T> = serde_json::from_str(&text).unwrap();
    assert!(file.records.len() > 10, "{name}");
    file.records
}

#[derive(Deserialize)]
struct OneRay {
    scenario: String,
    s: f64,
    azimuth_deg: f64,
    xyz: [f64; 3],
    xyz_with_plate: Option<[f64; 3]>,
}

#[test]
fn light_of_single_rays_agrees_with_an_independent_implementation() {
    let mut rays: Vec<OneRay> = records("rays.json");
    rays.sort_by(|a, b| a.scenario.cmp(&b.scenario));
    for same in rays.chunk_by(|a, b| a.scenario == b.scenario) {
        let scenario = scenario::read(&folder().join(&same[0].scenario)).unwrap();
        // One ring with a spoke for each ray would need every azimuth on every ring: a ring and a spoke for each, and their diagonal.
        let count = same.len();
        let grid = Rays {
            ring: same.iter().map(|ray| ray.s).collect(),
            sectors: Vec::new(),
            ring_weight: vec![1.0 / count as f64; count],
            spoke_rad: same
                .iter()
                .map(|ray| ray.azimuth_deg.to_radians())
                .collect(),
            spoke_weight: vec![1.0 / count as f64; count],
        };
        let light = |plates| {
            let (path, source) = (&scenario.scene.path, &scenario.scene.source);
            light_of_rays(&scene_of(path, source, &scenario.scene.grid), &grid, plates).unwrap()
        };
        let out = light(false);
        let with = same[0].xyz_with_plate.map(|_| light(true));
        for (k, ray) in same.iter().enumerate() {
            let compare = |got: [f64; 3], expected: [f64; 3], plate: &str| {
                let scale = expected.iter().copied().fold(0.0, f64::max).max(1e-14);
                for (channel, (got, expected)) in got.iter().zip(expected).enumerate() {
                    let name = format!(
                        "{} s {} at {} deg, {plate}, {channel}",
                        ray.scenario, ray.s, ray.azimuth_deg
                    );
                    close(&name, *got, expected, TOLERANCE * scale);
                }
            };
            compare(out[k * count + k].0, ray.xyz, "plate out");
            if let (Some(with), Some(expected)) = (&with, ray.xyz_with_plate) {
                compare(with[k * count + k].0, expected, "plate in");
            }
        }
    }
}

#[derive(Deserialize)]
struct Cone {
    material: String,
    thickness_um: f64,
    wavelength_nm: f64,
    s: f64,
    path_difference_nm: f64,
}

#[derive(Deserialize)]
struct Ring {
    material: String,
    thickness_um: f64,
    wavelength_nm: f64,
    order: f64,
    na: f64,
}

fn across(material: &str, thickness_um: f64, s: f64, wavelength_nm: f64) -> f64 {
    let specimen = Specimen::Across {
        crystal: catalog::crystal(material).unwrap(),
        thickness_um,
    };
    let ray = Ray {
        s,
        azimuth_rad: 1.0,
    };
    specimen.ray(ray, wavelength_nm).path_difference_nm
}

#[test]
fn path_differences_and_rings_across_the_axis_agree() {
    for cone in records::<Cone>("cones.json") {
        let got = across(
            &cone.material,
            cone.thickness_um,
            cone.s,
            cone.wavelength_nm,
        );
        let expected = cone.path_difference_nm;
        close(
            &format!("{} {}", cone.material, cone.s),
            got,
            expected,
            1e-9 * expected.abs().max(1.0),
        );
    }
    for ring in records::<Ring>("rings.json") {
        let at = |s: f64| across(&ring.material, ring.thickness_um, s, ring.wavelength_nm).abs();
        let expected = ring.order * ring.wavelength_nm;
        close(
            &format!("{} ring {}", ring.material, ring.order),
            at(ring.na),
            expected,
            1e-7 * expected,
        );
    }
}
