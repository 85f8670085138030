//! Light over path difference, in closed form.

use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, TAU};

use super::orders::QUARTER_WAVE_NM;
use crate::calculus::Jones;
use crate::color::{ColorError, Xyz};
use crate::light_path::run::{self, Fields};
use crate::light_path::{LightPath, PartKind};
use crate::material::PolarizingSheet;
use crate::math;
use crate::optics::{LinearElement, Retarder, Specimen};
use crate::spectrum::TableError;
use crate::study::StudyError;
use crate::study::lamp::Lamp;
use crate::study::measures::ACCURACY;
use crate::study::predict::seen;
use crate::study::stage::{Staged, emptied};

/// Path difference, nm, of the specimens that a path's light is found with: the sine of its phase, and of half of it, is well above 0
/// at all of the observer's wavelengths.
const TRIED_NM: f64 = 150.0;

/// The polars of a chart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Polars {
    /// Crossed linear polars.
    Linear,
    /// Behind the lower polar a quarter-wave plate, and one crossed to it before the analyzer: 137.5 nm at every wavelength.
    Circular,
}

/// What crossed polars pass of a specimen of any path difference at 45 degrees to the lower one.
///
/// Light is quadratic in what the specimen does to it, so at each wavelength it is exactly
/// `none + even sin^2(d/2) + odd sin d`, `d` the specimen's phase: the light of three specimens determines it. A negative path difference is a
/// specimen turned by 90 degrees.
///
/// Checked by: `tests/laws/chart.rs`, `tests/reference/charts.rs`.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct SpecimenLight {
    /// Phase for each nm of path difference, radians, by wavelength.
    phase_per_nm: Vec<f64>,
    /// Each of these is weighed for X, Y and Z, in units of the parallel field's luminance.
    none: [f64; 3],
    even: Vec<[f64; 3]>,
    odd: Vec<[f64; 3]>,
    /// The parallel field, of luminance 1.
    pub(super) parallel: Xyz,
}

/// The same as transmittances at each wavelength.
#[derive(Default)]
struct Coefficients {
    none: Vec<f64>,
    even: Vec<f64>,
    odd: Vec<f64>,
}

impl SpecimenLight {
    fn new(
        of: &Coefficients,
        parallel: &[f64],
        phase_per_nm: &[f64],
        lamp: &Lamp<'_>,
    ) -> Result<Self, StudyError> {
        let parallel = lamp.weights.xyz(parallel)?;
        let luminance = parallel.luminance();
        if luminance.is_nan() || luminance <= 0.0 {
            return Err(ColorError::NoLight {
                field: "parallel field",
                luminance,
            }
            .into());
        }
        let weighed = |field: &[f64]| -> Vec<[f64; 3]> {
            (lamp.weights.per_wavelength().iter().zip(field))
                .map(|(weight, t)| weight.map(|w| w * t / luminance))
                .collect()
        };
        Ok(Self {
            phase_per_nm: phase_per_nm.to_vec(),
            none: lamp.weights.xyz(&of.none)?.scaled(1.0 / luminance).0,
            even: weighed(&of.even),
            odd: weighed(&of.odd),
            parallel: parallel.scaled(1.0 / luminance),
        })
    }

    /// Between two like sheets in collimated light; the slow directions of the plates lie along that of the specimen.
    pub(super) fn of_sheets(
        (sheet, polars, plates): (&PolarizingSheet, Polars, &[Retarder]),
        phase_per_nm: &[f64],
        lamp: &Lamp<'_>,
    ) -> Result<Self, StudyError> {
        let mut of = Coefficients::default();
        let mut parallel = Vec::new();
        for &nm in lamp.wavelengths_nm {
            let [bright, none, plus, minus] =
                through_sheets(sheet, polars, plates, nm).map_err(|source| StudyError::Table {
                    what: sheet.name.clone(),
                    source,
                })?;
            parallel.push(bright);
            of.none.push(none);
            // The sines are 1 and -1, those of the halves squared are 1/2.
            of.even.push(plus + minus - 2.0 * none);
            of.odd.push(0.5 * (plus - minus));
        }
        Self::new(&of, &parallel, phase_per_nm, lamp)
    }

    /// Of a light path with a specimen on its stage, plates out and, where there are any, in. The specimen's slow direction is the one at 45
    /// degrees to the lower polar that is nearer to the plate's.
    pub(super) fn of_path(
        path: &LightPath,
        phase_per_nm: &[f64],
        lamp: &Lamp<'_>,
    ) -> Result<(Self, Option<Self>), StudyError> {
        path.check(lamp.wavelengths_nm)?;
        // The empty field is the darkest and asks for the most rays.
        let (nm, luminous) = (lamp.wavelengths_nm, &lamp.luminous);
        let rays = run::quadrature(&emptied(path), nm, luminous, ACCURACY)?.rays;
        let mut staged = Staged::of(path);
        let slow_azimuth_rad = slow_azimuth_rad(path);
        let mut run = |path_difference_nm| {
            staged.path.parts[staged.specimen].kind = PartKind::Specimen(Specimen::Stated {
                path_difference_nm,
                slow_azimuth_rad,
            });
            run::fields(&staged.path, &rays, nm, luminous)
        };
        let fields = [run(0.0)?, run(TRIED_NM)?, run(-TRIED_NM)?];
        let light = |crossed: [&[f64]; 3]| {
            let of = Coefficients::tried(crossed, nm);
            Self::new(&of, &fields[0].parallel, phase_per_nm, lamp)
        };
        let plates_in = |fields: &Fields| fields.crossed_with_plate.clone();
        let with_plate = match [0, 1, 2].map(|k| plates_in(&fields[k])) {
            [Some(none), Some(plus), Some(minus)] => Some(light([&none, &plus, &minus])?),
            _ => None,
        };
        let [none, plus, minus] = &fields;
        Ok((
            light([&none.crossed, &plus.crossed, &minus.crossed])?,
            with_plate,
        ))
    }

    /// Tristimulus values of a specimen, over the luminance of the parallel field.
    pub(super) fn xyz(&self, path_difference_nm: f64) -> Xyz {
        let mut sum = self.none;
        let waves = self.even.iter().zip(&self.odd).zip(&self.phase_per_nm);
        for ((even, odd), phase) in waves {
            let (sin, cos) = math::sincos(0.5 * phase * path_difference_nm);
            let (even_wave, odd_wave) = (sin * sin, 2.0 * sin * cos);
            for axis in 0..3 {
                sum[axis] += even[axis] * even_wave + odd[axis] * odd_wave;
            }
        }
        seen(Xyz(sum), self.parallel)
    }
}

impl Coefficients {
    /// From the light without a specimen and with [`TRIED_NM`] and its negative.
    fn tried([none, plus, minus]: [&[f64]; 3], wavelengths_nm: &[f64]) -> Self {
        let mut of = Self::default();
        for (k, nm) in wavelengths_nm.iter().enumerate() {
            let phase = TAU * TRIED_NM / nm;
            of.none.push(none[k]);
            of.even
                .push((0.5 * (plus[k] + minus[k]) - none[k]) / math::sin(0.5 * phase).powi(2));
            of.odd.push(0.5 * (plus[k] - minus[k]) / math::sin(phase));
        }
        of
    }
}

/// What two like sheets pass of unpolarized light at one wavelength: parallel and empty, then crossed with the plates and a
/// specimen of phase 0, a quarter of a turn, and the same with its slow direction across.
fn through_sheets(
    sheet: &PolarizingSheet,
    polars: Polars,
    plates: &[Retarder],
    wavelength_nm: f64,
) -> Result<[f64; 4], TableError> {
    let (k1, k2) = sheet.principal_transmittances(wavelength_nm)?;
    let polar = |azimuth_rad| LinearElement::real(azimuth_rad, k1.sqrt(), k2.sqrt()).jones();
    let quarter_wave = |azimuth_rad| match polars {
        Polars::Linear => Jones::identity(),
        Polars::Circular => Jones::retarder(TAU * QUARTER_WAVE_NM / wavelength_nm, azimuth_rad),
    };
    let plates_nm = (plates.iter())
        .map(|plate| plate.path_difference_nm(wavelength_nm))
        .sum::<Result<f64, _>>()?;
    let plates_rad = TAU * plates_nm / wavelength_nm;
    let passed = |analyzer_rad, phase_rad| {
        let retarders = quarter_wave(-FRAC_PI_4)
            * Jones::retarder(phase_rad, FRAC_PI_4)
            * quarter_wave(FRAC_PI_4);
        (polar(analyzer_rad) * retarders * polar(0.0)).transmittance()
    };
    let crossed = |phase_rad| passed(FRAC_PI_2, plates_rad + phase_rad);
    Ok([
        passed(0.0, 0.0),
        crossed(0.0),
        crossed(FRAC_PI_2),
        crossed(-FRAC_PI_2),
    ])
}

/// Azimuth of the chart's specimen in a light path, radians: the one at 45 degrees to the lower polar that is nearer to its first plate's slow
/// direction.
fn slow_azimuth_rad(path: &LightPath) -> f64 {
    let lower_rad = path.polars().map_or(0.0, |(lower, _)| lower.azimuth_rad);
    match accessories(path).next() {
        Some(plate) if along(plate, lower_rad) < 0.0 => lower_rad - FRAC_PI_4,
        _ => lower_rad + FRAC_PI_4,
    }
}

/// The accessory plates of a path, each with its path difference below 0 where its slow direction lies across the first one's.
pub(super) fn plates(path: &LightPath) -> impl Iterator<Item = Retarder> {
    let slow_rad = slow_azimuth_rad(path);
    accessories(path).map(move |plate| {
        let mut plate = plate.clone();
        let size = plate.path_difference_nm.abs();
        plate.path_difference_nm = size.copysign(along(&plate, slow_rad - FRAC_PI_4));
        plate
    })
}

fn accessories(path: &LightPath) -> impl Iterator<Item = &Retarder> {
    (path.parts.iter()).filter_map(|part| match &part.kind {
        PartKind::Plate(plate) => Some(plate),
        _ => None,
    })
}

/// Above 0 where a plate's slow direction is nearer to 45 than to -45 degrees from an azimuth.
fn along(plate: &Retarder, azimuth_rad: f64) -> f64 {
    plate.path_difference_nm * math::sin(2.0 * (plate.slow_azimuth_rad - azimuth_rad))
}
