//! `lens` for people.

use std::fmt::Write;

use super::{BOLD, fraction, plain};
use crate::output::CAUTION;
use crate::output::numbers::digits;
use crate::study::lens::{LensAnswer, Slot};

/// `lens` for people, styled: every lens, and side by side where there are several. `brief` leaves out what is to be known and cautions.
#[must_use]
pub fn lenses(answers: &[(String, Vec<LensAnswer>)], brief: bool) -> String {
    let mut text = String::new();
    let all: Vec<(&String, &LensAnswer)> = (answers.iter())
        .flat_map(|(title, lenses)| lenses.iter().map(move |lens| (title, lens)))
        .collect();
    let mut line = |words: &str| {
        let _ = writeln!(text, "{words}");
    };
    if let [(title, lenses)] = answers {
        line(&format!("{BOLD}{title}{BOLD:#}"));
        for lens in lenses {
            line("");
            of_lens(lens, &mut line);
        }
    }
    if all.len() > 1 {
        if answers.len() == 1 {
            line("");
        }
        line(&format!("{BOLD}Side by side{BOLD:#}"));
        line(&side_by_side(&all, answers.len() > 1));
    }
    if !brief {
        line("");
        line(
            "At 546.1 nm, light from infinity on the collimated side, rays along the axis only. Front planes count from the first vertex, negative before it, back planes from the last.",
        );
        line(CAUTION);
    }
    text
}

fn name(lens: &LensAnswer) -> String {
    match lens.by_itself {
        true => format!("{}, by itself", lens.part),
        false => lens.part.clone(),
    }
}

fn mm(value: f64) -> String {
    format!("{value:.2} mm")
}

fn of_lens(lens: &LensAnswer, line: &mut impl FnMut(&str)) {
    line(&format!("{BOLD}{}{BOLD:#}", name(lens)));
    let mut table = plain();
    let mut row = |what: &str, value: String| {
        table.add_row([what.to_owned(), value]);
    };
    row("Focal length", {
        let over: Vec<String> = (lens.over_lamp.iter())
            .map(|at| format!("{:.2} at {:.0} nm", at.focal_length_mm, at.wavelength_nm))
            .collect();
        format!(
            "{} ({} of the lamp)",
            mm(lens.focal_length_mm),
            over.join(", ")
        )
    });
    row(
        "NA in air",
        format!("{:.3}: {}", lens.na_air, lens.limited_by),
    );
    row(
        "NA with oil on it",
        format!("{:.3}: {}", lens.na_oil, lens.limited_by_in_oil),
    );
    row("Used at", format!("NA {:.3}", lens.na));
    row("Filter plane", filter_plane(lens));
    if let Some(slot) = &lens.slot {
        row("Slot", of_slot(slot));
    }
    let space = match lens.is_objective {
        true => "Working distance",
        false => "Room above it",
    };
    row(space, room(lens));
    if let Some(outermost) = lens.spherical.last() {
        row(
            "Spherical aberration",
            format!(
                "the outermost ray crosses {} {} the paraxial focus, {:.0} µm from the axis there",
                mm(outermost.longitudinal_mm.abs()),
                if outermost.longitudinal_mm < 0.0 {
                    "before"
                } else {
                    "behind"
                },
                outermost.transverse_um.abs()
            ),
        );
    }
    row(
        "Off the sine condition",
        format!("{:.1} %", 100.0 * lens.sine_error),
    );
    row(
        "Its surfaces leak",
        format!(
            "{} of the parallel field up to NA {:.3}, as {} equal surfaces would",
            fraction(lens.leak),
            lens.na,
            digits(lens.equal_surfaces, 2)
        ),
    );
    line(&table.trim_fmt());
    let mut table = plain();
    table.set_header([
        "surface",
        "radius mm",
        "incidence",
        "bending",
        "passes",
        "of the leak",
    ]);
    for (number, surface) in (1..).zip(&lens.surfaces) {
        table.add_row([
            number.to_string(),
            match surface.radius_mm {
                0.0 => "flat".to_owned(),
                radius => digits(radius, 4),
            },
            format!("{:.1}°", surface.incidence_deg),
            format!("{:.1}°", surface.bending_deg),
            format!("{:.1} %", 100.0 * surface.transmittance),
            format!("{:.1} %", 100.0 * surface.leak_share),
        ]);
    }
    line(&table.trim_fmt());
}

fn filter_plane(lens: &LensAnswer) -> String {
    match lens.filter_plane_reachable {
        true => format!("{} before the first vertex", mm(-lens.filter_plane_mm)),
        false => format!(
            "{} behind the first vertex: no filter can stand there",
            mm(lens.filter_plane_mm)
        ),
    }
}

fn of_slot(slot: &Slot) -> String {
    format!(
        "at {}: an eye that looks through the lens accommodates {:.1} diopters to see it, or sees it blurred by {:.2} mm",
        mm(slot.mm),
        slot.diopters,
        slot.blur_mm
    )
}

fn room(lens: &LensAnswer) -> String {
    match lens.room_mm > 0.0 {
        true if lens.is_objective => format!("{} to the cover glass", mm(lens.room_mm)),
        false if lens.is_objective => "none: the focus lies inside the cover glass".to_owned(),
        true => format!("{} to the slide for sheet and ring", mm(lens.room_mm)),
        false => format!(
            "none: the outermost ray comes together {} too low for this slide",
            mm(-lens.room_mm)
        ),
    }
}

fn side_by_side(all: &[(&String, &LensAnswer)], many: bool) -> String {
    let mut table = plain();
    table.set_header([
        "lens",
        "focal length",
        "NA in air",
        "NA in oil",
        "filter plane",
        "room",
        "leak",
        "acts like",
    ]);
    for (title, lens) in all {
        let name = match many {
            true => format!("{title}: {}", name(lens)),
            false => name(lens),
        };
        table.add_row([
            name,
            mm(lens.focal_length_mm),
            format!("{:.3}", lens.na_air),
            format!("{:.3}", lens.na_oil),
            match lens.filter_plane_reachable {
                true => mm(lens.filter_plane_mm),
                false => "in the glass".to_owned(),
            },
            match lens.room_mm > 0.0 {
                true => mm(lens.room_mm),
                false => "none".to_owned(),
            },
            fraction(lens.leak),
            format!("{} surfaces", digits(lens.equal_surfaces, 2)),
        ]);
    }
    table.trim_fmt()
}
