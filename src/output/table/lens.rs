//! `lens` for people.

use std::fmt::Write;

use super::{BOLD, fraction, plain};
use crate::output::CAUTION;
use crate::output::numbers::{decimals, digits};
use crate::study::lens::{EYE_PUPIL_MM, LensAnswer, Slot};

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
            "At 546.1 nm, light from infinity on the collimated side, all rays parallel to the axis before the lens. Front planes count from the first vertex, negative before it, back planes from the last. Room is from the last face to the slide: the sheet is part of it.",
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
    row(
        "All that follows",
        format!("for the whole aperture, NA {:.3}", lens.na),
    );
    row("Filter plane", filter_plane(lens));
    if let Some(slot) = &lens.slot {
        row("Slot", of_slot(slot, lens));
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
                "the outermost ray crosses {} {} the paraxial focus, {:.0} µm from the axis there; no ray misses it by more than 500 µm{}",
                mm(outermost.longitudinal_mm.abs()),
                if outermost.longitudinal_mm < 0.0 {
                    "before"
                } else {
                    "behind"
                },
                outermost.transverse_um.abs(),
                match lens.na_within_field {
                    na if na >= lens.na * (1.0 - 1e-9) => String::new(),
                    na => format!(" up to NA {na:.2}: beyond, expect uneven light"),
                }
            ),
        );
    }
    row(
        "Off the sine condition",
        format!("{} %", decimals(100.0 * lens.sine_error, 1)),
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
            format!("{} %", decimals(100.0 * surface.transmittance, 1)),
            format!("{} %", decimals(100.0 * surface.leak_share, 1)),
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

fn of_slot(slot: &Slot, lens: &LensAnswer) -> String {
    let where_it_is = match slot.is_near() {
        true => "in the filter plane, as far as an eye can tell".to_owned(),
        false => format!("{} from the filter plane: not in it", mm(slot.off_mm.abs())),
    };
    let sharp = match slot.diopters < 0.0 {
        true => "no eye can focus on it through the lens".to_owned(),
        false => format!(
            "an eye that looks through the lens from the specimen accommodates {:.1} diopters to see it sharp",
            slot.diopters
        ),
    };
    format!(
        "at {}, {where_it_is}; {sharp}; a relaxed one (pupil {EYE_PUPIL_MM} mm) sees edges in it blurred over {} of the {:.1} mm that the bundle is wide",
        mm(slot.mm),
        mm(slot.blur_mm),
        2.0 * lens.drawing.heights_mm.last().copied().unwrap_or(0.0)
    )
}

fn room(lens: &LensAnswer) -> String {
    let ray = match lens.room_na < 0.1 * lens.na {
        true => "rays near the axis decide".to_owned(),
        false => format!("the ray of NA {:.2} decides", lens.room_na),
    };
    match lens.room_mm > 0.0 {
        true if lens.is_objective => format!("{} to the cover glass; {ray}", mm(lens.room_mm)),
        false if lens.is_objective => {
            format!("none: the focus lies inside the cover glass; {ray}")
        }
        true => format!(
            "{} to the slide for sheet and ring; {ray}",
            mm(lens.room_mm)
        ),
        false => format!(
            "none: rays come together {} too low for this slide; {ray}",
            mm(-lens.room_mm)
        ),
    }
}

fn side_by_side(all: &[(&String, &LensAnswer)], many: bool) -> String {
    let mut table = plain();
    let slotted = all.iter().any(|(_, lens)| lens.slot.is_some());
    let mut header = vec![
        "lens",
        "focal length",
        "NA in air",
        "NA in oil",
        "even up to",
        "filter plane",
        "room",
        "leak",
        "acts like",
        "slot",
    ];
    header.truncate(if slotted { 10 } else { 9 });
    table.set_header(header);
    for (title, lens) in all {
        let name = match many {
            true => format!("{title}: {}", name(lens)),
            false => name(lens),
        };
        let mut row = vec![
            name,
            mm(lens.focal_length_mm),
            format!("{:.3}", lens.na_air),
            format!("{:.3}", lens.na_oil),
            format!("NA {:.2}", lens.na_within_field.min(lens.na)),
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
        ];
        if slotted {
            row.push(lens.slot.map_or_else(String::new, |slot| {
                let off = mm(slot.off_mm.abs());
                match slot.is_near() {
                    true => "in the filter plane".to_owned(),
                    false => format!("{off} off, blur {}", mm(slot.blur_mm)),
                }
            }));
        }
        table.add_row(row);
    }
    table.trim_fmt()
}
