//! A moving picture of the back focal plane while one part is turned.
//!
//! A frame is a sheet of its own that is shown in any number of pixels: the sheet of the other figures is for paper.

use super::look::*;
use super::map::polar_marks;
use super::moving::{MovingForm, numbered};
use super::quantize::{DELAY, Palette, blend_greys, chosen, gif, packed};
use super::scale_bar::{colored_bar, decade_axis};
use crate::color::Xyz;
use crate::optics::Rays;
use crate::output::CAUTION_ON_A_FRAME;
use crate::output::disc::{Exposure, LightScale, Sampler, encoded, ramp};
use crate::output::sheet::{DPI, Raster, SlideTheme, apng, parse};
use crate::threads;

/// Width and height of the sheet, its left margin, and the width of the disc.
const SIZE: f64 = 400.0;
const LEFT: f64 = 12.0;
const DISC: f64 = 272.0;
/// How much thicker the polars' marks are than on paper.
const MARKS: f64 = 1.5;
/// So many frames are looked at for the colours of a GIF.
const LOOKED_AT: usize = 12;
/// Colours of the disc in a GIF; the rest are greys for texts and marks.
const DISC_COLORS: usize = 208;
const GREYS: usize = 48;
/// Frames that are drawn before it is said how many are.
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
pub struct TurningPicture {
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
    /// On which slides it is to lie, without a background; `None` for white.
    pub slides: Option<SlideTheme>,
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

/// The moving picture in a form: names and bytes of its files, which are called after the part. For slides a GIF becomes an animated PNG, because
/// it knows no half-transparent pixels. `done` hears how many frames are drawn.
///
/// # Errors
/// [`FigureError::Drawing`].
///
/// Checked by: `tests/cli/aperture.rs`.
pub fn turning_film(
    turning: &TurningPicture,
    form: MovingForm,
    done: &(dyn Fn(usize) + Sync),
) -> Result<Vec<(String, Vec<u8>)>, FigureError> {
    match (turning.slides, form) {
        (None, _) => Reel::new(turning, form).files::<3>(done),
        (Some(_), MovingForm::Gif) => Reel::new(turning, MovingForm::Apng).files::<4>(done),
        (Some(_), _) => Reel::new(turning, form).files::<4>(done),
    }
}

/// About how many bytes all frames will take, from the first one.
///
/// # Errors
/// [`FigureError::Drawing`].
pub fn turning_bytes(turning: &TurningPicture, form: MovingForm) -> Result<usize, FigureError> {
    let first = TurningPicture {
        frames: turning.frames.iter().take(1).cloned().collect(),
        ..turning.clone()
    };
    let files = turning_film(&first, form, &|_| {})?;
    let one: usize = files.iter().map(|(_, bytes)| bytes.len()).sum();
    Ok(one * turning.frames.len())
}

/// What all frames share.
struct Reel<'a> {
    turning: &'a TurningPicture,
    sampler: Sampler,
    /// In true colour: how the light of all frames is exposed.
    exposure: Option<Exposure>,
    /// The colours of the scale.
    colors: Vec<[u8; 3]>,
    form: MovingForm,
}

impl<'a> Reel<'a> {
    fn new(turning: &'a TurningPicture, form: MovingForm) -> Self {
        let (ring, spoke_rad) = (&turning.rays.ring, &turning.rays.spoke_rad);
        let side = (DISC / SIZE * f64::from(turning.size)).round() as u32;
        let rim = ring.last().copied().unwrap_or(0.0);
        let light = turning.frames.iter().flat_map(|frame| &frame.light);
        let exposure = (turning.color).then(|| Exposure::of(light, turning.parallel));
        Self {
            turning,
            sampler: Sampler::new(ring, spoke_rad, rim, side),
            exposure,
            colors: ramp::some_colors(DISC_COLORS),
            form,
        }
    }

    /// Names and bytes of the files, from pictures of so many channels.
    fn files<const CHANNELS: usize>(
        &self,
        done: &(dyn Fn(usize) + Sync),
    ) -> Result<Vec<(String, Vec<u8>)>, FigureError> {
        let (side, wrong) = (self.turning.size, undrawn::<String>("turn"));
        let raster = |svg: &str| Raster::<CHANNELS>::of(&parse(svg)?, (side, side));
        let stem = turn_file_stem(&self.turning.part);
        match self.form {
            MovingForm::Gif => {
                let (size, palette) = (side as usize, self.palette());
                let index = |color| palette.index(color);
                let frames = self.each(done, |svg| Ok(packed(size, &raster(svg)?.bytes, index)))?;
                let gif = gif(size, palette.bytes(), &frames).map_err(undrawn("turn"))?;
                Ok(vec![(format!("{stem}.gif"), gif)])
            }
            MovingForm::Apng => {
                let frames = self.each(done, |svg| Ok(raster(svg)?.bytes))?;
                let png = apng::<CHANNELS>((side, side), &frames, DELAY).map_err(wrong)?;
                Ok(vec![(format!("{stem}.png"), png)])
            }
            MovingForm::Numbered => {
                let pngs = self.each(done, |svg| raster(svg)?.png(DPI))?;
                Ok(numbered(&stem, pngs))
            }
        }
    }

    /// Draws all frames, some of them at once, and makes something of each.
    fn each<T: Send>(
        &self,
        done: &(dyn Fn(usize) + Sync),
        make: impl Fn(&str) -> Result<T, String> + Sync + Send,
    ) -> Result<Vec<T>, FigureError> {
        let mut all = Vec::new();
        for some in self.turning.frames.chunks(AT_ONCE) {
            let made = threads::try_each(some, |frame| make(&self.frame(frame)));
            all.extend(made.map_err(undrawn::<String>("turn"))?);
            done(all.len());
        }
        Ok(all)
    }

    /// One frame: the same sheet for all sizes, shown larger or smaller.
    fn frame(&self, frame: &TurnFrame) -> String {
        let turning = self.turning;
        let sheet = Sheet::for_pixels(&turning.title, (SIZE, SIZE));
        let line = |words: &str, y: f64, height: f64, bold: bool| {
            let mut set = BODY.sized(height).weighted(bold);
            // Long ones are squeezed into the width.
            set.size *= ((SIZE - 2.0 * LEFT) / sheet.width(words, set)).min(1.0);
            sheet.text(words, (LEFT, y), set);
        };
        line(&turning.title, 16.0, 14.4, true);
        let degrees = (10.0 * frame.angle_rad.to_degrees()).round() / 10.0;
        let turned = format!("{} turned {degrees:.1}°", turning.part);
        line(&turned, 34.5, 13.6, false);
        let mut words = match &self.exposure {
            Some(exposure) => exposure.words(),
            None => "light over the parallel field's mean".to_owned(),
        };
        if !turning.plate.is_empty() {
            words = format!("{words}, {}", turning.plate);
        }
        line(&words, 365.0, 12.0, false);
        line(CAUTION_ON_A_FRAME, 386.0, 9.4, false);
        // The disc's pixels are those of the frame.
        let pixel = SIZE / f64::from(turning.size);
        let [left, top] = [23.0, 62.0].map(|v: f64| pixel * (v / pixel).round());
        let wide = pixel * f64::from(self.sampler.side);
        let side = (self.sampler.side, self.sampler.side);
        let disc = self.disc(&frame.light);
        sheet.mosaic((left, top), (wide, wide), side, disc);
        let centre = (left + 0.5 * wide, top + 0.5 * wide);
        sheet.circle(centre, 0.5 * wide, Pen::full(INK, 1.6));
        polar_marks(&sheet, frame.polars_rad, (centre, 0.5 * wide), MARKS);
        if self.exposure.is_none() {
            let ends = (top, top + wide);
            let axis = decade_axis(&turning.scale, &[1, 2, 5]);
            colored_bar(&sheet, axis, &self.colors, 314.0, ends);
        }
        let sheet = match turning.slides {
            Some(theme) => sheet.bare(theme),
            None => sheet,
        };
        sheet.svg((&SIZE.to_string(), &SIZE.to_string()))
    }

    /// The disc's pixels.
    fn disc(&self, light: &[Xyz]) -> Vec<u8> {
        if let Some(exposure) = &self.exposure {
            let color = |place, linear| self.dithered(encoded(linear), place);
            return self.sampler.picture(&exposure.linear(light).0, color);
        }
        let luminance: Vec<[f32; 1]> = (light.iter()).map(|xyz| [xyz.luminance() as f32]).collect();
        let color = |_, [light]: [f64; 1]| self.turning.scale.color(&self.colors, light);
        self.sampler.picture(&luminance, color)
    }

    /// A colour moved up or down by a pattern, in a picture of few colours: steps between them then do not show as bands.
    fn dithered(&self, color: [u8; 3], place: usize) -> [u8; 3] {
        if self.form != MovingForm::Gif {
            return color;
        }
        let side = self.sampler.side as usize;
        let step = PATTERN[(place / side) % 4][(place % side) % 4] - 7.5;
        color.map(|v| (f64::from(v) + DITHER * step).round().clamp(0.0, 255.0) as u8)
    }

    fn palette(&self) -> Palette {
        let Some(exposure) = &self.exposure else {
            return Palette::of(blend_greys(&self.colors, GREYS));
        };
        let frames = &self.turning.frames;
        let every = frames.len().div_ceil(LOOKED_AT).max(1);
        let some = frames.iter().step_by(every);
        let seen = some.flat_map(|frame| exposure.linear(&frame.light).0);
        let seen = seen.map(|linear| encoded(linear.map(f64::from)));
        Palette::of(blend_greys(&chosen(seen, DISC_COLORS), GREYS))
    }
}

/// Angles of `frames` frames that lead through `through_rad` and back to the first one.
#[must_use]
pub fn frame_angles(frames: u32, through_rad: f64) -> Vec<f64> {
    (0..frames)
        .map(|k| through_rad * f64::from(k) / f64::from(frames.max(1)))
        .collect()
}

/// A file's name made of a part's: letters and digits of ASCII, the rest dashes.
fn turn_file_stem(part: &str) -> String {
    let plain = part.to_ascii_lowercase();
    let words = plain.split(|c: char| !c.is_ascii_alphanumeric());
    let words: Vec<&str> = words.filter(|word| !word.is_empty()).collect();
    match words.is_empty() {
        true => "turn-part".to_owned(),
        false => format!("turn-{}", words.join("-")),
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
