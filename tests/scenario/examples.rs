//! The scenarios that come with the program.

use std::path::PathBuf;

use polstack::scenario::read;

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
        let scenario = read(&file).unwrap();
        let wavelengths = scenario.scene.grid.wavelengths_nm();
        assert_eq!(scenario.scene.path.check(wavelengths), Ok(()));
        // What the catalog knows of the sheet is said, and how little of a strained condenser a closed iris uses.
        for note in scenario.notes {
            let expected = [
                "iodine-dense (",
                "iodine-medium (",
                "iodine-dense: from memory",
                "iodine-medium: from memory",
                "of the radius of condenser",
                "minerals vary from piece to piece",
            ];
            let known = expected.iter().any(|words| note.contains(words));
            assert!(known, "{}: {note}", file.display());
        }
    }
}
