//! What a reader should know beside the numbers, in whole sentences.

use super::decode::Depth;
use super::disc::PictureDisc;
use super::merge::Merged;
use super::zones::{LeftOut, SeenZone};
use crate::optics::ZoneGrid;

/// Below this share of the edge in the picture it is said that the disc is cut.
const WHOLE_EDGE: f64 = 0.99;

/// So many zones are listed by number; of more only the count is told.
const MOST_LISTED: usize = 8;

/// What holds for all orientations.
pub(super) fn of_frame(crossed: &Merged, parallel: &Merged, disc: &PictureDisc) -> Vec<String> {
    let mut notes = vec![of_disc(disc)];
    if disc.edge_in_picture < WHOLE_EDGE {
        notes.push(format!(
            "The picture's border cuts the disc: {:.0} % of its edge is in the picture.",
            100.0 * disc.edge_in_picture
        ));
    }
    if [crossed, parallel]
        .iter()
        .any(|setting| setting.header.depth == Depth::Eight)
    {
        notes.push(
            "The pictures have 8 bits: the sRGB curve is assumed. The camera's own curve is not known, and ratios are off where it differs.".into(),
        );
    }
    let shots = || crossed.shots.iter().chain(&parallel.shots);
    if let Some(shot) = shots().find(|shot| shot.orientation.is_some_and(|turn| turn > 1)) {
        notes.push(format!(
            "The camera asks viewers to turn or mirror {}; it was read as it is stored, so that azimuths are those of the stored picture.",
            shot.name
        ));
    }
    notes.extend(shots().filter(|shot| shot.saturated > 0).map(|shot| {
        let (pixels, are) = counted(shot.saturated, "pixel");
        format!("{pixels} of {} {are} saturated.", shot.name)
    }));
    notes
}

/// The disc that is given, and where the picture's own disc is found in another place.
pub(super) fn of_elsewhere(given: &PictureDisc, found: &PictureDisc) -> String {
    format!(
        "The disc is given ({}), but the bright disc of the parallel picture is found elsewhere ({}). The given one was taken: leave center_x, center_y and radius empty if it is wrong.",
        given.words(),
        found.words()
    )
}

fn of_disc(disc: &PictureDisc) -> String {
    let place = disc.words();
    if !disc.found {
        return format!("The disc is as given: {place}.");
    }
    let longer = 100.0 * (disc.long_radius / disc.short_radius - 1.0);
    format!("The disc was found on the parallel picture: {place}, {longer:.1} % longer than wide.")
}

/// What holds for zones.
pub(super) fn of_zones(grid: ZoneGrid, zones: &[SeenZone]) -> Vec<String> {
    let mut notes = Vec::new();
    let saturated: usize = zones.iter().map(|zone| zone.saturated).sum();
    if saturated > 0 {
        let (pixels, are) = counted(saturated, "pixel");
        notes.push(format!(
            "{pixels} within the zones {are} saturated in every exposure of a setting, and left out."
        ));
    }
    let channels = || zones.iter().flat_map(|zone| &zone.channels);
    let black: usize = channels().map(|channel| channel.black).sum();
    if black > 0 {
        let (counts, are) = counted(black, "count");
        notes.push(format!(
            "{counts} within the zones {are} 0 in the longest crossed exposure; they stay in the means."
        ));
    }
    for (why, is) in REASONS {
        let left_out = |zone: &SeenZone| {
            (zone.channels.iter()).any(|channel| channel.reading.as_ref().is_err_and(is))
        };
        let numbers: Vec<usize> = (zones.iter().enumerate())
            .filter(|(_, zone)| left_out(zone))
            .map(|(number, _)| number)
            .collect();
        if numbers.is_empty() {
            continue;
        }
        let (count, are) = counted(numbers.len(), "zone");
        let which = if numbers.len() <= MOST_LISTED {
            let places: Vec<String> = numbers.iter().map(|&zone| place(grid, zone)).collect();
            format!(" ({})", places.join("; "))
        } else {
            String::new()
        };
        notes.push(format!(
            "{count} of {} {are} left out{which}: {why}.",
            zones.len()
        ));
    }
    if !zones.is_empty() && channels().all(|channel| channel.reading.is_err()) {
        notes.push("No zone could be read.".into());
    }
    notes
}

/// A reason in the words of a note, and whether it is a zone's.
type Reason = (&'static str, fn(&LeftOut) -> bool);

const REASONS: [Reason; 3] = [
    (
        "fewer than half of the pixels count (saturated, or outside the picture), or fewer than 16",
        |why| matches!(why, LeftOut::FewPixels { .. }),
    ),
    (
        "more than 5 % of the pixels are black in the longest crossed exposure, which is too short for them",
        |why| matches!(why, LeftOut::TooDark { .. }),
    ),
    ("no light is left above the dark counts", |why| {
        matches!(why, LeftOut::NoLight)
    }),
];

/// Where a zone is.
fn place(grid: ZoneGrid, zone: usize) -> String {
    let (inner, outer) = grid.rho_range(zone);
    let (from, to) = grid.azimuth_range_rad(zone);
    format!(
        "{inner:.2} to {outer:.2} of the radius, {:.0} to {:.0} degrees",
        from.to_degrees(),
        to.to_degrees()
    )
}

/// A count with its noun, and the verb that follows.
fn counted(count: usize, noun: &str) -> (String, &'static str) {
    match count {
        1 => (format!("1 {noun}"), "is"),
        _ => (format!("{count} {noun}s"), "are"),
    }
}
