//! `polstack start`.

use std::io::{self, BufRead, IsTerminal, Write};
use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::out_file::OutFile;
use super::{Failure, number, print, progress, refused};
use crate::material::catalog;
use crate::scenario::{CondenserKind, Memory, ObjectiveKind, Starter, StarterPlace, parse};

#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  polstack start --condenser moulded --objective-na 0.65 --out stand.toml\n\nwrites a scenario with typical values for what a builder cannot know, and says which these are.\n\n  polstack start --out stand.toml\n\nasks, on a terminal or line by line of the standard input. Then: polstack predict stand.toml"
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
    /// Numerical aperture that the iris is set to, or without a condenser within which the lamp lights the slide; nine tenths of what the lenses take
    /// unless given
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

impl CondenserWord {
    fn kind(self) -> CondenserKind {
        match self {
            Self::Moulded => CondenserKind::Moulded,
            Self::Ground => CondenserKind::Ground,
            Self::Corrected => CondenserKind::Corrected,
            Self::None => CondenserKind::None,
        }
    }
}

/// Kinds of objective, as words.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum ObjectiveWord {
    /// Corrected for two colours
    Achromat,
    /// Corrected for a flat field
    FlatField,
}

impl ObjectiveWord {
    fn kind(self) -> ObjectiveKind {
        match self {
            Self::Achromat => ObjectiveKind::Achromat,
            Self::FlatField => ObjectiveKind::FlatField,
        }
    }
}

/// Places of the lower polar, as words.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum PlaceWord {
    /// Below the condenser
    Below,
    /// Above it
    Above,
}

impl PlaceWord {
    fn place(self) -> StarterPlace {
        match self {
            Self::Below => StarterPlace::Below,
            Self::Above => StarterPlace::Above,
        }
    }
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
    let point = match text.contains(',') {
        true => ", with a point for the decimals",
        false => "",
    };
    (number(text).filter(|na| (0.01..=most).contains(na)))
        .ok_or_else(|| format!("allowed: 0.01 to {most}{point}"))
}

fn dry(text: &str) -> Result<f64, String> {
    within(text, 0.99).map_err(|allowed| match number(text) {
        Some(na) if na > 0.99 => format!(
            "{allowed}; a condenser that is engraved with more reaches that with oil, and about 0.9 in air"
        ),
        _ => allowed,
    })
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

    /// What the options say.
    fn starter(&self) -> Starter {
        Starter {
            title: self.title.clone(),
            lamp: self.lamp.clone(),
            condenser: self.condenser.map(CondenserWord::kind),
            condenser_na: self.condenser_na,
            objective: self.objective.map(ObjectiveWord::kind),
            objective_na: self.objective_na,
            iris_na: self.iris,
            sheet: self.sheet.clone(),
            polar: self.polar.map(PlaceWord::place),
            plate: self.plate.map(|word| word == Whether::Yes),
        }
    }
}

/// What the user answers; where the answer is empty nothing is known.
fn asked() -> Result<Starter, Failure> {
    let mut known = Starter {
        title: ask("What is the stand called", Starter::TITLE, |text| {
            Ok(text.to_owned())
        })?,
        lamp: ask_name("Lamp", "lamp", Starter::LAMP, lamp)?,
        condenser: ask(
            "Condenser: moulded, ground, corrected or none",
            "moulded",
            |text| word(text).map(CondenserWord::kind),
        )?,
        ..Starter::default()
    };
    let has_condenser = known.condenser != Some(CondenserKind::None);
    if has_condenser {
        known.condenser_na = ask(
            "Numerical aperture of the condenser, in air",
            &Starter::CONDENSER_NA.to_string(),
            dry,
        )?;
    }
    known.objective = ask("Objective: achromat or flat-field", "achromat", |text| {
        word(text).map(ObjectiveWord::kind)
    })?;
    known.objective_na = ask(
        "Numerical aperture of the objective",
        &Starter::OBJECTIVE_NA.to_string(),
        objective_na,
    )?;
    known.iris_na = ask(
        match has_condenser {
            true => "Numerical aperture that the iris is set to",
            false => "Numerical aperture within which the lamp lights the slide",
        },
        &known.iris().to_string(),
        dry,
    )?;
    known.sheet = ask_name("Polarizing sheet", "sheet", Starter::SHEET, sheet)?;
    if has_condenser {
        known.polar = ask(
            "Lower polar: below or above the condenser",
            "below",
            |text| word(text).map(PlaceWord::place),
        )?;
    }
    known.plate = ask("First-order plate: yes or no", "yes", |text| {
        word(text).map(|answer: Whether| answer == Whether::Yes)
    })?;
    Ok(known)
}

/// Asks for a name of the catalog.
fn ask_name(
    question: &str,
    group: &str,
    usual: &str,
    read: impl Fn(&str) -> Result<String, String>,
) -> Result<Option<String>, Failure> {
    let names = catalog::names(group).join(", ");
    let question = format!("{question}, by its name in polstack catalog ({names})");
    ask(&question, usual, read)
}

/// Asks on standard error; `None` for an empty answer, which stands for the usual one. On a terminal it asks until the answer is one. Where answers come
/// from elsewhere, a wrong one ends the questions, since the next line answers another. So does the end of the input.
fn ask<T>(
    question: &str,
    usual: &str,
    read: impl Fn(&str) -> Result<T, String>,
) -> Result<Option<T>, Failure> {
    loop {
        let mut terminal = io::stderr();
        // A terminal that takes no questions takes no answer either: the read below says so.
        let _ = write!(terminal, "{question} [{usual}]: ");
        let _ = terminal.flush();
        let mut line = String::new();
        let got = io::stdin().lock().read_line(&mut line)?;
        let on_terminal = io::stdin().is_terminal();
        if !on_terminal {
            // Nobody pressed Enter behind the question.
            let _ = writeln!(terminal);
        }
        if got == 0 {
            return Err(Failure::Start(
                "the questions were not all answered, nothing is written".to_owned(),
            ));
        }
        let answer = line.trim();
        if answer.is_empty() {
            return Ok(None);
        }
        match read(answer) {
            Ok(value) => return Ok(Some(value)),
            Err(allowed) => {
                let wrong = format!("{answer:?} is none of these; {allowed}");
                if !on_terminal {
                    return Err(Failure::Start(format!("{wrong}; nothing is written")));
                }
                progress::say(&wrong);
            }
        }
    }
}

/// Whether somebody is there to be asked: at a terminal, or with answers that come from elsewhere.
fn can_be_asked() -> Result<bool, Failure> {
    Ok(io::stdin().is_terminal() || !io::stdin().lock().fill_buf()?.is_empty())
}

pub(super) fn run(arguments: &StartArguments) -> Result<(), Failure> {
    let out = arguments.out.as_deref();
    if let Some(file) = out.filter(|file| file.exists()) {
        return Err(Failure::Start(format!(
            "{} is there already and is left alone: name another file, or take it away first",
            file.display()
        )));
    }
    let file = out.map(OutFile::of).transpose()?;
    arguments.needless()?;
    let mut starter = arguments.starter();
    if starter == Starter::default() && can_be_asked()? {
        starter = asked()?;
    }
    let text = starter.text();
    // What is written can be read: an iris wider than the condenser, say, is refused here.
    parse(&text, "the starter scenario", &Memory::default())?;
    let Some((out, file)) = out.zip(file) else {
        return print(text);
    };
    let wrote = file.write(&text)?;
    let below_header = text.lines().skip_while(|line| !line.starts_with("title"));
    let typical = below_header.filter(|line| line.contains("typical")).count();
    progress::say(&format!(
        "{wrote}; {typical} lines hold typical values in place of yours: look for \"typical\". Next: polstack predict {}",
        out.display()
    ));
    Ok(())
}
