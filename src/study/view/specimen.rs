//! Specimens of a field: an invented one, or a map of path differences and azimuths.

use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI, TAU};

use thiserror::Error;

use crate::math;
use crate::study::told::brief;
use crate::threads;

/// Width of the invented specimen's field, micrometres.
const WIDTH_UM: f64 = 200.0;

/// One point of a specimen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpecimenPoint {
    /// Path difference, nm, the same at every wavelength.
    pub path_difference_nm: f64,
    /// Azimuth of its slow direction, radians counter-clockwise from East.
    pub slow_azimuth_rad: f64,
    /// What of the light it does not absorb.
    pub transmittance: f64,
}

impl SpecimenPoint {
    /// Nothing there.
    pub const NOTHING: Self = Self {
        path_difference_nm: 0.0,
        slow_azimuth_rad: 0.0,
        transmittance: 1.0,
    };

    /// Of a path difference and its slow direction.
    #[must_use]
    pub fn of(path_difference_nm: f64, slow_azimuth_rad: f64) -> Self {
        Self {
            path_difference_nm,
            slow_azimuth_rad,
            ..Self::NOTHING
        }
    }
}

/// A specimen that fills a square field.
#[derive(Debug, Clone, PartialEq)]
pub enum FieldSpecimen {
    /// Invented: grains with a radial slow direction as starch has it, needles at all azimuths (slow along their length in the inner ring, across it in the
    /// outer one), a wedge, a knot of fibres, and a bead without path difference that absorbs a little.
    Invented,
    /// A map.
    Map(SpecimenMap),
}

/// An object of a specimen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FieldObject {
    /// What it is.
    pub name: &'static str,
    /// A point of it that shows it well, the slow direction at 45 degrees.
    pub point: SpecimenPoint,
}

/// A map of path differences and azimuths, row by row from the top.
#[derive(Debug, Clone, PartialEq)]
pub struct SpecimenMap {
    columns: usize,
    rows: usize,
    um_per_pixel: f64,
    /// Path difference, nm, and azimuth, radians.
    points: Vec<(f64, f64)>,
}

/// A map that cannot be.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum SpecimenMapError {
    /// Two tables of different sizes.
    #[error("path differences are {} by {}, azimuths {} by {}: both must be of one size", path_difference.0, path_difference.1, azimuth.0, azimuth.1)]
    Sizes {
        /// Columns and rows of the path differences.
        path_difference: (usize, usize),
        /// Columns and rows of the azimuths.
        azimuth: (usize, usize),
    },
    /// Too small or too large.
    #[error("a map of {columns} by {rows} points; allowed: 2 to 4096 on a side")]
    Size {
        /// Columns.
        columns: usize,
        /// Rows.
        rows: usize,
    },
    /// A number that cannot be.
    #[error("{quantity} {} in column {column}, row {row}; allowed: {allowed}", brief(*value))]
    Value {
        /// What it is.
        quantity: &'static str,
        /// The number.
        value: f64,
        /// Its column, from 1.
        column: usize,
        /// Its row, from 1.
        row: usize,
        /// What it may be.
        allowed: &'static str,
    },
}

impl SpecimenMap {
    /// Of two tables of one size, row by row from the top, and how many micrometres a point is wide.
    ///
    /// # Errors
    /// [`SpecimenMapError`].
    pub fn new(
        (columns, rows): (usize, usize),
        path_difference_nm: &[f64],
        azimuth_deg: &[f64],
        um_per_pixel: f64,
    ) -> Result<Self, SpecimenMapError> {
        if !(2..=4096).contains(&columns) || !(2..=4096).contains(&rows) {
            return Err(SpecimenMapError::Size { columns, rows });
        }
        let check = |quantity, values: &[f64], most: f64, allowed| {
            let wrong = values.iter().position(|v| v.is_nan() || v.abs() > most);
            wrong.map_or(Ok(()), |at| {
                Err(SpecimenMapError::Value {
                    quantity,
                    value: values[at],
                    column: at % columns + 1,
                    row: at / columns + 1,
                    allowed,
                })
            })
        };
        check("path difference", path_difference_nm, 1e5, "-1e5 to 1e5 nm")?;
        check("azimuth", azimuth_deg, 3600.0, "-3600 to 3600 degrees")?;
        let points = (path_difference_nm.iter().zip(azimuth_deg))
            .map(|(nm, degrees)| (*nm, degrees.to_radians()))
            .collect();
        Ok(Self {
            columns,
            rows,
            um_per_pixel,
            points,
        })
    }

    /// Least, middle and largest path difference, nm: half of the points have no more than the middle one.
    #[must_use]
    pub fn path_differences_nm(&self) -> [f64; 3] {
        // Adding nought turns -0 into 0.
        let mut all: Vec<f64> = self.points.iter().map(|(nm, _)| nm + 0.0).collect();
        // A map has four points or more.
        let middle = (all.len() - 1) / 2;
        let (_, middle_nm, _) = all.select_nth_unstable_by(middle, f64::total_cmp);
        let middle_nm = *middle_nm;
        let least = all.iter().copied().fold(f64::INFINITY, f64::min);
        let largest = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        [least, middle_nm, largest]
    }

    fn side_um(&self) -> f64 {
        self.um_per_pixel * self.columns.max(self.rows) as f64
    }

    fn at(&self, x_um: f64, y_um: f64) -> SpecimenPoint {
        let column = x_um / self.um_per_pixel + 0.5 * self.columns as f64;
        let row = 0.5 * self.rows as f64 - y_um / self.um_per_pixel;
        let inside =
            (0.0..self.columns as f64).contains(&column) && (0.0..self.rows as f64).contains(&row);
        if !inside {
            return SpecimenPoint::NOTHING;
        }
        let (nm, azimuth) = self.points[row as usize * self.columns + column as usize];
        SpecimenPoint::of(nm, azimuth)
    }
}

impl FieldSpecimen {
    /// Width of the field, micrometres.
    #[must_use]
    pub fn width_um(&self) -> f64 {
        match self {
            Self::Invented => WIDTH_UM,
            Self::Map(map) => map.side_um(),
        }
    }

    /// The point at a place, micrometres from the middle, East and North.
    #[must_use]
    pub fn at(&self, x_um: f64, y_um: f64) -> SpecimenPoint {
        match self {
            Self::Invented => invented(x_um, y_um),
            Self::Map(map) => map.at(x_um, y_um),
        }
    }

    /// The points of a field, `size` pixels on a side, rows from the top, the stage turned counter-clockwise.
    pub(super) fn field(&self, size: usize, stage_rad: f64) -> Vec<SpecimenPoint> {
        let width = self.width_um();
        let (sin, cos) = math::sincos(stage_rad);
        threads::map(0..size * size, |pixel| {
            let place = |k: usize| ((k as f64 + 0.5) / size as f64 - 0.5) * width;
            let (x, y) = (place(pixel % size), -place(pixel / size));
            let mut point = self.at(cos * x + sin * y, cos * y - sin * x);
            point.slow_azimuth_rad += stage_rad;
            point
        })
    }

    /// The objects of the invented specimen; of a map the least, middle and largest of its path differences, each once.
    #[must_use]
    pub fn objects(&self) -> Vec<FieldObject> {
        let object = |name, nm: f64| FieldObject {
            name,
            point: SpecimenPoint::of(nm, FRAC_PI_4),
        };
        match self {
            Self::Map(map) => {
                let names = [
                    "your specimen, least",
                    "your specimen, middle",
                    "your specimen, largest",
                ];
                let mut objects: Vec<FieldObject> = (names.into_iter())
                    .zip(map.path_differences_nm())
                    .map(|(name, nm)| object(name, nm))
                    .collect();
                objects.dedup_by(|later, one| later.point == one.point);
                objects
            }
            Self::Invented => vec![
                object("grain, radial", GRAIN_NM),
                object("needle, slow along", NEEDLE_NM),
                object("needle, slow across", -NEEDLE_NM),
                object("fibre", FIBRE_NM),
                object("wedge, middle", 0.5 * WEDGE_NM),
                FieldObject {
                    name: "bead, isotropic",
                    point: SpecimenPoint {
                        transmittance: BEAD,
                        ..SpecimenPoint::NOTHING
                    },
                },
            ],
        }
    }
}

/// Largest path differences of the invented objects, nm, and what the bead passes: invented.
const GRAIN_NM: f64 = 150.0;
const NEEDLE_NM: f64 = 120.0;
const FIBRE_NM: f64 = 280.0;
const WEDGE_NM: f64 = 1800.0;
const BEAD: f64 = 0.7;

/// Grains: middle and radius, micrometres.
const GRAINS: [(f64, f64, f64); 6] = [
    (-72.0, 66.0, 15.0),
    (-44.0, 78.0, 11.0),
    (-78.0, 34.0, 12.0),
    (-48.0, 48.0, 13.0),
    (-84.0, 86.0, 8.0),
    (-30.0, 60.0, 7.0),
];
/// Rings of needles: middle, inner and outer radius, how many, and whether the slow direction lies along.
const NEEDLES: (f64, f64) = (48.0, 46.0);
const RINGS: [(f64, f64, f64, bool); 2] = [(8.0, 22.0, 12.0, true), (27.0, 41.0, 12.0, false)];
/// Half the width of a needle, micrometres.
const NEEDLE_HALF: f64 = 1.5;
/// The wedge: left, right, bottom and top.
const WEDGE: [f64; 4] = [-92.0, 92.0, -94.0, -76.0];
/// Fibres of the knot: middle, radius, half width, and from where to where they run, radians.
const FIBRES: [(f64, f64, f64, f64, f64, f64); 4] = [
    (-52.0, -30.0, 26.0, 2.2, 0.2, 4.4),
    (-30.0, -44.0, 24.0, 2.0, 1.2, 5.2),
    (-66.0, -12.0, 30.0, 2.4, -1.9, 0.7),
    (-40.0, -4.0, 22.0, 1.8, 2.6, 6.6),
];
/// The bead: middle and radius.
const SPHERE: (f64, f64, f64) = (50.0, -38.0, 13.0);

/// The invented specimen at a place, micrometres from the middle. Where fibres cross, their path differences are added as if they were thin, as
/// tensors: G exp(2 i a).
fn invented(x: f64, y: f64) -> SpecimenPoint {
    let [left, right, bottom, top] = WEDGE;
    if (left..right).contains(&x) && (bottom..top).contains(&y) {
        return SpecimenPoint::of(WEDGE_NM * (x - left) / (right - left), FRAC_PI_4);
    }
    let (bead_x, bead_y, radius) = SPHERE;
    if math::hypot(x - bead_x, y - bead_y) < radius {
        return SpecimenPoint {
            transmittance: BEAD,
            ..SpecimenPoint::NOTHING
        };
    }
    for (grain_x, grain_y, radius) in GRAINS {
        let (dx, dy) = (x - grain_x, y - grain_y);
        let r = math::hypot(dx, dy) / radius;
        if r < 1.0 {
            // At the middle light runs along the fibrils; at the rim there is little grain left. Largest where r^2 is 2/3.
            let shape = r * r * (1.0 - r * r).sqrt() / (2.0 / 3.0 * (1.0f64 / 3.0).sqrt());
            return SpecimenPoint::of(GRAIN_NM * shape, math::atan2(dy, dx));
        }
    }
    let (dx, dy) = (x - NEEDLES.0, y - NEEDLES.1);
    let (r, azimuth) = (math::hypot(dx, dy), math::atan2(dy, dx));
    for (inner, outer, count, along) in RINGS {
        if !(inner..outer).contains(&r) {
            continue;
        }
        let step = TAU / count;
        let own = (azimuth / step).round() * step;
        let off = r * math::sin(azimuth - own).abs();
        if off < NEEDLE_HALF {
            let thick = (1.0 - (off / NEEDLE_HALF).powi(2)).sqrt();
            let slow = if along { own } else { own + FRAC_PI_2 };
            return SpecimenPoint::of(NEEDLE_NM * thick, slow);
        }
    }
    let (mut cos, mut sin) = (0.0, 0.0);
    for (fibre_x, fibre_y, radius, half, from, to) in FIBRES {
        let (dx, dy) = (x - fibre_x, y - fibre_y);
        let off = (math::hypot(dx, dy) - radius) / half;
        let azimuth = math::atan2(dy, dx);
        let turned = (azimuth - from).rem_euclid(TAU);
        if off.abs() < 1.0 && turned < to - from {
            let thick = FIBRE_NM * (1.0 - off * off).sqrt();
            let (s, c) = math::sincos(2.0 * (azimuth + FRAC_PI_2));
            (cos, sin) = (cos + thick * c, sin + thick * s);
        }
    }
    match math::hypot(cos, sin) {
        0.0 => SpecimenPoint::NOTHING,
        nm => SpecimenPoint::of(nm, (0.5 * math::atan2(sin, cos)).rem_euclid(PI)),
    }
}
