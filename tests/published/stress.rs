//! Stress-optic coefficients: units, sign, and the catalog's values.

use polstack::material::{catalog, stress_optic_brewster, stress_path_difference_nm};
use serde::Deserialize;

use super::common::close;
use super::triple::Triple;

#[derive(Deserialize)]
struct Row {
    kind: String,
    name: String,
    stress_optic_brewster: Option<f64>,
    stress_mpa: Option<f64>,
    thickness_mm: Option<f64>,
    n: Option<f64>,
    e_gpa: Option<f64>,
    nu: Option<f64>,
    p11: Option<f64>,
    p12: Option<f64>,
    expected: f64,
}

fn of_catalog(glass: &str) -> f64 {
    let glass = catalog::glass(glass).expect("a catalogued glass");
    glass.stress_optic_brewster.expect("a known coefficient")
}

fn got(row: &Row) -> Option<f64> {
    Some(match row.kind.as_str() {
        "path_nm" => stress_path_difference_nm(
            row.stress_optic_brewster?,
            row.stress_mpa?,
            row.thickness_mm?,
        ),
        "pockels" => stress_optic_brewster(row.n?, row.e_gpa?, row.nu?, row.p11?, row.p12?),
        _ => of_catalog(&row.name),
    })
}

fn read() -> Triple<Row> {
    Triple::read(include_str!("stress.csv"), include_str!("stress.toml"))
}

#[test]
fn coefficients_and_units_agree_with_makers_and_photoelastic_constants() {
    let triple = read();
    for row in &triple.rows {
        let got = got(row).expect("every number that the kind needs");
        let quantity = format!("{} of {}", row.kind, row.name);
        close(&quantity, got, row.expected, triple.tolerance(&row.kind));
    }
}

#[test]
fn silica_of_the_catalog_lies_between_its_photoelastic_constants() {
    let pockels: Vec<f64> = (read().rows.iter())
        .filter(|row| row.kind == "pockels")
        .map(|row| row.expected)
        .collect();
    let silica = of_catalog("fused-silica");
    assert!(pockels.iter().any(|&c| c < silica) && pockels.iter().any(|&c| c > silica));
}
