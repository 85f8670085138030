//! Flips of the best place and limits of strain that `decisions/decide.py` found by root finding on the independent model,
//! run through `predict` here: both places are equally dark at a flip, and a target is met at its limit.

use std::path::Path;

use polstack::light_path::{LightPath, PartKind};
use polstack::optics::{RadialAlong, RadialSlow, Strain};
use polstack::scenario::{self, Scenario};
use polstack::study::place::{Place, place};
use polstack::study::predict::predict;
use polstack::study::quantity::Quantity;
use polstack::study::tolerate::{
    Limit, Limits, Rescue, StrainUnits, Subject, Target, Vary, tolerate, verdict,
};
use serde_json::Value;

use crate::common::close;
use crate::scene::scene_of;

/// Relative: what the two quadratures leave.
const TOLERANCE: f64 = 1e-6;

fn decisions(kind: &str) -> Vec<Value> {
    let file =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/decisions/decisions.json");
    let answers: Value = serde_json::from_str(&std::fs::read_to_string(file).unwrap()).unwrap();
    answers[kind].as_array().unwrap().clone()
}

fn read(answer: &Value) -> Scenario {
    let name = answer["scenario"].as_str().unwrap();
    let file = format!("tests/reference/decisions/{name}.toml");
    scenario::read(&Path::new(env!("CARGO_MANIFEST_DIR")).join(file)).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

fn extinction_ratio(scenario: &Scenario, path: &LightPath) -> f64 {
    let prediction = predict(&scene_of(
        path,
        &scenario.scene.source,
        &scenario.scene.grid,
    ))
    .unwrap();
    prediction.extinction_ratio.unwrap()
}

/// The path with its lower polar somewhere else.
fn placed(path: &LightPath, place: &str) -> LightPath {
    let mut path = path.clone();
    let mut polar = path.parts.remove(0);
    let lenses = (path.parts.iter())
        .filter(|part| matches!(part.kind, PartKind::Condenser(_)))
        .count();
    let index = match place {
        "below" => 0,
        "between" => 1,
        _ => lenses,
    };
    if let PartKind::Polarizer(sheet) = &mut polar.kind {
        sheet.contact = (place == "joined").then_some(1.515);
    }
    path.parts.insert(index, polar);
    path
}

fn varied(path: &LightPath, what: &str, value: f64) -> LightPath {
    let mut path = path.clone();
    match what {
        "iris_na" => path.iris_na = Some(value),
        "condenser_strain_factor" => {
            for part in &mut path.parts {
                if let PartKind::Condenser(lens) = &mut part.kind {
                    lens.strain = lens.strain.iter().map(|s| s.scaled(value)).collect();
                }
            }
        }
        other => panic!("{other}"),
    }
    path
}

#[test]
fn both_places_are_equally_dark_at_a_flip_and_not_beside_it() {
    let flips = decisions("flips");
    assert!(flips.len() >= 8);
    for flip in flips {
        let scenario = read(&flip);
        let (what, value) = (flip["varied"].as_str().unwrap(), number(&flip["value"]));
        let ratios = |value: f64| {
            [0, 1].map(|which| {
                let place = flip["places"][which].as_str().unwrap();
                let path = varied(&placed(&scenario.scene.path, place), what, value);
                extinction_ratio(&scenario, &path)
            })
        };
        let expected = number(&flip["extinction_ratio"]);
        for ratio in ratios(value) {
            close(&flip.to_string(), ratio / expected, 1.0, TOLERANCE);
        }
        let [before, after] = [0.99, 1.01].map(|factor| {
            let [one, other] = ratios(value * factor);
            one > other
        });
        assert_ne!(before, after, "{flip}");
    }
}

/// The word that the decisions have for a place.
fn word(place: &Place) -> &'static str {
    match place {
        Place::BelowCondenser => "below",
        Place::BetweenLenses => "between",
        Place::AboveCondenser => "above",
        Place::UnderSlideImmersed { .. } => "joined",
        other => panic!("{other:?}"),
    }
}

/// Of the pairs that brute force looked at, `place` names those that no third place beats, and at the same value.
#[test]
fn place_finds_the_flips_that_brute_force_found() {
    let flips = decisions("flips");
    let mut seen = Vec::new();
    for name in ["dry", "two-lenses"] {
        let scenario = read(&serde_json::json!({ "scenario": name }));
        let answer = place(&scenario.scene, false, 1000.0);
        let answer = answer.unwrap();
        let verdicts = [Some(&answer.verdict), answer.without_oil.as_ref()];
        let found = verdicts.into_iter().flatten().flat_map(|verdict| {
            let by_iris = (verdict.iris_flips.iter()).map(|flip| {
                (
                    "iris_na",
                    flip.iris_na,
                    flip.from,
                    flip.to,
                    flip.extinction_ratio,
                )
            });
            let by_strain = verdict.strain_flips.iter().map(|flip| {
                let what = "condenser_strain_factor";
                (what, flip.factor, flip.from, flip.to, flip.extinction_ratio)
            });
            by_iris.chain(by_strain)
        });
        for (what, value, from, to, ratio) in found {
            let pair = [from, to].map(|place| word(&answer.lower[place].placed.place));
            let known = flips.iter().position(|flip| {
                let has = |place: &str| flip["places"].as_array().unwrap().contains(&place.into());
                flip["scenario"] == name && flip["varied"] == what && pair.iter().all(|p| has(p))
            });
            // Pairs with a place that brute force left out have no value to compare with.
            let Some(known) = known else { continue };
            seen.push(known);
            let flip = &flips[known];
            close(
                &flip.to_string(),
                value / number(&flip["value"]),
                1.0,
                TOLERANCE,
            );
            let expected = number(&flip["extinction_ratio"]);
            close(
                "extinction ratio",
                ratio.unwrap() / expected,
                1.0,
                TOLERANCE,
            );
        }
    }
    // Where below and above the lenses are equal, between them is darker: no change of the best place.
    let unseen = (0..flips.len()).filter(|known| !seen.contains(known));
    let unseen: Vec<String> = unseen.map(|k| flips[k]["places"].to_string()).collect();
    assert_eq!(unseen, [r#"["below","above"]"#]);
    let scenario = read(&flips[5]);
    let ratio = |place| {
        let path = varied(
            &placed(&scenario.scene.path, place),
            "iris_na",
            number(&flips[5]["value"]),
        );
        extinction_ratio(&scenario, &path)
    };
    assert!(ratio("between") > ratio("above"));
}

/// The path with the strain of its objective replaced.
fn strained(path: &LightPath, strain: Strain) -> LightPath {
    let mut path = path.clone();
    for part in &mut path.parts {
        if let PartKind::Objective(lens) = &mut part.kind {
            lens.strain = vec![strain.clone()];
        }
    }
    path
}

fn radial(path: &LightPath, edge_nm: f64) -> LightPath {
    let slow = RadialSlow::Radial;
    strained(
        path,
        Strain::Radial {
            edge_nm,
            slow,
            along: RadialAlong::Axis,
        },
    )
}

fn uniform(path: &LightPath, path_difference_nm: f64, azimuth_deg: f64) -> LightPath {
    let slow_azimuth_rad = azimuth_deg.to_radians();
    strained(
        path,
        Strain::Uniform {
            path_difference_nm,
            slow_azimuth_rad,
        },
    )
}

/// The paths that a limit is reached in: one, or one for each azimuth between missed and met.
fn at_limit(path: &LightPath, limit: &Value) -> Vec<LightPath> {
    let value = number(&limit["value"]);
    let path = match limit["varied"].as_str().unwrap() {
        "radial edge_nm" => radial(path, value),
        "clamp force_n" => {
            let Some(glass) = path.parts.iter().find_map(|part| match &part.kind {
                PartKind::Objective(lens) => lens.glass.stress_optic_brewster,
                _ => None,
            }) else {
                panic!("the objective's glass has no stress-optic coefficient")
            };
            let clamp = Strain::Clamp {
                contacts: 3,
                force_n: value,
                diameter_mm: 8.0,
                first_azimuth_rad: 20f64.to_radians(),
                stress_optic_brewster: glass,
            };
            strained(path, clamp)
        }
        "analyzer azimuth_deg" => {
            let mut path = path.clone();
            if let PartKind::Analyzer(polar) = &mut path.parts.last_mut().unwrap().kind {
                polar.azimuth_rad = value.to_radians();
            }
            path
        }
        "iris_na at radial edge_nm 60" => varied(&radial(path, 60.0), "iris_na", value),
        "uniform path_difference_nm" if limit["azimuth"] == "worst" => {
            uniform(path, value, number(&limit["azimuth_deg"]))
        }
        "uniform path_difference_nm" => {
            let edges = limit["missed_deg"].as_array().unwrap().iter();
            return edges
                .flat_map(|stretch| [number(&stretch[0]), number(&stretch[1])])
                .map(|azimuth_deg| uniform(path, value, azimuth_deg))
                .collect();
        }
        other => panic!("{other}"),
    };
    vec![path]
}

#[test]
fn a_target_is_just_met_at_its_limit() {
    let limits = decisions("limits");
    assert!(limits.len() >= 15);
    for limit in limits {
        let scenario = read(&limit);
        for path in at_limit(&scenario.scene.path, &limit) {
            let ratio = extinction_ratio(&scenario, &path);
            let relative = ratio / number(&limit["target"]);
            close(&limit.to_string(), relative, 1.0, TOLERANCE);
        }
    }
}

/// The middles of stretches of azimuth, ascending, and of the gaps between them around the half turn, degrees.
fn middles_deg(stretches: &[(f64, f64)]) -> (Vec<f64>, Vec<f64>) {
    let missed = stretches.iter().map(|(from, to)| (from + to) / 2.0);
    let next = (stretches.iter().skip(1)).chain(stretches.first());
    let met = stretches.iter().zip(next).map(|((_, end), (begin, _))| {
        let gap = (begin - end).rem_euclid(180.0);
        end + gap / 2.0
    });
    (missed.collect(), met.collect())
}

#[test]
fn a_random_azimuth_misses_the_target_as_often_as_stated() {
    let mut seen = 0;
    for limit in decisions("limits") {
        let Some(stretches) = limit["missed_deg"].as_array() else {
            continue;
        };
        seen += 1;
        let stretches: Vec<(f64, f64)> = (stretches.iter())
            .map(|s| (number(&s[0]), number(&s[1])))
            .collect();
        let missed_deg: f64 = stretches.iter().map(|(from, to)| to - from).sum();
        let share = number(&limit["missed_share"]);
        close("share of azimuths", missed_deg / 180.0, share, 1e-9);
        let scenario = read(&limit);
        let met = |azimuth_deg: f64| {
            let path = uniform(&scenario.scene.path, number(&limit["value"]), azimuth_deg);
            extinction_ratio(&scenario, &path) > number(&limit["target"])
        };
        let (inside, outside) = middles_deg(&stretches);
        assert!(inside.iter().all(|deg| !met(*deg)), "{limit}");
        assert!(outside.iter().all(|deg| met(*deg)), "{limit}");
    }
    assert_eq!(seen, 3);
}

#[test]
fn no_azimuth_of_a_uniform_strain_is_worse_than_the_worst() {
    for limit in decisions("limits") {
        if limit["azimuth"] != "worst" {
            continue;
        }
        let scenario = read(&limit);
        let worst_deg = number(&limit["azimuth_deg"]);
        for turn in [-1.0, 1.0, 30.0, 60.0, 90.0, 120.0, 150.0] {
            let path = uniform(
                &scenario.scene.path,
                number(&limit["value"]),
                worst_deg + turn,
            );
            let ratio = extinction_ratio(&scenario, &path);
            assert!(
                ratio > number(&limit["target"]) * (1.0 + 1e-5),
                "{turn}: {ratio}"
            );
        }
    }
}

/// What `tolerate` finds for one of the limits.
fn found(scenario: &Scenario, limit: &Value) -> f64 {
    let target = Target::Extinction(number(&limit["target"]));
    let ask = |path: &LightPath, part, vary| -> (LightPath, Quantity, Limits) {
        let subject = Subject::of(path, Some(part), vary, None).unwrap();
        let (source, grid) = (&scenario.scene.source, &scenario.scene.grid);
        let answer = tolerate(
            &scene_of(&subject.path, source, grid),
            &target,
            subject.quantity,
        )
        .unwrap();
        (subject.path, subject.quantity, answer.limits)
    };
    let expected = number(&limit["value"]);
    let value = |limit: Limit| limit.value().unwrap();
    match limit["varied"].as_str().unwrap() {
        "analyzer azimuth_deg" => {
            match ask(&scenario.scene.path, "analyzer", Some(Vary::Azimuth)).2 {
                Limits::Between { above, .. } if expected > 90.0 => value(above).to_degrees(),
                Limits::Between { below, .. } => value(below).to_degrees(),
                other => panic!("{other:?}"),
            }
        }
        "iris_na at radial edge_nm 60" => {
            let path = radial(&scenario.scene.path, 60.0);
            let verdict = verdict(
                &scene_of(&path, &scenario.scene.source, &scenario.scene.grid),
                &target,
            );
            match verdict.unwrap().rescue {
                Rescue::Iris { na, .. } => na,
                other => panic!("{other:?}"),
            }
        }
        what => {
            // As at the limit, but not as much: the limit itself is what is to be found.
            let mut start = limit.clone();
            start["value"] = (0.3 * expected).into();
            let path = at_limit(&scenario.scene.path, &start).remove(0);
            let (path, quantity, limits) = ask(&path, "objective", Some(Vary::Strain));
            let Limits::Strain(strain) = limits else {
                panic!("{limits:?}")
            };
            let random = || {
                let share = 1.0 - number(&limit["missed_share"]);
                let over = strain.over_azimuths.as_ref().unwrap();
                let same = |(told, _): &&(f64, Limit)| (told - share).abs() < 1e-9;
                over.random.iter().find(same).unwrap().1
            };
            match (what, limit["azimuth"].as_str()) {
                ("clamp force_n", _) => {
                    let nm = value(strain.as_written);
                    let units = StrainUnits::of(&path, quantity, nm, None);
                    units.unwrap().force_n.unwrap()
                }
                (_, None) => value(strain.as_written),
                (_, Some("worst")) => value(strain.worst()),
                (_, Some(_)) => value(random()),
            }
        }
    }
}

/// Shares of random azimuths are interpolated between 72 samples.
#[test]
fn tolerate_finds_the_limits_of_the_independent_model() {
    for limit in decisions("limits") {
        let tolerance = match limit["azimuth"].as_str() {
            Some("random") => 1e-5,
            _ => TOLERANCE,
        };
        let got = found(&read(&limit), &limit);
        let expected = number(&limit["value"]);
        close(&limit.to_string(), got / expected, 1.0, tolerance);
    }
}
