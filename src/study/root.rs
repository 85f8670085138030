//! Where a function changes sign.

/// Where `f` is 0 between two places at which it has different signs, each with its value there; good enough when `f` is within
/// `exact` of 0 or the places cannot be told apart.
///
/// False position, with the function's value at the end that is kept halved (the Illinois rule). Every fourth step halves the interval instead: an end
/// at which the function is infinite needs that.
pub(super) fn root<E>(
    (mut from, mut at_from): (f64, f64),
    (mut to, mut at_to): (f64, f64),
    exact: f64,
    f: impl Fn(f64) -> Result<f64, E>,
) -> Result<f64, E> {
    let mut from_before = None;
    for step in 1.. {
        let middle = 0.5 * (from + to);
        let close = (to - from).abs() <= 1e-14 * middle.abs();
        if close || middle == from || middle == to {
            break;
        }
        let secant = from + (to - from) * at_from / (at_from - at_to);
        // Not where an end is infinite: then the secant is no number.
        let inside = (secant - from) * (secant - to) < 0.0;
        let here = if inside && step % 4 != 0 {
            secant
        } else {
            middle
        };
        let value = f(here)?;
        if value.abs() <= exact {
            return Ok(here);
        }
        let is_from = (value > 0.0) == (at_from > 0.0);
        let (moved, kept) = if is_from {
            from = here;
            (&mut at_from, &mut at_to)
        } else {
            to = here;
            (&mut at_to, &mut at_from)
        };
        *moved = value;
        if from_before == Some(is_from) {
            *kept *= 0.5;
        }
        from_before = Some(is_from);
    }
    Ok(0.5 * (from + to))
}

#[cfg(test)]
mod tests {
    use std::convert::Infallible;

    use super::*;

    fn found(from: f64, to: f64, f: impl Fn(f64) -> f64) -> f64 {
        let Ok(root) = root((from, f(from)), (to, f(to)), 0.0, |x| {
            Ok::<_, Infallible>(f(x))
        });
        root
    }

    #[test]
    fn roots_are_found_from_either_side_and_beside_a_pole() {
        for (a, b) in [(0.0, 2.0), (2.0, 0.0)] {
            assert!((found(a, b, |x| x * x - 2.0) - 2f64.sqrt()).abs() < 1e-14);
            assert!((found(a, b, |x| 1.0 - (x / 1.5).powi(9)) - 1.5).abs() < 1e-14);
        }
        // Infinite at its start, as a contrast before a background without light.
        assert!((found(0.0, 5.0, |x| -crate::math::log(x)) - 1.0).abs() < 1e-14);
    }
}
