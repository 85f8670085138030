//! Names of colours beside a column, each with a leader where it holds over enough room.

use super::super::look::*;
use super::super::marks::spread_evenly;
use super::SMALL;
use super::column::PathAxis;
use crate::study::chart::Band;

/// Length of a leader of a chart for the desk.
pub(super) const LEADER: f64 = 10.0;

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
    };

    /// At the left of the band, to be read from afar.
    pub(super) fn on_wall(size: f64) -> Self {
        Self {
            set: BODY.sized(size).right(),
            smallest: size,
            line: 1.2 * size,
            close: 1.1 * size,
            least: 0.15 * size,
            farthest: 2.0 * size,
            leader: 1.4 * size,
            at_left: true,
        }
    }
}

/// A colour name on one or two lines, where it holds (lower and upper end), and by how much the colour changes there (CIEDE2000 along the way).
struct ColorName {
    lines: Vec<String>,
    low: f64,
    high: f64,
    change: f64,
}

impl ColorName {
    fn middle(&self) -> f64 {
        0.5 * (self.low + self.high)
    }

    fn height(&self) -> f64 {
        self.low - self.high
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
    let runs = axis.runs(&band.tints, |a, b| a.name == b.name).into_iter();
    let mut change = band.discrimination_per_nm.iter();
    let named = runs.map(|(run, low, high)| {
        let name = &run[0].name;
        let lines = match sheet.width(name, look.set.sized(look.smallest)) > room {
            true => sheet.wrapped_to(name, room, 2, look.set),
            false => vec![name.clone()],
        };
        let change = change.by_ref().take(run.len()).sum::<f64>() * axis.step_nm;
        ColorName {
            lines,
            low,
            high,
            change,
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
/// largest first, on the wall those first over which the colour changes most.
fn placed(named: Vec<ColorName>, axis: &PathAxis, look: &NameLook) -> Vec<(ColorName, f64)> {
    let worth = |run: &ColorName| match look.at_left {
        true => run.change,
        false => run.height(),
    };
    let mut order: Vec<usize> = (0..named.len()).collect();
    order.retain(|k| named[*k].height() >= look.least);
    order.sort_by(|a, b| worth(&named[*b]).total_cmp(&worth(&named[*a])));
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
