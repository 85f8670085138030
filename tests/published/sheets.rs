//! Iodine sheets of the catalog: how bright and of what colour alone and in pairs.

use polstack::color::{Xyz, integrate};
use polstack::material::catalog;
use polstack::optics::Polarizer;
use polstack::spectrum::{Source, WavelengthGrid};
use serde::Deserialize;

use super::common::close;
use super::triple::Triple;

#[derive(Deserialize)]
struct Row {
    kind: String,
    sheet: String,
    lamp: String,
    expected: f64,
}

/// Seen through one sheet, and through a second one turned by an angle.
fn seen(row: &Row, second_deg: Option<f64>) -> Xyz {
    let sheet = catalog::sheet(&row.sheet).expect("a catalogued sheet");
    let of = |azimuth_deg: f64| Polarizer::new(sheet.clone(), azimuth_deg.to_radians());
    let grid = WavelengthGrid::new(380.0, 750.0, 5.0).unwrap();
    let transmittance: Vec<f64> = (grid.wavelengths_nm().iter())
        .map(|&nm| {
            let first = of(0.0).collimated(nm).unwrap().jones();
            match second_deg {
                None => first.transmittance(),
                Some(deg) => (of(deg).collimated(nm).unwrap().jones() * first).transmittance(),
            }
        })
        .collect();
    let lamp = Source::named(&row.lamp).expect("a catalogued lamp");
    integrate(&grid, &lamp, &transmittance).unwrap()
}

fn got(row: &Row) -> Option<f64> {
    let crossed = || seen(row, Some(90.0));
    let parallel = || seen(row, Some(0.0));
    Some(match row.kind.as_str() {
        "single_percent" => 92.0 * seen(row, None).luminance(),
        "crossed_y" => crossed().luminance(),
        "ratio" => parallel().luminance() / crossed().luminance(),
        "crossed_x" => crossed().chromaticity()?[0],
        "crossed_yy" => crossed().chromaticity()?[1],
        "parallel_x" => parallel().chromaticity()?[0],
        "parallel_yy" => parallel().chromaticity()?[1],
        _ => return None,
    })
}

#[test]
fn iodine_sheets_have_their_brightness_and_colour() {
    let triple: Triple<Row> = Triple::read(include_str!("sheets.csv"), include_str!("sheets.toml"));
    for row in &triple.rows {
        let got = got(row).expect("a known kind");
        let quantity = format!("{} of {} under {}", row.kind, row.sheet, row.lamp);
        match row.kind.as_str() {
            kind @ ("crossed_y" | "ratio") => {
                close(&quantity, got / row.expected, 1.0, triple.tolerance(kind));
            }
            "single_percent" => {
                close(
                    &quantity,
                    got,
                    row.expected,
                    triple.tolerance("single_percent"),
                );
            }
            _ => close(&quantity, got, row.expected, triple.tolerance("xy")),
        }
    }
}
