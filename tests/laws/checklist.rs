//! The checklist before any reading: its readings decide as often as it promises, and come in an order for the bench.

use std::collections::BTreeSet;
use std::sync::atomic::AtomicBool;

use polstack::Scene;
use polstack::optics::ZoneGrid;
use polstack::scenario::{CameraReading, read_photographs};
use polstack::study::draws::{Plan, Watch};
use polstack::study::fit::{
    Action, BenchSetting, BlameShare, Checklist, ChecklistStep, FitError, FitQuestion, Reading,
    SampleError, checklist, fit,
};
use polstack::study::predict::predict;
use polstack::study::unknown::Unknowns;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::{Distribution, StandardNormal};

use crate::coverage::{camera, taken};
use crate::fit_bench::{drawn, fitted_only, readings, scene, unknowns};

fn question(can: Option<Vec<Action>>) -> FitQuestion {
    let plan = Plan {
        draws: 1500,
        seed: 3,
    };
    FitQuestion {
        can,
        model_error: 0.0,
        ..FitQuestion::new(plan)
    }
}

fn listed(
    scene: &Scene,
    unknowns: &Unknowns,
    can: Option<Vec<Action>>,
    stopped: bool,
) -> Result<Checklist, FitError> {
    let stop = AtomicBool::new(stopped);
    let watch = Watch {
        progress: &|_| (),
        stop: &stop,
    };
    checklist(scene, unknowns, &question(can), watch)
}

/// Whole fits of simulated benches: which part of them is decided, and which part of these rightly.
fn decided(scene: &Scene, unknowns: &Unknowns, list: &Checklist, benches: usize) -> (f64, f64) {
    let settings: Vec<BenchSetting> = list.steps.iter().map(|step| step.bench.clone()).collect();
    let mut random = ChaCha8Rng::seed_from_u64(31);
    let (mut count, mut right) = (0, 0);
    for bench in 0..benches {
        let truth = drawn(unknowns, &mut random);
        let read = readings(scene, unknowns, &truth, &settings, &mut random);
        let plan = Plan {
            draws: 300,
            seed: bench as u64,
        };
        let blamed = &fitted_only(scene, unknowns, &read, plan).blame[0];
        if blamed.largest < 0.9 {
            continue;
        }
        count += 1;
        let stand = scene.with_path(unknowns.with(&truth));
        let largest = &predict(&stand).unwrap().leak.shares[0];
        right += usize::from(largest.part == blamed.part && largest.cause == blamed.cause);
    }
    let part = |some: usize, of: usize| some as f64 / of.max(1) as f64;
    (part(count, benches), part(right, count))
}

/// Promised and found differ by no more than three standard deviations of so many benches.
#[expect(clippy::print_stdout, reason = "the numbers are kept in DEVELOPERS.md")]
fn promise_is_kept(scene: &Scene, unknowns: &Unknowns, benches: usize) {
    let list = listed(scene, unknowns, None, false).unwrap();
    let promised = list.steps.last().unwrap().decided;
    let (found, right) = decided(scene, unknowns, &list, benches);
    println!(
        "{} readings: promised {promised:.2}, found {found:.2} of {benches} benches, right {right:.2}",
        list.steps.len()
    );
    let sd = (promised * (1.0 - promised) / benches as f64).sqrt();
    assert!((found - promised).abs() < 3.0 * sd, "{promised} {found}");
    assert!(right > 0.85, "{right}");
}

/// How the checks with photographs go: as they are usually read, with some of the model's error.
fn with_photographs(can: Vec<Action>, draws: usize) -> FitQuestion {
    FitQuestion {
        photographs: Some(ZoneGrid::default()),
        model_error: 0.02,
        ..FitQuestion {
            plan: Plan { draws, seed: 3 },
            ..question(Some(can))
        }
    }
}

/// Photographs of a stand, from pictures that are rendered with noise, misframed, mirrored and turned, and read back.
fn photographed(
    stand: &Scene,
    settings: &[BenchSetting],
    seed: u64,
    random: &mut ChaCha8Rng,
) -> Vec<Reading> {
    if settings.is_empty() {
        return Vec::new();
    }
    let folder = tempfile::tempdir().unwrap();
    let asked = (settings.to_vec(), 0.05);
    let lines = taken(stand, camera(seed, 0.0), asked, folder.path(), random);
    let held = CameraReading {
        turn_rad: 17f64.to_radians(),
        flip: Some(true),
        ..CameraReading::default()
    };
    let seen = read_photographs(&lines, folder.path(), &held, &|_| ()).unwrap();
    seen.readings
}

/// Whole fits of simulated benches that were read and photographed as a checklist says: how often they are decided, how often rightly, and how much is
/// told of the part to blame, with its error.
#[expect(clippy::print_stdout, reason = "the numbers are kept in DEVELOPERS.md")]
fn promise_of_photographs_is_kept(benches: usize) {
    let scene = scene();
    let unknowns = unknowns(&scene);
    let stop = AtomicBool::new(false);
    let watch = Watch {
        progress: &|_| (),
        stop: &stop,
    };
    let question = with_photographs(Vec::new(), 1500);
    let list = checklist(&scene, &unknowns, &question, watch).unwrap();
    let last = list.steps.last().unwrap();
    let (photos, meter): (Vec<_>, Vec<_>) =
        (list.steps.iter()).partition(|step| step.worth.is_some());
    assert!(!photos.is_empty(), "{list:?}");
    let settings = |steps: &[&ChecklistStep]| -> Vec<BenchSetting> {
        steps.iter().map(|step| step.bench.clone()).collect()
    };
    let mut random = ChaCha8Rng::seed_from_u64(32);
    let (mut decided, mut right, mut told) = (0, 0, Vec::new());
    for bench in 0..benches {
        let truth = drawn(&unknowns, &mut random);
        let stand = scene.with_path(unknowns.with(&truth));
        let mut read = readings(&scene, &unknowns, &truth, &settings(&meter), &mut random);
        for reading in &mut read {
            reading.line += 100;
        }
        let seen = photographed(&stand, &settings(&photos), bench as u64, &mut random);
        let question = FitQuestion {
            plan: Plan {
                draws: 300,
                seed: bench as u64,
            },
            photographs: None,
            ..question.clone()
        };
        let answer = fit(&scene, &unknowns, &[seen, read].concat(), &question, watch).unwrap();
        told.push(told_of_the_right_part(&stand, &list.before, &answer.blame));
        let blamed = &answer.blame[0];
        if blamed.largest >= 0.9 {
            decided += 1;
            let largest = &predict(&stand).unwrap().leak.shares[0];
            right += usize::from(largest.part == blamed.part && largest.cause == blamed.cause);
        }
    }
    let count = benches as f64;
    let (mean, error) = mean_with_error(&told);
    println!(
        "{} photographs and {} readings: promised {:.2} decided, {:.2} nats; found {decided} of {benches}, {right} rightly, {mean:.2} +- {error:.2} nats",
        photos.len(),
        meter.len(),
        last.decided,
        last.told_nats,
    );
    for photo in &photos {
        println!("  {}: {:?}", photo.words, photo.worth);
    }
    // One bench more or less, and three standard deviations of counting.
    let sd = (last.decided * (1.0 - last.decided) / count).sqrt();
    let found = f64::from(decided) / count;
    assert!((found - last.decided).abs() < 3.0 * sd + 1.0 / count);
    assert!((mean - last.told_nats).abs() < 3.0 * error + 0.05);
    assert!(right as f64 >= 0.85 * f64::from(decided));
}

#[test]
fn photographs_decide_as_often_as_promised() {
    promise_of_photographs_is_kept(10);
}

#[test]
#[ignore = "takes minutes"]
fn photographs_decide_as_often_as_promised_on_forty_benches() {
    promise_of_photographs_is_kept(40);
}

/// The next photograph, taken and fitted on so many benches drawn from what two readings left. What it tells is measured in two ways, whose mean over
/// many benches is the information of the photograph: by the probability of the part that is to blame, after over before, and by how much
/// less open the question is. The first differs from bench to bench, since the part to blame does, and counts fits that are sure of the wrong part; the
/// second is the steadier one. Where all benches were decided, its standard error would be 0: then it may only be off by what is allowed beside it.
///
/// The promise counts what the model leaves out: every zone of the pictures is off by so much too.
#[expect(clippy::print_stdout, reason = "the numbers are kept in DEVELOPERS.md")]
fn promise_of_the_next_photograph_is_kept(benches: usize) {
    let scene = scene();
    let unknowns = unknowns(&scene);
    let stop = AtomicBool::new(false);
    let watch = Watch {
        progress: &|_| (),
        stop: &stop,
    };
    let truth = unknowns.point(&[12.0, 6.0, 30.0, 90.2, 2e-5]).unwrap();
    let mut random = ChaCha8Rng::seed_from_u64(9);
    let irises = [0.5, 0.2].map(|na| BenchSetting {
        na: Some(na),
        ..BenchSetting::default()
    });
    let two = readings(&scene, &unknowns, &truth, &irises, &mut random);
    let question = with_photographs(Vec::new(), 1000);
    let before = fit(&scene, &unknowns, &two, &question, watch).unwrap();
    let next = (before.next.iter()).find(|next| next.worth.is_some());
    let next = next.unwrap();
    // One photograph tells more than any meter reading.
    let meter = before.next.iter().find(|next| next.worth.is_none());
    assert!(meter.is_none_or(|meter| meter.gain_nats < next.gain_nats));
    let each: Vec<(f64, f64)> = (0..benches)
        .map(|k| {
            let point = &before.stands[k * before.stands.len() / benches];
            let stand = scene.with_path(unknowns.with(point));
            let setting = std::slice::from_ref(&next.bench);
            let mut seen = photographed(&stand, setting, k as u64, &mut random);
            for reading in &mut seen {
                reading.line = 9;
                let left_out: f64 = StandardNormal.sample(&mut random);
                reading.ratio *= (question.model_error * left_out).exp();
            }
            let question = FitQuestion {
                plan: Plan {
                    draws: 300,
                    seed: k as u64,
                },
                photographs: None,
                ..question.clone()
            };
            let all = [&two[..], &seen].concat();
            let after = fit(&scene, &unknowns, &all, &question, watch).unwrap();
            (
                told_of_the_right_part(&stand, &before.blame, &after.blame),
                open(&before.blame) - open(&after.blame),
            )
        })
        .collect();
    println!("{}: {:?}", next.words, next.worth);
    let (right, closed): (Vec<f64>, Vec<f64>) = each.into_iter().unzip();
    for (what, told) in [("right part", right), ("less open", closed)] {
        let (mean, error) = mean_with_error(&told);
        println!(
            "promised {:.3} nats, {what} {mean:.3} +- {error:.3} on {benches} benches: {told:.2?}",
            next.gain_nats
        );
        assert!((mean - next.gain_nats).abs() < 3.0 * error + 0.05);
    }
}

#[test]
fn the_next_photograph_tells_as_much_as_was_promised() {
    promise_of_the_next_photograph_is_kept(12);
}

#[test]
#[ignore = "takes minutes"]
fn the_next_photograph_tells_as_much_as_was_promised_on_sixty_benches() {
    promise_of_the_next_photograph_is_kept(60);
}

/// How much more probable the part that is to blame in a stand has become, as a logarithm. As the program has it, no probability is below that of half
/// a stand.
fn told_of_the_right_part(stand: &Scene, before: &[BlameShare], after: &[BlameShare]) -> f64 {
    let leak = predict(stand).unwrap().leak;
    let largest = &leak.shares[0];
    let is_true = |of: &&BlameShare| of.part == largest.part && of.cause == largest.cause;
    let chance = |of: &[BlameShare]| of.iter().find(is_true).map_or(0.0, |of| of.largest);
    (chance(after).max(0.5 / 60.0) / chance(before).max(0.5 / 1500.0)).ln()
}

/// How open the question is: the entropy of who is to blame.
fn open(blame: &[BlameShare]) -> f64 {
    let each = blame.iter().map(|of| of.largest);
    each.filter(|p| *p > 0.0).map(|p| -p * p.ln()).sum()
}

/// The mean, and its standard error.
fn mean_with_error(each: &[f64]) -> (f64, f64) {
    let count = each.len() as f64;
    let mean = each.iter().sum::<f64>() / count;
    let variance = each.iter().map(|one| (one - mean).powi(2)).sum::<f64>() / (count - 1.0);
    (mean, (variance / count).sqrt())
}

#[test]
fn readings_decide_as_often_as_promised() {
    let scene = scene();
    promise_is_kept(&scene, &unknowns(&scene), 20);
}

#[test]
#[ignore = "takes half a minute"]
fn readings_decide_as_often_as_promised_on_eighty_benches() {
    let scene = scene();
    promise_is_kept(&scene, &unknowns(&scene), 80);
}

/// With every unknown of the bench.
#[test]
#[ignore = "takes a minute"]
fn readings_of_a_whole_bench_decide_as_often_as_promised() {
    let scene = scene();
    promise_is_kept(&scene, &Unknowns::of_bench(&scene.path), 60);
}

#[test]
fn a_state_of_the_stand_is_read_at_all_its_irises_before_the_next() {
    let scene = scene();
    let list = listed(&scene, &unknowns(&scene), None, false).unwrap();
    let states: Vec<BenchSetting> = (list.steps.iter())
        .map(|step| BenchSetting {
            na: None,
            ..step.bench.clone()
        })
        .collect();
    let mut runs = states.clone();
    runs.dedup();
    let words: BTreeSet<String> = runs.iter().map(|run| run.words(&scene.path)).collect();
    assert_eq!(words.len(), runs.len(), "{words:?}");
    for pair in list.steps.windows(2) {
        if pair[0].bench.polar_at == pair[1].bench.polar_at {
            let (one, other) = (&pair[0], &pair[1]);
            assert!(one.told_nats <= other.told_nats + 0.05, "{one:?} {other:?}");
        }
    }
}

#[test]
fn only_what_can_be_done_is_asked_for() {
    let scene = scene();
    let iris = Action::named("iris", &scene.path).unwrap();
    let list = listed(&scene, &unknowns(&scene), Some(vec![iris]), false).unwrap();
    for step in &list.steps {
        let plain = BenchSetting {
            na: step.bench.na,
            ..BenchSetting::default()
        };
        assert_eq!(step.bench, plain);
    }
}

#[test]
fn a_stopped_checklist_is_none_and_so_is_one_of_nothing() {
    let scene = scene();
    let all = unknowns(&scene);
    let error = listed(&scene, &all, None, true).unwrap_err();
    assert_eq!(error, FitError::Sample(SampleError::Stopped));
    let names: Vec<String> = all.names().iter().map(|name| (*name).to_owned()).collect();
    let none = all.without(&names).unwrap();
    let error = listed(&scene, &none, None, false).unwrap_err();
    assert_eq!(error, FitError::NothingUnknown);
}
