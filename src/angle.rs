//! Angles from arithmetic alone: arc tangent, sine and cosine.
//!
//! The machine's own library gives other last digits on other systems, and does not work on lanes. These run on any
//! [`Pack`] by the same operations in the same order, so that one pose and many give the same bits. Polynomials are
//! near-minimax (Chebyshev, 40 digits, rounded); errors are below two units in the last place, tested against an
//! arbitrary-precision library over the whole range.

use crate::number::Pack;

/// tan(pi/8): up to here the series of the arc tangent is used as it is.
const EIGHTH: f64 = 0.414_213_562_373_095_05;
/// pi/4 and pi/2, each with what its double leaves out.
const QUARTER_PI: [f64; 2] = [std::f64::consts::FRAC_PI_4, 3.061_616_997_868_383e-17];
const HALF_PI: [f64; 2] = [std::f64::consts::FRAC_PI_2, 6.123_233_995_736_766e-17];
const PI: [f64; 2] = [std::f64::consts::PI, 1.224_646_799_147_353_2e-16];

/// (atan(t)/t - 1)/t^2 in powers of t^2, up to tan(pi/8).
const ARC_TANGENT: [f64; 12] = [
    -0.333_333_333_333_333_3,
    0.199_999_999_999_998_04,
    -0.142_857_142_856_597_78,
    0.111_111_111_051_505_88,
    -0.090_909_087_532_591_13,
    0.076_922_963_680_422_97,
    -0.066_664_247_602_005_2,
    0.058_789_275_544_738_07,
    -0.052_304_436_406_867_48,
    0.045_515_447_340_221_616,
    -0.034_569_315_063_326_09,
    0.016_284_375_050_043_395,
];

/// (sin(t)/t - 1)/t^2 in powers of t^2, up to pi/4.
const SINE: [f64; 6] = [
    -0.166_666_666_666_666_44,
    0.008_333_333_333_330_701,
    -0.000_198_412_698_363_873_46,
    2.755_731_591_191_115_9e-6,
    -2.505_109_250_706_138_6e-8,
    1.591_532_321_227_143e-10,
];

/// (cos(t) - 1 + t^2/2)/t^4 in powers of t^2, up to pi/4.
const COSINE: [f64; 6] = [
    0.041_666_666_666_666_665,
    -0.001_388_888_888_888_724_2,
    0.000_024_801_587_298_533_455,
    -2.755_731_715_246_704e-7,
    2.087_612_165_887_116e-9,
    -1.138_087_694_816_971_6e-11,
];

/// A polynomial of an even number of coefficients: even and odd powers by Horner's rule each, side by side, so that no step
/// waits for all others.
#[inline(always)]
fn polynomial<N: Pack, const K: usize>(x: N, coefficients: &[f64; K]) -> N {
    let square = x * x;
    let mut even = N::constant(coefficients[K - 2]);
    let mut odd = N::constant(coefficients[K - 1]);
    let mut k = K - 2;
    while k > 1 {
        k -= 2;
        even = even * square + N::constant(coefficients[k]);
        odd = odd * square + N::constant(coefficients[k + 1]);
    }
    odd * x + even
}

/// The arc tangent of a number up to tan(pi/8).
#[inline(always)]
fn series<N: Pack>(t: N) -> N {
    let z = t * t;
    t + t * (z * polynomial(z, &ARC_TANGENT))
}

/// The angle of the point (`x`, `y`) in radians, -pi to pi; zero for the origin.
#[inline(always)]
pub fn arc_tangent<N: Pack>(y: N, x: N) -> N {
    let zero = N::constant(0.0);
    let (ax, ay) = (x.magnitude(), y.magnitude());
    // Comparisons lose a NaN; x - x brings it back, and is zero for any other number.
    #[allow(clippy::eq_op)]
    let no_number = x - x;
    // Within pi/8 of straight ahead in every lane, as angles of a wheel mostly are: what is left to do below comes to
    // this then, to the last bit. The least number there is keeps the origin out.
    let all = (1_u32 << N::LANES) - 1;
    if (x * N::constant(EIGHTH)).at_least(ay + N::constant(f64::MIN_POSITIVE)) == all {
        return series(y * x.recip() + no_number).with_sign_of(y);
    }
    let least = N::choose_less(ax, ay, ax, ay);
    let most = N::choose_less(ax, ay, ay, ax);
    // tan(a - pi/4) = (tan a - 1)/(tan a + 1): beyond pi/8 the series is taken about pi/4.
    let limit = most * N::constant(EIGHTH);
    let over = N::choose_less(limit, least, least - most, least);
    let under = N::choose_less(limit, least, least + most, most);
    // The origin has no angle; a divisor that is not zero makes it zero.
    let under = N::choose_less(zero, under, under, N::constant(1.0));
    let t = over * under.recip() + no_number;
    let about = |high: f64| N::choose_less(limit, least, N::constant(high), zero);
    let angle = about(QUARTER_PI[0]) + (series(t) + about(QUARTER_PI[1]));
    let angle = N::choose_less(
        ax,
        ay,
        N::constant(HALF_PI[0]) - (angle - N::constant(HALF_PI[1])),
        angle,
    );
    let angle = N::choose_less(x, zero, N::constant(PI[0]) - (angle - N::constant(PI[1])), angle);
    angle.with_sign_of(y)
}

/// Sine and cosine of an angle in radians, for angles up to some thousand turns.
#[inline(always)]
pub fn sine_and_cosine<N: Pack>(angle: N) -> (N, N) {
    // Adding and taking away this rounds to a whole number.
    const ROUND: f64 = 6_755_399_441_055_744.0;
    // pi/2 in parts of 33 bits, so that whole multiples of the first two are exact.
    const PARTS: [f64; 3] = [
        1.570_796_326_734_125_6,
        6.077_100_506_303_966e-11,
        2.022_266_248_795_950_7e-21,
    ];
    let round = N::constant(ROUND);
    let quarters = (angle * N::constant(std::f64::consts::FRAC_2_PI) + round) - round;
    let t = angle - quarters * N::constant(PARTS[0]);
    let t = t - quarters * N::constant(PARTS[1]);
    let t = t - quarters * N::constant(PARTS[2]);
    let z = t * t;
    let sine = t + t * (z * polynomial(z, &SINE));
    let cosine = (N::constant(1.0) - z * N::constant(0.5)) + z * z * polynomial(z, &COSINE);
    // Which quarter turn: -2, -1, 0, 1 or 2 of every four.
    let fourth = quarters * N::constant(0.25);
    let turn = quarters - ((fourth + round) - round) * N::constant(4.0);
    let odd = turn.magnitude() - N::constant(1.0);
    // |turn| = 1 swaps the two; the sign of either follows from the quarter.
    let is_odd = odd.magnitude();
    let half = N::constant(0.5);
    let (s, c) = (
        N::choose_less(is_odd, half, cosine, sine),
        N::choose_less(is_odd, half, sine, cosine),
    );
    let beyond_one = N::constant(1.5);
    let s = N::choose_less(beyond_one, turn.magnitude(), -s, N::choose_less(turn, -half, -s, s));
    let c = N::choose_less(beyond_one, turn.magnitude(), -c, N::choose_less(half, turn, -c, c));
    (s, c)
}
