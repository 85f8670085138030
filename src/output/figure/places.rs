//! Extinction ratio over the iris, a line for each place of the lower polar.

use super::look::{BODY, FRAME, GRID, SOFT_INK, draw, head};
use super::marks::{self, Mark};
use super::numbers::{decade_steps, linear_ticks, plain, step_of_decade};
use super::planes::in_two;
use super::spectra::spread;
use super::{Figure, FigureError};
use crate::output::sheet::{Color, HPos, Pen, Point, Sheet, Type, VPos};
use crate::study::place::{Place, Placement};

const HEIGHT: f64 = 560.0;
const LEFT: f64 = 98.0;
const RIGHT: f64 = 598.0;
const TOP: f64 = 112.0;
const BOTTOM: f64 = 490.0;
/// Where the names of the lines begin, how wide they are, and the height of one of their lines.
const NAMES: f64 = 622.0;
const NAMES_WIDTH: f64 = 166.0;
const NAME_LINE: f64 = 18.0;

/// So many letters of a name stand on one line.
const ONE_LINE: usize = 24;

/// A line of the figure: dashes, lightness and a name at its end tell it from the others.
struct Curve {
    name: Vec<String>,
    pen: Pen,
    /// Iris NA and extinction ratio; `None` where there is no number to draw.
    points: Vec<(f64, Option<f64>)>,
    /// At the scenario's own iris.
    own: Option<f64>,
}

/// Draws it.
pub(super) fn figure(title: &str, answer: &Placement) -> Result<Figure, FigureError> {
    let curves: Vec<Curve> = (answer.verdict.rivals.iter())
        .map(|&rival| curve(answer, rival))
        .collect();
    let subtitle = if marks(answer, |na| na).is_empty() {
        "Extinction ratio over the iris for each place of the lower polar"
    } else {
        "Extinction ratio over the iris for each place of the lower polar; the best place changes at the upright lines"
    };
    draw("places", title, HEIGHT, |sheet| {
        head(sheet, title, subtitle);
        let axes = Axes::of(answer, &curves);
        axes.draw(sheet, answer.na);
        let marks = marks(answer, |na| axes.x(na));
        marks::draw(
            sheet,
            &marks,
            (TOP, BOTTOM),
            (LEFT - 60.0, NAMES + NAMES_WIDTH),
        );
        for curve in &curves {
            axes.curve(sheet, answer.na, curve);
        }
        axes.names(sheet, &curves)
    })
}

/// A place's line. Changes of the best place are among its points, so that lines cross where they are marked.
fn curve(answer: &Placement, rival: usize) -> Curve {
    let row = &answer.lower[rival];
    let ratio = |ratio: Option<f64>| ratio.filter(|ratio| *ratio > 0.0);
    let grid = (answer.iris_na.iter().copied())
        .zip((row.at_iris.iter()).map(|at| ratio(at.as_ref().and_then(|at| at.extinction_ratio))));
    let verdicts = [Some(&answer.verdict), answer.without_oil.as_ref()];
    let flips = (verdicts.into_iter().flatten())
        .flat_map(|verdict| &verdict.iris_flips)
        .filter(|flip| flip.from == rival || flip.to == rival)
        .map(|flip| (flip.iris_na, ratio(flip.extinction_ratio)));
    let mut points: Vec<_> = grid.chain(flips).collect();
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    let own = points.iter().find(|(na, _)| *na == answer.na);
    let alike = (answer.lower.iter())
        .filter(|other| other.placed.same_as == Some(rival))
        .flat_map(|other| in_two(&format!("or {}", other.placed.place.words()), ONE_LINE));
    let mut name = in_two(&row.placed.place.words(), ONE_LINE);
    if row.placed.written {
        name.push("(now)".to_owned());
    }
    name.extend(alike);
    Curve {
        name,
        pen: pen(&row.placed.place),
        own: own.and_then(|point| point.1),
        points,
    }
}

fn pen(place: &Place) -> Pen {
    let (color, width, dashes): (_, _, &[f64]) = match place {
        Place::BelowCondenser => (Color(0x1e, 0x1e, 0x24), 3.2, &[]),
        Place::BetweenLenses => (Color(0xa8, 0x42, 0x10), 3.0, &[3.0, 3.5]),
        Place::AboveCondenser => (Color(0x2c, 0x74, 0xb8), 2.6, &[11.0, 5.0]),
        Place::UnderSlideDry => (Color(0x7a, 0x3e, 0x9d), 2.6, &[6.0, 4.0]),
        Place::UnderSlideImmersed { .. } => (Color(0x1f, 0x7a, 0x5c), 2.6, &[14.0, 4.0, 3.0, 4.0]),
        Place::Behind { .. } | Place::AsWritten => (Color(0x7d, 0x7d, 0x86), 3.2, &[]),
    };
    Pen {
        color,
        width,
        dashes,
    }
}

/// Every iris at which the best place changes, and those at which the best without oil does.
fn marks(answer: &Placement, x: impl Fn(f64) -> f64) -> Vec<Mark> {
    let mut marks: Vec<Mark> = (answer.verdict.iris_flips.iter())
        .map(|flip| Mark {
            x: x(flip.iris_na),
            words: format!("NA {}", plain(flip.iris_na, 3)),
            dashes: &[],
        })
        .collect();
    let dry = (answer.without_oil.iter()).flat_map(|dry| &dry.iris_flips);
    for flip in dry.filter(|flip| !answer.verdict.iris_flips.contains(flip)) {
        marks.push(Mark {
            x: x(flip.iris_na),
            words: format!("without oil NA {}", plain(flip.iris_na, 3)),
            dashes: &[5.0, 4.0],
        });
    }
    marks
}

struct Axes {
    from_na: f64,
    to_na: f64,
    /// log10 of the extinction ratio at both ends.
    low: f64,
    high: f64,
    /// Whether there are places without a number, because nothing leaks.
    without_leak: bool,
}

impl Axes {
    fn of(answer: &Placement, curves: &[Curve]) -> Self {
        let ratios = || {
            curves
                .iter()
                .flat_map(|curve| &curve.points)
                .filter_map(|point| point.1)
        };
        let (least, most) = ratios().fold((f64::INFINITY, 0f64), |(least, most), ratio| {
            (least.min(ratio), most.max(ratio))
        });
        let (mut low, mut high) = (2.0, 4.0);
        if most > 0.0 {
            let steps = decade_steps(least.log10() - 1.0, most.log10() + 1.0, &[1, 2, 5]);
            let logs = || steps.iter().map(|step| step.0);
            low = logs()
                .rfind(|log| *log <= least.log10() - 0.02)
                .unwrap_or(least.log10());
            high = logs()
                .find(|log| *log >= most.log10() + 0.02)
                .unwrap_or(most.log10());
        }
        let (first, last) = (answer.iris_na[0], answer.iris_na[answer.iris_na.len() - 1]);
        let nothing = |seen: &crate::study::place::AtIris| seen.extinction_ratio.is_none();
        Self {
            from_na: if first < last { first } else { 0.5 * first },
            to_na: if first < last { last } else { 1.5 * first },
            low,
            high,
            without_leak: (answer.verdict.rivals.iter())
                .any(|rival| answer.lower[*rival].at_iris.iter().flatten().any(nothing)),
        }
    }

    fn x(&self, na: f64) -> f64 {
        LEFT + (na - self.from_na) / (self.to_na - self.from_na) * (RIGHT - LEFT)
    }

    fn y_of_log(&self, log: f64) -> f64 {
        BOTTOM - (log - self.low) / (self.high - self.low) * (BOTTOM - TOP)
    }

    fn draw(&self, sheet: &Sheet, own_na: f64) {
        let grid = Pen::full(GRID, 1.0);
        let (ticks, decimals) = linear_ticks(self.from_na, self.to_na, 8);
        for &na in &ticks {
            let x = self.x(na);
            sheet.line(&[(x, TOP), (x, BOTTOM)], grid);
            let set = Type {
                h: HPos::Center,
                v: VPos::Top,
                ..BODY
            };
            sheet.text(&plain(na, decimals), (x, BOTTOM + 10.0), set);
        }
        let wide = self.high - self.low > 2.5;
        for (log, mantissa, exponent) in decade_steps(self.low, self.high, &[1, 2, 5]) {
            let y = self.y_of_log(log);
            sheet.line(&[(LEFT, y), (RIGHT, y)], grid);
            if mantissa == 1 || !wide {
                let set = Type {
                    h: HPos::Right,
                    ..BODY
                };
                sheet.text(&ratio_tick(mantissa, exponent), (LEFT - 9.0, y), set);
            }
        }
        sheet.frame((LEFT, TOP), (RIGHT, BOTTOM), Pen::full(FRAME, 1.2));
        let middle = Type {
            h: HPos::Center,
            ..BODY
        };
        let words = format!(
            "NA of the iris (dots: as it is set now, {})",
            plain(own_na, 3)
        );
        let (x, y) = (0.5 * (LEFT + RIGHT), 0.5 * (TOP + BOTTOM));
        sheet.fitted(&words, (x, BOTTOM + 46.0), RIGHT - LEFT, middle);
        let upward = Type {
            upward: true,
            ..middle
        };
        sheet.text("extinction ratio", (30.0, y), upward);
        if self.without_leak {
            let set = Type {
                size: 13.0,
                color: SOFT_INK,
                ..BODY
            };
            let words = "no line where nothing leaks";
            sheet.text(words, (LEFT + 10.0, BOTTOM - 13.0), set);
        }
    }

    /// The line breaks where there is no number; a point without neighbours is a dot.
    fn curve(&self, sheet: &Sheet, own_na: f64, curve: &Curve) {
        for run in curve.points.split(|point| point.1.is_none()) {
            let run: Vec<Point> = (run.iter())
                .filter_map(|(na, ratio)| {
                    Some((self.x(*na), self.y_of_log(ratio.as_ref()?.log10())))
                })
                .collect();
            match run.as_slice() {
                [] => {}
                [alone] => sheet.dot(*alone, 1.6 * curve.pen.width, curve.pen.color),
                _ => sheet.line(&run, curve.pen),
            }
        }
        if let Some(ratio) = curve.own {
            let at = (self.x(own_na), self.y_of_log(ratio.log10()));
            sheet.dot(at, 5.0, curve.pen.color);
        }
    }

    /// The places' names, each beside the end of its line.
    fn names(&self, sheet: &Sheet, curves: &[Curve]) {
        let ends: Vec<(f64, &Curve)> = (curves.iter())
            .map(|curve| {
                let last = curve.points.iter().rev().find_map(|point| point.1);
                (
                    last.map_or(BOTTOM, |ratio| self.y_of_log(ratio.log10())),
                    curve,
                )
            })
            .collect();
        let wanted: Vec<(f64, f64)> = (ends.iter())
            .map(|(y, curve)| (*y, curve.name.len() as f64 * NAME_LINE + 7.0))
            .collect();
        let places = spread(&wanted, TOP - 8.0, BOTTOM + 8.0);
        for ((end, curve), place) in ends.iter().zip(places) {
            if curve.points.iter().any(|point| point.1.is_some()) {
                let pen = Pen::full(curve.pen.color, 1.2);
                sheet.line(&[(RIGHT + 3.0, *end), (NAMES - 4.0, place)], pen);
            }
            for (line, text) in curve.name.iter().enumerate() {
                let offset = (line as f64 - 0.5 * (curve.name.len() as f64 - 1.0)) * NAME_LINE;
                let set = Type {
                    size: 14.0,
                    bold: curve.pen.dashes.is_empty() && line == 0,
                    color: curve.pen.color,
                    ..BODY
                };
                sheet.fitted(text, (NAMES, place + offset), NAMES_WIDTH, set);
            }
        }
    }
}

/// A ratio as the axis prints it: whole up to 5 digits.
fn ratio_tick(mantissa: u32, exponent: i32) -> String {
    if (0..5).contains(&exponent) {
        (u64::from(mantissa) * 10u64.pow(exponent.unsigned_abs())).to_string()
    } else {
        step_of_decade(mantissa, exponent)
    }
}
