//! Means over the aperture.

use polstack::light_path::{LightPath, PartKind, run};
use polstack::material::PolarizingSheet;
use polstack::optics::{Coating, RadialSlow, Rays, Strain};
use proptest::prelude::*;

use crate::common::close;
use crate::paths::{analyzer, lens, part, polarizer, sheet, slide, stack, uniform};
use crate::routes::everything;

fn mean(rays: &Rays, f: impl Fn(f64, f64) -> f64) -> f64 {
    (rays.iter())
        .map(|(ray, weight)| {
            let (sin, cos) = ray.azimuth_rad.sin_cos();
            weight * f(ray.s * cos, ray.s * sin)
        })
        .sum()
}

/// 1 x 3 x 5 ... up to n.
fn odd_factorial(n: i32) -> f64 {
    (1..=n).step_by(2).map(f64::from).product()
}

fn even_factorial(n: i32) -> f64 {
    (2..=n).step_by(2).map(f64::from).product()
}

/// Mean of `x^i y^j` over the unit disc: none for an odd power, else `2/(i+j+2)` for the radius times
/// `(i-1)!! (j-1)!! / (i+j)!!` for the azimuth.
fn moment(i: i32, j: i32) -> f64 {
    if i % 2 != 0 || j % 2 != 0 {
        return 0.0;
    }
    let angle = odd_factorial(i - 1) * odd_factorial(j - 1) / even_factorial(i + j);
    2.0 / f64::from(i + j + 2) * angle
}

proptest! {
    /// R rings carry `s^2` up to the power 2R - 1, S spokes every azimuthal order below S.
    #[test]
    fn monomials_are_exact_up_to_the_order_of_the_nodes(
        rings in 1usize..12, spokes in 1usize..48, degree in 0.0..1.0f64, share in 0.0..=1.0f64, na in 0.05..1.4f64,
    ) {
        // The first ring carries s^2 alone: with fewer spokes than that, only the first power.
        let most = (4 * rings - 1).min(spokes);
        let degree = (degree * most as f64) as i32;
        let i = (share * f64::from(degree)).round() as i32;
        let j = degree - i;
        let rays = Rays::disc(na, rings, spokes);
        prop_assert_eq!(rays.count(), rings * spokes);
        let got = mean(&rays, |x, y| (x / na).powi(i) * (y / na).powi(j));
        close(&format!("x^{i} y^{j}"), got, moment(i, j), 1e-14);
    }

    /// One order more is not: the first power of `s^2` that Gauss-Legendre misses, and the first azimuthal order that looks
    /// constant to the spokes.
    #[test]
    fn the_next_order_is_missed(rings in 1usize..5, spokes in 1i32..20) {
        let radial = mean(&Rays::disc(1.0, rings, 64), |x, y| x.hypot(y).powi(4 * rings as i32));
        prop_assert!((radial - 1.0 / (2 * rings + 1) as f64).abs() > 1e-6, "{}", radial);
        let around = mean(&Rays::disc(1.0, 20, spokes as usize), |x, y| {
            (f64::from(spokes) * y.atan2(x)).cos()
        });
        close("seen as constant", around, 1.0, 1e-12);
    }
}

/// Zernike's polynomial of degree n and azimuthal order m (sines for negative m), normalised to a mean square of 1.
fn zernike(n: i32, m: i32, x: f64, y: f64) -> f64 {
    let factorial = |k: i32| (1..=k).map(f64::from).product::<f64>();
    let (r, phi, order) = (x.hypot(y), y.atan2(x), m.abs());
    let radial: f64 = (0..=(n - order) / 2)
        .map(|k| {
            let sign = if k % 2 == 0 { 1.0 } else { -1.0 };
            let below =
                factorial(k) * factorial((n + order) / 2 - k) * factorial((n - order) / 2 - k);
            sign * factorial(n - k) / below * r.powi(n - 2 * k)
        })
        .sum();
    let turn = f64::from(order) * phi;
    let around = if m < 0 { turn.sin() } else { turn.cos() };
    let scale = if m == 0 { n + 1 } else { 2 * (n + 1) };
    f64::from(scale).sqrt() * radial * around
}

/// Products of degree 16 in all: five rings and seventeen spokes carry them.
#[test]
fn zernike_polynomials_are_orthonormal_over_the_rays() {
    let rays = Rays::disc(1.0, 5, 17);
    let all: Vec<(i32, i32)> = (0..=8)
        .flat_map(|n| (-n..=n).step_by(2).map(move |m| (n, m)))
        .collect();
    assert_eq!(all.len(), 45);
    for &(n1, m1) in &all {
        for &(n2, m2) in &all {
            let got = mean(&rays, |x, y| zernike(n1, m1, x, y) * zernike(n2, m2, x, y));
            let expected = f64::from(u8::from((n1, m1) == (n2, m2)));
            // Coefficients up to 70 and their cancellation.
            let quantity = format!("Z({n1},{m1}) Z({n2},{m2})");
            assert!((got - expected).abs() < 1e-12, "{quantity}: {got}");
        }
    }
}

fn microscope(na: f64, coating: Coating, below: Vec<Strain>, above: Vec<Strain>) -> LightPath {
    stack(
        na,
        vec![
            polarizer(dark_sheet(), 10.0),
            part(
                "condenser",
                PartKind::Condenser(lens(0.9, 6, coating, below)),
            ),
            slide(),
            part(
                "objective",
                PartKind::Objective(lens(na, 6, coating, above)),
            ),
            analyzer(dark_sheet(), 100.0),
        ],
    )
}

fn dark_sheet() -> PolarizingSheet {
    sheet(0.8, 1e-7)
}

fn clamp(contacts: u32, force_n: f64) -> Strain {
    Strain::Clamp {
        contacts,
        force_n,
        diameter_mm: 25.0,
        first_azimuth_rad: 0.3,
        stress_optic_brewster: 2.77,
    }
}

fn radial(edge_nm: f64) -> Strain {
    Strain::Radial {
        edge_nm,
        slow: RadialSlow::Tangential,
        along: polstack::optics::RadialAlong::Axis,
    }
}

/// Stacks from the tame to a clamp that presses on the very rim of the light.
fn zoo() -> Vec<(&'static str, LightPath)> {
    let bare = Coating::None;
    vec![
        ("bare surfaces", microscope(0.25, bare, vec![], vec![])),
        ("steep rays", microscope(0.85, bare, vec![], vec![])),
        (
            "coated surfaces",
            microscope(0.65, Coating::Mgf2, vec![], vec![]),
        ),
        (
            "moulded condenser",
            microscope(0.65, bare, vec![radial(600.0)], vec![]),
        ),
        (
            "clamped condenser",
            microscope(0.65, bare, vec![clamp(3, 20.0)], vec![]),
        ),
        (
            "clamp on the rim",
            microscope(0.65, bare, vec![], vec![clamp(2, 5.0)]),
        ),
        (
            "strain that cancels",
            microscope(
                0.65,
                Coating::Ideal,
                vec![uniform(5.0, 0.0)],
                vec![uniform(5.0, 90.0), radial(1.0)],
            ),
        ),
        ("everything, sheet below", everything(false)),
        ("everything, sheet above", everything(true)),
    ]
}

/// Where nothing is singular both kinds of rays give the same mean.
#[test]
fn rays_drawn_toward_contacts_agree_with_even_ones_on_a_smooth_pupil() {
    let path = microscope(
        0.65,
        Coating::Mgf2,
        vec![radial(60.0)],
        vec![uniform(4.0, 30.0)],
    );
    let light = |rays: &Rays| run::fields(&path, rays, &[420.0, 550.0], &[1.0; 2]).unwrap();
    let even = light(&Rays::disc(0.65, 16, 64));
    for points in [vec![0.3], vec![1.0, 2.0, 5.5]] {
        let drawn = light(&Rays::toward_points(0.65, &points, 0.02, 10));
        // The longest piece is half a turn of sin^2(2 phi): ten nodes are good to 1e-8.
        close("largest change", worst_change(&drawn, &even), 0.0, 1e-8);
    }
}

/// Like the run's own measure of change, but at wavelengths that the choice of the quadrature did not look at.
fn worst_change(a: &run::Fields, b: &run::Fields) -> f64 {
    let worst = |a: &[f64], b: &[f64]| {
        (a.iter().zip(b)).fold(0.0, |worst: f64, (a, b)| worst.max((a / b - 1.0).abs()))
    };
    let plates = (a.crossed_with_plate.as_ref()).zip(b.crossed_with_plate.as_ref());
    worst(&a.crossed, &b.crossed)
        .max(worst(&a.parallel, &b.parallel))
        .max(plates.map_or(0.0, |(a, b)| worst(a, b)))
}

/// Against rays several times finer. A strain map has kinks between its nodes, across which the error falls with the square of
/// the number of rays only; the stated error must hold there too.
#[test]
fn the_stated_quadrature_error_bounds_the_true_one() {
    let grid: Vec<f64> = (0..11).map(|k| 380.0 + 40.0 * f64::from(k)).collect();
    let luminous = vec![1.0; grid.len()];
    for (name, path) in zoo() {
        let fine = match path.contacts_near_rim() {
            Some((azimuths, gap)) => Rays::toward_points(path.na(), &azimuths, 0.1 * gap, 12),
            None => Rays::disc(path.na(), 48, 192),
        };
        let truth = run::fields(&path, &fine, &grid, &luminous).unwrap();
        for accuracy in [1e-2, 1e-4, 1e-6] {
            let quadrature = run::quadrature(&path, &grid, &luminous, accuracy).unwrap();
            let got = run::fields(&path, &quadrature.rays, &grid, &luminous).unwrap();
            let off = worst_change(&got, &truth);
            let bound = quadrature.error + 1e-12;
            let (rings, stated) = (quadrature.rays.ring.len(), quadrature.error);
            assert!(
                off <= bound,
                "{name}, accuracy {accuracy:e}: off by {off:e}, stated {stated:e}, {rings} rings"
            );
            assert!(stated <= accuracy || name == "clamp on the rim");
        }
    }
}
