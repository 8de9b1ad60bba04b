//! A unit among its sisters: the median and the scatter of all the others, resistant to one that is off.

use super::Domain;

/// From how many sisters up a scatter is reckoned: of two, one that is off cannot be told from the other.
pub const FEWEST_SISTERS: usize = 3;

/// The factor that makes the median absolute deviation of normally distributed values their standard
/// deviation: 1 / Φ⁻¹(3/4).
///
/// Source: physics (mathematics).
pub const MAD_TO_SIGMA: f64 = 1.482_602_218_505_602;

/// Where the other values of a set lie.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sisters {
    /// Their median.
    pub median: f64,
    /// The median of their absolute deviations from it, not scaled.
    pub mad: f64,
}

/// For each value the median and the median absolute deviation of all the others, in the values' unit.
///
/// The cost grows with n log n: the others' median takes three values at most, and for each of them the
/// deviations are sorted once. Errors: fewer than two values, a value that is no number. Source: from memory,
/// B. Iglewicz and D. C. Hoaglin, How to Detect and Handle Outliers, ASQC 1993. Example: 10, 11, 13, 20: the
/// others of the last have the median 11 and the deviation 1.
pub fn others_of_each(values: &[f64]) -> Result<Vec<Sisters>, Domain> {
    if values.len() < 2 {
        return Err(Domain("a unit has sisters from two values on"));
    }
    if !values.iter().all(|value| value.is_finite()) {
        return Err(Domain("every value must be a number"));
    }
    let (sorted, ranks) = ranked(values);
    let mut others = vec![
        Sisters {
            median: 0.0,
            mad: 0.0
        };
        values.len()
    ];
    let mut in_order: Vec<usize> = (0..values.len()).collect();
    in_order.sort_by_key(|index| ranks[*index]);
    // The median of the others only changes where the value taken out passes the middle.
    let mut known: Option<(f64, Vec<f64>, Vec<usize>)> = None;
    for index in in_order {
        let median = median_without(&sorted, ranks[index]);
        let stale = known.as_ref().is_none_or(|(own, ..)| *own != median);
        if stale {
            let deviations: Vec<f64> = values.iter().map(|value| (value - median).abs()).collect();
            let (sorted, ranks) = ranked(&deviations);
            known = Some((median, sorted, ranks));
        }
        if let Some((_, deviations, ranks)) = &known {
            let mad = median_without(deviations, ranks[index]);
            others[index] = Sisters { median, mad };
        }
    }
    Ok(others)
}

/// The values in ascending order, and for each of them its place there.
fn ranked(values: &[f64]) -> (Vec<f64>, Vec<usize>) {
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|a, b| values[*a].total_cmp(&values[*b]).then(a.cmp(b)));
    let mut ranks = vec![0; values.len()];
    for (rank, index) in order.iter().enumerate() {
        ranks[*index] = rank;
    }
    let sorted = order.iter().map(|index| values[*index]).collect();
    (sorted, ranks)
}

/// The median of sorted values without the one at `skipped`; there are two values at least.
fn median_without(sorted: &[f64], skipped: usize) -> f64 {
    let at = |place: usize| sorted[if place < skipped { place } else { place + 1 }];
    let left = sorted.len() - 1;
    if left % 2 == 1 {
        at(left / 2)
    } else {
        0.5 * at(left / 2 - 1) + 0.5 * at(left / 2)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The plain way: the others are written out, sorted, and the middle taken.
    fn plainly(values: &[f64], index: usize) -> Sisters {
        let middle = |mut values: Vec<f64>| {
            values.sort_by(f64::total_cmp);
            let n = values.len();
            0.5 * values[(n - 1) / 2] + 0.5 * values[n / 2]
        };
        let others: Vec<f64> = (0..values.len())
            .filter(|other| *other != index)
            .map(|other| values[other])
            .collect();
        let median = middle(others.clone());
        let mad = middle(others.iter().map(|value| (value - median).abs()).collect());
        Sisters { median, mad }
    }

    #[test]
    fn others_are_those_that_the_plain_way_gives() {
        // Sets of every length up to forty with many equal values among them, from a small generator.
        let mut state = 7_u64;
        let mut next = move || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) as f64
        };
        for count in 2..40 {
            for spread in [1.0, 3.0, 10.0, 1e6] {
                let values: Vec<f64> = (0..count).map(|_| (next() % spread) - 2.0).collect();
                let others = others_of_each(&values).unwrap();
                for (index, found) in others.iter().enumerate() {
                    assert_eq!(
                        *found,
                        plainly(&values, index),
                        "{values:?} without {index}"
                    );
                }
            }
        }
    }

    #[test]
    fn worked_example() {
        let others = others_of_each(&[10.0, 11.0, 13.0, 20.0]).unwrap();
        assert_eq!((others[3].median, others[3].mad), (11.0, 1.0));
        assert_eq!((others[0].median, others[0].mad), (13.0, 2.0));
    }

    #[test]
    fn one_value_and_no_number_are_refused() {
        assert!(others_of_each(&[1.0]).is_err());
        assert!(others_of_each(&[]).is_err());
        assert!(others_of_each(&[1.0, f64::NAN, 2.0]).is_err());
    }
}
