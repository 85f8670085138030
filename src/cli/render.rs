//! `polstack aperture FILE --render DIR`: what a camera without the eyepiece would record.

use std::path::{Path, PathBuf};

use clap::Args;

use super::job::Job;
use super::{Failure, YesNo, progress, refused, seed, whole, within};
use crate::light_path::PartKind;
use crate::output::camera::{
    COMPUTED, RenderedPicture, picture_png, picture_readings, picture_readme,
};
use crate::output::figure::{check_folder, write_files};
use crate::scene::Scene;
use crate::study::StudyError;
use crate::study::aperture::{Camera, CameraStand, Noise, PicturedPolars};
use crate::study::reading::BenchSetting;

/// Files beside the pictures: one of these that the program has not written is left alone.
const README: &str = "README.txt";
const READINGS: &str = "readings.csv";
/// How far the analyzer is turned to either side unless it is told, degrees.
const ASIDE_DEG: f64 = 3.6;
/// Pictures of one command, parallel ones not counted.
const MOST: usize = 64;

#[derive(Debug, Clone, Args)]
#[command(next_help_heading = "Pictures of a camera")]
pub(super) struct Render {
    /// Write what a grey camera would record that looks down the tube without the eyepiece into this directory: 16-bit PNG pictures,
    /// readings.csv that names them, and README.txt. Specimens are off the stage
    #[arg(long, value_name = "DIR")]
    render: Option<PathBuf>,
    /// A picture at each of these readings of the analyzer's ring: as written and 3.6 to either side, if this is left out
    #[arg(long, value_name = "DEG,DEG", requires = "render", value_delimiter = ',', allow_hyphen_values = true, value_parser = turn)]
    analyzer_at: Vec<f64>,
    /// A picture, and a parallel one, with both polars turned together by each of these, counter-clockwise
    #[arg(long, value_name = "DEG,DEG", requires = "render", value_delimiter = ',', allow_hyphen_values = true, value_parser = turn)]
    polars_turned: Vec<f64>,
    /// One more picture with the plates in
    #[arg(long, requires = "render")]
    with_plate: bool,
    /// Width and height of a picture
    #[arg(long, value_name = "PIXELS", requires = "render", default_value_t = 512, allow_negative_numbers = true, value_parser = pixels)]
    picture: u32,
    /// Bits of the camera, 8 to 16: values are rounded to its steps and spread over 16 bits
    #[arg(long, value_name = "N", requires = "render", default_value_t = 16, allow_negative_numbers = true, value_parser = bits)]
    bits: u32,
    /// Electrons of a pixel at full scale, whose number scatters
    #[arg(long, value_name = "ELECTRONS", requires = "render", default_value_t = 20_000.0, allow_negative_numbers = true, value_parser = full_well)]
    full_well: f64,
    /// Noise of reading a pixel out, one standard deviation
    #[arg(long, value_name = "ELECTRONS", requires = "render", default_value_t = 3.0, allow_negative_numbers = true, value_parser = read_noise)]
    read_noise: f64,
    /// A camera without noise
    #[arg(long, requires = "render", conflicts_with_all = ["full_well", "read_noise", "seed"])]
    noise_free: bool,
    /// Which sequence of random numbers
    #[arg(long, value_name = "N", requires = "render", default_value_t = 1, allow_negative_numbers = true, value_parser = seed)]
    seed: u64,
    /// Counts, of 65535, that the camera adds to every pixel: with some, noise in the dark is not cut off at 0
    #[arg(long, value_name = "COUNTS", requires = "render", default_value_t = 0.0, allow_negative_numbers = true, value_parser = dark_counts)]
    dark_counts: f64,
    /// Fraction of the light that is lost at the disc's edge
    #[arg(long, value_name = "FRACTION", requires = "render", default_value_t = 0.2, allow_negative_numbers = true, value_parser = vignetting)]
    vignetting: f64,
    /// How far East of the picture's middle the disc lies, over its radius
    #[arg(long, value_name = "FRACTION", requires = "render", default_value_t = 0.05, allow_negative_numbers = true, value_parser = decentre)]
    decentre: f64,
    /// The camera stands turned: whoever reads the picture turns it by so much counter-clockwise to see it as the microscope has it
    #[arg(long, value_name = "DEG", requires = "render", default_value_t = 0.0, allow_negative_numbers = true, value_parser = turn)]
    turn_picture: f64,
    /// Whether the camera mirrors: whoever reads the picture then mirrors it left to right first
    #[arg(long, value_name = "YES|NO", requires = "render", default_value = "no")]
    flip: YesNo,
}

fn pixels(text: &str) -> Result<u32, String> {
    whole(text, 64, 4096)
}

fn bits(text: &str) -> Result<u32, String> {
    whole(text, 8, 16)
}

fn turn(text: &str) -> Result<f64, String> {
    within(text, -360.0, 360.0, "22.5")
}

fn full_well(text: &str) -> Result<f64, String> {
    within(text, 100.0, 1e6, "20000")
}

fn read_noise(text: &str) -> Result<f64, String> {
    within(text, 0.0, 1e3, "3")
}

fn dark_counts(text: &str) -> Result<f64, String> {
    within(text, 0.0, 6e3, "256")
}

fn vignetting(text: &str) -> Result<f64, String> {
    within(text, 0.0, 0.8, "0.2")
}

fn decentre(text: &str) -> Result<f64, String> {
    within(text, -0.1, 0.1, "0.05")
}

/// A picture that is wanted.
struct PictureWanted {
    name: String,
    setting: BenchSetting,
    analyzer_deg: f64,
    polars_turned_deg: f64,
}

/// Pictures that are wanted, ready to be taken.
pub(super) struct Rendering<'a> {
    folder: &'a Path,
    scene: &'a Scene,
    camera: Camera,
    wanted: Vec<PictureWanted>,
}

impl Render {
    /// Looks whether pictures are wanted and can be written, before any work is done.
    pub(super) fn of<'a>(&'a self, scene: &'a Scene) -> Result<Option<Rendering<'a>>, Failure> {
        let Some(folder) = &self.render else {
            return Ok(None);
        };
        check_folder(folder)?;
        for name in [README, READINGS] {
            let file = folder.join(name);
            if std::fs::read(&file).is_ok_and(|own| !own.starts_with(COMPUTED.as_bytes())) {
                let why = format!(
                    "{} is not of this program's making and would be replaced",
                    file.display()
                );
                return Err(refused("--render", &why, "name another directory"));
            }
        }
        Ok(Some(Rendering {
            folder,
            scene,
            camera: self.camera(),
            wanted: self.wanted(scene)?,
        }))
    }

    fn camera(&self) -> Camera {
        let noise = Noise {
            full_well: self.full_well,
            read_noise: self.read_noise,
            seed: self.seed,
        };
        Camera {
            pixels: self.picture,
            bits: self.bits,
            noise: (!self.noise_free).then_some(noise),
            dark_counts: self.dark_counts,
            vignetting: self.vignetting,
            decentred: self.decentre,
            turn_rad: self.turn_picture.to_radians(),
            flip: self.flip == YesNo::Yes,
        }
    }

    fn wanted(&self, scene: &Scene) -> Result<Vec<PictureWanted>, Failure> {
        let written = (scene.path.polars()).map_or(0.0, |(_, polar)| polar.azimuth_rad);
        // As it stands in the file, without what degrees lose on the way to radians and back.
        let written_deg = (written.to_degrees() * 1e9).round() / 1e9;
        let aside = |deg: f64| ((written_deg + deg) * 1e9).round() / 1e9;
        let rings = match &self.analyzer_at[..] {
            [] => vec![written_deg, aside(ASIDE_DEG), aside(-ASIDE_DEG)],
            told => told.to_vec(),
        };
        once("--analyzer-at", &rings)?;
        once("--polars-turned", &self.polars_turned)?;
        let mut wanted: Vec<PictureWanted> = (rings.iter())
            .map(|deg| PictureWanted {
                name: format!("analyzer-{deg}.png"),
                setting: BenchSetting {
                    analyzer_rad: Some(deg.to_radians()),
                    ..BenchSetting::default()
                },
                analyzer_deg: *deg,
                polars_turned_deg: 0.0,
            })
            .collect();
        // Not turned at all is a picture that is there already.
        let seen = |deg: f64| deg == 0.0 && rings.contains(&written_deg);
        let turned = self.polars_turned.iter().filter(|deg| !seen(**deg));
        wanted.extend(turned.map(|deg| PictureWanted {
            name: format!("turned-{deg}.png"),
            setting: BenchSetting {
                polars_turned_rad: deg.to_radians(),
                ..BenchSetting::default()
            },
            analyzer_deg: written_deg,
            polars_turned_deg: *deg,
        }));
        if self.with_plate {
            let parts = scene.path.parts.iter().enumerate();
            let plates = parts.filter(|(_, part)| matches!(part.kind, PartKind::Plate(_)));
            let plates: Vec<usize> = plates.map(|(index, _)| index).collect();
            if plates.is_empty() {
                let why = "there is no plate to look with";
                let remedy = "add a part with `plate = { ... }`, or leave it out";
                return Err(refused("--with-plate", why, remedy));
            }
            wanted.push(PictureWanted {
                name: "plate-in.png".to_owned(),
                setting: BenchSetting {
                    plates,
                    ..BenchSetting::default()
                },
                analyzer_deg: written_deg,
                polars_turned_deg: 0.0,
            });
        }
        if wanted.len() > MOST {
            let why = format!("{} pictures are more than {MOST}", wanted.len());
            return Err(refused("--render", &why, "render them in several commands"));
        }
        Ok(wanted)
    }
}

/// Refuses an angle that is given twice: both pictures would have one name.
fn once(option: &'static str, all: &[f64]) -> Result<(), Failure> {
    let twice = (all.iter().enumerate()).find(|(place, deg)| all[..*place].contains(deg));
    match twice {
        Some((_, deg)) => Err(refused(
            option,
            &format!("{deg} is given twice"),
            "once each",
        )),
        None => Ok(()),
    }
}

impl Rendering<'_> {
    /// Takes the pictures and writes them.
    pub(super) fn write(&self, job: &Job<'_>, title: &str) -> Result<(), Failure> {
        let mut taken = Taken::default();
        progress::counted("taking pictures", job.quiet, self.count(), |done| {
            self.take(&mut taken, job, done)
        })?;
        let readings = picture_readings(&taken.pictures, self.camera.dark_counts);
        let readme = picture_readme(title, &self.camera, &taken.pictures, taken.off);
        let mut files: Vec<(String, &[u8])> = (taken.files.iter())
            .map(|(name, bytes)| (name.clone(), &bytes[..]))
            .collect();
        files.push((READINGS.to_owned(), readings.as_bytes()));
        files.push((README.to_owned(), readme.as_bytes()));
        let written = write_files(self.folder, &files)?.len();
        let folder = self.folder.display();
        job.say(&format!(
            "wrote {written} files to {folder}; {README} there says what they are"
        ));
        Ok(())
    }

    /// How many pictures there will be, parallel ones among them.
    fn count(&self) -> u64 {
        let turned = (self.wanted.iter()).filter(|wanted| wanted.polars_turned_deg != 0.0);
        (1 + turned.count() + self.wanted.len()) as u64
    }

    fn take(
        &self,
        taken: &mut Taken,
        job: &Job<'_>,
        done: &(dyn Fn(usize) + Sync),
    ) -> Result<(), Failure> {
        let failed = |error: StudyError| job.failed(error);
        let stand = CameraStand::new(self.scene, self.camera.clone()).map_err(failed)?;
        let mut take = |name: &str, setting: &BenchSetting, polars| {
            // Each picture has its number, so that no two have the same noise.
            let picture = stand.picture(setting, polars, taken.files.len() as u32);
            let picture = picture.map_err(failed)?;
            taken.files.push((name.to_owned(), picture_png(&picture)?));
            taken.off = taken.off.max(picture.interpolation_off);
            done(taken.files.len());
            Ok::<_, Failure>((picture.exposure, picture.too_dark))
        };
        let parallel = "parallel.png".to_owned();
        let (unit, _) = take(
            &parallel,
            &BenchSetting::default(),
            PicturedPolars::Parallel,
        )?;
        let mut pictures = Vec::new();
        for wanted in &self.wanted {
            let beside = match wanted.polars_turned_deg {
                0.0 => (parallel.clone(), unit),
                // Lenses pass other light where the polars stand elsewhere.
                deg => {
                    let name = format!("parallel-turned-{deg}.png");
                    let (exposure, _) = take(&name, &wanted.setting, PicturedPolars::Parallel)?;
                    (name, exposure)
                }
            };
            let (exposure, too_dark) = take(&wanted.name, &wanted.setting, PicturedPolars::AsSet)?;
            let plates = wanted.setting.plates.iter();
            pictures.push(RenderedPicture {
                name: wanted.name.clone(),
                parallel: beside.0,
                exposures: (exposure, beside.1),
                analyzer_deg: wanted.analyzer_deg,
                polars_turned_deg: wanted.polars_turned_deg,
                plates: plates
                    .map(|index| self.scene.path.parts[*index].name.clone())
                    .collect(),
                too_dark,
            });
        }
        taken.pictures = pictures;
        Ok(())
    }
}

/// Pictures that are taken: their files and what is told of them.
#[derive(Default)]
struct Taken {
    files: Vec<(String, Vec<u8>)>,
    pictures: Vec<RenderedPicture>,
    off: f64,
}
