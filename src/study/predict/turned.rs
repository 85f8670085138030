//! A specimen along a plate's slow direction and across it: what tells its slow direction from its fast one.

use std::f64::consts::FRAC_PI_2;

use serde::Serialize;

use super::{GREEN_NM, backgrounds};
use crate::color::{Adaptation, Background, D65_WHITE, Lab, Xyz, ciede2000};
use crate::light_path::{LightPath, PartKind, run};
use crate::math;
use crate::optics::{Ray, Rays, Specimen};
use crate::study::StudyError;
use crate::study::lamp::Lamp;
use crate::study::observer::JUST_VISIBLE;
use crate::study::quantity::{Quantity, QuantityKind};

/// A specimen in its two positions beside an accessory plate, the plate in.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TurnedSpecimen {
    /// The specimen's name.
    pub specimen: String,
    /// The plate's name.
    pub plate: String,
    /// Which direction of the specimen is turned.
    pub direction: TurnedDirection,
    /// That direction along the plate's slow direction.
    pub along: Background,
    /// At right angles to it.
    pub across: Background,
    /// Path difference along the microscope's axis at [`GREEN_NM`], slow along that direction minus slow across it, nm.
    pub path_difference_nm: f64,
    /// CIEDE2000 of the two colours, at one exposure, to an eye as the answer has it.
    pub color_difference: f64,
    /// The same of the light along the microscope's axis alone: what an iris that is all but closed would show.
    pub color_difference_on_axis: f64,
    /// CIEDE2000 of the colour over the aperture from that of the axis alone, in the position in which it is larger.
    pub color_mixing: f64,
}

impl TurnedSpecimen {
    /// Whether the two colours are too alike to tell which direction is slow.
    #[must_use]
    pub fn is_alike(&self) -> bool {
        self.color_difference < JUST_VISIBLE
    }

    /// Whether the two colours differ less from each other than from those of the axis: they are mixtures over the aperture, of which nobody can say that a path
    /// difference was added or taken away.
    #[must_use]
    pub fn is_mixed(&self) -> bool {
        self.color_difference < self.color_mixing
    }
}

/// Which direction of a specimen its azimuth is that of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum TurnedDirection {
    /// A stated one: the slow direction, or an object's length.
    Stated,
    /// The optic axis, as seen in a plate of a crystal.
    OpticAxis,
    /// Z, or Y where Z stands upright, as seen in a plate of a crystal with two optic axes.
    Indicatrix,
}

/// The two positions of the only specimen beside the only plate.
///
/// Checked by: `tests/laws/crystals.rs`.
pub(super) fn turned(
    path: &LightPath,
    rays: &Rays,
    lamp: &Lamp<'_>,
    degree: f64,
) -> Result<Option<TurnedSpecimen>, StudyError> {
    let only = |wanted: fn(&PartKind) -> bool| {
        let mut parts = (path.parts.iter().enumerate()).filter(|(_, part)| wanted(&part.kind));
        parts.next().filter(|_| parts.next().is_none())
    };
    let specimen = only(|kind| matches!(kind, PartKind::Specimen(_)));
    let plate = only(|kind| matches!(kind, PartKind::Plate(_)));
    let (Some((part, specimen)), Some((_, plate))) = (specimen, plate) else {
        return Ok(None);
    };
    let (PartKind::Specimen(object), PartKind::Plate(retarder)) = (&specimen.kind, &plate.kind)
    else {
        return Ok(None);
    };
    let Some(written_rad) = object.azimuth_rad().filter(|_| !path.is_circular()) else {
        return Ok(None);
    };
    let azimuth = Quantity {
        part: Some(part),
        kind: QuantityKind::Azimuth,
    };
    let at = |rays: &Rays, azimuth_rad: f64| -> Result<(Background, Xyz), StudyError> {
        let mut path = path.clone();
        azimuth.set(&mut path, azimuth_rad);
        let fields = run::fields(&path, rays, lamp.wavelengths_nm, &lamp.luminous)?;
        let parallel = lamp.weights.xyz(&fields.parallel)?;
        let both = backgrounds(&lamp.weights, &fields, degree)?;
        let seen = both.with_plate.ok_or(StudyError::NoPlate)?;
        Ok((seen, parallel))
    };
    let two = |rays: &Rays| -> Result<[(Background, Xyz); 2], StudyError> {
        let slow_rad = retarder.slow_azimuth_rad;
        Ok([at(rays, slow_rad)?, at(rays, slow_rad + FRAC_PI_2)?])
    };
    let axis = Rays {
        ring: vec![0.0],
        sectors: Vec::new(),
        ring_weight: vec![1.0],
        spoke_rad: vec![0.0],
        spoke_weight: vec![1.0],
    };
    let (whole, on_axis) = (two(rays)?, two(&axis)?);
    let fields = [&whole[0], &whole[1], &on_axis[0], &on_axis[1]];
    let stops = (fields.iter())
        .map(|(seen, _)| seen.exposure_stops)
        .fold(f64::INFINITY, f64::min);
    let [a, b, axis_a, axis_b] = fields.map(|field| lab(field, stops));
    let [along, across] = whole.map(|(seen, _)| seen);
    let upright = Ray {
        s: 0.0,
        azimuth_rad: 0.0,
    };
    let seen = object.ray(upright, GREEN_NM);
    // The slow direction along the azimuth that is turned, or across it.
    let sign = math::cos(2.0 * (seen.azimuth_rad - written_rad));
    Ok(Some(TurnedSpecimen {
        specimen: specimen.name.clone(),
        plate: plate.name.clone(),
        direction: match object {
            Specimen::Plate { .. } | Specimen::Askew(_) => TurnedDirection::OpticAxis,
            Specimen::Biaxial(_) => TurnedDirection::Indicatrix,
            Specimen::Stated { .. } | Specimen::Across { .. } => TurnedDirection::Stated,
        },
        along,
        across,
        path_difference_nm: sign * seen.path_difference_nm,
        color_difference: ciede2000(a, b),
        color_difference_on_axis: ciede2000(axis_a, axis_b),
        color_mixing: ciede2000(a, axis_a).max(ciede2000(b, axis_b)),
    }))
}

/// The colour of a field beside its parallel field, exposed up by so many stops.
fn lab((seen, parallel): &(Background, Xyz), stops: f64) -> Lab {
    let degree = seen.adaptation.degree;
    let balance = degree.and_then(|degree| Adaptation::by_degree(*parallel, degree));
    let exposed = Xyz(seen.xyz).scaled(math::exp2(stops));
    Lab::of(
        balance.unwrap_or(Adaptation::NONE).apply(exposed),
        D65_WHITE,
    )
}
