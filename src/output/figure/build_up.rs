//! The back focal plane while the stack is put together part by part.

use super::look::*;
use super::map::ApertureMap;
use super::numbers::{extinction, plain};
use super::scale_bar::bar_up_to;
use crate::output::disc::LightScale;
use crate::output::words;
use crate::study::aperture::{BackFocalPlane, BuildUpStep};

const TOP: f64 = 92.0;
/// The discs stand between these.
const LEFT: f64 = 24.0;
const RIGHT: f64 = 632.0;
/// Above the discs of a row, and below them: their names and captions.
const ABOVE: f64 = 36.0;
const BELOW: f64 = 82.0;
/// Between the rims of two discs.
const APART: f64 = 28.0;
/// The largest radius.
const LARGEST: f64 = 130.0;
/// Larger discs have a bar beside each row; a bar for all rows needs as much with its words.
const ROW_WITH_BAR: f64 = 60.0;
const LEAST_HEIGHT: f64 = 350.0;

/// Draws the figure.
pub(super) fn figure(
    title: &str,
    answer: &BackFocalPlane,
    scale: &LightScale,
) -> Result<Figure, FigureError> {
    let steps = &answer.build_up;
    let columns = columns(steps.len());
    let rows = steps.len().div_ceil(columns);
    let column = (RIGHT - LEFT) / columns as f64;
    let radius = (0.5 * (column - APART)).min(LARGEST);
    let row_height = 2.0 * radius + ABOVE + BELOW;
    let bottom = TOP + (row_height * rows as f64).max(LEAST_HEIGHT);
    let subtitle = format!(
        "Perfect parts, made real one by one in the order of the light; plates out, NA {}",
        plain(answer.na, 2)
    );
    let maps = (steps.iter())
        .map(|step| ApertureMap::of_light(answer, &step.light))
        .collect::<Result<Vec<_>, _>>()?;
    let shown = maps.iter().flat_map(|map| map.value.iter().copied());
    let brightest = shown.fold(0.0, f64::max);
    draw("build-up", (title, &subtitle), bottom + 12.0, |sheet| {
        for (k, (step, map)) in steps.iter().zip(&maps).enumerate() {
            let x = LEFT + column * ((k % columns) as f64 + 0.5);
            let y = TOP + row_height * (k / columns) as f64 + radius + ABOVE;
            let set = BODY.sized(14.0).bold().centred();
            let room = column - 8.0;
            sheet.fitted(&words::step(step), (x, y - radius - 27.0), room, set);
            map.draw_marked(sheet, scale, ((x, y), radius));
            for (line, words) in captions(step).iter().enumerate() {
                let set = [BODY.sized(13.0), SOFT.sized(12.0)][line.min(1)];
                let y = y + radius + 30.0 + 18.0 * line as f64;
                sheet.fitted(words, (x, y), room, set.centred());
            }
        }
        if radius < ROW_WITH_BAR {
            let end = (TOP + row_height * rows as f64 - BELOW).max(TOP + LEAST_HEIGHT - 16.0);
            return bar_up_to(sheet, scale, brightest, (TOP + 4.0, end));
        }
        for row in 0..rows {
            let top = TOP + row_height * row as f64 + ABOVE;
            bar_up_to(sheet, scale, brightest, (top, top + 2.0 * radius));
        }
    })
}

/// How many discs stand in a row, so that the last row is as full as can be.
fn columns(count: usize) -> usize {
    match count {
        0..=3 => count.max(1),
        4 => 2,
        5 | 6 | 9 => 3,
        10 => 5,
        _ => 4,
    }
}

fn captions(step: &BuildUpStep) -> Vec<String> {
    let mut lines = vec![extinction("extinction", step.extinction_ratio)];
    let Some(cross) = step.cross else {
        let none = match step.is_centred {
            true => "no dark cross",
            false => "no cross about the middle",
        };
        lines.extend(step.extinction_ratio.map(|_| none.to_owned()));
        return lines;
    };
    let (open, filled) = (plain(cross.opening, 2), plain(cross.filled, 2));
    lines.push(match cross.parted_rad.map(|at| plain(at.to_degrees(), 0)) {
        None => "cross closed".to_owned(),
        Some(parted) => format!("open {open} at {parted}°"),
    });
    let turned = cross.turned_rad.map(|by| plain(by.to_degrees(), 1));
    let turned = turned.map_or(String::new(), |turned| format!(", turned {turned}°"));
    lines.push(format!("filled {filled}{turned}"));
    lines
}
