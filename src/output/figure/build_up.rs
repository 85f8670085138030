//! The back focal plane while the stack is put together part by part.

use plotters::style::text_anchor::HPos;

use super::aperture::{Scale, bar, picture};
use super::back_focal_plane::{luminances, rim};
use super::canvas::{BODY, SOFT_INK, Type, draw};
use super::disc::luminance_map;
use super::numbers::{plain, ratio};
use super::{Figure, FigureError, ramp};
use crate::output::words;
use crate::study::aperture::{BackFocalPlane, Step};

const COLUMNS: usize = 4;
const TOP: f64 = 92.0;
const LEFT: f64 = 24.0;
const COLUMN: f64 = 152.0;
const ROW: f64 = 226.0;
const RADIUS: f64 = 62.0;
const PIXELS: u32 = 248;
/// The bar with its words needs as much.
const LEAST_HEIGHT: f64 = 350.0;

/// Draws it.
pub(super) fn figure(title: &str, answer: &BackFocalPlane) -> Result<Figure, FigureError> {
    let steps = &answer.build_up;
    let scale = Scale::of(steps.iter().flat_map(|step| luminances(&step.light)));
    let colors = ramp::colors();
    let rows = steps.len().div_ceil(COLUMNS);
    let bottom = TOP + (ROW * rows as f64).max(LEAST_HEIGHT);
    let subtitle = format!(
        "Perfect parts, made real one by one in the order of the light; plates out, NA {}",
        plain(answer.na, 2)
    );
    draw("build-up", title, bottom + 12.0, |canvas| {
        canvas.head(title, &subtitle)?;
        for (k, step) in steps.iter().enumerate() {
            let x = LEFT + COLUMN * ((k % COLUMNS) as f64 + 0.5);
            let y = TOP + ROW * (k / COLUMNS) as f64 + RADIUS + 26.0;
            let set = Type {
                size: 14.0,
                bold: true,
                h: HPos::Center,
                ..BODY
            };
            let room = COLUMN - 8.0;
            canvas.fitted(&words::step(step), (x, y - RADIUS - 20.0), room, set)?;
            let map = luminance_map(
                &answer.rays,
                &step.light,
                answer.na,
                answer.polars_rad,
                answer.has_objective,
            );
            map.check()?;
            let pixels = picture(&map, &scale, &colors, PIXELS);
            let corner = (x - RADIUS, y - RADIUS);
            canvas.picture(corner, 2.0 * RADIUS, PIXELS, &pixels)?;
            rim(canvas, (x, y), RADIUS, answer.polars_rad)?;
            for (line, words) in captions(step).iter().enumerate() {
                let set = Type {
                    size: 13.0 - f64::from(u8::from(line > 0)),
                    bold: false,
                    color: if line == 0 { BODY.color } else { SOFT_INK },
                    ..set
                };
                let y = y + RADIUS + 22.0 + 18.0 * line as f64;
                canvas.fitted(words, (x, y), room, set)?;
            }
        }
        let end = (TOP + ROW * rows as f64 - 64.0).max(TOP + LEAST_HEIGHT - 16.0);
        bar(canvas, &scale, &colors, (TOP + 4.0, end))
    })
}

fn captions(step: &Step) -> Vec<String> {
    let mut lines = vec![match step.extinction_ratio {
        Some(extinction) => format!("extinction {}", ratio(extinction)),
        None => "nothing leaks".to_owned(),
    }];
    if let Some(cross) = step.cross {
        lines.push(format!("cross open {}", plain(cross.opening, 2)));
        if let Some(turned) = cross.turned_rad {
            lines.push(format!("turned {}°", plain(turned.to_degrees(), 1)));
        }
    }
    lines
}
