//! Exact slopes against differences of solved poses.
//!
//! SECOND METHOD: central differences of fifth order over whole solves, each from a setting, a motion or hard points of
//! its own; they share the formulas of the pose, not those of its slopes (no dual number, no implicit function).

use proptest::prelude::*;
use strutsweep::derivative::{Coordinate, Parameter};
use strutsweep::{Corner, HardPoint, HardPoints, Motion, Place, Pose, Reading, Setting, TravelAt, demo};

use crate::corners::{any_travel_at, config, plausible_corner, plausible_motion, plausible_setting, reached};

/// Step of the differences, mm or deg: at links of 300 mm and more it leaves (step/300)^4 of a slope, below 1e-11.
const STEP: f64 = 0.4;
/// A degree moves a wheel centre by more than ten millimetres: the same error from a shorter step.
const STEP_DEG: f64 = 0.1;
/// Agreement wanted, as a share of the slope.
const SHARE: f64 = 1e-6;
/// What differences of poses, each good to some 1e-10 mm or deg, can tell at all per mm or deg; rates are some thousand
/// times better in their own unit, but for those in mm and deg.
const FLOOR: f64 = 2e-9;

/// The case with one parameter moved.
fn solved_with(
    corner: &Corner,
    setting: &Setting,
    motion: &Motion,
    travel_at: TravelAt,
    parameter: Parameter,
    by: f64,
) -> Pose {
    let (mut settings, mut motions) = (setting.to_array(), motion.to_array());
    let mut points: HardPoints = *corner.points();
    match parameter {
        Parameter::Setting(field) => settings[field] += by,
        Parameter::Motion(field) => motions[field] += by,
        Parameter::WheelRadius => points.wheel_radius_mm += by,
        Parameter::WheelCamber => points.camber_deg += by,
        Parameter::WheelToe => points.toe_deg += by,
        Parameter::Point(point, coordinate) => {
            let mut at = point.of(&points);
            match coordinate {
                Coordinate::X => at.x += by,
                Coordinate::Y => at.y += by,
                Coordinate::Z => at.z += by,
            }
            point.place(&mut points, at);
        }
    }
    let corner = Corner::new("moved", points).expect("still a corner");
    reached(
        &corner,
        &Setting::from_array(settings),
        &Motion::from_array(motions),
        travel_at,
    )
}

fn check(corner: &Corner, setting: &Setting, motion: &Motion, travel_at: TravelAt) {
    let parameters = Parameter::all();
    let found = corner
        .derivatives(setting, motion, travel_at, &parameters)
        .expect("within reach");
    assert_eq!(found.pose, reached(corner, setting, motion, travel_at));
    for (parameter, slopes) in parameters.into_iter().zip(&found.slopes) {
        let step = if parameter.unit() == "deg" { STEP_DEG } else { STEP };
        let poses = [-2.0, -1.0, 1.0, 2.0]
            .map(|steps| solved_with(corner, setting, motion, travel_at, parameter, steps * step));
        let difference = |of: &dyn Fn(&Pose) -> f64| {
            let [a, b, d, e] = poses.each_ref().map(of);
            (8.0 * (d - b) - (e - a)) / (12.0 * step)
        };
        let near = |what: &str, exact: f64, difference: f64, scale: f64| {
            let most = SHARE * exact.abs() + FLOOR * scale;
            assert!(
                (exact - difference).abs() <= most,
                "{what} by {}: {exact} is not {difference} within {most}\n{corner:?}\n{setting:?} {motion:?} {travel_at:?}",
                parameter.name()
            );
        };
        for reading in Reading::ALL {
            let exact = slopes.readings[reading as usize];
            match reading {
                // As its inverse, which has no pole.
                Reading::SwingArmLength | Reading::SideViewSwingArm => {
                    let swing_arm = found.pose.reading(reading);
                    let by_difference = difference(&|pose| 1.0 / pose.reading(reading));
                    near("1/swing arm", -exact / swing_arm.powi(2), by_difference, 1.0);
                }
                // As its cosine: the angle itself has a corner at zero.
                Reading::BearingAngle => {
                    let cosine = |pose: &Pose| pose.reading(reading).to_radians().cos().to_degrees();
                    let angle = found.pose.reading(reading).to_radians();
                    let exact = if exact.is_nan() { 0.0 } else { -angle.sin() * exact };
                    near("cosine of the bearing angle", exact, difference(&cosine), 10.0);
                }
                _ => near(reading.name(), exact, difference(&|pose| pose.reading(reading)), 10.0),
            }
        }
        for place in Place::ALL.into_iter().filter(|place| !place.is_rate()) {
            let at = |pose: &Pose| <[f64; 3]>::from(pose.place(place));
            let exact: [f64; 3] = slopes.places[place as usize].into();
            for (axis, exact) in exact.into_iter().enumerate() {
                near(place.name(), exact, difference(&|pose| at(pose)[axis]), 10.0);
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 100, ..config() })]

    #[test]
    fn slopes_are_what_differences_tell(
        corner in plausible_corner(), setting in plausible_setting(), motion in plausible_motion(),
        travel_at in any_travel_at(),
    ) {
        check(&corner, &setting, &motion, travel_at);
    }
}

#[test]
fn slopes_at_design_are_what_differences_tell() {
    for name in ["gravel_hatch", "hillclimb_saloon"] {
        let car = demo::car(name).expect("a demonstration car");
        for corner in [&car.left, &car.right] {
            for travel_at in TravelAt::ALL {
                check(corner, &Setting::default(), &Motion::default(), travel_at);
            }
        }
    }
}

#[test]
fn instant_centre_moves_as_differences_tell() {
    let corner = demo::car("gravel_hatch").expect("a demonstration car").right;
    let (setting, motion) = (Setting::default(), Motion::default());
    let parameters = [
        Parameter::from_name("mount_in").expect("a setting"),
        Parameter::Point(HardPoint::BallJoint, Coordinate::Z),
    ];
    let found = corner
        .derivatives(&setting, &motion, TravelAt::Ground, &parameters)
        .expect("within reach");
    for (parameter, slopes) in parameters.into_iter().zip(&found.slopes) {
        let [a, b, d, e] = [-2.0, -1.0, 1.0, 2.0].map(|steps| {
            let pose = solved_with(&corner, &setting, &motion, TravelAt::Ground, parameter, steps * 0.05);
            <[f64; 3]>::from(pose.place(Place::InstantCentre))
        });
        let exact: [f64; 3] = slopes.places[Place::InstantCentre as usize].into();
        for axis in 0..3 {
            let difference = (8.0 * (d[axis] - b[axis]) - (e[axis] - a[axis])) / (12.0 * 0.05);
            // The instant centre lies metres away and moves metres per mm; differences tell it to 1e-6 of that.
            assert!(
                (exact[axis] - difference).abs() <= SHARE * (exact[axis].abs() + 1.0),
                "{exact:?} {difference}"
            );
        }
    }
}

#[test]
fn names_lead_back_to_their_parameters() {
    for parameter in Parameter::all() {
        assert_eq!(Parameter::from_name(&parameter.name()), Some(parameter));
    }
    assert_eq!(Parameter::from_name("strut.top.w"), None);
}

#[test]
#[allow(clippy::float_cmp)] // The engine moves the left twin: they agree to the last bit.
fn mirrored_corners_have_mirrored_slopes() {
    // IDENTITY: left and right read alike, inboard being inboard on both; a coordinate Y has the other sign.
    let car = demo::car("hillclimb_saloon").expect("a demonstration car");
    let (left, right) = (&car.left, &car.right);
    let setting = Setting {
        mount_in_mm: 7.0,
        ..Setting::default()
    };
    let motion = Motion {
        travel_mm: 12.0,
        rack_mm: 0.0,
        roll_deg: 0.0,
    };
    let parameters = Parameter::all();
    let slopes = |corner: &Corner| {
        corner
            .derivatives(&setting, &motion, TravelAt::Hub, &parameters)
            .expect("within reach")
            .slopes
    };
    for ((parameter, left), right) in parameters.iter().zip(slopes(left)).zip(slopes(right)) {
        let sign = match parameter {
            Parameter::Point(_, Coordinate::Y) | Parameter::Motion(1 | 2) => -1.0,
            _ => 1.0,
        };
        for reading in Reading::ALL {
            let (left, right) = (left.readings[reading as usize], right.readings[reading as usize]);
            assert!(left == sign * right, "{} {parameter:?}: {left} {right}", reading.name());
        }
    }
}
