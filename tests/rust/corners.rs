//! The corners that the tests move: the published planar strut, the spatial strut, random plausible ones.

use proptest::array::uniform32;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use strutsweep::corner::RACK_ACROSS;
use strutsweep::space::{Point, Vector};
use strutsweep::{Corner, HardPoints, Motion, Pose, Setting, SolveError, Status, TravelAt};

/// The settings of a property test: the library's 256 cases, or as many as `PROPTEST_CASES` says, and no file written
/// beside the sources when one fails.
pub(crate) fn config() -> ProptestConfig {
    ProptestConfig {
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

/// The settings of a property test whose corners are the same on every run: for corners so wild that a new find is
/// work for a working day, not for whoever runs the tests next. `PROPTEST_RNG_SEED` and `PROPTEST_CASES` look further.
pub(crate) fn same_every_run() -> ProptestConfig {
    const SEED: u64 = 20_261_125;
    let usual = config();
    ProptestConfig {
        rng_seed: match usual.rng_seed {
            RngSeed::Random => RngSeed::Fixed(SEED),
            given @ RngSeed::Fixed(_) => given,
        },
        ..usual
    }
}

/// A point given in metres, as the sources of the planar and the spatial strut give them.
pub(crate) fn metres(x: f64, y: f64, z: f64) -> Point {
    const MM: f64 = 1000.0;
    Point::new(x * MM, y * MM, z * MM)
}

/// No adjustment.
pub(crate) fn as_measured() -> Setting {
    Setting::default()
}

/// Bump alone.
pub(crate) fn travel(travel_mm: f64) -> Motion {
    Motion {
        travel_mm,
        ..Motion::default()
    }
}

/// Rack displacement alone.
pub(crate) fn rack(rack_mm: f64) -> Motion {
    Motion {
        rack_mm,
        ..Motion::default()
    }
}

/// The pose, which the test knows to be within reach.
#[track_caller]
pub(crate) fn reached(corner: &Corner, setting: &Setting, motion: &Motion, travel_at: TravelAt) -> Pose {
    match corner.solve(setting, motion, travel_at) {
        Ok(pose) => pose,
        Err(error) => panic!("{error}\n{corner:?}\n{setting:?}\n{motion:?}\n{travel_at:?}"),
    }
}

/// The status of a pose that is out of reach.
#[track_caller]
pub(crate) fn out_of_reach(corner: &Corner, setting: &Setting, motion: &Motion, travel_at: TravelAt) -> Status {
    match corner.solve(setting, motion, travel_at) {
        Err(SolveError::Reach(error)) => error.status,
        other => panic!("{other:?} is not out of reach"),
    }
}

/// The spatial strut of a second method's table: left wheel, ball joint on the strut axis, arm axis parallel to X.
pub(crate) fn spatial_strut() -> Corner {
    let points = HardPoints {
        arm_front: metres(0.15, 0.12, 0.29),
        arm_rear: metres(-0.15, 0.12, 0.29),
        ball_joint: metres(0.0, 0.57, 0.29),
        strut_top: metres(-0.06, 0.41, 0.83),
        strut_low: metres(0.0, 0.57, 0.29),
        strut_clamp: None,
        bearing_axis: None,
        tie_inner: metres(-0.13, 0.14, 0.31),
        tie_outer: metres(-0.13, 0.55, 0.32),
        wheel_centre: metres(0.0, 0.687_748_346_8, 0.317_116_910_2),
        wheel_radius_mm: 300.0,
        camber_deg: 0.0,
        toe_deg: 0.0,
        rack_direction: RACK_ACROSS,
    };
    Corner::new("spatial strut", points).expect("a corner")
}

/// Shares from 0 to 1, each to be stretched over a range.
struct Shares<'a>(std::slice::Iter<'a, f64>);

impl Shares<'_> {
    fn within(&mut self, [least, most]: [f64; 2]) -> f64 {
        let share = self.0.next().expect("a share for each range");
        least + (most - least) * share
    }

    /// A point at these ranges of X, distance outboard, and Z.
    fn point(&mut self, x: [f64; 2], outboard: [f64; 2], z: [f64; 2]) -> Point {
        Point::new(self.within(x), self.within(outboard), self.within(z))
    }

    fn vector(&mut self, x: [f64; 2], outboard: [f64; 2], z: [f64; 2]) -> Vector {
        Vector::new(self.within(x), self.within(outboard), self.within(z))
    }
}

/// Hard points of a plausible corner of either side: invented, but of the sizes that cars have.
///
/// The ball joint lies off the strut axis, the rack ahead of the axle or behind it, camber and toe are seldom zero, the
/// clamp has a pivot of its own in half of them and the top bearing an axis of its own in half of them, and the car's
/// origin is anywhere near.
pub(crate) fn plausible_points() -> impl Strategy<Value = HardPoints> {
    (uniform32(0.0..1.0), uniform32(0.0..1.0), any::<[bool; 4]>()).prop_map(
        |(shares, more, [right, ahead, clamp, bearing])| {
            let mut draw = Shares(shares.iter());
            let fore = if ahead { [115.0, 150.0] } else { [-150.0, -115.0] };
            let tie_outer = draw.point(fore, [665.0, 710.0], [190.0, 250.0]);
            // Near enough to square to its arm that neither lock nor droop comes near over-centre.
            let tie_inner = tie_outer + draw.vector([-12.0, 12.0], [-380.0, -330.0], [-10.0, 25.0]);
            let left = HardPoints {
                arm_front: draw.point([40.0, 200.0], [310.0, 370.0], [165.0, 215.0]),
                arm_rear: draw.point([-310.0, -30.0], [310.0, 370.0], [165.0, 215.0]),
                ball_joint: draw.point([-10.0, 10.0], [665.0, 715.0], [165.0, 205.0]),
                strut_top: draw.point([-70.0, 0.0], [505.0, 565.0], [790.0, 880.0]),
                strut_low: draw.point([-30.0, 20.0], [575.0, 630.0], [390.0, 460.0]),
                strut_clamp: None,
                bearing_axis: None,
                tie_inner,
                tie_outer,
                wheel_centre: draw.point([-8.0, 8.0], [730.0, 770.0], [285.0, 325.0]),
                wheel_radius_mm: draw.within([280.0, 325.0]),
                camber_deg: draw.within([-5.0, 2.0]),
                toe_deg: draw.within([-1.0, 1.0]),
                rack_direction: RACK_ACROSS,
            };
            let mut draw = Shares(more.iter());
            let clamp_at = draw.point([-40.0, 30.0], [590.0, 660.0], [280.0, 380.0]);
            let bearing_axis = draw.vector([-0.25, 0.15], [-0.4, 0.0], [0.8, 1.2]);
            let origin = Vector::new(draw.within([-1500.0, 1500.0]), 0.0, draw.within([-250.0, 250.0]));
            let placed = moved(
                &HardPoints {
                    strut_clamp: clamp.then_some(clamp_at),
                    bearing_axis: bearing.then_some(bearing_axis),
                    ..left
                },
                &|point| point + origin,
                &|direction| direction,
            );
            if right {
                HardPoints {
                    rack_direction: RACK_ACROSS,
                    ..placed.mirrored()
                }
            } else {
                placed
            }
        },
    )
}

/// The corner of plausible hard points.
pub(crate) fn plausible_corner() -> impl Strategy<Value = Corner> {
    plausible_points().prop_map(|points| Corner::new("random", points).expect("plausible points make a corner"))
}

/// Whatever makes a corner at all: every point anywhere in a box of a metre, wheel leaning and toeing up to 45 deg.
pub(crate) fn wild_corner() -> impl Strategy<Value = Corner> {
    const BOX: [[f64; 2]; 3] = [[-500.0, 500.0], [0.0, 1000.0], [0.0, 1000.0]];
    let shares = (
        uniform32(0.0..1.0),
        any::<[bool; 2]>(),
        prop::array::uniform3(-1.0..1.0),
    );
    shares.prop_filter_map(
        "points that make no corner",
        |(shares, [right, clamp], [rack_x, rack_y, rack_z])| {
            let mut draw = Shares(shares.iter());
            let [x, y, z] = BOX;
            let left = HardPoints {
                arm_front: draw.point(x, y, z),
                arm_rear: draw.point(x, y, z),
                ball_joint: draw.point(x, y, z),
                strut_top: draw.point(x, y, z),
                strut_low: draw.point(x, y, z),
                strut_clamp: clamp.then_some(draw.point(x, y, z)),
                bearing_axis: None,
                tie_inner: draw.point(x, y, z),
                tie_outer: draw.point(x, y, z),
                wheel_centre: draw.point(x, [51.0, 1000.0], z),
                wheel_radius_mm: draw.within([20.0, 600.0]),
                camber_deg: draw.within([-45.0, 45.0]),
                toe_deg: draw.within([-45.0, 45.0]),
                rack_direction: Vector::new(rack_x, rack_y, rack_z),
            };
            Corner::new("wild", if right { left.mirrored() } else { left }).ok()
        },
    )
}

/// Hard points after a motion that is told for points and for directions.
pub(crate) fn moved(
    points: &HardPoints,
    point: &dyn Fn(Point) -> Point,
    direction: &dyn Fn(Vector) -> Vector,
) -> HardPoints {
    HardPoints {
        arm_front: point(points.arm_front),
        arm_rear: point(points.arm_rear),
        ball_joint: point(points.ball_joint),
        strut_top: point(points.strut_top),
        strut_low: point(points.strut_low),
        strut_clamp: points.strut_clamp.map(point),
        bearing_axis: points.bearing_axis.map(direction),
        tie_inner: point(points.tie_inner),
        tie_outer: point(points.tie_outer),
        wheel_centre: point(points.wheel_centre),
        rack_direction: direction(points.rack_direction),
        ..*points
    }
}

/// Adjustments as far as a fitter goes: on any plausible corner they can all be made at once.
pub(crate) fn plausible_setting() -> impl Strategy<Value = Setting> {
    [
        -20.0..20.0, // mount_in
        -15.0..15.0, // mount_back
        -15.0..15.0, // mount_up
        -5.0..5.0,   // tie_rod
        -3.0..3.0,   // clamp, degrees
        -10.0..10.0, // arm
        -10.0..10.0, // tie_outer_up
        -10.0..10.0, // ball_joint_down
        -15.0..25.0, // hub_spacer
    ]
    .prop_map(Setting::from_array)
}

/// Motions as far as a road car goes, from bump stop to bump stop and most of the way to lock, level or leaning.
pub(crate) fn plausible_motion() -> impl Strategy<Value = Motion> {
    let roll = prop_oneof![Just(0.0), -3.0..3.0];
    (-55.0..55.0, -30.0..30.0, roll).prop_map(|(travel, rack, roll)| Motion::from_array([travel, rack, roll]))
}

/// The same with the body level.
pub(crate) fn level_motion() -> impl Strategy<Value = Motion> {
    plausible_motion().prop_map(|motion| Motion {
        roll_deg: 0.0,
        ..motion
    })
}

/// Any way to measure travel.
pub(crate) fn any_travel_at() -> impl Strategy<Value = TravelAt> {
    prop::sample::select(TravelAt::ALL.to_vec())
}
