//! Each kind of mistake is told as what it is, at its place.

use std::collections::BTreeSet;

use polstack::light_path::{PartKind, PathError};
use polstack::material::catalog;
use polstack::optics::Specimen;
use polstack::scenario::Problem;
use polstack::spectrum::Source;

use super::{BENCH, bench, read_text, refusal};

/// The bench without the part of a name.
fn without(name: &str) -> String {
    let begin = BENCH.find(&format!("[[part]]\nname = \"{name}\"")).unwrap();
    let end = BENCH[begin + 8..]
        .find("[[part]]")
        .map_or(BENCH.len(), |at| begin + 8 + at);
    format!("{}{}", &BENCH[..begin], &BENCH[end..])
}

#[test]
fn what_excludes_each_other_is_refused() {
    for (from, to, words, place) in [
        (
            "name = \"fibre\"\nspecimen",
            "name = \"fibre\" #",
            "is a part of no kind",
            (24, 8),
        ),
        (
            "tolerance = { azimuth_deg = 0.5 }",
            "slide = { glass = 1.5, mount = 1.5 }",
            "makes this part a slide as well as a plate",
            (35, 9),
        ),
        (
            "tolerance = { azimuth_deg = 0.5 }",
            "tolerance = {}",
            "says nothing",
            (35, 13),
        ),
        (
            "tolerance = { azimuth_deg = 0.5 }",
            "strain_dispersion = { csv = \"x\" }",
            "stands on a plate",
            (35, 21),
        ),
        (
            "edge_nm = 40 } }",
            "edge_nm = 40 }, uniform = { path_difference_nm = 1, azimuth_deg = 0 } }",
            "does not say one strain profile",
            (12, 12),
        ),
        (
            "{ radial = { edge_nm = 40 } }",
            "{}",
            "does not say one strain profile",
            (12, 12),
        ),
        (
            "{ k1 = 0.8, k2 = 8e-6 }",
            "{}",
            "does not say one sheet",
            (17, 23),
        ),
        (
            "{ k1 = 0.8, k2 = 8e-6 }",
            "{ k1 = 0.8, k2 = 0, csv = \"x\" }",
            "does not say one sheet",
            (17, 23),
        ),
        (
            "{ blackbody_k = 3200 }",
            "{}",
            "does not say one lamp",
            (4, 10),
        ),
        (
            "{ blackbody_k = 3200 }",
            "{ blackbody_k = 3200, width_nm = 1 }",
            "does not say one lamp",
            (4, 10),
        ),
        (
            "{ path_difference_nm = 30,",
            "{",
            "does not say one specimen",
            (25, 12),
        ),
        (
            "{ path_difference_nm = 30,",
            "{ path_difference_nm = 30, thickness_um = 1,",
            "does not say one specimen",
            (25, 12),
        ),
        (
            "surfaces = 4, glass = 1.52",
            "surfaces = 4",
            "asks for a glass",
            (11, 37),
        ),
        (
            "[light]\n",
            "[light]\nstokes = [1, 0, 0]\n",
            "holds 3 numbers",
            (4, 10),
        ),
        (
            "[light]\n",
            "[light]\nstokes = [1, 1, 1, 0]\n",
            "is no state that light can have",
            (4, 10),
        ),
        (
            "[light]\n",
            "[light]\nstokes = [0, 0, 0, 0]\n",
            "is no state that light can have",
            (4, 10),
        ),
        (
            "[light]\n",
            "[light]\nstokes = [-1, 0, 0, 0]\n",
            "is no state that light can have",
            (4, 10),
        ),
        (
            "[light]\n",
            "[light]\nstokes = [1, -0.99, 0, 0]\n",
            "is light that the lower polar hardly passes",
            (4, 10),
        ),
        (
            "strain = [ { uniform = { path_difference_nm = 3, azimuth_deg = 45 } } ]",
            "tolerance = { path_difference_nm = 1 }",
            "is nothing that an objective without strain has",
            (30, 36),
        ),
        ("name = \"fibre\"", "name = \"\"", "is empty", (24, 8)),
        (
            "name = \"fibre\"",
            "name = \"a\\nb\"",
            "does not fit a table",
            (24, 8),
        ),
        ("\"Bench\"", "\"a\\u001bb\"", "does not fit a table", (1, 9)),
        (
            "slide = { glass = 1.515, mount = 1.515 }",
            "slide = { glass = 1.515, mount = 1.515 }\ntolerance = { azimuth_deg = 1 }",
            "is nothing that a slide has",
            (22, 29),
        ),
        (
            "azimuth_deg = 0 }",
            "azimuth_deg = 0 }\ntolerance = { path_difference_nm = 1 }",
            "is nothing that a polarizer has",
            (18, 36),
        ),
    ] {
        let error = refusal(from, to);
        let Problem::Refused { why, remedy } = error.problem() else {
            panic!("{to}: {error}")
        };
        assert!(why.contains(words) && !remedy.is_empty(), "{to}: {error}");
        assert_eq!(error.line_and_column(), Some(place), "{to}: {error}");
        assert!(error.to_string().contains(remedy.as_str()), "{error}");
    }
}

#[test]
fn a_line_between_two_wavelengths_gives_no_light() {
    // The lamp must be there to be computed with; a hundred-fold finer line than the grid is not.
    let source = Source::Line {
        centre_nm: 547.5,
        width_nm: 0.1,
    };
    let dark = (0..81).all(|i| source.power(380.0 + 5.0 * f64::from(i)) == Ok(0.0));
    let result = read_text(&bench(
        "{ blackbody_k = 3200 }",
        "{ line_nm = 547.5, width_nm = 0.1 }",
    ));
    assert_eq!(dark, result.is_err());
}

#[test]
fn numbers_that_do_not_go_together_are_out_of_range() {
    for (from, to, place) in [
        (
            "[light]\n",
            "[spectrum]\nfrom_nm = 700\nto_nm = 500\n[light]\n",
            (5, 9),
        ),
        ("[light]\n", "[spectrum]\nfrom_nm = 800\n[light]\n", (4, 11)),
        ("k2 = 8e-6", "k2 = 0.81", (17, 40)),
        ("na = 0.88", "na = 1.0", (11, 20)),
        ("contacts = 4", "contacts = 2.5", (13, 35)),
    ] {
        let error = refusal(from, to);
        assert!(
            matches!(error.problem(), Problem::OutOfRange { .. }),
            "{error}"
        );
        assert_eq!(error.line_and_column(), Some(place), "{error}");
    }
}

#[test]
fn a_name_that_the_catalog_lacks_comes_with_those_it_has() {
    // A crystal may be listed as a plate material too; "ideal" and "none" belong to the format.
    let groups = |groups: &[&str], own: &[&str]| -> BTreeSet<String> {
        let names = groups.iter().flat_map(|group| catalog::names(group));
        names
            .chain(own.iter().copied())
            .map(str::to_owned)
            .collect()
    };
    let lamps: BTreeSet<String> = Source::names().into_iter().map(str::to_owned).collect();
    for (from, to, key, known) in [
        (
            "{ blackbody_k = 3200 }",
            "\"no such\"",
            "light.source",
            lamps,
        ),
        (
            "{ k1 = 0.8, k2 = 8e-6 }",
            "\"no such\"",
            "part.polarizer.sheet",
            groups(&["sheet"], &["ideal"]),
        ),
        (
            "surfaces = 4, glass = 1.52",
            "surfaces = 4, glass = \"no such\"",
            "part.condenser.glass",
            groups(&["glass"], &[]),
        ),
        (
            "surfaces = 4",
            "immersion = \"no such\", surfaces = 4",
            "part.condenser.immersion",
            groups(&["immersion"], &[]),
        ),
        (
            "mount = 1.515",
            "mount = \"no such\"",
            "part.slide.mount",
            groups(&["glass", "immersion"], &[]),
        ),
        (
            "{ path_difference_nm = 550,",
            "{ path_difference_nm = 550, material = \"no such\",",
            "part.plate.material",
            groups(&["plate", "crystal"], &["none"]),
        ),
        (
            "path_difference_nm = 30,",
            "material = \"no such\", thickness_um = 1,",
            "part.specimen.material",
            groups(&["crystal", "biaxial crystal"], &[]),
        ),
    ] {
        let error = refusal(from, to);
        let Problem::UnknownName { known: told, .. } = error.problem() else {
            panic!("{to}: {error}")
        };
        let told: BTreeSet<String> = told.iter().cloned().collect();
        assert_eq!(told, known);
        let message = error.to_string();
        assert!(
            message.contains(&format!("`{key}` = \"no such\"")),
            "{message}"
        );
        let many = known.len() > 20;
        assert!(
            !many || message.contains("listed by `polstack catalog`"),
            "{message}"
        );
        for name in known {
            assert!(many || message.contains(&name), "{message}");
            // Every name that is offered is one that is taken, in the place where it was offered.
            let text = bench(from, &to.replace("no such", &name));
            let taken = read_text(&text);
            let unknown =
                matches!(&taken, Err(e) if matches!(e.problem(), Problem::UnknownName { .. }));
            assert!(!unknown, "{name}: {taken:?}");
        }
    }
}

#[test]
fn a_specimen_of_a_material_that_is_no_crystal_is_told_so() {
    for name in catalog::names("plate") {
        if catalog::crystal(name).is_some() || catalog::biaxial(name).is_some() {
            continue;
        }
        let to = format!("material = \"{name}\", thickness_um = 1,");
        let message = refusal("path_difference_nm = 30,", &to).to_string();
        for group in ["crystal", "biaxial crystal"] {
            for crystal in catalog::names(group) {
                assert!(message.contains(crystal), "{message}");
            }
        }
    }
}

#[test]
fn a_stack_that_cannot_be_run_is_told_at_its_part() {
    for (text, line, words) in [
        (without("lower polar"), 34, "there is no polarizer"),
        (without("analyzer"), 33, "there is no analyzer"),
        (without("objective"), 33, "there is no objective"),
        (
            bench(
                "name = \"fibre\"\nspecimen = { path_difference_nm = 30, azimuth_deg = 20 }",
                "name = \"second\"\nslide = { glass = 1.5, mount = 1.5 }",
            ),
            24,
            "there is another slide; a stack has one",
        ),
        (
            bench("surfaces = 8, glass = 1.52", "surfaces = 1, glass = 1.1"),
            28,
            "cannot bend a ray",
        ),
    ] {
        let error = read_text(&text).unwrap_err();
        assert!(matches!(error.problem(), Problem::Path(_)), "{error}");
        assert!(error.to_string().contains(words), "{error}");
        assert_eq!(error.line_and_column().unwrap().0, line, "{error}");
        assert_eq!(error.exit_code(), 2);
    }
    let oil = BENCH
        .replace("na = 0.6", "na = 1.2")
        .replace("na = 0.88", "na = 1.3")
        .replace("surfaces =", "immersion = 1.515, surfaces =");
    let error = read_text(&oil.replace("glass = 1.515", "glass = 1.1")).unwrap_err();
    let steep = matches!(
        error.problem(),
        Problem::Path(PathError::TooSteep { part: 2, .. })
    );
    assert!(steep, "{error}");
    assert_eq!(error.line_and_column(), Some((20, 8)));
    assert!(read_text(&oil).is_ok());
    // A mounting medium that is too thin for the steepest rays reflects them: that limits the aperture as the iris does.
    let limited = read_text(&oil.replace("mount = 1.515", "mount = 1.1")).unwrap();
    assert!((limited.scene.path.na() - 1.0989).abs() < 1e-12);
    let told = "its mounting medium reflects those beyond NA 1.099 totally";
    assert!(
        limited.notes.iter().any(|note| note.contains(told)),
        "{:?}",
        limited.notes
    );
    assert_eq!(read_text(&oil).unwrap().scene.path.na(), 1.2);
}

#[test]
fn there_must_be_parts_and_not_too_many() {
    let empty = &BENCH[..BENCH.find("[[part]]").unwrap()];
    for text in [empty.to_owned(), format!("part = []\n{empty}")] {
        let message = read_text(&text).unwrap_err().to_string();
        assert!(
            message.contains("has no parts") && message.contains("[[part]]"),
            "{message}"
        );
    }
    let many: String = (0..100)
        .map(|i| format!("[[part]]\nname = \"p{i}\"\nretarder = {{ path_difference_nm = 1, azimuth_deg = 0 }}\n"))
        .collect();
    let error = read_text(&format!("{BENCH}{many}")).unwrap_err();
    assert!(
        error
            .to_string()
            .contains("one part too many: there are 107"),
        "{error}"
    );
}

#[test]
fn nesting_is_bounded_however_it_is_written() {
    for (text, words) in [
        (
            format!("{}a = 1", "a.".repeat(500_000)),
            "joins too many names",
        ),
        (
            format!("[{}a]", "a.".repeat(500_000)),
            "joins too many names",
        ),
        (
            format!("a = {{ {}a = 1 }}", "\"a\" . ".repeat(150_000)),
            "joins too many names",
        ),
        (format!("a = {}", "[".repeat(1_000_000)), "recursion"),
        (format!("a = {}", "{a=".repeat(300_000)), "recursion"),
        (
            format!("a = {}1{}", "{a.b.c.d.e.f.g.h=".repeat(79), "}".repeat(79)),
            "unknown key `a`",
        ),
        (
            format!("[light]\nsource = {}1{}", "[".repeat(79), "]".repeat(79)),
            "is an array",
        ),
    ] {
        let message = read_text(&text).unwrap_err().to_string();
        assert!(message.contains(words), "{message}");
    }
    // Many dots in a text or a list are no nesting.
    let text = bench("\"Bench\"", &format!("\"{}\"", ".".repeat(100)));
    assert!(read_text(&text).is_ok());
}

#[test]
fn a_scenario_of_more_than_a_megabyte_is_refused() {
    let comment = format!("# {}\n", "x".repeat(1 << 20));
    let error = read_text(&format!("{BENCH}{comment}")).unwrap_err();
    assert_eq!(error.problem(), &Problem::TooLarge { most: 1 << 20 });
    let fits = format!("# {}\n{BENCH}", "x".repeat((1 << 20) - BENCH.len() - 3));
    assert!(read_text(&fits).is_ok());
}

#[test]
fn a_crystal_cut_across_its_axis_has_no_azimuth_and_any_other_needs_one() {
    let crystal = "{ path_difference_nm = 30, azimuth_deg = 20 }";
    for (to, words) in [
        (
            "{ material = \"calcite\", thickness_um = 30, cut = \"across\", azimuth_deg = 20 }",
            "`part.specimen.azimuth_deg` = 20 is given for a crystal cut across its axis",
        ),
        (
            "{ material = \"calcite\", thickness_um = 30 }",
            "missing key `azimuth_deg` in `part.specimen`",
        ),
        (
            "{ material = \"calcite\", thickness_um = 30, cut = \"along\" }",
            "missing key `azimuth_deg` in `part.specimen`",
        ),
        (
            "{ path_difference_nm = 30 }",
            "missing key `azimuth_deg` in `part.specimen`",
        ),
        (
            "{ path_difference_nm = 30, cut = \"across\" }",
            "`part.specimen` does not say one specimen",
        ),
        (
            "{ material = \"calcite\", thickness_um = 30, cut = \"askew\" }",
            "`part.specimen.cut` = \"askew\" is no word that is known here",
        ),
        (
            "{ material = \"calcite\", thickness_um = 30, cut = \"across\" }\ntolerance = { azimuth_deg = 1 }",
            "`part.tolerance.azimuth_deg` = 1 is nothing that a specimen cut across its axis has",
        ),
    ] {
        let error = refusal(crystal, to);
        assert_eq!(
            error.line_and_column().unwrap().0,
            25 + usize::from(to.contains("tolerance"))
        );
        let message = error.to_string();
        assert!(message.contains(words), "{to}: {message}");
    }
}

#[test]
fn the_cut_of_a_crystal_is_read_and_along_is_what_is_meant_without_it() {
    let read = |crystal: &str| {
        let text = bench("path_difference_nm = 30, azimuth_deg = 20", crystal);
        read_text(&text).unwrap().scene.path.parts[3].kind.clone()
    };
    let plain = read("material = \"calcite\", thickness_um = 30, azimuth_deg = 20");
    let along =
        read("material = \"calcite\", thickness_um = 30, cut = \"along\", azimuth_deg = 20");
    assert_eq!(plain, along);
    let across = read("material = \"calcite\", thickness_um = 30, cut = \"across\"");
    let PartKind::Specimen(Specimen::Across {
        crystal,
        thickness_um,
    }) = across
    else {
        panic!("{across:?}")
    };
    assert_eq!((crystal.name.as_str(), thickness_um), ("calcite", 30.0));
}

#[test]
fn a_crystal_with_two_axes_is_told_how_to_be_cut() {
    let crystal = "{ path_difference_nm = 30, azimuth_deg = 20 }";
    for (to, words) in [
        (
            "{ material = \"muscovite\", thickness_um = 30, azimuth_deg = 0 }",
            "missing key `normal` in `part.specimen`",
        ),
        (
            "{ material = \"muscovite\", thickness_um = 30, normal = \"x\" }",
            "missing key `azimuth_deg` in `part.specimen`",
        ),
        (
            "{ material = \"muscovite\", thickness_um = 30, normal = \"w\", azimuth_deg = 0 }",
            "`part.specimen.normal` = \"w\" is no word that is known here",
        ),
        (
            "{ material = \"muscovite\", thickness_um = 30, normal = [1, 0], azimuth_deg = 0 }",
            "has not three components",
        ),
        (
            "{ material = \"muscovite\", thickness_um = 30, normal = [0, 0, 0], azimuth_deg = 0 }",
            "is a direction of no length",
        ),
        (
            "{ material = \"muscovite\", thickness_um = 30, normal = 1, azimuth_deg = 0 }",
            "three components: [x, y, z]",
        ),
        (
            "{ material = \"muscovite\", thickness_um = 30, normal = [0, 0, 1e6], azimuth_deg = 0 }",
            "allowed: -1000 to 1000",
        ),
        (
            "{ material = \"muscovite\", thickness_um = 30, cut = \"across\", azimuth_deg = 0 }",
            "`part.specimen.cut` = \"across\" is given for a crystal with two optic axes",
        ),
        (
            "{ material = \"muscovite\", thickness_um = 30, normal = \"x\", rotation = \"left\", azimuth_deg = 0 }",
            "`part.specimen.rotation` = \"left\" is given for a crystal with two optic axes",
        ),
        (
            "{ material = \"quartz\", thickness_um = 30, normal = \"x\", azimuth_deg = 0 }",
            "is given for a crystal with one optic axis",
        ),
        (
            "{ material = \"quartz\", thickness_um = 30, cut = \"along\", axis_from_normal_deg = 20, azimuth_deg = 0 }",
            "`part.specimen.cut` = \"along\" is given beside axis_from_normal_deg",
        ),
        (
            "{ material = \"quartz\", thickness_um = 30, axis_from_normal_deg = 20 }",
            "missing key `azimuth_deg` in `part.specimen`",
        ),
        (
            "{ material = \"quartz\", thickness_um = 30, axis_from_normal_deg = 91, azimuth_deg = 0 }",
            "allowed: 0 to 90 deg",
        ),
        (
            "{ material = \"quartz\", thickness_um = 30, axis_from_normal_deg = 20, normal = \"x\", azimuth_deg = 0 }",
            "is given for a crystal with one optic axis",
        ),
        (
            "{ material = \"calcite\", thickness_um = 30, axis_from_normal_deg = 20, rotation = \"left\", azimuth_deg = 0 }",
            "is given for calcite, which turns no light",
        ),
        (
            "{ material = \"muscovite\", thickness_um = 30, normal = \"x\", axis_from_normal_deg = 20, azimuth_deg = 0 }",
            "is given for a crystal with two optic axes",
        ),
        (
            "{ path_difference_nm = 30, axis_from_normal_deg = 20, azimuth_deg = 0 }",
            "`part.specimen` does not say one specimen",
        ),
        (
            "{ material = \"quartz\", thickness_um = 30, two_v_deg = 20, azimuth_deg = 0 }",
            "take two_v_deg out",
        ),
        (
            "{ material = \"quartz\", thickness_um = 30, rotation = \"left\", azimuth_deg = 0 }",
            "is given for a crystal that light does not cross along its axis",
        ),
        (
            "{ material = \"calcite\", thickness_um = 30, cut = \"across\", rotation = \"left\" }",
            "is given for calcite, which turns no light",
        ),
        (
            "{ material = \"calcite\", thickness_um = 30, cut = \"across\", rotation = \"none\" }",
            "is given for calcite, which turns no light",
        ),
        (
            "{ indices = [1.6, 1.5, 1.7], thickness_um = 30, normal = \"x\", azimuth_deg = 0 }",
            "does not tell three indices that rise",
        ),
        (
            "{ indices = [1.5, 1.6], thickness_um = 30, normal = \"x\", azimuth_deg = 0 }",
            "does not tell three indices that rise",
        ),
        (
            "{ indices = [1.5, 1.6, 1.7], thickness_um = 30, normal = \"x\", two_v_deg = 20, azimuth_deg = 0 }",
            "is given beside three indices",
        ),
        (
            "{ object = \"unicorn\", azimuth_deg = 0 }",
            "is no elongated object of the catalog",
        ),
        (
            "{ object = \"monosodium urate crystal\" }",
            "missing key `azimuth_deg` in `part.specimen`",
        ),
        (
            "{ object = \"monosodium urate crystal\", thickness_um = 2, azimuth_deg = 0 }",
            "`part.specimen` does not say one specimen",
        ),
        (
            "{ material = \"muscovite\", normal = \"x\", azimuth_deg = 0 }",
            "missing key `thickness_um` in `part.specimen`",
        ),
    ] {
        let message = refusal(crystal, to).to_string();
        assert!(message.contains(words), "{to}: {message}");
    }
}

#[test]
fn a_crystal_with_two_axes_and_an_object_are_read() {
    let read = |specimen: &str| {
        let text = bench("path_difference_nm = 30, azimuth_deg = 20", specimen);
        let kind = read_text(&text).unwrap().scene.path.parts[3].kind.clone();
        match kind {
            PartKind::Specimen(specimen) => specimen,
            other => panic!("{other:?}"),
        }
    };
    let plate = |specimen: &str| match read(specimen) {
        Specimen::Biaxial(plate) => plate,
        other => panic!("{other:?}"),
    };
    let named = "material = \"Muscovite\", thickness_um = 30, azimuth_deg = 20";
    for (normal, expected) in [
        ("\"x\"", [1.0, 0.0, 0.0]),
        ("\"y\"", [0.0, 1.0, 0.0]),
        ("\"z\"", [0.0, 0.0, 1.0]),
        ("[0.5, -1, 2]", [0.5, -1.0, 2.0]),
    ] {
        let plate = plate(&format!("{named}, normal = {normal}"));
        assert_eq!(plate.normal, expected);
        assert_eq!(plate.crystal, catalog::biaxial("muscovite").unwrap());
        assert_eq!(plate.azimuth_rad, 20f64.to_radians());
    }
    let told = plate(&format!("{named}, normal = \"x\", two_v_deg = 45"));
    let two_v = told.crystal.acute_angle_rad(589.3).to_degrees();
    assert!((two_v - 45.0).abs() < 1e-9, "{two_v}");
    let own =
        plate("indices = [1.5, 1.5, 1.6], thickness_um = 30, normal = \"z\", azimuth_deg = 0");
    assert_eq!(own.crystal.indices(500.0), [1.5, 1.5, 1.6]);
    // Slow across its length.
    assert_eq!(
        read("object = \"monosodium urate crystal\", azimuth_deg = 10"),
        Specimen::Stated {
            path_difference_nm: -150.0,
            slow_azimuth_rad: 10f64.to_radians()
        }
    );
    for (word, left) in [("right", Some(false)), ("left", Some(true)), ("none", None)] {
        let quartz = format!(
            "material = \"quartz\", thickness_um = 30, cut = \"across\", rotation = \"{word}\""
        );
        let Specimen::Across { crystal, .. } = read(&quartz) else {
            panic!("{word}")
        };
        assert_eq!(crystal.rotation.map(|power| power.is_left), left);
        let askew = quartz.replace(
            "cut = \"across\"",
            "axis_from_normal_deg = 12.5, azimuth_deg = 20",
        );
        let Specimen::Askew(plate) = read(&askew) else {
            panic!("{word}")
        };
        assert_eq!(plate.axis_from_normal_rad, 12.5f64.to_radians());
        assert_eq!(plate.azimuth_rad, 20f64.to_radians());
        assert_eq!(plate.crystal.rotation.map(|power| power.is_left), left);
    }
}
