//! What a lens does that is told by its surfaces: focal length, aperture, filter plane, room for sheet and slide, and what each surface leaks.
//!
//! # Examples
//! ```
//! use polstack::study::lens::{LensQuestion, lenses};
//! let scene = polstack::scenario::read("scenarios/moulded-parabolic.toml".as_ref()).unwrap().scene;
//! let lens = &lenses(&scene, &LensQuestion::default())?[0];
//! assert!(lens.na_air > 0.7 && lens.filter_plane_mm < 0.0);
//! # Ok::<(), polstack::study::StudyError>(())
//! ```

use serde::Serialize;

use super::StudyError;
use super::lamp::Lamp;
use crate::calculus::Complex;
use crate::light_path::{LightPath, PartKind, PathError, TOLD_NM, Traced};
use crate::math;
use crate::optics::prescription::{Passed, Reach, Stop, TracedRay, Train, TrainAt};
use crate::optics::{Lens, LensError, Rays};
use crate::scene::Scene;

/// Index of immersion oil.
const OIL: f64 = 1.515;
/// Index of slide and sheet, as far as they shift a focus.
const SLIDE_INDEX: f64 = 1.515;
const SHEET_INDEX: f64 = 1.5;
/// Thickness of a cover glass, mm (ISO 8255-1, from memory).
const COVER_GLASS_MM: f64 = 0.17;
/// Pupil of the eye that looks at a slot through the lens, mm: common practice, no source.
pub(crate) const EYE_PUPIL_MM: f64 = 3.5;
/// Rings over which a lens's leak is averaged.
const RINGS: usize = 24;
/// Steps of numerical aperture at which spherical aberration is told.
const STEP_NA: f64 = 0.1;
/// Points of the curve of spherical aberration.
const CURVE: u32 = 60;
/// How far a ray may miss the paraxial focus and still light the field, um: about the radius of the field of a 20x objective (common practice,
/// no source).
const FIELD_UM: f64 = 500.0;
/// Shares of the luminous light up to which wavelengths are told.
const LUMINOUS: [f64; 3] = [0.05, 0.5, 0.95];

/// What is asked of the lenses.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LensQuestion {
    /// Where a filter slot is, mm behind the first surface: negative before it.
    pub slot_mm: Option<f64>,
    /// Thickness of a sheet above the last face, mm.
    pub sheet_mm: f64,
    /// Thickness of the slide, mm.
    pub slide_mm: f64,
}

impl Default for LensQuestion {
    /// No slot, no sheet, a slide of 1.1 mm (ISO 8037-1, from memory: 0.9 to 1.2 mm).
    fn default() -> Self {
        Self {
            slot_mm: None,
            sheet_mm: 0.0,
            slide_mm: 1.1,
        }
    }
}

/// One lens, at 546.1 nm. Front planes are measured from its first vertex in the direction of the light, negative before it; back planes from
/// the last. Light comes from infinity at its collimated side: below a condenser, above an objective.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LensAnswer {
    /// The part's name; of a condenser's two lenses together, both.
    pub part: String,
    /// Focal length in air, mm.
    pub focal_length_mm: f64,
    /// Front focal plane, mm.
    pub front_focal_plane_mm: f64,
    /// Back focal plane, mm, in the medium that the lens is immersed in.
    pub back_focal_plane_mm: f64,
    /// Numerical aperture in air; 0 where the lens gathers nothing there.
    pub na_air: f64,
    /// Numerical aperture with oil on the last face.
    pub na_oil: f64,
    /// What stops the next ray in air.
    pub limited_by: String,
    /// The same with oil.
    pub limited_by_in_oil: String,
    /// Numerical aperture of the whole lens in this stack, or what the part's `na` stops it down to; the iris stays open here.
    pub na: f64,
    /// Focal length at the wavelengths up to which 5, 50 and 95 % of the lamp's luminous light lie.
    pub over_lamp: Vec<Chromatic>,
    /// Spherical aberration at every 0.1 of numerical aperture and at the full one.
    pub spherical: Vec<Spherical>,
    /// Height of the outermost ray over focal length times numerical aperture, less 1: what it misses the sine condition by.
    pub sine_error: f64,
    /// The plane that an eye at infinity on the specimen's side sees sharp: the front focal plane, mm.
    pub filter_plane_mm: f64,
    /// Whether that plane lies before the glass, where a filter can stand.
    pub filter_plane_reachable: bool,
    /// The slot that was asked about.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slot: Option<Slot>,
    /// Distance between the last face and the slide, mm, at which the ray that comes together first does so in the specimen: sheet and ring
    /// must fit into it. Negative where there is none. A sheet's own thickness is not taken off.
    pub room_mm: f64,
    /// Numerical aperture of the ray that decides the room.
    pub room_na: f64,
    /// Numerical aperture up to which no ray misses the paraxial focus by more than 0.5 mm, about the radius of the field of a 20x objective
    /// (common practice, no source).
    pub na_within_field: f64,
    /// What its surfaces alone leak between ideal crossed polars, over its full aperture, of the parallel field.
    pub leak: f64,
    /// The number of equal surfaces that would turn p and s apart by as much: squared total bending over the sum of squared bendings.
    pub equal_surfaces: f64,
    /// Whether it is one of a condenser's two lenses, told by itself, as if the other were not there.
    #[serde(skip)]
    pub by_itself: bool,
    /// Whether it is an objective, whose room is its working distance over a cover glass of 0.17 mm.
    #[serde(skip)]
    pub is_objective: bool,
    /// Surface by surface, in the order of the prescription.
    pub surfaces: Vec<LensSurface>,
    /// What is drawn of it.
    #[serde(skip)]
    pub drawing: Drawing,
}

/// Focal length at one wavelength.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Chromatic {
    /// The wavelength, nm.
    pub wavelength_nm: f64,
    /// Focal length in air, mm.
    pub focal_length_mm: f64,
}

/// Where one ray goes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Spherical {
    /// Its numerical aperture.
    pub na: f64,
    /// Its height above the axis in the paraxial focus, um; negative where it has crossed the axis before.
    pub transverse_um: f64,
    /// Where it crosses the axis, mm behind the paraxial focus.
    pub longitudinal_mm: f64,
}

impl Slot {
    /// Whether an eye sees it as sharp as the filter plane itself: within a quarter of a diopter (common practice, no source).
    #[must_use]
    pub fn is_near(&self) -> bool {
        self.diopters.abs() <= 0.25
    }
}

/// A filter slot, as an eye sees it that looks through the lens from the specimen's side.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Slot {
    /// Where it is, mm.
    pub mm: f64,
    /// How far it is from the filter plane, mm; negative before it.
    pub off_mm: f64,
    /// How far an eye must accommodate to see it, diopters: 0 in the filter plane, negative where no eye can.
    pub diopters: f64,
    /// Blur in the slot for an eye that does not, mm (pupil of 3.5 mm).
    pub blur_mm: f64,
}

/// One surface, for the outermost ray.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LensSurface {
    /// Radius of curvature, mm; 0 for a flat one.
    pub radius_mm: f64,
    /// Angle between ray and normal on the side that the light from infinity comes from, degrees.
    pub incidence_deg: f64,
    /// By how much the surface bends the ray, degrees.
    pub bending_deg: f64,
    /// What it passes of unpolarized light.
    pub transmittance: f64,
    /// Its Shapley share of the leak of the lens's surfaces, to the second order of how far they turn p and s apart.
    pub leak_share: f64,
}

/// A lens to be drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawing {
    /// Its surfaces, collimated side first.
    pub train: Train,
    /// Rays through it, the outermost last.
    pub rays: Vec<TracedRay>,
    /// Heights at which they come in, mm.
    pub heights_mm: Vec<f64>,
    /// Numerical aperture and height in the paraxial focus, um, from the axis outward.
    pub aberration: Vec<(f64, f64)>,
}

/// Every lens of the stack that has a prescription, and a condenser of two such lenses as a whole.
///
/// # Errors
/// [`StudyError::NoPrescription`] where none has one; [`StudyError::Path`] where one gathers no light.
///
/// Checked by: `tests/reference/lenses.rs`, `tests/laws/lenses.rs`.
pub fn lenses(scene: &Scene, question: &LensQuestion) -> Result<Vec<LensAnswer>, StudyError> {
    let path = &scene.path;
    let lamp = Lamp::new(&scene.source, &scene.grid)?;
    let pair = path.condensers().count() == 2;
    let mut answers = Vec::new();
    let mut condensers: Vec<(String, usize, &Lens)> = Vec::new();
    for (part, written) in path.parts.iter().enumerate() {
        let (PartKind::Condenser(lens) | PartKind::Objective(lens)) = &written.kind else {
            continue;
        };
        let Some(Traced { train, own, .. }) = path.traced(part)? else {
            continue;
        };
        let is_objective = matches!(written.kind, PartKind::Objective(_));
        let surfaces = train.surfaces[own].to_vec();
        let one = Of {
            name: written.name.clone(),
            part,
            surfaces,
            immersion: lens.immersion,
            na: lens.na,
            by_itself: !is_objective && pair,
            is_objective,
        };
        answers.push(one.answer(&lamp, question)?);
        if !is_objective {
            condensers.push((written.name.clone(), part, lens));
        }
    }
    if let [(first, _, _), (last, part, lens)] = &condensers[..]
        && let Some(Traced { train, .. }) = path.traced(*part)?
    {
        let whole = Of {
            name: format!("{first} and {last}"),
            part: *part,
            surfaces: train.surfaces,
            immersion: lens.immersion,
            na: lens.na,
            by_itself: false,
            is_objective: false,
        };
        answers.insert(0, whole.answer(&lamp, question)?);
    }
    match answers.is_empty() {
        true => Err(StudyError::NoPrescription),
        false => Ok(answers),
    }
}

/// The names of lenses that have a prescription.
#[must_use]
pub fn told_by_surfaces(path: &LightPath) -> Vec<&str> {
    let parts = path.parts.iter().enumerate();
    parts
        .filter(|(part, _)| matches!(path.traced(*part), Ok(Some(_))))
        .map(|(_, part)| part.name.as_str())
        .collect()
}

/// What is asked about.
struct Of {
    name: String,
    part: usize,
    surfaces: Vec<crate::optics::prescription::Surface>,
    immersion: f64,
    na: f64,
    by_itself: bool,
    is_objective: bool,
}

impl Of {
    fn answer(self, lamp: &Lamp<'_>, question: &LensQuestion) -> Result<LensAnswer, StudyError> {
        let part = self.part;
        let nothing = || PathError::Lens {
            part,
            source: LensError::GathersNothing,
        };
        let train = Train::new(self.surfaces, self.immersion);
        let at = train.at(TOLD_NM);
        let reach = at.reach().ok_or_else(nothing)?;
        let na = self.na.min(reach.na);
        let trace = |na: f64| {
            (at.height_of(na, (reach.height_mm, reach.na))).and_then(|height| at.ray(height))
        };
        let stopped = |_| StudyError::Path(nothing());
        let outermost = trace(na).map_err(stopped)?;
        let paraxial = at.paraxial();
        let (dry, oiled) = (in_medium(&train, 1.0), in_medium(&train, OIL));
        let focal_length_mm = paraxial.focal_length_mm;
        let stated = (1..)
            .map(|k| STEP_NA * f64::from(k))
            .take_while(|step| *step < na - 1e-9);
        let spherical = (stated.chain([na]))
            .map(|na| {
                let ray = trace(na).map_err(stopped)?;
                Ok(spherical(&train, na, &ray, paraxial.back_focal_plane_mm))
            })
            .collect::<Result<_, StudyError>>()?;
        let curve = (1..=CURVE)
            .map(|k| trace(na * f64::from(k) / f64::from(CURVE)).map_err(stopped))
            .collect::<Result<Vec<TracedRay>, StudyError>>()?;
        let back_mm = paraxial.back_focal_plane_mm;
        let aberration: Vec<(f64, f64)> = (curve.iter())
            .map(|ray| {
                (
                    ray.na,
                    self::spherical(&train, ray.na, ray, back_mm).transverse_um,
                )
            })
            .collect();
        let within_field = aberration.iter().take_while(|at| at.1.abs() <= FIELD_UM);
        let filter_plane_mm = paraxial.front_focal_plane_mm;
        let height = at
            .height_of(na, (reach.height_mm, reach.na))
            .map_err(stopped)?;
        let asks = !self.is_objective && !self.by_itself;
        let slot = question.slot_mm.filter(|_| asks).map(|mm| {
            let off = mm - filter_plane_mm;
            Slot {
                mm,
                off_mm: off,
                diopters: 1e3 * off / (focal_length_mm * focal_length_mm),
                blur_mm: off.abs() * EYE_PUPIL_MM / focal_length_mm.abs(),
            }
        });
        let under = match self.is_objective {
            true => LensQuestion {
                slide_mm: COVER_GLASS_MM,
                sheet_mm: 0.0,
                ..*question
            },
            false => *question,
        };
        let (room_mm, room_na) = curve
            .iter()
            .map(|ray| (room_mm(ray, &train, self.immersion, &under), ray.na))
            .fold((f64::INFINITY, na), |least, room| {
                if room.0 < least.0 { room } else { least }
            });
        let (leak, shares) = leak(&at, na, reach).map_err(stopped)?;
        let bendings = outermost.surfaces.iter().map(|ray| ray.bending_rad());
        let deviation = math::asin(na / self.immersion);
        let mut surfaces: Vec<LensSurface> = (outermost.surfaces.iter().enumerate())
            .map(|(surface, ray)| {
                let (p, s) = at.passed(surface, ray).amplitudes(1.0);
                LensSurface {
                    radius_mm: train.surfaces[surface].radius_mm,
                    incidence_deg: ray.incidence_rad.to_degrees(),
                    bending_deg: ray.bending_rad().to_degrees(),
                    transmittance: 0.5 * (p.norm_sqr() + s.norm_sqr()),
                    leak_share: shares[surface],
                }
            })
            .collect();
        if self.is_objective {
            surfaces.reverse();
            for surface in &mut surfaces {
                surface.radius_mm = -surface.radius_mm;
            }
        }
        let heights_mm: Vec<f64> = [0.0, 0.25, 0.5, 0.75, 1.0].map(|k| k * height).to_vec();
        let rays = heights_mm.iter().map(|height| at.ray(*height));
        let rays = rays.collect::<Result<_, _>>().map_err(stopped)?;
        Ok(LensAnswer {
            part: self.name,
            focal_length_mm,
            front_focal_plane_mm: filter_plane_mm,
            back_focal_plane_mm: paraxial.back_focal_plane_mm,
            na_air: dry.map_or(0.0, |reach| reach.na),
            na_oil: oiled.map_or(0.0, |reach| reach.na),
            limited_by: limit(dry, train.surfaces.len(), self.is_objective),
            limited_by_in_oil: limit(oiled, train.surfaces.len(), self.is_objective),
            na,
            over_lamp: over_lamp(&train, lamp),
            spherical,
            sine_error: height / (focal_length_mm * na) - 1.0,
            filter_plane_mm,
            filter_plane_reachable: filter_plane_mm < 0.0,
            slot,
            room_mm,
            room_na,
            na_within_field: within_field.last().map_or(0.0, |at| at.0),
            leak,
            equal_surfaces: deviation * deviation / bendings.map(|b| b * b).sum::<f64>(),
            by_itself: self.by_itself,
            is_objective: self.is_objective,
            surfaces,
            drawing: Drawing {
                rays,
                heights_mm,
                aberration,
                train: train.clone(),
            },
        })
    }
}

/// The bundle with another medium on the last face.
fn in_medium(train: &Train, index: f64) -> Option<Reach> {
    Train::new(train.surfaces.clone(), index)
        .at(TOLD_NM)
        .reach()
}

/// What stops the next ray, in words; surfaces are counted as they are written.
fn limit(reach: Option<Reach>, count: usize, reversed: bool) -> String {
    let Some(Reach { limit, .. }) = reach else {
        return "it brings no light together".to_owned();
    };
    let number = match reversed {
        true => count - limit.surface,
        false => limit.surface + 1,
    };
    match limit.why {
        Stop::ClearAperture => format!("clear aperture of surface {number}"),
        Stop::TotalReflection => format!("total reflection at surface {number}"),
        Stop::Missed => format!("the edge of surface {number}'s curve"),
        Stop::TurnsBack => format!("rays beyond it come out less steep, at surface {number}"),
    }
}

/// Depth behind the last vertex at which a ray crosses the axis, mm, and the tangent of its slope toward it.
fn crossing(ray: &TracedRay, train: &Train) -> (f64, f64) {
    let before = train.surfaces.len().saturating_sub(1);
    let vertex: f64 = train.surfaces[..before]
        .iter()
        .map(|s| s.thickness_mm)
        .sum();
    (ray.surfaces.last()).map_or((f64::NAN, f64::NAN), |last| {
        let tangent = -math::tan(last.slope_rad);
        (last.along_mm - vertex + last.height_mm / tangent, tangent)
    })
}

fn spherical(train: &Train, na: f64, ray: &TracedRay, back_mm: f64) -> Spherical {
    let (crosses_mm, tangent) = crossing(ray, train);
    let longitudinal_mm = crosses_mm - back_mm;
    Spherical {
        na,
        transverse_um: 1e3 * longitudinal_mm * tangent,
        longitudinal_mm,
    }
}

/// What is left above the last face when sheet and slide have taken what they take of a ray's way to the axis.
fn room_mm(ray: &TracedRay, train: &Train, immersion: f64, question: &LensQuestion) -> f64 {
    let (crosses_mm, tangent) = crossing(ray, train);
    let takes = |thickness_mm: f64, index: f64| {
        let sine = ray.na / index;
        thickness_mm * (sine / (1.0 - sine * sine).sqrt()) / tangent
    };
    // A sheet takes its own thickness of the room; it only draws the focus out a little.
    let drawn_mm = match question.sheet_mm {
        0.0 => 0.0,
        sheet_mm => sheet_mm - takes(sheet_mm, SHEET_INDEX.max(immersion)),
    };
    crosses_mm - takes(question.slide_mm, SLIDE_INDEX.max(immersion)) + drawn_mm
}

fn over_lamp(train: &Train, lamp: &Lamp<'_>) -> Vec<Chromatic> {
    let whole: f64 = lamp.luminous.iter().sum();
    let mut wavelengths = Vec::new();
    let mut sum = 0.0;
    for (nm, light) in lamp.wavelengths_nm.iter().zip(&lamp.luminous) {
        sum += light;
        while wavelengths.len() < LUMINOUS.len() && sum >= LUMINOUS[wavelengths.len()] * whole {
            wavelengths.push(*nm);
        }
    }
    let told = wavelengths.into_iter().map(|wavelength_nm| Chromatic {
        wavelength_nm,
        focal_length_mm: train.at(wavelength_nm).paraxial().focal_length_mm,
    });
    told.collect()
}

/// What the surfaces leak between ideal crossed polars over the disc up to `na`, of the parallel field, and each one's share.
///
/// A ray at azimuth `phi` passes `|t_p - t_s|^2 sin^2(2 phi)/4` of the polarized light, `|t_p - t_s|^2/8` over all azimuths. To second order
/// that goes with the square of the sum of the surfaces' `ln(t_p/t_s)`, of which a surface's Shapley share is its product with the sum.
fn leak(
    at: &TrainAt<'_>,
    na: f64,
    reach: Reach,
) -> Result<(f64, Vec<f64>), crate::optics::prescription::Stopped> {
    let count = at.train().surfaces.len();
    let (mut crossed, mut parallel) = (0.0, 0.0);
    let mut products = vec![0.0; count];
    for (ray, weight) in Rays::disc(na, RINGS, 1).iter() {
        let traced = at.ray(at.height_of(ray.s, (reach.height_mm, reach.na))?)?;
        let apart: Vec<Complex> = (traced.surfaces.iter().enumerate())
            .map(|(surface, ray)| at.passed(surface, ray))
            .map(|Passed { p, s }| p - s)
            .collect();
        let whole: Complex = apart.iter().sum();
        for (product, apart) in products.iter_mut().zip(&apart) {
            *product += weight * (apart * whole.conj()).re;
        }
        let (p, s) = at.passed_by(0..count, &traced).amplitudes(1.0);
        crossed += weight * (p - s).norm_sqr() / 8.0;
        parallel += weight * (3.0 * (p.norm_sqr() + s.norm_sqr()) + 2.0 * (p * s.conj()).re) / 8.0;
    }
    let sum: f64 = products.iter().sum();
    let shares = products
        .iter()
        .map(|product| if sum > 0.0 { product / sum } else { 0.0 });
    Ok((crossed / parallel, shares.collect()))
}
