//! CSV tables that a scenario names: lamps, sheets, strain maps, dispersions.

use std::path::Path;

use csv::{ReaderBuilder, StringRecord, Trim};

use super::decode::Fault;
use super::error::{Line, Place, Problem, ScenarioError};
use super::located::Located;
use super::read::{self, MOST_TABLE_BYTES};
use crate::spectrum::{SpectralTable, WavelengthGrid};

/// Widest step between two rows, nm, within the wavelengths that are computed.
const WIDEST_STEP_NM: f64 = 50.0;

/// One column: its name, other names for it, and what its numbers may be.
pub(super) struct Column {
    pub(super) name: &'static str,
    pub(super) synonyms: &'static [&'static str],
    pub(super) min: f64,
    pub(super) max: f64,
}

const fn column(name: &'static str, min: f64, max: f64) -> Column {
    Column {
        name,
        synonyms: &[],
        min,
        max,
    }
}

const WAVELENGTH: Column = column("wavelength_nm", 1.0, 1e6);
pub(super) const LAMP: [Column; 2] = [
    WAVELENGTH,
    Column {
        synonyms: &["relative_power", "intensity"],
        ..column("power", 0.0, 1e12)
    },
];
pub(super) const SHEET: [Column; 3] = [WAVELENGTH, column("k1", 0.0, 1.0), column("k2", 0.0, 1.0)];
pub(super) const DISPERSION: [Column; 2] = [WAVELENGTH, column("factor", 0.0, 10.0)];
pub(super) const STRAIN_MAP: [Column; 4] = [
    column("x", -2.0, 2.0),
    column("y", -2.0, 2.0),
    column("path_difference_nm", -1e6, 1e6),
    column("azimuth_deg", -3600.0, 3600.0),
];

/// A table as it was read, each row with the byte at which it begins.
pub(super) struct CsvTable<const N: usize> {
    /// The name that the scenario gives it.
    pub(super) name: String,
    file: String,
    text: String,
    columns: &'static [Column; N],
    /// Which column of the file holds each of `columns`.
    order: [usize; N],
    starts: Vec<usize>,
    pub(super) rows: Vec<[f64; N]>,
}

/// Reads a table whose name stands in the scenario.
pub(super) fn read<const N: usize>(
    named: &Located<String>,
    base_dir: &Path,
    columns: &'static [Column; N],
) -> Result<CsvTable<N>, Fault> {
    let path = base_dir.join(named.get());
    let file = path.display().to_string();
    let bytes = read::regular_file(&path, MOST_TABLE_BYTES).map_err(|problem| match problem {
        // The scenario is at fault, or at least holds the only line there is to show.
        Problem::Unreadable { .. } => Fault::at(named.span(), problem),
        other => Fault::Elsewhere(whole(&file, other)),
    })?;
    let text = read::text(&file, bytes).map_err(Fault::Elsewhere)?;
    let mut table = CsvTable {
        name: named.get().clone(),
        file,
        text,
        columns,
        order: std::array::from_fn(|k| k),
        starts: Vec::new(),
        rows: Vec::new(),
    };
    table.fill()?;
    Ok(table)
}

/// Reads a table of one or more quantities against wavelength, which must cover the grid.
pub(super) fn read_spectral<const N: usize>(
    named: &Located<String>,
    base_dir: &Path,
    columns: &'static [Column; N],
    grid: &WavelengthGrid,
) -> Result<CsvTable<N>, Fault> {
    let table = read(named, base_dir, columns)?;
    table.check_order(grid)?;
    table.check_cover(named, grid)?;
    Ok(table)
}

fn whole(file: &str, problem: Problem) -> ScenarioError {
    ScenarioError::new(problem, None, None, Place::File(file.to_owned()))
}

impl<const N: usize> CsvTable<N> {
    fn fill(&mut self) -> Result<(), Fault> {
        let text = std::mem::take(&mut self.text);
        let result = self.fill_from(&text);
        self.text = text;
        result
            .map_err(|(start, field, problem)| Fault::Elsewhere(self.error(start, field, problem)))
    }

    /// On failure: the byte at which the row begins, the column of the file, the problem.
    fn fill_from(&mut self, text: &str) -> Result<(), (usize, Option<usize>, Problem)> {
        let mut reader = ReaderBuilder::new()
            .has_headers(false)
            .comment(Some(b'#'))
            .flexible(true)
            .trim(Trim::All)
            .from_reader(text.as_bytes());
        let mut record = StringRecord::new();
        let mut header = true;
        loop {
            let start = skip(text, reader.position().byte() as usize);
            match reader.read_record(&mut record) {
                Ok(true) => {}
                Ok(false) => break,
                Err(error) => {
                    let why = error.to_string();
                    return Err((start, None, refused("cannot be read", why)));
                }
            }
            if header {
                self.order =
                    (self.header(&record)).map_err(|(field, problem)| (start, field, problem))?;
                header = false;
                continue;
            }
            let row = (self.row(&record)).map_err(|(field, problem)| (start, field, problem))?;
            self.starts.push(start);
            self.rows.push(row);
        }
        if header {
            return Err((0, None, refused("holds no table", self.wanted())));
        }
        if self.rows.len() < 2 {
            let why = format!("holds {} rows", self.rows.len());
            return Err((0, None, refused(&why, "at least 2 are needed".into())));
        }
        Ok(())
    }

    fn wanted(&self) -> String {
        let names: Vec<&str> = self.columns.iter().map(|column| column.name).collect();
        format!("the first line must be {}", names.join(","))
    }

    fn header(&self, record: &StringRecord) -> Result<[usize; N], (Option<usize>, Problem)> {
        let mut order = [usize::MAX; N];
        for (field, name) in record.iter().enumerate() {
            let known = (self.columns.iter())
                .position(|column| column.name == name || column.synonyms.contains(&name));
            match known {
                Some(k) if order[k] == usize::MAX => order[k] = field,
                Some(_) => {
                    let problem = refused("is a column that is given twice", self.wanted());
                    return Err((Some(field), problem));
                }
                None => {
                    let problem = refused("is no column of this table", self.wanted());
                    return Err((Some(field), problem));
                }
            }
        }
        if order.contains(&usize::MAX) {
            return Err((None, refused("lacks a column", self.wanted())));
        }
        Ok(order)
    }

    fn row(&self, record: &StringRecord) -> Result<[f64; N], (Option<usize>, Problem)> {
        if record.len() != N {
            let why = format!("holds {} values", record.len());
            return Err((None, refused(&why, format!("one for each of {N} columns"))));
        }
        let mut row = [0.0; N];
        for (k, column) in self.columns.iter().enumerate() {
            let field = self.order[k];
            let allowed = format!("{} to {}", column.min, column.max);
            let problem = match record.get(field).map(str::parse::<f64>) {
                Some(Ok(value)) if (column.min..=column.max).contains(&value) => {
                    row[k] = value;
                    continue;
                }
                Some(Ok(_)) => Problem::OutOfRange { allowed },
                _ => Problem::WrongType {
                    found: "no number".into(),
                    expected: format!("a number with a decimal point, {allowed}"),
                },
            };
            return Err((Some(field), problem));
        }
        Ok(row)
    }

    /// Wavelengths ascend, none is given twice, and within the grid no two rows are far apart.
    fn check_order(&self, grid: &WavelengthGrid) -> Result<(), Fault> {
        let (first_nm, last_nm) = grid.ends_nm();
        for row in 1..self.rows.len() {
            let (before, here) = (self.rows[row - 1][0], self.rows[row][0]);
            if here == before {
                return Err(self.refused(row, 0, "is given twice", "each wavelength once"));
            }
            if here < before {
                let remedy = format!("ascending wavelengths: more than {before}");
                return Err(self.refused(row, 0, "stands out of order", &remedy));
            }
            let within = before < last_nm && here > first_nm;
            if within && here - before > WIDEST_STEP_NM {
                let why = format!("leaves a gap: nothing between {before} and {here} nm");
                let remedy = format!("rows at most {WIDEST_STEP_NM} nm apart");
                return Err(self.refused(row, 0, &why, &remedy));
            }
        }
        Ok(())
    }

    fn check_cover(&self, named: &Located<String>, grid: &WavelengthGrid) -> Result<(), Fault> {
        let (Some(first), Some(last)) = (self.rows.first(), self.rows.last()) else {
            return Ok(());
        };
        let (first_nm, last_nm) = grid.ends_nm();
        let mut gaps = Vec::new();
        if first[0] > first_nm {
            gaps.push(format!("{first_nm} to {} nm", first[0].min(last_nm)));
        }
        if last[0] < last_nm {
            gaps.push(format!("{} to {last_nm} nm", last[0].max(first_nm)));
        }
        if gaps.is_empty() {
            return Ok(());
        }
        let why = format!("holds nothing for {}", gaps.join(" and "));
        let remedy = format!(
            "the run needs {first_nm} to {last_nm} nm, the table has {} to {} nm; nothing is extrapolated",
            first[0], last[0]
        );
        Err(Fault::refused(named.span(), why, remedy))
    }

    /// A value that cannot be, by its row and by its place in `columns`.
    pub(super) fn refused(&self, row: usize, column: usize, why: &str, remedy: &str) -> Fault {
        let problem = refused(why, remedy.into());
        Fault::Elsewhere(self.error(self.starts[row], Some(self.order[column]), problem))
    }

    /// The table as a whole cannot be.
    pub(super) fn unusable(&self, why: String) -> Fault {
        Fault::Elsewhere(whole(&self.file, refused("cannot be used", why)))
    }

    /// One column against the first.
    pub(super) fn spectrum(&self, column: usize) -> Result<SpectralTable, Fault> {
        SpectralTable::new(self.rows.iter().map(|row| (row[0], row[column])))
            .map_err(|error| self.unusable(error.to_string()))
    }

    fn error(&self, start: usize, field: Option<usize>, problem: Problem) -> ScenarioError {
        let rest = self.text.get(start..).unwrap_or_default();
        let line_number = 1 + self.text.as_bytes()[..self.text.len() - rest.len()]
            .iter()
            .filter(|&&byte| byte == b'\n')
            .count();
        let line = rest.lines().next().unwrap_or_default();
        let mark = field.map_or(0..line.len(), |field| cell(line, field));
        let value = field.map(|_| line[mark.clone()].to_owned());
        let key = field.and_then(|field| {
            let column = self.order.iter().position(|&at| at == field)?;
            // In the header the cell is the name.
            let name = self.columns[column].name;
            (value.as_deref() != Some(name)).then(|| name.to_owned())
        });
        let key = key.filter(|_| !self.starts.is_empty() || self.text[..start].contains(','));
        let place = Place::Line(Line::within(&self.file, line_number, rest, mark));
        ScenarioError::new(problem, key, value, place)
    }
}

fn refused(why: &str, remedy: String) -> Problem {
    Problem::Refused {
        why: why.into(),
        remedy,
    }
}

/// Where the next row begins: the reader's own position still lies before blank lines and comments.
fn skip(text: &str, mut at: usize) -> usize {
    while let Some(rest) = text.get(at..) {
        let line = rest.split_inclusive('\n').next().unwrap_or_default();
        let blank = line.trim_end_matches(['\r', '\n']).is_empty();
        if line.is_empty() || !(blank || line.starts_with('#')) {
            break;
        }
        at += line.len();
    }
    at
}

/// The stretch of a line that holds a field, without the blanks around it; the whole line where quotes make that unclear.
fn cell(line: &str, field: usize) -> std::ops::Range<usize> {
    if line.contains('"') {
        return 0..line.len();
    }
    let mut start = 0;
    for (k, text) in line.split(',').enumerate() {
        if k == field {
            let left = text.len() - text.trim_start().len();
            let from = start + left;
            return from..from + text.trim().len();
        }
        start += text.len() + 1;
    }
    line.len()..line.len()
}
