//! The `polstack` command.
fn main() {}
