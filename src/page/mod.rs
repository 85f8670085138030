//! The browser's door: a request as JSON comes in, an answer as JSON goes out, pictures as pixels in it.
//!
//! The live page (`page/`) sends every change of the stack through [`answer`]. A request never depends on an earlier one, so that a page can drop
//! what is stale. Requests and answers are listed at [`Request`].
//!
//! # Examples
//! ```
//! let text = std::fs::read_to_string("scenarios/pond-life.toml").unwrap();
//! let request = serde_json::json!({ "do": "predict", "text": text, "exact": true });
//! let answer = polstack::page::answer(&request.to_string(), &|_| ());
//! let answer: serde_json::Value = serde_json::from_str(&answer).unwrap();
//! assert!((answer["extinction_ratio"].as_f64().unwrap() - 500.72).abs() < 0.01);
//! assert!(answer.get("leak").is_none());
//! ```

mod change;
mod outline;
mod picture;
mod scale;
mod stack;

use std::sync::atomic::AtomicBool;

use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use self::stack::{Refused, Stack};
use crate::material::{SODIUM_NM, catalog};
use crate::output::{FitReport, ambiguities, csv, findings, json as document};
use crate::scenario::edit::{Edit, edited};
use crate::scenario::parse_readings;
use crate::study::doubt::{Doubt, Stands, doubt, stands_of};
use crate::study::draws::{Plan, Watch};
use crate::study::fit::{BlameShare, FitQuestion, blame_over, fit};
use crate::study::predict::{Prediction, predict, predict_without_shares};
use crate::study::unknown::Unknowns;

/// What the page asks.
#[derive(Debug, Deserialize)]
#[serde(tag = "do", rename_all = "lowercase")]
pub enum Request {
    /// The names that a scenario may use: `{ sources, sheets, glasses, crystals, active, biaxials, plates, specimens, objects, coatings, immersions }`, each
    /// `[{ name, about }]`. `crystals` have one optic axis, `active` are those of them that turn light; `biaxials` have two, and `acute` says which axis
    /// of the indicatrix halves the acute angle between these; `objects` are the elongated ones.
    Catalog,
    /// `{ title, document, parts, notes, caution }`: what rows are built from.
    Outline(Stack),
    /// `{ text }`: the scenario with some changes, comments and order kept.
    Edit {
        /// The scenario.
        text: String,
        /// The changes, one after the other.
        edits: Vec<Edit>,
    },
    /// The document of `polstack predict --json`; without `shares` it has no `leak`, with `exact` no `doubt`.
    Predict {
        /// The stack.
        #[serde(flatten)]
        stack: Stack,
        /// Whether the leak is taken apart.
        #[serde(default)]
        shares: bool,
    },
    /// `{ doubt, median_leads }`: the doubt of a prediction says how far its extinction ratio can be trusted, null where nothing is left open; the
    /// median leads where the ratio as written lies off the middle.
    Doubt(Stack),
    /// `{ shares: [{ part, cause, share: { low, median, high }, largest }] }`: how sure the shares of the leak are, as far as the parts are known;
    /// empty where nothing is left open.
    Sure(Stack),
    /// What follows a moving hand: `{ extinction_ratio, background, spectrum, plane: { size, pixels, na, extinction_center, levels, sentence, scale } }`.
    Frame {
        /// The stack.
        #[serde(flatten)]
        stack: Stack,
        /// Which view.
        #[serde(flatten)]
        view: picture::PlaneView,
    },
    /// The field with an invented specimen: `{ size, pixels, width_um, exposure, objects, sentence }`.
    Field {
        /// The stack.
        #[serde(flatten)]
        stack: Stack,
        /// Which view.
        #[serde(flatten)]
        view: picture::FieldRequest,
    },
    /// The interference scale of this stack: `{ path_difference_nm, without_plate, with_plate, names, names_with_plate, orders_nm, marker_nm, marker_name }`.
    Scale {
        /// The stack.
        #[serde(flatten)]
        stack: Stack,
        /// Where it ends.
        #[serde(default = "scale::usual_end")]
        to_nm: f64,
    },
    /// `{ words }`: what changed from one stack to another.
    Compare {
        /// The stack before.
        before: Stack,
        /// The stack after.
        after: Stack,
    },
    /// The document of `polstack fit --json`, with `words`.
    Fit {
        /// The stack.
        #[serde(flatten)]
        stack: Stack,
        /// The readings as CSV.
        readings: String,
        /// How many stands are drawn.
        #[serde(default = "usual_draws")]
        draws: u32,
        /// Which.
        #[serde(default = "usual_seed")]
        seed: u64,
    },
    /// `{ csv }`: the spectra, or with `readings` what a fit told.
    Csv {
        /// The stack.
        #[serde(flatten)]
        stack: Stack,
        /// "spectra" or "shares".
        name: String,
    },
}

fn usual_draws() -> u32 {
    2000
}

fn usual_seed() -> u64 {
    1
}

/// Fewest and most stands of a fit.
const DRAWS: (u32, u32) = (100, 20_000);

/// Answers a request; `progress` hears percent of a long work. What is wrong comes back as `{ error: { message, remedy, line, column, key, part,
/// rendered } }`.
///
/// Checked by: `tests/page`.
#[must_use]
pub fn answer(request: &str, progress: &(dyn Fn(usize) + Sync)) -> String {
    let answered = match serde_json::from_str(request) {
        Ok(request) => answered(&request, progress),
        Err(error) => Err(Refused::saying(format!("this is no request: {error}"))),
    };
    answered.unwrap_or_else(|refused| text(&json!({ "error": refused })))
}

fn text(value: &impl Serialize) -> String {
    // Plain numbers and strings: writing them to memory cannot fail.
    serde_json::to_string(value).unwrap_or_default()
}

fn answered(request: &Request, progress: &(dyn Fn(usize) + Sync)) -> Result<String, Refused> {
    Ok(match request {
        Request::Catalog => text(&names()),
        Request::Outline(stack) => text(&outline::outline(stack)?),
        Request::Edit {
            text: scenario,
            edits,
        } => text(&json!({ "text": edited(scenario, edits).map_err(Refused::saying)? })),
        Request::Predict { stack, shares } => prediction(stack, *shares)?,
        Request::Doubt(stack) => {
            let doubt = doubted(stack, &stack.read()?)?;
            let median_leads = doubt.as_ref().is_some_and(Doubt::median_leads);
            text(&json!({ "doubt": doubt, "median_leads": median_leads }))
        }
        Request::Sure(stack) => text(&json!({ "shares": sure(stack)? })),
        Request::Frame { stack, view } => text(&picture::frame(stack, *view)?),
        Request::Field { stack, view } => text(&picture::field(stack, view)?),
        Request::Scale { stack, to_nm } => text(&scale::scale(stack, *to_nm)?),
        Request::Compare { before, after } => {
            text(&json!({ "words": change::words(before, after)? }))
        }
        Request::Fit {
            stack,
            readings,
            draws,
            seed,
        } => fitted(stack, readings, (*draws, *seed), progress)?,
        Request::Csv { stack, name } => {
            let answer = predict(&stack.read()?.scene)?;
            let rows = match name.as_str() {
                "shares" => csv::shares(&answer),
                _ => csv::prediction(&answer),
            };
            text(&json!({ "csv": rows }))
        }
    })
}

fn names() -> Value {
    let some = |name: &str, wanted: &dyn Fn(&str) -> bool| -> Value {
        (catalog::entries().iter())
            .filter(|entry| entry.group == name && wanted(entry.name))
            .map(|entry| json!({ "name": entry.name, "about": entry.values }))
            .collect()
    };
    let group = |name: &str| some(name, &|_| true);
    let turns_light = |name: &str| catalog::crystal(name).is_some_and(|own| own.rotation.is_some());
    let is_elongated = |name: &str| catalog::elongated(name).is_some();
    let mut biaxials = group("biaxial crystal");
    for entry in biaxials.as_array_mut().into_iter().flatten() {
        let crystal = entry["name"].as_str().and_then(catalog::biaxial);
        let is_positive = crystal.is_some_and(|own| own.is_positive(SODIUM_NM));
        entry["acute"] = json!(if is_positive { "z" } else { "x" });
    }
    json!({
        "sources": group("lamp"),
        "sheets": group("sheet"),
        "glasses": group("glass"),
        "crystals": group("crystal"),
        "active": some("crystal", &turns_light),
        "biaxials": biaxials,
        "plates": group("plate"),
        "specimens": group("specimen"),
        "objects": some("specimen", &is_elongated),
        "coatings": group("coating"),
        "immersions": group("immersion"),
    })
}

/// A prediction as the command makes it.
fn predicted(stack: &Stack, shares: bool) -> Result<(Prediction, stack::Read), Refused> {
    let read = stack.read()?;
    let scene = &read.scene;
    let mut answer = match shares {
        true => predict(scene)?,
        false => predict_without_shares(scene)?,
    };
    answer.doubt = doubted(stack, &read)?;
    Ok((answer, read))
}

/// How far the extinction ratio can be trusted.
fn doubted(stack: &Stack, read: &stack::Read) -> Result<Option<Doubt>, Refused> {
    if stack.exact {
        return Ok(None);
    }
    let open = || Stands::of_file(&read.scene.path);
    Ok(doubt(&read.scene, &stands_of(read.stands.as_ref(), open))?)
}

fn prediction(stack: &Stack, shares: bool) -> Result<String, Refused> {
    let (answer, read) = predicted(stack, shares)?;
    let whole = document::answer(&read.title, &answer, &read.notes);
    if shares {
        return Ok(whole);
    }
    let mut value: Value = serde_json::from_str(&whole).unwrap_or_default();
    if let Some(object) = value.as_object_mut() {
        object.remove("leak");
    }
    Ok(text(&value))
}

/// Stands over which it is told how sure the shares are: enough for percents.
const SURE_STANDS: usize = 200;

/// The shares over some of the stands that a prediction's doubt is about.
fn sure(stack: &Stack) -> Result<Vec<BlameShare>, Refused> {
    let read = stack.read()?;
    let open = || Stands::of_file(&read.scene.path);
    let stands = stands_of(read.stands.as_ref(), open);
    if stack.exact || stands.unknowns.list.is_empty() || stands.points.is_empty() {
        return Ok(Vec::new());
    }
    let stride = stands.points.len().div_ceil(SURE_STANDS);
    let some: Vec<Vec<f64>> = stands.points.iter().step_by(stride).cloned().collect();
    // The page stops this as it stops a fit.
    let stop = AtomicBool::new(false);
    let watch = Watch {
        progress: &|_| (),
        stop: &stop,
    };
    blame_over(&read.scene, &stands.unknowns, &some, watch)
        .map_err(|error| Refused::saying(error.to_string()))
}

fn fitted(
    stack: &Stack,
    readings: &str,
    (draws, seed): (u32, u64),
    progress: &(dyn Fn(usize) + Sync),
) -> Result<String, Refused> {
    let read = stack.read()?;
    let mut readings = parse_readings(readings, "readings", &read.scene)?;
    // The page numbers its readings, and the first line of the text names the columns.
    let lines =
        (readings.taken.iter_mut().map(|reading| &mut reading.line)).chain(&mut readings.unfilled);
    lines.for_each(|line| *line = line.saturating_sub(1));
    let taken = &readings.taken;
    let unknowns = Unknowns::of_readings(&read.scene.path, taken.iter().map(|r| &r.setting));
    let question = FitQuestion::new(Plan {
        draws: draws.clamp(DRAWS.0, DRAWS.1) as usize,
        seed,
    });
    // The page stops a fit by ending the worker that runs it.
    let stop = AtomicBool::new(false);
    let watch = Watch {
        progress,
        stop: &stop,
    };
    let answer = fit(&read.scene, &unknowns, taken, &question, watch)
        .map_err(|error| Refused::saying(error.to_string()))?;
    let report = FitReport::new(answer);
    let whole = document::fit(&read.title, &report, &readings.after(&read.notes));
    let mut value: Value = serde_json::from_str(&whole).unwrap_or_default();
    value["words"] = json!([findings(&report), ambiguities(&report.answer)].concat());
    Ok(text(&value))
}
