//! The state after each part: ellipses in a row, and the way over the Poincare sphere.

use std::f64::consts::TAU;

use super::look::*;
use super::numbers::{plain, significant};
use super::poincare::{self, SpherePoint, SphereView, Way};
use crate::output::sentences;
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

/// The figure of a trace: "trace", ellipses in a row and the way over the Poincare sphere.
///
/// # Errors
/// [`FigureError::Drawing`].
pub fn trace_figure(title: &str, answer: &Trace) -> Result<Figure, FigureError> {
    let rows = answer.steps.len().div_ceil(IN_A_ROW).max(1);
    let in_a_row = answer.steps.len().div_ceil(rows).max(1);
    let spheres = TOP + rows as f64 * ROW;
    let height = spheres + SPHERES + CAPTION;
    let plates = match answer.plates_in {
        true => ", plates in",
        false => "",
    };
    let followed = sentences::followed(answer);
    let subtitle = format!("State after each part: {followed}{plates}");
    draw("trace", (title, &subtitle), height, |sheet| {
        let width = ROOM / in_a_row as f64;
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
    for (dx, dy) in [(48.0, 0.0), (0.0, 48.0)] {
        let ends = [(x - dx, centre.1 - dy), (x + dx, centre.1 + dy)];
        sheet.line(&ends, Pen::full(GRID, 1.0));
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
    let Some(ratio) = state.axis_ratio else {
        return "no ellipse".to_owned();
    };
    let hand = match state.right_handed.filter(|_| ratio >= 5e-4) {
        Some(true) => "right",
        Some(false) => "left",
        None => "",
    };
    let Some(azimuth) = state.azimuth_rad else {
        return format!("circular, {hand}");
    };
    let tenths = (10.0 * azimuth.to_degrees()).round().rem_euclid(1800.0);
    let azimuth = plain(tenths / 10.0, 1);
    match hand {
        "" => format!("linear, {azimuth}°"),
        _ => format!("{azimuth}°, {} {hand}", plain(ratio, 3)),
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
        let (x, y) = (centre.0 + along * cos, centre.1 - along * sin);
        (x - across * sin, y - across * cos)
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
        let (x, y) = (head.0 + 8.0 * back.0, head.1 + 8.0 * back.1);
        (x - 5.0 * side * back.1, y + 5.0 * side * back.0)
    };
    sheet.line(&[barb(1.0), head, barb(-1.0)], pen)
}

/// The same states as points of the sphere, seen from two sides.
fn on_the_sphere(sheet: &Sheet, answer: &Trace, top: f64) {
    let lit: Vec<(usize, &TraceStep)> = (answer.steps.iter().enumerate())
        .filter(|(_, step)| step.kind != StepKind::Out && step.state.stokes.0[0] > 0.0)
        .collect();
    let states: Vec<(usize, SpherePoint)> = (lit.iter())
        .map(|(number, step)| {
            let [s0, s1, s2, s3] = step.state.stokes.0;
            (*number, [s1 / s0, s2 / s0, s3 / s0])
        })
        .collect();
    let ways: Vec<Way> = (states.windows(2).zip(lit.iter().skip(1)))
        .map(|(pair, (_, step))| match step.arc.is_empty() {
            true => (straight(pair[0].1, pair[1].1), false),
            false => (step.arc.clone(), true),
        })
        .collect();
    for (x, words, longitude_deg, latitude_deg) in [
        (210.0, "Poincaré sphere from the front", 40.0, 20.0),
        (590.0, "and from above, S3 toward the reader", -90.0, 90.0),
    ] {
        sheet.text(words, (x, top + 16.0), BODY.centred());
        let view = SphereView::from((x, top + 196.0), longitude_deg, latitude_deg);
        poincare::draw(sheet, &view, &states, &ways);
    }
}

/// A straight line in short pieces, so that it can change its pen.
fn straight(from: SpherePoint, to: SpherePoint) -> Vec<SpherePoint> {
    let part = |k: u32| f64::from(k) / 40.0;
    let place = |k| [0, 1, 2].map(|axis| from[axis] + part(k) * (to[axis] - from[axis]));
    (0..=40).map(place).collect()
}

fn caption(sheet: &Sheet, answer: &Trace, top: f64) {
    let ways = match answer.steps.iter().any(|step| !step.arc.is_empty()) {
        true => "Thick arcs are the way through a retarder, thin straight lines only join states",
        false => "Straight lines only join states and show no way between them",
    };
    let ways = &format!("{ways}; what lies behind the middle is dashed, its points open.");
    let lines = [
        "Ellipses: half-axes squared add up to the polarized share of the light that is there; twice the grey disc's radius squared is the rest.",
        "Below them: azimuth of the long axis, short over long axis, turn as seen looking down the microscope (right is clockwise).",
        ways,
        "The front view is from longitude 40°, latitude 20°. Longitudes are twice the azimuth; partly polarized light lies inside the sphere.",
    ];
    let set = SOFT.sized(11.5);
    sheet.block(&lines, (MARGIN, top + 36.5), (19.0, ROOM), set);
}
