//! Which specimens show to the eye and to a camera.

use super::super::plain;
use super::limits::honest;
use super::needs;
use crate::material::catalog::SpecimenClass;
use crate::output::numbers::digits;
use crate::study::observer::Criterion;
use crate::study::visibility::{LEAST_NM, MOST_NM, Seen, Shows};

const CLASSES: [SpecimenClass; 3] = [
    SpecimenClass::StrongCrystal,
    SpecimenClass::Fibre,
    SpecimenClass::FaintLivingStructure,
];

pub(super) fn visibility(observers: &[Seen]) -> String {
    let mut table = plain();
    table.set_header(
        ["observer", "needs", "smallest"]
            .into_iter()
            .chain(CLASSES.map(SpecimenClass::words)),
    );
    let has_plate = observers.iter().any(|seen| seen.with_plate);
    for seen in observers {
        let who = match seen.criterion {
            Criterion::Signal { .. } => "camera",
            _ => "eye",
        };
        let plate = match (has_plate, seen.with_plate) {
            (false, _) => "",
            (true, false) => ", plate out",
            (true, true) => ", plate in",
        };
        let mut cells = vec![
            format!("{who}{plate}"),
            needs(&seen.criterion),
            smallest(seen),
        ];
        cells.extend(CLASSES.map(|class| covers(seen, class)));
        table.add_row(cells);
    }
    table.trim_fmt()
}

fn smallest(seen: &Seen) -> String {
    match seen.smallest {
        None => format!("none up to {} nm", digits(MOST_NM, 3)),
        Some(smallest) if smallest.path_difference_nm <= LEAST_NM => {
            format!("{LEAST_NM} nm or less")
        }
        Some(smallest) => {
            let nm = honest(smallest.path_difference_nm, smallest.uncertainty_nm);
            format!("{nm} nm")
        }
    }
}

/// Whether the objects of a class show: in a word where all or none does, else which.
fn covers(seen: &Seen, class: SpecimenClass) -> String {
    let of_class = || {
        seen.covers
            .iter()
            .filter(move |c| c.object.class == Some(class))
    };
    let all = |shows| of_class().all(|covered| covered.shows == shows);
    if all(Shows::Yes) {
        return "all".to_owned();
    }
    if all(Shows::No) {
        return "none".to_owned();
    }
    let words: Vec<String> = of_class()
        .filter_map(|covered| match covered.shows {
            Shows::Yes => Some(covered.object.name.to_owned()),
            Shows::Partly => Some(format!("{} in part", covered.object.name)),
            Shows::No => None,
        })
        .collect();
    words.join(", ")
}
