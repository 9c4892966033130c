//! The arm's angle for any travel of one corner with one setting and one rack position: the fast way to t.
//!
//! [`Linkage::place`] is closed form once t, the tangent of half the arm's angle, is known. For travel measured at the
//! strut t is closed form too. For travel at the ground or at the hub it is the root of one scalar equation, z(t) =
//! travel. A [`Track`] has z at a few fixed arm angles, and through them a polynomial for t over z: inverse
//! interpolation. Nothing is solved for, and within the angles it knows t for any travel nearly to round-off, and dt/dz
//! with it; beyond them a step or two of Newton's method with that slope do the rest.
//!
//! Which root this is, is another question: see [`crate::rig`].

use crate::linkage::{Knuckle, Linkage};
use crate::motion::TravelAt;
use crate::number::{Number, Pack};
use crate::space::Point;

/// Arm angles at which a track knows the travel: as many as leave some 1e-12 mm between them.
const NODES: usize = 14;
/// Tangents of half those angles: Chebyshev's places (where the error of interpolation is even all over) up to 0.12, an
/// arm angle of 13.7 deg, 80 mm of travel for a lower arm of common length. They are the same for every grid, so that a
/// pose has the same bits in each.
const NODE_TANGENTS: [f64; NODES] = {
    const REACH: f64 = 0.12;
    // cos((2k + 1) pi/28)
    const COSINES: [f64; NODES / 2] = [
        0.993_712_209_893_242_6,
        0.943_883_330_308_367_6,
        0.846_724_199_228_284_1,
        std::f64::consts::FRAC_1_SQRT_2,
        0.532_032_076_515_336_6,
        0.330_279_061_955_167_1,
        0.111_964_476_103_307_69,
    ];
    let mut tangents = [0.0; NODES];
    let mut k = 0;
    while k < NODES / 2 {
        tangents[k] = -REACH * COSINES[k];
        tangents[NODES - 1 - k] = REACH * COSINES[k];
        k += 1;
    }
    tangents
};

/// Nearer to the wanted travel than this, no step is taken.
pub const CLOSE_MM: f64 = 1e-11;
/// The most that a pose may miss the wanted travel by.
pub const MOST_MISS_MM: f64 = 1e-9;
/// Steps after which a pose that is still far is left to others.
const MOST_STEPS: usize = 3;

/// One corner with one setting and one rack position, ready for any travel.
#[derive(Clone, Copy, Debug)]
pub struct Track<N> {
    /// The inner tie-rod joint.
    pub inner: Point<N>,
    travel_at: TravelAt,
    /// Travel at each of the nodes.
    travels: [N; NODES],
    /// Newton's divided differences of t over travel, from the first node on.
    differences: [N; NODES],
}

/// Where a track leads for one travel.
#[derive(Clone, Copy, Debug)]
pub struct Guess<N> {
    /// The tangent of half the arm's angle.
    t: N,
    /// dt/dz at the wanted travel.
    per_rise: N,
}

impl<N: Number> Track<N> {
    /// The track of a linkage with its rack moved by `rack`.
    #[inline(always)]
    pub fn new(linkage: &Linkage<N>, rack: N, travel_at: TravelAt) -> Self {
        let inner = linkage.inner_at(rack);
        let mut differences = [N::constant(0.0); NODES];
        let mut travels = differences;
        let mut k = 0;
        while k < NODES {
            differences[k] = N::constant(NODE_TANGENTS[k]);
            travels[k] = linkage.travel_of(&linkage.place(differences[k], inner), travel_at);
            k += 1;
        }
        // The table of differences column by column, each in the place of the last. Two at a time: a division costs more
        // than three products.
        let mut order = 1;
        while order < NODES {
            let mut k = NODES - 1;
            while k > order {
                let [upper, lower] = [travels[k] - travels[k - order], travels[k - 1] - travels[k - 1 - order]];
                let per_both = (upper * lower).recip();
                differences[k] = (differences[k] - differences[k - 1]) * (lower * per_both);
                differences[k - 1] = (differences[k - 1] - differences[k - 2]) * (upper * per_both);
                k -= 2;
            }
            if k == order {
                differences[k] = (differences[k] - differences[k - 1]) / (travels[k] - travels[k - order]);
            }
            order += 1;
        }
        Self {
            inner,
            travel_at,
            travels,
            differences,
        }
    }

    /// Where the polynomial leads: t and its slope, by Horner's rule for Newton's form.
    #[inline(always)]
    pub fn guess(&self, travel: N) -> Guess<N> {
        let mut k = NODES - 1;
        let mut t = self.differences[k];
        let mut per_rise = N::constant(0.0);
        while k > 0 {
            k -= 1;
            let beyond = travel - self.travels[k];
            per_rise = per_rise * beyond + t;
            t = t * beyond + self.differences[k];
        }
        Guess { t, per_rise }
    }
}

impl<N: Pack> Track<N> {
    /// The knuckle at one angle of the arm, and by how much its travel misses the wanted one.
    #[inline(always)]
    fn look(&self, linkage: &Linkage<N>, t: N, travel: N) -> (Knuckle<N>, N) {
        let knuckle = linkage.place(t, self.inner);
        let miss = linkage.travel_of(&knuckle, self.travel_at) - travel;
        (knuckle, miss)
    }

    /// Find the arm's angle for a travel, place the knuckle, and say where the pose found is beyond doubt the right one.
    ///
    /// Beyond doubt means: the travel is met, the arm has turned by no more than 40 deg, strut and tie rod are well off
    /// their dead centres, and the wheel's rise per arm angle is near the ball joint's at design. That the inputs are
    /// small, too, is for the caller to see to.
    #[inline(always)]
    pub fn arrive(&self, linkage: &Linkage<N>, travel: N, guess: Guess<N>) -> Arrival<N> {
        let mut guess = guess;
        if self.travel_at == TravelAt::Strut {
            guess.t = linkage.arm_for_compression(travel).0;
        }
        let (mut knuckle, mut miss) = self.look(linkage, guess.t, travel);
        let close = N::constant(CLOSE_MM);
        let mut again = 0;
        let mut steps = 0;
        while steps < MOST_STEPS && self.travel_at != TravelAt::Strut {
            let far = miss.magnitude();
            let moving = far.at_least(close);
            if moving == 0 {
                break;
            }
            // Each lane decides for itself whether it moves, so that no neighbour changes its last digits.
            guess.t = N::choose_less(far, close, guess.t, guess.t - miss * guess.per_rise);
            (knuckle, miss) = self.look(linkage, guess.t, travel);
            again |= moving;
            steps += 1;
        }
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
    /// Lanes in which the track had to be helped by a step of Newton's method.
    pub again: u32,
}
