//! Lines of a readings file that name photographs of the back focal plane.

use super::error::Problem;
use super::tables::refused;
use crate::study::fit::BenchSetting;

/// Most pictures of one setting.
const MOST_EXPOSURES: usize = 16;

/// A line of the readings file that names photographs.
#[derive(Debug, Clone, PartialEq)]
pub struct PhotographLine {
    /// Line of the file, from 1.
    pub line: usize,
    /// How the stand was set.
    pub setting: BenchSetting,
    /// The pictures with the polars as they are set: several exposures of one setting are merged.
    pub crossed: Vec<PhotographFile>,
    /// The pictures with the polars parallel.
    pub parallel: Vec<PhotographFile>,
    /// One standard deviation of what all zones share, relatively.
    pub error: f64,
    /// Centre (to the right, downward) and radius of the disc, pixels; `None` where it is to be found.
    pub disc: Option<[f64; 3]>,
    /// Counts of a picture of the dark, which are taken off.
    pub dark_counts: f64,
    /// Free text.
    pub note: String,
}

/// A picture that a line names.
#[derive(Debug, Clone, PartialEq)]
pub struct PhotographFile {
    /// The file, beside the readings file.
    pub name: String,
    /// Its exposure in seconds; `None` where the picture itself says it.
    pub exposure_s: Option<f64>,
}

/// Names joined by `+`.
pub(super) fn names(cell: &str) -> Result<Vec<String>, Problem> {
    let names: Vec<String> = (cell.split('+'))
        .map(|name| name.trim().to_owned())
        .collect();
    match names.iter().any(String::is_empty) {
        true => Err(refused(
            "has a + without a picture beside it",
            "name a picture on both sides of each +: dark.png+darker.png",
        )),
        false => Ok(names),
    }
}

/// The cells of a line that are about photographs: first of the pictures with the polars as set, then of those with the polars parallel.
#[derive(Debug, Clone, Default)]
pub(super) struct PictureCells {
    pub(super) files: [Vec<String>; 2],
    pub(super) exposures: [Vec<f64>; 2],
    pub(super) disc: [Option<f64>; 3],
    pub(super) dark_counts: f64,
}

impl PictureCells {
    /// What they say, or why they say nothing and the remedy.
    pub(super) fn line(
        &self,
        line: usize,
        setting: &BenchSetting,
        error: f64,
        note: &str,
    ) -> Result<PhotographLine, (&'static str, &'static str)> {
        let [crossed, parallel] = [0, 1].map(|k| self.shots(k));
        let disc = match self.disc {
            [Some(x), Some(y), Some(radius)] => Some([x, y, radius]),
            [None, None, None] => None,
            _ => {
                return Err((
                    "gives part of a disc",
                    "center_x, center_y and radius, in pixels: all three, or none, and the disc is found",
                ));
            }
        };
        let (crossed, parallel) = (crossed?, parallel?);
        let told = |files: &[PhotographFile]| files[0].exposure_s.is_some();
        if told(&crossed) != told(&parallel) {
            return Err((
                "tells the exposure of one picture only",
                "fill in exposure_s and exposure_parallel_s, or neither where the pictures themselves say it",
            ));
        }
        Ok(PhotographLine {
            line,
            setting: setting.clone(),
            crossed,
            parallel,
            error,
            disc,
            dark_counts: self.dark_counts,
            note: note.to_owned(),
        })
    }

    fn shots(&self, k: usize) -> Result<Vec<PhotographFile>, (&'static str, &'static str)> {
        let (files, exposures) = (&self.files[k], &self.exposures[k]);
        if files.is_empty() {
            return Err(match k {
                0 => (
                    "names photo_parallel, but no photo",
                    "fill in photo too: the picture with the polars as they are set",
                ),
                _ => (
                    "names photo, but no photo_parallel",
                    "fill in photo_parallel too: the picture with the polars parallel, against which the other is read; error_percent tells how uncertain their two exposures are and takes the place of neither",
                ),
            });
        }
        if files.len() > MOST_EXPOSURES {
            return Err((
                "names too many pictures of one setting",
                "16 exposures of one setting are merged at most",
            ));
        }
        if !exposures.is_empty() && exposures.len() != files.len() {
            return Err((
                "does not give one exposure for each picture",
                "join exposures by + as the pictures are: dark.png+darker.png and 0.5+2",
            ));
        }
        let file = |(at, name): (usize, &String)| PhotographFile {
            name: name.clone(),
            exposure_s: exposures.get(at).copied(),
        };
        Ok(files.iter().enumerate().map(file).collect())
    }
}
