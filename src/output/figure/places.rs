//! Extinction ratio over the iris, a line for each place of the lower polar.

use super::axes::{AxesPanel, AxisScale, NamedCurve};
use super::look::*;
use super::marks;
use super::numbers::{decade_steps, extent, plain, whole_step};
use crate::order::sort_by_number;
use crate::study::place::{Place, Placement};

const HEIGHT: f64 = 560.0;
/// Left, right, top and bottom of the panel, and how wide the names of the lines are.
const AREA: [f64; 4] = [98.0, 598.0, 112.0, 490.0];
const NAMES: f64 = 166.0;
/// Steps of the axis within a decade, and the most decades on which all of them have a number.
const STEPS: [u32; 3] = [1, 2, 5];
const NUMBERED: f64 = 2.5;

/// Draws the figure.
pub(super) fn figure(title: &str, answer: &Placement) -> Result<Figure, FigureError> {
    let rivals = &answer.verdict.rivals;
    let curves: Vec<NamedCurve> = rivals.iter().map(|&rival| curve(answer, rival)).collect();
    let subtitle = if flips(answer).is_empty() {
        "Extinction ratio over the iris for each place of the lower polar"
    } else {
        "Extinction ratio over the iris for each place of the lower polar; the best place changes at the upright lines"
    };
    let now = plain(answer.na, 3);
    let words = format!("NA of the iris (dots: as it is set now, {now})");
    let y = ratio_axis(&curves).titled("extinction ratio");
    let x = AxisScale::over(&answer.iris_na, 0.5 * answer.iris_na[0], 8).titled(&words);
    let panel = AxesPanel::new(AREA, x, y);
    draw("places", (title, subtitle), HEIGHT, |sheet| {
        panel.draw(sheet);
        let mut seen = (rivals.iter()).flat_map(|rival| &answer.lower[*rival].at_iris);
        if seen.any(|at| at.as_ref().is_some_and(|at| at.extinction_ratio.is_none())) {
            panel.note(sheet, "no line where nothing leaks");
        }
        let mark = |(na, said, dashes)| (na, format!("{said}NA {}", plain(na, 3)), dashes);
        let marks: Vec<_> = flips(answer).into_iter().map(mark).collect();
        let room = (panel.left - 60.0, panel.right + 24.0 + NAMES);
        marks::draw(sheet, &panel, &marks, room);
        panel.named_curves(sheet, &curves, NAMES);
        for NamedCurve { points, pen, .. } in &curves {
            let own = points.iter().find(|(na, _)| *na == answer.na);
            if let Some((na, ratio)) = own.filter(|own| !own.1.is_nan()) {
                sheet.dot((panel.x(*na), panel.y(*ratio)), 5.0, pen.color);
            }
        }
    })
}

/// A place's line. Changes of the best place are among its points, so that lines cross where they are marked.
fn curve(answer: &Placement, rival: usize) -> NamedCurve {
    let row = &answer.lower[rival];
    let ratio = |ratio: Option<f64>| ratio.filter(|ratio| *ratio > 0.0).unwrap_or(f64::NAN);
    let grid = (answer.iris_na.iter().copied())
        .zip((row.at_iris.iter()).map(|at| ratio(at.as_ref().and_then(|at| at.extinction_ratio))));
    let verdicts = [Some(&answer.verdict), answer.without_oil.as_ref()];
    let flips = (verdicts.into_iter().flatten())
        .flat_map(|verdict| &verdict.iris_flips)
        .filter(|flip| flip.from == rival || flip.to == rival)
        .map(|flip| (flip.iris_na, ratio(flip.extinction_ratio)));
    let mut points: Vec<_> = grid.chain(flips).collect();
    sort_by_number(&mut points, |point| point.0);
    let mut name = vec![row.placed.place.words()];
    if row.placed.written {
        name.push("(now)".to_owned());
    }
    let alike = answer.lower.iter().map(|other| &other.placed);
    let alike = alike.filter(|placed| placed.same_as == Some(rival));
    name.extend(alike.map(|placed| format!("or {}", placed.place.words())));
    let pen = pen(&row.placed.place);
    NamedCurve { name, pen, points }
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
    Pen::dashed(color, width, dashes)
}

/// Every iris at which the best place changes, and those at which the best without oil does: what is said before the iris, and dashes.
fn flips(answer: &Placement) -> Vec<(f64, &'static str, &'static [f64])> {
    let all = &answer.verdict.iris_flips;
    let dry = answer.without_oil.iter().flat_map(|dry| &dry.iris_flips);
    let dry = dry.filter(|flip| !all.contains(flip));
    let dashes: &[f64] = &[5.0, 4.0];
    (all.iter().map(|flip| (flip.iris_na, "", &[][..])))
        .chain(dry.map(|flip| (flip.iris_na, "without oil ", dashes)))
        .collect()
}

/// From the step below all ratios to the one above them.
fn ratio_axis(curves: &[NamedCurve]) -> AxisScale {
    let ratios = curves.iter().flat_map(|curve| &curve.points);
    let ends = extent(ratios.map(|(_, ratio)| ratio.log10())).map(|(least, most)| {
        let steps = decade_steps(least - 1.0, most + 1.0, &STEPS);
        let logs = || steps.iter().map(|step| step.0);
        let low = logs().rfind(|log| *log <= least - 0.02);
        let high = logs().find(|log| *log >= most + 0.02);
        (low.unwrap_or(least), high.unwrap_or(most))
    });
    let (low, high) = ends.unwrap_or((2.0, 4.0));
    let words = |mantissa, exponent| whole_step(mantissa, exponent, 5);
    AxisScale::steps((low, high), &STEPS, words, high - low <= NUMBERED)
}
