//! Attempts to break the engine: huge and tiny inputs, corners that no car has, corners at the edge of being one.
//!
//! Whatever comes out must come soon, must not be a panic, and if it is called reached it must be a pose: every length
//! kept, every reading a number.

use std::sync::mpsc::{RecvTimeoutError, channel};
use std::time::Duration;

use proptest::prelude::*;
use strutsweep::error::{MOST_INPUT_DEG, MOST_INPUT_MM};
use strutsweep::motion::MOTION_FIELDS;
use strutsweep::setting::SETTING_FIELDS;
use strutsweep::space::{Line, Point, Vector};
use strutsweep::{
    Corner, HardPoints, Motion, Place, Pose, Reading, Setting, SolveError, Sweep, SweepError, TravelAt, demo,
};

use crate::constraints::{assert_kept, worst_miss};
use crate::corners::{any_travel_at, as_measured, rack, reached, same_every_run, travel, wild_corner};
use crate::printed::assert_near;

/// One pose takes tens of microseconds, and a path of a thousand links well under a second even unoptimised.
const SOON: Duration = Duration::from_secs(10);

/// Solve in a thread of its own, and give up waiting for it.
#[track_caller]
fn solve_soon(corner: &Corner, setting: Setting, motion: Motion, travel_at: TravelAt) -> Result<Pose, SolveError> {
    let corner = corner.clone();
    let (answer, answered) = channel();
    std::thread::spawn(move || answer.send(corner.solve(&setting, &motion, travel_at)));
    match answered.recv_timeout(SOON) {
        Ok(result) => result,
        Err(RecvTimeoutError::Timeout) => panic!("no answer in {SOON:?}: {setting:?} {motion:?} {travel_at:?}"),
        Err(RecvTimeoutError::Disconnected) => panic!("panicked: {setting:?} {motion:?} {travel_at:?}"),
    }
}

#[track_caller]
fn assert_numbers(pose: &Pose) {
    for reading in Reading::ALL {
        let value = pose.reading(reading);
        assert!(value.is_finite(), "{} is {value}: {pose:?}", reading.name());
    }
}

#[test]
fn huge_inputs_are_answered() {
    let corner = demo::car("gravel_hatch").expect("a demonstration car").left;
    for amount in [1e3, 1e5, 1e9, 1e300, f64::MAX] {
        for signed in [amount, -amount] {
            for field in 0..12 {
                let mut values = [0.0; 12];
                values[field] = signed;
                let setting = Setting::from_array(std::array::from_fn(|i| values[i]));
                let motion = Motion::from_array([values[9], values[10], values[11]]);
                for travel_at in TravelAt::ALL {
                    if let Ok(pose) = solve_soon(&corner, setting, motion, travel_at) {
                        assert_numbers(&pose);
                        // Lengths are lost among the digits of the largest.
                        assert_kept(&corner, &pose, 1e-9_f64.max(1e-12 * amount));
                    }
                }
            }
        }
    }
}

#[test]
fn tiny_inputs_change_nothing() {
    let corner = demo::car("hillclimb_saloon").expect("a demonstration car").left;
    for tiny in [1e-12, 1e-100, 1e-300, f64::MIN_POSITIVE, 5e-324, -0.0] {
        for travel_at in TravelAt::ALL {
            let design = reached(&corner, &as_measured(), &Motion::default(), travel_at);
            let setting = Setting::from_array([tiny; 9]);
            let motion = Motion {
                travel_mm: tiny,
                rack_mm: -tiny,
                ..Motion::default()
            };
            let pose = reached(&corner, &setting, &motion, travel_at);
            for reading in Reading::ALL {
                // Swing arms are long: thousands of mm of a slope's last digits.
                let is_long = matches!(reading, Reading::SwingArmLength | Reading::SideViewSwingArm);
                let tolerance = if is_long { 1e-6 } else { 1e-9 };
                assert_near(
                    reading.name(),
                    pose.reading(reading),
                    design.reading(reading),
                    tolerance,
                );
            }
        }
    }
}

#[test]
fn inputs_that_are_no_numbers_are_named() {
    let corner = demo::car("gravel_hatch").expect("a demonstration car").left;
    let names = [
        "mount_in",
        "mount_back",
        "mount_up",
        "tie_rod",
        "clamp",
        "arm",
        "tie_outer_up",
        "ball_joint_down",
        "hub_spacer",
        "travel",
        "rack",
        "roll",
    ];
    for (field, name) in names.into_iter().enumerate() {
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            let mut values = [0.0; 12];
            values[field] = bad;
            let setting = Setting::from_array(std::array::from_fn(|i| values[i]));
            let motion = Motion::from_array([values[9], values[10], values[11]]);
            for travel_at in TravelAt::ALL {
                match corner.solve(&setting, &motion, travel_at) {
                    Err(SolveError::Input(error)) => {
                        assert_eq!(error.field, name);
                        assert_eq!(error.value.to_bits(), bad.to_bits());
                        assert_eq!(error.index, None);
                    }
                    other => panic!("{name} = {bad}: {other:?}"),
                }
            }
        }
    }
}

#[test]
fn inputs_beyond_any_corner_are_refused_with_their_limit() {
    let corner = demo::car("hillclimb_saloon").expect("a demonstration car").right;
    for (field, known) in SETTING_FIELDS.iter().chain(&MOTION_FIELDS).enumerate() {
        let limit = if known.unit == "deg" {
            MOST_INPUT_DEG
        } else {
            MOST_INPUT_MM
        };
        for (value, refused) in [
            (limit, false),
            (-limit, false),
            (limit.next_up(), true),
            (-limit.next_up(), true),
        ] {
            let mut values = [0.0; 12];
            values[field] = value;
            let setting = Setting::from_array(std::array::from_fn(|i| values[i]));
            let motion = Motion::from_array([values[9], values[10], values[11]]);
            let solved = corner.solve(&setting, &motion, TravelAt::Ground);
            let Err(SolveError::Input(error)) = solved else {
                assert!(!refused, "{} = {value} must be refused", known.name);
                continue;
            };
            assert!(refused, "{error}");
            assert_eq!((&*error.field, error.unit), (known.name, known.unit));
            assert_eq!(error.value.to_bits(), value.to_bits());
            assert_near("the limit told", error.most, limit, 0.0);
            assert!(error.to_string().contains(&limit.to_string()), "{error}");

            let mut sweep = Sweep::new(&corner, &[3], TravelAt::Ground).expect("a small grid");
            let along = ndarray::arr1(&[0.0, 1.0, value]).into_dyn();
            match sweep.input(known.name, &along.view()) {
                Err(SweepError::Input(error)) => assert_eq!(error.index, Some(2)),
                other => panic!("{} = {value}: {other:?}", known.name),
            }
        }
    }
}

/// An amount of any size up to a power of ten, either way.
fn any_size(most_power: f64) -> impl Strategy<Value = f64> {
    prop_oneof![
        3 => Just(0.0),
        2 => (-2.0..most_power, any::<bool>()).prop_map(|(power, negative): (f64, bool)| {
            let size = 10.0_f64.powf(power);
            if negative { -size } else { size }
        }),
    ]
}

/// Settings and motions of any size up to a metre, and any turn of the clamp.
fn any_inputs() -> impl Strategy<Value = (Setting, Motion)> {
    let turns = (any_size(2.25), any_size(2.25));
    (prop::collection::vec(any_size(3.0), 11), turns).prop_map(|(lengths, (clamp_deg, roll_deg))| {
        let setting = Setting::from_array(std::array::from_fn(|i| lengths[i]));
        let motion = Motion::from_array([lengths[9], lengths[10], roll_deg]);
        (Setting { clamp_deg, ..setting }, motion)
    })
}

/// Wild corners have links of a few mm beside links of a metre: their ratio is lost in the digits.
const WILD_MM: f64 = 1e-7;

proptest! {
    #![proptest_config(same_every_run())]

    #[test]
    fn reached_pose_of_a_wild_corner_is_a_pose(
        corner in wild_corner(), inputs in prop::collection::vec(any_inputs(), 8),
    ) {
        for (setting, motion) in inputs {
            for travel_at in TravelAt::ALL {
                if let Ok(pose) = corner.solve(&setting, &motion, travel_at) {
                    assert_numbers(&pose);
                    assert_kept(&corner, &pose, WILD_MM);
                }
            }
        }
    }

    #[test]
    fn sweep_of_a_wild_corner_is_its_poses(
        corner in wild_corner(), inputs in prop::collection::vec(any_inputs(), 4), travel_at in any_travel_at(),
    ) {
        for (setting, motion) in inputs {
            crate::sweep::assert_one_pose_agrees(&corner, &setting, &motion, travel_at);
        }
    }
}

/// The gravel hatch with something changed so far that it is barely a corner.
fn changed(change: impl Fn(&mut HardPoints)) -> Option<Corner> {
    let mut points = *demo::car("gravel_hatch").expect("a demonstration car").left.points();
    change(&mut points);
    Corner::new("at the edge", points).ok()
}

/// The corner nearest to a degenerate one that is still accepted: bisection from share 0, whole, to share 1, degenerate.
fn at_the_edge(name: &str, change: Change) -> Corner {
    let (mut whole, mut degenerate) = (0.0, 1.0);
    assert!(
        changed(|p| change(p, 0.0)).is_some(),
        "{name}: the whole corner must be one"
    );
    assert!(
        changed(|p| change(p, 1.0)).is_none(),
        "{name}: the degenerate corner must not be one"
    );
    for _ in 0..100 {
        let middle = 0.5 * (whole + degenerate);
        if changed(|p| change(p, middle)).is_some() {
            whole = middle;
        } else {
            degenerate = middle;
        }
    }
    changed(|p| change(p, whole)).expect("found whole")
}

fn between(from: Point, to: Point, share: f64) -> Point {
    from + (to - from) * share
}

/// Something done to hard points by a share.
type Change = fn(&mut HardPoints, f64);

/// Ways to make a corner degenerate, by a share: 0 leaves it whole, 1 is past the edge.
const EDGES: [(&str, Change); 12] = [
    ("arm pivots meet", |p, x| {
        p.arm_rear = between(p.arm_rear, p.arm_front, x);
    }),
    ("ball joint on the arm's axis", |p, x| {
        let axis = Line::through(p.arm_rear, p.arm_front);
        p.ball_joint = between(p.ball_joint, axis.foot(p.ball_joint), x);
    }),
    ("arm axis upright", |p, x| {
        p.arm_front = between(p.arm_front, p.arm_rear + Vector::new(0.0, 0.0, 300.0), x);
    }),
    ("low point at the top", |p, x| {
        p.strut_low = between(p.strut_low, p.strut_top, x);
    }),
    ("top at the ball joint", |p, x| {
        let shift = (p.ball_joint - p.strut_top) * x;
        p.strut_top = p.strut_top + shift;
        p.strut_low = p.strut_low + shift;
    }),
    ("strut square to the steering axis", |p, x| {
        let axis = (p.strut_top - p.ball_joint).unit();
        let across = Vector::new(0.0, 1.0, 0.0).without(axis).unit();
        p.strut_low = between(p.strut_low, p.strut_top + across * 400.0 + axis * 30.0, x);
    }),
    ("outer joint on the steering axis", |p, x| {
        let axis = Line::through(p.ball_joint, p.strut_top);
        p.tie_outer = between(p.tie_outer, axis.foot(p.tie_outer), x);
    }),
    ("inner joint on the steering axis", |p, x| {
        let axis = Line::through(p.ball_joint, p.strut_top);
        p.tie_inner = between(p.tie_inner, axis.foot(p.tie_inner), x);
    }),
    ("tie rod of no length", |p, x| {
        p.tie_inner = between(p.tie_inner, p.tie_outer, x);
    }),
    ("tie rod along the steering axis", |p, x| {
        let axis = (p.strut_top - p.ball_joint).unit();
        p.tie_inner = between(p.tie_inner, p.tie_outer + axis * 300.0, x);
    }),
    ("tie rod in line with its arm", |p, x| {
        let axis = Line::through(p.ball_joint, p.strut_top);
        let arm = p.tie_outer - axis.foot(p.tie_outer);
        p.tie_inner = between(p.tie_inner, p.tie_outer + arm * 2.0, x);
    }),
    ("spin axis near the steering axis", |p, x| {
        p.camber_deg = -45.0;
        p.strut_top = between(p.strut_top, p.ball_joint + Vector::new(0.0, 500.0, 480.0), x);
        p.strut_low = between(p.strut_low, p.ball_joint + Vector::new(0.0, 100.0, 80.0), x);
    }),
];

#[test]
fn corners_at_the_edge_stand_at_design_and_move_or_say_why_not() {
    for (name, change) in EDGES {
        let corner = at_the_edge(name, change);
        let points = corner.points();
        for travel_at in TravelAt::ALL {
            for motion in [0.0, 1e-3, 0.1, 1.0, 3.0, 20.0, 80.0]
                .into_iter()
                .flat_map(|x| [travel(x), travel(-x), rack(x), rack(-x)])
            {
                for mount_in_mm in [0.0, 0.5, -10.0] {
                    let setting = Setting {
                        mount_in_mm,
                        ..Setting::default()
                    };
                    let Ok(pose) = corner.solve(&setting, &motion, travel_at) else {
                        continue;
                    };
                    assert_numbers(&pose);
                    // Where the strut has shortened to nothing its two points no longer tell its axis.
                    if (pose.place(Place::StrutTop) - pose.place(Place::StrutLow)).length() < 0.1 {
                        continue;
                    }
                    // Links of 5 mm stretch round-off by a hundred.
                    let (missed, by) = worst_miss(&corner, &pose);
                    assert!(
                        by < 1e-7,
                        "{name}: {missed} by {by:e} mm at {motion:?} {setting:?} {travel_at:?}"
                    );
                }
            }
        }
        let design = reached(&corner, &as_measured(), &Motion::default(), TravelAt::Ground);
        assert_near(name, design.reading(Reading::Camber), points.camber_deg, 1e-8);
        assert_near(name, design.reading(Reading::Toe), points.toe_deg, 1e-8);
    }
}

#[test]
fn corner_at_the_far_end_of_the_coordinates_still_moves() {
    // 20 m from the origin a coordinate has 4e-12 mm in its last bit.
    let shift = Vector::new(-19_600.0, 0.0, 19_000.0);
    let whole = demo::car("gravel_hatch").expect("a demonstration car").left;
    let far = crate::corners::moved(whole.points(), &|p| p + shift, &|d| d);
    let far = Corner::new("far", far).expect("a corner");
    for motion in [travel(60.0), travel(-60.0), rack(40.0)] {
        let near_pose = reached(&whole, &as_measured(), &motion, TravelAt::Ground);
        let far_pose = reached(&far, &as_measured(), &motion, TravelAt::Ground);
        assert_kept(&far, &far_pose, 1e-8);
        for reading in [Reading::Camber, Reading::Toe, Reading::Caster, Reading::ScrubRadius] {
            assert_near(
                reading.name(),
                far_pose.reading(reading),
                near_pose.reading(reading),
                1e-8,
            );
        }
    }
}

#[test]
fn direction_of_huge_length_is_a_direction_or_refused() {
    // A direction's length is free, but the square of 1e200 is no number.
    for length in [1e100, 1e160, 1e200, f64::MAX] {
        let racked = changed(|p| p.rack_direction = Vector::new(0.0, length, 0.0));
        if let Some(corner) = racked {
            let pose = reached(&corner, &as_measured(), &rack(20.0), TravelAt::Ground);
            assert_kept(&corner, &pose, 1e-9);
            let usual = reached(
                &demo::car("gravel_hatch").unwrap().left,
                &as_measured(),
                &rack(20.0),
                TravelAt::Ground,
            );
            assert_near("toe", pose.reading(Reading::Toe), usual.reading(Reading::Toe), 1e-9);
        }
        let borne = changed(|p| p.bearing_axis = Some(Vector::new(length, 0.0, length)));
        if let Some(corner) = borne {
            let pose = reached(&corner, &as_measured(), &Motion::default(), TravelAt::Ground);
            let leaning = changed(|p| p.bearing_axis = Some(Vector::new(1.0, 0.0, 1.0))).expect("a corner");
            let expected = reached(&leaning, &as_measured(), &Motion::default(), TravelAt::Ground);
            let angle = |pose: &Pose| pose.reading(Reading::BearingAngle);
            assert_near("bearing angle", angle(&pose), angle(&expected), 1e-9);
        }
    }
}
