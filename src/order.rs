//! Things put in the order of a number: one sort for all types, since a sort compiled anew for each is a twentieth of the program.

/// The places of numbers, from the smallest number to the largest; of equal ones the first comes first.
pub(crate) fn order_of(numbers: &[f64]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..numbers.len()).collect();
    order.sort_by(|&one, &other| numbers[one].total_cmp(&numbers[other]));
    order
}

/// Sorts by a number, smallest first; equal ones keep their order.
pub(crate) fn sort_by_number<T>(list: &mut [T], number: impl Fn(&T) -> f64) {
    let numbers: Vec<f64> = list.iter().map(number).collect();
    let mut order = order_of(&numbers);
    for to in 0..order.len() {
        // What stood at a place that has been filled is where it was swapped to.
        let mut from = order[to];
        while from < to {
            from = order[from];
        }
        order[to] = from;
        list.swap(to, from);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lists_are_sorted_by_a_number_and_equal_ones_keep_their_order() {
        for count in 0..40usize {
            // Whole numbers from 0 to 6, several times each, out of order.
            let list: Vec<(f64, usize)> = (0..count)
                .map(|k| ((k * k * 5 % 7) as f64 - 3.0, k))
                .collect();
            let mut sorted = list.clone();
            sort_by_number(&mut sorted, |(number, _)| *number);
            assert!(sorted.is_sorted_by(|a, b| a < b), "{sorted:?}");
            assert!(list.iter().all(|of| sorted.contains(of)));
        }
        assert_eq!(order_of(&[2.0, f64::NAN, -1.0, 2.0]), [2, 0, 3, 1]);
    }
}
