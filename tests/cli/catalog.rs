//! `polstack catalog` and the commands for editors and shells.

use crate::{polstack, text};

#[test]
fn every_entry_of_the_catalog_has_source_and_standing() {
    let output = polstack().args(["catalog", "--json"]).output().unwrap();
    assert!(output.status.success());
    let rows: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let rows = rows.as_array().unwrap();
    for name in [
        "iodine-medium",
        "N-BK7",
        "quartz",
        "gypsum",
        "mgf2",
        "led-b3",
        "cie-a",
        "oil",
    ] {
        assert!(
            rows.iter().any(|row| row["name"] == name),
            "{name} is missing"
        );
    }
    for row in rows {
        assert!(!row["source"].as_str().unwrap().is_empty(), "{row}");
        let standing = row["standing"].as_str().unwrap();
        assert!(
            ["read", "from memory", "invented"].contains(&standing),
            "{row}"
        );
    }
}

#[test]
fn the_catalog_as_csv_has_a_row_for_each_of_the_json() {
    let csv = polstack()
        .args(["catalog", "--csv"])
        .output()
        .unwrap()
        .stdout;
    let json = polstack()
        .args(["catalog", "--json"])
        .output()
        .unwrap()
        .stdout;
    let rows = csv::Reader::from_reader(&csv[..])
        .into_records()
        .map(Result::unwrap)
        .count();
    let json: serde_json::Value = serde_json::from_slice(&json).unwrap();
    assert_eq!(rows, json.as_array().unwrap().len());
}

#[test]
fn the_schema_is_json_and_names_every_kind_of_part() {
    let output = polstack().arg("schema").output().unwrap();
    let schema: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let words = schema.to_string();
    for kind in [
        "polarizer",
        "retarder",
        "plate",
        "condenser",
        "slide",
        "specimen",
        "objective",
        "analyzer",
    ] {
        assert!(words.contains(&format!("\"{kind}\"")), "{kind} is missing");
    }
}

#[test]
fn completions_and_manual_pages_are_made() {
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let output = polstack().args(["completions", shell]).output().unwrap();
        assert!(text(&output.stdout).contains("predict"), "{shell}");
    }
    let folder = tempfile::tempdir().unwrap();
    polstack()
        .arg("manual")
        .arg(folder.path())
        .assert()
        .success();
    assert!(folder.path().join("polstack-predict.1").exists());
}

#[test]
fn every_command_has_help_with_an_example() {
    for command in ["predict", "tolerate", "catalog", "completions", "manual"] {
        let output = polstack().args([command, "--help"]).output().unwrap();
        assert!(text(&output.stdout).contains("Example:"), "{command}");
    }
}
