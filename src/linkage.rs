//! What stays constant when a corner moves, and where the knuckle is when it has moved.
//!
//! Everything here is a left corner (a right one is moved as its mirror twin), in millimetres.
//!
//! # The mathematics
//!
//! The corner has one degree of freedom besides the rack, and all but one number is closed form.
//!
//! 1. The ball joint B moves on a circle about the arm axis, rational in t, the tangent of half the arm's angle.
//! 2. The strut-top pivot T is fixed in the body. In the knuckle it slides on the damper-rod axis, a line at distance h
//!    from B; so it stands s = sqrt(|T - B|^2 - h^2) from the foot of B on that line, and B and T are known in both
//!    frames. The steering axis B-T is not the strut axis: h is seldom zero.
//! 3. A turn about B-T is left, fixed by the tie rod. Write E = T - B in the body, E' for it in the knuckle (equally
//!    long), a' for the part of the outer joint square to E' and p for the part of the inner joint square to E, both
//!    from B. With A the image of a' in the body, |outer - inner| = l reads
//!    2 A.p = K = gap^2 + |a'|^2 + |p|^2 - l^2, gap the distance of the two along the axis, and so
//!    A = (K p + w (E x p)) / (2 |p|^2) with w |E| = +- sqrt(4 |a'|^2 |p|^2 - K^2). The sign is the assembly branch,
//!    decided at design and kept; w = 0 is the over-centre position. No angle and no sine is ever computed.
//! 4. The wanted travel fixes t: see [`crate::pose`].

use crate::corner::HardPoints;
use crate::motion::TravelAt;
use crate::number::{Dual, Number};
use crate::setting::Setting;
use crate::space::{Circle, Line, Point, Vector};

/// Whether a pose was reached, or which part ran out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
#[repr(i8)]
pub enum Status {
    /// The pose is there.
    #[default]
    Reached = 0,
    /// The lower arm is at the end of its arc.
    LowerArm = 1,
    /// The strut cannot stay in line with its top mount.
    Strut = 2,
    /// The tie rod is past its over-centre position.
    TieRod = 3,
    /// The hard points of this sample make no corner.
    HardPoints = 4,
}

impl Status {
    /// Every status, in the order of its code.
    pub const ALL: [Self; 5] = [
        Self::Reached,
        Self::LowerArm,
        Self::Strut,
        Self::TieRod,
        Self::HardPoints,
    ];

    /// The code written into results.
    pub const fn code(self) -> i8 {
        self as i8
    }

    /// The part that ran out, as one word.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Reached => "reached",
            Self::LowerArm => "lower_arm",
            Self::Strut => "strut",
            Self::TieRod => "tie_rod",
            Self::HardPoints => "hard_points",
        }
    }

    /// What happened, in a sentence without its full stop.
    pub const fn reason(self) -> &'static str {
        match self {
            Self::Reached => "the pose is reached",
            Self::LowerArm => "the lower arm is at the end of its arc: no position of the ball joint gives this travel",
            Self::Strut => "the strut runs out: ball joint and top mount come too near for the strut to stay in line",
            Self::TieRod => "the tie rod runs out: past over-centre no steer angle fits its length",
            Self::HardPoints => "these hard points make no corner",
        }
    }
}

/// What stays constant while a corner with a given setting moves.
#[derive(Clone, Copy, Debug)]
pub struct Linkage<N = f64> {
    /// The ball joint's path in the body; angle zero is the design position.
    pub arm: Circle<N>,
    /// The strut-top pivot in the body, shifted as the setting says.
    pub top: Point<N>,
    /// The inner tie-rod joint with the rack centred.
    pub inner: Point<N>,
    /// The way the rack moves, of length one.
    pub rack_direction: Vector<N>,
    /// The top bearing's axis in the body, of length one.
    pub bearing_axis: Vector<N>,
    /// The knuckle's own points and directions.
    pub knuckle: KnuckleShape<N>,
    /// Tie-rod length, squared.
    pub rod_length_squared: N,
    /// Loaded radius of the wheel.
    pub wheel_radius: N,
    /// The assembly branch of the tie rod: the sign of w.
    pub rod_sense: N,
    /// The assembly branch of arm and strut: whether |T - B| grows (+1) or falls (-1) with the arm's angle.
    pub arm_sense: N,
    /// The state at design, with no setting and no motion, from which travel is measured.
    pub design: Design<N>,
}

/// The design position's figures that readings and travel are measured from.
#[derive(Clone, Copy, Debug)]
pub struct Design<N = f64> {
    /// Contact centre.
    pub contact_centre: Point<N>,
    /// Height of the wheel centre.
    pub hub_height: N,
    /// Length of the strut from `strut_low` to the top pivot.
    pub strut_length: N,
}

/// The knuckle in its own axes: x along the strut axis upwards, y and z square to it, origin at the ball joint.
#[derive(Clone, Copy, Debug)]
pub struct KnuckleShape<N = f64> {
    /// From the ball joint to its foot on the strut axis: (0, h cos, h sin).
    pub foot: Vector<N>,
    /// Height of `strut_low` over the foot, along the strut axis.
    pub low: N,
    /// From the ball joint to the outer tie-rod joint.
    pub outer: Vector<N>,
    /// From the ball joint to the wheel centre.
    pub wheel_centre: Vector<N>,
    /// The wheel's spin axis, outboard, of length one.
    pub spin_axis: Vector<N>,
}

impl<N: Number> KnuckleShape<N> {
    /// The knuckle at the design position, with the setting's spacers and clamp turn worked in.
    #[inline(always)]
    fn new(points: &HardPoints<N>, setting: &Setting<N>) -> Self {
        let design_axis = points.strut_axis();
        let pivot = points.strut_clamp.unwrap_or(points.strut_low);
        // The clamp's bolts run fore and aft, square to the strut. Turning the knuckle's top outboard against the
        // strut is, seen from the knuckle, turning the strut's top inboard: right-handed about the forward bolt axis.
        let forward = Vector::constant(Vector::new(1.0, 0.0, 0.0));
        let bolt = forward.without(design_axis.direction).unit();
        let turn = setting.clamp_deg.to_radians();
        let along = design_axis.direction.turned(bolt, turn);
        let low = pivot + (points.strut_low - pivot).turned(bolt, turn);

        let fore = forward.without(along).unit();
        let across = along.cross(fore);
        let in_knuckle = |v: Vector<N>| Vector::new(v.dot(along), v.dot(fore), v.dot(across));

        let up = Vector::constant(Vector::new(0.0, 0.0, 1.0));
        let ball_joint = points.ball_joint - up * setting.ball_joint_down_mm;
        let outer = points.tie_outer + up * setting.tie_outer_up_mm;
        let spin_axis = points.spin_axis(1.0);
        let wheel_centre = points.wheel_centre + spin_axis * setting.hub_spacer_mm;

        let low = in_knuckle(low - ball_joint);
        Self {
            foot: Vector::new(N::constant(0.0), low.y, low.z),
            low: low.x,
            outer: in_knuckle(outer - ball_joint),
            wheel_centre: in_knuckle(wheel_centre - ball_joint),
            spin_axis: in_knuckle(spin_axis),
        }
    }
}

impl<N: Number> Linkage<N> {
    /// The linkage of a left corner's hard points with a setting worked in.
    #[inline(always)]
    pub fn new(points: &HardPoints<N>, setting: &Setting<N>) -> Self {
        let axis = Line::through(points.arm_rear, points.arm_front);
        let strut_axis = points.strut_axis();
        let rod_length = (points.tie_outer - points.tie_inner).length() + setting.tie_rod_mm;
        let steering_axis = points.strut_top - points.ball_joint;
        let to_inner = points.tie_inner - points.ball_joint;
        let to_outer = points.tie_outer - points.ball_joint;
        let rod_sense = to_outer.dot(steering_axis.cross(to_inner)).sign();
        let spin_axis = points.spin_axis(1.0);
        let arm = Circle::about(&axis, points.ball_joint, setting.arm_mm);
        Self {
            arm,
            top: points.strut_top + setting.mount_shift(),
            inner: points.tie_inner,
            rack_direction: points.rack_direction.unit(),
            bearing_axis: points.bearing_axis.map_or(strut_axis.direction, Vector::unit),
            knuckle: KnuckleShape::new(points, setting),
            rod_length_squared: rod_length.squared(),
            wheel_radius: points.wheel_radius_mm,
            rod_sense,
            arm_sense: -(points.strut_top - arm.centre).dot(arm.quarter).sign(),
            design: Design {
                contact_centre: contact_centre(points.wheel_centre, spin_axis, points.wheel_radius_mm),
                hub_height: points.wheel_centre.z,
                strut_length: (points.strut_top - points.strut_low).length(),
            },
        }
    }

    /// Where the knuckle is when the half-angle tangent of the arm is `t` and the rack has moved by `rack`.
    #[inline(always)]
    pub fn place(&self, t: N, rack: N) -> Knuckle<N> {
        let two = N::constant(2.0);
        let shape = &self.knuckle;
        let ball_joint = self.arm.at_half_tangent(t);
        let inner = self.inner + self.rack_direction * rack;

        // The steering axis in the body and in the knuckle.
        let axis = self.top - ball_joint;
        let axis_squared = axis.length_squared();
        let per_axis_squared = N::constant(1.0) / axis_squared;
        let strut_radicand = axis_squared - shape.foot.length_squared();
        let strut_along = strut_radicand.sqrt();
        let axis_in_knuckle = Vector::new(strut_along, shape.foot.y, shape.foot.z);

        // The steering arm in the knuckle, and the inner joint in the body, both square to the axis.
        let outer_share = shape.outer.dot(axis_in_knuckle) * per_axis_squared;
        let arm_in_knuckle = shape.outer - axis_in_knuckle * outer_share;
        let arm_squared = arm_in_knuckle.length_squared();
        let to_inner = inner - ball_joint;
        let inner_share = to_inner.dot(axis) * per_axis_squared;
        let toward = to_inner - axis * inner_share;
        let toward_squared = toward.length_squared();

        // The turn that fits the tie rod.
        let gap_squared = (outer_share - inner_share).squared() * axis_squared;
        let k = gap_squared + arm_squared + toward_squared - self.rod_length_squared;
        let rod_scale = N::constant(4.0) * arm_squared * toward_squared;
        let rod_radicand = rod_scale - k * k;
        let w = self.rod_sense * (rod_radicand * per_axis_squared).sqrt();
        let arm = (toward * k + axis.cross(toward) * w) * (N::constant(1.0) / (two * toward_squared));

        let per_arm_squared = N::constant(1.0) / arm_squared;
        let knuckle = Knuckle {
            ball_joint,
            inner,
            strut_along,
            axis,
            arm,
            third: axis.cross(arm),
            axis_in_knuckle: axis_in_knuckle * per_axis_squared,
            arm_in_knuckle: arm_in_knuckle * per_arm_squared,
            third_in_knuckle: axis_in_knuckle.cross(arm_in_knuckle) * (per_axis_squared * per_arm_squared),
            strut_share_squared: strut_radicand * per_axis_squared,
            rod_radicand,
            rod_scale_at_outer: N::constant(4.0) * arm_squared * (self.rod_length_squared - gap_squared),
            wheel_centre: ball_joint,
            spin_axis: axis,
        };
        Knuckle {
            wheel_centre: ball_joint + knuckle.carry(shape.wheel_centre),
            spin_axis: knuckle.carry(shape.spin_axis),
            ..knuckle
        }
    }

    /// The height or length that travel is measured by, at a placed knuckle: bump makes it grow.
    #[inline(always)]
    pub fn travel_of(&self, knuckle: &Knuckle<N>, travel_at: TravelAt) -> N {
        match travel_at {
            TravelAt::Ground => self.contact_height(knuckle) - self.design.contact_centre.z,
            TravelAt::Hub => knuckle.wheel_centre.z - self.design.hub_height,
            TravelAt::Strut => self.strut_compression(knuckle),
        }
    }

    /// Height of the contact centre: W.z - r k.z, where k = unit(Z - s.z s) has the height sqrt(1 - s.z^2).
    #[inline(always)]
    fn contact_height(&self, knuckle: &Knuckle<N>) -> N {
        let s = knuckle.spin_axis;
        knuckle.wheel_centre.z - self.wheel_radius * (N::constant(1.0) - s.z * s.z).sqrt()
    }

    /// The contact centre.
    #[inline(always)]
    pub fn contact_centre(&self, knuckle: &Knuckle<N>) -> Point<N> {
        contact_centre(knuckle.wheel_centre, knuckle.spin_axis, self.wheel_radius)
    }

    /// Shortening of the strut from its design length.
    #[inline(always)]
    pub fn strut_compression(&self, knuckle: &Knuckle<N>) -> N {
        self.design.strut_length - (knuckle.strut_along - self.knuckle.low)
    }

    /// The arm's half-angle tangent at which the strut is compressed by `compression`: closed form, since |T - B| is
    /// known then. Beside it the radicand, negative when arm and strut cannot meet.
    #[inline(always)]
    pub fn arm_for_compression(&self, compression: N) -> (N, N) {
        let along = self.design.strut_length - compression + self.knuckle.low;
        let axis_squared = along.squared() + self.knuckle.foot.length_squared();
        self.arm.meet_sphere(self.top, axis_squared, self.arm_sense)
    }
}

impl Linkage<f64> {
    /// The same linkage over dual numbers, as constants: for derivatives along the arm's motion.
    #[inline(always)]
    pub fn lifted<N: Number>(&self) -> Linkage<N> {
        Linkage {
            arm: Circle {
                centre: Point::constant(self.arm.centre),
                start: Vector::constant(self.arm.start),
                quarter: Vector::constant(self.arm.quarter),
            },
            top: Point::constant(self.top),
            inner: Point::constant(self.inner),
            rack_direction: Vector::constant(self.rack_direction),
            bearing_axis: Vector::constant(self.bearing_axis),
            knuckle: KnuckleShape {
                foot: Vector::constant(self.knuckle.foot),
                low: N::constant(self.knuckle.low),
                outer: Vector::constant(self.knuckle.outer),
                wheel_centre: Vector::constant(self.knuckle.wheel_centre),
                spin_axis: Vector::constant(self.knuckle.spin_axis),
            },
            rod_length_squared: N::constant(self.rod_length_squared),
            wheel_radius: N::constant(self.wheel_radius),
            rod_sense: N::constant(self.rod_sense),
            arm_sense: N::constant(self.arm_sense),
            design: Design {
                contact_centre: Point::constant(self.design.contact_centre),
                hub_height: N::constant(self.design.hub_height),
                strut_length: N::constant(self.design.strut_length),
            },
        }
    }
}

/// The contact centre of a wheel on level ground: C = W - r k, k = unit(Z - (Z.s) s) pointing up in the wheel plane.
#[inline(always)]
fn contact_centre<N: Number>(wheel_centre: Point<N>, spin_axis: Vector<N>, radius: N) -> Point<N> {
    let up = Vector::constant(Vector::new(0.0, 0.0, 1.0));
    wheel_centre - up.without(spin_axis).unit() * radius
}

/// A placed knuckle: the steering axis, the steering arm and what they carry, in the body's axes.
#[derive(Clone, Copy, Debug)]
pub struct Knuckle<N = f64> {
    /// The ball joint B.
    pub ball_joint: Point<N>,
    /// The inner tie-rod joint, moved by the rack.
    pub inner: Point<N>,
    /// The wheel centre W.
    pub wheel_centre: Point<N>,
    /// The wheel's spin axis, of length one, outboard.
    pub spin_axis: Vector<N>,
    /// From the foot of the ball joint on the strut axis to the top pivot, along that axis.
    pub strut_along: N,
    /// The steering axis, from ball joint to top pivot; as long as they are apart.
    pub axis: Vector<N>,
    /// From the steering axis square out to the outer tie-rod joint.
    arm: Vector<N>,
    /// `axis` x `arm`: the third direction of the knuckle.
    third: Vector<N>,
    /// The three directions as the knuckle sees them, each divided by its squared length.
    axis_in_knuckle: Vector<N>,
    arm_in_knuckle: Vector<N>,
    third_in_knuckle: Vector<N>,
    /// (s / |T - B|)^2: cosine squared between strut and steering axis. Negative: the strut runs out.
    pub strut_share_squared: N,
    /// 4 |a|^2 |p|^2 - K^2. Negative: the tie rod runs out.
    pub rod_radicand: N,
    rod_scale_at_outer: N,
}

impl<N: Number> Knuckle<N> {
    /// A vector of the knuckle's own axes, in the body's.
    #[inline(always)]
    pub fn carry(&self, in_knuckle: Vector<N>) -> Vector<N> {
        self.axis * in_knuckle.dot(self.axis_in_knuckle)
            + self.arm * in_knuckle.dot(self.arm_in_knuckle)
            + self.third * in_knuckle.dot(self.third_in_knuckle)
    }

    /// A vector of the body's axes, in the knuckle's own: the inverse of [`Self::carry`].
    #[inline(always)]
    pub fn bring(&self, in_body: Vector<N>) -> Vector<N> {
        // The three directions are square to each other and as long in either frame.
        let axis = self.axis_in_knuckle;
        let arm = self.arm_in_knuckle;
        let third = self.third_in_knuckle;
        axis * in_body.dot(self.axis) + arm * in_body.dot(self.arm) + third * in_body.dot(self.third)
    }

    /// The strut axis, of length one, pointing up at the top pivot.
    #[inline(always)]
    pub fn strut_axis(&self) -> Vector<N> {
        self.carry(Vector::constant(Vector::new(1.0, 0.0, 0.0)))
    }

    /// Sine of the angle at the outer joint between steering arm and tie rod, seen along the steering axis; zero is
    /// over-centre. Not negative on the branch that is kept; NaN where the tie rod cannot reach.
    #[inline(always)]
    pub fn tie_rod_margin(&self) -> N {
        // Two roots, not one of the quotient: out of reach both radicands may be negative.
        self.rod_radicand.sqrt() / self.rod_scale_at_outer.sqrt()
    }
}

/// Dual numbers with one direction, the arm's half-angle tangent: what rates are made of.
pub type Rate = Dual<f64, 1>;
