//! Readings at the bench, from a CSV file as any spreadsheet writes it.

use std::collections::BTreeSet;
use std::path::Path;

use csv::{ReaderBuilder, StringRecord, Trim};

use super::error::{Problem, ScenarioError};
use super::files;
use super::photograph_lines::{PhotographLine, PictureCells, names};
use super::tables::{CsvText, refused, skip, whole};
use crate::light_path::{LightPath, PartKind};
use crate::scene::Scene;
use crate::spectrum::Source;
use crate::study::fit::{BenchSetting, READING_ERROR, Reading};
use crate::study::place::places;

/// Largest file, bytes, and most readings.
const MOST_BYTES: u64 = 16 << 20;
const MOST_READINGS: usize = 1000;

/// The columns that are not named after a part, each with what it holds.
const COLUMNS: [(&str, Is); 21] = [
    ("reading", Is::Reading),
    ("parallel", Is::Parallel),
    ("ratio", Is::Ratio),
    ("error_percent", Is::Error),
    ("na", Is::Iris),
    ("analyzer_deg", Is::Analyzer),
    ("polars_turned_deg", Is::PolarsTurned),
    ("out", Is::Out),
    ("in", Is::In),
    ("polar_at", Is::PolarAt),
    ("lamp", Is::Lamp),
    ("note", Is::Note),
    ("photo", Is::Photo),
    ("photo_parallel", Is::PhotoParallel),
    ("exposure_s", Is::Exposure),
    ("exposure_parallel_s", Is::ExposureParallel),
    ("center_x", Is::DiscX),
    ("center_y", Is::DiscY),
    ("radius", Is::DiscRadius),
    ("dark_counts", Is::DarkCounts),
    ("turn:NAME", Is::Turn(usize::MAX)),
];
/// Words for a column that come to mind first, and what it is called.
const MEANT: [(&str, &str); 4] = [
    ("crossed", "reading"),
    ("iris", "na"),
    ("analyzer", "analyzer_deg"),
    ("error", "error_percent"),
];
/// Parallel light is the brightest there is: a ratio below this is no reading, but two columns swapped.
pub(super) const LEAST_RATIO: f64 = 0.5;

/// The readings of a file.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BenchReadings {
    /// Those that were taken with a meter.
    pub taken: Vec<Reading>,
    /// Lines with photographs of the back focal plane, which are still to be read.
    pub photographs: Vec<PhotographLine>,
    /// Lines that set the stand and hold no light, such as those of a checklist that is not filled in yet.
    pub unfilled: Vec<usize>,
}

impl BenchReadings {
    /// The notes of a scenario, and after them what is to be said of lines that are left out.
    #[must_use]
    pub fn after(&self, notes: &[String]) -> Vec<String> {
        let own = self.note().into_iter().chain(self.note_on_both());
        notes.iter().cloned().chain(own).collect()
    }

    /// What an answer has to say of lines that hold a meter reading and photographs.
    fn note_on_both(&self) -> Option<String> {
        let both: Vec<usize> = (self.photographs.iter().map(|of| of.line))
            .filter(|line| self.taken.iter().any(|reading| reading.line == *line))
            .collect();
        let (lines, many) = lines_in_words(&both)?;
        let holds = if many { "hold" } else { "holds" };
        Some(format!(
            "{lines} of the readings {holds} a meter reading and photographs: both are taken, as two readings of one setting"
        ))
    }

    /// What an answer has to say of the lines that are left out.
    #[must_use]
    pub fn note(&self) -> Option<String> {
        let (lines, many) = lines_in_words(&self.unfilled)?;
        Some(match many {
            false => format!("{lines} of the readings holds no light yet: it is left out"),
            true => format!("{lines} of the readings hold no light yet: they are left out"),
        })
    }
}

/// "line 3" or "lines 3, 4 and 8", and whether there are several; `None` of none.
pub(crate) fn lines_in_words(lines: &[usize]) -> Option<(String, bool)> {
    let (last, others) = lines.split_last()?;
    let others: Vec<String> = others.iter().map(usize::to_string).collect();
    Some(match others.is_empty() {
        true => (format!("line {last}"), false),
        false => (format!("lines {} and {last}", others.join(", ")), true),
    })
}

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Is {
    Reading,
    Parallel,
    Ratio,
    Error,
    Iris,
    Analyzer,
    PolarsTurned,
    Out,
    In,
    PolarAt,
    Lamp,
    Note,
    Photo,
    PhotoParallel,
    Exposure,
    ExposureParallel,
    DiscX,
    DiscY,
    DiscRadius,
    DarkCounts,
    Turn(usize),
}

/// Reads a readings file from disk, for a stand.
///
/// # Errors
/// [`ScenarioError`], with the file, line, column, value and what is allowed.
pub fn read_readings(path: &Path, scene: &Scene) -> Result<BenchReadings, ScenarioError> {
    let file = path.display().to_string();
    let bytes =
        files::any_file(path, MOST_BYTES).map_err(|error| whole(&file, error.problem(&file)))?;
    parse_readings(&files::text(&file, bytes)?, &file, scene)
}

/// Reads readings from their text; `file_name` is the name that messages use.
///
/// Columns are parted by commas, or by semicolons or tabs, with which decimals may take a comma. A line whose light is not filled in is left out
/// and told.
///
/// # Errors
/// [`ScenarioError`], with the file, line, column, value and what is allowed.
///
/// Checked by: `tests/scenario/readings.rs`.
///
/// # Examples
/// ```
/// use polstack::scenario::{parse_readings, read};
/// let scene = read("scenarios/pond-life.toml".as_ref()).unwrap().scene;
/// let readings = parse_readings("ratio;na\n300;0,6\n1500;0,2\n", "bench.csv", &scene)?;
/// assert_eq!(readings.taken[1].setting.na, Some(0.2));
/// # Ok::<(), polstack::scenario::ScenarioError>(())
/// ```
pub fn parse_readings(
    text: &str,
    file_name: &str,
    scene: &Scene,
) -> Result<BenchReadings, ScenarioError> {
    let mut sheet = BenchSheet {
        file: file_name,
        text,
        scene,
        delimiter: delimiter(text),
        columns: Vec::new(),
        names: Vec::new(),
    };
    let readings = sheet.all()?;
    if readings.taken.is_empty() && readings.photographs.is_empty() {
        let (why, remedy) = match readings.unfilled.is_empty() {
            false => (
                "holds no light",
                "fill in reading and parallel, or ratio, or photo and photo_parallel, in at least one line",
            ),
            true => (
                match text.trim().is_empty() {
                    true => "is empty",
                    false => "holds no reading",
                },
                "the first line names the columns, such as ratio,na; each line below is a reading",
            ),
        };
        let problem = refused(why, remedy);
        return Err(whole(file_name, problem));
    }
    Ok(readings)
}

/// What parts the columns: whichever the first line of words has.
fn delimiter(text: &str) -> u8 {
    let mut lines = text
        .lines()
        .filter(|line| !line.trim().is_empty() && !line.starts_with('#'));
    match lines.next() {
        Some(line) if line.contains(';') => b';',
        Some(line) if line.contains('\t') => b'\t',
        _ => b',',
    }
}

struct BenchSheet<'a> {
    file: &'a str,
    text: &'a str,
    scene: &'a Scene,
    delimiter: u8,
    columns: Vec<Is>,
    names: Vec<String>,
}

/// A line of the file with the byte at which it begins.
struct Line<'a> {
    start: usize,
    cells: &'a StringRecord,
}

impl BenchSheet<'_> {
    fn path(&self) -> &LightPath {
        &self.scene.path
    }

    fn all(&mut self) -> Result<BenchReadings, ScenarioError> {
        let mut reader = ReaderBuilder::new()
            .has_headers(false)
            .delimiter(self.delimiter)
            .comment(Some(b'#'))
            .flexible(true)
            .trim(Trim::All)
            .from_reader(self.text.as_bytes());
        let mut record = StringRecord::new();
        let mut readings = BenchReadings::default();
        loop {
            let at = reader.position().byte() as usize;
            let more = reader
                .read_record(&mut record)
                .map_err(|error| self.error(at, None, refused("is no CSV", error.to_string())))?;
            if !more {
                return Ok(readings);
            }
            let start = record.position().map_or(at, |place| place.byte() as usize);
            if record.iter().all(str::is_empty) {
                continue;
            }
            let line = Line {
                start: skip(self.text, start),
                cells: &record,
            };
            // A quote that is not closed would take the next readings for a part of its cell.
            if record.iter().any(|cell| cell.contains(['\n', '\r'])) {
                let why = "has a cell that goes on in the next line";
                let remedy = "close the quote that the cell begins with; a note stands on one line";
                return Err(self.error(line.start, None, refused(why, remedy)));
            }
            if self.columns.is_empty() {
                self.header(&line)?;
                continue;
            }
            let lines = readings.taken.len() + readings.photographs.len() + readings.unfilled.len();
            if lines >= MOST_READINGS {
                let why = format!("is one reading more than {MOST_READINGS}");
                let remedy = "a bench has no more; average readings of one setting";
                return Err(self.error(line.start, None, refused(&why, remedy)));
            }
            match self.reading(&line)? {
                (None, None) => (readings.unfilled).push(self.csv().line_number(line.start)),
                (taken, photographs) => {
                    readings.taken.extend(taken);
                    readings.photographs.extend(photographs);
                }
            }
        }
    }

    fn header(&mut self, line: &Line<'_>) -> Result<(), ScenarioError> {
        let known = || {
            let named = COLUMNS.iter().map(|(name, _)| (*name).to_owned());
            named.collect::<Vec<String>>()
        };
        let mut seen = BTreeSet::new();
        for (field, cell) in line.cells.iter().enumerate() {
            let wrong = |problem| self.error(line.start, Some(field), problem);
            let lower = cell.to_lowercase();
            let column = if let Some(name) = lower.strip_prefix("turn:") {
                // The name as it is written, not in small letters.
                let name = cell[cell.len() - name.len()..].trim();
                Is::Turn(self.lens(name).map_err(wrong)?)
            } else if let Some((_, is)) = COLUMNS.iter().find(|(name, _)| *name == lower) {
                *is
            } else if let Some((_, name)) = MEANT.iter().find(|(word, _)| *word == lower) {
                let remedy = format!("call it `{name}`");
                return Err(wrong(refused("is no column of readings", remedy)));
            } else {
                return Err(wrong(Problem::UnknownName {
                    what: "column of readings",
                    known: known(),
                }));
            };
            if !seen.insert(column) {
                return Err(wrong(refused(
                    "is a column that is given twice",
                    "once each",
                )));
            }
            self.columns.push(column);
            self.names.push(cell.to_owned());
        }
        let has = |is| self.columns.contains(&is);
        let photographs = has(Is::Photo) && has(Is::PhotoParallel);
        if has(Is::Photo) != has(Is::PhotoParallel) {
            let (why, remedy) = match has(Is::Photo) {
                true => (
                    "has the column photo, but not photo_parallel",
                    "add the column photo_parallel: the name of the picture with the polars parallel, with exposure_parallel_s, its exposure. A photograph is read against it, and error_percent then tells how uncertain the two exposures are; for a meter reading take photo out",
                ),
                false => (
                    "has the column photo_parallel, but not photo",
                    "add the column photo: the name of the picture with the polars as they are set, with exposure_s, its exposure",
                ),
            };
            return Err(self.error(line.start, None, refused(why, remedy)));
        }
        if has(Is::Reading) && has(Is::Parallel) || has(Is::Ratio) || photographs {
            return Ok(());
        }
        Err(self.error(
            line.start,
            None,
            refused(
                "lacks a column",
                "readings need the columns reading and parallel, in one unit, or ratio: parallel light over the light that is read; or photo and photo_parallel",
            ),
        ))
    }

    /// The reading of a line and its photographs; `None` where they are not filled in.
    fn reading(
        &self,
        line: &Line<'_>,
    ) -> Result<(Option<Reading>, Option<PhotographLine>), ScenarioError> {
        if line.cells.len() > self.columns.len() {
            let why = format!("holds {} values", line.cells.len());
            let remedy = match self.delimiter {
                b',' => format!(
                    "one for each of {} columns; decimals take a point, or semicolons part the columns",
                    self.columns.len()
                ),
                _ => format!("one for each of {} columns", self.columns.len()),
            };
            return Err(self.error(line.start, None, refused(&why, remedy)));
        }
        let mut setting = BenchSetting::default();
        let mut numbers = [None; 3];
        let (mut error, mut note) = (READING_ERROR, String::new());
        let mut pictures = PictureCells::default();
        for (field, is) in self.columns.iter().enumerate() {
            let Some(cell) = line.cells.get(field).filter(|cell| !cell.is_empty()) else {
                continue;
            };
            let number = |min: f64, max: f64| self.number(line, field, cell, min, max);
            let wrong = |problem| self.error(line.start, Some(field), problem);
            match *is {
                Is::Reading => numbers[0] = Some(number(f64::MIN_POSITIVE, 1e15)?),
                Is::Parallel => numbers[1] = Some(number(f64::MIN_POSITIVE, 1e15)?),
                Is::Ratio => numbers[2] = Some(number(1e-3, 1e12)?),
                Is::Error => error = 0.01 * number(0.1, 300.0)?,
                Is::Iris => setting.na = Some(number(0.01, 1.6)?),
                Is::Analyzer => {
                    setting.analyzer_rad = Some(number(-360.0, 360.0)?.to_radians());
                }
                Is::PolarsTurned => {
                    setting.polars_turned_rad = number(-360.0, 360.0)?.to_radians();
                }
                Is::Turn(part) => {
                    let angle = number(-360.0, 360.0)?;
                    if angle != 0.0 {
                        setting.turned.push((part, angle.to_radians()));
                    }
                }
                Is::Out => {
                    setting.out = self
                        .parts(cell, "part that can be taken out", removable)
                        .map_err(wrong)?
                }
                Is::In => setting.plates = self.parts(cell, "plate", is_plate).map_err(wrong)?,
                Is::PolarAt => {
                    let plain = |words: &str| words.to_lowercase().replace(',', "");
                    let all = places(self.path());
                    let place = all.iter().find(|p| plain(&p.place.words()) == plain(cell));
                    let place = place.ok_or_else(|| {
                        let known = all.iter().map(|p| p.place.words());
                        wrong(Problem::UnknownName {
                            what: "place of the lower polar",
                            known: known.collect(),
                        })
                    })?;
                    if let Some(refusal) = &place.refused {
                        let why = format!("is no place for it here: {refusal}");
                        return Err(wrong(refused(
                            &why,
                            "leave the cell empty, or name another place",
                        )));
                    }
                    setting.polar_at = (!place.written).then(|| place.place.clone());
                }
                Is::Lamp => {
                    let lamp = self.lamp(cell).map_err(wrong)?;
                    setting.lamp = Some((cell.to_owned(), lamp));
                }
                Is::Note => note = cell.to_owned(),
                Is::Photo => pictures.files[0] = names(cell).map_err(wrong)?,
                Is::PhotoParallel => pictures.files[1] = names(cell).map_err(wrong)?,
                Is::Exposure | Is::ExposureParallel => {
                    let times = (cell.split('+').map(str::trim))
                        .map(|cell| self.number(line, field, cell, 1e-9, 1e6));
                    pictures.exposures[usize::from(*is == Is::ExposureParallel)] =
                        times.collect::<Result<_, _>>()?;
                }
                Is::DiscX => pictures.disc[0] = Some(number(-1e5, 1e5)?),
                Is::DiscY => pictures.disc[1] = Some(number(-1e5, 1e5)?),
                Is::DiscRadius => pictures.disc[2] = Some(number(16.0, 1e5)?),
                Is::DarkCounts => pictures.dark_counts = number(0.0, 60_000.0)?,
            }
        }
        let wrong = |why: &str, remedy: &str| self.error(line.start, None, refused(why, remedy));
        let ratio = match numbers {
            [Some(reading), Some(parallel), None] => Some(parallel / reading),
            [None, None, ratio] => ratio,
            [Some(_), Some(_), Some(_)] => {
                return Err(wrong(
                    "gives its light twice",
                    "reading and parallel, or ratio: one of the two",
                ));
            }
            _ => {
                return Err(wrong(
                    "holds half a reading",
                    "fill in reading and parallel, or ratio alone; where all are empty, the line is left out",
                ));
            }
        };
        if ratio.is_some_and(|ratio| ratio < LEAST_RATIO) {
            return Err(wrong(
                "has parallel light that is dimmer than the light that is read",
                "are reading and parallel swapped? a ratio is parallel light over the light that is read",
            ));
        }
        let written_rad = self
            .path()
            .polars()
            .map_or(0.0, |(_, polar)| polar.azimuth_rad);
        let stand = setting.of(self.path(), written_rad).ok_or_else(|| {
            let why = "asks for a place that the lower polar has not got with the other cells of this line";
            self.error(line.start, None, refused(why, "read it in two lines"))
        })?;
        stand
            .check(self.scene.grid.wavelengths_nm())
            .map_err(|error| self.error(line.start, None, Problem::Path(error)))?;
        let number = self.csv().line_number(line.start);
        let photographs = (pictures.files.iter().any(|files| !files.is_empty()))
            .then(|| pictures.line(number, &setting, error, &note))
            .transpose()
            .map_err(|(why, remedy)| wrong(why, remedy))?;
        let reading = ratio.map(|ratio| Reading {
            line: number,
            ratio,
            error,
            common_error: 0.0,
            framing: [0.0; 3],
            setting,
            note,
        });
        Ok((reading, photographs))
    }

    fn number(
        &self,
        line: &Line<'_>,
        field: usize,
        cell: &str,
        min: f64,
        max: f64,
    ) -> Result<f64, ScenarioError> {
        // With commas between the columns a decimal comma can stand in quotes only.
        let text = cell.replace(',', ".");
        let allowed = match min {
            f64::MIN_POSITIVE => format!("above 0, up to {max:e}"),
            _ => format!("{min} to {max}"),
        };
        let problem = match text.parse::<f64>() {
            Ok(value) if (min..=max).contains(&value) => return Ok(value),
            Ok(_) => Problem::OutOfRange { allowed },
            Err(_) => Problem::WrongType {
                found: "no number".into(),
                expected: format!("a number, {allowed}"),
            },
        };
        Err(self.error(line.start, Some(field), problem))
    }

    fn lens(&self, name: &str) -> Result<usize, Problem> {
        let found = self.parts(name, "lens that could be turned", |kind| {
            matches!(kind, PartKind::Condenser(_) | PartKind::Objective(_))
        })?;
        found
            .first()
            .copied()
            .ok_or_else(|| refused("names no lens", "turn:NAME"))
    }

    /// Parts by name, joined by `+`.
    fn parts(
        &self,
        cell: &str,
        what: &'static str,
        allowed: fn(&PartKind) -> bool,
    ) -> Result<Vec<usize>, Problem> {
        let parts = &self.path().parts;
        let mut found = Vec::new();
        for name in cell.split('+').map(str::trim) {
            let mut alike = (parts.iter().enumerate())
                .filter(|(_, part)| part.name == name && allowed(&part.kind));
            let Some((index, _)) = alike.next() else {
                let known = parts.iter().filter(|part| allowed(&part.kind));
                return Err(Problem::UnknownName {
                    what,
                    known: known.map(|part| part.name.clone()).collect(),
                });
            };
            if alike.next().is_some() {
                let remedy = "give each part of the scenario a name of its own";
                return Err(refused("is the name of two parts", remedy));
            }
            if !found.contains(&index) {
                found.push(index);
            }
        }
        Ok(found)
    }

    /// A lamp of the catalog, or a line or filter by its middle and width in nm.
    fn lamp(&self, cell: &str) -> Result<Source, Problem> {
        if let Some(lamp) = Source::named(cell) {
            return Ok(lamp);
        }
        let Some((middle, width)) = cell.split_once('/') else {
            let known = Source::names().into_iter().map(str::to_owned);
            return Err(Problem::UnknownName {
                what: "lamp (nor a line or filter such as 546.1/10)",
                known: known.collect(),
            });
        };
        let number = |text: &str| text.trim().replace(',', ".").parse::<f64>().ok();
        let (first, last) = self.scene.grid.ends_nm();
        let step = self.scene.grid.step_nm();
        match (number(middle), number(width)) {
            (Some(centre_nm), Some(width_nm))
                if (first..=last).contains(&centre_nm) && (step..=400.0).contains(&width_nm) =>
            {
                Ok(Source::Line {
                    centre_nm,
                    width_nm,
                })
            }
            _ => Err(Problem::OutOfRange {
                allowed: format!(
                    "a middle of {first} to {last} nm, a slash, and a width of {step} to 400 nm, such as 546.1/10"
                ),
            }),
        }
    }

    fn csv(&self) -> CsvText<'_> {
        CsvText {
            file: self.file,
            text: self.text,
            delimiter: char::from(self.delimiter),
        }
    }

    fn error(&self, start: usize, field: Option<usize>, problem: Problem) -> ScenarioError {
        let key = field.and_then(|field| self.names.get(field)).cloned();
        self.csv().error(start, field, key, problem)
    }
}

fn removable(kind: &PartKind) -> bool {
    matches!(
        kind,
        PartKind::Condenser(_)
            | PartKind::Objective(_)
            | PartKind::Slide(_)
            | PartKind::Retarder(_)
    )
}

fn is_plate(kind: &PartKind) -> bool {
    matches!(kind, PartKind::Plate(_))
}
