//! Lessons in words: what is read of each try.

use super::findings::named_leak;
use super::numbers::{decimals, digits};
use crate::color::Background;
use crate::scenario::Lesson;
use crate::study::lesson::{LessonAnswer, LessonFinding};
use crate::study::trace::State;

/// A lesson with what was found in each of its tries.
#[derive(Debug, Clone, PartialEq)]
pub struct LessonRead {
    /// The scenario's title.
    pub title: String,
    /// What it says.
    pub lesson: Lesson,
    /// The name of each try, and what was found in it.
    pub tries: Vec<(String, LessonAnswer)>,
}

/// An axis ratio below this is a line, and above the second a circle.
const LINE: f64 = 5e-4;
const CIRCLE: f64 = 0.995;

/// What was read, in a word or two, and what was found.
pub(super) fn found(finding: &LessonFinding) -> (&'static str, String) {
    match finding {
        LessonFinding::Light(light) => ("light, of the parallel field", percent(*light)),
        LessonFinding::Passed(light) => ("light, of that behind the lower polar", percent(*light)),
        LessonFinding::ExtinctionRatio(ratio) => {
            let told = ratio.map_or_else(|| "infinite".to_owned(), |ratio| digits(ratio, 3));
            ("extinction ratio", told)
        }
        LessonFinding::Color(color) => ("colour", self::color(color)),
        LessonFinding::ColorWithPlate(color) => ("colour, plate in", self::color(color)),
        LessonFinding::State(state) => ("vibration before the analyzer", vibration(state)),
        LessonFinding::Cross(cross) => {
            let told = match cross {
                None => "no cross".to_owned(),
                Some(cross) if cross.parted_rad.is_none() => "closed".to_owned(),
                Some(cross) => format!("open by {:.2} of the radius", cross.opening),
            };
            ("dark cross", told)
        }
        LessonFinding::Quadrants(colors) => {
            let [one, other] = &**colors;
            let told = format!("{} at 45°, {} at 135°", one.name, other.name);
            ("quadrants, plate in", told)
        }
        LessonFinding::Middle(color) => ("middle, plate in", color.name.clone()),
        LessonFinding::Smallest(nm) => {
            let told = nm.map_or_else(
                || "none up to a quarter wave".to_owned(),
                |nm| format!("{} nm", digits(nm, 2)),
            );
            ("smallest path difference an eye sees", told)
        }
        LessonFinding::Blame(first) => {
            let told = first.as_ref().map_or_else(
                || "nothing leaks".to_owned(),
                |(part, cause, share)| {
                    format!(
                        "{}: {} %",
                        named_leak(part, *cause),
                        decimals(100.0 * share, 0)
                    )
                },
            );
            ("largest leak", told)
        }
    }
}

/// Less light than this is told as less: what is left of it is the geometry of nearly parallel rays.
const LEAST_LIGHT: f64 = 1e-6;

fn percent(light: f64) -> String {
    if light < LEAST_LIGHT {
        return "below 0.0001 %".to_owned();
    }
    format!("{} %", digits(100.0 * light, 3))
}

fn color(color: &Background) -> String {
    match color.exposure_stops {
        0.0 => color.name.clone(),
        stops => format!("{}, shown {stops} stops brighter", color.name),
    }
}

fn vibration(state: &State) -> String {
    let hand = match state.right_handed {
        Some(true) => "right-handed",
        _ => "left-handed",
    };
    let azimuth = |state: &State| {
        let degrees = state.azimuth_rad.unwrap_or(0.0).to_degrees();
        format!("{:.0} degrees", degrees.round().rem_euclid(180.0))
    };
    match state.axis_ratio {
        None => "unpolarized".to_owned(),
        Some(ratio) if ratio < LINE => format!("along a line at {}", azimuth(state)),
        Some(ratio) if ratio > CIRCLE => format!("in a circle, {hand}"),
        Some(ratio) => format!(
            "in an ellipse at {}, axes 1 to {}, {hand}",
            azimuth(state),
            digits(1.0 / ratio, 2)
        ),
    }
}
