//! One corner of a car: hard points, checked on construction.

use crate::error::{Fault, GeometryError, Given, InputError};
use crate::linkage::KnuckleAtDesign;
use crate::motion::TravelAt;
use crate::rig::AtDesign;
use crate::setting::{InputField, SETTING_FIELDS, Setting};
use crate::space::{Line, Point, Vector};

pub use crate::hard_points::{HardPoint, HardPoints, RACK_ACROSS, Side};

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

/// Least rise of the wheel at design per rise of the ball joint, measured at the ground, the hub and the strut.
pub const LEAST_WHEEL_RISE: f64 = 0.05;

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

    /// How far the strut axis stands inboard of the wheel's centre plane, along the spin axis, where it leaves the
    /// cylinder of this radius about the spin axis upwards: at the height of the tyre's top for the tyre's radius.
    /// `None` if it passes outside.
    ///
    /// Both are fixed in the knuckle, so that of a setting only clamp and hub spacer change it, and no motion does.
    ///
    /// # Errors
    /// [`InputError`] for what is not finite.
    pub fn strut_to_wheel_mm(&self, setting: &Setting, radius_mm: f64) -> Result<Option<f64>, InputError> {
        InputField::new("radius", "mm", "distance from the spin axis", "outward").check(&[radius_mm])?;
        for (field, value) in SETTING_FIELDS.iter().zip(setting.to_array()) {
            field.check(&[value])?;
        }
        Ok(KnuckleAtDesign::new(&self.left_twin(), setting).strut_to_wheel_mm(radius_mm))
    }

    /// The same corner under another name.
    #[must_use]
    pub fn named(self, name: &str) -> Self {
        Self {
            name: name.to_owned(),
            ..self
        }
    }

    /// The same corner with its clamp pivot and its bearing axis given, at their defaults, where `other` gives them.
    #[must_use]
    pub(crate) fn spelled_out_as(mut self, other: &Self) -> Self {
        let points = &mut self.points;
        if other.points.strut_clamp.is_some() {
            points.strut_clamp.get_or_insert(points.strut_low);
        }
        if other.points.bearing_axis.is_some() {
            points
                .bearing_axis
                .get_or_insert(Line::through(points.strut_low, points.strut_top).direction);
        }
        self
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
    checked(points).map(|(side, _)| side)
}

/// As [`check`], with how its left twin stands at design.
pub(crate) fn checked(points: &HardPoints) -> Result<(Side, AtDesign), GeometryError> {
    check_finite(points)?;
    let side = side_of(points)?;
    check_sides(points, side)?;
    check_arm(points)?;
    check_strut(points)?;
    check_wheel(points, side)?;
    check_tie_rod(points)?;
    let at_design = AtDesign::of(&side.left_twin(points));
    check_rise(points, &at_design)?;
    Ok((side, at_design))
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

pub(crate) fn check_triple(field: &str, at: [f64; 3]) -> Result<(), GeometryError> {
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

/// Any length will do for a direction; these only keep the division by it sound.
const LEAST_LENGTH: f64 = 1e-6;
const MOST_LENGTH: f64 = 1e6;

fn check_direction(field: &str, direction: Vector) -> Result<(), GeometryError> {
    let wrong = |fault| Err(GeometryError::new(field, Given::Triple(direction.into()), fault));
    if !(direction.x.is_finite() && direction.y.is_finite() && direction.z.is_finite()) {
        return wrong(Fault::NotFinite);
    }
    if !(direction.length() <= MOST_LENGTH) {
        return wrong(Fault::TooLarge {
            most: MOST_LENGTH,
            unit: "in length",
            hint: ": a direction's length does not matter, but this one cannot be worked with",
        });
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

/// The wheel has to rise with the arm, wherever its travel is measured.
fn check_rise(points: &HardPoints, at_design: &AtDesign) -> Result<(), GeometryError> {
    for (travel_at, rise) in TravelAt::ALL.into_iter().zip(at_design.rises) {
        // Not `rise < LEAST`: what is no number does not rise either.
        if !(rise >= LEAST_WHEEL_RISE) {
            return Err(GeometryError::new(
                HardPoint::BallJoint.field(),
                Given::Triple(points.ball_joint.into()),
                Fault::NoWheelRise {
                    travel_at: travel_at.name(),
                    rise,
                    least: LEAST_WHEEL_RISE,
                },
            ));
        }
    }
    Ok(())
}
