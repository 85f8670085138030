//! Transmittance over the spectrum.

use super::axes::{AxesPanel, AxisScale, NamedCurve};
use super::look::*;
use super::numbers::power_of_ten;
use super::scale_bar::decade_axis;
use crate::output::disc::LightScale;
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

/// Draws the figure.
pub(super) fn figure(title: &str, prediction: &Prediction) -> Result<Figure, FigureError> {
    let specimen = match prediction.beside_specimen {
        Some(_) => "; crossed with the specimen in",
        None => "",
    };
    let subtitle = format!("Transmittance over the spectrum, mean over the aperture{specimen}");
    let curves = curves(prediction);
    let scale = scale(curves.iter().flat_map(|curve| &curve.points).map(|at| at.1));
    let y = decade_axis(&scale, &[1]).titled("transmittance");
    let x = AxisScale::over(&prediction.spectrum.wavelength_nm, 10.0, 9).titled("wavelength (nm)");
    let panel = AxesPanel::new(AREA, x, y);
    draw("spectra", (title, &subtitle), HEIGHT, |sheet| {
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
    let out = match fields.crossed_with_plate {
        None => "crossed polars",
        Some(_) => "crossed polars, plate out",
    };
    let mut curves = vec![
        curve("parallel polars", &fields.parallel, PARALLEL),
        curve(out, &fields.crossed, CROSSED),
    ];
    let within = fields.crossed_with_plate.iter();
    curves.extend(within.map(|light| curve("crossed polars, plate in", light, WITH_PLATE)));
    curves
}

/// The decades that hold the light, and more of them where some of it is none.
fn scale(light: impl Iterator<Item = f64>) -> LightScale {
    let mut scale = LightScale::within(light, DECADES, usize::MAX);
    if scale.cut {
        scale.low = scale.low.min(scale.high - DECADES_TO_NOTHING);
    }
    scale
}

fn fine_lines(sheet: &Sheet, panel: &AxesPanel, scale: &LightScale) {
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
        let panel = AxesPanel::new(AREA, AxisScale::over(&[546.1], 10.0, 9), y);
        assert_eq!((panel.x(546.1), panel.y(0.0)), (364.0, 470.0));
    }
}
