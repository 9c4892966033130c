//! Packs of lanes: the same bits at every level, whatever the threads, the chunking and the order of axes; angles against
//! an arbitrary-precision library; the effort that a sweep may take.

use astro_float::{BigFloat, Consts, RoundingMode};
use ndarray::{Array, ArrayD, Axis, Slice};
use proptest::prelude::*;
use strutsweep::lanes::{Level, Work};
use strutsweep::number::Pack;
use strutsweep::{Corner, Quantity, Reading, Sweep, Swept, TravelAt, Watch, angle, demo};

/// Bits of the arbitrary-precision reference.
const BITS: usize = 160;
/// Largest relative error of an angle, a sine or a cosine: twice the last place of a double, and some for its rounding.
const ANGLE_TOLERANCE: f64 = 4.5e-16;

fn big(value: f64) -> BigFloat {
    BigFloat::from_f64(value, BITS)
}

fn to_f64(value: &BigFloat) -> f64 {
    value.to_string().parse().expect("a number prints as a number")
}

/// atan2 by the arbitrary-precision arc tangent.
fn reference_angle(y: f64, x: f64, constants: &mut Consts) -> f64 {
    let mode = RoundingMode::ToEven;
    let pi = constants.pi(BITS, mode);
    let quotient = big(y).div(&big(x), BITS, mode);
    let angle = quotient.atan(BITS, mode, constants);
    let angle = match (x > 0.0, y >= 0.0) {
        (true, _) => angle,
        (false, true) => angle.add(&pi, BITS, mode),
        (false, false) => angle.sub(&pi, BITS, mode),
    };
    to_f64(&angle)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    /// SECOND METHOD: astro-float, arbitrary precision. Every quadrant, slopes from flat to steep over 20 decades.
    #[test]
    fn arc_tangent_agrees_with_arbitrary_precision(
        decade in -10.0..10.0_f64, size in -6.0..6.0_f64, left in any::<bool>(), below in any::<bool>()
    ) {
        let mut constants = Consts::new().expect("constants");
        let x = 10_f64.powf(size) * if left { -1.0 } else { 1.0 };
        let y = 10_f64.powf(size + decade) * if below { -1.0 } else { 1.0 };
        let found = angle::arc_tangent(y, x);
        let wanted = reference_angle(y, x, &mut constants);
        prop_assert!((found - wanted).abs() <= ANGLE_TOLERANCE * wanted.abs(), "{y} {x}: {found} {wanted}");
    }

    /// SECOND METHOD: astro-float, arbitrary precision. The knees at pi/8 and 3 pi/8 and the middle of each piece.
    #[test]
    fn arc_tangent_is_sharp_between_its_pieces(turn in -3.2..3.2_f64) {
        let mut constants = Consts::new().expect("constants");
        let (y, x) = (turn.sin(), turn.cos());
        let found = angle::arc_tangent(y, x);
        let wanted = reference_angle(y, x, &mut constants);
        prop_assert!((found - wanted).abs() <= ANGLE_TOLERANCE * wanted.abs(), "{y} {x}: {found} {wanted}");
    }

    /// SECOND METHOD: astro-float, arbitrary precision. Hundreds of turns either way.
    #[test]
    fn sine_and_cosine_agree_with_arbitrary_precision(turn in prop_oneof![
        -1.0..1.0_f64,
        -7.0..7.0_f64,
        -3000.0..3000.0_f64,
        // At multiples of a right angle, as near as a double comes, and beside them.
        (-2000..2000_i32, -20.0..20.0_f64)
            .prop_map(|(n, ulps)| f64::from(n) * std::f64::consts::FRAC_PI_2 * (1.0 + ulps * f64::EPSILON)),
    ]) {
        let mut constants = Consts::new().expect("constants");
        let mode = RoundingMode::ToEven;
        let (sine, cosine) = angle::sine_and_cosine(turn);
        for (found, wanted) in [
            (sine, to_f64(&big(turn).sin(BITS, mode, &mut constants))),
            (cosine, to_f64(&big(turn).cos(BITS, mode, &mut constants))),
        ] {
            prop_assert!((found - wanted).abs() <= ANGLE_TOLERANCE * wanted.abs(), "{turn}: {found} {wanted}");
        }
    }
}

#[test]
fn angles_of_the_axes_and_of_nothing() {
    use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI};
    for (y, x, wanted) in [
        (0.0, 1.0, 0.0),
        (1.0, 0.0, FRAC_PI_2),
        (-1.0, 0.0, -FRAC_PI_2),
        (0.0, -1.0, PI),
        (-0.0, -1.0, -PI),
        (3.0, 3.0, FRAC_PI_4),
        (0.0, 0.0, 0.0),
    ] {
        let bits = angle::arc_tangent(y, x).to_bits();
        assert_eq!(bits, f64::to_bits(wanted), "({x}, {y})");
    }
    assert!(angle::arc_tangent(f64::NAN, 1.0).is_nan());
    assert!(angle::arc_tangent(1.0, f64::NAN).is_nan());
}

/// Every operation of a pack on the numbers of a slice, so that levels can be compared bit by bit.
struct Operations<'a>(&'a [f64], &'a [f64]);

impl Work for Operations<'_> {
    type Result = Vec<u64>;

    fn run<N: Pack>(self) -> Vec<u64> {
        let mut bits = Vec::new();
        for (a, b) in self.0.chunks_exact(N::LANES).zip(self.1.chunks_exact(N::LANES)) {
            let (a, b) = (N::load(a), N::load(b));
            let (sine, cosine) = a.sine_and_cosine();
            let results = [
                a + b,
                a - b,
                a * b,
                a / b,
                -a,
                b.recip(),
                a.magnitude().sqrt(),
                a.sqrt(),
                a.sign(),
                a.magnitude(),
                a.with_sign_of(b),
                N::choose_less(a, b, a, b),
                a.arc_tangent(b),
                sine,
                cosine,
            ];
            // Lane by lane, so that the order does not depend on how many there are.
            let mut lanes = vec![vec![0.0; N::LANES]; results.len()];
            for (result, to) in results.iter().zip(&mut lanes) {
                result.store(to);
            }
            for lane in 0..N::LANES {
                // Which NaN it is does not matter.
                bits.extend(lanes.iter().map(|of| {
                    if of[lane].is_nan() {
                        u64::MAX
                    } else {
                        of[lane].to_bits()
                    }
                }));
                bits.push(u64::from(a.at_least(b) >> lane & 1));
            }
        }
        bits
    }
}

#[test]
fn every_level_computes_like_plain_numbers() {
    let odd = [
        0.0,
        -0.0,
        1.0,
        -1.5,
        1e-9,
        -7e8,
        f64::NAN,
        f64::INFINITY,
        0.414_213_562,
        2.5,
        -3.25,
        1e-300,
    ];
    let mut a = Vec::new();
    let mut b = Vec::new();
    for x in odd {
        for y in odd {
            a.push(x);
            b.push(y);
        }
    }
    assert_eq!(a.len() % 8, 0);
    let portable = Level::named("portable")
        .expect("every machine has it")
        .run(Operations(&a, &b));
    for level in Level::all() {
        assert_eq!(level.run(Operations(&a, &b)), portable, "{level:?}");
    }
}

/// Slices of one piece of memory copied to slices of another, by packs.
struct Copied<'a> {
    from: &'a [f64],
    to: &'a mut [f64],
    length: usize,
}

impl Work for Copied<'_> {
    type Result = ();

    #[inline(always)]
    fn run<N: Pack>(self) {
        let strips = self.from.chunks(self.length).zip(self.to.chunks_mut(self.length));
        N::copy_past_caches(strips);
    }
}

#[test]
fn copies_past_the_caches_are_whole_wherever_they_begin_and_end() {
    let from: Vec<f64> = (0..200_u8).map(f64::from).collect();
    for level in Level::all() {
        for begin in 0..9 {
            for end in [begin, begin + 1, begin + 7, begin + 8, begin + 40, 195, 200] {
                for length in [1, 5, 8, 13, 64] {
                    let mut to = vec![f64::NAN; 200];
                    level.run(Copied {
                        from: &from[begin..end],
                        to: &mut to[begin..end],
                        length,
                    });
                    assert_eq!(to[begin..end], from[begin..end], "{level:?} {begin} {end} {length}");
                    let outside = to[..begin].iter().chain(&to[end..]);
                    assert!(
                        outside.into_iter().all(|number| number.is_nan()),
                        "{level:?} {begin} {end} {length}"
                    );
                }
            }
        }
    }
}

/// Memory that is asked for, from each of its numbers on, and from its end.
struct Fetched<'a>(&'a [f64]);

impl Work for Fetched<'_> {
    type Result = ();

    #[inline(always)]
    fn run<N: Pack>(self) {
        for begin in 0..=self.0.len() {
            N::fetch_to_write(&self.0[begin..]);
        }
        N::fetch_to_write(&[]);
    }
}

#[test]
fn memory_that_is_asked_for_stays_as_it_is() {
    let numbers: Vec<f64> = (0..200_u8).map(f64::from).collect();
    let asked_for = numbers.clone();
    for level in Level::all() {
        level.run(Fetched(&asked_for));
        assert_eq!(asked_for, numbers, "{level:?}");
    }
}

fn quantities() -> Vec<Quantity> {
    let places = strutsweep::Place::ALL.into_iter().map(Quantity::Place);
    Reading::ALL.into_iter().map(Quantity::Reading).chain(places).collect()
}

/// A sweep with every kind of axis: mounts, a knuckle setting, racks up to where the tie rod ends, and travels.
fn mixed(corner: &Corner, travel_at: TravelAt, order: [usize; 4]) -> (Sweep, [usize; 4]) {
    let values = [
        ("travel", Array::linspace(-55.0, 65.0, 11)),
        ("rack", Array::linspace(-130.0, 130.0, 7)),
        ("mount_in", Array::linspace(-21.0, 17.0, 5)),
        ("clamp", Array::linspace(-1.5, 2.5, 3)),
    ];
    let lengths: Vec<usize> = order.iter().map(|&axis| values[axis].1.len()).collect();
    let mut sweep = Sweep::new(corner, &lengths, travel_at).expect("a small grid");
    for (place, &axis) in order.iter().enumerate() {
        let (name, line) = &values[axis];
        let mut shape = vec![1; 4];
        shape[place] = line.len();
        let array = line.clone().into_shape_with_order(shape).expect("as many").into_dyn();
        sweep.input(name, &array.view()).expect("fits");
    }
    (sweep, order)
}

fn bits(swept: &Swept, order: [usize; 4], column: usize) -> ArrayD<u64> {
    let array = swept.column(column);
    let lead = array.ndim() - 4;
    // Back to the order travel, rack, mount, clamp.
    let mut back = vec![0; array.ndim()];
    for (axis, to) in back.iter_mut().enumerate().take(lead) {
        *to = axis;
    }
    for (place, &axis) in order.iter().enumerate() {
        back[lead + axis] = lead + place;
    }
    array
        .permuted_axes(back)
        .mapv(|v| if v.is_nan() { u64::MAX } else { v.to_bits() })
}

#[test]
fn the_same_bits_at_every_level_thread_count_and_order_of_axes() {
    let car = demo::car("gravel_hatch").expect("a demo car");
    let quantities = quantities();
    for corner in [&car.left, &car.right] {
        for travel_at in TravelAt::ALL {
            let plain = [0, 1, 2, 3];
            let (sweep, _) = mixed(corner, travel_at, plain);
            let watch = Watch::default();
            let portable = Level::named("portable").expect("every machine has it");
            let reference = sweep.run_at(portable, &quantities, 1, &watch).expect("runs");
            assert!(watch.followed() > 0, "some poses have to be followed along their path");
            for order in [plain, [1, 0, 3, 2], [3, 2, 1, 0], [2, 3, 0, 1]] {
                let (sweep, order) = mixed(corner, travel_at, order);
                for level in Level::all() {
                    for threads in [1, 2, 3] {
                        let swept = sweep
                            .run_at(level, &quantities, threads, &Watch::default())
                            .expect("runs");
                        for (column, quantity) in quantities.iter().enumerate() {
                            assert!(
                                bits(&swept, order, column) == bits(&reference, plain, column),
                                "{quantity:?} at {level:?} on {threads} threads, axes {order:?}"
                            );
                        }
                    }
                }
            }
        }
    }
}

#[test]
fn the_same_bits_whichever_readings_are_asked_for_and_however_a_grid_is_cut() {
    let car = demo::car("hillclimb_saloon").expect("a demo car");
    let travels = Array::linspace(-60.0, 60.0, 37);
    let mounts = Array::linspace(-20.0, 20.0, 19);
    let run = |travels: &ndarray::Array1<f64>, mounts: &ndarray::Array1<f64>, wanted: &[Quantity]| {
        let mut sweep = Sweep::new(&car.left, &[travels.len(), mounts.len()], TravelAt::Ground).expect("a small grid");
        let column = travels
            .clone()
            .into_shape_with_order((travels.len(), 1))
            .expect("as many")
            .into_dyn();
        let row = mounts
            .clone()
            .into_shape_with_order((1, mounts.len()))
            .expect("as many")
            .into_dyn();
        sweep.input("travel", &column.view()).expect("fits");
        sweep.input("mount_in", &row.view()).expect("fits");
        sweep.run(wanted, 1, &Watch::default()).expect("runs")
    };
    let all: Vec<Quantity> = Reading::ALL.into_iter().map(Quantity::Reading).collect();
    let whole = run(&travels, &mounts, &all);
    for (column, quantity) in all.iter().enumerate() {
        let alone = run(&travels, &mounts, &[*quantity]);
        assert_eq!(alone.column(0), whole.column(column), "{quantity:?}");
        for (from, to) in [(0, 1), (1, 9), (9, 37)] {
            for (left, right) in [(0, 3), (3, 19)] {
                let part = run(
                    &travels.slice_axis(Axis(0), Slice::from(from..to)).to_owned(),
                    &mounts.slice_axis(Axis(0), Slice::from(left..right)).to_owned(),
                    &[*quantity],
                );
                let cut = whole.column(column);
                let cut = cut.slice(ndarray::s![from..to, left..right]);
                assert_eq!(
                    part.column(0).into_dimensionality::<ndarray::Ix2>().expect("two axes"),
                    cut,
                    "{quantity:?}"
                );
            }
        }
    }
}

#[test]
fn poses_take_no_step_and_none_is_found_one_by_one() {
    // A slower convergence, or a short cut that trusts itself less, shows here before it shows in a stop watch.
    // A few at the far ends may miss by a little more than round-off.
    const MOST_AGAIN: f64 = 0.02;
    for name in ["hillclimb_saloon", "gravel_hatch"] {
        let car = demo::car(name).expect("a demo car");
        let mut sweep = Sweep::new(&car.left, &[41, 40], TravelAt::Ground).expect("a small grid");
        let travels = Array::linspace(-60.0, 60.0, 41)
            .into_shape_with_order((41, 1))
            .expect("as many")
            .into_dyn();
        let mounts = Array::linspace(-20.0, 20.0, 40)
            .into_shape_with_order((1, 40))
            .expect("as many")
            .into_dyn();
        sweep.input("travel", &travels.view()).expect("fits");
        sweep.input("mount_in", &mounts.view()).expect("fits");
        let watch = Watch::default();
        sweep.run(&quantities(), 1, &watch).expect("runs");
        assert_eq!(watch.done(), sweep.poses());
        assert_eq!(watch.followed(), 0, "{name}");
        let again = watch.again() as f64 / sweep.poses() as f64;
        assert!(
            again <= MOST_AGAIN,
            "{name}: {again} of the poses took a step of Newton's method"
        );
    }
}

#[test]
fn a_level_that_the_machine_has_not_is_named_with_those_it_has() {
    assert!(Level::named("sixteen").is_none());
    assert_eq!(Level::all().last().map(Level::name), Some("portable"));
    assert_eq!(Level::all().next(), Some(Level::best()));
}
