//! Exact relations between readings that hold on any corner, and numbers worked out from them.

use nalgebra::{Rotation3, Vector3};
use proptest::prelude::*;
use strutsweep::corner::RACK_ACROSS;
use strutsweep::gauge::{Stance, read};
use strutsweep::linkage::Linkage;
use strutsweep::reading::{READING_COUNT, Wanted};
use strutsweep::space::{Point, Vector};
use strutsweep::{Corner, HardPoints, Motion, Place, Reading, Setting, TravelAt, demo};

use crate::corners::{as_measured, config, reached, spatial_strut, travel};
use crate::printed::{assert_near, assert_printed};

/// Round-off of an angle made of places a metre from the origin, deg.
const ROUND_OFF_DEG: f64 = 1e-10;

/// A left corner with this caster, kingpin inclination and camber, deg, toe zero, rack ahead of the axle.
fn corner_with(caster: f64, kingpin: f64, camber: f64) -> Corner {
    const AXIS_HEIGHT_MM: f64 = 640.0;
    let slope = |degrees: f64| degrees.to_radians().tan();
    let ball_joint = Point::new(0.0, 700.0, 180.0);
    let up_to = |height: f64| ball_joint + Vector::new(-slope(caster), -slope(kingpin), 1.0) * height;
    let points = HardPoints {
        arm_front: Point::new(150.0, 340.0, 190.0),
        arm_rear: Point::new(-150.0, 340.0, 190.0),
        ball_joint,
        strut_top: up_to(AXIS_HEIGHT_MM),
        strut_low: up_to(260.0) + Vector::new(6.0, -40.0, 0.0),
        strut_clamp: None,
        bearing_axis: None,
        tie_inner: Point::new(120.0, 335.0, 215.0),
        tie_outer: Point::new(125.0, 690.0, 208.0),
        wheel_centre: Point::new(2.0, 750.0, 300.0),
        wheel_radius_mm: 300.0,
        camber_deg: camber,
        toe_deg: 0.0,
        rack_direction: RACK_ACROSS,
    };
    Corner::new("steered", points).expect("a corner")
}

/// The wheel's spin axis with the arm held at design and the rack moved: a pure turn about the steering axis.
fn steered_spin_axis(corner: &Corner, rack_mm: f64) -> Vector3<f64> {
    let linkage = Linkage::new(&corner.left_twin(), &as_measured());
    Vector3::from(linkage.spin_axis(&linkage.place(0.0, linkage.inner_at(rack_mm))))
}

/// How far the rack has turned the wheel about the steering axis, rad; a left turn is positive.
fn turned_rad(corner: &Corner, rack_mm: f64) -> f64 {
    let points = corner.points();
    let axis = Vector3::from(points.strut_top - points.ball_joint).normalize();
    let square = |v: Vector3<f64>| v - axis * axis.dot(&v);
    let before = square(steered_spin_axis(corner, 0.0));
    let after = square(steered_spin_axis(corner, rack_mm));
    before.cross(&after).dot(&axis).atan2(before.dot(&after))
}

/// The rack displacement at which a quantity that falls or grows with it takes a value: bisection to the last bit.
fn rack_for(wanted: f64, of: impl Fn(f64) -> f64) -> f64 {
    let [mut low, mut high] = [-90.0, 90.0];
    let grows = of(high) > of(low);
    assert!(
        (of(low) - wanted) * (of(high) - wanted) < 0.0,
        "{wanted} is out of the rack's reach"
    );
    for _ in 0..80 {
        let middle = 0.5 * (low + high);
        if (of(middle) < wanted) == grows {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// MEMORY: Dixon, Suspension Geometry and Computation, 2009, chapter 5; IDENTITY by Rodrigues' formula for the turn of
/// the spin axis about the steering axis e = (-tan tau, -tan sigma, 1)/N:
/// sin g = cos d sin g0 + sin d cos g0 tan tau / N + (1 - cos d)(tan sigma cos g0 + sin g0)/N^2.
fn steered_camber_deg(caster: f64, kingpin: f64, camber: f64, turn_rad: f64) -> f64 {
    let (tan_caster, tan_kingpin) = (caster.to_radians().tan(), kingpin.to_radians().tan());
    let (sin_camber, cos_camber) = camber.to_radians().sin_cos();
    let (sin_turn, cos_turn) = turn_rad.sin_cos();
    let n = (1.0 + tan_caster.powi(2) + tan_kingpin.powi(2)).sqrt();
    let sine = cos_turn * sin_camber
        + sin_turn * cos_camber * tan_caster / n
        + (1.0 - cos_turn) * (tan_kingpin * cos_camber + sin_camber) / (n * n);
    sine.asin().to_degrees()
}

/// Caster, kingpin inclination, camber at design; turn about the steering axis; camber then. Degrees.
const STEERED: [[f64; 5]; 4] = [
    [5.0, 12.0, 0.0, 20.0, 2.369_159_65],
    [5.0, 12.0, 0.0, -20.0, -0.973_328_18],
    [7.0, 13.0, -2.0, 20.0, 1.080_847_79],
    [7.0, 13.0, -2.0, -20.0, -3.574_408_89],
];

#[test]
fn camber_of_a_steered_wheel() {
    for [caster, kingpin, camber, turn, steered] in STEERED {
        let corner = corner_with(caster, kingpin, camber);
        let design = reached(&corner, &as_measured(), &travel(0.0), TravelAt::Ground);
        assert_near("caster", design.reading(Reading::Caster), caster, ROUND_OFF_DEG);
        assert_near(
            "kingpin",
            design.reading(Reading::KingpinInclination),
            kingpin,
            ROUND_OFF_DEG,
        );
        assert_near("camber", design.reading(Reading::Camber), camber, ROUND_OFF_DEG);

        let rack = rack_for(turn.to_radians(), |rack| turned_rad(&corner, rack));
        let found = (-steered_spin_axis(&corner, rack).z).asin().to_degrees();
        assert_near(
            "camber by the relation",
            found,
            steered_camber_deg(caster, kingpin, camber, turn.to_radians()),
            ROUND_OFF_DEG,
        );
        assert_printed("camber of the steered wheel", found, steered, 9);
    }
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn camber_of_any_steered_wheel(caster in -3.0..12.0, kingpin in 2.0..18.0, camber in -5.0..3.0, rack in -50.0..50.0) {
        let corner = corner_with(caster, kingpin, camber);
        let found = (-steered_spin_axis(&corner, rack).z).asin().to_degrees();
        let turn_rad = turned_rad(&corner, rack);
        // The rack lies ahead of the axle: towards the left it turns the wheel to the left.
        prop_assert!(turn_rad * rack >= 0.0);
        assert_near("camber by the relation", found, steered_camber_deg(caster, kingpin, camber, turn_rad), ROUND_OFF_DEG);
    }
}

#[test]
fn caster_from_two_readings() {
    // IDENTITY, method: January, Steering Geometry and Caster Measurement, SAE 850219, 1985:
    // tan tau = N (sin g+ - sin g-)/(2 sin d cos g0), d the turn about the steering axis.
    for [caster, kingpin, camber] in [[5.0, 12.0, 0.0], [7.0, 13.0, -2.0], [2.5, 9.0, 1.0]] {
        let corner = corner_with(caster, kingpin, camber);
        let turn: f64 = 20.0_f64.to_radians();
        let sine_at = |turn: f64| -steered_spin_axis(&corner, rack_for(turn, |rack| turned_rad(&corner, rack))).z;
        let [tan_caster, tan_kingpin] = [caster, kingpin].map(|a| a.to_radians().tan());
        let n = (1.0 + tan_caster.powi(2) + tan_kingpin.powi(2)).sqrt();
        let found = n * (sine_at(turn) - sine_at(-turn)) / (2.0 * turn.sin() * camber.to_radians().cos());
        assert_near("caster", found.atan().to_degrees(), caster, ROUND_OFF_DEG);
    }
}

#[test]
fn caster_of_the_gauge_on_turntables() {
    // IDENTITY of the gauge's form (g+ - g-)/(2 sin d), d the heading that the turntable shows, 20 deg either way.
    // SECOND METHOD for the two numbers: closed-form turn in extended precision.
    let turn: f64 = 20.0;
    assert_printed(
        "the gauge's factor",
        1.0 / (2.0 * turn.to_radians().sin()),
        1.461_902_2,
        8,
    );
    for ([caster, kingpin, camber], shown) in [([5.0, 12.0, 0.0], 5.024_194_1), ([7.0, 13.0, -2.0], 6.999_257_8)] {
        let corner = corner_with(caster, kingpin, camber);
        // Toe-in of a left wheel is a turn to the right.
        let heading = |rack: f64| {
            let spin = steered_spin_axis(&corner, rack);
            -spin.x.atan2(spin.y).to_degrees()
        };
        let camber_at = |turn: f64| {
            (-steered_spin_axis(&corner, rack_for(turn, heading)).z)
                .asin()
                .to_degrees()
        };
        let gauge = (camber_at(turn) - camber_at(-turn)) / (2.0 * turn.to_radians().sin());
        assert_printed("caster by gauge", gauge, shown, 8);
    }
}

/// The tie-rod change that brings toe to zero: secant steps on the reading.
fn with_toe_put_back(corner: &Corner, setting: Setting, travel_at: TravelAt) -> Setting {
    let toe_with = |tie_rod_mm: f64| {
        let setting = Setting { tie_rod_mm, ..setting };
        reached(corner, &setting, &Motion::default(), travel_at).reading(Reading::Toe)
    };
    let (mut before, mut now) = (0.0, 0.5);
    let mut toe_before = toe_with(before);
    for _ in 0..30 {
        let toe = toe_with(now);
        if toe.to_bits() == toe_before.to_bits() {
            break;
        }
        let next = now - toe * (now - before) / (toe - toe_before);
        (before, toe_before, now) = (now, toe, next);
    }
    Setting {
        tie_rod_mm: now,
        ..setting
    }
}

#[test]
fn included_angle_is_kept_by_a_lateral_mount_move_with_strut_length_held_and_toe_put_back() {
    // IDENTITY: with the ball joint on the strut axis and the strut's length held, steering axis and spin axis keep
    // their angle and |T - B| its length. An arm axis along X keeps B in its plane and a lateral move T in its own, so
    // that e.x is kept; with toe zero, sin(camber + kingpin) = -(s.e) / sqrt(1 - e.x^2) is then kept too.
    let corner = spatial_strut();
    let design = reached(&corner, &as_measured(), &travel(0.0), TravelAt::Strut).reading(Reading::IncludedAngle);
    for mount_in_mm in [-25.0, -10.0, 10.0, 25.0] {
        let moved = Setting {
            mount_in_mm,
            ..Setting::default()
        };
        let setting = with_toe_put_back(&corner, moved, TravelAt::Strut);
        let pose = reached(&corner, &setting, &Motion::default(), TravelAt::Strut);
        assert_near("toe", pose.reading(Reading::Toe), 0.0, ROUND_OFF_DEG);
        assert!(
            pose.reading(Reading::Camber).abs() > 0.5,
            "camber must move for this to tell"
        );
        assert_near(
            "included angle",
            pose.reading(Reading::IncludedAngle),
            design,
            ROUND_OFF_DEG,
        );
    }
}

#[test]
fn included_angle_is_not_kept_in_bump_nor_off_the_strut_axis() {
    // The ball joint of either demonstration car lies off the strut axis: as the strut shortens, the steering axis
    // turns in the knuckle by about 0.2 deg per 30 mm.
    for (name, _) in demo::CARS {
        let corner = demo::car(name).expect("a demonstration car").left;
        let at =
            |bump| reached(&corner, &as_measured(), &travel(bump), TravelAt::Ground).reading(Reading::IncludedAngle);
        let change = (at(30.0) - at(0.0)).abs();
        assert!((0.1..0.4).contains(&change), "{name}: {change} deg");
    }
}

#[test]
fn toe_as_a_length_across_the_rim() {
    // IDENTITY: the rim's front stands inboard of its rear by D sin(toe) for an upright wheel of rim diameter D.
    // 4 mm on 431.8 mm (17 inches) is 0.5308 deg in total, half of it for each wheel.
    const RIM_MM: f64 = 431.8;
    const TOTAL_MM: f64 = 4.0;
    let total_deg = 2.0 * (0.5 * TOTAL_MM / RIM_MM).asin().to_degrees();
    assert_printed("total toe", total_deg, 0.5308, 4);

    let points = HardPoints {
        toe_deg: 0.5 * total_deg,
        ..*corner_with(4.0, 12.0, 0.0).points()
    };
    let left = Corner::new("toed in", points).expect("a corner");
    let right = left.mirrored();
    let across = [left, right].map(|corner| {
        let pose = reached(&corner, &as_measured(), &travel(0.0), TravelAt::Ground);
        let side = corner.side().outboard();
        let spin = crate::constraints::spin_axis(&pose);
        // Forward along the rim, square to the spin axis and level; a left corner's, so mirrored back for the right.
        let forward = Vector3::new(spin.y, -spin.x * side, 0.0);
        let hub = Vector3::new(0.0, pose.place(Place::WheelCentre).y, 0.0);
        [hub + forward * (0.5 * RIM_MM), hub - forward * (0.5 * RIM_MM)].map(|p| p.y)
    });
    let [[left_front, left_rear], [right_front, right_rear]] = across;
    let narrower_ahead = (left_rear - right_rear) - (left_front - right_front);
    assert_near("difference across the rims", narrower_ahead, TOTAL_MM, 1e-9);
}

#[test]
fn rotation_vector_of_two_quarter_turns() {
    // PUBLISHED: SciPy documentation, Rotation.as_rotvec: Euler angles 'YX' (-90, -90) deg, turns about moving axes,
    // are the rotation vector (-69.2820323, -69.2820323, -69.2820323) deg.
    let rotvec = Vector3::new(-69.282_032_3_f64, -69.282_032_3, -69.282_032_3);
    let angle_rad = rotvec.norm().to_radians();
    let axis = Vector::from(rotvec.normalize());
    // Its length is 120 deg to the printed digits.
    assert_near("angle", angle_rad.to_degrees(), 120.0, 1e-7);
    let quarter = -std::f64::consts::FRAC_PI_2;
    let (x, y) = (Vector::new(1.0, 0.0, 0.0), Vector::new(0.0, 1.0, 0.0));
    for start in [
        Vector::new(3.0, -1.0, 0.5),
        Vector::new(0.2, 7.0, -4.0),
        Vector::new(1.0, 1.0, 1.0),
    ] {
        // About moving axes the second turn is done first.
        let two = start.turned(x, quarter).turned(y, quarter);
        let one = start.turned(axis, angle_rad);
        // The printed digits carry 5e-8 deg of an angle and vectors here are up to 8 long.
        let miss = (two - one).length();
        assert!(miss < 1e-8, "{miss:e}");
    }
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn vectors_turn_as_another_library_turns_them(
        of in prop::array::uniform3(-500.0..500.0),
        about in prop::array::uniform3(-1.0..1.0),
        angle_rad in -7.0..7.0,
    ) {
        // SECOND METHOD: nalgebra's rotation matrices.
        let about = Vector3::from(about);
        prop_assume!(about.norm() > 1e-3);
        let axis = about.normalize();
        let theirs = Rotation3::new(axis * angle_rad) * Vector3::from(of);
        let ours = Vector::from(of).turned(Vector::from(axis), angle_rad);
        // A few units in the last place of vectors of up to 900.
        prop_assert!((Vector3::from(ours) - theirs).norm() < 2e-12);
    }
}

#[test]
fn attitude_of_a_placed_knuckle_is_what_solve_reads() {
    // The relations above use the linkage at a held arm; this ties that to the readings.
    let corner = corner_with(6.0, 11.0, -1.5);
    let linkage = Linkage::new(&corner.left_twin(), &as_measured());
    let mut readings = [0.0; READING_COUNT];
    let knuckle = linkage.place(0.0, linkage.inner);
    read(&Stance::new(&linkage, &knuckle), Wanted::ALL, &mut readings);
    let pose = reached(&corner, &as_measured(), &travel(0.0), TravelAt::Ground);
    assert_near(
        "camber",
        readings[Reading::Camber as usize],
        pose.reading(Reading::Camber),
        ROUND_OFF_DEG,
    );
    assert_near(
        "toe",
        readings[Reading::Toe as usize],
        pose.reading(Reading::Toe),
        ROUND_OFF_DEG,
    );
    assert_near(
        "trail",
        readings[Reading::MechanicalTrail as usize],
        pose.reading(Reading::MechanicalTrail),
        1e-9,
    );
    assert_near(
        "scrub",
        readings[Reading::ScrubRadius as usize],
        pose.reading(Reading::ScrubRadius),
        1e-9,
    );
}
