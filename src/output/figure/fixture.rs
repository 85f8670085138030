//! Answers of the studies to a shipped scenario, coarse ones, for the tests of figures.

use super::ApertureMap;
use crate::light_path::{LightPath, PartKind};
use crate::material::PolarizingSheet;
use crate::optics::Rays;
use crate::scenario::{Memory, parse};
use crate::scene::Scene;
use crate::spectrum::{Source, WavelengthGrid};
use crate::study::chart::{
    ColorGrid, FIRST_ORDER_NM, GridShown, Polars, Scale, ScaleRequest, accessory_plate, background,
    interference, plate, wall,
};
use crate::study::predict::{Prediction, leak_map, predict};

const SCENARIO: &str = include_str!("../../../scenarios/sheet-below-condenser.toml");

pub(super) fn lamp() -> Source {
    Source::named("led-b3").unwrap()
}

/// A strained condenser between sheets, with or without a plate.
pub(super) fn path(with_plate: bool) -> LightPath {
    let scenario = parse(SCENARIO, "sheet-below-condenser.toml", &Memory::default()).unwrap();
    let mut path = scenario.scene.path;
    let left_out: &[&str] = if with_plate {
        &["slide"]
    } else {
        &["slide", "plate"]
    };
    (path.parts).retain(|part| !left_out.contains(&part.kind.word()));
    path.iris_na = Some(0.25);
    path
}

/// Its parts and eleven retarders with long names.
pub(super) fn many_parts() -> LightPath {
    let mut path = path(true);
    let plate = path.parts.iter().find(|part| part.kind.word() == "plate");
    let mut part = plate.unwrap().clone();
    let PartKind::Plate(mut retarder) = part.kind.clone() else {
        unreachable!()
    };
    for k in 0..11 {
        retarder.path_difference_nm = 60.0 + 20.0 * f64::from(k);
        retarder.slow_azimuth_rad = 0.3 * f64::from(k);
        part.kind = PartKind::Retarder(retarder.clone());
        part.name = format!("rotating compensator on its long intermediate tube {k}");
        path.parts.insert(1, part.clone());
    }
    path
}

pub(super) fn scene(path: LightPath, source: Source, step_nm: f64) -> Scene {
    let grid = WavelengthGrid::new(400.0, 700.0, step_nm).unwrap();
    Scene { path, source, grid }
}

/// What the path shows.
pub(super) fn predicted(with_plate: bool, source: &Source) -> (Prediction, ApertureMap) {
    let scene = scene(path(with_plate), source.clone(), 20.0);
    let rays = Rays::even(scene.path.na(), 17, 64);
    let leak = leak_map(&scene, &rays).unwrap();
    let map = ApertureMap::of(&scene.path, &rays, leak).unwrap();
    (predict(&scene).unwrap(), map)
}

fn ideal_sheet() -> PolarizingSheet {
    crate::material::catalog::sheet("ideal").unwrap()
}

/// A scale between two crossed sheets in collimated light, up to some path difference in even steps, nm.
fn between_sheets<'a>(
    source: &'a Source,
    sheet: &'a PolarizingSheet,
    (to_nm, step_nm): (f64, f64),
) -> ScaleRequest<'a> {
    ScaleRequest {
        source,
        sheet,
        polars: Polars::Linear,
        dispersion: None,
        to_nm,
        step_nm,
        exposure_stops: 0.0,
        adaptation_degree: 1.0,
        microscope: None,
    }
}

/// Interference colours, or three columns of them with a plate; the same again for the path where it is wanted.
pub(super) fn scale(with_plate: bool, to_nm: f64, step_nm: f64, beside: bool) -> Scale {
    let grid = WavelengthGrid::new(380.0, 780.0, 5.0).unwrap();
    let path = path(true);
    let (lamp, sheet) = (lamp(), ideal_sheet());
    let request = ScaleRequest {
        exposure_stops: 0.5,
        microscope: beside.then_some((&path, &grid)),
        ..between_sheets(&lamp, &sheet, (to_nm, step_nm))
    };
    let own = path.parts.iter().find_map(|part| match &part.kind {
        PartKind::Plate(plate) => Some(plate),
        _ => None,
    });
    let made = if with_plate {
        plate(&request, own)
    } else {
        interference(&request)
    };
    made.unwrap()
}

/// What a chart for the wall shows between ideal polars, with a first-order plate.
pub(super) fn wall_scale(to_nm: f64, step_nm: f64) -> Scale {
    let (lamp, sheet) = (lamp(), ideal_sheet());
    let request = between_sheets(&lamp, &sheet, (to_nm, step_nm));
    wall(&request, Some(&accessory_plate(FIRST_ORDER_NM))).unwrap()
}

/// Background colours of two strains at two irises, again and again in so many rows and columns.
pub(super) fn matrix(rows: usize, columns: usize) -> ColorGrid {
    fn again<T: Clone>(list: &[T], count: usize) -> Vec<T> {
        list.iter().cycle().take(count).cloned().collect()
    }
    fn table<T: Clone>(of: &[Vec<T>], rows: usize, columns: usize) -> Vec<Vec<T>> {
        let wide: Vec<Vec<T>> = of.iter().map(|row| again(row, columns)).collect();
        again(&wide, rows)
    }
    let scene = scene(path(true), lamp(), 20.0);
    let mut chart = background(&scene, &[0.0, 20.0], &[0.1, 0.25], GridShown::default()).unwrap();
    chart.rows = again(&chart.rows, rows);
    chart.columns = again(&chart.columns, columns);
    for panel in &mut chart.panels {
        panel.cells = table(&panel.cells, rows, columns);
        panel.labels = table(&panel.labels, rows, columns);
    }
    chart
}
