//! `polstack start`.

use std::io::{self, BufRead, IsTerminal, Write};
use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::page::before_writing;
use super::{Failure, number, print, progress, refused};
use crate::material::catalog;
use crate::output::figure::write_files;
use crate::scenario::{CondenserKind, Memory, ObjectiveKind, Starter, StarterPlace, parse};

#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  polstack start --condenser moulded --objective-na 0.65 --out stand.toml\n\nwrites a scenario with typical values for what a builder cannot know, and says which these are.\n\n  polstack start --out stand.toml\n\nasks on a terminal. Then: polstack predict stand.toml"
)]
pub(super) struct StartArguments {
    /// Where the scenario goes; standard output unless given. A file that is there already is left alone
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// What the stand is called
    #[arg(long, value_name = "TEXT")]
    title: Option<String>,
    /// The lamp, by its name in the catalog
    #[arg(long, value_name = "NAME", value_parser = lamp)]
    lamp: Option<String>,
    /// The condenser
    #[arg(long, value_enum)]
    condenser: Option<CondenserWord>,
    /// Numerical aperture of the condenser, in air
    #[arg(long, value_name = "NA", allow_negative_numbers = true, value_parser = dry)]
    condenser_na: Option<f64>,
    /// The objective
    #[arg(long, value_enum)]
    objective: Option<ObjectiveWord>,
    /// Numerical aperture of the objective; from 1 on it is immersed in oil
    #[arg(long, value_name = "NA", allow_negative_numbers = true, value_parser = objective_na)]
    objective_na: Option<f64>,
    /// Numerical aperture that the iris is set to; nine tenths of what condenser and objective take unless given
    #[arg(long, value_name = "NA", allow_negative_numbers = true, value_parser = dry)]
    iris: Option<f64>,
    /// The polarizing sheet, by its name in the catalog
    #[arg(long, value_name = "NAME", value_parser = sheet)]
    sheet: Option<String>,
    /// Where the lower polar stands, below or above the condenser
    #[arg(long, value_enum)]
    polar: Option<PlaceWord>,
    /// Whether there is a first-order plate
    #[arg(long, value_enum)]
    plate: Option<Whether>,
}

/// Kinds of condenser, as words.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum CondenserWord {
    /// One or two moulded lenses
    Moulded,
    /// Two ground lenses without coating
    Ground,
    /// Corrected for colour, coated
    Corrected,
    /// None: the lamp lights the slide
    None,
}

/// Kinds of objective, as words.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum ObjectiveWord {
    /// Corrected for two colours
    Achromat,
    /// Corrected for a flat field
    FlatField,
}

/// Places of the lower polar, as words.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum PlaceWord {
    /// Below the condenser
    Below,
    /// Above it
    Above,
}

/// Yes or no.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Whether {
    /// There is one
    Yes,
    /// There is none
    No,
}

fn within(text: &str, most: f64) -> Result<f64, String> {
    (number(text).filter(|na| (0.01..=most).contains(na)))
        .ok_or_else(|| format!("allowed: 0.01 to {most}"))
}

fn dry(text: &str) -> Result<f64, String> {
    within(text, 0.99)
}

fn objective_na(text: &str) -> Result<f64, String> {
    within(text, 1.45)
}

fn of_catalog(group: &str, text: &str) -> Result<String, String> {
    let names = catalog::names(group);
    match names.contains(&text) {
        true => Ok(text.to_owned()),
        false => Err(format!("allowed: {}", names.join(", "))),
    }
}

fn lamp(text: &str) -> Result<String, String> {
    of_catalog("lamp", text)
}

fn sheet(text: &str) -> Result<String, String> {
    of_catalog("sheet", text)
}

fn word<W: ValueEnum>(text: &str) -> Result<W, String> {
    W::from_str(text, true).map_err(|_| {
        let words = W::value_variants().iter().filter_map(W::to_possible_value);
        let words: Vec<String> = words.map(|word| word.get_name().to_owned()).collect();
        format!("allowed: {}", words.join(", "))
    })
}

impl StartArguments {
    /// Whether any option says something of the stand.
    fn say_nothing(&self) -> bool {
        let Self {
            out: _,
            title,
            lamp,
            condenser,
            condenser_na,
            objective,
            objective_na,
            iris,
            sheet,
            polar,
            plate,
        } = self;
        let texts = [title, lamp, sheet].iter().all(|option| option.is_none());
        let numbers = [condenser_na, objective_na, iris]
            .iter()
            .all(|option| option.is_none());
        let words =
            condenser.is_none() && objective.is_none() && polar.is_none() && plate.is_none();
        texts && numbers && words
    }

    /// Refuses what has nothing to do with the stand that is asked for.
    fn needless(&self) -> Result<(), Failure> {
        if self.condenser != Some(CondenserWord::None) {
            return Ok(());
        }
        let why = "there is no condenser";
        match (self.condenser_na.is_some(), self.polar.is_some()) {
            (true, _) => Err(refused("--condenser-na", why, "leave out --condenser-na")),
            (_, true) => Err(refused(
                "--polar",
                &format!("{why} for the lower polar to stand below or above"),
                "leave out --polar",
            )),
            _ => Ok(()),
        }
    }

    /// What the options say; what they do not is as usual.
    fn starter(&self) -> Starter {
        let usual = Starter::default();
        Starter {
            title: self.title.clone().unwrap_or(usual.title),
            lamp: self.lamp.clone().unwrap_or(usual.lamp),
            condenser: self.condenser.map_or(usual.condenser, |word| match word {
                CondenserWord::Moulded => CondenserKind::Moulded,
                CondenserWord::Ground => CondenserKind::Ground,
                CondenserWord::Corrected => CondenserKind::Corrected,
                CondenserWord::None => CondenserKind::None,
            }),
            condenser_na: self.condenser_na.unwrap_or(usual.condenser_na),
            objective: self.objective.map_or(usual.objective, |word| match word {
                ObjectiveWord::Achromat => ObjectiveKind::Achromat,
                ObjectiveWord::FlatField => ObjectiveKind::FlatField,
            }),
            objective_na: self.objective_na.unwrap_or(usual.objective_na),
            iris_na: self.iris,
            sheet: self.sheet.clone().unwrap_or(usual.sheet),
            polar: self.polar.map_or(usual.polar, |word| match word {
                PlaceWord::Below => StarterPlace::Below,
                PlaceWord::Above => StarterPlace::Above,
            }),
            plate: self.plate.map_or(usual.plate, |word| word == Whether::Yes),
        }
    }

    /// What the user answers.
    fn asked(&self) -> Result<Self, Failure> {
        let usual = Starter::default();
        let condenser = ask(
            "Condenser: moulded, ground, corrected or none",
            "moulded",
            word::<CondenserWord>,
        )?;
        let condenser_na = match condenser {
            CondenserWord::None => None,
            _ => Some(ask("Numerical aperture of the condenser", "0.9", dry)?),
        };
        Ok(Self {
            out: self.out.clone(),
            title: Some(ask("What is the stand called", &usual.title, |text| {
                Ok(text.to_owned())
            })?),
            lamp: Some(ask("Lamp (a name of polstack catalog)", &usual.lamp, lamp)?),
            condenser: Some(condenser),
            condenser_na,
            objective: Some(ask(
                "Objective: achromat or flat-field",
                "achromat",
                word::<ObjectiveWord>,
            )?),
            objective_na: Some(ask(
                "Numerical aperture of the objective",
                "0.65",
                objective_na,
            )?),
            iris: None,
            sheet: Some(ask(
                "Polarizing sheet (a name of polstack catalog)",
                &usual.sheet,
                sheet,
            )?),
            polar: match condenser {
                CondenserWord::None => None,
                _ => Some(ask(
                    "Lower polar: below or above the condenser",
                    "below",
                    word::<PlaceWord>,
                )?),
            },
            plate: Some(ask("First-order plate: yes or no", "yes", word::<Whether>)?),
        })
    }
}

/// Asks on standard error until the answer is one; an empty answer is the usual one, and the end of the input ends the questions.
fn ask<T>(
    question: &str,
    usual: &str,
    read: impl Fn(&str) -> Result<T, String>,
) -> Result<T, Failure> {
    loop {
        let mut terminal = io::stderr();
        // A terminal that takes no questions takes no answer either: the read below says so.
        let _ = write!(terminal, "{question} [{usual}]: ");
        let _ = terminal.flush();
        let mut line = String::new();
        let got = io::stdin().lock().read_line(&mut line)?;
        if got == 0 {
            return Err(Failure::Start(
                "the questions were not answered, nothing is written".to_owned(),
            ));
        }
        let answer = match line.trim() {
            "" => usual,
            answer => answer,
        };
        match read(answer) {
            Ok(value) => return Ok(value),
            Err(allowed) => progress::say(&format!("{answer:?} is none of these; {allowed}")),
        }
    }
}

pub(super) fn run(arguments: &StartArguments) -> Result<(), Failure> {
    let out = arguments.out.as_deref();
    if let Some(file) = out.filter(|file| file.exists()) {
        return Err(Failure::Start(format!(
            "{} is there already and is left alone: name another file, or take it away first",
            file.display()
        )));
    }
    arguments.needless()?;
    let starter = match arguments.say_nothing() && io::stdin().is_terminal() {
        true => arguments.asked()?.starter(),
        false => arguments.starter(),
    };
    let text = starter.text();
    // What is written can be read: an iris wider than the condenser, say, is refused here.
    parse(&text, "the starter scenario", &Memory::default())?;
    let Some(file) = out else {
        return print(text);
    };
    let name = file
        .file_name()
        .map(|name| name.to_string_lossy().into_owned());
    let (Some(name), Some(folder)) = (name, file.parent()) else {
        return Err(Failure::Start("--out names no file".to_owned()));
    };
    let folder = match folder.as_os_str().is_empty() {
        true => std::path::Path::new("."),
        false => folder,
    };
    let before = before_writing(file, folder);
    write_files(folder, &[(name, text.as_bytes())])?;
    let typical = text.matches("# typical").count();
    progress::say(&format!(
        "wrote {}{before}; {typical} lines hold typical values in place of yours: look for \"typical\". Next: polstack predict {}",
        file.display(),
        file.display()
    ));
    Ok(())
}
