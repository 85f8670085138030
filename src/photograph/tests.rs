//! Pictures whose truth is known, from bytes to zones.
#![allow(clippy::disallowed_methods, reason = "tests are no engine")]

use super::made::{Dice, Made, disc, fetch, files, pair, shot};
use super::*;

pub(super) const SIZE: (usize, usize) = (240, 200);
pub(super) const CIRCLE: (f64, f64, f64) = (118.4, 97.7, 80.2);

pub(super) const GIVEN: GivenDisc = GivenDisc {
    center_x: CIRCLE.0,
    center_y: CIRCLE.1,
    radius: CIRCLE.2,
};

/// Parallel light of 0.8, and crossed light of so much, in the disc.
pub(super) fn even(level: f64, channels: usize) -> Made {
    Made::new(SIZE, channels, |x, y, k| {
        0.002 + level * disc(x, y, CIRCLE) / (1.0 + k as f64)
    })
}

pub(super) fn zones_of(
    pictures: &Pictures,
    with: &std::collections::BTreeMap<String, Vec<u8>>,
) -> ZonePicture {
    reduce(
        pictures,
        ZoneGrid::default(),
        Orientation::default(),
        &*fetch(with),
    )
    .unwrap()
}

pub(super) fn error_of(
    pictures: &Pictures,
    with: &std::collections::BTreeMap<String, Vec<u8>>,
) -> PhotographError {
    match frame(pictures, &*fetch(with)) {
        Ok(_) => panic!("taken"),
        Err(error) => error,
    }
}

#[track_caller]
pub(super) fn ratios(picture: &ZonePicture, channel: usize) -> Vec<f64> {
    (picture.zones.iter())
        .map(|zone| zone.channels[channel].reading.unwrap().ratio)
        .collect()
}

#[test]
fn every_format_gives_the_ratio() {
    let (crossed, parallel) = (even(0.05, 3), even(0.8, 3));
    for (name, of, accept_curves, bound) in [
        ("png", Made::png as fn(&Made) -> Vec<u8>, false, 0.001),
        ("tiff", Made::tiff, false, 0.001),
        ("float", Made::float_tiff, false, 1e-6),
    ] {
        let mut pictures = pair();
        pictures.accept_curves = accept_curves;
        pictures.disc = Some(GIVEN);
        let with = files([("crossed", of(&crossed)), ("parallel", of(&parallel))]);
        let picture = zones_of(&pictures, &with);
        assert_eq!(picture.channels, 3);
        for channel in 0..3 {
            let share = 1.0 + channel as f64;
            let truth = (0.002 + 0.8 / share) / (0.002 + 0.05 / share);
            for ratio in ratios(&picture, channel).into_iter().take(48) {
                assert!(
                    (ratio / truth - 1.0).abs() < bound,
                    "{name}: {ratio} {truth}"
                );
            }
        }
    }
}

#[test]
fn eight_bits_follow_the_srgb_curve() {
    // Counts 64 and 128 of 255 (IEC 61966-2-1, computed apart).
    let flat = |level: f64| Made::new(SIZE, 1, |_, _, _| level);
    let (crossed, parallel) = (flat(64.0 / 255.0), flat(128.0 / 255.0));
    let mut pictures = pair();
    pictures.disc = Some(GIVEN);
    for of in [Made::png8 as fn(&Made) -> Vec<u8>, Made::jpeg] {
        let with = files([("crossed", of(&crossed)), ("parallel", of(&parallel))]);
        pictures.accept_curves = false;
        assert_eq!(
            error_of(&pictures, &with).problem(),
            &PhotographProblem::Curve
        );
        pictures.accept_curves = true;
        let picture = zones_of(&pictures, &with);
        let channel = picture.zones[3].channels[0];
        approx::assert_relative_eq!(channel.crossed, 0.051_269_458_37, max_relative = 1e-6);
        approx::assert_relative_eq!(channel.parallel, 0.215_860_500_11, max_relative = 1e-6);
        assert!(picture.notes.iter().any(|note| note.contains("sRGB")));
        // Without noise the steps of the counts are the error: 0.29 of a step, 2.4 / 1.055 light^(1.4 / 2.4) / 255 of the light.
        let step = 2.4 / 1.055 * 0.051_269_458_f64.powf(1.4 / 2.4) / 255.0;
        let error = channel.reading.unwrap().relative_error;
        approx::assert_relative_eq!(error, 0.29 * step / 0.051_269_458, max_relative = 1e-3);
    }
}

#[test]
fn exposures_are_merged_without_their_saturated_pixels() {
    // Light grows from left to right; the long exposure is saturated where it is above 0.245.
    let light = |x: f64, _: f64, _: usize| 0.1003 + 0.002 * x;
    let exposed =
        |exposure: f64| Made::new(SIZE, 1, move |x, y, k| (light(x, y, k) * exposure).min(1.0));
    let with = files([
        ("c1", exposed(1.0).png()),
        ("c4", exposed(4.0).png()),
        ("p", exposed(0.5).png()),
    ]);
    let mut pictures = Pictures::new(vec![shot("c1", 1.0), shot("c4", 4.0)], vec![shot("p", 0.5)]);
    pictures.disc = Some(GIVEN);
    let picture = zones_of(&pictures, &with);
    for (zone, shown) in picture.zones.iter().enumerate() {
        let channel = shown.channels[0];
        assert_eq!(shown.saturated, 0);
        assert!(
            (channel.reading.unwrap().ratio - 1.0).abs() < 2e-4,
            "{zone}: {channel:?}"
        );
    }
    let saturated = (0..240)
        .filter(|&i| light(f64::from(i) + 0.5, 0.0, 0) * 4.0 >= 0.98)
        .count();
    let said = format!("{} pixels of c4 are saturated.", saturated * 200);
    assert!(picture.notes.contains(&said), "{said} {:?}", picture.notes);
    // The long one alone: half of the disc is left out.
    pictures.crossed.remove(0);
    let picture = zones_of(&pictures, &with);
    let out = picture
        .zones
        .iter()
        .filter(|zone| zone.channels[0].reading.is_err())
        .count();
    assert!((60..=76).contains(&out), "{out}");
    assert!(picture.zones[76].saturated > 100);
}

#[test]
fn dark_counts_are_taken_away_from_every_exposure() {
    let dark = 500.0 / 65535.0;
    let flat = |level: f64| Made::new(SIZE, 1, move |_, _, _| level + dark).png();
    let with = files([("c1", flat(0.01)), ("c2", flat(0.02)), ("p", flat(0.4))]);
    let mut pictures = Pictures::new(vec![shot("c1", 1.0), shot("c2", 2.0)], vec![shot("p", 1.0)]);
    pictures.disc = Some(GIVEN);
    pictures.dark_counts = 500.0;
    let channel = zones_of(&pictures, &with).zones[5].channels[0];
    // To half a count of 65535 in 1966.
    assert!((channel.crossed / 0.01 - 1.0).abs() < 1e-3, "{channel:?}");
    assert!(
        (channel.reading.unwrap().ratio / 40.0 - 1.0).abs() < 1e-3,
        "{channel:?}"
    );
    pictures.dark_counts = 2000.0;
    let picture = zones_of(&pictures, &with);
    assert_eq!(picture.zones[5].channels[0].reading, Err(LeftOut::NoLight));
    assert!(
        picture
            .notes
            .iter()
            .any(|note| note == "No zone could be read.")
    );
}

#[test]
fn twelve_bits_at_the_top_of_sixteen_have_steps_of_sixteen_counts() {
    let made = |level: f64, step: f64| {
        let mut made = even(level, 1);
        for value in &mut made.values {
            *value = (*value * 65535.0 / step).round() * step / 65535.0;
        }
        made
    };
    // No noise: what is left of the error is the step.
    let error = |step: f64| {
        let (crossed, parallel) = (made(0.003, step), made(0.7, step));
        let with = files([("crossed", crossed.png()), ("parallel", parallel.png())]);
        let mut pictures = pair();
        pictures.disc = Some(GIVEN);
        pictures.disc_error = 0.0;
        let picture = zones_of(&pictures, &with);
        let channel = picture.zones[20].channels[0];
        let reading = channel.reading.unwrap();
        reading.relative_error * channel.crossed * 65535.0
    };
    approx::assert_relative_eq!(error(16.0), 0.29 * 16.0, max_relative = 0.01);
    approx::assert_relative_eq!(error(1.0), 0.29, max_relative = 0.01);
}

#[test]
fn what_a_disc_elsewhere_would_show_is_told() {
    let sloping = Made::new(SIZE, 1, |x, y, _| {
        (0.05 + 0.2 * (x - CIRCLE.0) / CIRCLE.2).max(0.004) * disc(x, y, CIRCLE)
    });
    let with = files([("crossed", sloping.png()), ("parallel", even(0.7, 1).png())]);
    let reading = |disc_error: f64| {
        let mut pictures = pair();
        pictures.disc = Some(GIVEN);
        pictures.disc_error = disc_error;
        let zone = &zones_of(&pictures, &with).zones[48];
        zone.channels[0].reading.unwrap()
    };
    // At 0.77 of the radius to the East the light is 0.2: it grows by 0.2 / 0.2 of itself to the radius.
    let (exact, framed) = (reading(0.0), reading(0.02));
    let [right, down, larger] = framed.framing;
    assert!((-0.025..-0.015).contains(&right), "{right}");
    assert!(down.abs() < 0.003, "{down}");
    // The zone goes out by 0.77 of what the radius grows by.
    assert!((larger / right - 0.77).abs() < 0.1, "{larger}");
    assert_eq!(exact.framing, [0.0; 3]);
    // 250 pixels: the border is off by 0.29 / 4 pixels, of 80 to the radius.
    let border = (framed.relative_error.powi(2) - exact.relative_error.powi(2)).sqrt();
    assert!((0.0006..0.0012).contains(&border), "{border}");
}

#[test]
fn means_are_those_of_plain_sums() {
    let mut dice = Dice(11);
    let mut noisy = |level: f64| {
        let mut made = even(level, 3);
        for value in &mut made.values {
            *value += 0.01 * level * dice.normal();
        }
        made
    };
    let (crossed, parallel) = (noisy(0.03), noisy(0.7));
    let mut pictures = pair();
    pictures.disc = Some(GIVEN);
    pictures.disc_error = 0.0;
    let with = files([("crossed", crossed.tiff()), ("parallel", parallel.png())]);
    let picture = zones_of(&pictures, &with);
    // Zone 37 (ring 2, sector 5) once more, pixel by pixel.
    let (mut pixels, mut sums) = (0, [0.0; 2]);
    let (mut pairs, mut squares) = (0, [0.0; 2]);
    let mut before: Option<(usize, [f64; 2])> = None;
    let (c, p) = (crossed.counts(), parallel.counts());
    for at in 0..SIZE.0 * SIZE.1 {
        let (x, y) = ((at % SIZE.0) as f64 + 0.5, (at / SIZE.0) as f64 + 0.5);
        let (u, v) = ((x - CIRCLE.0) / CIRCLE.2, (CIRCLE.1 - y) / CIRCLE.2);
        let azimuth = v.atan2(u).rem_euclid(std::f64::consts::TAU).to_degrees();
        let w = (u * u + v * v) / 0.98 / 0.98;
        if (0.4..0.6).contains(&w) && (112.5..135.0).contains(&azimuth) {
            let values = [&c, &p].map(|counts| f64::from(counts[3 * at + 1]) / 65535.0);
            pixels += 1;
            for k in 0..2 {
                sums[k] += values[k];
            }
            if let Some((left, old)) = before
                && left + 1 == at
            {
                pairs += 1;
                for k in 0..2 {
                    squares[k] += (values[k] - old[k]).powi(2);
                }
            }
            before = Some((at, values));
        }
    }
    let zone = &picture.zones[37];
    let channel = zone.channels[1];
    let n = f64::from(pixels);
    assert_eq!(zone.counted, pixels as usize);
    approx::assert_relative_eq!(channel.crossed, sums[0] / n, max_relative = 1e-12);
    approx::assert_relative_eq!(channel.parallel, sums[1] / n, max_relative = 1e-12);
    let share = |k: usize| squares[k] / (2.0 * f64::from(pairs)) / n / (sums[k] / n).powi(2);
    let error = channel.reading.unwrap().relative_error;
    approx::assert_relative_eq!(error, (share(0) + share(1)).sqrt(), max_relative = 1e-9);
}

#[test]
fn the_error_is_how_far_zones_scatter() {
    let mut dice = Dice(3);
    let mut noisy = |level: f64| {
        let mut made = Made::new(SIZE, 1, |x, _, _| level * (1.0 + 0.002 * x));
        for value in &mut made.values {
            *value += 0.003 * dice.normal();
        }
        made.tiff()
    };
    let with = files([("crossed", noisy(0.05)), ("parallel", noisy(0.5))]);
    let mut pictures = pair();
    pictures.disc = Some(GIVEN);
    let picture = zones_of(&pictures, &with);
    let mut squares = 0.0;
    for zone in &picture.zones {
        let reading = zone.channels[0].reading.unwrap();
        squares += ((reading.ratio / 10.0 - 1.0) / reading.relative_error).powi(2);
    }
    // Of 80 squares of a standard normal variable the mean is 1 +- 0.16.
    assert!((squares / 80.0 - 1.0).abs() < 0.5, "{}", squares / 80.0);
}

#[test]
fn a_bright_spot_lands_in_its_zone() {
    // At 0.55 of the radius, 50 degrees counter-clockwise from the right as seen: up and to the right.
    let angle = 50.0_f64.to_radians();
    let (sx, sy) = (
        CIRCLE.0 + 0.55 * CIRCLE.2 * angle.cos(),
        CIRCLE.1 - 0.55 * CIRCLE.2 * angle.sin(),
    );
    let crossed = Made::new(SIZE, 1, |x, y, _| {
        let spot = if (x - sx).hypot(y - sy) < 5.0 {
            0.3
        } else {
            0.0
        };
        0.05 * disc(x, y, CIRCLE) + spot
    });
    let with = files([("crossed", crossed.png()), ("parallel", even(0.8, 1).png())]);
    let framed = frame(&pair(), &*fetch(&with)).unwrap();
    let grid = ZoneGrid::default();
    for (flip, turn_deg, azimuth_deg) in [
        (false, 0.0, 50.0),
        (true, 0.0, 130.0),
        (false, 100.0, 150.0),
        (true, 100.0, 230.0),
        (false, -90.0_f64, 320.0),
    ] {
        let turn_rad = turn_deg.to_radians();
        let picture = framed.zones(grid, Orientation { flip, turn_rad });
        let brightest = (0..grid.count())
            .max_by(|&a, &b| {
                let crossed = |zone: usize| picture.zones[zone].channels[0].crossed;
                crossed(a).total_cmp(&crossed(b))
            })
            .unwrap();
        // 0.55 of the radius: (0.55 / 0.98)^2 is 0.315, in ring 1.
        assert_eq!(
            brightest,
            16 + (azimuth_deg / 22.5) as usize,
            "{flip} {turn_deg}"
        );
    }
}

#[test]
fn black_and_missing_pixels_leave_zones_out() {
    let mut dice = Dice(1);
    let mut dark = even(0.0, 1);
    for value in &mut dark.values {
        *value = if dice.roll() > 0.3 {
            0.0
        } else {
            2.0 / 65535.0
        };
    }
    let with = files([("crossed", dark.png()), ("parallel", even(0.8, 1).png())]);
    let mut pictures = pair();
    let picture = zones_of(&pictures, &with);
    for zone in &picture.zones {
        let Err(LeftOut::TooDark { share }) = zone.channels[0].reading else {
            panic!("{zone:?}");
        };
        assert!((share - 0.2).abs() < 0.12, "{share}");
    }
    assert!(
        picture
            .notes
            .iter()
            .any(|note| note.starts_with("80 of 80") || note.starts_with("80 zones"))
    );
    // Half of the disc lies outside the picture.
    pictures.disc = Some(GivenDisc {
        center_x: 0.0,
        center_y: 100.0,
        radius: 80.0,
    });
    let picture = zones_of(&pictures, &with);
    let few = |zone: &SeenZone| {
        matches!(
            zone.channels[0].reading,
            Err(LeftOut::FewPixels { counted: 0, .. })
        )
    };
    assert_eq!(picture.zones.iter().filter(|zone| few(zone)).count(), 40);
    assert!(
        picture
            .notes
            .iter()
            .any(|note| note.contains("cuts the disc: 50 %")),
        "{:?}",
        picture.notes
    );
}

#[test]
fn a_given_disc_that_the_picture_contradicts_is_told_beside_the_one_that_is_found() {
    let with = files([
        ("crossed", even(0.2, 1).png()),
        ("parallel", even(0.8, 1).png()),
    ]);
    let said = |off: [f64; 3]| {
        let mut pictures = pair();
        pictures.disc = Some(GivenDisc {
            center_x: CIRCLE.0 + off[0] * CIRCLE.2,
            center_y: CIRCLE.1 + off[1] * CIRCLE.2,
            radius: CIRCLE.2 * (1.0 + off[2]),
        });
        let notes = zones_of(&pictures, &with).notes;
        (notes.into_iter()).find(|note| note.contains("is found elsewhere"))
    };
    // What a disc may be off, and nothing.
    for near in [
        [0.0; 3],
        [DISC_ERROR, -DISC_ERROR, 0.0],
        [0.0, 0.0, -DISC_ERROR],
    ] {
        assert_eq!(said(near), None, "{near:?}");
    }
    for far in [
        [0.05, 0.0, 0.0],
        [0.0, -0.05, 0.0],
        [0.0, 0.0, 0.04],
        [0.0, 0.0, -0.04],
    ] {
        let note = said(far).unwrap();
        let given = format!(
            "({:.1}, {:.1}",
            CIRCLE.0 + far[0] * CIRCLE.2,
            CIRCLE.1 + far[1] * CIRCLE.2
        );
        assert!(note.contains(&given.replace('(', "(centre ")), "{note}");
        assert!(
            note.contains("(centre 118.4, 97.7, radius 80.2 pixels)"),
            "{note}"
        );
    }
    // A picture without a disc contradicts nothing.
    let flat = Made::new(SIZE, 1, |_, _, _| 0.5).png();
    let with = files([("crossed", even(0.2, 1).png()), ("parallel", flat)]);
    let mut pictures = pair();
    pictures.disc = Some(GIVEN);
    let notes = zones_of(&pictures, &with).notes;
    assert!(
        !notes.iter().any(|note| note.contains("elsewhere")),
        "{notes:?}"
    );
}
