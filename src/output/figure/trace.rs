//! The state after each part: ellipses in a row, and the way over the Poincare sphere.

use std::f64::consts::TAU;

use super::look::{BODY, GRID, INK, MARGIN, SOFT_INK, WIDTH, draw, head};
use super::numbers::{plain, significant};
use super::poincare::{self, SphereView, Way};
use super::{Figure, FigureError};
use crate::output::sentences;
use crate::output::sheet::{Color, Pen, Point, Sheet};
use crate::study::trace::{State, StepKind, Trace, TraceStep};

/// Top of the first row of ellipses, the most of them in a row, and a row's height.
const TOP: f64 = 84.0;
const IN_A_ROW: usize = 6;
const ROW: f64 = 202.0;
/// Half the length of a line of light that is wholly and linearly polarized.
const RADIUS: f64 = 42.0;
/// Height of the spheres with their headings, and of the words below.
const SPHERES: f64 = 372.0;
const CAPTION: f64 = 92.0;

const DISC: Color = Color(0xc6, 0xc6, 0xcd);

/// An ellipse whose short half-axis is drawn shorter than this gets no arrow.
const OPEN: f64 = 3.0;

/// Draws it.
pub(super) fn figure(title: &str, answer: &Trace) -> Result<Figure, FigureError> {
    let rows = answer.steps.len().div_ceil(IN_A_ROW).max(1);
    let in_a_row = answer.steps.len().div_ceil(rows).max(1);
    let spheres = TOP + rows as f64 * ROW;
    let height = spheres + SPHERES + CAPTION;
    let plates = if answer.plates_in { ", plates in" } else { "" };
    let subtitle = format!(
        "State after each part: {}{plates}",
        sentences::followed(answer)
    );
    draw("trace", title, height, |sheet| {
        head(sheet, title, &subtitle);
        let width = (WIDTH - 2.0 * MARGIN) / in_a_row as f64;
        for (number, step) in answer.steps.iter().enumerate() {
            let (row, column) = (number / in_a_row, number % in_a_row);
            let x = MARGIN + (column as f64 + 0.5) * width;
            cell(sheet, number, step, (x, TOP + row as f64 * ROW), width);
        }
        on_the_sphere(sheet, answer, spheres);
        caption(sheet, answer, spheres + SPHERES)
    })
}

/// One state: number, ellipse, name and numbers.
fn cell(sheet: &Sheet, number: usize, step: &TraceStep, (x, top): Point, width: f64) {
    let centre = (x, top + 50.0);
    let middle = BODY.sized(13.0).centred();
    let bold = middle.bold();
    let soft = middle.inked(SOFT_INK);
    sheet.text(&number.to_string(), (x - RADIUS - 6.0, top + 12.0), bold);
    let room = width - 8.0;
    let mut y = top + 112.0;
    for line in sheet.wrapped_to(&step.name, room, 2, bold) {
        sheet.fitted(&line, (x, y), room, bold);
        y += 17.0;
    }
    if step.kind == StepKind::Out {
        return sheet.text("out", centre, soft);
    }
    let pen = Pen::full(GRID, 1.0);
    for (dx, dy) in [(1.0, 0.0), (0.0, 1.0)] {
        let end = |sign: f64| (x + sign * 48.0 * dx, centre.1 + sign * 48.0 * dy);
        sheet.line(&[end(-1.0), end(1.0)], pen);
    }
    let light = step.state.stokes.0[0];
    if light <= 0.0 {
        return sheet.text("dark", (x, y), soft);
    }
    ellipse(sheet, &step.state, centre);
    let lines = [
        format!("light {} %", significant(100.0 * light)),
        format!("polarized {}", plain(step.state.polarized, 4)),
        shape(&step.state),
    ];
    for line in lines {
        sheet.fitted(&line, (x, y), room, soft);
        y += 17.0;
    }
}

/// Azimuth, ratio of the axes and handedness in a few words.
fn shape(state: &State) -> String {
    let azimuth = state.azimuth_rad.map(|azimuth| {
        let tenths = (10.0 * azimuth.to_degrees()).round().rem_euclid(1800.0);
        format!("{}°", plain(tenths / 10.0, 1))
    });
    let Some(ratio) = state.axis_ratio else {
        return "no ellipse".to_owned();
    };
    let hand = match state.right_handed.filter(|_| ratio >= 5e-4) {
        Some(true) => "right",
        Some(false) => "left",
        None => "",
    };
    match azimuth {
        None => format!("circular, {hand}"),
        Some(azimuth) if hand.is_empty() => format!("linear, {azimuth}"),
        Some(azimuth) => format!("{azimuth}, {} {hand}", plain(ratio, 3)),
    }
}

/// The polarized share as an ellipse, the unpolarized one as a disc behind it.
fn ellipse(sheet: &Sheet, state: &State, centre: Point) {
    // A circle of the same light as an ellipse of half-axes a and b has 2 r^2 = a^2 + b^2.
    let disc = RADIUS * (0.5 * (1.0 - state.polarized)).sqrt();
    if disc > 0.3 {
        sheet.dot(centre, disc, DISC);
    }
    let Some(angle) = state.ellipticity_rad else {
        return;
    };
    let size = RADIUS * state.polarized.sqrt();
    let (long, short) = (size * angle.cos(), size * angle.sin().abs());
    let (sin, cos) = state.azimuth_rad.unwrap_or(0.0).sin_cos();
    // Counter-clockwise as the eye sees it; the sheet's y points down.
    let at = |t: f64| {
        let (along, across) = (long * t.cos(), short * t.sin());
        (
            centre.0 + along * cos - across * sin,
            centre.1 - along * sin - across * cos,
        )
    };
    let points: Vec<Point> = (0..=96).map(|k| at(TAU * f64::from(k) / 96.0)).collect();
    let pen = Pen::full(INK, 2.2);
    sheet.line(&points, pen);
    if short < OPEN {
        return;
    }
    // The head of an arrow a little past the end of the long axis.
    let turn = -state.circular.signum();
    let tip = 0.125 * TAU;
    let (head, tail) = (at(tip), at(tip - turn * 0.02 * TAU));
    let length = (head.0 - tail.0).hypot(head.1 - tail.1).max(1e-9);
    let back = ((tail.0 - head.0) / length, (tail.1 - head.1) / length);
    let barb = |side: f64| {
        (
            head.0 + 8.0 * back.0 - 5.0 * side * back.1,
            head.1 + 8.0 * back.1 + 5.0 * side * back.0,
        )
    };
    sheet.line(&[barb(1.0), head, barb(-1.0)], pen)
}

/// The same states as points of the sphere, seen from two sides.
fn on_the_sphere(sheet: &Sheet, answer: &Trace, top: f64) {
    let lit: Vec<(usize, &TraceStep)> = (answer.steps.iter().enumerate())
        .filter(|(_, step)| step.kind != StepKind::Out && step.state.stokes.0[0] > 0.0)
        .collect();
    let states: Vec<(usize, poincare::SpherePoint)> = (lit.iter())
        .map(|(number, step)| {
            let [s0, s1, s2, s3] = step.state.stokes.0;
            (*number, [s1 / s0, s2 / s0, s3 / s0])
        })
        .collect();
    let ways: Vec<Way> = (states.windows(2).zip(lit.iter().skip(1)))
        .map(|(pair, (_, step))| {
            let known = !step.arc.is_empty();
            Way {
                points: if known {
                    step.arc.clone()
                } else {
                    straight(pair[0].1, pair[1].1)
                },
                known,
            }
        })
        .collect();
    let heading = BODY.centred();
    let middle = top + 196.0;
    for (x, words, longitude_deg, latitude_deg) in [
        (210.0, "Poincaré sphere from the front", 40.0, 20.0),
        (590.0, "and from above, S3 toward the reader", -90.0, 90.0),
    ] {
        sheet.text(words, (x, top + 16.0), heading);
        let view = SphereView::from((x, middle), longitude_deg, latitude_deg);
        poincare::draw(sheet, &view, &states, &ways);
    }
}

/// A straight line in short pieces, so that it can change its pen.
fn straight(from: poincare::SpherePoint, to: poincare::SpherePoint) -> Vec<poincare::SpherePoint> {
    (0..=40)
        .map(|k| {
            let part = f64::from(k) / 40.0;
            [0, 1, 2].map(|axis| from[axis] + part * (to[axis] - from[axis]))
        })
        .collect()
}

fn caption(sheet: &Sheet, answer: &Trace, top: f64) {
    let arcs = answer.steps.iter().any(|step| !step.arc.is_empty());
    let ways = if arcs {
        "Thick arcs are the way through a retarder, thin straight lines only join states; what lies behind the middle is dashed, its points open."
    } else {
        "Straight lines only join states and show no way between them; what lies behind the middle is dashed, its points open."
    };
    let lines = [
        "Ellipses: half-axes squared add up to the polarized share of the light that is there; twice the grey disc's radius squared is the rest.",
        "Below them: azimuth of the long axis, short over long axis, turn as seen looking down the microscope (right is clockwise).",
        ways,
        "The front view is from longitude 40°, latitude 20°. Longitudes are twice the azimuth; partly polarized light lies inside the sphere.",
    ];
    let set = BODY.sized(11.5).inked(SOFT_INK);
    let room = (19.0, WIDTH - 2.0 * MARGIN);
    sheet.block(&lines, (MARGIN, top + 36.5), room, set);
}
