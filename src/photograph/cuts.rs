//! Zones that are cut along stretches of rows, in several ways at once, against zones that are counted pixel by pixel.
#![allow(clippy::disallowed_methods, reason = "tests are no engine")]

use super::grid::zone_of;
use super::made::{Dice, Made, disc, fetch, files, pair, shot};
use super::tests::{CIRCLE, SIZE, error_of};
use super::*;

/// What a zone adds up to in one channel.
#[derive(Default, Clone)]
struct Plain {
    counted: usize,
    saturated: usize,
    sums: [f64; 2],
    pairs: f64,
    differences: [f64; 2],
}

/// Light with a slope, noise, and some pixels at full scale.
fn noisy(level: f64, channels: usize, seed: u64) -> Made {
    let mut dice = Dice(seed);
    let mut made = Made::new(SIZE, channels, |x, y, k| {
        let light = level * (1.0 + 0.003 * x - 0.002 * y) / (1.0 + k as f64);
        (0.001 + light) * disc(x, y, CIRCLE) + 0.001
    });
    for value in &mut made.values {
        let hot = dice.roll() > 0.497;
        *value = if hot {
            1.0
        } else {
            (*value + 0.002 * dice.normal()).max(1e-4)
        };
    }
    made
}

/// One channel's zones, one pixel after the other.
fn plainly(pictures: [&Made; 2], channel: usize, of: &ZonePicture) -> Vec<Plain> {
    let channels = pictures[0].channels;
    let counts = pictures.map(Made::counts);
    let rates = |pixel: usize| {
        let each = |of: &Vec<u16>| of[pixel * channels..(pixel + 1) * channels].to_vec();
        let both: Vec<Vec<u16>> = counts.iter().map(each).collect();
        let free = (both.iter().flatten()).all(|&count| f64::from(count) < 0.98 * 65535.0);
        free.then(|| [0, 1].map(|k| f64::from(both[k][channel]) / 65535.0))
    };
    let zone = |i: usize, j: usize| {
        let (x, y) = of.disc.normalized(i as f64 + 0.5, j as f64 + 0.5);
        zone_of(of.grid, x, y, of.orientation)
    };
    let mut all = vec![Plain::default(); of.grid.count()];
    for j in 0..SIZE.1 {
        for i in 0..SIZE.0 {
            let Some(number) = zone(i, j) else { continue };
            let Some(own) = rates(j * SIZE.0 + i) else {
                all[number].saturated += 1;
                continue;
            };
            let plain = &mut all[number];
            plain.counted += 1;
            for (sum, own) in plain.sums.iter_mut().zip(own) {
                *sum += own;
            }
            if i > 0
                && zone(i - 1, j) == Some(number)
                && let Some(left) = rates(j * SIZE.0 + i - 1)
            {
                plain.pairs += 1.0;
                for k in 0..2 {
                    plain.differences[k] += (own[k] - left[k]).powi(2);
                }
            }
        }
    }
    all
}

#[test]
fn zones_of_several_orientations_are_those_of_single_pixels() {
    for channels in [1, 3] {
        let (dark, bright) = (noisy(0.2, channels, 3), noisy(0.5, channels, 4));
        let with = files([("crossed", dark.png()), ("parallel", bright.png())]);
        // A whole disc, and one whose centre is a pixel's centre and that the picture's border cuts.
        for (x, y, radius) in [(118.43, 97.71, 80.2), (60.5, 150.5, 90.0)] {
            let mut pictures = pair();
            pictures.disc_error = 0.0;
            pictures.disc = Some(GivenDisc {
                center_x: x,
                center_y: y,
                radius,
            });
            let framed = frame(&pictures, &*fetch(&with)).unwrap();
            for (rings, sectors) in [(5, 16), (1, 1), (3, 7), (20, 64)] {
                let grid = ZoneGrid::new(rings, sectors).unwrap();
                let orientations = [(false, 0.0), (true, 0.3), (false, -2.0)]
                    .map(|(flip, turn_rad)| Orientation { flip, turn_rad });
                for of in framed.zones_of(grid, &orientations) {
                    for channel in 0..channels {
                        let plain = plainly([&dark, &bright], channel, &of);
                        for (zone, plain) in of.zones.iter().zip(plain) {
                            compare(zone, channel, &plain);
                        }
                    }
                }
            }
        }
    }
}

fn compare(zone: &SeenZone, channel: usize, plain: &Plain) {
    assert_eq!(
        (zone.counted, zone.saturated),
        (plain.counted, plain.saturated)
    );
    if plain.counted == 0 {
        return;
    }
    let of = zone.channels[channel];
    let count = plain.counted as f64;
    let means = plain.sums.map(|sum| sum / count);
    approx::assert_relative_eq!(of.crossed, means[0], max_relative = 1e-12);
    approx::assert_relative_eq!(of.parallel, means[1], max_relative = 1e-12);
    if let (Ok(reading), true) = (of.reading, plain.pairs > 0.0) {
        let relative =
            |k: usize| 0.5 * plain.differences[k] / plain.pairs / (count * means[k].powi(2));
        let error = (relative(0) + relative(1)).sqrt();
        approx::assert_relative_eq!(reading.relative_error, error, max_relative = 1e-9);
    }
}

#[test]
fn pictures_beyond_the_memory_are_refused_before_they_are_read() {
    // Only the header is there: two exposures of 63 megapixels in colour, of which sums are kept.
    let header = super::made::png_of(
        (32, 32),
        png::ColorType::Rgb,
        png::BitDepth::Sixteen,
        &[0; 32 * 32 * 6],
        None,
    );
    let mut large = header.clone();
    large[16..24].copy_from_slice(&[0, 0, 0x1f, 0x00, 0, 0, 0x1f, 0x00]);
    let sum = crc(&large[12..29]).to_be_bytes();
    large[29..33].copy_from_slice(&sum);
    let with = files([("a", large.clone()), ("b", large)]);
    let shots = || vec![shot("a", 1.0), shot("b", 2.0)];
    let error = error_of(&Pictures::new(shots(), shots()), &with);
    assert_eq!(error.picture(), Some("a"));
    let PhotographProblem::TooMuchMemory { bytes } = error.problem() else {
        panic!("{error}");
    };
    assert!((940_000_000..1_000_000_000).contains(bytes), "{bytes}");
}

/// The checksum of a PNG's chunk.
fn crc(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0u32, |sum, byte| {
        (0..8).fold(sum ^ u32::from(*byte), |sum, _| {
            (sum >> 1) ^ if sum & 1 == 1 { 0xedb8_8320 } else { 0 }
        })
    })
}
