//! The measurements of a corner, unchecked, and their names.
//!
//! Axes follow ISO 8855: X forward, Y left, Z up. Points are where they were measured or drawn at design height, in
//! the car's own coordinates on either side; a corner's side is the sign of its hub's Y.

use std::fmt;

use serde::{Deserialize, Serialize};

use crate::number::{Angular, Number, Over};
use crate::space::{Line, Point, Vector};

/// Which side of the car a corner is on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// Y of the hub is positive.
    Left,
    /// Y of the hub is negative.
    Right,
}

impl Side {
    /// The name at the user's face.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Right => "right",
        }
    }

    /// The sign of outboard along Y: +1 on the left, -1 on the right.
    pub const fn outboard(self) -> f64 {
        match self {
            Self::Left => 1.0,
            Self::Right => -1.0,
        }
    }

    /// Hard points of this side as a left corner has them: mirrored if they are a right one's.
    pub fn left_twin<N: Number>(self, points: &HardPoints<N>) -> HardPoints<N> {
        match self {
            Self::Left => *points,
            Self::Right => points.mirrored(),
        }
    }
}

impl fmt::Display for Side {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// The measurements of one corner, unchecked: what a [`Corner`](crate::corner::Corner) is made from.
///
/// Millimetres and degrees, as in the car file; points in the car's coordinates.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HardPoints<N = f64> {
    /// Front inner pivot of the lower arm, on the body.
    pub arm_front: Point<N>,
    /// Rear inner pivot of the lower arm, on the body.
    pub arm_rear: Point<N>,
    /// Lower ball joint, between arm and knuckle.
    pub ball_joint: Point<N>,
    /// Pivot centre of the strut's top mount.
    pub strut_top: Point<N>,
    /// Any second point on the damper-rod axis, below the top.
    pub strut_low: Point<N>,
    /// The point about which the knuckle turns at its clamp on the strut; `strut_low` unless given.
    pub strut_clamp: Option<Point<N>>,
    /// Axis of the top mount's bearing in the body; the strut axis at design unless given. Its length is free.
    pub bearing_axis: Option<Vector<N>>,
    /// Inner tie-rod joint, on the rack.
    pub tie_inner: Point<N>,
    /// Outer tie-rod joint, on the knuckle.
    pub tie_outer: Point<N>,
    /// Wheel centre.
    pub wheel_centre: Point<N>,
    /// Loaded radius of the wheel.
    pub wheel_radius_mm: N,
    /// Camber at design; positive leans the top outboard.
    pub camber_deg: N,
    /// Toe of this wheel at design; positive is toe-in.
    pub toe_deg: N,
    /// The way the rack moves, in the car's coordinates; its length is free.
    pub rack_direction: Vector<N>,
}

/// The rack's direction unless the car file gives one: square across the car.
pub const RACK_ACROSS: Vector<f64> = Vector::new(0.0, 1.0, 0.0);

impl<N: Number> HardPoints<N> {
    /// The same measurements over another kind of number, as constants.
    pub fn lifted<M: Over<N>>(&self) -> HardPoints<M> {
        HardPoints {
            arm_front: self.arm_front.lifted(),
            arm_rear: self.arm_rear.lifted(),
            ball_joint: self.ball_joint.lifted(),
            strut_top: self.strut_top.lifted(),
            strut_low: self.strut_low.lifted(),
            strut_clamp: self.strut_clamp.map(Point::lifted),
            bearing_axis: self.bearing_axis.map(Vector::lifted),
            tie_inner: self.tie_inner.lifted(),
            tie_outer: self.tie_outer.lifted(),
            wheel_centre: self.wheel_centre.lifted(),
            wheel_radius_mm: M::of(self.wheel_radius_mm),
            camber_deg: M::of(self.camber_deg),
            toe_deg: M::of(self.toe_deg),
            rack_direction: self.rack_direction.lifted(),
        }
    }

    /// The strut axis at design: a line through `strut_low`, pointing up at the top mount.
    #[inline(always)]
    pub fn strut_axis(&self) -> Line<N> {
        Line::through(self.strut_low, self.strut_top)
    }

    /// The mirror image in the car's centre plane Y = 0, rack direction included.
    #[inline(always)]
    #[must_use]
    pub fn mirrored(&self) -> Self {
        Self {
            arm_front: self.arm_front.mirrored(),
            arm_rear: self.arm_rear.mirrored(),
            ball_joint: self.ball_joint.mirrored(),
            strut_top: self.strut_top.mirrored(),
            strut_low: self.strut_low.mirrored(),
            strut_clamp: self.strut_clamp.map(Point::mirrored),
            bearing_axis: self.bearing_axis.map(Vector::mirrored),
            tie_inner: self.tie_inner.mirrored(),
            tie_outer: self.tie_outer.mirrored(),
            wheel_centre: self.wheel_centre.mirrored(),
            rack_direction: self.rack_direction.mirrored(),
            ..*self
        }
    }
}

impl<N: Angular> HardPoints<N> {
    /// The wheel's spin axis at design, of length one, pointing outboard on the left (`outboard` +1) or right (-1).
    ///
    /// The inverse of the readings' own definitions: camber = asin(-s.z), toe = atan2(s.x, outboard s.y).
    #[inline(always)]
    pub fn spin_axis(&self, outboard: f64) -> Vector<N> {
        let (sin_camber, cos_camber) = self.camber_deg.to_radians().sine_and_cosine();
        let (sin_toe, cos_toe) = self.toe_deg.to_radians().sine_and_cosine();
        Vector::new(
            cos_camber * sin_toe,
            cos_camber * cos_toe * N::constant(outboard),
            -sin_camber,
        )
    }
}

/// A hard point that can be named, moved and swept.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum HardPoint {
    /// `lower_arm.front`
    ArmFront,
    /// `lower_arm.rear`
    ArmRear,
    /// `lower_arm.ball_joint`
    BallJoint,
    /// `strut.top`
    StrutTop,
    /// `strut.low`
    StrutLow,
    /// `strut.clamp`
    StrutClamp,
    /// `tie_rod.inner`
    TieInner,
    /// `tie_rod.outer`
    TieOuter,
    /// `wheel.centre`
    WheelCentre,
}

impl HardPoint {
    /// Every hard point, in the order of the car file.
    pub const ALL: [Self; 9] = [
        Self::ArmFront,
        Self::ArmRear,
        Self::BallJoint,
        Self::StrutTop,
        Self::StrutLow,
        Self::StrutClamp,
        Self::TieInner,
        Self::TieOuter,
        Self::WheelCentre,
    ];

    /// The keyword at the user's face.
    pub const fn name(self) -> &'static str {
        match self {
            Self::ArmFront => "arm_front",
            Self::ArmRear => "arm_rear",
            Self::BallJoint => "ball_joint",
            Self::StrutTop => "strut_top",
            Self::StrutLow => "strut_low",
            Self::StrutClamp => "strut_clamp",
            Self::TieInner => "tie_rod_inner",
            Self::TieOuter => "tie_rod_outer",
            Self::WheelCentre => "wheel_centre",
        }
    }

    /// The field as the car file spells it.
    pub const fn field(self) -> &'static str {
        match self {
            Self::ArmFront => "lower_arm.front",
            Self::ArmRear => "lower_arm.rear",
            Self::BallJoint => "lower_arm.ball_joint",
            Self::StrutTop => "strut.top",
            Self::StrutLow => "strut.low",
            Self::StrutClamp => "strut.clamp",
            Self::TieInner => "tie_rod.inner",
            Self::TieOuter => "tie_rod.outer",
            Self::WheelCentre => "wheel.centre",
        }
    }

    /// The hard point of this keyword.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|point| point.name() == name)
    }

    /// Where the point is; the clamp stands at `strut_low` unless it was given.
    pub fn of<N: Number>(self, points: &HardPoints<N>) -> Point<N> {
        match self {
            Self::ArmFront => points.arm_front,
            Self::ArmRear => points.arm_rear,
            Self::BallJoint => points.ball_joint,
            Self::StrutTop => points.strut_top,
            Self::StrutLow => points.strut_low,
            Self::StrutClamp => points.strut_clamp.unwrap_or(points.strut_low),
            Self::TieInner => points.tie_inner,
            Self::TieOuter => points.tie_outer,
            Self::WheelCentre => points.wheel_centre,
        }
    }

    /// Put the point elsewhere.
    pub fn place<N: Number>(self, points: &mut HardPoints<N>, at: Point<N>) {
        match self {
            Self::ArmFront => points.arm_front = at,
            Self::ArmRear => points.arm_rear = at,
            Self::BallJoint => points.ball_joint = at,
            Self::StrutTop => points.strut_top = at,
            Self::StrutLow => points.strut_low = at,
            Self::StrutClamp => points.strut_clamp = Some(at),
            Self::TieInner => points.tie_inner = at,
            Self::TieOuter => points.tie_outer = at,
            Self::WheelCentre => points.wheel_centre = at,
        }
    }
}

/// A number of the wheel that can be measured, and swept as hard points can.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum WheelFigure {
    /// `wheel.radius`
    Radius,
    /// `wheel.camber`
    Camber,
    /// `wheel.toe`
    Toe,
}

impl WheelFigure {
    /// Every one, in the order of the car file.
    pub const ALL: [Self; 3] = [Self::Radius, Self::Camber, Self::Toe];

    /// The keyword at the user's face, as for replacing it in a corner.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Radius => "wheel_radius",
            Self::Camber => "camber",
            Self::Toe => "toe",
        }
    }

    /// The unit at the user's face.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Radius => "mm",
            Self::Camber | Self::Toe => "deg",
        }
    }

    /// The figure of this keyword.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|figure| figure.name() == name)
    }

    /// Give a corner's measurements another value of it.
    pub fn put(self, points: &mut HardPoints, value: f64) {
        match self {
            Self::Radius => points.wheel_radius_mm = value,
            Self::Camber => points.camber_deg = value,
            Self::Toe => points.toe_deg = value,
        }
    }
}
