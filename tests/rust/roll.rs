//! Roll of the body: what turns with it and what does not, mirror images, small angles, and the fast sweep's bits.

use nalgebra::{Point3, Rotation3, Vector3};
use ndarray::{Array, IxDyn};
use proptest::prelude::*;
use strutsweep::linkage::Linkage;
use strutsweep::{Corner, Motion, Place, Quantity, Reading, Setting, Side, Sweep, TravelAt, Watch, demo};

use crate::constraints::spin_axis;
use crate::corners::{
    any_travel_at, as_measured, config, plausible_corner, plausible_motion, plausible_setting, reached,
};
use crate::printed::assert_near;

/// Coordinates lie up to 2 m from the origin; a pose chains some fifty operations.
const LENGTH_MM: f64 = 1e-9;
const ANGLE_DEG: f64 = 1e-9;

fn roll(roll_deg: f64) -> Motion {
    Motion {
        roll_deg,
        ..Motion::default()
    }
}

/// The spin axis in the car's own axes.
fn spin(corner: &Corner, pose: &strutsweep::Pose) -> Vector3<f64> {
    let s = spin_axis(pose);
    Vector3::new(s.x, corner.side().outboard() * s.y, s.z)
}

#[test]
fn body_that_leans_to_the_right_pushes_the_right_wheel_up_and_lets_the_left_one_down() {
    // ISO 8855: roll is right-handed about X, which points forward: positive lowers the body's right side.
    for name in ["gravel_hatch", "hillclimb_saloon"] {
        let car = demo::car(name).unwrap();
        let left = reached(&car.left, &as_measured(), &roll(2.0), TravelAt::Ground);
        let right = reached(&car.right, &as_measured(), &roll(2.0), TravelAt::Ground);
        assert!(left.reading(Reading::StrutCompression) < -10.0);
        assert!(right.reading(Reading::StrutCompression) > 10.0);
        let lowered = right.place(Place::StrutTop).z - car.right.points().strut_top.z;
        let raised = left.place(Place::StrutTop).z - car.left.points().strut_top.z;
        // A top 548 or 527 mm from the centre line goes by that times sin 2 deg, nearly.
        assert!(lowered < -17.0 && raised > 17.0, "{lowered} {raised}");
    }
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn with_the_strut_held_corner_and_body_lean_as_one(
        corner in plausible_corner(), setting in plausible_setting(), motion in plausible_motion(),
        roll_deg in -20.0..20.0,
    ) {
        // IDENTITY: nothing moves against the body, so that every point of the level pose turns about the ground's centre
        // line. The contact centre alone is another point of the tyre.
        let level = Motion { roll_deg: 0.0, ..motion };
        let before = reached(&corner, &setting, &level, TravelAt::Strut);
        let after = reached(&corner, &setting, &Motion { roll_deg, ..motion }, TravelAt::Strut);
        let design = reached(&corner, &as_measured(), &Motion::default(), TravelAt::Ground);
        let turn = Rotation3::from_axis_angle(&Vector3::x_axis(), roll_deg.to_radians());
        let ground = Point3::new(0.0, 0.0, design.place(Place::ContactCentre).z);
        for place in [Place::BallJoint, Place::StrutTop, Place::StrutLow, Place::TieInner, Place::TieOuter, Place::WheelCentre] {
            let expected = ground + turn * (Point3::from(before.place(place)) - ground);
            assert_near(place.name(), (Point3::from(after.place(place)) - expected).norm(), 0.0, LENGTH_MM);
        }
        assert_near("spin axis", (spin(&corner, &after) - turn * spin(&corner, &before)).norm(), 0.0, 1e-11);
        for reading in [Reading::BearingAngle, Reading::TieRodMargin, Reading::StrutCompression] {
            assert_near(reading.name(), after.reading(reading), before.reading(reading), ANGLE_DEG);
        }
    }

    #[test]
    fn roll_one_way_is_the_mirror_image_of_roll_the_other(
        corner in plausible_corner(), setting in plausible_setting(), roll_deg in -3.0..3.0, travel_at in any_travel_at(),
    ) {
        let mirrored = corner.mirrored();
        let one = reached(&corner, &setting, &roll(roll_deg), travel_at);
        let other = reached(&mirrored, &setting, &roll(-roll_deg), travel_at);
        for reading in Reading::ALL {
            prop_assert_eq!(one.reading(reading).to_bits(), other.reading(reading).to_bits(), "{}", reading.name());
        }
    }

    #[test]
    fn no_roll_changes_no_bit(corner in plausible_corner(), setting in plausible_setting()) {
        // Debug shows every digit, and the sign of a zero.
        let linkage = Linkage::new(&corner.left_twin(), &setting);
        let shown = format!("{:?}", linkage.rolled(0.0)).replace("-0.0,", "0.0,").replace("-0.0 ", "0.0 ");
        prop_assert_eq!(shown, format!("{linkage:?}").replace("-0.0,", "0.0,").replace("-0.0 ", "0.0 "));
    }

    #[test]
    fn sweep_over_roll_is_made_of_its_single_poses(
        corner in plausible_corner(), setting in plausible_setting(), rack_mm in -20.0..20.0,
        rolls in prop::collection::vec(prop_oneof![Just(0.0), -3.0..3.0, -30.0..30.0], 1..20),
        travel_at in any_travel_at(), threads in 1_usize..3,
    ) {
        let travels = [-30.0, 0.0, 45.0];
        let mut sweep = Sweep::new(&corner, &[3, rolls.len()], travel_at).unwrap();
        let mut give = |name: &str, shape: [usize; 2], values: Vec<f64>| {
            sweep.input(name, &Array::from_shape_vec(IxDyn(&shape), values).unwrap().view()).unwrap();
        };
        give("travel", [3, 1], travels.to_vec());
        give("roll", [1, rolls.len()], rolls.clone());
        give("rack", [1, 1], vec![rack_mm]);
        for (field, value) in strutsweep::setting::SETTING_FIELDS.iter().zip(setting.to_array()) {
            give(field.name, [1, 1], vec![value]);
        }
        let readings: Vec<Quantity> = Reading::ALL.into_iter().map(Quantity::Reading).collect();
        let swept = sweep.run(&readings, threads, &Watch::default()).unwrap();
        for (i, travel_mm) in travels.into_iter().enumerate() {
            for (j, &roll_deg) in rolls.iter().enumerate() {
                let motion = Motion { travel_mm, rack_mm, roll_deg };
                let pose = corner.solve(&setting, &motion, travel_at);
                prop_assert_eq!(pose.is_ok(), swept.status[i * rolls.len() + j] == 0);
                let Ok(pose) = pose else { continue };
                for (column, reading) in Reading::ALL.into_iter().enumerate() {
                    let found = swept.column(column)[[i, j]];
                    prop_assert_eq!(found.to_bits(), pose.reading(reading).to_bits(), "{} at roll {}", reading.name(), roll_deg);
                }
            }
        }
    }
}

/// Roll of this much: squares of it, a hundredth of a thousandth of a radian, are what a first-order law leaves.
const SMALL_ROLL_DEG: f64 = 0.05;
const SMALL_ROLL_ERROR_DEG: f64 = 1e-4;

#[test]
fn camber_to_the_ground_is_camber_to_the_body_with_a_small_roll_added_outside_and_taken_inside() {
    // TRADE's trap of the two cambers. Positive roll leans the body to the right: the right wheel is the outer one, and
    // its top goes outboard. Camber to the body is told here from the travel that roll makes at the wheel.
    for name in ["gravel_hatch", "hillclimb_saloon"] {
        let car = demo::car(name).unwrap();
        for (corner, side) in [(&car.left, Side::Left), (&car.right, Side::Right)] {
            for roll_deg in [SMALL_ROLL_DEG, -SMALL_ROLL_DEG] {
                let rolled = reached(corner, &as_measured(), &roll(roll_deg), TravelAt::Ground);
                let design = reached(corner, &as_measured(), &Motion::default(), TravelAt::Ground);
                let turn = -roll_deg.to_radians() * side.outboard();
                let travel_mm = turn * design.reading(Reading::HalfTrack);
                let in_bump = reached(
                    corner,
                    &Setting::default(),
                    &Motion {
                        travel_mm,
                        ..Motion::default()
                    },
                    TravelAt::Ground,
                );
                let to_body = in_bump.reading(Reading::Camber);
                let expected = to_body - roll_deg * side.outboard();
                assert_near(
                    "camber",
                    rolled.reading(Reading::Camber),
                    expected,
                    SMALL_ROLL_ERROR_DEG,
                );
            }
        }
    }
}
