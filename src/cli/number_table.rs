//! Tables of numbers that fill a picture: a CSV without a header, or a 16-bit grey PNG.

use std::path::Path;

use super::{Failure, refused};

/// Largest file, bytes, and most numbers.
const MOST_BYTES: u64 = 512 << 20;
const MOST_NUMBERS: usize = 4096 * 4096;

/// Columns and rows, and the numbers row by row; those of a picture are its greys times `step`.
pub(super) type NumberTable = ((usize, usize), Vec<f64>);

/// Reads a table; `asked` is the option that told the step of a grey, where one did.
///
/// # Errors
/// [`Failure::View`], with the line and column of a number that is none; [`Failure::Named`] where a step was told for a CSV.
pub(super) fn read_number_table(
    file: &Path,
    step: f64,
    asked: Option<&'static str>,
) -> Result<NumberTable, Failure> {
    let wrong = |error: String| Failure::View {
        file: file.to_owned(),
        error,
    };
    let unreadable = |error| Failure::Unreadable {
        path: file.to_owned(),
        error,
    };
    let size = std::fs::metadata(file).map_err(unreadable)?.len();
    if size > MOST_BYTES {
        return Err(wrong(format!("larger than {MOST_BYTES} bytes")));
    }
    let bytes = std::fs::read(file).map_err(unreadable)?;
    if bytes.starts_with(b"\x89PNG") {
        return greys(&bytes, step).map_err(wrong);
    }
    let table = numbers(&bytes).map_err(wrong)?;
    match asked {
        None => Ok(table),
        Some(option) => Err(refused(
            option,
            &format!("{} is a CSV, whose numbers have no steps", file.display()),
            &format!("leave out {option}"),
        )),
    }
}

fn numbers(bytes: &[u8]) -> Result<NumberTable, String> {
    let text = std::str::from_utf8(bytes).map_err(|_| {
        "neither a PNG nor text; allowed: CSV of numbers, 16-bit grey PNG".to_owned()
    })?;
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let (mut rows, mut all) = (0, Vec::new());
    let mut first: Option<(usize, usize)> = None;
    for record in reader.records() {
        // Of text in memory every record can be read.
        let record = record.map_err(|_| "is no table of numbers".to_owned())?;
        let begin = record.position().map_or(0, |place| place.byte() as usize);
        let columns = record.len();
        let (wanted, first_begin) = *first.get_or_insert((columns, begin));
        if columns != wanted {
            let cells = if columns == 1 { "cell" } else { "cells" };
            return Err(format!(
                "line {} has {columns} {cells} where line {} has {wanted}",
                line(text, begin),
                line(text, first_begin)
            ));
        }
        rows += 1;
        if all.len() + columns > MOST_NUMBERS {
            return Err(format!("more than {MOST_NUMBERS} numbers"));
        }
        for (column, cell) in record.iter().enumerate() {
            let value: Option<f64> = cell.parse().ok().filter(|value: &f64| value.is_finite());
            all.push(value.ok_or_else(|| {
                format!(
                    "line {}, column {}: {cell:?} is no number",
                    line(text, begin),
                    column + 1
                )
            })?);
        }
    }
    match first {
        Some((columns, _)) => Ok(((columns, rows), all)),
        None => Err("the file is empty".to_owned()),
    }
}

/// Line, from 1, of the first character at or after a byte that ends no line: empty lines are no rows.
fn line(text: &str, begin: usize) -> usize {
    let breaks = |part: &str| part.matches('\n').count();
    let (before, rest) = text.split_at_checked(begin).unwrap_or((text, ""));
    let empty = rest.len() - rest.trim_start_matches(['\r', '\n']).len();
    1 + breaks(before) + breaks(&rest[..empty])
}

fn greys(bytes: &[u8], step: f64) -> Result<NumberTable, String> {
    let mut decoder = png::Decoder::new(bytes);
    decoder.set_transformations(png::Transformations::IDENTITY);
    let mut reader = decoder
        .read_info()
        .map_err(|error| format!("is no PNG: {error}"))?;
    let info = reader.info();
    let (columns, rows) = (info.width as usize, info.height as usize);
    if (info.color_type, info.bit_depth) != (png::ColorType::Grayscale, png::BitDepth::Sixteen) {
        return Err("the PNG is not 16-bit grey: save it so, or as a CSV of numbers".to_owned());
    }
    if columns.saturating_mul(rows) > MOST_NUMBERS {
        return Err(format!("more than {MOST_NUMBERS} points"));
    }
    let mut raw = vec![0; reader.output_buffer_size()];
    reader
        .next_frame(&mut raw)
        .map_err(|error| format!("the PNG breaks off: {error}"))?;
    let grey = |pair: &[u8]| step * f64::from(u16::from_be_bytes([pair[0], pair[1]]));
    Ok(((columns, rows), raw.chunks_exact(2).map(grey).collect()))
}
