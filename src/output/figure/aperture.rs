//! The back focal plane at the crossed setting.

use super::axes::{AxesPanel, AxisScale};
use super::look::*;
use super::map::ApertureMap;
use super::numbers::{extinction, plain, significant};
use super::scale_bar::bar;
use crate::light_path::Crossing;
use crate::output::disc::LightScale;
use crate::study::predict::Prediction;

const HEIGHT: f64 = 732.0;
/// The square that the axes frame.
const LEFT: f64 = 98.0;
const TOP: f64 = 84.0;
const SIDE: f64 = 528.0;
/// The side is wider than the disc: the polars are marked in the room between.
const RADIUS: f64 = 0.5 * SIDE / 1.2;
const CENTRE: Point = (LEFT + 0.5 * SIDE, TOP + 0.5 * SIDE);

/// Draws the figure.
pub(super) fn figure(
    title: &str,
    prediction: &Prediction,
    map: &ApertureMap,
) -> Result<Figure, FigureError> {
    map.check()?;
    let plates = match (
        &prediction.background.with_plate,
        &prediction.beside_specimen,
    ) {
        (Some(_), Some(_)) => ", plate out, specimen in",
        (Some(_), None) => ", plate out",
        (None, Some(_)) => ", specimen in",
        (None, None) => "",
    };
    let plane = match map.has_objective {
        true => "Back focal plane",
        false => "Directions from which light reaches the eye or camera",
    };
    let turned = polars_words(&prediction.crossing);
    let marks = map.polars_rad.map(|(lower, analyzer)| {
        let [lower, analyzer] = [lower, analyzer].map(degrees);
        format!("; marks: lower polar {lower}° thick, analyzer {analyzer}° thin")
    });
    let subtitle = format!("{plane}, {turned}{plates}{}", marks.unwrap_or_default());
    let scale = LightScale::of(map.value.iter().copied());
    draw("aperture", (title, &subtitle), HEIGHT, |sheet| {
        map.draw_marked(sheet, &scale, (CENTRE, RADIUS));
        axes(sheet, map.na);
        bar(sheet, &scale, (TOP, TOP + SIDE));
        let extinction = extinction("extinction ratio", prediction.extinction_ratio);
        let mean = significant(prediction.background.without_plate.relative_luminance);
        let na = plain(map.na, 2);
        let caption = format!("NA {na} · mean {mean} of the parallel field · {extinction}");
        sheet.fitted(&caption, (MARGIN, HEIGHT - 28.0), ROOM, BODY)
    })
}

/// An azimuth of a polar in degrees, with a decimal where it has one.
fn degrees(azimuth_rad: f64) -> String {
    let tenths = (10.0 * azimuth_rad.to_degrees()).round().rem_euclid(1800.0);
    plain(0.1 * tenths, usize::from(tenths % 10.0 != 0.0))
}

/// How the polars stand.
pub(super) fn polars_words(crossing: &Crossing) -> String {
    match crossing {
        Crossing::Circular => "circular polars".to_owned(),
        Crossing::Crossed { .. } => "polars crossed".to_owned(),
        Crossing::Unmatched { .. } => "not crossed: retarders that do not match".to_owned(),
        Crossing::Apart { degrees } => format!("polars {degrees:.0}° apart"),
        Crossing::LoneRetarder { .. } => "not crossed: a retarder without a partner".to_owned(),
    }
}

fn axes(sheet: &Sheet, na: f64) {
    // The disc does not fill the square.
    let end = 0.5 * SIDE / RADIUS * na;
    let scale = AxisScale::linear_within(-end, end, (-na, na), 6);
    let area = [LEFT, LEFT + SIDE, TOP, TOP + SIDE];
    let x = scale.clone().titled("x in NA (East)");
    let panel = AxesPanel::new(area, x, scale.titled("y in NA (North)"));
    panel.gridded(false, false).draw(sheet);
}
