//! Parallel and crossed colour of sheets under lamps.

use super::background::{GridShown, table};
use super::compared::with_sheet;
use super::scale::told;
use super::tint::{SeenBeside, labels};
use super::{ColorGrid, Conditions, OBSERVER, Panel, notes};
use crate::color::Xyz;
use crate::light_path::LightPath;
use crate::material::PolarizingSheet;
use crate::spectrum::{Source, WavelengthGrid};
use crate::study::StudyError;
use crate::study::lamp::Lamp;
use crate::study::measures::ratio;
use crate::study::predict::seen;

/// The colour of two like sheets (rows) under lamps (columns), parallel and crossed: in collimated light, `(k1^2 + k2^2)/2` and `k1 k2` of
/// unpolarized light, or in a light path, in both of its polars, plates and specimens out.
///
/// White is the lamp itself, so that the sheet's own colour shows. The luminance of parallel pairs is a fraction of the lamp's; that of crossed
/// ones is a fraction of their own parallel field's, 1 over the extinction ratio, so that a pale pair that passes more light is not taken for one
/// that leaks more. Where the eye is adapted in part, the parallel field has the lamp's colour.
///
/// # Errors
/// [`StudyError`] for a lamp or sheet that does not cover the wavelengths, or a path that cannot be run.
///
/// Checked by: `tests/laws/chart.rs`, `tests/reference/charts.rs`.
pub fn sheets(
    sheets: &[PolarizingSheet],
    lamps: &[Source],
    grid: &WavelengthGrid,
    path: Option<&LightPath>,
    shown: GridShown,
) -> Result<ColorGrid, StudyError> {
    shown.check()?;
    let cells: Vec<Vec<SheetPair>> = (sheets.iter())
        .map(|sheet| {
            let row = lamps.iter().map(|lamp| {
                let lamp = Lamp::new(lamp, grid)?;
                SheetPair::new(sheet, &lamp, path, shown.adaptation_degree)
            });
            row.collect()
        })
        .collect::<Result<_, StudyError>>()?;
    let white = match shown.adaptation_degree {
        1.0 => "White is",
        _ => "Adaptation is to",
    };
    let mut notes = vec![format!(
        "{white} the lamp itself. Parallel: luminance over the lamp's; crossed: over the pair's own parallel field, which is 1 over its extinction ratio."
    )];
    let balanced = (cells.iter().flatten()).all(|pair| pair.seen.degree.is_some());
    let names = sheets.iter().map(|sheet| sheet.name.as_str());
    notes.extend(notes::standing("sheet", names, grid.ends_nm()));
    notes.extend(path.and_then(notes::left_out));
    Ok(ColorGrid {
        conditions: Conditions {
            observer: OBSERVER,
            lamp: None,
            white_xy: None,
            white_balanced: balanced,
            adaptation_degree: balanced.then_some(shown.adaptation_degree),
            polars: match path {
                Some(_) => "the scenario's polars, each of the sheet of its row",
                None => "two like sheets in collimated light",
            }
            .to_owned(),
            wavelengths_nm: told(grid),
            notes,
        },
        rows_are: "sheet".to_owned(),
        columns_are: "lamp".to_owned(),
        rows: sheets.iter().map(|sheet| sheet.name.clone()).collect(),
        columns: lamps.iter().map(Source::name).collect(),
        panels: vec![
            panel(
                ["parallel", "luminance over the lamp's"],
                &cells,
                (shown, false),
                |pair| pair.parallel,
            ),
            panel(
                ["crossed", "luminance over the parallel field's"],
                &cells,
                (shown, true),
                |pair| pair.crossed,
            ),
        ],
        extinction_ratio: table(&cells, |pair| ratio(1.0, pair.crossed.luminance())),
    })
}

/// Two like sheets.
struct SheetPair {
    seen: SeenBeside,
    /// Over the luminance of the lamp.
    parallel: Xyz,
    /// Over the luminance of the parallel pair.
    crossed: Xyz,
}

impl SheetPair {
    fn new(
        sheet: &PolarizingSheet,
        lamp: &Lamp<'_>,
        path: Option<&LightPath>,
        degree: f64,
    ) -> Result<Self, StudyError> {
        let (parallel, crossed) = match path {
            Some(path) => in_path(sheet, path, lamp)?,
            None => in_collimated_light(sheet, lamp)?,
        };
        let (parallel, crossed) = (lamp.weights.xyz(&parallel)?, lamp.weights.xyz(&crossed)?);
        Ok(Self {
            seen: SeenBeside::beside(lamp.weights.white(), degree)?,
            parallel,
            crossed: seen(crossed, parallel).scaled(1.0 / parallel.luminance()),
        })
    }
}

pub(super) type Spectra = (Vec<f64>, Vec<f64>);

fn in_collimated_light(sheet: &PolarizingSheet, lamp: &Lamp<'_>) -> Result<Spectra, StudyError> {
    let pairs = lamp.wavelengths_nm.iter().map(|&nm| {
        let (k1, k2) = sheet.principal_transmittances(nm)?;
        Ok((0.5 * (k1 * k1 + k2 * k2), k1 * k2))
    });
    pairs
        .collect::<Result<_, _>>()
        .map_err(|source| StudyError::Table {
            what: sheet.name.clone(),
            source,
        })
}

/// Parallel and crossed light of a path, both of whose polars are of a sheet.
pub(super) fn in_path(
    sheet: &PolarizingSheet,
    path: &LightPath,
    lamp: &Lamp<'_>,
) -> Result<Spectra, StudyError> {
    let fields = lamp.fields(&with_sheet(path, sheet))?;
    Ok((fields.parallel, fields.crossed))
}

/// A panel; with `by_row` each row is exposed for itself unless an exposure was asked for, since dark sheets would be black beside pale ones.
fn panel(
    [heading, labels_are]: [&str; 2],
    cells: &[Vec<SheetPair>],
    (shown, by_row): (GridShown, bool),
    of: impl Fn(&SheetPair) -> Xyz,
) -> Panel {
    let stops_of = |cells: &mut dyn Iterator<Item = &SheetPair>| {
        let channels = cells.map(|pair| pair.seen.largest_channel(of(pair)));
        shown.stops(channels.fold(0.0, f64::max))
    };
    let all = stops_of(&mut cells.iter().flatten());
    let rows = (by_row && shown.exposure_stops.is_none())
        .then(|| cells.iter().map(|row| stops_of(&mut row.iter())).collect());
    let stops = |row: usize| rows.as_ref().map_or(all, |rows: &Vec<f64>| rows[row]);
    let tints = cells.iter().enumerate().map(|(row, cells)| {
        let tint = |pair: &SheetPair| pair.seen.tint(of(pair), stops(row));
        cells.iter().map(tint).collect()
    });
    Panel {
        heading: heading.to_owned(),
        exposure_stops: all,
        cells: tints.collect(),
        row_exposure_stops: rows,
        labels_are: labels_are.to_owned(),
        labels: labels(&table(cells, |pair| of(pair).luminance())),
    }
}
