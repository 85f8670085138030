//! Helpers shared by the test crates.

/// Asserts that a quantity agrees with what is expected of it, and prints both (seen with `--nocapture` or on failure).
#[allow(
    clippy::print_stdout,
    reason = "what was compared is worth reading in a test's output"
)]
pub(crate) fn close(quantity: &str, got: f64, expected: f64, tolerance: f64) {
    println!("{quantity}: got {got}, expected {expected}, tolerance {tolerance:e}");
    assert!(
        (got - expected).abs() <= tolerance,
        "{quantity}: got {got}, expected {expected}, tolerance {tolerance:e}"
    );
}
