//! What is no mistake but is said.

use polstack::material::catalog::measured_range_nm;

use super::{bench, read_text};

#[test]
fn notes_say_what_is_worth_knowing() {
    for (from, to, words) in [
        (
            "na = 0.6\n",
            "na = 0.7\n",
            "the iris is set to NA 0.7, but objective passes only NA 0.6",
        ),
        (
            "na = 0.88",
            "na = 0.5",
            "the iris is set to NA 0.6, but condenser passes only NA 0.5",
        ),
        (
            "[[part]]\n",
            "[view]\nna = 0.05\n[[part]]\n",
            "[view] says nothing",
        ),
        (
            "{ blackbody_k = 3200 }",
            "{ line_nm = 545, width_nm = 8 }",
            "line is 8 nm wide, less than two steps of 5 nm",
        ),
        (
            "k2 = 8e-6 }, azimuth_deg = 90",
            "k2 = 8e-6 }, azimuth_deg = 1.57",
            "the polars are 1.6 degrees apart, not crossed",
        ),
        (
            "path_difference_nm = 550, azimuth_deg = 45",
            "path_difference_nm = 550, azimuth_deg = 0",
            "plate lies along the polars",
        ),
        (
            "na = 0.6\n",
            "na = 0.4\n",
            "rays cross only the inner 45 % of the radius of condenser",
        ),
        (
            "cover_nm = 0, ",
            "",
            "lower polar: how much its protective film retards oblique rays is not known and taken as nothing",
        ),
        (
            "polarizer = { sheet = { k1 = 0.8, k2 = 8e-6 }",
            "polarizer = { sheet = { k1 = 0.97, k2 = 8e-6 }",
            "lower polar: k1 = 0.97 is more than two bare surfaces of a film of index 1.5 let pass (0.922)",
        ),
        (
            "k2 = 8e-6 }, azimuth_deg = 90",
            "k2 = 8e-6 }, azimuth_deg = 90, index = 2.0",
            "analyzer: k1 = 0.8 is more than two bare surfaces of a film of index 2 let pass (0.790)",
        ),
        (
            "polarizer = { sheet = { k1 = 0.8, k2 = 8e-6 }",
            "polarizer = { sheet = \"iodine-pale\"",
            "iodine-pale: from memory, k2 good to a factor of 5",
        ),
        (
            "name = \"fibre\"\nspecimen",
            "name = \"mica\"\nretarder",
            "mica lies among oblique rays",
        ),
        (
            "path_difference_nm = 30, azimuth_deg = 20",
            "material = \"quartz\", thickness_um = 30, cut = \"across\", rotation = \"none\"",
            "fibre: quartz turns light that runs along its axis; that is left out",
        ),
        (
            "path_difference_nm = 30, azimuth_deg = 20",
            "material = \"quartz\", thickness_um = 30, cut = \"across\"",
            "fibre: a right-handed crystal, which turns light clockwise",
        ),
        (
            "path_difference_nm = 30, azimuth_deg = 20",
            "material = \"muscovite\", thickness_um = 30, normal = \"x\", azimuth_deg = 20",
            "fibre: computed with the indices 1.5640, 1.5982, 1.6025 and 2V 38.5 degrees at 589.3 nm",
        ),
    ] {
        let notes = read_text(&bench(from, to)).unwrap().notes;
        // A sheet of the catalog has its range to tell as well.
        assert_eq!(
            notes.len(),
            if to.contains("iodine") { 2 } else { 1 },
            "{to}: {notes:?}"
        );
        assert!(
            notes.iter().any(|note| note.contains(words)),
            "{to}: {notes:?}"
        );
    }
}

#[test]
fn a_line_of_two_steps_and_an_iris_that_fits_are_not_worth_a_word() {
    let text = bench("{ blackbody_k = 3200 }", "{ line_nm = 545, width_nm = 10 }");
    assert_eq!(read_text(&text).unwrap().notes, Vec::<String>::new());
}

#[test]
fn data_that_end_within_the_run_are_named_once() {
    let text = bench(
        "glass = 1.515, mount = 1.515",
        "glass = \"pmma\", mount = \"pmma\"",
    );
    let (from_nm, to_nm) = measured_range_nm("pmma").unwrap();
    let notes = read_text(&text).unwrap().notes;
    assert_eq!(notes.len(), 1, "{notes:?}");
    let range = format!("end: pmma ({from_nm} to {to_nm} nm);");
    assert!(notes[0].contains(&range), "{notes:?}");
    let narrow = format!("[spectrum]\nfrom_nm = {from_nm}\n[light]\n");
    let notes = read_text(&text.replace("[light]\n", &narrow))
        .unwrap()
        .notes;
    assert_eq!(notes, Vec::<String>::new());
}
