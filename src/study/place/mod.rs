//! Where in the stack does the lower polar belong, and what would change that?
//!
//! # Examples
//! ```
//! let scene = polstack::scenario::read("scenarios/sheet-below-condenser.toml".as_ref()).unwrap().scene;
//! let answer = polstack::study::place::place(&scene, false, 1000.0)?;
//! let dry = answer.without_oil.as_ref().unwrap();
//! assert_eq!(answer.lower[dry.best].placed.place.words(), "above the condenser");
//! # Ok::<(), polstack::study::StudyError>(())
//! ```

mod bench;
mod contest;
mod notes;
mod pictures;
mod places;
mod strain;

use serde::{Serialize, Serializer};

use self::bench::PlaceBench;
use self::contest::PlaceLight;
use super::StudyError;
use super::interval::Interval;
use super::lamp::Lamp;
use super::leak::Leak;
use super::predict::{SpectralError, step_error};
use crate::color::ColorError;
use crate::light_path::{Crossing, LightPath};
use crate::scene::Scene;

pub use notes::{FADES_CELSIUS, Note, PolarAccess, SHEET_MM};
pub use pictures::{Picture, pictures};
pub use places::{OIL_INDEX, Place, PlacedPath, Refusal, analyzer_places, places};
pub use strain::{Amount, ProfileAmount, StrainFlip};

/// Extinction ratios closer than this, relatively, are hardly a difference at the bench. Common practice, no source.
pub const HARDLY: f64 = 0.05;

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Placement {
    /// NA of the direct light as the scenario has it.
    pub na: f64,
    /// How the polars stand to each other.
    pub crossing: Crossing,
    /// What the step between the wavelengths leaves in doubt.
    pub spectral_error: SpectralError,
    /// Iris settings: steps of 0.05, the scenario's own and the full NA, rising.
    pub iris_na: Vec<f64>,
    /// The places of the lower polar, from the lamp up.
    pub lower: Vec<PlaceAnswer>,
    /// The places of the analyzer, with the lower polar where it is written, if asked for.
    pub analyzer: Vec<PlaceAnswer>,
    /// What was found out about the condenser's strain; `None` without a condenser.
    pub strain: Option<StrainTried>,
    /// Which of all places is best, and what changes that.
    pub verdict: BestPlace,
    /// The same without a place that needs oil under the slide; `None` where there is none.
    pub without_oil: Option<BestPlace>,
    /// The lens that is taken to have the strain of all lenses between the polars, where nothing told which of them has it: left to the caller. No place is
    /// decided then.
    pub summed_in: Option<String>,
}

impl Placement {
    /// Takes what is known of its places.
    pub fn take(&mut self, known: PlacesKnown) {
        for (place, known) in self.lower.iter_mut().zip(known.known) {
            place.known = known;
        }
        self.verdict.odds = Some(known.odds);
        if let Some(dry) = &mut self.without_oil {
            dry.odds = known.without_oil;
        }
    }

    /// A place at the scenario's own iris; `None` where the polar cannot stand there.
    #[must_use]
    pub fn own<'a>(&self, place: &'a PlaceAnswer) -> Option<&'a AtIris> {
        let own = self.iris_na.iter().position(|na| *na == self.na)?;
        place.at_iris[own].as_ref()
    }
}

/// Which of some places of the lower polar is best. Places are named by their index in [`Placement::lower`].
#[derive(Debug, Clone, PartialEq)]
pub struct BestPlace {
    /// The places that were compared: those that differ in light.
    pub rivals: Vec<usize>,
    /// The best at the scenario's own iris. A tie goes to the written place.
    pub best: usize,
    /// Why the polar is not worth moving at the scenario's own iris; `None` where it is.
    pub no_best: Option<NoBest>,
    /// The best at each of [`Placement::iris_na`]; `None` where the polar can stand nowhere.
    pub best_at: Vec<Option<usize>>,
    /// Every iris at which that changes, rising.
    pub iris_flips: Vec<IrisFlip>,
    /// The best at the scenario's own iris with no strain in the condenser; `None` without a condenser.
    pub best_unstrained: Option<usize>,
    /// Every strain of the condenser at which that changes, rising.
    pub strain_flips: Vec<StrainFlip>,
    /// How probably each place is the best as far as the parts are known: left to [`super::doubt`].
    pub odds: Option<PlaceOdds>,
}

/// How probably each of some places is the best at the scenario's own iris, over stands as they may be as far as the parts are known.
#[derive(Debug, Clone, PartialEq)]
pub struct PlaceOdds {
    /// Places by their index in [`Placement::lower`], each with the part of the stands in which no other of these places is darker.
    pub best_probability: Vec<(usize, f64)>,
    /// The unknown number that tells most of which of the two most probable places is darker; `None` where none tells much.
    pub hangs_on: Option<String>,
}

impl PlaceOdds {
    /// The most probable place, with its probability.
    #[must_use]
    pub fn first(&self) -> Option<(usize, f64)> {
        (self.best_probability.iter()).fold(None, |best, next| match best {
            Some((_, most)) if next.1 <= most => best,
            _ => Some(*next),
        })
    }
}

/// Why no place of the lower polar is called best.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum NoBest {
    /// The polars are not crossed, and no place mends that.
    NotCrossed,
    /// There are several, and all are within [`HARDLY`] of the best.
    AllAlike,
}

/// One place of a polar.
#[derive(Debug, Clone, PartialEq)]
pub struct PlaceAnswer {
    /// The place and its stack; `refused` tells of the scenario's own iris.
    pub placed: PlacedPath,
    /// The light at each iris of [`Placement::iris_na`]; `None` where the polar cannot stand there.
    pub at_iris: Vec<Option<AtIris>>,
    /// What else to know.
    pub notes: Vec<Note>,
    /// What is known of it at the scenario's own iris: left to [`super::doubt`].
    pub known: Option<PlaceKnown>,
}

/// What is known of a place at the scenario's own iris, over stands as they may be as far as the parts are known.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlaceKnown {
    /// The luminous extinction ratio; `None` where nothing leaks, and where all stands leak alike.
    pub extinction_ratio: Option<Interval>,
    /// The part of the stands that lie below the ratio computed from the file as written.
    pub below_as_written: f64,
}

/// What is known of the places of the lower polar.
#[derive(Debug, Clone, PartialEq)]
pub struct PlacesKnown {
    /// Of each place; `None` where the polar cannot stand there, and for a place that is no other than an earlier one.
    pub known: Vec<Option<PlaceKnown>>,
    /// Which of [`Placement::verdict`]'s rivals is the best.
    pub odds: PlaceOdds,
    /// Which of [`Placement::without_oil`]'s rivals is the best.
    pub without_oil: Option<PlaceOdds>,
}

/// A place at one iris setting, specimens and plates out.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AtIris {
    /// Numerical aperture of the iris.
    pub iris_na: f64,
    /// Luminous extinction ratio; `None` when nothing leaks.
    pub extinction_ratio: Option<f64>,
    /// Luminance of the crossed field over that of the parallel one, at this iris.
    pub relative_luminance: f64,
    /// Luminance of the parallel field's image over that of the scenario as it is written: transmittances times NA squared.
    pub parallel_luminance: f64,
    /// Estimated relative error of these.
    pub quadrature_error: f64,
    /// Where the leak comes from.
    #[serde(serialize_with = "shares")]
    pub leak: Leak,
}

/// A leak by its shares alone: what they add up to is told beside it.
fn shares<S: Serializer>(leak: &Leak, serializer: S) -> Result<S::Ok, S::Error> {
    leak.shares.serialize(serializer)
}

/// An iris setting at which the best place changes. JSON names the two places, and tells the ratio behind them (`output::json`).
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct IrisFlip {
    /// Its NA.
    pub iris_na: f64,
    /// What the quadratures leave it uncertain by.
    pub uncertainty: f64,
    /// Index of the place that is best below it.
    #[serde(skip)]
    pub from: usize,
    /// Index of the place that is best above it.
    #[serde(skip)]
    pub to: usize,
    /// Extinction ratio of both there; `None` when nothing leaks.
    #[serde(skip)]
    pub extinction_ratio: Option<f64>,
}

/// The strain of the condenser that was tried, at the scenario's own iris.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct StrainTried {
    /// Root mean square path difference over the used aperture as written, nm.
    pub written_rms_nm: f64,
    /// Whether no strain is written, and a radial one is assumed in every lens of the condenser.
    pub assumed: bool,
    /// The largest root mean square that was tried, nm.
    pub most_rms_nm: f64,
}

/// Compares the places of the lower polar and, if asked, of the analyzer. Specimens and plates are out.
///
/// `extinction_ratio` is the one for which [`Note::Oblique`] tells up to which NA the oblique rays of a sheet still leave it.
///
/// # Errors
/// [`StudyError`] when the path as written cannot be run or no light is seen.
///
/// Checked by: `tests/laws/place.rs`.
pub fn place(
    scene: &Scene,
    analyzer: bool,
    extinction_ratio: f64,
) -> Result<Placement, StudyError> {
    let Scene { path, source, grid } = scene;
    let lamp = Lamp::new(source, grid)?;
    let written = PlaceLight::of(&path.without_specimens(), &lamp)?;
    if written.parallel <= 0.0 {
        return Err(StudyError::Color(ColorError::NoLight {
            field: "parallel field",
            luminance: written.parallel,
        }));
    }
    let bench = PlaceBench::new(path, &lamp, written.parallel);
    let mut lower = bench.compare(places(path))?;
    for answer in &mut lower {
        if answer.placed.refused.is_none() {
            let light = |path: &LightPath| bench.light(path);
            answer.notes = notes::notes(&answer.placed, source, extinction_ratio, light);
        }
    }
    let strain = bench.strain(path, &lower)?;
    let stands = |place: &usize| lower[*place].at_iris.iter().any(Option::is_some);
    let differ: Vec<usize> = (0..lower.len())
        .filter(|place| lower[*place].placed.same_as.is_none() && stands(place))
        .collect();
    let oil =
        |place: &usize| matches!(lower[*place].placed.place, Place::UnderSlideImmersed { .. });
    let dry: Vec<usize> = differ.iter().copied().filter(|place| !oil(place)).collect();
    Ok(Placement {
        na: path.na(),
        crossing: path.crossing(),
        spectral_error: step_error(scene)?,
        verdict: bench.verdict(&lower, strain.as_ref(), &differ)?,
        without_oil: (dry.len() < differ.len() && !dry.is_empty())
            .then(|| bench.verdict(&lower, strain.as_ref(), &dry))
            .transpose()?,
        strain: strain.map(|strain| strain.tried()),
        analyzer: if analyzer {
            bench.compare(analyzer_places(path))?
        } else {
            Vec::new()
        },
        iris_na: bench.iris_na,
        lower,
        summed_in: None,
    })
}
