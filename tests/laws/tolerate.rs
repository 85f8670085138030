//! Limits: closed forms, and whole predictions on both sides of every limit.

use std::f64::consts::{FRAC_PI_2, PI};

use polstack::color::{Adaptation, ColorWeights, Xyz};
use polstack::light_path::{LightPath, Part, PartKind, run};
use polstack::material::catalog;
use polstack::optics::{Coating, Lens, RadialSlow, Specimen, Strain};
use polstack::spectrum::{Source, WavelengthGrid};
use polstack::study::predict::{GREEN_NM, predict};
use polstack::study::quantity::{Quantity, QuantityKind};
use polstack::study::tolerate::{
    Limit, Limits, Profile, Rescue, See, StrainLimits, Subject, Target, Tolerable, Vary, overview,
    tolerate, verdict,
};

use crate::common::close;
use crate::paths::{
    analyzer, ideal_lenses, ideal_sheet, lens, lens_pair, part, polarizer, retarder, sheet, slide,
    stack, uniform,
};
use crate::scene::scene_of;

fn green() -> (Source, WavelengthGrid) {
    let line = Source::Line {
        centre_nm: GREEN_NM,
        width_nm: 1.0,
    };
    (line, WavelengthGrid::single(GREEN_NM))
}

fn white() -> (Source, WavelengthGrid) {
    let grid = WavelengthGrid::new(380.0, 780.0, 20.0).unwrap();
    (Source::named("led-b3").unwrap(), grid)
}

fn between_ideal(strain: Vec<Strain>, analyzer_deg: f64) -> LightPath {
    let mut parts = vec![polarizer(ideal_sheet(), 0.0)];
    parts.extend(lens_pair(0.3, [Vec::new(), strain]));
    parts.push(analyzer(ideal_sheet(), analyzer_deg));
    stack(0.3, parts)
}

/// The objective's first strain.
fn objective_strain() -> Quantity {
    Quantity {
        part: Some(2),
        kind: QuantityKind::StrainAmount { profile: 0 },
    }
}

fn strain_limits(answer: Tolerable) -> StrainLimits {
    match answer.limits {
        Limits::Strain(strain) => strain,
        other => panic!("{other:?} is no strain limit"),
    }
}

fn value(limit: Limit) -> f64 {
    limit
        .value()
        .unwrap_or_else(|| panic!("{limit:?} is no value"))
}

/// A strain at azimuth `t` between ideal polars leaks `sin^2(2t) sin^2(pi G/lambda)`, and parallel polars lose as much. At 45
/// degrees the extinction ratio is `cot^2(pi G/lambda)`; a fraction `p` of all azimuths tolerates less than
/// `asin(1/(sqrt(E + 1) cos(p pi/2)))` of phase.
#[test]
fn a_uniform_strain_alone_has_closed_limits() {
    let (source, grid) = green();
    for (extinction, azimuth_deg) in [(30.0, 45.0), (1e3, 45.0), (1e4, 20.0)] {
        let path = between_ideal(vec![uniform(0.0, azimuth_deg)], 90.0);
        let target = Target::Extinction(extinction);
        let answer = tolerate(
            &scene_of(&path, &source, &grid),
            &target,
            objective_strain(),
        )
        .unwrap();
        let limits = strain_limits(answer);
        let least = GREEN_NM / PI * (1.0 / extinction.sqrt()).atan();
        let at = |sine: f64| GREEN_NM / PI * (1.0 / (sine * (extinction + 1.0).sqrt())).asin();
        let sine = (2.0 * azimuth_deg).to_radians().sin();
        close("as written, nm", value(limits.as_written), at(sine), 1e-8);
        let over = limits.over_azimuths.unwrap();
        close("worst, nm", value(over.worst.limit), least, 1e-7 * least);
        let turn = over.worst.azimuth_rad.to_degrees().rem_euclid(90.0);
        close("worst azimuth", turn, 45.0, 0.01);
        assert_eq!(over.best.limit, Limit::Beyond(0.5 * GREEN_NM));
        for (share, limit) in over.random {
            let exact = at((FRAC_PI_2 * (1.0 - share)).cos());
            close(
                &format!("{share} of azimuths, nm"),
                value(limit),
                exact,
                2e-5 * exact,
            );
            let Limit::At { uncertainty, .. } = limit else {
                unreachable!()
            };
            assert!((value(limit) - exact).abs() <= uncertainty, "{uncertainty}");
        }
    }
}

/// Ideal polars off by `a`: `E = 1/sin^2 a`, to either side; for the parallel field the analyzer is turned all the way.
#[test]
fn ideal_polars_have_a_closed_azimuth_limit() {
    let (source, grid) = white();
    let path = between_ideal(Vec::new(), 90.0);
    let quantity = Quantity {
        part: Some(3),
        kind: QuantityKind::Azimuth,
    };
    for extinction in [100.0f64, 1e4, 1e6] {
        let target = Target::Extinction(extinction);
        let answer = tolerate(&scene_of(&path, &source, &grid), &target, quantity).unwrap();
        let Limits::Between { below, above } = answer.limits else {
            panic!("{answer:?}")
        };
        let off = (1.0 / extinction.sqrt()).asin();
        close("above", value(above) - FRAC_PI_2, off, 1e-9 * off + 1e-14);
        close("below", FRAC_PI_2 - value(below), off, 1e-9 * off + 1e-14);
    }
}

/// A radial strain leaks the mean of `sin^2(2 phi) sin^2(pi G r^2/lambda)`, `(1 - sin(2a)/(2a))/4` with `a = pi G/lambda`.
#[test]
fn a_radial_strain_alone_has_a_closed_limit() {
    let (source, grid) = green();
    for slow in [RadialSlow::Radial, RadialSlow::Tangential] {
        let path = between_ideal(
            vec![Strain::Radial {
                edge_nm: 5.0,
                slow,
                along: polstack::optics::RadialAlong::Axis,
            }],
            90.0,
        );
        let target = Target::Extinction(1e3);
        let answer = tolerate(
            &scene_of(&path, &source, &grid),
            &target,
            objective_strain(),
        )
        .unwrap();
        let limits = strain_limits(answer);
        assert!(limits.over_azimuths.is_none());
        let a = PI * value(limits.as_written) / GREEN_NM;
        let leak = 0.25 * (1.0 - (2.0 * a).sin() / (2.0 * a));
        close(
            "extinction ratio at the limit",
            (1.0 - leak) / leak,
            1e3,
            1e-4,
        );
    }
}

/// Stray light adds to what leaks: `f = 1/E - L0`.
#[test]
fn the_stray_limit_is_what_the_sheets_leave() {
    let (source, grid) = white();
    let mut parts = vec![polarizer(sheet(0.8, 1e-4), 0.0)];
    parts.extend(ideal_lenses(0.3));
    parts.push(analyzer(sheet(0.8, 1e-4), 90.0));
    let path = stack(0.3, parts);
    let stray = Quantity {
        part: None,
        kind: QuantityKind::StrayFraction,
    };
    let leak = 2.0 * 0.8e-4 / (0.64 + 1e-8);
    let ask = |extinction| {
        let target = Target::Extinction(extinction);
        tolerate(&scene_of(&path, &source, &grid), &target, stray).unwrap()
    };
    let Limits::AtMost(most) = ask(1e3).limits else {
        panic!("a fraction has a largest value")
    };
    close("stray fraction", value(most), 1e-3 - leak, 1e-12);
    let hopeless = ask(1e4);
    assert!(hopeless.limits.missed());
    assert_eq!(hopeless.dominates.unwrap().cause.words(), "sheet leak");
}

fn iodine(name: &str) -> polstack::material::PolarizingSheet {
    catalog::sheet(name).unwrap()
}

/// Everything that leaks, a little.
fn ordinary() -> LightPath {
    let clamp = Strain::Clamp {
        contacts: 3,
        force_n: 0.4,
        diameter_mm: 20.0,
        first_azimuth_rad: 0.2,
        stress_optic_brewster: 2.8,
    };
    let radial = Strain::Radial {
        edge_nm: 6.0,
        slow: RadialSlow::Tangential,
        along: polstack::optics::RadialAlong::Axis,
    };
    let condenser = Lens {
        na: 0.5,
        ..lens(0.5, 4, Coating::None, vec![radial, clamp])
    };
    let parts = vec![
        polarizer(iodine("iodine-dense"), 0.0),
        part("condenser", PartKind::Condenser(condenser)),
        slide(),
        part(
            "objective",
            PartKind::Objective(lens(0.25, 6, Coating::Mgf2, vec![uniform(2.0, 30.0)])),
        ),
        part("plate", PartKind::Plate(retarder(550.0, 45.0))),
        analyzer(iodine("iodine-dense"), 90.2),
    ];
    let mut path = stack(0.25, parts);
    path.stray_fraction = 2e-5;
    path
}

/// Circular polars of two quarter-wave plates.
fn circular() -> LightPath {
    let quarter = |name, azimuth| part(name, PartKind::Retarder(retarder(137.5, azimuth)));
    let [condenser, objective] =
        lens_pair(0.2, [vec![uniform(1.5, 10.0)], vec![uniform(2.0, 0.0)]]);
    stack(
        0.2,
        vec![
            polarizer(iodine("iodine-dense"), 0.0),
            quarter("first quarter", 45.0),
            condenser,
            objective,
            quarter("second quarter", -45.0),
            analyzer(iodine("iodine-dense"), 90.0),
        ],
    )
}

/// By how many times a target is met, from direct runs: a whole prediction, or one for each of 45 azimuths of a specimen before
/// the objective and of its opposite. Plates out, the mean of the two counts; plates in, the fainter.
fn by_runs(path: &LightPath, target: &Target) -> f64 {
    let (source, grid) = white();
    let see = match target {
        Target::Extinction(least) => {
            let ratio = predict(&scene_of(path, &source, &grid))
                .unwrap()
                .extinction_ratio;
            return ratio.unwrap() / least;
        }
        Target::See(see) => see,
    };
    let weights = ColorWeights::new(&grid, &source).unwrap();
    let luminous: Vec<f64> = weights.per_wavelength().iter().map(|w| w[1]).collect();
    let quadrature = run::quadrature(path, grid.wavelengths_nm(), &luminous, 1e-6).unwrap();
    let looks = |path: &LightPath| {
        let fields = run::fields(path, &quadrature.rays, grid.wavelengths_nm(), &luminous).unwrap();
        let parallel = weights.xyz(&fields.parallel).unwrap();
        let crossed = if see.with_plate {
            fields.crossed_with_plate.unwrap()
        } else {
            fields.crossed
        };
        let relative = weights
            .xyz(&crossed)
            .unwrap()
            .scaled(1.0 / parallel.luminance());
        (relative, Adaptation::to_d65(parallel).unwrap())
    };
    let (background, balance) = looks(path);
    let times = |specimen: Xyz| {
        (see.criteria().iter())
            .map(|criterion| criterion.times(specimen, background, &balance))
            .fold(f64::INFINITY, f64::min)
    };
    let objective = (path.parts.iter())
        .position(|part| matches!(part.kind, PartKind::Objective(_)))
        .unwrap();
    let with_specimen = |path_difference_nm: f64, azimuth_rad: f64| {
        let stated = Specimen::Stated {
            path_difference_nm,
            slow_azimuth_rad: azimuth_rad,
        };
        let mut path = path.clone();
        let specimen: Part = part("specimen", PartKind::Specimen(stated));
        path.parts.insert(objective, specimen);
        looks(&path).0
    };
    (0..45)
        .map(|k| {
            let azimuth_rad = f64::from(k) * 4f64.to_radians();
            let [one, other] =
                [1.0, -1.0].map(|sign| with_specimen(sign * see.path_difference_nm, azimuth_rad));
            if see.with_plate {
                times(one).min(times(other))
            } else {
                times(Xyz([0, 1, 2].map(|i| 0.5 * (one.0[i] + other.0[i]))))
            }
        })
        .fold(0.0, f64::max)
}

/// Asserts that the target is met just before a limit and missed just beyond it, coming from `start`.
#[track_caller]
fn confirmed(path: &LightPath, target: &Target, quantity: Quantity, start: f64, limit: Limit) {
    let Limit::At { value, uncertainty } = limit else {
        return;
    };
    // The specimen's azimuth is scanned in steps of 4 degrees: off by at most 2, 0.5 % of a contrast.
    let coarse = if matches!(target, Target::See(_)) {
        6e-3
    } else {
        0.0
    };
    let step = (value - start).abs() * 1e-4 + uncertainty;
    let side = (value - start).signum() * step;
    let [before, beyond] =
        [value - side, value + side].map(|v| by_runs(&quantity.with(path, v), target));
    assert!(
        before > 1.0 - coarse && beyond < 1.0,
        "{quantity:?} {limit:?}: {before} {beyond}"
    );
    assert!(before > beyond, "{quantity:?}: {before} {beyond}");
}

fn confirm_all(path: &LightPath, target: &Target) -> usize {
    let (source, grid) = white();
    let mut count = 0;
    for answer in overview(&scene_of(path, &source, &grid), target).unwrap() {
        let (quantity, written) = (answer.quantity, answer.written);
        match answer.limits {
            Limits::Strain(strain) => {
                confirmed(path, target, quantity, 0.0, strain.as_written);
                count += usize::from(strain.as_written.value().is_some());
                let Some(over) = strain.over_azimuths else {
                    continue;
                };
                let QuantityKind::StrainAmount { profile } = quantity.kind else {
                    panic!("{quantity:?}")
                };
                let azimuth = Quantity {
                    kind: QuantityKind::StrainAzimuth { profile },
                    ..quantity
                };
                for at in [over.worst, over.best] {
                    let turned = azimuth.with(path, at.azimuth_rad);
                    confirmed(&turned, target, quantity, 0.0, at.limit);
                    count += 1;
                }
                // What the worst azimuth tolerates, every azimuth does.
                let Some(least) = over.worst.limit.value() else {
                    continue;
                };
                for k in 0..8 {
                    let turned = azimuth.with(path, over.worst.azimuth_rad + f64::from(k) * 0.39);
                    let times = by_runs(&quantity.with(&turned, 0.999 * least), target);
                    assert!(times > 0.994, "{quantity:?} turned {k}: {times}");
                }
            }
            Limits::Between { below, above } => {
                confirmed(path, target, quantity, written, below);
                confirmed(path, target, quantity, written, above);
                count += 2;
            }
            Limits::AtMost(most) => {
                confirmed(path, target, quantity, 0.0, most);
                count += 1;
            }
            Limits::AtLeast(Some(fewest)) => {
                let times = |n: u32| by_runs(&quantity.with(path, f64::from(n)), target);
                assert!(times(fewest) >= 1.0);
                if fewest > 3 {
                    assert!(times(fewest - 1) < 1.0);
                }
                count += 1;
            }
            Limits::AtLeast(None) => {}
        }
    }
    count
}

#[test]
fn extinction_limits_agree_with_whole_predictions_on_both_sides() {
    assert!(confirm_all(&ordinary(), &Target::Extinction(500.0)) >= 15);
    assert!(confirm_all(&circular(), &Target::Extinction(60.0)) >= 8);
}

/// Contacts on the rim of the light take the rays with them when the clamp is turned.
#[test]
fn limits_of_a_clamp_on_the_rim_agree_with_whole_predictions() {
    let clamp = Strain::Clamp {
        contacts: 4,
        force_n: 1.0,
        diameter_mm: 20.0,
        first_azimuth_rad: 0.1,
        stress_optic_brewster: 2.8,
    };
    let path = between_ideal(vec![clamp], 90.0);
    assert!(path.contacts_near_rim().is_some());
    let (source, grid) = green();
    let target = Target::Extinction(300.0);
    let limits = tolerate(
        &scene_of(&path, &source, &grid),
        &target,
        objective_strain(),
    )
    .unwrap();
    let limits = strain_limits(limits);
    let over = limits.over_azimuths.unwrap();
    let azimuth = Quantity {
        part: Some(2),
        kind: QuantityKind::StrainAzimuth { profile: 0 },
    };
    // With rays of their own, as everywhere.
    let times = |azimuth_rad: f64, amount_nm: f64| {
        let path = objective_strain().with(&azimuth.with(&path, azimuth_rad), amount_nm);
        let rays = run::quadrature(&path, &[GREEN_NM], &[1.0], 1e-6)
            .unwrap()
            .rays;
        let fields = run::fields(&path, &rays, &[GREEN_NM], &[1.0]).unwrap();
        fields.parallel[0] / fields.crossed[0] / 300.0
    };
    let own = (0.1, limits.as_written);
    let [worst, best] = [over.worst, over.best].map(|at| (at.azimuth_rad, at.limit));
    for (azimuth_rad, limit) in [own, worst, best] {
        let Limit::At { value, uncertainty } = limit else {
            panic!("{limit:?}")
        };
        let step = 1e-4 * value + uncertainty;
        assert!(
            times(azimuth_rad, value - step) > 1.0,
            "{azimuth_rad} {limit:?}"
        );
        assert!(
            times(azimuth_rad, value + step) < 1.0,
            "{azimuth_rad} {limit:?}"
        );
    }
    let (least, most) = (value(worst.1), value(best.1));
    assert!(most > 1.02 * least, "{least} {most}");
    for k in 0..6 {
        let azimuth_rad = f64::from(k) * 0.26;
        assert!(times(azimuth_rad, 0.999 * least) > 1.0);
        assert!(times(azimuth_rad, 1.001 * most) < 1.0);
    }
}

fn see(path_difference_nm: f64, with_plate: bool, full_well: Option<f64>) -> Target {
    Target::See(See {
        path_difference_nm,
        with_plate,
        contrast: 0.02,
        color_difference: 2.0,
        full_well,
        snr: 5.0,
    })
}

#[test]
fn visibility_limits_agree_with_direct_runs_on_both_sides() {
    let [condenser, objective] = lens_pair(0.2, [Vec::new(), vec![uniform(2.0, 30.0)]]);
    let mut path = stack(
        0.2,
        vec![
            polarizer(iodine("iodine-dense"), 0.0),
            condenser,
            objective,
            part("plate", PartKind::Plate(retarder(550.0, 45.0))),
            analyzer(iodine("iodine-dense"), 90.0),
        ],
    );
    path.stray_fraction = 1e-4;
    for target in [
        see(4.0, false, Some(10_000.0)),
        see(8.0, true, None),
        see(2.0, false, None),
    ] {
        assert!(confirm_all(&path, &target) >= 3, "{target:?}");
    }
}

#[test]
fn a_closed_iris_rescues_what_it_says() {
    let (source, grid) = white();
    let path = ordinary();
    let ratio = predict(&scene_of(&path, &source, &grid))
        .unwrap()
        .extinction_ratio
        .unwrap();
    let target = Target::Extinction(1.02 * ratio);
    let answer = verdict(&scene_of(&path, &source, &grid), &target).unwrap();
    assert!(!answer.met());
    close(
        "as it stands",
        answer.extinction_ratio.unwrap(),
        ratio,
        1e-5 * ratio,
    );
    let Rescue::Iris { na, uncertainty } = answer.rescue else {
        panic!("{answer:?}")
    };
    let step = 1e-4 * na + uncertainty;
    let [open, closed] = [na + step, na - step].map(|na| {
        let path = LightPath {
            iris_na: Some(na),
            ..path.clone()
        };
        by_runs(&path, &target)
    });
    assert!(open < 1.0 && closed > 1.0, "{na}: {open} {closed}");
    let hopeless = verdict(&scene_of(&path, &source, &grid), &Target::Extinction(1e9)).unwrap();
    assert_eq!(hopeless.rescue, Rescue::None);
}

#[test]
fn what_dominates_is_named_where_even_no_strain_is_too_much() {
    let (source, grid) = white();
    let mut path = ordinary();
    path.stray_fraction = 0.01;
    let Subject { path, quantity, .. } = Subject::of(&path, Some("Objective"), None, None).unwrap();
    let answer = tolerate(
        &scene_of(&path, &source, &grid),
        &Target::Extinction(1e3),
        quantity,
    )
    .unwrap();
    assert!(answer.limits.missed());
    assert_eq!(answer.dominates.unwrap().cause.words(), "stray light");
}

#[test]
fn the_part_that_is_meant_is_found_or_suggested() {
    let path = ordinary();
    let ask = |part, vary, profile| Subject::of(&path, part, vary, profile);
    let assumed = ask(Some("objective"), None, Some(Profile::Radial)).unwrap();
    assert!(assumed.assumed && assumed.quantity.value(&assumed.path) == Some(0.0));
    let second = ask(Some("condenser"), None, Some(Profile::Clamp)).unwrap();
    assert_eq!(
        second.quantity.kind,
        QuantityKind::StrainAmount { profile: 1 }
    );
    let error = |result: Result<Subject, _>| match result {
        Ok(subject) => panic!("{subject:?}"),
        Err(error) => polstack::study::StudyError::to_string(&error),
    };
    let words = error(ask(Some("condensor"), None, None));
    assert!(
        words.contains("did you mean \"condenser\"") && words.contains("slide"),
        "{words}"
    );
    assert!(error(ask(Some("slide"), None, None)).contains("no number that could be off"));
    assert!(error(ask(Some("analyzer"), Some(Vary::Strain), None)).contains("strain is a lens's"));
    assert!(error(ask(Some("objective"), None, Some(Profile::Map))).contains("map"));
    assert!(
        error(ask(Some("plate"), Some(Vary::Surfaces), None))
            .contains("it has path difference, azimuth")
    );
    assert!(error(ask(None, None, None)).contains("the parts are"));
}

#[test]
fn plates_that_are_not_there_cannot_be_looked_with() {
    let (source, grid) = white();
    let error = verdict(
        &scene_of(&circular(), &source, &grid),
        &see(5.0, true, None),
    )
    .unwrap_err();
    assert!(error.to_string().contains("plate"), "{error}");
}

/// Draw by draw: an azimuth error alone meets the target as often as the normal distribution stays within the limit, and a specimen
/// shows in all draws or in none where nothing that matters varies.
#[test]
fn draws_meet_a_target_as_often_as_they_stay_within_its_limit() {
    use polstack::light_path::{Tolerance, ToleranceKind};
    use polstack::study::draws::{Plan, Watch};
    use polstack::study::tolerate::built;
    use std::sync::atomic::AtomicBool;

    let (source, grid) = white();
    let mut path = between_ideal(vec![uniform(4.0, 45.0)], 90.0);
    let half_width = 3f64.to_radians();
    path.parts[3].tolerance = Some(Tolerance {
        azimuth_rad: Some(half_width),
        path_difference_nm: None,
        kind: ToleranceKind::Uniform,
    });
    let analyzer_azimuth = Quantity {
        part: Some(3),
        kind: QuantityKind::Azimuth,
    };
    let plan = Plan {
        draws: 4000,
        seed: 5,
    };
    for target in [Target::Extinction(500.0), see(1.6, false, Some(10_000.0))] {
        let watch = Watch {
            progress: &|_| {},
            stop: &AtomicBool::new(false),
        };
        let drawn = built(&scene_of(&path, &source, &grid), &target, plan, watch).unwrap();
        let answer = tolerate(&scene_of(&path, &source, &grid), &target, analyzer_azimuth).unwrap();
        let Limits::Between { below, above } = answer.limits else {
            panic!("{answer:?}")
        };
        let within = (value(above) - value(below)) / (2.0 * half_width);
        assert!((0.1..0.9).contains(&within), "{within}");
        let got = drawn.met as f64 / 4000.0;
        // Four standard deviations of a binomial.
        let spread = 4.0 * (within * (1.0 - within) / 4000.0).sqrt();
        close("yield", got, within, spread);
    }
}
