//! Sentences that tables and figures share.

use super::numbers::exponent;
use super::numbers::{digits, supported};
use crate::light_path::Crossing;
use crate::optics::RayCounts;
use crate::study::aperture::Cross;
use crate::study::doubt::Doubt;
use crate::study::place::Amount;
use crate::study::predict::{SpectralError, StepChoice};
use crate::study::trace::{Resolved, Trace};

/// Why the polars are not crossed; `None` where they are, or are circular.
pub(super) fn not_crossed(crossing: &Crossing) -> Option<String> {
    match crossing {
        Crossing::Crossed { .. } | Crossing::Circular => None,
        Crossing::Unmatched {
            passes,
            quarter_turn,
        } => {
            let remedy = if *quarter_turn {
                "turn one of them by 90 degrees"
            } else {
                "use a matched pair"
            };
            Some(format!(
                "Not crossed: the retarders between the polars let {:.0} % of the light through; {remedy}",
                100.0 * passes
            ))
        }
        Crossing::Apart { degrees } => Some(format!(
            "Not crossed: polars {degrees:.1} degrees apart, in place of 90"
        )),
        Crossing::LoneRetarder { name, waves } => {
            let near = |part: f64| (waves.abs() - part).abs() < 0.03;
            let kind = match () {
                () if near(0.25) => "quarter-wave retarder".to_owned(),
                () if near(0.5) => "half-wave retarder".to_owned(),
                () => format!("retarder of {:.2} waves", waves.abs()),
            };
            Some(format!(
                "Not crossed: one {kind} between the polars (\"{name}\"); use `plate`, or a matched pair"
            ))
        }
    }
}

/// One profile's number; the caller rounds.
pub(super) fn amount(amount: Amount, rounded: impl Fn(f64) -> String) -> String {
    match amount {
        Amount::Uniform { path_difference_nm } => {
            format!("uniform strain {} nm", rounded(path_difference_nm))
        }
        Amount::Radial { edge_nm } => format!("radial strain {} nm at the rim", rounded(edge_nm)),
        Amount::Clamp { force_n } => format!("{} N on each contact", rounded(force_n)),
        Amount::Map { rms_nm } => format!("map {} nm root mean square", rounded(rms_nm)),
    }
}

/// How far the arms of a dark cross have parted, and where.
pub(super) fn opening(cross: &Cross) -> String {
    match cross.parted_rad {
        None => "0".to_owned(),
        Some(parted_rad) => format!("{:.2} at {:.0} deg", cross.opening, parted_rad.to_degrees()),
    }
}

/// Which light a trace follows.
pub(super) fn followed(answer: &Trace) -> String {
    let rays = match answer.ray {
        Some(ray) if ray.s == 0.0 => "the ray along the axis".to_owned(),
        Some(ray) => format!(
            "the ray at NA {:.3}, azimuth {:.1} degrees",
            ray.s,
            ray.azimuth_rad.to_degrees()
        ),
        None => format!("mean over the aperture, NA {:.3}", answer.na),
    };
    match answer.wavelength_nm {
        Some(nm) => format!("{rays}, at {nm} nm"),
        None => format!("{rays}, light of {} as the eye weighs it", answer.lamp),
    }
}

/// With what an answer was computed.
pub(super) struct Numerics<'a> {
    /// The rays.
    pub(super) rays: Option<RayCounts>,
    /// Estimated relative error that the rays leave.
    pub(super) quadrature_error: f64,
    pub(super) wavelengths_nm: &'a [f64],
    pub(super) spectral_error: SpectralError,
}

impl<'a> Numerics<'a> {
    /// Without rays.
    pub(super) fn of(resolved: &'a Resolved) -> Self {
        Self {
            rays: None,
            quadrature_error: 0.0,
            wavelengths_nm: resolved.grid.wavelengths_nm(),
            spectral_error: resolved.error,
        }
    }
}

/// What the two numerical errors of an answer are errors of.
pub(super) const COLORS: [&str; 2] = [
    "each luminance, relative to itself,",
    "colours, relative to the largest of X, Y and Z",
];
/// The same where states of polarization are told.
pub(super) const STATES: [&str; 2] = ["S0, relative to itself,", "S1 to S3, relative to S0"];

/// From here on a numerical error is more than what a scenario usually leaves open: of luminances, of colours.
const LARGE: [f64; 2] = [1e-2, 2e-2];

/// Errors of luminances and of colours, as they are told.
fn errors(quadrature: f64, spectral: SpectralError) -> [f64; 2] {
    [spectral.luminance, spectral.color].map(|error| quadrature + error)
}

fn are_large(errors: [f64; 2]) -> bool {
    (errors.iter().zip(LARGE)).any(|(error, large)| *error > large)
}

/// A warning to stand above an answer whose numerical error is large.
pub(super) fn unsure(quadrature: f64, spectral: SpectralError) -> Option<String> {
    let errors = errors(quadrature, spectral);
    are_large(errors).then(|| {
        let [light, colors] = errors.map(exponent);
        format!(
            "UNSURE: the wavelengths are too far apart. Luminances are known to {light} of themselves only, colours to {colors} of the largest of X, Y and Z; set a smaller `step_nm` in [spectrum]."
        )
    })
}

/// The numerical error of luminances, and what it is to be compared with.
pub(super) fn luminance_error(quadrature: f64, spectral: SpectralError) -> String {
    let errors = errors(quadrature, spectral);
    format!(
        "Rays and wavelengths leave every luminance a numerical error of about {} of itself{}",
        exponent(errors[0]),
        less_sure(errors)
    )
}

fn less_sure(errors: [f64; 2]) -> &'static str {
    if are_large(errors) {
        "."
    } else {
        "; what the scenario assumes is less sure by far."
    }
}

/// With what an answer was computed, and what that leaves in doubt.
pub(super) fn computed(with: Numerics<'_>, [light, other]: [&str; 2]) -> String {
    let rays = with.rays.map_or(
        String::new(),
        |RayCounts {
             rings,
             spokes,
             count,
         }| {
            if rings * spokes == count {
                format!(" with {rings} rings of {spokes} rays")
            } else {
                format!(" with {count} rays drawn toward the contacts")
            }
        },
    );
    let errors = errors(with.quadrature_error, with.spectral_error);
    let [of_light, of_other] = errors.map(exponent);
    let (at, doubt) = match with.wavelengths_nm {
        [first, second, ..] => {
            let why = match with.spectral_error.step {
                StepChoice::Given => ", as asked",
                StepChoice::Usual => "",
                StepChoice::Refined => {
                    ", closer than usual because fringes or a narrow line ask for it"
                }
                StepChoice::Exhausted => {
                    ", as close as a minute of computing allows; fringes may be finer still (`step_nm` in [spectrum] goes further)"
                }
            };
            let (count, apart) = (with.wavelengths_nm.len(), second - first);
            (
                format!("at {count} wavelengths {apart} nm apart{why}"),
                format!("{of_light} in {light} and {of_other} in {other}"),
            )
        }
        _ => ("at one wavelength".to_owned(), of_light),
    };
    if errors == [0.0; 2] {
        return format!("Computed{rays} {at}, exact but for rounding.");
    }
    format!(
        "Computed{rays} {at}, which leaves a numerical error of about {doubt}{}",
        less_sure(errors)
    )
}

/// An unknown number, by its name, in words.
pub(super) fn unknown_in_words(name: &str) -> String {
    let (of, key) = name.rsplit_once('.').unwrap_or((name, ""));
    let part = of.split_once('.').map_or(of, |(part, _)| part);
    match key {
        "k2" => format!("the leak k2 of {of}"),
        "cover_nm" => format!("the cover of {of}"),
        "n_eff" => format!("how evenly the surfaces of {part} share the bending"),
        "azimuth_deg" if !of.contains('.') => format!("the azimuth of {of}"),
        "fraction" => "stray light".to_owned(),
        _ => format!("the strain of {part}"),
    }
}

/// An unknown number by its name, after words where the name alone is a riddle.
pub(super) fn named_unknown(name: &str) -> String {
    match name.ends_with(".bending.n_eff") {
        true => format!("surfaces that share the bending evenly ({name})"),
        false => name.to_owned(),
    }
}

/// The extinction ratio as far as the parts are known, and whether it leads the answer.
pub(super) fn doubted(doubt: &Doubt) -> (String, bool) {
    let ratio = &doubt.extinction_ratio;
    let of = |value: f64| supported(value, ratio.low, ratio.high);
    let leads = doubt.median_leads();
    let ends = format!("{} to {}", of(ratio.low), of(ratio.high));
    let widest = unknown_in_words(&doubt.widest);
    let words = match leads {
        true => format!(
            "{}; {ends} as far as the parts are known ({widest} widens it most)",
            of(ratio.median)
        ),
        false => format!("{ends}; {widest} widens it most"),
    };
    (words, leads)
}

/// The same as one sentence, beside the ratio of the file as written.
pub(super) fn doubted_sentence(doubt: &Doubt, as_written: f64) -> String {
    let ratio = &doubt.extinction_ratio;
    let of = |value: f64| supported(value, ratio.low, ratio.high);
    let written = format!("{} exactly as written", digits(as_written, 3));
    let known = format!(
        "{} as far as the parts are known, between {} and {}",
        of(ratio.median),
        of(ratio.low),
        of(ratio.high)
    );
    let (first, second) = match doubt.median_leads() {
        true => (known, written),
        false => (written, known),
    };
    let words = format!(
        "Extinction ratio {first}; {second}; {} widens it most.",
        unknown_in_words(&doubt.widest)
    );
    match outside(doubt, as_written) {
        Some(why) => format!("{words} {why}"),
        None => words,
    }
}

/// Why the ratio of the file as written lies outside of what it may be as far as the parts are known; `None` where it lies within.
pub(super) fn outside(doubt: &Doubt, as_written: f64) -> Option<String> {
    let ratio = &doubt.extinction_ratio;
    let below = doubt.below_as_written;
    let (side, part, leak, end) = match as_written {
        high if high > ratio.high => ("above", below, "more", "best"),
        low if low < ratio.low => ("below", 1.0 - below, "less", "worst"),
        _ => return None,
    };
    let share = match part {
        1.0 => "all".to_owned(),
        part => format!("{:.0} %", (100.0 * part).floor()),
    };
    Some(format!(
        "Exactly as written it lies {side} this range: the file has parts at or near the {end} that they may be, and of {} stands drawn as they may be {share} leak {leak}.",
        doubt.draws
    ))
}
