//! Exposures that the camera tells, and pictures whose exposures are told in different ways.

use super::made::{Made, disc, files, pair, png_of};
use super::tests::{CIRCLE, SIZE, error_of, even, ratios, zones_of};
use super::*;

#[test]
fn exif_tells_the_exposure() {
    // 1/50 s, ISO 400, f/2: 0.02 x 4 / 4; and 1/25 s, ISO 200, f/2: the same light.
    let with = |time: (u32, u32), iso: Option<u16>, f_number: (u32, u32), level: f64| {
        let samples: Vec<u8> = (Made::new(SIZE, 1, |x, y, _| level * disc(x, y, CIRCLE))
            .counts()
            .iter())
        .flat_map(|count| count.to_be_bytes())
        .collect();
        let exif = exif_of(time, iso, f_number);
        png_of(
            SIZE,
            png::ColorType::Grayscale,
            png::BitDepth::Sixteen,
            &samples,
            Some(&exif),
        )
    };
    let mut pictures = pair();
    pictures.crossed[0].exposure_s = None;
    pictures.parallel[0].exposure_s = None;
    let crossed = with((1, 10), Some(400), (2, 1), 0.4);
    let both = files([
        ("crossed", crossed.clone()),
        ("parallel", with((1, 20), Some(100), (4, 1), 0.4)),
    ]);
    let picture = zones_of(&pictures, &both);
    // Exposures 0.1 and 0.003125: 32 times the light per exposure.
    for ratio in ratios(&picture, 0) {
        approx::assert_relative_eq!(ratio, 32.0, max_relative = 1e-9);
    }
    // A lens that is not told to the camera: 0/0, in both pictures.
    let both = files([
        ("crossed", with((1, 10), None, (0, 0), 0.4)),
        ("parallel", with((1, 20), None, (0, 0), 0.4)),
    ]);
    approx::assert_relative_eq!(
        ratios(&zones_of(&pictures, &both), 0)[7],
        2.0,
        max_relative = 1e-9
    );
    // In one of them only, or told by hand in one of them only.
    let mixed = files([
        ("crossed", crossed),
        ("parallel", with((1, 20), Some(100), (0, 0), 0.4)),
    ]);
    let error = error_of(&pictures, &mixed);
    assert!(matches!(
        error.problem(),
        PhotographProblem::MixedExposures { .. }
    ));
    assert_eq!(error.picture(), Some("parallel"));
    pictures.crossed[0].exposure_s = Some(1.0);
    assert!(matches!(
        error_of(&pictures, &mixed).problem(),
        PhotographProblem::MixedExposures { .. }
    ));
    let none = files([
        ("crossed", even(0.1, 1).png()),
        ("parallel", even(0.8, 1).png()),
    ]);
    assert_eq!(
        error_of(&pictures, &none).problem(),
        &PhotographProblem::NoExposure
    );
}

/// EXIF of three fields, by hand: exposure time, sensitivity, f-number.
fn exif_of(time: (u32, u32), iso: Option<u16>, f_number: (u32, u32)) -> Vec<u8> {
    let mut fields: Vec<(u16, u16, [u8; 4])> = Vec::new();
    let count = if iso.is_some() { 3 } else { 2 };
    let values = 26 + 2 + 12 * count + 4;
    let long = |value: u32| value.to_be_bytes();
    fields.push((0x829a, 5, long(values)));
    fields.push((0x829d, 5, long(values + 8)));
    if let Some(iso) = iso {
        let [high, low] = iso.to_be_bytes();
        fields.push((0x8827, 3, [high, low, 0, 0]));
    }
    let mut bytes = b"MM\0\x2a\0\0\0\x08\0\x01\x87\x69\0\x04\0\0\0\x01\0\0\0\x1a\0\0\0\0".to_vec();
    bytes.extend((count as u16).to_be_bytes());
    for (tag, kind, value) in fields {
        bytes.extend(tag.to_be_bytes());
        bytes.extend(kind.to_be_bytes());
        bytes.extend(long(1));
        bytes.extend(value);
    }
    bytes.extend(long(0));
    for number in [time.0, time.1, f_number.0, f_number.1] {
        bytes.extend(long(number));
    }
    bytes
}
