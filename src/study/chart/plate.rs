//! Colour over path difference with an accessory plate added and subtracted.

use std::f64::consts::FRAC_PI_4;

use super::interference::THIS_MICROSCOPE;
use super::light::{SpecimenLight, plates};
use super::scale::{Frame, OWN_POLARS, ScaleRequest, band, conditions, heading, stops};
use super::{Band, Difference, Scale, notes};
use crate::color::ciede2000;
use crate::light_path::{LightPath, Part, PartKind};
use crate::optics::Retarder;
use crate::study::StudyError;
use crate::study::lamp::Lamp;

/// A specimen alone, with the plate's slow direction along its own (added) and across it (subtracted): a group of three columns for the
/// sheets asked for, and one for a microscope.
///
/// `plate` is the accessory, in the microscope too in place of any of its own; `None` takes the microscope's, at the azimuth that it has there.
/// Any other azimuth is taken as 45 degrees.
///
/// # Errors
/// As [`super::interference()`]; [`StudyError::NoPlate`] where there is none, or the microscope has none.
///
/// Checked by: `tests/laws/chart.rs`, `tests/reference/charts.rs`.
pub fn plate(request: &ScaleRequest<'_>, plate: Option<&Retarder>) -> Result<Scale, StudyError> {
    let PlateLight {
        frame,
        groups,
        notes,
    } = PlateLight::new(request, plate)?;
    let stops = stops(request, &groups[0].alone)?;
    let (mut bands, mut differences) = (Vec::new(), Vec::new());
    for group in &groups {
        let three = group.bands(&frame, stops)?;
        differences.push(difference(&group.whose, &three));
        bands.extend(three);
    }
    Ok(Scale {
        conditions: conditions(request, &frame, &groups[0].alone, notes)?,
        exposure_stops: stops,
        path_difference_nm: frame.path_difference_nm,
        at_nm: request.dispersion.map(|law| law.at_nm),
        bands,
        beside: request.microscope.map(|_| OWN_POLARS),
        lines: Vec::new(),
        differences,
        object: None,
    })
}

/// A specimen alone, with the plate added and with it subtracted, as a chart for the wall shows it: three columns for the sheets asked for or,
/// where there is a microscope, for it alone.
///
/// # Errors
/// As [`plate()`].
///
/// Checked by: `tests/laws/chart.rs`.
pub fn wall(request: &ScaleRequest<'_>, plate: Option<&Retarder>) -> Result<Scale, StudyError> {
    let light = PlateLight::new(request, plate)?;
    let (frame, notes) = (light.frame, light.notes);
    // The last group is the microscope's where there is one.
    let group = light.groups.into_iter().next_back();
    let group = group.ok_or(StudyError::NoPlate)?;
    let stops = stops(request, &group.alone)?;
    let three = group.bands(&frame, stops)?;
    let mut conditions = conditions(request, &frame, &group.alone, notes)?;
    if request.microscope.is_some() {
        conditions.polars = OWN_POLARS.to_owned();
    }
    Ok(Scale {
        conditions,
        exposure_stops: stops,
        at_nm: request.dispersion.map(|law| law.at_nm),
        beside: None,
        lines: Vec::new(),
        object: None,
        differences: vec![difference(&group.whose, &three)],
        bands: three.into(),
        path_difference_nm: frame.path_difference_nm,
    })
}

/// The light of a specimen without and with a plate.
struct PlateLight {
    frame: Frame,
    /// The sheets asked for, then the microscope's.
    groups: Vec<Group>,
    notes: Vec<String>,
}

/// Whose light it is, and the light.
struct Group {
    whose: String,
    alone: SpecimenLight,
    with_plate: SpecimenLight,
}

impl PlateLight {
    fn new(request: &ScaleRequest<'_>, plate: Option<&Retarder>) -> Result<Self, StudyError> {
        let path = request.microscope.map(|(path, _)| path);
        let fitted = path.zip(plate).map(|(path, plate)| fitted(path, plate));
        let path = fitted.as_ref().or(path);
        let own: Vec<Retarder> = path.map_or_else(Vec::new, |path| plates(path).collect());
        let taken = plate.map_or(&own[..], std::slice::from_ref);
        if taken.is_empty() {
            return Err(StudyError::NoPlate);
        }
        let frame = Frame::new(request)?;
        let lamp = Lamp::new(request.source, &frame.grid)?;
        let light = |plates| {
            let sheets = (request.sheet, request.polars, plates);
            SpecimenLight::of_sheets(sheets, &frame.phase_per_nm, &lamp)
        };
        let mut groups = vec![Group {
            whose: heading(request),
            alone: light(&[])?,
            with_plate: light(taken)?,
        }];
        if let Some(path) = path {
            let (alone, with_plate) = SpecimenLight::of_path(path, &frame.phase_per_nm, &lamp)?;
            groups.push(Group {
                whose: THIS_MICROSCOPE.to_owned(),
                alone,
                with_plate: with_plate.ok_or(StudyError::NoPlate)?,
            });
        }
        let mut notes = notes::of_scale(request, frame.grid.ends_nm());
        notes.extend(taken.iter().map(|plate| {
            let (nm, at_nm) = (plate.path_difference_nm.abs(), plate.at_nm);
            format!(
                "The plate has {nm} nm at {at_nm} nm and follows the dispersion of its own material."
            )
        }));
        if fitted.is_some() {
            notes.push("It is put into the microscope in place of any of its own.".to_owned());
        }
        Ok(Self {
            frame,
            groups,
            notes,
        })
    }
}

impl Group {
    /// Specimen alone, plate added, plate subtracted.
    fn bands(&self, frame: &Frame, stops: f64) -> Result<[Band; 3], StudyError> {
        let column = |what, light, sign| {
            let heading = format!("{}: {what}", self.whose);
            band(&heading, light, sign, frame, stops)
        };
        Ok([
            column("specimen alone", &self.alone, 1.0)?,
            column("plate added", &self.with_plate, 1.0)?,
            column("plate subtracted", &self.with_plate, -1.0)?,
        ])
    }
}

/// A light path with a plate in place of its own: where the first of them was, else right behind the objective; without one, before the
/// analyzer and its quarter-wave plate.
fn fitted(path: &LightPath, plate: &Retarder) -> LightPath {
    let is_plate = |kind: &PartKind| matches!(kind, PartKind::Plate(_));
    let own = path.find(is_plate);
    let objective = path.find(|kind| matches!(kind, PartKind::Objective(_)));
    let place = (own.or(objective.map(|part| part + 1))).unwrap_or_else(|| {
        let analyzer = path.analyzer().unwrap_or(path.parts.len());
        let before = path.parts[..analyzer].last().map(|part| &part.kind);
        analyzer - usize::from(path.is_circular() && matches!(before, Some(PartKind::Retarder(_))))
    });
    let lower_rad = path.polars().map_or(0.0, |(lower, _)| lower.azimuth_rad);
    let mut path = path.clone();
    path.parts.retain(|part| !is_plate(&part.kind));
    let plate = Retarder {
        slow_azimuth_rad: lower_rad + FRAC_PI_4,
        ..plate.clone()
    };
    let part = Part {
        name: "plate".to_owned(),
        kind: PartKind::Plate(plate),
        tolerance: None,
    };
    path.parts.insert(place, part);
    path
}

fn difference(whose: &str, [_, added, subtracted]: &[Band; 3]) -> Difference {
    let pairs = added.tints.iter().zip(&subtracted.tints);
    Difference {
        heading: whose.to_owned(),
        ciede2000: pairs
            .map(|(added, subtracted)| ciede2000(added.lab, subtracted.lab))
            .collect(),
    }
}
