//! What is said under a chart: under what it holds, what to beware of, and what made it.

use super::super::look::*;
use super::super::numbers::plain;
use super::{EDGE, LEADING, TEXT};
use crate::output::CAUTION;
use crate::output::words::adapted;
use crate::study::chart::Conditions;

/// The largest share of the sheet that it takes, as long as that can be read.
const MOST: f64 = 0.3;
/// The smallest size of its text.
const SMALLEST: f64 = 4.5;

/// Lines, and how they are set.
pub(super) struct Foot {
    lines: Vec<String>,
    edge: f64,
    set: Type,
}

impl Foot {
    /// For a sheet. `remarks` are the chart's own, whole sentences.
    pub(super) fn of(sheet: &Sheet, conditions: &Conditions, remarks: &[String]) -> Self {
        let version = env!("CARGO_PKG_VERSION");
        let paragraphs = [
            circumstances(conditions),
            remarks.join(" "),
            conditions.notes.join(" "),
            CAUTION.to_owned(),
            format!("Computed, not painted, by polstack {version}."),
        ];
        Self::set(sheet, &paragraphs, (EDGE, TEXT.inked(SOFT_INK)), MOST)
    }

    /// Paragraphs between edges of the sheet, smaller where they take more than a share of it.
    pub(super) fn set(
        sheet: &Sheet,
        paragraphs: &[String],
        (edge, mut set): (f64, Type),
        most: f64,
    ) -> Self {
        let (width, height) = sheet.size;
        loop {
            let room = width - 2.0 * edge;
            let lines = paragraphs
                .iter()
                .flat_map(|words| sheet.wrapped(words, room, set));
            let lines = lines.collect();
            let foot = Self { lines, edge, set };
            if foot.height() <= most * height || set.size <= SMALLEST {
                return foot;
            }
            set.size -= 0.5;
        }
    }

    /// Height in points.
    pub(super) fn height(&self) -> f64 {
        self.lines.len() as f64 * LEADING * self.set.size
    }

    /// Draws it at the lower edge.
    pub(super) fn draw(&self, sheet: &Sheet) {
        let (width, height) = sheet.size;
        let middle = height - self.edge + 8.0 - 0.5 * self.height();
        let room = (LEADING * self.set.size, width - 2.0 * self.edge);
        sheet.block(&self.lines, (self.edge, middle), room, self.set);
    }
}

/// Lamp, observer, white, polars, wavelengths.
pub(super) fn circumstances(conditions: &Conditions) -> String {
    let white = conditions.white_xy;
    let (from, to, step) = conditions.wavelengths_nm;
    let parts = [
        conditions.lamp.as_ref().map(|lamp| format!("Lamp {lamp}")),
        Some("CIE 1931 2° observer".to_owned()),
        white.map(|[x, y]| format!("white at x {}, y {}", plain(x, 4), plain(y, 4))),
        Some(match conditions.white_balanced {
            true if conditions.adaptation_degree == Some(0.0) => "shown in sRGB".to_owned(),
            true => "balanced to D65 (Bradford) and shown in sRGB".to_owned(),
            false => "light of nearly one colour, shown in sRGB without white balance".to_owned(),
        }),
        Some(eye(conditions)),
        Some(conditions.polars.clone()),
        Some(format!("{from} to {to} nm every {step} nm")),
    ];
    let said: Vec<String> = parts.into_iter().flatten().collect();
    said.join(" · ") + "."
}

/// What the eye that sees these colours is adapted to.
pub(super) fn eye(conditions: &Conditions) -> String {
    let light = match conditions.lamp {
        Some(_) => "this light",
        None => "each lamp",
    };
    format!("eye {}", adapted(conditions.adaptation_degree, light))
}

/// How a chart or one of its panels is exposed, as a clause.
pub(super) fn exposure(stops: f64) -> String {
    let factor = stops.exp2();
    let times = plain(factor, if factor < 10.0 { 2 } else { 0 });
    let by = plain(stops.abs(), 1);
    match stops {
        up if up > 0.0 => format!("exposed {by} stops (× {times}) above white"),
        down if down < 0.0 => format!("exposed {by} stops below white"),
        _ => "exposed as white is".to_owned(),
    }
}
