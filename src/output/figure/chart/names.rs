//! Names of colours beside a column, each with a leader where it holds over enough room.

use std::collections::BTreeSet;

use super::super::look::*;
use super::super::marks::spread_evenly;
use super::SMALL;
use super::column::PathAxis;
use crate::order::sort_by_number;
use crate::study::chart::{Band, ORDER_NM, Tint};

/// Length of a leader of a chart for the desk.
pub(super) const LEADER: f64 = 10.0;

/// Change of colour, CIEDE2000 along the way, from which on a colour on the wall is as much worth its name as others; what is beyond counts a
/// tenth.
const ENOUGH: f64 = 7.0;

/// How names are set.
pub(super) struct NameLook {
    set: Type,
    /// A name that is too wide in this size takes two lines.
    smallest: f64,
    /// From one name to the next, and from one line to the next of the same name.
    line: f64,
    close: f64,
    /// Runs lower than this have no name.
    least: f64,
    /// The farthest that a name stands from the middle of its colour.
    farthest: f64,
    /// From the column to the name.
    pub(super) leader: f64,
    /// Whether names stand at the left of the column.
    at_left: bool,
    /// Whether they are to be read from afar: one name for colours of one hue, one name of each hue first.
    afar: bool,
}

impl NameLook {
    /// At the right of a column, to be read at a desk.
    pub(super) const DESK: Self = Self {
        set: SMALL,
        smallest: SMALL.size - 1.0,
        line: 1.25 * SMALL.size,
        close: 1.17 * SMALL.size,
        least: 1.5,
        farthest: 9.0,
        leader: LEADER,
        at_left: false,
        afar: false,
    };

    /// At the left of the band, to be read from afar.
    pub(super) fn on_wall(size: f64) -> Self {
        Self {
            set: BODY.sized(size).right(),
            smallest: size,
            line: 1.2 * size,
            close: 1.17 * size,
            least: 0.15 * size,
            farthest: 1.9 * size,
            leader: 1.4 * size,
            at_left: true,
            afar: true,
        }
    }

    /// At the right of a column on a slide.
    pub(super) fn on_slide(size: f64) -> Self {
        Self {
            set: BODY.sized(size),
            at_left: false,
            ..Self::on_wall(size)
        }
    }
}

/// A colour name on one or two lines, where it holds (lower and upper end), and what it is worth beside the others.
struct ColorName {
    lines: Vec<String>,
    low: f64,
    high: f64,
    worth: f64,
}

impl ColorName {
    fn middle(&self) -> f64 {
        0.5 * (self.low + self.high)
    }

    fn height(&self) -> f64 {
        self.low - self.high
    }
}

/// Words before a hue.
const BEFORE: [&str; 5] = ["dark greyish ", "greyish ", "dark ", "deep ", "pale "];

/// The hue in a colour's name; purple-red is taken for red.
fn hue(name: &str) -> &str {
    let mut hues = BEFORE.iter().filter_map(|word| name.strip_prefix(word));
    match hues.next().unwrap_or(name) {
        "purple-red" => "red",
        hue => hue,
    }
}

/// One name for colours of one hue: the hue, where one of them is just called so or deep; otherwise the name of most of them.
fn name_of_all(run: &[Tint]) -> String {
    let runs = run.chunk_by(|a, b| a.name == b.name);
    let name = |part: &[Tint]| part[0].name.clone();
    // The first of equals.
    let longest = runs.rev().max_by_key(|part| part.len()).map(name);
    let longest = longest.unwrap_or_default();
    let hue = hue(&longest);
    let plain = |tint: &Tint| tint.name == hue || tint.name == format!("deep {hue}");
    match longest != hue && !run.iter().all(|tint| tint.name == longest) && run.iter().any(plain) {
        true => hue.to_owned(),
        false => longest,
    }
}

/// Draws them; `edge` is the edge of the column on their side, and `width` what names and leaders may take.
pub(super) fn draw(
    sheet: &Sheet,
    axis: &PathAxis,
    band: &Band,
    look: &NameLook,
    edge: f64,
    width: f64,
) {
    let room = width - look.leader;
    let alike = |a: &Tint, b: &Tint| match look.afar {
        true => hue(&a.name) == hue(&b.name),
        false => a.name == b.name,
    };
    let (mut first, mut change) = (0, band.discrimination_per_nm.iter());
    let named = axis.runs(&band.tints, alike).into_iter();
    let named = named.map(|(run, low, high)| {
        let name = name_of_all(run);
        let lines = match sheet.width(&name, look.set.sized(look.smallest)) > room {
            true => sheet.wrapped_to(&name, room, 2, look.set),
            false => vec![name],
        };
        let change = change.by_ref().take(run.len()).sum::<f64>() * axis.step_nm;
        let middle_nm = axis.at(first) + 0.5 * axis.step_nm * run.len() as f64;
        first += run.len();
        let worth = match look.afar {
            true => (change.min(ENOUGH) + 0.1 * change) / (ORDER_NM + middle_nm),
            false => low - high,
        };
        ColorName {
            lines,
            low,
            high,
            worth,
        }
    });
    let unit = look.leader / LEADER;
    let pen = Pen::full(FRAME, 0.4 * unit);
    let away = if look.at_left { -unit } else { unit };
    for (run, place) in placed(named.collect(), axis, look) {
        let (edge, bracket) = (edge + away, edge + 2.5 * away);
        let (low, high) = (run.low - 0.3 * unit, run.high + 0.3 * unit);
        let around = [(edge, low), (bracket, low), (bracket, high), (edge, high)];
        sheet.line(&around, pen);
        let name = edge - away + LEADER * away;
        let leader = [(bracket, 0.5 * (low + high)), (name - 1.5 * away, place)];
        sheet.line(&leader, pen);
        sheet.block(&run.lines, (name, place), (look.close, room), look.set);
    }
}

/// The names that find a place near their colours. One after the other is tried, and stays where all of those before it stay too: at the desk the
/// largest first, on the wall those over which the colour changes, low orders before high ones.
fn placed(named: Vec<ColorName>, axis: &PathAxis, look: &NameLook) -> Vec<(ColorName, f64)> {
    let mut order: Vec<usize> = (0..named.len()).collect();
    order.retain(|k| named[*k].height() >= look.least);
    sort_by_number(&mut order, |k| -named[*k].worth);
    if look.afar {
        let mut seen = BTreeSet::new();
        // One of each plain hue first: "green", not "yellow-green".
        let (first, again): (Vec<_>, Vec<_>) = (order.into_iter()).partition(|k| {
            let name = named[*k].lines.join(" ");
            let hue = hue(&name);
            !hue.contains([' ', '-']) && seen.insert(hue.to_owned())
        });
        order = [first, again].concat();
    }
    let mut kept = Vec::new();
    for k in order {
        let with: Vec<usize> = [&kept[..], &[k]].concat();
        if places(&named, &with, axis, look).is_some() {
            kept = with;
        }
    }
    kept.sort_unstable();
    let places = places(&named, &kept, axis, look).unwrap_or_default();
    let mut places = kept.into_iter().zip(places).peekable();
    let kept = named.into_iter().enumerate().filter_map(|(k, run)| {
        let (_, place) = places.next_if(|(kept, _)| *kept == k)?;
        Some((run, place))
    });
    kept.collect()
}

/// Where some of the names stand; none where one would stand too far from its colour.
fn places(
    named: &[ColorName],
    which: &[usize],
    axis: &PathAxis,
    look: &NameLook,
) -> Option<Vec<f64>> {
    let room = |run: &ColorName| look.line + look.close * (run.lines.len() as f64 - 1.0);
    let (top, bottom) = (axis.top - 0.5 * look.line, axis.bottom + 0.5 * look.line);
    let runs = || which.iter().map(|k| &named[*k]);
    let wanted = runs().map(|run| (run.middle(), room(run)));
    let places = spread_evenly(wanted, top, bottom);
    let near = (runs().zip(&places)).all(|(run, at)| (run.middle() - at).abs() <= look.farthest);
    let total: f64 = runs().map(room).sum();
    (near && total <= bottom - top).then_some(places)
}
