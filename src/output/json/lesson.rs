//! Lessons as JSON.

use serde::Serialize;

use super::text;
use crate::output::CAUTION;
use crate::output::lesson::{LessonRead, found};

#[derive(Serialize)]
struct LessonDocument<'a> {
    title: &'a str,
    question: &'a str,
    r#do: &'a [String],
    see: &'a str,
    answer: &'a str,
    tries: Vec<TryDocument<'a>>,
}

#[derive(Serialize)]
struct TryDocument<'a> {
    name: &'a str,
    found: Vec<FoundDocument>,
}

#[derive(Serialize)]
struct FoundDocument {
    what: &'static str,
    words: String,
}

/// Lessons as one JSON document: what each says, and what was found in its tries, in words.
///
/// Checked by: `tests/cli/lessons.rs`.
#[must_use]
pub fn lessons(all: &[LessonRead]) -> String {
    #[derive(Serialize)]
    struct AllLessons<'a> {
        lessons: Vec<LessonDocument<'a>>,
        caution: &'static str,
    }
    let lessons = all.iter().map(|read| LessonDocument {
        title: &read.title,
        question: &read.lesson.question,
        r#do: &read.lesson.steps,
        see: &read.lesson.see,
        answer: &read.lesson.answer,
        tries: (read.tries.iter())
            .map(|(name, answer)| TryDocument {
                name,
                found: (answer.findings.iter())
                    .map(|finding| {
                        let (what, words) = found(finding);
                        FoundDocument { what, words }
                    })
                    .collect(),
            })
            .collect(),
    });
    text(&AllLessons {
        lessons: lessons.collect(),
        caution: CAUTION,
    })
}
