//! The protective film of a sheet above the condenser.

use polstack::Scene;
use polstack::light_path::{LightPath, Part, PartKind};
use polstack::material::{Glass, Index, PolarizingSheet};
use polstack::optics::{Lens, Polarizer};
use polstack::spectrum::{Source, WavelengthGrid};
use polstack::study::predict::predict;
use serde::Deserialize;

use super::common::close;
use super::triple::Triple;

#[derive(Deserialize)]
struct Row {
    wavelength_nm: f64,
    cover_nm: f64,
    na: f64,
    ratio: f64,
}

fn extinction_ratio(row: &Row, cover_nm: f64) -> f64 {
    let sheet = PolarizingSheet {
        cover_nm,
        ..PolarizingSheet::constant(0.8, 8e-6)
    };
    let polar = |sheet: &PolarizingSheet, deg: f64| Polarizer::new(sheet.clone(), deg.to_radians());
    let glass = Glass {
        name: String::new(),
        index: Index::Constant(1.5),
        stress_optic_brewster: None,
    };
    let lens = || Lens::new(row.na, 0, glass.clone());
    let path = LightPath {
        parts: vec![
            Part::new("condenser", PartKind::Condenser(lens())),
            Part::new("lower polar", PartKind::Polarizer(polar(&sheet, 0.0))),
            Part::new("objective", PartKind::Objective(lens())),
            Part::new("analyzer", PartKind::Analyzer(polar(&sheet, 90.0))),
        ],
        ..LightPath::default()
    };
    let scene = Scene {
        path,
        source: Source::Line {
            centre_nm: row.wavelength_nm,
            width_nm: 1.0,
        },
        grid: WavelengthGrid::default(),
    };
    predict(&scene).unwrap().extinction_ratio.unwrap()
}

#[test]
fn a_sheets_cover_multiplies_the_leak_of_oblique_rays() {
    let triple: Triple<Row> = Triple::read(include_str!("cover.csv"), include_str!("cover.toml"));
    for row in &triple.rows {
        let kind = if row.wavelength_nm == 558.0 {
            "ratio"
        } else {
            "line"
        };
        let got = extinction_ratio(row, 0.0) / extinction_ratio(row, row.cover_nm);
        let what = format!(
            "{} nm, cover {} nm, NA {}",
            row.wavelength_nm, row.cover_nm, row.na
        );
        close(&what, got, row.ratio, triple.tolerance(kind) * row.ratio);
    }
}
