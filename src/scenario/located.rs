//! Values that remember where they stand in the file, and numbers that know what they may be.

use std::borrow::Cow;
use std::fmt;
use std::marker::PhantomData;
use std::ops::Range;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::value::MapAccessDeserializer;
use serde::de::{
    Deserialize, Deserializer, Error, IntoDeserializer, MapAccess, Unexpected, Visitor,
};
use toml::Spanned;

use crate::spectrum::Source;

/// Opens the message of a number out of range, so that it can be told from the messages that serde words itself.
pub(super) const OUT_OF_RANGE: &str = "allowed: ";

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

impl<'de, T: Deserialize<'de>> Deserialize<'de> for Located<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        Spanned::deserialize(deserializer).map(Self)
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

impl<'de, L: AllowedRange> Deserialize<'de> for Limited<L> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(LimitedVisitor(PhantomData))
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

struct LimitedVisitor<L>(PhantomData<L>);

impl<L: AllowedRange> Visitor<'_> for LimitedVisitor<L> {
    type Value = Limited<L>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a number, ")?;
        f.write_str(&L::words())
    }

    fn visit_f64<E: Error>(self, value: f64) -> Result<Self::Value, E> {
        // NaN is in no range.
        let inside = (L::MIN..=L::MAX).contains(&value);
        if inside && (!L::WHOLE || value.fract() == 0.0) {
            Ok(Limited {
                value,
                limits: PhantomData,
            })
        } else {
            Err(E::custom(format_args!("{OUT_OF_RANGE}{}", L::words())))
        }
    }

    fn visit_i64<E: Error>(self, value: i64) -> Result<Self::Value, E> {
        self.visit_f64(value as f64)
    }

    fn visit_u64<E: Error>(self, value: u64) -> Result<Self::Value, E> {
        self.visit_f64(value as f64)
    }

    fn visit_i128<E: Error>(self, value: i128) -> Result<Self::Value, E> {
        self.visit_f64(value as f64)
    }

    fn visit_u128<E: Error>(self, value: u128) -> Result<Self::Value, E> {
        self.visit_f64(value as f64)
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

/// What may stand in the place of a name, in words.
pub(super) trait InPlaceOfName {
    fn words() -> String;
}

impl<L: AllowedRange> InPlaceOfName for Limited<L> {
    fn words() -> String {
        format!("a number, {}", L::words())
    }
}

impl<'de, T: Deserialize<'de> + InPlaceOfName> Deserialize<'de> for NameOr<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(NameOrVisitor(PhantomData))
    }
}

struct NameOrVisitor<T>(PhantomData<T>);

impl<'de, T: Deserialize<'de> + InPlaceOfName> Visitor<'de> for NameOrVisitor<T> {
    type Value = NameOr<T>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "a name in quotes or {}", T::words())
    }

    fn visit_str<E: Error>(self, value: &str) -> Result<Self::Value, E> {
        Ok(NameOr::Name(value.to_owned()))
    }

    fn visit_f64<E: Error>(self, value: f64) -> Result<Self::Value, E> {
        T::deserialize(value.into_deserializer()).map(NameOr::Other)
    }

    fn visit_i64<E: Error>(self, value: i64) -> Result<Self::Value, E> {
        T::deserialize(value.into_deserializer()).map(NameOr::Other)
    }

    fn visit_u64<E: Error>(self, value: u64) -> Result<Self::Value, E> {
        T::deserialize(value.into_deserializer()).map(NameOr::Other)
    }

    fn visit_bool<E: Error>(self, value: bool) -> Result<Self::Value, E> {
        Err(E::invalid_type(Unexpected::Bool(value), &self))
    }

    fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<Self::Value, A::Error> {
        T::deserialize(MapAccessDeserializer::new(map)).map(NameOr::Other)
    }
}
