//! The instruments drawn from the tolerances: how many meet the target, and which tolerance decides.

use std::fmt::Write;

use super::super::{BOLD, percent, plain, right_columns};
use super::limits::with_unit;
use crate::light_path::ToleranceKind;
use crate::output::numbers::digits;
use crate::study::draws::Draws;
use crate::study::quantity::ordinal;
use crate::study::sobol::Estimate;

/// Characters of the longest bar of a histogram.
const BAR: usize = 30;

pub(super) fn built(draws: &Draws) -> String {
    let mut text = String::new();
    let share = |count: usize| count as f64 / draws.done.max(1) as f64;
    let (low, high) = draws.yield_interval;
    let _ = write!(
        text,
        "{BOLD}Built to the tolerances of the file{BOLD:#}: {} of {} draws meet the target (95 % confidence: {} to {}). They vary what has a tolerance in the file; all else is as written.",
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
    right_columns(&mut table, &[1]);
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
        right_columns(&mut table, &[1]);
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
    right_columns(&mut table, &[2]);
    let _ = write!(
        text,
        "\n\n{}\nShares of the variance of the logarithm of the extinction ratio, alone and together with the others (Sobol), 95 % confidence; seed {}.",
        table.trim_fmt(),
        draws.seed
    );
    text
}
