//! `trace` for people.

use std::fmt::Write;

use comfy_table::{CellAlignment, ContentArrangement};

use super::{BOLD, fraction, plain};
use crate::calculus::Stokes;
use crate::output::numbers::exponent;
use crate::output::sentences::{Numerics, STATES, computed};
use crate::output::{CAUTION, sentences};
use crate::study::trace::{State, StepKind, StretchMatrix, Trace};

/// Columns of a terminal that the table keeps to.
const WIDTH: u16 = 100;

/// The state after each part for people. Styled; `brief` leaves out notes and cautions.
#[must_use]
pub fn trace(title: &str, answer: &Trace, notes: &[String], brief: bool) -> String {
    let mut text = String::new();
    let mut line = |words: &str| {
        let _ = writeln!(text, "{words}");
    };
    line(&format!("{BOLD}{title}{BOLD:#}"));
    line(&format!(
        "State after each part: {}",
        sentences::followed(answer)
    ));
    let quadrature = answer.quadrature_error.unwrap_or(0.0);
    if let Some(unsure) = sentences::unsure(quadrature, answer.resolved.error) {
        line(&unsure);
    }
    line("");
    line(&states(answer));
    if answer.between_polars.is_some() {
        line("");
        line(&matrices(answer));
    }
    if !brief {
        line("");
        line(LEGEND);
        if answer.between_polars.is_some() {
            line(MATRIX_LEGEND);
        }
        for note in notes {
            line(&format!("Note: {note}"));
        }
        line(&computed(
            Numerics {
                rays: answer.rays,
                quadrature_error: answer.quadrature_error.unwrap_or(0.0),
                ..Numerics::of(&answer.resolved)
            },
            STATES,
        ));
        line(CAUTION);
    }
    text
}

const LEGEND: &str = "Stokes vectors: S0 is the fraction of the lamp's light (predict's are of the parallel field's); S1, S2 and S3 are given as fractions of S0. Azimuths are those of the ellipse's long axis, \
counter-clockwise from East; b/a is the short axis over the long one. Right: clockwise as seen looking down the microscope. Between condenser and objective states are in the pupil's frame.";

const MATRIX_LEGEND: &str = "Polar decomposition after Lu and Chipman (1996): light meets the diattenuator first, then the retarder, then the depolarizer.";

fn states(answer: &Trace) -> String {
    let mut table = plain();
    table.set_content_arrangement(ContentArrangement::Dynamic);
    table.set_width(WIDTH);
    table.set_header([
        "after",
        "S0",
        "S1",
        "S2",
        "S3",
        "polarized",
        "azimuth",
        "b/a",
        "turns",
        "passed",
    ]);
    let error = answer.resolved.error.color + answer.quadrature_error.unwrap_or(0.0);
    for step in &answer.steps {
        if step.kind == StepKind::Out {
            table.add_row([step.name.as_str(), "out"]);
            continue;
        }
        let state = &step.state;
        // Light that the table calls unpolarized, or whose polarization is numerical error, has no ellipse.
        let ellipse = match state.polarized < LEAST_POLARIZED.max(error) {
            true => State::of(Stokes::UNPOLARIZED),
            false => *state,
        };
        let [s0, s1, s2, s3] = state.stokes.0;
        let lit = |value: f64, decimals| {
            if s0 > 0.0 {
                rounded(value, decimals)
            } else {
                NONE.to_owned()
            }
        };
        table.add_row([
            step.name.clone(),
            fraction(s0),
            lit(s1 / s0, 3),
            lit(s2 / s0, 3),
            lit(s3 / s0, 3),
            lit(state.polarized, 4),
            degrees(ellipse.azimuth_rad),
            ellipse
                .axis_ratio
                .map_or(NONE.to_owned(), |ratio| rounded(ratio, 3)),
            turns(&ellipse).to_owned(),
            step.passed.map_or(String::new(), passed),
        ]);
    }
    for column in [1, 2, 3, 4, 5, 6, 7, 9] {
        if let Some(column) = table.column_mut(column) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    table.trim_fmt()
}

/// Light polarized by less is called unpolarized.
const LEAST_POLARIZED: f64 = 5e-5;

/// What is written where there is nothing to say.
const NONE: &str = "none";

/// Fixed decimals, without a minus before nothing.
fn rounded(value: f64, decimals: usize) -> String {
    let unit = 10f64.powi(decimals as i32);
    format!("{:.decimals$}", (value * unit).round() / unit + 0.0)
}

/// An angle modulo half a turn.
fn degrees(angle_rad: Option<f64>) -> String {
    angle_rad.map_or(NONE.to_owned(), |angle| {
        let tenths = (10.0 * angle.to_degrees()).round().rem_euclid(1800.0);
        format!("{:.1}°", tenths / 10.0)
    })
}

fn turns(state: &State) -> &'static str {
    // An ellipse that the table calls a line has no turn either.
    let open = state.axis_ratio.is_some_and(|ratio| ratio >= 5e-4);
    match state.right_handed.filter(|_| open) {
        Some(true) => "right",
        Some(false) => "left",
        None => "",
    }
}

fn matrices(answer: &Trace) -> String {
    let mut blocks: Vec<String> = (answer.steps.iter())
        .filter_map(|step| Some(block(&step.name, step.matrix.as_ref()?)))
        .collect();
    if let Some(matrix) = &answer.between_polars {
        blocks.push(block("everything between the polars", matrix));
    }
    blocks.join("\n")
}

/// One Mueller matrix, relative to its transmittance, with what it is made of beside it.
fn block(name: &str, matrix: &StretchMatrix) -> String {
    let m00 = matrix.mueller.0[(0, 0)];
    let mut beside = made_of(matrix).into_iter();
    let mut text = format!(
        "{BOLD}{name}{BOLD:#}: Mueller matrix, {} x\n",
        fraction(m00)
    );
    for row in 0..4 {
        let numbers: Vec<String> = (0..4)
            .map(|column| {
                let value = matrix.mueller.0[(row, column)] / m00;
                let value = if m00 > 0.0 {
                    rounded(value, 4)
                } else {
                    NONE.to_owned()
                };
                format!("{value:>8}")
            })
            .collect();
        let line = format!(
            "{}     {}",
            numbers.join(""),
            beside.next().unwrap_or_default()
        );
        let _ = writeln!(text, "{}", line.trim_end());
    }
    text
}

/// Diattenuation above which a part is called a polar.
const ONE_STATE: f64 = 0.99;

fn made_of(matrix: &StretchMatrix) -> [String; 4] {
    let index = matrix.depolarization_index.map_or_else(
        || "passes nothing".to_owned(),
        |index| format!("depolarization index {}", rounded(index, 4)),
    );
    let Some(parts) = &matrix.decomposition else {
        let singular = "no unique polar decomposition".to_owned();
        return [singular, index, String::new(), String::new()];
    };
    let length =
        (parts.retardance_nm).map_or(String::new(), |nm| format!(" = {} nm", rounded(nm, 2)));
    // A part that passes a single state has no retardance: what the decomposition gives is the rounding of a nearly singular matrix.
    if parts.diattenuation > ONE_STATE {
        return [
            "passes one state: no retardance to be told".to_owned(),
            format!("diattenuation {}", degree(parts.diattenuation)),
            format!("polarizance {}", degree(parts.polarizance)),
            index,
        ];
    }
    let slow = parts.slow;
    // Below what is printed an axis is nobody's business.
    let axis = match slow.filter(|_| parts.retardance_rad.to_degrees() >= 5e-3) {
        None => String::new(),
        Some(slow) if slow.linear > 0.9998 => {
            format!(", slow azimuth {}", degrees(slow.azimuth_rad))
        }
        Some(slow) => format!(
            ", slow state elliptical: azimuth {}, axes {} {}",
            degrees(slow.azimuth_rad),
            slow.axis_ratio
                .map_or(String::new(), |ratio| rounded(ratio, 3)),
            turns(&slow)
        ),
    };
    [
        format!(
            "retardance {}°{length}{axis}",
            rounded(parts.retardance_rad.to_degrees(), 2)
        ),
        format!("diattenuation {}", degree(parts.diattenuation)),
        format!("polarizance {}", degree(parts.polarizance)),
        format!("depolarization {}, {index}", degree(parts.depolarization)),
    ]
}

/// A number from 0 to 1, without the rounding of the arithmetic.
fn degree(value: f64) -> String {
    match value.abs() {
        size if size < 1e-9 => "0".to_owned(),
        size if size < 1e-3 => exponent(value),
        _ => rounded(value, 4),
    }
}

/// The fraction that a part passes, rounded to 12 digits behind the point, so that a whole number does not show the rounding of the arithmetic.
fn passed(value: f64) -> String {
    fraction((1e12 * value).round() / 1e12)
}
