//! Readings of an axle, wanted steer angles, and the free body of a strut: relations and second methods in plain numbers.

use strutsweep::axle_reading::{
    AxleReading, Frame, Wheels, anti_dive_percent, camber_to_body_deg, roll_centre, true_outer_deg,
};
use strutsweep::linkage::Status;
use strutsweep::space::{Point, Vector};
use strutsweep::steering::{LEAST_MARGIN, SteerBy, Steered};
use strutsweep::{Axle, Corner, Motion, Reading, Setting, TravelAt, demo};

use crate::corners::{as_measured, rack, reached, spatial_strut};
use crate::printed::assert_near;

/// Half a unit of the last place that the checks print.
const PRINTED_DEG: f64 = 0.5e-8;

fn cars() -> [Axle; 2] {
    ["gravel_hatch", "hillclimb_saloon"].map(|name| demo::car(name).unwrap())
}

#[test]
fn true_outer_angle_is_the_printed_one() {
    // CHECKS relation 4 (ISO 8855:2011, 7.1.9 in words): wheelbase 2.5, track 1.5, inner 20 deg.
    assert_near("outer", true_outer_deg(20.0, 1.5, 2.5), 16.632_590_27, PRINTED_DEG);
    assert_near("straight ahead", true_outer_deg(0.0, 1.5, 2.5), 0.0, 0.0);
    // IDENTITY: past a right angle the cotangent goes on below zero, and so does the formula.
    let outer = true_outer_deg(120.0, 1.5, 2.5);
    let cot = |deg: f64| 1.0 / deg.to_radians().tan();
    assert_near("cotangents", cot(outer) - cot(120.0), 0.6, 1e-12);
}

#[test]
fn anti_dive_is_the_printed_one() {
    // CHECKS relation 10: 60 % of the brakes, 2550 mm, 600 mm: 25 % at 5.5993393 deg.
    assert_near(
        "anti-dive",
        anti_dive_percent(5.599_339_3, 0.6, 2550.0, 600.0),
        25.0,
        1e-6,
    );
}

#[test]
fn camber_to_the_body_takes_the_roll_off_outside_and_adds_it_inside() {
    // IDENTITY: unsteered, camber to the ground = camber to the body -+ roll exactly, turns about one axis.
    for (outboard, expected) in [(1.0, 1.5), (-1.0, -5.5)] {
        assert_near("camber", camber_to_body_deg(-2.0, 0.0, 3.5, outboard), expected, 1e-12);
    }
    assert_near("no roll", camber_to_body_deg(-2.0, 7.0, 0.0, 1.0), -2.0, 0.0);
}

fn wheels(heights: [f64; 2]) -> Wheels {
    Wheels {
        camber_deg: [0.0; 2],
        toe_deg: [-18.0, 16.0],
        roll_centre_height_mm: heights,
        anti_dive_deg: [0.0; 2],
        contact_centre: [Point::new(0.0, 750.0, 0.0), Point::new(0.0, -750.0, 0.0)],
        roll_deg: 0.0,
    }
}

#[test]
fn roll_centre_of_lines_drawn_by_hand() {
    // From (750, 0) up to 100 at Y = 0, from (-750, 0) up to 50: 100 - Y/7.5 = 50 + Y/15 at Y = 250, height 66.67.
    let centre = roll_centre(&wheels([100.0, 50.0])).unwrap();
    assert_near("shift", centre.shift_mm, 250.0, 1e-9);
    assert_near("height", centre.height_mm, 200.0 / 3.0, 1e-9);
    assert_eq!(roll_centre(&wheels([60.0, -60.0])), None);
    assert_eq!(roll_centre(&wheels([0.0, 0.0])), None);
    assert_eq!(roll_centre(&wheels([f64::NAN, 10.0])), None);
}

#[test]
fn names_lead_back_to_their_readings() {
    for reading in AxleReading::ALL {
        assert_eq!(AxleReading::from_name(reading.name()), Some(reading));
        assert!(!reading.definition().is_empty() && !reading.unit().is_empty() && !reading.positive().is_empty());
        assert!(!reading.long_name().is_empty());
        let [left, right] = reading.read(&wheels([100.0, 50.0]), &Frame::of(&cars()[0]).unwrap());
        assert!(
            reading.is_per_wheel() || left.to_bits() == right.to_bits(),
            "{}",
            reading.name()
        );
    }
    assert_eq!(AxleReading::from_name("steer"), None);
}

#[test]
fn racks_found_give_the_angles_wanted_or_none_near_over_centre() {
    for car in cars() {
        let corners = [&car.left, &car.right];
        let settings = [
            Setting {
                mount_in_mm: 4.0,
                ..as_measured()
            },
            as_measured(),
        ];
        let motions = [Motion {
            roll_deg: 1.0,
            travel_mm: -5.0,
            ..Motion::default()
        }; 2];
        let steered = Steered::new(corners, settings, motions, TravelAt::Ground);
        let mut ended = [false; 2];
        for step in -180..=180 {
            let wanted = 0.5 * f64::from(step);
            for (i, by) in [SteerBy::Mean, SteerBy::Inner].into_iter().enumerate() {
                let found = steered.rack_for(wanted, by);
                let Ok(rack_mm) = found else {
                    assert_eq!(found, Err(Status::Steer));
                    ended[i] |= wanted > 0.0;
                    continue;
                };
                assert!(
                    !(wanted > 0.0 && ended[i]),
                    "{wanted} deg is given beyond one that was refused"
                );
                let pose = |side: usize| {
                    reached(
                        corners[side],
                        &settings[side],
                        &Motion {
                            rack_mm,
                            ..motions[side]
                        },
                        TravelAt::Ground,
                    )
                };
                let (left, right) = (pose(0), pose(1));
                let margin = left
                    .reading(Reading::TieRodMargin)
                    .min(right.reading(Reading::TieRodMargin));
                assert!(margin >= LEAST_MARGIN - 1e-9);
                let steer = [-left.reading(Reading::Toe), right.reading(Reading::Toe)];
                let angle = match by {
                    SteerBy::Inner if wanted > 0.0 => steer[0],
                    SteerBy::Inner if wanted < 0.0 => steer[1],
                    _ => 0.5 * (steer[0] + steer[1]),
                };
                assert_near("steer", angle, wanted, 2e-10);
            }
        }
        assert_eq!(ended, [true; 2], "{} has no end to its lock", car.name);
    }
}

#[test]
fn rack_ahead_of_the_axle_steers_the_way_it_moves() {
    let [behind, ahead] = cars();
    for (car, sense) in [(behind, -1.0), (ahead, 1.0)] {
        let steered = Steered::new(
            [&car.left, &car.right],
            [as_measured(); 2],
            [Motion::default(); 2],
            TravelAt::Ground,
        );
        assert_eq!(steered.sense(), Ok(sense));
        assert_eq!(steered.rack_for(0.0, SteerBy::Mean), Ok(0.0));
    }
}

#[test]
fn spring_on_its_strut_carries_the_load_by_virtual_work() {
    // Exact: load x rise = spring force x shortening, whatever else holds the wheel.
    let up = Vector::new(0.0, 0.0, 3000.0);
    let corners: [Corner; 3] = [cars()[0].left.clone(), cars()[1].right.clone(), spatial_strut()];
    for corner in &corners {
        for motion in [Motion::default(), rack(12.0), Motion::from_array([25.0, -10.0, 2.0])] {
            let held = corner
                .hold(&as_measured(), &motion, TravelAt::Ground, None, up)
                .unwrap();
            let ratio = reached(corner, &as_measured(), &motion, TravelAt::Ground).reading(Reading::MotionRatio);
            assert_near("motion ratio", held.motion_ratio, ratio, 1e-12);
            assert_near("load", held.spring_n * ratio, 3000.0, 1e-7);
            assert_near(
                "side force along the strut",
                held.side_force_n.dot(held.strut_axis),
                0.0,
                1e-9,
            );
            // Its change, by central differences.
            let near = |step: f64| Motion {
                travel_mm: motion.travel_mm + step,
                ..motion
            };
            let at = |step: f64| {
                reached(corner, &as_measured(), &near(step), TravelAt::Ground).reading(Reading::MotionRatio)
            };
            let change = (at(0.01) - at(-0.01)) / 0.02;
            assert_near("change of ratio", held.motion_ratio_change_per_mm, change, 1e-9);
        }
    }
}
