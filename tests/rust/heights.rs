//! Heights: what another top, a collar or a body does to ride height, travels and preload.

use proptest::prelude::*;
use strutsweep::heights::{Stops, StrutChange};
use strutsweep::tie_rod::{Hand, Thread, TieRod};
use strutsweep::{Corner, Motion, Place, Reading, Setting, TravelAt, demo};

use crate::corners::config;

/// What is closed by a forward solve is closed to the solver's own travel tolerance, and some round-off.
const CLOSED_MM: f64 = 1e-8;
/// The trade's rule is laid along an upright strut; a strut that leans by some 10 deg bends it by its cosine and by
/// what the arm's swing adds.
const RULE_MM: f64 = 1.5;

const STOPS: Stops = Stops {
    bump_mm: Some(60.0),
    droop_mm: Some(70.0),
};

fn left(name: &str) -> Corner {
    demo::car(name).unwrap().left
}

fn all(mm: f64) -> StrutChange {
    StrutChange {
        bearing_mm: mm,
        seat_mm: mm,
        shoulder_mm: mm,
        ..StrutChange::default()
    }
}

#[test]
fn no_change_changes_nothing() {
    for (name, _) in demo::CARS {
        let settled = left(name)
            .settle(&Setting::default(), &StrutChange::default(), &STOPS)
            .unwrap();
        assert!(settled.ride_height_mm.abs() < CLOSED_MM);
        assert!((settled.bump_left_mm.unwrap() - 60.0).abs() < CLOSED_MM);
        assert!((settled.droop_left_mm.unwrap() - 70.0).abs() < CLOSED_MM);
    }
}

/// Common practice, no source: a top that stands 20 mm taller between tower and strut is answered by a body 20 mm
/// shorter at its threaded foot. Ride height, travels and preload come back; camber does not, as the top's pivot has
/// moved.
#[test]
fn taller_top_is_answered_by_a_shorter_body() {
    for (name, _) in demo::CARS {
        let corner = left(name);
        let car = demo::car(name).unwrap();
        let none = corner
            .settle(&Setting::default(), &StrutChange::default(), &STOPS)
            .unwrap();
        let taller = corner.settle(&Setting::default(), &all(-20.0), &STOPS).unwrap();
        assert!((taller.ride_height_mm - 20.0).abs() < RULE_MM, "{name}: {taller:?}");
        let answered = StrutChange {
            body_mm: -20.0,
            ..all(-20.0)
        };
        let settled = corner.settle(&Setting::default(), &answered, &STOPS).unwrap();
        assert!(settled.ride_height_mm.abs() < RULE_MM, "{name}: {settled:?}");
        assert!((settled.bump_left_mm.unwrap() - 60.0).abs() < RULE_MM);
        assert!((settled.droop_left_mm.unwrap() - 70.0).abs() < RULE_MM);
        let preload = |of: &strutsweep::heights::Settled| {
            let longer = of.spring_longer_at_droop_mm.unwrap();
            car.spring.preload(&corner, longer).unwrap().length_mm
        };
        assert!(
            (preload(&settled) - preload(&none)).abs() < CLOSED_MM,
            "a body moves spring and damper alike"
        );
        let motion = Motion {
            travel_mm: -settled.ride_height_mm,
            ..Motion::default()
        };
        let setting = Setting {
            mount_up_mm: -20.0,
            ..Setting::default()
        };
        let pose = corner.solve(&setting, &motion, TravelAt::Ground).unwrap();
        let camber = pose.reading(Reading::Camber) - corner.points().camber_deg;
        assert!(
            camber < -0.2,
            "{name}: the lower pivot leans the wheel in, {camber} deg"
        );
        // The other reading of "taller", a bearing that stands higher in the tower, is made worse by it.
        let other = StrutChange {
            body_mm: -20.0,
            ..all(20.0)
        };
        let worse = corner.settle(&Setting::default(), &other, &STOPS).unwrap();
        assert!((worse.ride_height_mm + 40.0).abs() < 2.0 * RULE_MM, "{name}: {worse:?}");
    }
}

/// TRADE figure, by a second method elsewhere: 10 mm inboard with the spring's length held lets the body sit 3.3 mm
/// lower.
#[test]
fn top_moved_inboard_lowers_the_car() {
    let inboard = Setting {
        mount_in_mm: 10.0,
        ..Setting::default()
    };
    let settled = left("hillclimb_saloon")
        .settle(&inboard, &StrutChange::default(), &Stops::default())
        .unwrap();
    assert!((settled.ride_height_mm + 3.3).abs() < 0.05, "{settled:?}");
    assert_eq!((settled.bump_left_mm, settled.spring_longer_at_droop_mm), (None, None));
}

#[test]
fn what_is_out_of_reach_or_no_number_is_told() {
    let corner = left("gravel_hatch");
    let far = StrutChange {
        collar_mm: 2000.0,
        ..StrutChange::default()
    };
    assert!(corner.settle(&Setting::default(), &far, &Stops::default()).is_err());
    let none = StrutChange {
        seat_mm: f64::NAN,
        ..StrutChange::default()
    };
    assert!(corner.settle(&Setting::default(), &none, &Stops::default()).is_err());
}

/// How far a threaded rod moves along the way a against a joint that stands still, turned right-handed about a.
///
/// IDENTITY: a right-hand groove lies at height p q / (2 pi) where it stands at angle q. Turned by r and moved by d,
/// what was at angle q stands at q + r, at height p q / (2 pi) + d; the joint's groove is at p (q + r) / (2 pi) there.
/// So d = p r / (2 pi), whichever of the two is the nut.
fn moved_by_helix(pitch_mm: f64, right_hand: bool, turned_rad: f64) -> f64 {
    let groove_mm = |angle_rad: f64| if right_hand { 1.0 } else { -1.0 } * pitch_mm * angle_rad / std::f64::consts::TAU;
    groove_mm(1.0 + turned_rad) - groove_mm(1.0)
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn collar_brings_the_ride_height_asked_for(
        change in prop::array::uniform4(-20.0..20.0_f64),
        ride in -25.0..25.0_f64,
        mount_in_mm in -10.0..10.0_f64,
    ) {
        let [bearing_mm, seat_mm, shoulder_mm, body_mm] = change;
        let change = StrutChange { bearing_mm, seat_mm, shoulder_mm, body_mm, collar_mm: 0.0 };
        let setting = Setting { mount_in_mm, ..Setting::default() };
        for (name, _) in demo::CARS {
            let corner = left(name);
            let collar_mm = corner.collar_for_ride_height_mm(&setting, &change, ride).unwrap();
            let settled = corner.settle(&setting, &StrutChange { collar_mm, ..change }, &STOPS).unwrap();
            prop_assert!((settled.ride_height_mm - ride).abs() < CLOSED_MM);
            // A mirrored corner settles alike.
            let right = corner.mirrored().settle(&setting, &StrutChange { collar_mm, ..change }, &STOPS).unwrap();
            prop_assert_eq!(right, settled);
        }
    }

    /// SECOND METHOD: lengths added up from points of solved poses, in place of the formulas: spring, damper and their
    /// ends laid along the strut.
    #[test]
    fn lengths_along_the_strut_add_up(
        change in prop::array::uniform5(-12.0..12.0_f64),
    ) {
        let [bearing_mm, seat_mm, shoulder_mm, body_mm, collar_mm] = change;
        let change = StrutChange { bearing_mm, seat_mm, shoulder_mm, body_mm, collar_mm };
        let corner = left("gravel_hatch");
        let setting = Setting { mount_up_mm: bearing_mm, ..Setting::default() };
        let settled = corner.settle(&Setting::default(), &change, &STOPS).unwrap();
        let strut_at = |setting: &Setting, travel_mm: f64| {
            let pose = corner.solve(setting, &Motion { travel_mm, ..Motion::default() }, TravelAt::Ground).unwrap();
            (pose.place(Place::StrutTop) - pose.place(Place::StrutLow)).length()
        };
        // The spring sits 30 mm under the pivot and 120 mm over the low point; the damper's shoulder 10 mm over the
        // pivot.
        let spring_before = strut_at(&Setting::default(), 0.0) - 30.0 - 120.0;
        let spring = strut_at(&setting, -settled.ride_height_mm) + (seat_mm - bearing_mm) - 30.0
            - (120.0 + collar_mm + body_mm);
        prop_assert!((spring - spring_before).abs() < CLOSED_MM, "the spring keeps its length");
        let damper = |strut: f64| strut + 10.0;
        for (way, left_mm, stop_mm) in [
            (1.0, settled.bump_left_mm.unwrap(), STOPS.bump_mm.unwrap()),
            (-1.0, settled.droop_left_mm.unwrap(), STOPS.droop_mm.unwrap()),
        ] {
            let at_stop = damper(strut_at(&Setting::default(), way * stop_mm));
            let now = damper(strut_at(&setting, way * left_mm - settled.ride_height_mm)) + (shoulder_mm - bearing_mm)
                - body_mm;
            prop_assert!((now - at_stop).abs() < CLOSED_MM, "the damper runs out at its own length");
        }
    }

    #[test]
    fn turns_of_a_tie_rod_follow_the_helix(
        pitches in prop::array::uniform2(0.5..2.5_f64),
        hands in prop::array::uniform2(any::<bool>()),
        longer in -10.0..10.0_f64,
    ) {
        let thread = |i: usize| Thread {
            pitch_mm: Some(pitches[i]),
            hand: Some(if hands[i] { Hand::Right } else { Hand::Left }),
            engaged_mm: Some(30.0),
        };
        let rod = TieRod { inner: thread(0), outer: thread(1), least_engaged_mm: None };
        let Some(turns) = rod.turns(longer) else {
            prop_assert!(hands[0] == hands[1] && (pitches[0] - pitches[1]).abs() < 1e-5);
            return Ok(());
        };
        prop_assume!(turns.abs() < 1e3);
        // Clockwise seen from the outer end is left-handed about the way from inner to outer.
        let turned_rad = -turns * std::f64::consts::TAU;
        // The rod against either joint, along the way from inner to outer.
        let from_inner = moved_by_helix(pitches[0], hands[0], turned_rad);
        let from_outer = moved_by_helix(pitches[1], hands[1], turned_rad);
        prop_assert!((from_inner - from_outer - longer).abs() < 1e-9);
        let [inner, outer] = rod.engaged_mm(longer);
        prop_assert!((inner.unwrap() - (30.0 - from_inner)).abs() < 1e-9);
        prop_assert!((outer.unwrap() - (30.0 + from_outer)).abs() < 1e-9);
    }
}
