//! What is seen in the field, plates out and in side by side, and while the stage turns.

use super::look::*;
use super::moving::{MovingForm, numbered};
use super::quantize::{DELAY, gif, packed};
use crate::color::Xyz;
use crate::output::SpecimenWords;
use crate::output::disc::{Exposure, encoded};
use crate::output::sheet::{DPI, Raster, apng};
use crate::study::view::FieldView;
use crate::threads;

/// How bright a field is shown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FieldExposure {
    /// Each as bright as a screen can without losing its brightest point.
    Own,
    /// As the parallel field would be shown, brighter by so many stops.
    OfParallel(f64),
}

/// Width of a field on the sheet, and where the two stand.
const SIDE: f64 = 360.0;
const TOP: f64 = 112.0;

/// A field's pixels, how they are exposed, and whether any colour had to be brought into the gamut.
fn pixels(light: &[Xyz], parallel: Xyz, exposure: FieldExposure) -> (Vec<u8>, Exposure, bool) {
    let own = Exposure::of(light.iter(), parallel);
    let exposure = match exposure {
        FieldExposure::Own => own,
        FieldExposure::OfParallel(stops) => own.by(stops),
    };
    let (linear, mapped) = exposure.linear(light);
    let bytes = linear.iter().flat_map(|rgb| encoded(rgb.map(f64::from)));
    (bytes.collect(), exposure, mapped)
}

/// The figure "field", with its title and what its specimen is called.
///
/// # Errors
/// [`FigureError::Drawing`].
pub fn field_figure(
    (title, specimen): (&str, &SpecimenWords),
    view: &FieldView,
    parallel: Xyz,
    exposure: FieldExposure,
) -> Result<Figure, FigureError> {
    let fields = [Some(&view.without_plate), view.with_plate.as_ref()];
    let height = TOP + SIDE + 92.0;
    let subtitle = &format!(
        "The field between crossed polars: {} in this stack",
        specimen.name
    );
    let small = SOFT.sized(12.0);
    draw("field", (title, subtitle), height, |sheet| {
        let mut vivid = Vec::new();
        for (k, light) in fields.into_iter().enumerate() {
            let left = MARGIN + k as f64 * (ROOM - SIDE);
            let Some(light) = light else { continue };
            let (rgb, exposure, mapped) = pixels(light, parallel, exposure);
            let name = match (k, view.with_plate.is_some()) {
                (0, false) => "crossed polars",
                (0, true) => "plate out",
                _ => "plate in",
            };
            sheet.text(name, (left, TOP - 14.0), BODY.bold());
            let at = (left, TOP + SIDE + 38.0);
            sheet.text(&exposure.words(), at, SOFT.sized(13.0));
            sheet.picture((left, TOP), SIDE, view.size as u32, rgb);
            bar(sheet, view.width_um, (left, TOP + SIDE));
            vivid.extend(mapped.then_some(name));
        }
        if !vivid.is_empty() {
            let fields = vivid.join(" and ");
            let words = format!("Some colours are more vivid than a screen can show: {fields}.");
            sheet.fitted(&words, (MARGIN, TOP + SIDE + 60.0), ROOM, small);
        }
        let words = format!(
            "Diffraction is left out. {}; path differences are the same at every wavelength.",
            specimen.about
        );
        sheet.fitted(&words, (MARGIN, TOP + SIDE + 78.0), ROOM, small);
    })
}

/// A scale bar below a field, a quarter of its width or a little less.
fn bar(sheet: &Sheet, width_um: f64, (left, bottom): (f64, f64)) {
    let long = round_length(0.25 * width_um);
    let (right, y) = (left + long / width_um * SIDE, bottom + 16.0);
    sheet.line(&[(left, y), (right, y)], Pen::full(INK, 3.0));
    let words = format!("{long} µm");
    sheet.text(&words, (right + 10.0, y), BODY.sized(13.0));
}

/// The largest of 1, 2 and 5 times a power of ten that is no longer.
fn round_length(most: f64) -> f64 {
    let decade = 10f64.powf(most.log10().floor());
    let fits = [5.0, 2.0, 1.0].into_iter().find(|m| m * decade <= most);
    fits.unwrap_or(1.0) * decade
}

/// So many frames are looked at for the colours of a GIF, and one in so many of their pixels.
const LOOKED_AT: usize = 6;
const SAMPLED: i32 = 10;

/// A moving picture while the stage turns, `size` pixels on a side, from the light of each frame: names and bytes of its files. All frames have one
/// exposure: that of the brightest, where each may have its own.
///
/// # Errors
/// [`FigureError::Drawing`].
pub fn field_film(
    frames: &[Vec<Xyz>],
    size: usize,
    (parallel, exposure): (Xyz, FieldExposure),
    form: MovingForm,
) -> Result<Vec<(String, Vec<u8>)>, FigureError> {
    let exposure = match exposure {
        FieldExposure::OfParallel(_) => exposure,
        FieldExposure::Own => {
            FieldExposure::OfParallel(Exposure::of(frames.iter().flatten(), parallel).stops)
        }
    };
    let drawn = threads::map(0..frames.len(), |k| {
        pixels(&frames[k], parallel, exposure).0
    });
    let (width, height) = (size as u32, size as u32);
    match form {
        MovingForm::Gif => {
            let every = frames.len().div_ceil(LOOKED_AT).max(1);
            let looked_at: Vec<u8> = (drawn.iter().step_by(every))
                .flat_map(|rgb| rgb.chunks_exact(3))
                .flat_map(|rgb| [rgb[0], rgb[1], rgb[2], 255])
                .collect();
            let palette = color_quant::NeuQuant::new(SAMPLED, 256, &looked_at);
            let frames = threads::map(0..drawn.len(), |k| {
                packed(size, &drawn[k], |[red, green, blue]| {
                    palette.index_of(&[red, green, blue, 255]) as u8
                })
            });
            let gif = gif(size, &palette.color_map_rgb(), &frames).map_err(undrawn("field"))?;
            Ok(vec![("turn-stage.gif".to_owned(), gif)])
        }
        MovingForm::Apng => {
            let png = apng::<3>((width, height), &drawn, DELAY).map_err(undrawn("field"))?;
            Ok(vec![("turn-stage.png".to_owned(), png)])
        }
        MovingForm::Numbered => {
            let pngs = threads::try_each(&drawn, |bytes| {
                let bytes = bytes.clone();
                let raster = Raster::<3> {
                    width,
                    height,
                    bytes,
                };
                raster.png(DPI).map_err(undrawn("field"))
            })?;
            Ok(numbered("turn-stage", pngs))
        }
    }
}
