//! Transmittance over the spectrum.

use super::axes::{Name, Panel, Scale};
use super::look::{BODY, SOFT_INK, draw, head};
use super::numbers::power_of_ten;
use super::{Figure, FigureError};
use crate::output::sheet::{Color, Pen, Sheet, Type};
use crate::study::predict::Prediction;

const HEIGHT: f64 = 540.0;
const LEFT: f64 = 98.0;
const RIGHT: f64 = 630.0;
const TOP: f64 = 86.0;
const BOTTOM: f64 = 470.0;

/// Transmittances below this are taken for none.
const LEAST: f64 = 1e-15;
/// The most decades that an axis has, the fewest, and the fewest of one on which no light is drawn.
const MOST_DECADES: i32 = 12;
const FEWEST_DECADES: i32 = 2;
const DECADES_TO_NOTHING: i32 = 6;

/// One curve; lightness, width and dashes all tell it from the others.
struct Curve<'a> {
    /// Its name, line by line.
    name: Vec<String>,
    values: &'a [f64],
    pen: Pen,
}

const PARALLEL: Pen = Pen {
    color: Color(0x2c, 0x74, 0xb8),
    width: 2.2,
    dashes: &[11.0, 5.0],
};
const CROSSED: Pen = Pen::full(Color(0x1e, 0x1e, 0x24), 3.2);
const WITH_PLATE: Pen = Pen {
    color: Color(0xa8, 0x42, 0x10),
    width: 3.0,
    dashes: &[3.0, 3.5],
};

/// Draws it.
pub(super) fn figure(title: &str, prediction: &Prediction) -> Result<Figure, FigureError> {
    let curves = curves(prediction);
    let subtitle = if prediction.beside_specimen.is_some() {
        "Transmittance over the spectrum, mean over the aperture; crossed with the specimen in"
    } else {
        "Transmittance over the spectrum, mean over the aperture"
    };
    draw("spectra", title, HEIGHT, |sheet| {
        head(sheet, title, subtitle);
        let axes = Axes::of(&prediction.wavelength_nm, &curves);
        let panel = axes.panel();
        axes.draw(sheet, &panel);
        for curve in &curves {
            let points = prediction.wavelength_nm.iter().zip(curve.values);
            let points: Vec<(f64, f64)> = points.map(|(nm, value)| (*nm, *value)).collect();
            panel.curve(sheet, &points, curve.pen);
        }
        let last = |curve: &Curve| curve.values.iter().copied().rfind(|v| !v.is_nan());
        let names: Vec<Name> = (curves.iter())
            .filter_map(|curve| {
                Some(Name {
                    lines: &curve.name,
                    pen: curve.pen,
                    ends_at: Some(last(curve)?),
                })
            })
            .collect();
        panel.names(sheet, &names, (15.0, 130.0));
    })
}

fn lines(words: &[&str]) -> Vec<String> {
    words.iter().map(|line| (*line).to_owned()).collect()
}

fn curves(prediction: &Prediction) -> Vec<Curve<'_>> {
    let fields = &prediction.fields;
    let mut curves = vec![
        Curve {
            name: lines(&["parallel polars"]),
            values: &fields.parallel,
            pen: PARALLEL,
        },
        Curve {
            name: lines(&["crossed polars"]),
            values: &fields.crossed,
            pen: CROSSED,
        },
    ];
    if let Some(values) = &fields.crossed_with_plate {
        curves[1].name = lines(&["crossed polars,", "plate out"]);
        curves.push(Curve {
            name: lines(&["crossed polars,", "plate in"]),
            values,
            pen: WITH_PLATE,
        });
    }
    curves
}

struct Axes {
    from_nm: f64,
    to_nm: f64,
    /// Lowest and highest decade.
    bottom: i32,
    top: i32,
    /// Whether something lies below the lowest decade.
    cut: bool,
}

impl Axes {
    fn of(wavelength_nm: &[f64], curves: &[Curve]) -> Self {
        let (mut from_nm, mut to_nm) = (wavelength_nm.iter().copied().filter(|nm| nm.is_finite()))
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), nm| {
                (low.min(nm), high.max(nm))
            });
        if from_nm >= to_nm {
            (from_nm, to_nm) = (from_nm - 10.0, to_nm + 10.0);
        }
        if !(from_nm.is_finite() && to_nm.is_finite()) {
            (from_nm, to_nm) = (380.0, 780.0);
        }
        let all = || (curves.iter().flat_map(|curve| curve.values)).filter(|v| !v.is_nan());
        let (low, high) = (all().copied().filter(|v| v.is_finite() && *v > LEAST))
            .fold((f64::INFINITY, 0f64), |(low, high), v| {
                (low.min(v), high.max(v))
            });
        let (mut bottom, top) = if high > 0.0 {
            // A hair of slack: what is meant to be a power of ten may have been rounded.
            (
                (low.log10() + 1e-9).floor() as i32,
                (high.log10() - 1e-9).ceil() as i32,
            )
        } else {
            (-6, 0)
        };
        let below = |bottom: i32| {
            let least = 10f64.powi(bottom) * (1.0 - 1e-9);
            all().any(|&v| v < least)
        };
        bottom = bottom.clamp(top - MOST_DECADES, top - FEWEST_DECADES);
        let cut = below(bottom);
        if cut {
            bottom = bottom.min(top - DECADES_TO_NOTHING);
        }
        Self {
            from_nm,
            to_nm,
            bottom,
            top,
            cut,
        }
    }

    fn panel(&self) -> Panel<'static> {
        Panel {
            left: LEFT,
            right: RIGHT,
            top: TOP,
            bottom: BOTTOM,
            x: Scale::linear(self.from_nm, self.to_nm, 9),
            y: Scale::decades(self.bottom, self.top, false),
            x_title: "wavelength (nm)",
            y_title: "transmittance",
            grid: (true, true),
        }
    }

    fn draw(&self, sheet: &Sheet, panel: &Panel) {
        if self.top - self.bottom <= 6 {
            let faint = Pen::full(Color(0xee, 0xee, 0xf2), 0.8);
            for exponent in self.bottom..self.top {
                for mantissa in 2..10 {
                    let y = panel.y(f64::from(mantissa) * 10f64.powi(exponent));
                    sheet.line(&[(LEFT, y), (RIGHT, y)], faint);
                }
            }
        }
        panel.draw(sheet);
        if self.cut {
            let note = format!("no light, or less than {}", power_of_ten(self.bottom));
            let set = Type {
                size: 13.0,
                color: SOFT_INK,
                ..BODY
            };
            sheet.text(&note, (LEFT + 10.0, BOTTOM - 13.0), set);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_axis_spans_the_decades_of_the_light() {
        let axes = |values: &[f64]| {
            let curve = Curve {
                name: Vec::new(),
                values,
                pen: CROSSED,
            };
            let axes = Axes::of(&[400.0, 500.0, 600.0], &[curve]);
            (axes.bottom, axes.top, axes.cut)
        };
        assert_eq!(axes(&[0.3, 2e-5, 1e-4]), (-5, 0, false));
        assert_eq!(axes(&[0.3, 0.0, 1e-4]), (-6, 0, true));
        assert_eq!(axes(&[0.3, 0.0, 2e-8]), (-8, 0, true));
        assert_eq!(axes(&[0.1, 0.1, 0.1]), (-3, -1, false));
        assert_eq!(axes(&[0.0, f64::NAN, 0.0]), (-6, 0, true));
        assert_eq!(axes(&[1.0, 1e-14, 1e-3]), (-12, 0, true));
        let panel = Axes::of(&[546.1], &[]).panel();
        assert_eq!(
            (panel.x(546.1), panel.y(0.0)),
            (0.5 * (LEFT + RIGHT), BOTTOM)
        );
    }
}
