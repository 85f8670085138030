//! What is seen in the field, plates out and in side by side, and while the stage turns.

use super::look::{BODY, MARGIN, SOFT_INK, WIDTH, draw, head};
use super::{Figure, FigureError};
use crate::color::Xyz;
use crate::output::disc::{Exposure, encoded};
use crate::output::sheet::{Color, DPI, Pen, Raster, Sheet};
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

/// A field's pixels.
struct FieldPixels {
    rgb: Vec<u8>,
    exposure: Exposure,
    mapped: bool,
}

/// Width of a field on the sheet, and where the two stand.
const SIDE: f64 = 360.0;
const TOP: f64 = 112.0;

impl FieldPixels {
    fn of(light: &[Xyz], parallel: Xyz, exposure: FieldExposure) -> Self {
        let own = Exposure::of(light.iter(), parallel);
        let exposure = match exposure {
            FieldExposure::Own => own,
            FieldExposure::OfParallel(stops) => own.by(stops),
        };
        let (linear, mapped) = exposure.linear(light);
        let bytes = linear.iter().flat_map(|rgb| encoded(rgb.map(f64::from)));
        Self {
            rgb: bytes.collect(),
            exposure,
            mapped,
        }
    }
}

/// The figure "field".
///
/// # Errors
/// [`FigureError::Drawing`].
pub fn field_figure(
    title: &str,
    view: &FieldView,
    parallel: Xyz,
    exposure: FieldExposure,
) -> Result<Figure, FigureError> {
    let fields = [Some(&view.without_plate), view.with_plate.as_ref()];
    let height = TOP + SIDE + 74.0;
    draw("field", title, height, |sheet| {
        head(
            sheet,
            title,
            "The field between crossed polars: an invented specimen in this stack",
        );
        for (k, light) in fields.into_iter().enumerate() {
            let left = MARGIN + k as f64 * (WIDTH - 2.0 * MARGIN - SIDE);
            let Some(light) = light else { continue };
            let pixels = FieldPixels::of(light, parallel, exposure);
            let name = match (k, view.with_plate.is_some()) {
                (0, false) => "crossed polars",
                (0, true) => "plate out",
                _ => "plate in",
            };
            sheet.text(name, (left, TOP - 14.0), BODY.bold());
            let words = pixels.exposure.words();
            sheet.text(
                &words,
                (left + SIDE, TOP - 14.0),
                BODY.sized(13.0).inked(SOFT_INK).right(),
            );
            sheet.picture((left, TOP), SIDE, view.size as u32, pixels.rgb);
            bar(sheet, view.width_um, (left, TOP + SIDE));
            if pixels.mapped {
                let words = "some colours are more vivid than a screen can show";
                sheet.text(
                    words,
                    (left, TOP + SIDE + 38.0),
                    BODY.sized(12.0).inked(SOFT_INK),
                );
            }
        }
        let words = "Diffraction is left out. The specimen is invented; path differences are the same at every wavelength.";
        let at = (MARGIN, TOP + SIDE + 60.0);
        sheet.fitted(
            words,
            at,
            WIDTH - 2.0 * MARGIN,
            BODY.sized(12.0).inked(SOFT_INK),
        );
    })
}

/// A scale bar below a field, a quarter of its width or a little less.
fn bar(sheet: &Sheet, width_um: f64, (left, bottom): (f64, f64)) {
    let long = round_length(0.25 * width_um);
    let points = long / width_um * SIDE;
    let y = bottom + 16.0;
    sheet.line(
        &[(left, y), (left + points, y)],
        Pen::full(Color(0x1e, 0x1e, 0x24), 3.0),
    );
    let words = format!("{long} µm");
    sheet.text(&words, (left + points + 10.0, y), BODY.sized(13.0));
}

/// The largest of 1, 2 and 5 times a power of ten that is no longer.
fn round_length(most: f64) -> f64 {
    let decade = 10f64.powf(most.log10().floor());
    let fits = [5.0, 2.0, 1.0].into_iter().find(|m| m * decade <= most);
    fits.unwrap_or(1.0) * decade
}

/// Frames while the stage turns, as one animated GIF that begins again for ever: the light of each frame, `size` pixels on a side.
///
/// # Errors
/// [`FigureError::Drawing`].
pub fn field_gif(
    frames: &[Vec<Xyz>],
    size: usize,
    parallel: Xyz,
    exposure: FieldExposure,
) -> Result<Vec<u8>, FigureError> {
    let failed = |error: gif::EncodingError| FigureError::Drawing {
        figure: "field",
        reason: error.to_string(),
    };
    let exposure = common(frames, parallel, exposure);
    let drawn = threads::map(0..frames.len(), |k| {
        FieldPixels::of(&frames[k], parallel, exposure).rgb
    });
    let looked_at: Vec<u8> = (drawn
        .iter()
        .step_by(frames.len().div_ceil(LOOKED_AT).max(1)))
    .flat_map(|rgb| rgb.chunks_exact(3))
    .flat_map(|rgb| [rgb[0], rgb[1], rgb[2], 255])
    .collect();
    let palette = color_quant::NeuQuant::new(SAMPLED, 256, &looked_at);
    let packed = threads::map(0..drawn.len(), |k| {
        // Most of a field is background: the last colour is looked up once.
        let mut last = ([0u8; 3], palette.index_of(&[0, 0, 0, 255]) as u8);
        let indices = drawn[k].chunks_exact(3).map(|rgb| {
            let own = [rgb[0], rgb[1], rgb[2]];
            if own != last.0 {
                let [red, green, blue] = own;
                last = (own, palette.index_of(&[red, green, blue, 255]) as u8);
            }
            last.1
        });
        let indices: Vec<u8> = indices.collect();
        let mut frame = gif::Frame::from_indexed_pixels(size as u16, size as u16, indices, None);
        frame.delay = DELAY;
        frame.make_lzw_pre_encoded();
        frame
    });
    let mut bytes = Vec::new();
    let map = palette.color_map_rgb();
    let mut encoder =
        gif::Encoder::new(&mut bytes, size as u16, size as u16, &map).map_err(failed)?;
    encoder.set_repeat(gif::Repeat::Infinite).map_err(failed)?;
    for frame in &packed {
        encoder.write_lzw_pre_encoded_frame(frame).map_err(failed)?;
    }
    drop(encoder);
    Ok(bytes)
}

/// The same frames as PNG pictures.
///
/// # Errors
/// [`FigureError::Drawing`].
pub fn field_pngs(
    frames: &[Vec<Xyz>],
    size: usize,
    parallel: Xyz,
    exposure: FieldExposure,
) -> Result<Vec<Vec<u8>>, FigureError> {
    let exposure = common(frames, parallel, exposure);
    let drawn = threads::map(0..frames.len(), |k| {
        let rgb = FieldPixels::of(&frames[k], parallel, exposure).rgb;
        let side = size as u32;
        let raster = Raster {
            width: side,
            height: side,
            rgb,
        };
        raster.png(DPI)
    });
    let failed = |reason| FigureError::Drawing {
        figure: "field",
        reason,
    };
    drawn.into_iter().map(|png| png.map_err(failed)).collect()
}

/// So many frames are looked at for the colours of a GIF, and one in so many of their pixels.
const LOOKED_AT: usize = 6;
const SAMPLED: i32 = 10;
/// Hundredths of a second that a frame is shown.
const DELAY: u16 = 8;

/// One exposure for all frames: that of the brightest.
fn common(frames: &[Vec<Xyz>], parallel: Xyz, exposure: FieldExposure) -> FieldExposure {
    match exposure {
        FieldExposure::Own => {
            FieldExposure::OfParallel(Exposure::of(frames.iter().flatten(), parallel).stops)
        }
        told => told,
    }
}
