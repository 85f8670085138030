//! How much may a part be off before a target is missed?
//!
//! # Examples
//! ```
//! use polstack::study::tolerate::{Limit, Limits, Profile, Subject, Target, tolerate};
//! let scene = polstack::scenario::read("scenarios/strained-objective.toml".as_ref()).unwrap().scene;
//! let radial = Subject::of(&scene.path, Some("objective"), None, Some(Profile::Radial))?;
//! let target = Target::Extinction(1000.0);
//! let answer = tolerate(&scene.with_path(radial.path), &target, radial.quantity)?;
//! let Limits::Strain(strain) = answer.limits else { panic!() };
//! assert!(matches!(strain.as_written, Limit::At { value, .. } if (23.0..24.0).contains(&value)));
//! # Ok::<(), polstack::study::StudyError>(())
//! ```

mod azimuths;
mod built;
mod judge;
mod search;
mod spread;
mod subject;
mod units;

use serde::Serialize;

use crate::light_path::{LightPath, PartKind, run};
use crate::optics::{Rays, Strain};
use crate::scene::Scene;

use super::StudyError;
use super::doubt::Doubt;
use super::draws::Draws;
use super::lamp::Lamp;
use super::leak::{Cause, leak};
use super::measures::{ACCURACY, GREEN_NM};
use super::observer::Criterion;
use super::predict::{SpectralError, step_error};
use super::quantity::{Quantity, QuantityKind};
use super::visibility::{Bias, Thresholds, Visibility, visibility};
use azimuths::{strain_limits, turn_limit};
use judge::Wanted;
use search::{EXACT, FirstMiss, SearchSpan, border, period_rad, uncertainty};

pub use super::vary::{Profile, Vary};
pub use azimuths::{AtAzimuth, AzimuthLimits, StrainLimits};
pub use built::built;
pub use search::Limit;
pub use subject::Subject;
pub(in crate::study) use subject::named;
pub use units::StrainUnits;

/// The most surfaces of a lens that are tried.
const MOST_SURFACES: u32 = 64;

/// The iris is closed by this factor from try to try, down to this numerical aperture.
const IRIS: (f64, f64) = (0.95, 0.02);

/// Accuracy of quadratures that need not be exact: those of values that a search only passes on its way, and those of leak shares.
const ROUGH: f64 = 1e-3;

/// What is wanted of a stack.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Target {
    /// A luminous extinction ratio of the empty field, plates out, of at least this.
    Extinction(f64),
    /// A specimen that shows.
    See(See),
}

/// How a specimen is to show, at its best azimuth. With the plates out it is judged by its own light, without what bias ([`Bias`]) would add to it.
/// With a plate in, both of its colours must show: the one with its slow direction along the plate's, and the one with it across.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct See {
    /// Its path difference, nm.
    pub path_difference_nm: f64,
    /// Whether it is to show with the plates in, by its colour; otherwise it is to show with the plates out, by its contrast.
    pub with_plate: bool,
    /// Weber contrast to reach, plates out.
    pub contrast: f64,
    /// CIEDE2000 to reach, plates in.
    pub color_difference: f64,
    /// Electrons that fill a camera's pixel; `None` for the eye alone.
    pub full_well: Option<f64>,
    /// Signal-to-noise ratio that the camera has to reach.
    pub snr: f64,
}

impl See {
    /// All of these must be reached, at one azimuth.
    #[must_use]
    pub fn criteria(&self) -> Vec<Criterion> {
        let eye = if self.with_plate {
            Criterion::Color {
                least: self.color_difference,
            }
        } else {
            Criterion::Contrast {
                least: self.contrast,
            }
        };
        let camera = self.full_well.map(|full_well| Criterion::Signal {
            least: self.snr,
            full_well,
        });
        std::iter::once(eye).chain(camera).collect()
    }
}

/// A path beside a target, as it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct TargetVerdict {
    /// Numerical aperture of the direct light.
    pub na: f64,
    /// Luminous extinction ratio of the empty field; `None` when nothing leaks.
    pub extinction_ratio: Option<f64>,
    /// By how many times the target is met; missed below 1, infinite where nothing leaks.
    pub times: f64,
    /// What bias makes of a specimen that is to show; `None` for an extinction ratio, and with the plates in.
    pub bias: Option<Bias>,
    /// What leaks most where the target is missed; `None` with the plates in, because the leak is then not what hides a colour.
    pub dominates: Option<LargestShare>,
    /// The iris that rescues a missed target.
    pub rescue: Rescue,
    /// Estimated relative error of the light, from the quadrature.
    pub quadrature_error: f64,
    /// What the step between the wavelengths leaves in doubt.
    pub spectral_error: SpectralError,
}

impl TargetVerdict {
    /// Whether the path as it stands meets the target.
    #[must_use]
    pub fn met(&self) -> bool {
        self.times >= 1.0
    }
}

/// What leaks most.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LargestShare {
    /// The part's name.
    pub part: String,
    /// What is wrong with it.
    pub cause: Cause,
    /// Its share of the whole leak.
    pub share: f64,
}

/// Whether closing the iris rescues a target.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rescue {
    /// The target is met as it is.
    NotNeeded,
    /// The largest numerical aperture at which it is met.
    Iris {
        /// The aperture.
        na: f64,
        /// What the quadrature leaves open.
        uncertainty: f64,
    },
    /// No iris does.
    None,
}

/// How much one quantity may be.
#[derive(Debug, Clone, PartialEq)]
pub struct Tolerable {
    /// The part's name; `None` for the stack as a whole.
    pub part: Option<String>,
    /// The quantity.
    pub quantity: Quantity,
    /// Its value as written.
    pub written: f64,
    /// How much it may be.
    pub limits: Limits,
    /// What leaks most where the target is missed even when this quantity is 0 (an azimuth or a path difference stays as written). `None` with the
    /// plates in, because the leak is then not what hides a colour.
    pub dominates: Option<LargestShare>,
    /// Where the target is missed as written, the nearest value of an azimuth or a path difference with which it is met; `None` where there is none.
    pub rescued_at: Option<f64>,
}

/// Everything that is said about a path beside a target.
#[derive(Debug, Clone, PartialEq)]
pub struct Tolerances {
    /// The path; a strain that was asked for and is not written is in it, of 0 nm.
    pub path: LightPath,
    /// What is wanted.
    pub target: Target,
    /// Length of the light's way through the glass of the part that is asked about, mm: where it is known, strain is also told as stress. The study
    /// leaves it `None`; the caller sets it.
    pub glass_path_mm: Option<f64>,
    /// The path as it stands.
    pub verdict: TargetVerdict,
    /// One quantity, or all of them.
    pub quantities: Vec<Tolerable>,
    /// What will show in the path as it stands.
    pub visibility: Visibility,
    /// How far the extinction ratio of the path as it stands can be trusted: left to [`super::doubt`].
    pub doubt: Option<Doubt>,
    /// Instruments drawn from the tolerances of the scenario, by [`built()`], where they were asked for.
    pub draws: Option<Draws>,
}

/// Limits by kind of quantity.
#[derive(Debug, Clone, PartialEq)]
pub enum Limits {
    /// Of a strain: how much, from none up.
    Strain(StrainLimits),
    /// Of an azimuth or a path difference: the values between which it may lie, to either side of the written one.
    Between {
        /// Downward, clockwise.
        below: Limit,
        /// Upward, counter-clockwise.
        above: Limit,
    },
    /// Of a fraction: at most.
    AtMost(Limit),
    /// Of surfaces: at least so many; `None` when no number up to 64 does.
    AtLeast(Option<u32>),
}

/// Whether limits of a path take many runs, or runs of many rays: a clamp near the rim, a strain map, an analyzer among oblique rays.
#[must_use]
pub fn takes_long(path: &LightPath) -> bool {
    let mapped = path.parts.iter().any(|part| match &part.kind {
        PartKind::Condenser(lens) | PartKind::Objective(lens) => {
            (lens.strain.iter()).any(|strain| matches!(strain, Strain::Map(_)))
        }
        _ => false,
    });
    let oblique = (path.analyzer()).is_some_and(|part| path.is_oblique(part));
    mapped || oblique || path.contacts_near_rim().is_some()
}

/// Whether a path that [`LightPath::check`] accepts meets a target, how much one quantity of it, or each, may be, and what will show.
///
/// # Errors
/// [`StudyError`] as of [`verdict`] and [`tolerate`].
pub fn tolerances(
    scene: &Scene,
    (target, thresholds): (&Target, &Thresholds),
    quantity: Option<Quantity>,
) -> Result<Tolerances, StudyError> {
    let path = &scene.path;
    Ok(Tolerances {
        path: path.clone(),
        target: *target,
        glass_path_mm: None,
        verdict: verdict(scene, target)?,
        quantities: match quantity {
            Some(quantity) => vec![tolerate(scene, target, quantity)?],
            None => overview(scene, target)?,
        },
        visibility: visibility(scene, thresholds)?,
        doubt: None,
        draws: None,
    })
}

/// Whether a path that [`LightPath::check`] accepts meets a target as it stands.
///
/// # Errors
/// [`StudyError`] when the path cannot be run, no light is seen, or plates are asked for that are not there.
///
/// Checked by: `tests/laws/tolerate.rs`, against whole predictions on both sides of the iris that rescues.
pub fn verdict(scene: &Scene, target: &Target) -> Result<TargetVerdict, StudyError> {
    let Scene { path, source, grid } = scene;
    let lamp = Lamp::new(source, grid)?;
    let asked = asked(path, &lamp, target)?;
    let quadrature = asked.quadrature(path, ACCURACY)?;
    let ratio = asked.extinction(path, &quadrature.rays)?;
    let times = asked.times(path, &quadrature.rays)?;
    Ok(TargetVerdict {
        na: path.na(),
        extinction_ratio: ratio.is_finite().then_some(ratio),
        times,
        bias: match target {
            Target::Extinction(_) => None,
            Target::See(_) => asked.as_it_is(path, &quadrature.rays)?.bias(&[])?,
        },
        dominates: if times < 1.0 {
            largest_share(asked, path)?
        } else {
            None
        },
        rescue: if times < 1.0 {
            rescue(asked, path)?
        } else {
            Rescue::NotNeeded
        },
        quadrature_error: quadrature.error,
        spectral_error: step_error(scene)?,
    })
}

/// How much a quantity of a path that [`LightPath::check`] accepts may be, all others as written, before a target is missed.
///
/// # Errors
/// [`StudyError`] as of [`verdict`]; [`StudyError::NoQuantity`] when the path has no such quantity.
///
/// Checked by: `tests/laws/tolerate.rs`, against whole predictions on both sides of every limit, and closed forms.
pub fn tolerate(
    scene: &Scene,
    target: &Target,
    quantity: Quantity,
) -> Result<Tolerable, StudyError> {
    let Scene { path, source, grid } = scene;
    let lamp = Lamp::new(source, grid)?;
    tolerable(asked(path, &lamp, target)?, path, quantity)
}

/// The same for every quantity of the path.
///
/// # Errors
/// [`StudyError`] as of [`verdict`].
pub fn overview(scene: &Scene, target: &Target) -> Result<Vec<Tolerable>, StudyError> {
    let Scene { path, source, grid } = scene;
    let lamp = Lamp::new(source, grid)?;
    let asked = asked(path, &lamp, target)?;
    let is_specimen = |quantity: &Quantity| {
        let part = quantity.part.map(|part| &path.parts[part].kind);
        matches!(part, Some(PartKind::Specimen(_)))
    };
    (Quantity::all(path).into_iter())
        .filter(|quantity| !is_specimen(quantity))
        .map(|quantity| tolerable(asked, path, quantity))
        .collect()
}

fn asked<'a>(
    path: &LightPath,
    lamp: &'a Lamp<'a>,
    target: &'a Target,
) -> Result<Wanted<'a>, StudyError> {
    let has_plate = path
        .find(|kind| matches!(kind, PartKind::Plate(_)))
        .is_some();
    match target {
        Target::See(see) if see.with_plate && !has_plate => Err(StudyError::NoPlate),
        _ => Ok(Wanted { lamp, target }),
    }
}

fn tolerable(
    asked: Wanted<'_>,
    path: &LightPath,
    quantity: Quantity,
) -> Result<Tolerable, StudyError> {
    let written = quantity.value(path).ok_or(StudyError::NoQuantity)?;
    let shortest_nm = asked
        .lamp
        .wavelengths_nm
        .first()
        .copied()
        .unwrap_or(GREEN_NM);
    let path_difference = SearchSpan::path_difference(shortest_nm);
    let (limits, none) = match quantity.kind {
        QuantityKind::StrainAmount { .. } => {
            let limits = strain_limits(asked, path, quantity, path_difference)?;
            (Limits::Strain(limits), 0.0)
        }
        QuantityKind::StrainAzimuth { .. } | QuantityKind::Azimuth => {
            let [below, above] = [-1.0, 1.0].map(|sign| match period_rad(path, quantity) {
                Some(period) if Profile::of_quantity(path, quantity) != Some(Profile::Uniform) => {
                    turn_limit(asked, path, quantity, (written, sign), period)
                }
                _ => one_way(
                    asked,
                    path,
                    quantity,
                    (written, sign),
                    SearchSpan::azimuth(),
                ),
            });
            (
                Limits::Between {
                    below: below?,
                    above: above?,
                },
                written,
            )
        }
        QuantityKind::PathDifference => {
            let [below, above] = [-1.0, 1.0]
                .map(|sign| one_way(asked, path, quantity, (written, sign), path_difference));
            (
                Limits::Between {
                    below: below?,
                    above: above?,
                },
                written,
            )
        }
        QuantityKind::StrayFraction => {
            let most = one_way(asked, path, quantity, (0.0, 1.0), SearchSpan::fraction())?;
            (Limits::AtMost(most), 0.0)
        }
        QuantityKind::Surfaces => (Limits::AtLeast(surfaces(asked, path, quantity)?), written),
    };
    let dominates = if limits.missed() {
        largest_share(asked, &quantity.with(path, none))?
    } else {
        None
    };
    let rescued_at = match (&limits, quantity.kind) {
        (Limits::Between { .. }, QuantityKind::PathDifference) if limits.missed() => {
            nearest_met(asked, path, quantity, written, path_difference)?
        }
        (Limits::Between { .. }, _) if limits.missed() => {
            nearest_met(asked, path, quantity, written, SearchSpan::azimuth())?
        }
        _ => None,
    };
    Ok(Tolerable {
        part: quantity.part.map(|part| path.parts[part].name.clone()),
        quantity,
        written,
        limits,
        dominates,
        rescued_at,
    })
}

/// The nearest value, to either side, at which a target is met that is missed as written. The rays are those that the path as written needs for an
/// accuracy of [`ROUGH`].
fn nearest_met(
    asked: Wanted<'_>,
    path: &LightPath,
    quantity: Quantity,
    written: f64,
    reach: SearchSpan,
) -> Result<Option<f64>, StudyError> {
    let rays = asked.quadrature(path, ROUGH)?.rays;
    let range = [(written - reach.end, written + reach.end)];
    let judge = asked.judge(path, &[quantity], &range, &rays, None)?;
    let mut nearest: Option<f64> = None;
    for sign in [-1.0, 1.0] {
        // The search looks for the first value that falls below 1; with the reciprocal it finds where the target is first met.
        let missed = |distance: f64| Ok(1.0 / judge.times(&[written + sign * distance])?);
        let reach = reach.up_to(nearest.map_or(reach.end, |value| (value - written).abs()));
        if let FirstMiss::At(distance) = reach.first_miss(missed)? {
            nearest = Some(written + sign * distance);
        }
    }
    Ok(nearest)
}

impl Limits {
    /// Whether the target is missed from the start.
    #[must_use]
    pub fn missed(&self) -> bool {
        match self {
            Self::Strain(strain) => strain.as_written == Limit::Missed,
            Self::Between { below, .. } => *below == Limit::Missed,
            Self::AtMost(most) => *most == Limit::Missed,
            Self::AtLeast(fewest) => fewest.is_none(),
        }
    }
}

/// The first miss on the way from a value up (`sign` 1) or down (-1).
fn one_way(
    asked: Wanted<'_>,
    path: &LightPath,
    quantity: Quantity,
    (from, sign): (f64, f64),
    reach: SearchSpan,
) -> Result<Limit, StudyError> {
    let ends = (from, from + sign * reach.end);
    let range = [(ends.0.min(ends.1), ends.0.max(ends.1))];
    let mut quadrature = asked.quadrature(&quantity.with(path, from), ACCURACY)?;
    // The rays are chosen anew at the limit until they stay.
    loop {
        let judge = asked.judge(path, &[quantity], &range, &quadrature.rays, None)?;
        let times = |value: f64| judge.times(&[value]);
        let value = match reach.first_miss(|distance| times(from + sign * distance))? {
            FirstMiss::AtOnce => return Ok(Limit::Missed),
            FirstMiss::Never(_) => return Ok(Limit::Beyond(ends.1)),
            FirstMiss::At(distance) => from + sign * distance,
        };
        let there = asked.quadrature(&quantity.with(path, value), ACCURACY)?;
        if there.rays.count() <= quadrature.rays.count() {
            let error = quadrature.error.max(there.error) * judge.sensitivity(&[value])?;
            let scale = (value - from).abs();
            return Ok(Limit::At {
                value,
                uncertainty: uncertainty(value, scale, error, times)?,
            });
        }
        quadrature = there;
    }
}

/// The fewest surfaces of a lens that meet the target.
fn surfaces(
    asked: Wanted<'_>,
    path: &LightPath,
    quantity: Quantity,
) -> Result<Option<u32>, StudyError> {
    for count in 1..=MOST_SURFACES {
        let path = quantity.with(path, f64::from(count));
        // Too few surfaces cannot bend the rays.
        let runs = path.check(asked.lamp.wavelengths_nm).is_ok();
        if runs && asked.times(&path, &asked.quadrature(&path, ACCURACY)?.rays)? >= 1.0 {
            return Ok(Some(count));
        }
    }
    Ok(None)
}

/// The largest iris at which a target is met that is missed as the path stands.
fn rescue(asked: Wanted<'_>, path: &LightPath) -> Result<Rescue, StudyError> {
    let closed = |na: f64| LightPath {
        iris_na: Some(na),
        ..path.clone()
    };
    let (factor, least) = IRIS;
    let (mut missed, mut na) = (path.na(), path.na());
    loop {
        if na <= least {
            return Ok(Rescue::None);
        }
        na = (na * factor).max(least);
        let path = closed(na);
        if asked.times(&path, &asked.quadrature(&path, ROUGH)?.rays)? >= 1.0 {
            break;
        }
        missed = na;
    }
    let quadrature = asked.quadrature(&closed(missed), ACCURACY)?;
    let times = |na: f64| {
        let mut rays: Rays = quadrature.rays.clone();
        for s in &mut rays.ring {
            *s *= na / missed;
        }
        asked.times(&closed(na), &rays)
    };
    let na = border((na, times(na)?), (missed, times(missed)?), EXACT, times)?;
    let judge = asked.as_it_is(&closed(na), &quadrature.rays)?;
    let error = quadrature.error * judge.sensitivity(&[])?;
    Ok(Rescue::Iris {
        na,
        uncertainty: uncertainty(na, na, error, times)?,
    })
}

/// What leaks most.
fn largest_share(asked: Wanted<'_>, path: &LightPath) -> Result<Option<LargestShare>, StudyError> {
    if matches!(asked.target, Target::See(see) if see.with_plate) {
        return Ok(None);
    }
    let empty = path.without_specimens();
    let Lamp {
        wavelengths_nm,
        luminous,
        ..
    } = asked.lamp;
    let rays = run::quadrature(&empty, wavelengths_nm, luminous, ROUGH)?.rays;
    let leak = leak(&empty, &rays, wavelengths_nm, luminous)?;
    let first = leak.shares.into_iter().next();
    Ok(first.map(|most| LargestShare {
        part: most.part,
        cause: most.cause,
        share: most.share,
    }))
}
