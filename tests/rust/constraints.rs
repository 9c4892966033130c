//! What must hold of any pose: lengths and angles that the parts keep, told from the hard points alone.
//!
//! SECOND METHOD: nothing here uses the engine's formulas. The knuckle's points are taken at design, with spacers and
//! clamp turn worked in by the contract's words, and every distance between them is asked of the pose's places.

use nalgebra::{Point3, Rotation3, Unit, Vector3};
use strutsweep::space::Point;
use strutsweep::{Corner, Place, Pose, Reading, Setting, Side, TravelAt};

/// The knuckle's four points and two directions.
struct Body {
    ball_joint: Point3<f64>,
    outer: Point3<f64>,
    hub: Point3<f64>,
    low: Point3<f64>,
    strut: Vector3<f64>,
    spin: Vector3<f64>,
}

impl Body {
    /// Every distance that a rigid body keeps, and the handedness that distances do not tell, all as lengths.
    fn shape(&self) -> Vec<f64> {
        // Directions as points an arm's length away, so that an angle counts as the length it moves.
        const ARM_MM: f64 = 300.0;
        let points = [self.ball_joint, self.outer, self.hub, self.low];
        let tips = [self.low + self.strut * ARM_MM, self.hub + self.spin * ARM_MM];
        let all: Vec<Point3<f64>> = points.into_iter().chain(tips).collect();
        let mut shape = Vec::new();
        for (i, a) in all.iter().enumerate() {
            for b in &all[..i] {
                shape.push((a - b).norm());
            }
        }
        let [a, b, c] = [self.outer, self.hub, self.low].map(|p| p - self.ball_joint);
        shape.push(a.cross(&b).dot(&c) / (ARM_MM * ARM_MM));
        shape
    }
}

/// A point as a left corner has it.
fn left(side: Side, point: Point) -> Point3<f64> {
    Point3::new(point.x, point.y * side.outboard(), point.z)
}

/// The knuckle at design with a setting, as a left corner has it.
fn at_design(corner: &Corner, setting: &Setting) -> Body {
    let points = corner.points();
    let at = |point| left(corner.side(), point);
    let (camber, toe) = (points.camber_deg.to_radians(), points.toe_deg.to_radians());
    let spin = Vector3::new(camber.cos() * toe.sin(), camber.cos() * toe.cos(), -camber.sin());
    let (top, low) = (at(points.strut_top), at(points.strut_low));
    let strut = (top - low).normalize();
    let bolt = Unit::new_normalize(Vector3::x() - strut * strut.x);
    let turn = Rotation3::from_axis_angle(&bolt, setting.clamp_deg.to_radians());
    let pivot = points.strut_clamp.map_or(low, at);
    Body {
        ball_joint: at(points.ball_joint) - Vector3::z() * setting.ball_joint_down_mm,
        outer: at(points.tie_outer) + Vector3::z() * setting.tie_outer_up_mm,
        hub: at(points.wheel_centre) + spin * setting.hub_spacer_mm,
        low: pivot + turn * (low - pivot),
        strut: turn * strut,
        spin,
    }
}

/// The spin axis that camber and toe tell, as a left corner has it: the inverse of their definitions.
pub(crate) fn spin_axis(pose: &Pose) -> Vector3<f64> {
    let camber = pose.reading(Reading::Camber).to_radians();
    let toe = pose.reading(Reading::Toe).to_radians();
    Vector3::new(camber.cos() * toe.sin(), camber.cos() * toe.cos(), -camber.sin())
}

/// The contact centre of a wheel: from its centre down the wheel plane by the loaded radius.
fn contact_centre(hub: Point3<f64>, spin: Vector3<f64>, radius: f64) -> Point3<f64> {
    hub - (Vector3::z() - spin * spin.z).normalize() * radius
}

/// How far a pose is from keeping all that it must keep, in mm: each constraint by name.
pub(crate) fn misses(corner: &Corner, pose: &Pose) -> Vec<(&'static str, f64)> {
    let points = corner.points();
    let side = corner.side();
    let setting = &pose.setting;
    let place = |place| left(side, pose.place(place));
    let at = |point| left(side, point);
    let design_spin = at_design(corner, &Setting::default()).spin;
    let design_contact = contact_centre(at(points.wheel_centre), design_spin, points.wheel_radius_mm);
    // What the body holds leans with it: about X, Y = 0, the height of the contact centre at design. A body that leans to
    // the right leans, seen in a mirror, to the left.
    let lean = Rotation3::from_axis_angle(&Vector3::x_axis(), side.outboard() * pose.motion.roll_deg.to_radians());
    let ground = Point3::new(0.0, 0.0, design_contact.z);
    let leant = |point: Point3<f64>| ground + lean * (point - ground);
    let design = at_design(corner, setting);

    let top = place(Place::StrutTop);
    let low = place(Place::StrutLow);
    let ball_joint = place(Place::BallJoint);
    // `low` is any point of the damper-rod axis: the top pivot may come to stand below it, at a length below zero.
    let design_length = (points.strut_top - points.strut_low).length();
    let upwards = (design_length - pose.reading(Reading::StrutCompression)).signum();
    let now = Body {
        ball_joint,
        outer: place(Place::TieOuter),
        hub: place(Place::WheelCentre),
        low,
        strut: (top - low).normalize() * upwards,
        spin: spin_axis(pose),
    };
    let knuckle = design
        .shape()
        .iter()
        .zip(now.shape())
        .fold(0.0, |most: f64, (before, after)| largest(most, after - before));

    let shift = Vector3::new(-setting.mount_back_mm, -setting.mount_in_mm, setting.mount_up_mm);
    let wanted_top = leant(at(points.strut_top) + shift);
    let direction = Vector3::from(points.rack_direction).normalize();
    let wanted_inner = Point::from(Point3::from(points.tie_inner) + direction * pose.motion.rack_mm);
    let inner = place(Place::TieInner);

    let (front, rear) = (leant(at(points.arm_front)), leant(at(points.arm_rear)));
    let axis = (front - rear).normalize();
    let foot = rear + axis * axis.dot(&(leant(at(points.ball_joint)) - rear));
    let arm = (leant(at(points.ball_joint)) - foot).norm() + setting.arm_mm;
    let rod = (points.tie_outer - points.tie_inner).length() + setting.tie_rod_mm;

    let contact = place(Place::ContactCentre);
    let strut_length = (top - low).dot(&now.strut);
    let travel = match pose.travel_at {
        TravelAt::Ground => contact.z - design_contact.z,
        TravelAt::Hub => now.hub.z - points.wheel_centre.z,
        TravelAt::Strut => design_length - strut_length,
    };
    vec![
        ("the knuckle's shape", knuckle),
        ("the strut-top pivot's place", (top - wanted_top).norm()),
        (
            "the inner tie-rod joint's place",
            (inner - leant(at(wanted_inner))).norm(),
        ),
        ("the arm's radius", (ball_joint - foot).norm() - arm),
        ("the arm's plane", axis.dot(&(ball_joint - foot))),
        ("the tie rod's length", (now.outer - inner).norm() - rod),
        ("the travel", travel - pose.motion.travel_mm),
        (
            "the contact centre",
            (contact - contact_centre(now.hub, now.spin, points.wheel_radius_mm)).norm(),
        ),
        (
            "the strut compression",
            pose.reading(Reading::StrutCompression) - (design_length - strut_length),
        ),
    ]
}

/// The larger of two in size, and NaN if either is: a NaN must not pass for a small miss.
fn largest(most: f64, miss: f64) -> f64 {
    if miss.is_nan() || most.is_nan() {
        f64::NAN
    } else {
        most.max(miss.abs())
    }
}

/// The constraint that is missed by most.
pub(crate) fn worst_miss(corner: &Corner, pose: &Pose) -> (&'static str, f64) {
    misses(corner, pose)
        .into_iter()
        .map(|(name, miss)| (name, miss.abs()))
        .fold(("none", 0.0), |worst, miss| {
            if miss.1 > worst.1 || miss.1.is_nan() {
                miss
            } else {
                worst
            }
        })
}

/// Check that a pose keeps every length and angle that its parts keep.
#[track_caller]
pub(crate) fn assert_kept(corner: &Corner, pose: &Pose, tolerance_mm: f64) {
    let (name, miss) = worst_miss(corner, pose);
    assert!(
        miss <= tolerance_mm,
        "{name} is missed by {miss:e} mm, {tolerance_mm:e} is allowed\n{corner:?}\n{:?}\n{:?}\n{:?}",
        pose.setting,
        pose.motion,
        pose.travel_at,
    );
}
