//! What charts over path difference are asked.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::{lamp, named, stops};
use crate::cli::{EyeArguments, number};
use crate::material::{Birefringence, PolarizingSheet, catalog};
use crate::scene::Scene;
use crate::spectrum::Source;
use crate::study::StudyError;
use crate::study::chart::{
    Dispersion, MOST_NM, ORDER_NM, Polars, SODIUM_NM, Scale, ScaleRequest, USUAL_END_NM,
    usual_lamp, usual_step_nm,
};

/// Orders that fit the longest scale.
const MOST_ORDERS: f64 = 181.0;

#[derive(Debug, Args)]
pub(super) struct ScaleArguments {
    /// A scenario file (TOML), or - for standard input, whose microscope is shown beside the chart
    #[arg(long, value_name = "FILE")]
    pub(super) scenario: Option<PathBuf>,
    /// The lamp, by its name in the catalog [default: the scenario's, or cie-d65]
    #[arg(long, value_name = "NAME", value_parser = lamp)]
    lamp: Option<Source>,
    /// The sheet of both polars, by its name in the catalog
    #[arg(long, value_name = "NAME", default_value = "ideal", value_parser = sheet)]
    sheet: PolarizingSheet,
    /// Linear polars, or circular ones with quarter-wave plates of 137.5 nm
    #[arg(long, value_enum, default_value_t = PolarsWord::Linear)]
    polars: PolarsWord,
    /// What the specimen's path difference follows over the wavelengths, a plate material of the catalog; named at 589.3 nm
    #[arg(long, value_name = "NAME", default_value = "none", value_parser = material)]
    material: Dispersion,
    /// The largest path difference [default: 1800]
    #[arg(long, value_name = "NM", allow_negative_numbers = true, conflicts_with = "orders", value_parser = end_nm)]
    to: Option<f64>,
    /// The same in orders of 550 nm
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = orders)]
    orders: Option<f64>,
    /// Distance of the path differences [default: 1, more on scales beyond 5000 nm]
    #[arg(long, value_name = "NM", allow_negative_numbers = true, value_parser = above_zero)]
    step: Option<f64>,
    /// Stops by which every colour is exposed up
    #[arg(long, value_name = "STOPS", default_value_t = 0.0, allow_negative_numbers = true, value_parser = stops)]
    exposure: f64,
    #[command(flatten)]
    eye: EyeArguments,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum PolarsWord {
    Linear,
    Circular,
}

fn sheet(name: &str) -> Result<PolarizingSheet, String> {
    named("sheet", "sheet", name, catalog::sheet(name))
}

fn material(name: &str) -> Result<Dispersion, String> {
    let material = catalog::plate_material(name);
    Ok(Dispersion {
        name: name.to_lowercase(),
        material: named("plate", "plate material", name, material)?,
        at_nm: SODIUM_NM,
    })
}

fn end_nm(text: &str) -> Result<f64, String> {
    let end = number(text).filter(|nm| (10.0..=MOST_NM).contains(nm));
    end.ok_or_else(|| format!("allowed: 10 to {MOST_NM} nm"))
}

fn orders(text: &str) -> Result<f64, String> {
    let orders = number(text).filter(|orders| (0.1..=MOST_ORDERS).contains(orders));
    orders.ok_or_else(|| format!("allowed: 0.1 to {MOST_ORDERS} orders of {ORDER_NM} nm"))
}

fn above_zero(text: &str) -> Result<f64, String> {
    let value = number(text).filter(|value| *value > 0.0);
    value.ok_or_else(|| "allowed: a number of nm above 0".to_owned())
}

impl ScaleArguments {
    pub(super) fn answer(
        &self,
        scene: Option<&Scene>,
        study: impl Fn(&ScaleRequest<'_>) -> Result<Scale, StudyError>,
    ) -> Result<Scale, StudyError> {
        let own = || scene.map(|scene| scene.source.clone());
        let source = (self.lamp.clone().or_else(own)).unwrap_or_else(usual_lamp);
        let orders_nm = self.orders.map(|orders| orders * ORDER_NM);
        let to_nm = self.to.or(orders_nm).unwrap_or(USUAL_END_NM);
        let constant = self.material.material == Birefringence::None;
        study(&ScaleRequest {
            source: &source,
            sheet: &self.sheet,
            polars: match self.polars {
                PolarsWord::Linear => Polars::Linear,
                PolarsWord::Circular => Polars::Circular,
            },
            dispersion: (!constant).then_some(&self.material),
            to_nm,
            step_nm: self.step.unwrap_or_else(|| usual_step_nm(to_nm)),
            exposure_stops: self.exposure,
            adaptation_degree: self.eye.adapted,
            microscope: scene.map(|scene| (&scene.path, &scene.grid)),
        })
    }
}
