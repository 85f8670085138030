//! A sample of stands that a fit has drawn, which a scenario refers to.

use csv::{ReaderBuilder, StringRecord, Trim};

use super::decode::Fault;
use super::error::Problem;
use super::files::{self, FileError, Files};
use super::located::Located;
use super::tables::{CsvText, refused, skip, whole};
use crate::light_path::LightPath;
use crate::study::doubt::Stands;
use crate::study::unknown::Unknowns;

/// Largest file, bytes; fewest and most stands.
const MOST_BYTES: u64 = 64 << 20;
const FEWEST: usize = 20;
const MOST: usize = 100_000;

/// Reads the sample of `[doubt] sample`: a column for each unknown number, by its name in the answer of a fit, and a row for each stand.
///
/// Checked by: `tests/scenario/readings.rs`.
pub(super) fn read(
    named: &Located<String>,
    files: &dyn Files,
    path: &LightPath,
) -> Result<Stands, Fault> {
    let file = files.shown(named.get());
    let bytes = (files.bytes(named.get(), MOST_BYTES)).map_err(|error| match error {
        FileError::Unreadable { .. } => Fault::at(named.span(), error.problem(&file)),
        FileError::TooLarge { .. } => Fault::Elsewhere(whole(&file, error.problem(&file))),
    })?;
    let text = files::text(&file, bytes).map_err(Fault::Elsewhere)?;
    let csv = CsvText {
        file: &file,
        text: &text,
        delimiter: ',',
    };
    let wrong = |start, field, problem| Fault::Elsewhere(csv.error(start, field, None, problem));
    let mut reader = ReaderBuilder::new()
        .has_headers(false)
        .comment(Some(b'#'))
        .flexible(true)
        .trim(Trim::All)
        .from_reader(text.as_bytes());
    let mut record = StringRecord::new();
    let mut stands: Option<Stands> = None;
    let mut order: Vec<usize> = Vec::new();
    loop {
        let start = skip(&text, reader.position().byte() as usize);
        let more = (reader.read_record(&mut record))
            .map_err(|error| wrong(start, None, refused("is no CSV", error.to_string())))?;
        if !more {
            break;
        }
        if record.iter().all(str::is_empty) {
            continue;
        }
        let Some(stands) = &mut stands else {
            let names: Vec<String> = record.iter().map(str::to_owned).collect();
            let unknowns = Unknowns::named(path, &names).map_err(|error| {
                let field = names.iter().position(|name| *name == error.name);
                let known = error.names;
                let what = "unknown number of this stand";
                wrong(start, field, Problem::UnknownName { what, known })
            })?;
            for name in unknowns.names() {
                match names.iter().position(|given| given == name) {
                    Some(at) => order.push(at),
                    None => {
                        let remedy =
                            format!("{name} belongs to those that are given: add its column");
                        return Err(wrong(start, None, refused("lacks a column", remedy)));
                    }
                }
            }
            if order.len() < names.len() {
                let remedy = "each unknown number once".to_owned();
                return Err(wrong(start, None, refused("gives a column twice", remedy)));
            }
            let points = Vec::new();
            stands = Some(Stands { unknowns, points });
            continue;
        };
        if record.len() != order.len() {
            let why = format!("holds {} values", record.len());
            let remedy = format!("one for each of {} columns, commas between", order.len());
            return Err(wrong(start, None, refused(&why, remedy)));
        }
        if stands.points.len() == MOST {
            let why = format!("is one stand more than {MOST}");
            return Err(wrong(
                start,
                None,
                refused(&why, "take fewer draws".to_owned()),
            ));
        }
        let mut told = Vec::with_capacity(order.len());
        for &field in &order {
            match record[field]
                .parse::<f64>()
                .ok()
                .filter(|value| value.is_finite())
            {
                Some(value) => told.push(value),
                None => {
                    let problem = Problem::WrongType {
                        found: "no number".into(),
                        expected: "a number with a decimal point".into(),
                    };
                    return Err(wrong(start, Some(field), problem));
                }
            }
        }
        match stands.unknowns.point(&told) {
            Some(point) => stands.points.push(point),
            None => {
                let remedy = "factors, fractions and numbers of surfaces are above 0".to_owned();
                return Err(wrong(
                    start,
                    None,
                    refused("is no stand that can be", remedy),
                ));
            }
        }
    }
    match stands {
        Some(stands) if stands.points.len() >= FEWEST => Ok(stands),
        stands => {
            let rows = stands.map_or(0, |stands| stands.points.len());
            let problem = refused(
                &format!("holds {rows} stands"),
                format!("at least {FEWEST} are needed; `polstack fit --write` writes such a file"),
            );
            Err(Fault::Elsewhere(whole(&file, problem)))
        }
    }
}
