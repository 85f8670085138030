//! Instruments drawn from the tolerances: how many have which extinction ratio, and which tolerance spreads them.

use super::axes::{AxesPanel, AxisScale};
use super::look::*;
use super::marks;
use super::numbers::{ratio, step_of_decade};
use crate::order::sort_by_number;
use crate::output::numbers::decimals;
use crate::study::draws::{Draws, Histogram, Varied};
use crate::study::sobol::{Estimate, Sobol};

const LEFT: f64 = 98.0;
const RIGHT: f64 = 772.0;
const TOP: f64 = 112.0;
const BOTTOM: f64 = 400.0;
/// Where the bars of the shares begin, the height of a row, and where the axis of their values starts.
const SHARES: f64 = 500.0;
const ROW: f64 = 26.0;
const BARS: f64 = 330.0;
/// Rows of shares at most: those that spread the instruments most.
const MOST_ROWS: usize = 12;

const BAR: Color = Color(0x6b, 0xa3, 0xd6);
const PALE: Color = Color(0xb9, 0xc4, 0xd0);

/// The figure of instruments drawn from tolerances: "draws"; none where no draw has a finite extinction ratio. `target` is the
/// extinction ratio that was wanted, where one was.
///
/// # Errors
/// [`FigureError::Drawing`].
pub fn draws_figures(
    title: &str,
    draws: &Draws,
    target: Option<f64>,
) -> Result<Vec<Figure>, FigureError> {
    let Some(histogram) = &draws.histogram else {
        return Ok(Vec::new());
    };
    let shares = shares(draws);
    let height = match shares.len() {
        0 => BOTTOM + 72.0,
        rows => SHARES + ROW * rows as f64 + 56.0,
    };
    let partial = match draws.done < draws.asked {
        true => format!(" of {} asked for: stopped early", draws.asked),
        false => String::new(),
    };
    let met = decimals(100.0 * (draws.met as f64 / draws.done as f64), 1);
    let subtitle = format!(
        "Extinction ratio of {} instruments built to the tolerances{partial}; {met} % meet the target",
        draws.done
    );
    let drawn = draw("draws", (title, &subtitle), height, |sheet| {
        bins(sheet, histogram, target, draws);
        if !shares.is_empty() {
            rows(sheet, &shares)
        }
    });
    Ok(vec![drawn?])
}

/// The bins, those that miss the target pale, with marks above at the target, the written stack and the median.
fn bins(sheet: &Sheet, histogram: &Histogram, target: Option<f64>, draws: &Draws) {
    let (low, width) = (histogram.first_log10, histogram.width_log10);
    let high = low + width * histogram.counts.len() as f64;
    let most = histogram.counts.iter().copied().max().unwrap_or(1) as f64;
    let mantissas: &[u32] = if high - low > 2.5 { &[1] } else { &[1, 2, 5] };
    let steps = AxisScale::steps((low, high), mantissas, step_of_decade, true);
    let instruments = AxisScale::linear(0.0, 1.06 * most, 6).titled("instruments");
    let (area, x) = ([LEFT, RIGHT, TOP, BOTTOM], steps.titled("extinction ratio"));
    let panel = AxesPanel::new(area, x, instruments).gridded(false, true);
    panel.draw(sheet);
    let x = |log: f64| panel.x(10f64.powf(log));
    for (bin, &count) in histogram.counts.iter().enumerate() {
        let from = low + width * bin as f64;
        let missed = target.is_some_and(|target| from + 0.5 * width < target.log10());
        let corner = (x(from) + 0.8, panel.y(count as f64));
        let color = if missed { PALE } else { BAR };
        sheet.fill(corner, (x(from + width) - 0.8, BOTTOM), color);
    }
    panel.frame(sheet);
    let median = (draws.percentiles.iter()).find(|percentile| percentile.percent == 50.0);
    let marks = [
        ("wanted", target, &[][..]),
        ("median", median.map(|median| median.ratio), &[7.0, 4.0]),
        ("as written", Some(draws.nominal), &[2.0, 3.0]),
    ];
    let marks = marks.into_iter().filter_map(|(words, at, dashes)| {
        let at = at.filter(|at| (low..=high).contains(&at.log10()))?;
        Some((at, format!("{words} {}", ratio(at)), dashes))
    });
    let room = (MARGIN, WIDTH - MARGIN);
    marks::draw(sheet, &panel, &marks.collect::<Vec<_>>(), room)
}

/// What spreads the instruments, most first.
fn shares(draws: &Draws) -> Vec<(&Varied, Sobol)> {
    let mut shares: Vec<_> = (draws.varied.iter())
        .filter_map(|varied| Some((varied, varied.sobol?)))
        .collect();
    sort_by_number(&mut shares, |share| -share.1.total.value);
    shares.truncate(MOST_ROWS);
    shares
}

/// Two bars for each tolerance: its share alone, and with the others.
fn rows(sheet: &Sheet, shares: &[(&Varied, Sobol)]) {
    let words =
        "Share of the spread (variance of the logarithm): dark, alone; pale, with the others";
    sheet.fitted(words, (MARGIN, SHARES - 26.0), ROOM, BODY.bold());
    let bottom = SHARES + ROW * shares.len() as f64;
    let percent = AxisScale::linear(0.0, 100.0, 5).titled("percent");
    let panel = AxesPanel::of_rows([BARS, RIGHT, SHARES - 4.0, bottom], percent);
    panel.draw(sheet);
    let x = |share: f64| panel.x(100.0 * share);
    for (row, (varied, sobol)) in shares.iter().enumerate() {
        let y = SHARES + ROW * row as f64;
        let name = format!("{}, {}", varied.part, varied.quantity.words());
        let set = BODY.sized(14.0);
        sheet.fitted(&name, (MARGIN, y + 0.4 * ROW), BARS - MARGIN - 12.0, set);
        for (estimate, color, y) in [(sobol.first, BAR, y + 1.0), (sobol.total, PALE, y + 11.0)] {
            let Estimate { value, low, high } = estimate;
            sheet.fill((BARS, y), (x(value), y + 9.0), color);
            let ends = [(x(low), y + 4.5), (x(high), y + 4.5)];
            sheet.line(&ends, Pen::full(INK, 1.2));
        }
    }
}
