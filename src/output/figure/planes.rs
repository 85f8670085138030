//! Back focal planes side by side: a row for each place of the lower polar, a column for each iris.

use super::look::*;
use super::map::ApertureMap;
use super::numbers::{extinction, plain};
use super::scale_bar::bar;
use crate::output::disc::LightScale;
use crate::study::place::Placement;

/// Where the first row begins, and how high a row is.
const TOP: f64 = 108.0;
const ROW: f64 = 142.0;
/// The bar with its words needs as much.
const LEAST_HEIGHT: f64 = 350.0;
/// Where the first column begins, how wide a column is, and the disc of the full NA.
const LEFT: f64 = 166.0;
const COLUMN: f64 = 117.0;
const DISC: f64 = 108.0;
/// Columns, as fractions of the full NA.
const IRISES: [f64; 4] = [0.4, 0.6, 0.8, 1.0];

/// A back focal plane of one place at one iris.
#[derive(Debug, Clone, PartialEq)]
pub struct PlacePlane {
    /// Index of the place in [`Placement::lower`].
    pub place: usize,
    /// Index of the iris in [`Placement::iris_na`].
    pub iris: usize,
    /// What it shows.
    pub map: ApertureMap,
}

/// Indices in [`Placement::iris_na`] of the irises that the figure shows, the scenario's own among them.
#[must_use]
pub fn plane_irises(answer: &Placement) -> Vec<usize> {
    let full = answer.iris_na[answer.iris_na.len() - 1];
    let nearest = |na: f64| {
        let apart = |k: &usize| (answer.iris_na[*k] - na).abs();
        (0..answer.iris_na.len()).min_by(|a, b| apart(a).total_cmp(&apart(b)))
    };
    let parts = IRISES.iter().filter_map(|part| nearest(part * full));
    let mut irises: Vec<usize> = parts.collect();
    let own = nearest(answer.na);
    if let Some(own) = own.filter(|own| !irises.contains(own)) {
        // In place of the nearest of the smaller ones.
        let last = irises.len() - 1;
        let off = |k: &usize| (answer.iris_na[irises[*k]] - answer.na).abs();
        if let Some(k) = (0..last).min_by(|a, b| off(a).total_cmp(&off(b))) {
            irises[k] = own;
        }
    }
    irises.sort_unstable();
    irises.dedup();
    irises
}

/// Draws them.
pub(super) fn figure(
    title: &str,
    answer: &Placement,
    planes: &[PlacePlane],
) -> Result<Figure, FigureError> {
    for plane in planes {
        plane.map.check()?;
    }
    let light = planes.iter().flat_map(|plane| &plane.map.value);
    let scale = LightScale::of(light.copied());
    let full = answer.iris_na[answer.iris_na.len() - 1];
    let irises = plane_irises(answer);
    let rows = &answer.verdict.rivals;
    let bottom = TOP + ROW * rows.len() as f64;
    let height = (bottom + 8.0).max(TOP + LEAST_HEIGHT);
    let plane = match planes.first().is_none_or(|plane| plane.map.has_objective) {
        true => "Back focal planes at crossed polars",
        false => "Light by direction at crossed polars",
    };
    let subtitle = format!("{plane}, plates out, and the extinction ratio of each");
    draw("planes", (title, &subtitle), height, |sheet| {
        let middle = BODY.centred();
        let centre = |column: usize| LEFT + COLUMN * (column as f64 + 0.5);
        for (column, iris) in irises.iter().enumerate() {
            let na = answer.iris_na[*iris];
            let now = if na == answer.na { " (now)" } else { "" };
            let words = format!("NA {}{now}", plain(na, 2));
            sheet.text(&words, (centre(column), TOP - 18.0), middle);
        }
        for (row, &place) in rows.iter().enumerate() {
            let y = TOP + ROW * row as f64 + 0.5 * DISC;
            let answer_row = &answer.lower[place];
            let set = BODY.sized(14.0);
            let room = LEFT - MARGIN - 6.0;
            let mut name = sheet.wrapped(&answer_row.placed.place.words(), room, set);
            name.extend(answer_row.placed.written.then(|| "(now)".to_owned()));
            sheet.block(&name, (MARGIN, y), (20.0, room), set);
            for (column, &iris) in irises.iter().enumerate() {
                let x = centre(column);
                let shown = |plane: &&PlacePlane| plane.place == place && plane.iris == iris;
                let Some(plane) = planes.iter().find(shown) else {
                    sheet.text("-", (x, y), middle);
                    continue;
                };
                let part = plane.map.na / full;
                let disc = ((x, y), 0.5 * DISC * part);
                plane.map.draw(sheet, &scale, disc);
                let seen = answer_row.at_iris[iris].as_ref();
                let words = extinction("", seen.and_then(|at| at.extinction_ratio));
                sheet.text(&words, (x, y + 0.5 * DISC + 14.0), middle);
            }
        }
        let bar_bottom = (bottom - ROW + DISC).max(TOP + LEAST_HEIGHT - 16.0);
        bar(sheet, &scale, (TOP, bar_bottom))
    })
}
