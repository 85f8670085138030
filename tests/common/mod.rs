//! What the test crates share.

/// Asserts that `got` lies within `tolerance` of `expected`, and prints all four (seen on failure or with `--nocapture`).
#[track_caller]
#[allow(
    clippy::print_stdout,
    reason = "what was compared is worth reading in a test's output"
)]
pub(crate) fn close(quantity: &str, got: f64, expected: f64, tolerance: f64) {
    println!("{quantity}: got {got:.9e}, expected {expected:.9e}, tolerance {tolerance:.1e}");
    assert!(
        (got - expected).abs() <= tolerance,
        "{quantity}: got {got:.12e}, expected {expected:.12e}, off by {:.2e}, tolerance {tolerance:.1e}",
        (got - expected).abs()
    );
}
