//! Figures of an answer, each as SVG and as PNG.
//!
//! A figure is drawn once, as SVG; the PNG is that SVG rasterised, so the two cannot differ. Nothing in them depends
//! on the day, the machine's fonts or the order of a hash table: the same answer gives the same bytes.

mod aperture;
mod axes;
mod back_focal_plane;
#[cfg(feature = "cli")]
mod booklet;
mod build_up;
mod card;
mod chart;
mod checklist;
mod draws;
mod field;
mod files;
mod fit;
mod lens;
pub(super) mod look;
mod map;
mod marks;
mod moving;
mod numbers;
mod places;
mod planes;
mod poincare;
mod print;
mod quantize;
mod residuals;
mod scale_bar;
mod sections;
mod spectra;
mod strain_map;
mod trace;
mod turning;

use std::path::PathBuf;

use thiserror::Error;

use crate::os_words::why;
use crate::output::sheet::{ClearRaster, DPI, SLIDE_PIXELS, Sheet, parse};
use crate::threads;

use crate::study::aperture::BackFocalPlane;
use crate::study::place::Placement;
use crate::study::predict::Prediction;

pub use crate::output::disc::LightScale;
pub use crate::output::sheet::SlideTheme;
#[cfg(feature = "cli")]
pub use booklet::booklet;
pub use chart::{ChartRef, chart_figure, compared_figure, wall_figures};
pub use checklist::checklist_figure;
pub use draws::draws_figures;
pub use field::{FieldExposure, field_figure, field_film};
pub use files::{check_folder, write_all, write_files};
pub use fit::fit_figure;
pub use lens::lens_figure;
pub use map::ApertureMap;
pub use moving::MovingForm;
pub use planes::{PlacePlane, plane_irises};
pub use print::{Paper, PaperSize};
pub use residuals::residuals_figure;
pub use strain_map::strain_map_figure;
pub use trace::trace_figure;
pub use turning::{TurnFrame, TurningPicture, frame_angles, turning_bytes, turning_film};

/// One figure.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// What it shows, in one word; its files are called after it.
    pub name: &'static str,
    /// Characters of its texts that the embedded font lacks: the SVG keeps them, the others show U+FFFD.
    pub missing: Vec<char>,
    /// The drawing.
    pub svg: String,
    /// The same, rasterised.
    pub png: Vec<u8>,
    /// The same as a PDF with its texts as text, where the figure is a sheet to print.
    pub pdf: Option<Vec<u8>>,
    /// The sheet that it was drawn on.
    pub(crate) sheet: Sheet,
}

impl Figure {
    /// Its files: name and what each holds.
    #[must_use]
    pub fn files(&self) -> Vec<(String, &[u8])> {
        let kinds = [
            ("svg", Some(self.svg.as_bytes())),
            ("png", Some(&self.png[..])),
            ("pdf", self.pdf.as_deref()),
        ];
        (kinds.into_iter())
            .filter_map(|(kind, bytes)| Some((format!("{}.{kind}", self.name), bytes?)))
            .collect()
    }

    /// The figure made over for slides of 16 to 9: without a background, its type as large as there is room, a tall figure on several slides; name and bytes
    /// of each PNG and SVG.
    ///
    /// # Errors
    /// [`FigureError::Drawing`].
    pub fn slides(&self, theme: SlideTheme) -> Result<Vec<(String, Vec<u8>)>, FigureError> {
        let wrong = look::undrawn::<String>(self.name);
        let slides = self.sheet.slides(theme);
        let mut files = Vec::new();
        for (k, slide) in slides.iter().enumerate() {
            let stem = match slides.len() {
                1 => format!("{}-slide", self.name),
                _ => format!("{}-slide-{}", self.name, k + 1),
            };
            let (width, height) = SLIDE_PIXELS;
            let svg = slide.svg((&width.to_string(), &height.to_string()));
            let raster = parse(&svg).and_then(|tree| ClearRaster::of(&tree, SLIDE_PIXELS));
            let png = raster.and_then(|raster| raster.png(DPI)).map_err(&wrong)?;
            files.push((format!("{stem}.png"), png));
            files.push((format!("{stem}.svg"), svg.into_bytes()));
        }
        Ok(files)
    }
}

/// A figure that cannot be drawn or written.
#[derive(Debug, Error)]
pub enum FigureError {
    /// A map with a value too many or too few.
    #[error("{values} values of the aperture map for {rings} rings and {spokes} spokes")]
    MapShape {
        /// Values that were given.
        values: usize,
        /// Rings.
        rings: usize,
        /// Spokes.
        spokes: usize,
    },
    /// An aperture that has no disc.
    #[error("numerical aperture of the aperture map is {na}, allowed are finite numbers above 0")]
    MapNa {
        /// The numerical aperture.
        na: f64,
    },
    /// The drawing failed.
    #[error("cannot draw the figure `{figure}`: {reason}")]
    Drawing {
        /// Name of the figure.
        figure: &'static str,
        /// Why.
        reason: String,
    },
    /// A file or folder that cannot be written.
    #[error("{} cannot be written: {}", path.display(), why(source))]
    Write {
        /// The file or folder.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
}

/// The figures of a prediction: "spectra", "aperture" and "background".
///
/// `map` is the back focal plane of the same path. Characters of `title` that the embedded font lacks become U+FFFD in
/// the PNG; the SVG keeps them.
///
/// # Errors
/// [`FigureError`] for a map that has no disc or is not a table, and when a figure cannot be drawn.
pub fn predict_figures(
    title: &str,
    prediction: &Prediction,
    map: &ApertureMap,
) -> Result<Vec<Figure>, FigureError> {
    let figures = threads::map(0..3, |figure| match figure {
        0 => spectra::figure(title, prediction),
        1 => aperture::figure(title, prediction, map),
        _ => card::figure(title, prediction),
    });
    figures.into_iter().collect()
}

/// The figures of a placement: "places" and "planes".
///
/// `planes` are the back focal planes of the places that differ in light, at the irises of [`plane_irises`].
///
/// # Errors
/// As [`predict_figures`].
pub fn place_figures(
    title: &str,
    answer: &Placement,
    planes: &[PlacePlane],
) -> Result<Vec<Figure>, FigureError> {
    let (places, planes) = threads::join(
        || places::figure(title, answer),
        || planes::figure(title, answer, planes),
    );
    Ok(vec![places?, planes?])
}

/// The figures of a back focal plane: "back-focal-plane", "build-up" and "sections". `scale` is what a false colour means on all discs of the
/// command; see [`LightScale::of_plane`].
///
/// # Errors
/// As [`predict_figures`].
pub fn aperture_figures(
    title: &str,
    answer: &BackFocalPlane,
    scale: &LightScale,
) -> Result<Vec<Figure>, FigureError> {
    let figures = threads::map(0..3, |figure| match figure {
        0 => back_focal_plane::figure(title, answer, scale),
        1 => build_up::figure(title, answer, scale),
        _ => sections::figure(title, answer),
    });
    figures.into_iter().collect()
}

#[cfg(test)]
mod fixture;

#[cfg(test)]
mod tests;
