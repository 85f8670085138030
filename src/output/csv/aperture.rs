//! `aperture` as CSV.

use super::text;
use crate::color::Xyz;
use crate::study::aperture::BackFocalPlane;
use crate::study::measures::ratio;

/// The sections: a row for each azimuth and place on the diameter, `na` negative at the end opposite to the azimuth. Light over the mean
/// luminance of the parallel field; a ratio is empty where nothing leaks, the columns of the plate where there is none.
#[must_use]
pub fn back_focal_plane(answer: &BackFocalPlane) -> String {
    let header = [
        "azimuth_deg",
        "na",
        "extinction_ratio",
        "x",
        "y",
        "z",
        "x_with_plate",
        "y_with_plate",
        "z_with_plate",
    ];
    let rows = answer.sections.iter().flat_map(|section| {
        let azimuth = section.azimuth_rad.to_degrees();
        section.na.iter().enumerate().map(move |(k, na)| {
            let out = section.without_plate[k];
            let with = section.with_plate.as_ref().map(|light| light[k]);
            let three = |xyz: Option<Xyz>| [0, 1, 2].map(|k| xyz.map(|xyz| xyz.0[k]));
            let [x, y, z] = three(Some(out));
            let [with_x, with_y, with_z] = three(with);
            [
                Some(azimuth),
                Some(*na),
                ratio(1.0, out.luminance()),
                x,
                y,
                z,
                with_x,
                with_y,
                with_z,
            ]
            .map(|cell| cell.map_or(String::new(), |number| number.to_string()))
        })
    });
    text(header, rows)
}
