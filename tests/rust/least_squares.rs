//! Small least squares: against nalgebra's singular value decomposition, and within a box against a search of every way
//! that bounds can hold.
//!
//! SECOND METHOD throughout.

use nalgebra::{DMatrix, DVector};
use proptest::prelude::*;
use strutsweep::least_squares::{Equations, MOST_UNKNOWNS, Unknowns};

use crate::corners::config;

/// Random matrices are of condition up to some thousands.
const SAME: f64 = 1e-9;

fn equations(matrix: &DMatrix<f64>) -> Equations {
    let mut equations = Equations::new(matrix.nrows(), matrix.ncols());
    for (row, column) in (0..matrix.nrows()).flat_map(|row| (0..matrix.ncols()).map(move |column| (row, column))) {
        equations.set(row, column, matrix[(row, column)]);
    }
    equations
}

fn filled(value: f64) -> Unknowns {
    [value; MOST_UNKNOWNS]
}

fn matrices() -> impl Strategy<Value = (DMatrix<f64>, DVector<f64>)> {
    (1..7_usize, 1..6_usize).prop_flat_map(|(rows, columns)| {
        let entries = prop::collection::vec(-3.0..3.0, rows * columns);
        let right = prop::collection::vec(-3.0..3.0, rows);
        (entries, right, any::<bool>()).prop_map(move |(entries, right, double)| {
            let mut matrix = DMatrix::from_vec(rows, columns, entries);
            if double && columns > 1 {
                // Two unknowns that do the same.
                let first = matrix.column(0).clone_owned();
                matrix.set_column(1, &(first * 2.0));
            }
            (matrix, DVector::from_vec(right))
        })
    })
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn without_bounds_it_is_the_pseudo_inverse((matrix, right) in matrices()) {
        let decomposed = matrix.clone().svd(true, true);
        let scale = decomposed.singular_values.max();
        prop_assume!(decomposed.singular_values.iter().all(|s| *s < 1e-11 * scale || *s > 1e-3 * scale));
        // Where two columns are the same but for a factor the decomposition itself is now and then wrong: it does not give
        // the matrix back.
        let again = decomposed.clone().recompose().expect("both sides were asked for");
        prop_assume!((again - &matrix).amax() < 1e-12 * scale);
        let wanted = decomposed.solve(&right, 1e-8 * scale).expect("both sides were asked for");
        let found = equations(&matrix).solve_within(
            right.as_slice(), &filled(f64::NEG_INFINITY), &filled(f64::INFINITY), &filled(0.0),
        );
        for k in 0..matrix.ncols() {
            prop_assert!((found[k] - wanted[k]).abs() < SAME * (1.0 + wanted.amax()), "{found:?} {wanted}");
        }
    }

    #[test]
    fn within_a_box_nothing_in_the_box_is_better(
        (matrix, right) in matrices(), least in -1.0..-0.05_f64, most in 0.05..1.0_f64,
    ) {
        let found = equations(&matrix).solve_within(right.as_slice(), &filled(least), &filled(most), &filled(0.0));
        let columns = matrix.ncols();
        let at = DVector::from_iterator(columns, found.into_iter().take(columns));
        prop_assert!(at.iter().all(|value| (least..=most).contains(value)), "{at}");
        let squares = |at: &DVector<f64>| (&matrix * at - &right).norm_squared();
        let here = squares(&at);
        // Every way that bounds can hold: each unknown free, at its least or at its most.
        for code in 0..3_usize.pow(u32::try_from(columns).expect("few")) {
            let mut rest = code;
            let ways: Vec<usize> = (0..columns).map(|_| { let way = rest % 3; rest /= 3; way }).collect();
            let mut fixed = DVector::from_iterator(columns, ways.iter().map(|way| [0.0, least, most][*way]));
            let free: Vec<usize> = (0..columns).filter(|k| ways[*k] == 0).collect();
            if !free.is_empty() {
                let left = right.clone() - &matrix * &fixed;
                let decomposed = matrix.select_columns(&free).svd(true, true);
                let solved = decomposed.solve(&left, 1e-10).expect("both sides were asked for");
                for (k, value) in free.iter().zip(solved.iter()) { fixed[*k] = *value; }
            }
            if fixed.iter().all(|value| (least..=most).contains(value)) {
                prop_assert!(here <= squares(&fixed) + 1e-8, "{here} {} {at} {fixed}", squares(&fixed));
            }
        }
    }
}

#[test]
fn an_equation_that_weighs_much_leaves_a_light_one_its_bound() {
    // Toe counts a thousand times what camber does; where camber wants beyond a bound, the answer lies on the bound.
    let matrix = DMatrix::from_row_slice(2, 2, &[0.25, 0.1, -4e3, 4.5e4]);
    for beyond in [0.02, 0.1, 1.0, 10.0] {
        let wanted = DVector::from_row_slice(&[12.0 + beyond, 3.0]);
        let right = &matrix * wanted;
        let found = equations(&matrix).solve_within(right.as_slice(), &filled(-12.0), &filled(12.0), &filled(0.0));
        assert!((found[0] - 12.0).abs() < SAME, "{beyond}");
        // The other one by hand: the one unknown left, by the normal equation.
        let left = right - matrix.column(0) * 12.0;
        let other = matrix.column(1).dot(&left) / matrix.column(1).norm_squared();
        assert!((found[1] - other).abs() < SAME, "{beyond}");
    }
}

#[test]
fn determinants_have_the_sign_that_nalgebra_finds() {
    for seed in 1..50_u32 {
        let matrix = DMatrix::from_fn(3, 3, |row, column| {
            (f64::from(seed) * (1.0 + 3.0 * row as f64 + 7.0 * column as f64)).sin() + f64::from(row == column)
        });
        let wanted = if matrix.determinant() > 0.0 { 1 } else { -1 };
        assert_eq!(equations(&matrix).determinant_sign(), wanted);
    }
}
