//! Colour over path difference: columns of colour with a ruler, names, lightness, and birefringence or what tells colours apart.

use super::super::look::Sheet;
use super::super::numbers::plain;
use super::column::{self, GUTTER, PathAxis, RULER};
use super::foot::{Foot, exposure};
use super::names::{self, LEADER, NameLook};
use super::panel::{CurvePanel, PENS};
use super::{EDGE, fan, heading};
use crate::color::{Lab, Xyz};
use crate::study::chart::{Band, ORDER_NM, Scale};

/// Where headings may begin, and how high they are.
const HEADINGS: f64 = 72.0;
const HIGH: f64 = 64.0;
/// Between the axis and the foot: ticks and what they are.
const BELOW: f64 = 30.0;
/// Between the parts of the sheet, and the strip of lightness.
const GAP: f64 = 12.0;
const LIGHTNESS: f64 = 46.0;
/// So many of the last columns have names and curves: the others are there to compare.
const DETAILED: usize = 3;
/// A step may differ from the first by this share of itself: decimals of a file.
const UNEVEN: f64 = 1e-6;

/// Whether it can be drawn; the axis without its place on the sheet.
pub(super) fn check(scale: &Scale) -> Result<PathAxis, String> {
    let nm = &scale.path_difference_nm;
    let count = nm.len();
    let [first_nm, second, ..] = nm[..] else {
        return Err(format!("{count} path differences, needed are 2 or more"));
    };
    let (last_nm, step_nm) = (nm[count - 1], second - first_nm);
    let even = |pair: &[f64]| (pair[1] - pair[0] - step_nm).abs() <= UNEVEN * step_nm;
    if !(last_nm.is_finite() && step_nm > 0.0 && nm.windows(2).all(even)) {
        return Err("path differences do not ascend in equal steps".to_owned());
    }
    if scale.bands.is_empty() {
        return Err("there is no column of colour".to_owned());
    }
    let columns = scale.bands.iter().flat_map(|band| {
        let lengths = [band.tints.len(), band.discrimination_per_nm.len()];
        lengths.map(|values| (&band.heading, values))
    });
    let curves = (scale.differences.iter()).map(|d| (&d.heading, d.ciede2000.len()));
    if let Some((heading, values)) = columns.chain(curves).find(|column| column.1 != count) {
        return Err(format!(
            "{values} values of `{heading}` for {count} path differences"
        ));
    }
    Ok(PathAxis {
        first_nm,
        last_nm,
        step_nm,
        bottom: 0.0,
        top: 0.0,
    })
}

/// What it shows.
pub(super) fn subject(scale: &Scale) -> &'static str {
    match (scale.lines.is_empty(), scale.differences.is_empty()) {
        (false, _) => "Interference colours and birefringence",
        (true, true) => "Interference colours",
        (true, false) => "Colours with a plate added and subtracted",
    }
}

/// Widths of a column of colour and of the names beside it.
fn widths(columns: usize) -> (f64, f64) {
    match columns {
        1 => (60.0, 62.0),
        2 => (36.0, 50.0),
        3 => (34.0, 46.0),
        _ => (20.0, 41.0),
    }
}

/// Draws it.
pub(super) fn draw(sheet: &Sheet, scale: &Scale, axis: PathAxis) {
    let foot = Foot::of(sheet, &scale.conditions, &remarks(scale));
    foot.draw(sheet);
    let axis = PathAxis {
        top: HEADINGS + HIGH + 8.0,
        bottom: sheet.size.1 - EDGE - foot.height() - BELOW,
        ..axis
    };
    let mut x = EDGE + RULER;
    axis.ruler(sheet, x);
    let title = "path difference in nm";
    heading(sheet, title, (EDGE + 12.0, axis.top - 8.0), (34.0, HIGH));
    let plain_columns = scale.bands.len().saturating_sub(DETAILED);
    let (wide, room) = widths(scale.bands.len());
    for (k, band) in scale.bands.iter().enumerate() {
        x += GUTTER;
        axis.grid(sheet, x - GUTTER, x);
        column::draw(sheet, &axis, band, x, wide);
        let mut across = wide;
        if k >= plain_columns {
            // A sample of its curve.
            let y = axis.top - 4.0;
            sheet.line(&[(x, y), (x + wide, y)], PENS[k - plain_columns]);
            names::draw(sheet, &axis, band, &NameLook::DESK, x + wide, LEADER + room);
            across += LEADER + room;
        }
        let room = (across - 2.0, HIGH);
        heading(sheet, &band.heading, (x, axis.top - 8.0), room);
        x += across;
    }
    let detailed = &scale.bands[plain_columns..];
    lightness(detailed).draw(sheet, &axis, x + GAP, LIGHTNESS, HIGH);
    x += GAP + LIGHTNESS;
    let rest = sheet.size.0 - EDGE - x;
    if scale.lines.is_empty() {
        let panels = telling(&axis, scale, detailed);
        let count = panels.len() as f64;
        let wide = (rest - GAP * count) / count;
        for (k, panel) in panels.iter().enumerate() {
            let left = x + GAP + k as f64 * (wide + GAP);
            panel.draw(sheet, &axis, left, wide, HIGH);
        }
        return;
    }
    let wide = rest - GAP - fan::LABELS;
    fan::draw(sheet, &axis, &scale.lines, (x + GAP, wide), HIGH)
}

fn lightness(bands: &[Band]) -> CurvePanel<'static> {
    let light = |band: &Band| band.tints.iter().map(|tint| tint.lab.0[0]).collect();
    // CIE L* of a luminance relative to white.
    let of = |luminance| Lab::of(Xyz([luminance; 3]), Xyz([1.0; 3])).0[0];
    let ends = bands
        .iter()
        .flat_map(|band| [band.first_maximum, band.first_minimum]);
    let marks = ends.flatten().map(|(nm, luminance)| (nm, of(luminance)));
    CurvePanel {
        heading: "lightness L*",
        most: 104.0,
        curves: bands.iter().map(light).zip(PENS).collect(),
        marks: marks.collect(),
    }
}

/// What tells colours apart: plate added from plate subtracted, and a path difference from the next.
fn telling(axis: &PathAxis, scale: &Scale, detailed: &[Band]) -> Vec<CurvePanel<'static>> {
    let mut panels = Vec::new();
    if !scale.differences.is_empty() {
        // The last group is that of the columns with names.
        let curves = scale.differences.iter().rev();
        let curves = curves.map(|d| d.ciede2000.as_slice());
        let heading = "CIEDE2000, plate added to plate subtracted";
        panels.push(CurvePanel::of(heading, curves));
    }
    let curves = (detailed.iter()).map(|band| band.discrimination_per_nm.as_slice());
    let keenest = detailed.iter().filter_map(|band| {
        let k = ((band.keenest_nm - axis.first_nm) / axis.step_nm).round();
        let value = band.discrimination_per_nm.get(k as usize)?;
        Some((band.keenest_nm, *value))
    });
    panels.push(CurvePanel {
        marks: keenest.collect(),
        ..CurvePanel::of("CIEDE2000 per nm", curves)
    });
    panels
}

/// Whether colours of a band are out of the screen's gamut.
pub(super) fn is_toned_down(band: &Band) -> bool {
    band.tints.iter().any(|tint| tint.swatch.gamut_mapped)
}

/// What is said in the foot about this chart.
fn remarks(scale: &Scale) -> Vec<String> {
    let exposed = exposure(scale.exposure_stops);
    let mut said = vec![format!("One exposure for the whole chart: {exposed}.")];
    said.extend(landmark_remarks(scale));
    said.push("The line above a column is its line in the curves.".to_owned());
    if let [other, this] = &scale.differences[..] {
        let (full, dashed) = (&this.heading, &other.heading);
        said.push(format!(
            "Plate added to plate subtracted: full line {full}, dashed {dashed}."
        ));
    }
    let marked = [
        (
            scale.bands.iter().any(is_toned_down),
            "A rule at the left of a column: more colourful than a screen can show, brought in smoothly along the column.",
        ),
        (
            scale.lines.iter().any(|line| !line.materials.is_empty()),
            "Bold names and full lines: materials, whether read in the source or not; dashed: round numbers. Many more materials have the same slope, and a colour identifies nothing.",
        ),
    ];
    said.extend(
        (marked.iter())
            .filter(|remark| remark.0)
            .map(|remark| remark.1.to_owned()),
    );
    said
}

/// How orders are counted, and what stands out among the colours.
pub(super) fn landmark_remarks(scale: &Scale) -> Vec<String> {
    let mut said = vec![format!("Orders are counted in steps of {ORDER_NM} nm.")];
    let landmarks: Vec<String> = scale.bands.iter().filter_map(landmarks).collect();
    if !landmarks.is_empty() {
        let all = landmarks.join("; ");
        said.push(format!(
            "First maximum of luminance, and the minimum after it: {all}."
        ));
    }
    let keenest: Vec<String> = (scale.bands.iter())
        .filter(|band| band.keenest_nm.is_finite())
        .map(|band| format!("{} {} nm", band.heading, plain(band.keenest_nm, 1)))
        .collect();
    if !keenest.is_empty() {
        said.push(format!(
            "The eye tells neighbouring path differences of the first two orders apart best at: {}.",
            keenest.join(", ")
        ));
    }
    said
}

fn landmarks(band: &Band) -> Option<String> {
    let (maximum, _) = band.first_maximum.filter(|found| found.0.is_finite())?;
    let (heading, maximum) = (&band.heading, plain(maximum, 1));
    let minimum = band
        .first_minimum
        .map(|(nm, _)| format!(" and {}", plain(nm, 1)));
    let minimum = minimum.unwrap_or_default();
    Some(format!("{heading} {maximum}{minimum} nm"))
}
