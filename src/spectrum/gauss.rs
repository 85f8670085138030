//! Few wavelengths in place of many: Gauss's quadrature for a weighted sum over wavelengths.

use nalgebra::DMatrix;

use crate::order::sort_by_number;

/// `count` wavelengths with weights that can stand for the given ones: the weighted sum of any smooth function of the wavelength is the same, exactly
/// so for polynomials of up to degree `2 count - 1`. The weights are positive and have the same sum. If there are no more than `count` wavelengths,
/// or no more than `count` with a weight, the given ones are returned.
///
/// Weights must not be negative. The recurrence of the polynomials that are orthogonal under the weights is worked out by Stieltjes's
/// procedure; nodes and weights are the eigenvalues and first components of its Jacobi matrix.
///
/// Source: W. Gautschi, Orthogonal Polynomials: Computation and Approximation, sections 2.2.3 and 3.1.1 (from memory).
/// Checked by: this file's unit tests.
#[must_use]
pub fn fewer_wavelengths(
    wavelengths_nm: &[f64],
    weights: &[f64],
    count: usize,
) -> (Vec<f64>, Vec<f64>) {
    let lit: Vec<(f64, f64)> = (wavelengths_nm.iter().copied().zip(weights.iter().copied()))
        .filter(|(_, weight)| *weight > 0.0)
        .collect();
    let sum: f64 = lit.iter().map(|(_, weight)| weight).sum();
    let (Some(first), Some(last)) = (lit.first(), lit.last()) else {
        return (wavelengths_nm.to_vec(), weights.to_vec());
    };
    if lit.len() <= count.max(1) {
        return lit.into_iter().unzip();
    }
    // The wavelengths are mapped to -1 to 1, where powers of them stay small.
    let (middle, half) = (0.5 * (first.0 + last.0), 0.5 * (last.0 - first.0));
    let x: Vec<f64> = lit.iter().map(|(nm, _)| (nm - middle) / half).collect();
    let product = |a: &[f64], b: &[f64]| -> f64 {
        (a.iter().zip(b).zip(&lit))
            .map(|((a, b), (_, weight))| a * b * weight)
            .sum()
    };
    let mut jacobi = DMatrix::<f64>::zeros(count, count);
    let (mut before, mut here) = (vec![0.0; x.len()], vec![1.0 / sum.sqrt(); x.len()]);
    let mut off = 0.0;
    for k in 0..count {
        let moved: Vec<f64> = x.iter().zip(&here).map(|(x, p)| x * p).collect();
        let diagonal = product(&moved, &here);
        jacobi[(k, k)] = diagonal;
        if k + 1 == count {
            break;
        }
        let next: Vec<f64> = (moved.iter().zip(&here).zip(&before))
            .map(|((moved, here), before)| moved - diagonal * here - off * before)
            .collect();
        off = product(&next, &next).sqrt();
        jacobi[(k, k + 1)] = off;
        jacobi[(k + 1, k)] = off;
        before = std::mem::replace(&mut here, next.iter().map(|p| p / off).collect());
    }
    let found = jacobi.symmetric_eigen();
    let mut nodes: Vec<(f64, f64)> = (0..count)
        .map(|k| {
            let component = found.eigenvectors[(0, k)];
            let nm = middle + half * found.eigenvalues[k];
            (nm.clamp(first.0, last.0), sum * component * component)
        })
        .collect();
    sort_by_number(&mut nodes, |node| node.0);
    nodes.into_iter().unzip()
}

/// Few wavelengths for several sums at once, such as X, Y and Z: each wavelength has a weight for each sum. Exact for polynomials of up to degree
/// `count - 1`. If there are no more than `count` wavelengths, or no more than `count` with a weight, the given ones are returned.
///
/// The wavelengths are those of [`fewer_wavelengths`] for the sizes of all weights together. With the polynomials `p_j` that are orthogonal under
/// these, the weight of a sum at node i is `g_i sum_j p_j(node i) <p_j, w>`, where `g_i` is Gauss's weight and `w` are the sum's given weights. In
/// this way each sum is taken of the polynomial that goes through the function's values at the nodes.
///
/// Source: interpolatory quadrature, W. Gautschi, Orthogonal Polynomials: Computation and Approximation, section 1.4 (from memory).
/// Checked by: this file's unit tests.
#[must_use]
pub fn fewer_wavelengths_for<const N: usize>(
    wavelengths_nm: &[f64],
    weights: &[[f64; N]],
    count: usize,
) -> (Vec<f64>, Vec<[f64; N]>) {
    let lit: Vec<(f64, [f64; N])> = (wavelengths_nm.iter().copied().zip(weights.iter().copied()))
        .filter(|(_, weights)| weights.iter().any(|weight| *weight != 0.0))
        .collect();
    let all: (Vec<f64>, Vec<[f64; N]>) = lit.into_iter().unzip();
    if all.0.len() <= count.max(1) {
        return all;
    }
    let size: Vec<f64> = (all.1.iter())
        .map(|weights| weights.iter().map(|weight| weight.abs()).sum())
        .collect();
    let (nodes, gauss) = fewer_wavelengths(&all.0, &size, count);
    // The polynomials at the given wavelengths and at the nodes, by the same recurrence.
    let (first, last) = (all.0[0], all.0[all.0.len() - 1]);
    let x = |nm: f64| (2.0 * nm - first - last) / (last - first);
    let [given, at_nodes] = [&all.0, &nodes].map(|nm| nm.iter().map(|nm| x(*nm)).collect());
    let given: Vec<f64> = given;
    let at_nodes: Vec<f64> = at_nodes;
    let product = |a: &[f64], b: &[f64]| -> f64 {
        (a.iter().zip(b).zip(&size))
            .map(|((a, b), size)| a * b * size)
            .sum()
    };
    let start = 1.0 / size.iter().sum::<f64>().sqrt();
    let (mut before, mut here) = (vec![0.0; given.len()], vec![start; given.len()]);
    let (mut before_nodes, mut here_nodes) = (vec![0.0; count], vec![start; count]);
    let mut off = 0.0;
    let mut found = vec![[0.0; N]; count];
    for degree in 0..count {
        for sum in 0..N {
            let own: f64 = here
                .iter()
                .zip(&all.1)
                .map(|(p, weights)| p * weights[sum])
                .sum();
            for (found, (p, gauss)) in found.iter_mut().zip(here_nodes.iter().zip(&gauss)) {
                found[sum] += gauss * p * own;
            }
        }
        if degree + 1 == count {
            break;
        }
        let moved: Vec<f64> = given.iter().zip(&here).map(|(x, p)| x * p).collect();
        let diagonal = product(&moved, &here);
        let next = |x: &[f64], here: &[f64], before: &[f64]| -> Vec<f64> {
            (x.iter().zip(here).zip(before))
                .map(|((x, here), before)| (x - diagonal) * here - off * before)
                .collect()
        };
        let (raised, raised_nodes) = (
            next(&given, &here, &before),
            next(&at_nodes, &here_nodes, &before_nodes),
        );
        off = product(&raised, &raised).sqrt();
        before = std::mem::replace(&mut here, raised.iter().map(|p| p / off).collect());
        before_nodes = std::mem::replace(
            &mut here_nodes,
            raised_nodes.iter().map(|p| p / off).collect(),
        );
    }
    (nodes, found)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math;

    fn sum(nodes: &(Vec<f64>, Vec<f64>), f: impl Fn(f64) -> f64) -> f64 {
        nodes
            .0
            .iter()
            .zip(&nodes.1)
            .map(|(nm, weight)| weight * f(*nm))
            .sum()
    }

    #[test]
    fn few_wavelengths_sum_polynomials_as_many_do() {
        let nm: Vec<f64> = (0..81).map(|k| 380.0 + 5.0 * f64::from(k)).collect();
        let weight: Vec<f64> = nm
            .iter()
            .map(|nm| math::exp(-((nm - 555.0) / 45.0f64).powi(2)) * (1.0 + math::sin(0.07 * nm)))
            .collect();
        let many = (nm.clone(), weight.clone());
        for count in [1, 2, 5, 12, 16] {
            let few = fewer_wavelengths(&nm, &weight, count);
            assert_eq!(few.0.len(), count);
            assert!(few.0.is_sorted() && few.1.iter().all(|weight| *weight > 0.0));
            for degree in 0..2 * count as i32 {
                let f = |nm: f64| ((nm - 580.0) / 200.0).powi(degree);
                let (got, expected) = (sum(&few, f), sum(&many, f));
                let size = sum(&many, |nm| f(nm).abs());
                assert!(
                    (got - expected).abs() < 1e-12 * size,
                    "{count} {degree}: {got} {expected}"
                );
            }
        }
        // A retarder of a first-order plate between crossed polars.
        let plate = |nm: f64| math::sin(std::f64::consts::PI * 550.0 / nm).powi(2);
        let few = fewer_wavelengths(&nm, &weight, 12);
        assert!((sum(&few, plate) / sum(&many, plate) - 1.0).abs() < 1e-9);
    }

    #[test]
    fn few_with_weight_come_back_as_they_are() {
        let nm = [400.0, 500.0, 600.0, 700.0];
        let few = fewer_wavelengths(&nm, &[0.0, 1.0, 2.0, 0.0], 3);
        assert_eq!(few, (vec![500.0, 600.0], vec![1.0, 2.0]));
        let none = fewer_wavelengths(&nm, &[0.0; 4], 3);
        assert_eq!(none, (nm.to_vec(), vec![0.0; 4]));
    }

    #[test]
    fn several_sums_at_few_wavelengths_are_those_at_many() {
        let nm: Vec<f64> = (0..81).map(|k| 380.0 + 5.0 * f64::from(k)).collect();
        let bump = |nm: f64, middle: f64, width: f64| math::exp(-((nm - middle) / width).powi(2));
        let weights: Vec<[f64; 3]> = (nm.iter())
            .map(|nm| {
                let red = bump(*nm, 600.0, 50.0) + 0.3 * bump(*nm, 445.0, 25.0);
                [red, bump(*nm, 555.0, 55.0), bump(*nm, 450.0, 30.0)]
            })
            .collect();
        let sums = |(nm, weights): &(Vec<f64>, Vec<[f64; 3]>), f: &dyn Fn(f64) -> f64| {
            [0, 1, 2].map(|k| {
                nm.iter()
                    .zip(weights)
                    .map(|(nm, w)| w[k] * f(*nm))
                    .sum::<f64>()
            })
        };
        let many = (nm.clone(), weights.clone());
        for count in [1, 3, 8, 12] {
            let few = fewer_wavelengths_for(&nm, &weights, count);
            assert_eq!(few.0.len(), count);
            for degree in 0..count as i32 {
                let f = |nm: f64| ((nm - 580.0) / 200.0).powi(degree);
                let sizes = sums(&many, &|nm| f(nm).abs());
                let pairs = sums(&few, &f).into_iter().zip(sums(&many, &f));
                for ((got, expected), size) in pairs.zip(sizes) {
                    let off = (got - expected).abs();
                    assert!(off < 1e-11 * size, "{count} {degree}: {got} {expected}");
                }
            }
        }
        // A retarder of a first-order plate between crossed polars.
        let plate = |nm: f64| math::sin(std::f64::consts::PI * 550.0 / nm).powi(2);
        let few = fewer_wavelengths_for(&nm, &weights, 12);
        for (got, expected) in sums(&few, &plate).iter().zip(sums(&many, &plate)) {
            // A polynomial of degree 11 through a sine of two thirds of a turn: far below a step of 8 bits.
            assert!((got / expected - 1.0).abs() < 1e-5, "{got} {expected}");
        }
        let all = fewer_wavelengths_for(&nm, &weights, 81);
        assert_eq!(all, many);
    }
}
