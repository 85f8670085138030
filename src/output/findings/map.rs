//! What a map of the strain between the polars says, in sentences.

use crate::output::numbers::{digits, supported};
use crate::study::strain_between::{StrainBetween, StrainZone};

/// Beyond the first, in errors of the zones, what is left between photographs and map is more than chance leaves; below the second it is far less, and the
/// errors are told too large.
pub(crate) const MORE_THAN_CHANCE: f64 = 1.3;
pub(crate) const FAR_LESS: f64 = 0.5;

/// A slow azimuth is told and drawn where the path difference is above so many of its errors.
pub(crate) const TELLS: f64 = 2.0;

/// What a map of the strain between the polars says, in sentences.
#[must_use]
pub fn map_findings(map: &StrainBetween) -> Vec<String> {
    let error = map.rms_error_nm;
    // The last decimal is that of the error's first digit.
    let told = |nm: f64| supported(nm, nm - 5.0 * error, nm + 5.0 * error);
    let mut all = vec![format!(
        "The path difference is {} nm root mean square over the photographed disc, with an error of {} nm.",
        told(map.rms_nm),
        digits(error, 1)
    )];
    let strain = |zone: &StrainZone| zone.found.path_difference_nm;
    let zones = map.zones.iter();
    if let Some(most) = zones.max_by(|a, b| strain(a).total_cmp(&strain(b))) {
        let (x, y) = (most.found.x / map.reach, most.found.y / map.reach);
        let least = strain(most) - TELLS * most.found.error_nm;
        let slow = match least < 0.0 {
            true => ", too little beside its error to tell the slow axis".to_owned(),
            false => format!(
                ", slow axis at {:.0} degrees",
                most.found.slow_azimuth_rad.to_degrees()
            ),
        };
        let others = map
            .zones
            .iter()
            .filter(|zone| strain(zone) >= least)
            .count()
            - 1;
        all.push(format!(
            "Of the middles of the zones it is largest at {:.2} of the radius, {:.0} degrees counter-clockwise from East: {} nm{slow}{}",
            x.hypot(y),
            y.atan2(x).to_degrees().rem_euclid(360.0),
            told(strain(most)),
            match others {
                0 => ".".to_owned(),
                1 => "; in 1 other zone it is as large within twice the error.".to_owned(),
                many => format!("; in {many} other zones it is as large within twice the error."),
            }
        ));
    }
    let left = map.misfit.max(0.0).sqrt();
    all.push(format!(
        "With the map in it, the model is off from the photographs by {} of the zones' errors, root mean square{}",
        digits(left, 2),
        match left {
            more if more > MORE_THAN_CHANCE => ": more than chance would have it. The strain changes faster over the disc than the map can follow, or a picture is off; the figure `residuals` shows where.",
            less if less < FAR_LESS => ", where chance alone would leave about 1: the errors of the zones are told too large (--model-error adds to each of them), and so is that of the map.",
            _ => ".",
        }
    ));
    all.push(format!(
        "The map stands for all lenses between the polars together, whichever of them is strained: in a scenario {} carries it, the last of them, and the others have no strain.",
        map.lens
    ));
    if !map.settled {
        all.push("The photographs do not tell this strain from others that look alike, such as the one with slow and fast axes exchanged: this is the one nearest to the fitted parts. A picture with a plate in tells slow from fast, where the pictures go together with the model.".to_owned());
    }
    for left in &map.left_out {
        all.push(format!(
            "Line {} is left out of the map: {}.",
            left.line, left.why
        ));
    }
    all
}
