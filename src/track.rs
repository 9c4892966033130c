//! The arm's angle for any travel of one corner with one setting and one rack position: the fast way to t.
//!
//! [`Linkage::place`] is closed form once t, the tangent of half the arm's angle, is known. For travel measured at the
//! strut t is closed form too. For travel at the ground or at the hub it is the root of one scalar equation, z(t) =
//! travel. A [`Track`] has the Taylor polynomial of z about the arm's angle at zero travel, carried through the very
//! formulas of the linkage by [`Series`], and its inverse. So it knows t, and dt/dz, for any travel to a few parts in a
//! million; a step or two of Newton's method with that slope leave round-off.
//!
//! Which root this is, is another question: see [`crate::rig`].

use crate::linkage::{Knuckle, Linkage};
use crate::motion::TravelAt;
use crate::number::{Dual, Number, Over, Pack, Series};
use crate::space::Point;

/// Terms of the Taylor polynomial of travel over t, from the constant upwards: up to the sixth power.
const TERMS: usize = 7;

/// Nearer to the wanted travel than this, no further step is taken: the one just made has left less than a thousandth
/// of it.
pub const CLOSE_MM: f64 = 1e-7;
/// The most that a pose may miss the wanted travel by.
pub const MOST_MISS_MM: f64 = 1e-9;

/// One corner with one setting and one rack position, ready for any travel.
#[derive(Clone, Copy, Debug)]
pub struct Track<N> {
    /// The inner tie-rod joint.
    pub inner: Point<N>,
    travel_at: TravelAt,
    /// Where the polynomial stands, and the travel there.
    t: N,
    travel: N,
    /// dt/dz there.
    per_rise: N,
    /// Coefficients of y^2 to y^6 in t - t0, y = (z - z0) dt/dz.
    inverse: [N; TERMS - 2],
}

/// Where a track leads for one travel.
#[derive(Clone, Copy, Debug)]
pub struct Guess<N> {
    /// The tangent of half the arm's angle.
    pub t: N,
    /// dt/dz at the wanted travel.
    pub per_rise: N,
}

impl<N: Number> Track<N> {
    /// The track of a linkage with its rack moved by `rack`.
    #[inline(always)]
    pub fn new(linkage: &Linkage<N>, rack: N, travel_at: TravelAt) -> Self {
        let inner = linkage.inner_at(rack);
        let zero = N::constant(0.0);
        // One step of Newton's method towards zero travel: a setting shifts it a little.
        let t = if travel_at == TravelAt::Strut {
            zero
        } else {
            let at_design = travel_along::<N, Dual<N>>(linkage, inner, Dual::variable(zero, 0), travel_at);
            -(at_design.value * at_design.slope[0].recip())
        };
        let z = travel_along::<N, Series<N, TERMS>>(linkage, inner, Series::variable(t), travel_at).coefficients;
        let per_rise = z[1].recip();
        Self {
            inner,
            travel_at,
            t,
            travel: z[0],
            per_rise,
            inverse: inverse_series(&z, per_rise),
        }
    }

    /// Where the polynomial leads.
    #[inline(always)]
    pub fn guess(&self, travel: N) -> Guess<N> {
        let y = (travel - self.travel) * self.per_rise;
        let [c2, c3, c4, c5, c6] = self.inverse;
        let times = |c: N, by: f64| c * N::constant(by);
        let offset = y + y * y * (c2 + y * (c3 + y * (c4 + y * (c5 + y * c6))));
        let slope = N::constant(1.0)
            + y * (times(c2, 2.0)
                + y * (times(c3, 3.0) + y * (times(c4, 4.0) + y * (times(c5, 5.0) + y * times(c6, 6.0)))));
        Guess {
            t: self.t + offset,
            per_rise: self.per_rise * slope,
        }
    }
}

impl<N: Pack> Track<N> {
    /// The tangent of half the arm's angle for a travel, and dt/dz there; the caller verifies it where it reads the pose.
    ///
    /// Beside them, the lanes that needed a second step.
    #[inline(always)]
    pub fn settle(&self, linkage: &Linkage<N>, travel: N) -> (Guess<N>, u32) {
        let mut guess = self.guess(travel);
        if self.travel_at == TravelAt::Strut {
            guess.t = linkage.arm_for_compression(travel).0;
            return (guess, 0);
        }
        let close = N::constant(CLOSE_MM);
        let mut miss = self.miss(linkage, guess.t, travel);
        guess.t = guess.t - miss * guess.per_rise;
        // Each lane decides for itself whether it moves again, so that no neighbour changes its last digits.
        let far = miss.magnitude();
        let again = far.at_least(close);
        if again != 0 {
            miss = self.miss(linkage, guess.t, travel);
            let next = guess.t - miss * guess.per_rise;
            guess.t = N::choose_less(far, close, guess.t, next);
        }
        (guess, again)
    }

    #[inline(always)]
    fn miss(&self, linkage: &Linkage<N>, t: N, travel: N) -> N {
        let knuckle = linkage.place(t, self.inner);
        linkage.travel_of(&knuckle, self.travel_at) - travel
    }

    /// Settle, place the knuckle, and say where the pose found is beyond doubt the right one.
    ///
    /// Beyond doubt means: the travel is met, the arm has turned by no more than 40 deg, strut and tie rod are well off
    /// their dead centres, and the wheel's rise per arm angle is near the ball joint's at design. That the inputs are
    /// small, too, is for the caller to see to.
    #[inline(always)]
    pub fn arrive(&self, linkage: &Linkage<N>, travel: N) -> Arrival<N> {
        let (guess, again) = self.settle(linkage, travel);
        let knuckle = linkage.place(guess.t, self.inner);
        let miss = linkage.travel_of(&knuckle, self.travel_at) - travel;
        let least = |value: N, least: f64| value.at_least(N::constant(least));
        // Rise of the travel's measure against the ball joint's at design, upside down.
        let rise = guess.per_rise * (linkage.arm.quarter.z + linkage.arm.quarter.z);
        let [least_rise, most_rise] = RISE;
        let rod_least = knuckle.rod_scale_at_outer * N::constant(4.0 * MARGIN * MARGIN);
        let safe = least(-miss.magnitude(), -MOST_MISS_MM)
            & least(-guess.t.magnitude(), -TANGENT)
            & least(knuckle.strut_share_squared(), MARGIN * MARGIN)
            & least(knuckle.rod_scale_at_outer, 0.0)
            & knuckle.rod_radicand.at_least(rod_least)
            & least(rise, 1.0 / most_rise)
            & least(-rise, -1.0 / least_rise);
        Arrival {
            t: guess.t,
            knuckle,
            safe,
            again,
        }
    }
}

/// Tangent of half the largest arm angle, 40 deg, at which a pose is beyond doubt.
const TANGENT: f64 = 0.36;
/// The least cosine between strut and steering axis, and sine between tie rod and arm, of a pose beyond doubt.
pub const MARGIN: f64 = 0.2;
/// The band of the wheel's rise against the ball joint's at design within which a pose is beyond doubt.
pub const RISE: [f64; 2] = [0.5, 2.0];

/// A pose found.
#[derive(Clone, Copy, Debug)]
pub struct Arrival<N> {
    /// The tangent of half the arm's angle.
    pub t: N,
    /// The knuckle placed there.
    pub knuckle: Knuckle<N>,
    /// Lanes in which the pose is beyond doubt the right one.
    pub safe: u32,
    /// Lanes in which a second step of Newton's method was needed.
    pub again: u32,
}

/// Travel as the arm turns, over a number that remembers how.
#[inline(always)]
fn travel_along<N: Number, M: Over<N>>(linkage: &Linkage<N>, inner: Point<N>, t: M, travel_at: TravelAt) -> M {
    let linkage = linkage.lifted::<M>();
    let knuckle = linkage.place(t, inner.lifted());
    linkage.travel_of(&knuckle, travel_at)
}

/// Coefficients of y^2 to y^6 in the inverse of z = z0 + z1 (x + b2 x^2 + ... + b6 x^6), with y = (z - z0)/z1: reversion
/// of series (Abramowitz and Stegun, Handbook of Mathematical Functions, 1964, 3.6.25).
#[inline(always)]
fn inverse_series<N: Number>(z: &[N; TERMS], per_z1: N) -> [N; TERMS - 2] {
    let times = |a: N, by: f64| a * N::constant(by);
    let [b2, b3, b4, b5, b6] = [
        z[2] * per_z1,
        z[3] * per_z1,
        z[4] * per_z1,
        z[5] * per_z1,
        z[6] * per_z1,
    ];
    let b2_2 = b2 * b2;
    let b2_3 = b2_2 * b2;
    [
        -b2,
        times(b2_2, 2.0) - b3,
        times(b2 * b3, 5.0) - times(b2_3, 5.0) - b4,
        times(b2_2 * b2_2, 14.0) - times(b2_2 * b3, 21.0) + times(b3 * b3, 3.0) + times(b2 * b4, 6.0) - b5,
        times(b2_3 * b3, 84.0) - times(b2_3 * b2_2, 42.0) - times(b2 * b3 * b3, 28.0) - times(b2_2 * b4, 28.0)
            + times(b3 * b4, 7.0)
            + times(b2 * b5, 7.0)
            - b6,
    ]
}
