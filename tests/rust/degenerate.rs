//! Hard points that make no corner: each kind of fault is found, and its field, value and limit are told.

use proptest::prelude::*;
use strutsweep::corner::{
    LEAST_ANGLE_DEG, LEAST_DISTANCE_MM, LEAST_HUB_Y_MM, LEAST_RISE, LEAST_TIE_ROD_MARGIN, LEAST_WHEEL_RISE,
    MOST_COORDINATE_MM, MOST_WHEEL_ANGLE_DEG, WHEEL_RADIUS_MM,
};
use strutsweep::space::{Line, Point, Vector};
use strutsweep::{Axle, Corner, Fault, GeometryError, Given, HardPoint, HardPoints, Side, TravelAt, demo};

use crate::corners::{config, plausible_points};
use crate::printed::assert_near;

/// Something done to hard points, by a number or of itself.
type ChangeBy = fn(&mut HardPoints, f64);
type Change = fn(&mut HardPoints);

/// The hard points of a sound left corner.
fn sound() -> HardPoints {
    *demo::car("gravel_hatch").expect("a demonstration car").left.points()
}

/// The error of a sound corner with something changed, on either side of the car.
#[track_caller]
fn refused(change: impl Fn(&mut HardPoints)) -> GeometryError {
    let mut points = sound();
    change(&mut points);
    let left = Corner::new("refused", points).expect_err("degenerate");
    let right = Corner::new("refused", points.mirrored()).expect_err("degenerate on the right too");
    assert_eq!(
        left.field, right.field,
        "the right side's fault must be the left side's"
    );
    assert_eq!(
        std::mem::discriminant(&left.fault),
        std::mem::discriminant(&right.fault)
    );
    left
}

/// Check the field that an error names, and that its text tells the field, the value and the limit.
#[track_caller]
fn assert_names(error: &GeometryError, field: &str) {
    assert_eq!(error.field, field, "{error}");
    let text = error.to_string();
    assert!(text.starts_with(&format!("{field} = {} ", error.value)), "{text}");
    if let Some((limit, _unit)) = error.fault.limit() {
        assert!(text.contains(&limit.to_string()), "{text} does not tell {limit}");
    }
}

/// The same point moved to where it is told.
fn put(point: HardPoint, at: Point) -> impl Fn(&mut HardPoints) {
    move |points| point.place(points, at)
}

#[test]
fn coordinate_that_is_no_number() {
    for point in HardPoint::ALL {
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            for axis in 0..3 {
                let mut at: [f64; 3] = point.of(&sound()).into();
                at[axis] = bad;
                let error = refused(put(point, Point::from(at)));
                assert_names(&error, point.field());
                assert_eq!(error.fault, Fault::NotFinite);
                let Given::Triple(told) = error.value else {
                    panic!("{error}")
                };
                assert_eq!(told.map(f64::to_bits), at.map(f64::to_bits));
            }
        }
    }
}

#[test]
fn number_that_is_none() {
    let changes: [(&str, ChangeBy); 5] = [
        ("wheel.radius", |p, x| p.wheel_radius_mm = x),
        ("wheel.camber", |p, x| p.camber_deg = x),
        ("wheel.toe", |p, x| p.toe_deg = x),
        ("rack.direction", |p, x| p.rack_direction = Vector::new(0.0, x, 0.0)),
        ("strut.bearing_axis", |p, x| {
            p.bearing_axis = Some(Vector::new(0.0, 0.0, x));
        }),
    ];
    for (field, change) in changes {
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            let error = refused(|points| change(points, bad));
            assert_names(&error, field);
            assert_eq!(error.fault, Fault::NotFinite);
        }
    }
}

#[test]
fn number_beyond_its_limits() {
    let [least, most] = WHEEL_RADIUS_MM;
    let angle = MOST_WHEEL_ANGLE_DEG;
    let cases: [(&str, f64, f64, ChangeBy); 6] = [
        ("wheel.radius", least, -1.0, |p, x| p.wheel_radius_mm = x),
        ("wheel.radius", most, 1.0, |p, x| p.wheel_radius_mm = x),
        ("wheel.camber", -angle, -1.0, |p, x| p.camber_deg = x),
        ("wheel.camber", angle, 1.0, |p, x| p.camber_deg = x),
        ("wheel.toe", -angle, -1.0, |p, x| p.toe_deg = x),
        ("wheel.toe", angle, 1.0, |p, x| p.toe_deg = x),
    ];
    for (field, limit, way, change) in cases {
        // The limit itself is allowed, the next number is not.
        let next = if way > 0.0 { limit.next_up() } else { limit.next_down() };
        let mut points = sound();
        change(&mut points, limit);
        assert!(Corner::new("at the limit", points).is_ok(), "{field} = {limit}");
        for value in [next, limit + 1000.0 * way] {
            let error = refused(|points| change(points, value));
            assert_names(&error, field);
            assert_eq!(error.value, Given::Number(value));
            match error.fault {
                Fault::TooSmall { least, .. } if way < 0.0 => assert_near(field, least, limit, 0.0),
                Fault::TooLarge { most, .. } if way > 0.0 => assert_near(field, most, limit, 0.0),
                other => panic!("{other:?}"),
            }
        }
    }
}

#[test]
fn radius_of_zero_or_below() {
    for radius in [0.0, -0.0, -308.0] {
        let error = refused(|points| points.wheel_radius_mm = radius);
        assert_names(&error, "wheel.radius");
        assert!(matches!(error.fault, Fault::TooSmall { unit: "mm", .. }));
    }
}

#[test]
fn coordinate_too_far_from_the_origin() {
    for point in HardPoint::ALL {
        let mut at: [f64; 3] = point.of(&sound()).into();
        at[0] = MOST_COORDINATE_MM.next_up();
        let error = refused(put(point, Point::from(at)));
        assert_names(&error, point.field());
        assert!(
            matches!(error.fault, Fault::TooLarge { most, unit: "mm", .. } if most.to_bits() == MOST_COORDINATE_MM.to_bits())
        );
    }
}

#[test]
fn direction_of_no_length() {
    for nothing in [0.0, 1e-9] {
        let error = refused(|points| points.rack_direction = Vector::new(0.0, nothing, 0.0));
        assert_names(&error, "rack.direction");
        assert!(matches!(error.fault, Fault::TooSmall { .. }));
        let error = refused(|points| points.bearing_axis = Some(Vector::new(nothing, 0.0, 0.0)));
        assert_names(&error, "strut.bearing_axis");
        assert!(matches!(error.fault, Fault::TooSmall { .. }));
    }
}

#[test]
fn hub_that_tells_no_side() {
    let hub = sound().wheel_centre;
    for y in [
        0.0,
        -0.0,
        LEAST_HUB_Y_MM.next_down(),
        -LEAST_HUB_Y_MM.next_down(),
        0.752,
    ] {
        let error = refused(put(HardPoint::WheelCentre, Point::new(hub.x, y, hub.z)));
        assert_names(&error, "wheel.centre");
        assert!(matches!(error.fault, Fault::NoSide { least_mm } if least_mm.to_bits() == LEAST_HUB_Y_MM.to_bits()));
    }
    // A car given in metres is told so, and by its hub.
    let metres = |points: &mut HardPoints| {
        *points = crate::corners::moved(
            points,
            &|p| Point::new(p.x / 1000.0, p.y / 1000.0, p.z / 1000.0),
            &|direction| direction,
        );
    };
    let error = refused(metres);
    assert_names(&error, "wheel.centre");
    assert!(error.to_string().contains("metres"), "{error}");
}

#[test]
fn point_across_the_car() {
    for point in [
        HardPoint::BallJoint,
        HardPoint::StrutTop,
        HardPoint::StrutLow,
        HardPoint::TieOuter,
    ] {
        let error = refused(put(point, point.of(&sound()).mirrored()));
        assert_names(&error, point.field());
        assert_eq!(
            error.fault,
            Fault::WrongSide {
                found: "right",
                wanted: "left"
            }
        );
        let mut right = sound().mirrored();
        point.place(&mut right, point.of(&sound()));
        let error = Corner::new("right", right).unwrap_err();
        assert_eq!(
            error.fault,
            Fault::WrongSide {
                found: "left",
                wanted: "right"
            }
        );
        assert!(error.to_string().contains("positive"), "{error}");
    }
}

/// Check a fault of nearness: the other's name, the distance found, the least allowed.
#[track_caller]
fn assert_too_near(error: &GeometryError, field: &str, other: &str, distance_mm: f64) {
    assert_names(error, field);
    match error.fault {
        Fault::TooNear {
            other: told,
            distance_mm: found,
            least_mm,
        } => {
            assert!(told.contains(other), "{told}");
            assert_near("distance", found, distance_mm, 1e-9);
            assert_near("least distance", least_mm, LEAST_DISTANCE_MM, 0.0);
        }
        ref fault => panic!("{fault:?}"),
    }
}

#[test]
fn points_too_near() {
    let points = sound();
    let near = Vector::new(0.0, 3.0, 4.0) * (LEAST_DISTANCE_MM * 0.98 / 5.0);
    let distance = LEAST_DISTANCE_MM * 0.98;

    let error = refused(put(HardPoint::ArmRear, points.arm_front + near));
    assert_too_near(&error, "lower_arm.rear", "lower_arm.front", distance);

    let axis = Line::through(points.arm_rear, points.arm_front);
    let square = (points.ball_joint - axis.foot(points.ball_joint)).unit();
    // The pivots lie on the wheel's side, so a ball joint beside their axis does too.
    let error = refused(put(
        HardPoint::BallJoint,
        axis.point + axis.direction * 20.0 + square * distance,
    ));
    assert_too_near(&error, "lower_arm.ball_joint", "lower arm's axis", distance);

    let error = refused(put(HardPoint::StrutLow, points.strut_top - near));
    assert_too_near(&error, "strut.top", "strut.low", distance);

    let error = refused(|p| {
        let shift = p.ball_joint + near - p.strut_top;
        p.strut_top = p.strut_top + shift;
        p.strut_low = p.strut_low + shift;
    });
    assert_too_near(&error, "strut.top", "lower_arm.ball_joint", distance);

    let error = refused(put(HardPoint::TieInner, points.tie_outer + near));
    assert_too_near(&error, "tie_rod.outer", "tie_rod.inner", distance);

    let steering_axis = Line::through(points.ball_joint, points.strut_top);
    let beside = |at: Point| {
        let foot = steering_axis.foot(at);
        foot + (at - foot).unit() * distance
    };
    let error = refused(put(HardPoint::TieOuter, beside(points.tie_outer)));
    assert_too_near(&error, "tie_rod.outer", "the steering axis", distance);
    let error = refused(put(HardPoint::TieInner, beside(points.tie_inner)));
    assert_too_near(&error, "tie_rod.inner", "the steering axis", distance);
}

#[test]
fn directions_too_near() {
    let points = sound();
    let axis = (points.strut_top - points.ball_joint).unit();
    let off = Vector::new(0.0, 1.0, 0.0).without(axis).unit();
    let angle = LEAST_ANGLE_DEG * 0.9;
    let (sine, cosine) = angle.to_radians().sin_cos();

    let error = refused(put(
        HardPoint::TieInner,
        points.tie_outer + (axis * cosine - off * sine) * 300.0,
    ));
    assert_names(&error, "tie_rod.inner");
    match error.fault {
        Fault::AlongSide {
            other,
            angle_deg,
            least_deg,
        } => {
            assert!(other.contains("steering axis"), "{other}");
            assert_near("angle", angle_deg, angle, 1e-9);
            assert_near("least angle", least_deg, LEAST_ANGLE_DEG, 0.0);
        }
        ref fault => panic!("{fault:?}"),
    }

    // A wheel that leans 45 deg inboard, and a steering axis leaning outboard along its spin axis.
    let error = refused(|p| {
        p.camber_deg = -45.0;
        p.strut_top = p.ball_joint + Vector::new(0.0, 300.0, 310.0);
        p.strut_low = p.ball_joint + Vector::new(0.0, 100.0, 90.0);
    });
    assert_names(&error, "strut.top");
    match error.fault {
        Fault::AlongSide { other, angle_deg, .. } => {
            assert!(other.contains("spin axis"), "{other}");
            // atan(310/300) less 45 deg.
            assert_near("angle", angle_deg, (310.0_f64 / 300.0).atan().to_degrees() - 45.0, 1e-9);
        }
        ref fault => panic!("{fault:?}"),
    }
}

#[test]
fn strut_upside_down() {
    let points = sound();
    let cases: [(&str, &str, Change); 3] = [
        ("lower_arm.ball_joint", "height", |p| {
            // Both strut points below the ball joint.
            p.strut_top = p.ball_joint + Vector::new(0.0, -50.0, -100.0);
            p.strut_low = p.ball_joint + Vector::new(0.0, -20.0, -300.0);
        }),
        ("strut.low", "height", |p| {
            std::mem::swap(&mut p.strut_top, &mut p.strut_low);
        }),
        ("lower_arm.ball_joint", "along the strut axis", |p| {
            // The strut lies nearly flat, its low point far inboard: the ball joint stands beyond the top along it.
            p.strut_top = Point::new(-2.0, 600.0, 260.0);
            p.strut_low = Point::new(-2.0, 900.0, 60.0);
            p.ball_joint = Point::new(-2.0, 480.0, 225.0);
        }),
    ];
    for (other_wanted, by_wanted, change) in cases {
        let error = refused(change);
        assert_names(&error, "strut.top");
        match error.fault {
            Fault::UpsideDown { other, by } => {
                assert_eq!(other, other_wanted);
                assert!(by.contains(by_wanted), "{by}");
            }
            ref fault => panic!("{fault:?}"),
        }
    }
    // The low point is any other point of the strut axis below the top: below the ball joint too.
    let low = points.ball_joint.z - 100.0;
    let axis = points.strut_axis();
    let share = (low - points.strut_top.z) / axis.direction.z;
    let mut lower = points;
    lower.strut_low = points.strut_top + axis.direction * share;
    assert!(Corner::new("low below the ball joint", lower).is_ok());
}

#[test]
fn tie_rod_in_line_with_its_arm() {
    let points = sound();
    let axis = Line::through(points.ball_joint, points.strut_top);
    let foot = axis.foot(points.tie_outer);
    let arm = points.tie_outer - foot;
    // Beyond the outer joint and back past the axis: in line either way.
    for along in [1.5, -2.0] {
        let error = refused(put(HardPoint::TieInner, foot + arm * along + axis.direction * 30.0));
        assert_names(&error, "tie_rod.inner");
        match error.fault {
            Fault::OverCentre { margin, least } => {
                assert_near("margin", margin, 0.0, 1e-9);
                assert_near("least margin", least, LEAST_TIE_ROD_MARGIN, 0.0);
            }
            ref fault => panic!("{fault:?}"),
        }
    }
}

#[test]
fn arm_that_does_not_lift_the_wheel() {
    let points = sound();
    let error = refused(|p| p.arm_front = p.arm_rear + Vector::new(0.0, 0.0, 250.0));
    assert_names(&error, "lower_arm.ball_joint");
    match error.fault {
        Fault::NoRise { rise, least } => {
            assert_near("rise", rise, 0.0, 1e-12);
            assert_near("least rise", least, LEAST_RISE, 0.0);
        }
        ref fault => panic!("{fault:?}"),
    }
    // An arm that stands straight up moves its ball joint sideways.
    let error = refused(put(
        HardPoint::BallJoint,
        Point::new(-140.0, 366.0, points.arm_rear.z + 300.0),
    ));
    assert_names(&error, "lower_arm.ball_joint");
    assert!(matches!(error.fault, Fault::NoRise { .. }), "{error}");
}

#[test]
fn wheel_that_falls_as_the_arm_rises() {
    // A wild corner whose wheel falls as its ball joint rises.
    let points = HardPoints {
        arm_front: Point::new(-417.0, 826.0, 156.0),
        arm_rear: Point::new(-375.0, 921.0, 430.0),
        ball_joint: Point::new(149.0, 488.0, 454.0),
        strut_top: Point::new(-23.0, 665.0, 851.0),
        strut_low: Point::new(200.0, 938.0, 337.0),
        strut_clamp: None,
        bearing_axis: None,
        tie_inner: Point::new(-298.0, 330.0, 490.0),
        tie_outer: Point::new(338.0, 837.0, 691.0),
        wheel_centre: Point::new(-158.0, 515.0, 625.0),
        wheel_radius_mm: 241.0,
        camber_deg: -9.2,
        toe_deg: 9.4,
        rack_direction: Vector::new(0.0, 1.0, 0.0),
    };
    let error = refused(|sound| *sound = points);
    assert_names(&error, "lower_arm.ball_joint");
    match error.fault {
        Fault::NoWheelRise { travel_at, rise, least } => {
            assert!(TravelAt::from_name(travel_at).is_some(), "{travel_at}");
            assert!(rise < least, "{rise}");
            assert_near("least rise", least, LEAST_WHEEL_RISE, 0.0);
        }
        ref fault => panic!("{fault:?}"),
    }
}

#[test]
fn axle_of_two_left_corners_or_two_racks() {
    let left = Corner::new("car", sound()).unwrap();
    let error = Axle::new("car", left.clone(), Some(left.clone())).unwrap_err();
    assert_names(&error, "wheel.centre");
    assert_eq!(
        error.fault,
        Fault::WrongSide {
            found: "left",
            wanted: "right"
        }
    );
    let error = Axle::new("car", left.mirrored(), None).unwrap_err();
    assert_names(&error, "wheel.centre");

    let racked = Corner::new(
        "car",
        HardPoints {
            rack_direction: Vector::new(0.0, 1.0, 0.02),
            ..sound().mirrored()
        },
    )
    .unwrap();
    let error = Axle::new("car", left.clone(), Some(racked)).unwrap_err();
    assert_names(&error, "rack.direction");
    assert_eq!(error.fault, Fault::TwoRacks);

    let axle = Axle::new("car", left.clone(), None).unwrap();
    assert_eq!(axle.corner(Side::Left), &left);
    assert_eq!(axle.corner(Side::Right), &left.mirrored());
}

/// A figure of an axle given.
type SetFigure = fn(&mut Axle, f64);

#[test]
fn figures_of_an_axle_beyond_their_limits() {
    let whole = demo::car("hillclimb_saloon").unwrap();
    assert_eq!(whole.check(), Ok(()));
    let cases: [(&str, SetFigure, f64, f64); 22] = [
        ("rack.mm_per_turn", |a, x| a.rack.mm_per_turn = Some(x), 0.0, 2e4),
        ("rack.stroke", |a, x| a.rack.stroke_mm = Some(x), 0.0, 2e4),
        ("axle.wheelbase", |a, x| a.dimensions.wheelbase_mm = Some(x), 0.0, 2e4),
        (
            "axle.centre_of_gravity_height",
            |a, x| a.dimensions.centre_of_gravity_height_mm = Some(x),
            0.0,
            2e4,
        ),
        (
            "axle.front_brake_share",
            |a, x| a.dimensions.front_brake_share = Some(x),
            -0.01,
            1.0,
        ),
        ("limits.bump", |a, x| a.limits.bump_mm = Some(x), -1.0, 2e4),
        ("limits.droop", |a, x| a.limits.droop_mm = Some(x), -1.0, 2e4),
        ("limits.mount_in", |a, x| a.limits.mount_in_mm = Some(x), -1.0, 2e4),
        ("limits.mount_back", |a, x| a.limits.mount_back_mm = Some(x), -1.0, 2e4),
        ("limits.mount_up", |a, x| a.limits.mount_up_mm = Some(x), -1.0, 2e4),
        ("limits.tie_rod", |a, x| a.limits.tie_rod_mm = Some(x), -1.0, 2e4),
        ("limits.arm", |a, x| a.limits.arm_mm = Some(x), -1.0, 2e4),
        ("limits.clamp", |a, x| a.limits.clamp_deg = Some(x), -1.0, 180.0),
        (
            "limits.bearing_angle",
            |a, x| a.limits.bearing_angle_deg = Some(x),
            -1.0,
            180.0,
        ),
        (
            "limits.tie_rod_margin",
            |a, x| a.limits.tie_rod_margin = Some(x),
            -0.1,
            1.0,
        ),
        ("spring.rate", |a, x| a.spring.rate_n_per_mm = Some(x), 0.0, 1e4),
        (
            "spring.free_length",
            |a, x| a.spring.free_length_mm = Some(x),
            150.0,
            2e3,
        ),
        (
            "spring.collar_thread_pitch",
            |a, x| a.spring.collar_thread_pitch_mm = Some(x),
            0.0,
            20.0,
        ),
        ("spring.collar_up", |a, x| a.spring.collar_up_mm = Some(x), -1.0, 500.0),
        (
            "damper.body_thread_pitch",
            |a, x| a.damper.body_thread_pitch_mm = Some(x),
            0.0,
            20.0,
        ),
        (
            "tie_rod.outer_thread_pitch",
            |a, x| a.left_tie_rod.outer.pitch_mm = Some(x),
            0.0,
            20.0,
        ),
        (
            "right.tie_rod.inner_thread_engaged",
            |a, x| a.right_tie_rod.inner.engaged_mm = Some(x),
            -1.0,
            500.0,
        ),
    ];
    for (field, set, too_small, most) in cases {
        let check = |value: f64| {
            let mut axle = whole.clone();
            set(&mut axle, value);
            axle.check()
        };
        assert_eq!(check(most), Ok(()), "{field}");
        for (value, kind) in [(too_small, "small"), (most * 1.01, "large"), (f64::NAN, "nan")] {
            let error = check(value).unwrap_err();
            assert_names(&error, field);
            let right = match error.fault {
                Fault::TooSmall { .. } => kind == "small",
                Fault::TooLarge { .. } => kind == "large",
                Fault::NotFinite => kind == "nan",
                _ => false,
            };
            assert!(right, "{error} for a value too {kind}");
        }
    }
}

#[test]
fn errors_are_told_in_words() {
    let error = refused(|points| points.wheel_radius_mm = 3.08);
    assert_eq!(error.to_string(), "wheel.radius = 3.08 is less than 20 mm");
    let error = refused(put(HardPoint::BallJoint, Point::new(-2.0, -708.0, 182.0)));
    assert_eq!(
        error.to_string(),
        "lower_arm.ball_joint = [-2, -708, 182] lies on the right of the car (Y is negative there), but this corner is a left one"
    );
    assert_eq!(error.within("right").field, "right.lower_arm.ball_joint");
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn mirrored_points_make_the_same_corner(points in plausible_points()) {
        let corner = Corner::new("car", points).unwrap();
        prop_assert_eq!(corner.side() == Side::Left, points.wheel_centre.y > 0.0);
        let mirrored = Corner::new("car", points.mirrored()).unwrap();
        prop_assert_ne!(mirrored.side(), corner.side());
        prop_assert_eq!(corner.left_twin(), mirrored.left_twin());
        prop_assert_eq!(points.mirrored().mirrored(), points);
    }
}
