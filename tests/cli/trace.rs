//! `polstack trace`.

use std::fs;
use std::process::Output;

use serde_json::Value;

use crate::{polstack, scenario, text};

fn run(name: &str, arguments: &[&str]) -> Output {
    let mut command = polstack();
    command.arg("trace").arg(scenario(name)).args(arguments);
    command.output().unwrap()
}

fn json(name: &str, arguments: &[&str]) -> Value {
    let output = run(name, &[arguments, &["--json"]].concat());
    assert!(output.status.success(), "{}", text(&output.stderr));
    assert!(output.stderr.is_empty(), "{}", text(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

#[test]
fn the_json_has_a_step_for_the_lamp_and_each_part() {
    let answer = json(
        "circular-polars",
        &["--ray", "0.1,30", "--wavelength", "546.1nm", "--mueller"],
    );
    assert_eq!(answer["ray"]["na"], 0.1);
    assert_eq!(answer["wavelength_nm"], 546.1);
    assert!(answer["rays"].is_null() && answer["quadrature_error"].is_null());
    let steps = answer["steps"].as_array().unwrap();
    assert_eq!(steps.len(), 9);
    assert_eq!(steps[0]["after"], "lamp");
    assert!(steps[0]["passed"].is_null() && steps[0]["state"]["azimuth_deg"].is_null());
    let quarter_wave = &steps[2];
    assert_eq!(quarter_wave["kind"], "retarder");
    let state = &quarter_wave["state"];
    assert_eq!(state["handedness"], "left");
    for key in [
        "degree_of_polarization",
        "degree_of_linear_polarization",
        "degree_of_circular_polarization",
        "azimuth_deg",
        "ellipticity_deg",
        "axis_ratio",
    ] {
        assert!(state[key].is_number(), "{key}");
    }
    assert_eq!(state["stokes"].as_array().unwrap().len(), 4);
    let made_of = &quarter_wave["optics"]["decomposition"];
    let number = |key: &str| made_of[key].as_f64().unwrap();
    assert!((number("retardance_nm") - 137.5).abs() < 1e-9);
    assert!((number("slow_azimuth_deg") - 45.0).abs() < 1e-9);
    assert!(answer["between_polars"]["mueller"].is_array());
    let mean = json("pond-life", &[]);
    assert!(mean["ray"].is_null() && mean["wavelength_nm"].is_null());
    assert!(mean["quadrature_error"].as_f64().unwrap() < 1e-5);
    let plate = &mean["steps"][5];
    assert_eq!(plate["kind"], "plate (out)");
    assert!(plate["state"].is_null() && plate["optics"].is_null());
    assert!(mean.get("between_polars").is_none());
    assert_eq!(json("pond-life", &["--plate"])["steps"][5]["kind"], "plate");
}

#[test]
fn the_csv_has_a_row_for_each_part() {
    for arguments in [&["--plate"][..], &["--plate", "--mueller"][..]] {
        let answer = json("pond-life", arguments);
        let csv = run("pond-life", &[arguments, &["--csv"]].concat()).stdout;
        let mut reader = csv::Reader::from_reader(&csv[..]);
        let columns = reader.headers().unwrap().clone();
        let rows: Vec<_> = reader.records().map(Result::unwrap).collect();
        let column = |name: &str| columns.iter().position(|column| column == name);
        let steps = answer["steps"].as_array().unwrap();
        let matrices = arguments.contains(&"--mueller");
        assert_eq!(rows.len(), steps.len() + usize::from(matrices));
        assert_eq!(column("m33").is_some(), matrices);
        for (row, step) in rows.iter().zip(steps) {
            assert_eq!(
                &row[column("after").unwrap()],
                step["after"].as_str().unwrap()
            );
            for k in 0..4 {
                let cell = &row[column(&format!("s{k}")).unwrap()];
                assert_eq!(
                    cell.parse::<f64>().unwrap(),
                    step["state"]["stokes"][k].as_f64().unwrap()
                );
            }
            for key in ["azimuth_deg", "axis_ratio", "degree_of_polarization"] {
                let cell = &row[column(key).unwrap()];
                assert_eq!(
                    cell.parse::<f64>().ok(),
                    step["state"][key].as_f64(),
                    "{key}"
                );
            }
        }
        if matrices {
            let last = rows.last().unwrap();
            let cell = &last[column("m12").unwrap()];
            let expected = answer["between_polars"]["mueller"][1][2].as_f64().unwrap();
            assert_eq!(cell.parse::<f64>().unwrap(), expected);
        }
    }
}

#[test]
fn the_table_names_every_part_and_stays_narrow() {
    for arguments in [
        &[][..],
        &[
            "--ray",
            "0.2,-45",
            "--wavelength",
            "600",
            "--mueller",
            "--plate",
        ][..],
    ] {
        let output = run("strained-objective", &[arguments, &["--quiet"]].concat());
        assert!(output.status.success(), "{}", text(&output.stderr));
        let table = text(&output.stdout);
        for line in table.lines() {
            assert!(line.chars().count() <= 100, "{line}");
        }
        for words in ["lower polar", "objective", "analyzer", "azimuth", "passed"] {
            assert!(table.contains(words), "{words} is missing in\n{table}");
        }
        assert_eq!(
            table.contains("everything between the polars"),
            !arguments.is_empty()
        );
        assert!(!table.contains("no diagnostic device"));
    }
    assert!(text(&run("pond-life", &[]).stdout).contains("no diagnostic device"));
}

#[test]
fn a_wavelength_that_the_lamp_lacks_is_pointed_out() {
    for (wavelength, lacks) in [("450", true), ("589.3", false)] {
        let answer = json("crystal-along-axis", &["--wavelength", wavelength]);
        let notes = answer["notes"].to_string();
        assert_eq!(notes.contains("next to no light"), lacks, "{notes}");
    }
}

#[test]
fn wrong_rays_and_wavelengths_give_status_2_and_write_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let plots = folder.path().join("plots");
    for (arguments, words) in [
        (
            ["--ray", "0.7,30"],
            "NA 0.7 is beyond the direct light's 0.60",
        ),
        (
            ["--ray", "1e300,0"],
            "NA 1e300 is beyond the direct light's 0.60",
        ),
        (["--ray", "0.5"], "such as 0.5,30"),
        (["--ray", "-0.1,0"], "such as 0.5,30"),
        (["--ray", "nan,0"], "such as 0.5,30"),
        (["--ray", "0.1,inf"], "such as 0.5,30"),
        (["--ray", ""], "such as 0.5,30"),
        (["--ray", "0.1,2,3"], "such as 0.5,30"),
        (["--wavelength", "200"], "360 to 830 nm"),
        (["--wavelength", "-5"], "360 to 830 nm"),
        (["--wavelength", "green"], "360 to 830 nm"),
    ] {
        let arguments = [&arguments[..], &["--plots", plots.to_str().unwrap()]].concat();
        let output = run("pond-life", &arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(output.stdout.is_empty() && !plots.exists());
        let message = text(&output.stderr);
        assert!(message.contains(words), "{message}");
    }
    // A folder in which the system lets nothing be made.
    if cfg!(target_os = "linux") {
        let output = run("pond-life", &["--plots", "/proc/zz"]);
        let message = text(&output.stderr);
        assert_eq!(output.status.code(), Some(3));
        assert!(message.contains("/proc cannot be written"), "{message}");
        assert!(!message.contains("no such"), "{message}");
    }
    let missing = polstack().args(["trace", "nowhere.toml"]).output().unwrap();
    assert_eq!(missing.status.code(), Some(3));
}

#[test]
fn the_figure_is_written_whole_and_the_same_on_any_number_of_threads() {
    let folder = tempfile::tempdir().unwrap();
    let draw = |threads: &str| {
        let plots = folder.path().join(threads);
        let mut command = polstack();
        command
            .arg("trace")
            .arg(scenario("oil-immersion"))
            .arg("--plots")
            .arg(&plots);
        let output = command.env("RAYON_NUM_THREADS", threads).output().unwrap();
        assert!(output.status.success(), "{}", text(&output.stderr));
        let read = |name: &str| fs::read(plots.join(name)).unwrap();
        (output.stdout, read("trace.svg"), read("trace.png"))
    };
    let one = draw("1");
    assert!(one == draw("3"));
    assert!(text(&one.1).contains("identifies nothing"));
    let taken = folder.path().join("taken");
    fs::write(&taken, "mine").unwrap();
    let output = run("pond-life", &["--plots", taken.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(3));
    assert!(output.stdout.is_empty());
}

#[test]
fn azimuths_are_below_180_degrees_in_every_format() {
    let csv = text(&run("pond-life", &["--csv"]).stdout);
    let mut lines = csv.lines().map(|line| line.split(',').collect::<Vec<_>>());
    let header = lines.next().unwrap();
    let column = header.iter().position(|key| *key == "azimuth_deg").unwrap();
    let written: Vec<f64> = lines.filter_map(|row| row[column].parse().ok()).collect();
    assert_eq!(written[0], 0.0, "the lower polar's, {csv}");
    assert!(
        written.iter().all(|deg| (0.0..179.99999).contains(deg)),
        "{csv}"
    );
    let answer = json("pond-life", &[]);
    let steps = answer["steps"].as_array().unwrap().iter();
    let told = steps.filter_map(|step| step["state"]["azimuth_deg"].as_f64());
    assert_eq!(told.collect::<Vec<_>>(), written);
}
