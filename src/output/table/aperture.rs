//! `aperture` for people.

use std::fmt::Write;

use comfy_table::CellAlignment;

use super::{BOLD, plain, polars_and_aperture, ratio};
use crate::material::SODIUM_NM;
use crate::output::numbers::digits;
use crate::output::sentences::{COLORS, Numerics, computed};
use crate::output::{CAUTION, INFINITE, sentences, words};
use crate::study::aperture::{
    BackFocalPlane, BuildUpStep, CrystalFigure, LeaningAxis, Melatope, OFF_MIDDLE, Section,
    SectionsAlong, Unread, View,
};
use crate::study::measures::{self, NOTHING};

/// Rows of a section's table: so many to each side of the axis.
const ROWS: usize = 4;

/// `aperture` for people. Styled; the caller strips the style where it is not wanted. `brief` leaves out notes and cautions.
#[must_use]
pub fn back_focal_plane(
    title: &str,
    answer: &BackFocalPlane,
    notes: &[String],
    brief: bool,
) -> String {
    let mut text = String::new();
    let mut line = |words: &str| {
        let _ = writeln!(text, "{words}");
    };
    line(&format!("{BOLD}{title}{BOLD:#}"));
    let specimen = if answer.has_specimen {
        ", specimen in"
    } else {
        ""
    };
    let stand = polars_and_aperture(&answer.crossing, answer.na);
    line(&format!("{stand}{specimen}"));
    if let Some(unsure) = sentences::unsure(answer.quadrature_error, answer.resolved.error) {
        line(&unsure);
    }
    line("");
    line(&views(answer));
    line("");
    line(&format!(
        "{BOLD}Light along {}{BOLD:#}, relative to the mean of the parallel field",
        match answer.sections_along {
            SectionsAlong::DarkAndBright => "the dark and the bright direction",
            SectionsAlong::NoCross => "two diameters",
            SectionsAlong::FigureMiddle => "the diameter through the figure's middle and across it",
            SectionsAlong::BesideArms => "the diameters halfway between the polars",
        }
    ));
    line(&sections(&answer.sections));
    line("");
    line(&format!(
        "{BOLD}Part by part{BOLD:#}: perfect parts made real one by one, plates out"
    ));
    line(&build_up(&answer.build_up));
    if let Some(figure) = &answer.crystal {
        line("");
        line(&heading(&figure.part, &figure.material, figure.optic_sign));
        line(&crystal(figure));
    }
    if let Some(axis) = &answer.leaning_axis {
        line("");
        line(&heading(&axis.part, &axis.material, axis.optic_sign));
        line(&leaning_axis(axis));
    }
    if !brief {
        line("");
        if answer.build_up.iter().any(|step| step.cross.is_some()) {
            line(
                "Cross open: how far from the axis its arms pass, over the radius of the disc, and along which diameter they have parted; 0 is a closed cross. \
Filled: the darkest ray over the brightest; 0 is a black cross. Turned: the cross against the lower polar, counter-clockwise.",
            );
        }
        if answer.build_up.iter().any(|step| !step.is_centred) {
            line(&format!(
                "None about the middle: the middle of the crystal's figure, where its optic axis comes out or halfway between two, lies off the middle of the disc by more than {:.0} % of its radius. A cross about the middle, with an opening and a turn, is then not to be measured, be the crystal ever so thin.",
                100.0 * OFF_MIDDLE
            ));
        }
        if answer
            .crystal
            .as_ref()
            .is_some_and(|figure| figure.read_off.is_some())
        {
            line(
                "Read off the figure: the crystal turned until the line through both axes stands at 45 degrees to the polars, half the distance of the darkest places on it, and the crystal's middle index.",
            );
        }
        if let Some(why) = answer.crystal.as_ref().and_then(CrystalFigure::unread) {
            line(&format!(
                "Not read off the figure: {}.",
                match why {
                    Unread::Outside => "not both optic axes come out within the aperture",
                    Unread::Aside =>
                        "the optic axes do not come out opposite to each other about the middle of the disc, so half their distance is none of the angles",
                    Unread::OneColor =>
                        "in light of so few wavelengths the rings are as dark as the places where the axes come out",
                }
            ));
        }
        if answer.sections_along == SectionsAlong::BesideArms {
            line(
                "The diameter through the figure's middle lies along a dark arm, where there is next to no light: the light is told along the diameters halfway between the polars instead.",
            );
        }
        if answer
            .build_up
            .iter()
            .any(|step| no_cross(step) == Some(NO_CROSS))
        {
            line(
                "No cross: the disc is of one brightness, or brighter in its middle than halfway to its brightest, or the dark arms are not where a crystal's two axes would have them (they come out beyond the rim, or the flake is so thin that its figure is hardly stronger than what the lenses leave). There is then no cross to measure.",
            );
        }
        for note in notes {
            line(&format!("Note: {note}"));
        }
        line(&computed(
            Numerics {
                quadrature_error: answer.quadrature_error,
                ..Numerics::of(&answer.resolved)
            },
            COLORS,
        ));
        line(CAUTION);
    }
    text
}

fn views(answer: &BackFocalPlane) -> String {
    let mut table = plain();
    table.set_header(["", "extinction ratio", "mean", "darkest", "brightest"]);
    let mut row = |name: &str, view: &View| {
        let light = view.light.iter().map(crate::color::Xyz::luminance);
        let (low, high) = light.fold((f64::INFINITY, 0f64), |(low, high), v| {
            (low.min(v), high.max(v))
        });
        table.add_row([
            name.to_owned(),
            view.extinction_ratio
                .map_or(INFINITE.to_owned(), |ratio| digits(ratio, 3)),
            fraction(view.relative_luminance),
            fraction(low),
            fraction(high),
        ]);
    };
    match &answer.with_plate {
        None => row("back focal plane", &answer.without_plate),
        Some(with_plate) => {
            row("plate out", &answer.without_plate);
            row("plate in", with_plate);
        }
    }
    table.trim_fmt()
}

fn sections(sections: &[Section]) -> String {
    let mut table = plain();
    let mut header = vec!["NA".to_owned()];
    for section in sections {
        let degrees = format!("{:.0}", section.azimuth_rad.to_degrees());
        if section.with_plate.is_some() {
            header.push(format!("{degrees} deg, plate out"));
            header.push("plate in".to_owned());
        } else {
            header.push(format!("{degrees} deg"));
        }
        header.push("extinction ratio".to_owned());
    }
    let columns = header.len();
    table.set_header(header);
    let last = sections.first().map_or(0, |section| section.na.len() - 1);
    for k in 0..=2 * ROWS {
        let at = k * last / (2 * ROWS);
        let mut row = vec![digits(sections[0].na[at], 3)];
        for section in sections {
            let light = section.without_plate[at].luminance();
            row.push(fraction(light));
            row.extend((section.with_plate.iter()).map(|light| fraction(light[at].luminance())));
            row.push(ratio(measures::ratio(1.0, light)));
        }
        table.add_row(row);
    }
    for column in 0..columns {
        if let Some(column) = table.column_mut(column) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    table.trim_fmt()
}

fn build_up(steps: &[BuildUpStep]) -> String {
    let mut table = plain();
    table.set_header([
        "put in",
        "extinction ratio",
        "mean",
        "cross open",
        "filled",
        "turned",
    ]);
    for step in steps {
        let cross = step.cross.as_ref();
        table.add_row([
            words::step(step),
            ratio(step.extinction_ratio),
            fraction(step.relative_luminance),
            match cross {
                Some(cross) => sentences::opening(cross),
                None => no_cross(step).unwrap_or("-").to_owned(),
            },
            cross.map_or("-".to_owned(), |cross| fraction_of_one(cross.filled)),
            (cross.and_then(|cross| cross.turned_rad)).map_or("-".to_owned(), |turned| {
                // Adding nought turns -0 into 0.
                format!(
                    "{:.1} deg",
                    (10.0 * turned.to_degrees()).round() / 10.0 + 0.0
                )
            }),
        ]);
    }
    table.trim_fmt()
}

const NO_CROSS: &str = "no cross";

/// What stands in place of the measures of a cross, where something leaks and there is none.
fn no_cross(step: &BuildUpStep) -> Option<&'static str> {
    match step.cross {
        Some(_) => None,
        None if !step.is_centred => Some("none about the middle"),
        None => step.extinction_ratio.map(|_| NO_CROSS),
    }
}

fn crystal(figure: &CrystalFigure) -> String {
    let angle = |angle_rad: f64| format!("{:.2} deg", angle_rad.to_degrees());
    let in_air =
        |two_e_rad: Option<f64>| two_e_rad.map_or("none: totally reflected".to_owned(), angle);
    let mut table = plain();
    table.set_header(["", "computed", "read off the figure"]);
    let read = figure.read_off.as_ref();
    let mut row = |name: &str, computed: String, read: Option<String>| {
        table.add_row([name.to_owned(), computed, read.unwrap_or("-".to_owned())]);
    };
    for (which, melatope) in ["one optic axis comes out at", "the other at"]
        .into_iter()
        .zip(&figure.melatopes)
    {
        let read = read.map(|read| format!("NA {:.4}", read.half_distance_na));
        row(which, comes_out(melatope), read);
    }
    row(
        "2V, between the axes in the crystal",
        angle(figure.two_v_rad),
        read.map(|read| angle(read.two_v_rad)),
    );
    row(
        "2E, in air",
        in_air(figure.two_e_rad),
        read.map(|read| in_air(read.two_e_rad)),
    );
    table.trim_fmt()
}

/// Whose axes are told.
fn heading(part: &str, material: &str, optic_sign: &str) -> String {
    format!("{BOLD}{part}{BOLD:#}: {material}, optically {optic_sign}, at {SODIUM_NM} nm")
}

fn leaning_axis(axis: &LeaningAxis) -> String {
    let angle = |angle_rad: f64| format!("{:.2} deg", angle_rad.to_degrees());
    let mut table = plain();
    table.add_row([
        "the optic axis comes out at".to_owned(),
        comes_out(&axis.comes_out),
    ]);
    table.add_row([
        "from the normal, in the crystal".to_owned(),
        angle(axis.axis_from_normal_rad),
    ]);
    let in_air = axis.in_air_rad;
    table.add_row([
        "in air".to_owned(),
        in_air.map_or("none: totally reflected".to_owned(), angle),
    ]);
    table.trim_fmt()
}

/// Where the light along an optic axis crosses the back focal plane.
fn comes_out(melatope: &Melatope) -> String {
    let outside = match melatope.seen {
        true => "",
        false => ", outside the aperture",
    };
    // Within 0 to 360, as azimuths of the other tables are.
    let azimuth = ((melatope.azimuth_rad.to_degrees() * 10.0).round() / 10.0).rem_euclid(360.0);
    format!("NA {:.4} at {azimuth:.1} deg{outside}", melatope.na)
}

/// A fraction of the parallel field as a percentage; a fraction that is no more than the rounding of the arithmetic is shown as none.
fn fraction(light: f64) -> String {
    super::fraction(if light > NOTHING { light } else { 0.0 })
}

fn fraction_of_one(value: f64) -> String {
    format!("{value:.3}")
}
