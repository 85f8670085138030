//! `polstack chart plate`.

use clap::Args;

use super::scale::ScaleArguments;
use super::{Chart, ChartJob, ChartShown, Words};
use crate::cli::{Failure, number};
use crate::material::catalog::{self, SpecimenSize};
use crate::study::chart::{
    FIRST_ORDER_NM, MOST_NM, QUARTER_WAVE_NM, ScaleRequest, accessory_plate, charted_object, plate,
};

const WORDS: Words = Words {
    kind: "plate",
    figure: "chart-plate",
    title: "Interference colours with a plate",
};

#[derive(Debug, Args)]
pub(super) struct PlateArguments {
    /// The plate: first-order (550 nm), quarter-wave (137.5 nm) or its path difference in nm at 550 nm; of quartz [default: the scenario's own, or first-order]
    #[arg(long, value_name = "PLATE", allow_negative_numbers = true, value_parser = plate_nm)]
    plate: Option<f64>,
    /// An elongated object of the catalog: its colours with its length along the plate's slow direction and across it are told, and the chart reaches at least as far as it does
    #[arg(long, value_name = "NAME", value_parser = object)]
    object: Option<SpecimenSize>,
    #[command(flatten)]
    scale: ScaleArguments,
    #[command(flatten)]
    shown: ChartShown,
}

fn object(name: &str) -> Result<SpecimenSize, String> {
    catalog::elongated(name).ok_or_else(|| {
        let known: Vec<&str> = catalog::elongated_objects()
            .map(|object| object.name)
            .collect();
        format!(
            "the catalog has no such object whose slow direction is known; it has: {}",
            known.join(", ")
        )
    })
}

fn plate_nm(text: &str) -> Result<f64, String> {
    match text {
        "first-order" => Ok(FIRST_ORDER_NM),
        "quarter-wave" => Ok(QUARTER_WAVE_NM),
        _ => (number(text).filter(|nm| (1.0..=MOST_NM).contains(nm)))
            .ok_or_else(|| format!("allowed: first-order, quarter-wave, or 1 to {MOST_NM} nm")),
    }
}

pub(super) fn run(arguments: &PlateArguments) -> Result<(), Failure> {
    let PlateArguments {
        plate: given,
        object,
        scale,
        shown,
    } = arguments;
    let asked = ChartJob::read(scale.scenario.as_deref(), shown)?;
    let given = given.map(accessory_plate).or_else(|| asked.usual_plate());
    let study = |request: &ScaleRequest<'_>| {
        let reach = object.map_or(0.0, |object| object.path_difference_nm.1);
        let request = ScaleRequest {
            to_nm: request.to_nm.max(reach),
            ..*request
        };
        let mut chart = plate(&request, given.as_ref())?;
        chart.object = object.and_then(|object| charted_object(&chart, &object));
        Ok(chart)
    };
    let chart = asked.answer(|scene| scale.answer(scene, study))?;
    asked.show(&WORDS, Chart::Scale(chart))
}
