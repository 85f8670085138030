//! Transmittance over the spectrum.

use super::axes::{AxesPanel, AxisScale, NamedCurve};
use super::look::{draw, head};
use super::numbers::power_of_ten;
use super::scale_bar::decade_axis;
use super::{Figure, FigureError};
use crate::output::disc::LightScale;
use crate::output::sheet::{Color, Pen, Sheet};
use crate::study::predict::Prediction;

const HEIGHT: f64 = 540.0;
/// Left, right, top and bottom of the panel, and how wide the names of the curves are.
const AREA: [f64; 4] = [98.0, 630.0, 86.0, 470.0];
const NAMES: f64 = 130.0;

/// The fewest decades that the axis has and the most, the fewest of one on which no light is drawn, and the most that have fine lines.
const DECADES: (i32, i32) = (2, 12);
const DECADES_TO_NOTHING: i32 = 6;
const FINE_DECADES: i32 = 6;

const PARALLEL: Pen = Pen::dashed(Color(0x2c, 0x74, 0xb8), 2.2, &[11.0, 5.0]);
const CROSSED: Pen = Pen::full(Color(0x1e, 0x1e, 0x24), 3.2);
const WITH_PLATE: Pen = Pen::dashed(Color(0xa8, 0x42, 0x10), 3.0, &[3.0, 3.5]);

/// Draws it.
pub(super) fn figure(title: &str, prediction: &Prediction) -> Result<Figure, FigureError> {
    let wavelength_nm = &prediction.spectrum.wavelength_nm;
    let subtitle = if prediction.beside_specimen.is_some() {
        "Transmittance over the spectrum, mean over the aperture; crossed with the specimen in"
    } else {
        "Transmittance over the spectrum, mean over the aperture"
    };
    let curves = curves(prediction);
    let scale = scale(curves.iter().flat_map(|curve| &curve.points).map(|at| at.1));
    let y = (decade_axis(&scale, &[1]), "transmittance");
    let panel = AxesPanel::new(AREA, (nm_axis(wavelength_nm), "wavelength (nm)"), y);
    draw("spectra", title, HEIGHT, |sheet| {
        head(sheet, title, subtitle);
        if scale.high - scale.low <= FINE_DECADES {
            fine_lines(sheet, &panel, &scale);
        }
        panel.draw(sheet);
        if scale.cut {
            let least = power_of_ten(scale.low);
            panel.note(sheet, &format!("no light, or less than {least}"));
        }
        panel.named_curves(sheet, &curves, NAMES);
    })
}

fn curves(prediction: &Prediction) -> Vec<NamedCurve> {
    let fields = &prediction.spectrum.fields;
    let curve = |name: &str, values: &[f64], pen| NamedCurve {
        name: vec![name.to_owned()],
        pen,
        points: (prediction.spectrum.wavelength_nm.iter().copied())
            .zip(values.iter().copied())
            .collect(),
    };
    let parallel = curve("parallel polars", &fields.parallel, PARALLEL);
    match &fields.crossed_with_plate {
        None => vec![parallel, curve("crossed polars", &fields.crossed, CROSSED)],
        Some(within) => vec![
            parallel,
            curve("crossed polars, plate out", &fields.crossed, CROSSED),
            curve("crossed polars, plate in", within, WITH_PLATE),
        ],
    }
}

/// The decades that hold the light, and more of them where some of it is none.
fn scale(light: impl Iterator<Item = f64>) -> LightScale {
    let mut scale = LightScale::within(light, DECADES, usize::MAX);
    if scale.cut {
        scale.low = scale.low.min(scale.high - DECADES_TO_NOTHING);
    }
    scale
}

/// From the first to the last wavelength, or a little about the only one.
fn nm_axis(wavelength_nm: &[f64]) -> AxisScale {
    match (wavelength_nm.first(), wavelength_nm.last()) {
        (Some(&from), Some(&to)) if from < to => AxisScale::linear(from, to, 9),
        (Some(&at), _) => AxisScale::linear(at - 10.0, at + 10.0, 9),
        _ => AxisScale::linear(380.0, 780.0, 9),
    }
}

fn fine_lines(sheet: &Sheet, panel: &AxesPanel<'_>, scale: &LightScale) {
    let faint = Pen::full(Color(0xee, 0xee, 0xf2), 0.8);
    for exponent in scale.low..scale.high {
        for mantissa in 2..10 {
            let y = panel.y(f64::from(mantissa) * 10f64.powi(exponent));
            sheet.line(&[(panel.left, y), (panel.right, y)], faint);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_axis_spans_the_decades_of_the_light() {
        let axis = |values: &[f64]| {
            let scale = scale(values.iter().copied());
            (scale.low, scale.high, scale.cut)
        };
        assert_eq!(axis(&[0.3, 2e-5, 1e-4]), (-5, 0, false));
        assert_eq!(axis(&[0.3, 0.0, 1e-4]), (-6, 0, true));
        assert_eq!(axis(&[0.3, 0.0, 2e-8]), (-8, 0, true));
        assert_eq!(axis(&[0.1, 0.1, 0.1]), (-3, -1, false));
        assert_eq!(axis(&[0.0, f64::NAN, 0.0]), (-6, 0, true));
        assert_eq!(axis(&[1.0, 1e-14, 1e-3]), (-12, 0, true));
        let y = decade_axis(&scale([].into_iter()), &[1]);
        let panel = AxesPanel::new(AREA, (nm_axis(&[546.1]), ""), (y, ""));
        assert_eq!((panel.x(546.1), panel.y(0.0)), (364.0, 470.0));
    }
}
