//! `polstack start`.

use std::fs;

use serde_json::Value;

use crate::{polstack, text};

fn run(arguments: &[&str]) -> std::process::Output {
    polstack().arg("start").args(arguments).output().unwrap()
}

#[test]
fn every_stand_that_can_be_asked_for_can_be_read_and_run() {
    let folder = tempfile::tempdir().unwrap();
    let mut number = 0;
    for condenser in ["moulded", "ground", "corrected", "none"] {
        for objective in ["achromat", "flat-field"] {
            for (polar, na) in [("below", "0.25"), ("above", "0.65"), ("above", "1.25")] {
                number += 1;
                let file = folder.path().join(format!("{number}.toml"));
                let file = file.to_str().unwrap();
                let options = ["--condenser", condenser, "--objective", objective];
                let place = ["--polar", polar];
                // Without a condenser there is no place below or above it.
                let place = if condenser == "none" { &[] } else { &place[..] };
                let more = ["--objective-na", na, "--out", file];
                let output = run(&[&options[..], place, &more[..]].concat());
                assert!(output.status.success(), "{}", text(&output.stderr));
                assert!(text(&output.stderr).contains("typical values"));
                let mut predict = polstack();
                let output = predict.args(["predict", file, "--json"]).output().unwrap();
                assert!(output.status.success(), "{}", text(&output.stderr));
                let answer: Value = serde_json::from_slice(&output.stdout).unwrap();
                assert!(answer["extinction_ratio"].as_f64().unwrap() > 10.0);
                // What is only typical is in doubt.
                let doubt = &answer["doubt"]["extinction_ratio"];
                assert!(doubt["low"].as_f64().unwrap() < doubt["high"].as_f64().unwrap());
            }
        }
    }
}

#[test]
fn options_are_what_is_written() {
    let text = text(
        &run(&[
            "--title",
            "A \"small\" stand",
            "--lamp",
            "cie-a",
            "--sheet",
            "iodine-dense",
            "--iris",
            "0.3",
            "--plate",
            "no",
        ])
        .stdout,
    );
    for line in [
        "title = 'A \"small\" stand'",
        "source = \"cie-a\"",
        "na = 0.3 ",
        "polarizer = { sheet = \"iodine-dense\"",
    ] {
        assert!(text.contains(line), "{line}: {text}");
    }
    assert!(!text.contains("plate ="), "{text}");
}

#[test]
fn a_file_that_is_there_is_left_alone_and_wrong_options_write_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("stand.toml");
    fs::write(&file, "kept").unwrap();
    let output = run(&["--out", file.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(2));
    assert_eq!(fs::read_to_string(&file).unwrap(), "kept");
    let new = folder.path().join("new.toml");
    for wrong in [
        ["--condenser", "glass"],
        ["--sheet", "paper"],
        ["--objective-na", "2"],
        ["--lamp", "sun"],
    ] {
        let output = run(&[&wrong[..], &["--out", new.to_str().unwrap()]].concat());
        assert_eq!(output.status.code(), Some(2), "{wrong:?}");
        assert!(!new.exists());
    }
    let none = ["--condenser", "none"];
    for (more, words) in [
        (["--condenser-na", "0.5"], "leave out --condenser-na"),
        (["--polar", "below"], "leave out --polar"),
    ] {
        let output = run(&[none, more, ["--out", new.to_str().unwrap()]].concat());
        assert_eq!(output.status.code(), Some(2), "{more:?}");
        assert!(text(&output.stderr).contains(words) && !new.exists());
    }
    // An iris wider than the objective is written with what counts, and a folder that is made is told.
    let wide = folder.path().join("made").join("wide.toml");
    let options = ["--iris", "0.9", "--objective-na", "0.4", "--out"];
    let output = run(&[&options[..], &[wide.to_str().unwrap()]].concat());
    assert!(text(&output.stderr).contains("and made its folder"));
    let written = fs::read_to_string(&wide).unwrap();
    assert!(
        written.contains("the objective passes only 0.4"),
        "{written}"
    );
    assert!(text(&run(&["--sheet", "paper"]).stderr).contains("iodine-medium"));
}

/// The scenario that answers from elsewhere than a terminal give, or why there is none.
fn answered(answers: &str) -> Result<String, String> {
    let output = (polstack().arg("start").write_stdin(answers))
        .output()
        .unwrap();
    match output.status.code() {
        Some(0) => Ok(text(&output.stdout)),
        _ => Err(text(&output.stderr)),
    }
}

#[test]
fn answers_are_taken_line_by_line_and_what_is_not_known_is_marked() {
    let all = "Bench\ncie-a\nground\n0.8\nflat-field\n0.4\n0.3\niodine-dense\nabove\nno\n";
    let written = answered(all).unwrap();
    let options = "--title Bench --lamp cie-a --condenser ground --condenser-na 0.8 --objective flat-field --objective-na 0.4 --iris 0.3 --sheet iodine-dense --polar above --plate no";
    let options: Vec<&str> = options.split(' ').collect();
    assert_eq!(written, text(&run(&options).stdout));
    // An empty answer is no knowledge: the file has what is usual, and says so.
    let usual = answered(&"\n".repeat(10)).unwrap();
    assert_eq!(usual, text(&run(&[]).stdout));
    for line in [
        "source = \"led-b3\"",
        "na = 0.59 ",
        "polarizer = ",
        "condenser = ",
        "objective = ",
    ] {
        let marked = |text: &str| -> bool {
            let mut lines = text.lines().filter(|of| of.starts_with(line));
            lines.next().unwrap().contains("typical")
        };
        assert!(marked(&usual), "{line}: {usual}");
    }
    assert_eq!(written.matches("; typical: put yours here").count(), 0);
    // A wrong answer and a missing one end the questions.
    for (answers, words) in [
        ("\n\nground\n1.25\n", "about 0.9 in air; nothing is written"),
        ("\n\nground\n0,9\n", "with a point for the decimals"),
        ("\n\nglass\n", "allowed: moulded, ground, corrected, none"),
        ("Bench\n", "not all answered, nothing is written"),
    ] {
        let error = answered(answers).unwrap_err();
        assert!(error.contains(words), "{error}");
    }
    // Without a condenser there is none to ask about.
    let bare = answered("\n\nnone\n\n\n\n\n\n").unwrap();
    assert!(
        bare.contains("typical: a lamp without a condenser"),
        "{bare}"
    );
}
