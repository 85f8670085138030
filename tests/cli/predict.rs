//! `polstack predict`.

use std::fs;

use serde_json::Value;

use crate::{polstack, scenario, text};

fn json(name: &str) -> Value {
    let output = polstack()
        .arg("predict")
        .arg(scenario(name))
        .arg("--json")
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", text(&output.stderr));
    assert!(output.stderr.is_empty(), "{}", text(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

fn number(value: &Value) -> f64 {
    value
        .as_f64()
        .unwrap_or_else(|| panic!("{value} is no number"))
}

#[test]
fn the_json_has_the_promised_keys_and_they_fit_together() {
    for name in [
        "pond-life",
        "circular-polars",
        "high-grade-stand",
        "oil-immersion",
    ] {
        let answer = json(name);
        assert!(answer["scenario"].is_string());
        assert!(number(&answer["quadrature_error"]) < 1e-5);
        let spectrum = &answer["spectrum"];
        let length = spectrum["wavelength_nm"].as_array().unwrap().len();
        for key in ["parallel", "crossed", "extinction_ratio"] {
            assert_eq!(spectrum[key].as_array().unwrap().len(), length, "{key}");
        }
        let background = &answer["background"]["without_plate"];
        let luminance = number(&background["relative_luminance"]);
        assert!((number(&answer["extinction_ratio"]) * luminance - 1.0).abs() < 1e-12);
        assert!((number(&background["xyz"][1]) - luminance).abs() < 1e-15);
        let [x, y, z] = [0, 1, 2].map(|k| number(&background["xyz"][k]));
        assert!((number(&background["xy"][0]) - x / (x + y + z)).abs() < 1e-12);
        assert!(background["srgb"].as_str().unwrap().starts_with('#'));
        assert!(background["name"].is_string() && background["exposure_stops"].is_number());
        let shares = answer["leak"].as_array().unwrap();
        let sum: f64 = shares.iter().map(|share| number(&share["share"])).sum();
        assert!((sum - 1.0).abs() < 1e-9, "{name}: shares add up to {sum}");
    }
}

#[test]
fn no_plate_gives_null_and_no_leak_gives_null_with_a_reason() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("ideal.toml");
    fs::write(
        &file,
        r#"
        light.source = "cie-e"
        aperture.na = 0.5
        [[part]]
        name = "lower polar"
        polarizer = { sheet = "ideal", azimuth_deg = 0 }
        [[part]]
        name = "condenser"
        condenser = { na = 0.9, immersion = "air", surfaces = 0, glass = 1.5, coating = "none" }
        [[part]]
        name = "objective"
        objective = { na = 0.5, immersion = "air", surfaces = "ideal", glass = 1.5, coating = "none" }
        [[part]]
        name = "analyzer"
        analyzer = { sheet = "ideal", azimuth_deg = 90 }
        "#,
    )
    .unwrap();
    let output = polstack()
        .arg("predict")
        .arg(&file)
        .arg("--json")
        .output()
        .unwrap();
    let answer: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert!(answer["extinction_ratio"].is_null());
    assert!(
        answer["extinction_note"]
            .as_str()
            .unwrap()
            .contains("no light leaks")
    );
    assert!(answer["spectrum"]["crossed_with_plate"].is_null());
    assert!(answer["background"]["with_plate"].is_null());
    let table = polstack().arg("predict").arg(&file).output().unwrap();
    assert!(text(&table.stdout).contains("infinite"));
}

#[test]
fn the_csv_holds_the_same_spectrum_as_the_json() {
    let answer = json("pond-life");
    let csv = polstack()
        .arg("predict")
        .arg(scenario("pond-life"))
        .arg("--csv")
        .output()
        .unwrap()
        .stdout;
    let mut reader = csv::Reader::from_reader(&csv[..]);
    let columns = reader.headers().unwrap().clone();
    for (row, record) in reader.records().enumerate() {
        for (column, cell) in columns.iter().zip(&record.unwrap()) {
            if column == "crossed_beside_specimen" {
                assert!(cell.is_empty(), "there is no specimen");
                continue;
            }
            let expected = number(&answer["spectrum"][column][row]);
            assert_eq!(cell.parse::<f64>().unwrap(), expected, "{column} {row}");
        }
    }
}

#[test]
fn the_same_input_gives_the_same_bytes_on_any_number_of_threads() {
    let run = |threads: &str| {
        let mut command = polstack();
        command
            .arg("predict")
            .arg(scenario("oil-immersion"))
            .arg("--json");
        command
            .env("RAYON_NUM_THREADS", threads)
            .output()
            .unwrap()
            .stdout
    };
    let one = run("1");
    assert!(!one.is_empty());
    assert_eq!(one, run("2"));
    assert_eq!(one, run("5"));
}

#[test]
fn figures_are_written_whole_and_are_what_they_say() {
    let folder = tempfile::tempdir().unwrap();
    let plots = folder.path().join("new").join("plots");
    polstack()
        .arg("predict")
        .arg(scenario("pond-life"))
        .arg("--plots")
        .arg(&plots)
        .assert()
        .success();
    let mut names: Vec<String> = fs::read_dir(&plots)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    assert_eq!(
        names,
        [
            "aperture.png",
            "aperture.svg",
            "background.png",
            "background.svg",
            "spectra.png",
            "spectra.svg"
        ]
    );
    for name in names {
        let bytes = fs::read(plots.join(&name)).unwrap();
        if name.ends_with(".png") {
            assert!(bytes.starts_with(b"\x89PNG"), "{name}");
        } else {
            assert!(text(&bytes).trim_end().ends_with("</svg>"), "{name}");
        }
    }
}

#[test]
fn plots_that_cannot_be_written_give_status_3_and_no_answer() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("taken");
    fs::write(&file, "mine").unwrap();
    let output = polstack()
        .arg("predict")
        .arg(scenario("pond-life"))
        .arg("--plots")
        .arg(&file)
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(3));
    assert!(output.stdout.is_empty());
    assert!(text(&output.stderr).contains("taken"));
    assert_eq!(fs::read_to_string(&file).unwrap(), "mine");
}

#[test]
fn wrong_input_gives_status_2_names_the_line_and_writes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("wrong.toml");
    let good = fs::read_to_string(scenario("pond-life")).unwrap();
    fs::write(&file, good.replace("azimuth_deg = 90", "azimut_deg = 90")).unwrap();
    let plots = folder.path().join("plots");
    let output = polstack()
        .arg("predict")
        .arg(&file)
        .arg("--plots")
        .arg(&plots)
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(output.stdout.is_empty() && !plots.exists());
    let message = text(&output.stderr);
    for words in ["wrong.toml", "azimut_deg", "azimuth_deg", "^"] {
        assert!(message.contains(words), "{words} is missing in\n{message}");
    }
    assert!(!message.contains('\u{1b}'), "no colour where nobody looks");
}

#[test]
fn a_file_that_cannot_be_read_gives_status_3() {
    let output = polstack()
        .args(["predict", "scenarios/nowhere.toml"])
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(3));
    assert!(text(&output.stderr).contains("nowhere.toml"));
}

#[test]
fn unknown_options_give_status_2() {
    let output = polstack().args(["predict", "--bright"]).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
}

#[test]
fn quiet_leaves_out_notes_and_the_caution() {
    let run = |quiet: bool| {
        let mut command = polstack();
        command.arg("predict").arg(scenario("pond-life"));
        if quiet {
            command.arg("--quiet");
        }
        text(&command.output().unwrap().stdout)
    };
    assert!(run(false).contains("no diagnostic device"));
    assert!(!run(true).contains("no diagnostic device"));
    assert!(run(true).contains("Extinction ratio"));
}

#[test]
fn a_scenario_comes_from_standard_input_too() {
    let text_of = fs::read_to_string(scenario("pond-life")).unwrap();
    let from_file = polstack()
        .arg("predict")
        .arg(scenario("pond-life"))
        .output()
        .unwrap();
    let piped = polstack()
        .args(["predict", "-"])
        .write_stdin(text_of.clone())
        .output()
        .unwrap();
    assert_eq!(text(&piped.stdout), text(&from_file.stdout));
    let spoiled = text_of.replace("azimuth_deg = 90", "azimut_deg = 90");
    let refused = polstack()
        .args(["predict", "-"])
        .write_stdin(spoiled)
        .output()
        .unwrap();
    assert_eq!(refused.status.code(), Some(2));
    let told = text(&refused.stderr);
    assert!(told.contains("--> standard input:"), "{told}");
}

#[test]
fn a_sheets_numbers_beside_the_sheet_are_answered_with_where_they_belong() {
    let text_of = fs::read_to_string(scenario("pond-life")).unwrap();
    let spoiled = text_of.replacen(
        "polarizer = { sheet = \"iodine-medium\"",
        "polarizer = { k1 = 0.8, k2 = 1e-5",
        1,
    );
    assert_ne!(spoiled, text_of);
    let refused = polstack()
        .args(["predict", "-"])
        .write_stdin(spoiled)
        .output()
        .unwrap();
    let told = text(&refused.stderr);
    assert!(
        told.contains("stands in sheet = { k1 = ..., k2 = ... }"),
        "{told}"
    );
}

#[test]
fn a_folder_that_cannot_be_made_is_told_without_temporary_names() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("file");
    fs::write(&file, "x").unwrap();
    let output = polstack()
        .arg("predict")
        .arg(scenario("pond-life"))
        .arg("--plots")
        .arg(file.join("plots"))
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(3));
    let told = text(&output.stderr);
    assert!(
        told.contains("cannot be written: a part of its path is a file, not a folder"),
        "{told}"
    );
    assert!(
        !told.contains("os error") && !told.contains(".polstack-"),
        "{told}"
    );
}

#[test]
fn old_names_of_sheets_are_answered_with_the_new_ones() {
    let text_of = fs::read_to_string(scenario("pond-life")).unwrap();
    let old = text_of.replacen("iodine-medium", "iodine-32", 1);
    let refused = polstack()
        .args(["predict", "-"])
        .write_stdin(old)
        .output()
        .unwrap();
    assert_eq!(refused.status.code(), Some(2));
    let told = text(&refused.stderr);
    assert!(told.contains("is called \"iodine-medium\" now"), "{told}");
}

#[test]
fn characters_that_the_figures_font_lacks_are_told() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("named.toml");
    let written = fs::read_to_string(scenario("strained-objective")).unwrap();
    let line = written
        .lines()
        .find(|line| line.starts_with("title"))
        .unwrap();
    fs::write(&file, written.replace(line, "title = \"顕微鏡\"")).unwrap();
    let mut command = polstack();
    command.arg("predict").arg(&file).arg("--plots");
    let output = command.arg(folder.path().join("plots")).output().unwrap();
    assert!(output.status.success());
    let said = text(&output.stderr);
    assert!(said.contains("font lacks 微鏡顕:"), "{said}");
    let svg = fs::read_to_string(folder.path().join("plots/spectra.svg")).unwrap();
    assert!(svg.contains("顕微鏡"));
}

#[test]
fn stands_side_by_side_are_compared_over_common_draws() {
    let files = [scenario("sheet-below-condenser"), scenario("pond-life")];
    let run = |format: &str| {
        let mut command = polstack();
        command
            .arg("predict")
            .args(&files)
            .args([format, "--quiet"]);
        let output = command.output().unwrap();
        assert!(output.status.success(), "{}", text(&output.stderr));
        text(&output.stdout)
    };
    let answer: serde_json::Value = serde_json::from_str(&run("--json")).unwrap();
    let stands = answer["stands"].as_array().unwrap();
    let alone = |file: &std::path::PathBuf| {
        let mut command = polstack();
        let output = command
            .arg("predict")
            .arg(file)
            .arg("--json")
            .output()
            .unwrap();
        serde_json::from_slice::<serde_json::Value>(&output.stdout).unwrap()
    };
    for (stand, file) in stands.iter().zip(&files) {
        let alone = alone(file);
        assert_eq!(stand["scenario"], alone["scenario"]);
        assert_eq!(stand["extinction_ratio"], alone["extinction_ratio"]);
        assert_eq!(stand["doubt"], alone["doubt"]);
    }
    // 6760 (1900 to 10600) against 501 (360 to 600): the first is darker whatever the sheet.
    assert_eq!(answer["darker"].as_array().unwrap().len(), 1);
    assert!(answer["darker"][0]["probability"].as_f64().unwrap() < 0.01);
    assert!(run("--csv").lines().count() == 3);
    let mut command = polstack();
    let output = command.arg("predict").args(&files).output().unwrap();
    assert!(text(&output.stdout).contains("A is darker than B: over 99 %."));
    // A note says which stands it is about, unless it is about all.
    assert!(text(&output.stdout).contains("\nNote on A: "));
    let mut command = polstack();
    let output = command
        .arg("predict")
        .args(&files)
        .args(["--plots", "x"])
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(!std::path::Path::new("x").exists());
}

#[test]
fn a_stand_is_as_dark_as_itself() {
    let file = scenario("pond-life");
    let mut command = polstack();
    let output = command
        .arg("predict")
        .args([&file, &file])
        .output()
        .unwrap();
    assert!(text(&output.stdout).contains("B is as dark as A."));
    // Below nine in ten nothing is decided.
    let other = scenario("leaking-stand");
    let mut command = polstack();
    let output = command.arg("predict").args([&other, &file]).output();
    let words = "Not decided whether A or B is darker: A (probability ";
    assert!(text(&output.unwrap().stdout).contains(words));
}

#[test]
fn a_needle_is_told_along_and_across_the_plate() {
    let run = |name: &str, arguments: &[&str]| {
        let mut command = polstack();
        command.arg("predict").arg(scenario(name)).args(arguments);
        text(&command.output().unwrap().stdout)
    };
    let answer: Value = serde_json::from_str(&run("urate-needle", &["--json"])).unwrap();
    let turned = &answer["turned"];
    assert_eq!(turned["path_difference_nm"].as_f64(), Some(-150.0));
    assert_eq!(turned["direction"], "stated");
    // As written the needle lies along the plate's slow direction.
    assert_eq!(turned["along"], answer["background"]["with_plate"]);
    let name = |way: &str| turned[way]["name"].as_str().unwrap().to_owned();
    assert!(
        name("along").contains("yellow") && name("across").contains("blue"),
        "{turned}"
    );
    let table = run("urate-needle", &["--quiet"]);
    for words in [
        "slow across it (negative elongation)",
        "no diagnostic device",
    ] {
        assert!(table.contains(words), "{words}: {table}");
    }
    // No plate, no specimen, or circular polars: nothing to turn.
    for other in ["crystal-along-axis", "pond-life", "circular-polars"] {
        let answer: Value = serde_json::from_str(&run(other, &["--json"])).unwrap();
        assert!(answer.get("turned").is_none(), "{other}");
    }
}

#[test]
fn the_field_is_seen_in_the_stand_of_a_crystal_with_two_axes() {
    let output = polstack()
        .arg("view")
        .arg(scenario("muscovite-figure"))
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", text(&output.stderr));
}

/// Two colours that look alike do not tell which direction is slow.
#[test]
fn colours_that_are_alike_tell_nothing() {
    let run = |arguments: &[&str]| {
        let mut command = polstack();
        command
            .arg("predict")
            .arg(scenario("calcite-askew"))
            .args(arguments);
        text(&command.output().unwrap().stdout)
    };
    let table = run(&["--exact"]);
    for words in [
        "The two colours are alike",
        "the plate tells nothing of which direction is slow here",
        "over the aperture their colours mix to one",
        "no diagnostic device",
    ] {
        assert!(table.contains(words), "{words}: {table}");
    }
    assert!(
        !table.contains("Two colours tell which direction is slow"),
        "{table}"
    );
    let answer: Value = serde_json::from_str(&run(&["--exact", "--json"])).unwrap();
    let number = |key: &str| answer["turned"][key].as_f64().unwrap();
    assert!(number("color_difference") < 1.0 && number("color_difference_on_axis") > 10.0);
}

/// Where the ratio as written lies outside of its own range, the answer says why, and whose colours it tells; nowhere else.
#[test]
fn a_ratio_outside_of_its_range_is_explained() {
    let told = |command: &str, name: &str| {
        let mut run = polstack();
        run.arg(command).arg(scenario(name)).arg("--quiet");
        text(&run.output().unwrap().stdout)
    };
    const OUTSIDE: &str = "Exactly as written it lies above this range";
    const WHOSE: &str = "are those of the stand exactly as written";
    let askew = told("predict", "calcite-askew");
    assert!(askew.contains(OUTSIDE) && askew.contains(WHOSE), "{askew}");
    let pond = told("predict", "pond-life");
    assert!(!pond.contains("it lies") && !pond.contains(WHOSE), "{pond}");
    // So it is with `tolerate`: the median leads where it is not the number as written.
    for name in ["calcite-askew", "pond-life"] {
        let text = told("tolerate", name);
        let line = (text
            .lines()
            .find(|line| line.starts_with("Extinction ratio")))
        .unwrap();
        let (written, known) = (line.find(" exactly as written"), line.find("as far as"));
        assert!(written.is_some() && known.is_some(), "{line}");
        assert_eq!(known < written, name == "calcite-askew", "{line}");
        assert_eq!(line.contains(OUTSIDE), name == "calcite-askew", "{line}");
    }
}
