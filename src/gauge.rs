//! From a placed knuckle to its readings, and to the places of its points.
//!
//! Everything is a left corner's, in millimetres and radians; [`read`] is the one place where radians become degrees.
//!
//! Write s for the spin axis, n = Z for the ground normal, e for the steering axis, B its ball joint, W the wheel
//! centre, C the contact centre, G where the steering axis meets the ground plane through C, h for s flattened on the
//! ground and x for the wheel's heading, square to h.

use crate::linkage::{Knuckle, Linkage};
use crate::motion::TravelAt;
use crate::number::{Angular, Dual, Number};
use crate::reading::{READING_COUNT, Reading, Wanted};
use crate::space::{Point, Vector};

/// A placed knuckle with its wheel on level ground: what every reading is made of.
#[derive(Clone, Copy, Debug)]
pub struct Stance<'a, N = f64> {
    linkage: &'a Linkage<N>,
    knuckle: &'a Knuckle<N>,
    /// Wheel centre W.
    pub wheel_centre: Point<N>,
    /// Contact centre C.
    pub contact_centre: Point<N>,
    spin_axis: Vector<N>,
    /// Length of s flattened on the ground: cosine of camber.
    level: N,
    /// h
    outboard: Vector<N>,
    /// 1/e.z
    per_rise: N,
}

impl<'a, N: Number> Stance<'a, N> {
    /// The stance of a placed knuckle.
    #[inline(always)]
    pub fn new(linkage: &'a Linkage<N>, knuckle: &'a Knuckle<N>) -> Self {
        let wheel_centre = linkage.wheel_centre(knuckle);
        let spin_axis = linkage.spin_axis(knuckle);
        let level = (N::constant(1.0) - spin_axis.z * spin_axis.z).sqrt();
        let per_level = level.recip();
        let outboard = Vector::new(spin_axis.x * per_level, spin_axis.y * per_level, N::constant(0.0));
        // C = W - r k with k = unit(Z - s.z s) = (-s.z h, level).
        let radius = linkage.wheel_radius;
        let sideways = radius * spin_axis.z;
        let contact_centre = Point::new(
            wheel_centre.x + sideways * outboard.x,
            wheel_centre.y + sideways * outboard.y,
            wheel_centre.z - radius * level,
        );
        Self {
            linkage,
            knuckle,
            wheel_centre,
            contact_centre,
            spin_axis,
            level,
            outboard,
            per_rise: knuckle.axis.z.recip(),
        }
    }

    /// Where the steering axis stands at this height.
    #[inline(always)]
    fn axis_at(&self, height: N) -> Point<N> {
        let knuckle = self.knuckle;
        knuckle.ball_joint + knuckle.axis * ((height - knuckle.ball_joint.z) * self.per_rise)
    }

    /// Where the steering axis meets the ground plane through the contact centre: G.
    #[inline(always)]
    pub fn axis_at_ground(&self) -> Point<N> {
        self.axis_at(self.contact_centre.z)
    }

    /// How far inboard of a point the steering axis stands, at the point's height.
    #[inline(always)]
    fn offset_mm(&self, at: Point<N>) -> N {
        let apart = at - self.axis_at(at.z);
        apart.x * self.outboard.x + apart.y * self.outboard.y
    }

    /// How far ahead of a point the steering axis stands, at the point's height; x = (h.y, -h.x).
    #[inline(always)]
    fn trail_mm(&self, at: Point<N>) -> N {
        let apart = self.axis_at(at.z) - at;
        apart.x * self.outboard.y - apart.y * self.outboard.x
    }
}

impl<N: Angular> Stance<'_, N> {
    #[inline(always)]
    fn camber_rad(&self) -> N {
        // asin(-s.z), by both legs of the triangle: as sharp near 90 degrees as near zero.
        (-self.spin_axis.z).arc_tangent(self.level)
    }

    #[inline(always)]
    fn toe_rad(&self) -> N {
        self.spin_axis.x.arc_tangent(self.spin_axis.y)
    }

    #[inline(always)]
    fn caster_rad(&self) -> N {
        (-self.knuckle.axis.x).arc_tangent(self.knuckle.axis.z)
    }

    #[inline(always)]
    fn kingpin_inclination_rad(&self) -> N {
        (-self.knuckle.axis.y).arc_tangent(self.knuckle.axis.z)
    }

    #[inline(always)]
    fn bearing_angle_rad(&self) -> N {
        let strut_axis = self.linkage.strut_axis(self.knuckle);
        let bearing_axis = self.linkage.bearing_axis;
        strut_axis
            .cross(bearing_axis)
            .length()
            .arc_tangent(strut_axis.dot(bearing_axis))
    }

    /// Write the wanted readings that need no derivative.
    #[inline(always)]
    fn read(&self, wanted: Wanted, to: &mut [N; READING_COUNT]) {
        let mut put = |reading: Reading, value: N| to[reading as usize] = value;
        let included = wanted.has(Reading::IncludedAngle);
        if included || wanted.has(Reading::Camber) || wanted.has(Reading::KingpinInclination) {
            let camber = self.camber_rad().to_degrees();
            let kingpin_inclination = self.kingpin_inclination_rad().to_degrees();
            put(Reading::Camber, camber);
            put(Reading::KingpinInclination, kingpin_inclination);
            put(Reading::IncludedAngle, camber + kingpin_inclination);
        }
        if wanted.has(Reading::Toe) {
            put(Reading::Toe, self.toe_rad().to_degrees());
        }
        if wanted.has(Reading::Caster) {
            put(Reading::Caster, self.caster_rad().to_degrees());
        }
        put(Reading::ScrubRadius, self.offset_mm(self.contact_centre));
        put(Reading::MechanicalTrail, self.trail_mm(self.contact_centre));
        if wanted.has(Reading::HubOffset) || wanted.has(Reading::HubTrail) {
            put(Reading::HubOffset, self.offset_mm(self.wheel_centre));
            put(Reading::HubTrail, self.trail_mm(self.wheel_centre));
        }
        put(Reading::HalfTrack, self.contact_centre.y);
        put(
            Reading::WheelbaseShift,
            self.contact_centre.x - self.linkage.design.contact_centre.x,
        );
        put(Reading::StrutCompression, self.linkage.strut_compression(self.knuckle));
        if wanted.has(Reading::BearingAngle) {
            put(Reading::BearingAngle, self.bearing_angle_rad().to_degrees());
        }
        if wanted.has(Reading::TieRodMargin) {
            put(Reading::TieRodMargin, self.knuckle.tie_rod_margin());
        }
    }
}

/// Write the wanted readings of a placed knuckle at the user's face, in millimetres and degrees, each at its place in
/// [`Reading::ALL`]; others are left as they are or written too, whichever costs less. Rates are not among them.
#[inline(always)]
pub fn read<N: Angular>(stance: &Stance<'_, N>, wanted: Wanted, to: &mut [N; READING_COUNT]) {
    stance.read(wanted, to);
}

/// As [`read`], with the rates: the knuckle is placed on dual numbers, whose one direction is any motion of the arm.
/// Gives the instant centre of the wheel in front view, in the plane X of the contact centre.
#[inline(always)]
pub fn read_with_rates<N: Angular>(
    stance: &Stance<'_, Dual<N>>,
    travel_at: TravelAt,
    wanted: Wanted,
    to: &mut [N; READING_COUNT],
) -> Point<N> {
    let mut plain = [Dual::constant(0.0); READING_COUNT];
    stance.read(wanted, &mut plain);
    for (to, plain) in to.iter_mut().zip(plain) {
        *to = plain.value;
    }
    let rate = |of: Dual<N>| of.slope[0];
    let mut put = |reading: Reading, value: N| to[reading as usize] = value;
    let contact = stance.contact_centre;
    let contact_rise = rate(contact.z);
    let wheel_rise = match travel_at {
        TravelAt::Hub => rate(stance.wheel_centre.z),
        // The strut's own travel would make its motion ratio one and every gain a gain per spring travel.
        TravelAt::Ground | TravelAt::Strut => contact_rise,
    };
    let per_travel = wheel_rise.recip();
    let camber_rate = rate(stance.camber_rad());
    put(Reading::CamberGain, (camber_rate * per_travel).to_degrees());
    put(Reading::BumpSteer, (rate(stance.toe_rad()) * per_travel).to_degrees());
    put(
        Reading::CasterGain,
        (rate(stance.caster_rad()) * per_travel).to_degrees(),
    );
    let compression = stance.linkage.strut_compression(stance.knuckle);
    put(Reading::MotionRatio, rate(compression) * per_travel);
    // Planar motion about an instant centre IC turns the wheel by -d(camber) and lifts C by L = C.y - IC.y per radian;
    // the normal to the path of C passes through it.
    let sideways = rate(contact.y) * contact_rise.recip();
    let swing_arm = -(contact_rise * camber_rate.recip());
    put(Reading::RollCentreHeight, contact.y.value * sideways);
    put(Reading::SwingArmLength, swing_arm);
    if wanted.has(Reading::AntiDiveAngle) || wanted.has(Reading::SideViewSwingArm) {
        let locked = velocity_of_locked_point(stance, contact);
        put(
            Reading::AntiDiveAngle,
            (locked.x * locked.z.recip()).arc_tangent(N::constant(1.0)).to_degrees(),
        );
        if wanted.has(Reading::SideViewSwingArm) {
            // In the plane of constant Y through C, v = v_C + pitch x (dx, 0, dz) vanishes at dx = v_C.z / pitch.
            put(Reading::SideViewSwingArm, -(locked.z * pitch_rate(stance).recip()));
        }
    }
    Point::new(
        contact.x.value,
        contact.y.value - swing_arm,
        contact.z.value + swing_arm * sideways,
    )
}

/// Angular velocity of the knuckle about Y, per unit of the arm's motion.
///
/// Two directions that the knuckle keeps tell it: with unit vectors p and q square to each other, w = p x p' + p (w.p) and
/// w.p = q'.(p x q).
#[inline(always)]
fn pitch_rate<N: Number>(stance: &Stance<'_, Dual<N>>) -> N {
    let p = stance.spin_axis;
    let q = stance.linkage.strut_axis(stance.knuckle).without(p).unit();
    let rate = |of: Vector<Dual<N>>| Vector::new(of.x.slope[0], of.y.slope[0], of.z.slope[0]);
    let value = |of: Vector<Dual<N>>| Vector::new(of.x.value, of.y.value, of.z.value);
    let (p_now, q_now) = (value(p), value(q));
    let about_p = rate(q).dot(p_now.cross(q_now));
    p_now.cross(rate(p)).y + p_now.y * about_p
}

/// Velocity, per unit of the arm's motion, of the knuckle's own point that stands at `at`.
#[inline(always)]
fn velocity_of_locked_point<N: Number>(stance: &Stance<'_, Dual<N>>, at: Point<Dual<N>>) -> Vector<N> {
    let (knuckle, shape) = (stance.knuckle, &stance.linkage.knuckle);
    let in_knuckle = knuckle.bring(at - knuckle.ball_joint, shape);
    let locked = Vector::new(
        Dual::fixed(in_knuckle.x.value),
        Dual::fixed(in_knuckle.y.value),
        Dual::fixed(in_knuckle.z.value),
    );
    let moving = knuckle.ball_joint + knuckle.carry(&shape.carried(locked));
    Vector::new(moving.x.slope[0], moving.y.slope[0], moving.z.slope[0])
}
