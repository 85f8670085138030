//! The tables of a lesson as they are written.

use schemars::JsonSchema;

use crate::scenario::decode::Fault;
use crate::scenario::from_toml::{Found, FromToml, Keys, key_of, tables};
use crate::scenario::located::{AllowedRange, Angle, Limited, Located, NameOr};

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
#[derive(Debug, JsonSchema)]
#[schemars(rename = "Lesson", deny_unknown_fields)]
pub(crate) struct LessonTable {
    /// The question, in a line.
    pub(super) question: Located<String>,
    /// What to do, step by step.
    #[schemars(length(min = 1, max = 12))]
    pub(super) r#do: Located<Vec<Located<String>>>,
    /// What to look at meanwhile.
    pub(super) see: Located<String>,
    /// The answer.
    pub(super) answer: Located<String>,
    /// Names of the parts that a class may change in the live page, "lamp" among them; all of them where it is left out.
    pub(super) may_change: Option<Vec<Located<String>>>,
    /// What is read in each try.
    #[schemars(with = "Vec<ReadingWord>", length(min = 1, max = 4))]
    pub(super) show: Located<Vec<Located<String>>>,
    /// The scenario as it is to be tried; once as written where it is left out.
    #[schemars(length(min = 1, max = 10))]
    pub(super) r#try: Option<Located<Vec<LessonTryTable>>>,
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
#[derive(Debug, JsonSchema)]
#[schemars(rename = "LessonTry", deny_unknown_fields)]
pub(super) struct LessonTryTable {
    /// What is tried, in a few words.
    pub(super) name: Located<String>,
    /// What is changed for it; nothing where it is left out.
    #[schemars(length(max = 10))]
    pub(super) set: Option<Located<Vec<Located<LessonSetTable>>>>,
}

/// One change of the scenario: a key set, a part turned, taken out or put elsewhere.
#[derive(Debug, JsonSchema)]
#[schemars(rename = "LessonSet", deny_unknown_fields)]
pub(super) struct LessonSetTable {
    /// The part that is changed, by its name; left out for what belongs to no part, such as `aperture.na`.
    pub(super) part: Option<Located<String>>,
    /// The key that is set, with points between: `analyzer.azimuth_deg`, `strain.0.radial.edge_nm`.
    pub(super) key: Option<String>,
    /// What it is set to: a number or a name.
    pub(super) to: Option<NameOr<Limited<LessonNumber>>>,
    /// By how many degrees the part is turned, counter-clockwise.
    pub(super) turn_deg: Option<Limited<Angle>>,
    /// Whether the part is taken out, or its key where one is named.
    pub(super) out: Option<bool>,
    /// The part right above which this one is put.
    pub(super) above: Option<Located<String>>,
    /// The part right below which this one is put.
    pub(super) below: Option<Located<String>>,
}

tables! {
    LessonTable { question, r#do, see, answer, may_change, show, r#try }
    LessonTryTable { name, set }
    LessonSetTable { part, key, to, turn_deg, out, above, below }
}
