//! A reading at the bench: how the stand was set, and what was read.
//!
//! ```
//! use polstack::study::reading::BenchSetting;
//! let path = polstack::scenario::read("scenarios/leaking-stand.toml".as_ref()).unwrap().scene.path;
//! let setting = BenchSetting {
//!     na: Some(0.2),
//!     analyzer_rad: Some(93f64.to_radians()),
//!     ..BenchSetting::default()
//! };
//! assert_eq!(setting.words(&path), "Set the analyzer's ring to 93 degrees, set the iris to 0.20");
//! let stand = setting.of(&path, 90f64.to_radians()).unwrap();
//! assert_eq!(stand.iris_na, Some(0.2));
//! ```

use std::sync::Arc;

use serde::Serialize;

use crate::light_path::{LightPath, PartKind};
use crate::optics::{Polarizer, ZoneGrid};
use crate::spectrum::{CameraSensitivity, Source};
use crate::study::place::{Place, places};

/// What a photograph shows of one zone of the aperture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Zone {
    /// How the aperture is divided.
    pub grid: ZoneGrid,
    /// Its number: ring times the number of sectors, plus sector.
    pub number: usize,
    /// The channel of a colour camera, 0 red, 1 green, 2 blue; `None` for a grey picture, whose light is luminance.
    pub channel: Option<usize>,
}

/// How a stand is set for a reading; what is `None` or empty is as in the file.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BenchSetting {
    /// The iris.
    pub na: Option<f64>,
    /// Azimuth of the analyzer as its ring reads, radians.
    pub analyzer_rad: Option<f64>,
    /// By how much both polars are turned together, counter-clockwise, radians; 0 leaves them where they are. [`Self::analyzer_rad`]
    /// is told as if they were not turned.
    pub polars_turned_rad: f64,
    /// Lenses turned in their mounts: index of the part, angle counter-clockwise in radians.
    pub turned: Vec<(usize, f64)>,
    /// Indices of the parts that are taken out.
    pub out: Vec<usize>,
    /// Indices of the plates that are put in.
    pub plates: Vec<usize>,
    /// Where the lower polar stands.
    pub polar_at: Option<Place>,
    /// The lamp, with what it is called.
    pub lamp: Option<(String, Source)>,
    /// The zone of the aperture that is read, in a photograph; `None` for a meter, which reads the whole aperture.
    pub zone: Option<Zone>,
    /// What the colour camera of a photograph sees; `None` for [`CameraSensitivity::typical`].
    pub camera: Option<Arc<CameraSensitivity>>,
}

/// A reading.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Line of the file that it stands in, from 1.
    pub line: usize,
    /// Light at parallel polars over the light that was read.
    pub ratio: f64,
    /// One standard deviation of it, relatively.
    pub error: f64,
    /// One standard deviation of a factor that it shares with the other zones of its photograph and channel, relatively: the exposures' error. 0
    /// for a meter.
    pub common_error: f64,
    /// What is added to the logarithm of the ratio if the disc of its photograph lies further right, or further down, or is larger than it was taken to
    /// be, each by one standard deviation. Half of the variance is shared by all photographs, half by the zones of one. 0 for a meter.
    pub framing: [f64; 3],
    /// The setting.
    pub setting: BenchSetting,
    /// Free text.
    pub note: String,
}

impl BenchSetting {
    /// The stand in this setting, specimens out; `written` is the analyzer's azimuth in the file, which the ring reads.
    ///
    /// `None` where the lower polar has no such place.
    #[must_use]
    pub fn of(&self, path: &LightPath, written_rad: f64) -> Option<LightPath> {
        let mut path = path.clone();
        for &(part, angle_rad) in &self.turned {
            if let PartKind::Condenser(lens) | PartKind::Objective(lens) =
                &mut path.parts[part].kind
            {
                for strain in &mut lens.strain {
                    *strain = strain.turned(angle_rad);
                }
            }
        }
        if let Some(ring_rad) = self.analyzer_rad
            && let Some(analyzer) = path.analyzer()
            && let PartKind::Analyzer(Polarizer { azimuth_rad, .. }) =
                &mut path.parts[analyzer].kind
        {
            *azimuth_rad += ring_rad - written_rad;
        }
        if self.polars_turned_rad != 0.0 {
            turn_polars(&mut path, self.polars_turned_rad);
        }
        if let Some(na) = self.na {
            path.iris_na = Some(na);
        }
        let mut part = 0;
        let stays: Vec<bool> = (path.parts.iter().enumerate())
            .map(|(index, part)| match part.kind {
                PartKind::Specimen(_) => false,
                PartKind::Plate(_) => self.plates.contains(&index),
                _ => !self.out.contains(&index),
            })
            .collect();
        path.parts.retain(|_| {
            part += 1;
            stays[part - 1]
        });
        match &self.polar_at {
            None => Some(path),
            Some(place) => (places(&path).into_iter())
                .find(|placed| {
                    placed.place == *place || placed.written && *place == Place::AsWritten
                })
                .filter(|placed| placed.refused.is_none())
                .map(|placed| placed.path),
        }
    }

    /// In words that follow "read": what is turned, moved, put in or taken out, in the order of the light.
    #[must_use]
    pub fn words(&self, path: &LightPath) -> String {
        let name = |part: &usize| path.parts[*part].name.as_str();
        let mut all: Vec<String> = Vec::new();
        for (part, angle_rad) in &self.turned {
            all.push(format!(
                "turn the {} by {} degrees",
                name(part),
                short(angle_rad.to_degrees())
            ));
        }
        for part in &self.out {
            all.push(format!("take the {} out", name(part)));
        }
        for part in &self.plates {
            all.push(format!("put the {} in", name(part)));
        }
        if let Some(place) = &self.polar_at {
            all.push(format!("move the lower polar {}", place.words()));
        }
        if let Some(rad) = self.analyzer_rad {
            all.push(format!(
                "set the analyzer's ring to {} degrees",
                short(rad.to_degrees())
            ));
        }
        if self.polars_turned_rad != 0.0 {
            all.push(format!(
                "turn both polars together by {} degrees",
                short(self.polars_turned_rad.to_degrees())
            ));
        }
        if let Some((lamp, _)) = &self.lamp {
            all.push(format!("light it with {lamp}"));
        }
        if let Some(na) = self.na {
            all.push(format!("set the iris to {na:.2}"));
        }
        if all.is_empty() {
            all.push("leave everything as in the file".to_owned());
        }
        let mut words = all.join(", ");
        if let Some(first) = words.get(..1).map(str::to_uppercase) {
            words.replace_range(..1, &first);
        }
        words
    }
}

/// A cell of a readings file.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(untagged)]
pub enum SettingCell {
    /// A number.
    Number(f64),
    /// A word.
    Word(String),
}

impl BenchSetting {
    /// The setting as the columns of a readings file have it: names and cells, of those that are not as in the file.
    #[must_use]
    pub fn columns(&self, path: &LightPath) -> Vec<(String, SettingCell)> {
        let name = |part: &usize| path.parts[*part].name.clone();
        let joined = |parts: &[usize]| {
            let names: Vec<String> = parts.iter().map(name).collect();
            SettingCell::Word(names.join("+"))
        };
        let mut all: Vec<(String, SettingCell)> = (self.turned.iter())
            .map(|(part, rad)| {
                let degrees = SettingCell::Number(short(rad.to_degrees()));
                (format!("turn:{}", name(part)), degrees)
            })
            .collect();
        if !self.out.is_empty() {
            all.push(("out".to_owned(), joined(&self.out)));
        }
        if !self.plates.is_empty() {
            all.push(("in".to_owned(), joined(&self.plates)));
        }
        if let Some(place) = &self.polar_at {
            all.push(("polar_at".to_owned(), SettingCell::Word(place.words())));
        }
        if let Some(rad) = self.analyzer_rad {
            let degrees = SettingCell::Number(short(rad.to_degrees()));
            all.push(("analyzer_deg".to_owned(), degrees));
        }
        if self.polars_turned_rad != 0.0 {
            let degrees = SettingCell::Number(short(self.polars_turned_rad.to_degrees()));
            all.push(("polars_turned_deg".to_owned(), degrees));
        }
        if let Some((lamp, _)) = &self.lamp {
            all.push(("lamp".to_owned(), SettingCell::Word(lamp.clone())));
        }
        if let Some(na) = self.na {
            all.push(("na".to_owned(), SettingCell::Number(na)));
        }
        all
    }
}

/// Turns the lower polar and the analyzer by one angle, counter-clockwise.
fn turn_polars(path: &mut LightPath, angle_rad: f64) {
    for index in [path.lower_polar(), path.analyzer()].into_iter().flatten() {
        if let PartKind::Polarizer(polar) | PartKind::Analyzer(polar) = &mut path.parts[index].kind
        {
            polar.azimuth_rad += angle_rad;
        }
    }
}

fn short(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario;

    /// The analyzer stays as far from crossed as its ring says, and words and columns tell of the turn.
    #[test]
    fn both_polars_turn_together() {
        let path = scenario::read("scenarios/leaking-stand.toml".as_ref());
        let path = path.unwrap().scene.path;
        let azimuths = |path: &LightPath| {
            let (low, high) = path.polars().unwrap();
            (low.azimuth_rad, high.azimuth_rad)
        };
        let (low, high) = azimuths(&path);
        let setting = BenchSetting {
            analyzer_rad: Some(high + 0.1),
            polars_turned_rad: 22.5f64.to_radians(),
            ..BenchSetting::default()
        };
        let (turned_low, turned_high) = azimuths(&setting.of(&path, high).unwrap());
        assert!((turned_low - low - setting.polars_turned_rad).abs() < 1e-15);
        assert!((turned_high - high - 0.1 - setting.polars_turned_rad).abs() < 1e-15);
        let words = setting.words(&path);
        assert!(
            words.contains("turn both polars together by 22.5 degrees"),
            "{words}"
        );
        let column = ("polars_turned_deg".to_owned(), SettingCell::Number(22.5));
        assert!(setting.columns(&path).contains(&column));
        assert_eq!(BenchSetting::default().columns(&path), []);
    }
}
