//! Extinction ratio over the iris, a line for each place of the lower polar.

use super::axes::{Name, Panel, Scale};
use super::look::{BODY, SOFT_INK, draw, head};
use super::marks::{self, Mark};
use super::numbers::{decade_steps, plain, step_of_decade};
use super::planes::in_two;
use super::{Figure, FigureError};
use crate::output::sheet::{Color, Pen, Type};
use crate::study::place::{Place, Placement};

const HEIGHT: f64 = 560.0;
const LEFT: f64 = 98.0;
const RIGHT: f64 = 598.0;
const TOP: f64 = 112.0;
const BOTTOM: f64 = 490.0;
/// How wide the names of the lines are.
const NAMES_WIDTH: f64 = 166.0;

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
        let now = plain(answer.na, 3);
        let words = format!("NA of the iris (dots: as it is set now, {now})");
        let panel = axes.panel(&words);
        panel.draw(sheet);
        if axes.without_leak {
            let set = Type {
                size: 13.0,
                color: SOFT_INK,
                ..BODY
            };
            let words = "no line where nothing leaks";
            sheet.text(words, (LEFT + 10.0, BOTTOM - 13.0), set);
        }
        let marks = marks(answer, |na| panel.x(na));
        let room = (LEFT - 60.0, RIGHT + 24.0 + NAMES_WIDTH);
        marks::draw(sheet, &marks, (TOP, BOTTOM), room);
        for curve in &curves {
            let points = curve.points.iter();
            let points: Vec<(f64, f64)> = points
                .map(|(na, ratio)| (*na, ratio.unwrap_or(f64::NAN)))
                .collect();
            panel.curve(sheet, &points, curve.pen);
            if let Some(ratio) = curve.own {
                let at = (panel.x(answer.na), panel.y(ratio));
                sheet.dot(at, 5.0, curve.pen.color);
            }
        }
        let names: Vec<Name> = (curves.iter())
            .map(|curve| Name {
                lines: &curve.name,
                pen: curve.pen,
                ends_at: curve.points.iter().rev().find_map(|point| point.1),
            })
            .collect();
        panel.names(sheet, &names, (14.0, NAMES_WIDTH));
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

    fn panel<'a>(&self, x_title: &'a str) -> Panel<'a> {
        let all = self.high - self.low <= 2.5;
        Panel {
            left: LEFT,
            right: RIGHT,
            top: TOP,
            bottom: BOTTOM,
            x: Scale::linear(self.from_na, self.to_na, 8),
            y: Scale::steps((self.low, self.high), &[1, 2, 5], ratio_tick, all),
            x_title,
            y_title: "extinction ratio",
            grid: (true, true),
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
