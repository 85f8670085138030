//! A moving picture of the back focal plane while one part is turned.
//!
//! Frames are small pixel pictures of their own: the sheet of the other figures is for paper. What stands still is drawn once.

use super::disc::{Exposure, Sampler, encoded, over_white};
use super::light_scale::LightScale;
use super::look::{BODY, INK};
use super::quantize::{Palette, blend_greys};
use super::{FigureError, ramp};
use crate::color::Xyz;
use crate::optics::Rays;
use crate::output::sheet::{Pen, Raster, Sheet, Type, overlay, pixels_png, svg};
use crate::threads;

/// Colours of the disc in a GIF; the rest are greys for texts and marks.
const DISC_COLORS: usize = 208;
const GREYS: usize = 48;
/// Hundredths of a second that a frame is shown.
const DELAY: u16 = 8;
/// Frames that are drawn before they are written.
const AT_ONCE: usize = 16;
/// Thresholds of an ordered dither (Bayer's 4 x 4 matrix), and how much of a channel each of its steps is.
const PATTERN: [[f64; 4]; 4] = [
    [0.0, 8.0, 2.0, 10.0],
    [12.0, 4.0, 14.0, 6.0],
    [3.0, 11.0, 1.0, 9.0],
    [15.0, 7.0, 13.0, 5.0],
];
const DITHER: f64 = 1.5;

/// What turns and how it is shown.
#[derive(Debug, Clone, PartialEq)]
pub struct Turning {
    /// Title.
    pub title: String,
    /// Name of the part that turns.
    pub part: String,
    /// Width and height of a frame, pixels.
    pub size: u32,
    /// True colour; otherwise luminance.
    pub color: bool,
    /// "plate in", "plate out" or nothing where there is no plate.
    pub plate: &'static str,
    /// The rays, evenly spaced.
    pub rays: Rays,
    /// The parallel field of the stack as written, of luminance 1.
    pub parallel: Xyz,
    /// What a false colour means: that of the command's still figures too.
    pub scale: LightScale,
    /// The frames.
    pub frames: Vec<TurnFrame>,
}

/// One frame.
#[derive(Debug, Clone, PartialEq)]
pub struct TurnFrame {
    /// By how much the part is turned, radians.
    pub angle_rad: f64,
    /// Azimuths of lower polar and analyzer then, radians; `None` for circular polars.
    pub polars_rad: Option<(f64, f64)>,
    /// Light of each ray.
    pub light: Vec<Xyz>,
}

/// The frames as one animated GIF that begins again for ever. `done` hears how many frames are drawn.
///
/// # Errors
/// [`FigureError::Drawing`].
///
/// Checked by: `tests/cli/aperture.rs`.
pub fn turning_gif(
    turning: &Turning,
    done: &(dyn Fn(usize) + Sync),
) -> Result<Vec<u8>, FigureError> {
    let film = Film::new(turning, true)?;
    let palette = film.palette();
    let size = turning.size as u16;
    let mut bytes = Vec::new();
    let failed = |error: gif::EncodingError| wrong(error.to_string());
    let mut encoder = gif::Encoder::new(&mut bytes, size, size, palette.bytes()).map_err(failed)?;
    encoder.set_repeat(gif::Repeat::Infinite).map_err(failed)?;
    for (chunk, frames) in turning.frames.chunks(AT_ONCE).enumerate() {
        let drawn = threads::map(0..frames.len(), |k| {
            let rgb = film.frame(chunk * AT_ONCE + k, &frames[k])?;
            let indices = palette.indices(&rgb);
            let mut frame = gif::Frame::from_indexed_pixels(size, size, indices, None);
            frame.delay = DELAY;
            frame.make_lzw_pre_encoded();
            Ok(frame)
        });
        let drawn: Vec<gif::Frame> = drawn.into_iter().collect::<Result<_, FigureError>>()?;
        for frame in &drawn {
            encoder.write_lzw_pre_encoded_frame(frame).map_err(failed)?;
        }
        done((chunk * AT_ONCE + frames.len()).min(turning.frames.len()));
    }
    drop(encoder);
    Ok(bytes)
}

/// The frames as PNG pictures.
///
/// # Errors
/// [`FigureError::Drawing`].
///
/// Checked by: `tests/cli/aperture.rs`.
pub fn turning_pngs(
    turning: &Turning,
    done: &(dyn Fn(usize) + Sync),
) -> Result<Vec<Vec<u8>>, FigureError> {
    let film = Film::new(turning, false)?;
    let mut all = Vec::with_capacity(turning.frames.len());
    for (chunk, frames) in turning.frames.chunks(AT_ONCE).enumerate() {
        let drawn = threads::map(0..frames.len(), |k| {
            let raster = Raster {
                width: turning.size,
                height: turning.size,
                rgb: film.frame(chunk * AT_ONCE + k, &frames[k])?,
            };
            pixels_png(&raster).map_err(wrong)
        });
        let drawn: Vec<Vec<u8>> = drawn.into_iter().collect::<Result<_, FigureError>>()?;
        all.extend(drawn);
        done(all.len());
    }
    Ok(all)
}

/// About how many bytes all frames will take, from the first one: as a GIF, or as numbered PNG pictures.
///
/// # Errors
/// [`FigureError::Drawing`].
pub fn turning_bytes(turning: &Turning, png: bool) -> Result<usize, FigureError> {
    let first = Turning {
        frames: turning.frames.iter().take(1).cloned().collect(),
        ..turning.clone()
    };
    let one = if png {
        turning_pngs(&first, &|_| {})?.iter().map(Vec::len).sum()
    } else {
        turning_gif(&first, &|_| {})?.len()
    };
    Ok(one * turning.frames.len())
}

fn wrong(reason: String) -> FigureError {
    FigureError::Drawing {
        figure: "turn",
        reason,
    }
}

/// What all frames share.
struct Film<'a> {
    turning: &'a Turning,
    sampler: Sampler,
    /// Left and top of the disc's pixels.
    corner: (u32, u32),
    /// What stands still.
    ground: Vec<u8>,
    /// Whether a palette will have to do.
    few_colors: bool,
    /// Red, green and blue of each ray of each frame in true colour, linear; the luminance of each ray otherwise.
    light: Light,
}

enum Light {
    Luminance {
        scale: LightScale,
        colors: Vec<[u8; 3]>,
        frames: Vec<Vec<[f32; 1]>>,
    },
    Color(Vec<Vec<[f32; 3]>>),
}

impl<'a> Film<'a> {
    fn new(turning: &'a Turning, few_colors: bool) -> Result<Self, FigureError> {
        let size = f64::from(turning.size);
        let side = (0.68 * size).round() as u32;
        let corner = ((0.06 * size).round() as u32, (0.155 * size).round() as u32);
        let all = || turning.frames.iter().flat_map(|frame| &frame.light);
        let (light, words) = if turning.color {
            let exposure = Exposure::of(all(), turning.parallel);
            let frames = turning
                .frames
                .iter()
                .map(|frame| exposure.linear(&frame.light).0);
            (Light::Color(frames.collect()), exposure.words())
        } else {
            let luminance = |xyz: &Xyz| [xyz.luminance() as f32];
            let frames = turning.frames.iter();
            let light = Light::Luminance {
                scale: turning.scale,
                colors: ramp::some_colors(DISC_COLORS),
                frames: frames
                    .map(|frame| frame.light.iter().map(luminance).collect())
                    .collect(),
            };
            (light, "light over the parallel field's mean".to_owned())
        };
        let mut film = Self {
            turning,
            sampler: Sampler::new(&turning.rays, side),
            corner,
            ground: Vec::new(),
            few_colors,
            light,
        };
        film.ground = film.still(&words)?;
        Ok(film)
    }

    fn middle(&self) -> (f64, f64, f64) {
        let radius = 0.5 * f64::from(self.sampler.side());
        let (left, top) = self.corner;
        (f64::from(left) + radius, f64::from(top) + radius, radius)
    }

    /// Title, rim, bar and caution on white.
    fn still(&self, words: &str) -> Result<Vec<u8>, FigureError> {
        let size = f64::from(self.turning.size);
        let (x, y, radius) = self.middle();
        let plate = match self.turning.plate {
            "" => String::new(),
            plate => format!(", {plate}"),
        };
        let sheet = Sheet::clear("", (size, size));
        text(&sheet, &self.turning.title, (0.03, 0.05), 0.036, true);
        text(
            &sheet,
            &format!("{words}{plate}"),
            (0.03, 0.925),
            0.030,
            false,
        );
        let caution =
            "Simplified model: identifies nothing. Dim the lamp before uncrossing polars.";
        text(&sheet, caution, (0.03, 0.975), 0.0235, false);
        sheet.circle((x, y), radius, Pen::full(INK, 0.004 * size));
        if let Light::Luminance { scale, .. } = &self.light {
            let (left, top, bottom) = self.bar();
            for (place, words) in scale.decades() {
                let at = bottom - (bottom - top) * place;
                let begins = (left / size + 0.036, at / size + 0.011);
                text(&sheet, &words, begins, 0.0255, false);
            }
        }
        let mut rgb = rendered(&sheet, None)?;
        if let Light::Luminance { colors, .. } = &self.light {
            let (left, top, bottom) = self.bar();
            let (from, to) = (top.round() as usize, bottom.round() as usize);
            for row in from..to {
                let place = (to - 1 - row) as f64 / (to - from - 1).max(1) as f64;
                let color = colors[(place * (colors.len() - 1) as f64).round() as usize];
                for column in left as usize..(left + 0.03 * size) as usize {
                    let at = 3 * (row * self.turning.size as usize + column);
                    rgb[at..at + 3].copy_from_slice(&color);
                }
            }
        }
        Ok(rgb)
    }

    /// Left, top and bottom of the colour bar.
    fn bar(&self) -> (f64, f64, f64) {
        let (size, (_, y, radius)) = (f64::from(self.turning.size), self.middle());
        (0.80 * size, y - radius, y + radius)
    }

    /// One frame, red, green and blue of each pixel.
    fn frame(&self, number: usize, frame: &TurnFrame) -> Result<Vec<u8>, FigureError> {
        let size = f64::from(self.turning.size);
        let (x, y, radius) = self.middle();
        let sheet = Sheet::clear("", (size, size));
        let degrees = (10.0 * frame.angle_rad.to_degrees()).round() / 10.0;
        let words = format!("{} turned {degrees:.1}°", self.turning.part);
        text(&sheet, &words, (0.03, 0.098), 0.034, false);
        let mark = |azimuth: f64, width: f64, length: f64| {
            let (sin, cos) = azimuth.sin_cos();
            for side in [1.0, -1.0] {
                let at = |r: f64| (x + side * r * cos, y - side * r * sin);
                let ends = [at(radius + 0.006 * size), at(radius + length * size)];
                sheet.line(&ends, Pen::full(INK, width * size));
            }
        };
        if let Some((lower, analyzer)) = frame.polars_rad {
            mark(lower, 0.014, 0.03);
            mark(analyzer, 0.005, 0.04);
        }
        let mut rgb = rendered(&sheet, Some(&self.ground))?;
        let mut put = |place: usize, color: [u8; 3], cover: f64| {
            let side = self.sampler.side() as usize;
            let (column, row) = (place % side, place / side);
            let (left, top) = (self.corner.0 as usize, self.corner.1 as usize);
            let at = 3 * ((row + top) * self.turning.size as usize + column + left);
            // The rim's line lies over the outermost pixels.
            if cover >= 1.0 {
                rgb[at..at + 3].copy_from_slice(&over_white(color, cover));
            }
        };
        match &self.light {
            Light::Luminance {
                scale,
                colors,
                frames,
            } => {
                for (place, [light], cover) in self.sampler.values(&frames[number]) {
                    put(place, scale.color(colors, light), cover);
                }
            }
            Light::Color(frames) => {
                for (place, linear, cover) in self.sampler.values(&frames[number]) {
                    put(place, self.dithered(encoded(linear), place), cover);
                }
            }
        }
        Ok(rgb)
    }

    /// A colour moved up or down by a pattern, in a picture of few colours: steps between them then do not show as bands.
    fn dithered(&self, color: [u8; 3], place: usize) -> [u8; 3] {
        if !self.few_colors {
            return color;
        }
        let side = self.sampler.side() as usize;
        let step = PATTERN[(place / side) % 4][(place % side) % 4] - 7.5;
        color.map(|v| (f64::from(v) + DITHER * step).round().clamp(0.0, 255.0) as u8)
    }

    fn palette(&self) -> Palette {
        match &self.light {
            Light::Luminance { colors, .. } => Palette::of(blend_greys(colors, GREYS)),
            Light::Color(frames) => {
                let seen = (frames.iter().flatten()).map(|rgb| encoded(rgb.map(f64::from)));
                Palette::of(blend_greys(
                    &super::quantize::median_cut(seen, DISC_COLORS),
                    GREYS,
                ))
            }
        }
    }
}

/// A text whose baseline begins at a place; lengths are fractions of the frame's size. Long ones are squeezed into the width.
fn text(sheet: &Sheet, words: &str, at: (f64, f64), height: f64, bold: bool) {
    let size = sheet.size.0;
    let mut set = Type {
        size: height * size,
        bold,
        ..BODY
    };
    let room = 0.95 * size;
    set.size *= (room / sheet.width(words, set)).min(1.0);
    sheet.baseline_text(words, (at.0 * size, at.1 * size), set);
}

/// A drawing as red, green and blue, over a ground or over white.
fn rendered(sheet: &Sheet, ground: Option<&[u8]>) -> Result<Vec<u8>, FigureError> {
    let size = sheet.size.0.to_string();
    overlay(&svg(sheet, (&size, &size)), ground).map_err(wrong)
}

/// Angles of `frames` frames that lead through `through_rad` and back to the first one.
#[must_use]
pub fn frame_angles(frames: u32, through_rad: f64) -> Vec<f64> {
    (0..frames)
        .map(|k| through_rad * f64::from(k) / f64::from(frames.max(1)))
        .collect()
}

/// A file's name made of a part's: letters and digits of ASCII, the rest dashes.
#[must_use]
pub fn turn_file_stem(part: &str) -> String {
    let plain: String = (part.chars())
        .map(|c| {
            if c.is_ascii_alphanumeric() {
                c.to_ascii_lowercase()
            } else {
                '-'
            }
        })
        .collect();
    let words: Vec<&str> = plain.split('-').filter(|word| !word.is_empty()).collect();
    if words.is_empty() {
        "turn-part".to_owned()
    } else {
        format!("turn-{}", words.join("-"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    #[test]
    fn file_names_are_plain_and_angles_do_not_repeat_the_first_frame() {
        assert_eq!(
            turn_file_stem("Lower polar / No. 2"),
            "turn-lower-polar-no-2"
        );
        assert_eq!(turn_file_stem("../../etc"), "turn-etc");
        assert_eq!(turn_file_stem("顕微鏡"), "turn-part");
        assert_eq!(frame_angles(4, PI), [0.0, PI / 4.0, PI / 2.0, 0.75 * PI]);
        assert!(frame_angles(0, PI).is_empty());
    }
}
