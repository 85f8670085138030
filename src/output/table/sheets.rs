//! Sheets compared, for people.

use std::fmt::Write;

use super::{BOLD, plain};
use crate::output::findings::chance;
use crate::output::which_sheet::{MIDDLE, cover, dark, light, which_sheet};
use crate::study::chart::{ColorGrid, SheetComparison};

/// The comparison, and under it the colours under every lamp; the arguments are those of [`scale`](super::scale).
#[must_use]
pub fn sheets(title: &str, answer: &SheetComparison, colors: &ColorGrid, brief: bool) -> String {
    let mut text = format!("{BOLD}{title}: which sheet{BOLD:#}\n");
    let mut line = |words: &str| {
        let _ = writeln!(text, "{words}");
    };
    line(&format!(
        "Lamp {}; pairs of one sheet; ranges hold 90 %, as far as catalog and file tell how well a number is known",
        answer.lamp
    ));
    line(&format!("{MIDDLE}."));
    line(
        "Colours: parallel pairs are shown one stop brighter, so that an ideal pair is white; crossed pairs beside their own parallel light, brighter as stated",
    );
    line("");
    line(&rows(answer));
    line("");
    for words in which_sheet(answer) {
        line(&words);
    }
    line("");
    text + &super::matrix("Colours under every lamp", colors, brief)
}

fn rows(answer: &SheetComparison) -> String {
    let mut table = plain();
    let placed = format!("extinction {}", answer.placed_in).replace(", ", ",\n");
    table.set_header([
        "sheet",
        "one passes",
        "parallel pair",
        "extinction,\npair alone",
        &placed,
        "darkest\nthere",
        "cover",
        "colour, parallel,\npair alone",
        "colour, crossed,\npair alone",
    ]);
    let mut section = None;
    for row in &answer.sheets {
        if section != Some(row.section) {
            section = Some(row.section);
            table.add_row([format!("{}:", row.section.heading())]);
        }
        let crossed = match &row.crossed_color {
            color if color.relative_luminance > 0.0 => [
                color.name.clone(),
                format!("{} stops up", color.exposure_stops),
            ],
            color => [color.name.clone(), String::new()],
        };
        let darkest = row.darkest_probability.map_or(String::new(), chance);
        let both = |[value, range]: [String; 2]| format!("{value}\n{range}");
        table.add_row([
            format!("  {}", row.sheet),
            both(light(&row.one)),
            both(light(&row.parallel)),
            both(dark(&row.pair)),
            both(dark(&row.placed)),
            darkest,
            both(cover(row)),
            row.parallel_color.name.clone(),
            both(crossed),
        ]);
    }
    table.trim_fmt()
}
