//! Circles and ellipses through points, some of which are wrong.

use nalgebra::{SMatrix, SVector};

use crate::math::{atan2, cos, sin};

/// An ellipse: the points `d` from its centre with `d' M d = 1`, `M` being symmetric. Pixels; y downward.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::photograph) struct Oval {
    pub(super) center_x: f64,
    pub(super) center_y: f64,
    xx: f64,
    xy: f64,
    yy: f64,
}

/// Steps of the fit; each comes much nearer than the one before.
const STEPS: usize = 30;

/// A point further away than so many standard deviations has no say (Tukey's biweight; 95 % efficient where errors are normal).
const NO_SAY: f64 = 4.685;

/// From the median of the distances to their standard deviation, where errors are normal.
const MEDIAN_TO_DEVIATION: f64 = 1.4826;

/// The least standard deviation of an edge point, pixels.
const LEAST_DEVIATION: f64 = 0.1;

/// The fewest points that a fit takes.
const FEWEST: usize = 12;

impl Oval {
    pub(super) fn circle(center_x: f64, center_y: f64, radius: f64) -> Self {
        let square = 1.0 / (radius * radius);
        Self {
            center_x,
            center_y,
            xx: square,
            xy: 0.0,
            yy: square,
        }
    }

    /// Pixels: the radius of the circle of the same mean curvature.
    pub(super) fn radius(&self) -> f64 {
        (2.0 / (self.xx + self.yy)).sqrt()
    }

    /// How many times as far from the centre as the edge a point lies.
    fn reach(&self, (x, y): (f64, f64)) -> f64 {
        let (dx, dy) = (x - self.center_x, y - self.center_y);
        let square = self.xx * dx * dx + 2.0 * self.xy * dx * dy + self.yy * dy * dy;
        square.max(0.0).sqrt()
    }

    /// How far outside the edge a point lies, pixels.
    pub(super) fn distance(&self, point: (f64, f64)) -> f64 {
        (self.reach(point) - 1.0) * self.radius()
    }

    /// The point of the edge in a direction.
    pub(super) fn edge(&self, angle: f64) -> (f64, f64) {
        let (dx, dy) = (cos(angle), sin(angle));
        let reach = self.reach((self.center_x + dx, self.center_y + dy));
        (self.center_x + dx / reach, self.center_y + dy / reach)
    }

    /// Half of the long and of the short axis, pixels, and the long axis's azimuth, counter-clockwise as seen, from 0 to pi.
    pub(super) fn axes(&self) -> Option<(f64, f64, f64)> {
        if self.xx == self.yy && self.xy == 0.0 {
            let radius = self.radius();
            return (radius.is_finite()).then_some((radius, radius, 0.0));
        }
        let mean = 0.5 * (self.xx + self.yy);
        // Upward instead of downward turns the sign of the mixed term.
        let (u, v) = (0.5 * (self.xx - self.yy), -self.xy);
        let half = (u * u + v * v).sqrt();
        let (long, short) = (1.0 / (mean - half).sqrt(), 1.0 / (mean + half).sqrt());
        // The form is largest along the short axis.
        let azimuth = 0.5 * (atan2(v, u) + std::f64::consts::PI);
        let azimuth = azimuth.rem_euclid(std::f64::consts::PI);
        (long.is_finite() && short > 0.0).then_some((long, short, azimuth))
    }
}

/// The circle through three of the points from which half of all points lie least far.
pub(super) fn least_median_circle(points: &[(f64, f64)]) -> Option<Oval> {
    let count = points.len();
    if count < FEWEST {
        return None;
    }
    let steps = [
        (count / 3, 2 * count / 3),
        (count / 4, count / 2),
        (count / 6, count / 3),
    ];
    let mut best: Option<(f64, Oval)> = None;
    for first in 0..count {
        for (second, third) in steps {
            let at = |offset: usize| points.get((first + offset) % count).copied();
            let Some(oval) = circle_through(at(0)?, at(second)?, at(third)?) else {
                continue;
            };
            let off = median_distance(points, &oval);
            if best.is_none_or(|(least, _)| off < least) {
                best = Some((off, oval));
            }
        }
    }
    best.map(|(_, oval)| oval)
}

/// The circle through three points.
fn circle_through(a: (f64, f64), b: (f64, f64), c: (f64, f64)) -> Option<Oval> {
    let (bx, by) = (b.0 - a.0, b.1 - a.1);
    let (cx, cy) = (c.0 - a.0, c.1 - a.1);
    let twice = 2.0 * (bx * cy - by * cx);
    let (bb, cc) = (bx * bx + by * by, cx * cx + cy * cy);
    let (x, y) = ((cy * bb - by * cc) / twice, (bx * cc - cx * bb) / twice);
    let radius = (x * x + y * y).sqrt();
    (radius.is_finite() && radius > 0.0).then(|| Oval::circle(a.0 + x, a.1 + y, radius))
}

fn median_distance(points: &[(f64, f64)], oval: &Oval) -> f64 {
    let mut off: Vec<f64> = (points.iter())
        .map(|&point| oval.distance(point).abs())
        .collect();
    let middle = off.len() / 2;
    if off.is_empty() {
        return 0.0;
    }
    *off.select_nth_unstable_by(middle, f64::total_cmp).1
}

/// The circle or ellipse through points, from a first one. Points far away have no say.
pub(super) fn robust(points: &[(f64, f64)], first: Oval, as_ellipse: bool) -> Option<Oval> {
    if points.len() < FEWEST {
        return None;
    }
    let mut oval = if as_ellipse {
        first
    } else {
        Oval::circle(first.center_x, first.center_y, first.radius())
    };
    for _ in 0..STEPS {
        let deviation = MEDIAN_TO_DEVIATION * median_distance(points, &oval);
        let next = better(points, oval, deviation.max(LEAST_DEVIATION), as_ellipse)?;
        let moved = (next.center_x - oval.center_x).abs()
            + (next.center_y - oval.center_y).abs()
            + (next.radius() - oval.radius()).abs();
        oval = next;
        if moved < 1e-6 {
            break;
        }
    }
    oval.axes().map(|_| oval)
}

/// One step of Gauss and Newton. The unknowns are the centre and the size (and, of an ellipse, its two shapes) in units of the radius.
fn better(points: &[(f64, f64)], oval: Oval, deviation: f64, as_ellipse: bool) -> Option<Oval> {
    let radius = oval.radius();
    let mut normal = SMatrix::<f64, 5, 5>::zeros();
    let mut right = SVector::<f64, 5>::zeros();
    for &point in points {
        let reach = oval.reach(point);
        let off = reach - 1.0;
        let far = off * radius / (NO_SAY * deviation);
        if far.abs() >= 1.0 || reach < 0.1 {
            continue;
        }
        let weight = (1.0 - far * far) * (1.0 - far * far);
        let (dx, dy) = (point.0 - oval.center_x, point.1 - oval.center_y);
        let (u, v) = (dx / radius, dy / radius);
        let gradient = SVector::<f64, 5>::from([
            -(oval.xx * dx + oval.xy * dy) * radius / reach,
            -(oval.xy * dx + oval.yy * dy) * radius / reach,
            0.5 * (u * u + v * v) / reach,
            if as_ellipse {
                0.5 * (u * u - v * v) / reach
            } else {
                0.0
            },
            if as_ellipse { u * v / reach } else { 0.0 },
        ]);
        normal += weight * gradient * gradient.transpose();
        right -= weight * off * gradient;
    }
    if !as_ellipse {
        normal[(3, 3)] = 1.0;
        normal[(4, 4)] = 1.0;
    }
    let change = normal.cholesky()?.solve(&right);
    let [x, y, size, straight, slanted] = *change.as_ref();
    let square = 1.0 / (radius * radius);
    let next = Oval {
        center_x: oval.center_x + x * radius,
        center_y: oval.center_y + y * radius,
        xx: oval.xx + (size + straight) * square,
        xy: oval.xy + slanted * square,
        yy: oval.yy + (size - straight) * square,
    };
    (next.xx > 0.0 && next.yy > 0.0 && next.xx * next.yy > next.xy * next.xy).then_some(next)
}
