//! `polstack aperture --render`.

use std::fs;
use std::path::Path;

use crate::{polstack, scenario, text};

fn render(name: &str, folder: &Path, threads: &str, arguments: &[&str]) -> std::process::Output {
    (polstack().env("RAYON_NUM_THREADS", threads))
        .arg("aperture")
        .arg(scenario(name))
        .arg("--render")
        .arg(folder)
        .args(["--picture", "64"])
        .args(arguments)
        .output()
        .unwrap()
}

/// Width, height and counts of a picture.
fn counts(file: &Path) -> (u32, u32, Vec<u16>) {
    let mut reader = png::Decoder::new(fs::File::open(file).unwrap())
        .read_info()
        .unwrap();
    let mut bytes = vec![0; reader.output_buffer_size()];
    let info = reader.next_frame(&mut bytes).unwrap();
    let kind = (info.color_type, info.bit_depth);
    assert_eq!(kind, (png::ColorType::Grayscale, png::BitDepth::Sixteen));
    let counts = bytes
        .chunks_exact(2)
        .map(|pair| u16::from_be_bytes([pair[0], pair[1]]));
    (info.width, info.height, counts.collect())
}

#[test]
fn pictures_stand_beside_the_readings_that_name_them() {
    let root = tempfile::tempdir().unwrap();
    let folder = root.path().join("new/pictures");
    let arguments = [
        "--polars-turned",
        "0,-22.5",
        "--with-plate",
        "--bits",
        "12",
        "--dark-counts",
        "640",
        "--flip",
        "yes",
    ];
    let output = render("pond-life", &folder, "2", &arguments);
    assert!(output.status.success(), "{}", text(&output.stderr));
    let readings = fs::read_to_string(folder.join("readings.csv")).unwrap();
    let lines: Vec<&str> = readings.lines().collect();
    assert!(lines[0].starts_with('#'));
    let columns = "photo,photo_parallel,exposure_s,exposure_parallel_s,dark_counts,analyzer_deg,polars_turned_deg,in,note";
    assert_eq!(lines[1], columns);
    let starts = [
        "analyzer-90.png,parallel.png,",
        "analyzer-93.6.png,parallel.png,",
        "analyzer-86.4.png,parallel.png,",
        "turned--22.5.png,parallel-turned--22.5.png,",
        "plate-in.png,parallel.png,",
    ];
    assert_eq!(lines.len(), 2 + starts.len());
    for (line, start) in lines[2..].iter().zip(starts) {
        assert!(line.starts_with(start), "{line}");
        for name in start.trim_end_matches(',').split(',') {
            let (width, height, counts) = counts(&folder.join(name));
            assert_eq!((width, height), (64, 64));
            // Steps of 12 bits, spread over 16.
            let step = |count: &u16| (f64::from(*count) * 4095.0 / 65535.0).round();
            let spread = |count: &u16| (step(count) * 65535.0 / 4095.0).round() as u16;
            assert!(counts.iter().all(|count| spread(count) == *count));
            // The corners are beyond the disc: they hold what the camera adds.
            let corner = f64::from(counts[0]);
            assert!((corner - 640.0).abs() < 60.0, "{corner}");
        }
    }
    let readme = fs::read_to_string(folder.join("README.txt")).unwrap();
    for words in [
        "No camera took them",
        "12 bits",
        "20000 electrons",
        "dim the lamp",
        "mirror it left to right",
        "--flip yes",
    ] {
        assert!(readme.contains(words), "{words}: {readme}");
    }
    assert_eq!(readme.matches("\n- parallel.png").count(), 1, "{readme}");
}

#[test]
fn the_same_seed_writes_the_same_bytes_on_any_number_of_threads() {
    let root = tempfile::tempdir().unwrap();
    let [one, other, third] = ["one", "other", "third"].map(|name| root.path().join(name));
    let plain = polstack()
        .arg("aperture")
        .arg(scenario("pond-life"))
        .arg("--json")
        .output()
        .unwrap();
    let answer = render("pond-life", &one, "1", &["--json"]);
    // The answer is the same with pictures and without.
    assert_eq!(answer.stdout, plain.stdout);
    assert!(render("pond-life", &other, "2", &[]).status.success());
    assert!(
        render("pond-life", &third, "2", &["--seed", "2"])
            .status
            .success()
    );
    let mut files = 0;
    for file in fs::read_dir(&one).unwrap() {
        let name = file.unwrap().file_name();
        let bytes = fs::read(one.join(&name)).unwrap();
        assert_eq!(bytes, fs::read(other.join(&name)).unwrap(), "{name:?}");
        let png = name.to_str().unwrap().ends_with(".png");
        assert!(
            !png || bytes != fs::read(third.join(&name)).unwrap(),
            "{name:?}"
        );
        files += 1;
    }
    assert_eq!(files, 6);
    // Once more into the same folder is no mistake.
    assert!(render("pond-life", &one, "1", &[]).status.success());
}

#[test]
fn what_cannot_be_rendered_is_refused_with_a_remedy() {
    let root = tempfile::tempdir().unwrap();
    let folder = root.path().join("pictures");
    for (arguments, words) in [
        (&["--picture", "63"][..], "a whole number from 64 to 4096"),
        (&["--bits", "7"], "a whole number from 8 to 16"),
        (&["--full-well", "0"], "100 to 1000000, such as 20000"),
        (&["--read-noise", "-1"], "0 to 1000, such as 3"),
        (&["--vignetting", "0.9"], "0 to 0.8, such as 0.2"),
        (&["--decentre", "0.2"], "-0.1 to 0.1, such as 0.05"),
        (&["--dark-counts", "nan"], "0 to 6000, such as 256"),
        (&["--turn-picture", "400"], "-360 to 360"),
        (&["--flip", "maybe"], "[possible values: yes, no]"),
        (&["--analyzer-at", "90,400"], "-360 to 360"),
        (
            &["--analyzer-at", "90,90.0"],
            "90 is given twice; once each",
        ),
        (
            &["--noise-free", "--seed", "2"],
            "cannot be used with '--seed",
        ),
    ] {
        let output = (polstack().arg("aperture").arg(scenario("pond-life")))
            .arg("--render")
            .arg(&folder)
            .args(arguments)
            .output()
            .unwrap();
        let message = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{message}");
        assert!(message.contains(words), "{words}: {message}");
        assert!(!folder.exists());
    }
    let unwanted = (polstack().arg("aperture").arg(scenario("pond-life")))
        .args(["--bits", "12"])
        .output()
        .unwrap();
    assert!(text(&unwanted.stderr).contains("--render"));
    // Somebody's own readings are not replaced.
    fs::create_dir(&folder).unwrap();
    fs::write(folder.join("readings.csv"), "ratio\n300\n").unwrap();
    let output = render("pond-life", &folder, "1", &[]);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("name another directory"));
    assert_eq!(fs::read_dir(&folder).unwrap().count(), 1);
}

#[test]
fn a_stand_without_a_plate_has_no_picture_with_one() {
    let root = tempfile::tempdir().unwrap();
    let file = root.path().join("plain.toml");
    let stand = "light.source = \"cie-e\"\naperture.na = 0.4\n[[part]]\nname = \"lower polar\"\npolarizer = { sheet = \"ideal\", azimuth_deg = 0 }\n\
        [[part]]\nname = \"condenser\"\ncondenser = { na = 0.9, surfaces = 0, glass = 1.5 }\n[[part]]\nname = \"objective\"\n\
        objective = { na = 0.4, surfaces = 0, glass = 1.5 }\n[[part]]\nname = \"analyzer\"\nanalyzer = { sheet = \"ideal\", azimuth_deg = 90 }\n";
    fs::write(&file, stand).unwrap();
    let run = |more: &[&str]| {
        (polstack().arg("aperture").arg(&file).arg("--render"))
            .arg(root.path().join("pictures"))
            .args(["--picture", "64", "--noise-free", "--vignetting", "0"])
            .args(more)
            .output()
            .unwrap()
    };
    let refused = run(&["--with-plate"]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(text(&refused.stderr).contains("leave it out"));
    // Perfect polars: what is dark stays dark at the longest exposure, and an analyzer off crossed by 3.6 degrees passes sin^2 of that.
    assert!(run(&[]).status.success());
    let readings = fs::read_to_string(root.path().join("pictures/readings.csv")).unwrap();
    assert!(readings.contains("analyzer-90.png,parallel.png,10000,1,90,computed; too dark"));
    let malus = 1.0 / 3.6f64.to_radians().sin().powi(2);
    let line = (readings.lines().find(|line| line.contains("93.6"))).unwrap();
    let exposure: f64 = line.split(',').nth(2).unwrap().parse().unwrap();
    assert!((exposure / malus - 1.0).abs() < 1e-3, "{exposure} {malus}");
}
