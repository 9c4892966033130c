//! Where poses end: which part runs out, that nothing jumps on the way there, and that the last pose is still a pose.

use strutsweep::corner::RACK_ACROSS;
use strutsweep::linkage::Linkage;
use strutsweep::space::{Point, Vector};
use strutsweep::{Corner, HardPoints, Motion, Place, Pose, Reading, Setting, SolveError, Status, TravelAt, demo};

use crate::constraints::assert_kept;
use crate::corners::{as_measured, out_of_reach, rack, reached, travel};
use crate::printed::assert_near;

fn cars() -> impl Iterator<Item = (&'static str, Corner)> {
    demo::CARS.iter().flat_map(|(name, _)| {
        let car = demo::car(name).expect("a demonstration car");
        [(*name, car.left), (*name, car.right)]
    })
}

/// The last reached pose on the way from a reached amount to one out of reach: bisection to the last bit.
fn last_pose(solve: impl Fn(f64) -> Option<Pose>, out: f64) -> (f64, Pose) {
    let (mut within, mut beyond) = (0.0, out);
    let mut pose = solve(within).expect("zero is within reach");
    assert!(solve(beyond).is_none(), "{beyond} is not out of reach");
    loop {
        let middle = 0.5 * (within + beyond);
        if middle.to_bits() == within.to_bits() || middle.to_bits() == beyond.to_bits() {
            return (within, pose);
        }
        match solve(middle) {
            Some(found) => (within, pose) = (middle, found),
            None => beyond = middle,
        }
    }
}

#[test]
fn rack_ends_at_over_centre_and_never_jumps() {
    const STEP_MM: f64 = 0.5;
    // Near over-centre steer grows as the square root of what is left: the last step of 0.5 mm may turn the wheel by
    // sqrt(2 * 0.5 / 120) rad, about 5 deg, and carry the hub, 140 mm from the steering axis, along by 13 mm.
    const MOST_TURN_DEG: f64 = 6.0;
    const MOST_MOVE_MM: f64 = 16.0;
    for (name, corner) in cars() {
        for travel_at in TravelAt::ALL {
            for sign in [-1.0, 1.0] {
                let mut last = reached(&corner, &as_measured(), &rack(0.0), travel_at);
                let mut ended = None;
                for i in 1..=400 {
                    let motion = rack(sign * STEP_MM * f64::from(i));
                    match corner.solve(&as_measured(), &motion, travel_at) {
                        Ok(pose) => {
                            assert_eq!(ended, None, "{name}: reached again at {motion:?} past the end");
                            let turned = (pose.reading(Reading::Toe) - last.reading(Reading::Toe)).abs();
                            assert!(turned < MOST_TURN_DEG, "{name} {motion:?}: toe jumps by {turned} deg");
                            for place in Place::ALL.into_iter().filter(|place| !place.is_rate()) {
                                let moved = (pose.place(place) - last.place(place)).length();
                                assert!(
                                    moved < MOST_MOVE_MM,
                                    "{name} {motion:?}: {} by {moved} mm",
                                    place.name()
                                );
                            }
                            last = pose;
                        }
                        Err(SolveError::Reach(error)) => {
                            assert_eq!(error.status, Status::TieRod, "{name} {motion:?} {travel_at:?}");
                            ended = Some(motion.rack_mm);
                        }
                        Err(SolveError::Input(error)) => panic!("{error}"),
                    }
                }
                assert!(ended.is_some(), "{name}: 200 mm of rack must run past over-centre");
            }
        }
    }
}

#[test]
fn tie_rod_margin_falls_to_zero_where_the_rack_ends() {
    // With the strut held the path ends at over-centre itself. With the wheel held it ends a little before: steer runs
    // away there and takes the wheel's rise through zero with it.
    for (name, corner) in cars() {
        for (travel_at, least) in [(TravelAt::Ground, 0.02), (TravelAt::Hub, 0.02), (TravelAt::Strut, 1e-5)] {
            for out in [-200.0, 200.0] {
                let solve = |rack_mm| corner.solve(&as_measured(), &rack(rack_mm), travel_at).ok();
                let (end, pose) = last_pose(solve, out);
                let margin = pose.reading(Reading::TieRodMargin);
                assert!(
                    (0.0..least).contains(&margin),
                    "{name} {travel_at:?}: margin {margin} at {end} mm"
                );
                let margins: Vec<f64> = [0.5, 0.8, 0.95, 0.99, 0.999]
                    .iter()
                    .map(|share| solve(share * end).expect("within reach").reading(Reading::TieRodMargin))
                    .collect();
                assert!(margins.is_sorted_by(|a, b| a > b), "{name} {travel_at:?}: {margins:?}");
            }
        }
    }
}

#[test]
fn travel_ends_at_the_end_of_the_arm() {
    for (name, corner) in cars() {
        for bump in [-500.0, 500.0] {
            let found = out_of_reach(&corner, &as_measured(), &travel(bump), TravelAt::Ground);
            assert_eq!(found, Status::LowerArm, "{name} {bump}");
        }
    }
}

#[test]
fn end_of_travel_is_the_top_of_the_wheels_arc() {
    // SECOND METHOD: the arc climbed from design outward to its top, in ever finer steps of the arm angle's tangent.
    const SCAN: [f64; 6] = [1e-4, 1e-5, 1e-6, 1e-7, 1e-8, 1e-9];
    // The engine may give up short of a dead centre by its shortest path step, 1/65536 of what is asked for; that is up
    // to 600 mm here.
    const TOLERANCE_MM: f64 = 0.01;
    for (name, corner) in cars() {
        let linkage = Linkage::new(&corner.left_twin(), &as_measured());
        for (travel_at, sign) in [TravelAt::Ground, TravelAt::Hub]
            .into_iter()
            .flat_map(|at| [(at, 1.0), (at, -1.0)])
        {
            let height = |t: f64| sign * linkage.travel_of(&linkage.place(t, linkage.inner), travel_at);
            let mut t = 0.0;
            for step in SCAN {
                while height(t + sign * step) > height(t) {
                    t += sign * step;
                }
            }
            let top = height(t);
            let solve = |bump: f64| corner.solve(&as_measured(), &travel(sign * bump), travel_at).ok();
            let (end, _) = last_pose(solve, 600.0);
            assert_near(
                &format!("end of travel of {name}, {travel_at:?}"),
                end,
                top,
                TOLERANCE_MM,
            );
        }
    }
}

#[test]
fn tie_rod_too_long_or_too_short_runs_out() {
    for (name, corner) in cars() {
        for travel_at in TravelAt::ALL {
            for tie_rod_mm in [-200.0, 200.0] {
                let setting = Setting {
                    tie_rod_mm,
                    ..Setting::default()
                };
                let found = out_of_reach(&corner, &setting, &Motion::default(), travel_at);
                assert_eq!(found, Status::TieRod, "{name} {tie_rod_mm} {travel_at:?}");
            }
        }
    }
}

/// A corner whose strut axis stands 45 deg off its steering axis: the ball joint lies 260 mm beside the strut.
fn leaning_strut() -> Corner {
    let points = HardPoints {
        arm_front: Point::new(10.0, 360.0, 195.0),
        arm_rear: Point::new(-290.0, 372.0, 192.0),
        ball_joint: Point::new(-2.0, 708.0, 182.0),
        strut_top: Point::new(-20.0, 560.0, 520.0),
        strut_low: Point::new(-20.0, 900.0, 380.0),
        strut_clamp: None,
        bearing_axis: None,
        tie_inner: Point::new(-128.0, 330.0, 240.4),
        tie_outer: Point::new(-128.0, 690.0, 232.0),
        wheel_centre: Point::new(0.0, 752.0, 308.0),
        wheel_radius_mm: 308.0,
        camber_deg: -0.5,
        toe_deg: 0.0,
        rack_direction: RACK_ACROSS,
    };
    Corner::new("leaning strut", points).expect("a corner")
}

#[test]
fn strut_runs_out() {
    // The top mount lowered, or the wheel raised, until ball joint and top mount are no farther apart than the ball
    // joint stands beside the strut: then strut and steering axis are square to each other.
    let corner = leaning_strut();
    let lowered = Setting {
        mount_up_mm: -1000.0,
        ..Setting::default()
    };
    let found = out_of_reach(&corner, &lowered, &Motion::default(), TravelAt::Ground);
    assert_eq!(found, Status::Strut);
    let found = out_of_reach(&corner, &as_measured(), &travel(500.0), TravelAt::Ground);
    assert_eq!(found, Status::Strut);

    let (_, pose) = last_pose(
        |bump| corner.solve(&as_measured(), &travel(bump), TravelAt::Ground).ok(),
        500.0,
    );
    let steering_axis = pose.place(Place::StrutTop) - pose.place(Place::BallJoint);
    let strut = pose.place(Place::StrutTop) - pose.place(Place::StrutLow);
    let cosine = steering_axis.unit().dot(strut.unit());
    // The wheel's rise ends a little before the strut itself does.
    assert!((0.0..0.1).contains(&cosine), "{cosine}");
}

#[test]
fn strut_travel_ends_where_the_top_pivot_meets_the_foot_of_the_ball_joint() {
    // IDENTITY: along its axis the strut has as much travel as the top pivot stands above the foot of the ball joint on
    // it at design; past that |T - B| grows again, which is another assembly's.
    let corner = leaning_strut();
    let points = corner.points();
    let axis = points.strut_axis();
    let most = (points.strut_top - axis.foot(points.ball_joint)).dot(axis.direction);
    for share in [0.5, 0.9, 0.99] {
        let pose = reached(&corner, &as_measured(), &travel(share * most), TravelAt::Strut);
        assert_kept(&corner, &pose, 1e-9);
    }
    for share in [1.01, 1.1, 1.5, 2.0] {
        let found = out_of_reach(&corner, &as_measured(), &travel(share * most), TravelAt::Strut);
        assert_eq!(found, Status::Strut, "{share} of {most} mm");
    }
}

#[test]
fn tie_rod_that_cannot_span_its_joints_runs_out_however_travel_is_measured() {
    // A tie rod within 7 deg of the steering axis: 10 mm shorter, it is shorter than its joints lie apart along that
    // axis, where both figures that its margin is made of are below zero.
    let car = demo::car("gravel_hatch").expect("a demonstration car").left;
    let points = car.points();
    let axis = (points.strut_top - points.ball_joint).unit();
    let fore = Vector::new(1.0, 0.0, 0.0).without(axis).unit();
    let arm = fore * -130.0;
    let tie_outer = points.ball_joint + axis * 100.0 + arm;
    let tie_inner = tie_outer - arm + fore.turned(axis, -0.4) * -150.0 + axis * 500.0;
    let corner = Corner::new(
        "steep tie rod",
        HardPoints {
            tie_inner,
            tie_outer,
            ..*points
        },
    )
    .expect("a corner");
    for travel_at in TravelAt::ALL {
        for tie_rod_mm in [-4.0, -5.0, -10.0, -60.0, -200.0] {
            let setting = Setting {
                tie_rod_mm,
                ..Setting::default()
            };
            let found = out_of_reach(&corner, &setting, &Motion::default(), travel_at);
            // With the wheel held its rise may end before, as steer runs away.
            if travel_at == TravelAt::Strut {
                assert_eq!(found, Status::TieRod, "{tie_rod_mm} mm");
            }
        }
    }
}

#[test]
fn tie_rod_has_no_length_below_zero() {
    // Rack and tie rod shortened together keep the steering straight until the rod has no length left. A rod of -40 mm
    // is not one of 40 mm on the other side.
    let (_, corner) = cars().next().expect("a car");
    let rod = (corner.points().tie_outer - corner.points().tie_inner).length();
    for travel_at in TravelAt::ALL {
        for shorter in [rod + 1.0, rod + 40.0, 2.0 * rod] {
            let setting = Setting {
                tie_rod_mm: -shorter,
                ..Setting::default()
            };
            // Refusing such an input outright is an answer too.
            let solved = corner.solve(&setting, &rack(shorter), travel_at);
            assert!(
                solved.is_err(),
                "reached with a tie rod of {} mm, {travel_at:?}",
                rod - shorter
            );
        }
    }
}

#[test]
fn lower_arm_has_no_radius_below_zero() {
    // An arm of 194 mm made 195 mm shorter.
    let points = HardPoints {
        arm_front: Point::new(101.311_498_760_092, 770.053_425_836_169, 150.259_119_595_415),
        arm_rear: Point::new(-332.716_253_506_444, 881.025_950_391_749, 881.795_988_642_554),
        ball_joint: Point::new(143.638_385_838_657, 570.834_016_364_758, 127.736_728_223_071),
        strut_top: Point::new(412.248_724_350_442, 378.349_391_953_468, 976.173_138_677_304),
        strut_low: Point::new(384.187_162_498_483, 971.818_201_421_01, 95.210_908_365_911),
        strut_clamp: None,
        bearing_axis: None,
        tie_inner: Point::new(-178.714_969_091_053, 63.463_230_218_478, 947.268_395_041_12),
        tie_outer: Point::new(349.346_845_188_486, 323.136_081_315_946, 188.040_727_825_275),
        wheel_centre: Point::new(437.332_914_765_886, 499.306_793_090_079, 543.719_208_152_764),
        wheel_radius_mm: 139.907_268_509_031,
        camber_deg: -9.777_113_117_531,
        toe_deg: -21.625_681_712_383,
        rack_direction: Vector::new(-0.360_349_235_273, -0.273_227_367_253, -0.670_414_186_226),
    };
    let corner = Corner::new("short arm", points).expect("a corner");
    let setting = Setting {
        arm_mm: -194.773_628_882_218,
        ball_joint_down_mm: 63.562_641_402_082,
        hub_spacer_mm: -18.277_412_260_449,
        ..Setting::default()
    };
    let motion = Motion {
        travel_mm: -22.964_397_266_167,
        rack_mm: 0.140_013_515_954,
        ..Motion::default()
    };
    let solved = corner.solve(&setting, &motion, TravelAt::Ground);
    assert!(solved.is_err(), "reached with an arm shorter than nothing");
}

/// What is moved on the way to an end of reach: a name, and the setting and motion of an amount.
type Way = (&'static str, fn(f64) -> (Setting, Motion));

const WAYS: [Way; 11] = [
    ("travel", |x| (as_measured(), travel(x))),
    ("rack", |x| (as_measured(), rack(x))),
    ("mount_in", |mount_in_mm| {
        (
            Setting {
                mount_in_mm,
                ..as_measured()
            },
            rack(0.0),
        )
    }),
    ("mount_back", |mount_back_mm| {
        (
            Setting {
                mount_back_mm,
                ..as_measured()
            },
            rack(0.0),
        )
    }),
    ("mount_up", |mount_up_mm| {
        (
            Setting {
                mount_up_mm,
                ..as_measured()
            },
            rack(0.0),
        )
    }),
    ("tie_rod", |tie_rod_mm| {
        (
            Setting {
                tie_rod_mm,
                ..as_measured()
            },
            rack(0.0),
        )
    }),
    ("clamp", |clamp_deg| {
        (
            Setting {
                clamp_deg,
                ..as_measured()
            },
            rack(0.0),
        )
    }),
    ("arm", |arm_mm| {
        (
            Setting {
                arm_mm,
                ..as_measured()
            },
            rack(0.0),
        )
    }),
    ("tie_outer_up", |tie_outer_up_mm| {
        (
            Setting {
                tie_outer_up_mm,
                ..as_measured()
            },
            rack(0.0),
        )
    }),
    ("ball_joint_down", |ball_joint_down_mm| {
        (
            Setting {
                ball_joint_down_mm,
                ..as_measured()
            },
            rack(0.0),
        )
    }),
    ("hub_spacer", |hub_spacer_mm| {
        (
            Setting {
                hub_spacer_mm,
                ..as_measured()
            },
            rack(0.0),
        )
    }),
];

#[test]
fn last_pose_before_an_end_is_still_a_pose() {
    // Travel is what Newton's method finds: at the top of the arc it must still be found as well as it is asked for.
    const KEPT_MM: f64 = 1e-6;
    const OUT_MM: f64 = 1000.0;
    let mut wrong = Vec::new();
    for (name, corner) in cars() {
        for travel_at in TravelAt::ALL {
            for ((what, way), sign) in WAYS.into_iter().flat_map(|way| [(way, -1.0), (way, 1.0)]) {
                let solve = |amount: f64| {
                    let (setting, motion) = way(sign * amount);
                    corner.solve(&setting, &motion, travel_at).ok()
                };
                let (end, pose) = match solve(OUT_MM) {
                    Some(pose) => (OUT_MM, pose),
                    None => last_pose(solve, OUT_MM),
                };
                let (missed, by) = crate::constraints::worst_miss(&corner, &pose);
                let lost = Reading::ALL
                    .into_iter()
                    .filter(|reading| !pose.reading(*reading).is_finite())
                    .count();
                // A NaN is no miss within bounds.
                if by.is_nan() || by > KEPT_MM || lost > 0 {
                    let side = corner.side();
                    wrong.push(format!(
                        "{name} {side} {travel_at:?}, {what} {}: {missed} by {by:e} mm, {lost} readings lost",
                        sign * end
                    ));
                }
            }
        }
    }
    assert!(
        wrong.is_empty(),
        "{} last poses are none:\n{}",
        wrong.len(),
        wrong.join("\n")
    );
}

#[test]
fn part_that_runs_out_is_the_same_however_far_beyond() {
    // Beyond 20 m an input may also be refused as no distance of a car's.
    const ABSURD_MM: f64 = 20_000.0;
    let assert_runs_out = |corner: &Corner, motion: &Motion, amount: f64, part: Status| {
        let solved = corner.solve(&as_measured(), motion, TravelAt::Ground);
        let right = match &solved {
            Err(SolveError::Reach(error)) => error.status == part,
            Err(SolveError::Input(_)) => amount > ABSURD_MM,
            Ok(_) => false,
        };
        let told = solved.err().map(|error| error.to_string());
        assert!(right, "{motion:?}: {part:?} runs out, but told is {told:?}");
    };
    for (_, corner) in cars() {
        for sign in [-1.0, 1.0] {
            for amount in [200.0, 1e3, 1e4, 2e4] {
                assert_runs_out(&corner, &rack(sign * amount), amount, Status::TieRod);
                if amount > 400.0 {
                    assert_runs_out(&corner, &travel(sign * amount), amount, Status::LowerArm);
                }
            }
        }
    }
}
