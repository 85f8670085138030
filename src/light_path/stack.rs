//! The ordered stack of parts, and what makes one impossible.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use thiserror::Error;

use crate::calculus::{Complex, Jones, Stokes};
use crate::optics::{Lens, LensError, Polarizer, Retarder, Slide, Specimen, Strain};
use crate::spectrum::TableError;

/// A contact nearer to the rim of the direct light than this fraction of its radius is near.
const NEAR_RIM: f64 = 0.15;

/// Rays up to this fraction of the mounting medium's index are followed.
const WITHIN_THE_MOUNT: f64 = 0.999;

/// More contacts than this are not followed one by one.
const MOST_CONTACTS: usize = 16;

/// Linear polars this many degrees apart or more are called crossed.
pub const CROSSED_FROM_DEG: f64 = 80.0;

/// Light of the parallel field that retarders may let through while the polars still count as crossed: that of polars 80 degrees
/// apart.
const CROSSED_WITHIN: f64 = 0.03;

/// How the polars stand to each other.
#[derive(Debug, Clone, PartialEq)]
pub enum Crossing {
    /// Linear and crossed, or nearly so.
    Crossed {
        /// How far from a right angle they are, 0 to 10 degrees.
        off_deg: f64,
    },
    /// Circular.
    Circular,
    /// Retarders that would make circular polars do not undo each other.
    Unmatched {
        /// Fraction of the light of ideal polars that they let through on the axis.
        passes: f64,
        /// Whether a quarter turn of one of them mends it.
        quarter_turn: bool,
    },
    /// Linear and not crossed.
    Apart {
        /// The angle between them, 0 to 80 degrees.
        degrees: f64,
    },
    /// Linear and crossed, with a retarder between them for good that has no partner to undo it and lets light through.
    LoneRetarder {
        /// The retarder's name.
        name: String,
        /// Its path difference in waves of the wavelength that it is stated for.
        waves: f64,
    },
}

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

/// One part of the stack.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// The name that answers use.
    pub name: String,
    /// What it is.
    pub kind: PartKind,
    /// How far it may be off; a prediction does not read it.
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

/// How far a part may be off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tolerance {
    /// Of its azimuth, radians.
    pub azimuth_rad: Option<f64>,
    /// Of its path difference, nm.
    pub path_difference_nm: Option<f64>,
    /// What the numbers mean.
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

/// A stack that cannot be run. Parts are named by their index in [`LightPath::parts`].
#[derive(Debug, Clone, PartialEq, Error)]
pub enum PathError {
    /// Nothing to look through.
    #[error("there is no {what}; {remedy}")]
    Missing {
        /// The part that is missing.
        what: &'static str,
        /// What to do.
        remedy: &'static str,
    },
    /// A second part where there can be one.
    #[error("there is another part of kind `{what}`; a stack has {most}")]
    Twice {
        /// Index of the second.
        part: usize,
        /// The kind.
        what: &'static str,
        /// How many there may be, in words.
        most: &'static str,
    },
    /// Two lenses of a condenser of which the second narrows the beam.
    #[error(
        "rays leave the condenser's first lens at up to {:.1} degrees and its second at {:.1}; each must bend them further: give the first the smaller NA",
        angle_rad.to_degrees(),
        next_rad.to_degrees()
    )]
    Narrowing {
        /// Index of the first lens.
        part: usize,
        /// The steepest angle behind it, radians.
        angle_rad: f64,
        /// The same behind the second one.
        next_rad: f64,
    },
    /// A sheet joined to a slide that is not there.
    #[error(
        "its contact medium joins the sheet to a slide, and no slide follows it; put the sheet right before the slide or take `contact` out"
    )]
    NoContact {
        /// Index of the sheet.
        part: usize,
    },
    /// A part in an impossible place.
    #[error("{what} stands {wrong}; {remedy}")]
    Order {
        /// Index of the part.
        part: usize,
        /// The kind.
        what: &'static str,
        /// Where it stands.
        wrong: &'static str,
        /// What to do.
        remedy: &'static str,
    },
    /// Rays too steep for a medium: they would be totally reflected.
    #[error(
        "rays up to NA {na} cannot cross a medium of index {index:.4} ({medium}); close the iris below it or raise the index"
    )]
    TooSteep {
        /// Index of the part.
        part: usize,
        /// The largest NA of the rays.
        na: f64,
        /// Refractive index of the medium.
        index: f64,
        /// Which medium.
        medium: &'static str,
    },
    /// A lens that cannot bend the rays.
    #[error("{source}")]
    Lens {
        /// Index of the part.
        part: usize,
        /// Why.
        source: LensError,
    },
    /// A table that does not cover the wavelengths.
    #[error("{source}")]
    Table {
        /// Index of the part.
        part: usize,
        /// Why.
        source: TableError,
    },
    /// A strain map that does not cover the rays.
    #[error(
        "the strain map does not cover the aperture: nothing at x = {x:.4}, y = {y:.4} (fractions of the full NA)"
    )]
    MapUncovered {
        /// Index of the part.
        part: usize,
        /// Where, as a fraction of the full aperture.
        x: f64,
        /// Where, as a fraction of the full aperture.
        y: f64,
    },
}

impl PathError {
    /// Index of the part that is to blame, where one is.
    #[must_use]
    pub fn part(&self) -> Option<usize> {
        match self {
            Self::Missing { .. } => None,
            Self::Twice { part, .. }
            | Self::Narrowing { part, .. }
            | Self::NoContact { part }
            | Self::Order { part, .. }
            | Self::TooSteep { part, .. }
            | Self::Lens { part, .. }
            | Self::Table { part, .. }
            | Self::MapUncovered { part, .. } => Some(*part),
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

    /// Angle between linear polars in degrees, 0 to 90; `None` for circular polars.
    #[must_use]
    pub fn polars_apart_deg(&self) -> Option<f64> {
        let (low, high) = self.polars().filter(|_| !self.is_circular())?;
        let turn = (high.azimuth_rad - low.azimuth_rad).rem_euclid(PI);
        Some(turn.min(PI - turn).to_degrees())
    }

    /// How the polars stand to each other.
    ///
    /// Checked by: `tests/laws/leak.rs`.
    #[must_use]
    pub fn crossing(&self) -> Crossing {
        let Some(degrees) = self.polars_apart_deg() else {
            return self.circular_crossing();
        };
        let off_deg = 90.0 - degrees;
        if degrees < CROSSED_FROM_DEG {
            return Crossing::Apart { degrees };
        }
        let Some((part, retarder)) = self.lone_retarder() else {
            return Crossing::Crossed { off_deg };
        };
        let lower_rad = self.polars().map_or(0.0, |(low, _)| low.azimuth_rad);
        let waves = retarder.path_difference_nm / retarder.at_nm;
        let turned = (2.0 * (retarder.slow_azimuth_rad - lower_rad)).sin();
        if (turned * (PI * waves).sin()).powi(2) < CROSSED_WITHIN {
            return Crossing::Crossed { off_deg };
        }
        Crossing::LoneRetarder {
            name: self.parts[part].name.clone(),
            waves,
        }
    }

    /// Whether the retarders between the polars undo each other on the axis, each at the wavelength that it is stated for.
    fn circular_crossing(&self) -> Crossing {
        let Some((low, high)) = self.polars() else {
            return Crossing::Circular;
        };
        let between = self.lower_polar().unwrap_or(0)..self.analyzer().unwrap_or(0);
        let retarders: Vec<&Retarder> = (self.parts[between].iter())
            .filter_map(|part| match &part.kind {
                PartKind::Retarder(retarder) => Some(retarder),
                _ => None,
            })
            .collect();
        let passes = |turned: Option<usize>| {
            let ideal = |polar: &Polarizer| {
                Jones::linear(Complex::from(1.0), Complex::from(0.0), polar.azimuth_rad)
            };
            let mut path = ideal(low);
            for (index, retarder) in retarders.iter().enumerate() {
                let turn = if turned == Some(index) {
                    FRAC_PI_2
                } else {
                    0.0
                };
                let phase_rad = TAU * retarder.path_difference_nm / retarder.at_nm;
                path = Jones::retarder(phase_rad, retarder.slow_azimuth_rad + turn) * path;
            }
            // Parallel polars pass half of unpolarized light.
            2.0 * (ideal(high) * path).transmittance()
        };
        let passes_now = passes(None);
        if passes_now < CROSSED_WITHIN {
            return Crossing::Circular;
        }
        Crossing::Unmatched {
            passes: passes_now,
            quarter_turn: (0..retarders.len()).any(|index| passes(Some(index)) < CROSSED_WITHIN),
        }
    }

    /// The retarder between linear polars, with its index: two would make circular ones.
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

    /// The condenser's last lens: the one that the light reaches the specimen from.
    fn condenser(&self) -> Option<(usize, &Lens)> {
        self.condensers().next_back()
    }

    /// Refractive index of the medium that the condenser's light comes out into; air without a condenser.
    pub(crate) fn condenser_medium(&self) -> f64 {
        self.condenser().map_or(1.0, |(_, lens)| lens.immersion)
    }

    fn objective(&self) -> Option<(usize, &Lens)> {
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

    /// Whether circular polars are at work: two or more retarders stand between lower polar and analyzer for good.
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

    /// The same whatever the mounting medium.
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

    /// Numerical aperture that a ray has at a part, for one that has 1 in object space: between the lenses of a condenser the
    /// ratio of their NAs, by the sine condition; 0 where light is collimated.
    #[must_use]
    pub fn steepness(&self, part: usize) -> f64 {
        match self.space(part) {
            Space::Aperture | Space::Image => 0.0,
            Space::Object => 1.0,
            Space::Condenser => (self.condensers().next().zip(self.condenser()))
                .map_or(1.0, |((_, first), (_, last))| first.na / last.na),
        }
    }

    /// Angle by which the lens at `part` bends a ray of numerical aperture `s` in object space, radians: the difference of the
    /// ray's angles on its two sides. NaN for a ray that cannot be.
    #[must_use]
    pub fn deviation_rad(&self, part: usize, s: f64) -> f64 {
        let mut before_rad = 0.0;
        for (index, lens) in self.condensers() {
            let steepness = self.condenser().map_or(1.0, |(_, last)| lens.na / last.na);
            let after_rad = (s * steepness / lens.immersion).asin();
            if index == part {
                return after_rad - before_rad;
            }
            before_rad = after_rad;
        }
        (self.objective()).map_or(0.0, |(_, lens)| (s / lens.immersion).asin())
    }

    /// Numerical aperture, in object space, of the ray that crosses the lens at `part` at the rim of its full aperture.
    #[must_use]
    pub fn rim_na(&self, part: usize) -> f64 {
        let lens = match &self.parts[part].kind {
            PartKind::Condenser(_) => self.condenser(),
            _ => self.objective(),
        };
        lens.map_or(1.0, |(_, lens)| lens.na)
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

    /// Whether the stack can be run at these wavelengths.
    ///
    /// # Errors
    /// The first [`PathError`] found: a missing part, an impossible order, rays too steep for a medium.
    pub fn check(&self, wavelengths_nm: &[f64]) -> Result<(), PathError> {
        self.check_order()?;
        self.check_media(wavelengths_nm)
    }

    fn check_order(&self) -> Result<(), PathError> {
        let mut seen: Vec<&'static str> = Vec::new();
        for (part, Part { kind, .. }) in self.parts.iter().enumerate() {
            let what = kind.word();
            let had = |word: &str| seen.contains(&word);
            let order = |wrong, remedy| {
                Err(PathError::Order {
                    part,
                    what,
                    wrong,
                    remedy,
                })
            };
            let most = match what {
                "condenser" => 2,
                "slide" | "objective" | "analyzer" => 1,
                _ => usize::MAX,
            };
            if seen.iter().filter(|word| **word == what).count() >= most {
                let most = if most == 1 { "one" } else { "at most two" };
                return Err(PathError::Twice { part, what, most });
            }
            if had("analyzer") {
                return order(
                    "after the analyzer",
                    "the analyzer is the last part of the stack",
                );
            }
            let below_objective = matches!(
                kind,
                PartKind::Polarizer(_)
                    | PartKind::Condenser(_)
                    | PartKind::Slide(_)
                    | PartKind::Specimen(_)
            );
            if matches!(kind, PartKind::Polarizer(_)) && had("objective") {
                return order(
                    "after the objective",
                    "the sheet above the objective is the analyzer: write `analyzer = { ... }`",
                );
            }
            if below_objective && had("objective") {
                return order(
                    "after the objective",
                    "parts are listed in the order of the light: put it before the objective",
                );
            }
            if matches!(kind, PartKind::Condenser(_)) && (had("slide") || had("specimen")) {
                return order(
                    "after the slide or specimen",
                    "parts are listed in the order of the light: put it before them",
                );
            }
            let contact = match kind {
                PartKind::Polarizer(polar) | PartKind::Analyzer(polar) => polar.contact,
                _ => None,
            };
            let follows = self.parts.get(part + 1).map(|part| &part.kind);
            if contact.is_some() && !matches!(follows, Some(PartKind::Slide(_))) {
                return Err(PathError::NoContact { part });
            }
            seen.push(what);
        }
        if let (Some((part, first)), Some((index, last))) =
            (self.condensers().next(), self.condenser())
            && part < index
            && first.na / first.immersion >= last.na / last.immersion
        {
            let angle_rad = |lens: &Lens| (lens.na / lens.immersion).asin();
            return Err(PathError::Narrowing {
                part,
                angle_rad: angle_rad(first),
                next_rad: angle_rad(last),
            });
        }
        for (what, remedy) in [
            (
                "polarizer",
                "crossed polars need a lower polar: add a part with `polarizer = { ... }` below the specimen",
            ),
            (
                "analyzer",
                "crossed polars need one: add a last part with `analyzer = { ... }`",
            ),
        ] {
            if !seen.contains(&what) {
                return Err(PathError::Missing { what, remedy });
            }
        }
        if self.objective().is_none() && self.view_na.is_none() {
            return Err(PathError::Missing {
                what: "objective",
                remedy: "add one, or say with `[view] na = ...` how wide the eye or camera looks",
            });
        }
        Ok(())
    }

    fn check_media(&self, wavelengths_nm: &[f64]) -> Result<(), PathError> {
        let na = self.na();
        for (part, Part { kind, .. }) in self.parts.iter().enumerate() {
            let na = match kind {
                PartKind::Condenser(lens) => na * lens.na / self.rim_na(part),
                _ if self.is_oblique(part) => na * self.steepness(part),
                _ => na,
            };
            let steep = |index: f64, medium| {
                // NaN counts as too steep.
                if na < index {
                    Ok(())
                } else {
                    Err(PathError::TooSteep {
                        part,
                        na,
                        index,
                        medium,
                    })
                }
            };
            match kind {
                PartKind::Condenser(lens) | PartKind::Objective(lens) => {
                    steep(lens.immersion, "its immersion medium")?;
                    let deviation_rad = self.deviation_rad(part, self.na());
                    for &wavelength_nm in wavelengths_nm {
                        lens.amplitudes(deviation_rad, wavelength_nm, 1.0)
                            .map_err(|source| PathError::Lens { part, source })?;
                        lens.strain_factor(wavelength_nm)
                            .map_err(|source| PathError::Table { part, source })?;
                    }
                    // A rectangle holds a disc when it holds the disc's four outermost points.
                    let rim = na / lens.na;
                    for (x, y) in [(rim, 0.0), (-rim, 0.0), (0.0, rim), (0.0, -rim)] {
                        if lens.strain.iter().any(|strain| strain.at(x, y).is_none()) {
                            return Err(PathError::MapUncovered { part, x, y });
                        }
                    }
                }
                PartKind::Slide(slide) => {
                    let (below, above) = self.media(part);
                    steep(below, "the medium below the slide")?;
                    steep(above, "the medium above the slide")?;
                    for &wavelength_nm in wavelengths_nm {
                        steep(slide.glass.at(wavelength_nm), "slide or cover glass")?;
                        steep(slide.mount.at(wavelength_nm), "mounting medium")?;
                    }
                }
                PartKind::Polarizer(polar) | PartKind::Analyzer(polar) if self.is_oblique(part) => {
                    let (below, above) = self.media(part);
                    steep(polar.sheet.index, "the film")?;
                    steep(below, "the medium around the film")?;
                    steep(above, "the medium between film and slide")?;
                }
                PartKind::Specimen(
                    Specimen::Plate { crystal, .. } | Specimen::Across { crystal, .. },
                ) => {
                    for &wavelength_nm in wavelengths_nm {
                        steep(crystal.ordinary.at(wavelength_nm), "the crystal")?;
                        steep(crystal.extraordinary.at(wavelength_nm), "the crystal")?;
                    }
                }
                _ => {}
            }
        }
        Ok(())
    }
}
