//! How much light a picture was given: what the user says, or what the camera wrote into the file.

use std::fmt;
use std::io::Cursor;

use exif::{Exif, In, Reader, Tag, Value};

use super::error::PhotographProblem;

/// How a picture's exposure is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExposureKind {
    /// By `exposure_s`.
    Given,
    /// By the camera, in EXIF.
    Exif {
        /// Whether the camera tells the sensitivity; 100 is taken where it does not.
        iso: bool,
        /// Whether the camera tells the f-number; 1 is taken where it does not.
        f_number: bool,
    },
}

impl fmt::Display for ExposureKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Given => "`exposure_s`",
            Self::Exif {
                iso: true,
                f_number: true,
            } => "EXIF with ISO and f-number",
            Self::Exif {
                iso: true,
                f_number: false,
            } => "EXIF with ISO and without f-number",
            Self::Exif {
                iso: false,
                f_number: true,
            } => "EXIF without ISO and with f-number",
            Self::Exif {
                iso: false,
                f_number: false,
            } => "EXIF without ISO and f-number",
        })
    }
}

/// An exposure in relative units, above 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct PictureExposure {
    pub(super) relative: f64,
    pub(super) kind: ExposureKind,
}

/// What the file says of itself beside its pixels.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct CameraNotes {
    /// Seconds.
    time_s: Option<f64>,
    iso: Option<f64>,
    f_number: Option<f64>,
    /// How the picture is meant to be turned when it is shown, from 1 (as it is) to 8.
    pub(super) orientation: Option<u32>,
}

impl CameraNotes {
    /// What EXIF says, as far as it can be read: EXIF that is broken says nothing.
    pub(super) fn of(bytes: &[u8]) -> Self {
        let mut reader = Reader::new();
        reader.continue_on_error(true);
        let read = reader
            .read_from_container(&mut Cursor::new(bytes))
            .or_else(|error| error.distill_partial_result(|_| ()));
        match read {
            Ok(exif) => Self {
                time_s: positive(&exif, Tag::ExposureTime),
                iso: positive(&exif, Tag::PhotographicSensitivity),
                f_number: positive(&exif, Tag::FNumber),
                orientation: (exif.get_field(Tag::Orientation, In::PRIMARY))
                    .and_then(|field| field.value.get_uint(0)),
            },
            Err(_) => Self::default(),
        }
    }

    /// The exposure: as given, or exposure time x ISO / 100 / f-number squared.
    pub(super) fn exposure(
        &self,
        given_s: Option<f64>,
    ) -> Result<PictureExposure, PhotographProblem> {
        if let Some(relative) = given_s {
            if !(relative.is_finite() && relative > 0.0) {
                return Err(PhotographProblem::OutOfRange {
                    what: "exposure_s",
                    value: relative,
                    allowed: "a number above 0",
                });
            }
            let kind = ExposureKind::Given;
            return Ok(PictureExposure { relative, kind });
        }
        let time_s = self.time_s.ok_or(PhotographProblem::NoExposure)?;
        let f_number = self.f_number.unwrap_or(1.0);
        let relative = time_s * self.iso.unwrap_or(100.0) / 100.0 / (f_number * f_number);
        let kind = ExposureKind::Exif {
            iso: self.iso.is_some(),
            f_number: self.f_number.is_some(),
        };
        Ok(PictureExposure { relative, kind })
    }
}

/// A number above 0. A camera without a lens writes 0 or 0/0 as the f-number, which says nothing.
fn positive(exif: &Exif, tag: Tag) -> Option<f64> {
    let value = match &exif.get_field(tag, In::PRIMARY)?.value {
        Value::Rational(numbers) => numbers.first()?.to_f64(),
        other => f64::from(other.get_uint(0)?),
    };
    (value.is_finite() && value > 0.0).then_some(value)
}
