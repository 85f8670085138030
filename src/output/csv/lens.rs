//! `lens` as CSV.

use std::fmt::Write;

use super::text;
use crate::optics::prescription::{Form, Surface};
use crate::study::lens::LensAnswer;

/// The surfaces of all lenses, one a row, with what is asked of the lens itself in front.
#[must_use]
pub fn lenses(answers: &[(String, Vec<LensAnswer>)]) -> String {
    let header = [
        "scenario",
        "part",
        "focal_length_mm",
        "na_air",
        "na_oil",
        "filter_plane_mm",
        "slot_mm",
        "slot_diopters",
        "slot_blur_mm",
        "room_mm",
        "room_na",
        "na_within_field",
        "leak",
        "surface",
        "radius_mm",
        "incidence_deg",
        "bending_deg",
        "transmittance",
        "leak_share",
    ];
    let lenses =
        (answers.iter()).flat_map(|(title, lenses)| lenses.iter().map(move |lens| (title, lens)));
    let rows = lenses.flat_map(|(title, lens)| {
        (1..).zip(&lens.surfaces).map(move |(number, surface)| {
            let slot = lens.slot;
            let numbers = [
                Some(lens.focal_length_mm),
                Some(lens.na_air),
                Some(lens.na_oil),
                Some(lens.filter_plane_mm),
                slot.map(|slot| slot.mm),
                slot.map(|slot| slot.diopters),
                slot.map(|slot| slot.blur_mm),
                Some(lens.room_mm),
                Some(lens.room_na),
                Some(lens.na_within_field),
                Some(lens.leak),
                Some(f64::from(number)),
                Some(surface.radius_mm),
                Some(surface.incidence_deg),
                Some(surface.bending_deg),
                Some(surface.transmittance),
                Some(surface.leak_share),
            ];
            let words = [title.clone(), lens.part.clone()].into_iter();
            // What was not asked for stays empty.
            words.chain(numbers.map(|number| number.map_or_else(String::new, |n| n.to_string())))
        })
    });
    text(header, rows)
}

/// To a tenth of a micrometre, which nobody measures a lens better than.
fn short(number: f64) -> f64 {
    (number * 1e4).round() / 1e4
}

/// A prescription to start from, with what was assumed, as a scenario reads it.
#[must_use]
pub fn prescription(form: &Form, surfaces: &[Surface]) -> String {
    let mut text = format!(
        "# A lens of {} mm diameter, {} mm thick, of focal length {} mm at 546.1 nm, in {}: two surfaces from four numbers, not a measurement.\n",
        form.diameter_mm, form.thickness_mm, form.focal_length_mm, form.glass.name
    );
    text.push_str("# Assumed: the curved side toward the lamp, a clear aperture 0.5 mm inside the rim, no coating, no aspheric terms beyond the conic.\n");
    text.push_str("# Measure what decides: radii with a spherometer or a reflected lamp, the clear aperture with a caliper, the conic by the focus of the rim.\n");
    text.push_str("radius_mm,thickness_mm,glass,half_diameter_mm,conic\n");
    for surface in surfaces {
        let glass = surface
            .after
            .as_ref()
            .map_or("", |glass| glass.name.as_str());
        // Writing to memory cannot fail.
        let _ = writeln!(
            text,
            "{},{},{glass},{},{}",
            short(surface.radius_mm),
            surface.thickness_mm,
            surface.half_diameter_mm,
            short(surface.conic)
        );
    }
    text
}
