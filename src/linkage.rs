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
//! 3. A turn about B-T is left, fixed by the tie rod. Write E = T - B in the body and E' for it in the knuckle (equally
//!    long), I and O' for inner and outer tie-rod joint from B, a = O'.E', b = I.E. The parts of I and O' square to the
//!    axis, times |E|^2, are P = I |E|^2 - E b and P' = O' |E|^2 - E' a; with R = |O'|^2 |E|^2 - a^2 and
//!    Q = |I|^2 |E|^2 - b^2 they have the squared lengths Q |E|^2 and R |E|^2. Let X = E x I and X' = E' x O'. The rod's
//!    length l makes the scalar product of P and the image of P'
//!    |E|^2 K/2 with K = |E|^2 (|I|^2 + |O'|^2 - l^2) - 2 a b, and so a vector v of the knuckle stands in the body as
//!
//!    E (v.E')/|E|^2 + [P (K v.P' - S v.X') + X (S v.P' + K |E|^2 v.X')] / (2 Q R |E|^2),
//!
//!    S = +-sqrt((4 Q R - K^2) |E|^2). The sign is the assembly branch, decided at design and kept; S = 0 is the
//!    over-centre position. No angle, no sine, one division and two roots.
//! 4. The wanted travel fixes t: see [`crate::track`] and [`crate::rig`].

use crate::hard_points::HardPoints;
use crate::motion::TravelAt;
use crate::number::{Angular, Number, Over};
use crate::setting::Setting;
use crate::space::{Circle, Line, Point, Turn, Vector};

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
    /// No rack position gives the wanted steer angle, or not only one does.
    Steer = 5,
}

impl Status {
    /// Every status, in the order of its code.
    pub const ALL: [Self; 6] = [
        Self::Reached,
        Self::LowerArm,
        Self::Strut,
        Self::TieRod,
        Self::HardPoints,
        Self::Steer,
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
            Self::Steer => "steer",
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
            Self::Steer => {
                "the rack runs out: no position of it gives this steer angle, or only one so near over-centre that it is not unique"
            }
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
    /// h squared.
    pub foot_squared: N,
    /// Height of `strut_low` over the foot, along the strut axis.
    pub low: N,
    /// From the ball joint to the outer tie-rod joint.
    pub outer: Vector<N>,
    /// The square of its length.
    pub outer_squared: N,
    /// Its product with the foot.
    pub outer_foot: N,
    /// From the ball joint to the wheel centre.
    pub wheel_centre: Carried<N>,
    /// The wheel's spin axis, outboard, of length one.
    pub spin_axis: Carried<N>,
    /// The strut axis, upwards, of length one.
    pub strut_axis: Carried<N>,
}

/// Strut and wheel of a left corner as they stand to each other in the knuckle, in the car's axes at design.
#[derive(Clone, Copy, Debug)]
pub struct KnuckleAtDesign<N = f64> {
    /// The strut axis, upwards, through `strut_low`, turned in the clamp as the setting says.
    pub strut: Line<N>,
    /// The wheel centre, on its spacer.
    pub wheel_centre: Point<N>,
    /// The wheel's spin axis, outboard, of length one.
    pub spin_axis: Vector<N>,
}

impl<N: Angular> KnuckleAtDesign<N> {
    /// Strut and wheel, with the setting's clamp turn and hub spacer worked in; nothing else moves them against each
    /// other.
    #[inline(always)]
    pub fn new(points: &HardPoints<N>, setting: &Setting<N>) -> Self {
        let design_axis = points.strut_axis();
        let pivot = points.strut_clamp.unwrap_or(points.strut_low);
        // The clamp's bolts run fore and aft, square to the strut. Turning the knuckle's top outboard against the
        // strut is, seen from the knuckle, turning the strut's top inboard: right-handed about the forward bolt axis.
        let forward = Vector::constant(Vector::new(1.0, 0.0, 0.0));
        let bolt = forward.without(design_axis.direction).unit();
        let turn = setting.clamp_deg.to_radians();
        let spin_axis = points.spin_axis(1.0);
        Self {
            strut: Line {
                point: pivot + (points.strut_low - pivot).turned(bolt, turn),
                direction: design_axis.direction.turned(bolt, turn),
            },
            wheel_centre: points.wheel_centre + spin_axis * setting.hub_spacer_mm,
            spin_axis,
        }
    }
}

impl KnuckleAtDesign {
    /// How far the strut axis stands inboard of the wheel's centre plane where it leaves the cylinder of this radius
    /// about the spin axis, upwards: at the height of the tyre's top for the tyre's radius. `None` if it passes outside.
    ///
    /// With p + q t the strut axis from the wheel centre, and both p and q taken square to the spin axis, it leaves where
    /// |p + q t| is the radius, the greater t of the two.
    pub fn strut_to_wheel_mm(&self, radius_mm: f64) -> Option<f64> {
        let from_hub = self.strut.point - self.wheel_centre;
        let p = from_hub.without(self.spin_axis);
        let q = self.strut.direction.without(self.spin_axis);
        let (qq, pq) = (q.length_squared(), p.dot(q));
        let radicand = pq * pq - qq * (p.length_squared() - radius_mm * radius_mm);
        if !(radicand >= 0.0 && radius_mm > 0.0) {
            return None;
        }
        let t = (radicand.sqrt() - pq) / qq;
        Some(-(from_hub + self.strut.direction * t).dot(self.spin_axis))
    }
}

/// A vector of the knuckle's axes, multiplied out with what does not change as the top pivot slides along the strut.
///
/// With E' = (s, foot), O' the outer joint and v the vector: v.E' = s v.x + v.foot, and
/// v.(E' x O') = E'.(O' x v) = s (O' x v).x + foot.(O' x v).
#[derive(Clone, Copy, Debug)]
pub struct Carried<N = f64> {
    along: N,
    foot: N,
    outer: N,
    turn_along: N,
    turn_foot: N,
}

impl<N: Number> Carried<N> {
    #[inline(always)]
    fn new(v: Vector<N>, foot: Vector<N>, outer: Vector<N>) -> Self {
        let turn = outer.cross(v);
        Self {
            along: v.x,
            foot: v.dot(foot),
            outer: v.dot(outer),
            turn_along: turn.x,
            turn_foot: turn.dot(foot),
        }
    }
}

impl<N: Angular> KnuckleShape<N> {
    /// The knuckle at the design position, with the setting's spacers and clamp turn worked in.
    #[inline(always)]
    fn new(points: &HardPoints<N>, setting: &Setting<N>) -> Self {
        let KnuckleAtDesign {
            strut: Line {
                point: low,
                direction: along,
            },
            wheel_centre,
            spin_axis,
        } = KnuckleAtDesign::new(points, setting);
        let forward = Vector::constant(Vector::new(1.0, 0.0, 0.0));

        let fore = forward.without(along).unit();
        let across = along.cross(fore);
        let in_knuckle = |v: Vector<N>| Vector::new(v.dot(along), v.dot(fore), v.dot(across));

        let up = Vector::constant(Vector::new(0.0, 0.0, 1.0));
        let ball_joint = points.ball_joint - up * setting.ball_joint_down_mm;
        let outer = points.tie_outer + up * setting.tie_outer_up_mm;

        let low = in_knuckle(low - ball_joint);
        let foot = Vector::new(N::constant(0.0), low.y, low.z);
        let outer = in_knuckle(outer - ball_joint);
        let carried = |v: Vector<N>| Carried::new(v, foot, outer);
        Self {
            foot,
            foot_squared: foot.length_squared(),
            low: low.x,
            outer,
            outer_squared: outer.length_squared(),
            outer_foot: outer.dot(foot),
            wheel_centre: carried(in_knuckle(wheel_centre - ball_joint)),
            spin_axis: carried(in_knuckle(spin_axis)),
            strut_axis: carried(forward),
        }
    }
}

impl<N: Angular> Linkage<N> {
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
}

impl<N: Angular> Linkage<N> {
    /// The linkage of a left corner with the body rolled about the ground's centre line, Y = 0 at the height of the
    /// contact centre at design; right-handed about X. What the body holds turns; knuckle, rod and strut keep their
    /// shape, and travel is still measured from the design position.
    #[inline(always)]
    #[must_use]
    pub fn rolled(&self, roll_deg: N) -> Self {
        let turn = Turn::by(roll_deg.to_radians());
        let height = self.design.contact_centre.z;
        Self {
            arm: Circle {
                centre: self.arm.centre.rolled(height, turn),
                start: self.arm.start.rolled(turn),
                quarter: self.arm.quarter.rolled(turn),
            },
            top: self.top.rolled(height, turn),
            inner: self.inner.rolled(height, turn),
            rack_direction: self.rack_direction.rolled(turn),
            bearing_axis: self.bearing_axis.rolled(turn),
            ..*self
        }
    }
}

impl<N: Number> Linkage<N> {
    /// Where the knuckle is when the half-angle tangent of the arm is `t` and the inner tie-rod joint is at `inner`.
    #[inline(always)]
    pub fn place(&self, t: N, inner: Point<N>) -> Knuckle<N> {
        let shape = &self.knuckle;
        let ball_joint = self.arm.at_half_tangent(t);

        // The steering axis, and how far up the strut the top pivot stands.
        let axis = self.top - ball_joint;
        let axis_squared = axis.length_squared();
        let strut_radicand = axis_squared - shape.foot_squared;
        let strut_along = strut_radicand.sqrt();

        // Outer joint in the knuckle (a, R) and inner joint in the body (b, Q) against the axis.
        let outer_along = strut_along * shape.outer.x + shape.outer_foot;
        let outer_square = shape.outer_squared * axis_squared - outer_along.squared();
        let to_inner = inner - ball_joint;
        let inner_along = to_inner.dot(axis);
        let inner_squared = to_inner.length_squared();
        let inner_square = inner_squared * axis_squared - inner_along.squared();

        // The turn that fits the tie rod.
        let two = N::constant(2.0);
        let k = axis_squared * (inner_squared + (shape.outer_squared - self.rod_length_squared))
            - two * (outer_along * inner_along);
        let rod_product = outer_square * inner_square;
        let rod_radicand = N::constant(4.0) * rod_product - k * k;
        let s = self.rod_sense * (rod_radicand * axis_squared).sqrt();
        let twice_product = two * rod_product;
        let per_all = (twice_product * axis_squared).recip();
        Knuckle {
            ball_joint,
            axis,
            axis_squared,
            per_axis_squared: twice_product * per_all,
            strut_along,
            strut_radicand,
            outer_along,
            outer_square,
            rod_radicand,
            rod_scale_at_outer: outer_square
                * (self.rod_length_squared * axis_squared - (outer_along - inner_along).squared()),
            toward: to_inner * axis_squared - axis * inner_along,
            across: axis.cross(to_inner),
            k,
            k_axis: k * axis_squared,
            s,
            per_all,
        }
    }

    /// The inner tie-rod joint when the rack has moved.
    #[inline(always)]
    pub fn inner_at(&self, rack: N) -> Point<N> {
        self.inner + self.rack_direction * rack
    }

    /// The wheel centre at a placed knuckle.
    #[inline(always)]
    pub fn wheel_centre(&self, knuckle: &Knuckle<N>) -> Point<N> {
        knuckle.ball_joint + knuckle.carry(&self.knuckle.wheel_centre)
    }

    /// The wheel's spin axis at a placed knuckle, of length one, outboard.
    #[inline(always)]
    pub fn spin_axis(&self, knuckle: &Knuckle<N>) -> Vector<N> {
        knuckle.carry(&self.knuckle.spin_axis)
    }

    /// The strut axis at a placed knuckle, of length one, pointing up at the top pivot.
    #[inline(always)]
    pub fn strut_axis(&self, knuckle: &Knuckle<N>) -> Vector<N> {
        knuckle.carry(&self.knuckle.strut_axis)
    }

    /// The outer tie-rod joint at a placed knuckle.
    #[inline(always)]
    pub fn outer(&self, knuckle: &Knuckle<N>) -> Point<N> {
        let shape = &self.knuckle;
        knuckle.ball_joint + knuckle.carry(&shape.carried(shape.outer))
    }

    /// The lower point of the strut, fixed in its body, at a placed knuckle.
    #[inline(always)]
    pub fn strut_low(&self, knuckle: &Knuckle<N>) -> Point<N> {
        self.top - self.strut_axis(knuckle) * (knuckle.strut_along - self.knuckle.low)
    }

    /// The height or length that travel is measured by, at a placed knuckle: bump makes it grow.
    #[inline(always)]
    pub fn travel_of(&self, knuckle: &Knuckle<N>, travel_at: TravelAt) -> N {
        match travel_at {
            // C = W - r k, k = unit(Z - s.z s): k.z = sqrt(1 - s.z^2), s having length one.
            TravelAt::Ground => {
                let rise = self.spin_axis(knuckle).z;
                let level = (N::constant(1.0) - rise * rise).sqrt();
                self.wheel_centre(knuckle).z - self.wheel_radius * level - self.design.contact_centre.z
            }
            TravelAt::Hub => self.wheel_centre(knuckle).z - self.design.hub_height,
            TravelAt::Strut => self.strut_compression(knuckle),
        }
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
        let axis_squared = along.squared() + self.knuckle.foot_squared;
        self.arm.meet_sphere(self.top, axis_squared, self.arm_sense)
    }
}

impl<N: Number> Linkage<N> {
    /// The same linkage over another kind of number, as constants.
    #[inline(always)]
    pub fn lifted<M: Over<N>>(&self) -> Linkage<M> {
        let shape = &self.knuckle;
        Linkage {
            arm: self.arm.lifted(),
            top: self.top.lifted(),
            inner: self.inner.lifted(),
            rack_direction: self.rack_direction.lifted(),
            bearing_axis: self.bearing_axis.lifted(),
            knuckle: KnuckleShape {
                foot: shape.foot.lifted(),
                foot_squared: M::of(shape.foot_squared),
                low: M::of(shape.low),
                outer: shape.outer.lifted(),
                outer_squared: M::of(shape.outer_squared),
                outer_foot: M::of(shape.outer_foot),
                wheel_centre: shape.wheel_centre.lifted(),
                spin_axis: shape.spin_axis.lifted(),
                strut_axis: shape.strut_axis.lifted(),
            },
            rod_length_squared: M::of(self.rod_length_squared),
            wheel_radius: M::of(self.wheel_radius),
            rod_sense: M::of(self.rod_sense),
            arm_sense: M::of(self.arm_sense),
            design: Design {
                contact_centre: self.design.contact_centre.lifted(),
                hub_height: M::of(self.design.hub_height),
                strut_length: M::of(self.design.strut_length),
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

/// A placed knuckle: the steering axis, and what turns a vector of the knuckle into the body's axes.
///
/// The letters are those of the derivation at the head of this module.
#[derive(Clone, Copy, Debug)]
pub struct Knuckle<N = f64> {
    /// The ball joint B.
    pub ball_joint: Point<N>,
    /// The steering axis E, from ball joint to top pivot; as long as they are apart.
    pub axis: Vector<N>,
    /// |E|^2
    pub axis_squared: N,
    per_axis_squared: N,
    /// From the foot of the ball joint on the strut axis to the top pivot, along that axis.
    pub strut_along: N,
    /// The square of that. Negative: the strut runs out.
    pub strut_radicand: N,
    /// a
    outer_along: N,
    /// R
    outer_square: N,
    /// 4 Q R - K^2. Negative: the tie rod runs out.
    pub rod_radicand: N,
    /// What that is a quarter of when the tie rod stands square to its arm; negative where no tie rod could reach.
    pub rod_scale_at_outer: N,
    /// P
    toward: Vector<N>,
    /// X
    across: Vector<N>,
    k: N,
    k_axis: N,
    s: N,
    per_all: N,
}

impl<N: Number> Knuckle<N> {
    /// A vector of the knuckle's own axes, in the body's.
    #[inline(always)]
    pub fn carry(&self, v: &Carried<N>) -> Vector<N> {
        let along = self.strut_along * v.along + v.foot;
        let toward = self.axis_squared * v.outer - self.outer_along * along;
        let across = self.strut_along * v.turn_along + v.turn_foot;
        let on_toward = (self.k * toward - self.s * across) * self.per_all;
        let on_across = (self.s * toward + self.k_axis * across) * self.per_all;
        self.axis * (along * self.per_axis_squared) + self.toward * on_toward + self.across * on_across
    }

    /// A vector of the body's axes, in the knuckle's own: the inverse of [`Self::carry`].
    #[inline(always)]
    pub fn bring(&self, v: Vector<N>, shape: &KnuckleShape<N>) -> Vector<N> {
        // E', P' and X' are square to each other; their images are as long: |E|^2, |E|^2 R and R, squared.
        let axis = Vector::new(self.strut_along, shape.foot.y, shape.foot.z);
        let toward = shape.outer * self.axis_squared - axis * self.outer_along;
        let across = axis.cross(shape.outer);
        let scale = self.outer_square * self.per_all;
        let image_toward = (self.toward * self.k + self.across * self.s) * (self.axis_squared * scale);
        let image_across = (self.across * self.k_axis - self.toward * self.s) * scale;
        let per_outer_square = self.outer_square.recip();
        axis * (v.dot(self.axis) * self.per_axis_squared)
            + toward * (v.dot(image_toward) * self.per_axis_squared * per_outer_square)
            + across * (v.dot(image_across) * per_outer_square)
    }

    /// The square of the cosine between strut and steering axis; zero where the strut runs out, negative beyond.
    #[inline(always)]
    pub fn strut_share_squared(&self) -> N {
        self.strut_radicand * self.per_axis_squared
    }

    /// Sine of the angle at the outer joint between steering arm and tie rod, seen along the steering axis; zero is
    /// over-centre. Not negative on the branch that is kept; NaN where the tie rod cannot reach.
    #[inline(always)]
    pub fn tie_rod_margin(&self) -> N {
        // Two roots, not one of the quotient: out of reach both radicands may be negative.
        let two = N::constant(2.0);
        self.rod_radicand.sqrt() * (two * self.rod_scale_at_outer.sqrt()).recip()
    }
}

impl<N: Number> Carried<N> {
    #[inline(always)]
    fn lifted<M: Over<N>>(&self) -> Carried<M> {
        Carried {
            along: M::of(self.along),
            foot: M::of(self.foot),
            outer: M::of(self.outer),
            turn_along: M::of(self.turn_along),
            turn_foot: M::of(self.turn_foot),
        }
    }
}

impl<N: Number> KnuckleShape<N> {
    /// A vector of the knuckle's own axes, made ready to be carried.
    #[inline(always)]
    pub fn carried(&self, v: Vector<N>) -> Carried<N> {
        Carried::new(v, self.foot, self.outer)
    }
}
