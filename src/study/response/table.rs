//! Light at the nodes of some axes, and its sum for given values.

use pulp::{Arch, Simd, WithSimd};

use super::axis::Axis;
use super::beam::{Beam, LANES, Lanes};
use super::retardance::Retardance;
use crate::light_path::{Chain, LightPath, PartKind, PathError, Setting, run};
use crate::math;
use crate::optics::{LinearElement, Rays};
use crate::study::quantity::Quantity;

/// A path with the rays and wavelengths that it is run for.
#[derive(Debug, Clone, Copy)]
pub(super) struct NodeJob<'a> {
    pub(super) path: &'a LightPath,
    pub(super) quantities: &'a [Quantity],
    pub(super) rays: &'a Rays,
    pub(super) wavelengths_nm: &'a [f64],
}

/// Light in front of the analyzer in one setting, in a frame turned to `frame_rad`.
#[derive(Debug, Clone)]
pub(super) struct NodeTable {
    axes: Vec<Axis>,
    /// `[block of wavelengths][node]`; the last axis changes fastest.
    data: Vec<Beam>,
    blocks: usize,
    /// The retarders behind the last part that tells rays apart, when one of them is varied; otherwise they are in `data`.
    train: Vec<Retardance>,
    frame_rad: f64,
}

impl NodeTable {
    /// Of a path with polars, the analyzer at index `analyzer`.
    pub(super) fn new(
        job: NodeJob,
        axes: &[Axis],
        setting: Setting,
        analyzer: usize,
        frame_rad: f64,
    ) -> Result<Self, PathError> {
        let NodeJob {
            path,
            quantities,
            wavelengths_nm,
            ..
        } = job;
        let is_in = |part: usize| match path.parts[part].kind {
            PartKind::Plate(_) => setting.plates,
            PartKind::Specimen(_) => setting.specimens,
            _ => true,
        };
        let axes: Vec<Axis> = (axes.iter())
            .filter(|axis| is_in(axis.part))
            .cloned()
            .collect();
        let alike_from = run::alike_from(path, analyzer);
        let train: Vec<Retardance> = (alike_from..analyzer)
            .filter(|&part| is_in(part))
            .filter_map(|part| {
                Retardance::of(path, quantities, part, None, wavelengths_nm).transpose()
            })
            .collect::<Result<_, _>>()?;
        let blocks = wavelengths_nm.len().div_ceil(LANES);
        let mut table = Self {
            data: at_nodes(job, &axes, alike_from, setting, frame_rad)?,
            axes,
            blocks,
            train,
            frame_rad,
        };
        table.solve();
        if !table.train.iter().any(Retardance::is_varied) {
            let nodes = table.nodes();
            let train = std::mem::take(&mut table.train);
            cross(&train, &[], frame_rad, nodes, &mut table.data);
        }
        Ok(table)
    }

    /// From light at the nodes to light that weights multiply, axis by axis.
    fn solve(&mut self) {
        let nodes = self.nodes();
        let mut inner = nodes;
        let mut column = Vec::new();
        for axis in &self.axes {
            let count = axis.nodes();
            let outer = inner;
            inner /= count;
            for (block, here) in self.data.chunks_exact_mut(nodes).enumerate() {
                for stretch in here.chunks_exact_mut(outer) {
                    for first in 0..inner {
                        column.clear();
                        column.extend(stretch[first..].iter().step_by(inner));
                        axis.solve(block, &mut column);
                        let places = stretch[first..].iter_mut().step_by(inner);
                        for (place, solved) in places.zip(&column) {
                            *place = *solved;
                        }
                    }
                }
            }
        }
    }

    /// Combinations of nodes.
    pub(super) fn nodes(&self) -> usize {
        self.data.len() / self.blocks
    }

    /// Whether the sums hold at these values.
    pub(super) fn reaches(&self, values: &[f64]) -> bool {
        self.axes.iter().all(|axis| axis.reaches(values))
    }

    /// The light at these values, a block of wavelengths each.
    pub(super) fn beams(&self, values: &[f64], sums: &mut NodeSums, out: &mut Vec<Beam>) {
        sums.weights.resize_with(self.axes.len(), Vec::new);
        sums.partial.resize_with(self.axes.len(), Vec::new);
        out.clear();
        Arch::new().dispatch(Sum {
            table: self,
            values,
            sums,
            out,
        });
        cross(&self.train, values, self.frame_rad, 1, out);
    }
}

/// What the sums of a table are made in, kept from one to the next.
#[derive(Debug, Clone, Default)]
pub(super) struct NodeSums {
    /// Of each axis: `[block][node]`.
    weights: Vec<Vec<Lanes>>,
    /// Of each axis: what is left once it and those behind it are summed.
    partial: Vec<Vec<Beam>>,
}

/// Sums a table block by block, the last axis first. Each number is summed in one order, whatever the width of the vectors.
struct Sum<'a> {
    table: &'a NodeTable,
    values: &'a [f64],
    sums: &'a mut NodeSums,
    out: &'a mut Vec<Beam>,
}

impl WithSimd for Sum<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Self {
            table,
            values,
            sums,
            out,
        } = self;
        for (axis, weights) in table.axes.iter().zip(&mut sums.weights) {
            axis.weights(simd, values, table.blocks, weights);
        }
        let nodes = table.nodes();
        for (block, data) in table.data.chunks_exact(nodes).enumerate() {
            for (number, axis) in table.axes.iter().enumerate().rev() {
                let count = axis.nodes();
                let weights = &sums.weights[number][block * count..][..count];
                let (here, behind) = sums.partial.split_at_mut(number + 1);
                let from = behind.first().map_or(data, Vec::as_slice);
                contract(from, weights, &mut here[number]);
            }
            out.push(sums.partial.first().map_or(data[0], |whole| whole[0]));
        }
    }
}

#[inline(always)]
fn contract(from: &[Beam], weights: &[Lanes], to: &mut Vec<Beam>) {
    to.clear();
    for beams in from.chunks_exact(weights.len()) {
        let mut sum = Beam::default();
        for (beam, weight) in beams.iter().zip(weights) {
            for (sum, number) in sum.0.iter_mut().zip(&beam.0) {
                for ((sum, number), weight) in sum.iter_mut().zip(number).zip(weight) {
                    *sum += weight * number;
                }
            }
        }
        to.push(sum);
    }
}

/// Light at every node of the axes behind the parts before `end`.
fn at_nodes(
    job: NodeJob,
    axes: &[Axis],
    end: usize,
    setting: Setting,
    frame_rad: f64,
) -> Result<Vec<Beam>, PathError> {
    let versions: Vec<Vec<LightPath>> = (0..end)
        .map(|part| {
            let own: Vec<&Axis> = axes.iter().filter(|axis| axis.part == part).collect();
            versions(job.path, &own)
        })
        .collect();
    let parts: Vec<_> = (versions.iter().enumerate())
        .map(|(part, versions)| (part, versions.iter().map(Some).collect()))
        .collect();
    let nodes: usize = versions.iter().map(Vec::len).product();
    let most = versions.iter().map(Vec::len).max().unwrap_or(1);
    let blocks = job.wavelengths_nm.len().div_ceil(LANES);
    let mut data = vec![Beam::default(); blocks * nodes];
    // Every version has tables of its own.
    let at_once = (run::at_once(job.rays) / most)
        .max(1)
        .next_multiple_of(LANES);
    for (chunk, wavelengths_nm) in job.wavelengths_nm.chunks(at_once).enumerate() {
        let chain = Chain::branching(
            job.path,
            &parts,
            setting,
            job.rays,
            wavelengths_nm,
            frame_rad,
        )?;
        for (node, spectrum) in chain.mean_coherency().into_iter().enumerate() {
            for (wavelength, light) in spectrum.into_iter().enumerate() {
                let block = (chunk * at_once + wavelength) / LANES;
                data[block * nodes + node].set(wavelength % LANES, light);
            }
        }
    }
    Ok(data)
}

/// The path at every combination of one part's nodes; the last axis changes fastest.
fn versions(path: &LightPath, axes: &[&Axis]) -> Vec<LightPath> {
    let mut versions = vec![path.clone()];
    for axis in axes {
        versions = (versions.iter())
            .flat_map(|version| {
                (0..axis.nodes()).map(|node| {
                    let mut version = version.clone();
                    axis.set_node(&mut version, node);
                    version
                })
            })
            .collect();
    }
    versions
}

/// Takes beams, `nodes` of them a block, through retarders that treat all rays alike.
fn cross(train: &[Retardance], values: &[f64], frame_rad: f64, nodes: usize, beams: &mut [Beam]) {
    for retarder in train {
        let (amount, azimuth) = (retarder.amount.at(values), retarder.azimuth.at(values));
        for (block, beams) in beams.chunks_exact_mut(nodes).enumerate() {
            for lane in 0..LANES {
                let k = retarder.half_wavenumber[block][lane];
                let along = math::cis(k * amount);
                let element = LinearElement {
                    azimuth_rad: azimuth - frame_rad,
                    along,
                    across: along.conj(),
                };
                let jones = element.jones();
                for beam in &mut *beams {
                    beam.set(lane, beam.coherency(lane).through(&jones));
                }
            }
        }
    }
}
