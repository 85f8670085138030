//! The scenarios that come with the program.

use std::path::PathBuf;

use polstack::scenario::{Problem, parse, read};

fn examples() -> Vec<PathBuf> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("scenarios");
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|end| end == "toml"))
        .collect();
    files.sort();
    assert!(files.len() >= 6);
    files
}

#[test]
fn every_example_says_what_it_teaches_and_is_read() {
    for file in examples() {
        let text = std::fs::read_to_string(&file).unwrap();
        assert!(text.starts_with("# "), "{}", file.display());
        match read(&file) {
            Ok(scenario) => {
                let wavelengths = scenario.grid.wavelengths_nm();
                assert_eq!(scenario.path.check(wavelengths), Ok(()));
                assert_eq!(scenario.notes, Vec::<String>::new(), "{}", file.display());
            }
            // As long as a group of the catalog is empty no name of it can be read.
            Err(error) => {
                let empty = matches!(error.problem(), Problem::UnknownName { known, .. } if known.is_empty());
                assert!(empty, "{error}");
            }
        }
    }
}

#[test]
fn every_example_holds_with_numbers_in_the_place_of_names() {
    for file in examples() {
        let mut text = std::fs::read_to_string(&file).unwrap();
        for (name, number) in [
            ("\"led-b3\"", "{ blackbody_k = 3200 }"),
            ("\"cie-a\"", "{ blackbody_k = 2856 }"),
            ("\"iodine-32\"", "{ k1 = 0.8, k2 = 8e-6 }"),
            ("\"N-BK7\"", "1.517"),
            ("\"B270\"", "1.523"),
            ("\"air\"", "1"),
            ("\"oil\"", "1.515"),
            ("\"quartz\"", "\"none\""),
            ("clamp = {", "clamp = { stress_optic_brewster = 2.7,"),
        ] {
            text = text.replace(name, number);
        }
        let scenario = parse(&text, "example.toml", "".as_ref()).unwrap();
        assert_eq!(scenario.notes, Vec::<String>::new(), "{}", file.display());
    }
}
