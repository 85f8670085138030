//! The chart for the wall: bands that fill the sheet, names to be read from afar, and lines of materials over soft colours.
//!
//! Everything is measured in the size of the names' type, which goes by the paper. From left to right: the specimen with the plate subtracted and
//! added, names of colours, the band of the specimen alone, and its colours once more, softly, under the lines of path difference over thickness.

mod details;
mod lines;

use super::super::axes::{AxisScale, on_wall};
use super::super::look::*;
use super::super::numbers::{linear_ticks, plain};
use super::super::print::{Held, Paper, PaperSize, printed};
use super::column::{self, PathAxis};
use super::foot::{Foot, circumstances};
use super::names::{self, NameLook};
use super::{fan, scale};
use crate::color::{Oklch, Swatch};
use crate::material::catalog::NamedBirefringence;
use crate::output::CAUTION;
use crate::output::sheet::{FOOT_TYPE, SLIDE};
use crate::study::chart::{Band, Scale};

/// Height of a capital or a digit over the size of the type.
const CAPITAL: f64 = 0.729;
/// Between lines of names, over the size of their type.
const LINE: f64 = 1.17;
/// Of what lies between a colour and white, so much is left in a soft colour: ink has a contrast of 4.5 at least on all of them.
const SOFTNESS: f64 = 0.36;
/// Difference in Oklab between a colour and what is drawn of it where the edge beside a band is as wide as it gets.
const WIDEST_EDGE: f64 = 0.1;
/// Below this share of its full width there is no edge.
const THINNEST_EDGE: f64 = 0.03;
/// The most corners of such an edge.
const CORNERS: usize = 600;

/// Headings of the bands: specimen alone, plate added, plate subtracted.
const HEADINGS: [&str; 3] = ["specimen alone", "+ plate", "− plate"];

/// What the chart is called.
const TITLE: &str = "Interference colours";

/// Millimetres that capitals and digits of the names are high: on A3 they can be read from three metres (common practice, no source: a
/// five-hundredth of the distance).
fn capital_mm(size: PaperSize) -> f64 {
    match size {
        PaperSize::A4 => 4.5,
        PaperSize::A3 => 6.2,
        PaperSize::A2 => 7.6,
        PaperSize::A1 => 9.6,
        PaperSize::Wide => 4.6,
    }
}

/// The chart for the wall and a sheet of its details: "chart-interference" and "chart-interference-details".
///
/// `scale` is that of [`crate::study::chart::wall`], `named` the things whose lines are drawn, the most important first. `title` is that of the
/// scenario, where there is one. The colours of the bands are brought into the gamut by [`crate::color::blend_into_srgb`].
///
/// # Errors
/// As [`super::chart_figure`], and [`FigureError::Drawing`] for a scale of other than three bands.
pub fn wall_figures(
    title: Option<&str>,
    scale: &Scale,
    named: &[NamedBirefringence],
    paper: Paper,
) -> Result<Vec<Figure>, FigureError> {
    let figure = "chart-interference";
    let wrong = undrawn::<String>(figure);
    let axis = scale::check(scale).map_err(&wrong)?;
    let [alone, added, subtracted] = &scale.bands[..] else {
        let count = scale.bands.len();
        return Err(wrong(format!("{count} bands, needed are 3")));
    };
    let bands = [alone, added, subtracted];
    let chart = printed(
        figure,
        title.unwrap_or(TITLE),
        paper,
        Held {
            sideways: true,
            own_size: true,
        },
        |sheet| {
            let size = capital_mm(paper.size) / CAPITAL * sheet.size.0 / paper.mm().1;
            let wall = Wall::new(sheet, axis, size, &foot(scale, paper.size), title.is_some());
            wall.draw(title, bands, named);
        },
    )?;
    Ok(vec![
        chart,
        details::figure(title, scale, named, paper.dpi)?,
    ])
}

/// Where everything stands.
struct Wall<'a> {
    sheet: &'a Sheet,
    axis: PathAxis,
    /// Size of the names' type.
    size: f64,
    foot: Foot,
    /// Left and right edge of the bands: alone, plate added, plate subtracted.
    bands: [(f64, f64); 3],
    /// Right edge of the names.
    names: f64,
    /// Left and right edge of the panel of lines.
    fan: (f64, f64),
}

impl<'a> Wall<'a> {
    fn new(sheet: &'a Sheet, axis: PathAxis, size: f64, foot: &[String], subtitled: bool) -> Self {
        let set = BODY.sized(size);
        let (margin, gap) = (1.2 * size, 0.7 * size);
        let wide = |words: &str, set: Type| sheet.width(words, set);
        let names = wide("yellow-green", set) + NameLook::on_wall(size).leader;
        let labels = wide("magnesium", set.bold()) + 2.6 * size;
        let strip = wide("0000", set) + 0.9 * size;
        let orders = 1.5 * size;
        let rest = sheet.size.0 - 2.0 * margin - orders - names - strip - labels - 4.0 * gap;
        let plate = (0.12 * rest).max(wide(HEADINGS[2], set.bold()) + 0.3 * size);
        let alone = (0.24 * rest).max(wide("specimen", set.bold()) + 0.3 * size);
        let subtracted = margin + orders + gap;
        let added = subtracted + plate + gap;
        let first = added + plate + gap + names + gap;
        let fan = first + alone + strip;
        let least_foot = if sheet.size == SLIDE { FOOT_TYPE } else { 0.0 };
        let foot = Foot::set(
            sheet,
            foot,
            (margin, SOFT.sized((0.42 * size).max(least_foot))),
            0.22,
        );
        let head = if subtitled { 2.9 } else { 2.1 };
        let axis = PathAxis {
            top: margin + (head + 2.0 * LINE + 0.4) * size,
            bottom: sheet.size.1 - margin - foot.height() - 3.3 * size,
            ..axis
        };
        Self {
            sheet,
            axis,
            size,
            foot,
            bands: [
                (first, first + alone),
                (added, added + plate),
                (subtracted, subtracted + plate),
            ],
            names: first - gap,
            fan: (fan, sheet.size.0 - margin - labels),
        }
    }

    /// Whether it is a slide, without what would be too small on it.
    fn is_slide(&self) -> bool {
        self.sheet.size == SLIDE
    }

    /// The type of the names.
    fn set(&self) -> Type {
        BODY.sized(self.size)
    }

    fn draw(&self, title: Option<&str>, bands: [&Band; 3], named: &[NamedBirefringence]) {
        let (sheet, axis, size) = (self.sheet, &self.axis, self.size);
        self.head(title);
        self.orders();
        for (k, band) in bands.into_iter().enumerate() {
            let colors = column::blended(axis, band);
            if k == 0 {
                self.soft(&colors);
            }
            self.band(&colors, band, self.bands[k], HEADINGS[k]);
        }
        let look = NameLook::on_wall(size);
        names::draw(
            sheet,
            axis,
            bands[0],
            &look,
            self.names,
            self.names - self.bands[1].1,
        );
        self.ruler();
        let most_um = fan::most_um(axis.last_nm);
        let ticks = ((self.fan.1 - self.fan.0) / (2.2 * size)).clamp(1.0, 6.0) as u32;
        let thickness = AxisScale::linear(0.0, most_um, ticks).titled("thickness in µm");
        let look = on_wall(size);
        let panel = axis.panel(self.fan, thickness).gridded(false, false);
        let panel = panel.looking(look);
        panel.axes(sheet);
        lines::draw(self, &panel, most_um, named);
        self.foot.draw(sheet);
    }

    fn head(&self, title: Option<&str>) {
        let (sheet, size) = (self.sheet, self.size);
        let (margin, room) = (1.2 * size, self.fan.0 - 2.4 * size);
        let large = self.set().sized(1.5 * size).bold();
        sheet.fitted(TITLE, (margin, margin + 0.8 * size), room, large);
        if let Some(title) = title {
            let set = SOFT.sized(if self.is_slide() { size } else { 0.7 * size });
            sheet.fitted(title, (margin, margin + 2.3 * size), room, set);
        }
    }

    /// "order 1" and so on at the left, and thin lines between orders from there to the bands.
    fn orders(&self) {
        let (sheet, axis, size) = (self.sheet, &self.axis, self.size);
        let left = 1.2 * size;
        let set = SOFT.sized(size).centred().turned(true);
        axis.names_of_orders(sheet, left + 0.65 * size, set);
        for y in axis.order_lines() {
            let ends = [(left, y), (self.bands[1].0, y)];
            sheet.line(&ends, Pen::full(FRAME, 0.04 * size));
        }
    }

    /// The colours once more, softly, from the band to the end of the lines.
    fn soft(&self, colors: &[Swatch]) {
        let (left, right) = (self.bands[0].1, self.fan.1);
        let pale: Vec<Swatch> = colors.iter().map(soft).collect();
        column::fill(self.sheet, &self.axis, &pale, (left, right - left));
    }

    fn band(&self, colors: &[Swatch], band: &Band, (left, right): (f64, f64), heading: &str) {
        let (sheet, axis, size) = (self.sheet, &self.axis, self.size);
        column::fill(sheet, axis, colors, (left, right - left));
        let pen = Pen::full(FRAME, 0.03 * size);
        sheet.frame((left, axis.top), (right, axis.bottom), pen);
        let moved = band.tints.iter().zip(colors).map(|(tint, shown)| {
            let (was, is) = (Oklch::of_linear(tint.linear), shown.oklch());
            let moved = (was.lightness - is.lightness).hypot(was.chroma - is.chroma);
            (moved / WIDEST_EDGE).clamp(0.0, 1.0)
        });
        edge(sheet, axis, moved, (left - 0.12 * size, 0.3 * size));
        let set = self.set().bold().centred();
        let lines = sheet.wrapped(heading, right - left, set);
        let high = LINE * size * lines.len() as f64;
        let middle = (0.5 * (left + right), axis.top - 0.4 * size - 0.5 * high);
        sheet.block(&lines, middle, (LINE * size, right - left), set);
    }

    /// Path differences between the band and the lines.
    fn ruler(&self) {
        let (sheet, axis, size) = (self.sheet, &self.axis, self.size);
        let (left, right) = (self.bands[0].1, self.fan.0);
        let high = axis.bottom - axis.top;
        let most = (high / (2.2 * size)).floor().max(2.0) as u32;
        let (ticks, decimals) = linear_ticks(axis.first_nm, axis.last_nm, most);
        let pen = Pen::full(INK, 0.06 * size);
        for nm in ticks {
            let y = axis.y(nm);
            sheet.line(&[(left, y), (left + 0.3 * size, y)], pen);
            let inside = y.clamp(axis.top + 0.5 * size, axis.bottom - 0.5 * size);
            let at = (right - 0.3 * size, inside);
            sheet.text(&plain(nm, decimals), at, self.set().right());
        }
        for (k, words) in ["path difference", "in nm"].iter().enumerate() {
            let y = axis.bottom + (0.95 + LINE * k as f64) * size;
            sheet.text(words, (right - 1.9 * size, y), self.set().right());
        }
    }
}

/// The grey edge beside a band, from `right` to the left: the wider, the more colours are toned down. It begins and ends in a point.
fn edge(
    sheet: &Sheet,
    axis: &PathAxis,
    moved: impl ExactSizeIterator<Item = f64>,
    (right, widest): (f64, f64),
) {
    let every = moved.len().div_ceil(CORNERS).max(1);
    let corners: Vec<(f64, f64)> = (moved.enumerate().step_by(every))
        .map(|(k, moved)| (moved, axis.y(axis.at(k))))
        .collect();
    for run in corners.split(|corner| corner.0 < THINNEST_EDGE) {
        let (Some(first), Some(last)) = (run.first(), run.last()) else {
            continue;
        };
        let outline = run.iter().map(|(moved, y)| (right - widest * moved, *y));
        let outline: Vec<Point> = std::iter::once((right, first.1))
            .chain(outline)
            .chain([(right, last.1)])
            .collect();
        if run.len() > 1 {
            sheet.polygon(&outline, FRAME);
        }
    }
}

/// A colour on its way to white.
fn soft(full: &Swatch) -> Swatch {
    let full = full.oklch();
    let pale = Oklch {
        lightness: 1.0 - SOFTNESS * (1.0 - full.lightness),
        chroma: SOFTNESS * full.chroma,
        ..full
    };
    Swatch::of_linear(pale.to_linear())
}

/// What is said under the chart, for a reader near it.
fn foot(scale: &Scale, size: PaperSize) -> Vec<String> {
    let version = env!("CARGO_PKG_VERSION");
    if size == PaperSize::Wide {
        let plate = "+\u{a0}plate: the specimen's slow direction along that of the plate; −\u{a0}plate: across.";
        let edges = match scale.bands.iter().any(scale::is_toned_down) {
            true => " A grey edge beside a band: more vivid than a screen can show, toned down.",
            false => "",
        };
        let lines = "Bold names and full lines: read in the source; others: from memory. Many more materials have the same birefringence.".to_owned();
        let last =
            format!("{CAUTION} Computed by polstack {version}; notes are on the chart for paper.");
        return vec![
            format!("{plate}{edges} {lines}"),
            circumstances(&scale.conditions),
            last,
        ];
    }
    let mut said = vec![
        "How to read it: find the thickness of a specimen on the scale below, go up to the line of what it is made of, and left to its colour; or find the colour that you see and read its path difference. +\u{a0}plate: the specimen's slow direction lies along that of the plate; −\u{a0}plate: it lies across."
            .to_owned(),
        "Lines are for sodium light, 589.3 nm. Bold names and full lines: read in the source; others: from memory. Many more materials have the same birefringence: a colour identifies nothing."
            .to_owned(),
    ];
    if scale.bands.iter().any(scale::is_toned_down) {
        said.push(
            "A grey edge at the left of a band: here colours are more vivid than a screen or a print in sRGB can show, or lie next to such; the wider the edge, the more they are toned down."
                .to_owned(),
        );
    }
    let plate = (scale.conditions.notes.iter()).filter(|note| note.starts_with("The plate has"));
    let plate: Vec<&str> = plate.map(String::as_str).collect();
    said[0] = format!("{} {}", said[0], plate.join(" "))
        .trim_end()
        .to_owned();
    said.push(circumstances(&scale.conditions));
    said.push(format!(
        "{CAUTION} Computed, not painted, by polstack {version}; sources and notes are on the sheet of details that a chart on paper has."
    ));
    said
}
