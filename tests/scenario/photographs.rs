//! Spoiled pictures: none may make the program panic, and what is taken must be sound.

use polstack::optics::ZoneGrid;
use polstack::photograph::{Fetch, GivenDisc, Orientation, Pictures, Shot, ZonePicture, reduce};
use proptest::prelude::*;

#[allow(dead_code, reason = "the unit tests need more of it")]
#[path = "../../src/photograph/made.rs"]
mod made;

use made::{Made, disc, fetch, files, pair};

const CIRCLE: (f64, f64, f64) = (36.5, 30.2, 22.0);

/// Pictures that can be read, of each format.
fn sound(level: f64) -> Vec<Vec<u8>> {
    let of = |channels| {
        Made::new((75, 60), channels, |x, y, _| {
            0.01 + level * disc(x, y, CIRCLE) * (1.0 + 0.01 * (x * 7.0).sin())
        })
    };
    let (grey, color) = (of(1), of(3));
    vec![
        grey.png(),
        color.png(),
        grey.png8(),
        grey.tiff(),
        color.tiff(),
        grey.float_tiff(),
        grey.jpeg(),
        color.jpeg(),
    ]
}

/// Reads a picture as the crossed and as the parallel one; what comes out must be sound.
fn read(bytes: &[u8], exposure_s: Option<f64>, disc: Option<GivenDisc>) -> Option<ZonePicture> {
    let mut pictures = pair();
    pictures.accept_curves = true;
    pictures.disc = disc;
    pictures.crossed[0].exposure_s = exposure_s;
    pictures.parallel[0].exposure_s = exposure_s;
    let with = files([("crossed", bytes.to_vec()), ("parallel", bytes.to_vec())]);
    let grid = ZoneGrid::new(2, 4).unwrap();
    match reduce(&pictures, grid, Orientation::default(), &*fetch(&with)) {
        Ok(picture) => {
            for channel in picture.zones.iter().flat_map(|zone| &zone.channels) {
                assert!(channel.crossed.is_finite() && channel.parallel.is_finite());
                if let Ok(reading) = channel.reading {
                    assert_eq!(reading.ratio, 1.0);
                    assert!(reading.relative_error >= 0.0);
                }
            }
            Some(picture)
        }
        Err(error) => {
            assert!(!error.to_string().contains(char::is_control), "{error:?}");
            None
        }
    }
}

#[test]
fn sound_pictures_are_read() {
    for (number, bytes) in sound(0.8).iter().enumerate() {
        let picture = read(bytes, Some(1.0), None).unwrap();
        let found = picture.disc;
        let off = (found.center_x - CIRCLE.0).hypot(found.center_y - CIRCLE.1);
        // Squares of 8 pixels are all that the JPEG shows.
        // The curve moves the half of a blurred edge inward.
        let bound = [0.2, 0.2, 1.0, 0.2, 0.2, 0.2, 3.0, 3.0][number];
        assert!(
            off < bound && (found.radius() - CIRCLE.2).abs() < bound,
            "{number}: {found:?}"
        );
        assert!(
            picture
                .zones
                .iter()
                .all(|zone| zone.channels[0].reading.is_ok()),
            "{number}"
        );
    }
}

#[test]
fn a_picture_that_breaks_off_is_refused() {
    for (number, bytes) in sound(0.8).iter().enumerate() {
        for share in 0..40 {
            let length = bytes.len() * share / 40;
            assert!(
                read(&bytes[..length], Some(1.0), None).is_none(),
                "{number} at {length} of {}",
                bytes.len()
            );
        }
    }
}

/// How many cases: `POLSTACK_FUZZ_CASES`, or a few.
fn cases() -> u32 {
    let told = std::env::var("POLSTACK_FUZZ_CASES").ok();
    told.and_then(|told| told.parse().ok()).unwrap_or(400)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: cases(), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn random_bytes_do_not_panic(start in 0..6_usize, bytes in prop::collection::vec(any::<u8>(), 0..600)) {
        let starts: [&[u8]; 6] = [b"", b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR", b"II\x2a\0\x08\0\0\0", b"MM\0\x2a\0\0\0\x08", b"II\x2b\0\x08\0\0\0\x10\0\0\0\0\0\0\0", b"\xff\xd8\xff"];
        let bytes = [starts[start], &bytes].concat();
        prop_assert!(read(&bytes, Some(1.0), None).is_none());
        read(&bytes, None, None);
    }

    #[test]
    fn spoiled_pictures_do_not_panic(
        which in 0..8_usize,
        near_the_start in any::<bool>(),
        spoiled in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..12),
        cut in prop::option::of(any::<prop::sample::Index>()),
        given in any::<bool>(),
        exif in any::<bool>(),
    ) {
        let mut bytes = sound(0.8).swap_remove(which);
        for (place, byte) in spoiled {
            let reach = if near_the_start { bytes.len().min(200) } else { bytes.len() };
            let at = place.index(reach);
            // The directory of a TIFF stands at its end.
            let at = if near_the_start && (3..6).contains(&which) && at > 8 { bytes.len() - at } else { at };
            bytes[at] = byte;
        }
        if let Some(cut) = cut {
            let length = cut.index(bytes.len());
            bytes.truncate(length);
        }
        let disc = GivenDisc { center_x: 36.5, center_y: 30.2, radius: 22.0 };
        read(&bytes, (!exif).then_some(1.0), given.then_some(disc));
    }
}

#[test]
fn a_camera_is_read_and_what_is_wrong_with_one_is_told_with_its_place() {
    use polstack::scenario::parse_camera;
    use polstack::spectrum::Channel;
    let table = "# mine\nblue,green,red,nm\n0,1,0.5,400\n1,1,0.25,440\n";
    let camera = parse_camera(table, "camera.csv").unwrap();
    assert_eq!(camera.channel(Channel::Red).at(420.0), 0.375);
    assert_eq!(camera.channel(Channel::Blue).at(440.0), 1.0);
    for (table, words) in [
        ("", "is empty"),
        ("wavelength_nm,red,green,blue\n", "0 rows"),
        (
            "wavelength_nm;red;green;blue\n400;1;1;1\n",
            "separate columns by commas",
        ),
        (
            "wavelength_nm,red,green,blue\n400,1,1,1\n400,1,1,1\n",
            "each wavelength once",
        ),
        (
            "wavelength_nm,red,green,blue\n400,1,1,1\n500,1,1,1\n",
            "nothing between 400 and 500 nm",
        ),
        (
            "wavelength_nm,red,green,blue\n400,1,nan,1\n440,1,1,1\n",
            "camera.csv:2:7",
        ),
        (
            "wavelength_nm,red,green,blue\n400,0,1,1\n440,0,1,1\n",
            "red is 0 everywhere",
        ),
    ] {
        let said = parse_camera(table, "camera.csv").unwrap_err().render(false);
        assert!(said.contains(words), "{words}: {said}");
    }
}
