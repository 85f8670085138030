//! Answers as CSV, one header line, full precision.

mod aperture;
mod chart;
mod fit;
mod lens;
mod place;
mod tolerate;
mod trace;

use crate::material::catalog::Entry;
use crate::study::doubt::darker_probability;
use crate::study::predict::Prediction;
use crate::study::view::{SeenColor, SeenObject};

pub use aperture::back_focal_plane;
pub use chart::{matrix, scale, sheets};
pub use fit::{checklist, sample, strain_map, strain_zones, unknowns};
pub use lens::{lenses, prescription};
pub use place::placement;
pub use tolerate::{draws, tolerances};
pub use trace::trace;

/// The spectra of `predict`: wavelength_nm, parallel, crossed, crossed_with_plate, extinction_ratio, and the crossed field beside
/// the specimen. A cell is empty where there is no plate or specimen, or nothing leaks.
#[must_use]
pub fn prediction(answer: &Prediction) -> String {
    let header = [
        "wavelength_nm",
        "parallel",
        "crossed",
        "crossed_with_plate",
        "extinction_ratio",
        "crossed_beside_specimen",
    ];
    let plate = answer.spectrum.fields.crossed_with_plate.as_deref();
    let beside = answer.beside_specimen.as_ref();
    let rows = (0..answer.spectrum.wavelength_nm.len()).map(|k| {
        [
            Some(answer.spectrum.wavelength_nm[k]),
            Some(answer.spectrum.fields.parallel[k]),
            Some(answer.spectrum.fields.crossed[k]),
            plate.map(|plate| plate[k]),
            answer.spectrum.extinction_ratio[k],
            beside.map(|beside| beside.crossed[k]),
        ]
        .map(|cell| cell.map_or(String::new(), |number| number.to_string()))
    });
    text(header, rows)
}

/// Where the leak of `predict` comes from, a row for each part and cause.
#[must_use]
pub fn shares(answer: &Prediction) -> String {
    let rows = answer.leak.shares.iter().map(|share| {
        [
            share.part.clone(),
            share.cause.words().to_owned(),
            share.share.to_string(),
            share.alone.to_string(),
            share.without.to_string(),
        ]
    });
    text(["part", "cause", "share", "alone", "without"], rows)
}

/// The objects of a field, a row each; plates out, and in where there are any.
#[must_use]
pub fn view(objects: &[SeenObject]) -> String {
    let header = [
        "object",
        "path_difference_nm",
        "luminance",
        "srgb",
        "name",
        "luminance_with_plate",
        "srgb_with_plate",
        "name_with_plate",
    ];
    let rows = objects.iter().map(|object| {
        let look = |seen: Option<&SeenColor>| match seen {
            Some(seen) => [
                seen.luminance.to_string(),
                seen.srgb.clone(),
                seen.name.clone(),
            ],
            None => [String::new(), String::new(), String::new()],
        };
        let mut row = vec![object.name.clone(), object.path_difference_nm.to_string()];
        row.extend(look(Some(&object.without_plate)));
        row.extend(look(object.with_plate.as_ref()));
        row
    });
    text(header, rows)
}

/// Answers of `predict` side by side, a row each: the empty field where there is a specimen. `darker_than_first` is the probability of that.
#[must_use]
pub fn side_by_side(answers: &[(String, Prediction)]) -> String {
    let header = [
        "scenario",
        "na",
        "extinction_ratio",
        "low",
        "median",
        "high",
        "darker_than_first",
    ];
    let rows = answers.iter().map(|(title, answer)| {
        let ratios = answer.ratios();
        let interval = answer.doubt.as_ref().map(|doubt| doubt.extinction_ratio);
        let darker = darker_probability(&ratios, &answers[0].1.ratios());
        let numbers = [
            Some(answer.na),
            Some(ratios.written).filter(|written| written.is_finite()),
            interval.map(|interval| interval.low),
            interval.map(|interval| interval.median),
            interval.map(|interval| interval.high),
            Some(darker),
        ];
        let numbers = numbers.map(|cell| cell.map_or(String::new(), |number| number.to_string()));
        std::iter::once(title.clone())
            .chain(numbers)
            .collect::<Vec<_>>()
    });
    text(header, rows)
}

/// The catalog.
#[must_use]
pub fn catalog(entries: &[Entry]) -> String {
    let rows = entries.iter().map(|entry| {
        [
            entry.group,
            entry.name,
            &entry.values,
            entry.source,
            entry.standing.word(),
        ]
        .map(str::to_owned)
    });
    text(["group", "name", "values", "source", "standing"], rows)
}

fn text<R: IntoIterator<Item = String>>(
    header: impl IntoIterator<Item = impl AsRef<[u8]>>,
    rows: impl Iterator<Item = R>,
) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    // Writing to memory cannot fail, and every row has as many cells as the header.
    let _ = writer.write_record(header);
    for row in rows {
        let _ = writer.write_record(row);
    }
    let bytes = writer.into_inner().unwrap_or_default();
    String::from_utf8_lossy(&bytes).into_owned()
}
