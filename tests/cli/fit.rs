//! `polstack fit`.

use std::fs;
use std::sync::LazyLock;

use serde_json::Value;
use tempfile::TempDir;

use crate::{polstack, scenario, text};

const READINGS: &str = "scenarios/readings/leaking-stand.csv";

fn run(arguments: &[&str]) -> std::process::Output {
    let mut command = polstack();
    command.arg("fit").arg(scenario("leaking-stand"));
    command.args(arguments).output().unwrap()
}

/// The eight readings, fitted once for several tests: the folder that was written, and the answer.
static EIGHT: LazyLock<(TempDir, Value)> = LazyLock::new(|| {
    let folder = tempfile::tempdir().unwrap();
    let home = folder.path().to_str().unwrap();
    let output = run(&[READINGS, "--draws", "800", "--json", "--write", home]);
    assert!(output.status.success(), "{}", text(&output.stderr));
    let answer = serde_json::from_slice(&output.stdout).unwrap();
    (folder, answer)
});

#[test]
fn the_json_has_the_stable_keys() {
    let answer = &EIGHT.1;
    assert_eq!(answer["scenario"], "Teaching stand that leaks");
    assert_eq!(
        (answer["seed"].as_u64(), answer["draws"].as_u64()),
        (Some(1), Some(800))
    );
    assert_eq!(answer["consistent"], true);
    assert!(answer["log_evidence"].is_number() && answer["p_value"].is_number());
    let edge = &answer["unknown"][0];
    assert_eq!(edge["name"], "condenser.radial.edge_nm");
    assert_eq!(
        (&edge["part"], &edge["cause"], &edge["unit"]),
        (&"condenser".into(), &"strain".into(), &"nm".into())
    );
    assert!(edge["told"].is_boolean());
    for key in ["low", "median", "high"] {
        assert!(
            edge["prior"][key].is_number() && edge["posterior"][key].is_number(),
            "{key}"
        );
    }
    assert!(edge["posterior"]["mean"].is_number() && edge["posterior"]["sd"].is_number());
    let first = &answer["readings"][0];
    assert_eq!(first["line"], 3);
    assert!(
        first["measured"].is_number()
            && first["predicted"]["low"].is_number()
            && first["z"].is_number()
    );
    let blame = answer["blame"].as_array().unwrap();
    let sum: f64 = blame
        .iter()
        .map(|blame| blame["largest"].as_f64().unwrap())
        .sum();
    assert!((sum - 1.0).abs() < 1e-9, "{sum}");
    assert!(answer["independent_draws"].as_u64().unwrap() > 1);
    let populations = answer["blame_by_population"].as_array().unwrap();
    assert!(populations.len() > 1);
    for population in populations {
        let each = population.as_array().unwrap();
        let sum: f64 = each.iter().map(|p| p.as_f64().unwrap()).sum();
        assert!(each.len() == blame.len() && (sum - 1.0).abs() < 1e-9);
    }
    assert_eq!(
        (&blame[0]["part"], &blame[0]["cause"]),
        (&"objective".into(), &"strain".into())
    );
    let next = &answer["next"][0];
    assert!(
        next["setting"].is_object() && next["gain_nats"].is_number() && next["words"].is_string()
    );
}

#[test]
fn two_readings_do_not_decide_what_eight_do() {
    let readings = "scenarios/readings/leaking-stand-two.csv";
    let two = text(&run(&[readings, "--draws", "800", "--quiet"]).stdout);
    assert!(
        two.contains("Not decided which leak is the largest: ") && two.contains("Next reading: "),
        "{two}"
    );
    // An axis of which nothing is known has no number.
    let axis = "condenser.uniform.azimuth_deg";
    let row = two.lines().find(|line| line.contains(axis)).unwrap();
    let words: Vec<&str> = row.split_whitespace().collect();
    assert_eq!(words[..2], [axis, "any"], "{row}");
    let first = &EIGHT.1["blame"][0];
    assert_eq!(
        (first["part"].as_str(), first["cause"].as_str()),
        (Some("objective"), Some("strain"))
    );
    assert!(first["largest"].as_f64().unwrap() >= 0.9, "{first}");
}

#[test]
fn predict_answers_over_the_stand_that_was_written() {
    let (folder, fit) = &*EIGHT;
    let home = folder.path();
    let written = fs::read_to_string(home.join("leaking-stand.toml")).unwrap();
    assert!(
        written.contains("sample = \"leaking-stand.sample.csv\""),
        "{written}"
    );
    let output = polstack()
        .arg("predict")
        .arg(home.join("leaking-stand.toml"))
        .arg("--json")
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", text(&output.stderr));
    let predicted: Value = serde_json::from_slice(&output.stdout).unwrap();
    for key in ["low", "median", "high"] {
        let told = fit["extinction_ratio"][key].as_f64().unwrap();
        let again = predicted["doubt"]["extinction_ratio"][key]
            .as_f64()
            .unwrap();
        assert!((again / told - 1.0).abs() < 0.02, "{key}: {told} {again}");
    }
}

#[test]
fn what_cannot_be_answered_is_told_before_any_work() {
    for (arguments, words) in [
        (
            &[READINGS, "--known", "condenser.radia"][..],
            "\"condenser.radia\" is not among the unknowns of this stand, but these begin so: condenser.radial.edge_nm",
        ),
        (
            &[READINGS, "--unknown", "condenser,objective"],
            "one name at a time: repeat --unknown for each",
        ),
        (
            &[READINGS, "--can", "turn:slide"],
            "\"turn:slide\" is nothing that can be done with this stand; allowed: ",
        ),
        (
            &[READINGS, "--write", "scenarios"],
            "--write would replace the scenario itself",
        ),
        (
            &["scenarios/leaking-stand.toml"],
            "is no column of readings",
        ),
    ] {
        let output = run(arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(
            text(&output.stderr).contains(words),
            "{}",
            text(&output.stderr)
        );
        assert!(output.stdout.is_empty());
    }
}

#[test]
fn the_blame_of_a_part_is_that_of_its_causes() {
    let answer = &EIGHT.1;
    for part in answer["blame_by_part"].as_array().unwrap() {
        let own = answer["blame"].as_array().unwrap().iter();
        let sum: f64 = own
            .filter(|blame| blame["part"] == part["part"])
            .map(|blame| blame["largest"].as_f64().unwrap())
            .sum();
        assert!((sum - part["largest"].as_f64().unwrap()).abs() < 1e-9);
    }
    assert!(answer["moves_per_draw"].as_f64().unwrap() > 1.0);
}

#[test]
fn a_checklist_is_a_sheet_to_print_and_a_table_that_fit_reads() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path().to_str().unwrap();
    let output = run(&["--checklist", "--draws", "200", "--json", "--write", dir]);
    assert!(output.status.success(), "{}", text(&output.stderr));
    let answer: Value = serde_json::from_slice(&output.stdout).unwrap();
    let steps = answer["steps"].as_array().unwrap();
    assert!(!steps.is_empty() && steps.len() <= 10);
    let pdf = fs::read(folder.path().join("leaking-stand.checklist.pdf")).unwrap();
    assert!(pdf.starts_with(b"%PDF-"));
    // Filled in with what the stands would read, it is read as the settings that were asked for.
    let file = folder.path().join("leaking-stand.readings.csv");
    let empty = fs::read_to_string(&file).unwrap();
    assert_eq!(empty.lines().count(), steps.len() + 1);
    let mut filled: Vec<String> = empty.lines().map(str::to_owned).collect();
    for (row, step) in filled[1..].iter_mut().zip(steps) {
        let crossed = 1000.0 / step["ratio"]["median"].as_f64().unwrap();
        *row = format!("{crossed},1000{}", &row[1..]);
    }
    fs::write(&file, filled.join("\n")).unwrap();
    let output = run(&[file.to_str().unwrap(), "--draws", "200", "--json"]);
    assert!(output.status.success(), "{}", text(&output.stderr));
    let fitted: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(fitted["readings"].as_array().unwrap().len(), steps.len());
    // What is filled in is not written over.
    let again = run(&["--checklist", "--draws", "200", "--write", dir]);
    assert_eq!(again.status.code(), Some(2));
    assert!(text(&again.stderr).contains("may hold readings"));
    assert_eq!(fs::read_to_string(&file).unwrap(), filled.join("\n"));
    // As it came it is refused, with what to fill in.
    fs::write(&file, empty).unwrap();
    let output = run(&[file.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        text(&output.stderr).contains("fill in reading and parallel"),
        "{}",
        text(&output.stderr)
    );
    // With readings there is nothing to list.
    assert_eq!(run(&[READINGS, "--checklist"]).status.code(), Some(2));
}

#[test]
fn a_checklist_is_the_same_on_any_number_of_threads() {
    let with = |threads: &str| {
        let mut command = polstack();
        command.env("RAYON_NUM_THREADS", threads);
        command.arg("fit").arg(scenario("leaking-stand"));
        command.args(["--checklist", "--draws", "150", "--json"]);
        command.output().unwrap().stdout
    };
    let one = with("1");
    assert!(!one.is_empty());
    assert_eq!(one, with("3"));
}

#[test]
fn figures_are_written_where_they_are_asked_for() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path().to_str().unwrap();
    let output = run(&[READINGS, "--draws", "200", "--plots", dir]);
    assert!(output.status.success(), "{}", text(&output.stderr));
    let svg = fs::read_to_string(folder.path().join("fit.svg")).unwrap();
    for words in ["objective, strain", "line 3", "analyzer.azimuth_deg"] {
        assert!(svg.contains(words), "{words}");
    }
    assert!(folder.path().join("fit.png").exists());
}

#[test]
fn words_that_this_stand_lacks_get_the_nearest_that_it_has() {
    for (option, word, near) in [
        ("--can", "turn:objektive", "turn:objective"),
        (
            "--known",
            "objektive.radial.edge_nm",
            "objective.radial.edge_nm",
        ),
    ] {
        let output = run(&[READINGS, option, word]);
        assert_eq!(output.status.code(), Some(2));
        let message = text(&output.stderr);
        assert!(
            message.starts_with(&format!("error: {option}: "))
                && message.contains(&format!("did you mean \"{near}\"?")),
            "{message}"
        );
    }
}
