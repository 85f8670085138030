//! Invented charts for the tests of their sheets: ideal polars, in closed form.

use std::f64::consts::PI;

use crate::color::{
    Adaptation, ColorWeights, D65_WHITE, Lab, Swatch, Xyz, ciede2000, color_name, linear_srgb,
};
use crate::spectrum::{Source, WavelengthGrid};
use crate::study::chart::{
    Band, BirefringenceLine, Conditions, Difference, Matrix, Panel, Scale, Tint,
};

/// The lamp of the charts.
const LAMP: &str = "led-b3";

/// From transmittance to tint.
struct Light {
    grid: WavelengthGrid,
    weights: ColorWeights,
    factor: f64,
}

impl Light {
    fn new(exposure_stops: f64) -> Self {
        let grid = WavelengthGrid::new(380.0, 780.0, 5.0).unwrap();
        let weights = ColorWeights::new(&grid, &Source::named(LAMP).unwrap()).unwrap();
        Self {
            grid,
            weights,
            factor: exposure_stops.exp2(),
        }
    }

    fn tint(&self, transmittance: impl Fn(f64) -> f64) -> Tint {
        let spectrum: Vec<f64> = (self.grid.wavelengths_nm().iter())
            .map(|&nm| transmittance(nm))
            .collect();
        let xyz = self.weights.xyz(&spectrum).unwrap();
        let balanced = Adaptation::to_d65(self.weights.white()).unwrap().apply(xyz);
        let swatch = Swatch::of_linear(linear_srgb(balanced).map(|v| v * self.factor));
        Tint {
            xyz,
            lab: Lab::of(balanced, D65_WHITE),
            swatch,
            name: color_name(swatch.oklch()),
        }
    }

    fn conditions(&self, notes: &[&str]) -> Conditions {
        let Xyz([x, y, z]) = self.weights.white();
        Conditions {
            lamp: Some(LAMP.to_owned()),
            white_xy: Some([x / (x + y + z), y / (x + y + z)]),
            white_balanced: true,
            polars: "ideal linear polars".to_owned(),
            wavelengths_nm: (380.0, 780.0, 5.0),
            notes: notes.iter().map(|&note| note.to_owned()).collect(),
        }
    }
}

fn crossed(path_difference_nm: f64, nm: f64) -> f64 {
    (PI * path_difference_nm / nm).sin().powi(2)
}

/// Columns, each a heading, a plate and a leak, from 0 to a path difference.
pub(super) fn scale(
    columns: &[(&str, f64, f64)],
    to_nm: f64,
    step_nm: f64,
    exposure_stops: f64,
) -> Scale {
    let light = Light::new(exposure_stops);
    let path_difference_nm: Vec<f64> = (0..=(to_nm / step_nm).round() as u32)
        .map(|k| f64::from(k) * step_nm)
        .collect();
    let bands: Vec<Band> = (columns.iter())
        .map(|&(heading, plate_nm, leak)| {
            let tints: Vec<Tint> = (path_difference_nm.iter())
                .map(|nm| light.tint(|l| (1.0 - leak) * crossed(nm + plate_nm, l) + leak))
                .collect();
            band(heading, tints, &path_difference_nm, step_nm)
        })
        .collect();
    let differences = (bands.chunks_exact(3).enumerate())
        .map(|(k, group)| Difference {
            heading: ["ideal", "this microscope"][k % 2].to_owned(),
            ciede2000: (group[1].tints.iter().zip(&group[2].tints))
                .map(|(one, other)| ciede2000(one.lab, other.lab))
                .collect(),
        })
        .collect();
    Scale {
        conditions: light.conditions(&["Path differences are held constant over the wavelengths."]),
        exposure_stops,
        path_difference_nm,
        at_nm: None,
        bands,
        lines: Vec::new(),
        differences,
    }
}

fn band(heading: &str, tints: Vec<Tint>, nm: &[f64], step_nm: f64) -> Band {
    let discrimination_per_nm: Vec<f64> = (0..tints.len())
        .map(|k| (k.saturating_sub(1), (k + 1).min(tints.len() - 1)))
        .map(|(a, b)| ciede2000(tints[a].lab, tints[b].lab) / ((b - a) as f64 * step_nm))
        .collect();
    let keenest = (0..nm.len())
        .filter(|&k| nm[k] > 200.0)
        .max_by(|&a, &b| discrimination_per_nm[a].total_cmp(&discrimination_per_nm[b]));
    let luminance: Vec<f64> = tints.iter().map(|tint| tint.xyz.luminance()).collect();
    let turn = |from: usize, sign: f64| {
        let at = (from + 1..nm.len().saturating_sub(1)).find(|&k| {
            sign * luminance[k] > sign * luminance[k - 1]
                && sign * luminance[k] >= sign * luminance[k + 1]
        })?;
        Some((at, (nm[at], luminance[at])))
    };
    let maximum = turn(0, 1.0);
    let minimum = maximum.and_then(|(at, _)| turn(at, -1.0));
    Band {
        heading: heading.to_owned(),
        discrimination_per_nm,
        keenest_nm: nm[keenest.unwrap_or(0)],
        first_maximum: maximum.map(|found| found.1),
        first_minimum: minimum.map(|found| found.1),
        tints,
    }
}

/// Lines of birefringence, some with materials.
pub(super) fn lines() -> Vec<BirefringenceLine> {
    let named: [(f64, &[&str]); 7] = [
        (0.0047, &["mica"]),
        (0.0091, &["quartz", "gypsum"]),
        (0.02, &[]),
        (0.05, &[]),
        (0.1, &[]),
        (0.005, &[]),
        (0.172, &["calcite"]),
    ];
    (named.iter())
        .map(|&(birefringence, materials)| BirefringenceLine {
            birefringence,
            materials: materials.iter().map(|&name| name.to_owned()).collect(),
        })
        .collect()
}

/// Rows and columns of a retarder between polars, dimmed by `light`, in one or more panels.
pub(super) fn matrix(rows: usize, columns: usize, panels: &[&str], light: f64) -> Matrix {
    let exposure_stops = 2.0;
    let lamp = Light::new(exposure_stops);
    let panel = |(k, heading): (usize, &&str)| {
        let cells: Vec<Vec<Tint>> = (0..rows)
            .map(|row| {
                (0..columns)
                    .map(|column| {
                        let nm = 40.0 * (row * columns + column) as f64 + 300.0 * k as f64;
                        lamp.tint(|l| light * crossed(nm, l))
                    })
                    .collect()
            })
            .collect();
        let label = |tint: &Tint| {
            let luminance = tint.xyz.luminance();
            if luminance > 0.1 {
                format!("{:.0} %", 100.0 * luminance)
            } else {
                format!("1/{:.0}", 1.0 / luminance.max(1e-5))
            }
        };
        Panel {
            heading: (*heading).to_owned(),
            exposure_stops,
            labels_are: "luminance over the parallel field's".to_owned(),
            labels: cells
                .iter()
                .map(|row| row.iter().map(label).collect())
                .collect(),
            cells,
        }
    };
    Matrix {
        conditions: lamp.conditions(&["Invented: a retarder in place of a strained objective."]),
        rows_are: "objective strain at the rim, nm".to_owned(),
        columns_are: "iris NA".to_owned(),
        rows: (0..rows).map(|row| (row * row).to_string()).collect(),
        columns: (1..=columns)
            .map(|k| format!("{:.2}", 0.1 * k as f64))
            .collect(),
        panels: panels.iter().enumerate().map(panel).collect(),
        extinction_ratio: vec![vec![Some(500.0); columns]; rows],
    }
}
