//! CSV tables that a scenario names: lamps, sheets, strain maps, dispersions, the surfaces of lenses.

use csv::{ReaderBuilder, StringRecord, Trim};

use super::decode::Fault;
use super::error::{Blame, MarkedLine, Problem, ScenarioError};
use super::files::{self, FileError, Files};
use super::located::Located;
use crate::spectrum::{SpectralTable, WavelengthGrid};

/// Largest table, bytes.
pub(super) const MOST_TABLE_BYTES: u64 = 16 << 20;
/// Widest step between two rows, nm, within the wavelengths that are computed.
const WIDEST_STEP_NM: f64 = 50.0;

/// What a table is read with: the files there are, and the wavelengths of the run.
pub(super) struct Context<'a> {
    pub(super) files: &'a dyn Files,
    pub(super) grid: &'a WavelengthGrid,
}

/// One column: its name, other names for it, and what its numbers may be.
pub(super) struct Column {
    pub(super) name: &'static str,
    pub(super) synonyms: &'static [&'static str],
    pub(super) min: f64,
    pub(super) max: f64,
    pub(super) cell: Cell,
}

/// What a column's cells hold.
pub(super) enum Cell {
    /// A number in each.
    Number,
    /// A number, or nothing, which stands for this one.
    Empty(f64),
    /// The same; the column may be left out as well.
    Left(f64),
    /// A word, or nothing.
    Word,
    /// The same; the column may be left out as well.
    WordLeft,
}

const fn column(name: &'static str, min: f64, max: f64) -> Column {
    Column {
        name,
        synonyms: &[],
        min,
        max,
        cell: Cell::Number,
    }
}

const WAVELENGTH: Column = Column {
    synonyms: &["wavelength", "nm"],
    ..column("wavelength_nm", 1.0, 1e6)
};
pub(super) const LAMP: [Column; 2] = [
    WAVELENGTH,
    Column {
        synonyms: &["relative_power", "spectral_power", "intensity", "value"],
        ..column("power", 0.0, 1e12)
    },
];
pub(super) const SHEET: [Column; 3] = [WAVELENGTH, column("k1", 0.0, 1.0), column("k2", 0.0, 1.0)];
pub(super) const CAMERA: [Column; 4] = [
    WAVELENGTH,
    column("red", 0.0, 1e12),
    column("green", 0.0, 1e12),
    column("blue", 0.0, 1e12),
];
pub(super) const DISPERSION: [Column; 2] = [WAVELENGTH, column("factor", 0.0, 10.0)];
pub(super) const STRAIN_MAP: [Column; 5] = [
    column("x", -2.0, 2.0),
    column("y", -2.0, 2.0),
    Column {
        synonyms: &["path_difference"],
        ..column("path_difference_nm", -1e4, 1e4)
    },
    Column {
        synonyms: &["azimuth"],
        ..column("azimuth_deg", -3600.0, 3600.0)
    },
    // What a measured map says of its own error; the strain is what the other columns say.
    Column {
        cell: Cell::Left(0.0),
        ..column("error_nm", 0.0, 1e4)
    },
];

const fn aspheric(name: &'static str) -> Column {
    Column {
        cell: Cell::Left(0.0),
        ..column(name, -1.0, 1.0)
    }
}

/// The surfaces of a lens; places of its columns are those of [`super::prescription`].
pub(super) const PRESCRIPTION: [Column; 10] = [
    Column {
        cell: Cell::Empty(0.0),
        ..column("radius_mm", -1e6, 1e6)
    },
    Column {
        cell: Cell::Empty(0.0),
        ..column("thickness_mm", 0.0, 1e4)
    },
    Column {
        cell: Cell::Word,
        ..column("glass", 1.0, 4.0)
    },
    column("half_diameter_mm", 0.01, 1000.0),
    Column {
        cell: Cell::Left(0.0),
        ..column("conic", -1000.0, 1000.0)
    },
    aspheric("a4"),
    aspheric("a6"),
    aspheric("a8"),
    aspheric("a10"),
    Column {
        cell: Cell::WordLeft,
        ..column("coating", 0.0, 0.0)
    },
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
    /// How many columns the file has.
    fields: usize,
    starts: Vec<usize>,
    /// Numbers; a word's place holds nothing of use.
    pub(super) rows: Vec<[f64; N]>,
    /// Words; a number's place holds its text.
    pub(super) words: Vec<[String; N]>,
}

/// Reads a table whose name stands in the scenario.
pub(super) fn read<const N: usize>(
    named: &Located<String>,
    files: &dyn Files,
    columns: &'static [Column; N],
) -> Result<CsvTable<N>, Fault> {
    if named.get().trim().is_empty() {
        return Err(Fault::refused(
            named.span(),
            "names no file",
            "the name of a CSV file, relative to the scenario",
        ));
    }
    let file = files.shown(named.get());
    let bytes = (files.bytes(named.get(), MOST_TABLE_BYTES)).map_err(|error| match error {
        // The scenario is at fault, or at least holds the only line there is to show.
        FileError::Unreadable { .. } => Fault::at(named.span(), error.problem(&file)),
        FileError::TooLarge { .. } => Fault::Elsewhere(whole(&file, error.problem(&file))),
    })?;
    let text = files::text(&file, bytes).map_err(Fault::Elsewhere)?;
    parsed(named.get(), file, text, columns)
}

/// Reads a table from its text; `name` is what the scenario calls it, `file` what messages do.
pub(super) fn parsed<const N: usize>(
    name: &str,
    file: String,
    text: String,
    columns: &'static [Column; N],
) -> Result<CsvTable<N>, Fault> {
    let mut table = CsvTable {
        name: name.to_owned(),
        file,
        text,
        columns,
        order: std::array::from_fn(|k| k),
        fields: N,
        starts: Vec::new(),
        rows: Vec::new(),
        words: Vec::new(),
    };
    table.fill()?;
    Ok(table)
}

/// Reads a table of one or more quantities against wavelength, which must cover the grid.
pub(super) fn read_spectral<const N: usize>(
    named: &Located<String>,
    context: &Context<'_>,
    columns: &'static [Column; N],
) -> Result<CsvTable<N>, Fault> {
    let table = read(named, context.files, columns)?;
    table.check_wavelengths(named, context.grid)?;
    Ok(table)
}

pub(super) fn whole(file: &str, problem: Problem) -> ScenarioError {
    ScenarioError::new(problem, None, None, Blame::File(file.to_owned()))
}

impl Column {
    /// Whether the column may be left out.
    fn left(&self) -> bool {
        matches!(self.cell, Cell::Left(_) | Cell::WordLeft)
    }
}

impl<const N: usize> CsvTable<N> {
    fn fill(&mut self) -> Result<(), Fault> {
        let text = std::mem::take(&mut self.text);
        let result = self.fill_from(&text);
        self.text = text;
        result.map_err(|(spot, problem)| Fault::Elsewhere(self.error(spot, problem)))
    }

    fn fill_from(&mut self, text: &str) -> Result<(), (Spot, Problem)> {
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
            let more = reader
                .read_record(&mut record)
                .map_err(|error| (Spot::Row(start), refused("is no CSV", error.to_string())))?;
            if !more {
                break;
            }
            if record.len() == 1 && record[0].is_empty() {
                continue;
            }
            if header {
                self.order = self.header(start, &record)?;
                self.fields = record.len();
                header = false;
                continue;
            }
            let row = self.row(start, &record)?;
            self.starts.push(start);
            self.rows.push(row);
            self.words.push(self.order.map(|field| {
                let text = record.get(field).unwrap_or_default();
                text.to_owned()
            }));
        }
        if header {
            return Err((
                Spot::File,
                refused(
                    if text.trim().is_empty() {
                        "is empty"
                    } else {
                        "holds no table"
                    },
                    self.wanted(),
                ),
            ));
        }
        if self.rows.len() < 2 {
            let rows = self.rows.len();
            let why = format!("holds {rows} {}", if rows == 1 { "row" } else { "rows" });
            return Err((Spot::File, refused(&why, "at least 2 are needed")));
        }
        Ok(())
    }

    fn wanted(&self) -> String {
        let names = |left: bool| {
            let columns = self.columns.iter().filter(|column| column.left() == left);
            let names: Vec<&str> = columns.map(|column| column.name).collect();
            names.join(",")
        };
        let may = match names(true) {
            names if names.is_empty() => names,
            names => format!(", and may go on with {names}"),
        };
        format!("the first line must be {}{may}", names(false))
    }

    fn header(&self, start: usize, record: &StringRecord) -> Result<[usize; N], (Spot, Problem)> {
        let mut order = [usize::MAX; N];
        if record.len() == 1 && record[0].contains([';', '\t']) {
            let remedy = format!(
                "separate columns by commas, decimals take a point: {}",
                self.wanted()
            );
            let why = "separates columns by something else than commas";
            return Err((Spot::Row(start), refused(why, remedy)));
        }
        for (field, name) in record.iter().enumerate() {
            let name = name.to_lowercase();
            let known = (self.columns.iter())
                .position(|column| column.name == name || column.synonyms.contains(&name.as_str()));
            let why = match known {
                Some(k) if order[k] == usize::MAX => {
                    order[k] = field;
                    continue;
                }
                Some(_) => "is a column that is given twice",
                None => "is no column of this table",
            };
            return Err((Spot::Name(start, field), refused(why, self.wanted())));
        }
        let lacks = |(column, field): (&Column, &usize)| !column.left() && *field == usize::MAX;
        if self.columns.iter().zip(&order).any(lacks) {
            return Err((Spot::Row(start), refused("lacks a column", self.wanted())));
        }
        Ok(order)
    }

    fn row(&self, start: usize, record: &StringRecord) -> Result<[f64; N], (Spot, Problem)> {
        if record.len() != self.fields {
            let why = format!("holds {} values", record.len());
            let remedy = format!("one for each of {} columns, commas between", self.fields);
            return Err((Spot::Row(start), refused(&why, remedy)));
        }
        let mut row = [0.0; N];
        for (k, column) in self.columns.iter().enumerate() {
            let field = self.order[k];
            let empty = record.get(field).is_none_or(str::is_empty);
            match column.cell {
                Cell::Word | Cell::WordLeft => continue,
                Cell::Empty(value) | Cell::Left(value) if empty => {
                    row[k] = value;
                    continue;
                }
                _ => {}
            }
            let allowed = format!("{} to {}", column.min, column.max);
            let problem = match record.get(field).map(str::parse::<f64>) {
                Some(Ok(value)) if (column.min..=column.max).contains(&value) => {
                    row[k] = value;
                    continue;
                }
                Some(Ok(_)) => Problem::OutOfRange { allowed },
                _ if record.get(field).is_some_and(str::is_empty) => Problem::WrongType {
                    found: "empty".into(),
                    expected: format!("a number, {allowed}"),
                },
                _ => Problem::WrongType {
                    found: "no number".into(),
                    expected: format!("a number with a decimal point, {allowed}"),
                },
            };
            return Err((Spot::Value(start, field), problem));
        }
        Ok(row)
    }

    /// Wavelengths ascend and cover the grid.
    pub(super) fn check_wavelengths(
        &self,
        named: &Located<String>,
        grid: &WavelengthGrid,
    ) -> Result<(), Fault> {
        self.check_order(grid)?;
        self.check_cover(named, grid)
    }

    /// Wavelengths ascend, none is given twice, and within the grid no two rows are far apart.
    pub(super) fn check_order(&self, grid: &WavelengthGrid) -> Result<(), Fault> {
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
            "the run needs {first_nm} to {last_nm} nm, the table has {0} to {1} nm; nothing is extrapolated: \
             measure further, or set [spectrum] from_nm = {2}, to_nm = {3}",
            first[0],
            last[0],
            first[0].max(first_nm).ceil(),
            last[0].min(last_nm).floor()
        );
        Err(Fault::refused(named.span(), why, remedy))
    }

    /// A value that is refused, told by its row and by its place in `columns`.
    pub(super) fn refused(&self, row: usize, column: usize, why: &str, remedy: &str) -> Fault {
        self.wrong(row, column, refused(why, remedy))
    }

    /// The same with a problem of another kind.
    pub(super) fn wrong(&self, row: usize, column: usize, problem: Problem) -> Fault {
        let spot = Spot::Value(self.starts[row], self.order[column]);
        Fault::Elsewhere(self.error(spot, problem))
    }

    /// The table as a whole is refused.
    pub(super) fn unusable(&self, why: String) -> Fault {
        Fault::Elsewhere(whole(&self.file, refused("cannot be used", why)))
    }

    /// One column against the first.
    pub(super) fn spectrum(&self, column: usize) -> Result<SpectralTable, Fault> {
        SpectralTable::new(self.rows.iter().map(|row| (row[0], row[column])))
            .map_err(|error| self.unusable(error.to_string()))
    }

    fn error(&self, spot: Spot, problem: Problem) -> ScenarioError {
        let (start, field) = match spot {
            Spot::File => return whole(&self.file, problem),
            Spot::Row(start) => (start, None),
            Spot::Name(start, field) | Spot::Value(start, field) => (start, Some(field)),
        };
        let key = match spot {
            Spot::Value(_, field) => (self.order.iter().zip(self.columns))
                .find(|(at, _)| **at == field)
                .map(|(_, column)| column.name.to_owned()),
            _ => None,
        };
        let csv = CsvText {
            file: &self.file,
            text: &self.text,
            delimiter: ',',
        };
        csv.error(start, field, key, problem)
    }
}

/// The text of a CSV file, for messages about its places.
#[derive(Clone, Copy)]
pub(super) struct CsvText<'a> {
    /// What messages call the file.
    pub(super) file: &'a str,
    pub(super) text: &'a str,
    /// What parts its columns.
    pub(super) delimiter: char,
}

impl CsvText<'_> {
    /// The number of the line that begins at a byte, from 1.
    pub(super) fn line_number(&self, start: usize) -> usize {
        let before = self.text.get(..start).unwrap_or(self.text);
        1 + before.matches('\n').count()
    }

    /// A mistake in the line that begins at a byte: in one field of it, under a key, or in the whole line.
    pub(super) fn error(
        &self,
        start: usize,
        field: Option<usize>,
        key: Option<String>,
        problem: Problem,
    ) -> ScenarioError {
        let rest = self.text.get(start..).unwrap_or_default();
        let line = rest.lines().next().unwrap_or_default();
        let mark = field.map_or(0..line.len(), |field| cell(line, self.delimiter, field));
        let value = field.map(|_| line[mark.clone()].to_owned());
        let number = self.line_number(start);
        let place = Blame::Line(MarkedLine::within(self.file, number, rest, mark));
        ScenarioError::new(problem, key, value, place)
    }
}

/// Where in a table a mistake is: rows by the byte at which they begin, with a column of the file.
enum Spot {
    File,
    Row(usize),
    /// In the header.
    Name(usize, usize),
    Value(usize, usize),
}

pub(super) fn refused(why: &str, remedy: impl Into<String>) -> Problem {
    Problem::Refused {
        why: why.into(),
        remedy: remedy.into(),
    }
}

/// Where the next row begins: the reader's own position still lies before blank lines and comments.
pub(super) fn skip(text: &str, mut at: usize) -> usize {
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
fn cell(line: &str, delimiter: char, field: usize) -> std::ops::Range<usize> {
    if line.contains('"') {
        return 0..line.len();
    }
    let mut start = 0;
    for (k, text) in line.split(delimiter).enumerate() {
        if k == field {
            let from = start + text.len() - text.trim_start().len();
            return from..from + text.trim().len();
        }
        start += text.len() + 1;
    }
    line.len()..line.len()
}
