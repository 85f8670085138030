//! The tables of a lesson as they are written: their format for editors, and a reader of our own. What serde derives for a table is code of its own for
//! each kind of TOML value, which is too much for texts that no computation reads.

use std::ops::Range;

use schemars::JsonSchema;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::LessonValue;
use crate::scenario::decode::{Fault, wrong_type};
use crate::scenario::error::Problem;
use crate::scenario::located::{AllowedRange, Angle, Limited, NameOr};

/// What a lesson sets a key to; the key has a range of its own.
#[derive(Debug, Clone, Copy)]
pub(crate) enum LessonNumber {}

impl AllowedRange for LessonNumber {
    const MIN: f64 = -1e6;
    const MAX: f64 = 1e6;
    const UNIT: &'static str = "";
    const WHOLE: bool = false;
}

/// A lesson: what a class is to do with the scenario and to learn.
#[derive(JsonSchema)]
#[schemars(rename = "Lesson", deny_unknown_fields)]
#[expect(dead_code, reason = "it describes the format")]
pub(crate) struct LessonTable {
    /// The question, in a line.
    question: String,
    /// What to do, step by step.
    #[schemars(length(min = 1, max = 12))]
    r#do: Vec<String>,
    /// What to look at meanwhile.
    see: String,
    /// The answer.
    answer: String,
    /// Names of the parts that a class may change in the live page, "lamp" among them; all of them where it is left out.
    may_change: Option<Vec<String>>,
    /// What is read in each try.
    #[schemars(length(min = 1, max = 4))]
    show: Vec<ReadingWord>,
    /// The scenario as it is to be tried; once as written where it is left out.
    #[schemars(length(min = 1, max = 10))]
    r#try: Option<Vec<LessonTryTable>>,
}

/// What can be read in a lesson's try.
#[derive(JsonSchema)]
#[serde(rename_all = "snake_case")]
#[schemars(inline)]
#[expect(dead_code, reason = "it describes the format")]
enum ReadingWord {
    /// The light, of the parallel field.
    Light,
    /// The light, of that behind the lower polar.
    Passed,
    /// The extinction ratio.
    ExtinctionRatio,
    /// The colour, plates out.
    Color,
    /// The colour, plates in.
    ColorWithPlate,
    /// How the light along the axis vibrates before the analyzer.
    State,
    /// How far the dark cross is open.
    Cross,
    /// The colours of two quadrants of the back focal plane, plates in.
    Quadrants,
    /// The colour of the middle of the back focal plane, plates in.
    Middle,
    /// The smallest path difference that an eye sees.
    Smallest,
    /// The largest leak.
    Blame,
}

/// One try of a lesson.
#[derive(JsonSchema)]
#[schemars(rename = "LessonTry", deny_unknown_fields)]
#[expect(dead_code, reason = "it describes the format")]
struct LessonTryTable {
    /// What is tried, in a few words.
    name: String,
    /// What is changed for it; nothing where it is left out.
    #[schemars(length(max = 10))]
    set: Option<Vec<LessonSetTable>>,
}

/// One change of the scenario: a key set, a part turned, taken out or put elsewhere.
#[derive(JsonSchema)]
#[schemars(rename = "LessonSet", deny_unknown_fields)]
#[expect(dead_code, reason = "it describes the format")]
struct LessonSetTable {
    /// The part that is changed, by its name; left out for what belongs to no part, such as `aperture.na`.
    part: Option<String>,
    /// The key that is set, with points between: `analyzer.azimuth_deg`, `strain.0.radial.edge_nm`.
    key: Option<String>,
    /// What it is set to: a number or a name.
    to: Option<NameOr<Limited<LessonNumber>>>,
    /// By how many degrees the part is turned, counter-clockwise.
    turn_deg: Option<Limited<Angle>>,
    /// Whether the part is taken out, or its key where one is named.
    out: Option<bool>,
    /// The part right above which this one is put.
    above: Option<String>,
    /// The part right below which this one is put.
    below: Option<String>,
}

/// A text, and where it stands in bytes.
#[derive(Debug)]
pub(super) struct WrittenWords {
    pub(super) text: String,
    pub(super) span: Range<usize>,
}

/// A list, and where it stands.
#[derive(Debug)]
pub(super) struct Listed<T> {
    pub(super) items: Vec<T>,
    pub(super) span: Range<usize>,
}

/// A lesson as it is written.
#[derive(Debug)]
pub(crate) struct WrittenLesson {
    pub(super) question: WrittenWords,
    pub(super) steps: Listed<WrittenWords>,
    pub(super) see: WrittenWords,
    pub(super) answer: WrittenWords,
    pub(super) may_change: Option<Listed<WrittenWords>>,
    pub(super) show: Listed<WrittenWords>,
    pub(super) tries: Option<Listed<WrittenTry>>,
}

/// A try as it is written.
#[derive(Debug)]
pub(super) struct WrittenTry {
    pub(super) name: WrittenWords,
    pub(super) set: Option<Listed<WrittenSet>>,
}

/// A change as it is written.
#[derive(Debug)]
pub(super) struct WrittenSet {
    pub(super) span: Range<usize>,
    pub(super) part: Option<WrittenWords>,
    pub(super) key: Option<WrittenWords>,
    pub(super) to: Option<LessonValue>,
    pub(super) turn_deg: Option<f64>,
    pub(super) out: bool,
    pub(super) above: Option<WrittenWords>,
    pub(super) below: Option<WrittenWords>,
}

type Found<'a> = &'a Spanned<DeValue<'a>>;

/// A table whose keys are all known.
struct Keys<'a> {
    table: &'a DeTable<'a>,
    span: Range<usize>,
}

impl<'a> Keys<'a> {
    fn of(value: Found<'a>, allowed: &[&str]) -> Result<Self, Fault> {
        let Some(table) = value.get_ref().as_table() else {
            return Err(mistyped(value, "a table"));
        };
        let stranger = table
            .keys()
            .find(|key| !allowed.contains(&key.get_ref().as_ref()));
        if let Some(key) = stranger {
            let allowed = allowed.iter().map(|key| (*key).to_owned()).collect();
            return Err(Fault::at(key.span(), Problem::UnknownKey { allowed }));
        }
        let span = value.span();
        Ok(Self { table, span })
    }

    fn maybe<T>(
        &self,
        key: &str,
        read: impl Fn(Found<'a>) -> Result<T, Fault>,
    ) -> Result<Option<T>, Fault> {
        self.table.get(key).map(read).transpose()
    }

    fn must<T>(&self, key: &str, read: impl Fn(Found<'a>) -> Result<T, Fault>) -> Result<T, Fault> {
        self.maybe(key, read)?.ok_or_else(|| {
            let missing = key.to_owned();
            Fault::at(self.span.clone(), Problem::MissingKey { missing })
        })
    }
}

fn mistyped(value: Found<'_>, expected: &str) -> Fault {
    let found = match value.get_ref().type_str() {
        "float" => "floating point",
        "table" => "map",
        "array" => "sequence",
        other => other,
    };
    Fault::at(value.span(), wrong_type(found, expected))
}

fn words(value: Found<'_>) -> Result<WrittenWords, Fault> {
    match value.get_ref().as_str() {
        Some(text) => Ok(WrittenWords {
            text: text.to_owned(),
            span: value.span(),
        }),
        None => Err(mistyped(value, "a string")),
    }
}

fn listed<'a, T>(
    value: Found<'a>,
    read: impl Fn(Found<'a>) -> Result<T, Fault>,
) -> Result<Listed<T>, Fault> {
    let Some(items) = value.get_ref().as_array() else {
        return Err(mistyped(value, "a sequence"));
    };
    Ok(Listed {
        items: items.iter().map(read).collect::<Result<_, _>>()?,
        span: value.span(),
    })
}

fn number<L: AllowedRange>(value: Found<'_>) -> Result<f64, Fault> {
    let number = match value.get_ref() {
        DeValue::Integer(whole) if whole.radix() == 10 => whole.as_str().replace('_', "").parse(),
        DeValue::Float(float) => float.as_str().replace('_', "").parse(),
        _ => return Err(mistyped(value, &format!("a number, {}", L::words()))),
    };
    let within = |number: &f64| (L::MIN..=L::MAX).contains(number);
    (number.ok().filter(within)).ok_or_else(|| Fault::out_of_range(value.span(), L::words()))
}

fn to(value: Found<'_>) -> Result<LessonValue, Fault> {
    match value.get_ref().as_str() {
        Some(word) => Ok(LessonValue::Word(word.to_owned())),
        None => number::<LessonNumber>(value).map(LessonValue::Number),
    }
}

fn yes(value: Found<'_>) -> Result<bool, Fault> {
    (value.get_ref().as_bool()).ok_or_else(|| mistyped(value, "true or false"))
}

impl WrittenLesson {
    /// Reads the table.
    pub(crate) fn of(value: &Spanned<DeValue<'_>>) -> Result<Self, Fault> {
        let keys = Keys::of(
            value,
            &[
                "question",
                "do",
                "see",
                "answer",
                "may_change",
                "show",
                "try",
            ],
        )?;
        let texts = |value| listed(value, words);
        Ok(Self {
            question: keys.must("question", words)?,
            steps: keys.must("do", texts)?,
            see: keys.must("see", words)?,
            answer: keys.must("answer", words)?,
            may_change: keys.maybe("may_change", texts)?,
            show: keys.must("show", texts)?,
            tries: keys.maybe("try", |value| listed(value, written_try))?,
        })
    }
}

fn written_try(value: Found<'_>) -> Result<WrittenTry, Fault> {
    let keys = Keys::of(value, &["name", "set"])?;
    Ok(WrittenTry {
        set: keys.maybe("set", |value| listed(value, written_set))?,
        name: keys.must("name", words)?,
    })
}

fn written_set(value: Found<'_>) -> Result<WrittenSet, Fault> {
    let keys = Keys::of(
        value,
        &["part", "key", "to", "turn_deg", "out", "above", "below"],
    )?;
    Ok(WrittenSet {
        span: value.span(),
        part: keys.maybe("part", words)?,
        key: keys.maybe("key", words)?,
        to: keys.maybe("to", to)?,
        turn_deg: keys.maybe("turn_deg", number::<Angle>)?,
        out: keys.maybe("out", yes)?.unwrap_or(false),
        above: keys.maybe("above", words)?,
        below: keys.maybe("below", words)?,
    })
}
