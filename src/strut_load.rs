//! What a load at the tyre does to the strut: spring force, side force on the damper rod, and the wheel rate.
//!
//! A free body of wheel, knuckle and strut, damper rod included, with nothing but statics in it: no mass, no friction.
//! The load acts at the contact centre. The lower arm, free to turn about its axis, holds the ball joint with a force
//! in the plane of that axis and the ball joint; the tie rod pulls or pushes along itself; the body holds the rod at
//! the strut-top pivot, square to the strut, for along it the rod slides; and the spring pushes the strut's tube along
//! the line of its two seats. Six unknowns, six equations.
//!
//! Written about the top pivot T, with p and a the arm's two directions at the ball joint B, d the tie rod's at its
//! outer joint O and e the spring's at its lower seat L, the moments alone are three equations in three of them,
//!
//! (B - T) x (f p + g a) + (O - T) x h d + (L - T) x S e + (C - T) x F = 0,
//!
//! and that nothing is left along the strut u, u.(f p + g a + h d + S e + F) = 0, is the fourth, for S.

use crate::corner::{Corner, Side};
use crate::error::ReachError;
use crate::linkage::{Knuckle, Linkage};
use crate::motion::{Motion, TravelAt};
use crate::number::{Dual, Number};
use crate::pose::SolveError;
use crate::rig::Rig;
use crate::setting::Setting;
use crate::space::{Line, Point, Turn, Vector};

/// The spring's two seats at design, as the left corner has them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seats {
    /// Centre of the spring's upper end, held by the top mount.
    pub upper: Point,
    /// Centre of its lower end, fixed to the strut's tube.
    pub lower: Point,
}

/// What holds a loaded wheel, in N and in the ground's axes of the corner's own side of the car.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Held {
    /// Force of the spring along the strut; a compressed spring is positive.
    pub spring_n: f64,
    /// Force of the body on the damper rod at the top pivot, square to the strut.
    pub side_force_n: Vector,
    /// Force of the lower arm on the ball joint.
    pub ball_joint_n: Vector,
    /// Tension of the tie rod.
    pub tie_rod_n: f64,
    /// Where the spring's lower end would have to stand, its upper end staying where it is, for no side force: how far
    /// from where it is, square to the strut.
    pub cure_mm: Vector,
    /// The strut's own direction, upwards.
    pub strut_axis: Vector,
    /// Shortening of the strut for a rise of the contact centre.
    pub motion_ratio: f64,
    /// How that ratio changes with the contact centre's rise.
    pub motion_ratio_change_per_mm: f64,
    /// Shortening of the strut from design.
    pub strut_compression_mm: f64,
}

/// The three shares that columns `a`, `b`, `c` need to make `sum`, by Cramer's rule; infinite or NaN where they lie in
/// one plane.
fn shares(a: Vector, b: Vector, c: Vector, sum: Vector) -> [f64; 3] {
    let per_volume = a.dot(b.cross(c)).recip();
    [
        sum.dot(b.cross(c)) * per_volume,
        a.dot(sum.cross(c)) * per_volume,
        a.dot(b.cross(sum)) * per_volume,
    ]
}

/// What holds the knuckle beside spring and damper rod: directions at their places, from the point moments are taken
/// about.
struct Links {
    arms: [Vector; 3],
    ways: [Vector; 3],
}

impl Links {
    fn of(linkage: &Linkage, knuckle: &Knuckle, inner: Point, about: Point) -> Self {
        let ball = knuckle.ball_joint;
        let across = linkage.arm.start.cross(linkage.arm.quarter).unit();
        let outer = linkage.outer(knuckle);
        Self {
            arms: [ball - about, ball - about, outer - about],
            ways: [(ball - linkage.arm.centre).unit(), across, (inner - outer).unit()],
        }
    }

    /// The forces that balance a moment.
    fn against(&self, moment: Vector) -> [f64; 3] {
        let column = |i: usize| self.arms[i].cross(self.ways[i]);
        shares(column(0), column(1), column(2), -moment)
    }

    fn sum(&self, shares: [f64; 3]) -> Vector {
        self.ways[0] * shares[0] + self.ways[1] * shares[1] + self.ways[2] * shares[2]
    }
}

/// What holds a left corner's wheel that the ground pushes with `load`, N, at the contact centre.
fn held(linkage: &Linkage, knuckle: &Knuckle, inner: Point, contact: Point, seats: Seats, load: Vector) -> Held {
    let top = linkage.top;
    let strut_axis = linkage.strut_axis(knuckle);
    let line = (seats.upper - seats.lower).unit();
    // The spring pushes the tube down its own line.
    let push = -line;
    let links = Links::of(linkage, knuckle, inner, top);
    let of_load = links.against((contact - top).cross(load));
    let of_spring = links.against((seats.lower - top).cross(push));
    let along = |force: Vector| strut_axis.dot(force);
    let spring = -along(load + links.sum(of_load)) / along(push + links.sum(of_spring));
    let link_shares = std::array::from_fn(|i| of_load[i] + spring * of_spring[i]);
    let left_over = load + links.sum(link_shares) + push * spring;
    // Without the rod's help the spring has to push through its upper seat in whatever direction balance asks.
    let without_rod = Links::of(linkage, knuckle, inner, seats.upper);
    let asked = -(load + without_rod.sum(without_rod.against((contact - seats.upper).cross(load))));
    let down = (seats.lower - seats.upper).dot(strut_axis);
    let wanted_lower = seats.upper + asked * (down / asked.dot(strut_axis));
    Held {
        spring_n: spring * line.dot(strut_axis),
        side_force_n: -left_over,
        ball_joint_n: links.ways[0] * link_shares[0] + links.ways[1] * link_shares[1],
        tie_rod_n: link_shares[2],
        cure_mm: wanted_lower - seats.lower,
        strut_axis,
        motion_ratio: f64::NAN,
        motion_ratio_change_per_mm: f64::NAN,
        strut_compression_mm: linkage.strut_compression(knuckle),
    }
}

/// The motion ratio to the contact centre and its change with the contact centre's rise, both exact: second
/// derivatives of compression and rise along the arm's motion.
fn motion_ratio(linkage: &Linkage, t: f64, inner: Point) -> [f64; 2] {
    // Dual numbers over dual numbers carry a second derivative.
    let lifted = linkage.lifted::<Dual<f64>>().lifted::<Dual<Dual<f64>>>();
    let arm = Dual {
        value: Dual::variable(t, 0),
        slope: [Dual::constant(1.0)],
    };
    let knuckle = lifted.place(arm, inner.lifted::<Dual<f64>>().lifted());
    let derivatives = |of: Dual<Dual<f64>>| (of.slope[0].value, of.slope[0].slope[0]);
    let (c1, c2) = derivatives(lifted.strut_compression(&knuckle));
    let (z1, z2) = derivatives(lifted.travel_of(&knuckle, TravelAt::Ground));
    [c1 / z1, (c2 * z1 - c1 * z2) / (z1 * z1 * z1)]
}

impl Corner {
    /// What holds this corner's wheel in a pose when the ground pushes it with `load`, N, in the car's axes. `seats`
    /// are the spring's, as the left corner has them at design; on the strut axis, its ends at `strut_top` and
    /// `strut_low`, unless given.
    ///
    /// # Errors
    /// As [`Corner::solve`].
    pub fn hold(
        &self,
        setting: &Setting,
        motion: &Motion,
        travel_at: TravelAt,
        seats: Option<Seats>,
        load: Vector,
    ) -> Result<Held, SolveError> {
        let pose = self.solve(setting, motion, travel_at)?;
        let points = self.left_twin();
        let twin = motion.of_left_twin(self.side());
        let rig = Rig::new(&points, setting);
        let t = rig.reach(&twin, travel_at).map_err(|status| ReachError { status })?;
        let linkage = rig.linkage_in(&twin);
        let inner = linkage.inner_at(twin.rack_mm);
        let knuckle = linkage.place(t, inner);
        let seats = seats.unwrap_or(Seats {
            upper: points.strut_top,
            lower: points.strut_low,
        });
        // The tube's own axes, as the linkage has them: up the strut, forward, across.
        let along = Line::through(points.strut_low, points.strut_top).direction;
        let fore = Vector::new(1.0, 0.0, 0.0).without(along).unit();
        let on_tube = seats.lower - points.strut_low;
        let on_tube = Vector::new(on_tube.dot(along), on_tube.dot(fore), on_tube.dot(along.cross(fore)));
        let turn = Turn::by(twin.roll_deg.to_radians());
        let now = Seats {
            upper: linkage.top + (seats.upper - points.strut_top).rolled(turn),
            lower: linkage.strut_low(&knuckle) + knuckle.carry(&linkage.knuckle.carried(on_tube)),
        };
        let mirror = |vector: Vector| match self.side() {
            Side::Left => vector,
            Side::Right => vector.mirrored(),
        };
        let contact = match self.side() {
            Side::Left => pose.place(crate::pose::Place::ContactCentre),
            Side::Right => pose.place(crate::pose::Place::ContactCentre).mirrored(),
        };
        let held = held(&linkage, &knuckle, inner, contact, now, mirror(load));
        let [motion_ratio, motion_ratio_change_per_mm] = motion_ratio(&linkage, t, inner);
        Ok(Held {
            side_force_n: mirror(held.side_force_n),
            ball_joint_n: mirror(held.ball_joint_n),
            cure_mm: mirror(held.cure_mm),
            strut_axis: mirror(held.strut_axis),
            motion_ratio,
            motion_ratio_change_per_mm,
            ..held
        })
    }
}
