//! The back focal plane in luminance and in true colour, plates out and in.

use super::aperture::polars_words;
use super::look::*;
use super::map::{ApertureMap, polar_marks};
use super::numbers::{extinction, plain};
use super::scale_bar::bar;
use crate::order::sort_by_number;
use crate::output::disc::{Exposure, LightScale, Sampler, encoded, followed, isolines};
use crate::output::disc::{length, ratio_levels};
use crate::study::aperture::BackFocalPlane;

/// Height of a row, and where the first one begins.
const ROW: f64 = 344.0;
const TOP: f64 = 84.0;
const RADIUS: f64 = 132.0;
/// Middles of the two columns.
const COLUMNS: [f64; 2] = [178.0, 482.0];
/// Pixels across a disc.
const PIXELS: u32 = 528;
/// A line shorter than this, in radii, gets no number.
const LABELLED: f64 = 0.5;

/// What is said below a disc, in two lines.
const CAPTION: Type = BODY.sized(14.0).centred();
const NOTE: Type = SOFT.sized(12.0).centred();

/// Draws the figure.
pub(super) fn figure(
    title: &str,
    answer: &BackFocalPlane,
    scale: &LightScale,
) -> Result<Figure, FigureError> {
    let rows = match &answer.with_plate {
        None => vec![("", &answer.without_plate)],
        Some(within) => vec![
            ("plate out: ", &answer.without_plate),
            ("plate in: ", within),
        ],
    };
    let maps = (rows.iter())
        .map(|(_, view)| ApertureMap::of_light(answer, &view.light))
        .collect::<Result<Vec<_>, _>>()?;
    let sampler = Sampler::new(&answer.rays.ring, &answer.rays.spoke_rad, answer.na, PIXELS);
    let bottom = TOP + ROW * rows.len() as f64;
    let titles = (title, subtitle(answer));
    draw(
        "back-focal-plane",
        (title, &titles.1),
        bottom + 16.0,
        |sheet| {
            for (row, ((plate, view), map)) in rows.iter().zip(&maps).enumerate() {
                let y = TOP + ROW * row as f64 + 20.0 + RADIUS;
                let [left, right] = COLUMNS.map(|x| (x, y));
                map.draw_marked(sheet, scale, (left, RADIUS));
                let lined = ratio_lines(sheet, map, left);
                bar(sheet, scale, (y - RADIUS, y + RADIUS));
                let exposure = Exposure::of(view.light.iter(), answer.parallel);
                let (linear, mapped) = exposure.linear(&view.light);
                let pixels = sampler.picture(&linear, |_, rgb| encoded(rgb));
                sheet.disc(right, RADIUS, (PIXELS, pixels), Pen::full(INK, 1.2));
                polar_marks(sheet, answer.polars_rad, (right, RADIUS), 1.0);
                let below = |line: f64| y + RADIUS + 24.0 + 19.0 * line;
                let room = COLUMNS[1] - COLUMNS[0] - 8.0;
                let caption = |words: String, at, set| sheet.fitted(&words, at, room, set);
                let words = extinction("extinction ratio", view.extinction_ratio);
                caption(format!("{plate}{words}"), (left.0, below(0.0)), CAPTION);
                caption(lined.to_owned(), (left.0, below(1.0)), NOTE);
                let words = format!("{plate}true colour, {}", exposure.words());
                caption(words, (right.0, below(0.0)), CAPTION);
                let remark = match (exposure.white_balanced(), mapped) {
                    (false, _) => "light of nearly one colour: no white balance",
                    (true, true) => "partly more colourful than a screen can show",
                    (true, false) => "",
                };
                caption(remark.to_owned(), (right.0, below(1.0)), NOTE);
            }
        },
    )
}

/// What is shown, in a line.
pub(super) fn subtitle(answer: &BackFocalPlane) -> String {
    let plane = match answer.has_objective {
        true => "Back focal plane",
        false => "Light by direction",
    };
    let (na, polars) = (plain(answer.na, 2), polars_words(&answer.crossing));
    let told = |there: bool, words| if there { words } else { "" };
    let specimen = told(answer.has_specimen, ", specimen in");
    let marks = "; marks: lower polar thick, analyzer thin";
    let marks = told(answer.polars_rad.is_some(), marks);
    format!("{plane}, NA {na}, {polars}{specimen}{marks}")
}

/// Lines of equal extinction ratio with their numbers; says in a few words what is drawn, where anything is.
fn ratio_lines(sheet: &Sheet, map: &ApertureMap, centre: Point) -> &'static str {
    let (mut any, mut any_cut) = (false, false);
    let mut taken: Vec<Point> = Vec::new();
    let ring_map = map.ring_map();
    let mut levels = Vec::new();
    for level in ratio_levels(&ring_map) {
        let (mut lines, cut) = followed(isolines(&ring_map, 1.0 / level));
        any_cut |= cut;
        sort_by_number(&mut lines, |line| -length(line));
        let on_sheet = |(x, y): Point| (centre.0 + RADIUS * x, centre.1 - RADIUS * y);
        any |= !lines.is_empty();
        for line in &lines {
            let line: Vec<Point> = line.iter().copied().map(on_sheet).collect();
            sheet.line(&line, Pen::full(Color(0x10, 0x10, 0x14), 2.4));
            sheet.line(&line, Pen::full(Color::WHITE, 1.0));
        }
        lines.retain(|line| length(line) > LABELLED);
        levels.push((level, lines));
    }
    // A number over all lines.
    for (level, lines) in levels {
        (lines.iter()).any(|line| label(sheet, level, line, centre, &mut taken));
    }
    match (any, any_cut) {
        (false, false) => "",
        (true, false) => "lines: extinction ratio there",
        (_, true) => "lines: extinction ratio there, left out where they crowd",
    }
}

/// The number of a line where it keeps clear of others, as far inside as the line goes; says whether there was such a place.
fn label(sheet: &Sheet, level: f64, line: &[Point], centre: Point, taken: &mut Vec<Point>) -> bool {
    let words = plain(level, usize::from(level < 1.0));
    let set = BODY.sized(12.5).centred();
    let half = 0.5 * sheet.width(&words, set) + 3.0;
    let clear = |at: &Point| {
        taken.iter().all(|other| {
            let (x, y) = ((at.0 - other.0) * RADIUS, (at.1 - other.1) * RADIUS);
            x.abs() > 2.4 * half || y.abs() > 21.0
        })
    };
    // Along the axes of the sheet the arms of a cross are too narrow for a number.
    let off_axes = |at: &Point| at.0.abs().min(at.1.abs());
    let score = |at: &Point| off_axes(at).min(0.2) - 0.3 * at.0.hypot(at.1);
    let best = (line.iter())
        .filter(|at| clear(at) && RADIUS * off_axes(at) > 9.0)
        .max_by(|a, b| score(a).total_cmp(&score(b)));
    let Some(&at) = best else { return false };
    taken.push(at);
    let (x, y) = (centre.0 + RADIUS * at.0, centre.1 - RADIUS * at.1);
    sheet.fill((x - half, y - 9.0), (x + half, y + 9.0), Color::WHITE);
    sheet.text(&words, (x, y), set);
    true
}
