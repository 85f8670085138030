//! The light of a path as a function of a few of its numbers: tabulated once, then told fast.
//!
//! The kernel runs every combination of some nodes of each number; the light at any values is a sum over the nodes, with
//! weights that are exact where the physics is a finite form and as good as exact elsewhere. Azimuths of the analyzer, retarders
//! behind the last part that tells rays apart, and the stray fraction need no nodes.
//!
//! ```
//! use polstack::light_path::run::quadrature;
//! use polstack::study::quantity::{Quantity, QuantityKind};
//! use polstack::study::response::Response;
//! let path = polstack::scenario::read("scenarios/pond-life.toml".as_ref()).unwrap().scene.path;
//! let rays = quadrature(&path, &[550.0], &[1.0], 1e-4)?.rays;
//! let analyzer = Quantity { part: path.analyzer(), kind: QuantityKind::Azimuth };
//! let ends = (80f64.to_radians(), 100f64.to_radians());
//! let response = Response::new(&path, &[analyzer], &[ends], &rays, &[550.0], &[1.0], false)?;
//! let crossed = response.light(&[90f64.to_radians()])?.crossed[0];
//! assert!(crossed < response.light(&[95f64.to_radians()])?.crossed[0]);
//! # Ok::<(), polstack::light_path::PathError>(())
//! ```

mod axis;
mod beam;
mod retardance;
mod table;

use std::f64::consts::FRAC_PI_2;

use axis::Axis;
use beam::{Beam, LANES, Lanes};
use retardance::{Given, in_blocks};
use table::{NodeJob, NodeSums, NodeTable};

use super::quantity::{Quantity, QuantityKind};
use crate::light_path::run::{self, Fields};
use crate::light_path::{LightPath, Needed, PartKind, PathError, Setting};
use crate::math;
use crate::optics::Rays;

/// More combinations of nodes than this are not tabulated: the table would take longer than the runs it saves.
pub const MOST_NODES: usize = 2048;

/// How far the light of one number's nodes may be from direct runs between them, relatively.
const ONE: f64 = 1e-10;
/// How far the whole table may be from direct runs, relatively.
const WHOLE: f64 = 1e-9;
/// Rounding, as a fraction of the parallel field.
const ROUNDING: f64 = 1e-15;

/// Transmittances of a path at given values, at each wavelength.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Light {
    /// Polars as the stack has them, specimens in, stray light included.
    pub crossed: Vec<f64>,
    /// Analyzer turned to the lower polar, plates and specimens out.
    pub parallel: Vec<f64>,
}

/// The light of a path as a function of a few of its numbers.
///
/// It always equals the direct run of the path with the numbers set: to 1e-9 of the crossed light or 1e-15 of the parallel
/// light, whichever is more. The sum carries the rounding of its brightest nodes. Near the written azimuth of the lower polar and for weak
/// uniform strains these count the less the less light leaks, and 1e-9 holds up to extinction ratios of 1e12; elsewhere up to
/// 1e6.
///
/// Checked by: `tests/laws/response.rs`.
#[derive(Debug, Clone)]
pub struct Response {
    path: LightPath,
    quantities: Vec<Quantity>,
    rays: Rays,
    wavelengths_nm: Vec<f64>,
    luminous: Vec<f64>,
    plates: bool,
    tables: Option<Tables>,
}

/// Room for [`Response::light_into`] to work in, and its answer.
#[derive(Debug, Clone, Default)]
pub struct Work {
    /// The light at the values asked last.
    pub light: Light,
    sums: NodeSums,
    crossed: Vec<Beam>,
    empty: Vec<Beam>,
}

impl Response {
    /// Tabulates a path that [`LightPath::check`] accepts.
    ///
    /// `ranges` are the lowest and highest value that each quantity, in turn, is wanted for; what lies outside takes a direct run where
    /// the sum does not hold there. `luminous` weighs the wavelengths, as in [`run::fields`]. `plates` puts accessory plates into the
    /// crossed field. Where a table does not pay (more than [`MOST_NODES`] nodes, an analyzer under oblique rays, a pattern with
    /// kinks that is turned), every answer is a direct run.
    ///
    /// # Errors
    /// [`PathError`] when the path as written cannot be run.
    pub fn new(
        path: &LightPath,
        quantities: &[Quantity],
        ranges: &[(f64, f64)],
        rays: &Rays,
        wavelengths_nm: &[f64],
        luminous: &[f64],
        plates: bool,
    ) -> Result<Self, PathError> {
        let spectrum = (wavelengths_nm, luminous);
        let mut response = Self::direct_only(path, quantities, rays, spectrum, plates);
        response.direct(&response.written())?;
        // When a node cannot be run there is no table; values that can be run still get a direct run.
        response.tables = response.tabulate(ranges).unwrap_or(None);
        Ok(response)
    }

    /// The same without a comparison to direct runs: sums that are not finite get about `nodes` nodes. For a first look, for
    /// narrow ranges, and where all sums are finite. `spectrum` is the wavelengths and `luminous`.
    #[must_use]
    pub fn sketched(
        path: &LightPath,
        quantities: &[Quantity],
        ranges: &[(f64, f64)],
        rays: &Rays,
        spectrum: (&[f64], &[f64]),
        plates: bool,
        nodes: usize,
    ) -> Self {
        let mut response = Self::direct_only(path, quantities, rays, spectrum, plates);
        response.tables = response.sketch(ranges, nodes).unwrap_or(None);
        response
    }

    fn direct_only(
        path: &LightPath,
        quantities: &[Quantity],
        rays: &Rays,
        (wavelengths_nm, luminous): (&[f64], &[f64]),
        plates: bool,
    ) -> Self {
        Self {
            path: path.clone(),
            quantities: quantities.to_vec(),
            rays: rays.clone(),
            wavelengths_nm: wavelengths_nm.to_vec(),
            luminous: luminous.to_vec(),
            plates,
            tables: None,
        }
    }

    /// The values of the path as written; 0 for what it has not.
    #[must_use]
    pub fn written(&self) -> Vec<f64> {
        let value = |quantity: &Quantity| quantity.value(&self.path).unwrap_or(0.0);
        self.quantities.iter().map(value).collect()
    }

    /// How many combinations of nodes are tabulated; `None` when every answer is a direct run.
    #[must_use]
    pub fn nodes(&self) -> Option<usize> {
        self.tables.as_ref().map(Tables::nodes)
    }

    /// The light at these values, one for each quantity; a value that is left out stays as written.
    ///
    /// # Errors
    /// [`PathError`] when the path cannot be run with these values.
    pub fn light(&self, values: &[f64]) -> Result<Light, PathError> {
        let mut work = Work::default();
        self.light_into(values, &mut work)?;
        Ok(work.light)
    }

    /// The light at these values, computed in memory that is used again from call to call; the answer is in [`Work::light`].
    ///
    /// # Errors
    /// As [`Self::light`].
    pub fn light_into(&self, values: &[f64], work: &mut Work) -> Result<(), PathError> {
        match &self.tables {
            Some(tables) if values.len() == self.quantities.len() && tables.reach(values) => {
                tables.light(values, &self.luminous, work);
            }
            _ => work.light = self.direct(values)?,
        }
        Ok(())
    }

    /// The same by a direct run.
    ///
    /// # Errors
    /// As [`Self::light`].
    pub fn direct(&self, values: &[f64]) -> Result<Light, PathError> {
        let mut path = self.path.clone();
        for (quantity, &value) in self.quantities.iter().zip(values) {
            quantity.set(&mut path, value);
        }
        let Fields {
            parallel,
            crossed,
            crossed_with_plate,
            ..
        } = run::fields(&path, &self.rays, &self.wavelengths_nm, &self.luminous)?;
        Ok(Light {
            crossed: crossed_with_plate
                .filter(|_| self.plates)
                .unwrap_or(crossed),
            parallel,
        })
    }

    /// The axes with the fewest nodes that each can have, and the analyzer; `None` where no table is possible.
    fn axes(&self, ranges: &[(f64, f64)]) -> Result<Option<(Vec<Axis>, usize)>, PathError> {
        let collimated = |&part: &usize| !self.path.is_oblique(part);
        let Some(analyzer) = self.path.analyzer().filter(collimated) else {
            return Ok(None);
        };
        if self.wavelengths_nm.is_empty() || ranges.len() != self.quantities.len() {
            return Ok(None);
        }
        let end = run::alike_from(&self.path, analyzer);
        let axes = axis::axes(
            &self.path,
            &self.quantities,
            ranges,
            end,
            &self.wavelengths_nm,
        )?;
        Ok(axes.map(|axes| (axes, analyzer)))
    }

    fn sketch(&self, ranges: &[(f64, f64)], least: usize) -> Result<Option<Tables>, PathError> {
        let Some((mut axes, analyzer)) = self.axes(ranges)? else {
            return Ok(None);
        };
        for axis in &mut axes {
            while axis.nodes() < least && axis.refine() {}
        }
        if nodes(&axes) > MOST_NODES {
            return Ok(None);
        }
        Tables::new(self, &axes, analyzer).map(Some)
    }

    /// `None` where a table does not pay.
    fn tabulate(&self, ranges: &[(f64, f64)]) -> Result<Option<Tables>, PathError> {
        let Some((mut axes, analyzer)) = self.axes(ranges)? else {
            return Ok(None);
        };
        for axis in &mut axes {
            if !self.settle(axis, analyzer)? {
                return Ok(None);
            }
        }
        while nodes(&axes) <= MOST_NODES {
            let tables = Tables::new(self, &axes, analyzer)?;
            if self.agrees_everywhere(&tables, ranges)? {
                return Ok(Some(tables));
            }
            // A number that hardly changes the light while all others are as written may change it much at other values.
            let mut refined = false;
            for axis in &mut axes {
                refined |= axis.refine();
            }
            if !refined {
                break;
            }
        }
        Ok(None)
    }

    fn agrees_everywhere(&self, tables: &Tables, ranges: &[(f64, f64)]) -> Result<bool, PathError> {
        for values in scattered(ranges) {
            if tables.reach(&values) && !self.agrees(tables, &values, WHOLE)? {
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// Gives an axis as many nodes as it needs while all else is as written; `false` when there are not enough.
    fn settle(&self, axis: &mut Axis, analyzer: usize) -> Result<bool, PathError> {
        let Some((index, probes)) = axis.probes() else {
            return Ok(true);
        };
        loop {
            let tables = Tables::new(self, std::slice::from_ref(axis), analyzer)?;
            let mut good = true;
            for &probe in &probes {
                let mut values = self.written();
                values[index] = probe;
                good = good && self.agrees(&tables, &values, ONE)?;
            }
            if good || !axis.refine() {
                return Ok(good);
            }
        }
    }

    /// Whether a table gives the light of a direct run.
    fn agrees(&self, tables: &Tables, values: &[f64], accuracy: f64) -> Result<bool, PathError> {
        let mut work = Work::default();
        tables.light(values, &self.luminous, &mut work);
        let (got, direct) = (&work.light, self.direct(values)?);
        let close = |got: &[f64], direct_field: &[f64]| {
            (got.iter().zip(direct_field).zip(&direct.parallel)).all(|((got, direct), parallel)| {
                (got - direct).abs() <= accuracy * direct + ROUNDING * parallel
            })
        };
        Ok(close(&got.crossed, &direct.crossed) && close(&got.parallel, &direct.parallel))
    }
}

/// Combinations of nodes.
fn nodes(axes: &[Axis]) -> usize {
    (axes.iter()).fold(1, |nodes, axis| nodes.saturating_mul(axis.nodes()))
}

/// Values scattered evenly over the ranges, the same ones always: multiples of an irrational number for each quantity.
fn scattered(ranges: &[(f64, f64)]) -> impl Iterator<Item = Vec<f64>> + '_ {
    (1..=6).map(move |point| {
        (ranges.iter().enumerate())
            .map(|(number, (low, high))| {
                let t = (f64::from(point) * ((number + 2) as f64).sqrt() * 0.618_034).fract();
                low + t * (high - low)
            })
            .collect()
    })
}

/// The tables of a path in the settings that its answers need, and what its analyzer does.
#[derive(Debug, Clone)]
struct Tables {
    crossed: NodeTable,
    /// Plates and specimens out, where there are any.
    empty: Option<NodeTable>,
    wavelengths: usize,
    frame_rad: f64,
    lower_polar: Given,
    analyzer: Given,
    stray_fraction: Given,
    is_circular: bool,
    /// Principal transmittances of the analyzer at each block of wavelengths.
    transmittances: Vec<(Lanes, Lanes)>,
}

impl Tables {
    fn new(response: &Response, axes: &[Axis], analyzer: usize) -> Result<Self, PathError> {
        let Response {
            path,
            quantities,
            rays,
            wavelengths_nm,
            ..
        } = response;
        let job = NodeJob {
            path,
            quantities,
            rays,
            wavelengths_nm,
        };
        let Some((low, (lower, polar))) = path.lower_polar().zip(path.polars()) else {
            return Err(PathError::Missing {
                what: Needed::Polars,
            });
        };
        // The frame in which crossed light is one element of the coherency matrix.
        let frame_rad = if path.is_circular() {
            polar.azimuth_rad
        } else {
            lower.azimuth_rad + FRAC_PI_2
        };
        let table = |setting| NodeTable::new(job, axes, setting, analyzer, frame_rad);
        let crossed = Setting {
            plates: response.plates,
            specimens: true,
            analyzer_azimuth_rad: None,
        };
        let removable = |kind: &PartKind| {
            matches!(kind, PartKind::Specimen(_))
                || response.plates && matches!(kind, PartKind::Plate(_))
        };
        let given = |part, kind| Given::of(path, quantities, Quantity { part, kind });
        let (k1, k2): (Vec<f64>, Vec<f64>) = (wavelengths_nm.iter())
            .map(|&nm| polar.sheet.principal_transmittances(nm))
            .collect::<Result<Vec<_>, _>>()
            .map_err(|source| PathError::Table {
                part: analyzer,
                source,
            })?
            .into_iter()
            .unzip();
        let (k1, k2) = (in_blocks(&k1), in_blocks(&k2));
        Ok(Self {
            crossed: table(crossed)?,
            empty: (path.find(removable))
                .map(|_| table(Setting::EMPTY))
                .transpose()?,
            wavelengths: wavelengths_nm.len(),
            frame_rad,
            lower_polar: given(Some(low), QuantityKind::Azimuth),
            analyzer: given(Some(analyzer), QuantityKind::Azimuth),
            stray_fraction: given(None, QuantityKind::StrayFraction),
            is_circular: path.is_circular(),
            transmittances: k1.into_iter().zip(k2).collect(),
        })
    }

    fn nodes(&self) -> usize {
        self.crossed.nodes() + self.empty.as_ref().map_or(0, NodeTable::nodes)
    }

    fn reach(&self, values: &[f64]) -> bool {
        self.crossed.reaches(values)
    }

    fn light(&self, values: &[f64], luminous: &[f64], work: &mut Work) {
        let Work {
            light,
            sums,
            crossed,
            empty,
        } = work;
        self.crossed.beams(values, sums, crossed);
        let empty = match &self.empty {
            Some(table) => {
                table.beams(values, sums, empty);
                &*empty
            }
            None => &*crossed,
        };
        let parallel_rad = if self.is_circular {
            self.brightest_rad(empty, luminous)
        } else {
            self.lower_polar.at(values) - self.frame_rad
        };
        let crossed_rad = self.analyzer.at(values) - self.frame_rad;
        self.behind_analyzer(empty, parallel_rad, &mut light.parallel);
        self.behind_analyzer(crossed, crossed_rad, &mut light.crossed);
        let stray_fraction = self.stray_fraction.at(values);
        for (crossed, parallel) in light.crossed.iter_mut().zip(&light.parallel) {
            *crossed += stray_fraction * parallel;
        }
    }

    /// Azimuth at which the analyzer passes most, in the tables' frame.
    fn brightest_rad(&self, beams: &[Beam], luminous: &[f64]) -> f64 {
        let (mut s1, mut s2) = (0.0, 0.0);
        for (wavelength, weight) in luminous.iter().enumerate().take(self.wavelengths) {
            let (block, lane) = (wavelength / LANES, wavelength % LANES);
            let light = beams[block].coherency(lane);
            s1 += weight * (light.xx - light.yy);
            s2 += weight * 2.0 * light.xy_re;
        }
        0.5 * math::atan2(s2, s1)
    }

    /// Transmittance behind the analyzer at an azimuth in the tables' frame.
    fn behind_analyzer(&self, beams: &[Beam], azimuth_rad: f64, out: &mut Vec<f64>) {
        let (sin, cos) = math::sincos(azimuth_rad);
        let (along, across, both) = (cos * cos, sin * sin, 2.0 * sin * cos);
        out.clear();
        for (Beam([xx, yy, xy, _]), (k1, k2)) in beams.iter().zip(&self.transmittances) {
            let mut light = [0.0; LANES];
            for (lane, light) in light.iter_mut().enumerate() {
                let turned = both * xy[lane];
                *light = k1[lane] * (along * xx[lane] + across * yy[lane] + turned)
                    + k2[lane] * (across * xx[lane] + along * yy[lane] - turned);
            }
            out.extend(light);
        }
        out.truncate(self.wavelengths);
    }
}
