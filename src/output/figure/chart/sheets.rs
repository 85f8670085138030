//! Sheets compared on one sheet of paper: colours, light, extinction, cover, each with the range that it is known to.

use super::super::axes::{AxesPanel, AxisScale, ON_PAPER};
use super::super::look::*;
use super::super::numbers::{extent, whole_step};
use super::super::print::Paper;
use super::foot::Foot;
use super::{EDGE, HEADING, LEADING, SMALL, TEXT, on_paper};
use crate::output::which_sheet::{MIDDLE, cover, dark, light, which_sheet};
use crate::study::chart::{ColorGrid, ComparedSheet, KnownRatio, SheetComparison};
use crate::study::interval::Interval;

/// Where the columns begin: names, colours, light, extinction, cover; the fifth ends at the edge.
const COLORS: f64 = 148.0;
const LIGHT: f64 = 290.0;
const EXTINCTION: f64 = 452.0;
const COVER: f64 = 668.0;
/// Between columns, and heights of a row and of a section's heading.
const GAP: f64 = 22.0;
const ROW: f64 = 42.0;
const SECTION: f64 = 20.0;
/// Below the rows: numbers of the axes; then what the comparison says, line by line, and a gap.
const BELOW: f64 = 30.0;
const SAID: f64 = 12.0;
const AFTER: f64 = 12.0;
/// Where the first row begins.
const TOP: f64 = 104.0;
/// Colour of bars.
const BAR: Color = Color(0xb4, 0xb8, 0xc4);
/// The longest axis of covers, nm.
const MOST_COVER_NM: f64 = 100.0;
/// More of an ordinary sheet's leak is not told apart on the axis.
const DARKEST: f64 = 1e6;

/// The sheet "chart-sheets-compared", held sideways.
///
/// # Errors
/// [`FigureError::Drawing`] for a comparison without sheets, or with more than a page holds.
pub fn compared_figure(
    title: Option<&str>,
    answer: &SheetComparison,
    colors: &ColorGrid,
    paper: Paper,
) -> Result<Figure, FigureError> {
    const NAME: &str = "chart-sheets-compared";
    let subject = format!("Which sheet, under {}", answer.lamp);
    on_paper(NAME, (title, &subject), paper, true, |sheet| {
        draw(sheet, answer, colors);
    })
}

fn draw(sheet: &Sheet, answer: &SheetComparison, colors: &ColorGrid) {
    let remarks = [
        "Lines through a point and over the end of a bar: 90 % of what it may be, as far as catalog and file tell how well it is known.".to_owned(),
        format!("{MIDDLE}."),
        "Colours are those of a pair alone, parallel and crossed: parallel pairs are shown one stop brighter than beside the lamp, so that an ideal pair is white; crossed pairs beside their own parallel light, brighter as stated.".to_owned(),
    ];
    let foot = Foot::of(sheet, &colors.conditions, &remarks);
    foot.draw(sheet);
    let set = TEXT.sized(8.0).bold();
    let room = sheet.size.0 - 2.0 * EDGE;
    let said: Vec<String> = (which_sheet(answer).iter())
        .flat_map(|words| sheet.wrapped(words, room, set))
        .collect();
    let below = BELOW + SAID * said.len() as f64 + AFTER;
    let end = sheet.size.1 - EDGE - foot.height() - below;
    let sections = (answer.sheets.chunk_by(|a, b| a.section == b.section)).count() as f64;
    let rows = answer.sheets.len() as f64;
    let row = ((end - TOP - SECTION * sections) / rows).min(ROW);
    let bottom = TOP + SECTION * sections + row * rows;
    let heads = [
        (COLORS, LIGHT, "Pair alone: parallel, crossed"),
        (LIGHT, EXTINCTION, "Light passed, %: one, parallel pair"),
        (
            EXTINCTION,
            COVER,
            "Extinction ratio: pair alone, and in place",
        ),
        (COVER, sheet.size.0 - EDGE + GAP, "Cover, nm"),
    ];
    for (left, right, words) in heads {
        sheet.fitted(words, (left, TOP - 12.0), right - left - GAP, HEADING);
    }
    let key = format!("○ pair alone   ● {}", answer.placed_in);
    sheet.fitted(
        &key,
        (EXTINCTION, TOP - 1.0),
        COVER - EXTINCTION - GAP,
        SMALL,
    );
    for (k, words) in said.iter().enumerate() {
        let y = bottom + BELOW + SAID * (k as f64 + 0.5);
        sheet.text(words, (EDGE, y), set);
    }
    let panels = Panels::of(sheet, answer, bottom);
    let mut y = TOP;
    for section in answer.sheets.chunk_by(|a, b| a.section == b.section) {
        let heading = section[0].section.heading();
        y += SECTION;
        sheet.text(heading, (EDGE, y - 0.35 * SECTION), HEADING.sized(8.0));
        sheet.line(&[(EDGE, y), (sheet.size.0 - EDGE, y)], Pen::full(GRID, 0.8));
        for compared in section {
            panels.row(sheet, compared, y, row);
            y += row;
        }
    }
}

struct Panels {
    light: AxesPanel,
    extinction: AxesPanel,
    cover: AxesPanel,
}

impl Panels {
    fn of(sheet: &Sheet, answer: &SheetComparison, bottom: f64) -> Self {
        let panel = |left: f64, right: f64, x| {
            AxesPanel::of_rows([left, right - GAP, TOP + 6.0, bottom], x).looking(ON_PAPER)
        };
        let most = answer.sheets.iter().flat_map(|row| {
            let ends = |ratio: &KnownRatio| {
                let doubt = ratio.doubt.map(|doubt| [doubt.low, doubt.high]);
                let ends = doubt.into_iter().flatten().chain(ratio.extinction_ratio);
                ends.collect::<Vec<_>>()
            };
            [ends(&row.pair), ends(&row.placed)].concat()
        });
        let (low, high) = extent(most).unwrap_or((1.0, 1e3));
        let ends = (low.log10().floor(), high.min(DARKEST).log10().ceil());
        let ends = (ends.0.min(ends.1 - 1.0), ends.1);
        let ratios = AxisScale::steps(ends, &[1], |m, e| whole_step(m, e, 6), true);
        let covers = answer.sheets.iter().map(|row| row.cover_nm);
        let cover_end = covers.fold(80.0, f64::max).min(MOST_COVER_NM);
        let panels = Self {
            light: panel(LIGHT, EXTINCTION, AxisScale::linear(0.0, 70.0, 7)),
            extinction: panel(EXTINCTION, COVER, ratios),
            cover: panel(
                COVER,
                sheet.size.0 - EDGE + GAP,
                AxisScale::linear(0.0, cover_end, 4),
            ),
        };
        for panel in [&panels.light, &panels.extinction, &panels.cover] {
            panel.draw(sheet);
        }
        panels
    }

    fn row(&self, sheet: &Sheet, row: &ComparedSheet, y: f64, high: f64) {
        let middle = y + 0.5 * high;
        let room = COLORS - EDGE - 10.0;
        sheet.fitted(&row.sheet, (EDGE, middle), room, TEXT.sized(8.0));
        colors(sheet, row, (COLORS, y), high);
        for (known, offset) in [(&row.one, -0.22), (&row.parallel, 0.22)] {
            let at = middle + offset * high;
            let x = self.light.x(100.0 * known.likely());
            let half = 0.13 * high;
            sheet.fill((self.light.left, at - half), (x, at + half), BAR);
            range(sheet, &self.light, known.doubt, at, 100.0);
            let [value, _] = light(known);
            let words = (
                x.max(self.light.x(100.0 * known.doubt.map_or(0.0, |d| d.high))) + 5.0,
                at,
            );
            sheet.text(&value, words, SMALL);
        }
        for (ratio, offset, full) in [(&row.pair, -0.2, false), (&row.placed, 0.2, true)] {
            let at = middle + offset * high;
            let [value, _] = dark(ratio);
            let Some(written) = ratio.extinction_ratio else {
                let words = (self.extinction.right - 4.0, at);
                sheet.text(&value, words, SMALL.right());
                continue;
            };
            range(sheet, &self.extinction, ratio.doubt, at, 1.0);
            let x = self.extinction.x(written);
            sheet.dot((x, at), 3.0, if full { INK } else { Color::WHITE });
            sheet.circle((x, at), 3.0, Pen::full(INK, 1.0));
            // The number stands where there is more room.
            let (low, high) = ratio.doubt.map_or((written, written), |d| (d.low, d.high));
            let (left, right) = (self.extinction.x(low), self.extinction.x(high));
            match left - self.extinction.left > self.extinction.right - right {
                true => sheet.text(&value, (left - 7.0, at), SMALL.right()),
                false => sheet.text(&value, (right + 7.0, at), SMALL),
            }
        }
        range(sheet, &self.cover, row.cover, middle, 1.0);
        sheet.dot((self.cover.x(row.cover_nm), middle), 3.0, INK);
        let [value, _] = cover(row);
        let place = (self.cover.x(row.cover_nm), middle - 8.0);
        let set = SMALL.anchored(match row.cover_nm < 10.0 {
            true => HPos::Left,
            false => HPos::Center,
        });
        sheet.text(&value, place, set);
    }
}

/// A thick line over what a value may be.
fn range(sheet: &Sheet, panel: &AxesPanel, range: Option<Interval>, y: f64, scale: f64) {
    let Some(range) = range else { return };
    let ends = [range.low, range.high].map(|end| (panel.x(scale * end), y));
    sheet.line(&ends, Pen::full(FRAME, 1.8));
    for (x, y) in ends {
        sheet.line(&[(x, y - 3.0), (x, y + 3.0)], Pen::full(FRAME, 1.0));
    }
}

/// Two patches with their names: parallel, and crossed as it is exposed.
fn colors(sheet: &Sheet, row: &ComparedSheet, (x, y): Point, high: f64) {
    let wide = 0.5 * (LIGHT - COLORS - GAP);
    let pair = [(&row.parallel_color, false), (&row.crossed_color, true)];
    for (k, (look, exposed)) in pair.into_iter().enumerate() {
        let left = x + k as f64 * wide;
        let (from, to) = ((left, y + 3.0), (left + wide - 2.0, y + high - 3.0));
        let shown: palette::Srgb<u8> = look.srgb.parse().unwrap_or_default();
        sheet.fill(from, to, Color(shown.red, shown.green, shown.blue));
        sheet.frame(from, to, Pen::full(FRAME, 0.4));
        let mut lines = sheet.wrapped_to(&look.name, wide - 8.0, 2, SMALL);
        if exposed && look.exposure_stops > 0.0 {
            lines.push(format!("{} stops up", look.exposure_stops));
        }
        let linear = shown.into_format::<f64>().into_linear();
        let set = SMALL
            .centred()
            .inked(ink_on([linear.red, linear.green, linear.blue]));
        let middle = (0.5 * (from.0 + to.0), 0.5 * (from.1 + to.1));
        sheet.block(&lines, middle, (LEADING * set.size, wide - 8.0), set);
    }
}
