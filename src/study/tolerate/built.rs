//! Of many instruments built to the tolerances, how many meet the target?

use crate::scene::Scene;

use super::super::StudyError;
use super::super::draws::{Draws, Plan, Varied, Watch, draws, varied};
use super::super::lamp::Lamp;
use super::super::measures::ACCURACY;
use super::super::stage::emptied;
use super::{Target, asked};

/// Draws instruments as [`draws`] does, the field empty, and counts those that meet a target.
///
/// # Errors
/// [`StudyError`] as of [`draws`] and [`super::verdict`].
///
/// Checked by: `tests/laws/tolerate.rs`, draw by draw against limits found alone.
pub fn built(
    scene: &Scene,
    target: &Target,
    plan: Plan,
    watch: Watch<'_>,
) -> Result<Draws, StudyError> {
    let Scene { path, source, grid } = scene;
    let lamp = Lamp::new(source, grid)?;
    let asked = asked(path, &lamp, target)?;
    let path = emptied(path);
    let empty = scene.with_path(path.clone());
    match target {
        Target::Extinction(least) => draws(&empty, plan, &|_, ratio| ratio >= *least, watch),
        Target::See(_) => {
            let varied = varied(&path)?;
            let quantities: Vec<_> = varied.iter().map(|v| v.quantity).collect();
            let ranges: Vec<_> = varied.iter().map(Varied::range).collect();
            let rays = asked.quadrature(&path, ACCURACY)?.rays;
            let judge = asked.judge(&path, &quantities, &ranges, &rays, None)?;
            // A draw that cannot be run shows nothing.
            let meets = |values: &[f64], _| judge.times(values).is_ok_and(|times| times >= 1.0);
            draws(&empty, plan, &meets, watch)
        }
    }
}
