//! What is said under a chart: under what it holds, what to beware of, and what made it.

use super::super::look::SOFT_INK;
use super::super::numbers::plain;
use super::{EDGE, LEADING, TEXT};
use crate::output::CAUTION;
use crate::output::sheet::{Sheet, Type};
use crate::study::chart::Conditions;

/// The largest share of the sheet that it takes, as long as that can be read.
const MOST: f64 = 0.3;
/// The smallest size of its text.
const SMALLEST: f64 = 4.5;

/// Lines, and how they are set.
pub(super) struct Foot {
    lines: Vec<String>,
    set: Type,
}

impl Foot {
    /// For a sheet of this size. `remarks` are the chart's own, whole sentences.
    pub(super) fn of(
        sheet: &Sheet,
        (width, height): (f64, f64),
        conditions: &Conditions,
        remarks: &[String],
    ) -> Self {
        let mut paragraphs = vec![circumstances(conditions)];
        paragraphs.push(remarks.join(" "));
        paragraphs.push(conditions.notes.join(" "));
        paragraphs.push(CAUTION.to_owned());
        paragraphs.push(format!(
            "Computed, not painted, by polstack {}.",
            env!("CARGO_PKG_VERSION")
        ));
        let mut foot = Self {
            lines: Vec::new(),
            set: TEXT.inked(SOFT_INK),
        };
        loop {
            foot.lines.clear();
            for paragraph in &paragraphs {
                let lines = sheet.wrapped(paragraph, width - 2.0 * EDGE, foot.set);
                foot.lines.extend(lines);
            }
            if foot.height() <= MOST * height || foot.set.size <= SMALLEST {
                return foot;
            }
            foot.set.size -= 0.5;
        }
    }

    /// Height in points.
    pub(super) fn height(&self) -> f64 {
        self.lines.len() as f64 * LEADING * self.set.size
    }

    /// Draws it at the lower edge.
    pub(super) fn draw(&self, sheet: &Sheet, (width, height): (f64, f64)) {
        let middle = height - EDGE + 8.0 - 0.5 * self.height();
        let room = (LEADING * self.set.size, width - 2.0 * EDGE);
        sheet.block(&self.lines, (EDGE, middle), room, self.set);
    }
}

/// Lamp, observer, white, polars, wavelengths.
fn circumstances(conditions: &Conditions) -> String {
    let mut parts = Vec::new();
    if let Some(lamp) = &conditions.lamp {
        parts.push(format!("Lamp {lamp}"));
    }
    parts.push("CIE 1931 2° observer".to_owned());
    if let Some([x, y]) = conditions.white_xy {
        parts.push(format!("white at x {}, y {}", plain(x, 4), plain(y, 4)));
    }
    parts.push(if conditions.white_balanced {
        "balanced to D65 (Bradford) and shown in sRGB".to_owned()
    } else {
        "light of nearly one colour, shown in sRGB without white balance".to_owned()
    });
    parts.push(conditions.polars.clone());
    let (from, to, step) = conditions.wavelengths_nm;
    parts.push(format!("{from} to {to} nm every {step} nm"));
    parts.join(" · ") + "."
}

/// How a chart or one of its panels is exposed, as a clause.
pub(super) fn exposure(stops: f64) -> String {
    if stops > 0.0 {
        let factor = stops.exp2();
        let decimals = if factor < 10.0 { 2 } else { 0 };
        format!(
            "exposed {} stops (× {}) above white",
            plain(stops, 1),
            plain(factor, decimals)
        )
    } else if stops < 0.0 {
        format!("exposed {} stops below white", plain(-stops, 1))
    } else {
        "exposed as white is".to_owned()
    }
}
