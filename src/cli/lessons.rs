//! `polstack lessons`.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::{Path, PathBuf};

use clap::Args;

use super::link::PageState;
use super::page::{Carried, carried, with_scenarios};
use super::{Failure, print, progress};
use crate::output::figure::{booklet, check_folder, write_files};
use crate::output::lesson::LessonRead;
use crate::output::sheet::escaped;
use crate::output::{json, table};
use crate::scenario::{Lesson, Memory, lesson_scenes, parse};
use crate::study::lesson::{LessonReading, read_lesson};

/// The lessons that the program carries: file and text.
const LESSONS: [(&str, &str); 8] = [
    (
        "1-malus.toml",
        include_str!("../../scenarios/lessons/1-malus.toml"),
    ),
    (
        "2-quarter-wave.toml",
        include_str!("../../scenarios/lessons/2-quarter-wave.toml"),
    ),
    (
        "3-the-cross-opens.toml",
        include_str!("../../scenarios/lessons/3-the-cross-opens.toml"),
    ),
    (
        "4-strained-condenser.toml",
        include_str!("../../scenarios/lessons/4-strained-condenser.toml"),
    ),
    (
        "5-slow-or-fast.toml",
        include_str!("../../scenarios/lessons/5-slow-or-fast.toml"),
    ),
    (
        "6-sign-of-a-crystal.toml",
        include_str!("../../scenarios/lessons/6-sign-of-a-crystal.toml"),
    ),
    (
        "7-how-dark-is-dark.toml",
        include_str!("../../scenarios/lessons/7-how-dark-is-dark.toml"),
    ),
    (
        "8-which-part.toml",
        include_str!("../../scenarios/lessons/8-which-part.toml"),
    ),
];

/// Name of the page that is written beside the lessons.
const PAGE_NAME: &str = "polstack.html";
/// Title of the booklet.
const TITLE: &str = "Lessons at crossed polars";

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  polstack lessons 3\n  polstack lessons --out lessons\n\nThe first shows a lesson with its answer; the second writes all of them: lessons.pdf to print, the scenarios, the live page with the lessons in it, and links.html with a link into that page for each.\nA lesson of your own is a scenario with a [lesson] table."
)]
pub(super) struct LessonsArguments {
    /// Lessons to show, by number from 1 to 8, or scenario files that are lessons; without any they are listed
    #[arg(value_name = "LESSON")]
    lessons: Vec<String>,
    /// Write these lessons into this directory, all eight where none is named: a booklet, scenarios, the live page and links into it
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
    /// Leave out cautions, hints and the progress display
    #[arg(long)]
    quiet: bool,
}

/// A lesson's scenario, and what it says.
struct ToldLesson {
    carried: Carried,
    lesson: Lesson,
}

pub(super) fn run(arguments: &LessonsArguments) -> Result<(), Failure> {
    let out = arguments.out.as_deref();
    out.map_or(Ok(()), check_folder)?;
    let all = match &arguments.lessons[..] {
        [] => (0..LESSONS.len()).map(own).collect::<Result<Vec<_>, _>>()?,
        named => named
            .iter()
            .map(|name| told(name))
            .collect::<Result<_, _>>()?,
    };
    let shows = !arguments.lessons.is_empty() || arguments.json;
    let read = match shows || out.is_some() {
        true => progress::shown("trying the lessons", arguments.quiet, || read(&all))?,
        false => Vec::new(),
    };
    if let Some(folder) = out {
        write(folder, &all, &read, arguments.quiet)?;
    }
    if arguments.json {
        return print(json::lessons(&read));
    }
    if !shows {
        let titles = all
            .iter()
            .map(|one| (&*one.carried.title, &*one.lesson.question));
        return match out {
            Some(_) => Ok(()),
            None => print(table::lesson_list(titles, arguments.quiet)),
        };
    }
    let shown = read.iter().map(|read| table::lesson(read, arguments.quiet));
    print(shown.collect::<Vec<_>>().join("\n"))
}

/// A lesson that the program carries.
fn own(place: usize) -> Result<ToldLesson, Failure> {
    let (name, text) = LESSONS[place];
    let name = format!("lessons/{name}");
    let scenario = parse(text, &name, &Memory::default())?;
    let carried = Carried {
        name,
        title: scenario.title,
        text: text.to_owned(),
        files: BTreeMap::new(),
    };
    with_lesson(carried, scenario.lesson)
}

/// A lesson by its number, or by its file.
fn told(name: &str) -> Result<ToldLesson, Failure> {
    if let Ok(number) = name.parse::<usize>() {
        return match number.checked_sub(1).filter(|place| *place < LESSONS.len()) {
            Some(place) => own(place),
            None => Err(Failure::Start(format!(
                "there is no lesson {name}; allowed: 1 to {}, or a file",
                LESSONS.len()
            ))),
        };
    }
    let carried = carried(Path::new(name))?;
    let files: Memory = carried.files.clone().into();
    let lesson = parse(&carried.text, name, &files)?.lesson;
    with_lesson(carried, lesson)
}

fn with_lesson(carried: Carried, lesson: Option<Lesson>) -> Result<ToldLesson, Failure> {
    match lesson {
        Some(lesson) => Ok(ToldLesson { carried, lesson }),
        None => Err(Failure::Start(format!(
            "{} is no lesson: it has no [lesson] table with question, do, see, answer and show",
            carried.name
        ))),
    }
}

/// Runs every try of every lesson.
fn read(all: &[ToldLesson]) -> Result<Vec<LessonRead>, Failure> {
    let one = |told: &ToldLesson| {
        let ToldLesson { carried, lesson } = told;
        let files: Memory = carried.files.clone().into();
        let scenes = lesson_scenes(&carried.text, &carried.name, &files)?;
        let tries = scenes.into_iter().map(|(name, scenario)| {
            let answer = read_lesson(&scenario.scene, &lesson.readings);
            let answer = answer.map_err(|error| Failure::Study {
                file: PathBuf::from(format!("{}, try \"{name}\"", carried.name)),
                error,
            })?;
            Ok::<_, Failure>((name, answer))
        });
        Ok(LessonRead {
            title: carried.title.clone(),
            lesson: lesson.clone(),
            tries: tries.collect::<Result<_, _>>()?,
        })
    };
    all.iter().map(one).collect()
}

/// Writes booklet, scenarios with the files that they name, page and links, all of them or none.
fn write(
    folder: &Path,
    all: &[ToldLesson],
    read: &[LessonRead],
    quiet: bool,
) -> Result<(), Failure> {
    let pdf = booklet(TITLE, read)?;
    let scenarios: Vec<Carried> = all.iter().map(|told| told.carried.clone()).collect();
    let Some(page) = with_scenarios(&scenarios) else {
        let why = "the page has no place for scenarios";
        return Err(Failure::Start(why.to_owned()));
    };
    let links = links(all);
    let mut files: Vec<(String, &[u8])> = vec![
        ("lessons.pdf".to_owned(), &pdf),
        ("links.html".to_owned(), links.as_bytes()),
        (PAGE_NAME.to_owned(), page.as_bytes()),
    ];
    for ToldLesson { carried, .. } in all {
        let name = carried.name.rsplit('/').next().unwrap_or_default();
        files.push((name.to_owned(), carried.text.as_bytes()));
        // Tables that lie in folders of their own stay there; the page carries them.
        let beside = carried
            .files
            .iter()
            .filter(|(name, _)| !name.contains(['/', '\\']));
        files.extend(beside.map(|(name, text)| (name.clone(), text.as_bytes())));
    }
    files.sort();
    files.dedup_by(|a, b| a.0 == b.0);
    let written = write_files(folder, &files)?.len();
    if !quiet {
        progress::say(&format!("wrote {written} files to {}", folder.display()));
    }
    Ok(())
}

/// A page of links into the live page beside it, one for each lesson.
fn links(all: &[ToldLesson]) -> String {
    let mut html = format!(
        "<!doctype html>\n<html lang=\"en\">\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>{TITLE}</title>\n<h1>{TITLE}</h1>\n<p>Each link opens the live page, which lies beside this file, with the lesson in it.</p>\n<ol>\n"
    );
    for ToldLesson { carried, lesson } in all {
        let reads = |reading| lesson.readings.contains(&reading);
        let quadrants = reads(LessonReading::Quadrants) || reads(LessonReading::Middle);
        let state = PageState {
            text: &carried.text,
            files: &carried.files,
            out: [],
            plate: quadrants || reads(LessonReading::ColorWithPlate),
            stage: 0,
            exposure: "own",
            show: if quadrants { "color" } else { "luminance" },
            opened: &carried.text,
            free: lesson.may_change.as_deref(),
        };
        let (address, title) = (state.address(), escaped(&carried.title));
        let question = escaped(&lesson.question);
        let _ = writeln!(
            html,
            "<li><a href=\"{PAGE_NAME}#{address}\">{title}</a><br>{question}</li>"
        );
    }
    html.push_str("</ol>\n</html>\n");
    html
}
