//! The back focal plane quickly: few well-chosen wavelengths in place of many, and few rays on a polar grid.

use crate::color::{Xyz, linear_srgb};
use crate::light_path::LightPath;
use crate::light_path::run::{self, Fields};
use crate::optics::Rays;
use crate::scene::Scene;
use crate::spectrum::fewer_wavelengths_for;
use crate::study::StudyError;
use crate::study::lamp::Lamp;
use crate::study::measures::ratio;
use crate::study::predict::{Backgrounds, backgrounds};

use super::crystal::FigureLies;
use super::{Cross, light};

/// Numbers of wavelengths that are tried one after the other; then all.
const COUNTS: [usize; 3] = [12, 16, 24];
/// Rings and spokes of the rays that they are judged with.
const PROBES: (usize, usize) = (4, 12);
/// By so many steps of a screen's 8 bits a colour may be off, the brightest ray being shown as bright as a screen can.
const STEPS_OFF: f64 = 0.5;
/// Estimated relative error of the parallel field's mean that a picture is drawn against.
const ACCURACY: f64 = 1e-4;

/// Few wavelengths, each with a weight for X, Y and Z.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct FewWavelengths {
    pub(super) wavelengths_nm: Vec<f64>,
    pub(super) weights: Vec<[f64; 3]>,
    /// By how many steps of 8 bits they change a colour on a screen at most, over some rays.
    pub(super) steps_off: f64,
}

/// Light on a screen that shows the brightest of some rays as bright as it can.
struct ScreenLight {
    factor: f64,
}

impl ScreenLight {
    fn of(light: &[Xyz]) -> Self {
        let largest = light
            .iter()
            .flat_map(|xyz| linear_srgb(*xyz))
            .fold(0.0, f64::max);
        Self {
            factor: if largest > 0.0 { 1.0 / largest } else { 0.0 },
        }
    }

    /// How many steps of 8 bits two colours lie apart, in the channel in which it is most.
    fn steps_apart(&self, one: Xyz, other: Xyz) -> f64 {
        let code = |xyz: Xyz| linear_srgb(xyz).map(|v| encoded(v * self.factor));
        let (one, other) = (code(one), code(other));
        (0..3)
            .map(|k| 255.0 * (one[k] - other[k]).abs())
            .fold(0.0, f64::max)
    }
}

/// The curve of sRGB, from 0 to 1.
///
/// Source: IEC 61966-2-1 (from memory); the same as in the pictures.
fn encoded(linear: f64) -> f64 {
    let [red, _, _]: [f64; 3] =
        palette::Srgb::from_linear(palette::LinSrgb::new(linear.clamp(0.0, 1.0), 0.0, 0.0)).into();
    red
}

impl FewWavelengths {
    /// So few that no ray of a picture looks different.
    pub(super) fn for_pictures(
        path: &LightPath,
        lamp: &Lamp<'_>,
        parallel: Xyz,
        plates: bool,
    ) -> Result<Self, StudyError> {
        let probes = Rays::even(path.na(), PROBES.0, PROBES.1);
        let weights = lamp.weights.per_wavelength();
        let seen = |wavelengths_nm: &[f64], weights: &[[f64; 3]]| {
            light(path, (wavelengths_nm, weights), &probes, plates, parallel)
        };
        let exact = seen(lamp.wavelengths_nm, weights)?;
        let shown = ScreenLight::of(&exact);
        for count in COUNTS {
            let (few_nm, few) = fewer_wavelengths_for(lamp.wavelengths_nm, weights, count);
            let steps_off = (seen(&few_nm, &few)?.iter().zip(&exact))
                .map(|(few, all)| shown.steps_apart(*few, *all))
                .fold(0.0, f64::max);
            if steps_off <= STEPS_OFF {
                return Ok(Self {
                    wavelengths_nm: few_nm,
                    weights: few,
                    steps_off,
                });
            }
        }
        Ok(Self {
            wavelengths_nm: lamp.wavelengths_nm.to_vec(),
            weights: weights.to_vec(),
            steps_off: 0.0,
        })
    }
}

/// The back focal plane at crossed polars for a screen, the plates in or out.
#[derive(Debug, Clone, PartialEq)]
pub struct QuickPlane {
    /// Numerical aperture of the direct light.
    pub na: f64,
    /// Azimuths that lower polar and analyzer pass, radians; `None` for circular polars.
    pub polars_rad: Option<(f64, f64)>,
    /// How the figure of a crystal lies.
    figure: FigureLies,
    /// The rays, evenly spaced.
    pub rays: Rays,
    /// Light of each, relative to the mean of the parallel field, in the order of [`Rays::iter`].
    pub light: Vec<Xyz>,
    /// The parallel field, of luminance 1.
    pub parallel: Xyz,
    /// Luminous extinction ratio of all rays together; `None` where nothing leaks.
    pub extinction_ratio: Option<f64>,
    /// By how many steps of 8 bits the few wavelengths change a colour on a screen at most, over some rays.
    pub steps_off: f64,
}

impl QuickPlane {
    /// Whether the figure of a crystal, if there is one, lies about the middle of the disc (within [`super::OFF_MIDDLE`]).
    #[must_use]
    pub fn is_centred(&self) -> bool {
        self.figure.is_centred()
    }

    /// How the dark cross stands; `None` where there is none about the middle of the disc.
    #[must_use]
    pub fn cross(&self) -> Option<Cross> {
        let (lower_rad, _) = self.polars_rad?;
        let luminance: Vec<f64> = self.light.iter().map(Xyz::luminance).collect();
        Cross::of(&self.rays, &luminance, lower_rad, self.figure)
    }
}

/// What a screen shows while a hand moves a part: fields, background and back focal plane at once, of the wavelengths as they are written.
#[derive(Debug, Clone, PartialEq)]
pub struct QuickFrame {
    /// The lamp's wavelengths.
    pub wavelength_nm: Vec<f64>,
    /// The fields, with so many rays that their means are good to about a part in ten thousand.
    pub fields: Fields,
    /// How the crossed field looks.
    pub background: Backgrounds,
    /// The back focal plane.
    pub plane: QuickPlane,
}

/// The back focal plane on `rings` by `spokes` rays, plates in or out, with the fields that go with it.
///
/// # Errors
/// [`StudyError`] when the path cannot be run, no light is seen, or plates are wanted where there are none.
///
/// # Examples
/// ```
/// use polstack::study::aperture::quick_frame;
/// let scene = polstack::scenario::read("scenarios/pond-life.toml".as_ref()).unwrap().scene;
/// let plane = quick_frame(&scene, (33, 128), false)?.plane;
/// assert_eq!(plane.light.len(), 33 * 128);
/// assert!((plane.extinction_ratio.unwrap() - 501.0).abs() < 1.0);
/// # Ok::<(), polstack::study::StudyError>(())
/// ```
///
/// Checked by: `tests/laws/aperture.rs`, against [`super::back_focal_plane`].
pub fn quick_frame(
    scene: &Scene,
    (rings, spokes): (usize, usize),
    plates: bool,
) -> Result<QuickFrame, StudyError> {
    let Scene { path, source, grid } = scene;
    let lamp = Lamp::new(source, grid)?;
    let mean = run::quadrature(path, lamp.wavelengths_nm, &lamp.luminous, ACCURACY)?.rays;
    let fields = run::fields(path, &mean, lamp.wavelengths_nm, &lamp.luminous)?;
    let crossed = match (plates, &fields.crossed_with_plate) {
        (false, _) => &fields.crossed,
        (true, Some(field)) => field,
        (true, None) => return Err(StudyError::NoPlate),
    };
    let parallel = lamp.weights.xyz(&fields.parallel)?;
    let few = FewWavelengths::for_pictures(path, &lamp, parallel, plates)?;
    let rays = Rays::even(path.na(), rings, spokes);
    let figure = FigureLies::of(path);
    let few_lamp = (&few.wavelengths_nm[..], &few.weights[..]);
    let plane = QuickPlane {
        na: path.na(),
        polars_rad: super::polars_rad(path),
        figure,
        light: light(path, few_lamp, &rays, plates, parallel)?,
        extinction_ratio: ratio(parallel.luminance(), lamp.luminance(crossed)),
        parallel: parallel.scaled(1.0 / parallel.luminance()),
        steps_off: few.steps_off,
        rays,
    };
    let background = backgrounds(&lamp.weights, &fields, 1.0)?;
    Ok(QuickFrame {
        wavelength_nm: lamp.wavelengths_nm.to_vec(),
        fields,
        background,
        plane,
    })
}
