//! How the light depends on a number or two of one part.
//!
//! Light is linear in the coherency matrix and that is a quadratic form in a part's Jones matrix, so along each axis it is
//! a sum of a few known functions of the number times tabulated light. For some parts the sum is finite and exact:
//!
//! - a uniform retarder of path difference G at azimuth a is `c + i (p sigma_1 + q sigma_2)` with `c = cos(x)`,
//!   `(p, q) = sin(x) (cos, sin)(2 a)`, `x = pi G f/wavelength`: six products of `(c, p, q)`, whatever G and a;
//! - a sheet in collimated light: 1 and the sines and cosines of 2 a and 4 a, and of 2 a alone in unpolarized light.
//!
//! For the others nodes are added until the sum is as good as exact: Chebyshev points over the range of an amount or of a small
//! turn, equally spaced ones over the period of a large one.

use std::f64::consts::{FRAC_PI_4, FRAC_PI_8, PI};

use pulp::Simd;

use super::beam::{Beam, LANES, Lanes};
use super::retardance::Retardance;
use crate::light_path::{LightPath, PartKind, PathError, sin_cos_block};
use crate::math;
use crate::study::quantity::{Quantity, QuantityKind};

/// Numbers of nodes that are tried along an amount or an angle whose sum is not finite; odd, so that the middle is one.
const LADDER: [usize; 7] = [3, 5, 9, 13, 21, 35, 65];

/// Turns over less than this part of a period are treated like an amount.
const SMALL_TURN: f64 = 0.25;

/// One or two numbers of one part, and how the light depends on them.
#[derive(Debug, Clone)]
pub(super) struct Axis {
    pub(super) part: usize,
    pub(super) form: ResponseForm,
}

#[derive(Debug, Clone)]
pub(super) enum ResponseForm {
    Retarder {
        retardance: Retardance,
        /// The azimuth from which C and S are counted.
        from_rad: f64,
    },
    /// `nodes` equally spaced angles over a period.
    Turn {
        index: usize,
        quantity: Quantity,
        first_rad: f64,
        period_rad: f64,
        nodes: usize,
        /// Whether the sum is finite, and the nodes enough.
        exact: bool,
    },
    /// Chebyshev points from low to high, both included.
    Smooth {
        index: usize,
        quantity: Quantity,
        range: (f64, f64),
        nodes: usize,
    },
    /// Every whole number of a range.
    Count {
        index: usize,
        quantity: Quantity,
        first: f64,
        nodes: usize,
    },
}

/// The axes of every quantity that acts before part `end`, in the order of the parts; `None` when one cannot be tabulated.
/// A quantity that the path has not is no axis.
pub(super) fn axes(
    path: &LightPath,
    quantities: &[Quantity],
    ranges: &[(f64, f64)],
    end: usize,
    wavelengths_nm: &[f64],
) -> Result<Option<Vec<Axis>>, PathError> {
    let from_rad = path.polars().map_or(0.0, |(low, _)| low.azimuth_rad);
    let mut axes: Vec<Axis> = Vec::new();
    for (index, (&quantity, &range)) in quantities.iter().zip(ranges).enumerate() {
        let (Some(part), Some(written)) = (quantity.part, quantity.value(path)) else {
            continue;
        };
        if part >= end || quantities[index + 1..].contains(&quantity) {
            continue;
        }
        let profile = match quantity.kind {
            QuantityKind::StrainAmount { profile } | QuantityKind::StrainAzimuth { profile } => {
                Some(profile)
            }
            _ => None,
        };
        if let Some(retardance) = Retardance::of(path, quantities, part, profile, wavelengths_nm)? {
            if !retardance.is_told_apart() {
                return Ok(None);
            }
            // Its other number may have come before.
            if !axes.iter().any(|axis| axis.is_of(&retardance)) {
                let form = ResponseForm::Retarder {
                    retardance,
                    from_rad,
                };
                axes.push(Axis { part, form });
            }
            continue;
        }
        if let Some(form) = ResponseForm::of(path, (index, quantity), part, written, range) {
            axes.push(Axis { part, form });
        }
    }
    axes.sort_by_key(|axis| axis.part);
    Ok(Some(axes))
}

impl ResponseForm {
    /// The axis of a number that does not belong to a uniform retarder; `None` where the number does not change the light.
    fn of(
        path: &LightPath,
        (index, quantity): (usize, Quantity),
        part: usize,
        written: f64,
        range: (f64, f64),
    ) -> Option<Self> {
        let smooth = Self::Smooth {
            index,
            quantity,
            range,
            nodes: if range.0 < range.1 { LADDER[0] } else { 1 },
        };
        let turn = |period_rad, nodes, exact| Self::Turn {
            index,
            quantity,
            first_rad: written,
            period_rad,
            nodes,
            exact,
        };
        let kind = &path.parts[part].kind;
        Some(match quantity.kind {
            QuantityKind::Azimuth
                if matches!(kind, PartKind::Polarizer(_)) && !path.is_oblique(part) =>
            {
                let first = part == 0 && path.lamp.degree_of_polarization() == 0.0;
                turn(PI, if first { 3 } else { 5 }, true)
            }
            QuantityKind::Azimuth | QuantityKind::StrainAzimuth { .. } => {
                let period_rad = period_rad(kind, quantity)?;
                if range.1 - range.0 < SMALL_TURN * period_rad {
                    smooth
                } else {
                    turn(period_rad, LADDER[0], false)
                }
            }
            QuantityKind::Surfaces => Self::Count {
                index,
                quantity,
                first: range.0.round().max(0.0),
                nodes: ((range.1.round() - range.0.round()) as usize).saturating_add(1),
            },
            _ => smooth,
        })
    }
}

/// The turn after which a part is what it was; `None` for a strain that turning does not change.
fn period_rad(kind: &PartKind, quantity: Quantity) -> Option<f64> {
    match (kind, quantity.kind) {
        (
            PartKind::Condenser(lens) | PartKind::Objective(lens),
            QuantityKind::StrainAzimuth { profile },
        ) => lens.strain.get(profile)?.period_rad(),
        _ => Some(PI),
    }
}

impl Axis {
    fn is_of(&self, retardance: &Retardance) -> bool {
        matches!(&self.form, ResponseForm::Retarder { retardance: own, .. } if own.amount_is == retardance.amount_is)
    }

    pub(super) fn nodes(&self) -> usize {
        match &self.form {
            ResponseForm::Retarder { retardance, .. } if retardance.azimuth.is_varied() => 6,
            ResponseForm::Retarder { .. } => 3,
            ResponseForm::Turn { nodes, .. }
            | ResponseForm::Smooth { nodes, .. }
            | ResponseForm::Count { nodes, .. } => *nodes,
        }
    }

    /// Sets the path to a node.
    pub(super) fn set_node(&self, path: &mut LightPath, node: usize) {
        match &self.form {
            ResponseForm::Retarder {
                retardance,
                from_rad,
            } => {
                let amount = retardance.node_nm() * [0.0, 1.0, -1.0, 1.0, -1.0, 1.0][node];
                retardance.amount_is.set(path, amount);
                if retardance.azimuth.is_varied() {
                    let turn = [0.0, 0.0, 0.0, FRAC_PI_4, FRAC_PI_4, FRAC_PI_8][node];
                    retardance.azimuth_is.set(path, from_rad + turn);
                }
            }
            ResponseForm::Turn {
                quantity,
                first_rad,
                period_rad,
                nodes,
                ..
            } => quantity.set(path, first_rad + period_rad * node as f64 / *nodes as f64),
            ResponseForm::Smooth {
                quantity,
                range,
                nodes,
                ..
            } => quantity.set(path, chebyshev(*range, *nodes, node)),
            ResponseForm::Count {
                quantity, first, ..
            } => quantity.set(path, first + node as f64),
        }
    }

    /// From light at the nodes to the light that the weights multiply. `block` is the block of wavelengths.
    pub(super) fn solve(&self, block: usize, at_nodes: &mut [Beam]) {
        let ResponseForm::Retarder { retardance, .. } = &self.form else {
            return;
        };
        let node_nm = retardance.node_nm();
        for lane in 0..LANES {
            let k = retardance.half_wavenumber[block][lane];
            let (s, c) = math::sincos(k * node_nm);
            for number in 0..4 {
                let f = |node: usize| at_nodes[node].0[number][lane];
                let t11 = f(0);
                let square = |node| (0.5 * (f(node) + f(node + 1)) - c * c * t11) / (s * s);
                let cross = |node| (f(node) - f(node + 1)) / (4.0 * c * s);
                let (t22, t12) = (square(1), cross(1));
                let solved = if at_nodes.len() == 3 {
                    [t11, t22, t12, 0.0, 0.0, 0.0]
                } else {
                    let (t33, t13) = (square(3), cross(3));
                    let rest =
                        c * c * t11 + 0.5 * s * s * (t22 + t33) + 2f64.sqrt() * c * s * (t12 + t13);
                    [t11, t22, t12, t33, t13, (f(5) - rest) / (s * s)]
                };
                for (node, solved) in at_nodes.iter_mut().zip(solved) {
                    node.0[number][lane] = solved;
                }
            }
        }
    }

    /// Whether the sum holds at these values.
    pub(super) fn reaches(&self, values: &[f64]) -> bool {
        match &self.form {
            ResponseForm::Retarder { retardance, .. } => retardance.reaches(values),
            ResponseForm::Turn { .. } => true,
            ResponseForm::Smooth { index, range, .. } => {
                (range.0..=range.1).contains(&values[*index])
            }
            ResponseForm::Count {
                index,
                first,
                nodes,
                ..
            } => {
                let count = values[*index].round();
                *first <= count && count < first + *nodes as f64
            }
        }
    }

    /// What each node's light is multiplied by, `[block][node]`.
    #[inline(always)]
    pub(super) fn weights<S: Simd>(
        &self,
        simd: S,
        values: &[f64],
        blocks: usize,
        out: &mut Vec<Lanes>,
    ) {
        out.clear();
        let nodes = self.nodes();
        match &self.form {
            ResponseForm::Retarder {
                retardance,
                from_rad,
            } => {
                let amount = retardance.amount.at(values);
                let (sin2, cos2) = math::sincos(2.0 * (retardance.azimuth.at(values) - from_rad));
                for numbers in &retardance.half_wavenumber {
                    let (sin, cos) = sin_cos_block(simd, &scaled(numbers, amount));
                    if nodes == 3 {
                        out.extend(products(&cos, &sin));
                        continue;
                    }
                    let (p, q) = (scaled(&sin, cos2), scaled(&sin, sin2));
                    let [cc, pp, cp] = products(&cos, &p);
                    let [_, qq, cq] = products(&cos, &q);
                    out.extend([cc, pp, cp, qq, cq, products(&p, &q)[2]]);
                }
            }
            ResponseForm::Turn {
                index,
                first_rad,
                period_rad,
                ..
            } => {
                let turn = PI * (values[*index] - first_rad) / period_rad;
                let pull = |node: usize| 1.0 / math::sin(turn - PI * node as f64 / nodes as f64);
                alike(nodes, blocks, pull, out);
            }
            ResponseForm::Smooth { index, range, .. } => {
                let ends = |node| {
                    if node == 0 || node + 1 == nodes {
                        0.5
                    } else {
                        1.0
                    }
                };
                let pull =
                    |node: usize| ends(node) / (values[*index] - chebyshev(*range, nodes, node));
                alike(nodes, blocks, pull, out);
            }
            ResponseForm::Count { index, first, .. } => {
                let at = (values[*index].round() - first) as usize;
                let pull = |node: usize| if node == at { f64::INFINITY } else { 1.0 };
                alike(nodes, blocks, pull, out);
            }
        }
    }

    /// Takes the next larger number of nodes; `false` when there is none, or the sum is exact with the nodes that it has.
    pub(super) fn refine(&mut self) -> bool {
        match &mut self.form {
            ResponseForm::Turn {
                nodes,
                exact: false,
                ..
            }
            | ResponseForm::Smooth { nodes, .. }
                if *nodes > 1 =>
            {
                let next = LADDER.iter().find(|&more| more > nodes);
                next.map(|&more| *nodes = more).is_some()
            }
            _ => false,
        }
    }

    /// Values of its quantity at which it is compared with direct runs, none on a node; none for an exact sum.
    pub(super) fn probes(&self) -> Option<(usize, Vec<f64>)> {
        const BETWEEN: [f64; 5] = [0.017, 0.23, 0.46, 0.71, 0.985];
        match &self.form {
            ResponseForm::Turn {
                index,
                exact: false,
                first_rad,
                period_rad,
                ..
            } => Some((*index, BETWEEN.map(|t| first_rad + t * period_rad).to_vec())),
            ResponseForm::Smooth {
                index,
                range: (low, high),
                nodes,
                ..
            } if *nodes > 1 => Some((*index, BETWEEN.map(|t| low + t * (high - low)).to_vec())),
            _ => None,
        }
    }
}

/// Weights that do not depend on the wavelength, by the barycentric formula: alternating signs times `pull`, divided by their
/// sum; at a node, where `pull` is infinite, that node alone. Rounding hurts neither near a node nor between nodes.
///
/// Source: J.-P. Berrut and L. N. Trefethen 2004, Barycentric Lagrange interpolation, equations 5.1 and 7.2 (from memory).
fn alike(nodes: usize, blocks: usize, pull: impl Fn(usize) -> f64, out: &mut Vec<Lanes>) {
    let (mut sum, mut hit) = (0.0, None);
    for node in 0..nodes {
        let pull = pull(node);
        let signed = if node.is_multiple_of(2) { pull } else { -pull };
        sum += signed;
        if pull.is_infinite() {
            hit = Some(node);
        }
        out.push([signed; LANES]);
    }
    for (node, weight) in out.iter_mut().enumerate() {
        *weight = match hit {
            Some(hit) => [f64::from(u8::from(node == hit)); LANES],
            None => weight.map(|weight| weight / sum),
        };
    }
    for _ in 1..blocks {
        out.extend_from_within(..nodes);
    }
}

/// Lane by lane `x y`.
#[inline(always)]
fn scaled(x: &Lanes, y: f64) -> Lanes {
    let mut product = *x;
    for x in &mut product {
        *x *= y;
    }
    product
}

/// Lane by lane `x^2`, `y^2`, `2 x y`.
#[inline(always)]
fn products(x: &Lanes, y: &Lanes) -> [Lanes; 3] {
    let mut all = [[0.0; LANES]; 3];
    for lane in 0..LANES {
        all[0][lane] = x[lane] * x[lane];
        all[1][lane] = y[lane] * y[lane];
        all[2][lane] = 2.0 * x[lane] * y[lane];
    }
    all
}

/// A Chebyshev point of the second kind, from the high end down; the middle of a single one.
fn chebyshev((low, high): (f64, f64), nodes: usize, node: usize) -> f64 {
    let (middle, half) = (0.5 * (low + high), 0.5 * (high - low));
    if nodes == 1 {
        return middle;
    }
    // As a sine, so that points lie symmetrically about the middle.
    let steps = (nodes - 1) as f64;
    middle + half * math::sin(0.5 * PI * (steps - 2.0 * node as f64) / steps)
}
