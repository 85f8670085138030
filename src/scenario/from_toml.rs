//! From the values of the TOML library to those of `schema` and `lesson`, each mistake with its place.
//!
//! What serde derives for a table is code of its own for each kind of TOML value, which would make the program a megabyte larger and its build longer.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::decode::Fault;
use super::error::Problem;

/// A value of the file, and where it stands.
pub(super) type Found<'a> = &'a Spanned<DeValue<'a>>;

/// What a value of the file can be read as.
pub(super) trait FromToml: Sized {
    /// What a list of such values is, in words.
    const LISTED: &'static str = "an array in [ ]";

    /// The keys of a table of this kind.
    const KEYS: &'static [&'static str] = &[];

    fn from_toml(value: Found<'_>) -> Result<Self, Fault>;

    /// What a key counts as that is left out; `None` where it must be there.
    fn left_out() -> Option<Self> {
        None
    }
}

impl<T: FromToml> FromToml for Option<T> {
    fn from_toml(value: Found<'_>) -> Result<Self, Fault> {
        T::from_toml(value).map(Some)
    }

    fn left_out() -> Option<Self> {
        Some(None)
    }
}

impl<T: FromToml> FromToml for Vec<T> {
    fn from_toml(value: Found<'_>) -> Result<Self, Fault> {
        let items = value.get_ref().as_array();
        let items = items.ok_or_else(|| mistyped(value, T::LISTED))?;
        items.iter().map(T::from_toml).collect()
    }

    /// A scenario without parts is told so in better words than those of a missing key.
    fn left_out() -> Option<Self> {
        Some(Vec::new())
    }
}

impl FromToml for String {
    fn from_toml(value: Found<'_>) -> Result<Self, Fault> {
        let text = value.get_ref().as_str();
        text.map(str::to_owned)
            .ok_or_else(|| mistyped(value, "text in quotes"))
    }
}

impl FromToml for bool {
    fn from_toml(value: Found<'_>) -> Result<Self, Fault> {
        let yes = value.get_ref().as_bool();
        yes.ok_or_else(|| mistyped(value, "true or false"))
    }
}

/// A value of the wrong type.
pub(super) fn mistyped(value: Found<'_>, expected: impl Into<String>) -> Fault {
    let found = match value.get_ref() {
        DeValue::String(_) => "text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "a boolean",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "an array",
        DeValue::Table(_) => "a table",
    };
    let (found, expected) = (found.into(), expected.into());
    Fault::at(value.span(), Problem::WrongType { found, expected })
}

/// One of a few words.
pub(super) fn word<T: Copy>(value: Found<'_>, words: &[(&str, T)]) -> Result<T, Fault> {
    let Some(text) = value.get_ref().as_str() else {
        return Err(mistyped(value, "a word in quotes"));
    };
    let known = words.iter().find(|(word, _)| *word == text);
    known.map(|(_, meaning)| *meaning).ok_or_else(|| {
        let problem = Problem::UnknownName {
            what: "word that is known here",
            known: words.iter().map(|(word, _)| (*word).to_owned()).collect(),
        };
        Fault::at(value.span(), problem)
    })
}

/// A table whose keys are all known.
pub(super) struct Keys<'a> {
    table: &'a DeTable<'a>,
    span: Range<usize>,
}

impl<'a> Keys<'a> {
    pub(super) fn of(value: Found<'a>, allowed: &[&str]) -> Result<Self, Fault> {
        let table = value.get_ref().as_table();
        let table = table.ok_or_else(|| {
            let first = value.get_ref().as_array().and_then(|list| list.first());
            let expected = match first {
                Some(item) if item.get_ref().is_table() => {
                    "one table: { }, or a header in single brackets"
                }
                _ => "a table in { }",
            };
            mistyped(value, expected)
        })?;
        let stranger = (table
            .keys()
            .filter(|key| !allowed.contains(&key.get_ref().as_ref())))
        .min_by_key(|key| key.span().start);
        if let Some(key) = stranger {
            let allowed = allowed.iter().map(|key| (*key).to_owned()).collect();
            return Err(Fault::at(key.span(), Problem::UnknownKey { allowed }));
        }
        let span = value.span();
        Ok(Self { table, span })
    }

    pub(super) fn get<T: FromToml>(&self, key: &str) -> Result<T, Fault> {
        match self.table.get(key) {
            Some(value) => T::from_toml(value),
            None => T::left_out().ok_or_else(|| {
                let missing = key.to_owned();
                // The scenario as a whole has no place in itself.
                let span = Some(self.span.clone()).filter(|span| !span.is_empty());
                Fault::Here(Problem::MissingKey { missing }, span)
            }),
        }
    }
}

/// The key that a field is for: a field whose name is a word of Rust is written with r# before it.
pub(super) const fn key_of(field: &str) -> &str {
    match field.as_bytes() {
        [b'r', b'#', ..] => field.split_at(2).1,
        _ => field,
    }
}

/// Reads tables, each by its keys, which are the names of its fields.
macro_rules! tables {
    ($($table:ident { $($key:ident),* $(,)? })*) => {
        $(impl FromToml for $table {
            const LISTED: &'static str = "an array: [ ], or a [[ ]] header for each table";
            const KEYS: &'static [&'static str] = &[$(key_of(stringify!($key))),*];

            fn from_toml(value: Found<'_>) -> Result<Self, Fault> {
                let keys = Keys::of(value, Self::KEYS)?;
                Ok(Self { $($key: keys.get(key_of(stringify!($key)))?),* })
            }
        })*
    };
}

/// Reads words: the names of the variants in small letters.
macro_rules! words {
    ($($list:ident { $($word:ident),* $(,)? })*) => {
        $(impl FromToml for $list {
            fn from_toml(value: Found<'_>) -> Result<Self, Fault> {
                let names = [$(stringify!($word).to_ascii_lowercase()),*];
                let meanings = [$(Self::$word),*];
                let words: Vec<_> = names.iter().map(String::as_str).zip(meanings).collect();
                word(value, &words)
            }
        })*
    };
}

pub(super) use {tables, words};
