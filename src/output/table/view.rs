//! `view` for people.

use std::fmt::Write;

use super::{BOLD, plain, right_columns};
use crate::output::numbers::digits;
use crate::output::{CAUTION, SpecimenWords};
use crate::study::view::SeenObject;

/// The objects of a field as they look with their slow direction at 45 degrees. Styled; the caller strips the style where it is not wanted. `brief` leaves
/// out notes and cautions.
#[must_use]
pub fn view(
    title: &str,
    objects: &[SeenObject],
    specimen: &SpecimenWords,
    notes: &[String],
    brief: bool,
) -> String {
    let mut text = String::new();
    let mut line = |words: &str| {
        let _ = writeln!(text, "{words}");
    };
    line(&format!("{BOLD}{title}{BOLD:#}"));
    line("What is seen in the field, with the slow direction at 45 degrees to the lower polar");
    line("");
    let mut table = plain();
    let with_plate = objects.iter().any(|object| object.with_plate.is_some());
    let mut header = vec!["", "path difference", "of the parallel field", "plate out"];
    header.extend(with_plate.then_some("plate in"));
    table.set_header(header);
    for object in objects {
        let mut row = vec![
            object.name.clone(),
            format!("{:.0} nm", object.path_difference_nm + 0.0),
            format!("{} %", digits(100.0 * object.without_plate.luminance, 3)),
            look(&object.without_plate.name, &object.without_plate.srgb),
        ];
        row.extend(
            object
                .with_plate
                .as_ref()
                .map(|seen| look(&seen.name, &seen.srgb)),
        );
        table.add_row(row);
    }
    right_columns(&mut table, &[1, 2]);
    line(&table.trim_fmt());
    if !brief {
        line("");
        for note in notes {
            line(&format!("Note: {note}"));
        }
        line(&format!(
            "{}. Colours are those beside the parallel field as white, at its exposure; diffraction is left out.",
            specimen.about
        ));
        line(CAUTION);
    }
    text
}

fn look(name: &str, srgb: &str) -> String {
    format!("{name} {srgb}")
}
