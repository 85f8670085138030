//! The ordered stack of parts, and what can be asked of it before it is run.

use std::f64::consts::{PI, TAU};

use crate::calculus::Stokes;
use crate::math;
use crate::optics::{Lens, LensForm, Polarizer, Retarder, Slide, Specimen, Strain};

use super::error::PathError;

/// A clamp's contact counts as near the rim of the direct light when it is nearer to it than this fraction of the light's radius.
const NEAR_RIM: f64 = 0.15;

/// Rays are followed up to an NA of this fraction of the mounting medium's index; steeper ones would be totally reflected, or nearly.
const WITHIN_THE_MOUNT: f64 = 0.999;

/// With more contacts than this near the rim, a path is run with evenly spaced rays, not with rays drawn toward each contact.
const MOST_CONTACTS: usize = 16;

/// Everything between lamp and eye, in the order of the light.
#[derive(Debug, Clone, PartialEq)]
pub struct LightPath {
    /// State of the lamp's light, `S0 = 1`; every transmittance is relative to it.
    pub lamp: Stokes,
    /// Numerical aperture that the condenser iris is set to; `None` for fully open.
    pub iris_na: Option<f64>,
    /// Numerical aperture of the eye or camera that looks at a stack without an objective.
    pub view_na: Option<f64>,
    /// The parts, lamp first.
    pub parts: Vec<Part>,
    /// Fraction of the light that parallel polars pass which reaches the image unpolarized.
    pub stray_fraction: f64,
}

impl Default for LightPath {
    /// A stack without parts, in unpolarized light: the iris fully open, no stray light.
    fn default() -> Self {
        Self {
            lamp: Stokes::UNPOLARIZED,
            iris_na: None,
            view_na: None,
            parts: Vec::new(),
            stray_fraction: 0.0,
        }
    }
}

/// One part of the stack.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// The name that answers use.
    pub name: String,
    /// What it is.
    pub kind: PartKind,
    /// How far it may be from what is written. A prediction of the stack as written does not use it.
    pub tolerance: Option<Tolerance>,
}

/// The kinds of part.
#[derive(Debug, Clone, PartialEq)]
pub enum PartKind {
    /// A polarizer below the specimen.
    Polarizer(Polarizer),
    /// A retarder that is always in.
    Retarder(Retarder),
    /// An accessory plate: answers are given with it out and in.
    Plate(Retarder),
    /// The condenser.
    Condenser(Lens),
    /// Slide, mount and cover glass.
    Slide(Slide),
    /// What is looked at.
    Specimen(Specimen),
    /// The objective.
    Objective(Lens),
    /// The analyzer.
    Analyzer(Polarizer),
}

/// How far a part may be from what is written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tolerance {
    /// How far its azimuth may be off, radians.
    pub azimuth_rad: Option<f64>,
    /// How far its path difference may be off, nm.
    pub path_difference_nm: Option<f64>,
    /// Whether these numbers are standard deviations or half widths.
    pub kind: ToleranceKind,
}

/// What a tolerance's number means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ToleranceKind {
    /// One standard deviation of a normal distribution.
    Normal,
    /// Half the width of a uniform distribution.
    Uniform,
}

/// Where a part lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Space {
    /// Lamp to condenser: collimated.
    Aperture,
    /// Between the two lenses of a condenser: rays at the smaller angles of the first one's beam.
    Condenser,
    /// Condenser to objective: rays at their own angles.
    Object,
    /// Objective to eye: collimated.
    Image,
}

impl Part {
    /// A part without a tolerance.
    pub fn new(name: impl Into<String>, kind: PartKind) -> Self {
        Self {
            name: name.into(),
            kind,
            tolerance: None,
        }
    }
}

impl PartKind {
    /// The word for the kind.
    #[must_use]
    pub fn word(&self) -> &'static str {
        match self {
            Self::Polarizer(_) => "polarizer",
            Self::Retarder(_) => "retarder",
            Self::Plate(_) => "plate",
            Self::Condenser(_) => "condenser",
            Self::Slide(_) => "slide",
            Self::Specimen(_) => "specimen",
            Self::Objective(_) => "objective",
            Self::Analyzer(_) => "analyzer",
        }
    }
}

impl LightPath {
    /// Index of the first part of a kind.
    pub(crate) fn find(&self, kind: impl Fn(&PartKind) -> bool) -> Option<usize> {
        self.parts.iter().position(|part| kind(&part.kind))
    }

    /// Index of the lower polar: the last polarizer. `None` in a stack that [`Self::check`] refuses.
    #[must_use]
    pub fn lower_polar(&self) -> Option<usize> {
        (self.parts.iter()).rposition(|part| matches!(part.kind, PartKind::Polarizer(_)))
    }

    /// Index of the analyzer. `None` in a stack that [`Self::check`] refuses.
    #[must_use]
    pub fn analyzer(&self) -> Option<usize> {
        self.find(|kind| matches!(kind, PartKind::Analyzer(_)))
    }

    /// The lower polar and the analyzer themselves.
    #[must_use]
    pub fn polars(&self) -> Option<(&Polarizer, &Polarizer)> {
        let polar = |index: usize| match &self.parts[index].kind {
            PartKind::Polarizer(polar) | PartKind::Analyzer(polar) => Some(polar),
            _ => None,
        };
        polar(self.lower_polar()?).zip(polar(self.analyzer()?))
    }

    /// The one retarder that stands between linear polars, with its index. `None` if there is none, or if there are two, which make circular polars.
    pub(crate) fn lone_retarder(&self) -> Option<(usize, &Retarder)> {
        let (low, high) = self.lower_polar().zip(self.analyzer())?;
        if self.is_circular() {
            return None;
        }
        (self.parts.iter().enumerate().take(high).skip(low)).find_map(|(index, part)| {
            match &part.kind {
                PartKind::Retarder(retarder) => Some((index, retarder)),
                _ => None,
            }
        })
    }

    /// The condenser's lenses in the order of the light, with their indices.
    pub(crate) fn condensers(&self) -> impl DoubleEndedIterator<Item = (usize, &Lens)> {
        (self.parts.iter().enumerate()).filter_map(|(index, part)| match &part.kind {
            PartKind::Condenser(lens) => Some((index, lens)),
            _ => None,
        })
    }

    /// The condenser's last lens: the one from which the light reaches the specimen.
    pub(super) fn condenser(&self) -> Option<(usize, &Lens)> {
        self.condensers().next_back()
    }

    /// Refractive index of the medium that the condenser's light comes out into; air without a condenser.
    pub(crate) fn condenser_medium(&self) -> f64 {
        self.condenser().map_or(1.0, |(_, lens)| lens.immersion)
    }

    pub(super) fn objective(&self) -> Option<(usize, &Lens)> {
        (self.parts.iter().enumerate()).find_map(|(index, part)| match &part.kind {
            PartKind::Objective(lens) => Some((index, lens)),
            _ => None,
        })
    }

    /// Whether there is an objective: without one an eye or camera looks at the stack itself.
    #[must_use]
    pub fn has_objective(&self) -> bool {
        self.objective().is_some()
    }

    /// Whether the polars are circular: two or more retarders, which are never taken out, stand between lower polar and analyzer.
    #[must_use]
    pub fn is_circular(&self) -> bool {
        let (Some(low), Some(high)) = (self.lower_polar(), self.analyzer()) else {
            return false;
        };
        (self.parts.iter().take(high).skip(low))
            .filter(|part| matches!(part.kind, PartKind::Retarder(_)))
            .count()
            >= 2
    }

    /// Numerical aperture of the direct light: the smallest of iris, condenser, objective (without one, the eye), and what the mounting medium
    /// lets through.
    #[must_use]
    pub fn na(&self) -> f64 {
        self.open_na().min(self.mount_na().unwrap_or(f64::INFINITY))
    }

    /// The same without the limit that the mounting medium sets.
    pub(crate) fn open_na(&self) -> f64 {
        let condenser = self.condenser().map(|(_, lens)| lens.na);
        let above = (self.objective().map(|(_, lens)| lens.na)).or(self.view_na);
        [self.iris_na, condenser, above]
            .into_iter()
            .flatten()
            .fold(f64::INFINITY, f64::min)
    }

    /// Numerical aperture beyond which rays are totally reflected in the mounting medium, or so nearly that they carry no light; `None`
    /// without a slide.
    pub(crate) fn mount_na(&self) -> Option<f64> {
        self.parts.iter().find_map(|part| match &part.kind {
            PartKind::Slide(slide) => {
                let [short, long] = [360.0, 830.0].map(|nm| slide.mount.at(nm));
                Some(WITHIN_THE_MOUNT * short.min(long))
            }
            _ => None,
        })
    }

    /// Azimuths in the pupil at which contacts of a clamp press on or near the rim of the direct light, and the smallest
    /// distance from one to that rim as a fraction of its radius. `None` when no contact is near.
    #[must_use]
    pub fn contacts_near_rim(&self) -> Option<(Vec<f64>, f64)> {
        let na = self.na();
        let (mut azimuths, mut gap) = (Vec::new(), NEAR_RIM);
        for (part, Part { kind, .. }) in self.parts.iter().enumerate() {
            let (lens, turn) = match kind {
                PartKind::Condenser(lens) => (lens, PI),
                PartKind::Objective(lens) => (lens, 0.0),
                _ => continue,
            };
            let beyond = self.rim_na(part) / na - 1.0;
            if beyond >= NEAR_RIM {
                continue;
            }
            for strain in &lens.strain {
                if let Strain::Clamp {
                    contacts,
                    first_azimuth_rad,
                    ..
                } = strain
                {
                    gap = gap.min(beyond);
                    azimuths.extend((0..*contacts).map(|k| {
                        first_azimuth_rad + turn + TAU * f64::from(k) / f64::from(*contacts)
                    }));
                }
            }
        }
        (!azimuths.is_empty() && azimuths.len() <= MOST_CONTACTS).then_some((azimuths, gap))
    }

    /// Whether half a turn about the axis leaves a part as it is, so that two rays opposite to each other meet the same.
    #[must_use]
    pub fn is_twofold(&self, part: usize) -> bool {
        match &self.parts[part].kind {
            PartKind::Condenser(lens) | PartKind::Objective(lens) => {
                lens.strain.iter().all(Strain::is_twofold)
            }
            PartKind::Specimen(specimen) => specimen.is_twofold(),
            _ => true,
        }
    }

    /// The space that a part lies in. Without a condenser object space begins at the lamp; without an objective it has no
    /// end, so that the analyzer too is crossed by rays at their own angles.
    #[must_use]
    pub fn space(&self, part: usize) -> Space {
        let before = |lens: Option<(usize, &Lens)>| lens.is_some_and(|(index, _)| part < index);
        if before(self.condensers().next()) {
            Space::Aperture
        } else if before(self.condenser()) {
            Space::Condenser
        } else if self.objective().is_some_and(|(index, _)| part > index) {
            Space::Image
        } else {
            Space::Object
        }
    }

    /// Whether rays cross a part at their own angles, not collimated.
    #[must_use]
    pub fn is_oblique(&self, part: usize) -> bool {
        matches!(self.space(part), Space::Condenser | Space::Object)
    }

    /// Numerical aperture that a ray has at a part, divided by the one that it has in object space. Between the lenses of a condenser this is the
    /// ratio of their NAs, by the sine condition; where light is collimated it is 0.
    #[must_use]
    pub fn steepness(&self, part: usize) -> f64 {
        match self.space(part) {
            Space::Aperture | Space::Image => 0.0,
            Space::Object => 1.0,
            Space::Condenser => (self.condensers().next().zip(self.condenser()))
                .map_or(1.0, |((_, first), (_, last))| first.na / last.na),
        }
    }

    /// Numerical aperture, at a part, of the ray that has `s` in object space. It is [`Self::steepness`] times `s`, except between the lenses of
    /// a condenser that are told by their surfaces: there the ray is traced.
    ///
    /// # Errors
    /// [`PathError::Lens`] when the ray does not get there.
    pub fn s_at(&self, part: usize, s: f64) -> Result<f64, PathError> {
        if self.space(part) == Space::Condenser
            && let Some((first, lens)) = self.condensers().next()
            && matches!(lens.form, LensForm::Prescription(_))
        {
            return self.passage(first)?.behind(s);
        }
        Ok(self.steepness(part) * s)
    }

    /// Angle by which the lens at `part` bends a ray of numerical aperture `s` in object space, radians: the difference of the ray's angles on its
    /// two sides. NaN where no such ray exists.
    #[must_use]
    pub fn deviation_rad(&self, part: usize, s: f64) -> f64 {
        let mut before_rad = 0.0;
        for (index, lens) in self.condensers() {
            let steepness = self.condenser().map_or(1.0, |(_, last)| lens.na / last.na);
            let after_rad = math::asin(s * steepness / lens.immersion);
            if index == part {
                return after_rad - before_rad;
            }
            before_rad = after_rad;
        }
        (self.objective()).map_or(0.0, |(_, lens)| math::asin(s / lens.immersion))
    }

    /// Numerical aperture, in object space, of the ray that crosses the lens at `part` at the rim of its full aperture.
    #[must_use]
    pub fn rim_na(&self, part: usize) -> f64 {
        let lens = match &self.parts[part].kind {
            PartKind::Condenser(_) => self.condenser(),
            _ => self.objective(),
        };
        lens.map_or(1.0, |(_, lens)| match &lens.form {
            LensForm::Prescription(told) => (told.settled.as_ref()).map_or(lens.na, |s| s.reach.na),
            _ => lens.na,
        })
    }

    /// Refractive indices of the media below and above a sheet under oblique rays, or a slide: those that the nearest lenses
    /// are immersed in (air without one), or what joins the sheet to the slide.
    #[must_use]
    pub fn media(&self, part: usize) -> (f64, f64) {
        let of = |lens: Option<(usize, &Lens)>| lens.map_or(1.0, |(_, lens)| lens.immersion);
        let below = of(self.condensers().take_while(|lens| lens.0 < part).last());
        match &self.parts[part].kind {
            PartKind::Polarizer(polar) => (below, polar.contact.unwrap_or(below)),
            PartKind::Slide(_) => {
                let contact = match self.parts[..part].last().map(|part| &part.kind) {
                    Some(PartKind::Polarizer(polar)) => polar.contact,
                    _ => None,
                };
                (contact.unwrap_or(below), of(self.objective()))
            }
            _ => (below, below),
        }
    }

    /// The same stack with nothing on the stage.
    #[must_use]
    pub fn without_specimens(&self) -> Self {
        let mut empty = self.clone();
        (empty.parts).retain(|part| !matches!(part.kind, PartKind::Specimen(_)));
        empty
    }
}
