//! Photographs against the model, zone by zone.

use super::axes::{AxesPanel, AxisScale};
use super::look::*;
use crate::optics::ZoneGrid;
use crate::output::disc::{NO_NUMBER, ramp, zones_picture};
use crate::output::findings::{FAR_LESS, MORE_THAN_CHANCE};
use crate::output::numbers::digits;
use crate::study::fit::{Fit, ReadingAnswer, ZoneAnswer};
use crate::study::strain_between::StrainBetween;

/// Errors at the ends of the colours.
const ENDS: f64 = 4.0;
/// Where the first row of discs begins, and room for words at the left of a photograph's discs.
const TOP: f64 = 116.0;
const WORDS: f64 = 140.0;
/// Radius of a disc at the most, and room around it.
const RADIUS: f64 = 54.0;
const GAP: f64 = 8.0;
/// Free room between two photographs that stand side by side.
const BETWEEN: f64 = 28.0;
/// Where the bar begins, its height, and the height of it with its words.
const BAR_LEFT: f64 = 250.0;
const BAR: f64 = 14.0;
const FOOT: f64 = 94.0;
/// What is said in sentences, from line to line.
const SAID: Type = BODY.sized(13.0);
const LINE: f64 = 18.0;
/// Zones that are off by so many errors have their sign drawn in them, and half its length over the radius of the disc.
const SIGNED: f64 = 2.0;
const SIGN: f64 = 0.055;
/// Photographs that are drawn at most.
const MOST: usize = 16;
/// Pixels of a disc to a point.
const FINENESS: f64 = 2.0;
const CHANNELS: [&str; 3] = ["red", "green", "blue"];
/// What photographs are compared with.
const MODELS: [&str; 2] = ["fitted parts", "with map"];

/// The figure "residuals": each zone of each photograph, measured light less predicted light in units of its error, of the stands that explain
/// the readings and, where there is one, of the stand with the map in it; `grid` is how the disc is divided. `None` without photographs.
///
/// # Errors
/// [`FigureError::Drawing`].
pub fn residuals_figure(
    title: &str,
    answer: &Fit,
    map: Option<&StrainBetween>,
    grid: ZoneGrid,
) -> Result<Option<Figure>, FigureError> {
    let all: Vec<&ReadingAnswer> = (answer.readings.iter())
        .filter(|reading| !reading.zones.is_empty())
        .collect();
    let drawn = &all[..all.len().min(MOST)];
    if drawn.is_empty() {
        return Ok(None);
    }
    let channel = |reading: &&&ReadingAnswer| reading.zones[0].channel.is_some();
    let channels = if drawn.iter().any(|r| channel(&r)) {
        3
    } else {
        1
    };
    let models = if map.is_some() { 2 } else { 1 };
    let columns = channels * models;
    // Photographs of few discs stand side by side.
    let blocks = if columns > 2 { 1 } else { 2 };
    let block = ROOM / blocks as f64;
    let between = (blocks - 1) as f64 * BETWEEN;
    let column = ((block - WORDS - between) / columns as f64).min(2.0 * (RADIUS + GAP));
    let radius = 0.5 * column - GAP;
    let bottom = TOP + column * drawn.len().div_ceil(blocks) as f64;
    let which = match all.len() > drawn.len() {
        true => format!("The first {} of {} photographs", drawn.len(), all.len()),
        false => "Photographs".to_owned(),
    };
    let subtitle = format!("{which} against the model, zone by zone; East is right, North is up");
    let mut sentences = left_over(answer, map);
    sentences.push("The factor that all zones of a photograph share, its exposures' error, is taken off. A pattern of signs: the model lacks something.".to_owned());
    let said = |sheet: &Sheet| {
        (sentences.iter()).fold(bottom + FOOT, |y, words| {
            sheet.paragraph(words, (MARGIN, y), (LINE, ROOM), SAID)
        })
    };
    let draw_all = |sheet: &Sheet| {
        let small = BODY.sized(13.0);
        let x = |number: usize, place: usize| {
            let left = MARGIN + block * (number % blocks) as f64 + WORDS;
            left + column * (place as f64 + 0.5)
        };
        for number in 0..blocks.min(drawn.len()) {
            for (model, words) in MODELS.iter().enumerate().take(models) {
                let first = model * channels;
                let middle = 0.5 * (x(number, first) + x(number, first + channels - 1));
                sheet.text(words, (middle, TOP - 28.0), small.bold().centred());
                for (k, words) in CHANNELS
                    .iter()
                    .enumerate()
                    .take(channels)
                    .filter(|_| channels > 1)
                {
                    sheet.text(words, (x(number, first + k), TOP - 10.0), small.centred());
                }
            }
        }
        for (number, reading) in drawn.iter().enumerate() {
            let y = TOP + column * ((number / blocks) as f64 + 0.5);
            let room = WORDS - GAP;
            let mut words = sheet.wrapped_to(&reading.words, room, 4, small);
            words.insert(0, format!("line {}", reading.line));
            let left = x(number, 0) - 0.5 * column - WORDS;
            sheet.block(&words, (left, y), (17.0, room), small);
            let mapped = map.map(|map| {
                let of = (map.residuals.iter()).find(|of| of.line == reading.line);
                of.map_or(&[][..], |of| &of.zones)
            });
            let both = [Some(&reading.zones[..]), mapped];
            for (model, zones) in both.into_iter().flatten().enumerate() {
                for k in 0..channels {
                    let own: Vec<&ZoneAnswer> = (zones.iter())
                        .filter(|zone| zone.channel.unwrap_or(0) == k)
                        .collect();
                    let at = (x(number, model * channels + k), y);
                    match own.is_empty() {
                        true => sheet.text("left out", at, small.inked(SOFT_INK).centred()),
                        false => disc(sheet, (at, radius), grid, &own),
                    }
                }
            }
        }
        bar(sheet, bottom);
        said(sheet);
    };
    // As high as the sentences reach.
    let height = said(&Sheet::new("", (WIDTH, 1.0))) + 4.0;
    draw("residuals", (title, &subtitle), height, draw_all).map(Some)
}

/// A disc of zones, each in the colour of what it is off by.
fn disc(sheet: &Sheet, (centre, radius): (Point, f64), grid: ZoneGrid, zones: &[&ZoneAnswer]) {
    let mut all = vec![NO_NUMBER; grid.count()];
    let colors = ramp::diverging();
    for zone in zones {
        // A ratio above the model's is less light than the model's.
        let place = (0.5 - 0.5 * zone.z / ENDS).clamp(0.0, 1.0);
        if let Some(color) = all.get_mut(zone.ring * grid.sectors() + zone.sector) {
            *color = colors[(place * (colors.len() - 1) as f64).round() as usize];
        }
    }
    draw_zones(sheet, (centre, radius), grid, &all);
    // In grey both ends of the scale are alike: the signs tell them apart.
    let half = SIGN * radius.max(0.5 * RADIUS);
    for zone in zones.iter().filter(|zone| zone.z.abs() >= SIGNED) {
        let (rho, azimuth) = grid.middle(zone.ring * grid.sectors() + zone.sector);
        let (sin, cos) = azimuth.sin_cos();
        let at = (centre.0 + radius * rho * cos, centre.1 - radius * rho * sin);
        sign(sheet, zone.z < 0.0, at, half);
    }
}

/// A plus or a minus.
fn sign(sheet: &Sheet, plus: bool, (x, y): Point, half: f64) {
    let pen = Pen::full(INK, 0.4 * half);
    sheet.line(&[(x - half, y), (x + half, y)], pen);
    if plus {
        sheet.line(&[(x, y - half), (x, y + half)], pen);
    }
}

/// What is left between photographs and model in a sentence, and with the map in another.
fn left_over(answer: &Fit, map: Option<&StrainBetween>) -> Vec<String> {
    let fitted: Vec<f64> = (answer.readings.iter())
        .flat_map(|reading| &reading.zones)
        .map(|zone| zone.z)
        .collect();
    let squares: f64 = fitted.iter().map(|z| z * z).sum();
    let rms = (squares / fitted.len().max(1) as f64).sqrt();
    let many = |z: &&f64| z.abs() >= SIGNED;
    let off = format!(
        " ({} of {} zones are off by {SIGNED} errors or more)",
        fitted.iter().filter(many).count(),
        fitted.len()
    );
    let told = |model: &str, rms: f64, off: &str| {
        let words = match rms {
            more if more > MORE_THAN_CHANCE => "more is left than noise",
            less if less < FAR_LESS => {
                "what is left is far less than the zones' errors, which are told too large"
            }
            _ => "what is left is within the noise",
        };
        let rms = digits(rms, 2);
        format!("{model} {words}: {rms} errors root mean square{off}.")
    };
    let mut all = vec![told("With the fitted parts", rms, &off)];
    all.extend(map.map(|map| told("With the map", map.misfit.max(0.0).sqrt(), "")));
    all
}

/// A disc of zones, each in a colour, and its rim.
pub(super) fn draw_zones(
    sheet: &Sheet,
    (centre, radius): (Point, f64),
    grid: ZoneGrid,
    colors: &[[u8; 3]],
) {
    let side = (FINENESS * 2.0 * radius).ceil().max(8.0) as u32;
    let pixels = zones_picture(grid, side, |zone| {
        colors.get(zone).copied().unwrap_or(NO_NUMBER)
    });
    sheet.disc(centre, radius, (side, pixels), Pen::full(INK, 1.0));
}

/// What the colours mean.
fn bar(sheet: &Sheet, bottom: f64) {
    let (left, right, top) = (BAR_LEFT, WIDTH - MARGIN - 40.0, bottom + 14.0);
    let colors = ramp::diverging();
    for (k, &[r, g, b]) in colors.iter().enumerate() {
        let x = left + (right - left) * k as f64 / colors.len() as f64;
        sheet.fill((x, top), (right, top + BAR), Color(r, g, b));
    }
    let axis = AxisScale::linear(-ENDS, ENDS, 8);
    let axis = axis.titled("measured less predicted light, in errors of the zone");
    AxesPanel::of_rows([left, right, top, top + BAR], axis)
        .gridded(false, false)
        .draw(sheet);
    let set = SOFT.sized(12.0);
    let y = top + 0.5 * BAR;
    sign(sheet, false, (left - 12.0, y), 5.0);
    sign(sheet, true, (right + 12.0, y), 5.0);
    let words = "Blue, −: darker than predicted; orange, +: brighter; grey: not read. Signs: from 2 errors on.";
    let lines = (16.0, BAR_LEFT - MARGIN - 30.0);
    sheet.paragraph(words, (MARGIN, top), lines, set);
}
