//! Background colour against strain of the objective and iris.

use super::scale::{check_exposure, told, within};
use super::tint::{SeenBeside, labels};
use super::{ColorGrid, Conditions, OBSERVER, Panel, notes};
use crate::color::{Lab, Xyz, ciede2000, stops_within};
use crate::light_path::{LightPath, PartKind};
use crate::optics::Strain;
use crate::scene::Scene;
use crate::study::lamp::Lamp;
use crate::study::measures::ratio;
use crate::study::predict::{check_degree, seen};
use crate::study::quantity::{Quantity, QuantityKind};
use crate::study::{NoVary, StudyError};
use crate::threads;

/// Amounts of strain that are shown where none are asked for, nm.
pub const USUAL_STRAIN_NM: [f64; 6] = [0.0, 2.0, 5.0, 10.0, 20.0, 50.0];
/// More strain than this is no objective's, nm.
const MOST_STRAIN_NM: f64 = 1e4;
/// Columns where none are asked for, about.
const USUAL_COLUMNS: f64 = 6.0;
/// Their numerical apertures are multiples of this.
const ROUND_NA: f64 = 0.05;

/// CIEDE2000 between two colours side by side that an eye just tells apart; common practice, no source.
const JUST_SEEN: f64 = 1.0;

/// How the colours of a [`ColorGrid`] are shown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GridShown {
    /// Stops by which every colour is exposed up; `None` gives each panel an exposure of its own, so that its brightest channel just stays
    /// within white.
    pub exposure_stops: Option<f64>,
    /// Degree of the eye's adaptation to the parallel field (to the lamp, on a chart of sheets), 0 to 1; see
    /// [`crate::color::Adaptation::by_degree`].
    pub adaptation_degree: f64,
}

impl Default for GridShown {
    /// An exposure for each panel, full adaptation.
    fn default() -> Self {
        Self {
            exposure_stops: None,
            adaptation_degree: 1.0,
        }
    }
}

impl GridShown {
    /// Stops of a panel, by its brightest channel: a parallel field that has a colour may be shown darker than white.
    pub(super) fn stops(self, largest_channel: f64) -> f64 {
        let darkened = self.adaptation_degree < 1.0;
        (self.exposure_stops).unwrap_or_else(|| stops_within(largest_channel, darkened))
    }

    /// Refuses an exposure or a degree out of range.
    pub(super) fn check(self) -> Result<(), StudyError> {
        self.exposure_stops.map_or(Ok(()), check_exposure)?;
        check_degree(self.adaptation_degree)
    }
}

/// The empty field's colour for some amounts of the objective's strain (rows) and settings of the condenser iris (columns), plates out and in.
///
/// The strain is the objective's first profile, scaled to [`Strain::amount_nm`]; where none is written a radial one is assumed.
///
/// # Errors
/// [`StudyError`] for a stack without an objective, an iris beyond what it passes, strain or exposure out of range.
///
/// Checked by: `tests/laws/chart.rs`, `tests/reference/charts.rs`.
pub fn background(
    scene: &Scene,
    strain_nm: &[f64],
    iris_na: &[f64],
    shown: GridShown,
) -> Result<ColorGrid, StudyError> {
    let Scene { path, source, grid } = scene;
    shown.check()?;
    let lamp = Lamp::new(source, grid)?;
    let mut notes = vec!["Each field is balanced on its own parallel field.".to_owned()];
    notes.extend(notes::left_out(path));
    let (path, strain) = strained(&path.without_specimens(), &mut notes)?;
    for &nm in strain_nm {
        within("the strain in nm", nm, 0.0, MOST_STRAIN_NM)?;
    }
    let open_na = LightPath {
        iris_na: None,
        ..path.clone()
    }
    .na();
    for &na in iris_na {
        within("the iris NA", na, 1e-3, open_na)?;
    }
    let fields: Vec<Vec<Field>> = threads::try_each(strain_nm, |&nm| {
        threads::try_each(iris_na, |&na| {
            let mut path = strain.with(&path, nm);
            path.iris_na = Some(na);
            Field::of(&path, &lamp, shown.adaptation_degree)
        })
    })?;
    let first = fields
        .first()
        .and_then(|row| row.first())
        .ok_or(StudyError::OutOfRange {
            quantity: "the number of fields",
            value: 0.0,
            allowed: "at least one strain and one iris".to_owned(),
        })?;
    if first.with_plate.is_some() {
        let most = apart(&fields).into_iter().flatten().fold(0.0, f64::max);
        if most < JUST_SEEN {
            notes.push(format!(
                "With the plate in, no field differs from the first by more than CIEDE2000 {most:.1}: an eye sees no difference, and the plate tells nothing of this strain."
            ));
        }
    }
    Ok(ColorGrid {
        conditions: Conditions {
            observer: OBSERVER,
            lamp: Some(source.name()),
            white_xy: first.seen.white.chromaticity(),
            white_balanced: first.seen.degree.is_some(),
            adaptation_degree: first.seen.degree,
            polars: "the scenario's polars".to_owned(),
            wavelengths_nm: told(grid),
            notes,
        },
        rows_are: rows_are(&path, strain).to_owned(),
        columns_are: "iris NA".to_owned(),
        rows: strain_nm.iter().map(f64::to_string).collect(),
        columns: iris_na.iter().map(f64::to_string).collect(),
        panels: panels(&fields, shown),
        extinction_ratio: table(&fields, |field| ratio(1.0, field.without_plate.luminance())),
    })
}

/// Settings of the iris that suit a path: about six even steps, the last one the path's own.
#[must_use]
pub fn usual_irises(path: &LightPath) -> Vec<f64> {
    let na = path.na();
    let steps = (na / USUAL_COLUMNS / ROUND_NA).round().max(1.0);
    // Dividing gives the decimal that prints with two digits; multiplying by 0.05 does not.
    let multiples = (1..).map(|k| steps * f64::from(k) / (1.0 / ROUND_NA).round());
    // The last step is not much shorter than the others.
    let even = multiples.take_while(|here| na - here > 0.4 * steps * ROUND_NA);
    even.chain([na]).collect()
}

/// The path with a strain in its objective to turn up and down.
fn strained(
    path: &LightPath,
    notes: &mut Vec<String>,
) -> Result<(LightPath, Quantity), StudyError> {
    let mut path = path.clone();
    let objective = path.find(|kind| matches!(kind, PartKind::Objective(_)));
    let part = objective.ok_or(StudyError::NoObjective)?;
    let name = path.parts[part].name.clone();
    if let PartKind::Objective(lens) = &mut path.parts[part].kind {
        if lens.strain.is_empty() {
            notes.push(
                "No strain is written for the objective: a radial one is assumed, slow along the radius."
                    .to_owned(),
            );
            lens.strain.push(Strain::radial(0.0));
        } else if lens.strain.len() > 1 {
            notes.push("Of the objective's strain the first profile is scaled, the others stay as written.".to_owned());
        }
    }
    let strain = Quantity {
        part: Some(part),
        kind: QuantityKind::StrainAmount { profile: 0 },
    };
    match strain.value(&path) {
        Some(_) => Ok((path, strain)),
        None => Err(StudyError::NothingToVary {
            part: name,
            kind: "objective",
            why: NoVary::NoShape,
        }),
    }
}

fn rows_are(path: &LightPath, strain: Quantity) -> &'static str {
    let lens = strain.part.map(|part| &path.parts[part].kind);
    match lens {
        Some(PartKind::Objective(lens)) => match lens.strain.first() {
            Some(Strain::Radial { .. }) => "objective strain at the rim, nm",
            Some(Strain::Uniform { .. }) => "objective strain, nm",
            _ => "objective strain, rms nm",
        },
        _ => "strain, nm",
    }
}

/// One empty field, over the luminance of its parallel field.
struct Field {
    seen: SeenBeside,
    without_plate: Xyz,
    with_plate: Option<Xyz>,
}

impl Field {
    fn of(path: &LightPath, lamp: &Lamp<'_>, degree: f64) -> Result<Self, StudyError> {
        let fields = lamp.fields(path)?;
        let parallel = lamp.weights.xyz(&fields.parallel)?;
        let relative = |field: &[f64]| -> Result<Xyz, StudyError> {
            let field = seen(lamp.weights.xyz(field)?, parallel);
            Ok(field.scaled(1.0 / parallel.luminance()))
        };
        Ok(Self {
            seen: SeenBeside::beside(parallel, degree)?,
            without_plate: relative(&fields.crossed)?,
            with_plate: fields
                .crossed_with_plate
                .as_deref()
                .map(relative)
                .transpose()?,
        })
    }
}

fn panels(fields: &[Vec<Field>], shown: GridShown) -> Vec<Panel> {
    let has_plate = fields
        .iter()
        .flatten()
        .all(|field| field.with_plate.is_some());
    let mut panels = Vec::new();
    for with_plate in [false, true] {
        if with_plate && !has_plate {
            continue;
        }
        let look = |field: &Field| match field.with_plate {
            Some(xyz) if with_plate => xyz,
            _ => field.without_plate,
        };
        let brightest = (fields.iter().flatten())
            .map(|field| field.seen.largest_channel(look(field)))
            .fold(0.0, f64::max);
        let stops = shown.stops(brightest);
        panels.push(Panel {
            heading: match (has_plate, with_plate) {
                (false, _) => "background",
                (true, false) => "plate out",
                (true, true) => "plate in",
            }
            .to_owned(),
            exposure_stops: stops,
            row_exposure_stops: None,
            cells: table(fields, |field| field.seen.tint(look(field), stops)),
            labels_are: if with_plate {
                FROM_THE_FIRST
            } else {
                "luminance over the parallel field's"
            }
            .to_owned(),
            labels: if with_plate {
                table(&apart(fields), |difference| format!("{difference:.1}"))
            } else {
                labels(&table(fields, |field| look(field).luminance()))
            },
        });
    }
    panels
}

/// How the labels of fields with the plate in are called: their luminances hardly differ.
const FROM_THE_FIRST: &str = "CIEDE2000 from the first cell";

/// CIEDE2000 of each field with the plate in from the first one, each balanced on its own parallel field.
fn apart(fields: &[Vec<Field>]) -> Vec<Vec<f64>> {
    let lab = |field: &Field| field.seen.lab(field.with_plate.unwrap_or(Xyz::BLACK));
    let first = fields.first().and_then(|row| row.first()).map(lab);
    table(fields, |field| {
        first.map_or(0.0, |first: Lab| ciede2000(first, lab(field)))
    })
}

/// Something of each cell, row by row.
pub(super) fn table<C, T>(cells: &[Vec<C>], of: impl Fn(&C) -> T) -> Vec<Vec<T>> {
    (cells.iter())
        .map(|row| row.iter().map(&of).collect())
        .collect()
}
