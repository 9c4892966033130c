//! The planar strut of Nikravesh, Planar Multibody Dynamics, CRC Press, 2nd ed. 2018 (1st ed. 2007 with y shifted by
//! -0.70 m), made three-dimensional.
//!
//! Metres, x outboard, y up; for the left wheel Y = x and Z = y. All points lie in the plane X = 0, the arm axis is
//! parallel to X, and the tie rod is a copy of the arm moved along X: then bump steer is exactly zero and the motion
//! planar (IDENTITY: arm and tie rod turn through the same angle, so that their outer ends move alike).
//!
//! The knuckle's frame is turned and moved against the car by what the assembly says, so the hard points come from an
//! assembly of our own, below, to full precision; it is held against the four digits that the book publishes.

use std::f64::consts::TAU;

use nalgebra::{Matrix2, Rotation2, Vector2};
use strutsweep::corner::RACK_ACROSS;
use strutsweep::linkage::Linkage;
use strutsweep::number::{Angular, Dual, Number};
use strutsweep::space::{Point, Vector};
use strutsweep::{Corner, HardPoints, Motion, Place, Reading, Setting, TravelAt};

use crate::corners::{as_measured, metres, reached, travel};
use crate::printed::{assert_near, assert_printed};

/// PUBLISHED: the arm's pivot Q, the top mount O, the arm's length; in the knuckle's frame the ball joint A, the strut's
/// point Bs and the wheel's point C.
const ARM_PIVOT: Vector2<f64> = Vector2::new(0.12, 0.29);
const TOP_MOUNT: Vector2<f64> = Vector2::new(0.41, 0.83);
const ARM_LENGTH: f64 = 0.45;
const BALL_JOINT: Vector2<f64> = Vector2::new(0.0, -0.07);
const STRUT_POINT: Vector2<f64> = Vector2::new(-0.17, 0.25);
const WHEEL_POINT: Vector2<f64> = Vector2::new(0.11, -0.02);
/// PUBLISHED: the strut axis in the knuckle's frame, downwards; in the 2nd edition's data, and in the 1st edition's
/// figure, where it passes exactly through A and Bs.
const AXIS_OF_DATA: Vector2<f64> = Vector2::new(0.47, -0.88);
const AXIS_OF_FIGURE: Vector2<f64> = Vector2::new(0.17, -0.32);
/// Where the tie rod's copy of the arm stands, and how far apart the arm's pivots do. Neither is the book's.
const TIE_ROD_X: f64 = -0.12;
const HALF_ARM_BASE: f64 = 0.15;
const WHEEL_RADIUS_MM: f64 = 300.0;

/// Round-off of places a metre from the origin, in mm, and of angles made of them, in degrees.
const ROUND_OFF: f64 = 1e-10;

/// The assembled planar strut at one angle of its arm: SECOND METHOD, two constraint equations by Newton's method.
struct Assembly {
    /// The arm's angle above the horizontal, rad.
    arm_rad: f64,
    /// The knuckle frame's angle, rad.
    knuckle_rad: f64,
    /// The knuckle frame's origin, m.
    origin: Vector2<f64>,
    /// The strut's axis, downwards, of length one.
    strut: Vector2<f64>,
}

impl Assembly {
    /// Find the knuckle's angle phi and how far up its axis the top mount stands: B + R(phi) (Bs - A - up d) = O.
    fn new(axis: Vector2<f64>, arm_rad: f64) -> Self {
        let ball_joint = ARM_PIVOT + Rotation2::new(arm_rad) * Vector2::new(ARM_LENGTH, 0.0);
        let axis = axis.normalize();
        let (mut knuckle_rad, mut up) = (-0.2, 0.3);
        for _ in 0..20 {
            let rotation = Rotation2::new(knuckle_rad);
            let arm = rotation * (STRUT_POINT - BALL_JOINT - axis * up);
            let miss = ball_joint + arm - TOP_MOUNT;
            let by_angle = Vector2::new(-arm.y, arm.x);
            let by_up = rotation * -axis;
            let step = Matrix2::from_columns(&[by_angle, by_up])
                .lu()
                .solve(&miss)
                .expect("a regular pose");
            knuckle_rad -= step.x;
            up -= step.y;
        }
        let rotation = Rotation2::new(knuckle_rad);
        let assembly = Self {
            arm_rad,
            knuckle_rad,
            origin: ball_joint - rotation * BALL_JOINT,
            strut: rotation * axis,
        };
        let strut_point = assembly.car(STRUT_POINT);
        let aside = assembly.strut.perp(&(TOP_MOUNT - strut_point));
        assert_near("the top mount's distance from the strut axis, m", aside, 0.0, 1e-15);
        assembly
    }

    /// A point of the knuckle's frame in the car's, m.
    fn car(&self, in_knuckle: Vector2<f64>) -> Vector2<f64> {
        self.origin + Rotation2::new(self.knuckle_rad) * in_knuckle
    }

    /// The corner whose design position is this assembly, its hub at a point of the knuckle and its wheel upright.
    fn corner(&self, hub: Vector2<f64>) -> Corner {
        let at = |x: f64, p: Vector2<f64>| metres(x, p.x, p.y);
        let ball_joint = self.car(BALL_JOINT);
        let points = HardPoints {
            arm_front: at(HALF_ARM_BASE, ARM_PIVOT),
            arm_rear: at(-HALF_ARM_BASE, ARM_PIVOT),
            ball_joint: at(0.0, ball_joint),
            strut_top: at(0.0, TOP_MOUNT),
            strut_low: at(0.0, self.car(STRUT_POINT)),
            strut_clamp: None,
            bearing_axis: None,
            tie_inner: at(TIE_ROD_X, ARM_PIVOT),
            tie_outer: at(TIE_ROD_X, ball_joint),
            wheel_centre: at(0.0, self.car(hub)),
            wheel_radius_mm: WHEEL_RADIUS_MM,
            camber_deg: 0.0,
            toe_deg: 0.0,
            rack_direction: RACK_ACROSS,
        };
        Corner::new("planar strut", points).expect("a corner")
    }
}

/// The corner of the 1st edition's figure, ball joint on the strut axis, arm level at design, wheel point as hub.
fn figure() -> Corner {
    Assembly::new(AXIS_OF_FIGURE, 0.0).corner(WHEEL_POINT)
}

fn turns_to_radians(angle: f64) -> f64 {
    angle.rem_euclid(TAU)
}

/// PUBLISHED, Nikravesh: the assembly at arm angle 0, four digits.
const KNUCKLE_RAD: f64 = 6.0819;
const KNUCKLE_ORIGIN: [f64; 2] = [0.5840, 0.3586];
const STRUT_RAD: f64 = 5.0019;
const ROD_CENTRE: [f64; 2] = [0.4528, 0.6862];
/// The rod's frame has O at (-0.15, 0).
const ROD_HALF_LENGTH: f64 = 0.15;
/// Rounding to four digits, rad and m.
const FOUR_DIGITS: f64 = 5e-5;
/// The published knuckle angle is 2.2e-4 rad off the one that the published strut angle and axis imply.
const KNUCKLE_RAD_TOLERANCE: f64 = 3e-4;

#[test]
fn assembly_of_the_test_is_the_published_one() {
    let found = Assembly::new(AXIS_OF_DATA, 0.0);
    assert_near(
        "knuckle angle",
        turns_to_radians(found.knuckle_rad),
        KNUCKLE_RAD,
        KNUCKLE_RAD_TOLERANCE,
    );
    assert_near("knuckle origin x", found.origin.x, KNUCKLE_ORIGIN[0], FOUR_DIGITS);
    assert_near("knuckle origin y", found.origin.y, KNUCKLE_ORIGIN[1], FOUR_DIGITS);
    let strut_rad = turns_to_radians(found.strut.y.atan2(found.strut.x));
    assert_near("strut angle", strut_rad, STRUT_RAD, FOUR_DIGITS);
    let rod_centre = TOP_MOUNT + found.strut * ROD_HALF_LENGTH;
    assert_near("rod centre x", rod_centre.x, ROD_CENTRE[0], FOUR_DIGITS);
    assert_near("rod centre y", rod_centre.y, ROD_CENTRE[1], FOUR_DIGITS);
}

#[test]
fn engine_moves_to_the_published_assembly() {
    // From design positions with the arm well off level, so that the engine has a way to go.
    for arm_rad in [-0.15, -0.05, 0.08, 0.16] {
        let design = Assembly::new(AXIS_OF_DATA, arm_rad);
        // With the knuckle frame's origin as hub, the hub's place is a published number.
        let linkage = Linkage::new(&design.corner(Vector2::zeros()).left_twin(), &as_measured());
        let knuckle = linkage.place((-design.arm_rad / 2.0).tan(), linkage.inner);
        let wheel_centre = linkage.wheel_centre(&knuckle);
        let camber_rad = (-linkage.spin_axis(&knuckle).z).asin();
        let knuckle_rad = turns_to_radians(design.knuckle_rad - camber_rad);
        assert_near("knuckle angle", knuckle_rad, KNUCKLE_RAD, KNUCKLE_RAD_TOLERANCE);
        assert_near(
            "knuckle origin y",
            wheel_centre.y / 1000.0,
            KNUCKLE_ORIGIN[0],
            FOUR_DIGITS,
        );
        assert_near(
            "knuckle origin z",
            wheel_centre.z / 1000.0,
            KNUCKLE_ORIGIN[1],
            FOUR_DIGITS,
        );
        let down = -linkage.strut_axis(&knuckle);
        assert_near(
            "strut angle",
            turns_to_radians(down.z.atan2(down.y)),
            STRUT_RAD,
            FOUR_DIGITS,
        );
        assert_near(
            "rod centre y",
            TOP_MOUNT.x + down.y * ROD_HALF_LENGTH,
            ROD_CENTRE[0],
            FOUR_DIGITS,
        );
        assert_near(
            "rod centre z",
            TOP_MOUNT.y + down.z * ROD_HALF_LENGTH,
            ROD_CENTRE[1],
            FOUR_DIGITS,
        );

        // And to full precision, against the assembly of this test.
        let level = Assembly::new(AXIS_OF_DATA, 0.0);
        assert_near("knuckle angle", knuckle_rad, turns_to_radians(level.knuckle_rad), 1e-13);
        assert_near(
            "knuckle origin y, mm",
            wheel_centre.y,
            level.origin.x * 1000.0,
            ROUND_OFF,
        );
        assert_near(
            "knuckle origin z, mm",
            wheel_centre.z,
            level.origin.y * 1000.0,
            ROUND_OFF,
        );
    }
}

/// SECOND METHOD: planar constraint equations in 30-digit arithmetic; axis of the figure, wheel point as hub, travel at
/// the hub. Travel mm, camber deg, camber gain deg/m, lateral move of the hub mm, growth of the strut mm.
const SWEEP: [[f64; 5]; 9] = [
    [-80.0, 2.468_434_17, -34.128_719, -5.219_082_9, 70.622_07],
    [-60.0, 1.801_343_07, -32.569_401, -2.739_702_4, 53.266_919],
    [-40.0, 1.166_190_83, -30.930_039, -1.045_914_5, 35.725_877],
    [-20.0, 0.564_881_658, -29.179_458, -0.132_845_47, 17.977_844],
    [0.0, 0.0, -27.280_478, 0.0, 0.0],
    [20.0, -0.525_047_147, -25.187_568, -0.651_440_51, -18.232_691],
    [40.0, -1.005_832_43, -22.843_581, -2.096_156_2, -36.748_106],
    [60.0, -1.436_632_08, -20.175_089, -4.348_674_6, -55.577_772],
    [80.0, -1.810_035_85, -17.085_476, -7.430_005_8, -74.757_928],
];
/// Digits of that table: camber, and the rest.
const CAMBER_DIGITS: i32 = 9;
const OTHER_DIGITS: i32 = 8;

#[test]
fn sweep_table_of_the_second_method() {
    let corner = figure();
    let design = reached(&corner, &as_measured(), &travel(0.0), TravelAt::Hub);
    for [bump, camber, camber_gain_per_m, lateral, growth] in SWEEP {
        let pose = reached(&corner, &as_measured(), &travel(bump), TravelAt::Hub);
        let at = |what: &str| format!("{what} at {bump} mm");
        let gain_per_m = pose.reading(Reading::CamberGain) * 1000.0;
        let move_out = pose.place(Place::WheelCentre).y - design.place(Place::WheelCentre).y;
        assert_printed(&at("camber"), pose.reading(Reading::Camber), camber, CAMBER_DIGITS);
        assert_printed(&at("camber gain"), gain_per_m, camber_gain_per_m, OTHER_DIGITS);
        assert_printed(&at("lateral move of the hub"), move_out, lateral, OTHER_DIGITS);
        assert_printed(
            &at("strut length"),
            -pose.reading(Reading::StrutCompression),
            growth,
            OTHER_DIGITS,
        );
    }
}

#[test]
fn motion_is_planar() {
    // IDENTITY: see the head of this file.
    let corner = figure();
    for travel_at in TravelAt::ALL {
        for bump in [-80.0, -33.0, 0.0, 51.0, 80.0] {
            let pose = reached(&corner, &as_measured(), &travel(bump), travel_at);
            for reading in [
                Reading::Toe,
                Reading::BumpSteer,
                Reading::Caster,
                Reading::CasterGain,
                Reading::MechanicalTrail,
                Reading::HubTrail,
                Reading::WheelbaseShift,
                Reading::AntiDiveAngle,
            ] {
                assert_near(reading.name(), pose.reading(reading), 0.0, ROUND_OFF);
            }
        }
    }
}

#[test]
fn figures_at_design() {
    let corner = figure();
    let pose = reached(&corner, &as_measured(), &travel(0.0), TravelAt::Hub);

    // IDENTITY: the level arm's line meets the perpendicular to the strut axis through the top mount where
    // y = 0.41 - 0.54 (0.54/0.16), at the arm's height: exactly (-1.4125, 0.29) m.
    let instant_centre = pose.place(Place::InstantCentre);
    assert_near("instant centre y", instant_centre.y, -1412.5, 1e-8);
    assert_near("instant centre z", instant_centre.z, 290.0, 1e-8);

    // IDENTITY: the axis rises 0.54 m and leans 0.16 m inboard.
    let kingpin = pose.reading(Reading::KingpinInclination);
    assert_near(
        "kingpin inclination",
        kingpin,
        (0.16_f64 / 0.54).atan().to_degrees(),
        ROUND_OFF,
    );
    assert_printed("kingpin inclination", kingpin, 16.504_361_38, 10);

    // SECOND METHOD, 30 digits.
    assert_printed(
        "swing arm",
        pose.reading(Reading::SwingArmLength) / 1000.0,
        2.100_248_347,
        10,
    );
    assert_printed(
        "strut per hub travel",
        pose.reading(Reading::MotionRatio),
        0.905_044_044_6,
        10,
    );
    assert_printed(
        "roll centre",
        pose.reading(Reading::RollCentreHeight),
        89.358_429_54,
        10,
    );
    assert_printed("scrub radius", pose.reading(Reading::ScrubRadius), 36.894_098, 8);
}

/// The spin axis with the ball joint held: arm at its design angle, rack centred.
fn spin_axis_with_arm_held(corner: &Corner, setting: &Setting) -> Vector {
    let linkage = Linkage::new(&corner.left_twin(), setting);
    linkage.spin_axis(&linkage.place(0.0, linkage.inner))
}

/// SECOND METHOD, 30 digits: change of camber, deg, by a move of the top mount. Inboard mm, up mm, change; digits as
/// printed.
const ARM_HELD: [(f64, f64, f64); 2] = [(-10.0, 0.0, 0.980_250_39), (10.0, 0.0, -0.970_412_87)];
const HUB_HEIGHT_HELD: [(f64, f64, f64); 4] = [
    (-10.0, 0.0, 0.928_190_52),
    (10.0, 0.0, -0.913_283_53),
    (0.0, 10.0, 0.268_746_11),
    (0.0, -10.0, -0.276_976_09),
];
const TOP_MOUNT_DIGITS: i32 = 8;

fn mount(mount_in_mm: f64, mount_up_mm: f64) -> Setting {
    Setting {
        mount_in_mm,
        mount_up_mm,
        ..Setting::default()
    }
}

#[test]
fn top_mount_moves_with_the_arm_held() {
    let corner = figure();
    for (inboard, up, change) in ARM_HELD {
        let spin_axis = spin_axis_with_arm_held(&corner, &mount(inboard, up));
        let camber = (-spin_axis.z).asin().to_degrees();
        assert_printed("camber change, arm held", camber, change, TOP_MOUNT_DIGITS);
    }
}

#[test]
fn top_mount_moves_with_the_arm_held_through_solve() {
    // The same numbers by way of the travel at which the ball joint stands where it stood.
    let corner = figure();
    let stood = corner.points().ball_joint.z;
    for (inboard, up, change) in ARM_HELD {
        let setting = mount(inboard, up);
        let pose_at = |bump| reached(&corner, &setting, &travel(bump), TravelAt::Hub);
        let mut bump = 0.0;
        for _ in 0..20 {
            // The ball joint rises nearly as fast as the hub: a fixed-point step leaves a few percent of the miss.
            bump -= pose_at(bump).place(Place::BallJoint).z - stood;
        }
        let pose = pose_at(bump);
        assert_near(
            "height of the ball joint",
            pose.place(Place::BallJoint).z,
            stood,
            ROUND_OFF,
        );
        assert_printed(
            "camber change, arm held",
            pose.reading(Reading::Camber),
            change,
            TOP_MOUNT_DIGITS,
        );
    }
}

#[test]
fn top_mount_moves_with_the_hub_height_held() {
    let corner = figure();
    for (inboard, up, change) in HUB_HEIGHT_HELD {
        let pose = reached(&corner, &mount(inboard, up), &Motion::default(), TravelAt::Hub);
        let camber = pose.reading(Reading::Camber);
        assert_printed("camber change, hub height held", camber, change, TOP_MOUNT_DIGITS);
    }
}

#[test]
fn sensitivity_to_the_top_mount_with_the_arm_held() {
    // IDENTITY: with the ball joint A held and on the strut axis, the strut turns about A as its top O moves outboard:
    // d(camber)/dy = cos(sigma)/|AO|. The derivative is carried by dual numbers through the whole linkage.
    type Slope = Dual<f64>;
    let points = figure().left_twin();
    let lifted = HardPoints {
        arm_front: lift(points.arm_front),
        arm_rear: lift(points.arm_rear),
        ball_joint: lift(points.ball_joint),
        strut_top: lift(points.strut_top),
        strut_low: lift(points.strut_low),
        strut_clamp: None,
        bearing_axis: None,
        tie_inner: lift(points.tie_inner),
        tie_outer: lift(points.tie_outer),
        wheel_centre: lift(points.wheel_centre),
        wheel_radius_mm: Slope::constant(points.wheel_radius_mm),
        camber_deg: Slope::constant(points.camber_deg),
        toe_deg: Slope::constant(points.toe_deg),
        rack_direction: Vector::constant(RACK_ACROSS),
    };
    let zero = Slope::constant(0.0);
    let setting = Setting {
        mount_in_mm: Slope::variable(0.0, 0),
        mount_back_mm: zero,
        mount_up_mm: zero,
        tie_rod_mm: zero,
        clamp_deg: zero,
        arm_mm: zero,
        tie_outer_up_mm: zero,
        ball_joint_down_mm: zero,
        hub_spacer_mm: zero,
    };
    let linkage = Linkage::new(&lifted, &setting);
    let spin_axis = linkage.spin_axis(&linkage.place(zero, linkage.inner));
    let outboard_rad_per_mm = -(-spin_axis.z).arc_sine().slope[0];
    let (across, up): (f64, f64) = (160.0, 540.0);
    let length = across.hypot(up);
    assert_near(
        "camber per mm outboard, rad",
        outboard_rad_per_mm,
        up / length / length,
        1e-15,
    );
}

fn lift(point: Point) -> Point<Dual<f64>> {
    Point::constant(point)
}

#[test]
fn instant_centre_is_taken_square_to_the_strut_axis_not_the_steering_axis() {
    // IDENTITY, Blundell and Harty, The Multibody Systems Approach to Vehicle Dynamics, 2004, p. 168, equations 4.33 to
    // 4.43: the arm's line meets the perpendicular to the STRUT axis through the top mount. On the axis of the data the
    // ball joint lies off the strut axis, so that the two constructions differ.
    for arm_rad in [-0.12, 0.0, 0.1] {
        let assembly = Assembly::new(AXIS_OF_DATA, arm_rad);
        let arm = Rotation2::new(arm_rad) * Vector2::new(1.0, 0.0);
        let across = |axis: Vector2<f64>| Vector2::new(-axis.y, axis.x);
        let meet = |square: Vector2<f64>| {
            let shares = Matrix2::from_columns(&[arm, -square])
                .lu()
                .solve(&(TOP_MOUNT - ARM_PIVOT))
                .expect("not parallel");
            (ARM_PIVOT + arm * shares.x) * 1000.0
        };
        let by_strut = meet(across(assembly.strut));
        let by_steering_axis = meet(across(TOP_MOUNT - assembly.car(BALL_JOINT)));
        assert!(
            (by_strut - by_steering_axis).norm() > 5.0,
            "the two constructions must differ for this to tell"
        );

        let pose = reached(
            &assembly.corner(WHEEL_POINT),
            &as_measured(),
            &travel(0.0),
            TravelAt::Ground,
        );
        let found = pose.place(Place::InstantCentre);
        assert_near("instant centre y", found.y, by_strut.x, 1e-8);
        assert_near("instant centre z", found.z, by_strut.y, 1e-8);
    }
}

#[test]
fn rates_follow_from_the_instant_centre() {
    // IDENTITY, planar motion about the instant centre IC: d(camber)/d(travel) = -1/L with L the lateral distance of
    // the point whose travel it is, lateral rate of that point -(z - z_IC)/L, strut rate |IC - O|/L.
    for axis in [AXIS_OF_DATA, AXIS_OF_FIGURE] {
        let corner = Assembly::new(axis, 0.06).corner(WHEEL_POINT);
        for bump in [-50.0, 0.0, 35.0] {
            for (travel_at, place) in [
                (TravelAt::Hub, Place::WheelCentre),
                (TravelAt::Ground, Place::ContactCentre),
            ] {
                let pose = reached(&corner, &as_measured(), &travel(bump), travel_at);
                let centre = pose.place(Place::InstantCentre);
                let top = pose.place(Place::StrutTop);
                let arm = pose.place(place).y - centre.y;
                let camber_gain = pose.reading(Reading::CamberGain).to_radians();
                let to_top = (top.y - centre.y).hypot(top.z - centre.z);
                assert_near("camber gain by L", camber_gain * arm, -1.0, 1e-12);
                assert_near("strut rate", pose.reading(Reading::MotionRatio), to_top / arm, 1e-12);
                // The normal to the contact centre's path, from the contact centre to the car's centre plane.
                let contact = pose.place(Place::ContactCentre);
                let slope = (contact.z - centre.z) / (contact.y - centre.y);
                let roll_centre = -slope * contact.y;
                assert_near(
                    "roll centre",
                    pose.reading(Reading::RollCentreHeight),
                    roll_centre,
                    1e-9,
                );
                let swing_arm = pose.reading(Reading::SwingArmLength);
                assert_near("swing arm", swing_arm, contact.y - centre.y, 1e-8);
            }
        }
    }
}

#[test]
fn contact_centre_of_a_leaning_wheel_rises_against_its_hub() {
    // IDENTITY: C = W - r k, and in the plane k = (sin g, cos g) for a wheel that leans outboard by g. So the two ways to
    // measure travel differ by r (1 - cos g).
    let corner = figure();
    for bump in [-60.0, 25.0, 70.0] {
        let pose = reached(&corner, &as_measured(), &travel(bump), TravelAt::Hub);
        let camber = pose.reading(Reading::Camber).to_radians();
        let height = pose.place(Place::ContactCentre).z;
        let design = corner.points().wheel_centre.z - WHEEL_RADIUS_MM;
        let expected = bump + WHEEL_RADIUS_MM * (1.0 - camber.cos());
        assert_near("rise of the contact centre", height - design, expected, ROUND_OFF);
    }
}

#[test]
fn roll_centre_by_the_closed_form() {
    // MEMORY, re-derived: Reimpell, Stoll, Betzler, The Automotive Chassis, chapter 3:
    // h = (b/2) p/(k cos beta + d tan sigma + r), k = c/sin(sigma + beta), p = k sin beta + d; c from ball joint to top
    // mount, d the ball joint's height, r the scrub radius, b the track, beta the arm's rise towards the centre, sigma
    // the strut axis' lean. It takes strut axis and steering axis for one: the figure's axis.
    for arm_rad in [-0.14, -0.05, 0.0, 0.09] {
        let assembly = Assembly::new(AXIS_OF_FIGURE, arm_rad);
        let pose = reached(
            &assembly.corner(WHEEL_POINT),
            &as_measured(),
            &travel(0.0),
            TravelAt::Ground,
        );
        let beta: f64 = -arm_rad;
        let sigma = (-assembly.strut.x / assembly.strut.y).atan();
        let c = (TOP_MOUNT - assembly.car(BALL_JOINT)).norm() * 1000.0;
        let d = pose.place(Place::BallJoint).z - pose.place(Place::ContactCentre).z;
        let k = c / (sigma + beta).sin();
        let p = k * beta.sin() + d;
        let reach = k * beta.cos() + d * sigma.tan() + pose.reading(Reading::ScrubRadius);
        let expected = pose.reading(Reading::HalfTrack) * p / reach;
        assert_near("roll centre", pose.reading(Reading::RollCentreHeight), expected, 1e-9);
    }
}
