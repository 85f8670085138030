//! What does a camera record that looks down the tube without the eyepiece?
//!
//! It sees the bright disc of the aperture. Pictures of it are computed here from a stand whose every number is known, so that whoever reads them, a
//! program or a class, can compare what was found with what is true.
//!
//! # Examples
//! ```
//! use polstack::study::aperture::{Camera, CameraStand, PicturedPolars};
//! use polstack::study::reading::BenchSetting;
//! let scene = polstack::scenario::read("scenarios/pond-life.toml".as_ref()).unwrap().scene;
//! let camera = Camera { pixels: 64, ..Camera::default() };
//! let stand = CameraStand::new(&scene, camera)?;
//! let parallel = stand.picture(&BenchSetting::default(), PicturedPolars::Parallel, 0)?;
//! let crossed = stand.picture(&BenchSetting::default(), PicturedPolars::AsSet, 1)?;
//! assert_eq!((parallel.counts.len(), parallel.exposure), (64 * 64, 1.0));
//! assert!(crossed.exposure > 10.0); // it is darker, so it is exposed for longer
//! # Ok::<(), polstack::study::StudyError>(())
//! ```

mod frame;
mod light;
mod record;

use std::f64::consts::TAU;

use crate::light_path::run;
use crate::light_path::{LightPath, PartKind};
use crate::optics::Rays;
use crate::scene::Scene;
use crate::study::StudyError;
use crate::study::lamp::Lamp;
use crate::study::measures::ACCURACY;
use crate::study::reading::BenchSetting;
use crate::study::wavelengths::Resolved;

use self::light::DiscLight;
use super::{picture_rays, resolved};

pub use frame::PictureFrame;

/// The brightest thousandth of the disc begins at this fraction of full scale.
const EXPOSED_TO: f64 = 0.8;
/// Crossed polars are exposed at most so many times as long as parallel ones.
const LONGEST: f64 = 1e4;

/// A grey camera: what it records is proportional to luminance.
#[derive(Debug, Clone, PartialEq)]
pub struct Camera {
    /// Pixels across, and as many down: 64 to 4096.
    pub pixels: u32,
    /// Bits of its converter, 8 to 16: its values are spread over 16.
    pub bits: u32,
    /// What makes its counts scatter; `None` for a camera without noise.
    pub noise: Option<Noise>,
    /// Counts of 65535 that it adds to every pixel, as cameras do so that noise in the dark stays above 0: 0 to 6000.
    pub dark_counts: f64,
    /// Fraction of the light that is lost a disc's radius from the picture's middle, growing with the square of the distance: 0 to 0.8.
    pub vignetting: f64,
    /// How far East of the picture's middle the disc lies, over the disc's radius: -0.1 to 0.1.
    pub decentred: f64,
    /// How the picture is turned and mirrored: see [`PictureFrame`].
    pub turn_rad: f64,
    /// Whether it is mirrored.
    pub flip: bool,
}

/// What makes a camera's counts scatter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Noise {
    /// Electrons of a pixel at full scale, 100 to a million: the fewer, the more the light's own noise shows.
    pub full_well: f64,
    /// Noise of reading a pixel out, electrons, one standard deviation: 0 to 1000.
    pub read_noise: f64,
    /// Which sequence of random numbers.
    pub seed: u64,
}

impl Default for Camera {
    /// A plain camera of 16 bits, a little vignetted and not quite in the middle.
    fn default() -> Self {
        Self {
            pixels: 512,
            bits: 16,
            noise: Some(Noise {
                full_well: 20_000.0,
                read_noise: 3.0,
                seed: 1,
            }),
            dark_counts: 0.0,
            vignetting: 0.2,
            decentred: 0.05,
            turn_rad: 0.0,
            flip: false,
        }
    }
}

impl Camera {
    /// Where the disc lies in its pictures.
    #[must_use]
    pub fn frame(&self) -> PictureFrame {
        PictureFrame::new(self.pixels, self.decentred, self.flip, self.turn_rad)
    }

    /// Refuses what no camera has.
    fn check(&self) -> Result<(), StudyError> {
        let noise = self.noise.unwrap_or(Noise {
            full_well: 100.0,
            read_noise: 0.0,
            seed: 0,
        });
        let all = [
            (
                "pixels across",
                f64::from(self.pixels),
                64.0,
                4096.0,
                "64 to 4096",
            ),
            ("number of bits", f64::from(self.bits), 8.0, 16.0, "8 to 16"),
            (
                "full well",
                noise.full_well,
                100.0,
                1e6,
                "100 to 1000000 electrons",
            ),
            (
                "read noise",
                noise.read_noise,
                0.0,
                1e3,
                "0 to 1000 electrons",
            ),
            ("dark counts", self.dark_counts, 0.0, 6e3, "0 to 6000"),
            ("vignetting", self.vignetting, 0.0, 0.8, "0 to 0.8"),
            (
                "decentring",
                self.decentred,
                -0.1,
                0.1,
                "-0.1 to 0.1 of the disc's radius",
            ),
            ("turn", self.turn_rad, -TAU, TAU, "-360 to 360 degrees"),
        ];
        for (quantity, value, least, most, allowed) in all {
            if !(least..=most).contains(&value) {
                return Err(StudyError::Camera {
                    quantity,
                    value,
                    allowed,
                });
            }
        }
        Ok(())
    }
}

/// How the polars of a setting are to stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PicturedPolars {
    /// As the setting has them.
    AsSet,
    /// Parallel, plates out: the analyzer turned to the lower polar of that setting.
    Parallel,
}

/// A picture.
#[derive(Debug, Clone, PartialEq)]
pub struct CameraPicture {
    /// Pixels across, and as many down.
    pub pixels: u32,
    /// Counts of 65535, rows from the top.
    pub counts: Vec<u16>,
    /// For how long it is exposed, over the exposure of the parallel polars of the stand as written.
    pub exposure: f64,
    /// Whether it would have to be exposed for longer to be bright.
    pub too_dark: bool,
    /// By how many times what is allowed (a thousandth of itself, or a millionth of the parallel field) the light between the computed rays is off.
    /// Above 1 where light changes too sharply, such as at a clamp's contacts.
    pub interpolation_off: f64,
}

/// A stand before a camera. Specimens are off the stage.
#[derive(Debug, Clone)]
pub struct CameraStand<'a> {
    scene: &'a Scene,
    camera: Camera,
    /// Azimuth of the analyzer as written, which its ring reads.
    written_rad: f64,
    /// Rays for means over the aperture.
    mean: Rays,
    resolved: Resolved,
    /// Mean luminance of the parallel field of the stand as written.
    unit: f64,
    /// What the brightest thousandth of the disc begins at there, over `unit`.
    bright: f64,
}

impl<'a> CameraStand<'a> {
    /// A stand as its scene has it, before a camera.
    ///
    /// # Errors
    /// [`StudyError`] when the path cannot be run, no light is seen, or there is no such camera.
    pub fn new(scene: &'a Scene, camera: Camera) -> Result<Self, StudyError> {
        camera.check()?;
        let empty = scene.with_path(scene.path.without_specimens());
        let usual = Lamp::new(&empty.source, &empty.grid)?;
        let (nm, luminous) = (usual.wavelengths_nm, &usual.luminous[..]);
        let mean = run::quadrature(&empty.path, nm, luminous, ACCURACY)?.rays;
        let mut stand = Self {
            scene,
            camera,
            written_rad: (scene.path.polars()).map_or(0.0, |(_, polar)| polar.azimuth_rad),
            resolved: resolved(&empty, &mean, picture_rays(&empty.path).count())?,
            mean,
            unit: 1.0,
            bright: 1.0,
        };
        let plain = BenchSetting::default();
        stand.unit = stand.set(&plain, PicturedPolars::Parallel)?.parallel;
        let light = stand.light(&plain, PicturedPolars::Parallel)?;
        stand.bright = stand.exposable(&light).bright();
        Ok(stand)
    }

    /// A picture in a setting. `number` is the picture's own: pictures of different numbers have different noise. The same numbers give the same counts,
    /// on any number of threads.
    ///
    /// # Errors
    /// [`StudyError`] when the setting cannot be run.
    ///
    /// Checked by: `tests/laws/camera.rs`.
    pub fn picture(
        &self,
        setting: &BenchSetting,
        polars: PicturedPolars,
        number: u32,
    ) -> Result<CameraPicture, StudyError> {
        let light = self.light(setting, polars)?;
        let image = self.exposable(&light);
        let bright = image.bright();
        // Four digits are as many as anybody copies.
        let wanted = four_digits(self.bright / bright);
        let too_dark = wanted.is_nan() || wanted > LONGEST;
        let exposure = if too_dark { LONGEST } else { wanted };
        Ok(CameraPicture {
            pixels: self.camera.pixels,
            counts: image.counts(&self.camera, EXPOSED_TO / self.bright * exposure, number),
            exposure,
            too_dark,
            interpolation_off: light.off,
        })
    }

    /// A setting's path with its parallel field.
    fn set(&self, setting: &BenchSetting, polars: PicturedPolars) -> Result<SetStand, StudyError> {
        let mut setting = setting.clone();
        if polars == PicturedPolars::Parallel {
            setting.plates.clear();
        }
        let mut path =
            (setting.of(&self.scene.path, self.written_rad)).ok_or(StudyError::NoPlaceForPolar)?;
        path.check(self.resolved.grid.wavelengths_nm())?;
        let source = match &setting.lamp {
            Some((_, lamp)) => lamp,
            None => &self.scene.source,
        };
        let lamp = Lamp::new(source, &self.resolved.grid)?;
        let fields = run::fields(
            &path,
            &self.mean_of(&path),
            lamp.wavelengths_nm,
            &lamp.luminous,
        )?;
        let parallel = lamp.luminance(&fields.parallel);
        let stray = path.stray_fraction * parallel;
        if let (PicturedPolars::Parallel, Some(analyzer)) = (polars, path.analyzer())
            && let PartKind::Analyzer(polar) = &mut path.parts[analyzer].kind
        {
            polar.azimuth_rad = fields.parallel_azimuth_rad;
        }
        Ok(SetStand {
            path,
            plates: !setting.plates.is_empty(),
            luminous: lamp.luminous.iter().map(|weight| [*weight]).collect(),
            parallel,
            // The parallel field is told without stray light everywhere in this program.
            stray: if polars == PicturedPolars::Parallel {
                0.0
            } else {
                stray
            },
        })
    }

    /// The rays for means over a path's aperture, which the setting may have stopped down.
    fn mean_of(&self, path: &LightPath) -> Rays {
        let mut rays = self.mean.clone();
        let narrower = path.na() / self.scene.path.na();
        rays.ring.iter_mut().for_each(|s| *s *= narrower);
        rays
    }

    fn light(
        &self,
        setting: &BenchSetting,
        polars: PicturedPolars,
    ) -> Result<DiscLight, StudyError> {
        let set = self.set(setting, polars)?;
        let lamp = (self.resolved.grid.wavelengths_nm(), &set.luminous[..]);
        let stray = set.stray / self.unit;
        Ok(DiscLight::new(
            &set.path, lamp, set.plates, self.unit, stray,
        )?)
    }

    fn exposable(&self, light: &DiscLight) -> record::Image {
        record::Image::new(&self.camera, |distance, azimuth_rad| {
            light.at(distance, azimuth_rad)
        })
    }
}

/// A stand in a setting.
struct SetStand {
    path: LightPath,
    plates: bool,
    /// Weight of each wavelength.
    luminous: Vec<[f64; 1]>,
    /// Mean luminance of its parallel field.
    parallel: f64,
    /// Even light that is added to what leaks.
    stray: f64,
}

/// A number rounded to four digits.
fn four_digits(value: f64) -> f64 {
    if !value.is_finite() || value == 0.0 {
        return value;
    }
    let place = crate::math::log10(value.abs()).floor() as i32 - 3;
    // Tenths are no binary fractions: a whole number over a power of ten is what is written in a file.
    let scale = 10f64.powi(place.abs());
    match place < 0 {
        true => (value * scale).round() / scale,
        false => (value / scale).round() * scale,
    }
}
