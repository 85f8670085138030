//! From tristimulus values to a colour of a chart.

use super::Tint;
use crate::color::{
    Adaptation, ColorError, D65_WHITE, Lab, Swatch, Xyz, color_name, linear_srgb, white_stops,
};
use crate::math;

/// What colours are seen beside: the parallel field, and how far the eye takes it for white.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct SeenBeside {
    /// Of luminance 1.
    pub(super) white: Xyz,
    balance: Adaptation,
    /// Degree of adaptation; `None` where the light could not be balanced.
    pub(super) degree: Option<f64>,
}

impl SeenBeside {
    /// Beside a field of any luminance above 0, by a degree of adaptation to it.
    pub(super) fn beside(field: Xyz, degree: f64) -> Result<Self, ColorError> {
        let luminance = field.luminance();
        if luminance.is_nan() || luminance <= 0.0 {
            return Err(ColorError::NoLight {
                field: "parallel field",
                luminance,
            });
        }
        let balance = Adaptation::by_degree(field, degree);
        Ok(Self {
            white: field.scaled(1.0 / luminance),
            balance: balance.unwrap_or(Adaptation::NONE),
            degree: balance.map(|_| degree),
        })
    }

    /// `xyz` in units of the white's luminance.
    pub(super) fn lab(&self, xyz: Xyz) -> Lab {
        Lab::of(self.balance.apply(xyz), D65_WHITE)
    }

    pub(super) fn tint(&self, xyz: Xyz, exposure_stops: f64) -> Tint {
        let linear = self.exposed(xyz, exposure_stops);
        let swatch = Swatch::of_linear(linear);
        Tint {
            xyz,
            lab: self.lab(xyz),
            name: color_name(swatch.oklch()),
            swatch,
            linear,
        }
    }

    /// The colour on a screen alone.
    pub(super) fn swatch(&self, xyz: Xyz, exposure_stops: f64) -> Swatch {
        Swatch::of_linear(self.exposed(xyz, exposure_stops))
    }

    fn exposed(&self, xyz: Xyz, stops: f64) -> [f64; 3] {
        self.linear(xyz).map(|v| v * math::exp2(stops))
    }

    fn linear(&self, xyz: Xyz) -> [f64; 3] {
        linear_srgb(self.balance.apply(xyz))
    }

    /// Stops that the parallel field is shown at: 0, or below it where the eye does not take it for white and it has a colour: as bright as white
    /// it would leave the screen's gamut.
    pub(super) fn white_stops(&self) -> f64 {
        match self.degree {
            Some(1.0) => 0.0,
            _ => white_stops(self.largest_channel(self.white)),
        }
    }

    /// The largest channel of linear sRGB, unexposed.
    pub(super) fn largest_channel(&self, xyz: Xyz) -> f64 {
        self.linear(xyz).into_iter().fold(0.0, f64::max)
    }
}

/// From here on all luminances of a panel are told as percentages; otherwise all as fractions of 1.
const PERCENT_FROM: f64 = 0.01;

/// Luminances of a panel as labels of one kind: all "38 %" where none is below 1 %, otherwise all "1/17 500".
pub(super) fn labels(luminances: &[Vec<f64>]) -> Vec<Vec<String>> {
    let least = luminances.iter().flatten().copied().fold(1.0, f64::min);
    let label = if least >= PERCENT_FROM {
        percent
    } else {
        one_part_in
    };
    (luminances.iter())
        .map(|row| row.iter().map(|luminance| label(*luminance)).collect())
        .collect()
}

fn percent(luminance: f64) -> String {
    let percent = 100.0 * luminance;
    format!("{percent:.*} %", usize::from(percent < 9.95))
}

fn one_part_in(luminance: f64) -> String {
    if luminance <= 0.0 {
        return "none".to_owned();
    }
    let times = 1.0 / luminance;
    if times >= 1e9 {
        return format!("1/{times:.0e}");
    }
    if times < 99.5 {
        return format!("1/{times:.*}", usize::from(times < 9.95));
    }
    let unit = math::pow(10f64, math::log10(times).floor() - 2.0).max(1.0);
    let digits = format!("{:.0}", (times / unit).round() * unit);
    let mut grouped = String::from("1/");
    for (k, digit) in digits.chars().enumerate() {
        if k > 0 && (digits.len() - k) % 3 == 0 {
            grouped.push(' ');
        }
        grouped.push(digit);
    }
    grouped
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::color::stops_within;

    #[test]
    fn labels_of_a_panel_are_of_one_kind_and_fit_a_cell() {
        assert_eq!(
            labels(&[vec![0.384, 0.0523], vec![0.0996, 1.0]]),
            [["38 %", "5.2 %"], ["10 %", "100 %"]]
        );
        assert_eq!(
            labels(&[
                vec![0.384, 0.0523, 1.0 / 480.4],
                vec![1.0 / 17_523.0, 1.0 / 1_234_567.0, 1e-12],
                vec![0.0, 1.0, 0.101]
            ]),
            [
                ["1/2.6", "1/19", "1/480"],
                ["1/17 500", "1/1 230 000", "1/1e12"],
                ["none", "1/1.0", "1/9.9"]
            ]
        );
    }

    #[test]
    fn the_brightest_channel_comes_within_a_tenth_of_a_stop_of_full_and_never_beyond() {
        for largest in [1e-5, 0.013, 0.5, 0.99, 1.0] {
            let exposed = largest * math::exp2(stops_within(largest, false));
            assert!(
                exposed <= 1.0 && exposed > math::pow(0.5, 0.1),
                "{largest}: {exposed}"
            );
        }
        assert_eq!(
            (stops_within(0.0, false), stops_within(1.3, false)),
            (0.0, 0.0)
        );
        assert_eq!(stops_within(0.500_000_2, false), 1.0);
    }
}
