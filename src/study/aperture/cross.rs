//! The dark cross as one sees it, and the diameters worth looking along.

use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI};

use serde::Serialize;

use super::crystal::FigureLies;
use crate::math;
use crate::optics::Rays;
use crate::study::measures::NOTHING;
use crate::study::observer::CONTRAST;

/// A harmonic smaller than this fraction of the mean is none that an eye would see.
const NO_HARMONIC: f64 = 1e-2;

/// So far from where they are expected, over the disc's radius, the arms of a crystal's figure may have parted; a dark place farther away is a fringe.
const EXPECTED: f64 = 0.1;

/// How the dark cross stands.
///
/// Two dark arms along the polars cross on the axis. Where strain adds to the light in step with what lens surfaces and oblique sheets leave,
/// they part in the middle and bend into two curves, one to each side of the axis; where it adds out of step, they fill with light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cross {
    /// How far the arms have parted: the distance of the darkest place from the axis along [`Self::parted_rad`], over the disc's radius.
    /// 0 is a cross that is closed, 1 arms that have left the disc. The axis must be brighter than that place by [`CONTRAST`], or an eye
    /// would not see it.
    pub opening: f64,
    /// Azimuth of the diagonal on which the arms have parted, at 45 degrees to them, radians within 0 to pi; `None` while they have not.
    pub parted_rad: Option<f64>,
    /// How far the arms are filled with light: the darkest ray over the brightest one. 0 is a black cross, 1 none.
    pub filled: f64,
    /// How far the cross is turned against the lower polar, radians counter-clockwise, within +-45 degrees: where the fourth harmonic of
    /// the light around the axis, over the whole disc, is least. `None` where there is no such harmonic, and for the figure of two optic axes, whose arms
    /// bend away from the polars while fringes make the harmonic.
    pub turned_rad: Option<f64>,
}

impl Cross {
    /// From the luminance of rays evenly spaced over a disc, the axis among them; `None` where nothing leaks, and where there is no
    /// cross: the disc is of one brightness (within [`CONTRAST`]), or where its arms would meet, on either side of the axis, it is nearer to its brightest
    /// than to its darkest. There is none about the middle either where a crystal's figure lies off it. Of a figure of two optic axes the arms (isogyres) are
    /// rectangular hyperbolas through the places where the axes come out, along the polars far away: with those at the distance `m` from the middle and
    /// turned by `p` against the polars, the arms part by `m sqrt(|sin 2p|)`. Where they have not parted as far as that, within [`EXPECTED`], or it lies
    /// beyond the rim, what is dark is a fringe and no arm.
    ///
    /// Source of the hyperbolas: M. Born and E. Wolf, Principles of Optics, section 15.4, for small angles; from memory.
    ///
    /// Checked by: this file's unit tests and `tests/laws/aperture.rs`.
    pub(super) fn of(
        rays: &Rays,
        luminance: &[f64],
        lower_rad: f64,
        figure: FigureLies,
    ) -> Option<Self> {
        let two_axes = match figure {
            FigureLies::Centred => None,
            FigureLies::OffMiddle(_) => return None,
            FigureLies::TwoAxes {
                distance,
                azimuth_rad,
            } => Some((distance, math::sincos(2.0 * (azimuth_rad - lower_rad)).0)),
        };
        let brightest = luminance.iter().copied().fold(0.0, f64::max);
        let darkest = luminance.iter().copied().fold(f64::INFINITY, f64::min);
        if brightest <= NOTHING || brightest <= (1.0 + CONTRAST) * darkest {
            return None;
        }
        let (size, phase_rad) = harmonic(rays, luminance, 4.0);
        // Least where the wave is -1.
        let turned = (phase_rad + PI) / 4.0 - lower_rad;
        let turned_rad = (size > NO_HARMONIC && two_axes.is_none())
            .then(|| (turned + FRAC_PI_4).rem_euclid(FRAC_PI_2) - FRAC_PI_4);
        let parted = parted(rays, luminance, lower_rad + turned_rad.unwrap_or(0.0));
        if let Some((distance, sin)) = two_axes {
            let expected = distance * sin.abs().sqrt();
            let diagonal_rad = lower_rad + FRAC_PI_4 * sin.signum();
            let opened = match parted {
                Some(parted) if math::sincos(parted.azimuth_rad - diagonal_rad).0.abs() < 0.5 => {
                    parted.distance
                }
                Some(_) => -1.0,
                None => 0.0,
            };
            if expected > 1.0 || (opened - expected).abs() > EXPECTED {
                return None;
            }
        }
        let meeting = parted.map_or(luminance[0], |parted| parted.light);
        if meeting > 0.5 * (darkest + brightest) {
            return None;
        }
        Some(Self {
            opening: parted.map_or(0.0, |parted| parted.distance),
            parted_rad: parted.map(|parted| parted.azimuth_rad),
            filled: darkest / brightest,
            turned_rad,
        })
    }
}

/// A harmonic of the light around the axis over the whole disc: its size as a fraction of the mean, and its phase.
fn harmonic(rays: &Rays, luminance: &[f64], order: f64) -> (f64, f64) {
    let (mut mean, mut cos, mut sin) = (0.0, 0.0, 0.0);
    for ((ray, weight), light) in rays.iter().zip(luminance) {
        let (s, c) = math::sincos(order * ray.azimuth_rad);
        let light = weight * light;
        (mean, cos, sin) = (mean + light, cos + light * c, sin + light * s);
    }
    (2.0 * math::hypot(cos, sin) / mean, math::atan2(sin, cos))
}

/// Where the arms of a cross have parted.
#[derive(Clone, Copy)]
struct Parted {
    /// The diagonal, within 0 to pi.
    azimuth_rad: f64,
    /// How far from the axis, over the disc's radius.
    distance: f64,
    /// The luminance there, on the brighter side of the axis.
    light: f64,
}

/// The diagonal on which the arms of a cross have parted; `None` where they have not.
fn parted(rays: &Rays, luminance: &[f64], arm_rad: f64) -> Option<Parted> {
    let (size, phase_rad) = harmonic(rays, luminance, 2.0);
    // Arms have parted when one diagonal is darker than the other. One arm being darker than the other is no sign of it.
    let difference = size * math::sin(phase_rad - 2.0 * arm_rad);
    if difference.abs() <= NO_HARMONIC {
        return None;
    }
    let azimuth_rad = (arm_rad - FRAC_PI_4 * difference.signum()).rem_euclid(PI);
    let halves = halves(rays, luminance, azimuth_rad);
    let along: Vec<f64> = halves.iter().map(|[a, b]| 0.5 * (a + b)).collect();
    let (ring, least) = (along.iter().enumerate())
        .min_by(|a, b| a.1.total_cmp(b.1))
        .map(|(ring, light)| (ring, *light))?;
    if along[0] <= least * (1.0 + CONTRAST) {
        return None;
    }
    let last = along.len() - 1;
    // Between the rings: the vertex of the parabola through the darkest one and its neighbours.
    let off = match (ring.checked_sub(1).map(|k| along[k]), along.get(ring + 1)) {
        (Some(before), Some(after)) => {
            let bend = before - 2.0 * least + after;
            if bend > 0.0 {
                0.5 * (before - after) / bend
            } else {
                0.0
            }
        }
        _ => 0.0,
    };
    Some(Parted {
        azimuth_rad,
        distance: (ring as f64 + off) / last as f64,
        light: halves[ring][0].max(halves[ring][1]),
    })
}

/// Light along a diameter from the axis out, the mean of both its halves.
fn diameter(rays: &Rays, luminance: &[f64], azimuth_rad: f64) -> Vec<f64> {
    let halves = halves(rays, luminance, azimuth_rad);
    halves.into_iter().map(|[a, b]| 0.5 * (a + b)).collect()
}

/// Light along both halves of a diameter from the axis out, between the nearest spokes.
fn halves(rays: &Rays, luminance: &[f64], azimuth_rad: f64) -> Vec<[f64; 2]> {
    let spokes = rays.spoke_rad.len();
    let at = azimuth_rad.rem_euclid(2.0 * PI) / (2.0 * PI) * spokes as f64;
    let (first, on) = (at as usize, at.fract());
    (0..rays.ring.len())
        .map(|ring| {
            let light = |spoke: usize| luminance[ring * spokes + spoke % spokes];
            let half =
                |turn: usize| (1.0 - on) * light(first + turn) + on * light(first + turn + 1);
            [half(0), half(spokes / 2)]
        })
        .collect()
}

/// What the two diameters are along which light is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SectionsAlong {
    /// The dark direction of a cross and the bright one.
    DarkAndBright,
    /// There is no cross, or the diameter on which its arms have parted is the brighter one: two diameters, of which neither is dark.
    NoCross,
    /// The middle of a crystal's figure lies off that of the disc: the diameter through it, and the one at right angles.
    FigureMiddle,
    /// The same, but that diameter lies along a dark arm: the two halfway between the polars.
    BesideArms,
}

/// A diameter with less than this part of the light of one halfway between the polars lies along a dark arm.
const ALONG_ARM: f64 = 0.05;

/// The diameters worth looking along: the dark direction and the bright one, radians within 0 to pi. Where the middle of a crystal's figure lies off that of
/// the disc, it is the diameter through it, and the one at right angles; where that through it lies along a dark arm, the two halfway between the polars.
///
/// Where the arms of a cross have parted, the dark one is that on which they have, and the bright one is at right angles to it. Otherwise the
/// dark one is that arm, of the cross as it is turned, that has less light on it, and the bright one that of the two diagonals that has more.
/// Without a cross (`lower_rad` is `None` for circular polars) the arms are taken along East and North.
pub(super) fn directions_rad(
    rays: &Rays,
    luminance: &[f64],
    lower_rad: Option<f64>,
    figure: FigureLies,
) -> (SectionsAlong, [f64; 2]) {
    let on = |azimuth_rad: f64| -> f64 {
        let along = diameter(rays, luminance, azimuth_rad);
        // Each ring stands for as much of the disc as its radius.
        (rays.ring.iter().zip(along))
            .map(|(s, light)| s * light)
            .sum()
    };
    if let FigureLies::OffMiddle(off_rad) = figure {
        let through_rad = off_rad.rem_euclid(PI);
        if let Some(lower) = lower_rad {
            let halfway = [FRAC_PI_4, -FRAC_PI_4].map(|turn| (lower + turn).rem_euclid(PI));
            if on(through_rad) < ALONG_ARM * on(halfway[0]).max(on(halfway[1])) {
                return (SectionsAlong::BesideArms, halfway);
            }
        }
        let across_rad = (off_rad + FRAC_PI_2).rem_euclid(PI);
        return (SectionsAlong::FigureMiddle, [through_rad, across_rad]);
    }
    let cross = lower_rad.and_then(|lower| Cross::of(rays, luminance, lower, figure));
    if let Some(parted_rad) = cross.and_then(|cross| cross.parted_rad) {
        let bright_rad = (parted_rad + FRAC_PI_2).rem_euclid(PI);
        // Between the places where a crystal's two axes come out there may be more light than anywhere else.
        let along = match on(parted_rad) <= on(bright_rad) {
            true => SectionsAlong::DarkAndBright,
            false => SectionsAlong::NoCross,
        };
        return (along, [parted_rad, bright_rad]);
    }
    let turned = cross.and_then(|cross| cross.turned_rad);
    // Turned by less than a spoke it stands along the polars.
    let turned = turned.filter(|turn| turn.abs() > PI / rays.spoke_rad.len() as f64);
    let arm = lower_rad.unwrap_or(0.0) + turned.unwrap_or(0.0);
    // Equal but for rounding, the first of a pair is taken.
    let pair = |first: f64, sign: f64| {
        let second = first + FRAC_PI_2;
        let (a, b) = (sign * on(first), sign * on(second));
        let chosen = if b > a + 1e-9 * a.abs() {
            second
        } else {
            first
        };
        chosen.rem_euclid(PI)
    };
    let along = match cross {
        Some(_) => SectionsAlong::DarkAndBright,
        None => SectionsAlong::NoCross,
    };
    (along, [pair(arm, -1.0), pair(arm + FRAC_PI_4, 1.0)])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn disc(light: impl Fn(f64, f64) -> f64) -> (Rays, Vec<f64>) {
        let rays = Rays::even(0.6, 65, 256);
        let light = (rays.iter())
            .map(|(ray, _)| light(ray.s / 0.6, ray.azimuth_rad))
            .collect();
        (rays, light)
    }

    /// Surfaces leave `a r^2 sin 2(phi - t)` in amplitude, strain in step with it `b`, strain out of step `c` in light. In step, the arms pass
    /// the axis at `sqrt(b/a)`, on the diagonal where surfaces and strain are of opposite sign.
    #[test]
    fn arms_part_where_strain_undoes_what_surfaces_leave() {
        for (b, azimuth_deg) in [(0.04f64, 135.0), (0.3, 135.0), (-0.3, 45.0)] {
            let (rays, light) = disc(|r, phi| (r * r * math::sin(2.0 * phi) + b).powi(2) + 1e-4);
            let cross = Cross::of(&rays, &light, 0.0, FigureLies::Centred).unwrap();
            assert!(
                (cross.opening - b.abs().sqrt()).abs() < 2e-3,
                "{b}: {cross:?}"
            );
            let parted = cross.parted_rad.unwrap().to_degrees();
            assert!((parted - azimuth_deg).abs() < 1e-6, "{b}: {parted}");
            assert!(cross.turned_rad.unwrap().abs() < 1e-9);
            let (along, dark) = directions_rad(&rays, &light, Some(0.0), FigureLies::Centred);
            assert_eq!(along, SectionsAlong::DarkAndBright);
            let dark = dark.map(f64::to_degrees);
            assert!(
                (dark[0] - azimuth_deg).abs() < 1e-6
                    && (dark[1] + azimuth_deg - 180.0).abs() < 1e-6
            );
        }
        // More strain than surfaces: the arms have left the disc.
        let (rays, light) = disc(|r, phi| (r * r * math::sin(2.0 * phi) + 1.5).powi(2));
        assert_eq!(
            Cross::of(&rays, &light, 0.0, FigureLies::Centred)
                .unwrap()
                .opening,
            1.0
        );
    }

    #[test]
    fn a_cross_out_of_step_is_filled_and_stays_closed() {
        let (rays, light) = disc(|r, phi| 2.0 * (r * r * math::sin(2.0 * phi)).powi(2) + 3.0);
        let cross = Cross::of(&rays, &light, 0.0, FigureLies::Centred).unwrap();
        assert_eq!((cross.opening, cross.parted_rad), (0.0, None));
        assert!((cross.filled - 3.0 / 5.0).abs() < 1e-12, "{cross:?}");
    }

    #[test]
    fn a_turned_cross_is_turned_against_the_lower_polar() {
        for turn in [-0.7, -0.2, 0.3, 0.75] {
            let lower = 0.4;
            let (rays, light) =
                disc(|r, phi| (r * r * math::sin(2.0 * (phi - lower - turn))).powi(2) + 0.1);
            let cross = Cross::of(&rays, &light, lower, FigureLies::Centred).unwrap();
            assert!((cross.turned_rad.unwrap() - turn).abs() < 1e-9, "{turn}");
            let (_, [dark, bright]) =
                directions_rad(&rays, &light, Some(lower), FigureLies::Centred);
            let arm = ((dark - lower - turn) / FRAC_PI_2).rem_euclid(1.0);
            assert!(arm.min(1.0 - arm) < 1e-9, "{turn}: {dark}");
            let off = ((bright - dark) / FRAC_PI_2).rem_euclid(1.0);
            assert!((off - 0.5).abs() < 1e-9, "{turn}: {bright}");
        }
    }

    #[test]
    fn without_a_cross_there_is_nothing_to_measure() {
        let (rays, light) = disc(|_, _| 0.5);
        assert_eq!(Cross::of(&rays, &light, 0.0, FigureLies::Centred), None);
        // Fringes that are bright in the middle.
        let (rays, fringes) =
            disc(|r, phi| math::cos(6.0 * r * r * math::cos(2.0 * phi)).powi(2) + 0.05);
        assert_eq!(Cross::of(&rays, &fringes, 0.0, FigureLies::Centred), None);
        // Dark to one side of the axis only, and bright opposite to it.
        let (rays, one_side) = disc(|r, phi| {
            let (sin, cos) = math::sincos(phi);
            let off = (r * cos + 0.5).powi(2) + (r * sin - 0.5).powi(2);
            (4.0 * off).min(1.0)
        });
        assert_eq!(Cross::of(&rays, &one_side, 0.0, FigureLies::Centred), None);
        let (rays, _) = disc(|_, _| 0.5);
        let (along, directions) = directions_rad(&rays, &light, None, FigureLies::Centred);
        assert_eq!(along, SectionsAlong::NoCross);
        assert_eq!(directions, [0.0, FRAC_PI_4]);
        let (along, directions) =
            directions_rad(&rays, &light, Some(0.0), FigureLies::OffMiddle(-0.5));
        assert_eq!(along, SectionsAlong::FigureMiddle);
        assert_eq!(directions, [PI - 0.5, FRAC_PI_2 - 0.5]);
        let (rays, dark) = disc(|_, _| 0.0);
        assert_eq!(Cross::of(&rays, &dark, 0.0, FigureLies::Centred), None);
    }
}
