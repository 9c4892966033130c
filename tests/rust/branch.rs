//! The branch of assembly: a pose is the one connected to the design position by setting and motion applied together,
//! little by little.
//!
//! The spatial strut assembles in up to 64 ways, counted over the complex numbers (PUBLISHED: Kodati, Reddy,
//! Bandyopadhyay, 2015), so that a root of the travel equation proves nothing. SECOND METHOD here: a follower of that
//! path that takes no short cut and no step longer than a small share of the shortest link, and that tells by its own
//! account where the path ends.

use proptest::prelude::*;
use strutsweep::linkage::{Knuckle, Linkage};
use strutsweep::number::Dual;
use strutsweep::rig::Rig;
use strutsweep::space::{Line, Point, Vector};
use strutsweep::{Corner, HardPoints, Motion, Setting, TravelAt, demo};

use crate::corners::{any_travel_at, as_measured, config, plausible_corner, same_every_run, wild_corner};
use crate::printed::assert_near;

/// The longest step, as a share of the shortest link, and the longest turn of the arm's half-angle tangent in a step.
const STEP: f64 = 0.002;
const TURN: f64 = 0.01;
/// The shortest step, as a share of the whole path: where that fails the path has ended.
const SHORTEST_STEP: f64 = 1e-10;
/// A root is found when its travel is this near, mm.
const FOUND_MM: f64 = 1e-9;
/// The engine may give up this near to a dead centre, in any of the three margins; it must not give up before.
const NEAR_DEAD_CENTRE: f64 = 0.01;
/// Tangents of half an arm angle that are one: travel to 1e-9 mm over links of 300 mm, more where the wheel barely rises.
const SAME_TANGENT: f64 = 1e-8;

/// One corner on its way from design to a setting and a motion.
struct Path {
    points: HardPoints,
    setting: Setting,
    motion: Motion,
    travel_at: TravelAt,
}

/// A knuckle at some share of the path and some arm angle.
struct Stand {
    /// Cosine between strut and steering axis, sine between tie rod and its arm, rise of the travel's measure against
    /// the ball joint's: all positive, or the pose is past a dead centre.
    margins: [f64; 3],
    miss: f64,
    slope: f64,
}

/// How a path ends.
#[derive(Debug)]
enum Ending {
    Reached { t: f64, least_margin: f64 },
    Ended { share: f64, margins: [f64; 3] },
}

impl Path {
    fn new(corner: &Corner, setting: &Setting, motion: &Motion, travel_at: TravelAt) -> Self {
        Self {
            points: corner.left_twin(),
            setting: *setting,
            motion: motion.of_left_twin(corner.side()),
            travel_at,
        }
    }

    fn stand(&self, share: f64, t: f64) -> Stand {
        let motion = self.motion.scaled(share);
        let level = Linkage::new(&self.points, &self.setting.scaled(share));
        let linkage = level.rolled(motion.roll_deg);
        let lifted: Linkage<Dual<f64>> = linkage.lifted();
        let inner = linkage.inner_at(motion.rack_mm).lifted();
        let knuckle: Knuckle<Dual<f64>> = lifted.place(Dual::variable(t, 0), inner);
        let travel = lifted.travel_of(&knuckle, self.travel_at);
        Stand {
            margins: [
                knuckle.strut_share_squared().value.sqrt(),
                knuckle.tie_rod_margin().value,
                travel.slope[0] / (2.0 * level.arm.quarter.z),
            ],
            miss: travel.value - motion.travel_mm,
            slope: travel.slope[0],
        }
    }

    /// The root near a guess, by Newton's method that never lets the miss grow nor the slope change its sign.
    fn root(&self, share: f64, guess: f64) -> Option<(f64, Stand)> {
        let mut t = guess;
        let mut here = self.stand(share, t);
        for _ in 0..60 {
            if here.miss.abs() < FOUND_MM {
                return Some((t, here));
            }
            let mut step = here.miss / here.slope;
            let next = (0..40).find_map(|_| {
                let there = self.stand(share, t - step);
                let better = there.miss.abs() < here.miss.abs() && there.slope * here.slope > 0.0;
                let tried = step;
                step *= 0.5;
                better.then_some((t - tried, there))
            });
            (t, here) = next?;
        }
        None
    }

    /// Longest step as a share of the whole path; infinite where nothing is asked for.
    fn longest_step(&self) -> f64 {
        let points = &self.points;
        let axis = Line::through(points.arm_rear, points.arm_front);
        let shortest = [
            points.ball_joint - axis.foot(points.ball_joint),
            points.tie_outer - points.tie_inner,
            points.strut_top - points.ball_joint,
        ]
        .map(Vector::length)
        .into_iter()
        .fold(f64::INFINITY, f64::min);
        let clamp = self.setting.clamp_deg.abs().to_radians() * shortest;
        let roll = self.motion.roll_deg.to_radians() * points.wheel_centre.y;
        let lengths = Setting {
            clamp_deg: 0.0,
            ..self.setting
        }
        .to_array();
        let farthest = lengths
            .into_iter()
            .chain([self.motion.travel_mm, self.motion.rack_mm, clamp, roll])
            .fold(0.0, |most: f64, length| most.max(length.abs()));
        STEP * shortest / farthest
    }

    fn follow(&self) -> Ending {
        let asked = self.longest_step();
        let longest = asked.min(0.02);
        let design = self.stand(0.0, 0.0).margins;
        let clear = |margins: &[f64; 3]| margins.iter().all(|&margin| margin > 0.0);
        let (mut share, mut t, mut margins) = (0.0, 0.0, design);
        let mut least_margin = design.into_iter().fold(f64::INFINITY, f64::min);
        let (mut step, mut turn_per_share) = (longest, 0.0);
        if asked.is_infinite() {
            // Nothing is asked for: a path of no length is at its end.
            return Ending::Reached { t, least_margin };
        }
        if !clear(&design) {
            return Ending::Ended { share, margins };
        }
        while share < 1.0 {
            let next = f64::min(share + step, 1.0);
            let found = [t + turn_per_share * (next - share), t]
                .into_iter()
                .filter_map(|guess| self.root(next, guess))
                .find(|(found, stand)| clear(&stand.margins) && (found - t).abs() < TURN);
            if let Some((found, stand)) = found {
                turn_per_share = (found - t) / (next - share);
                (share, t, margins) = (next, found, stand.margins);
                least_margin = margins.into_iter().fold(least_margin, f64::min);
                step = (2.0 * step).min(longest);
            } else {
                step *= 0.5;
                if step < SHORTEST_STEP {
                    return Ending::Ended { share, margins };
                }
            }
        }
        Ending::Reached { t, least_margin }
    }

    /// Check the engine against the follower.
    #[track_caller]
    fn assert_engine_agrees(&self) {
        let engine = Rig::new(&self.points, &self.setting).reach(&self.motion, self.travel_at);
        let follower = self.follow();
        let told = || {
            format!(
                "{:?}\n{:?}\n{:?}\n{:?}",
                self.points, self.setting, self.motion, self.travel_at
            )
        };
        match (engine, follower) {
            (Ok(found), Ending::Reached { t, .. }) => {
                assert!(
                    (found - t).abs() < SAME_TANGENT,
                    "engine at {found}, path at {t}\n{}",
                    told()
                );
            }
            (Err(status), Ending::Reached { least_margin, .. }) => assert!(
                least_margin < NEAR_DEAD_CENTRE,
                "engine: {status:?}, but the path never comes nearer to a dead centre than {least_margin}\n{}",
                told()
            ),
            (Ok(found), Ending::Ended { share, margins }) => panic!(
                "engine at {found}, but the path ends at {share} of its length with margins {margins:?}\n{}",
                told()
            ),
            (Err(_), Ending::Ended { .. }) => {}
        }
    }
}

/// Settings and motions as far as anyone could ask for on a real corner and farther: up to 300 mm and 25 deg each.
fn far_off() -> impl Strategy<Value = (Setting, Motion)> {
    const MOST_MM: f64 = 300.0;
    const MOST_DEG: f64 = 25.0;
    // Few at a time, of any size: all large at once reach nothing.
    let length = || prop_oneof![3 => Just(0.0), 2 => -MOST_MM..MOST_MM, 2 => -30.0..30.0];
    let turn = || prop_oneof![3 => Just(0.0), 1 => -MOST_DEG..MOST_DEG];
    (prop::collection::vec(length(), 11), turn(), turn()).prop_map(|(lengths, clamp_deg, roll_deg)| {
        let (setting, motion) = lengths.split_at(9);
        let setting = Setting::from_array(std::array::from_fn(|i| setting[i]));
        let motion = Motion::from_array([motion[0], motion[1], roll_deg]);
        (Setting { clamp_deg, ..setting }, motion)
    })
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn engine_stays_on_the_path_of_a_plausible_corner(
        corner in plausible_corner(), (setting, motion) in far_off(), travel_at in any_travel_at(),
    ) {
        Path::new(&corner, &setting, &motion, travel_at).assert_engine_agrees();
    }

    #[test]
    fn engine_stays_on_the_path_of_a_demonstration_car(
        car in 0..demo::CARS.len(), (setting, motion) in far_off(), travel_at in any_travel_at(),
    ) {
        let corner = demo::car(demo::CARS[car].0).unwrap().left;
        Path::new(&corner, &setting, &motion, travel_at).assert_engine_agrees();
    }
}

proptest! {
    #![proptest_config(same_every_run())]

    #[test]
    fn engine_stays_on_the_path_of_a_wild_corner(
        corner in wild_corner(), (setting, motion) in far_off(), travel_at in any_travel_at(),
    ) {
        Path::new(&corner, &setting, &motion, travel_at).assert_engine_agrees();
    }
}

#[test]
fn short_cut_and_long_way_meet() {
    // Inputs on either side of where the engine may take its short cut: the arm's angle must go on without a step.
    for (name, _) in demo::CARS {
        let points = demo::car(name).unwrap().left.left_twin();
        for travel_at in TravelAt::ALL {
            let t_at = |share: f64| {
                let setting = Setting {
                    mount_in_mm: 60.0 * share,
                    mount_back_mm: -40.0 * share,
                    arm_mm: 20.0 * share,
                    ..Setting::default()
                };
                let motion = Motion {
                    travel_mm: -190.0 * share,
                    rack_mm: 60.0 * share,
                    ..Motion::default()
                };
                Rig::new(&points, &setting)
                    .reach(&motion, travel_at)
                    .expect("within reach")
            };
            let step = 1e-3;
            let mut rate = (t_at(step) - t_at(0.0)) / step;
            for i in 1..1000 {
                let share = f64::from(i) * step;
                let next = (t_at(share + step) - t_at(share)) / step;
                // Smooth over links of 300 mm: a thousandth of the way changes the rate by little.
                assert_near("rate of the arm's angle", next, rate, 5e-3);
                rate = next;
            }
        }
    }
}

#[test]
fn no_short_cut_across_a_fold() {
    // A wild corner whose wheel rises at design with 0.28 of its ball joint's rise, and not at all a fifteenth of the way
    // along this path, which ends there. At the path's far end the equations close again, all margins wide: a pose that
    // shows no sign of the fold, and that no real corner comes to.
    let points = HardPoints {
        arm_front: Point::new(-259.654_018, 757.422_198, 665.351_338),
        arm_rear: Point::new(-316.957_217, 612.886_010, 887.581_758),
        ball_joint: Point::new(134.232_453, 337.932_769, 66.473_515),
        strut_top: Point::new(186.403_394, 175.906_499, 931.401_645),
        strut_low: Point::new(412.977_866, 889.859_998, 617.361_086),
        strut_clamp: None,
        bearing_axis: None,
        tie_inner: Point::new(-127.174_352, 954.149_024, 380.086_299),
        tie_outer: Point::new(13.598_116, 284.816_649, 911.648_625),
        wheel_centre: Point::new(-422.126_483, 132.417_260, 976.650_864),
        wheel_radius_mm: 252.690_271,
        camber_deg: 14.403_615,
        toe_deg: -1.707_524,
        rack_direction: Vector::new(-0.469_409_6, -0.237_694_4, 0.003_636_3),
    };
    let corner = Corner::new("far side of a fold", points).expect("a corner");
    let setting = Setting {
        mount_back_mm: 2.770_195,
        mount_up_mm: 2.314_463,
        tie_rod_mm: 121.275_393,
        tie_outer_up_mm: -3.105_598,
        ball_joint_down_mm: -185.633_964,
        ..Setting::default()
    };
    let motion = Motion {
        travel_mm: -25.304_353,
        rack_mm: 9.394_889,
        ..Motion::default()
    };
    for share in [0.05, 0.1, 0.5, 0.9, 1.0] {
        let (setting, motion) = (setting.scaled(share), motion.scaled(share));
        Path::new(&corner, &setting, &motion, TravelAt::Ground).assert_engine_agrees();
    }
}

proptest! {
    #![proptest_config(same_every_run())]

    #[test]
    fn corner_that_is_accepted_stands_at_its_design(corner in wild_corner()) {
        // Nothing asked for, nothing in the way: a corner that cannot stand as it was measured is no corner.
        for travel_at in TravelAt::ALL {
            let design = corner.solve(&as_measured(), &Motion::default(), travel_at);
            prop_assert!(design.is_ok(), "{travel_at:?}: {}", design.unwrap_err());
        }
    }
}
