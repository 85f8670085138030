use super::*;
use crate::optics::Rays;
use crate::study::draws::Plan;
use crate::study::fit::{Interval, ReadingAnswer};
use crate::study::leak::Cause;
use crate::study::strain_between::{StrainNode, StrainZone};

/// An answer of which populations say how probably the condenser's strain is the largest leak.
pub(crate) fn answer(populations: &[f64], independent_draws: usize) -> FitReport {
    let interval = Interval {
        low: 0.0,
        median: 0.5,
        high: 1.0,
    };
    let mean = populations.iter().sum::<f64>() / populations.len() as f64;
    let share = |part: &str, largest: f64| BlameShare {
        part: part.to_owned(),
        cause: Cause::Strain,
        share: interval,
        largest,
    };
    FitReport::new(Fit {
        plan: Plan { draws: 1, seed: 1 },
        log_evidence: 0.0,
        consistent: true,
        p_value: 1.0,
        surface_error: 0.0,
        moves_per_draw: 12.0,
        independent_draws,
        extinction_ratio: interval,
        unknown: Vec::new(),
        readings: Vec::new(),
        blame: vec![share("condenser", mean), share("objective", 1.0 - mean)],
        blame_by_part: Vec::new(),
        blame_by_population: populations.iter().map(|p| vec![*p, 1.0 - p]).collect(),
        ambiguous: Vec::new(),
        next: Vec::new(),
        stands: Vec::new(),
    })
}

#[test]
fn certainty_is_told_as_a_bound() {
    for (probability, words) in [
        (1.0, "over 99 %"),
        (0.996, "over 99 %"),
        (0.898, "just under 90 %"),
        (0.994, "99 %"),
        (0.5, "50 %"),
        (0.006, "1 %"),
        (0.004, "under 1 %"),
        (0.0, "under 1 %"),
    ] {
        assert_eq!(chance(probability), words, "{probability}");
    }
}

#[test]
fn what_was_freed_alone_is_named_so() {
    let answer = FitReport {
        freed_only: true,
        ..answer(&[1.0; 4], 900)
    };
    let words = "Before any reading, of the numbers freed: condenser, strain is the largest leak: over 99 % sure.";
    assert_eq!(findings(&answer)[0], words);
}

#[test]
fn nothing_is_surer_than_independent_populations_permit() {
    for (populations, draws, words) in [
        (
            [0.97, 0.95, 0.96, 0.96],
            900,
            &["Before any reading: condenser, strain is the largest leak: 96 % sure."][..],
        ),
        (
            [1.0, 1.0, 1.0, 1.0],
            19,
            &[
                "Before any reading: condenser, strain is the largest leak: 95 % sure.",
                "The answer rests on about 19 independent draws: draw more stands, and see whether it stays.",
            ],
        ),
        (
            [0.99, 0.92, 0.98, 0.99],
            900,
            &[
                "Before any reading: condenser, strain is the largest leak: at least 92 % sure (stands that were drawn independently say 92 % to 99 %).",
            ],
        ),
        (
            [0.99, 0.80, 0.98, 0.99],
            900,
            &[
                "Before any reading: Not decided whether condenser, strain is the largest leak: stands that were drawn independently do not agree, 80 % to 99 %; draw more of them.",
            ],
        ),
        (
            [0.91, 0.50, 0.88, 0.71],
            900,
            &[
                "Before any reading: Not decided which leak is the largest: condenser, strain (probability 75 %), or objective, strain (25 %).",
                "Stands that were drawn independently do not agree: 50 % to 91 % for condenser, strain; draw more of them.",
            ],
        ),
    ] {
        assert_eq!(findings(&answer(&populations, draws)), words);
    }
}
#[test]
fn what_a_failed_fit_says_of_the_parts_is_struck_and_what_is_wrong_with_its_readings_comes_first() {
    let failed = FitReport::new(Fit {
        consistent: false,
        p_value: 1e-9,
        moves_per_draw: 0.5,
        ..answer(&[1.0; 4], 20).answer
    });
    assert!(failed.answer.blame.is_empty() && failed.answer.extinction_ratio.median.is_nan());
    let said = findings(&failed);
    assert!(said[0].starts_with("Readings and model do not go together (p = 1.0e-9)"));
    assert!(said[1].starts_with("Clear that up first."), "{said:?}");
    let freed = FitReport {
        freed_only: true,
        ..failed.clone()
    };
    assert!(findings(&freed)[1].contains("without --unknown"));
    let fault = "The disc is in the wrong place.";
    let told = FitReport {
        fault: Some(fault.to_owned()),
        ..freed
    };
    assert_eq!(findings(&told)[1], fault);
    assert!(findings(&told)[2].starts_with("Clear that up first."));
    // Where readings and model go together all the same, it comes before the answer.
    let told = FitReport {
        fault: told.fault,
        ..answer(&[1.0; 4], 900)
    };
    assert_eq!(findings(&told)[0], fault);
}

#[test]
fn a_photograph_is_blamed_on_its_exposures_where_it_lies_off_as_a_whole() {
    let photograph = |z: f64| ReadingAnswer {
        line: 4,
        measured: 100.0,
        predicted: Interval {
            low: 130.0,
            median: 140.0,
            high: 150.0,
        },
        z,
        words: String::new(),
        photograph: true,
        zones: Vec::new(),
        spoiled: true,
        note: String::new(),
    };
    for (z, words) in [
        (
            -7.0,
            "best; as a whole it is 1.4 times as bright as the others let it be: are exposure_s",
        ),
        (-2.0, "best. Correct it, or take it again"),
    ] {
        let failed = FitReport::new(Fit {
            consistent: false,
            readings: vec![photograph(z)],
            ..answer(&[1.0; 4], 900).answer
        });
        assert!(
            findings(&failed)[1].contains(words),
            "{:?}",
            findings(&failed)
        );
    }
}

#[test]
fn a_map_names_equal_zones_and_errors_that_are_told_too_large() {
    let zone = |x: f64, nm: f64| StrainZone {
        ring: 0,
        sector: 0,
        found: StrainNode {
            x,
            y: 0.0,
            path_difference_nm: nm,
            slow_azimuth_rad: 0.0,
            u_nm: nm,
            v_nm: 0.0,
            error_nm: 0.1,
        },
        fitted_nm: nm,
        fitted_azimuth_rad: 0.0,
    };
    let map = |zones: &[StrainZone], misfit: f64| {
        map_findings(&StrainBetween {
            lens: "objective".to_owned(),
            reach: 1.0,
            rms_nm: 6.3,
            rms_error_nm: 0.1,
            misfit,
            settled: true,
            lines: vec![2, 3, 4],
            left_out: Vec::new(),
            zones: zones.to_vec(),
            residuals: Vec::new(),
            nodes: Vec::new(),
            drawn: Rays::even(1.0, 2, 4),
            disc: Vec::new(),
            as_written: None,
        })
    };
    let three = [zone(0.9, 9.0), zone(-0.9, 8.9), zone(0.2, 3.0)];
    let said = map(&three, 0.01);
    assert!(
        said[0].starts_with("The path difference is 6.3 nm root mean square"),
        "{said:?}"
    );
    assert!(
        said[1].ends_with("; in 1 other zone it is as large within twice the error."),
        "{said:?}"
    );
    assert!(
        said[2].contains("by 0.10 of") && said[2].contains("told too large"),
        "{said:?}"
    );
    let said = map(&three[1..], 1.0);
    assert!(said[1].ends_with("slow axis at 0 degrees."), "{said:?}");
    assert!(said[2].ends_with("root mean square."), "{said:?}");
}
