//! Every refusal: which picture is named, and what is said.
#![allow(clippy::disallowed_methods, reason = "tests are no engine")]

use super::made::{Made, fetch, files, pair, png_of, shot, tiff_of};
use super::tests::{GIVEN, error_of, even};
use super::*;

#[test]
fn pictures_that_do_not_belong_together_are_refused() {
    let small = Made::new((100, 200), 1, |_, _, _| 0.1);
    for (crossed, parallel, wanted) in [
        (
            small.png(),
            even(0.8, 1).png(),
            "240 x 200 pixels, where others have 100 x 200",
        ),
        (
            even(0.1, 3).png(),
            even(0.8, 1).png(),
            "1 colour channels, the first one 3",
        ),
    ] {
        let error = error_of(
            &pair(),
            &files([("crossed", crossed), ("parallel", parallel)]),
        );
        assert_eq!(error.picture(), Some("parallel"));
        assert!(error.to_string().contains(wanted), "{error}");
    }
    let with = files([
        ("a", even(0.1, 1).png()),
        ("b", even(0.1, 1).float_tiff()),
        ("p", even(0.8, 1).png()),
    ]);
    let pictures = Pictures::new(vec![shot("a", 1.0), shot("b", 2.0)], vec![shot("p", 1.0)]);
    let error = error_of(&pictures, &with);
    assert!(matches!(
        error.problem(),
        PhotographProblem::OtherDepth { .. }
    ));
    assert_eq!(error.picture(), Some("b"));
}

/// Of pictures of several lines the one that differs from most is blamed, whichever comes first; two of which each may be meant are left as they are.
#[test]
fn the_picture_of_another_size_is_blamed_itself() {
    let (small, usual) = (
        Made::new((100, 200), 1, |_, _, _| 0.1).png(),
        even(0.1, 1).png(),
    );
    let with = files([
        ("a", usual.clone()),
        ("odd", small),
        ("p", usual.clone()),
        ("b", usual),
        ("no picture", vec![1, 2, 3]),
    ]);
    let names = |names: &[&str]| {
        names
            .iter()
            .map(|name| (*name).to_owned())
            .collect::<Vec<_>>()
    };
    let all = names(&["a", "p", "odd", "b", "no picture", "missing"]);
    for line in [["odd", "p"], ["p", "odd"]] {
        let error = odd_picture(&names(&line), &all, &*fetch(&with)).unwrap();
        assert_eq!(error.picture(), Some("odd"));
        let wanted = "100 x 200 pixels, where others have 240 x 200";
        assert!(error.to_string().contains(wanted), "{error}");
    }
    let two = names(&["odd", "p"]);
    assert_eq!(odd_picture(&two, &two, &*fetch(&with)), None);
}

#[test]
fn every_kind_of_pixel_that_is_not_read_is_told() {
    use PhotographProblem as Problem;
    use tiff::encoder::colortype as kinds;
    let pixels = 40 * 40;
    let png =
        |color, depth, bytes: usize| png_of((40, 40), color, depth, &vec![7; pixels * bytes], None);
    let sixteen = png::BitDepth::Sixteen;
    let mut nan = vec![0.5_f32; pixels];
    nan[17] = f32::NAN;
    let mut opaque = [0x7fff, 0x7fff, 0x7fff, 0xffff_u16].repeat(pixels);
    let solid = tiff_of::<kinds::RGBA16>((40, 40), &opaque);
    opaque[4 * 33 + 3] = 0xfffe;
    let kind = |problem: &Problem| matches!(problem, Problem::Pixels { .. });
    type Fits = Box<dyn Fn(&Problem) -> bool>;
    let cases: Vec<(&str, Vec<u8>, Fits)> = vec![
        ("nothing", vec![], Box::new(|p| *p == Problem::NotAPicture)),
        (
            "text",
            b"not a picture".to_vec(),
            Box::new(|p| *p == Problem::NotAPicture),
        ),
        (
            "palette",
            png(png::ColorType::Indexed, png::BitDepth::Eight, 1),
            Box::new(kind),
        ),
        (
            "alpha",
            png(png::ColorType::Rgba, sixteen, 8),
            Box::new(|p| *p == Problem::NotOpaque),
        ),
        (
            "grey alpha",
            png(png::ColorType::GrayscaleAlpha, sixteen, 4),
            Box::new(|p| *p == Problem::NotOpaque),
        ),
        (
            "alpha in TIFF",
            tiff_of::<kinds::RGBA16>((40, 40), &opaque),
            Box::new(|p| *p == Problem::NotOpaque),
        ),
        (
            "CMYK",
            tiff_of::<kinds::CMYK16>((40, 40), &vec![9; 4 * pixels]),
            Box::new(kind),
        ),
        (
            "32-bit whole numbers",
            tiff_of::<kinds::Gray32>((40, 40), &vec![9; pixels]),
            Box::new(kind),
        ),
        (
            "signed",
            tiff_of::<kinds::GrayI16>((40, 40), &vec![9; pixels]),
            Box::new(kind),
        ),
        (
            "double",
            tiff_of::<kinds::Gray64Float>((40, 40), &vec![0.5; pixels]),
            Box::new(kind),
        ),
        (
            "NaN",
            tiff_of::<kinds::Gray32Float>((40, 40), &nan),
            Box::new(|p| *p == Problem::NotFinite),
        ),
        (
            "1 x 1",
            Made::new((1, 1), 1, |_, _, _| 0.5).png(),
            Box::new(|p| {
                *p == Problem::TooSmall {
                    width: 1,
                    height: 1,
                }
            }),
        ),
        (
            "narrow",
            Made::new((400, 31), 1, |_, _, _| 0.5).tiff(),
            Box::new(|p| {
                *p == Problem::TooSmall {
                    width: 400,
                    height: 31,
                }
            }),
        ),
    ];
    for (name, bytes, fits) in cases {
        let with = files([("crossed", bytes), ("parallel", even(0.8, 1).png())]);
        let mut pictures = pair();
        pictures.accept_curves = true;
        let error = error_of(&pictures, &with);
        assert!(fits(error.problem()), "{name}: {error:?}");
        assert_eq!(error.picture(), Some("crossed"), "{name}");
        assert!(error.to_string().starts_with("crossed: the "), "{error}");
    }
    // Opaque alpha is taken: the disc is what is missed.
    let with = files([("crossed", solid.clone()), ("parallel", solid)]);
    assert_eq!(error_of(&pair(), &with).problem(), &Problem::NoDisc);
}

#[test]
fn a_huge_picture_is_refused_by_its_header() {
    // The header of a PNG of 100000 x 100000 pixels, and nothing else.
    let mut header = b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR".to_vec();
    header.extend(100_000_u32.to_be_bytes());
    header.extend(100_000_u32.to_be_bytes());
    header.extend([16, 0, 0, 0, 0]);
    let mut crc = !0_u32;
    for byte in &header[12..] {
        crc ^= u32::from(*byte);
        for _ in 0..8 {
            crc = if crc & 1 == 1 {
                crc >> 1 ^ 0xedb8_8320
            } else {
                crc >> 1
            };
        }
    }
    header.extend((!crc).to_be_bytes());
    let with = files([("crossed", header), ("parallel", even(0.8, 1).png())]);
    let size = PhotographProblem::TooLarge {
        width: 100_000,
        height: 100_000,
    };
    assert_eq!(error_of(&pair(), &with).problem(), &size);
}

#[test]
fn numbers_out_of_range_are_refused() {
    let with = files([
        ("crossed", even(0.1, 1).png()),
        ("parallel", even(0.8, 1).png()),
    ]);
    let changes: [fn(&mut Pictures); 8] = [
        |of| of.dark_counts = -1.0,
        |of| of.dark_counts = f64::NAN,
        |of| of.saturation = 0.0,
        |of| of.saturation = 1.01,
        |of| of.crossed[0].exposure_s = Some(0.0),
        |of| of.crossed[0].exposure_s = Some(f64::INFINITY),
        |of| {
            of.disc = Some(GivenDisc {
                radius: 15.0,
                ..GIVEN
            })
        },
        |of| {
            of.disc = Some(GivenDisc {
                center_x: f64::NAN,
                ..GIVEN
            })
        },
    ];
    for (number, change) in changes.into_iter().enumerate() {
        let mut pictures = pair();
        change(&mut pictures);
        let error = error_of(&pictures, &with);
        assert!(
            matches!(error.problem(), PhotographProblem::OutOfRange { .. }),
            "{number}: {error}"
        );
    }
    let mut pictures = pair();
    pictures.disc = Some(GivenDisc {
        center_x: -90.0,
        ..GIVEN
    });
    assert_eq!(
        error_of(&pictures, &with).problem(),
        &PhotographProblem::DiscOutside
    );
    for count in [0, 17] {
        let pictures = Pictures::new(
            vec![shot("crossed", 1.0); count],
            vec![shot("parallel", 1.0)],
        );
        let setting = "crossed";
        assert_eq!(
            error_of(&pictures, &with).problem(),
            &PhotographProblem::PictureCount { setting, count }
        );
    }
    let mut pictures = pair();
    pictures.parallel[0].name = "missing".into();
    let error = error_of(&pictures, &with);
    assert_eq!(
        error.to_string(),
        "missing: the picture cannot be read: there is no such file; check the name, and that it may be read"
    );
    let mut pictures = pair();
    pictures.dark_counts = 3.0;
    let float = files([
        ("crossed", even(0.1, 1).float_tiff()),
        ("parallel", even(0.8, 1).png()),
    ]);
    assert_eq!(
        error_of(&pictures, &float).problem(),
        &PhotographProblem::DarkCounts
    );
}
