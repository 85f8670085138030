//! Light told from a table is the light of a direct run.

use polstack::calculus::Stokes;
use polstack::light_path::{LightPath, PartKind};
use polstack::optics::{Coating, Rays, Strain};
use polstack::study::quantity::{Quantity, QuantityKind};
use polstack::study::response::{Light, Response};
use proptest::prelude::*;

use crate::common::close;
use crate::paths::{
    analyzer, ideal_sheet, lens, part, polarizer, retarder, sheet, slide, stack, uniform,
};
use crate::routes::everything;
use crate::two_lenses;

const WAVELENGTHS_NM: [f64; 11] = [
    380.0, 412.0, 450.0, 488.0, 500.0, 546.1, 560.0, 600.0, 650.0, 700.0, 780.0,
];

const LUMINOUS: [f64; 11] = [
    0.0, 0.01, 0.04, 0.2, 0.3, 1.0, 0.99, 0.6, 0.1, 0.004, 0.0001,
];

fn quantity(part: usize, kind: QuantityKind) -> Quantity {
    Quantity {
        part: Some(part),
        kind,
    }
}

const STRAY: Quantity = Quantity {
    part: None,
    kind: QuantityKind::StrayFraction,
};

fn amount(part: usize, profile: usize) -> Quantity {
    quantity(part, QuantityKind::StrainAmount { profile })
}

fn strain_azimuth(part: usize, profile: usize) -> Quantity {
    quantity(part, QuantityKind::StrainAzimuth { profile })
}

fn azimuth(part: usize) -> Quantity {
    quantity(part, QuantityKind::Azimuth)
}

fn path_difference(part: usize) -> Quantity {
    quantity(part, QuantityKind::PathDifference)
}

fn response(
    path: &LightPath,
    quantities: &[Quantity],
    ranges: &[(f64, f64)],
    plates: bool,
) -> Response {
    let rays = Rays::disc(path.na(), 4, 14);
    Response::new(
        path,
        quantities,
        ranges,
        &rays,
        &WAVELENGTHS_NM,
        &LUMINOUS,
        plates,
    )
    .expect("a path that can be run")
}

/// The law: 1e-9 of the crossed light, or 1e-15 of the parallel light.
fn same(what: &str, got: &Light, direct: &Light) {
    for (k, nm) in WAVELENGTHS_NM.iter().enumerate() {
        let (crossed, parallel) = (direct.crossed[k], direct.parallel[k]);
        let name = format!("{what}, parallel at {nm} nm");
        close(&name, got.parallel[k], parallel, 1e-9 * parallel);
        let name = format!("{what}, crossed at {nm} nm");
        close(
            &name,
            got.crossed[k],
            crossed,
            1e-9 * crossed + 1e-15 * parallel,
        );
    }
}

/// Compares at values of the ranges' corners, middle and between; the table has `nodes` nodes.
fn holds(
    what: &str,
    path: &LightPath,
    quantities: &[Quantity],
    ranges: &[(f64, f64)],
    plates: bool,
    nodes: Option<usize>,
) {
    let response = response(path, quantities, ranges, plates);
    assert_eq!(response.nodes(), nodes, "{what}");
    let written = response.written();
    same(
        what,
        &response.light(&written).unwrap(),
        &response.direct(&written).unwrap(),
    );
    for point in 0..12u32 {
        let values: Vec<f64> = (ranges.iter().enumerate())
            .map(|(number, (low, high))| {
                let t = match point {
                    0 => 0.0,
                    1 => 1.0,
                    2 => 0.5,
                    3 => f64::from(number % 2 == 0),
                    _ => (f64::from(point) * (number as f64 + 1.3) * 0.381_966).fract(),
                };
                low + t * (high - low)
            })
            .collect();
        let got = response.light(&values).unwrap();
        same(
            &format!("{what} at {values:?}"),
            &got,
            &response.direct(&values).unwrap(),
        );
    }
}

fn strained(below: Vec<Strain>, above: Vec<Strain>) -> LightPath {
    stack(
        0.6,
        vec![
            polarizer(sheet(0.75, 3e-5), 2.0),
            part(
                "condenser",
                PartKind::Condenser(lens(0.8, 5, Coating::None, below)),
            ),
            slide(),
            part(
                "objective",
                PartKind::Objective(lens(0.65, 6, Coating::Mgf2, above)),
            ),
            analyzer(sheet(0.8, 1e-4), 91.0),
        ],
    )
}

fn clamp(force_n: f64) -> Strain {
    Strain::Clamp {
        contacts: 3,
        force_n,
        diameter_mm: 22.0,
        first_azimuth_rad: 0.3,
        stress_optic_brewster: 2.75,
    }
}

const TURN: (f64, f64) = (-0.5, 3.0);

#[test]
fn two_uniform_strains_and_both_polars_take_108_nodes() {
    let path = strained(vec![uniform(3.0, 30.0)], vec![uniform(4.0, 80.0)]);
    let quantities = [
        amount(1, 0),
        strain_azimuth(1, 0),
        amount(3, 0),
        strain_azimuth(3, 0),
        azimuth(0),
        azimuth(4),
        STRAY,
    ];
    let ranges = [
        (-5.0, 10.0),
        TURN,
        (0.0, 900.0),
        TURN,
        TURN,
        TURN,
        (0.0, 1e-3),
    ];
    holds(
        "strains and polars",
        &path,
        &quantities,
        &ranges,
        false,
        Some(108),
    );
    // In the light of a polarized lamp a sheet's azimuth counts twice.
    let mut polarized = path;
    polarized.lamp = Stokes([1.0, 0.2, -0.1, 0.3]);
    holds(
        "polarized lamp",
        &polarized,
        &quantities,
        &ranges,
        false,
        Some(180),
    );
    holds(
        "strains that stay within a wave",
        &polarized,
        &quantities,
        &[(0.0, 1.0); 7],
        false,
        Some(180),
    );
}

#[test]
fn every_form_on_every_part_is_told_right() {
    let path = everything(false);
    let surfaces = quantity(6, QuantityKind::Surfaces);
    // The specimens need a second table for the parallel field.
    for (what, quantities, ranges, nodes) in [
        ("clamp", vec![amount(1, 0)], vec![(-3.0, 8.0)], 2 * 9),
        (
            "radial strain",
            vec![amount(1, 1)],
            vec![(0.0, 300.0)],
            2 * 13,
        ),
        ("map", vec![amount(1, 2)], vec![(0.0, 20.0)], 2 * 9),
        (
            "clamp's azimuth",
            vec![strain_azimuth(1, 0)],
            vec![(0.0, 1.0)],
            2 * 65,
        ),
        (
            "clamp turned a little",
            vec![strain_azimuth(1, 0)],
            vec![(0.28, 0.32)],
            2 * 9,
        ),
        (
            "retarder",
            vec![path_difference(2), azimuth(2)],
            vec![(0.0, 500.0), TURN],
            2 * 6,
        ),
        ("retarder's azimuth", vec![azimuth(2)], vec![TURN], 2 * 6),
        ("crystal's azimuth", vec![azimuth(4)], vec![TURN], 21 + 1),
        (
            "crystal",
            vec![path_difference(4)],
            vec![(-500.0, 500.0)],
            35 + 1,
        ),
        (
            "stated specimen",
            vec![azimuth(5), path_difference(5)],
            vec![TURN, (0.0, 500.0)],
            6 + 1,
        ),
        (
            "uniform strain",
            vec![amount(6, 0)],
            vec![(0.0, 500.0)],
            2 * 3,
        ),
        ("surfaces", vec![surfaces], vec![(0.0, 9.0)], 2 * 10),
        (
            "plate",
            vec![path_difference(7), azimuth(7)],
            vec![(0.0, 600.0), TURN],
            2,
        ),
        (
            "clamp, map, plate, polars, stray light",
            vec![
                amount(1, 0),
                amount(1, 2),
                azimuth(7),
                azimuth(0),
                azimuth(8),
                STRAY,
            ],
            vec![(0.0, 8.0), (0.0, 5.0), TURN, TURN, TURN, (0.0, 0.1)],
            2 * 9 * 5 * 5,
        ),
        (
            "a number that is not there",
            vec![amount(2, 0), strain_azimuth(1, 1)],
            vec![TURN, TURN],
            2,
        ),
        (
            "one number twice",
            vec![amount(6, 0), amount(6, 0)],
            vec![TURN, TURN],
            2 * 3,
        ),
        ("nothing", vec![], vec![], 2),
    ] {
        for plates in [false, true] {
            holds(what, &path, &quantities, &ranges, plates, Some(nodes));
        }
    }
}

#[test]
fn a_sheet_under_oblique_rays_is_told_right_at_any_azimuth() {
    let path = everything(true);
    holds(
        "oblique sheet",
        &path,
        &[azimuth(1)],
        &[TURN],
        false,
        Some(2 * 21),
    );
    holds(
        "turned a little",
        &path,
        &[azimuth(1)],
        &[(2.0, 2.1)],
        true,
        Some(2 * 9),
    );
}

#[test]
fn a_condenser_of_two_lenses_is_told_right_wherever_the_sheet_stands() {
    for (place, nodes) in [(0, 3), (1, 9), (2, 21)] {
        let path = two_lenses::strained(place);
        let objective = 4;
        let quantities = [azimuth(place), amount(objective, 0)];
        let ranges = [TURN, (-10.0, 10.0)];
        let name = format!("sheet at {place}");
        holds(&name, &path, &quantities, &ranges, false, Some(nodes * 9));
    }
}

#[test]
fn circular_polars_are_told_right() {
    let quarter = |azimuth_deg| PartKind::Retarder(retarder(137.5, azimuth_deg));
    let mut path = strained(vec![uniform(3.0, 30.0)], vec![uniform(4.0, 80.0)]);
    path.parts
        .insert(1, part("lower quarter-wave plate", quarter(47.0)));
    path.parts
        .insert(5, part("upper quarter-wave plate", quarter(137.0)));
    assert!(path.is_circular());
    let quantities = [
        azimuth(0),
        amount(2, 0),
        strain_azimuth(2, 0),
        azimuth(5),
        path_difference(1),
    ];
    let ranges = [TURN, (0.0, 20.0), TURN, TURN, (120.0, 150.0)];
    holds(
        "circular polars",
        &path,
        &quantities,
        &ranges,
        false,
        Some(3 * 3 * 6),
    );
}

#[test]
fn a_path_without_a_table_is_run() {
    let below = vec![clamp(5.0)];
    let mut eye = strained(below.clone(), vec![]);
    eye.parts.remove(3);
    eye.view_na = Some(0.3);
    holds(
        "analyzer under oblique rays",
        &eye,
        &[amount(1, 0)],
        &[(0.0, 5.0)],
        false,
        None,
    );
    let path = strained(below, vec![]);
    let strong = (0.0, 1e5);
    holds(
        "a strain of many waves",
        &path,
        &[amount(1, 0)],
        &[strong],
        false,
        None,
    );
    // Outside the range of the nodes too.
    let response = response(&path, &[amount(1, 0)], &[(0.0, 5.0)], false);
    assert_eq!(response.nodes(), Some(9));
    for nm in [-1.0, 5.5, 40.0] {
        let direct = response.direct(&[nm]).unwrap();
        assert_eq!(response.light(&[nm]).unwrap(), direct);
    }
    let blind = self::response(&path, &[amount(1, 0)], &[], false);
    assert_eq!(blind.nodes(), None, "no range, no table");
    // A number that is left out stays as written.
    assert_eq!(
        response.light(&[]).unwrap(),
        response.direct(&response.written()).unwrap()
    );
}

/// Extinction ratios of 1e4 to 1e12, and the bound is relative all the way.
#[test]
fn weak_strains_between_ideal_polars_keep_nine_digits() {
    let mut path = strained(vec![uniform(0.0, 45.0)], vec![uniform(0.0, 45.0)]);
    for polar in [0, 4] {
        if let PartKind::Polarizer(polar) | PartKind::Analyzer(polar) = &mut path.parts[polar].kind
        {
            polar.sheet = ideal_sheet();
        }
    }
    for part in [1, 3] {
        if let PartKind::Condenser(lens) | PartKind::Objective(lens) = &mut path.parts[part].kind {
            lens.coating = Coating::Ideal;
        }
    }
    path.parts.remove(2);
    let quantities = [
        amount(1, 0),
        strain_azimuth(1, 0),
        amount(2, 0),
        strain_azimuth(2, 0),
        azimuth(0),
        azimuth(3),
    ];
    let response = response(&path, &quantities, &[(0.0, 1.0); 6], false);
    let crossed = response.written()[4];
    for (size, nm) in [(1e-4, 1e-4), (1e-3, 1e-3), (0.1, 2e-3), (2.0, 0.01)] {
        let values = [
            nm,
            0.7,
            0.3 * size,
            -0.4,
            crossed + 1e-4 * size,
            crossed + std::f64::consts::FRAC_PI_2,
        ];
        let (got, direct) = (
            response.light(&values).unwrap(),
            response.direct(&values).unwrap(),
        );
        for (got, direct) in got.crossed.iter().zip(&direct.crossed) {
            close("crossed", got / direct, 1.0, 1e-9);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn any_strains_and_azimuths_are_told_right(
        nm in prop::array::uniform3(-900.0..900.0f64),
        turns in prop::array::uniform3(-7.0..7.0f64),
    ) {
        let path = strained(vec![uniform(3.0, 30.0), clamp(8.0), uniform(1.0, 10.0)], vec![uniform(4.0, 80.0)]);
        let quantities = [amount(1, 0), strain_azimuth(1, 0), amount(1, 2), amount(3, 0), strain_azimuth(3, 0), azimuth(0)];
        let response = response(&path, &quantities, &[(0.0, 0.0); 6], false);
        prop_assert_eq!(response.nodes(), Some(6 * 3 * 6 * 3));
        let values = [nm[0], turns[0], nm[1], nm[2], turns[1], turns[2]];
        same("any", &response.light(&values).unwrap(), &response.direct(&values).unwrap());
    }
}

#[test]
fn every_quantity_takes_its_value_and_leaves_the_others() {
    let path = everything(false);
    let all = Quantity::all(&path);
    assert_eq!(all.len(), 20, "{all:?}");
    for quantity in &all {
        let written = quantity.value(&path).unwrap();
        let wanted = match quantity.kind {
            QuantityKind::Surfaces => 7.0,
            _ => 1.25 * written + 0.01,
        };
        let set = quantity.with(&path, wanted);
        for other in &all {
            let expected = match other == quantity {
                true => wanted,
                false => other.value(&path).unwrap(),
            };
            let got = other.value(&set).unwrap();
            // A map's amount is a mean over rays: turned against them its kinks lie elsewhere.
            let turned = *quantity == strain_azimuth(1, 2) && *other == amount(1, 2);
            let tolerance = if turned { 3e-5 } else { 1e-12 };
            let name = format!("{other:?} with {quantity:?}");
            close(&name, got, expected, tolerance * expected.abs());
        }
    }
}
