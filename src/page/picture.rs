//! Pictures as pixels.

use std::cell::RefCell;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use ndarray::Array2;
use serde::{Deserialize, Serialize};

use super::stack::{Refused, Stack};
use crate::color::Xyz;
use crate::light_path::run::Fields;
use crate::output::disc::{Exposure, LightScale, RingMap, encoded, isolines, ramp, ratio_levels};
use crate::output::numbers::digits;
use crate::study::aperture::{Cross, QuickPlane, SmoothDisc, quick_frame};
use crate::study::measures::ratio;
use crate::study::predict::Backgrounds;
use crate::study::view::{FieldLight, FieldSpecimen, SeenObject, seen_objects};

/// Rings and spokes of the rays, and of those while a hand moves.
const RAYS: (usize, usize) = (33, 128);
const COARSE: (usize, usize) = (17, 64);
/// Smallest and largest picture, pixels.
const SIZES: (u32, u32) = (16, 1024);

/// How the back focal plane is shown.
#[derive(Debug, Clone, Copy, Deserialize)]
pub struct PlaneView {
    /// Width and height, pixels.
    #[serde(default = "usual_size")]
    pub size: u32,
    /// Whether the plates are in.
    #[serde(default)]
    pub plate: bool,
    /// What is shown.
    #[serde(default)]
    pub show: PlaneShown,
    /// Whether fewer rays do, while a hand moves.
    #[serde(default)]
    pub coarse: bool,
}

/// What a picture of the back focal plane shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum PlaneShown {
    /// Luminance in false colours.
    #[default]
    Luminance,
    /// True colour.
    Color,
}

fn usual_size() -> u32 {
    128
}

/// A picture of the back focal plane.
#[derive(Debug, Serialize)]
pub(super) struct PlanePicture {
    size: u32,
    /// Red, green, blue and how much of the pixel lies in the disc; rows from the top, base64.
    pixels: String,
    na: f64,
    extinction_center: Option<f64>,
    levels: Vec<Level>,
    /// What a false colour means, powers of ten of the parallel field's mean: the dark end and the light end.
    scale: [i32; 2],
    /// Colours from the dark end to the light one.
    ramp: Vec<String>,
    /// How a true colour is exposed.
    exposure: Option<String>,
    sentence: String,
}

/// Lines of one extinction ratio.
#[derive(Debug, Serialize)]
struct Level {
    ratio: f64,
    /// Points in units of the disc's radius, y up: x, y, x, y.
    lines: Vec<Vec<f64>>,
}

/// What follows a moving hand.
#[derive(Debug, Serialize)]
pub(super) struct FrameAnswer {
    extinction_ratio: Option<f64>,
    background: Backgrounds,
    spectrum: FrameSpectrum,
    plane: PlanePicture,
}

#[derive(Debug, Serialize)]
struct FrameSpectrum {
    wavelength_nm: Vec<f64>,
    #[serde(flatten)]
    fields: Fields,
}

pub(super) fn frame(stack: &Stack, view: PlaneView) -> Result<FrameAnswer, Refused> {
    let read = stack.read()?;
    let rays = if view.coarse { COARSE } else { RAYS };
    let frame = quick_frame(&read.scene, rays, view.plate)?;
    Ok(FrameAnswer {
        extinction_ratio: ratio(1.0, frame.background.without_plate.relative_luminance),
        background: frame.background,
        spectrum: FrameSpectrum {
            wavelength_nm: frame.wavelength_nm,
            fields: frame.fields,
        },
        plane: picture(&frame.plane, view)?,
    })
}

fn picture(plane: &QuickPlane, view: PlaneView) -> Result<PlanePicture, Refused> {
    let size = view.size.clamp(SIZES.0, SIZES.1);
    let counts = (plane.rays.ring.len(), plane.rays.spoke_rad.len());
    let luminance: Vec<f64> = plane.light.iter().map(Xyz::luminance).collect();
    let scale = LightScale::of(luminance.iter().copied());
    let (pixels, exposure) = match view.show {
        PlaneShown::Luminance => {
            let colors = ramp::colors();
            let light: Vec<[f64; 1]> = luminance.iter().map(|light| [*light]).collect();
            let disc = SmoothDisc {
                counts,
                light: &light,
            };
            let pixels = disc.pixels(size, |[light]| scale.color(colors, light));
            (pixels, None)
        }
        PlaneShown::Color => {
            let exposure = Exposure::of(plane.light.iter(), plane.parallel);
            let light: Vec<[f64; 3]> = plane.light.iter().map(|xyz| xyz.0).collect();
            let disc = SmoothDisc {
                counts,
                light: &light,
            };
            let pixels = disc.pixels(size, |xyz| exposure.bytes(Xyz(xyz)));
            (pixels, Some(exposure.words()))
        }
    };
    let map = RingMap {
        value: Array2::from_shape_vec(counts, luminance.clone())
            .map_err(|error| Refused::saying(error.to_string()))?,
        rings: plane.rays.ring.clone(),
        na: plane.na,
    };
    let levels = ratio_levels(&map).into_iter().map(|ratio| Level {
        ratio,
        lines: (isolines(&map, 1.0 / ratio).into_iter())
            .map(|line| {
                line.into_iter()
                    .flat_map(|(x, y)| [short(x), short(y)])
                    .collect()
            })
            .collect(),
    });
    Ok(PlanePicture {
        size,
        pixels: STANDARD.encode(pixels),
        na: plane.na,
        extinction_center: (luminance[0] > 0.0).then(|| 1.0 / luminance[0]),
        levels: levels.collect(),
        scale: [scale.low, scale.high],
        ramp: (ramp::some_colors(32).into_iter())
            .map(|[red, green, blue]| format!("#{red:02x}{green:02x}{blue:02x}"))
            .collect(),
        exposure,
        sentence: sentence(plane),
    })
}

/// Thousandths of the radius are less than a pixel.
fn short(value: f64) -> f64 {
    (value * 1e4).round() / 1e4
}

/// The picture in words.
fn sentence(plane: &QuickPlane) -> String {
    let ratio = match plane.extinction_ratio {
        Some(ratio) => format!("Extinction {} to 1 as written", digits(ratio, 3)),
        None => "Nothing leaks".to_owned(),
    };
    match plane.cross() {
        Some(found) => format!("{ratio}; {}.", cross(&found)),
        None if !plane.is_centred() => format!(
            "{ratio}; no dark cross about the middle, because the crystal's figure lies off it."
        ),
        None => format!("{ratio}; no dark cross."),
    }
}

/// How the field is shown.
#[derive(Debug, Clone, Deserialize)]
pub struct FieldRequest {
    /// Width and height, pixels.
    #[serde(default = "usual_field")]
    pub size: u32,
    /// Whether the plates are in.
    #[serde(default)]
    pub plate: bool,
    /// By how much the stage is turned, counter-clockwise.
    #[serde(default)]
    pub stage_deg: f64,
    /// "own", or "parallel" for the parallel field's exposure.
    #[serde(default)]
    pub exposure: FieldShown,
}

/// How bright the field is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum FieldShown {
    /// As bright as a screen can without losing its brightest point.
    #[default]
    Own,
    /// As the parallel field would be shown.
    Parallel,
}

fn usual_field() -> u32 {
    256
}

/// A picture of the field.
#[derive(Debug, Serialize)]
pub(super) struct FieldPicture {
    size: u32,
    /// Red, green, blue and 255; rows from the top, base64.
    pixels: String,
    width_um: f64,
    bar_um: f64,
    exposure: String,
    objects: Vec<SeenObject>,
    sentence: String,
}

/// Length of the scale bar, micrometres.
const BAR_UM: f64 = 50.0;

thread_local! {
    /// The light of the last stack: while the stage turns, nothing else changes.
    static LAST: RefCell<Option<(String, FieldLight)>> = const { RefCell::new(None) };
}

pub(super) fn field(stack: &Stack, view: &FieldRequest) -> Result<FieldPicture, Refused> {
    let key = format!("{:?}", (&stack.text, &stack.files, &stack.out));
    let kept = LAST.with_borrow(|last| {
        let same = last.as_ref().filter(|(of, _)| *of == key);
        same.map(|(_, light)| light.clone())
    });
    let light = match kept {
        Some(light) => light,
        None => {
            let light = FieldLight::new(&stack.read()?.scene)?;
            LAST.set(Some((key, light.clone())));
            light
        }
    };
    let specimen = FieldSpecimen::Invented;
    let size = view.size.clamp(SIZES.0, SIZES.1);
    let seen = light.view(&specimen, size as usize, view.stage_deg.to_radians());
    let shown = match (view.plate, &seen.with_plate) {
        (true, Some(with_plate)) => with_plate,
        _ => &seen.without_plate,
    };
    let own = Exposure::of(shown.iter(), light.parallel);
    let exposure = match view.exposure {
        FieldShown::Own => own,
        FieldShown::Parallel => own.by(own.stops.min(0.0)),
    };
    let (linear, _) = exposure.linear(shown);
    let pixels: Vec<u8> = (linear.iter())
        .flat_map(|rgb| {
            let [red, green, blue] = encoded(rgb.map(f64::from));
            [red, green, blue, 255]
        })
        .collect();
    let objects = seen_objects(&light, &specimen);
    let named = |object: &SeenObject| {
        let seen = match (view.plate, &object.with_plate) {
            (true, Some(seen)) => seen,
            _ => &object.without_plate,
        };
        format!("{}: {}", object.name, seen.name)
    };
    let words: Vec<String> = objects.iter().map(named).collect();
    Ok(FieldPicture {
        size,
        pixels: STANDARD.encode(pixels),
        width_um: seen.width_um,
        bar_um: BAR_UM,
        exposure: exposure.words(),
        sentence: format!(
            "With the slow direction at 45 degrees, {}.",
            words.join("; ")
        ),
        objects,
    })
}

/// A cross that is filled with less of the brightest light than this looks dark.
const DARK: f64 = 0.05;

/// How the dark cross stands.
fn cross(cross: &Cross) -> String {
    let arms = match cross.filled > DARK {
        true => format!(
            ", its arms filled to {:.0} % of the brightest light",
            100.0 * cross.filled
        ),
        false => String::new(),
    };
    match cross.parted_rad {
        None => format!("a closed dark cross{arms}"),
        Some(toward) => format!(
            "the dark cross has opened by {:.2} of the radius toward {:.0} degrees{arms}",
            cross.opening,
            toward.to_degrees()
        ),
    }
}
