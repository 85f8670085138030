//! Colour charts as CSV.

use super::text;
use crate::study::chart::{ColorGrid, Scale, Tint};

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
                let (row, column) = (chart.rows[row].clone(), chart.columns[column].clone());
                let (heading, stops) = (panel.heading.clone(), panel.exposure_stops.to_string());
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
