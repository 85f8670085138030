//! The scenario file: what is read, what is refused, and in which words.

mod messages;
