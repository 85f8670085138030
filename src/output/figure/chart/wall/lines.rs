//! Lines of materials over the soft colours, and their names.

use super::super::super::axes::AxesPanel;
use super::super::super::look::*;
use super::super::super::marks::spread_evenly;
use super::super::super::numbers::plain;
use super::{LINE, Wall};
use crate::material::catalog::{NamedBirefringence, Standing};
use crate::order::sort_by_number;

/// Size of the numbers beside names, over that of the names.
const NUMBER: f64 = 0.6;
/// Dashes of lines that are known from memory, points.
const DASHES: &[f64] = &[10.0, 6.0];
/// A name stands at most so far from the end of its line, in sizes of its type.
const FARTHEST: f64 = 3.2;

/// One line, and where it leaves the panel.
#[derive(Clone, Copy)]
struct Leaving<'a> {
    thing: &'a NamedBirefringence,
    /// Nanometres for each micrometre.
    slope: f64,
    end: Point,
}

impl Leaving<'_> {
    fn is_read(&self) -> bool {
        self.thing.standing == Standing::Read
    }
}

/// Draws those of `named` whose names find a place; the last of them give way first.
pub(super) fn draw(wall: &Wall<'_>, panel: &AxesPanel, most_um: f64, named: &[NamedBirefringence]) {
    let axis = &wall.axis;
    let (mut above, mut beside) = (Vec::new(), Vec::new());
    for thing in named {
        let slope = 1000.0 * thing.birefringence;
        if !(slope.is_finite() && slope > 0.0) {
            continue;
        }
        let most_nm = slope * most_um;
        if most_nm > axis.last_nm {
            let end = (panel.x(axis.last_nm / slope), axis.top);
            above.push(Leaving { thing, slope, end });
        } else if most_nm > axis.first_nm.max(0.0) {
            let end = (panel.right, axis.y(most_nm));
            beside.push(Leaving { thing, slope, end });
        }
    }
    let (above, beside) = (fitting_above(wall, above), fitting_beside(wall, beside));
    for leaving in above
        .iter()
        .chain(beside.iter().map(|(leaving, _, _)| leaving))
    {
        let start_nm = axis.first_nm.max(0.0);
        let from = (panel.x(start_nm / leaving.slope), axis.y(start_nm));
        let width = 0.055 * wall.size;
        let pen = match leaving.is_read() {
            true => Pen::full(INK, width),
            false => Pen::dashed(INK, width, DASHES),
        };
        wall.sheet.line(&[from, leaving.end], pen);
    }
    panel.frame(wall.sheet);
    if !wall.is_slide() {
        // Clear of the last number of the axis.
        let at = (wall.fan.1 + 1.6 * wall.size, axis.bottom + wall.size);
        let room = label_room(wall) - 0.8 * wall.size;
        let small = SOFT.inked(INK).sized(NUMBER * wall.size);
        wall.sheet.fitted("Δn: birefringence", at, room, small);
    }
    names_above(wall, &above);
    names_beside(wall, &beside);
}

fn leader(wall: &Wall<'_>, points: &[Point]) {
    wall.sheet.line(points, Pen::full(INK, 0.03 * wall.size));
}

/// A name, and behind its last line the birefringence in small digits, at most `room` wide.
fn name(wall: &Wall<'_>, leaving: &Leaving<'_>, lines: &[String], (x, y): Point, room: f64) {
    let (sheet, size) = (wall.sheet, wall.size);
    let set = wall.set().weighted(leaving.is_read());
    sheet.block(lines, (x, y), (LINE * size, room), set);
    let Some(last) = lines.last() else { return };
    let after = sheet.width(last, set) + 0.35 * size;
    let foot = y + 0.5 * LINE * size * (lines.len() as f64 - 1.0);
    // Digits stand on the line of the name.
    let at = (x + after, foot + 0.353 * size * (1.0 - NUMBER));
    let number = format!("Δn\u{a0}{}", number(leaving.thing.birefringence));
    let small = SOFT.inked(INK).sized(NUMBER * size);
    if !wall.is_slide() && after + sheet.width(&number, small) <= room {
        sheet.text(&number, at, small);
    }
}

/// As many digits as are known at most.
pub(super) fn number(birefringence: f64) -> String {
    let digits = plain(birefringence, 4);
    digits.trim_end_matches('0').to_owned()
}

/// The lines that leave above, from left to right: as many as there are rows for their names.
fn fitting_above<'a>(wall: &Wall<'_>, mut above: Vec<Leaving<'a>>) -> Vec<Leaving<'a>> {
    let rows = ((wall.axis.top - 1.2 * wall.size) / (LINE * wall.size)).floor();
    above.truncate(rows.max(0.0) as usize);
    sort_by_number(&mut above, |line| line.end.0);
    above
}

/// Each name has a row of its own, the higher the farther left its line ends: so no leader crosses a name.
fn names_above(wall: &Wall<'_>, above: &[Leaving<'_>]) {
    let size = wall.size;
    for (row, leaving) in above.iter().rev().enumerate() {
        let y = wall.axis.top - (0.75 + LINE * row as f64) * size;
        let x = leaving.end.0;
        leader(wall, &[leaving.end, (x, y + 0.35 * size)]);
        let room = wall.sheet.size.0 - 1.2 * size - x;
        let lines = [leaving.thing.called.to_owned()];
        name(
            wall,
            leaving,
            &lines,
            (x - 0.1 * size, y - 0.05 * size),
            room,
        );
    }
}

type Placed<'a> = (Leaving<'a>, Vec<String>, f64);

/// The lines that leave at the right, with their names in lines and where these stand.
fn fitting_beside<'a>(wall: &Wall<'_>, beside: Vec<Leaving<'a>>) -> Vec<Placed<'a>> {
    let size = wall.size;
    let room = label_room(wall);
    let mut kept: Vec<(Leaving<'a>, Vec<String>)> = (beside.into_iter())
        .map(|leaving| {
            let set = wall.set().weighted(leaving.is_read());
            let lines = wall.sheet.wrapped(leaving.thing.called, room, set);
            (leaving, lines)
        })
        .collect();
    loop {
        let high = |lines: &[String]| (LINE * lines.len() as f64 + 0.1) * size;
        let wanted = kept
            .iter()
            .map(|(leaving, lines)| (leaving.end.1, high(lines)));
        let (top, bottom) = (wall.axis.top, wall.axis.bottom + 0.3 * size);
        let places = spread_evenly(wanted, top, bottom);
        let off = |k: usize| (places[k] - kept[k].0.end.1).abs();
        let worst = (0..kept.len()).max_by(|a, b| off(*a).total_cmp(&off(*b)));
        let total: f64 = kept.iter().map(|(_, lines)| high(lines)).sum();
        match worst {
            Some(worst) if off(worst) > FARTHEST * size || total > bottom - top => {
                // The last of those around gives way.
                let near = |k: &usize| (places[*k] - places[worst]).abs() <= 6.0 * size;
                let last = (0..kept.len()).rfind(near).unwrap_or(worst);
                kept.remove(last);
            }
            _ => {
                let placed = kept.into_iter().zip(places);
                return placed
                    .map(|((leaving, lines), place)| (leaving, lines, place))
                    .collect();
            }
        }
    }
}

/// Room for names beside the panel.
fn label_room(wall: &Wall<'_>) -> f64 {
    wall.sheet.size.0 - wall.size - wall.fan.1 - 0.8 * wall.size
}

fn names_beside(wall: &Wall<'_>, beside: &[Placed<'_>]) {
    let size = wall.size;
    for (leaving, lines, place) in beside {
        let (x, y) = leaving.end;
        leader(
            wall,
            &[(x, y), (x + 0.25 * size, y), (x + 0.65 * size, *place)],
        );
        let at = (x + 0.8 * size, *place);
        name(wall, leaving, lines, at, label_room(wall));
    }
}
