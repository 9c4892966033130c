//! Sweeps against single poses, threads against one thread, axes against axes transposed: the same bits.

use std::cell::Cell;
use std::time::Duration;

use ndarray::{Array, ArrayD, Axis, IxDyn};
use proptest::prelude::*;
use strutsweep::lanes::Level;
use strutsweep::motion::MOTION_FIELDS;
use strutsweep::setting::SETTING_FIELDS;
use strutsweep::space::{Point, Vector};
use strutsweep::sweep::{Lookout, MOST_AXES, chosen_level, rouse};
use strutsweep::{
    Corner, HardPoint, Motion, Place, Quantity, Reading, Setting, SolveError, Status, Sweep, SweepError, Swept,
    TravelAt, Watch, demo,
};

use crate::corners::{any_travel_at, as_measured, config, plausible_corner, reached, spatial_strut};

/// Every reading, then every place.
fn everything() -> Vec<Quantity> {
    let readings = Reading::ALL.into_iter().map(Quantity::Reading);
    readings.chain(Place::ALL.into_iter().map(Quantity::Place)).collect()
}

/// What a pose shows of [`everything`], in order, or what it shows if it is out of reach; and its status.
fn shown(corner: &Corner, setting: &Setting, motion: &Motion, travel_at: TravelAt) -> (Vec<u64>, Status) {
    match corner.solve(setting, motion, travel_at) {
        Ok(pose) => {
            let places = Place::ALL
                .into_iter()
                .flat_map(|place| <[f64; 3]>::from(pose.place(place)));
            let all = Reading::ALL
                .into_iter()
                .map(|reading| pose.reading(reading))
                .chain(places);
            (all.map(f64::to_bits).collect(), Status::Reached)
        }
        Err(SolveError::Reach(error)) => (
            vec![f64::NAN.to_bits(); Reading::ALL.len() + 3 * Place::ALL.len()],
            error.status,
        ),
        Err(SolveError::Input(error)) => panic!("{error}"),
    }
}

/// What a swept grid shows of [`everything`] at one of its poses, and the status there.
fn swept_at(swept: &Swept, pose: usize) -> (Vec<u64>, Status) {
    let poses = swept.status.len();
    let bits = swept
        .columns
        .iter()
        .flat_map(|column| column.iter().skip(pose).step_by(poses.max(1)));
    let status = Status::ALL
        .into_iter()
        .find(|status| status.code() == swept.status[pose])
        .expect("a known status");
    (bits.map(|value| value.to_bits()).collect(), status)
}

fn run(sweep: &Sweep, threads: usize) -> Swept {
    sweep
        .run(&everything(), threads, &Watch::default())
        .expect("not cancelled")
}

/// Columns as bits: NaN is equal to itself there.
fn bits(swept: &Swept) -> Vec<Vec<u64>> {
    swept
        .columns
        .iter()
        .map(|column| column.iter().map(|value| value.to_bits()).collect())
        .collect()
}

/// A sweep of one pose with every input given, against the pose.
#[track_caller]
pub(crate) fn assert_one_pose_agrees(corner: &Corner, setting: &Setting, motion: &Motion, travel_at: TravelAt) {
    let mut sweep = Sweep::new(corner, &[], travel_at).unwrap();
    let fields = SETTING_FIELDS.iter().map(|field| field.name).zip(setting.to_array());
    let motions = MOTION_FIELDS.iter().map(|field| field.name).zip(motion.to_array());
    for (name, value) in fields.chain(motions) {
        sweep.input(name, &ndarray::arr0(value).into_dyn().view()).unwrap();
    }
    assert_eq!(swept_at(&run(&sweep, 1), 0), shown(corner, setting, motion, travel_at));
}

/// A grid of three axes: travel along the first, mount shifts along the second, rack and tie rod paired along the third.
struct Grid {
    travel: Vec<f64>,
    mount: Vec<[f64; 3]>,
    steer: Vec<[f64; 2]>,
    arm: f64,
}

impl Grid {
    fn shape(&self) -> [usize; 3] {
        [self.travel.len(), self.mount.len(), self.steer.len()]
    }

    /// Each input's name, the axis that it runs along, and its values.
    fn inputs(&self) -> Vec<(&'static str, usize, Vec<f64>)> {
        let mount = |i: usize| self.mount.iter().map(|shift| shift[i]).collect();
        let steer = |i: usize| self.steer.iter().map(|pair| pair[i]).collect();
        vec![
            ("travel", 0, self.travel.clone()),
            ("mount_in", 1, mount(0)),
            ("mount_back", 1, mount(1)),
            ("mount_up", 1, mount(2)),
            ("rack", 2, steer(0)),
            ("tie_rod", 2, steer(1)),
        ]
    }

    /// The sweep with its axes in another order: axis `i` of the grid is axis `order[i]` of the sweep.
    fn sweep(&self, corner: &Corner, travel_at: TravelAt, order: [usize; 3]) -> Sweep {
        let mut shape = [0; 3];
        for (axis, n) in self.shape().into_iter().enumerate() {
            shape[order[axis]] = n;
        }
        let mut sweep = Sweep::new(corner, &shape, travel_at).unwrap();
        for (name, axis, values) in self.inputs() {
            let mut own = [1; 3];
            own[order[axis]] = values.len();
            sweep
                .input(name, &Array::from_shape_vec(IxDyn(&own), values).unwrap().view())
                .unwrap();
        }
        sweep
            .input("arm", &ArrayD::from_elem(IxDyn(&[1, 1, 1]), self.arm).view())
            .unwrap();
        sweep
    }

    /// Setting and motion at one of its poses, in row-major order.
    fn at(&self, pose: usize) -> (Setting, Motion) {
        let [_, mounts, steers] = self.shape();
        let [i, j, k] = [pose / (mounts * steers), pose / steers % mounts, pose % steers];
        let [mount_in_mm, mount_back_mm, mount_up_mm] = self.mount[j];
        let [rack_mm, tie_rod_mm] = self.steer[k];
        let setting = Setting {
            mount_in_mm,
            mount_back_mm,
            mount_up_mm,
            tie_rod_mm,
            arm_mm: self.arm,
            ..Setting::default()
        };
        let motion = Motion {
            travel_mm: self.travel[i],
            rack_mm,
            ..Motion::default()
        };
        (setting, motion)
    }
}

/// Grids of up to 36 poses, some of them out of reach.
fn grid() -> impl Strategy<Value = Grid> {
    (
        prop::collection::vec(-90.0..90.0, 1..4),
        prop::collection::vec(prop::array::uniform3(-25.0..25.0), 1..4),
        prop::collection::vec((-150.0..150.0, -4.0..4.0).prop_map(|(rack, rod)| [rack, rod]), 1..5),
        -8.0..8.0,
    )
        .prop_map(|(travel, mount, steer, arm)| Grid {
            travel,
            mount,
            steer,
            arm,
        })
}

/// A grid of several blocks' worth of poses, a few of them out of reach.
fn large_grid() -> Grid {
    let spread = |n: i32, from: f64, to: f64| (0..n).map(move |i| from + (to - from) * f64::from(i) / f64::from(n - 1));
    Grid {
        travel: spread(7, -80.0, 80.0).collect(),
        mount: spread(9, -20.0, 20.0).map(|x| [x, 0.3 * x + 2.0, -0.1 * x]).collect(),
        steer: spread(23, -140.0, 140.0).map(|x| [x, 0.01 * x]).collect(),
        arm: 1.5,
    }
}

impl std::fmt::Debug for Grid {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:?} arm {}", self.inputs(), self.arm)
    }
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn batch_is_its_poses_to_the_last_bit(corner in plausible_corner(), grid in grid(), travel_at in any_travel_at()) {
        let swept = run(&grid.sweep(&corner, travel_at, [0, 1, 2]), 1);
        prop_assert_eq!(&swept.grid[..], &grid.shape()[..]);
        for pose in 0..swept.status.len() {
            let (setting, motion) = grid.at(pose);
            prop_assert_eq!(swept_at(&swept, pose), shown(&corner, &setting, &motion, travel_at));
        }
    }

    #[test]
    fn readings_do_not_depend_on_what_else_is_asked(corner in plausible_corner(), grid in grid(), travel_at in any_travel_at()) {
        // With no rate among them the formulas run on plain numbers, else on dual ones.
        let sweep = grid.sweep(&corner, travel_at, [0, 1, 2]);
        let all = run(&sweep, 1);
        for (quantity, column) in everything().into_iter().zip(bits(&all)) {
            let alone = sweep.run(&[quantity], 1, &Watch::default()).unwrap();
            prop_assert_eq!(&bits(&alone)[0], &column, "{:?}", quantity);
            prop_assert_eq!(&alone.status, &all.status);
        }
    }

    #[test]
    fn order_of_axes_changes_no_bit(corner in plausible_corner(), grid in grid(), travel_at in any_travel_at()) {
        let shape = grid.shape();
        let straight = run(&grid.sweep(&corner, travel_at, [0, 1, 2]), 1);
        for order in [[0, 2, 1], [1, 0, 2], [1, 2, 0], [2, 0, 1], [2, 1, 0]] {
            let turned = run(&grid.sweep(&corner, travel_at, order), 1);
            for (quantity, (a, b)) in everything().into_iter().zip(straight.columns.iter().zip(&turned.columns)) {
                for component in 0..quantity.width() {
                    let poses = straight.status.len();
                    let part = |column: &[f64]| column[component * poses..(component + 1) * poses].to_vec();
                    let a = Array::from_shape_vec(shape, part(a)).unwrap();
                    let b = Array::from_shape_vec(IxDyn(&turned.grid), part(b)).unwrap();
                    // Axis i of the grid is axis order[i] of the turned one.
                    let b = b.permuted_axes(IxDyn(&order));
                    prop_assert!(a.iter().zip(b.iter()).all(|(a, b)| a.to_bits() == b.to_bits()));
                }
            }
        }
    }
}

#[test]
fn large_grid_is_its_poses_whatever_the_threads() {
    let grid = large_grid();
    for (name, travel_at) in [
        ("gravel_hatch", TravelAt::Ground),
        ("hillclimb_saloon", TravelAt::Strut),
    ] {
        let corner = demo::car(name).unwrap().right;
        let sweep = grid.sweep(&corner, travel_at, [0, 1, 2]);
        let one = run(&sweep, 1);
        for threads in [2, 3, 0] {
            let many = run(&sweep, threads);
            assert_eq!(bits(&many), bits(&one), "{threads} threads");
            assert_eq!(many.status, one.status, "{threads} threads");
        }
        assert!(one.status.contains(&Status::TieRod.code()), "some must be out of reach");
        assert!(one.status.iter().filter(|&&code| code == 0).count() > one.status.len() / 2);
        for pose in 0..sweep.poses() {
            let (setting, motion) = grid.at(pose);
            assert_eq!(
                swept_at(&one, pose),
                shown(&corner, &setting, &motion, travel_at),
                "{name} {pose}"
            );
        }
    }
}

/// A result larger than the caches keep, and larger than allocators keep, is written another way than a small one.
#[test]
fn result_larger_than_the_caches_is_its_parts() {
    let corner = demo::car("gravel_hatch").unwrap().right;
    let spread = |n: i32, from: f64, to: f64| {
        let values = (0..n).map(move |i| from + (to - from) * f64::from(i) / f64::from(n - 1));
        values.collect::<Vec<_>>()
    };
    // No axis is a whole number of packs, and some of the travels are out of reach.
    let (travels, ins, backs) = (
        spread(41, -100.0, 340.0),
        spread(37, -20.0, 20.0),
        spread(57, -10.0, 10.0),
    );
    let sweep = |backs: &[f64]| {
        let mut sweep = Sweep::new(&corner, &[ins.len(), travels.len(), backs.len()], TravelAt::Ground).unwrap();
        for (axis, (name, values)) in [("mount_in", &ins[..]), ("travel", &travels), ("mount_back", backs)]
            .into_iter()
            .enumerate()
        {
            let mut shape = [1; 3];
            shape[axis] = values.len();
            let values = ArrayD::from_shape_vec(IxDyn(&shape), values.to_vec()).unwrap();
            sweep.input(name, &values.view()).unwrap();
        }
        sweep
    };
    let large = sweep(&backs);
    let whole = run(&large, 1);
    let bytes: usize = whole.columns.iter().map(|column| size_of_val(&column[..])).sum();
    assert!(bytes > 32 << 20, "{bytes} bytes are not large");
    assert!(whole.status.contains(&Status::Reached.code()));
    assert!(whole.status.iter().any(|&code| code != 0), "some must be out of reach");
    assert_eq!(bits(&run(&large, 2)), bits(&whole));
    for (place, &back) in backs.iter().enumerate().step_by(7) {
        let part = run(&sweep(&[back]), 1);
        for (part, whole) in part.columns.iter().zip(&whole.columns) {
            let there = whole[place..].iter().step_by(backs.len());
            assert!(
                part.iter().zip(there).all(|(a, b)| a.to_bits() == b.to_bits()),
                "{back}"
            );
        }
        let there = whole.status[place..].iter().step_by(backs.len());
        assert!(part.status.iter().eq(there), "{back}");
    }
}

#[test]
fn inputs_reversed_give_the_result_reversed() {
    let corner = spatial_strut();
    let values = Array::linspace(-150.0, 150.0, 61);
    let run_on = |values: &Array<f64, ndarray::Ix1>| {
        let mut sweep = Sweep::new(&corner, &[values.len()], TravelAt::Hub).unwrap();
        sweep.input("rack", &values.view().into_dyn()).unwrap();
        run(&sweep, 1)
    };
    let there = run_on(&values);
    let mut reversed = values.clone();
    reversed.invert_axis(Axis(0));
    let back = run_on(&reversed);
    for pose in 0..values.len() {
        assert_eq!(swept_at(&there, pose), swept_at(&back, values.len() - 1 - pose));
    }
}

#[test]
fn pose_out_of_reach_is_nan_with_its_status_in_place() {
    let corner = demo::car("gravel_hatch").unwrap().left;
    let mut sweep = Sweep::new(&corner, &[5], TravelAt::Ground).unwrap();
    let values = ndarray::arr1(&[0.0, 500.0, 10.0, -500.0, 20.0]).into_dyn();
    sweep.input("travel", &values.view()).unwrap();
    let swept = run(&sweep, 2);
    assert_eq!(swept.status, [0, 1, 0, 1, 0].map(|code| code * Status::LowerArm.code()));
    for (quantity, column) in everything().into_iter().zip(&swept.columns) {
        assert_eq!(column.len(), 5 * quantity.width());
        for (i, value) in column.iter().enumerate() {
            assert_eq!(value.is_nan(), i % 5 % 2 == 1, "{quantity:?} {i}");
        }
    }
}

#[test]
fn hard_points_sweep_as_corners_built_from_them() {
    let corner = demo::car("hillclimb_saloon").unwrap().left;
    let points = *corner.points();
    // Whole, moved, on the arm's axis, whole again, across the car with its wheel left behind.
    let ball_joints = [
        points.ball_joint,
        points.ball_joint + Vector::new(3.0, -4.0, 5.0),
        Point::new(85.0, 337.5, 187.5),
        points.ball_joint,
        points.ball_joint.mirrored(),
    ];
    let low = [points.strut_low, points.strut_low + Vector::new(-2.0, 6.0, 9.0)];
    let flat = |points: &[Point]| {
        points
            .iter()
            .flat_map(|&point| <[f64; 3]>::from(point))
            .collect::<Vec<_>>()
    };
    let mut sweep = Sweep::new(&corner, &[5, 2, 3], TravelAt::Ground).unwrap();
    let ball_joint_values = Array::from_shape_vec(IxDyn(&[5, 1, 1, 3]), flat(&ball_joints)).unwrap();
    sweep.point(HardPoint::BallJoint, &ball_joint_values.view()).unwrap();
    let low_values = Array::from_shape_vec(IxDyn(&[1, 2, 1, 3]), flat(&low)).unwrap();
    sweep.point(HardPoint::StrutLow, &low_values.view()).unwrap();
    let bumps = [-30.0, 0.0, 45.0];
    sweep
        .input(
            "travel",
            &Array::from_shape_vec(IxDyn(&[1, 1, 3]), bumps.to_vec()).unwrap().view(),
        )
        .unwrap();
    // With the clamp turned it matters that the clamp's pivot follows `low` where none was given.
    let clamp_deg = 1.25;
    sweep
        .input("clamp", &ArrayD::from_elem(IxDyn(&[1, 1, 1]), clamp_deg).view())
        .unwrap();
    let swept = run(&sweep, 2);
    let setting = Setting {
        clamp_deg,
        ..Setting::default()
    };
    for pose in 0..30 {
        let [i, j, k] = [pose / 6, pose / 3 % 2, pose % 3];
        let mut moved = points;
        HardPoint::BallJoint.place(&mut moved, ball_joints[i]);
        HardPoint::StrutLow.place(&mut moved, low[j]);
        let (found, status) = swept_at(&swept, pose);
        if i == 2 || i == 4 {
            assert!(Corner::new("sample", moved).is_err());
            assert_eq!(status, Status::HardPoints);
            assert!(found.iter().all(|&value| f64::from_bits(value).is_nan()));
        } else {
            let built = Corner::new("sample", moved).unwrap();
            let motion = crate::corners::travel(bumps[k]);
            assert_eq!((found, status), shown(&built, &setting, &motion, TravelAt::Ground));
        }
    }
}

/// Rows that go side by side with one that makes no corner are not read by what that one lacks.
#[test]
fn a_swept_clamp_holds_beside_rows_that_make_no_corner() {
    let corner = demo::car("gravel_hatch").unwrap().left;
    let points = *corner.points();
    assert!(points.strut_clamp.is_none());
    let samples = 19;
    let on_the_axis = points.arm_front + (points.arm_rear - points.arm_front) * 0.5;
    let flat = |place: &dyn Fn(usize) -> Point| -> Vec<f64> {
        (0..samples).flat_map(|i| <[f64; 3]>::from(place(i))).collect()
    };
    for broken in [0, 5, 8, samples - 1] {
        let ball_joint = |i: usize| if i == broken { on_the_axis } else { points.ball_joint };
        let clamp = |i: usize| points.strut_low + Vector::new(0.5 * i as f64, 4.0, 12.0);
        let mut sweep = Sweep::new(&corner, &[samples], TravelAt::Ground).unwrap();
        for (point, values) in [
            (HardPoint::BallJoint, flat(&ball_joint)),
            (HardPoint::StrutClamp, flat(&clamp)),
        ] {
            let values = Array::from_shape_vec(IxDyn(&[samples, 3]), values).unwrap();
            sweep.point(point, &values.view()).unwrap();
        }
        let setting = Setting {
            clamp_deg: 1.5,
            ..Setting::default()
        };
        sweep
            .input("clamp", &ArrayD::from_elem(IxDyn(&[1]), setting.clamp_deg).view())
            .unwrap();
        for level in Level::all() {
            let swept = sweep.run_at(level, &everything(), 1, &Watch::default()).unwrap();
            for i in 0..samples {
                let (found, status) = swept_at(&swept, i);
                if i == broken {
                    assert_eq!(status, Status::HardPoints, "{level:?} {broken} {i}");
                    continue;
                }
                let mut moved = points;
                HardPoint::StrutClamp.place(&mut moved, clamp(i));
                let built = Corner::new("sample", moved).unwrap();
                let wanted = shown(&built, &setting, &crate::corners::travel(0.0), TravelAt::Ground);
                assert_eq!((found, status), wanted, "{level:?} {broken} {i}");
            }
        }
    }
}

#[test]
fn columns_of_an_empty_grid_have_its_shape() {
    let corner = demo::car("gravel_hatch").unwrap().left;
    let sweep = Sweep::new(&corner, &[3, 0], TravelAt::Ground).unwrap();
    let swept = run(&sweep, 1);
    let readings = Reading::ALL.len();
    assert_eq!(swept.column(0).shape(), [3, 0]);
    assert_eq!(swept.column(readings).shape(), [3, 3, 0]);
}

#[test]
fn inputs_that_memory_cannot_hold_are_refused() {
    let corner = demo::car("gravel_hatch").unwrap().left;
    let many = 1 << 55;
    let mut sweep = Sweep::new(&corner, &[many], TravelAt::Ground).unwrap();
    let one = ArrayD::from_elem(IxDyn(&[1]), 1.0);
    let repeated = one.broadcast(IxDyn(&[many])).unwrap();
    assert_eq!(sweep.input("travel", &repeated), Err(SweepError::TooLarge(vec![many])));
}

#[test]
fn every_hard_point_can_be_swept() {
    let corner = demo::car("gravel_hatch").unwrap().right;
    for point in HardPoint::ALL {
        assert_eq!(HardPoint::from_name(point.name()), Some(point));
        let mut moved = *corner.points();
        let at = point.of(&moved) + Vector::new(1.0, 2.0, -3.0);
        point.place(&mut moved, at);
        let mut sweep = Sweep::new(&corner, &[], TravelAt::Ground).unwrap();
        let values = ndarray::arr1(&<[f64; 3]>::from(at)).into_dyn();
        sweep.point(point, &values.view()).unwrap();
        sweep.input("clamp", &ndarray::arr0(0.5).into_dyn().view()).unwrap();
        let built = Corner::new("moved", moved).unwrap();
        let setting = Setting {
            clamp_deg: 0.5,
            ..Setting::default()
        };
        let expected = shown(&built, &setting, &Motion::default(), TravelAt::Ground);
        assert_eq!(swept_at(&run(&sweep, 1), 0), expected, "{}", point.name());
    }
}

#[test]
fn samples_of_hard_points_change_sides() {
    // Where every point that tells the side is swept, a sample may be of either.
    let left = spatial_strut();
    let right = left.mirrored();
    let mut sweep = Sweep::new(&left, &[2], TravelAt::Ground).unwrap();
    for point in HardPoint::ALL
        .into_iter()
        .filter(|point| *point != HardPoint::StrutClamp)
    {
        let both = [point.of(left.points()), point.of(right.points())];
        let flat = both.iter().flat_map(|&at| <[f64; 3]>::from(at)).collect();
        sweep
            .point(point, &Array::from_shape_vec(IxDyn(&[2, 3]), flat).unwrap().view())
            .unwrap();
    }
    sweep.input("rack", &ndarray::arr1(&[12.0]).into_dyn().view()).unwrap();
    let swept = run(&sweep, 1);
    let motion = crate::corners::rack(12.0);
    assert_eq!(
        swept_at(&swept, 0),
        shown(&left, &as_measured(), &motion, TravelAt::Ground)
    );
    assert_eq!(
        swept_at(&swept, 1),
        shown(&right, &as_measured(), &motion, TravelAt::Ground)
    );
}

#[test]
fn grids_of_one_pose_and_of_none() {
    let corner = spatial_strut();
    let scalar = run(&Sweep::new(&corner, &[], TravelAt::Ground).unwrap(), 1);
    let design = reached(&corner, &as_measured(), &Motion::default(), TravelAt::Ground);
    assert_eq!(scalar.columns[0], [design.reading(Reading::Camber)]);
    assert!(scalar.grid.is_empty());

    let mut none = Sweep::new(&corner, &[3, 0, 2], TravelAt::Ground).unwrap();
    assert_eq!(none.poses(), 0);
    none.input("travel", &ArrayD::zeros(IxDyn(&[3, 1, 1])).view()).unwrap();
    let swept = run(&none, 2);
    assert!(swept.status.is_empty() && swept.columns.iter().all(Vec::is_empty));
    assert_eq!(swept.grid, [3, 0, 2]);
}

#[test]
fn wrong_inputs_are_named() {
    let corner = spatial_strut();
    let mut sweep = Sweep::new(&corner, &[4, 3], TravelAt::Ground).unwrap();
    let zeros = |shape: &[usize]| ArrayD::<f64>::zeros(IxDyn(shape));

    let unknown = sweep.input("mount_out", &zeros(&[4, 3]).view()).unwrap_err();
    assert_eq!(unknown, SweepError::NoSuchInput("mount_out".to_owned()));

    for shape in [&[4][..], &[3, 4], &[4, 2], &[4, 3, 1], &[]] {
        match sweep.input("travel", &zeros(shape).view()).unwrap_err() {
            SweepError::Shape { field, found, grid } => {
                assert_eq!((&*field, &found[..], &grid[..]), ("travel", shape, &[4, 3][..]));
            }
            other => panic!("{other:?}"),
        }
    }
    for shape in [&[4, 3][..], &[4, 3, 2], &[3], &[4, 2, 3]] {
        let refused = sweep.point(HardPoint::StrutTop, &zeros(shape).view()).unwrap_err();
        assert!(
            matches!(refused, SweepError::Shape { ref field, .. } if field == "strut_top"),
            "{refused:?}"
        );
    }

    for bad in [f64::NAN, f64::INFINITY] {
        let mut values = zeros(&[4, 3]);
        values[[2, 1]] = bad;
        match sweep.input("rack", &values.view()).unwrap_err() {
            SweepError::Input(error) => {
                assert_eq!((&*error.field, error.index), ("rack", Some(7)));
                assert_eq!(error.value.to_bits(), bad.to_bits());
            }
            other => panic!("{other:?}"),
        }
        match sweep
            .input("rack", &ArrayD::from_elem(IxDyn(&[1, 1]), bad).view())
            .unwrap_err()
        {
            SweepError::Input(error) => assert_eq!(error.index, None, "one number has no element to tell"),
            other => panic!("{other:?}"),
        }
    }

    let grid = [usize::MAX / 4, 8];
    assert_eq!(
        Sweep::new(&corner, &grid, TravelAt::Ground).unwrap_err(),
        SweepError::TooLarge(grid.to_vec())
    );
}

#[test]
fn grids_of_too_many_axes_and_memory_of_the_wrong_size_are_refused() {
    let corner = spatial_strut();
    assert!(Sweep::new(&corner, &[1; MOST_AXES], TravelAt::Ground).is_ok());
    let refused = Sweep::new(&corner, &[1; MOST_AXES + 1], TravelAt::Ground).unwrap_err();
    assert_eq!(refused, SweepError::TooManyAxes(MOST_AXES + 1));

    let sweep = Sweep::new(&corner, &[2, 3], TravelAt::Ground).unwrap();
    let level = chosen_level().unwrap();
    let quantities = [Quantity::Reading(Reading::Toe), Quantity::Place(Place::TieOuter)];
    for (columns, statuses, wanted, found) in [
        (&[6, 17][..], 6, 18, 17),
        (&[6, 18], 7, 6, 7),
        (&[6], 6, 2, 1),
        (&[18, 6], 6, 6, 18),
    ] {
        let mut memory: Vec<Vec<f64>> = columns.iter().map(|&length| vec![0.0; length]).collect();
        let outputs = memory.iter_mut().map(Vec::as_mut_slice).collect();
        let mut status = vec![0; statuses];
        let refused = sweep.run_into(level, &quantities, outputs, &mut status, 1, &Watch::default());
        assert_eq!(
            refused,
            Err(SweepError::Room { wanted, found }),
            "{columns:?} {statuses}"
        );
    }
}

#[test]
fn array_read_against_its_memory_order_is_read_right() {
    // Transposed views and views that run backwards hold the same values elsewhere.
    let corner = spatial_strut();
    let straight = Array::from_shape_fn((3, 4), |(i, j)| f64::from(i32::try_from(10 * i + j).unwrap()) - 15.0);
    let turned = straight.t().to_owned();
    let mut backwards = straight.clone();
    backwards.invert_axis(Axis(1));
    let mut again = backwards.as_standard_layout().to_owned();
    again.invert_axis(Axis(1));
    let swept = [straight.view(), turned.t(), again.view()].map(|view| {
        let mut sweep = Sweep::new(&corner, &[3, 4], TravelAt::Ground).unwrap();
        sweep.input("travel", &view.into_dyn()).unwrap();
        bits(&run(&sweep, 1))
    });
    assert_eq!(swept[0], swept[1]);
    assert_eq!(swept[0], swept[2]);
}

#[test]
fn caller_does_its_own_first_and_looks_out_until_the_end() {
    let corner = spatial_strut();
    let quantities = [Quantity::Reading(Reading::Camber)];
    let level = chosen_level().unwrap();
    for poses in [0, 3, 100_000] {
        for threads in [1, 2, 0] {
            let travels = Array::linspace(-50.0, 50.0, poses).into_dyn();
            let mut sweep = Sweep::new(&corner, &[poses], TravelAt::Ground).unwrap();
            sweep.input("travel", &travels.view()).unwrap();
            rouse(poses, threads);
            let run = |watch: &Watch, look: &dyn Fn()| {
                let mut column = vec![f64::INFINITY; poses];
                let mut status = vec![-1; poses];
                let firsts = Cell::new(0);
                let ended = sweep.run_beside(
                    level,
                    &quantities,
                    vec![&mut column],
                    &mut status,
                    threads,
                    watch,
                    || firsts.set(firsts.get() + 1),
                    Some(&Lookout::new(Duration::ZERO, look)),
                );
                assert_eq!(firsts.get(), 1, "{poses} poses on {threads} threads");
                assert!(ended.is_err() || column.iter().all(|value| value.is_finite()));
                ended
            };
            let looks = Cell::new(0);
            run(&Watch::default(), &|| looks.set(looks.get() + 1)).unwrap();
            assert!(poses < 100_000 || looks.get() > 0, "{poses} poses on {threads} threads");

            let watch = Watch::default();
            let ended = run(&watch, &|| watch.cancel());
            assert!(
                poses < 100_000 || ended == Err(SweepError::Cancelled),
                "{threads} threads: {ended:?}"
            );
        }
    }
}

#[test]
fn short_sweep_does_not_wait_for_a_long_one() {
    let corner = spatial_strut();
    let over = |poses: usize| {
        let mut sweep = Sweep::new(&corner, &[poses], TravelAt::Ground).unwrap();
        let travels = Array::linspace(-50.0, 50.0, poses).into_dyn();
        sweep.input("travel", &travels.view()).unwrap();
        sweep
    };
    let (long, short) = (over(4_000_000), over(4000));
    let camber = [Quantity::Reading(Reading::Camber)];
    let watch = Watch::default();
    std::thread::scope(|scope| {
        let running = scope.spawn(|| long.run(&camber, 2, &watch).map(drop));
        while watch.done() == 0 && !running.is_finished() {
            std::thread::yield_now();
        }
        short.run(&camber, 2, &Watch::default()).unwrap();
        watch.cancel();
        // Cancelled before its end: it was still running when the short one had ended.
        assert_eq!(running.join().unwrap(), Err(SweepError::Cancelled));
    });
}

#[test]
fn cancelled_sweep_stops_and_a_finished_one_has_counted_its_poses() {
    let corner = spatial_strut();
    let mut sweep = Sweep::new(&corner, &[3000], TravelAt::Ground).unwrap();
    sweep
        .input("travel", &Array::linspace(-50.0, 50.0, 3000).into_dyn().view())
        .unwrap();
    let watch = Watch::default();
    sweep.run(&[Quantity::Reading(Reading::Camber)], 2, &watch).unwrap();
    assert_eq!(watch.done(), 3000);

    let cancelled = Watch::default();
    cancelled.cancel();
    let refused = sweep
        .run(&[Quantity::Reading(Reading::Camber)], 2, &cancelled)
        .unwrap_err();
    assert_eq!(refused, SweepError::Cancelled);
    assert_eq!(cancelled.done(), 0);
}
