//! Answers: one question per file.

pub mod leak;
