//! Photographs of the back focal plane become readings: a camera looks down the tube without the eyepiece and sees the bright disc of the aperture,
//! once with the polars crossed and once with the polars parallel. The disc is cut into zones; the parallel light of each over its crossed light is
//! a reading.
//!
//! [`frame`] reads the pictures and finds the disc; [`Framed::zones`] cuts it, any number of times, since how the camera lay to the microscope may
//! not be known. Nothing here opens a file: the caller hands over names and a way to get bytes.
//!
//! ```
//! use polstack::photograph::{Pictures, Shot, frame};
//! let shot = |name: &str| Shot { name: name.to_owned(), exposure_s: Some(1.0) };
//! let pictures = Pictures::new(vec![shot("crossed.png")], vec![shot("parallel.png")]);
//! // Where a name has no bytes, the error says whose.
//! let refused = frame(&pictures, &|name| Err(format!("no {name} here")));
//! assert!(refused.is_err_and(|error| error.to_string().contains("crossed.png")));
//! ```

#![warn(clippy::disallowed_methods)]

mod curve;
mod decode;
mod disc;
mod error;
mod exposure;
mod grey;
mod grid;
mod merge;
mod noise;
mod notes;
mod sizes;
mod useless;
mod zones;

pub use crate::optics::DISC_ERROR;
pub use disc::PictureDisc;
pub use error::{PhotographError, PhotographProblem};
pub use exposure::ExposureKind;
pub use grid::Orientation;
pub use sizes::odd_picture;
pub use zones::{LeftOut, SeenZone, ZoneChannel, ZoneReading};

use decode::Depth;
use grey::Grey;
use merge::{Merged, merge_both, same_exposure, same_frame};
use useless::too_bright_or_dark;
use zones::Cutting;

use crate::optics::ZoneGrid;

/// A way to get a picture's bytes by its name; the error says in words why there are none.
pub type Fetch<'a> = dyn Fn(&str) -> Result<Vec<u8>, String> + Sync + 'a;

/// One picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Shot {
    /// What it is fetched by, and what messages call it.
    pub name: String,
    /// The exposure in relative units, above 0: seconds, where sensitivity and f-number stay as they are. `None`: as EXIF tells it.
    pub exposure_s: Option<f64>,
}

/// The pictures of one line of readings, and how they are to be read.
#[derive(Debug, Clone, PartialEq)]
pub struct Pictures {
    /// Exposures with the polars crossed (or the analyzer some degrees off), 1 to 16.
    pub crossed: Vec<Shot>,
    /// Exposures with the polars parallel, 1 to 16, in the same frame.
    pub parallel: Vec<Shot>,
    /// What the camera counts in the dark, in counts of 16 bits. Other pictures than those of 16 bits are refused beside it, unless it is 0.
    pub dark_counts: f64,
    /// The share of full scale from which a pixel is saturated, above 0 and up to 1.
    pub saturation: f64,
    /// Whether pictures of 8 bits are taken, the sRGB curve being assumed.
    pub accept_curves: bool,
    /// The disc; `None`: it is found on the parallel picture.
    pub disc: Option<GivenDisc>,
    /// How far the disc's centre may be off either way, and its radius, one standard deviation, as a share of its radius.
    pub disc_error: f64,
}

impl Pictures {
    /// Pictures without dark counts, saturated from 98 % of full scale, linear, the disc to be found.
    #[must_use]
    pub fn new(crossed: Vec<Shot>, parallel: Vec<Shot>) -> Self {
        Self {
            crossed,
            parallel,
            dark_counts: 0.0,
            saturation: 0.98,
            accept_curves: false,
            disc: None,
            disc_error: DISC_ERROR,
        }
    }

    fn check(&self) -> Result<(), PhotographError> {
        let refused = |what, value, allowed| {
            let problem = PhotographProblem::OutOfRange {
                what,
                value,
                allowed,
            };
            Err(PhotographError::request(problem))
        };
        if !(0.0..65535.0).contains(&self.dark_counts) {
            return refused("dark_counts", self.dark_counts, "from 0 up to below 65535");
        }
        if !(self.saturation > 0.0 && self.saturation <= 1.0) {
            return refused("saturation", self.saturation, "above 0, up to 1");
        }
        let Some(disc) = self.disc else {
            return Ok(());
        };
        for (what, value) in [("center_x", disc.center_x), ("center_y", disc.center_y)] {
            if !(-1e6..1e6).contains(&value) {
                return refused(what, value, "a number of pixels");
            }
        }
        if !(disc::SMALLEST_RADIUS..1e6).contains(&disc.radius) {
            return refused("radius", disc.radius, "at least 16 pixels");
        }
        Ok(())
    }
}

/// A disc that the user tells: a circle. Pixels, x to the right and y downward from the picture's top left corner, where the centre of the first pixel
/// is at 0.5, 0.5.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GivenDisc {
    /// Centre, pixels from the left.
    pub center_x: f64,
    /// Centre, pixels from the top.
    pub center_y: f64,
    /// Radius, pixels, at least 16.
    pub radius: f64,
}

/// Pictures that are read and merged, and on which the disc is known.
pub struct Framed {
    crossed: Merged,
    parallel: Merged,
    disc: PictureDisc,
    elsewhere: Option<PictureDisc>,
    notes: Vec<String>,
    disc_error: f64,
}

/// What the zones of the pictures show.
#[derive(Debug, Clone, PartialEq)]
pub struct ZonePicture {
    /// How the disc is cut.
    pub grid: ZoneGrid,
    /// How the camera lay to the microscope.
    pub orientation: Orientation,
    /// Where the disc is.
    pub disc: PictureDisc,
    /// Colour channels: 1 or 3.
    pub channels: usize,
    /// By their number: ring x sectors + sector.
    pub zones: Vec<SeenZone>,
    /// Whole sentences on what was found, assumed and left out.
    pub notes: Vec<String>,
}

/// Reads the pictures, merges the exposures of each setting and finds the disc.
///
/// The crossed and the parallel pictures are read at the same time where there are threads and both fit into memory; the result does not depend on
/// it. What is held in memory for each setting is 6 bytes a pixel in colour (2 in grey) of a single 16-bit picture and 15 (7) of others, and besides
/// the file and the decoded strip of each picture that is just read. Pictures that would need more than 940 MB are refused.
///
/// # Errors
/// [`PhotographError`] for pictures that cannot be read or do not belong together, numbers out of range, and a disc that is not found.
///
/// Checked by: `photograph::tests`, `tests/scenario/photographs.rs`.
pub fn frame(pictures: &Pictures, fetch: &Fetch<'_>) -> Result<Framed, PhotographError> {
    pictures.check()?;
    let (crossed, parallel) = merge_both(pictures, fetch)?;
    together(&crossed, &parallel)?;
    let name = parallel.shots.first().map_or("", |shot| &shot.name);
    let blame = |problem| PhotographError::of(name, problem);
    let found = || {
        let (grey, side) = Grey::of(&parallel);
        disc::find(&grey).map(|disc| disc.enlarged(side as f64))
    };
    let (disc, elsewhere) = match pictures.disc {
        Some(given) => {
            let disc = given_disc(given, &parallel).map_err(blame)?;
            // Where none is found, the user had reason to give it.
            (disc, found().ok().filter(|found| found.is_elsewhere(&disc)))
        }
        None => {
            let problem = |problem| too_bright_or_dark(&parallel).unwrap_or_else(|| blame(problem));
            (found().map_err(problem)?, None)
        }
    };
    let mut notes = notes::of_frame(&crossed, &parallel, &disc);
    notes.extend(elsewhere.map(|found| notes::of_elsewhere(&disc, &found)));
    Ok(Framed {
        crossed,
        parallel,
        disc,
        elsewhere,
        notes,
        disc_error: pictures.disc_error,
    })
}

/// [`frame`] and [`Framed::zones`] in one.
///
/// # Errors
/// Those of [`frame`].
///
/// Checked by: `photograph::tests`.
pub fn reduce(
    pictures: &Pictures,
    grid: ZoneGrid,
    orientation: Orientation,
    fetch: &Fetch<'_>,
) -> Result<ZonePicture, PhotographError> {
    Ok(frame(pictures, fetch)?.zones(grid, orientation))
}

/// Refuses settings that are not of one frame.
fn together(crossed: &Merged, parallel: &Merged) -> Result<(), PhotographError> {
    let (Some(first), Some(other)) = (crossed.shots.first(), parallel.shots.first()) else {
        return Ok(());
    };
    same_frame(parallel.header, crossed.header)
        .and_then(|()| same_exposure(other.exposure.kind, first.exposure.kind))
        .map_err(|problem| PhotographError::of(&other.name, problem))
}

fn given_disc(given: GivenDisc, parallel: &Merged) -> Result<PictureDisc, PhotographProblem> {
    let GivenDisc {
        center_x,
        center_y,
        radius,
    } = given;
    let (width, height) = (parallel.header.width, parallel.header.height);
    let nearest = |center: f64, size: usize| center - center.clamp(0.0, size as f64);
    let away = crate::math::hypot(nearest(center_x, width), nearest(center_y, height));
    if away >= radius {
        return Err(PhotographProblem::DiscOutside);
    }
    Ok(PictureDisc {
        center_x,
        center_y,
        long_radius: radius,
        short_radius: radius,
        azimuth_rad: 0.0,
        found: false,
        edge_in_picture: disc::edge_in_picture(
            width,
            height,
            &disc::circle(center_x, center_y, radius),
        ),
    })
}

impl Framed {
    /// Where the disc is.
    #[must_use]
    pub fn disc(&self) -> PictureDisc {
        self.disc
    }

    /// Where the bright disc is found instead, if one was given and lies off it by more than a disc may be off.
    #[must_use]
    pub fn elsewhere(&self) -> Option<PictureDisc> {
        self.elsewhere
    }

    /// Colour channels: 1 or 3.
    #[must_use]
    pub fn channels(&self) -> usize {
        self.crossed.header.channels
    }

    /// Width and height of the pictures, pixels.
    #[must_use]
    pub fn size(&self) -> (usize, usize) {
        (self.crossed.header.width, self.crossed.header.height)
    }

    /// Whether a picture has 8 bits, whose curve is assumed.
    #[must_use]
    pub fn is_curved(&self) -> bool {
        [&self.crossed, &self.parallel]
            .map(|of| of.header.depth)
            .contains(&Depth::Eight)
    }

    /// Whole sentences on what was found and assumed, whatever the orientation.
    #[must_use]
    pub fn notes(&self) -> &[String] {
        &self.notes
    }

    /// Cuts the disc into zones. Nothing is decoded again.
    ///
    /// Checked by: `photograph::tests`.
    #[must_use]
    pub fn zones(&self, grid: ZoneGrid, orientation: Orientation) -> ZonePicture {
        let mut all = self.zones_of(grid, &[orientation]);
        all.swap_remove(0)
    }

    /// Cuts the disc into zones for several orientations at once, in their order: the pixels are looked at once.
    ///
    /// Checked by: `photograph::tests`.
    #[must_use]
    pub fn zones_of(&self, grid: ZoneGrid, orientations: &[Orientation]) -> Vec<ZonePicture> {
        let off = self.disc_error * self.disc.long_radius;
        // The disc as it is; then its centre further right, further down; then the disc larger.
        let places: &[[f64; 3]] = match off > 0.0 {
            true => &[[0.0; 3], [off, 0.0, 0.0], [0.0, off, 0.0], [0.0, 0.0, off]],
            false => &[[0.0; 3]],
        };
        let cuttings: Vec<Cutting> = (orientations.iter())
            .flat_map(|&orientation| {
                places.iter().map(move |[right, down, larger]| Cutting {
                    disc: PictureDisc {
                        center_x: self.disc.center_x + right,
                        center_y: self.disc.center_y + down,
                        long_radius: self.disc.long_radius + larger,
                        short_radius: self.disc.short_radius + larger,
                        ..self.disc
                    },
                    orientation,
                })
            })
            .collect();
        let cut = zones::zones(&self.crossed, &self.parallel, grid, &cuttings);
        (orientations.iter().zip(cut.chunks(places.len())))
            .map(|(&orientation, cut)| {
                let mut zones = cut[0].clone();
                if let [_, right, down, larger] = cut {
                    zones::framed(&mut zones, [right, down, larger], off);
                }
                let mut notes = self.notes.clone();
                notes.extend(notes::of_zones(grid, &zones));
                ZonePicture {
                    grid,
                    orientation,
                    disc: self.disc,
                    channels: self.channels(),
                    zones,
                    notes,
                }
            })
            .collect()
    }
}

impl ZonePicture {
    /// Parallel light over the light as set, of all zones that can be read together; not a number where none can.
    #[must_use]
    pub fn ratio(&self) -> f64 {
        let (mut parallel, mut set) = (0.0, 0.0);
        for zone in &self.zones {
            for channel in zone.channels.iter().filter(|of| of.reading.is_ok()) {
                parallel += channel.parallel;
                set += channel.crossed;
            }
        }
        parallel / set
    }
}

#[cfg(test)]
mod cuts;
#[cfg(test)]
mod exposures;
#[cfg(test)]
mod made;
#[cfg(test)]
mod refusals;
#[cfg(test)]
mod tests;
