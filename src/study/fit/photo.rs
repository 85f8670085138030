//! Photographs of the back focal plane that could be taken: their settings, and how exact their zones would be.

use super::{Action, BenchSetting, READING_ERROR, Reading, Zone};
use crate::light_path::{LightPath, PartKind};
use crate::math;
use crate::optics::{DISC_ERROR, ZoneGrid};

/// One standard deviation of a zone's own error in a good picture: noise of its pixels, and its border along whole pixels.
const ZONE_ERROR: f64 = 0.005;
/// By how much both polars are turned together, degrees.
const TURNED_DEG: [f64; 3] = [22.5, 45.0, 67.5];
/// A photograph with the analyzer nearer than this to that of one that was taken, radians, is no other photograph.
const SAME_RAD: f64 = 0.01;

/// How far the analyzer is best set off crossed, radians, where the extinction ratio is such: a small change of the light is then the largest part of
/// it. `sin^2(bias) = 1 / (ratio + 1)`; where the ratio is large, `bias` is nearly 1 over its root.
///
/// Source: worked out in `tests/reference/photographs/phase_stepping.py`; checked against its values below.
#[must_use]
pub fn best_bias_rad(extinction_ratio: f64) -> f64 {
    math::atan2(1.0, extinction_ratio.max(0.0).sqrt())
}

/// Photographs that could be taken with a stand of such an extinction ratio, those that were taken left out: polars crossed, the analyzer off to both
/// sides, both polars turned together, that with the analyzer off, and each plate in that can be put in.
pub(super) fn photographs(
    path: &LightPath,
    extinction_ratio: f64,
    can: Option<&[Action]>,
    read: &[BenchSetting],
) -> Vec<BenchSetting> {
    let plain = BenchSetting::default();
    let mut all = vec![plain.clone()];
    for (index, part) in path.parts.iter().enumerate() {
        let in_ = Action::In(index);
        if matches!(part.kind, PartKind::Plate(_)) && can.is_none_or(|can| can.contains(&in_)) {
            all.push(BenchSetting {
                plates: vec![index],
                ..plain.clone()
            });
        }
    }
    if let Some((_, polar)) = path.polars()
        && !path.is_circular()
    {
        // To a tenth of a degree, as rings are read.
        let bias_deg = (10.0 * best_bias_rad(extinction_ratio).to_degrees()).round() / 10.0;
        let off = |sign: f64| Some(polar.azimuth_rad + sign * bias_deg.max(0.1).to_radians());
        let ring = |sign: f64| BenchSetting {
            analyzer_rad: off(sign),
            ..plain.clone()
        };
        all.extend([ring(1.0), ring(-1.0)]);
        all.extend(TURNED_DEG.map(|deg| BenchSetting {
            polars_turned_rad: deg.to_radians(),
            ..plain.clone()
        }));
        all.push(BenchSetting {
            polars_turned_rad: 45f64.to_radians(),
            ..ring(1.0)
        });
    }
    let written_rad = path.polars().map_or(0.0, |(_, polar)| polar.azimuth_rad);
    let is_read =
        |setting: &BenchSetting| read.iter().any(|read| is_same(setting, read, written_rad));
    all.retain(|setting| !is_read(setting));
    all
}

fn is_same(setting: &BenchSetting, read: &BenchSetting, written_rad: f64) -> bool {
    let ring = |of: &BenchSetting| of.analyzer_rad.unwrap_or(written_rad);
    let near = (ring(setting) - ring(read)).abs() < SAME_RAD;
    let other = BenchSetting {
        zone: None,
        camera: None,
        analyzer_rad: setting.analyzer_rad,
        ..read.clone()
    };
    read.zone.is_some() && near && other == *setting
}

/// A photograph's settings, one for each zone.
pub(super) fn zones(setting: &BenchSetting, grid: ZoneGrid) -> Vec<BenchSetting> {
    let zone = |number| BenchSetting {
        zone: Some(Zone {
            grid,
            number,
            channel: None,
        }),
        ..setting.clone()
    };
    (0..grid.count()).map(zone).collect()
}

/// Readings of these lights without error, with the errors that they would be told to have. Settings are those of [`zones`], or of one meter reading.
pub(super) fn simulated(settings: &[BenchSetting], light: &[f64]) -> Vec<Reading> {
    let ratio: Vec<f64> = light.iter().map(|light| math::log(1.0 / light)).collect();
    (settings.iter().zip(light))
        .map(|(setting, light)| {
            let (error, common_error, framing) = match setting.zone {
                Some(zone) => (ZONE_ERROR, READING_ERROR, framing(zone, &ratio)),
                None => (READING_ERROR, 0.0, [0.0; 3]),
            };
            Reading {
                line: 0,
                ratio: 1.0 / light,
                error,
                common_error,
                framing,
                setting: setting.clone(),
                note: String::new(),
            }
        })
        .collect()
}

/// What a disc that lies further right, or further down, or is larger, adds to a zone's logarithm, from the zones beside it.
fn framing(zone: Zone, log: &[f64]) -> [f64; 3] {
    let Zone { grid, number, .. } = zone;
    let (ring, sector) = grid.place(number);
    let (rings, sectors) = (grid.rings(), grid.sectors());
    let at = |ring: usize, sector: usize| ring * sectors + sector % sectors;
    let (inner, outer) = (ring.saturating_sub(1), (ring + 1).min(rings - 1));
    let rho_of = |ring: usize| grid.middle(at(ring, sector)).0;
    let outward = match outer > inner {
        true => (log[at(outer, sector)] - log[at(inner, sector)]) / (rho_of(outer) - rho_of(inner)),
        false => 0.0,
    };
    let (rho, azimuth) = grid.middle(number);
    let step = std::f64::consts::TAU / sectors as f64;
    let (next, before) = (at(ring, sector + 1), at(ring, sector + sectors - 1));
    let around = (log[next] - log[before]) / (2.0 * step * rho);
    let (sin, cos) = math::sincos(azimuth);
    let (east, north) = (cos * outward - sin * around, sin * outward + cos * around);
    [east, -north, rho * outward].map(|slope| DISC_ERROR * slope)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::Value;

    #[test]
    fn the_best_bias_is_that_of_jones_calculus() {
        let text = include_str!("../../../tests/reference/photographs/phase.json");
        let all: Value = serde_json::from_str(text).unwrap();
        let rows = all["bias"].as_array().unwrap();
        for row in rows {
            let found = best_bias_rad(row["E"].as_f64().unwrap()).to_degrees();
            let closed = row["contrast_bias_deg"].as_f64().unwrap();
            approx::assert_relative_eq!(found, closed, max_relative = 1e-12);
            // The same by searching the largest relative change of the light.
            for kind in ["aligned", "compensator", "rotation"] {
                let searched = row["kinds"][kind]["contrast_bias_deg"].as_f64().unwrap();
                approx::assert_relative_eq!(found, searched, max_relative = 1e-4);
            }
        }
        assert!(rows.len() > 3);
    }

    #[test]
    fn a_disc_elsewhere_sees_what_lies_there() {
        // Light that changes evenly to the East, and one that grows with the square of the radius.
        let grid = ZoneGrid::new(20, 64).unwrap();
        let of = |log: &dyn Fn(f64, f64) -> f64, number: usize| {
            let logs: Vec<f64> = (0..grid.count())
                .map(|number| {
                    let (rho, azimuth) = grid.middle(number);
                    let (sin, cos) = math::sincos(azimuth);
                    log(rho * cos, rho * sin)
                })
                .collect();
            let zone = Zone {
                grid,
                number,
                channel: None,
            };
            framing(zone, &logs).map(|part| part / DISC_ERROR)
        };
        let number = 10 * 64 + 7;
        let (rho, azimuth) = grid.middle(number);
        let (sin, cos) = math::sincos(azimuth);
        let (x, y) = (rho * cos, rho * sin);
        for (got, expected) in of(&|x, _| x, number).iter().zip([1.0, 0.0, x]) {
            assert!((got - expected).abs() < 0.01, "{got} {expected}");
        }
        let expected = [2.0 * x, -2.0 * y, 2.0 * rho * rho];
        for (got, expected) in of(&|x, y| x * x + y * y, number).iter().zip(expected) {
            assert!((got - expected).abs() < 0.01, "{got} {expected}");
        }
    }
}
