//! Sheets compared on one sheet of paper: colours, light, extinction, cover, each with the range that it is known to.

use super::super::axes::{AxesPanel, AxisScale, ON_PAPER};
use super::super::look::*;
use super::super::numbers::{extent, whole_step};
use super::super::print::{Paper, PaperSize};
use super::foot::Foot;
use super::{EDGE, HEADING, LEADING, SMALL, TEXT, on_paper, slide};
use crate::output::which_sheet::{MIDDLE, cover, dark, light, which_sheet};
use crate::study::chart::{ColorGrid, ComparedSheet, KnownRatio, SheetComparison};
use crate::study::interval::Interval;

/// How the comparison is laid out.
struct Layout {
    /// Where the columns begin: names, colours, light, extinction, cover; the last one ends as far from the right edge as the first begins.
    at: [f64; 5],
    /// Between columns, and the heights of a row at the most and of a section's heading.
    gap: f64,
    row: f64,
    section: f64,
    /// Below the rows: numbers of the axes, where there are any.
    below: f64,
    /// Type of names, of values and of headings, and the sentences below.
    names: Type,
    values: Type,
    heading: Type,
    said: Type,
    /// Lines of light and of extinction stand so far from the middle of their row, over its height.
    off: [f64; 2],
    /// Whether there is less of it, in large type: no sections, no names of colours, no numbers at axes.
    is_slide: bool,
}

const PAPER: Layout = Layout {
    at: [EDGE, 148.0, 290.0, 452.0, 668.0],
    gap: 22.0,
    row: 42.0,
    section: 20.0,
    below: 30.0,
    names: TEXT.sized(8.0),
    values: SMALL,
    heading: HEADING,
    said: TEXT.sized(8.0).bold(),
    off: [0.22, 0.2],
    is_slide: false,
};

const SLIDE: Layout = Layout {
    at: [slide::EDGE, 262.0, 420.0, 616.0, 840.0],
    gap: 16.0,
    row: 46.0,
    section: 0.0,
    below: 8.0,
    names: slide::TEXT,
    values: slide::TEXT,
    heading: slide::TEXT.bold(),
    said: slide::TEXT,
    off: [0.26; 2],
    is_slide: true,
};

/// Below what is said.
const AFTER: f64 = 12.0;
/// Where the first row begins on paper.
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
    if paper.size == PaperSize::Wide {
        let remark = "Lines through a point: 90 % of what it may be. Colours: of the pair alone, crossed brighter by the stops in its patch. Extinction: logarithmic, a line for each factor of 10.";
        let said = (&colors.conditions, remark);
        return slide::on_slide(NAME, (title, &subject), paper, said, |sheet, (top, end)| {
            let heads = [
                ["Parallel,", "crossed"],
                ["Light passed, %:", "one, parallel pair"],
                ["Extinction ratio:", "○ pair  ● in place"],
                ["Cover,", "nm"],
            ];
            for (column, words) in heads.iter().enumerate() {
                let at = (SLIDE.at[column + 1], top + slide::LINE);
                sheet.block(words, at, (slide::LINE, f64::MAX), SLIDE.heading);
            }
            draw(sheet, answer, &SLIDE, (top + 2.0 * slide::LINE + 8.0, end));
        });
    }
    on_paper(NAME, (title, &subject), paper, true, |sheet| {
        on_one_paper(sheet, answer, colors);
    })
}

fn on_one_paper(sheet: &Sheet, answer: &SheetComparison, colors: &ColorGrid) {
    let remarks = [
        "Lines through a point and over the end of a bar: 90 % of what it may be, as far as catalog and file tell how well it is known.".to_owned(),
        format!("{MIDDLE}."),
        "Colours are those of a pair alone, parallel and crossed: parallel pairs are shown one stop brighter than beside the lamp, so that an ideal pair is white; crossed pairs beside their own parallel light, brighter as stated.".to_owned(),
    ];
    let foot = Foot::of(sheet, &colors.conditions, &remarks);
    foot.draw(sheet);
    let [_, colors_at, light, extinction, cover] = PAPER.at;
    let heads = [
        (colors_at, light, "Pair alone: parallel, crossed"),
        (light, extinction, "Light passed, %: one, parallel pair"),
        (
            extinction,
            cover,
            "Extinction ratio: pair alone, and in place",
        ),
        (cover, sheet.size.0 - EDGE + PAPER.gap, "Cover, nm"),
    ];
    for (left, right, words) in heads {
        let room = right - left - PAPER.gap;
        sheet.fitted(words, (left, TOP - 12.0), room, HEADING);
    }
    let key = format!("○ pair alone   ● {}", answer.placed_in);
    let room = cover - extinction - PAPER.gap;
    sheet.fitted(&key, (extinction, TOP - 1.0), room, SMALL);
    let end = sheet.size.1 - EDGE - foot.height();
    draw(sheet, answer, &PAPER, (TOP, end));
}

/// Draws all rows, and below them what the comparison says.
fn draw(sheet: &Sheet, answer: &SheetComparison, layout: &Layout, (top, end): (f64, f64)) {
    let (left, set, line) = (layout.at[0], layout.said, layout.line());
    let right = sheet.size.0 - left;
    // On a slide the numbers beside the bars tell which is brightest.
    let told = if layout.is_slide { 1 } else { usize::MAX };
    let said: Vec<String> = (which_sheet(answer).iter().take(told))
        .flat_map(|words| sheet.wrapped(words, right - left, set))
        .collect();
    let end = end - (layout.below + line * said.len() as f64 + AFTER);
    let sections = (answer.sheets.chunk_by(|a, b| a.section == b.section)).count() as f64;
    let rows = answer.sheets.len() as f64;
    let high = layout.section * sections;
    let row = ((end - top - high) / rows).min(layout.row);
    let bottom = top + high + row * rows;
    for (k, words) in said.iter().enumerate() {
        let y = bottom + layout.below + line * (k as f64 + 0.5);
        sheet.text(words, (left, y), set);
    }
    let panels = Panels::of(sheet, answer, layout, (top, bottom));
    let mut y = top;
    for section in answer.sheets.chunk_by(|a, b| a.section == b.section) {
        if !layout.is_slide {
            let heading = section[0].section.heading();
            y += layout.section;
            let at = (left, y - 0.35 * layout.section);
            sheet.text(heading, at, layout.heading.sized(layout.names.size));
            sheet.line(&[(left, y), (right, y)], Pen::full(GRID, 0.8));
        }
        for compared in section {
            panels.row(sheet, compared, y, row);
            y += row;
        }
    }
}

impl Layout {
    /// From one line of what is said to the next.
    fn line(&self) -> f64 {
        if self.is_slide { slide::LINE } else { 12.0 }
    }
}

struct Panels<'a> {
    layout: &'a Layout,
    light: AxesPanel,
    extinction: AxesPanel,
    cover: AxesPanel,
}

impl<'a> Panels<'a> {
    fn of(
        sheet: &Sheet,
        answer: &SheetComparison,
        layout: &'a Layout,
        (top, bottom): (f64, f64),
    ) -> Self {
        let [edge, _, light, extinction, cover] = layout.at;
        let panel = |left: f64, right: f64, x| {
            let area = [
                left,
                right - layout.gap,
                top + if layout.is_slide { -4.0 } else { 6.0 },
                bottom,
            ];
            AxesPanel::of_rows(area, x).looking(ON_PAPER)
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
        // On a slide every value is written beside its mark.
        let number = |m, e| match layout.is_slide {
            true => String::new(),
            false => whole_step(m, e, 6),
        };
        let ratios = AxisScale::steps(ends, &[1], number, true);
        let linear = |end, most| match layout.is_slide {
            true => AxisScale::ticked(0.0, 1.3 * end, std::iter::empty()),
            false => AxisScale::linear(0.0, end, most),
        };
        let covers = answer.sheets.iter().map(|row| row.cover_nm);
        let cover_end = covers.fold(80.0, f64::max).min(MOST_COVER_NM);
        let panels = Self {
            layout,
            light: panel(light, extinction, linear(70.0, 7)),
            extinction: panel(extinction, cover, ratios),
            cover: panel(
                cover,
                sheet.size.0 - edge + layout.gap,
                linear(cover_end, 4),
            ),
        };
        for panel in [&panels.light, &panels.extinction, &panels.cover] {
            panel.draw(sheet);
        }
        panels
    }

    fn row(&self, sheet: &Sheet, row: &ComparedSheet, y: f64, high: f64) {
        let middle = y + 0.5 * high;
        let Layout {
            at: [edge, colors_at, light_at, ..],
            values,
            off: [apart, parted],
            ..
        } = *self.layout;
        let room = colors_at - edge - if self.layout.is_slide { 0.0 } else { 10.0 };
        sheet.fitted(&row.sheet, (edge, middle), room, self.layout.names);
        let wide = 0.5 * (light_at - colors_at - self.layout.gap);
        colors(sheet, row, (colors_at, y), (wide, high), self.layout);
        for (known, offset) in [(&row.one, -apart), (&row.parallel, apart)] {
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
            sheet.text(&value, words, values);
        }
        let ratios = [(&row.pair, -parted, false), (&row.placed, parted, true)];
        for (ratio, offset, full) in ratios {
            let at = middle + offset * high;
            let [value, _] = dark(ratio);
            let Some(written) = ratio.extinction_ratio else {
                let words = (self.extinction.right - 4.0, at);
                sheet.text(&value, words, values.right());
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
                true => sheet.text(&value, (left - 7.0, at), values.right()),
                false => sheet.text(&value, (right + 7.0, at), values),
            }
        }
        // On a slide the value stands in the upper half of the row.
        let down = if self.layout.is_slide {
            0.26 * high
        } else {
            0.0
        };
        range(sheet, &self.cover, row.cover, middle + down, 1.0);
        sheet.dot((self.cover.x(row.cover_nm), middle + down), 3.0, INK);
        let [value, _] = cover(row);
        let up = if self.layout.is_slide {
            down
        } else {
            2.5 + values.size
        };
        // Clear of the frame.
        let aside = match self.layout.is_slide && row.cover_nm < 10.0 {
            true => (self.cover.left + 6.0 - self.cover.x(row.cover_nm)).max(0.0),
            false => 0.0,
        };
        let place = (self.cover.x(row.cover_nm) + aside, middle - up);
        let set = values.anchored(match row.cover_nm < 10.0 {
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
fn colors(sheet: &Sheet, row: &ComparedSheet, (x, y): Point, (wide, high): Point, layout: &Layout) {
    let pair = [(&row.parallel_color, false), (&row.crossed_color, true)];
    for (k, (look, exposed)) in pair.into_iter().enumerate() {
        let left = x + k as f64 * wide;
        let (from, to) = ((left, y + 3.0), (left + wide - 2.0, y + high - 3.0));
        let shown: palette::Srgb<u8> = look.srgb.parse().unwrap_or_default();
        sheet.fill(from, to, Color(shown.red, shown.green, shown.blue));
        sheet.frame(from, to, Pen::full(FRAME, 0.4));
        let brighter = exposed && look.exposure_stops > 0.0;
        let (set, lines) = if layout.is_slide {
            let stops = brighter.then(|| format!("+{}", look.exposure_stops));
            (layout.values, stops.into_iter().collect())
        } else {
            let mut lines = sheet.wrapped_to(&look.name, wide - 8.0, 2, SMALL);
            if brighter {
                lines.push(format!("{} stops up", look.exposure_stops));
            }
            (SMALL, lines)
        };
        let linear = shown.into_format::<f64>().into_linear();
        let set = set
            .centred()
            .inked(ink_on([linear.red, linear.green, linear.blue]));
        let middle = (0.5 * (from.0 + to.0), 0.5 * (from.1 + to.1));
        sheet.block(&lines, middle, (LEADING * set.size, wide - 8.0), set);
    }
}
