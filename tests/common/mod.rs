//! What all test crates share.

/// Asserts that `got` lies within `tolerance` of `expected`; says all four when it does not.
#[track_caller]
pub(crate) fn close(quantity: &str, got: f64, expected: f64, tolerance: f64) {
    // Not `> tolerance`: a difference that is not a number must fail.
    let within = (got - expected).abs() <= tolerance;
    assert!(
        within,
        "{quantity}: got {got}, expected {expected}, tolerance {tolerance}"
    );
}
