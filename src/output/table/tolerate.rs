//! `tolerate` for people.

use std::fmt::Write;
use std::ops::Range;

use comfy_table::{CellAlignment, Table};

use super::{BOLD, fraction, percent, plain, ratio};
use crate::light_path::{LightPath, ToleranceKind};
use crate::material::catalog::SpecimenClass;
use crate::output::CAUTION;
use crate::output::numbers::{digits, digits_down};
use crate::output::sentences::{doubted_sentence, luminance_error, unsure};
use crate::study::doubt::Doubt;
use crate::study::draws::Draws;
use crate::study::leak::Cause;
use crate::study::observer::Criterion;
use crate::study::quantity::{Quantity, QuantityKind, ordinal};
use crate::study::sobol::Estimate;
use crate::study::tolerate::{
    AtAzimuth, LargestShare, Limit, Limits, Profile, Rescue, StrainLimits, StrainUnits, Target,
    Tolerable, Tolerances,
};
use crate::study::visibility::{Bias, LEAST_NM, MOST_NM, Seen, Shows};

const CLASSES: [SpecimenClass; 3] = [
    SpecimenClass::StrongCrystal,
    SpecimenClass::Fibre,
    SpecimenClass::FaintLivingStructure,
];

/// Bias that changes a contrast by less than this is not worth a sentence.
const LITTLE_BIAS: f64 = 0.01;

/// `tolerate` for people. Styled; the caller strips the style where it is not wanted. `brief` leaves out notes and cautions.
#[must_use]
pub fn tolerances(title: &str, answer: &Tolerances, notes: &[String], brief: bool) -> String {
    let mut text = String::new();
    let mut line = |words: &str| {
        let _ = writeln!(text, "{words}");
    };
    line(&format!("{BOLD}{title}{BOLD:#}"));
    line(&format!(
        "Aperture NA {}; wanted: {}.",
        digits(answer.verdict.na, 3),
        target(&answer.target)
    ));
    let at = &answer.verdict;
    if let Some(unsure) = unsure(at.quadrature_error, at.spectral_error) {
        line(&unsure);
    }
    line(&verdict(answer));
    if let Some((doubt, ratio)) = answer.doubt.as_ref().zip(answer.verdict.extinction_ratio) {
        line(&doubted_sentence(doubt, ratio));
        if let Target::Extinction(wanted) = answer.target {
            line(&target_probability(doubt, wanted));
        }
    }
    if let Target::See(see) = &answer.target
        && let Some(words) = answer
            .verdict
            .bias
            .and_then(|b| bias(see.path_difference_nm, b))
    {
        line(&words);
    }
    line("");
    match &answer.quantities[..] {
        [only] => {
            line(&heading(&answer.path, only));
            line(&one(answer, only));
        }
        all => {
            line(&format!(
                "{BOLD}How much each number may be{BOLD:#}, all others as written; strain at its worst azimuth"
            ));
            line(&overview(&answer.path, all));
        }
    }
    if let Some(draws) = &answer.draws {
        line("");
        line(&built(draws));
    }
    line("");
    line(&format!(
        "{BOLD}What will show{BOLD:#} by its own light, at its best azimuth"
    ));
    line(&visibility(&answer.visibility.observers));
    // The first row is the eye's, plates out.
    if let Some(smallest) = answer.visibility.observers.first().and_then(|s| s.smallest)
        && let Some(words) = (smallest.bias).and_then(|b| bias(smallest.path_difference_nm, b))
    {
        line(&words);
    }
    if !brief {
        line("");
        for note in notes {
            line(&format!("Note: {note}"));
        }
        line(
            "Own light is what a specimen adds to the background whichever way it is turned. Bias adds to it at one azimuth and takes as much away at another, so it does not count here.",
        );
        line(
            "In the dark of crossed polars an eye needs a contrast of 10 % and more; in good light it sees 1 or 2 % (`--contrast 0.02`).",
        );
        line(&format!(
            "{} Sizes of specimens are for orientation: `polstack catalog` gives their sources.",
            luminance_error(
                answer.verdict.quadrature_error,
                answer.verdict.spectral_error
            )
        ));
        line(CAUTION);
    }
    text
}

fn target(target: &Target) -> String {
    let see = match target {
        Target::Extinction(least) => {
            return format!("an extinction ratio of {}", digits(*least, 3));
        }
        Target::See(see) => see,
    };
    let needs: Vec<String> = see.criteria().iter().map(needs).collect();
    format!(
        "a specimen of {} nm that shows, plates {}: {}",
        digits(see.path_difference_nm, 3),
        if see.with_plate { "in" } else { "out" },
        needs.join(" and ")
    )
}

fn needs(criterion: &Criterion) -> String {
    match *criterion {
        Criterion::Contrast { least } => format!("contrast {}", fraction(least)),
        Criterion::Color { least } => format!("colour difference {}", digits(least, 2)),
        Criterion::Signal { least, full_well } => format!(
            "signal to noise {} with {} electrons",
            digits(least, 2),
            digits(full_well, 3)
        ),
    }
}

fn verdict(answer: &Tolerances) -> String {
    let verdict = &answer.verdict;
    let has = reached(answer);
    let rescue = match verdict.rescue {
        Rescue::NotNeeded => return format!("As written the target is met: {has}."),
        Rescue::Iris { na, uncertainty } => {
            format!(
                "Closing the iris to NA {} would rescue it.",
                at_most(na, uncertainty)
            )
        }
        Rescue::None => "No iris down to NA 0.02 rescues it.".to_owned(),
    };
    format!(
        "As written the target is missed: {has}.{} {rescue}",
        dominates(verdict.dominates.as_ref())
    )
}

/// What the path as it stands reaches of the target.
fn reached(answer: &Tolerances) -> String {
    let verdict = &answer.verdict;
    let ratio = format!("extinction ratio {}", ratio(verdict.extinction_ratio));
    let Target::See(see) = &answer.target else {
        return ratio;
    };
    if verdict.times.is_infinite() {
        return "nothing leaks".to_owned();
    }
    match see.criteria()[..] {
        [Criterion::Contrast { least }] => format!(
            "its own light adds {} to the background, of an {ratio}",
            contrast(verdict.times * least)
        ),
        [Criterion::Color { least }] => format!(
            "its colour differs from the background's by {} (CIEDE2000)",
            digits(verdict.times * least, 2)
        ),
        _ => format!("{} times what is needed, {ratio}", digits(verdict.times, 2)),
    }
}

/// A Weber contrast: a percentage, or how many times the background.
fn contrast(contrast: f64) -> String {
    if contrast < 10.0 {
        fraction(contrast)
    } else {
        format!("{} times as much", digits(contrast, 3))
    }
}

/// What bias makes of a specimen, in a sentence; `None` where it makes little.
fn bias(path_difference_nm: f64, bias: Bias) -> Option<String> {
    (bias.with_bias - bias.own > LITTLE_BIAS).then(|| {
        let turned = match bias.turned {
            turned if turned < 0.0 => format!("darker by {}", contrast(-turned)),
            turned => format!("brighter by {}", contrast(turned)),
        };
        format!(
            "Bias, which strain at one azimuth makes, changes that: with its slow direction at {:.0} degrees a specimen of {} nm is brighter than the background by {} instead of {}, turned by 90 degrees it is {turned}.",
            bias.azimuth_rad.to_degrees(),
            digits(path_difference_nm, 3),
            contrast(bias.with_bias),
            contrast(bias.own)
        )
    })
}

fn dominates(share: Option<&LargestShare>) -> String {
    share.map_or(String::new(), |share| match share.cause {
        Cause::Misalignment => format!(
            " Most of the leak comes from polars that are not crossed ({}): turn one of them first.",
            percent(share.share)
        ),
        _ => format!(
            " Most of the leak comes from {}, {} ({}).",
            share.part,
            share.cause.words(),
            percent(share.share)
        ),
    })
}

fn heading(path: &LightPath, only: &Tolerable) -> String {
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

fn one(answer: &Tolerances, only: &Tolerable) -> String {
    let path = &answer.path;
    if only.limits.missed() {
        return missed(only);
    }
    match &only.limits {
        Limits::Strain(strain) => strains(path, only.quantity, strain, answer.glass_path_mm),
        _ => format!("Tolerated: {}.", tolerated(only)),
    }
}

fn missed(only: &Tolerable) -> String {
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
    right(
        &mut table,
        1..1 + numbers.iter().filter(|shown| **shown).count(),
    );
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

fn with_unit(quantity: Quantity, value: f64, uncertainty: f64) -> String {
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
fn at_most(value: f64, uncertainty: f64) -> String {
    let known = (uncertainty / value).abs() < 5e-4;
    if known {
        digits_down(value, 3)
    } else {
        honest(value, uncertainty)
    }
}

/// Three digits, or as many as the uncertainty leaves, with the uncertainty where it is more than a rounding.
fn honest(value: f64, uncertainty: f64) -> String {
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

fn overview(path: &LightPath, all: &[Tolerable]) -> String {
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
    right(&mut table, 2..3);
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

/// Characters of the longest bar of a histogram.
const BAR: usize = 30;

fn built(draws: &Draws) -> String {
    let mut text = String::new();
    let share = |count: usize| count as f64 / draws.done.max(1) as f64;
    let (low, high) = draws.yield_interval;
    let _ = write!(
        text,
        "{BOLD}Built to the tolerances of the file{BOLD:#}: {} of {} draws meet the target (95 % confidence: {} to {})",
        percent(share(draws.met)),
        draws.done,
        percent(low),
        percent(high)
    );
    if draws.done < draws.asked {
        let _ = write!(
            text,
            "\nPartial: stopped after {} of {} draws.",
            draws.done, draws.asked
        );
    }
    let mut table = plain();
    table.set_header(["percentile", "extinction ratio", "95 % confidence"]);
    for each in &draws.percentiles {
        let [ratio, low, high] = [each.ratio, each.low, each.high].map(|r| digits(r, 3));
        table.add_row([ordinal(each.percent), ratio, format!("{low} to {high}")]);
    }
    right(&mut table, 1..2);
    let _ = write!(text, "\n{}", table.trim_fmt());
    if let Some(histogram) = &draws.histogram {
        let mut table = plain();
        table.set_header(["extinction ratio", "draws", ""]);
        let most = histogram.counts.iter().copied().max().unwrap_or(1).max(1);
        for (bin, count) in histogram.counts.iter().enumerate() {
            let edge = |k: usize| {
                digits(
                    10f64.powf(histogram.first_log10 + k as f64 * histogram.width_log10),
                    3,
                )
            };
            table.add_row([
                format!("{} to {}", edge(bin), edge(bin + 1)),
                count.to_string(),
                "#".repeat((count * BAR).div_ceil(most)),
            ]);
        }
        right(&mut table, 1..2);
        let _ = write!(text, "\n\n{}", table.trim_fmt());
    }
    let mut table = plain();
    table.set_header([
        "part",
        "number",
        "as written",
        "tolerance",
        "share of the spread",
        "with the others",
    ]);
    for varied in &draws.varied {
        let estimate = |estimate: Option<&Estimate>| {
            estimate.map_or_else(
                || "not known".to_owned(),
                |e| {
                    format!(
                        "{} ({} to {})",
                        percent(e.value),
                        percent(e.low),
                        percent(e.high)
                    )
                },
            )
        };
        let kind = match varied.kind {
            ToleranceKind::Normal => "s.d.",
            ToleranceKind::Uniform => "half width",
        };
        table.add_row([
            varied.part.clone(),
            varied.quantity.words(),
            with_unit(varied.quantity, varied.written, 0.0),
            format!(
                "{} {kind}",
                with_unit(varied.quantity, varied.tolerance, 0.0)
            ),
            estimate(varied.sobol.as_ref().map(|s| &s.first)),
            estimate(varied.sobol.as_ref().map(|s| &s.total)),
        ]);
    }
    right(&mut table, 2..3);
    let _ = write!(
        text,
        "\n\n{}\nShares of the variance of the logarithm of the extinction ratio, alone and together with the others (Sobol), 95 % confidence; seed {}.",
        table.trim_fmt(),
        draws.seed
    );
    text
}

fn right(table: &mut Table, columns: Range<usize>) {
    for column in columns {
        if let Some(column) = table.column_mut(column) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
}

fn visibility(observers: &[Seen]) -> String {
    let mut table = plain();
    table.set_header(
        ["observer", "needs", "smallest"]
            .into_iter()
            .chain(CLASSES.map(SpecimenClass::words)),
    );
    let has_plate = observers.iter().any(|seen| seen.with_plate);
    for seen in observers {
        let who = match seen.criterion {
            Criterion::Signal { .. } => "camera",
            _ => "eye",
        };
        let plate = match (has_plate, seen.with_plate) {
            (false, _) => "",
            (true, false) => ", plate out",
            (true, true) => ", plate in",
        };
        let mut cells = vec![
            format!("{who}{plate}"),
            needs(&seen.criterion),
            smallest(seen),
        ];
        cells.extend(CLASSES.map(|class| covers(seen, class)));
        table.add_row(cells);
    }
    table.trim_fmt()
}

fn smallest(seen: &Seen) -> String {
    match seen.smallest {
        None => format!("none up to {} nm", digits(MOST_NM, 3)),
        Some(smallest) if smallest.path_difference_nm <= LEAST_NM => {
            format!("{LEAST_NM} nm or less")
        }
        Some(smallest) => {
            let nm = honest(smallest.path_difference_nm, smallest.uncertainty_nm);
            format!("{nm} nm")
        }
    }
}

/// Whether the objects of a class show: in a word where all or none does, else which.
fn covers(seen: &Seen, class: SpecimenClass) -> String {
    let of_class = || {
        seen.covers
            .iter()
            .filter(move |c| c.object.class == Some(class))
    };
    let all = |shows| of_class().all(|covered| covered.shows == shows);
    if all(Shows::Yes) {
        return "all".to_owned();
    }
    if all(Shows::No) {
        return "none".to_owned();
    }
    let words: Vec<String> = of_class()
        .filter_map(|covered| match covered.shows {
            Shows::Yes => Some(covered.object.name.to_owned()),
            Shows::Partly => Some(format!("{} in part", covered.object.name)),
            Shows::No => None,
        })
        .collect();
    words.join(", ")
}

/// In how many stands the target is met, as far as the parts are known.
fn target_probability(doubt: &Doubt, wanted: f64) -> String {
    format!(
        "As far as the parts are known, {} is reached with a probability of {:.0} %.",
        digits(wanted, 3),
        100.0 * doubt.probability_of(wanted)
    )
}
