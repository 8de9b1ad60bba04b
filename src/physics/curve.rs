//! A curve given by points: what it is between them.

use super::Domain;

/// The value of a curve at `x`, on a straight line between the two points beside it.
///
/// `points`: strictly ascending; `values`: one for each, in any unit; `logarithmic`: the line is straight over
/// the logarithm of `x`, as frequency responses are drawn. Errors: no points or unequal counts; `x` outside the
/// points; a point or `x` not above zero where the logarithm is taken. Source: arithmetic. Example: from
/// -20 dB at 1 kHz to -40 dB at 100 kHz, at 10 kHz: -30 dB over the logarithm, -21.818 dB without.
pub fn value_on(points: &[f64], values: &[f64], x: f64, logarithmic: bool) -> Result<f64, Domain> {
    const OUTSIDE: Domain = Domain("it lies outside the points of the curve");
    if points.len() != values.len() {
        return Err(Domain("a curve must have one value for each point"));
    }
    let above = points.partition_point(|point| *point < x);
    let (Some(upper), Some(upper_value)) = (points.get(above), values.get(above)) else {
        return Err(OUTSIDE);
    };
    if *upper == x {
        return Ok(*upper_value);
    }
    let below = above.checked_sub(1).ok_or(OUTSIDE)?;
    let (lower, lower_value) = (points[below], values[below]);
    let share = if logarithmic {
        if lower <= 0.0 {
            return Err(Domain("a logarithm needs points above zero"));
        }
        (x / lower).ln() / (upper / lower).ln()
    } else {
        (x - lower) / (upper - lower)
    };
    Ok(lower_value + (upper_value - lower_value) * share)
}

#[cfg(test)]
mod tests {
    use super::super::near;
    use super::*;

    #[test]
    fn between_at_and_beside_the_points() {
        let (points, values) = ([1e3, 1e5, 1e6], [-20.0, -40.0, -10.0]);
        near(value_on(&points, &values, 1e4, true).unwrap(), -30.0, 1e-12);
        near(
            value_on(&points, &values, 1e4, false).unwrap(),
            -20.0 - 20.0 / 11.0,
            1e-12,
        );
        near(value_on(&points, &values, 1e3, true).unwrap(), -20.0, 0.0);
        near(value_on(&points, &values, 1e6, true).unwrap(), -10.0, 0.0);
        for x in [999.0, 1.000_001e6, f64::NAN] {
            assert!(value_on(&points, &values, x, true).is_err());
        }
        assert!(value_on(&[], &[], 1.0, false).is_err());
        assert!(value_on(&points, &values[..2], 1e4, false).is_err());
        assert!(value_on(&[0.0, 10.0], &[1.0, 2.0], 5.0, true).is_err());
        near(
            value_on(&[0.0, 10.0], &[1.0, 2.0], 5.0, false).unwrap(),
            1.5,
            0.0,
        );
    }
}
