//! Colour charts as CSV.

use super::text;
use crate::study::chart::{ColorGrid, Scale, SheetComparison, Tint};
use crate::study::interval::Interval;

/// A row for each column of colour and path difference. `x, y, z` in units of the parallel field's luminance; `lab_*` balanced, before exposure;
/// `srgb` as the chart shows it, `gamut_mapped` 1 where that lay outside the screen's gamut. `ciede2000`, of a chart of plates, is the
/// difference of plate added and subtracted.
#[must_use]
pub fn scale(chart: &Scale) -> String {
    let header = [
        "band",
        "path_difference_nm",
        "x",
        "y",
        "z",
        "lab_l",
        "lab_a",
        "lab_b",
        "srgb",
        "gamut_mapped",
        "name",
        "discrimination_per_nm",
        "ciede2000",
    ];
    let rows = chart.bands.iter().enumerate().flat_map(|(index, band)| {
        // A group is three columns.
        let difference = chart.differences.get(index / 3);
        (band.tints.iter().enumerate()).map(move |(k, tint)| {
            let [x, y, z, l, a, b, srgb, mapped, name] = cells(tint);
            let nm = chart.path_difference_nm[k].to_string();
            let keen = band.discrimination_per_nm[k].to_string();
            let apart = difference.map_or(String::new(), |each| each.ciede2000[k].to_string());
            let heading = band.heading.clone();
            [
                heading, nm, x, y, z, l, a, b, srgb, mapped, name, keen, apart,
            ]
        })
    });
    text(header, rows)
}

/// A row for each panel and cell; `extinction_ratio`, plate out, is empty where nothing leaks. On a chart of sheets `x, y, z` are in units of the
/// lamp's luminance.
#[must_use]
pub fn matrix(chart: &ColorGrid) -> String {
    let header = [
        "panel",
        "row",
        "column",
        "x",
        "y",
        "z",
        "lab_l",
        "lab_a",
        "lab_b",
        "srgb",
        "gamut_mapped",
        "name",
        "extinction_ratio",
        "exposure_stops",
    ];
    let rows = chart.panels.iter().flat_map(|panel| {
        (panel.cells.iter().enumerate()).flat_map(move |(row, tints)| {
            (tints.iter().enumerate()).map(move |(column, tint)| {
                let [x, y, z, l, a, b, srgb, mapped, name] = cells(tint);
                let ratio = chart.extinction_ratio[row][column];
                let ratio = ratio.map_or(String::new(), |ratio| ratio.to_string());
                let stops = panel.stops_of_row(row);
                let (heading, stops) = (panel.heading.clone(), stops.to_string());
                let (row, column) = (chart.rows[row].clone(), chart.columns[column].clone());
                [
                    heading, row, column, x, y, z, l, a, b, srgb, mapped, name, ratio, stops,
                ]
            })
        })
    });
    text(header, rows)
}

/// Tristimulus values, L*a*b*, swatch, whether it was mapped, name.
fn cells(tint: &Tint) -> [String; 9] {
    let [x, y, z] = tint.xyz.0.map(|value| value.to_string());
    let [l, a, b] = tint.lab.0.map(|value| value.to_string());
    let mapped = u8::from(tint.swatch.gamut_mapped).to_string();
    [
        x,
        y,
        z,
        l,
        a,
        b,
        tint.swatch.hex(),
        mapped,
        tint.name.clone(),
    ]
}

/// A row for each compared sheet; ranges hold 90 % and are empty where nothing is known of them, ratios where nothing leaks.
#[must_use]
pub fn sheets(answer: &SheetComparison) -> String {
    let header = [
        "section",
        "sheet",
        "lamp",
        "transmittance",
        "transmittance_low",
        "transmittance_high",
        "parallel",
        "parallel_low",
        "parallel_high",
        "extinction_pair",
        "extinction_pair_low",
        "extinction_pair_high",
        "extinction_placed",
        "extinction_placed_low",
        "extinction_placed_high",
        "placed_in",
        "darkest_probability",
        "cover_nm",
        "cover_low_nm",
        "cover_high_nm",
        "parallel_srgb",
        "parallel_name",
        "crossed_srgb",
        "crossed_name",
        "crossed_exposure_stops",
    ];
    let told = |value: Option<f64>| value.map_or(String::new(), |value| value.to_string());
    let ends = |range: Option<Interval>| [range.map(|r| r.low), range.map(|r| r.high)].map(told);
    let rows = answer.sheets.iter().map(|row| {
        let [one_low, one_high] = ends(row.one.doubt);
        let [parallel_low, parallel_high] = ends(row.parallel.doubt);
        let [pair_low, pair_high] = ends(row.pair.doubt);
        let [placed_low, placed_high] = ends(row.placed.doubt);
        let [cover_low, cover_high] = ends(row.cover);
        [
            row.section.heading().to_owned(),
            row.sheet.clone(),
            answer.lamp.clone(),
            row.one.transmittance.to_string(),
            one_low,
            one_high,
            row.parallel.transmittance.to_string(),
            parallel_low,
            parallel_high,
            told(row.pair.extinction_ratio),
            pair_low,
            pair_high,
            told(row.placed.extinction_ratio),
            placed_low,
            placed_high,
            answer.placed_in.clone(),
            told(row.darkest_probability),
            row.cover_nm.to_string(),
            cover_low,
            cover_high,
            row.parallel_color.srgb.clone(),
            row.parallel_color.name.clone(),
            row.crossed_color.srgb.clone(),
            row.crossed_color.name.clone(),
            row.crossed_color.exposure_stops.to_string(),
        ]
    });
    text(header, rows)
}
