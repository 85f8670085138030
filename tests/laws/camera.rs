//! What a camera records that looks down the tube: pictures with a known truth.

use std::f64::consts::TAU;

use polstack::Scene;
use polstack::light_path::PartKind;
use polstack::optics::Rays;
use polstack::study::aperture::{
    Camera, CameraPicture, CameraStand, PictureFrame, PicturedPolars, light_of_rays,
};
use polstack::study::reading::BenchSetting;

fn scene(name: &str) -> Scene {
    let path = format!("scenarios/{name}.toml");
    polstack::scenario::read(path.as_ref()).unwrap().scene
}

fn without_noise(pixels: u32) -> Camera {
    Camera {
        pixels,
        noise: None,
        vignetting: 0.0,
        ..Camera::default()
    }
}

fn written_rad(scene: &Scene) -> f64 {
    scene.path.polars().unwrap().1.azimuth_rad
}

/// The analyzer 3.6 degrees off, and both polars turned.
fn settings(scene: &Scene) -> [BenchSetting; 3] {
    let plain = BenchSetting::default();
    [
        plain.clone(),
        BenchSetting {
            analyzer_rad: Some(written_rad(scene) + 3.6f64.to_radians()),
            ..plain.clone()
        },
        BenchSetting {
            polars_turned_rad: 0.4,
            ..plain
        },
    ]
}

/// Some zones of the aperture: distances from the axis and azimuths.
const ZONES: [[f64; 4]; 3] = [
    [0.0, 0.35, 0.0, TAU],
    [0.5, 0.7, 0.3, 1.1],
    [0.8, 0.98, 4.0, 4.8],
];

/// Mean over a zone of a picture, per exposure.
fn mean_of(picture: &CameraPicture, frame: &PictureFrame, zone: [f64; 4]) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0);
    for (place, pixel) in picture.counts.iter().enumerate() {
        let (row, column) = (place as u32 / picture.pixels, place as u32 % picture.pixels);
        let (r, azimuth) = frame.place(f64::from(column) + 0.5, f64::from(row) + 0.5);
        if (zone[0]..zone[1]).contains(&r) && (zone[2]..zone[3]).contains(&azimuth) {
            (sum, count) = (sum + f64::from(*pixel), count + 1.0);
        }
    }
    sum / count / picture.exposure
}

/// The model's own mean over a zone, from rays in it.
fn integral(scene: &Scene, zone: [f64; 4]) -> f64 {
    let (rings, spokes) = (40, 160);
    let part = |k: usize, of: usize| (k as f64 + 0.5) / of as f64;
    let (inner, outer) = (zone[0] * zone[0], zone[1] * zone[1]);
    let rays = Rays {
        ring: (0..rings)
            .map(|k| scene.path.na() * (inner + (outer - inner) * part(k, rings)).sqrt())
            .collect(),
        ring_weight: vec![1.0 / rings as f64; rings],
        spoke_rad: (0..spokes)
            .map(|k| zone[2] + (zone[3] - zone[2]) * part(k, spokes))
            .collect(),
        spoke_weight: vec![1.0 / spokes as f64; spokes],
        sectors: Vec::new(),
    };
    let light = light_of_rays(scene, &rays, false).unwrap();
    let weighted = rays.iter().zip(light);
    weighted.map(|((_, w), light)| w * light.luminance()).sum()
}

#[test]
fn zones_of_a_picture_have_the_light_that_the_model_says() {
    for name in ["pond-life", "leaking-stand"] {
        let scene = scene(name);
        let camera = without_noise(1024);
        let frame = camera.frame();
        let stand = CameraStand::new(&scene, camera).unwrap();
        for setting in settings(&scene) {
            let parallel = stand
                .picture(&setting, PicturedPolars::Parallel, 0)
                .unwrap();
            let crossed = stand.picture(&setting, PicturedPolars::AsSet, 1).unwrap();
            assert!(!crossed.too_dark && crossed.interpolation_off <= 1.0);
            let path = setting.of(&scene.path, written_rad(&scene)).unwrap();
            let crossed_scene = scene.with_path(path.clone());
            let mut path = path;
            let lower = path.polars().unwrap().0.azimuth_rad;
            let analyzer = path.analyzer().unwrap();
            if let PartKind::Analyzer(polar) = &mut path.parts[analyzer].kind {
                polar.azimuth_rad = lower;
            }
            path.stray_fraction = 0.0;
            let parallel_scene = scene.with_path(path);
            for zone in ZONES {
                let seen = mean_of(&parallel, &frame, zone) / mean_of(&crossed, &frame, zone);
                let told = integral(&parallel_scene, zone) / integral(&crossed_scene, zone);
                let off = seen / told - 1.0;
                assert!(off.abs() < 1e-3, "{name} {zone:?}: {seen} {told} {off:e}");
            }
        }
    }
}

/// The brightest thousandth of the disc begins at 80 % of full scale.
#[test]
fn each_picture_is_exposed_by_its_brightest_light() {
    let scene = scene("pond-life");
    let stand = CameraStand::new(&scene, without_noise(256)).unwrap();
    for setting in settings(&scene) {
        for polars in [PicturedPolars::Parallel, PicturedPolars::AsSet] {
            let picture = stand.picture(&setting, polars, 0).unwrap();
            let mut lit: Vec<u16> = picture.counts.into_iter().filter(|v| *v > 0).collect();
            lit.sort_unstable();
            let bright = f64::from(lit[(lit.len() - 1) * 999 / 1000]) / 65535.0;
            assert!((bright - 0.8).abs() < 1e-3, "{bright}");
        }
    }
}

/// Turned by 90 degrees, what was at a place of the picture stands a quarter turn clockwise from there; mirrored, on the other side.
#[test]
fn a_turned_and_mirrored_picture_is_the_same_seen_otherwise() {
    let scene = scene("leaking-stand");
    let [_, off, _] = settings(&scene);
    let side = 64;
    let picture = |turn_deg: f64, flip: bool| {
        let camera = Camera {
            turn_rad: turn_deg.to_radians(),
            flip,
            ..without_noise(side)
        };
        let stand = CameraStand::new(&scene, camera).unwrap();
        stand
            .picture(&off, PicturedPolars::AsSet, 0)
            .unwrap()
            .counts
    };
    let plain = picture(0.0, false);
    let side = side as usize;
    let at = |counts: &[u16], column: usize, row: usize| i32::from(counts[row * side + column]);
    let (mirrored, turned) = (picture(0.0, true), picture(90.0, false));
    let both = picture(90.0, true);
    let mut changed = 0;
    for row in 0..side {
        for column in 0..side {
            let one = at(&plain, column, row);
            let (far, other) = (side - 1 - column, side - 1 - row);
            assert!((at(&mirrored, far, row) - one).abs() <= 1);
            assert!((at(&turned, other, column) - one).abs() <= 1);
            // Mirrored first when it is read, so turned first when it is made.
            assert!((at(&both, row, column) - one).abs() <= 1);
            changed += i32::from((at(&turned, column, row) - one).abs() > 100);
        }
    }
    assert!(changed > 500, "the stand is the same all round: {changed}");
}

#[test]
fn a_picture_of_one_seed_is_the_same_on_any_number_of_threads() {
    let scene = scene("leaking-stand");
    let counts = |threads: usize, seed: u64, number: u32| {
        let mut camera = Camera {
            pixels: 96,
            ..Camera::default()
        };
        camera.noise.as_mut().unwrap().seed = seed;
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        pool.install(|| {
            let stand = CameraStand::new(&scene, camera).unwrap();
            let setting = BenchSetting::default();
            stand
                .picture(&setting, PicturedPolars::AsSet, number)
                .unwrap()
        })
    };
    let one = counts(1, 7, 3);
    assert_eq!(counts(3, 7, 3), one);
    assert_ne!(counts(1, 8, 3).counts, one.counts);
    assert_ne!(counts(1, 7, 4).counts, one.counts);
}

#[test]
fn a_camera_that_cannot_be_is_refused() {
    let scene = scene("pond-life");
    let bad = Camera {
        vignetting: 0.9,
        ..Camera::default()
    };
    let error = CameraStand::new(&scene, bad).unwrap_err().to_string();
    assert_eq!(error, "the camera's vignetting is 0.9; allowed: 0 to 0.8");
}
