//! The hard points of one corner, checked on construction.
//!
//! Axes follow ISO 8855: X forward, Y left, Z up. Points are where they were measured or drawn at design height, in
//! the car's own coordinates on either side; a corner's side is the sign of its hub's Y.

use std::fmt;

use serde::{Deserialize, Serialize};

use crate::error::{Fault, GeometryError, Given};
use crate::number::Number;
use crate::space::{Line, Point, Vector};

/// Least distance of the hub from the car's centre plane at which left and right can be told.
pub const LEAST_HUB_Y_MM: f64 = 50.0;
/// Least distance between two points, or a point and a line, that must be apart.
pub const LEAST_DISTANCE_MM: f64 = 5.0;
/// Least angle between two directions that must differ.
pub const LEAST_ANGLE_DEG: f64 = 5.0;
/// Least sine of the angle between tie rod and steering arm at design.
pub const LEAST_TIE_ROD_MARGIN: f64 = 0.05;
/// Least rise of the ball joint per length of its path at design.
pub const LEAST_RISE: f64 = 0.05;
/// Farthest that any coordinate may lie from the origin.
pub const MOST_COORDINATE_MM: f64 = 20_000.0;
/// Least and greatest loaded radius of the wheel.
pub const WHEEL_RADIUS_MM: [f64; 2] = [20.0, 2_000.0];
/// Greatest static camber and toe, either way.
pub const MOST_WHEEL_ANGLE_DEG: f64 = 45.0;

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
    pub fn left_twin(self, points: &HardPoints) -> HardPoints {
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

/// The measurements of one corner, unchecked: what a [`Corner`] is made from.
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
    /// The strut axis at design: a line through `strut_low`, pointing up at the top mount.
    #[inline(always)]
    pub fn strut_axis(&self) -> Line<N> {
        Line::through(self.strut_low, self.strut_top)
    }

    /// The wheel's spin axis at design, of length one, pointing outboard on the left (`outboard` +1) or right (-1).
    ///
    /// The inverse of the readings' own definitions: camber = asin(-s.z), toe = atan2(s.x, outboard s.y).
    #[inline(always)]
    pub fn spin_axis(&self, outboard: f64) -> Vector<N> {
        let (sin_camber, cos_camber) = self.camber_deg.to_radians().sin_cos();
        let (sin_toe, cos_toe) = self.toe_deg.to_radians().sin_cos();
        Vector::new(
            cos_camber * sin_toe,
            cos_camber * cos_toe * N::constant(outboard),
            -sin_camber,
        )
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
    pub fn of(self, points: &HardPoints) -> Point {
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
    pub fn place(self, points: &mut HardPoints, at: Point) {
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

/// One corner of a car: hard points that make a corner, and its side. Immutable.
#[derive(Clone, Debug, PartialEq)]
pub struct Corner {
    name: String,
    points: HardPoints,
    side: Side,
}

impl Corner {
    /// The corner with these hard points; `name` is the car's, for titles and tables.
    ///
    /// # Errors
    /// [`GeometryError`] names the field, the value and what is wrong: a coordinate that is not finite, a side that
    /// cannot be told, a point across the car, or points that make a degenerate corner (ball joint on the arm axis,
    /// strut of no length, tie rod along the steering axis or in line with its arm, spin axis along the steering axis,
    /// an arm that does not lift the wheel).
    pub fn new(name: &str, points: HardPoints) -> Result<Self, GeometryError> {
        Ok(Self {
            name: name.to_owned(),
            points,
            side: check(&points)?,
        })
    }

    /// The car's name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The hard points in the car's coordinates.
    pub fn points(&self) -> &HardPoints {
        &self.points
    }

    /// Left or right.
    pub fn side(&self) -> Side {
        self.side
    }

    /// The hard points as a left corner has them: a right corner's mirror image.
    ///
    /// The engine moves this twin, so that mirrored corners read alike to the last bit.
    pub fn left_twin(&self) -> HardPoints {
        self.side.left_twin(&self.points)
    }

    /// The corner of the other side, mirrored in the plane Y = 0. The rack is one rack and keeps its direction.
    #[must_use]
    pub fn mirrored(&self) -> Self {
        Self {
            name: self.name.clone(),
            points: HardPoints {
                rack_direction: self.points.rack_direction,
                ..self.points.mirrored()
            },
            side: match self.side {
                Side::Left => Side::Right,
                Side::Right => Side::Left,
            },
        }
    }
}

/// The side of the corner that these hard points make.
///
/// # Errors
/// As [`Corner::new`]: the first thing found wrong.
pub fn check(points: &HardPoints) -> Result<Side, GeometryError> {
    check_finite(points)?;
    let side = side_of(points)?;
    check_sides(points, side)?;
    check_arm(points)?;
    check_strut(points)?;
    check_wheel(points, side)?;
    check_tie_rod(points)?;
    Ok(side)
}

fn check_finite(points: &HardPoints) -> Result<(), GeometryError> {
    for point in HardPoint::ALL {
        let at: [f64; 3] = point.of(points).into();
        check_triple(point.field(), at)?;
    }
    if let Some(axis) = points.bearing_axis {
        check_direction("strut.bearing_axis", axis)?;
    }
    check_direction("rack.direction", points.rack_direction)?;
    let [least, most] = WHEEL_RADIUS_MM;
    check_range("wheel.radius", points.wheel_radius_mm, least, most, "mm")?;
    check_range(
        "wheel.camber",
        points.camber_deg,
        -MOST_WHEEL_ANGLE_DEG,
        MOST_WHEEL_ANGLE_DEG,
        "deg",
    )?;
    check_range(
        "wheel.toe",
        points.toe_deg,
        -MOST_WHEEL_ANGLE_DEG,
        MOST_WHEEL_ANGLE_DEG,
        "deg",
    )
}

fn check_triple(field: &str, at: [f64; 3]) -> Result<(), GeometryError> {
    let wrong = |fault| Err(GeometryError::new(field, Given::Triple(at), fault));
    if at.iter().any(|c| !c.is_finite()) {
        return wrong(Fault::NotFinite);
    }
    if at.iter().any(|c| c.abs() > MOST_COORDINATE_MM) {
        return wrong(Fault::TooLarge {
            most: MOST_COORDINATE_MM,
            unit: "mm",
            hint: " from the origin (are these micrometres?)",
        });
    }
    Ok(())
}

/// Any length will do for a direction; this only keeps the division by it sound.
const LEAST_LENGTH: f64 = 1e-6;

fn check_direction(field: &str, direction: Vector) -> Result<(), GeometryError> {
    let wrong = |fault| Err(GeometryError::new(field, Given::Triple(direction.into()), fault));
    if !(direction.x.is_finite() && direction.y.is_finite() && direction.z.is_finite()) {
        return wrong(Fault::NotFinite);
    }
    if direction.length() < LEAST_LENGTH {
        return wrong(Fault::TooSmall {
            least: LEAST_LENGTH,
            unit: "in length",
            hint: ": a direction needs a length",
        });
    }
    Ok(())
}

/// Check that a number is finite and lies within its limits.
pub(crate) fn check_range(
    field: &str,
    value: f64,
    least: f64,
    most: f64,
    unit: &'static str,
) -> Result<(), GeometryError> {
    let wrong = |fault| Err(GeometryError::new(field, Given::Number(value), fault));
    if !value.is_finite() {
        return wrong(Fault::NotFinite);
    }
    if value < least {
        return wrong(Fault::TooSmall { least, unit, hint: "" });
    }
    if value > most {
        return wrong(Fault::TooLarge { most, unit, hint: "" });
    }
    Ok(())
}

fn side_of(points: &HardPoints) -> Result<Side, GeometryError> {
    let hub = points.wheel_centre;
    if hub.y.abs() < LEAST_HUB_Y_MM {
        return Err(GeometryError::new(
            HardPoint::WheelCentre.field(),
            Given::Triple(hub.into()),
            Fault::NoSide {
                least_mm: LEAST_HUB_Y_MM,
            },
        ));
    }
    Ok(if hub.y > 0.0 { Side::Left } else { Side::Right })
}

/// Points that belong to the wheel's side on any car: a sign slipped if they do not.
fn check_sides(points: &HardPoints, side: Side) -> Result<(), GeometryError> {
    for point in [
        HardPoint::BallJoint,
        HardPoint::StrutTop,
        HardPoint::StrutLow,
        HardPoint::TieOuter,
    ] {
        let at = point.of(points);
        if at.y * side.outboard() < 0.0 {
            let found = if at.y > 0.0 { Side::Left } else { Side::Right };
            return Err(GeometryError::new(
                point.field(),
                Given::Triple(at.into()),
                Fault::WrongSide {
                    found: found.name(),
                    wanted: side.name(),
                },
            ));
        }
    }
    Ok(())
}

fn check_apart(field: HardPoint, at: Point, other: &'static str, distance_mm: f64) -> Result<(), GeometryError> {
    if distance_mm < LEAST_DISTANCE_MM {
        return Err(GeometryError::new(
            field.field(),
            Given::Triple(at.into()),
            Fault::TooNear {
                other,
                distance_mm,
                least_mm: LEAST_DISTANCE_MM,
            },
        ));
    }
    Ok(())
}

/// The angle between two lines, 0 to 90 deg.
fn angle_between_deg(a: Vector, b: Vector) -> f64 {
    a.cross(b).length().atan2(a.dot(b).abs()).to_degrees()
}

fn check_arm(points: &HardPoints) -> Result<(), GeometryError> {
    let (front, rear, ball) = (points.arm_front, points.arm_rear, points.ball_joint);
    check_apart(HardPoint::ArmRear, rear, "lower_arm.front", (rear - front).length())?;
    let axis = Line::through(rear, front);
    let arm = ball - axis.foot(ball);
    check_apart(HardPoint::BallJoint, ball, "the lower arm's axis", arm.length())?;
    let rise = axis.direction.cross(arm.unit()).z.abs();
    if rise < LEAST_RISE {
        return Err(GeometryError::new(
            HardPoint::BallJoint.field(),
            Given::Triple(ball.into()),
            Fault::NoRise {
                rise,
                least: LEAST_RISE,
            },
        ));
    }
    Ok(())
}

fn check_strut(points: &HardPoints) -> Result<(), GeometryError> {
    let (top, low, ball) = (points.strut_top, points.strut_low, points.ball_joint);
    check_apart(HardPoint::StrutTop, top, "strut.low", (top - low).length())?;
    check_apart(HardPoint::StrutTop, top, "lower_arm.ball_joint", (top - ball).length())?;
    let upside_down = |field: HardPoint, other, by| {
        Err(GeometryError::new(
            field.field(),
            Given::Triple(field.of(points).into()),
            Fault::UpsideDown { other, by },
        ))
    };
    let least_rise = LEAST_ANGLE_DEG.to_radians().sin();
    if (top - ball).unit().z < least_rise {
        return upside_down(
            HardPoint::StrutTop,
            "lower_arm.ball_joint",
            "in height, by more than 5 deg of slope",
        );
    }
    if (top - low).unit().z < least_rise {
        return upside_down(
            HardPoint::StrutTop,
            "strut.low",
            "in height, by more than 5 deg of slope",
        );
    }
    if (top - low).unit().dot((top - ball).unit()) < least_rise {
        return upside_down(
            HardPoint::StrutTop,
            "lower_arm.ball_joint",
            "measured along the strut axis",
        );
    }
    Ok(())
}

fn check_wheel(points: &HardPoints, side: Side) -> Result<(), GeometryError> {
    let spin_axis = points.spin_axis(side.outboard());
    let steering_axis = points.strut_top - points.ball_joint;
    let angle_deg = angle_between_deg(spin_axis, steering_axis);
    if angle_deg < LEAST_ANGLE_DEG {
        return Err(GeometryError::new(
            HardPoint::StrutTop.field(),
            Given::Triple(points.strut_top.into()),
            Fault::AlongSide {
                other: "the wheel's spin axis, seen from lower_arm.ball_joint",
                angle_deg,
                least_deg: LEAST_ANGLE_DEG,
            },
        ));
    }
    Ok(())
}

fn check_tie_rod(points: &HardPoints) -> Result<(), GeometryError> {
    let (inner, outer, ball) = (points.tie_inner, points.tie_outer, points.ball_joint);
    check_apart(HardPoint::TieOuter, outer, "tie_rod.inner", (outer - inner).length())?;
    let axis = Line::through(ball, points.strut_top);
    let arm = outer - axis.foot(outer);
    check_apart(
        HardPoint::TieOuter,
        outer,
        "the steering axis (ball joint to strut top)",
        arm.length(),
    )?;
    let inner_arm = inner - axis.foot(inner);
    check_apart(
        HardPoint::TieInner,
        inner,
        "the steering axis (ball joint to strut top)",
        inner_arm.length(),
    )?;
    let angle_deg = angle_between_deg(outer - inner, axis.direction);
    if angle_deg < LEAST_ANGLE_DEG {
        return Err(GeometryError::new(
            HardPoint::TieInner.field(),
            Given::Triple(inner.into()),
            Fault::AlongSide {
                other: "the steering axis, seen from tie_rod.outer",
                angle_deg,
                least_deg: LEAST_ANGLE_DEG,
            },
        ));
    }
    let margin = arm.unit().cross((inner_arm - arm).unit()).length();
    if margin < LEAST_TIE_ROD_MARGIN {
        return Err(GeometryError::new(
            HardPoint::TieInner.field(),
            Given::Triple(inner.into()),
            Fault::OverCentre {
                margin,
                least: LEAST_TIE_ROD_MARGIN,
            },
        ));
    }
    Ok(())
}
