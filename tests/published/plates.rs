//! Accessory plates: how thick they are and what they do at other wavelengths.

use polstack::material::catalog;
use polstack::optics::Retarder;
use serde::Deserialize;

use super::common::close;
use super::triple::Triple;

#[derive(Deserialize)]
struct Row {
    kind: String,
    material: String,
    path_difference_nm: Option<f64>,
    wavelength_nm: f64,
    expected: f64,
}

#[test]
fn plates_are_as_thick_and_as_coloured_as_their_birefringence_says() {
    let triple: Triple<Row> = Triple::read(include_str!("plates.csv"), include_str!("plates.toml"));
    for row in &triple.rows {
        let plate = Retarder {
            path_difference_nm: row.path_difference_nm.unwrap_or(550.0),
            at_nm: if row.path_difference_nm.is_some() {
                row.wavelength_nm
            } else {
                550.0
            },
            material: catalog::plate_material(&row.material).expect("a catalogued material"),
            slow_azimuth_rad: 45f64.to_radians(),
        };
        let got = match row.kind.as_str() {
            "path_nm" => plate.path_difference_nm(row.wavelength_nm).unwrap(),
            // East in, North out: the element of the Jones matrix that crossed polars let through.
            "transmittance" => {
                let jones = plate.element(row.wavelength_nm).unwrap().jones();
                jones.0[(1, 0)].norm_sqr()
            }
            _ => plate.thickness_um().unwrap(),
        };
        close(
            &format!(
                "{} of {} {:?} at {} nm",
                row.kind, row.material, row.path_difference_nm, row.wavelength_nm
            ),
            got,
            row.expected,
            triple.tolerance(&row.kind),
        );
    }
}
