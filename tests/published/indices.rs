//! Dispersion laws of the catalog.

use polstack::material::{Index, catalog};
use serde::Deserialize;

use super::common::close;
use super::triple::Triple;

#[derive(Deserialize)]
struct Row {
    kind: String,
    material: String,
    ray: Option<char>,
    wavelength_nm: f64,
    expected: f64,
}

fn index_of(material: &str, ray: Option<char>) -> Index {
    match ray {
        Some(ray) => {
            let crystal = catalog::crystal(material).expect("a catalogued crystal");
            if ray == 'o' {
                crystal.ordinary
            } else {
                crystal.extraordinary
            }
        }
        None => {
            let glass = catalog::glass(material).expect("a catalogued glass");
            glass.index
        }
    }
}

#[test]
fn laws_reproduce_published_indices_and_birefringences() {
    let triple: Triple<Row> =
        Triple::read(include_str!("indices.csv"), include_str!("indices.toml"));
    for row in &triple.rows {
        let quantity = format!(
            "{} of {} {} at {} nm",
            row.kind,
            row.material,
            row.ray.unwrap_or(' '),
            row.wavelength_nm
        );
        let got = if row.kind.ends_with("birefringence") {
            let crystal = catalog::crystal(&row.material).expect("a catalogued crystal");
            crystal.birefringence(row.wavelength_nm)
        } else {
            index_of(&row.material, row.ray).at(row.wavelength_nm)
        };
        close(&quantity, got, row.expected, triple.tolerance(&row.kind));
    }
}
