//! Colour charts for people.

use std::fmt::Write;

use super::{BOLD, TWO_COLORS, fraction, plain, ratio};
use crate::output::CAUTION;
use crate::output::numbers::digits;
use crate::output::words::adapted;
use crate::study::chart::{Band, ChartedObject, ColorGrid, Conditions, Difference, Scale};
use crate::study::observer::COLOR_DIFFERENCE;

/// Widest line of names of colours.
const WIDTH: usize = 100;

/// A chart of colour over path difference in short: landmarks and names of colours. Styled; the caller strips the style where it is not wanted.
/// `brief` leaves out notes and cautions.
#[must_use]
pub fn scale(title: &str, chart: &Scale, brief: bool) -> String {
    let mut text = head(title, &chart.conditions);
    let mut line = |words: &str| {
        let _ = writeln!(text, "{words}");
    };
    line(&exposure(chart.exposure_stops));
    line("");
    line(&landmarks(chart));
    line("");
    line(&format!(
        "{BOLD}Colours from a path difference in nm on{BOLD:#}"
    ));
    for band in &chart.bands {
        line(&wrapped(&format!(
            "{}: {}",
            band.heading,
            names(band, chart)
        )));
    }
    if !chart.differences.is_empty() {
        line("");
        line(&format!(
            "{BOLD}Plate added against plate subtracted{BOLD:#}, CIEDE2000"
        ));
        for difference in &chart.differences {
            line(&apart(difference, &chart.path_difference_nm));
        }
    }
    if let Some(object) = &chart.object {
        line("");
        line(&two_positions(object));
    }
    if !brief {
        line("");
        notes(&mut text, &chart.conditions);
        let _ = writeln!(text, "{CAUTION}");
    }
    text
}

/// An object along the plate's slow direction and across it.
fn two_positions(object: &ChartedObject) -> String {
    let [from, middle, to] = object.path_difference_nm;
    let slow = match object.elongation {
        "positive" => "along",
        _ => "across",
    };
    let mut table = plain();
    table.set_header([
        "column".to_owned(),
        "its length".to_owned(),
        format!("{from} nm"),
        format!("{middle} nm"),
        format!("{to} nm"),
    ]);
    for group in &object.positions {
        for (position, tints) in [
            ("along the plate's slow direction", &group.along),
            ("across it", &group.across),
        ] {
            let colors = tints.iter().map(|tint| tint.name.clone());
            let whose = group.heading.trim_end_matches(": plate added").to_owned();
            table.add_row([whose, position.to_owned()].into_iter().chain(colors));
        }
    }
    format!(
        "{BOLD}{}{BOLD:#}, slow {slow} its length ({} elongation)\n{}\n{TWO_COLORS}",
        object.name,
        object.elongation,
        table.trim_fmt()
    )
}

/// A chart of rows and columns; the arguments are those of [`scale`].
#[must_use]
pub fn matrix(title: &str, chart: &ColorGrid, brief: bool) -> String {
    let mut text = head(title, &chart.conditions);
    let mut line = |words: &str| {
        let _ = writeln!(text, "{words}");
    };
    let corner = format!("{} \\ {}", chart.rows_are, chart.columns_are);
    let titles = || std::iter::once(corner.clone()).chain(chart.columns.iter().cloned());
    for panel in &chart.panels {
        line("");
        let rows = panel.row_exposure_stops.as_ref();
        let stops = match rows {
            Some(_) => "Each row is shown brighter for itself".to_owned(),
            None => exposure(panel.exposure_stops),
        };
        line(&format!(
            "{BOLD}{}{BOLD:#}, with {}. {stops}",
            panel.heading, panel.labels_are
        ));
        let mut table = plain();
        table.set_header(titles());
        for (row, (tints, labels)) in panel.cells.iter().zip(&panel.labels).enumerate() {
            let name = match rows {
                Some(_) => {
                    let stops = match panel.stops_of_row(row) {
                        0.0 => "as white is".to_owned(),
                        stops => format!("{stops:.1} stops brighter"),
                    };
                    format!("{}\n  {stops}", chart.rows[row])
                }
                None => chart.rows[row].clone(),
            };
            let cells = tints.iter().zip(labels);
            let cells = cells.map(|(tint, label)| {
                let mark = if tint.swatch.gamut_mapped { "*" } else { "" };
                format!("{}{mark}\n{label}", tint.name)
            });
            table.add_row(std::iter::once(name).chain(cells));
        }
        line(&table.trim_fmt());
    }
    line("");
    line(&format!("{BOLD}Extinction ratio{BOLD:#}"));
    let mut table = plain();
    table.set_header(titles());
    for (name, ratios) in chart.rows.iter().zip(&chart.extinction_ratio) {
        let cells = ratios.iter().map(|value| ratio(*value));
        table.add_row(std::iter::once(name.clone()).chain(cells));
    }
    line(&table.trim_fmt());
    if !brief {
        line("");
        line(
            "A star marks colours outside the screen's gamut, brought in by lowering their chroma.",
        );
        notes(&mut text, &chart.conditions);
        let _ = writeln!(text, "{CAUTION}");
    }
    text
}

fn head(title: &str, conditions: &Conditions) -> String {
    let mut text = format!("{BOLD}{title}{BOLD:#}\n");
    match &conditions.lamp {
        Some(lamp) => drop(write!(text, "Lamp {lamp}; ")),
        None => text.push_str("Polars: "),
    }
    let (from, to, step) = conditions.wavelengths_nm;
    let _ = write!(
        text,
        "{}; {from} to {to} nm every {step} nm",
        conditions.polars
    );
    if let Some([x, y]) = conditions.white_xy {
        let _ = write!(text, "; white x {x:.4}, y {y:.4}");
    }
    if !conditions.white_balanced {
        text.push_str("; light of nearly one colour, not balanced");
    }
    let light = match conditions.lamp {
        Some(_) => "this light",
        None => "each lamp",
    };
    let eye = adapted(conditions.adaptation_degree, light);
    let _ = writeln!(text, "\nEye {eye}");
    text
}

fn exposure(stops: f64) -> String {
    if stops > 0.0 {
        format!("Shown {stops:.1} stops brighter")
    } else if stops < 0.0 {
        format!("Shown {:.1} stops darker", -stops)
    } else {
        "Shown at the exposure of white".to_owned()
    }
}

fn landmarks(chart: &Scale) -> String {
    let mut table = plain();
    table.set_header([
        "column",
        "brightest first at",
        "darkest after it at",
        "told apart best at",
        "outside the gamut",
    ]);
    for band in &chart.bands {
        let mapped = band
            .tints
            .iter()
            .filter(|tint| tint.swatch.gamut_mapped)
            .count();
        table.add_row([
            band.heading.clone(),
            place(band.first_maximum),
            place(band.first_minimum),
            keenest(band, chart),
            format!("{mapped} of {} colours", band.tints.len()),
        ]);
    }
    table.trim_fmt()
}

/// Where neighbouring path differences look most unlike, and CIEDE2000 for each nm there.
fn keenest(band: &Band, chart: &Scale) -> String {
    let scale = chart.path_difference_nm.iter();
    let at = scale
        .zip(&band.discrimination_per_nm)
        .find(|(nm, _)| **nm == band.keenest_nm);
    at.map_or(String::new(), |(nm, keen)| {
        format!("{nm} nm, CIEDE2000 {} a nm", digits(*keen, 2))
    })
}

fn place(at: Option<(f64, f64)>) -> String {
    at.map_or_else(
        || "beyond the end".to_owned(),
        |(nm, luminance)| format!("{nm:.1} nm, {}", fraction(luminance)),
    )
}

/// Names of the colours, each with the path difference from which it holds.
fn names(band: &Band, chart: &Scale) -> String {
    let mut runs: Vec<String> = Vec::new();
    let mut last = "";
    for (tint, nm) in band.tints.iter().zip(&chart.path_difference_nm) {
        if tint.name != last {
            runs.push(format!("{nm} {}", tint.name));
            last = &tint.name;
        }
    }
    runs.join(", ")
}

fn wrapped(words: &str) -> String {
    let mut lines = vec![String::new()];
    for piece in words.split_inclusive(", ") {
        let last = lines.len() - 1;
        if lines[last].chars().count() + piece.chars().count() > WIDTH {
            lines.push(format!("  {piece}"));
        } else {
            lines[last].push_str(piece);
        }
    }
    let trimmed: Vec<&str> = lines.iter().map(|line| line.trim_end()).collect();
    trimmed.join("\n")
}

fn apart(difference: &Difference, scale: &[f64]) -> String {
    let pairs = || difference.ciede2000.iter().zip(scale);
    let most = pairs().max_by(|a, b| a.0.total_cmp(b.0));
    let seen = pairs().find(|(apart, _)| **apart >= COLOR_DIFFERENCE);
    let most = most.map_or(String::new(), |(apart, nm)| {
        format!("most, {}, at {nm} nm", digits(*apart, 3))
    });
    let seen = seen.map_or_else(
        || format!("nowhere {COLOR_DIFFERENCE} or more"),
        |(_, nm)| format!("{COLOR_DIFFERENCE} or more first at {nm} nm"),
    );
    format!("{}: {seen}; {most}", difference.heading)
}

fn notes(text: &mut String, conditions: &Conditions) {
    for note in &conditions.notes {
        let _ = writeln!(text, "Note: {note}");
    }
}
