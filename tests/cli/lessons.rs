//! `polstack lessons`.

use std::collections::BTreeSet;
use std::fs;

use serde_json::Value;

use crate::{polstack, scenario, text};

fn run(arguments: &[&str]) -> std::process::Output {
    polstack().arg("lessons").args(arguments).output().unwrap()
}

fn good(arguments: &[&str]) -> String {
    let output = run(arguments);
    assert!(output.status.success(), "{}", text(&output.stderr));
    text(&output.stdout)
}

fn all() -> Vec<Value> {
    let answer: Value = serde_json::from_str(&good(&["--json"])).unwrap();
    answer["lessons"].as_array().unwrap().clone()
}

/// The numbers of a text, as they are written.
fn numbers(words: &str) -> BTreeSet<String> {
    words
        .split(|c: char| !(c.is_ascii_digit() || c == '.'))
        .map(|number| number.trim_matches('.').to_owned())
        .filter(|number| number.parse::<f64>().is_ok())
        .collect()
}

fn found(one: &Value) -> Vec<String> {
    (one["found"].as_array().unwrap().iter())
        .map(|found| found["words"].as_str().unwrap().to_owned())
        .collect()
}

fn word<'a>(lesson: &'a Value, key: &str) -> &'a str {
    lesson[key].as_str().unwrap()
}

/// No number of an answer is made up: the program computed it for one of the tries, or it is one that the class was given.
#[test]
fn every_number_of_an_answer_is_computed_or_given() {
    let lessons = all();
    assert_eq!(lessons.len(), 8);
    for lesson in &lessons {
        let mut known = numbers(word(lesson, "title"));
        known.extend(numbers(word(lesson, "question")));
        for step in lesson["do"].as_array().unwrap() {
            known.extend(numbers(step.as_str().unwrap()));
        }
        let tries = lesson["tries"].as_array().unwrap();
        assert!(tries.len() >= 2, "{lesson}");
        let mut computed = BTreeSet::new();
        for one in tries {
            known.extend(numbers(word(one, "name")));
            for words in found(one) {
                computed.extend(numbers(&words));
            }
        }
        let told = numbers(word(lesson, "answer"));
        for number in &told {
            assert!(
                known.contains(number) || computed.contains(number),
                "{}: {number} is neither computed nor given",
                word(lesson, "title")
            );
        }
        // Each answer rests on something that was computed; lessons 5 and 6 on colours, below.
        let rests = told.iter().any(|number| computed.contains(number));
        assert!(rests || word(lesson, "answer").contains("blue"), "{lesson}");
    }
}

#[test]
fn the_colours_of_the_answers_are_those_that_are_seen() {
    let lessons = all();
    for (place, words) in [
        (4, &["sky blue", "deep purple", "yellow", "pale blue"][..]),
        (
            5,
            &[
                "blue at 45°, orange at 135°",
                "orange at 45°, blue at 135°",
                "blue",
                "orange",
            ],
        ),
    ] {
        let tries = lessons[place]["tries"].as_array().unwrap();
        let seen: Vec<String> = tries.iter().flat_map(found).collect();
        for color in words {
            assert!(seen.iter().any(|seen| seen == color), "{color}: {seen:?}");
            let told = word(&lessons[place], "answer");
            for name in color.split(", ").filter_map(|one| one.split(" at ").next()) {
                assert!(told.contains(name), "{name}: {told}");
            }
        }
    }
}

/// Index of a wave that vibrates along a unit vector across its normal, where that is one of its two vibrations: the indicatrix's radius along it.
///
/// Source: Born and Wolf, Principles of Optics, 15.2.3 (from memory).
fn radius(indices: [f64; 3], along: [f64; 3]) -> f64 {
    let sum: f64 = (indices.iter().zip(along))
        .map(|(n, e)| (e / n).powi(2))
        .sum();
    sum.sqrt().recip()
}

/// The signs of lesson 6 by the indicatrix alone: path difference with the plate's 550 nm above the purple is blue, below it orange.
#[test]
fn the_signs_of_crystals_follow_from_the_indicatrix() {
    let tries = all()[5]["tries"].as_array().unwrap().clone();
    // Along north-east, along north-west, upright: at 589 nm, from memory for magnesium fluoride and calcite; muscovite as `src/material/data` has it from
    // a handbook, its middle index moved to where 2V is 38.5 degrees.
    let (x, z, v) = (1.564_f64, 1.6025_f64, 19.25_f64.to_radians());
    let y = ((v.sin() / x).powi(2) + (v.cos() / z).powi(2))
        .sqrt()
        .recip();
    assert!((y - 1.5985).abs() < 2e-3, "{y}");
    let crystals = [
        ([1.3777, 1.3777, 1.3895], 40e3),
        ([1.6584, 1.6584, 1.4864], 3.5e3),
        ([z, y, x], 25e3),
        ([y, z, x], 25e3),
    ];
    // By how much the vibration along north-east is the slower, in a ray at a sine in air, to north-east or north-west.
    let ahead = |(indices, thick): ([f64; 3], f64), sine: f64, north_east: bool| {
        let inside = sine / indices[0];
        let cosine = (1.0 - inside * inside).sqrt();
        let (radial, across) = match north_east {
            true => ([cosine, 0.0, -inside], [0.0, 1.0, 0.0]),
            false => ([0.0, cosine, -inside], [1.0, 0.0, 0.0]),
        };
        let difference = thick / cosine * (radius(indices, radial) - radius(indices, across));
        if north_east { difference } else { -difference }
    };
    let agrees = |added: f64, color: &str, what: &str| {
        let wanted = if added > 0.0 { "blue" } else { "orange" };
        assert!(
            added.abs() > 60.0 && added.abs() < 200.0,
            "{what}: {added} nm"
        );
        assert_eq!(color, wanted, "{what}: {added} nm");
    };
    for (one, crystal) in tries.iter().zip(crystals) {
        let (name, seen) = (word(one, "name"), found(one));
        if name.contains('C') {
            agrees(ahead(crystal, 0.0, true), &seen[0], name);
            continue;
        }
        let colors: Vec<&str> = seen[1].split(", ").collect();
        for (color, north_east) in colors.iter().zip([true, false]) {
            let color = color.split(" at ").next().unwrap();
            agrees(ahead(crystal, 0.7 * 0.85, north_east), color, name);
        }
        assert_eq!(seen[0], "deep purple");
    }
}

/// Malus: cos^2; a quarter-wave plate at 45 degrees makes circular light, of which any analyzer passes half.
#[test]
fn the_first_two_lessons_are_closed_forms() {
    let lessons = all();
    let percent = |one: &Value| found(one)[0].trim_end_matches(" %").parse::<f64>();
    for (one, degrees) in
        (lessons[0]["tries"].as_array().unwrap().iter()).zip([0.0, 30.0, 45.0, 60.0])
    {
        let expected = 100.0 * f64::to_radians(degrees).cos().powi(2);
        let got = percent(one).unwrap();
        assert!((got - expected).abs() < 0.06, "{degrees}: {got}");
    }
    for one in &lessons[1]["tries"].as_array().unwrap()[1..4] {
        assert_eq!(percent(one), Ok(50.0), "{one}");
        assert!(found(one)[1].starts_with("in a circle"), "{one}");
    }
}

#[test]
fn lessons_are_listed_and_shown_by_number_and_by_file() {
    let list = good(&[]);
    assert!(list.contains("Lesson 8: which part is to blame"), "{list}");
    let third = good(&["3"]);
    for words in [
        "Lesson 3: why the dark cross opens",
        "Question:",
        "Answer:",
        "extinction ratio",
        "no diagnostic device",
    ] {
        assert!(third.contains(words), "{words} is missing in\n{third}");
    }
    let file = scenario("pond-life").with_file_name("lessons/3-the-cross-opens.toml");
    assert_eq!(good(&[file.to_str().unwrap()]), third);
    // What else the program does with a lesson does not depend on its words.
    let path = file.to_str().unwrap();
    let output = polstack()
        .args(["predict", path, "--exact"])
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", text(&output.stderr));
}

#[test]
fn a_booklet_scenarios_links_and_the_page_are_written() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("lessons");
    let output = run(&["--out", out.to_str().unwrap()]);
    assert!(output.status.success(), "{}", text(&output.stderr));
    assert!(text(&output.stderr).contains("wrote 11 files"));
    assert!(output.stdout.is_empty());
    let pdf = fs::read(out.join("lessons.pdf")).unwrap();
    assert!(pdf.starts_with(b"%PDF"));
    let pdf = String::from_utf8_lossy(&pdf);
    let pages = pdf.matches("/MediaBox [0 0 595.2756 841.8898]").count();
    assert!((11..=12).contains(&pages), "{pages}");
    assert!(pdf.contains(&format!("/Count {pages}")));
    let links = fs::read_to_string(out.join("links.html")).unwrap();
    assert_eq!(links.matches("<a href=\"polstack.html#s=").count(), 8);
    let page = fs::read_to_string(out.join("polstack.html")).unwrap();
    assert!(page.contains("lessons/1-malus.toml") && !page.contains("high-grade-stand.toml"));
    let own = scenario("pond-life").with_file_name("lessons");
    for entry in fs::read_dir(own).unwrap() {
        let entry = entry.unwrap();
        let written = fs::read(out.join(entry.file_name())).unwrap();
        assert_eq!(written, fs::read(entry.path()).unwrap());
    }
    // The same bytes again, whatever the number of threads.
    let again = folder.path().join("again");
    let mut command = polstack();
    command.args(["lessons", "--quiet", "--out", again.to_str().unwrap()]);
    let output = command.env("RAYON_NUM_THREADS", "1").output().unwrap();
    assert!(output.status.success());
    for name in ["lessons.pdf", "links.html"] {
        assert_eq!(
            fs::read(out.join(name)).unwrap(),
            fs::read(again.join(name)).unwrap()
        );
    }
}

const LESSON: &str = r#"title = "Mine"
light.source = "cie-a"
view.na = 0.02

[lesson]
question = "Why?"
do = ["Look."]
see = "It."
answer = "So."
show = ["light"]

[[lesson.try]]
name = "turned"
set = [ { part = "analyzer", key = "analyzer.azimuth_deg", to = 60 } ]

[[part]]
name = "lower polar"
polarizer = { sheet = "ideal", azimuth_deg = 0 }

[[part]]
name = "analyzer"
analyzer = { sheet = "ideal", azimuth_deg = 90 }
"#;

#[test]
fn a_lesson_of_ones_own_is_tried_and_a_wrong_one_is_refused_at_its_place() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("mine.toml");
    let path = file.to_str().unwrap();
    let out = folder.path().join("out");
    fs::write(&file, LESSON).unwrap();
    assert!(good(&[path]).contains("25.0 %"));
    for (from, to, words) in [
        (
            "\"light\"",
            "\"lihgt\"",
            &["mine.toml:10", "light", "extinction_ratio"][..],
        ),
        ("see = \"It.\"\n", "", &["see"]),
        (
            "see = \"It.\"",
            "sea = \"It.\"",
            &["`sea` in `lesson`", "may_change"],
        ),
        (
            "question = \"Why?\"",
            "question = 3",
            &["mine.toml:6", "text in quotes"],
        ),
        ("do = [\"Look.\"]", "do = []", &["holds 0", "1 to 12"]),
        ("do = [\"Look.\"]", "do = [\"\\n\"]", &["one line"]),
        (
            "part = \"analyzer\", key",
            "part = \"analyser\", key",
            &["analyser", "analyzer"],
        ),
        ("to = 60", "to = 1e9", &["-1000000 to 1000000"]),
        ("to = 60", "to = true", &["number"]),
        (", to = 60", "", &["not one change", "turn_deg"]),
        (
            ", to = 60",
            ", out = true",
            &["try \"turned\"", "azimuth_deg"],
        ),
        ("to = 60", "to = 60, turn_deg = 3", &["not one change"]),
        (
            "key = \"analyzer.azimuth_deg\", to = 60",
            "above = \"analyzer\"",
            &["not one change"],
        ),
        (
            "key = \"analyzer.azimuth_deg\", to = 60",
            "out = true",
            &["turned", "analyzer"],
        ),
        (
            "analyzer.azimuth_deg\"",
            "analyzer.3.b\"",
            &["try \"turned\"", "cannot be made"],
        ),
        (
            "analyzer.azimuth_deg\"",
            "analyzer.azimuth\"",
            &["try \"turned\"", "azimuth_deg"],
        ),
        (
            "to = 60",
            "to = 6000",
            &["mine.toml:14:9", "try \"turned\"", "-3600 to 3600"],
        ),
        (
            "\"light\"",
            "\"quadrants\"",
            &["try \"turned\"", "no plate"],
        ),
        ("[lesson]", "[lessen]", &["did you mean `lesson`?"]),
    ] {
        let spoiled = LESSON.replace(from, to);
        assert_ne!(spoiled, LESSON, "{from}");
        fs::write(&file, spoiled).unwrap();
        let output = run(&[path, "--out", out.to_str().unwrap()]);
        let said = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{to}: {said}");
        assert!(output.stdout.is_empty() && !out.exists(), "{to}");
        for word in words {
            assert!(said.contains(word), "{to}: {word} is missing in\n{said}");
        }
    }
    let pond = scenario("pond-life");
    for (arguments, words) in [
        (&["9"][..], "1 to 8"),
        (&["0"], "1 to 8"),
        (&[pond.to_str().unwrap()], "[lesson]"),
        (&["1", "--out"], "--out"),
    ] {
        let output = run(arguments);
        let said = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {said}");
        assert!(said.contains(words), "{arguments:?}: {said}");
    }
    assert_ne!(run(&["nothing.toml"]).status.code(), Some(0));
}
