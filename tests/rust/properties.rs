//! What holds of every corner, setting and motion: lengths kept, definitions of readings, mirror, rigid motions, rates.

use nalgebra::{Isometry3, Matrix3, Point3, Rotation3, UnitQuaternion, Vector3};
use proptest::prelude::*;
use strutsweep::corner::RACK_ACROSS;
use strutsweep::space::Vector;
use strutsweep::{Corner, HardPoints, Motion, Place, Pose, Reading, Setting, TravelAt};

use crate::constraints::{assert_kept, spin_axis};
use crate::corners::{
    any_travel_at, as_measured, config, level_motion, moved, plausible_corner, plausible_motion, plausible_setting,
    reached,
};
use crate::printed::assert_near;

/// Coordinates lie up to 2 m from the origin, with 2e-13 mm in their last bit; a pose chains some fifty operations.
const LENGTH_MM: f64 = 1e-9;
/// The same carried by an arm of 100 mm and up.
const ANGLE_DEG: f64 = 1e-9;

/// The largest difference that two poses of the same geometry may show in a reading, by its unit.
fn round_off(reading: Reading) -> f64 {
    match reading {
        // Slopes divide by the slope of travel; 1/(mm) against the angle's own round-off.
        Reading::CamberGain
        | Reading::BumpSteer
        | Reading::CasterGain
        | Reading::MotionRatio
        | Reading::TieRodMargin => 1e-11,
        // Near where camber stands still the swing arm is as long as one likes: compared by its inverse instead.
        Reading::SwingArmLength | Reading::SideViewSwingArm => f64::INFINITY,
        // A slope stretched by the half track.
        Reading::RollCentreHeight => 1e-8,
        reading if reading.unit() == "deg" => ANGLE_DEG,
        _ => LENGTH_MM,
    }
}

#[track_caller]
fn assert_same_reading(reading: Reading, found: f64, expected: f64) {
    assert_near(reading.name(), found, expected, round_off(reading));
    if matches!(reading, Reading::SwingArmLength | Reading::SideViewSwingArm) {
        assert_near("1 / swing arm", 1.0 / found, 1.0 / expected, 1e-12);
    }
}

/// The angle between two vectors, by sine and cosine: a cosine alone says little of a small angle.
fn angle_deg(a: Vector3<f64>, b: Vector3<f64>) -> f64 {
    a.cross(&b).norm().atan2(a.dot(&b)).to_degrees()
}

fn bits(pose: &Pose) -> Vec<u64> {
    pose.figures.readings.iter().map(|value| value.to_bits()).collect()
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn parts_keep_their_lengths(
        corner in plausible_corner(), setting in plausible_setting(), motion in plausible_motion(),
        travel_at in any_travel_at(),
    ) {
        let pose = reached(&corner, &setting, &motion, travel_at);
        assert_kept(&corner, &pose, LENGTH_MM);
    }

    #[test]
    fn design_reads_what_was_measured(corner in plausible_corner(), travel_at in any_travel_at()) {
        let points = corner.points();
        let pose = reached(&corner, &as_measured(), &Motion::default(), travel_at);
        assert_near("camber", pose.reading(Reading::Camber), points.camber_deg, ANGLE_DEG);
        assert_near("toe", pose.reading(Reading::Toe), points.toe_deg, ANGLE_DEG);
        assert_near("strut compression", pose.reading(Reading::StrutCompression), 0.0, LENGTH_MM);
        assert_near("wheelbase shift", pose.reading(Reading::WheelbaseShift), 0.0, LENGTH_MM);
        for (place, at) in [
            (Place::BallJoint, points.ball_joint),
            (Place::StrutTop, points.strut_top),
            (Place::StrutLow, points.strut_low),
            (Place::TieInner, points.tie_inner),
            (Place::TieOuter, points.tie_outer),
            (Place::WheelCentre, points.wheel_centre),
        ] {
            assert_near(place.name(), (pose.place(place) - at).length(), 0.0, LENGTH_MM);
        }
        if points.bearing_axis.is_none() {
            // The angle's sine is known to round-off, and that is the angle here.
            assert_near("bearing angle", pose.reading(Reading::BearingAngle), 0.0, ANGLE_DEG);
        }
    }

    #[test]
    fn readings_are_what_their_definitions_say(
        corner in plausible_corner(), setting in plausible_setting(), motion in plausible_motion(),
        travel_at in any_travel_at(),
    ) {
        // SECOND METHOD: the table of readings worked out from the pose's places, with o for outboard's sign.
        let pose = reached(&corner, &setting, &motion, travel_at);
        let o = corner.side().outboard();
        let at = |place| Point3::from(pose.place(place));
        let left = spin_axis(&pose);
        let s = Vector3::new(left.x, o * left.y, left.z);
        let (b, t, w, c) = (at(Place::BallJoint), at(Place::StrutTop), at(Place::WheelCentre), at(Place::ContactCentre));
        let e = (t - b).normalize();
        let up = (w - c).normalize();
        let check = |reading: Reading, expected: f64| assert_same_reading(reading, pose.reading(reading), expected);

        // The wheel plane holds W - C, square to s, and its lean against the ground is the camber.
        assert_near("contact centre in the wheel plane", s.dot(&(w - c)), 0.0, LENGTH_MM);
        check(Reading::Camber, (-s.z).asin().to_degrees());
        assert_near("lean of the wheel plane", up.xy().norm().asin().to_degrees(), pose.reading(Reading::Camber).abs(), 1e-6);
        check(Reading::Caster, (-e.x).atan2(e.z).to_degrees());
        check(Reading::KingpinInclination, (-o * e.y).atan2(e.z).to_degrees());
        check(Reading::IncludedAngle, pose.reading(Reading::Camber) + pose.reading(Reading::KingpinInclination));

        let outboard = Vector3::new(s.x, s.y, 0.0).normalize();
        // Heading: square to the axle line, forward on either side.
        let forward = Vector3::new(outboard.y, -outboard.x, 0.0) * o;
        prop_assert!(forward.x > 0.0);
        let axis_at = |height: f64| b + e * ((height - b.z) / e.z);
        let (g, g_hub) = (axis_at(c.z), axis_at(w.z));
        check(Reading::ScrubRadius, (c - g).dot(&outboard));
        check(Reading::MechanicalTrail, (g - c).dot(&forward));
        check(Reading::HubOffset, (w - g_hub).dot(&outboard));
        check(Reading::HubTrail, (g_hub - w).dot(&forward));
        assert_near("axis at ground", (at(Place::AxisAtGround) - g).norm(), 0.0, LENGTH_MM);
        check(Reading::HalfTrack, o * c.y);

        let design = reached(&corner, &as_measured(), &Motion::default(), travel_at);
        check(Reading::WheelbaseShift, c.x - design.place(Place::ContactCentre).x);
        let length = |pose: &Pose| (pose.place(Place::StrutTop) - pose.place(Place::StrutLow)).length();
        check(Reading::StrutCompression, length(&design) - length(&pose));

        let strut = (t - at(Place::StrutLow)).normalize();
        let points = corner.points();
        let bearing = points.bearing_axis.unwrap_or(points.strut_top - points.strut_low);
        let lean = Rotation3::from_axis_angle(&Vector3::x_axis(), motion.roll_deg.to_radians());
        check(Reading::BearingAngle, angle_deg(strut, lean * Vector3::from(bearing)));

        // Seen along the steering axis.
        let square = |v: Vector3<f64>| v - e * e.dot(&v);
        let steering_arm = square(at(Place::TieOuter) - b);
        let tie_rod = square(at(Place::TieInner) - at(Place::TieOuter));
        let sine = steering_arm.cross(&tie_rod).norm() / steering_arm.norm() / tie_rod.norm();
        check(Reading::TieRodMargin, sine);
    }

    #[test]
    fn travel_asked_is_travel_found(
        corner in plausible_corner(), setting in plausible_setting(), motion in plausible_motion(),
    ) {
        let design = reached(&corner, &as_measured(), &Motion::default(), TravelAt::Ground);
        for (travel_at, of) in [(TravelAt::Ground, Place::ContactCentre), (TravelAt::Hub, Place::WheelCentre)] {
            let pose = reached(&corner, &setting, &motion, travel_at);
            assert_near("travel", pose.place(of).z - design.place(of).z, motion.travel_mm, LENGTH_MM);
        }
        let pose = reached(&corner, &setting, &motion, TravelAt::Strut);
        assert_near("travel", pose.reading(Reading::StrutCompression), motion.travel_mm, LENGTH_MM);
    }

    #[test]
    fn the_three_ways_to_measure_travel_tell_of_one_pose(
        corner in plausible_corner(), setting in plausible_setting(), motion in plausible_motion(),
    ) {
        let design = reached(&corner, &as_measured(), &Motion::default(), TravelAt::Ground);
        let pose = reached(&corner, &setting, &motion, TravelAt::Ground);
        let rise = |place| pose.place(place).z - design.place(place).z;
        for (travel_at, travel_mm) in [
            (TravelAt::Hub, rise(Place::WheelCentre)),
            (TravelAt::Strut, pose.reading(Reading::StrutCompression)),
        ] {
            let same = reached(&corner, &setting, &Motion { travel_mm, ..motion }, travel_at);
            for place in Place::ALL.into_iter().filter(|place| !place.is_rate()) {
                assert_near(place.name(), (same.place(place) - pose.place(place)).length(), 0.0, 1e-8);
            }
        }
    }

    #[test]
    fn mirrored_corner_reads_the_same_to_the_last_bit(
        corner in plausible_corner(), setting in plausible_setting(), motion in plausible_motion(),
        travel_at in any_travel_at(),
    ) {
        let mirrored = corner.mirrored();
        prop_assert_ne!(mirrored.side(), corner.side());
        prop_assert_eq!(&mirrored.mirrored(), &corner);
        let reversed = Motion { rack_mm: -motion.rack_mm, roll_deg: -motion.roll_deg, ..motion };
        let pose = reached(&corner, &setting, &motion, travel_at);
        let image = reached(&mirrored, &setting, &reversed, travel_at);
        prop_assert_eq!(bits(&pose), bits(&image));
        for place in Place::ALL {
            let [x, y, z] = <[f64; 3]>::from(pose.place(place));
            let of_image = <[f64; 3]>::from(image.place(place));
            prop_assert_eq!([x, -y, z].map(f64::to_bits), of_image.map(f64::to_bits), "{}", place.name());
        }
    }

    #[test]
    fn same_question_same_bits(
        corner in plausible_corner(), setting in plausible_setting(), motions in prop::collection::vec(plausible_motion(), 2..6),
        travel_at in any_travel_at(),
    ) {
        // There and back again: a pose does not know which poses were asked for before it.
        let there: Vec<_> = motions.iter().map(|motion| bits(&reached(&corner, &setting, motion, travel_at))).collect();
        let mut back: Vec<_> = motions.iter().rev().map(|motion| bits(&reached(&corner, &setting, motion, travel_at))).collect();
        back.reverse();
        prop_assert_eq!(there, back);
    }

    #[test]
    fn car_moved_fore_aft_and_up_reads_the_same(
        corner in plausible_corner(), setting in plausible_setting(), motion in plausible_motion(),
        travel_at in any_travel_at(), forward in -3000.0..3000.0, up in -800.0..800.0,
    ) {
        let shift = Vector::new(forward, 0.0, up);
        let points = moved(corner.points(), &|point| point + shift, &|direction| direction);
        let pose = reached(&corner, &setting, &motion, travel_at);
        let shifted = reached(&Corner::new("shifted", points).unwrap(), &setting, &motion, travel_at);
        for reading in Reading::ALL {
            assert_same_reading(reading, shifted.reading(reading), pose.reading(reading));
        }
        for place in Place::ALL.into_iter().filter(|place| !place.is_rate()) {
            assert_near(place.name(), (shifted.place(place) - (pose.place(place) + shift)).length(), 0.0, 1e-8);
        }
    }

    #[test]
    fn car_made_wider_changes_track_and_roll_centre_alone(
        corner in plausible_corner(), setting in plausible_setting(), motion in level_motion(),
        travel_at in any_travel_at(), wider in -250.0..400.0,
    ) {
        let shift = Vector::new(0.0, wider * corner.side().outboard(), 0.0);
        let points = moved(corner.points(), &|point| point + shift, &|direction| direction);
        let pose = reached(&corner, &setting, &motion, travel_at);
        let shifted = reached(&Corner::new("wider", points).unwrap(), &setting, &motion, travel_at);
        for reading in Reading::ALL {
            let before = pose.reading(reading);
            let expected = match reading {
                Reading::HalfTrack => before + wider,
                // IDENTITY: the normal to the contact centre's path keeps its slope.
                Reading::RollCentreHeight => before * (1.0 + wider / pose.reading(Reading::HalfTrack)),
                _ => before,
            };
            assert_same_reading(reading, shifted.reading(reading), expected);
        }
    }

    #[test]
    fn car_turned_about_the_vertical_reads_the_same_against_its_wheel(
        corner in plausible_corner(), motion in level_motion(), travel_at in any_travel_at(),
        [up, rod, longer, outer, ball, hub] in prop::array::uniform6(-5.0..5.0),
        turn_deg in -20.0..20.0,
    ) {
        // Whatever is not told by the car's own fore-aft and lateral directions: settings along the vertical and along
        // parts, and readings taken to the ground and to the wheel.
        let setting = Setting {
            mount_up_mm: up,
            tie_rod_mm: rod,
            arm_mm: longer,
            tie_outer_up_mm: outer,
            ball_joint_down_mm: ball,
            hub_spacer_mm: hub,
            ..Setting::default()
        };
        let o = corner.side().outboard();
        // About the hub, so that the corner stays on its side of the car.
        let turn = Isometry3::rotation_wrt_point(
            UnitQuaternion::from_scaled_axis(Vector3::z() * f64::to_radians(turn_deg)),
            corner.points().wheel_centre.into(),
        );
        let points = HardPoints {
            // Turned to the left, the left wheel toes out and the right one in.
            toe_deg: corner.points().toe_deg - o * turn_deg,
            ..moved(corner.points(), &|p| (turn * Point3::from(p)).into(), &|d| (turn * Vector3::from(d)).into())
        };
        let turned_corner = Corner::new("turned", points).unwrap();
        let pose = reached(&corner, &setting, &motion, travel_at);
        let turned = reached(&turned_corner, &setting, &motion, travel_at);
        assert_near("toe", turned.reading(Reading::Toe), pose.reading(Reading::Toe) - o * turn_deg, ANGLE_DEG);
        for reading in [
            Reading::Camber,
            Reading::ScrubRadius,
            Reading::MechanicalTrail,
            Reading::HubOffset,
            Reading::HubTrail,
            Reading::StrutCompression,
            Reading::BearingAngle,
            Reading::TieRodMargin,
            Reading::CamberGain,
            Reading::BumpSteer,
            Reading::MotionRatio,
            Reading::SwingArmLength,
        ] {
            assert_same_reading(reading, turned.reading(reading), pose.reading(reading));
        }
        for place in Place::ALL.into_iter().filter(|place| !place.is_rate()) {
            let expected = turn * Point3::from(pose.place(place));
            assert_near(place.name(), (Point3::from(turned.place(place)) - expected).norm(), 0.0, 1e-8);
        }
    }

    #[test]
    fn direction_of_the_rack_has_no_length(
        corner in plausible_corner(), motion in plausible_motion(), length in 0.01..100.0,
        [x, y, z] in prop::array::uniform3(-0.2..0.2),
    ) {
        let unit = Vector::new(x, 1.0 + y, z).unit();
        let with = |rack_direction| {
            Corner::new("racked", HardPoints { rack_direction, ..*corner.points() }).unwrap()
        };
        let one = reached(&with(unit), &as_measured(), &motion, TravelAt::Ground);
        let other = reached(&with(unit * length), &as_measured(), &motion, TravelAt::Ground);
        assert_kept(&with(unit), &one, LENGTH_MM);
        for reading in Reading::ALL {
            assert_same_reading(reading, other.reading(reading), one.reading(reading));
        }
    }

    #[test]
    fn arm_pivots_may_slide_along_their_axis_and_swap(
        corner in plausible_corner(), setting in plausible_setting(), motion in plausible_motion(),
        travel_at in any_travel_at(), [front, rear] in prop::array::uniform2(-0.4..0.4),
    ) {
        // The arm turns about a line: which two points tell it, and which of them is called front, cannot matter.
        let points = corner.points();
        let along = points.arm_front - points.arm_rear;
        let pose = reached(&corner, &setting, &motion, travel_at);
        let slid = HardPoints {
            arm_front: points.arm_front + along * front,
            arm_rear: points.arm_rear + along * rear,
            ..*points
        };
        let swapped = HardPoints { arm_front: points.arm_rear, arm_rear: points.arm_front, ..*points };
        for points in [slid, swapped] {
            let same = reached(&Corner::new("same arm", points).unwrap(), &setting, &motion, travel_at);
            for reading in Reading::ALL {
                assert_same_reading(reading, same.reading(reading), pose.reading(reading));
            }
        }
    }

    #[test]
    fn low_point_may_slide_along_the_strut(
        corner in plausible_corner(), motion in plausible_motion(), travel_at in any_travel_at(), share in -0.5..0.5,
        mount in prop::array::uniform3(-15.0..15.0),
    ) {
        // `low` is any second point of the damper-rod axis: it sets where lengths are counted from, not what moves. With
        // the clamp not turned it is not a pivot either.
        let points = corner.points();
        let slid = HardPoints {
            strut_low: points.strut_low + (points.strut_top - points.strut_low) * share,
            ..*points
        };
        let [mount_in_mm, mount_back_mm, mount_up_mm] = mount;
        let setting = Setting { mount_in_mm, mount_back_mm, mount_up_mm, ..Setting::default() };
        let pose = reached(&corner, &setting, &motion, travel_at);
        let same = reached(&Corner::new("same strut", slid).unwrap(), &setting, &motion, travel_at);
        for reading in Reading::ALL {
            assert_same_reading(reading, same.reading(reading), pose.reading(reading));
        }
    }
}

/// Step, mm of travel, of the differences that rates are held against, where the tie rod is square to its arm: five
/// points leave h^4/30 of a fifth derivative over lengths of 300 mm and up, and the round-off of angles over the step.
const STEP_MM: f64 = 0.5;
/// Round-off of 1e-12 deg and mm over the least step.
const RATE_TOLERANCE: f64 = 1e-10;

/// Five poses, evenly spaced along travel.
struct Stencil {
    poses: [Pose; 5],
    step_mm: f64,
}

impl Stencil {
    fn about(pose: &Pose, corner: &Corner) -> Self {
        // Steer grows as the square root of the distance from over-centre, which the margin's square measures: the step
        // shrinks with it, so that the differences stay as good there.
        let step_mm = STEP_MM * pose.reading(Reading::TieRodMargin).powi(2);
        let poses = [-2.0, -1.0, 0.0, 1.0, 2.0].map(|step: f64| {
            let travel_mm = pose.motion.travel_mm + step * step_mm;
            reached(
                corner,
                &pose.setting,
                &Motion {
                    travel_mm,
                    ..pose.motion
                },
                pose.travel_at,
            )
        });
        Self { poses, step_mm }
    }

    /// The derivative to travel, by central differences.
    fn derivative(&self, of: impl Fn(&Pose) -> f64) -> f64 {
        let [a, b, _, d, e] = self.poses.each_ref().map(of);
        (8.0 * (d - b) - (e - a)) / (12.0 * self.step_mm)
    }
}

/// The knuckle's frame from three of its points.
fn frame(pose: &Pose) -> (Point3<f64>, Matrix3<f64>) {
    let at = |place| Point3::from(pose.place(place));
    let origin = at(Place::BallJoint);
    let x = (at(Place::WheelCentre) - origin).normalize();
    let z = x.cross(&(at(Place::TieOuter) - origin)).normalize();
    (origin, Matrix3::from_columns(&[x, z.cross(&x), z]))
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn rates_are_derivatives(
        corner in plausible_corner(), setting in plausible_setting(), motion in plausible_motion(),
        travel_at in any_travel_at(),
    ) {
        let o = corner.side().outboard();
        let pose = &reached(&corner, &setting, &motion, travel_at);
        let stencil = Stencil::about(pose, &corner);
        let rate = |reading: Reading| stencil.derivative(|pose| pose.reading(reading));
        let contact = |pose: &Pose| pose.place(Place::ContactCentre);
        let contact_rise = stencil.derivative(|pose| contact(pose).z);
        // Per mm of the wheel's own rise: of the hub where travel is measured there, of the contact centre otherwise.
        let wheel_rise = match travel_at {
            TravelAt::Ground | TravelAt::Strut => contact_rise,
            TravelAt::Hub => 1.0,
        };
        for (reading, of) in [
            (Reading::CamberGain, Reading::Camber),
            (Reading::BumpSteer, Reading::Toe),
            (Reading::CasterGain, Reading::Caster),
            (Reading::MotionRatio, Reading::StrutCompression),
        ] {
            assert_near(reading.name(), pose.reading(reading), rate(of) / wheel_rise, RATE_TOLERANCE);
        }

        let sideways = o * stencil.derivative(|pose| contact(pose).y) / contact_rise;
        let half_track = pose.reading(Reading::HalfTrack);
        let roll_centre = pose.reading(Reading::RollCentreHeight);
        assert_near("roll centre", roll_centre, half_track * sideways, RATE_TOLERANCE * half_track);

        let swing_arm = pose.reading(Reading::SwingArmLength);
        let per_swing_arm = -rate(Reading::Camber).to_radians() / contact_rise;
        assert_near("1 / swing arm", 1.0 / swing_arm, per_swing_arm, RATE_TOLERANCE);

        let centre = pose.place(Place::InstantCentre);
        assert_near("instant centre x", centre.x, contact(pose).x, LENGTH_MM);
        assert_near("instant centre y", o * centre.y, half_track - swing_arm, 1e-12 * swing_arm.abs());
        let height = contact(pose).z + swing_arm * sideways;
        assert_near("instant centre z", centre.z, height, RATE_TOLERANCE * swing_arm.abs());

        // The point of a locked wheel that stands at the contact centre: fixed in the knuckle's frame.
        let (origin, axes) = frame(pose);
        let locked = axes.transpose() * (Point3::from(contact(pose)) - origin);
        let path = |pose: &Pose| {
            let (origin, axes) = frame(pose);
            origin + axes * locked
        };
        let dx = stencil.derivative(|pose| path(pose).x);
        let dz = stencil.derivative(|pose| path(pose).z);
        assert_near("anti-dive", pose.reading(Reading::AntiDiveAngle), (dx / dz).atan().to_degrees(), 1e-8);
        // The knuckle's pitching: the Y part of its angular velocity, from the rates of its own axes.
        let turning = (0..3).map(|axis| {
            let e = frame(pose).1.column(axis).into_owned();
            let rate = Vector3::from_fn(|i, _| stencil.derivative(|pose| frame(pose).1[(i, axis)]));
            e.cross(&rate) * 0.5
        });
        let pitch = turning.fold(Vector3::zeros(), |sum, part| sum + part).y;
        let per_side_swing_arm = 1.0 / pose.reading(Reading::SideViewSwingArm);
        assert_near("1 / side-view swing arm", per_side_swing_arm, -pitch / dz, RATE_TOLERANCE);
    }
}

#[test]
fn rack_reversed_on_a_mirrored_rack_is_the_same_motion() {
    // `HardPoints::mirrored` mirrors the rack's direction too, `Corner::mirrored` keeps it: an axle has one rack.
    let left = crate::corners::spatial_strut();
    let points = left.points().mirrored();
    let right = Corner::new("right", points).unwrap();
    assert_eq!(points.rack_direction, Vector::new(0.0, -1.0, 0.0));
    assert_eq!(left.mirrored().points().rack_direction, RACK_ACROSS);
    let motion = Motion {
        rack_mm: 15.0,
        travel_mm: 7.0,
        ..Motion::default()
    };
    let one = reached(&left, &as_measured(), &motion, TravelAt::Ground);
    let other = reached(&right, &as_measured(), &motion, TravelAt::Ground);
    assert_eq!(bits(&one), bits(&other));
}
