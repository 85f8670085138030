//! `polstack lens FILE...`.

use std::path::PathBuf;

use clap::Args;

use super::job::{Job, Shown};
use super::{Failure, number, one_standard_input, print, tell_apart};
use crate::material::catalog;
use crate::optics::prescription::{Form, FormError, Shape};
use crate::output::figure::lens_figure;
use crate::output::{csv, json, table};
use crate::study::lens::{LensAnswer, LensQuestion, lenses};

#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  polstack lens scenarios/moulded-parabolic.toml scenarios/moulded-spherical.toml\n\ncompares the condensers of two stands whose surfaces were measured: the NA that they reach, whether a filter can stand in the filter plane, how much room there is for sheet and slide, and what their surfaces leak."
)]
pub(super) struct LensArguments {
    /// Scenario files (TOML); several are compared side by side
    #[arg(required_unless_present = "from")]
    files: Vec<PathBuf>,
    /// Only the part of this name
    #[arg(long, value_name = "NAME", conflicts_with = "from")]
    part: Option<String>,
    /// Where a filter slot is, in mm behind the first surface (negative before it)
    #[arg(long, value_name = "MM", allow_hyphen_values = true, value_parser = millimetres)]
    slot_mm: Option<f64>,
    /// Thickness of the sheet above the last face, in mm: it draws the focus out a little; its own thickness is not taken off the room
    #[arg(long, value_name = "MM", default_value_t = 0.0, allow_negative_numbers = true, value_parser = thickness)]
    sheet_mm: f64,
    /// Thickness of the slide, in mm
    #[arg(long, value_name = "MM", default_value_t = 1.1, allow_negative_numbers = true, value_parser = thickness)]
    slide_mm: f64,
    /// Print a table of surfaces to start from instead, for a single lens of which a caliper and a data sheet say this much; shapes:
    /// plano-convex, biconvex, parabolic, aspheric
    #[arg(long, value_name = "diameter=MM,thickness=MM,focal=MM,glass=NAME,shape=SHAPE", conflicts_with_all = ["files", "json", "csv", "plots"])]
    from: Option<String>,
    #[command(flatten)]
    shown: Shown,
}

/// A place on the axis.
fn millimetres(text: &str) -> Result<f64, String> {
    (number(text).filter(|mm| mm.abs() <= 1000.0))
        .ok_or_else(|| "allowed: -1000 to 1000 mm, such as -6".to_owned())
}

fn thickness(text: &str) -> Result<f64, String> {
    (number(text).filter(|mm| (0.0..=20.0).contains(mm)))
        .ok_or_else(|| "allowed: 0 to 20 mm, such as 1.1".to_owned())
}

pub(super) fn run(arguments: &LensArguments) -> Result<(), Failure> {
    if let Some(from) = &arguments.from {
        return print(starter(from).map_err(|why| Failure::Lens(format!("--from: {why}")))?);
    }
    one_standard_input(&arguments.files)?;
    let question = LensQuestion {
        slot_mm: arguments.slot_mm,
        sheet_mm: arguments.sheet_mm,
        slide_mm: arguments.slide_mm,
    };
    let mut answers: Vec<(String, Vec<LensAnswer>)> = Vec::new();
    let Some(first) = arguments.files.first() else {
        return Ok(());
    };
    let job = Job::about(first, &arguments.shown);
    for file in &arguments.files {
        let job = Job::about(file, &arguments.shown);
        let scenario = job.read(file)?;
        let all = job.work("tracing rays", || lenses(&scenario.scene, &question))?;
        let some: Vec<LensAnswer> = (all.iter())
            .filter(|lens| {
                arguments
                    .part
                    .as_ref()
                    .is_none_or(|part| lens.part == *part)
            })
            .cloned()
            .collect();
        if some.is_empty() {
            let names: Vec<&str> = all.iter().map(|lens| lens.part.as_str()).collect();
            return Err(Failure::Lens(format!(
                "{}: no lens told by its surfaces is called {:?}; there are: {}",
                file.display(),
                arguments.part.as_deref().unwrap_or_default(),
                names.join(", ")
            )));
        }
        answers.push((scenario.title, some));
    }
    tell_apart(&mut answers, &arguments.files);
    job.draw(|| {
        let many = answers.len() > 1;
        // A condenser of two lenses is drawn as a whole.
        let drawn: Vec<(String, &LensAnswer)> = (answers.iter())
            .flat_map(|(title, lenses)| {
                let whole = |lens: &&LensAnswer| !lens.by_itself;
                lenses.iter().filter(whole).map(move |lens| match many {
                    true => (format!("{title}: {}", lens.part), lens),
                    false => (lens.part.clone(), lens),
                })
            })
            .collect();
        let title = match &answers[..] {
            [(title, _)] => title.as_str(),
            _ => "Lenses side by side",
        };
        Ok(vec![lens_figure(title, &drawn, question.slide_mm)?])
    })?;
    job.print(
        || json::lenses(&answers),
        || csv::lenses(&answers),
        || table::lenses(&answers, job.quiet),
    )
}

/// A table of surfaces to start from.
fn starter(from: &str) -> Result<String, String> {
    let mut form = (None, None, None, None, None);
    let mut keys: Vec<&str> = Vec::new();
    for pair in from.split(',') {
        let (key, value) = pair.split_once('=').ok_or_else(|| {
            format!("{pair:?} is no key=value; write diameter=28,thickness=11,focal=18,glass=B270,shape=parabolic")
        })?;
        let (key, value) = (key.trim(), value.trim());
        if keys.contains(&key) {
            return Err(format!("{key} is given twice; give it once"));
        }
        keys.push(key);
        let length = || {
            (number(value).filter(|mm| (1e-3..=1000.0).contains(mm)))
                .ok_or_else(|| format!("{key} = {value}: allowed: 0.001 to 1000 mm"))
        };
        match key {
            "diameter" => form.0 = Some(length()?),
            "thickness" => form.1 = Some(length()?),
            "focal" => form.2 = Some(length()?),
            "glass" => {
                form.3 = Some(catalog::glass(value).ok_or_else(|| {
                    let like = catalog::nearest("glass", value)
                        .map_or_else(String::new, |name| format!(" (perhaps {name})"));
                    format!("glass = {value}: no glass of the catalog{like}; `polstack catalog` lists them all")
                })?);
            }
            "shape" => {
                form.4 = Some(match value {
                    "plano-convex" => Shape::PlanoConvex,
                    "biconvex" => Shape::Biconvex,
                    "parabolic" => Shape::Parabolic,
                    "aspheric" => Shape::Aspheric,
                    _ => {
                        return Err(format!(
                            "shape = {value}: allowed: plano-convex, biconvex, parabolic, aspheric"
                        ));
                    }
                });
            }
            _ => {
                return Err(format!(
                    "{key} is none of diameter, thickness, focal, glass, shape"
                ));
            }
        }
    }
    let (Some(diameter_mm), Some(thickness_mm), Some(focal_length_mm), Some(glass), Some(shape)) =
        form
    else {
        let missing = [
            (form.0.is_none(), "diameter"),
            (form.1.is_none(), "thickness"),
            (form.2.is_none(), "focal"),
            (form.3.is_none(), "glass"),
            (
                form.4.is_none(),
                "shape (plano-convex, biconvex, parabolic or aspheric)",
            ),
        ];
        let missing: Vec<&str> = (missing.iter()).filter(|m| m.0).map(|m| m.1).collect();
        return Err(format!("missing: {}", missing.join(", ")));
    };
    let form = Form {
        diameter_mm,
        thickness_mm,
        focal_length_mm,
        glass,
        shape,
    };
    let surfaces = (form.surfaces()).map_err(|error| with_form_remedy(&form, &error))?;
    Ok(csv::prescription(&form, &surfaces))
}

/// Why there is no such lens, and what to do where it is too thin.
fn with_form_remedy(form: &Form, error: &FormError) -> String {
    let FormError::TooThin { needed_mm, .. } = *error else {
        return error.to_string();
    };
    let parabolic = Form {
        shape: Shape::Parabolic,
        ..form.clone()
    };
    let less = match parabolic.surfaces() {
        Ok(_) => "; shape=parabolic goes with these numbers".to_owned(),
        Err(FormError::TooThin {
            needed_mm: less, ..
        }) if less < needed_mm => {
            format!("; shape=parabolic needs less, {less:.2} mm")
        }
        Err(_) => String::new(),
    };
    format!("{error}; measure thickness, diameter and focal length again{less}")
}
