//! Lenses with rays to scale, and their spherical aberration.

use super::axes::{AxesPanel, AxisScale, NamedCurve};
use super::look::*;
use super::numbers::{extent, plain};
use crate::optics::prescription::Surface;
use crate::study::lens::{Drawing, LensAnswer};

/// Room of one lens's drawing, of the panel under them and between.
const HIGH: f64 = 250.0;
const HEAD: f64 = 80.0;
const PANEL: f64 = 330.0;
/// Points of a surface's outline.
const OUTLINE: usize = 40;
/// Steps of the scale bar, mm.
const BARS: [f64; 6] = [0.5, 1.0, 2.0, 5.0, 10.0, 20.0];

const GLASS: Color = Color(0xd6, 0xe6, 0xf2);
const SLIDE: Color = Color(0xe6, 0xe6, 0xea);
const RAY: Pen = Pen::full(Color(0xc2, 0x6a, 0x1c), 1.2);
const PLANE: Pen = Pen::dashed(Color(0x2c, 0x74, 0xb8), 1.6, &[7.0, 4.0]);
const SLOT: Pen = Pen::full(Color(0x8a, 0x2c, 0x8a), 2.2);
const AXIS: Pen = Pen::dashed(FRAME, 0.8, &[2.0, 4.0]);
/// Full and dashed, dark and light: no two differ by hue alone.
const PENS: [Pen; 4] = [
    Pen::full(Color(0x1e, 0x1e, 0x24), 2.8),
    Pen::dashed(Color(0xc2, 0x6a, 0x1c), 2.4, &[10.0, 5.0]),
    Pen::full(Color(0x2c, 0x74, 0xb8), 1.8),
    Pen::dashed(Color(0x6e, 0x6e, 0x78), 2.2, &[2.5, 3.5]),
];

/// Draws lenses, each with the name that it goes by, the slide's thickness with them. At most the first four are drawn.
///
/// # Errors
/// [`FigureError::Drawing`].
pub fn lens_figure(
    title: &str,
    lenses: &[(String, &LensAnswer)],
    slide_mm: f64,
) -> Result<Figure, FigureError> {
    let lenses = &lenses[..lenses.len().min(PENS.len())];
    let bottom = HEAD + HIGH * lenses.len() as f64;
    let subtitle = "Light from the left, at 546.1 nm; each lens to its own scale";
    draw("lenses", (title, subtitle), bottom + PANEL, |sheet| {
        for (number, (name, lens)) in lenses.iter().enumerate() {
            side_view(sheet, HEAD + HIGH * number as f64, name, lens, slide_mm);
        }
        aberrations(sheet, bottom, lenses);
    })
}

fn side_view(sheet: &Sheet, top: f64, name: &str, lens: &LensAnswer, slide_mm: f64) {
    let Drawing { train, rays, .. } = &lens.drawing;
    let before = train.surfaces.len().saturating_sub(1);
    let length: f64 = (train.surfaces[..before].iter().map(|s| s.thickness_mm)).sum();
    let rim = (train.surfaces.iter()).fold(0.0, |rim: f64, s| rim.max(s.half_diameter_mm));
    let focus = length + lens.back_focal_plane_mm.clamp(0.0, 2.0 * rim + length);
    let filter = lens.filter_plane_mm;
    let slot = lens.slot.map_or(0.0, |slot| slot.mm);
    // Planes far away are named, not drawn.
    let shown = |mm: f64| mm.clamp(-1.5 * rim - 0.5 * length, 0.0);
    let from = shown(filter).min(shown(slot)) - 0.4 * rim;
    let to = focus + 0.25 * rim;
    let points = (ROOM / (to - from)).min((HIGH - 70.0) / (2.0 * rim));
    // From mm along and across the axis to points of the sheet.
    let (left, axis) = (
        0.5 * (WIDTH - (to - from) * points),
        top + 0.5 * (HIGH + 16.0),
    );
    let at = |z: f64, y: f64| (left + (z - from) * points, axis - y * points);
    let small = BODY.sized(12.0);
    sheet.fitted(name, (MARGIN, top + 10.0), ROOM, BODY.bold());
    if !lens.is_objective && lens.room_mm > 0.0 {
        let under = length + lens.room_mm;
        sheet.fill(
            at(under, 0.5 * rim),
            at(under + slide_mm, -0.5 * rim),
            SLIDE,
        );
        sheet.text("slide", at(under, -0.5 * rim - 12.0 / points), small);
    }
    let mut vertex = 0.0;
    for pair in train.surfaces.windows(2) {
        if pair[0].after.is_some() {
            let outline = outline(vertex, pair).into_iter().map(|(z, y)| at(z, y));
            let mut corners: Vec<Point> = outline.collect();
            sheet.polygon(&corners, GLASS);
            corners.extend(corners.first().copied());
            sheet.line(&corners, Pen::full(FRAME, 1.0));
        }
        vertex += pair[0].thickness_mm;
    }
    sheet.line(&[at(from, 0.0), at(to, 0.0)], AXIS);
    // A steep ray behind the focus ends where the drawing does.
    let highest = (0.5 * HIGH - 24.0) / points;
    for (ray, height) in rays.iter().zip(&lens.drawing.heights_mm) {
        for side in [1.0, -1.0] {
            let mut way = vec![at(from, side * height)];
            way.extend((ray.surfaces.iter()).map(|met| at(met.along_mm, side * met.height_mm)));
            if let Some(last) = ray.surfaces.last() {
                let slope = last.slope_rad.tan();
                let end = last.height_mm + (to - last.along_mm) * slope;
                let kept = end.clamp(-highest, highest);
                let along = match slope {
                    0.0 => to,
                    _ => last.along_mm + (kept - last.height_mm) / slope,
                };
                way.push(at(along, side * kept));
            }
            sheet.line(&way, RAY);
        }
    }
    let across = |mm: f64, pen: Pen, words: &str, h: HPos| {
        let set = small.inked(pen.color);
        if shown(mm) == mm {
            let (above, below) = (at(mm, 1.02 * rim), at(mm, -1.02 * rim));
            sheet.line(&[above, below], pen);
            sheet.text(words, (above.0, above.1 - 8.0), set.anchored(h));
        } else if !lens.is_objective {
            let side = if mm < 0.0 { "before" } else { "behind" };
            let words = format!("{words}: {} mm {side} the first vertex", plain(mm.abs(), 1));
            let x = if h == HPos::Right {
                MARGIN
            } else {
                0.4 * WIDTH
            };
            sheet.text(&words, (x, top + HIGH - 6.0), set);
        }
    };
    across(filter, PLANE, "filter plane", HPos::Right);
    if lens.slot.is_some() {
        across(slot, SLOT, "slot", HPos::Left);
    }
    let bar = BARS.into_iter().rfind(|mm| mm * points < 120.0);
    let bar = bar.unwrap_or(BARS[0]);
    let (y, end) = (top + HIGH - 14.0, WIDTH - MARGIN);
    sheet.line(&[(end - bar * points, y), (end, y)], Pen::full(INK, 2.0));
    let words = format!("{} mm", plain(bar, usize::from(bar < 1.0)));
    let beside = (end - bar * points - 8.0, y);
    sheet.text(&words, beside, SOFT.sized(12.0).right());
}

/// Once round the glass between two surfaces, flat beyond their clear apertures: along and across the axis, mm.
fn outline(vertex: f64, pair: &[Surface]) -> Vec<(f64, f64)> {
    let rim = pair[0].half_diameter_mm.max(pair[1].half_diameter_mm);
    let edge = |surface: &Surface, vertex: f64| -> Vec<(f64, f64)> {
        let point = |k: usize| {
            let y = rim * (2.0 * k as f64 / OUTLINE as f64 - 1.0);
            let inside = y.abs().min(surface.half_diameter_mm);
            (vertex + surface.sag(inside).map_or(0.0, |sag| sag.0), y)
        };
        (0..=OUTLINE).map(point).collect()
    };
    let mut outline = edge(&pair[0], vertex);
    let back = edge(&pair[1], vertex + pair[0].thickness_mm);
    outline.extend(back.into_iter().rev());
    outline
}

/// Transverse spherical aberration over the numerical aperture.
fn aberrations(sheet: &Sheet, top: f64, lenses: &[(String, &LensAnswer)]) {
    let curves: Vec<NamedCurve> = (lenses.iter().zip(PENS))
        .map(|((name, lens), pen)| {
            let aberration = lens.drawing.aberration.iter();
            let mut points = vec![(0.0, 0.0)];
            points.extend(aberration.map(|at| (at.0, 1e-3 * at.1)));
            let name = vec![name.clone()];
            NamedCurve { name, pen, points }
        })
        .collect();
    let all = || curves.iter().flat_map(|curve| &curve.points);
    let widest = all().fold(0.1f64, |widest, at| widest.max(at.0));
    let (low, high) = extent(all().map(|at| at.1)).unwrap_or_default();
    let room = 0.05 * (high - low).max(1e-3);
    let x = AxisScale::linear(0.0, 1.05 * widest, 8).titled("numerical aperture of the ray");
    let y = AxisScale::linear(low - room, high + room, 6).titled("height in the focus (mm)");
    let area = [108.0, 560.0, top + 24.0, top + PANEL - 62.0];
    let panel = AxesPanel::new(area, x, y);
    panel.draw(sheet);
    panel.named_curves(sheet, &curves, 190.0);
}

#[cfg(test)]
mod tests {
    use super::super::tests::no_text_is_covered_or_cut;
    use super::*;
    use crate::scenario::read;
    use crate::study::lens::{LensQuestion, lenses};

    #[test]
    fn every_lens_is_drawn_with_its_planes_and_no_text_covers_another() {
        let question = LensQuestion {
            slot_mm: Some(-6.0),
            ..LensQuestion::default()
        };
        let names = [
            "moulded-parabolic",
            "moulded-spherical",
            "measured-achromat",
        ];
        let answers: Vec<LensAnswer> = (names.iter())
            .map(|name| {
                let scene = read(format!("scenarios/{name}.toml").as_ref())
                    .unwrap()
                    .scene;
                lenses(&scene, &question).unwrap().remove(0)
            })
            .collect();
        let named: Vec<_> = answers
            .iter()
            .map(|lens| (lens.part.clone(), lens))
            .collect();
        let figure = lens_figure("Three lenses", &named, 1.1).unwrap();
        no_text_is_covered_or_cut(&figure);
        for (words, count) in [("filter plane", 1), ("slot", 2), ("slide", 2), ("10 mm", 2)] {
            assert_eq!(
                figure.svg.matches(&format!(">{words}<")).count(),
                count,
                "{words}"
            );
        }
    }
}
