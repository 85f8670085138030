//! What a figure tells of a crystal: where its optic axes come out, the angle between two of them, and whether the figure lies about the middle.

use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI};

use serde::Serialize;

use super::light;
use super::turn::turned;
use crate::color::Xyz;
use crate::light_path::{LightPath, PartKind, PathError};
use crate::material::SODIUM_NM;
use crate::math;
use crate::optics::{AskewPlate, BiaxialPlate, Rays, Specimen};
use crate::spectrum::WavelengthGrid;
use crate::study::told::{degrees, known_degrees};

/// Places along each half of the line on which the axes are looked for, first coarsely, then around the darkest.
const COARSE: usize = 1000;
const FINE: usize = 40;

/// Axes that do not come out opposite to each other within this much, NA, are not read off.
const OPPOSITE: f64 = 1e-9;

/// A figure whose middle lies off that of the disc by more than this share of the aperture's radius is not centred: the measures of the dark cross count from
/// the disc's middle, and would be off by as much.
pub const OFF_MIDDLE: f64 = 0.05;

/// An axis that leans from the plane of the plate by less than this lies in it: its cosine to the normal.
const LYING: f64 = 1e-9;

/// In light of fewer nm the rings are as dark as the places where the axes come out.
const LEAST_RANGE_NM: f64 = 100.0;

/// A melatope: where the light that runs along an optic axis crosses the back focal plane.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Melatope {
    /// Numerical aperture of that light. From the index of the medium around the crystal on it is totally reflected.
    pub na: f64,
    /// Azimuth, radians.
    #[serde(rename = "azimuth_deg", serialize_with = "degrees")]
    pub azimuth_rad: f64,
    /// Whether it lies in the aperture.
    pub seen: bool,
}

/// The angle between the optic axes as somebody would read it off.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ReadOff {
    /// Half the distance, NA, of the darkest places on the line through the melatopes, crystal turned to 45 degrees from the polars.
    pub half_distance_na: f64,
    /// 2V that follows with the middle index, radians.
    #[serde(rename = "two_v_deg", serialize_with = "degrees")]
    pub two_v_rad: f64,
    /// 2E that follows, radians.
    #[serde(rename = "two_e_deg", serialize_with = "known_degrees")]
    pub two_e_rad: Option<f64>,
}

/// What the figure tells of the first crystal with two optic axes, at [`SODIUM_NM`].
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CrystalFigure {
    /// The part's name.
    pub part: String,
    /// The crystal's name.
    pub material: String,
    /// The principal indices.
    pub indices: [f64; 3],
    /// "positive" or "negative".
    pub optic_sign: &'static str,
    /// The acute angle between the optic axes, radians.
    #[serde(rename = "two_v_deg", serialize_with = "degrees")]
    pub two_v_rad: f64,
    /// The same in air around a plate whose normal halves it, radians; `None` where the light along the axes is totally reflected there.
    #[serde(rename = "two_e_deg", serialize_with = "known_degrees")]
    pub two_e_rad: Option<f64>,
    /// Where both axes come out.
    pub melatopes: [Melatope; 2],
    /// The angle read off the figure; `None` where the axes do not both come out within the aperture, opposite to each other, or the wavelengths are
    /// too few to tell them from rings.
    pub read_off: Option<ReadOff>,
}

/// Why the angle between the axes is not read off a figure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unread {
    /// An axis comes out outside of the aperture.
    Outside,
    /// They do not come out opposite to each other.
    Aside,
    /// The wavelengths are too few to tell the axes from rings.
    OneColor,
}

impl CrystalFigure {
    /// Why nothing is read off; `None` where something is.
    #[must_use]
    pub fn unread(&self) -> Option<Unread> {
        if self.read_off.is_some() {
            return None;
        }
        let [one, other] = self.melatopes;
        Some(match (one.seen && other.seen, are_opposite(one, other)) {
            (false, _) => Unread::Outside,
            (true, false) => Unread::Aside,
            (true, true) => Unread::OneColor,
        })
    }
}

/// Whether two axes come out apart and opposite to each other.
fn are_opposite(one: Melatope, other: Melatope) -> bool {
    let (a, b) = (point(one), point(other));
    one.na > 0.0 && math::hypot(a[0] + b[0], a[1] + b[1]) < OPPOSITE
}

/// Where the optic axis of the first crystal with one axis that leans comes out, at [`SODIUM_NM`].
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LeaningAxis {
    /// The part's name.
    pub part: String,
    /// The crystal's name.
    pub material: String,
    /// Ordinary and extraordinary index.
    pub indices: [f64; 2],
    /// "positive" or "negative".
    pub optic_sign: &'static str,
    /// Angle between the axis and the plate's normal, in the crystal, radians.
    #[serde(rename = "axis_from_normal_deg", serialize_with = "degrees")]
    pub axis_from_normal_rad: f64,
    /// The same of the light that runs along the axis once it is in air, radians; `None` where it is totally reflected there.
    #[serde(rename = "in_air_deg", serialize_with = "known_degrees")]
    pub in_air_rad: Option<f64>,
    /// Where that light crosses the back focal plane.
    #[serde(flatten)]
    pub comes_out: Melatope,
}

/// Of a path; `None` without such a crystal.
///
/// Checked by: `tests/laws/crystals.rs`, against where a run finds no path difference.
pub(super) fn leaning_axis(path: &LightPath) -> Option<LeaningAxis> {
    path.parts.iter().find_map(|part| match &part.kind {
        PartKind::Specimen(Specimen::Askew(plate)) => {
            let (ordinary, extraordinary) = plate.indices(SODIUM_NM);
            let comes_out = axis_comes_out(plate, path.na());
            Some(LeaningAxis {
                part: part.name.clone(),
                material: plate.crystal.name.clone(),
                indices: [ordinary, extraordinary],
                optic_sign: match extraordinary > ordinary {
                    true => "positive",
                    false => "negative",
                },
                axis_from_normal_rad: plate.axis_from_normal_rad,
                in_air_rad: (comes_out.na < 1.0).then(|| math::asin(comes_out.na)),
                comes_out,
            })
        }
        _ => None,
    })
}

/// Along the axis both waves have the ordinary index, and the tangential component is the same in the crystal and outside.
fn axis_comes_out(plate: &AskewPlate, na: f64) -> Melatope {
    let s = plate.indices(SODIUM_NM).0 * math::sincos(plate.axis_from_normal_rad).0;
    Melatope {
        na: s,
        azimuth_rad: plate.azimuth_rad,
        seen: s <= na,
    }
}

/// How the figure of the first crystal lies in the disc: what the measures of the dark cross may take for granted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum FigureLies {
    /// About the middle, with arms along the polars or none of its own: no crystal, one whose only axis stands upright or lies in the plate, or a
    /// stated retardation.
    Centred,
    /// Its middle lies off that of the disc, at this azimuth, radians. A dark cross about the middle of the disc can then not be measured.
    ///
    /// The middle of a figure is where the optic axis comes out, or halfway between where two of them do. It is off when it lies farther from the disc's
    /// middle than [`OFF_MIDDLE`] times the aperture. A plate with an axis of the indicatrix upright, or with its one axis lying in it, shows a figure
    /// that half a turn does not change: it is centred wherever the axes come out.
    OffMiddle(f64),
    /// About the middle, between the two places where the axes of a crystal that has two come out.
    TwoAxes {
        /// How far from the middle, over the aperture.
        distance: f64,
        /// Azimuth of one of them, radians.
        azimuth_rad: f64,
    },
}

impl FigureLies {
    pub(super) fn of(path: &LightPath) -> Self {
        let na = path.na();
        let two = |at: Melatope| Self::TwoAxes {
            distance: at.na / na,
            azimuth_rad: at.azimuth_rad,
        };
        let one = |specimen: &Specimen| match specimen {
            Specimen::Stated { .. } | Specimen::Plate { .. } | Specimen::Across { .. } => None,
            Specimen::Askew(plate) => {
                let axis = axis_comes_out(plate, na);
                let leans = math::sincos(plate.axis_from_normal_rad).1.abs() > LYING;
                off_middle([axis, axis], na).filter(|_| leans)
            }
            Specimen::Biaxial(plate) => {
                let axes = melatopes(plate, na);
                match plate.is_tilted() {
                    true => off_middle(axes, na).or(Some(two(axes[0]))),
                    false => Some(two(axes[0])),
                }
            }
        };
        (path.parts.iter())
            .find_map(|part| match &part.kind {
                PartKind::Specimen(specimen) => one(specimen),
                _ => None,
            })
            .unwrap_or(Self::Centred)
    }

    pub(super) fn is_centred(self) -> bool {
        !matches!(self, Self::OffMiddle(_))
    }
}

fn off_middle(axes: [Melatope; 2], na: f64) -> Option<FigureLies> {
    let [a, b] = axes.map(point);
    let (x, y) = (0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1]));
    (math::hypot(x, y) > OFF_MIDDLE * na).then(|| FigureLies::OffMiddle(math::atan2(y, x)))
}

/// A melatope's place in the disc, NA toward East and North.
fn point(melatope: Melatope) -> [f64; 2] {
    let (sin, cos) = math::sincos(melatope.azimuth_rad);
    [melatope.na * cos, melatope.na * sin]
}

/// 2E of a 2V and a middle index: `sin E = n_y sin V`.
fn in_air(two_v_rad: f64, middle: f64) -> Option<f64> {
    let sin = middle * math::sin(0.5 * two_v_rad);
    (sin < 1.0).then(|| 2.0 * math::asin(sin))
}

/// Of a path; `None` without such a crystal. `lower_rad` is the lower polar's azimuth, `None` for circular polars.
///
/// Checked by: `tests/laws/crystals.rs`, `tests/reference/crystals.rs`.
pub(super) fn crystal_figure(
    path: &LightPath,
    grid: &WavelengthGrid,
    lower_rad: Option<f64>,
) -> Result<Option<CrystalFigure>, PathError> {
    let found = (path.parts.iter().enumerate()).find_map(|(part, p)| match &p.kind {
        PartKind::Specimen(Specimen::Biaxial(plate)) => Some((part, &p.name, plate)),
        _ => None,
    });
    let Some((part, name, plate)) = found else {
        return Ok(None);
    };
    let crystal = &plate.crystal;
    let indices = crystal.indices(SODIUM_NM);
    let two_v_rad = crystal.acute_angle_rad(SODIUM_NM);
    let melatopes = melatopes(plate, path.na());
    Ok(Some(CrystalFigure {
        part: name.clone(),
        material: crystal.name.clone(),
        optic_sign: if crystal.is_positive(SODIUM_NM) {
            "positive"
        } else {
            "negative"
        },
        two_v_rad,
        two_e_rad: in_air(two_v_rad, indices[1]),
        read_off: read_off(path, part, melatopes, grid, lower_rad, indices[1])?,
        indices,
        melatopes,
    }))
}

/// The tangential component of a wave is the same in the crystal and outside: along an optic axis both waves have the middle index.
fn melatopes(plate: &BiaxialPlate, na: f64) -> [Melatope; 2] {
    let [_, middle, _] = plate.crystal.indices(SODIUM_NM);
    plate.optic_axes(SODIUM_NM).map(|[x, y, _]| {
        let s = middle * math::hypot(x, y);
        Melatope {
            na: s,
            azimuth_rad: math::atan2(y, x),
            seen: s <= na,
        }
    })
}

fn read_off(
    path: &LightPath,
    part: usize,
    melatopes: [Melatope; 2],
    grid: &WavelengthGrid,
    lower_rad: Option<f64>,
    middle: f64,
) -> Result<Option<ReadOff>, PathError> {
    let [one, other] = melatopes;
    let (first_nm, last_nm) = grid.ends_nm();
    let seen = one.seen && other.seen;
    if !are_opposite(one, other) || !seen || last_nm - first_nm < LEAST_RANGE_NM {
        return Ok(None);
    }
    // The line through both, turned to 45 degrees from the polars with the crystal.
    let line_rad = lower_rad.map_or(one.azimuth_rad, |lower| lower + FRAC_PI_4);
    let turned = turned(path, part, line_rad - one.azimuth_rad);
    let darkest = |half: usize| -> Result<f64, PathError> {
        let azimuth_rad = line_rad + half as f64 * PI;
        let step = path.na() / COARSE as f64;
        let places: Vec<f64> = (0..=COARSE).map(|k| k as f64 * step).collect();
        let rough = least(&places, &along(&turned, azimuth_rad, &places, grid)?);
        let fine: Vec<f64> = (0..=FINE)
            .map(|k| rough + step * (2.0 * k as f64 / FINE as f64 - 1.0))
            .map(|s| s.clamp(0.0, path.na()))
            .collect();
        Ok(least(&fine, &along(&turned, azimuth_rad, &fine, grid)?))
    };
    let half_distance_na = 0.5 * (darkest(0)? + darkest(1)?);
    let sin = (half_distance_na / middle).min(1.0);
    let inner = 2.0 * math::asin(sin);
    // Of a plate whose normal halves the obtuse angle the acute one is what is left.
    let two_v_rad = if inner > FRAC_PI_2 { PI - inner } else { inner };
    Ok(Some(ReadOff {
        half_distance_na,
        two_v_rad,
        two_e_rad: in_air(two_v_rad, middle),
    }))
}

/// Light along a radius, every wavelength counting alike, so that only what is dark in all colours is dark.
fn along(
    path: &LightPath,
    azimuth_rad: f64,
    places: &[f64],
    grid: &WavelengthGrid,
) -> Result<Vec<f64>, PathError> {
    let rays = Rays {
        ring: places.to_vec(),
        sectors: Vec::new(),
        ring_weight: vec![1.0; places.len()],
        spoke_rad: vec![azimuth_rad],
        spoke_weight: vec![1.0],
    };
    let alike = vec![[1.0; 3]; grid.wavelengths_nm().len()];
    let lamp = (grid.wavelengths_nm(), &alike[..]);
    let one = Xyz([1.0; 3]);
    let light = light(path, lamp, &rays, false, one)?;
    Ok(light.iter().map(Xyz::luminance).collect())
}

/// Where a sampled function is least: the vertex of the parabola through the least value and its neighbours.
fn least(places: &[f64], light: &[f64]) -> f64 {
    let at = (light.iter().enumerate())
        .min_by(|a, b| a.1.total_cmp(b.1))
        .map_or(0, |(k, _)| k);
    let (Some(before), Some(after)) = (at.checked_sub(1), light.get(at + 1)) else {
        return places[at];
    };
    let bend = light[before] - 2.0 * light[at] + after;
    if bend <= 0.0 {
        return places[at];
    }
    places[at] + 0.5 * (places[at] - places[before]) * (light[before] - after) / bend
}
