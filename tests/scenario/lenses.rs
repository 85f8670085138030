//! Lenses told by bending or by a table of their surfaces.

use polstack::light_path::PartKind;
use polstack::optics::{Lens, LensForm, RadialAlong, Strain};
use polstack::scenario::{Memory, Scenario, ScenarioError, parse};

use crate::{bench, refusal};

const GOOD: &str = "radius_mm,thickness_mm,glass,half_diameter_mm,conic\n20,11,B270,13.5,-1\n0,1,,13.5,\n10,9,1.52,9,0\n,,air,9,0\n";

/// The bench with its condenser told by a table of surfaces.
fn told(keys: &str) -> String {
    let condenser =
        "na = 0.88, immersion = \"air\", surfaces = 4, glass = 1.52, coating = \"none\"";
    let written = "na = 0.88, surfaces = 4, glass = 1.52";
    let whole = crate::BENCH;
    let from = if whole.contains(condenser) {
        condenser
    } else {
        written
    };
    bench(
        from,
        &format!("prescription = {{ csv = \"lens.csv\" }}{keys}"),
    )
}

fn with(scenario: &str, table: &str) -> Result<Scenario, ScenarioError> {
    let files = Memory::from([("lens.csv", table)]);
    parse(scenario, "bench.toml", &files)
}

fn condenser(scenario: &Scenario) -> Lens {
    let condenser = scenario
        .scene
        .path
        .parts
        .iter()
        .find_map(|part| match &part.kind {
            PartKind::Condenser(lens) => Some(lens.clone()),
            _ => None,
        });
    condenser.unwrap()
}

#[test]
fn a_table_of_surfaces_says_how_far_the_lens_reaches() {
    let lens = condenser(&with(&told(""), GOOD).unwrap());
    let LensForm::Prescription(prescription) = &lens.form else {
        panic!("{:?}", lens.form)
    };
    assert_eq!(prescription.surfaces.len(), 4);
    assert_eq!(
        prescription.surfaces[0].after.as_ref().unwrap().name,
        "B270"
    );
    assert!(prescription.surfaces[1].after.is_none());
    assert!((0.85..0.95).contains(&lens.na), "{}", lens.na);
    let stopped = condenser(&with(&told(", na = 0.7"), GOOD).unwrap());
    assert_eq!(stopped.na, 0.7);
    let error = with(&told(", na = 0.99"), GOOD).unwrap_err().to_string();
    assert!(error.contains("what its surfaces let through"), "{error}");
}

#[test]
fn strain_along_the_ray_follows_the_surfaces() {
    let text = told("").replace("edge_nm = 40", "edge_nm = 40, along = \"ray\"");
    let lens = condenser(&with(&text, GOOD).unwrap());
    let Strain::Radial {
        along: RadialAlong::Ray(profile),
        ..
    } = &lens.strain[0]
    else {
        panic!("{:?}", lens.strain[0])
    };
    assert!(profile.at(0.0).abs() < 1e-12 && profile.at(0.5) != 0.25);
    // A lens that ends in an edge has no reading there.
    let sharp = GOOD.replace("20,11,B270,13.5,-1", "20,10,B270,20,-1");
    let error = with(&text, &sharp).unwrap_err().to_string();
    assert!(error.contains("at the rim, where this glass is"), "{error}");
    let error = refusal("edge_nm = 40", "edge_nm = 40, along = \"ray\"").to_string();
    assert!(
        error.contains("rays through a lens whose surfaces are not known"),
        "{error}"
    );
}

#[test]
fn wrong_rows_are_told_with_line_and_column() {
    for (from, to, place, words) in [
        (
            "conic\n",
            "conic,colour\n",
            (1, 53),
            "is no column of this table",
        ),
        (
            "half_diameter_mm",
            "diameter",
            (1, 30),
            "is no column of this table",
        ),
        (
            ",conic\n20,11,B270,13.5,-1",
            "\n20,11,B270,13.5,-1",
            (2, 1),
            "holds 5 values",
        ),
        (
            "20,11",
            "twenty,11",
            (2, 1),
            "a number with a decimal point",
        ),
        ("20,11", "20,-11", (2, 4), "allowed: 0 to 10000"),
        ("B270", "B27", (2, 7), "did you mean \"B270\"?"),
        (
            "1.52",
            "9",
            (4, 6),
            "allowed: 1 to 4, or a glass of the catalog",
        ),
        ("13.5,-1", ",-1", (2, 12), "a number, 0.01 to 1000"),
        ("13.5,-1", "24,0", (2, 12), "ends at 20.000 mm"),
        (",,air", ",,B270", (5, 3), "stands behind the last surface"),
        (
            "20,11",
            "20,3",
            (2, 4),
            "cross inside their clear apertures",
        ),
        // Only the wider of two surfaces reaches so far out that it meets the other.
        (
            "10,9,1.52,9,0\n,,air,9",
            "10,5,1.52,9,0\n,,air,4",
            (4, 4),
            "at 9.00 mm from the axis",
        ),
    ] {
        let table = GOOD.replacen(from, to, 1);
        let error = with(&told(""), &table).unwrap_err();
        let message = error.to_string();
        assert_eq!(error.line_and_column(), Some(place), "{to}\n{message}");
        assert!(message.contains(words), "{words}\n{message}");
        assert_eq!(error.exit_code(), 2);
    }
    let air = GOOD.replace("B270", "").replace("1.52", "1");
    let error = with(&told(""), &air).unwrap_err().to_string();
    assert!(error.contains("no surface has glass behind it"), "{error}");
    let diverging = "radius_mm,thickness_mm,glass,half_diameter_mm\n-20,3,B270,9\n0,,,9\n";
    let error = with(&told(""), diverging).unwrap_err().to_string();
    assert!(
        error.contains("do not bring parallel light together"),
        "{error}"
    );
}

#[test]
fn a_lens_is_told_in_one_way() {
    for (keys, words) in [
        (", surfaces = 4", "tells the surfaces in more than one way"),
        (
            ", glass = 1.5",
            "stands beside a prescription, which names its own glasses",
        ),
    ] {
        let error = with(&told(keys), GOOD).unwrap_err().to_string();
        assert!(error.contains(words), "{words}\n{error}");
    }
    let error = refusal("surfaces = 8", "bending_deg = []").to_string();
    assert!(error.contains("holds 0 angles"), "{error}");
    let error = refusal("surfaces = 8", "bending_deg = [80, 3]").to_string();
    assert!(
        error.contains("surface 1 of index 1.5200 cannot bend a ray by"),
        "{error}"
    );
}
