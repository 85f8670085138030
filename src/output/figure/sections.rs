//! The light along two diameters of the back focal plane.

use super::axes::{Panel, Scale};
use super::back_focal_plane::{luminances, subtitle};
use super::look::{BODY, draw, head};
use super::numbers::plain;
use super::{Figure, FigureError};
use crate::color::Xyz;
use crate::output::sheet::{Color, Pen, Type};
use crate::study::aperture::BackFocalPlane;

const HEIGHT: f64 = 540.0;
const LEFT: f64 = 98.0;
const RIGHT: f64 = 772.0;
const TOP: f64 = 128.0;
const BOTTOM: f64 = 470.0;
/// The most decades, and the fewest.
const MOST_DECADES: i32 = 8;
const FEWEST_DECADES: i32 = 2;
/// Light below this is none.
const LEAST: f64 = 1e-15;

/// Full and dashed, dark and light, thin and thick: no two differ by hue alone. Plates out along the dark and the bright direction, then plates in.
const PENS: [Pen; 4] = [
    Pen::full(Color(0x1e, 0x1e, 0x24), 3.0),
    Pen {
        color: Color(0x1e, 0x1e, 0x24),
        width: 2.4,
        dashes: &[10.0, 5.0],
    },
    Pen::full(Color(0xd0, 0x7a, 0x30), 1.8),
    Pen {
        color: Color(0xd0, 0x7a, 0x30),
        width: 2.2,
        dashes: &[2.5, 3.5],
    },
];

/// Draws it.
pub(super) fn figure(title: &str, answer: &BackFocalPlane) -> Result<Figure, FigureError> {
    let mut curves: Vec<(String, &[f64], &[Xyz], Pen)> = Vec::new();
    for plate in [false, true] {
        for (k, section) in answer.sections.iter().enumerate() {
            let light = if plate {
                section.with_plate.as_deref()
            } else {
                Some(&section.without_plate[..])
            };
            let Some(light) = light else { continue };
            let plates = match (plate, &section.with_plate) {
                (true, _) => ", plate in",
                (false, Some(_)) => ", plate out",
                (false, None) => "",
            };
            let degrees = plain(section.azimuth_rad.to_degrees(), 0);
            let pen = PENS[(2 * usize::from(plate) + k) % PENS.len()];
            let which = ["dark", "bright"][k % 2];
            let name = format!("{which} direction, {degrees}°{plates}");
            curves.push((name, &section.na, light, pen));
        }
    }
    let axes = Axes::of(
        answer.na,
        curves.iter().flat_map(|curve| luminances(curve.2)),
    );
    draw("sections", title, HEIGHT, |sheet| {
        head(
            sheet,
            title,
            subtitle(answer).split(';').next().unwrap_or_default(),
        );
        let panel = axes.panel();
        panel.draw(sheet);
        for (k, (name, na, light, pen)) in curves.iter().enumerate() {
            let points: Vec<(f64, f64)> = na.iter().copied().zip(luminances(light)).collect();
            panel.curve(sheet, &points, *pen);
            let (x, y) = (
                LEFT + 10.0 + 340.0 * (k / 2) as f64,
                88.0 + 20.0 * (k % 2) as f64,
            );
            sheet.line(&[(x, y), (x + 56.0, y)], *pen);
            sheet.text(name, (x + 66.0, y), Type { size: 14.0, ..BODY });
        }
    })
}

struct Axes {
    na: f64,
    /// Lowest and highest decade.
    bottom: i32,
    top: i32,
    cut: bool,
}

impl Axes {
    fn of(na: f64, light: impl Iterator<Item = f64>) -> Self {
        let seen: Vec<f64> = light.filter(|v| v.is_finite()).collect();
        let high = seen.iter().copied().fold(LEAST, f64::max);
        let low = seen.iter().copied().fold(high, f64::min).max(LEAST);
        let top = (high.log10() - 1e-9).ceil() as i32;
        let bottom = (low.log10() + 1e-9).floor() as i32;
        let bottom = bottom.clamp(top - MOST_DECADES, top - FEWEST_DECADES);
        let least = 10f64.powi(bottom) * (1.0 - 1e-9);
        Self {
            na,
            bottom,
            top,
            cut: seen.iter().any(|v| *v < least),
        }
    }

    fn panel(&self) -> Panel<'static> {
        Panel {
            left: LEFT,
            right: RIGHT,
            top: TOP,
            bottom: BOTTOM,
            x: Scale::linear(-self.na, self.na, 9),
            y: Scale::decades(self.bottom, self.top, self.cut),
            x_title: "place on the diameter in NA; its positive end points to the azimuth named",
            y_title: "light over the parallel field's mean",
            grid: (false, true),
        }
    }
}
