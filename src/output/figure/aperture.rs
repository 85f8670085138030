//! The back focal plane at the crossed setting.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

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
const CENTRE: (f64, f64) = (LEFT + 0.5 * SIDE, TOP + 0.5 * SIDE);

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
    let subtitle = format!("{plane}, {turned}{plates}");
    let scale = LightScale::of(map.value.iter().copied());
    draw("aperture", (title, &subtitle), HEIGHT, |sheet| {
        map.draw_marked(sheet, &scale, (CENTRE, RADIUS));
        axes(sheet, map.na);
        if let Some(azimuths) = map.polars_rad {
            names_of_polars(sheet, azimuths);
        }
        bar(sheet, &scale, (TOP, TOP + SIDE));
        let extinction = extinction("extinction ratio", prediction.extinction_ratio);
        let mean = significant(prediction.background.without_plate.relative_luminance);
        let na = plain(map.na, 2);
        let caption = format!("NA {na} · mean {mean} of the parallel field · {extinction}");
        sheet.fitted(&caption, (MARGIN, HEIGHT - 28.0), ROOM, BODY)
    })
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

/// The name of each polar at one end of its direction.
fn names_of_polars(sheet: &Sheet, (lower, analyzer): (f64, f64)) {
    // The lower polar is named on the East side, the analyzer on the North side, or opposite where they would meet.
    let lower = (lower + FRAC_PI_2).rem_euclid(PI) - FRAC_PI_2;
    let mut upper = analyzer.rem_euclid(PI);
    let between = (upper - lower).rem_euclid(TAU);
    if between.min(TAU - between) < 0.7 {
        upper += PI;
    }
    for (name, azimuth) in [("lower polar", lower), ("analyzer", upper)] {
        let (sin, cos) = azimuth.sin_cos();
        let at = |r: f64| (CENTRE.0 + r * cos, CENTRE.1 - r * sin);
        let degrees = (10.0 * azimuth.to_degrees()).round().rem_euclid(1800.0) / 10.0;
        let decimals = usize::from(degrees.fract() != 0.0);
        let text = format!("{name} {}°", plain(degrees, decimals));
        let set = BODY.sized(14.0).centred();
        let (r, upward) = beside_rim(azimuth, sheet.width(&text, set), set.size);
        sheet.text(&text, at(r), set.turned(upward));
    }
}

/// Where a text of this width and height is centred outside the marks on the rim: how far out, and whether it must be turned upward to
/// stay in the frame.
fn beside_rim(azimuth_rad: f64, width: f64, height: f64) -> (f64, bool) {
    let (sin, cos) = (azimuth_rad.sin().abs(), azimuth_rad.cos().abs());
    let place = |wide: f64, high: f64| {
        let beyond = |along: f64, half: f64| (along - half).max(0.0);
        let nearest = |r: f64| beyond(r * cos, 0.5 * wide).hypot(beyond(r * sin, 0.5 * high));
        let mut r = RADIUS;
        // Whichever of its points is nearest keeps clear of the marks.
        while nearest(r) < RADIUS + 21.0 {
            r += 1.0;
        }
        let fits = (r * cos + 0.5 * wide).max(r * sin + 0.5 * high) < 0.5 * SIDE - 5.0;
        (r, fits)
    };
    match place(width, height) {
        (r, true) => (r, false),
        _ => (place(height, width).0, true),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_polars_stay_outside_the_disc_and_inside_the_frame() {
        for degrees in 0..360 {
            let azimuth = f64::from(degrees).to_radians();
            let (width, height) = (112.0, 14.0);
            let (r, upward) = beside_rim(azimuth, width, height);
            let (wide, high) = match upward {
                true => (height, width),
                false => (width, height),
            };
            let (x, y) = ((r * azimuth.cos()).abs(), (r * azimuth.sin()).abs());
            let nearest = (x - 0.5 * wide).max(0.0).hypot((y - 0.5 * high).max(0.0));
            assert!(nearest >= RADIUS + 18.0, "{degrees}: {nearest}");
            let furthest = (x + 0.5 * wide).max(y + 0.5 * high);
            assert!(furthest <= 0.5 * SIDE - 2.0, "{degrees}: {furthest}");
        }
    }
}
