//! How large each number may be before the target is missed.

use super::super::{BOLD, fraction, plain, right_columns};
use super::dominates;
use crate::light_path::LightPath;
use crate::output::numbers::{digits, digits_down};
use crate::study::quantity::{Quantity, QuantityKind};
use crate::study::tolerate::{
    AtAzimuth, Limit, Limits, Profile, StrainLimits, StrainUnits, Tolerable, Tolerances,
};

pub(super) fn heading(path: &LightPath, only: &Tolerable) -> String {
    let part = only.part.as_deref().unwrap_or("stack");
    let written = match Profile::of_quantity(path, only.quantity) {
        Some(_) if only.written == 0.0 => "none as written".to_owned(),
        _ => format!("{} as written", with_unit(only.quantity, only.written, 0.0)),
    };
    format!(
        "{BOLD}How much: {part}, {}{BOLD:#} ({written})",
        number(path, only.quantity)
    )
}

pub(super) fn one(answer: &Tolerances, only: &Tolerable) -> String {
    let path = &answer.path;
    if only.limits.missed() {
        return missed(only);
    }
    match &only.limits {
        Limits::Strain(strain) => strains(path, only.quantity, strain, answer.glass_path_mm),
        _ => format!("Tolerated: {}.", tolerated(only)),
    }
}

pub(super) fn missed(only: &Tolerable) -> String {
    let even = match only.limits {
        Limits::Strain(_) | Limits::AtMost(_) => "Even with none of it",
        Limits::AtLeast(_) => "Whatever their number up to 64",
        Limits::Between { .. } => "As written",
    };
    let dominates = dominates(only.dominates.as_ref());
    let rescue = match (&only.limits, only.rescued_at) {
        (Limits::Between { .. }, Some(value)) => {
            format!(" It is met at {}.", with_unit(only.quantity, value, 0.0))
        }
        (Limits::Between { .. }, None) => " No other value meets it.".to_owned(),
        _ => String::new(),
    };
    format!("{even} the target is missed.{rescue}{dominates}")
}

fn strains(
    path: &LightPath,
    quantity: Quantity,
    strain: &StrainLimits,
    glass_path_mm: Option<f64>,
) -> String {
    let mut rows: Vec<(String, Limit)> = Vec::new();
    let at = |name: &str, at: &AtAzimuth| {
        let turned = at.azimuth_rad.to_degrees().rem_euclid(360.0);
        let words = format!("{name} ({} deg)", digits(turned, 3));
        (words, at.limit)
    };
    match &strain.over_azimuths {
        None => rows.push(("at the rim".to_owned(), strain.as_written)),
        Some(over)
            if limit_words(quantity, &over.worst.limit)
                == limit_words(quantity, &over.best.limit) =>
        {
            rows.push(("at any azimuth".to_owned(), over.worst.limit));
        }
        Some(over) => {
            rows.push(at("worst azimuth", &over.worst));
            for (share, limit) in over.random.iter().rev() {
                rows.push((format!("{:.0} % of azimuths", 100.0 * share), *limit));
            }
            rows.push(at("best azimuth", &over.best));
            if quantity.value(path) != Some(0.0) {
                rows.push(("azimuth as written".to_owned(), strain.as_written));
            }
        }
    }
    let mut table = plain();
    let units = |limit: &Limit| StrainUnits::of(path, quantity, limit.value()?, glass_path_mm);
    let known: Vec<StrainUnits> = rows.iter().filter_map(|(_, limit)| units(limit)).collect();
    let stress = known.iter().any(|units| units.stress_mpa.is_some());
    let force = known.iter().any(|units| units.force_n.is_some());
    let glass = glass_path_mm.is_some();
    let optional = |shown: bool, name| shown.then_some(name);
    table.set_header(
        [
            Some(""),
            Some("at most"),
            Some("waves at 546.1 nm"),
            optional(force, "N a contact"),
            optional(glass, "nm/cm"),
            optional(stress, "MPa"),
            optional(glass, "stress grade"),
        ]
        .into_iter()
        .flatten(),
    );
    for (name, limit) in &rows {
        let mut cells = vec![name.clone(), limit_words(quantity, limit)];
        if let Some(units) = units(limit) {
            let number = |value: Option<f64>| value.map_or(String::new(), |v| digits_down(v, 3));
            let grade = units
                .grade
                .map_or("none is strict enough".to_owned(), |grade| {
                    format!("{} nm/cm: {}", grade.most_nm_per_cm, grade.usual_for)
                });
            let more = [
                Some(number(Some(units.waves))),
                force.then(|| number(units.force_n)),
                glass.then(|| number(units.nm_per_cm)),
                stress.then(|| number(units.stress_mpa)),
                glass.then_some(grade),
            ];
            cells.extend(more.into_iter().flatten());
        }
        table.add_row(cells);
    }
    let numbers = [true, true, force, glass, stress];
    let numbers = numbers.iter().filter(|shown| **shown).count();
    right_columns(&mut table, &Vec::from_iter(1..=numbers));
    let mut text = table.trim_fmt();
    match Profile::of_quantity(path, quantity) {
        Some(Profile::Clamp | Profile::Map) => {
            text.push_str("\nnm: root mean square within 0.8 of the aperture.");
        }
        Some(Profile::Radial) => text.push_str("\nnm: at the rim of the full aperture."),
        _ => {}
    }
    if glass {
        text.push_str(
            "\nStress grades: ISO 10110-18, annex, from memory; nearest that keeps within.",
        );
    }
    text
}

fn limit_words(quantity: Quantity, limit: &Limit) -> String {
    match *limit {
        Limit::Missed => "none".to_owned(),
        Limit::At { value, uncertainty } if value > 0.0 => match quantity.kind {
            QuantityKind::StrainAmount { .. } => {
                format!("{} {}", at_most(value, uncertainty), quantity.unit())
            }
            _ => with_unit(quantity, value, uncertainty),
        },
        Limit::At { value, uncertainty } => with_unit(quantity, value, uncertainty),
        Limit::Beyond(end) => format!("no limit up to {}", with_unit(quantity, end, 0.0)),
    }
}

pub(super) fn with_unit(quantity: Quantity, value: f64, uncertainty: f64) -> String {
    let [value, uncertainty] = [value, uncertainty].map(|v| quantity.in_unit(v));
    let number = match quantity.kind {
        QuantityKind::StrayFraction => return fraction(value),
        QuantityKind::Surfaces => return value.to_string(),
        QuantityKind::Azimuth | QuantityKind::StrainAzimuth { .. } => format!("{value:.2}"),
        _ => honest(value, uncertainty),
    };
    format!("{number} {}", quantity.unit())
}

/// As [`honest`], never rounded up where three digits are known.
pub(super) fn at_most(value: f64, uncertainty: f64) -> String {
    let known = (uncertainty / value).abs() < 5e-4;
    if known {
        digits_down(value, 3)
    } else {
        honest(value, uncertainty)
    }
}

/// Three digits, or as many as the uncertainty leaves, with the uncertainty where it is more than a rounding.
pub(super) fn honest(value: f64, uncertainty: f64) -> String {
    let relative = (uncertainty / value).abs();
    if relative.is_nan() || relative < 5e-4 {
        digits(value, 3)
    } else {
        let significant = ((1.0 / relative).log10().floor() as i32 + 1).clamp(1, 3);
        format!(
            "{} ± {}",
            digits(value, significant),
            digits(uncertainty, 1)
        )
    }
}

fn tolerated(only: &Tolerable) -> String {
    let quantity = only.quantity;
    if only.limits.missed() {
        return match only.limits {
            Limits::Between { .. } => match only.rescued_at {
                Some(value) => format!(
                    "missed as written, met at {}",
                    with_unit(quantity, value, 0.0)
                ),
                None => "missed with any".to_owned(),
            },
            Limits::AtLeast(_) => "missed with any".to_owned(),
            _ => "missed even with none".to_owned(),
        };
    }
    match &only.limits {
        Limits::Strain(strain) => match strain.worst() {
            limit @ Limit::At { .. } => format!("up to {}", limit_words(quantity, &limit)),
            limit => limit_words(quantity, &limit),
        },
        Limits::AtMost(limit @ Limit::At { .. }) => {
            format!("up to {}", limit_words(quantity, limit))
        }
        Limits::AtMost(limit) => limit_words(quantity, limit),
        Limits::AtLeast(fewest) => {
            fewest.map_or("none".to_owned(), |fewest| format!("{fewest} and more"))
        }
        Limits::Between { below, above } => match (below.value(), above.value()) {
            (None, None) => "anything".to_owned(),
            (Some(below), None) => format!("from {}", with_unit(quantity, below, 0.0)),
            (None, Some(above)) => format!("up to {}", with_unit(quantity, above, 0.0)),
            (Some(below), Some(above)) => format!(
                "{} to {}",
                with_unit(quantity, below, 0.0),
                with_unit(quantity, above, 0.0)
            ),
        },
    }
}

pub(super) fn overview(path: &LightPath, all: &[Tolerable]) -> String {
    let mut table = plain();
    table.set_header(["part", "number", "as written", "tolerated"]);
    for each in all {
        table.add_row([
            each.part.clone().unwrap_or_else(|| "stack".to_owned()),
            number(path, each.quantity),
            with_unit(each.quantity, each.written, 0.0),
            tolerated(each),
        ]);
    }
    right_columns(&mut table, &[2]);
    let mut text = table.trim_fmt();
    let shapes: Vec<Profile> = (all.iter())
        .filter(|each| matches!(each.quantity.kind, QuantityKind::StrainAmount { .. }))
        .filter_map(|each| Profile::of_quantity(path, each.quantity))
        .collect();
    if shapes.contains(&Profile::Radial) {
        text.push_str("\nRadial strain is told at the rim of the full aperture.");
    }
    if shapes.contains(&Profile::Clamp) || shapes.contains(&Profile::Map) {
        text.push_str("\nClamps and maps are told as the root mean square within 0.8 of the aperture; `--part` gives other units.");
    }
    text
}

/// A quantity in words, with the shape of its strain.
fn number(path: &LightPath, quantity: Quantity) -> String {
    match Profile::of_quantity(path, quantity) {
        Some(shape) => format!("{}, {}", quantity.words(), shape.word()),
        None => quantity.words(),
    }
}
