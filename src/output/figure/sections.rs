//! The light along two diameters of the back focal plane.

use super::back_focal_plane::{luminances, subtitle};
use super::look::{BODY, FRAME, GRID, SOFT_INK, draw, head};
use super::numbers::{linear_ticks, plain, power_of_ten};
use super::{Figure, FigureError};
use crate::color::Xyz;
use crate::output::sheet::{Color, HPos, Pen, Point, Sheet, Type, VPos};
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
        axes.draw(sheet);
        for (k, (name, na, light, pen)) in curves.iter().enumerate() {
            let points: Vec<Point> = (na.iter().zip(luminances(light)))
                .map(|(na, light)| (axes.x(*na), axes.y(light)))
                .collect();
            sheet.line(&points, *pen);
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

    fn x(&self, na: f64) -> f64 {
        LEFT + (na / self.na + 1.0) * 0.5 * (RIGHT - LEFT)
    }

    fn y(&self, light: f64) -> f64 {
        let log = light.max(LEAST).log10().max(f64::from(self.bottom));
        BOTTOM - (log - f64::from(self.bottom)) / f64::from(self.top - self.bottom) * (BOTTOM - TOP)
    }

    fn draw(&self, sheet: &Sheet) {
        let pen = Pen::full(FRAME, 1.2);
        let right = Type {
            h: HPos::Right,
            ..BODY
        };
        for decade in self.bottom..=self.top {
            let y = self.y(10f64.powi(decade));
            sheet.line(&[(LEFT, y), (RIGHT, y)], Pen::full(GRID, 1.0));
            let below = if self.cut && decade == self.bottom {
                "≤ "
            } else {
                ""
            };
            let words = format!("{below}{}", power_of_ten(decade));
            sheet.text(&words, (LEFT - 10.0, y), right);
        }
        let (ticks, decimals) = linear_ticks(-self.na, self.na, 9);
        let below = Type {
            h: HPos::Center,
            v: VPos::Top,
            ..BODY
        };
        for tick in ticks {
            let x = self.x(tick);
            sheet.line(&[(x, BOTTOM), (x, BOTTOM + 6.0)], pen);
            sheet.text(&plain(tick, decimals), (x, BOTTOM + 10.0), below);
        }
        sheet.frame((LEFT, TOP), (RIGHT, BOTTOM), pen);
        let middle = Type {
            h: HPos::Center,
            ..BODY
        };
        let words = "place on the diameter in NA; its positive end points to the azimuth named";
        sheet.text(
            words,
            (0.5 * (LEFT + RIGHT), BOTTOM + 46.0),
            Type {
                size: 14.0,
                ..middle
            },
        );
        let upward = Type {
            upward: true,
            size: 14.0,
            color: SOFT_INK,
            ..middle
        };
        let words = "light over the parallel field's mean";
        sheet.text(words, (26.0, 0.5 * (TOP + BOTTOM)), upward)
    }
}
