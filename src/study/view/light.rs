//! Light over path difference and azimuth.

use std::f64::consts::{FRAC_PI_4, FRAC_PI_8, PI, TAU};

use crate::color::Xyz;
use crate::light_path::PartKind;
use crate::light_path::run::{self, Fields};
use crate::math;
use crate::optics::Specimen;
use crate::scene::Scene;
use crate::study::StudyError;
use crate::study::lamp::Lamp;
use crate::study::measures::ACCURACY;
use crate::study::stage::{Staged, emptied};
use crate::threads;

use super::specimen::{FieldSpecimen, SpecimenPoint};

/// Path difference, nm, of the specimens that the light is found with: sine and cosine of half its phase are well above 0 at all wavelengths.
const TRIED_NM: f64 = 150.0;
/// Distance of the tabulated path differences, nm; between them light is linear, which is off by at most 1e-4 of the parallel light.
const STEP_NM: f64 = 1.0;

/// What crossed polars pass of a specimen of any path difference at any azimuth.
///
/// A specimen of phase d whose slow direction lies at an azimuth a from the lower polar is `c + i s (cos 2a sigma_1 + sin 2a sigma_2)`, `c` and `s` the cosine
/// and sine of d/2, and light is a quadratic form of that: six products of `(c, s cos 2a, s sin 2a)`, whatever d and a. The light of six
/// specimens determines it.
///
/// Source: as in `study::response`; R. C. Jones, J. Opt. Soc. Am. 31, 488 (1941), for the matrix (from memory).
/// Checked by: `tests/laws/view.rs`, against predictions with that specimen.
#[derive(Debug, Clone, PartialEq)]
pub struct FieldLight {
    /// Azimuth of the lower polar, radians.
    pub lower_rad: f64,
    without_plate: Forms,
    with_plate: Option<Forms>,
    /// The parallel field, of luminance 1.
    pub parallel: Xyz,
}

/// The six forms as X, Y and Z, tabulated over path difference as far as it has been asked for.
#[derive(Debug, Clone, PartialEq)]
struct Forms {
    /// Phase for each nm, radians, by wavelength.
    phase_per_nm: Vec<f64>,
    /// By wavelength: weights for X, Y and Z times the form, for `c c`, `s s` along, across and between, and `c s` along and across.
    weighed: Vec<[[f64; 3]; 6]>,
}

/// The field.
#[derive(Debug, Clone, PartialEq)]
pub struct FieldView {
    /// Pixels on a side.
    pub size: usize,
    /// Width of the field, micrometres.
    pub width_um: f64,
    /// Light of each pixel relative to the parallel field, rows from the top; plates out.
    pub without_plate: Vec<Xyz>,
    /// The same with the plates in.
    pub with_plate: Option<Vec<Xyz>>,
}

impl FieldLight {
    /// Of a stack, its own specimens out.
    ///
    /// # Errors
    /// [`StudyError`] when the path cannot be run or no light is seen.
    pub fn new(scene: &Scene) -> Result<Self, StudyError> {
        let Scene { path, source, grid } = scene;
        let lamp = Lamp::new(source, grid)?;
        path.check(lamp.wavelengths_nm)?;
        let (nm, luminous) = (lamp.wavelengths_nm, &lamp.luminous);
        let rays = run::quadrature(&emptied(path), nm, luminous, ACCURACY)?.rays;
        let lower_rad = path.polars().map_or(0.0, |(lower, _)| lower.azimuth_rad);
        let staged = Staged::of(path);
        // Nothing; slow direction along the lower polar, across it, on both diagonals, and between.
        let azimuths = [0.0, 2.0 * FRAC_PI_4, FRAC_PI_4, -FRAC_PI_4, FRAC_PI_8];
        let fields = threads::map(0..6, |k| {
            let mut path = staged.path.clone();
            path.parts[staged.specimen].kind = PartKind::Specimen(Specimen::Stated {
                path_difference_nm: if k == 0 { 0.0 } else { TRIED_NM },
                slow_azimuth_rad: lower_rad + if k == 0 { 0.0 } else { azimuths[k - 1] },
            });
            run::fields(&path, &rays, nm, luminous)
        });
        let fields: Vec<Fields> = fields.into_iter().collect::<Result<_, _>>()?;
        let parallel = lamp.weights.xyz(&fields[0].parallel)?;
        let luminance = parallel.luminance();
        let weights = lamp.weights.per_wavelength();
        let forms = |of: &dyn Fn(&Fields) -> Option<Vec<f64>>| {
            let crossed: Vec<Vec<f64>> = fields.iter().map(of).collect::<Option<_>>()?;
            let weighed = (0..nm.len())
                .map(|k| {
                    let seen = [0, 1, 2, 3, 4, 5].map(|run| crossed[run][k]);
                    six(seen, nm[k]).map(|form| weights[k].map(|w| w * form / luminance))
                })
                .collect();
            Some(Forms {
                phase_per_nm: nm.iter().map(|nm| TAU / nm).collect(),
                weighed,
            })
        };
        let without_plate = forms(&|fields| Some(fields.crossed.clone()));
        Ok(Self {
            lower_rad,
            without_plate: without_plate.ok_or(StudyError::NoPlate)?,
            with_plate: forms(&|fields| fields.crossed_with_plate.clone()),
            parallel: parallel.scaled(1.0 / luminance),
        })
    }

    /// Whether there is a plate to put in.
    #[must_use]
    pub fn has_plate(&self) -> bool {
        self.with_plate.is_some()
    }

    /// Light of one point relative to the parallel field; `plates` in or out (without plates, out).
    #[must_use]
    pub fn at(&self, point: SpecimenPoint, plates: bool) -> Xyz {
        let forms = match (&self.with_plate, plates) {
            (Some(forms), true) => forms,
            _ => &self.without_plate,
        };
        let six = forms.at(point.path_difference_nm);
        light(&six, point, self.lower_rad)
    }

    /// The field of a specimen on a stage turned counter-clockwise by an angle, `size` pixels on a side.
    #[must_use]
    pub fn view(&self, specimen: &FieldSpecimen, size: usize, stage_rad: f64) -> FieldView {
        let points = specimen.field(size, stage_rad);
        let most = points
            .iter()
            .map(|point| point.path_difference_nm.abs())
            .fold(0.0, f64::max);
        let seen = |forms: &Forms| {
            let table = forms.table(most);
            threads::map(0..points.len(), |pixel| {
                let point = points[pixel];
                light(
                    &interpolated(&table, point.path_difference_nm),
                    point,
                    self.lower_rad,
                )
            })
        };
        FieldView {
            size,
            width_um: specimen.width_um(),
            without_plate: seen(&self.without_plate),
            with_plate: self.with_plate.as_ref().map(seen),
        }
    }
}

/// The six forms at one wavelength, from what is passed without a specimen and with [`TRIED_NM`] along, across, on both diagonals, and between.
fn six([none, along, across, plus, minus, between]: [f64; 6], wavelength_nm: f64) -> [f64; 6] {
    let (s, c) = math::sincos(PI * TRIED_NM / wavelength_nm);
    let square = |one: f64, other: f64| (0.5 * (one + other) - none * c * c) / (s * s);
    let mixed = |one: f64, other: f64| 0.5 * (one - other) / (c * s);
    let (ss_along, ss_across) = (square(along, across), square(plus, minus));
    let (cs_along, cs_across) = (mixed(along, across), mixed(plus, minus));
    // At 22.5 degrees both cosine and sine of twice the azimuth are the root of 1/2.
    let half = std::f64::consts::FRAC_1_SQRT_2;
    let rest = between
        - none * c * c
        - 0.5 * s * s * (ss_along + ss_across)
        - c * s * half * (cs_along + cs_across);
    [
        none,
        ss_along,
        ss_across,
        rest / (0.5 * s * s),
        cs_along,
        cs_across,
    ]
}

impl Forms {
    /// The forms at a path difference.
    fn at(&self, path_difference_nm: f64) -> [[f64; 3]; 6] {
        let mut sum = [[0.0; 3]; 6];
        for (weighed, phase) in self.weighed.iter().zip(&self.phase_per_nm) {
            let (s, c) = math::sincos(0.5 * phase * path_difference_nm);
            let products = [c * c, s * s, s * s, s * s, c * s, c * s];
            for ((sum, weighed), product) in sum.iter_mut().zip(weighed).zip(products) {
                for axis in 0..3 {
                    sum[axis] += product * weighed[axis];
                }
            }
        }
        sum
    }

    fn table(&self, most_nm: f64) -> Vec<[[f64; 3]; 6]> {
        let steps = (most_nm / STEP_NM).ceil() as usize + 1;
        threads::map(0..steps + 1, |step| self.at(STEP_NM * step as f64))
    }
}

/// The forms between two tabulated path differences; those of `c s` change sign with it.
fn interpolated(table: &[[[f64; 3]; 6]], path_difference_nm: f64) -> [[f64; 3]; 6] {
    let place = path_difference_nm.abs() / STEP_NM;
    let below = (place as usize).min(table.len() - 2);
    let part = place - below as f64;
    let sign = path_difference_nm.signum();
    let mut between = [[0.0; 3]; 6];
    for form in 0..6 {
        let sign = if form > 3 { sign } else { 1.0 };
        for axis in 0..3 {
            let (a, b) = (table[below][form][axis], table[below + 1][form][axis]);
            between[form][axis] = sign * (a + part * (b - a));
        }
    }
    between
}

fn light(six: &[[f64; 3]; 6], point: SpecimenPoint, lower_rad: f64) -> Xyz {
    let (sin, cos) = math::sincos(2.0 * (point.slow_azimuth_rad - lower_rad));
    let products = [1.0, cos * cos, sin * sin, sin * cos, cos, sin];
    let mut xyz = [0.0; 3];
    for (form, product) in six.iter().zip(products) {
        for axis in 0..3 {
            xyz[axis] += product * form[axis];
        }
    }
    Xyz(xyz.map(|v| point.transmittance * v.max(0.0)))
}
