//! Polars and retarders of the textbooks.

use polstack::calculus::{Jones, Mueller, Stokes};
use polstack::material::{Birefringence, PolarizingSheet, SheetTransmittance};
use polstack::optics::{Polarizer, Retarder};
use serde::Deserialize;

use super::common::close;
use super::triple::Triple;

const NM: f64 = 550.0;

#[derive(Deserialize)]
struct Row {
    kind: String,
    a: f64,
    b: Option<f64>,
    expected: f64,
}

fn sheet(transmittance: SheetTransmittance, azimuth_deg: f64) -> Jones {
    let sheet = PolarizingSheet {
        name: String::new(),
        transmittance,
        index: 1.5,
        cover_nm: 0.0,
        cover_is_told: true,
    };
    let polarizer = Polarizer::new(sheet, azimuth_deg.to_radians());
    polarizer.collimated(NM).unwrap().jones()
}

fn ideal(azimuth_deg: f64) -> Jones {
    sheet(SheetTransmittance::Ideal, azimuth_deg)
}

/// A retarder by its phase and the azimuth of its slow axis.
fn plate(phase_deg: f64, slow_deg: f64) -> Jones {
    let plate = Retarder {
        path_difference_nm: NM * phase_deg / 360.0,
        at_nm: NM,
        material: Birefringence::None,
        slow_azimuth_rad: slow_deg.to_radians(),
    };
    plate.element(NM).unwrap().jones()
}

/// What light that vibrates at `azimuth_deg` becomes.
fn of_linear(azimuth_deg: f64, part: Jones) -> Stokes {
    let light = Stokes([1.0, 1.0, 0.0, 0.0]).turned(azimuth_deg.to_radians());
    Mueller::from_jones(&part).apply(&light)
}

fn pair(k1: f64, k2: f64, angle_deg: f64) -> f64 {
    let of = |azimuth| sheet(SheetTransmittance::Constant { k1, k2 }, azimuth);
    (of(angle_deg) * of(0.0)).transmittance()
}

/// `(k1, k2)` of the sheet of which a pair passes this: `(k1 +- k2)^2 = 2 parallel +- 2 crossed`.
fn sheet_of_pair(parallel: f64, crossed: f64) -> (f64, f64) {
    let sum = (2.0 * (parallel + crossed)).sqrt();
    let difference = (2.0 * (parallel - crossed)).sqrt();
    (0.5 * (sum + difference), 0.5 * (sum - difference))
}

fn got(row: &Row) -> Option<f64> {
    let a = row.a;
    Some(match row.kind.as_str() {
        "malus" => of_linear(0.0, ideal(a)).0[0],
        "ladder" => {
            let steps = a as u32;
            let all = (0..=steps).fold(Jones::identity(), |below, k| {
                ideal(90.0 * f64::from(k) / a) * below
            });
            all.transmittance()
        }
        "quarter_s3" => of_linear(0.0, plate(90.0, a + 90.0)).0[3],
        "half_s1" => of_linear(row.b?, plate(180.0, a)).0[1],
        "half_s2" => of_linear(row.b?, plate(180.0, a)).0[2],
        "half_deg" => of_linear(row.b?, plate(180.0, a))
            .azimuth_rad()
            .to_degrees(),
        "linear" => of_linear(0.0, ideal(90.0) * plate(row.b?, a)).0[0],
        "circular" => {
            let between = plate(90.0, -45.0) * plate(row.b?, a) * plate(90.0, 45.0);
            of_linear(0.0, ideal(90.0) * between).0[0]
        }
        "crossing" => of_linear(0.0, ideal(90.0 + a)).0[0],
        "single" => sheet(SheetTransmittance::Constant { k1: a, k2: row.b? }, 17.0).transmittance(),
        "parallel" => pair(a, row.b?, 0.0),
        "crossed" => pair(a, row.b?, 90.0),
        "ratio" => pair(a, row.b?, 0.0) / pair(a, row.b?, 90.0),
        "principal_ratio" => {
            let (k1, k2) = sheet_of_pair(a, row.b?);
            // The program's pair of these sheets must be the pair that was measured.
            close("parallel of the found sheet", pair(k1, k2, 0.0), a, 1e-15);
            close(
                "crossed of the found sheet",
                pair(k1, k2, 90.0),
                row.b?,
                1e-15,
            );
            k2 / k1
        }
        _ => return None,
    })
}

#[test]
fn polars_and_plates_do_what_textbooks_say() {
    let triple: Triple<Row> = Triple::read(include_str!("jones.csv"), include_str!("jones.toml"));
    for row in &triple.rows {
        let got = got(row).expect("a known kind with its numbers");
        let tolerance = triple.tolerance(&row.kind);
        let quantity = format!("{} of {}, {:?}", row.kind, row.a, row.b);
        if row.kind == "crossing" {
            close(&quantity, got / row.expected, 1.0, tolerance);
        } else {
            close(&quantity, got, row.expected, tolerance);
        }
    }
}
