//! The light along two diameters of the back focal plane.

use super::axes::{AxesPanel, AxisScale, NamedCurve};
use super::back_focal_plane::subtitle;
use super::look::*;
use super::numbers::plain;
use super::scale_bar::decade_axis;
use crate::color::Xyz;
use crate::output::disc::LightScale;
use crate::study::aperture::{BackFocalPlane, SectionsAlong};

const HEIGHT: f64 = 540.0;
const LEFT: f64 = 98.0;
const AREA: [f64; 4] = [LEFT, 772.0, 128.0, 470.0];
/// The fewest decades and the most.
const DECADES: (i32, i32) = (2, 8);

/// Full and dashed, dark and light, thin and thick: no two differ by hue alone. Plates out along the dark and the bright direction, then plates in.
const PENS: [Pen; 4] = [
    Pen::full(Color(0x1e, 0x1e, 0x24), 3.0),
    Pen::dashed(Color(0x1e, 0x1e, 0x24), 2.4, &[10.0, 5.0]),
    Pen::full(Color(0xd0, 0x7a, 0x30), 1.8),
    Pen::dashed(Color(0xd0, 0x7a, 0x30), 2.2, &[2.5, 3.5]),
];

/// Draws the figure.
pub(super) fn figure(title: &str, answer: &BackFocalPlane) -> Result<Figure, FigureError> {
    let mut curves = Vec::new();
    for plate in [false, true] {
        for (k, section) in answer.sections.iter().enumerate() {
            let (light, plates) = match (plate, &section.with_plate) {
                (true, Some(within)) => (within, ", plate in"),
                (true, None) => continue,
                (false, Some(_)) => (&section.without_plate, ", plate out"),
                (false, None) => (&section.without_plate, ""),
            };
            let degrees = plain(section.azimuth_rad.to_degrees(), 0);
            let [first, second] = match answer.sections_along {
                SectionsAlong::DarkAndBright => ["dark", "bright"],
                SectionsAlong::NoCross | SectionsAlong::BesideArms => ["diameter", "diameter"],
                SectionsAlong::FigureMiddle => ["figure's middle", "across"],
            };
            let which = [first, second][k % 2];
            let name = vec![format!("{which} at {degrees}°{plates}")];
            let light = light.iter().map(Xyz::luminance);
            let points = section.na.iter().copied().zip(light).collect();
            let pen = PENS[(2 * usize::from(plate) + k) % PENS.len()];
            curves.push(NamedCurve { name, pen, points });
        }
    }
    let light = curves.iter().flat_map(|curve| &curve.points);
    let scale = LightScale::within(light.map(|point| point.1), DECADES, usize::MAX);
    let x_title = "place on the diameter in NA; its positive end points to the azimuth named";
    let x = AxisScale::linear(-answer.na, answer.na, 9).titled(x_title);
    let y = decade_axis(&scale, &[1]).titled("light over the parallel field's mean");
    let panel = AxesPanel::new(AREA, x, y).gridded(false, true);
    let shown = subtitle(answer);
    let shown = shown.split(';').next().unwrap_or_default();
    draw("sections", (title, shown), HEIGHT, |sheet| {
        panel.draw(sheet);
        for (k, NamedCurve { name, pen, points }) in curves.iter().enumerate() {
            panel.curve(sheet, points, *pen);
            let x = LEFT + 10.0 + 340.0 * (k / 2) as f64;
            let y = 88.0 + 20.0 * (k % 2) as f64;
            sheet.line(&[(x, y), (x + 56.0, y)], *pen);
            sheet.text(&name[0], (x + 66.0, y), BODY.sized(14.0));
        }
    })
}
