//! Transmittance over the spectrum.

use super::look::{BODY, FRAME, GRID, SOFT_INK, draw, head};
use super::numbers::{linear_ticks, plain, power_of_ten};
use super::{Figure, FigureError};
use crate::output::sheet::{Color, HPos, Pen, Point, Sheet, Type, VPos};
use crate::study::predict::Prediction;

const HEIGHT: f64 = 540.0;
const LEFT: f64 = 98.0;
const RIGHT: f64 = 630.0;
const TOP: f64 = 86.0;
const BOTTOM: f64 = 470.0;
/// Where the names of the curves begin, and the height of one of their lines.
const NAMES: f64 = 654.0;
const NAME_LINE: f64 = 19.0;

/// Transmittances below this are taken for none.
const LEAST: f64 = 1e-15;
/// The most decades that an axis has, the fewest, and the fewest of one on which no light is drawn.
const MOST_DECADES: i32 = 12;
const FEWEST_DECADES: i32 = 2;
const DECADES_TO_NOTHING: i32 = 6;

/// One curve; lightness, width and dashes all tell it from the others.
struct Curve<'a> {
    /// Its name, line by line.
    name: &'static [&'static str],
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
        axes.draw(sheet);
        for curve in &curves {
            axes.curve(sheet, &prediction.wavelength_nm, curve);
        }
        names(sheet, &axes, &curves)
    })
}

fn curves(prediction: &Prediction) -> Vec<Curve<'_>> {
    let fields = &prediction.fields;
    let mut curves = vec![
        Curve {
            name: &["parallel polars"],
            values: &fields.parallel,
            pen: PARALLEL,
        },
        Curve {
            name: &["crossed polars"],
            values: &fields.crossed,
            pen: CROSSED,
        },
    ];
    if let Some(values) = &fields.crossed_with_plate {
        curves[1].name = &["crossed polars,", "plate out"];
        curves.push(Curve {
            name: &["crossed polars,", "plate in"],
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

    fn x(&self, nm: f64) -> f64 {
        LEFT + (nm - self.from_nm) / (self.to_nm - self.from_nm) * (RIGHT - LEFT)
    }

    fn y_of_log(&self, log: f64) -> f64 {
        BOTTOM - (log - f64::from(self.bottom)) / f64::from(self.top - self.bottom) * (BOTTOM - TOP)
    }

    /// Zeros and what is next to nothing lie on the lowest line.
    fn y(&self, value: f64) -> f64 {
        let least = 10f64.powi(self.bottom);
        self.y_of_log(value.max(least).log10().min(f64::from(self.top)))
    }

    fn draw(&self, sheet: &Sheet) {
        let grid = Pen::full(GRID, 1.0);
        let faint = Pen::full(Color(0xee, 0xee, 0xf2), 0.8);
        let decades = self.top - self.bottom;
        if decades <= 6 {
            for exponent in self.bottom..self.top {
                for mantissa in 2..10 {
                    let y = self.y_of_log(f64::from(exponent) + f64::from(mantissa).log10());
                    sheet.line(&[(LEFT, y), (RIGHT, y)], faint);
                }
            }
        }
        let (ticks, decimals) = linear_ticks(self.from_nm, self.to_nm, 9);
        for &nm in &ticks {
            let x = self.x(nm);
            sheet.line(&[(x, TOP), (x, BOTTOM)], grid);
            let set = Type {
                h: HPos::Center,
                v: VPos::Top,
                ..BODY
            };
            sheet.text(&plain(nm, decimals), (x, BOTTOM + 12.0), set);
        }
        for exponent in self.bottom..=self.top {
            let y = self.y_of_log(f64::from(exponent));
            sheet.line(&[(LEFT, y), (RIGHT, y)], grid);
            let set = Type {
                h: HPos::Right,
                ..BODY
            };
            sheet.text(&power_of_ten(exponent), (LEFT - 9.0, y), set);
        }
        sheet.frame((LEFT, TOP), (RIGHT, BOTTOM), Pen::full(FRAME, 1.2));
        let middle = Type {
            h: HPos::Center,
            ..BODY
        };
        let (x, y) = (0.5 * (LEFT + RIGHT), 0.5 * (TOP + BOTTOM));
        sheet.text("wavelength (nm)", (x, BOTTOM + 48.0), middle);
        let upward = Type {
            upward: true,
            ..middle
        };
        sheet.text("transmittance", (30.0, y), upward);
        if self.cut {
            let note = format!("no light, or less than {}", power_of_ten(self.bottom));
            let set = Type {
                size: 13.0,
                color: SOFT_INK,
                v: VPos::Center,
                ..BODY
            };
            sheet.text(&note, (LEFT + 10.0, BOTTOM - 13.0), set);
        }
    }

    /// A value that is not a number breaks the line; a point without neighbours is a dot.
    fn curve(&self, sheet: &Sheet, wavelength_nm: &[f64], curve: &Curve) {
        let points: Vec<(f64, f64)> = (wavelength_nm.iter().copied())
            .zip(curve.values.iter().copied())
            .collect();
        for run in points.split(|(nm, value)| !nm.is_finite() || value.is_nan()) {
            let run: Vec<Point> = (run.iter())
                .map(|&(nm, value)| (self.x(nm), self.y(value)))
                .collect();
            match run.as_slice() {
                [] => {}
                [alone] => sheet.dot(*alone, 1.6 * curve.pen.width, curve.pen.color),
                _ => sheet.line(&run, curve.pen),
            }
        }
    }
}

/// The curves' names, each beside the end of its curve.
fn names(sheet: &Sheet, axes: &Axes, curves: &[Curve]) {
    let ends: Vec<(f64, &Curve)> = (curves.iter())
        .filter_map(|curve| {
            let last = curve.values.iter().rev().find(|v| !v.is_nan())?;
            Some((axes.y(*last), curve))
        })
        .collect();
    let wanted: Vec<(f64, f64)> = (ends.iter())
        .map(|(y, curve)| (*y, curve.name.len() as f64 * NAME_LINE + 5.0))
        .collect();
    let places = spread(&wanted, TOP - 8.0, BOTTOM + 8.0);
    for ((end, curve), place) in ends.iter().zip(places) {
        let pen = Pen::full(curve.pen.color, 1.2);
        sheet.line(&[(RIGHT + 3.0, *end), (NAMES - 5.0, place)], pen);
        for (line, text) in curve.name.iter().enumerate() {
            let offset = (line as f64 - 0.5 * (curve.name.len() as f64 - 1.0)) * NAME_LINE;
            let set = Type {
                bold: curve.pen.dashes.is_empty(),
                color: curve.pen.color,
                ..BODY
            };
            sheet.fitted(text, (NAMES, place + offset), 130.0, set);
        }
    }
}

/// Centres of blocks, each as near as can be to where it is wanted, none over another, all between `top` and `bottom` where they fit.
/// `wanted` holds (centre, height).
pub(super) fn spread(wanted: &[(f64, f64)], top: f64, bottom: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    order.sort_by(|&a, &b| wanted[a].0.total_cmp(&wanted[b].0));
    let mut places: Vec<f64> = wanted.iter().map(|w| w.0).collect();
    let mut free = top;
    for &k in &order {
        let half = 0.5 * wanted[k].1;
        places[k] = places[k].max(free + half);
        free = places[k] + half;
    }
    let mut free = bottom;
    for &k in order.iter().rev() {
        let half = 0.5 * wanted[k].1;
        places[k] = places[k].min(free - half);
        free = places[k] - half;
    }
    places
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_do_not_cover_each_other() {
        let wanted = [(100.0, 20.0), (104.0, 40.0), (101.0, 20.0), (399.0, 20.0)];
        let places = spread(&wanted, 0.0, 400.0);
        assert_eq!(places, [100.0, 150.0, 120.0, 390.0]);
    }

    #[test]
    fn the_axis_spans_the_decades_of_the_light() {
        let axes = |values: &[f64]| {
            let curve = Curve {
                name: &["given"],
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
        let axes = Axes::of(&[546.1], &[]);
        assert_eq!((axes.x(546.1), axes.y(0.0)), (0.5 * (LEFT + RIGHT), BOTTOM));
    }
}
