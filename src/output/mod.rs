//! Answers as people and programs read them: one format per file.

pub mod figure;
