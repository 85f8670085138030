//! The JSON Schema says what the reader does.

use std::collections::BTreeSet;

use polstack::scenario::{Problem, json_schema};
use serde_json::Value;

use super::{BENCH, refusal};

fn definition<'a>(schema: &'a Value, name: &str) -> &'a Value {
    &schema["definitions"][name]
}

fn keys(table: &Value) -> BTreeSet<String> {
    let properties = table["properties"].as_object().unwrap();
    properties.keys().cloned().collect()
}

/// A lesson that says all that it must.
macro_rules! lesson {
    () => {
        "[lesson]\nquestion = \"a\"\ndo = [\"b\"]\nsee = \"c\"\nanswer = \"d\"\nshow = [\"light\"]\n"
    };
}

#[test]
fn the_schema_has_the_keys_that_the_reader_allows() {
    let schema = json_schema();
    let lens = "{ na = 0.88, surfaces = 4, glass = 1.52 }";
    for (table, from, to) in [
        ("", "title =", "zzz ="),
        ("Light", "[light]\n", "[light]\nzzz = 1\n"),
        ("Source", "{ blackbody_k = 3200 }", "{ zzz = 1 }"),
        ("Aperture", "[aperture]\n", "[aperture]\nzzz = 1\n"),
        ("View", "[light]\n", "[view]\nzzz = 1\n[light]\n"),
        ("Stray", "[light]\n", "[stray]\nzzz = 1\n[light]\n"),
        ("Spectrum", "[light]\n", "[spectrum]\nzzz = 1\n[light]\n"),
        ("Part", "[[part]]\n", "[[part]]\nzzz = 1\n"),
        ("Polarizer", "azimuth_deg = 0 ", "zzz = 1 "),
        ("Sheet", "k1 = 0.8", "zzz = 1"),
        ("Retarder", "{ path_difference_nm = 550,", "{ zzz = 1,"),
        ("Lens", lens, "{ zzz = 1 }"),
        ("Slide", "glass = 1.515", "zzz = 1"),
        ("Specimen", "{ path_difference_nm = 30,", "{ zzz = 1,"),
        ("Strain", "{ radial =", "{ zzz ="),
        (
            "Uniform",
            "{ radial = { edge_nm = 40 } }",
            "{ uniform = { zzz = 1 } }",
        ),
        ("Radial", "edge_nm = 40", "zzz = 1"),
        ("Clamp", "contacts = 4", "zzz = 1"),
        (
            "Map",
            "{ radial = { edge_nm = 40 } }",
            "{ map = { zzz = 1 } }",
        ),
        (
            "StrainDispersion",
            "tolerance =",
            "strain_dispersion = { zzz = 1 } #",
        ),
        ("Tolerance", "{ azimuth_deg = 0.5 }", "{ zzz = 1 }"),
        ("Lesson", "[light]\n", "[lesson]\nzzz = 1\n[light]\n"),
        (
            "LessonTry",
            "[light]\n",
            concat!(lesson!(), "[[lesson.try]]\nzzz = 1\n[light]\n"),
        ),
        (
            "LessonSet",
            "[light]\n",
            concat!(
                lesson!(),
                "[[lesson.try]]\nname = \"e\"\nset = [ { zzz = 1 } ]\n[light]\n"
            ),
        ),
        (
            "Prescription",
            "surfaces = 8, glass = 1.52",
            "prescription = { csv = \"x\", zzz = 1 }",
        ),
    ] {
        let error = refusal(from, to);
        let Problem::UnknownKey { allowed } = error.problem() else {
            panic!("{table}: {error}")
        };
        let allowed: BTreeSet<String> = allowed.iter().cloned().collect();
        let table = if table.is_empty() {
            &schema
        } else {
            definition(&schema, table)
        };
        assert_eq!(keys(table), allowed, "{error}");
        assert_eq!(table["additionalProperties"], false);
    }
    assert_eq!(schema["definitions"].as_object().unwrap().len(), 25);
}

/// Every schema inside a schema.
fn walk(value: &Value, visit: &mut impl FnMut(&Value)) {
    visit(value);
    match value {
        Value::Object(map) => map.values().for_each(|value| walk(value, visit)),
        Value::Array(items) => items.iter().for_each(|value| walk(value, visit)),
        _ => {}
    }
}

#[test]
fn every_number_in_the_schema_has_a_range_and_nothing_is_null() {
    let mut numbers = 0;
    walk(&json_schema(), &mut |schema| {
        if schema["type"] == "number" || schema["type"] == "integer" {
            numbers += 1;
            assert!(
                schema["minimum"].is_number() && schema["maximum"].is_number(),
                "{schema}"
            );
        }
        assert_ne!(schema, "null");
        assert!(!schema.is_null());
    });
    assert!(numbers > 30, "{numbers}");
}

#[test]
fn every_key_in_the_schema_is_described() {
    let schema = json_schema();
    let tables = schema["definitions"].as_object().unwrap().values();
    for table in tables.chain([&schema]) {
        for (key, property) in table["properties"].as_object().unwrap() {
            let text = property["description"].as_str().unwrap_or_default();
            assert!(text.len() > 8, "{key}: {property}");
            // A type that many keys share says nothing about one of them.
            assert!(!text.starts_with("A name, or"), "{key}: {property}");
        }
    }
}

/// The page on scenario files names every key and every word that a key may have, but for those of lessons, which have a page of their own.
#[test]
fn every_key_and_every_word_stands_on_a_page() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/docs");
    let page = |name: &str| std::fs::read_to_string(format!("{folder}/{name}.md")).unwrap();
    let (scenario, lessons) = (page("scenario"), page("lessons"));
    let names = |page: &str, word: &str| {
        let mut words = page.split(|c: char| !c.is_ascii_alphanumeric() && c != '_');
        words.any(|own| own == word)
    };
    let keys = |table: &Value| -> Vec<String> {
        table["properties"]
            .as_object()
            .unwrap()
            .keys()
            .cloned()
            .collect()
    };
    let schema = json_schema();
    for key in keys(&schema) {
        assert!(names(&scenario, &key), "{key}");
    }
    for (name, table) in schema["definitions"].as_object().unwrap() {
        let page = if name.starts_with("Lesson") {
            &lessons
        } else {
            &scenario
        };
        let mut words = keys(table);
        walk(table, &mut |inner| {
            words.extend(inner["const"].as_str().map(str::to_owned))
        });
        for word in words {
            assert!(names(page, &word), "{name}: {word}");
        }
    }
}

#[test]
fn what_must_be_there_is_required() {
    let schema = json_schema();
    let required = |table: &Value| -> Vec<String> {
        let keys = table["required"].as_array().unwrap();
        keys.iter()
            .map(|key| key.as_str().unwrap().to_owned())
            .collect()
    };
    assert_eq!(required(&schema), ["light", "part"]);
    assert_eq!(required(definition(&schema, "Part")), ["name"]);
    let kinds = definition(&schema, "Part")["oneOf"].as_array().unwrap();
    let bench_has = |kind: &Value| {
        let kind = kind["required"][0].as_str().unwrap();
        BENCH.contains(&format!("\n{kind} = "))
    };
    assert_eq!(
        (
            kinds.len(),
            kinds.iter().filter(|kind| bench_has(kind)).count()
        ),
        (8, 7)
    );
}
