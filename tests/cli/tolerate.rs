//! `polstack tolerate`.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Output;

use serde_json::Value;
use tempfile::TempDir;

use crate::{polstack, text};

/// An invented stack, quick to judge: a narrow line, a strained objective, polars that may be off.
const SCENE: &str = r#"
    title = "Invented"
    light.source = { line_nm = 546.1, width_nm = 10 }
    spectrum = { from_nm = 530, to_nm = 560, step_nm = 5 }
    aperture.na = 0.2
    [[part]]
    name = "lower polar"
    polarizer = { sheet = { k1 = 0.8, k2 = 1e-5 }, azimuth_deg = 0 }
    tolerance = { azimuth_deg = 0.5 }
    [[part]]
    name = "objective"
    objective = { na = 0.2, surfaces = 4, glass = "N-BK7", coating = "mgf2" }
    strain = [ { uniform = { path_difference_nm = 3, azimuth_deg = 45 } } ]
    tolerance = { path_difference_nm = 1, azimuth_deg = 10 }
    [[part]]
    name = "plate"
    plate = { path_difference_nm = 550, azimuth_deg = 45 }
    [[part]]
    name = "analyzer"
    analyzer = { sheet = { k1 = 0.8, k2 = 1e-5 }, azimuth_deg = 90 }
"#;

fn scene() -> (TempDir, PathBuf) {
    written(SCENE)
}

fn written(scene: &str) -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("scene.toml");
    fs::write(&file, scene).unwrap();
    (folder, file)
}

fn tolerate(file: &Path, arguments: &[&str]) -> Output {
    let mut command = polstack();
    command.arg("tolerate").arg(file).args(arguments);
    command.output().unwrap()
}

fn json(file: &Path, arguments: &[&str]) -> (Value, Option<i32>) {
    let output = tolerate(file, &[arguments, &["--json"]].concat());
    assert!(output.stderr.is_empty(), "{}", text(&output.stderr));
    let answer = serde_json::from_slice(&output.stdout).unwrap();
    (answer, output.status.code())
}

#[test]
fn the_status_tells_whether_a_given_target_is_met() {
    let (_folder, file) = scene();
    let (met, status) = json(&file, &["--part", "objective", "--extinction", "1000"]);
    assert_eq!((&met["met"], status), (&Value::Bool(true), Some(0)));
    let (missed, status) = json(&file, &["--part", "objective", "--extinction", "1e5"]);
    assert_eq!((&missed["met"], status), (&Value::Bool(false), Some(1)));
    assert_eq!(missed["dominates"]["part"], "objective");
    // Without a target nothing was asked for that could be missed.
    let strained = SCENE.replace("path_difference_nm = 3", "path_difference_nm = 30");
    let (_folder, file) = written(&strained);
    let (usual, status) = json(&file, &["--part", "objective"]);
    assert_eq!((&usual["met"], status), (&Value::Bool(false), Some(0)));
    assert_eq!(usual["target"]["extinction_ratio"], 1000.0);
}

#[test]
fn the_json_has_limits_in_all_units_and_what_will_show() {
    let (_folder, file) = scene();
    let (answer, _) = json(
        &file,
        &[
            "--part",
            "objective",
            "--see",
            "2 nm",
            "--full-well",
            "2e4",
            "--glass-path-mm",
            "25",
        ],
    );
    assert_eq!(answer["target"]["see_nm"], 2.0);
    assert_eq!(answer["target"]["criteria"][1]["full_well"], 2e4);
    let of = |arguments: &[&str]| {
        let (answer, _) = json(&file, arguments);
        answer["tolerated"][0].clone()
    };
    let strain = of(&["--part", "objective", "--glass-path-mm", "25"]);
    assert_eq!(
        (&strain["unit"], &strain["written"]),
        (&"nm".into(), &3.0.into())
    );
    let worst = &strain["limits"][1];
    assert_eq!(worst["case"], "worst");
    let [nm, waves, nm_per_cm, mpa] =
        ["limit", "waves", "nm_per_cm", "stress_mpa"].map(|key| worst[key].as_f64().unwrap());
    assert!((waves * 546.1 / nm - 1.0).abs() < 1e-12);
    assert!((nm_per_cm * 2.5 / nm - 1.0).abs() < 1e-12);
    // N-BK7 has 2.77 Brewster.
    assert!((mpa * 2.77 * 25.0 / nm - 1.0).abs() < 1e-12);
    assert_eq!(worst["stress_grade_nm_per_cm"], 2.0);
    let observers = answer["visibility"].as_array().unwrap();
    assert_eq!(observers.len(), 4);
    for seen in observers {
        assert!(seen["smallest_nm"].as_f64().unwrap() > 0.0);
        assert!(seen["covers"].as_array().unwrap().len() > 10);
    }
    let azimuth = of(&["--part", "analyzer"]);
    assert_eq!(
        (&azimuth["quantity"], &azimuth["unit"]),
        (&"azimuth".into(), &"deg".into())
    );
    let stray = of(&["--vary", "stray"]);
    assert!(stray["part"].is_null() && stray["limits"][0]["limit"].as_f64().unwrap() < 1e-3);
    let surfaces = of(&["--part", "objective", "--vary", "surfaces"]);
    assert!(surfaces["at_least"].as_u64().unwrap() >= 1);
}

#[test]
fn without_a_part_every_number_has_a_line_and_a_row() {
    let (_folder, file) = scene();
    let table = text(&tolerate(&file, &["--quiet"]).stdout);
    let csv = tolerate(&file, &["--csv"]).stdout;
    let mut reader = csv::Reader::from_reader(&csv[..]);
    assert_eq!(reader.headers().unwrap().len(), 8);
    let mut rows = 0;
    for record in reader.records() {
        let record = record.unwrap();
        assert!(
            table.contains(&record[0]) && table.contains(&record[1]),
            "{record:?}"
        );
        rows += 1;
    }
    assert!(rows > 15, "{rows}");
    assert!(table.contains("stray fraction") && table.contains("What will show"));
    assert!(!table.contains("no diagnostic device"));
}

#[test]
fn a_strain_that_is_not_written_is_taken_as_none_and_said_so() {
    let (_folder, file) = scene();
    let output = tolerate(&file, &["--part", "objective", "--profile", "radial"]);
    assert!(text(&output.stdout).contains("none as written"));
    let output = tolerate(&file, &["--part", "objective", "--profile", "map"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("map cannot be assumed"));
}

#[test]
fn wrong_questions_give_status_2_and_a_remedy() {
    let (_folder, file) = scene();
    for (arguments, words) in [
        (&["--part", "objektive"][..], "did you mean \"objective\"?"),
        (
            &["--part", "stage"],
            "lower polar, objective, plate, analyzer",
        ),
        (&["--vary", "strain"], "which part is meant"),
        (
            &["--part", "analyzer", "--vary", "surfaces"],
            "--vary takes here: azimuth",
        ),
        (&["--see", "wide"], "such as 2nm"),
        (&["--see", "-2nm"], "such as 2nm"),
        (&["--see", "NaN"], "such as 2nm"),
        (&["--extinction", "1"], "above 1"),
        (&["--extinction", "inf"], "above 1"),
        (
            &["--extinction", "100", "--see", "2"],
            "cannot be used with",
        ),
        (&["--with-plate"], "--see"),
        (&["--contrast", "0"], "above 0"),
        (&["--full-well", "-1"], "above 0"),
        (&["--glass-path-mm", "0"], "mm"),
        (
            &["--draws", "0"],
            "allowed: a whole number from 1 to 10000000",
        ),
        (
            &["--draws", "1e12"],
            "allowed: a whole number from 1 to 10000000",
        ),
        (
            &["--extinction", "1e300"],
            "to 1e12, which is more than any sheet reaches",
        ),
        (
            &["--vary", "stray", "--part", "slide"],
            "belongs to the whole stack; leave out --part",
        ),
        (
            &["--part", "analyzer", "--profile", "radial"],
            "of analyzer something else is varied; leave out --profile",
        ),
        (&["--seed", "3"], "--draws"),
    ] {
        let output = tolerate(&file, arguments);
        let message = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {message}");
        assert!(message.contains(words), "{arguments:?}: {message}");
        assert!(output.stdout.is_empty());
    }
    let plain = SCENE.replace("plate = {", "retarder = {");
    let (_folder, file) = written(&plain);
    let output = tolerate(&file, &["--see", "5", "--with-plate"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("there is no plate"));
    let exact = SCENE.replace("tolerance", "# tolerance");
    let (_folder, file) = written(&exact);
    let output = tolerate(&file, &["--draws", "10"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("tolerance = {"));
}

#[test]
fn the_same_seed_gives_the_same_bytes_on_any_number_of_threads() {
    let (_folder, file) = scene();
    let run = |threads: &str, seed: &str| {
        let mut command = polstack();
        command
            .arg("tolerate")
            .arg(&file)
            .args(["--part", "objective", "--json"]);
        command.args(["--see", "1nm", "--draws", "600", "--seed", seed]);
        command
            .env("RAYON_NUM_THREADS", threads)
            .output()
            .unwrap()
            .stdout
    };
    let one = run("1", "7");
    assert!(!one.is_empty());
    assert_eq!(one, run("2", "7"));
    assert_ne!(one, run("2", "8"));
}

#[test]
fn draws_are_told_with_their_yield_spread_and_causes() {
    let (_folder, file) = scene();
    let arguments = [
        "--part",
        "analyzer",
        "--extinction",
        "1500",
        "--draws",
        "1000",
    ];
    let (answer, _) = json(&file, &arguments);
    let draws = &answer["draws"];
    assert_eq!(
        (&draws["done"], &draws["partial"]),
        (&1000.into(), &Value::Bool(false))
    );
    let part = draws["yield"].as_f64().unwrap();
    let interval = [0, 1].map(|k| draws["yield_interval_95"][k].as_f64().unwrap());
    assert!(interval[0] < part && part < interval[1]);
    assert_eq!(draws["percentiles"].as_array().unwrap().len(), 7);
    let counts = draws["histogram"]["counts"].as_array().unwrap();
    assert_eq!(
        counts
            .iter()
            .map(|count| count.as_u64().unwrap())
            .sum::<u64>(),
        1000
    );
    let causes = draws["causes"].as_array().unwrap();
    assert_eq!(causes.len(), 3);
    assert!(
        causes
            .iter()
            .all(|cause| cause["total"]["value"].is_number())
    );
    let table = text(&tolerate(&file, &arguments).stdout);
    for words in [
        "of 1000 draws meet the target",
        "50th",
        "share of the spread",
        "s.d.",
        "#",
    ] {
        assert!(table.contains(words), "{words} is missing in\n{table}");
    }
    assert!(!table.contains("Partial"));
}

/// Ten million draws would take hours here: the interrupted run tells what it has, and that is what a run of so many draws tells.
#[cfg(unix)]
#[test]
fn ctrl_c_keeps_what_is_done_and_says_that_it_is_partial() {
    use std::process::{Command, Stdio};
    use std::{thread, time::Duration};

    let (_folder, file) = scene();
    let interrupted = |seconds: u64| -> Value {
        let child = Command::new(env!("CARGO_BIN_EXE_polstack"))
            .arg("tolerate")
            .arg(&file)
            .args(["--part", "analyzer", "--draws", "10000000", "--json"])
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        thread::sleep(Duration::from_secs(seconds));
        let sent = Command::new("kill")
            .args(["-INT", &child.id().to_string()])
            .status();
        assert!(sent.unwrap().success());
        let output = child.wait_with_output().unwrap();
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        serde_json::from_slice::<Value>(&output.stdout).unwrap()["draws"].clone()
    };
    let done = |draws: &Value| draws["done"].as_u64().unwrap();
    // A busy machine may need longer before the first draw.
    let draws = ([2, 4, 8, 16, 32].into_iter().map(interrupted))
        .find(|draws| done(draws) > 0)
        .expect("some draws are done");
    assert_eq!(draws["partial"], true);
    assert!(done(&draws) < 10_000_000);
    let count = done(&draws).to_string();
    let whole = tolerate(&file, &["--part", "analyzer", "--draws", &count, "--json"]);
    let whole: Value = serde_json::from_slice(&whole.stdout).unwrap();
    assert_eq!(whole["draws"]["partial"], false);
    for same in ["done", "met", "percentiles", "causes"] {
        assert_eq!(draws[same], whole["draws"][same], "{same}");
    }
}

#[test]
fn the_figure_of_the_draws_holds_its_words() {
    let (folder, file) = scene();
    let plots = folder.path().join("plots");
    let directory = plots.to_str().unwrap();
    let output = tolerate(
        &file,
        &[
            "--extinction",
            "500",
            "--draws",
            "400",
            "--plots",
            directory,
        ],
    );
    assert!(text(&output.stderr).contains("wrote 2 files"));
    let svg = fs::read_to_string(plots.join("draws.svg")).unwrap();
    for words in [
        "400 instruments built to the tolerances",
        "median",
        "as written",
        "lower polar, azimuth",
        "objective, strain of the 1st profile",
        "no diagnostic device",
    ] {
        assert!(svg.contains(words), "{words}");
    }
    assert!(fs::metadata(plots.join("draws.png")).unwrap().len() > 10_000);
    // Without draws there is nothing to draw.
    let output = tolerate(&file, &["--plots", directory]);
    assert_eq!(output.status.code(), Some(2));
}

#[test]
fn the_table_of_draws_is_their_percentiles() {
    let (_folder, file) = scene();
    let output = tolerate(&file, &["--draws", "400", "--csv"]);
    let rows: Vec<Vec<String>> = text(&output.stdout)
        .lines()
        .map(|line| line.split(',').map(str::to_owned).collect())
        .collect();
    assert_eq!(
        rows[0].join(","),
        "percent,extinction_ratio,low,high,met,done,asked"
    );
    assert_eq!(rows.len(), 8);
    let ratios: Vec<f64> = rows[1..]
        .iter()
        .map(|row| row[1].parse().unwrap())
        .collect();
    assert!(
        ratios.windows(2).all(|pair| pair[0] < pair[1]),
        "{ratios:?}"
    );
    assert!(rows[1..].iter().all(|row| row[5..] == ["400", "400"]));
}

/// A stack of two sheets whose lower polar is 3 degrees off.
const OFF: &str = r#"
aperture.na = 0.1
light.source = "cie-e"
[[part]]
name = "lower polar"
polarizer = { sheet = "iodine-medium", azimuth_deg = 3 }
[[part]]
name = "objective"
objective = { na = 0.1, surfaces = 2, glass = "N-BK7", coating = "ideal" }
[[part]]
name = "plate"
plate = { path_difference_nm = 550, at_nm = 550, azimuth_deg = 45 }
[[part]]
name = "analyzer"
analyzer = { sheet = "iodine-medium", azimuth_deg = 90 }
"#;

/// sin^2(a) and the sheets' leak make a ratio of 1000 at one azimuth: found here by bisection on predictions of the same file.
#[test]
fn a_missed_azimuth_is_told_where_it_would_be_met() {
    let (_folder, file) = written(OFF);
    let (answer, status) = json(&file, &["--extinction", "1000", "--part", "lower polar"]);
    assert_eq!(status, Some(1));
    let found = answer["tolerated"][0]["rescued_at"].as_f64().unwrap();
    let ratio = |azimuth_deg: f64| {
        let text = OFF.replace("azimuth_deg = 3", &format!("azimuth_deg = {azimuth_deg}"));
        let (_folder, file) = written(&text);
        json(&file, &["--extinction", "1000"]).0["extinction_ratio"]
            .as_f64()
            .unwrap()
    };
    let (mut met, mut missed) = (0.0, 3.0);
    for _ in 0..12 {
        let middle = 0.5 * (met + missed);
        if ratio(middle) >= 1000.0 {
            met = middle;
        } else {
            missed = middle;
        }
    }
    assert!((found - met).abs() < 2e-3, "{found} and {met}");
    let out = tolerate(&file, &["--extinction", "1000"]);
    let text = String::from_utf8(out.stdout).unwrap();
    assert!(
        text.contains("Most of the leak comes from polars that are not crossed"),
        "{text}"
    );
    assert!(text.contains("missed as written, met at"), "{text}");
}

#[test]
fn colours_are_not_lost_in_the_leak_and_it_is_not_blamed() {
    let (_folder, file) = written(OFF);
    let question = ["--see", "1nm", "--with-plate", "--part", "lower polar"];
    let (answer, _) = json(&file, &question);
    assert!(answer["dominates"].is_null());
    let text = String::from_utf8(tolerate(&file, &question).stdout).unwrap();
    assert!(
        text.contains("its colour differs from the background's by"),
        "{text}"
    );
    assert!(!text.contains("Most of the leak"), "{text}");
}

/// Wavelengths 50 nm apart are no spectrum of a sheet: the answer says so at the top, with the error that `predict` tells.
#[test]
fn wavelengths_too_far_apart_are_told_at_the_top() {
    let coarse = format!("{OFF}[spectrum]\nfrom_nm = 380\nto_nm = 780\nstep_nm = 50\n");
    let (_folder, file) = written(&coarse);
    let (answer, _) = json(&file, &[]);
    let error = answer["spectral_error"]["color"].as_f64().unwrap();
    assert!(error > 0.02, "{error}");
    let text = String::from_utf8(tolerate(&file, &[]).stdout).unwrap();
    assert!(text.lines().take(4).any(|line| line.starts_with("UNSURE")));
    let (_folder, file) = written(OFF);
    let (fine, _) = json(&file, &[]);
    assert!(fine["spectral_error"]["color"].as_f64().unwrap() < 0.01);
}

#[test]
fn what_can_be_refused_at_once_is() {
    let (folder, file) = written(OFF);
    let taken = folder.path().join("taken");
    fs::write(&taken, "kept").unwrap();
    let out = tolerate(
        &file,
        &["--draws", "10", "--plots", taken.to_str().unwrap()],
    );
    assert_eq!(out.status.code(), Some(3));
    assert!(
        String::from_utf8(out.stderr)
            .unwrap()
            .contains("a file, not a folder")
    );
    let out = tolerate(&file, &["--draws", "10"]);
    assert_eq!(out.status.code(), Some(2));
    assert!(
        String::from_utf8(out.stderr)
            .unwrap()
            .contains("no part has a tolerance")
    );
}
