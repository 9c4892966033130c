//! Numbers as they stand in a table: so many digits, and no more.

/// Half a unit in the last printed digit, and a little for the round-off of the number that was rounded.
const HALF_UNIT: f64 = 0.5 + 1e-3;
/// What a printed zero allows: zero is exact there, so only the round-off of lengths near a metre and angles in degrees.
const ZERO: f64 = 1e-10;

/// The largest error that a number printed with this many significant digits can have.
pub(crate) fn tolerance(printed: f64, significant_digits: i32) -> f64 {
    if printed == 0.0 {
        return ZERO;
    }
    // Digits before the decimal point: 0 for 0.5, 1 for 5, 2 for 50.
    #[allow(clippy::cast_possible_truncation)]
    let whole_digits = printed.abs().log10().floor() as i32 + 1;
    HALF_UNIT * 10.0_f64.powi(whole_digits - significant_digits)
}

/// Check a value against a number printed with this many significant digits.
#[track_caller]
pub(crate) fn assert_printed(what: &str, value: f64, printed: f64, significant_digits: i32) {
    let tolerance = tolerance(printed, significant_digits);
    assert!(
        (value - printed).abs() <= tolerance,
        "{what} is {value}, but {printed} is printed with {significant_digits} digits: off by {:e}",
        value - printed
    );
}

/// Check a value against another within a tolerance.
#[track_caller]
pub(crate) fn assert_near(what: &str, value: f64, expected: f64, tolerance: f64) {
    assert!(
        (value - expected).abs() <= tolerance,
        "{what} is {value}, not {expected}: off by {:e}, {tolerance:e} is allowed",
        value - expected
    );
}

#[test]
fn tolerance_counts_digits_before_and_after_the_point() {
    assert_near("six after the point", tolerance(0.564_881_658, 9), 5e-10, 5e-12);
    assert_near("two before it", tolerance(-34.128_719, 8), 5e-7, 5e-9);
    assert_near("a thousand", tolerance(1234.5, 5), 5e-2, 5e-4);
    assert_near("below a tenth", tolerance(0.061_945_257_6, 9), 5e-11, 5e-13);
}
