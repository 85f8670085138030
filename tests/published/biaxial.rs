//! Principal indices and 2V of crystals with two optic axes lie within what tables of minerals print.

use polstack::material::{SODIUM_NM, catalog};
use serde::Deserialize;

use super::triple::Triple;

#[derive(Deserialize)]
struct Row {
    name: String,
    what: String,
    low: f64,
    high: f64,
}

#[test]
fn biaxial_crystals_lie_within_the_ranges_of_the_tables() {
    let triple: Triple<Row> =
        Triple::read(include_str!("biaxial.csv"), include_str!("biaxial.toml"));
    for row in &triple.rows {
        let crystal = catalog::biaxial(&row.name).unwrap();
        let axis = ["x", "y", "z"].iter().position(|axis| *axis == row.what);
        let (got, off) = match axis {
            Some(axis) => (crystal.indices(SODIUM_NM)[axis], triple.tolerance("index")),
            None => (
                crystal.acute_angle_rad(SODIUM_NM).to_degrees(),
                triple.tolerance("two_v_deg"),
            ),
        };
        assert!(
            (row.low - off..=row.high + off).contains(&got),
            "{} {}: {got}",
            row.name,
            row.what
        );
    }
    for name in catalog::names("biaxial crystal") {
        assert!(triple.rows.iter().any(|row| row.name == name), "{name}");
    }
}
