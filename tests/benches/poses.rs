//! Poses per second of the engine: one pose asked for alone, and a map of the top mount over travel.
//!
//! Run by hand with `cargo bench --bench poses`. A figure means little without its machine and its commit; what can be
//! compared are ratios of one run.

use divan::counter::ItemsCount;
use divan::{Bencher, black_box};
use ndarray::{Array, ArrayD, IxDyn};
use strutsweep::sweep::chosen_level;
use strutsweep::{Corner, Motion, Quantity, Reading, Setting, Sweep, TravelAt, Watch, demo};

/// Travel, mount in, mount back.
const GRID: [usize; 3] = [41, 64, 64];
const POSES: usize = GRID[0] * GRID[1] * GRID[2];

/// What a fitter looks at; none of them needs a derivative.
const EIGHT: [Reading; 8] = [
    Reading::Camber,
    Reading::Toe,
    Reading::Caster,
    Reading::KingpinInclination,
    Reading::ScrubRadius,
    Reading::MechanicalTrail,
    Reading::StrutCompression,
    Reading::HalfTrack,
];

fn main() {
    divan::main();
}

fn corner() -> Corner {
    demo::car("gravel_hatch").expect("a demonstration car").left
}

/// Values evenly spaced along one axis of the grid.
fn along(axis: usize, from: f64, to: f64) -> ArrayD<f64> {
    let mut shape = [1; GRID.len()];
    shape[axis] = GRID[axis];
    Array::linspace(from, to, GRID[axis])
        .into_shape_with_order(IxDyn(&shape))
        .expect("as many values as the axis has places")
}

/// A map of the top mount's plane over travel, within reach throughout.
fn map() -> Sweep {
    let mut sweep = Sweep::new(&corner(), &GRID, TravelAt::Ground).expect("a small grid");
    for (name, values) in [
        ("travel", along(0, -60.0, 60.0)),
        ("mount_in", along(1, -20.0, 20.0)),
        ("mount_back", along(2, -10.0, 10.0)),
    ] {
        sweep.input(name, &values.view()).expect("a fitting input");
    }
    sweep
}

fn quantities(readings: &[Reading]) -> Vec<Quantity> {
    readings.iter().map(|reading| Quantity::Reading(*reading)).collect()
}

/// The engine alone: into memory that is there already, as it lays the grid out.
fn fill_map(bencher: Bencher<'_, '_>, readings: &[Reading], threads: usize) {
    let sweep = map();
    let level = chosen_level().expect("this machine's level");
    let quantities = quantities(readings);
    let mut columns = vec![vec![0.0; POSES]; readings.len()];
    let mut status = vec![-1; POSES];
    bencher.counter(ItemsCount::new(POSES)).bench_local(|| {
        let outputs = columns.iter_mut().map(Vec::as_mut_slice).collect();
        sweep.run_into(level, &quantities, outputs, &mut status, threads, &Watch::default())
    });
    assert!(
        status.iter().all(|&code| code == 0),
        "every pose of the map is within reach"
    );
}

/// One pose, all its readings and places, its linkage built anew.
#[divan::bench]
fn one_pose(bencher: Bencher<'_, '_>) {
    let corner = corner();
    let setting = Setting {
        mount_in_mm: 10.0,
        ..Setting::default()
    };
    let motion = Motion {
        travel_mm: 20.0,
        rack_mm: 5.0,
        ..Motion::default()
    };
    bencher
        .counter(ItemsCount::new(1_usize))
        .bench_local(|| black_box(&corner).solve(black_box(&setting), black_box(&motion), TravelAt::Ground));
}

/// The map with every reading, rates among them.
#[divan::bench(args = [1, 2], sample_count = 50)]
fn map_of_all_readings(bencher: Bencher<'_, '_>, threads: usize) {
    fill_map(bencher, &Reading::ALL, threads);
}

/// The map with eight readings and no rate.
#[divan::bench(args = [1, 2], sample_count = 50)]
fn map_of_eight_readings(bencher: Bencher<'_, '_>, threads: usize) {
    fill_map(bencher, &EIGHT, threads);
}

/// The same with its memory asked for anew and turned into the grid's order: what [`Sweep::run`] adds.
#[divan::bench(args = [1, 2], sample_count = 20)]
fn map_of_eight_readings_in_grid_order(bencher: Bencher<'_, '_>, threads: usize) {
    let sweep = map();
    let quantities = quantities(&EIGHT);
    bencher
        .counter(ItemsCount::new(POSES))
        .bench_local(|| sweep.run(&quantities, threads, &Watch::default()));
}
