//! Discs whose place is known.
#![allow(clippy::disallowed_methods, reason = "tests are no engine")]

use super::super::made::{Dice, step};
use super::*;

/// Light over a picture.
fn grey((width, height): (usize, usize), light: impl Fn(f64, f64) -> f64) -> Grey {
    let pixels =
        (0..width * height).map(|at| ((at % width) as f64 + 0.5, (at / width) as f64 + 0.5));
    let values = pixels.map(|(x, y)| light(x, y) as f32).collect();
    Grey {
        width,
        height,
        values,
    }
}

/// A disc with half of its light at the edge, on a background of 2 %.
fn vignetted(x: f64, y: f64, (cx, cy, radius): (f64, f64, f64), blur: f64) -> f64 {
    let from = (x - cx).hypot(y - cy);
    0.02 + 0.9 * step((from - radius) / blur) * (1.0 - 0.5 * (from / radius).min(1.1).powi(2))
}

/// How far off, in radii: the centre and the radius.
fn off(found: &PictureDisc, (cx, cy, radius): (f64, f64, f64)) -> f64 {
    let center = (found.center_x - cx).hypot(found.center_y - cy);
    center.max((found.radius() - radius).abs()) / radius
}

#[track_caller]
fn within(picture: &Grey, truth: (f64, f64, f64), bound: f64) -> PictureDisc {
    let found = find(picture).unwrap();
    let off = off(&found, truth);
    assert!(off < bound, "{off} of the radius off: {found:?}");
    found
}

#[test]
fn clean_discs_are_found_to_three_thousandths() {
    let truths = [
        ((200, 150), (101.3, 74.8, 51.7)),
        ((64, 64), (31.2, 33.9, 17.4)),
        ((1400, 1000), (640.4, 515.6, 377.7)),
        ((900, 2500), (455.5, 1801.1, 330.2)),
        ((2600, 2600), (400.7, 2005.2, 35.3)),
    ];
    for (size, truth) in truths {
        within(
            &grey(size, |x, y| vignetted(x, y, truth, 1.0)),
            truth,
            0.003,
        );
        let (cx, cy, radius) = truth;
        let flat = |x: f64, y: f64| 0.8 * step((x - cx).hypot(y - cy) - radius);
        within(&grey(size, flat), truth, 0.003);
    }
}

#[test]
fn blurred_discs_are_found() {
    let truth = (512.2, 380.9, 301.5);
    within(
        &grey((1024, 768), |x, y| vignetted(x, y, truth, 6.0)),
        truth,
        0.005,
    );
}

#[test]
fn noise_dust_hot_pixels_and_vignetting_leave_one_percent() {
    for (seed, (size, truth)) in [
        ((1024, 768), (512.2, 380.9, 301.5)),
        ((400, 300), (180.2, 160.9, 101.5)),
        ((160, 120), (70.2, 60.9, 41.5)),
    ]
    .into_iter()
    .enumerate()
    {
        let mut picture = grey(size, |x, y| vignetted(x, y, truth, 2.0));
        let mut dice = Dice(seed as u64);
        let (cx, cy, radius) = truth;
        for spot in 0..12 {
            // Dust, some of it on the edge.
            let angle = f64::from(spot);
            let (x, y) = (
                cx + radius * angle.cos() * 0.97,
                cy + radius * angle.sin() * 0.97,
            );
            let width = picture.width;
            for (at, value) in picture.values.iter_mut().enumerate() {
                let from = ((at % width) as f64 - x).hypot((at / width) as f64 - y);
                if from < 0.04 * radius {
                    *value *= 0.2;
                }
            }
        }
        for value in &mut picture.values {
            *value += 0.05 * dice.normal() as f32;
            if dice.roll() > 0.499 {
                *value = 3.0;
            }
        }
        within(&picture, truth, 0.01);
    }
}

#[test]
fn discs_cut_by_the_border_are_found() {
    // The chord leaves a third of the area outside; then a corner does.
    for truth in [
        (79.5, 300.0, 300.0),
        (700.0, 520.3, 300.0),
        (860.0, 460.0, 270.0),
        (512.0, 384.0, 430.0),
    ] {
        let picture = grey((1024, 768), |x, y| vignetted(x, y, truth, 1.5));
        let found = within(&picture, truth, 0.003);
        assert!(found.edge_in_picture < 0.9);
    }
}

#[test]
fn saturated_specks_do_not_hide_the_disc() {
    let truth = (512.2, 380.9, 301.5);
    let picture = grey((1024, 768), |x, y| {
        let speck = if (x - 600.0).hypot(y - 300.0) < 6.0 {
            20.0
        } else {
            0.0
        };
        vignetted(x, y, truth, 1.0) + speck
    });
    within(&picture, truth, 0.003);
}

#[test]
fn an_ellipse_is_told_by_its_axes() {
    for degrees in [0.0, 30.0, 90.0, 135.0_f64] {
        let (sin, cos) = degrees.to_radians().sin_cos();
        let picture = grey((1024, 768), |x, y| {
            let (dx, dy) = (x - 500.3, 400.2 - y);
            let (along, across) = (dx * cos + dy * sin, dy * cos - dx * sin);
            0.7 * step(((along / 306.0).hypot(across / 300.0) - 1.0) * 303.0)
        });
        let found = find(&picture).unwrap();
        assert!((found.long_radius - 306.0).abs() < 0.5, "{found:?}");
        assert!((found.short_radius - 300.0).abs() < 0.5, "{found:?}");
        let turned = (found.azimuth_rad.to_degrees() - degrees + 90.0).rem_euclid(180.0) - 90.0;
        assert!(turned.abs() < 2.0, "{found:?}");
        // A point at the end of the long axis has a normalised distance of 1, in its own direction.
        let (x, y) = found.normalized(500.3 + 306.0 * cos, 400.2 - 306.0 * sin);
        assert!((x - cos).hypot(y - sin) < 0.003);
    }
}

#[test]
fn a_tilted_camera_is_refused() {
    for (long, short) in [(320.0, 300.0), (300.0, 340.0), (220.0, 300.0)] {
        let picture = grey((1024, 768), |x, y| {
            0.7 * step((((x - 500.0) / long).hypot((y - 390.0) / short) - 1.0) * short)
        });
        let Err(PhotographProblem::Tilted { percent }) = find(&picture) else {
            panic!("{:?}", find(&picture));
        };
        let truth = 100.0 * (long.max(short) / long.min(short) - 1.0);
        assert!((percent - truth).abs() < 0.5, "{percent} {truth}");
    }
}

#[test]
fn irises_with_blades_are_discs_and_squares_are_not() {
    let polygon = |blades: f64| {
        move |x: f64, y: f64| {
            let (dx, dy) = (x - 500.0, y - 390.0);
            let blade = std::f64::consts::TAU / blades;
            let angle = (dy.atan2(dx).rem_euclid(blade)) - 0.5 * blade;
            0.8 * step(dx.hypot(dy) * angle.cos() - 300.0)
        }
    };
    for blades in [9.0, 12.0, 16.0] {
        let found = find(&grey((1024, 768), polygon(blades))).unwrap();
        assert!((found.radius() / 300.0 - 1.0).abs() < 0.04, "{found:?}");
        assert!(
            (found.center_x - 500.0).hypot(found.center_y - 390.0) < 3.0,
            "{found:?}"
        );
    }
    for corners in [3.0, 4.0] {
        let error = find(&grey((1024, 768), polygon(corners)));
        assert_eq!(error, Err(PhotographProblem::DiscShape));
    }
}

#[test]
fn without_a_disc_there_is_an_error() {
    let mut dice = Dice(5);
    let mut noise = grey((300, 200), |_, _| 0.3);
    for value in &mut noise.values {
        *value += 0.1 * dice.normal() as f32;
    }
    let no_disc: [(&str, Grey); 5] = [
        ("dark", grey((300, 200), |_, _| 0.0)),
        ("bright", grey((300, 200), |_, _| 0.9)),
        ("noise", noise),
        ("a slope", grey((300, 200), |x, _| x / 300.0)),
        ("a bright half", grey((300, 200), |x, _| step(x - 120.0))),
    ];
    for (name, picture) in no_disc {
        let error = find(&picture).unwrap_err();
        let fits = matches!(
            error,
            PhotographProblem::NoDisc
                | PhotographProblem::DiscShape
                | PhotographProblem::DiscCut { .. }
        );
        assert!(fits, "{name}: {error:?}");
    }
}

#[test]
fn two_discs_are_refused() {
    let at = |x: f64, y: f64, cx: f64, radius: f64| step((x - cx).hypot(y - 200.0) - radius);
    let apart = grey((800, 400), |x, y| {
        at(x, y, 200.0, 120.0) + 0.8 * at(x, y, 580.0, 100.0)
    });
    assert!(matches!(find(&apart), Err(PhotographProblem::SeveralDiscs { share }) if share > 0.5));
    let touching = grey((800, 400), |x, y| {
        at(x, y, 200.0, 120.0).max(at(x, y, 400.0, 120.0))
    });
    assert_eq!(find(&touching), Err(PhotographProblem::DiscShape));
}

#[test]
fn small_discs_are_refused() {
    for radius in [5.0, 10.0, 13.0, 15.0] {
        let picture = grey((500, 400), |x, y| {
            step((x - 250.0).hypot(y - 200.0) - radius)
        });
        let Err(PhotographProblem::DiscTooSmall { radius: told }) = find(&picture) else {
            panic!("{radius}: {:?}", find(&picture));
        };
        assert!((told - radius).abs() < 1.0, "{told} {radius}");
    }
}

#[test]
fn a_disc_that_is_mostly_outside_is_refused() {
    let picture = grey((600, 400), |x, y| {
        step((x + 200.0).hypot(y - 200.0) - 250.0)
    });
    assert!(matches!(find(&picture), Err(PhotographProblem::DiscCut { share }) if share < 0.25));
}
