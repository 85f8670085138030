//! Names of the first two orders against the words of old handbooks.

use polstack::material::catalog;
use polstack::spectrum::Source;
use polstack::study::chart::{Polars, ScaleRequest, interference};
use serde::Deserialize;

use super::triple::Triple;

#[derive(Deserialize)]
struct Row {
    path_difference_nm: f64,
    word: String,
    hues: String,
}

fn read() -> Triple<Row> {
    Triple::read(
        include_str!("handbook_words.csv"),
        include_str!("handbook_words.toml"),
    )
}

/// Whether a name is a hue, as it is or with words before it.
fn is_of_hue(name: &str, hue: &str) -> bool {
    let before = name.strip_suffix(hue).map(str::trim_end);
    matches!(
        before,
        Some("" | "deep" | "pale" | "greyish" | "dark" | "dark greyish")
    )
}

#[test]
fn within_thirty_nanometres_the_program_says_what_handbooks_say() {
    let triple = read();
    let tolerance = triple.tolerance("path_difference_nm");
    let chart = interference(&ScaleRequest {
        source: &Source::named("cie-d65").expect("a lamp of the catalog"),
        sheet: &catalog::sheet("ideal").expect("the ideal sheet"),
        polars: Polars::Linear,
        dispersion: None,
        to_nm: 1200.0,
        step_nm: 1.0,
        exposure_stops: 0.0,
        adaptation_degree: 1.0,
        microscope: None,
    })
    .expect("a chart");
    let names: Vec<(f64, &str)> = (chart.path_difference_nm.iter().copied())
        .zip(chart.bands[0].tints.iter().map(|tint| tint.name.as_str()))
        .collect();
    assert_eq!(triple.rows.len(), 28);
    for row in &triple.rows {
        let away = |hue: &str| {
            let alike = names.iter().filter(|(_, name)| is_of_hue(name, hue));
            let off = alike.map(|(nm, _)| (nm - row.path_difference_nm).abs());
            off.fold(f64::INFINITY, f64::min)
        };
        let nearest = row.hues.split(';').map(away).fold(f64::INFINITY, f64::min);
        let Row {
            path_difference_nm: nm,
            word,
            hues,
        } = row;
        assert!(
            nearest <= tolerance,
            "{nm} nm, {word}: {hues} is {nearest} nm away"
        );
    }
}
