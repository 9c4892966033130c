//! The spatial strut of a table made by a second method: six-unknown constraint equations in 30-digit arithmetic, on
//! synthetic points. Everything here is SECOND METHOD; points in `corners::spatial_strut`.
//!
//! The table's camber is the projected angle atan2(-s.z, s.y) and the engine's is the true angle asin(-s.z). With
//! s = (cos g sin t, cos g cos t, -sin g) the first is atan2(sin g, cos g cos t).

use strutsweep::{Motion, Place, Pose, Reading, TravelAt};

use crate::corners::{as_measured, rack, reached, spatial_strut, travel};
use crate::printed::{assert_near, assert_printed};

/// Digits of the table.
const DIGITS: i32 = 9;
/// Digits of the hub's Y, which is longer than it moves.
const HUB_Y_DIGITS: i32 = 10;

/// Travel at the hub mm; projected camber, toe, caster, kingpin inclination deg; hub x, y mm.
const TRAVEL: [[f64; 7]; 5] = [
    [
        -60.0,
        1.775_364_93,
        0.119_031_334,
        5.745_430_2,
        14.701_188_9,
        0.519_026_346,
        684.990_548_2,
    ],
    [
        -20.0,
        0.553_156_679,
        0.061_945_257_6,
        6.127_864_22,
        15.938_735_8,
        0.228_277_31,
        687.609_003_1,
    ],
    [0.0, 0.0, 0.0, 6.340_191_75, 16.504_361_4, 0.0, 687.748_346_8],
    [
        20.0,
        -0.509_735_335,
        -0.083_971_091_7,
        6.568_844_04,
        17.030_248_6,
        -0.284_153_485,
        687.102_816_6,
    ],
    [
        60.0,
        -1.377_651_01,
        -0.318_455_959,
        7.083_818_7,
        17.943_583_1,
        -1.025_584_56,
        683.410_980_6,
    ],
];

/// Rack mm, hub height held; projected camber, toe, caster, kingpin inclination deg.
const RACK: [[f64; 5]; 4] = [
    [20.0, -0.749_694_429, 8.997_933_91, 6.322_904_34, 16.461_211_3],
    [40.0, -1.127_613_12, 18.143_187_9, 6.316_192_29, 16.444_323_7],
    [-20.0, 1.169_609_59, -9.063_044_94, 6.368_355_28, 16.573_603_1],
    [-40.0, 2.927_693_27, -18.477_653_7, 6.409_031_01, 16.671_331_8],
];

/// The true angle between steering axis and spin axis, deg, in every state of both tables: the ball joint lies on the
/// strut axis, so that the steering axis is a line of the knuckle.
const AXIS_TO_SPIN_DEG: f64 = 106.408_861_345;
const AXIS_TO_SPIN_DIGITS: i32 = 12;

fn pose(motion: Motion) -> Pose {
    reached(&spatial_strut(), &as_measured(), &motion, TravelAt::Hub)
}

fn projected_camber_deg(pose: &Pose) -> f64 {
    let (sin_camber, cos_camber) = pose.reading(Reading::Camber).to_radians().sin_cos();
    let cos_toe = pose.reading(Reading::Toe).to_radians().cos();
    sin_camber.atan2(cos_camber * cos_toe).to_degrees()
}

fn assert_angles(pose: &Pose, at: &str, [camber, toe, caster, kingpin]: [f64; 4]) {
    let what = |name: &str| format!("{name} at {at}");
    assert_printed(&what("projected camber"), projected_camber_deg(pose), camber, DIGITS);
    assert_printed(&what("toe"), pose.reading(Reading::Toe), toe, DIGITS);
    assert_printed(&what("caster"), pose.reading(Reading::Caster), caster, DIGITS);
    let found = pose.reading(Reading::KingpinInclination);
    assert_printed(&what("kingpin inclination"), found, kingpin, DIGITS);
}

#[test]
fn travel_rows() {
    for [bump, camber, toe, caster, kingpin, hub_x, hub_y] in TRAVEL {
        let pose = pose(travel(bump));
        let at = format!("{bump} mm of travel");
        assert_angles(&pose, &at, [camber, toe, caster, kingpin]);
        let hub = pose.place(Place::WheelCentre);
        assert_printed(&format!("hub x at {at}"), hub.x, hub_x, DIGITS);
        assert_printed(&format!("hub y at {at}"), hub.y, hub_y, HUB_Y_DIGITS);
    }
}

#[test]
fn rack_rows() {
    for [displacement, camber, toe, caster, kingpin] in RACK {
        let at = format!("{displacement} mm of rack");
        assert_angles(&pose(rack(displacement)), &at, [camber, toe, caster, kingpin]);
    }
}

#[test]
fn angle_between_steering_axis_and_spin_axis_never_changes() {
    let of_travel = TRAVEL.iter().map(|row| pose(travel(row[0])));
    let of_rack = RACK.iter().map(|row| pose(rack(row[0])));
    for pose in of_travel.chain(of_rack) {
        let spin = crate::constraints::spin_axis(&pose);
        let axis = pose.place(Place::StrutTop) - pose.place(Place::BallJoint);
        let angle = spin.angle(&nalgebra::Vector3::from(axis)).to_degrees();
        assert_printed("angle of the axes", angle, AXIS_TO_SPIN_DEG, AXIS_TO_SPIN_DIGITS);
    }
}

#[test]
fn the_mirrored_corner_gives_the_same_table() {
    let right = spatial_strut().mirrored();
    for [displacement, camber, toe, caster, kingpin] in RACK {
        // Towards the left of the car is outboard for the one, inboard for the other.
        let pose = reached(&right, &as_measured(), &rack(-displacement), TravelAt::Hub);
        assert_angles(&pose, "the right side", [camber, toe, caster, kingpin]);
    }
    for [bump, camber, toe, caster, kingpin, hub_x, hub_y] in TRAVEL {
        let pose = reached(&right, &as_measured(), &travel(bump), TravelAt::Hub);
        assert_angles(&pose, "the right side", [camber, toe, caster, kingpin]);
        let hub = pose.place(Place::WheelCentre);
        assert_printed("hub x", hub.x, hub_x, DIGITS);
        assert_printed("hub y", hub.y, -hub_y, HUB_Y_DIGITS);
        assert_near(
            "wheelbase shift at design",
            reached(&right, &as_measured(), &travel(0.0), TravelAt::Hub).reading(Reading::WheelbaseShift),
            0.0,
            1e-10,
        );
    }
}
