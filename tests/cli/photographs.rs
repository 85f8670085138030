//! Photographs from `polstack aperture --render` through `polstack fit`.

use std::fs;
use std::path::Path;
use std::process::Output;

use polstack::photograph::{Fetch, Pictures, Shot};
use serde_json::Value;
use tempfile::TempDir;
use tiff::encoder::colortype::{CMYK16, Gray32Float};

#[allow(dead_code, reason = "the unit tests need more of it")]
#[path = "../../src/photograph/made.rs"]
mod made;

use made::{Made, disc, png_of, tiff_of};

use crate::{polstack, scenario, text};

#[test]
fn what_is_rendered_is_read_back_and_mapped() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).display().to_string();
    let rendered = (polstack().arg("aperture").arg(scenario("leaking-stand")))
        .args(["--render", &at("pictures"), "--picture", "256"])
        .args(["--polars-turned", "0,22.5,45,67.5", "--quiet"])
        .output()
        .unwrap();
    assert!(rendered.status.success(), "{}", text(&rendered.stderr));
    let fitted = (polstack().arg("fit").arg(scenario("leaking-stand")))
        .arg(at("pictures/readings.csv"))
        .args(["--unknown", "condenser.radial.edge_nm"])
        .args(["--unknown", "analyzer.azimuth_deg", "--flip", "no"])
        .args(["--unknown", "objective.bending.n_eff", "--draws", "200"])
        .args([
            "--can",
            "iris",
            "--map",
            &at("map"),
            "--write",
            &at("found"),
        ])
        .args(["--plots", &at("plots"), "--json"])
        .output()
        .unwrap();
    assert!(fitted.status.success(), "{}", text(&fitted.stderr));
    let answer: Value = serde_json::from_slice(&fitted.stdout).unwrap();
    assert_eq!(answer["consistent"], true);
    // The stand was rendered as it is written: 20 nm.
    let edge = &answer["unknown"][0]["posterior"];
    let end = |key: &str| edge[key].as_f64().unwrap();
    assert!(end("low") < 20.0 && 20.0 < end("high"), "{edge}");
    assert!(end("high") - end("low") < 2.0, "{edge}");
    let zones = answer["readings"][0]["zones"].as_array().unwrap();
    assert!(zones.len() > 70);
    assert!(!answer["notes"].to_string().contains("--flip"), "{answer}");
    // The map, each photograph against it, and the figures beside the tables.
    let map = &answer["map"];
    assert_eq!(map["lens"], "objective");
    let zone = &map["zones"][0];
    let number = |key: &str| zone[key].as_f64().unwrap();
    let twice = 2.0 * number("azimuth_deg").to_radians();
    for (key, part) in [("u_nm", twice.cos()), ("v_nm", twice.sin())] {
        assert!((number(key) - number("path_difference_nm") * part).abs() < 1e-9);
    }
    assert!(number("error_nm") > 0.0);
    // The pictures have no more noise than the camera's: the model error is far more than that.
    assert!(map["misfit"].as_f64().unwrap() < 0.25, "{map}");
    // 20 nm at the rim of NA 0.88, growing with the square of the sine, over the area up to NA 0.65: what `place` tells too.
    let rms = 20.0 * (0.65f64 / 0.88).powi(2) / 3f64.sqrt();
    let told = ["rms_nm", "rms_error_nm"].map(|key| map[key].as_f64().unwrap());
    assert!((told[0] - rms).abs() < 3.0 * told[1], "{told:?} {rms}");
    let residuals = map["residuals"].as_array().unwrap();
    assert_eq!(residuals.len(), 6);
    for (of, reading) in residuals.iter().zip(answer["readings"].as_array().unwrap()) {
        assert_eq!(of["line"], reading["line"]);
        assert_eq!(of["zones"].as_array().unwrap().len(), zones.len());
        assert_eq!(of["zones"][3]["measured"], reading["zones"][3]["measured"]);
    }
    let names =
        ["strain-map", "residuals"].map(|name| [".png", ".svg"].map(|end| format!("{name}{end}")));
    let names: Vec<String> = names.concat();
    for name in ["strain-map.csv", "strain-zones.csv"]
        .into_iter()
        .chain(names.iter().map(String::as_str))
    {
        let (one, other) = (at(&format!("map/{name}")), at(&format!("plots/{name}")));
        assert!(fs::metadata(&one).unwrap().len() > 1000, "{name}");
        let drawn = !name.ends_with(".csv");
        assert!(
            !drawn || fs::read(one).unwrap() == fs::read(other).unwrap(),
            "{name}"
        );
    }

    // The stand with the map in it is written beside it, can be read from any folder, and is as dark; the message names both.
    let written = fs::read_to_string(at("map/leaking-stand.toml")).unwrap();
    let strain = "strain = [{ map = { csv = \"strain-map.csv\", of = \"sum\" } }]";
    assert!(written.contains(strain), "{written}");
    assert_eq!(written.matches("\nstrain").count(), 1, "{written}");
    let predict = |file: &str, more: &[&str]| -> Value {
        let output = (polstack().args(["predict", file, "--json"]).args(more))
            .output()
            .unwrap();
        assert!(output.status.success(), "{}", text(&output.stderr));
        serde_json::from_slice(&output.stdout).unwrap()
    };
    let ratio = |file: &str| {
        let answer = predict(file, &["--exact"]);
        answer["extinction_ratio"].as_f64().unwrap()
    };
    let before = ratio(&scenario("leaking-stand").display().to_string());
    let after = ratio(&at("map/leaking-stand.toml"));
    assert!((after / before - 1.0).abs() < 0.05, "{before} {after}");

    // What else was fitted is in its sample, which has no strain between the polars; with it the stand is as dark as with the sample of --write, although
    // the file has no place for one of the numbers.
    let sample = fs::read_to_string(at("map/leaking-stand.sample.csv")).unwrap();
    let header = sample.lines().next().unwrap();
    assert_eq!(header, "objective.bending.n_eff,analyzer.azimuth_deg");
    let all = fs::read_to_string(at("found/leaking-stand.sample.csv")).unwrap();
    assert_eq!(sample.lines().count(), all.lines().count());
    assert!(written.contains("for which the file has no place: objective.bending.n_eff.\n"));
    assert!(written.contains("sample = \"leaking-stand.sample.csv\""));
    let doubt = |file: &str| {
        let doubt = predict(&at(file), &[])["doubt"].clone();
        ["low", "median", "high"].map(|key| doubt["extinction_ratio"][key].as_f64().unwrap())
    };
    let (mapped, found) = (
        doubt("map/leaking-stand.toml"),
        doubt("found/leaking-stand.toml"),
    );
    for (mapped, found) in mapped.iter().zip(found) {
        assert!((mapped / found - 1.0).abs() < 0.1, "{mapped} {found}");
    }

    // Every answer about the map's stand says that photographs do not tell whose strain it is; one about the other stand does not.
    let told = |arguments: &[&str]| {
        let output = polstack().args(arguments).output().unwrap();
        assert!(output.status.success(), "{}", text(&output.stderr));
        text(&output.stdout)
            .matches("strain of condenser and objective together")
            .count()
    };
    let (map, found) = (at("map/leaking-stand.toml"), at("found/leaking-stand.toml"));
    for command in [
        &["predict"][..],
        &["place"],
        &["tolerate", "--part", "first-order plate"],
    ] {
        let with = |more: &[&str]| told(&[command, more].concat());
        assert_eq!(with(&[&map]), 1, "{command:?}");
        assert_eq!(with(&[&map, "--json"]), 1, "{command:?}");
        assert_eq!(with(&[&found]), 0, "{command:?}");
    }
    let place = polstack().args(["place", &map, "--json"]).output().unwrap();
    let place: Value = serde_json::from_slice(&place.stdout).unwrap();
    assert_eq!(place["decided"], false);
    assert_eq!(place["summed_in"], "objective");
    assert!(place["places"][0]["best_probability"].is_null());
    let place = polstack().args(["place", &map]).output().unwrap();
    let first = text(&place.stdout).lines().nth(1).unwrap().to_owned();
    assert!(
        first.starts_with(
            "Not decided which place of the lower polar is best: the map in objective"
        ),
        "{first}"
    );
    let so = ", with all of that strain in objective\n";
    assert_eq!(text(&place.stdout).matches(so).count(), 2);

    // Told to be held the other way, the pictures go with no stand. The answer says what to try before anything else, and no scenario is written.
    let flipped = (polstack().arg("fit").arg(scenario("leaking-stand")))
        .arg(at("pictures/readings.csv"))
        .args(["--unknown", "condenser.radial.edge_nm", "--flip", "yes"])
        .args(["--unknown", "analyzer.azimuth_deg", "--draws", "100"])
        .args([
            "--can",
            "iris",
            "--write",
            &at("lost"),
            "--map",
            &at("lost-map"),
        ])
        .output()
        .unwrap();
    let said = text(&flipped.stdout);
    let second = said.lines().nth(2).unwrap();
    assert_eq!(
        second,
        "The photographs go together with the model far better if they are not mirrored, which makes them more than a million times as probable: try --flip no before anything else."
    );
    assert!(!said.contains("take it again"), "{said}");
    // What the stands that come nearest say of the parts is no answer: no share, no number that is told, no map.
    for words in [
        "Shares of the leak",
        "told\n",
        "% sure",
        "Strain between",
        "direct runs",
    ] {
        assert!(!said.contains(words), "{words}: {said}");
    }
    assert!(!Path::new(&at("lost")).exists());
    let mut files: Vec<_> = (fs::read_dir(at("lost-map")).unwrap())
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    files.sort();
    assert_eq!(files, ["residuals.png", "residuals.svg"]);
    let told = text(&flipped.stderr);
    assert_eq!(
        told.matches("readings and model do not go together")
            .count(),
        2,
        "{told}"
    );

    // Given a disc in the wrong place they go with no stand either; that is said of the disc, and not of how they are held.
    let mut rows = fs::read_to_string(at("pictures/readings.csv")).unwrap();
    let lines: Vec<String> = (rows
        .lines()
        .filter(|line| !line.starts_with('#'))
        .enumerate())
    .map(|(number, line)| match number {
        0 => format!("{line},center_x,center_y,radius"),
        _ => format!("{line},144,128,110"),
    })
    .collect();
    rows = lines.join("\n");
    fs::write(at("pictures/elsewhere.csv"), rows).unwrap();
    let elsewhere = (polstack().arg("fit").arg(scenario("leaking-stand")))
        .arg(at("pictures/elsewhere.csv"))
        .args(["--unknown", "condenser.radial.edge_nm", "--flip", "no"])
        .args(["--unknown", "analyzer.azimuth_deg", "--draws", "100"])
        .args(["--plots", &at("elsewhere"), "--json"])
        .output()
        .unwrap();
    let answer: Value = serde_json::from_slice(&elsewhere.stdout).unwrap();
    let fault = answer["fault"].as_str().unwrap();
    assert!(
        fault.starts_with("The disc of lines 2, 3, 4, 5, 6 and 7 of the readings (centre 144.0, 128.0, radius 110.0 pixels) is not where"),
        "{fault}"
    );
    assert!(!fault.contains("far better"), "{fault}");
    assert_eq!(answer["consistent"], false);
    for key in ["blame", "blame_by_part", "ambiguous", "next"] {
        assert_eq!(answer[key].as_array().unwrap().len(), 0, "{key}");
    }
    assert!(answer["extinction_ratio"]["median"].is_null());
    for unknown in answer["unknown"].as_array().unwrap() {
        assert_eq!(unknown["told"], false);
        assert!(unknown["posterior"]["median"].is_null() && unknown["prior"]["low"].is_number());
    }
    let notes = answer["notes"].to_string();
    assert!(notes.contains("The disc is given (centre 144.0, 128.0, radius 110.0 pixels), but"));
    assert!(Path::new(&at("elsewhere/fit.png")).exists());
}

/// Runs a fit of two pictures, one with the polars crossed and one with the polars parallel; nothing but those files is in the folder.
fn fit_of(crossed: &[u8], arguments: &[&str]) -> (Output, TempDir) {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    fs::write(at("crossed"), crossed).unwrap();
    fs::write(at("parallel"), round(0.8).png()).unwrap();
    let readings = "photo,photo_parallel,exposure_s,exposure_parallel_s\ncrossed,parallel,100,1\n";
    fs::write(at("readings.csv"), readings).unwrap();
    let output = (polstack().arg("fit").arg(scenario("leaking-stand")))
        .arg(at("readings.csv"))
        .args([
            "--unknown",
            "condenser.radial.edge_nm",
            "--draws",
            "100",
            "--zones",
            "2x8",
        ])
        .args(arguments)
        .output()
        .unwrap();
    (output, folder)
}

/// A bright disc on a dark ground.
fn round(level: f64) -> Made {
    Made::new((96, 96), 1, |x, y, _| {
        0.01 + level * disc(x, y, (48.0, 48.0, 40.0))
    })
}

#[test]
fn spoiled_pictures_are_refused_with_their_line_and_nothing_is_written() {
    let sound = round(0.5).png();
    let pixels = 96 * 96;
    let mut spoiled = vec![0.5_f32; pixels];
    spoiled[17] = f32::NAN;
    let eight = png::BitDepth::Eight;
    // The header of a picture of 100 megapixels, and none of its pixels: it must be refused before room for them is made.
    let mut large = Vec::new();
    let mut encoder = png::Encoder::new(&mut large, 10_000, 10_000);
    encoder.set_depth(png::BitDepth::Sixteen);
    drop(encoder.write_header().unwrap());
    for (name, bytes, words) in [
        (
            "truncated",
            sound[..sound.len() / 2].to_vec(),
            "damaged or cut short",
        ),
        (
            "1 x 1",
            Made::new((1, 1), 1, |_, _, _| 0.5).png(),
            "only 1 x 1 pixels",
        ),
        (
            "100 megapixels",
            large,
            "10000 x 10000 pixels, more than 64 million",
        ),
        (
            "CMYK",
            tiff_of::<CMYK16>((96, 96), &vec![9; 4 * pixels]),
            "which is not read",
        ),
        (
            "palette",
            png_of(
                (96, 96),
                png::ColorType::Indexed,
                eight,
                &vec![7; pixels],
                None,
            ),
            "which is not read",
        ),
        (
            "NaN",
            tiff_of::<Gray32Float>((96, 96), &spoiled),
            "no finite numbers",
        ),
        (
            "black",
            Made::new((96, 96), 1, |_, _, _| 0.0).png(),
            "black: no zone of the aperture can be read; expose it longer",
        ),
        (
            "white",
            Made::new((96, 96), 1, |_, _, _| 1.0).png(),
            "saturated: no zone of the aperture can be read; expose it shorter",
        ),
        (
            "text",
            b"photo,photo_parallel\n".to_vec(),
            "no PNG, TIFF or JPEG",
        ),
        ("JPEG", round(0.5).jpeg(), "(--accept-curves)"),
    ] {
        let new = tempfile::tempdir().unwrap();
        let [map, plots, found] =
            ["map", "plots", "found"].map(|name| new.path().join(name).display().to_string());
        let folders = ["--map", &map, "--plots", &plots, "--write", &found];
        let (output, folder) = fit_of(&bytes, &folders);
        let said = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{name}: {said}");
        let place = "readings.csv: line 2 of the readings: crossed: ";
        assert!(
            said.contains(place) && said.contains(words),
            "{name}: {said}"
        );
        assert!(output.stdout.is_empty(), "{name}");
        assert_eq!(fs::read_dir(new.path()).unwrap().count(), 0, "{name}");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 3, "{name}");
    }
}

#[test]
fn a_jpeg_is_read_where_its_curve_is_accepted_and_the_answer_says_so() {
    let (output, _folder) = fit_of(&round(0.5).jpeg(), &["--accept-curves", "--flip", "no"]);
    assert!(output.status.success(), "{}", text(&output.stderr));
    let said = text(&output.stdout);
    assert!(said.contains("the sRGB curve is assumed"), "{said}");
}

#[test]
fn a_map_that_cannot_be_is_refused_before_the_fit() {
    let map = tempfile::tempdir().unwrap();
    let folder = map.path().join("map").display().to_string();
    let (output, _folder) = fit_of(&round(0.5).png(), &["--map", &folder]);
    assert_eq!(output.status.code(), Some(2));
    let said = text(&output.stderr);
    assert!(
        said.contains("readings.csv: a strain map needs at least 3 photographs")
            && said.contains("there are 1"),
        "{said}"
    );
    assert_eq!(fs::read_dir(map.path()).unwrap().count(), 0);
}

#[test]
fn photographs_without_a_map_are_drawn_against_the_fitted_parts() {
    let plots = tempfile::tempdir().unwrap();
    let folder = plots.path().display().to_string();
    let (output, _folder) = fit_of(&round(0.5).png(), &["--plots", &folder, "--flip", "no"]);
    assert!(output.status.success(), "{}", text(&output.stderr));
    let mut names: Vec<_> = (fs::read_dir(plots.path()).unwrap())
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    assert_eq!(
        names,
        ["fit.png", "fit.svg", "residuals.png", "residuals.svg"]
    );
}

#[test]
fn the_channels_of_a_colour_picture_see_what_the_camera_sees() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let color = |level: f64| {
        let light = |x, y, _| 0.01 + level * disc(x, y, (48.0, 48.0, 40.0));
        Made::new((96, 96), 3, light).png()
    };
    fs::write(at("crossed"), color(0.5)).unwrap();
    fs::write(at("parallel"), color(0.8)).unwrap();
    let readings = "photo,photo_parallel,exposure_s,exposure_parallel_s\ncrossed,parallel,100,1\n";
    fs::write(at("readings.csv"), readings).unwrap();
    let fit = |camera: Option<&str>| {
        let mut command = polstack();
        command
            .arg("fit")
            .arg(scenario("leaking-stand"))
            .arg(at("readings.csv"));
        command.args(["--unknown", "condenser.radial.edge_nm", "--draws", "100"]);
        command.args(["--zones", "1x4", "--flip", "no", "--json"]);
        if let Some(table) = camera {
            fs::write(at("camera.csv"), table).unwrap();
            command.arg("--camera").arg(at("camera.csv"));
        }
        command.output().unwrap()
    };
    let predicted = |output: &Output| -> Vec<f64> {
        assert!(output.status.success(), "{}", text(&output.stderr));
        let answer: Value = serde_json::from_slice(&output.stdout).unwrap();
        let zones = answer["readings"][0]["zones"].as_array().unwrap();
        assert_eq!(zones.len(), 12);
        (zones.iter())
            .map(|zone| zone["predicted"].as_f64().unwrap())
            .collect()
    };
    let typical = fit(None);
    assert!(text(&typical.stdout).contains("mean of ten measured cameras"));
    let typical = predicted(&typical);
    // A camera whose channels all see the same predicts the same in each; red light leaks less than blue between these sheets.
    let rows: String = (0..9)
        .map(|k| format!("{},1,1,1\n", 380 + 50 * k))
        .collect();
    let even = predicted(&fit(Some(&format!("wavelength_nm,red,green,blue\n{rows}"))));
    let channel = |all: &[f64], k: usize| all[4 * k..4 * k + 4].iter().sum::<f64>();
    assert!((channel(&even, 0) / channel(&even, 2) - 1.0).abs() < 1e-9);
    assert!(
        channel(&typical, 0) / channel(&typical, 2) > 1.1,
        "{typical:?}"
    );
    for (table, words) in [
        (
            "wavelength_nm,red,green\n400,1,1\n700,1,1\n",
            "must be wavelength_nm,red,green,blue",
        ),
        (
            "wavelength_nm,red,green,blue\n400,1,1,1\n440,1,-1,1\n",
            "camera.csv:3:7",
        ),
        (
            "wavelength_nm,red,green,blue\n440,1,1,1\n400,1,1,1\n",
            "ascending wavelengths",
        ),
        (
            "wavelength_nm,red,green,blue\n400,1,1,0\n440,1,1,0\n",
            "blue is 0 everywhere",
        ),
        (
            "wavelength_nm,red,green,blue\n400,1,1,x\n440,1,1,0\n",
            "`blue`",
        ),
    ] {
        let output = fit(Some(table));
        let said = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{said}");
        assert!(said.contains(words), "{words}: {said}");
        assert!(output.stdout.is_empty());
    }
    fs::remove_file(at("camera.csv")).unwrap();
    let missing = (polstack()
        .arg("fit")
        .arg(scenario("leaking-stand"))
        .arg(at("readings.csv")))
    .arg("--camera")
    .arg(at("camera.csv"))
    .output()
    .unwrap();
    assert_eq!(missing.status.code(), Some(3), "{}", text(&missing.stderr));
}

#[test]
fn pictures_that_cannot_be_used_are_told_with_their_line() {
    let folder = tempfile::tempdir().unwrap();
    let readings = folder.path().join("readings.csv");
    for (cells, words, status) in [
        ("none.png,none.png,1,1", "line 2 of the readings", 3),
        ("readings.csv,readings.csv,1,1", "readings.csv", 2),
    ] {
        fs::write(
            &readings,
            format!("photo,photo_parallel,exposure_s,exposure_parallel_s\n{cells}\n"),
        )
        .unwrap();
        let output = (polstack().arg("fit").arg(scenario("leaking-stand")))
            .arg(&readings)
            .output()
            .unwrap();
        assert_eq!(output.status.code(), Some(status), "{cells}");
        assert!(
            text(&output.stderr).contains(words),
            "{}",
            text(&output.stderr)
        );
        assert!(output.stdout.is_empty());
    }
}

/// A fit of one line with both pictures, the exposures and what else the line holds.
fn fit_of_line(parallel: &[u8], line: &str, arguments: &[&str]) -> (Output, TempDir) {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    fs::write(at("crossed"), round(0.5).png()).unwrap();
    fs::write(at("parallel"), parallel).unwrap();
    let header = "photo,photo_parallel,exposure_s,exposure_parallel_s,ratio";
    fs::write(at("readings.csv"), format!("{header}\n{line}\n")).unwrap();
    let output = (polstack().arg("fit").arg(scenario("leaking-stand")))
        .arg(at("readings.csv"))
        .args(["--unknown", "condenser.radial.edge_nm", "--draws", "100"])
        .args(["--zones", "2x8", "--flip", "no"])
        .args(arguments)
        .output()
        .unwrap();
    (output, folder)
}

#[test]
fn swapped_exposures_and_useless_parallel_pictures_are_told() {
    let parallel = round(0.8).png();
    let black = Made::new((96, 96), 1, |_, _, _| 0.0).png();
    let white = Made::new((96, 96), 1, |_, _, _| 1.0).png();
    for (parallel, line, words) in [
        (
            &parallel,
            "crossed,parallel,0.01,1,",
            "are exposure_s and exposure_parallel_s swapped",
        ),
        (
            &black,
            "crossed,parallel,100,1,",
            "parallel: the picture is black",
        ),
        (
            &white,
            "crossed,parallel,100,1,",
            "parallel: the picture is saturated",
        ),
    ] {
        let (output, _folder) = fit_of_line(parallel, line, &[]);
        let said = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{said}");
        assert!(
            said.contains("line 2 of the readings") && said.contains(words),
            "{said}"
        );
        assert!(output.stdout.is_empty());
    }
    // As bright as parallel light, nearly: a note.
    let (output, _folder) = fit_of_line(&parallel, "crossed,parallel,0.5,1,", &[]);
    let said = text(&output.stdout);
    assert!(
        said.contains("Are the exposures or the pictures swapped?"),
        "{said}"
    );
    // No stand explains it: what is wrong with photographs most often is named, and no p-value is told as 0.
    assert!(
        said.contains(
            "Look at the photographs first: are photo and photo_parallel, and exposure_s"
        ),
        "{said}"
    );
    assert!(said.contains("(p < 1e-300)"), "{said}");
}

#[test]
fn a_line_with_a_meter_reading_and_photographs_is_told_as_two() {
    let line = "crossed,parallel,100,1,150";
    let (output, _folder) = fit_of_line(&round(0.8).png(), line, &["--json"]);
    assert!(output.status.success(), "{}", text(&output.stderr));
    let answer: Value = serde_json::from_slice(&output.stdout).unwrap();
    let readings = answer["readings"].as_array().unwrap();
    let photographs: Vec<bool> = (readings.iter())
        .map(|reading| reading["photograph"] == true)
        .collect();
    assert_eq!(photographs, [false, true]);
    assert!(readings.iter().all(|reading| reading["line"] == 2));
    let notes = answer["notes"].to_string();
    assert!(notes.contains("line 2 of the readings holds a meter reading and photographs"));
    let (output, _folder) = fit_of_line(&round(0.8).png(), line, &[]);
    assert!(text(&output.stdout).contains("2 (photograph)"));
}

#[test]
fn photographs_are_offered_where_they_can_be_taken() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).display().to_string();
    let list = |can: &[&str]| {
        let output = (polstack().arg("fit").arg(scenario("leaking-stand")))
            .args(["--checklist", "--draws", "300", "--zones", "3x8", "--json"])
            .args(["--unknown", "condenser.radial.edge_nm"])
            .args(["--unknown", "objective.uniform.path_difference_nm"])
            .args(["--unknown", "stray.fraction", "--write", &at("list")])
            .args(can)
            .output()
            .unwrap();
        assert!(output.status.success(), "{}", text(&output.stderr));
        let rows = fs::read_to_string(at("list/leaking-stand.readings.csv")).unwrap();
        fs::remove_dir_all(at("list")).unwrap();
        let answer: Value = serde_json::from_slice(&output.stdout).unwrap();
        (answer, rows)
    };
    let count = |answer: &Value| {
        let steps = answer["steps"].as_array().unwrap();
        (steps.iter())
            .filter(|step| step.get("photograph").is_some())
            .count()
    };
    let (plain, rows) = list(&["--can", "iris"]);
    assert_eq!(count(&plain), 0);
    assert!(!rows.contains("photo"), "{rows}");
    let (asked, rows) = list(&["--can", "iris", "--can", "photo"]);
    assert!(count(&asked) > 0, "{asked}");
    let header =
        "reading,parallel,error_percent,photo,photo_parallel,exposure_s,exposure_parallel_s";
    assert!(rows.starts_with(header), "{rows}");
    assert!(rows.contains(": photographs"), "{rows}");
    assert!(asked["steps"].as_array().unwrap().len() <= plain["steps"].as_array().unwrap().len());
}
