//! Condensers written as two lenses, and sheets joined to the slide: what is read, and what is refused at its line.

use polstack::light_path::{LightPath, PartKind, PathError, Space};
use polstack::scenario::{Problem, ScenarioError};

use super::{BENCH, bench, read_text};

const FIRST: &str = "[[part]]
name = \"field lens\"
condenser = { na = 0.3, surfaces = 2, glass = 1.52 }
strain = [ { radial = { edge_nm = 4 } } ]

";

const POLAR: &str = "[[part]]
name = \"lower polar\"
polarizer = { sheet = { k1 = 0.8, k2 = 8e-6 }, cover_nm = 0, azimuth_deg = 0 }

";

/// The bench with a first lens below its condenser.
fn two_lenses() -> String {
    bench("[[part]]\n", &format!("{FIRST}[[part]]\n"))
}

/// The bench with a medium between the sheet and the slide right above it.
fn joined(contact: &str) -> String {
    let sheet = "azimuth_deg = 0 }";
    bench(
        sheet,
        &format!("azimuth_deg = 0, index = 1.49, contact = {contact} }}"),
    )
}

fn lower_contact(path: &LightPath) -> Option<f64> {
    path.parts.iter().find_map(|part| match &part.kind {
        PartKind::Polarizer(polar) => polar.contact,
        _ => None,
    })
}

fn line(error: &ScenarioError) -> usize {
    error.line_and_column().unwrap().0
}

/// The line on which a stretch of a text begins.
fn line_of(text: &str, stretch: &str) -> usize {
    text[..text.find(stretch).unwrap()].lines().count() + 1
}

#[test]
fn a_sheet_stands_below_between_or_above_the_two_lenses() {
    let above = two_lenses();
    let without = above.replacen(POLAR, "", 1);
    let at_condenser = "[[part]]\nname = \"condenser\"";
    let between = without.replacen(at_condenser, &format!("{POLAR}{at_condenser}"), 1);
    let below = without.replacen(FIRST, &format!("{POLAR}{FIRST}"), 1);
    for (text, index, space) in [
        (below, 0, Space::Aperture),
        (between, 1, Space::Condenser),
        (above, 2, Space::Object),
    ] {
        let path = read_text(&text).unwrap().scene.path;
        assert_eq!(path.parts[index].name, "lower polar");
        assert_eq!(path.space(index), space);
        let lenses = (path.parts.iter()).filter_map(|part| match &part.kind {
            PartKind::Condenser(lens) => Some((lens.na, lens.strain.len())),
            _ => None,
        });
        assert_eq!(lenses.collect::<Vec<_>>(), [(0.3, 1), (0.88, 2)]);
        // The iris is counted in object space: the first lens's NA does not limit it.
        assert_eq!(path.na(), 0.6);
    }
}

#[test]
fn a_contact_is_a_name_or_an_index() {
    for (written, expected) in [
        ("\"oil\"", 1.515),
        ("\"water\"", 1.333),
        ("1.4", 1.4),
        ("1", 1.0),
    ] {
        let path = read_text(&joined(written)).unwrap().scene.path;
        assert_eq!(lower_contact(&path), Some(expected));
    }
    assert_eq!(lower_contact(&read_text(BENCH).unwrap().scene.path), None);
    let unknown = read_text(&joined("\"treacle\"")).unwrap_err();
    assert!(
        matches!(unknown.problem(), Problem::UnknownName { .. }),
        "{unknown}"
    );
    let thin = read_text(&joined("0.9")).unwrap_err();
    assert!(
        matches!(thin.problem(), Problem::OutOfRange { .. }),
        "{thin}"
    );
    for error in [unknown, thin] {
        assert_eq!(line(&error), 17, "{error}");
    }
}

#[test]
fn a_contact_without_a_slide_right_above_it_is_refused_at_the_sheet() {
    let lens_between = "[[part]]\nname = \"slide\"";
    let wave =
        "[[part]]\nname = \"wave\"\nretarder = { path_difference_nm = 1, azimuth_deg = 0 }\n\n";
    let not_next = joined("\"oil\"").replacen(lens_between, &format!("{wave}{lens_between}"), 1);
    let no_slide = joined("\"oil\"").replacen(
        "[[part]]\nname = \"slide\"\nslide = { glass = 1.515, mount = 1.515 }\n",
        "",
        1,
    );
    let on_the_analyzer = bench(
        "azimuth_deg = 90 }",
        "azimuth_deg = 90, contact = \"oil\" }",
    );
    for (text, name) in [
        (not_next, "lower polar"),
        (no_slide, "lower polar"),
        (on_the_analyzer, "analyzer"),
    ] {
        let error = read_text(&text).unwrap_err();
        assert!(
            matches!(error.problem(), Problem::Path(PathError::NoContact { .. })),
            "{error}"
        );
        assert_eq!(
            line(&error),
            line_of(&text, &format!("name = \"{name}\"")),
            "{error}"
        );
        assert!(error.to_string().contains("take `contact` out"), "{error}");
    }
}

#[test]
fn a_third_lens_of_a_condenser_is_refused_at_its_part() {
    let text = two_lenses().replacen(
        POLAR,
        &format!("{}{POLAR}", FIRST.replace("field", "third")),
        1,
    );
    let error = read_text(&text).unwrap_err();
    assert!(
        matches!(
            error.problem(),
            Problem::Path(PathError::Twice { part: 2, .. })
        ),
        "{error}"
    );
    assert_eq!(line(&error), line_of(&text, "name = \"third lens\""));
}

#[test]
fn lenses_that_do_not_widen_the_beam_are_refused_at_the_first() {
    for na in ["0.88", "0.9"] {
        let text = two_lenses().replacen("na = 0.3", &format!("na = {na}"), 1);
        let error = read_text(&text).unwrap_err();
        assert!(
            matches!(
                error.problem(),
                Problem::Path(PathError::Narrowing { part: 0, .. })
            ),
            "{error}"
        );
        assert_eq!(line(&error), line_of(&text, "name = \"field lens\""));
    }
    assert!(read_text(&two_lenses().replacen("na = 0.3", "na = 0.879", 1)).is_ok());
}

#[test]
fn rays_too_steep_for_a_contact_are_refused_at_the_sheet() {
    let oil = joined("\"oil\"")
        .replace("na = 0.6", "na = 1.2")
        .replace("na = 0.88", "na = 1.3")
        .replace("surfaces =", "immersion = 1.515, surfaces =");
    assert!(read_text(&oil).is_ok());
    let text = oil.replace("contact = \"oil\"", "contact = 1.1");
    let error = read_text(&text).unwrap_err();
    assert!(
        matches!(
            error.problem(),
            Problem::Path(PathError::TooSteep { part: 1, .. })
        ),
        "{error}"
    );
    assert_eq!(line(&error), line_of(&text, "name = \"lower polar\""));
}
