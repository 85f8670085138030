//! Answers as short tables for people, in honest digits.

mod aperture;
mod chart;
mod checklist;
mod fit;
mod lens;
mod lesson;
mod place;
mod sheets;
mod side_by_side;
mod tolerate;
mod trace;
mod view;

use std::fmt::Write;

use anstyle::Style;
use comfy_table::{CellAlignment, ContentArrangement, Table, presets};

use super::numbers::{decimals, digits, exponent};
use super::sentences::{COLORS, Numerics, computed, doubted, not_crossed, outside, unsure};
use super::words::adapted;
use super::{CAUTION, INFINITE};
use crate::color::Background;
use crate::light_path::Crossing;
use crate::material::catalog::Entry;
use crate::study::doubt::Doubt;
use crate::study::leak::LeakShare;
use crate::study::observer::JUST_VISIBLE;
use crate::study::predict::{Prediction, TurnedDirection, TurnedSpecimen};

pub use aperture::back_focal_plane;
pub use chart::{matrix, scale};
pub use checklist::checklist;
pub use fit::fit;
pub use lens::lenses;
pub use lesson::{lesson, lesson_list};
pub use place::placement;
pub use sheets::sheets;
pub use side_by_side::side_by_side;
pub use tolerate::tolerances;
pub use trace::trace;
pub use view::view;

const BOLD: Style = Style::new().bold();

/// Shares below this are gathered in one line.
const SMALL_SHARE: f64 = 0.0005;

/// `predict` for people. Styled; the caller strips the style where it is not wanted. `brief` leaves out notes and cautions.
#[must_use]
pub fn prediction(title: &str, answer: &Prediction, notes: &[String], brief: bool) -> String {
    let mut text = String::new();
    let mut line = |words: &str| {
        let _ = writeln!(text, "{words}");
    };
    line(&format!("{BOLD}{title}{BOLD:#}"));
    line(&polars_and_aperture(&answer.crossing, answer.na));
    if let Some(unsure) = unsure(answer.quadrature_error, answer.spectral_error) {
        line(&unsure);
    }
    line("");
    line(&summary(answer));
    if let Some(doubt) = &answer.doubt {
        if let Some(why) = outside(doubt, answer.ratios().written) {
            line(&why);
        }
        if doubt.median_leads() {
            line(&match &answer.turned {
                Some(turned) => format!("{AS_WRITTEN}, with {} not turned.", turned.specimen),
                None => format!("{AS_WRITTEN}."),
            });
        }
    }
    if let Some(turned) = &answer.turned {
        line("");
        line(&two_positions(turned));
    }
    line("");
    if answer.leak.shares.is_empty() {
        line("Nothing leaks in this model: there is no leak to share out.");
    } else {
        let whose = if answer.beside_specimen.is_some() {
            "Where the light beside the specimen comes from"
        } else {
            "Where the light comes from"
        };
        let as_written = match answer.doubt.as_ref().is_some_and(Doubt::median_leads) {
            true => ", with every part exactly as written",
            false => "",
        };
        line(&format!(
            "{BOLD}{whose}{BOLD:#}{as_written}: {} of the parallel field in all",
            fraction(of_empty_field(answer))
        ));
        line(&leaks(&answer.leak.shares));
    }
    if !brief {
        line("");
        for note in notes {
            line(&format!("Note: {note}"));
        }
        line(&computed(
            Numerics {
                rays: Some(answer.rays),
                quadrature_error: answer.quadrature_error,
                wavelengths_nm: &answer.spectrum.wavelength_nm,
                spectral_error: answer.spectral_error,
            },
            COLORS,
        ));
        line(CAUTION);
    }
    text
}

/// Luminance of the empty field, as its own line of the table shows it: the shares of the leak are shares of this light.
fn of_empty_field(answer: &Prediction) -> f64 {
    let field = match &answer.beside_specimen {
        Some(beside) => &beside.background.without_plate,
        None => &answer.background.without_plate,
    };
    field.relative_luminance
}

/// Whose colours are told where the extinction ratio that leads is another's.
const AS_WRITTEN: &str =
    "The backgrounds and colours above are those of the stand exactly as written";

/// How the polars stand, and the aperture.
fn polars_and_aperture(crossing: &Crossing, na: f64) -> String {
    let na = digits(na, 3);
    match crossing {
        Crossing::Crossed { off_deg } if *off_deg >= 0.05 => {
            format!("Crossed polars, {off_deg:.1} degrees off, aperture NA {na}")
        }
        Crossing::Crossed { .. } => format!("Crossed polars, aperture NA {na}"),
        Crossing::Circular => format!("Circular polars, aperture NA {na}"),
        _ => format!(
            "{}. Aperture NA {na}",
            not_crossed(crossing).unwrap_or_default()
        ),
    }
}

fn summary(answer: &Prediction) -> String {
    let mut table = plain();
    let mut row = |name: &str, value: String| {
        table.add_row([name.to_owned(), value]);
    };
    let empty = answer.beside_specimen.as_ref();
    let headline = empty.map_or_else(
        || extinction(answer),
        |empty| format!("{} beside the specimen", ratio(empty.extinction_ratio)),
    );
    match answer.doubt.as_ref().map(doubted) {
        Some((words, true)) => {
            row("Extinction ratio", words);
            row("exactly as written", headline);
        }
        Some((words, false)) => {
            row("Extinction ratio", headline);
            row("as far as the parts are known", words);
        }
        None => row("Extinction ratio", headline),
    }
    let mut look = |name: &str, without: &Background, with: Option<&Background>| {
        let plates = if with.is_some() { ", plate out" } else { "" };
        row(&format!("{name}{plates}"), swatch(without));
        if let Some(with) = with {
            row(&format!("{name}, plate in"), swatch(with));
        }
    };
    let field = if let Some(empty) = empty {
        look(
            "Background",
            &empty.background.without_plate,
            empty.background.with_plate.as_ref(),
        );
        "Specimen"
    } else {
        "Background"
    };
    look(
        field,
        &answer.background.without_plate,
        answer.background.with_plate.as_ref(),
    );
    row(
        "Colours are for an eye",
        adapted(
            answer.background.without_plate.adaptation.degree,
            "the parallel field",
        ),
    );
    for plate in &answer.plates {
        row(
            &plate.part,
            format!("{} µm thick", digits(plate.thickness_um, 4)),
        );
    }
    table.trim_fmt()
}

/// A specimen along the plate's slow direction and across it.
fn two_positions(turned: &TurnedSpecimen) -> String {
    let (name, plate) = (&turned.specimen, &turned.plate);
    let direction = match turned.direction {
        TurnedDirection::Stated => "the direction of its azimuth (an object's length)",
        TurnedDirection::OpticAxis => "its optic axis",
        TurnedDirection::Indicatrix => "the direction of its azimuth",
    };
    let nm = turned.path_difference_nm;
    let (slow, sign) = match nm {
        nm if nm > 0.0 => ("slow along it", "positive"),
        nm if nm < 0.0 => ("slow across it", "negative"),
        _ => ("no path difference", ""),
    };
    let sign = match turned.direction {
        TurnedDirection::Stated if nm != 0.0 => format!(" ({sign} elongation)"),
        TurnedDirection::OpticAxis if nm != 0.0 => format!(" (optically {sign})"),
        _ => String::new(),
    };
    let mut table = plain();
    table.add_row(["along".to_owned(), swatch(&turned.along)]);
    table.add_row(["across".to_owned(), swatch(&turned.across)]);
    format!(
        "{BOLD}{name} turned{BOLD:#}: {direction} along and across the slow direction of {plate}, plate in\n{}\nIn this scenario {} nm, {slow}{sign}. {}",
        table.trim_fmt(),
        digits(nm.abs(), 3),
        told_by_colors(turned),
    )
}

/// What the two colours tell, and why they tell nothing where they are alike.
fn told_by_colors(turned: &TurnedSpecimen) -> String {
    if !turned.is_alike() && !turned.is_mixed() {
        return TWO_COLORS.to_owned();
    }
    let apart = |difference: f64| format!("CIEDE2000 {}", digits(difference, 2));
    if !turned.is_alike() {
        return format!(
            "The two colours ({}) are mixtures of rays at many angles: from those of light along the microscope's axis alone they differ more ({}), so they do not tell which direction is slow. Close the iris, or look at the back focal plane. {IDENTIFIES_NOTHING}",
            apart(turned.color_difference),
            apart(turned.color_mixing)
        );
    }
    let why = if turned.color_difference_on_axis >= JUST_VISIBLE {
        format!(
            "Rays at other angles have other path differences and azimuths in it, and over the aperture their colours mix to one. Along the microscope's axis alone they differ by {}: close the iris, or look at the back focal plane",
            apart(turned.color_difference_on_axis)
        )
    } else {
        "Even along the microscope's axis they are: there its path difference is too small for a colour of its own, or so large that all colours mix to white".to_owned()
    };
    format!(
        "The two colours are alike ({}; {JUST_VISIBLE} is just visible): the plate tells nothing of which direction is slow here. {why}. {IDENTIFIES_NOTHING}",
        apart(turned.color_difference)
    )
}

/// What no colour tells.
const IDENTIFIES_NOTHING: &str = "This identifies nothing and is no diagnostic device.";

/// What two colours do not tell.
const TWO_COLORS: &str = "Two colours tell which direction is slow, and not what the crystal is: this identifies nothing and is no diagnostic device. \
Crystals are identified for a diagnosis by qualified people under their laboratory's procedures.";

fn swatch(b: &Background) -> String {
    let exposure = if b.exposure_stops > 0.0 {
        format!("shown {} stops brighter", b.exposure_stops)
    } else {
        "shown at its exposure".to_owned()
    };
    let luminance = fraction(b.relative_luminance);
    format!(
        "{}, {}: {luminance} of the parallel field, {exposure}",
        b.name, b.srgb
    )
}

fn extinction(answer: &Prediction) -> String {
    let Some(luminous) = answer.extinction_ratio else {
        return INFINITE.to_owned();
    };
    let mut words = format!("{} (luminous)", digits(luminous, 3));
    if let Some(green) = answer.extinction_green {
        let _ = write!(words, "; {} at 546.1 nm", ratio(green));
    }
    let known = || {
        (answer.spectrum.wavelength_nm.iter())
            .zip(&answer.spectrum.extinction_ratio)
            .filter_map(|(&nm, ratio)| Some((nm, (*ratio)?)))
    };
    let lowest = known().min_by(|a, b| a.1.total_cmp(&b.1));
    let highest = known().max_by(|a, b| a.1.total_cmp(&b.1));
    if let (Some(lowest), Some(highest)) = (lowest, highest) {
        let _ = write!(
            words,
            "; lowest {} at {} nm, highest {} at {} nm",
            digits(lowest.1, 3),
            lowest.0,
            digits(highest.1, 3),
            highest.0
        );
    }
    words
}

fn leaks(shares: &[LeakShare]) -> String {
    let mut table = plain();
    table.set_header(["part", "cause", "share", "leak alone", "leak without it"]);
    let (small, shown): (Vec<_>, Vec<_>) = shares
        .iter()
        .partition(|share| share.share.abs() < SMALL_SHARE);
    for share in &shown {
        table.add_row([
            share.part.clone(),
            share.cause.words().to_owned(),
            percent(share.share),
            fraction(share.alone),
            fraction(share.without),
        ]);
    }
    if !small.is_empty() {
        let sum: f64 = small.iter().map(|share| share.share).sum();
        let cells = [
            match small.len() {
                1 => "other (1)".to_owned(),
                many => format!("others ({many})"),
            },
            String::new(),
            percent(sum),
        ];
        table.add_row(cells);
    }
    right_columns(&mut table, &[2, 3, 4]);
    table.trim_fmt()
}

/// The catalog for people.
#[must_use]
pub fn catalog(entries: &[Entry], width: u16) -> String {
    let mut text = String::new();
    let mut groups: Vec<&str> = entries.iter().map(|entry| entry.group).collect();
    groups.dedup();
    for group in groups {
        let mut table = plain();
        table.set_header(["name", "values", "standing", "source"]);
        table.set_content_arrangement(ContentArrangement::Dynamic);
        table.set_width(width);
        for entry in entries.iter().filter(|entry| entry.group == group) {
            table.add_row([
                entry.name,
                &entry.values,
                entry.standing.word(),
                entry.source,
            ]);
        }
        let _ = writeln!(text, "{BOLD}{group}{BOLD:#}\n{}\n", table.trim_fmt());
    }
    let _ = writeln!(text, "{CAUTION}");
    text
}

fn plain() -> Table {
    let mut table = Table::new();
    table.load_style(presets::NOTHING);
    table
}

/// Sets columns of numbers flush right.
fn right_columns(table: &mut Table, columns: &[usize]) {
    for column in columns {
        if let Some(column) = table.column_mut(*column) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
}

fn ratio(ratio: Option<f64>) -> String {
    ratio.map_or_else(|| "infinite".to_owned(), |ratio| digits(ratio, 3))
}

fn percent(share: f64) -> String {
    format!("{} %", decimals(100.0 * share, 1))
}

/// A fraction of the parallel field as a percentage, with an exponent where it would be all noughts.
fn fraction(value: f64) -> String {
    if value == 0.0 {
        "0 %".to_owned()
    } else if value.abs() < 1e-7 {
        format!("{} %", exponent(100.0 * value))
    } else {
        format!("{} %", digits(100.0 * value, 3))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fractions_are_percentages_where_that_reads_well() {
        assert_eq!(fraction(0.0021), "0.210 %");
        assert_eq!(fraction(2.5e-5), "0.00250 %");
        assert_eq!(fraction(2.5e-9), "2.5e-7 %");
        assert_eq!(fraction(-0.01), "-1.00 %");
    }
}
