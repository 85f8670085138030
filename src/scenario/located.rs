//! Values that remember where they stand in the file, and numbers that know what they may be.

use std::borrow::Cow;
use std::marker::PhantomData;
use std::ops::Range;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use toml::Spanned;
use toml::de::DeValue;

use super::decode::Fault;
use super::from_toml::{Found, FromToml, mistyped};
use crate::spectrum::Source;

/// A value and its place in the text, in bytes. In the JSON Schema it counts as the value alone.
#[derive(Debug, Clone)]
pub(super) struct Located<T>(Spanned<T>);

impl<T> Located<T> {
    pub(super) fn get(&self) -> &T {
        self.0.get_ref()
    }

    pub(super) fn span(&self) -> Range<usize> {
        self.0.span()
    }
}

impl<T: FromToml> FromToml for Located<T> {
    const LISTED: &'static str = T::LISTED;

    fn from_toml(value: Found<'_>) -> Result<Self, Fault> {
        let located = Spanned::new(value.span(), T::from_toml(value)?);
        Ok(Self(located))
    }
}

impl<T: JsonSchema> JsonSchema for Located<T> {
    fn inline_schema() -> bool {
        T::inline_schema()
    }

    fn schema_name() -> Cow<'static, str> {
        T::schema_name()
    }

    fn schema_id() -> Cow<'static, str> {
        T::schema_id()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        T::json_schema(generator)
    }
}

/// What a number may be. Both ends are allowed.
pub(super) trait AllowedRange {
    const MIN: f64;
    const MAX: f64;
    /// Unit with a space before it, or nothing.
    const UNIT: &'static str;
    const WHOLE: bool;

    fn words() -> String {
        let whole = if Self::WHOLE { "whole numbers " } else { "" };
        format!("{whole}{} to {}{}", Self::MIN, Self::MAX, Self::UNIT)
    }
}

macro_rules! limits {
    ($($(#[$doc:meta])* $name:ident = $min:expr, to $max:expr, $unit:literal $(, whole $whole:literal)?;)*) => {
        $(
            $(#[$doc])*
            #[derive(Debug, Clone, Copy)]
            pub(super) enum $name {}
            impl AllowedRange for $name {
                const MIN: f64 = $min;
                const MAX: f64 = $max;
                const UNIT: &'static str = $unit;
                const WHOLE: bool = false $(|| $whole)?;
            }
        )*
    };
}

limits! {
    /// Numerical apertures; that of a lens must lie below its immersion's index as well.
    NumericalAperture = 0.0001, to 4.0, "";
    /// Of an eye or camera in air.
    ViewAperture = 0.0001, to 0.99, "";
    Angle = -3600.0, to 3600.0, " deg";
    CoverPathDifference = -1000.0, to 1000.0, " nm";
    PathDifference = -1e6, to 1e6, " nm";
    /// Of strained glass: 10 micrometres are eighteen orders of green light, far more than any lens has.
    StrainPathDifference = -1e4, to 1e4, " nm";
    Wavelength = 360.0, to 830.0, " nm";
    WavelengthStep = 0.1, to 50.0, " nm";
    LineWidth = 0.1, to 300.0, " nm";
    Temperature = Source::BLACKBODY_K.0, to Source::BLACKBODY_K.1, " K";
    Force = 0.0, to 1e4, " N";
    Diameter = 0.1, to 1000.0, " mm";
    StressOptic = -100.0, to 100.0, " Brewster";
    Contacts = 2.0, to 64.0, "", whole true;
    Bending = -90.0, to 90.0, " deg";
    Surfaces = 0.0, to 200.0, "", whole true;
    RefractiveIndex = 1.0, to 4.0, "";
    Transmittance = 0.0, to 1.0, "";
    Fraction = 0.0, to 1.0, "";
    Thickness = 0.001, to 1e5, " um";
    /// Between an optic axis and the plate's normal.
    AxisAngle = 0.0, to 90.0, " deg";
    /// The acute angle between two optic axes.
    OpticAngle = 0.1, to 90.0, " deg";
    /// Of a plate's normal along an axis of the indicatrix.
    NormalComponent = -1000.0, to 1000.0, "";
    AngleTolerance = 0.0, to 90.0, " deg";
    PathDifferenceTolerance = 0.0, to 1e6, " nm";
    StokesParameter = -1e6, to 1e6, "";
}

/// A number within its limits.
#[derive(Debug, Clone, Copy)]
pub(super) struct Limited<L> {
    value: f64,
    limits: PhantomData<L>,
}

impl<L> Limited<L> {
    pub(super) fn value(self) -> f64 {
        self.value
    }
}

/// A number within its limits that knows its place.
pub(super) type Number<L> = Located<Limited<L>>;

impl<L> Number<L> {
    pub(super) fn value(&self) -> f64 {
        self.get().value
    }
}

impl<L: AllowedRange> FromToml for Limited<L> {
    fn from_toml(found: Found<'_>) -> Result<Self, Fault> {
        let value = match found.get_ref() {
            DeValue::Integer(whole) => i128::from_str_radix(whole.as_str(), whole.radix())
                .ok()
                .map(|whole| whole as f64),
            DeValue::Float(float) => (float.as_str().parse().ok())
                .filter(|value: &f64| !value.is_infinite() || float.as_str().contains("inf")),
            _ => return Err(mistyped(found, format!("a number, {}", L::words()))),
        };
        let Some(value) = value else {
            let allowed = "a number that 64 bits can hold";
            return Err(Fault::out_of_range(found.span(), allowed));
        };
        // NaN is in no range.
        let inside = (L::MIN..=L::MAX).contains(&value);
        match inside && (!L::WHOLE || value.fract() == 0.0) {
            true => Ok(Self {
                value,
                limits: PhantomData,
            }),
            false => Err(Fault::out_of_range(found.span(), L::words())),
        }
    }
}

impl<L: AllowedRange> JsonSchema for Limited<L> {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "Number".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        let kind = if L::WHOLE { "integer" } else { "number" };
        json_schema!({ "type": kind, "minimum": L::MIN, "maximum": L::MAX })
    }
}

/// A name, or what stands in its place.
#[derive(Debug, Clone, JsonSchema)]
#[schemars(untagged, inline)]
pub(super) enum NameOr<T> {
    /// A name.
    Name(String),
    /// What it would name, spelled out.
    Other(T),
}

impl<T> NameOr<T> {
    pub(super) fn name(&self) -> Option<&str> {
        match self {
            Self::Name(name) => Some(name),
            Self::Other(_) => None,
        }
    }
}

/// What may stand in the place of a name.
pub(super) trait InPlaceOfName {
    /// Whether that is a number.
    const NUMBER: bool = false;

    /// In words.
    fn words() -> String;
}

impl<L: AllowedRange> InPlaceOfName for Limited<L> {
    const NUMBER: bool = true;

    fn words() -> String {
        format!("a number, {}", L::words())
    }
}

impl<T: FromToml + InPlaceOfName> FromToml for NameOr<T> {
    fn from_toml(value: Found<'_>) -> Result<Self, Fault> {
        match value.get_ref() {
            DeValue::String(name) if T::NUMBER && name.parse::<f64>().is_ok() => {
                let remedy = format!("allowed: {}, without quotes", T::words());
                Err(Fault::refused(
                    value.span(),
                    "is a number in quotes",
                    remedy,
                ))
            }
            DeValue::String(name) => Ok(Self::Name(name.to_string())),
            DeValue::Integer(_) | DeValue::Float(_) if T::NUMBER => {
                T::from_toml(value).map(Self::Other)
            }
            DeValue::Table(_) if !T::NUMBER => T::from_toml(value).map(Self::Other),
            _ => {
                let expected = format!("a name in quotes or {}", T::words());
                Err(mistyped(value, expected))
            }
        }
    }
}
