//! Any grid of poses, in parallel.
//!
//! A [`Sweep`] is a corner, the shape of a grid, and for each input the values that run along some of its axes. The
//! result keeps the shape: a pose out of reach is NaN with its status, in place. Each pose is computed from its own
//! inputs alone, so that the same bits come out for any number of threads, any chunking and any order of axes.

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};

use ndarray::ArrayViewD;
use rayon::prelude::*;
use rayon::{ThreadPool, ThreadPoolBuilder};

use crate::corner::{self, Corner, HardPoint, HardPoints, Side};
use crate::error::InputError;
use crate::linkage::Status;
use crate::motion::{MOTION_FIELDS, Motion, TravelAt};
use crate::pose::{Figures, Place};
use crate::reading::Reading;
use crate::rig::Rig;
use crate::setting::{SETTING_FIELDS, Setting};
use crate::space::Point;

/// Poses between two looks at the cancellation flag, and the unit of work of a thread: well under a tenth of a second
/// even if every one of them has to follow its path from design.
const BLOCK: usize = 512;

const SETTINGS: usize = SETTING_FIELDS.len();
const INPUTS: usize = SETTINGS + MOTION_FIELDS.len();

/// One column of a sweep's result.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quantity {
    /// A reading.
    Reading(Reading),
    /// A point's place: all X, then all Y, then all Z, each in the grid's order.
    Place(Place),
}

impl Quantity {
    /// How many numbers a pose has of it.
    pub const fn width(self) -> usize {
        match self {
            Self::Reading(_) => 1,
            Self::Place(_) => 3,
        }
    }

    fn is_rate(self) -> bool {
        match self {
            Self::Reading(reading) => reading.is_rate(),
            Self::Place(place) => place.is_rate(),
        }
    }

    fn component(self, figures: &Figures, component: usize) -> f64 {
        match self {
            Self::Reading(reading) => figures.readings[reading as usize],
            Self::Place(place) => <[f64; 3]>::from(figures.places[place as usize])[component],
        }
    }
}

/// What can be wrong with the inputs of a sweep.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SweepError {
    /// An input is no number to work with.
    #[error(transparent)]
    Input(#[from] InputError),
    /// No field of this name.
    #[error("there is no input named {0:?}")]
    NoSuchInput(String),
    /// An input's shape does not fit the grid.
    #[error(
        "{field} has shape {found:?}, which does not fit the grid {grid:?}: as many axes, each of length 1 or the grid's"
    )]
    Shape {
        /// The name of the input.
        field: String,
        /// Its shape.
        found: Vec<usize>,
        /// The grid's shape.
        grid: Vec<usize>,
    },
    /// More poses than an address can count.
    #[error("a grid of shape {0:?} has more poses than this machine can address")]
    TooLarge(Vec<usize>),
    /// Cancelled before its end.
    #[error("cancelled")]
    Cancelled,
    /// The threads could not be started.
    #[error("cannot start {threads} threads: {cause}")]
    Threads {
        /// How many were asked for.
        threads: usize,
        /// What the system said.
        cause: String,
    },
}

/// How far a running sweep is, and the way to stop it; shared with whoever watches.
#[derive(Debug, Default)]
pub struct Watch {
    done: AtomicUsize,
    cancelled: AtomicBool,
}

impl Watch {
    /// Poses finished so far.
    pub fn done(&self) -> usize {
        self.done.load(Ordering::Relaxed)
    }

    /// Ask the sweep to stop; it does within a few milliseconds.
    pub fn cancel(&self) {
        self.cancelled.store(true, Ordering::Relaxed);
    }

    fn is_cancelled(&self) -> bool {
        self.cancelled.load(Ordering::Relaxed)
    }
}

/// Values of one input along the axes of the grid; an axis along which they do not change has stride zero.
#[derive(Clone, Debug)]
struct Column {
    values: Vec<f64>,
    strides: Vec<usize>,
}

impl Column {
    fn constant(value: f64, axes: usize) -> Self {
        Self {
            values: vec![value],
            strides: vec![0; axes],
        }
    }

    /// `trailing` is the number of values that belong to one pose: 1, or 3 for a point.
    fn new(field: &str, array: &ArrayViewD<'_, f64>, grid: &[usize], trailing: usize) -> Result<Self, SweepError> {
        let shape = array.shape();
        let fits = shape.len() == grid.len() + usize::from(trailing > 1)
            && shape.iter().zip(grid).all(|(&n, &whole)| n == 1 || n == whole)
            && (trailing == 1 || shape.last() == Some(&trailing));
        if !fits {
            return Err(SweepError::Shape {
                field: field.to_owned(),
                found: shape.to_vec(),
                grid: grid.to_vec(),
            });
        }
        let values: Vec<f64> = array.iter().copied().collect();
        if let Some(index) = values.iter().position(|v| !v.is_finite()) {
            return Err(InputError {
                field: field.to_owned(),
                value: values[index],
                index: (values.len() > 1).then_some(index),
            }
            .into());
        }
        let mut strides = vec![0; grid.len()];
        let mut stride = trailing;
        for axis in (0..grid.len()).rev() {
            if shape[axis] != 1 {
                strides[axis] = stride;
            }
            stride *= shape[axis];
        }
        Ok(Self { values, strides })
    }

    #[inline]
    fn offset(&self, index: &[usize]) -> usize {
        self.strides.iter().zip(index).map(|(stride, i)| stride * i).sum()
    }
}

/// A grid of poses to be computed.
#[derive(Clone, Debug)]
pub struct Sweep {
    corner: Corner,
    travel_at: TravelAt,
    grid: Vec<usize>,
    poses: usize,
    inputs: [Column; INPUTS],
    points: Vec<(HardPoint, Column)>,
}

/// The result of a sweep: one column a quantity, in the order asked for, each in the grid's row-major order.
#[derive(Clone, Debug)]
pub struct Swept {
    /// The grid's shape.
    pub grid: Vec<usize>,
    /// Values, NaN where a pose is out of reach; [`Quantity::width`] times the grid's poses in each.
    pub columns: Vec<Vec<f64>>,
    /// [`Status`] codes.
    pub status: Vec<i8>,
}

impl Sweep {
    /// A grid of this shape over a corner, with every input at zero; a grid of no axes is one pose.
    ///
    /// # Errors
    /// [`SweepError::TooLarge`] if the poses cannot be counted.
    pub fn new(corner: &Corner, grid: &[usize], travel_at: TravelAt) -> Result<Self, SweepError> {
        let poses = grid
            .iter()
            .try_fold(1_usize, |product, &n| product.checked_mul(n))
            .filter(|&poses| poses <= isize::MAX as usize / size_of::<f64>())
            .ok_or_else(|| SweepError::TooLarge(grid.to_vec()))?;
        Ok(Self {
            corner: corner.clone(),
            travel_at,
            grid: grid.to_vec(),
            poses,
            inputs: std::array::from_fn(|_| Column::constant(0.0, grid.len())),
            points: Vec::new(),
        })
    }

    /// How many poses the grid has.
    pub fn poses(&self) -> usize {
        self.poses
    }

    /// Give an input of [`Setting`] or [`Motion`] by its name at the user's face. The array has as many axes as the
    /// grid, each of length one or the grid's.
    ///
    /// # Errors
    /// An unknown name, a shape that does not fit, a value that is not finite.
    pub fn input(&mut self, name: &str, values: &ArrayViewD<'_, f64>) -> Result<(), SweepError> {
        let place = SETTING_FIELDS
            .iter()
            .chain(&MOTION_FIELDS)
            .position(|field| field.name == name)
            .ok_or_else(|| SweepError::NoSuchInput(name.to_owned()))?;
        self.inputs[place] = Column::new(name, values, &self.grid, 1)?;
        Ok(())
    }

    /// Move a hard point along the grid: one knuckle is built a place. The array has one more axis than the grid, of
    /// length three, for X, Y and Z in the car's coordinates.
    ///
    /// # Errors
    /// As [`Self::input`]. Points that make no corner are a status of their poses, not an error.
    pub fn point(&mut self, point: HardPoint, values: &ArrayViewD<'_, f64>) -> Result<(), SweepError> {
        let column = Column::new(point.name(), values, &self.grid, 3)?;
        self.points.push((point, column));
        Ok(())
    }

    /// Compute the grid on this many threads (all of the machine's if zero), watched from outside.
    ///
    /// # Errors
    /// [`SweepError::Cancelled`], or [`SweepError::Threads`] if the system gives no threads.
    pub fn run(&self, quantities: &[Quantity], threads: usize, watch: &Watch) -> Result<Swept, SweepError> {
        let mut columns: Vec<Vec<f64>> = quantities
            .iter()
            .map(|quantity| vec![0.0; quantity.width() * self.poses])
            .collect();
        let mut status = vec![0_i8; self.poses];
        let mut blocks: Vec<Block<'_>> = status
            .chunks_mut(BLOCK)
            .enumerate()
            .map(|(i, status)| Block {
                start: i * BLOCK,
                status,
                outputs: Vec::with_capacity(quantities.len()),
            })
            .collect();
        for (quantity, column) in quantities.iter().zip(&mut columns) {
            // An empty grid has no chunk to divide, and chunks of no length are not allowed.
            for (component, whole) in column.chunks_mut(self.poses.max(1)).enumerate() {
                for (block, values) in blocks.iter_mut().zip(whole.chunks_mut(BLOCK)) {
                    block.outputs.push(Output {
                        quantity: *quantity,
                        component,
                        values,
                    });
                }
            }
        }
        let rates = quantities.iter().any(|quantity| quantity.is_rate());
        pool(threads)?.install(|| {
            blocks.into_par_iter().try_for_each(|mut block| {
                if watch.is_cancelled() {
                    return Err(SweepError::Cancelled);
                }
                self.compute(&mut block, rates);
                watch.done.fetch_add(block.status.len(), Ordering::Relaxed);
                Ok(())
            })
        })?;
        Ok(Swept {
            grid: self.grid.clone(),
            columns,
            status,
        })
    }

    fn compute(&self, block: &mut Block<'_>, rates: bool) {
        let mut walk = Walk::new(self, block.start);
        for i in 0..block.status.len() {
            let (figures, status) = walk.figures(rates);
            block.status[i] = status.code();
            for output in &mut block.outputs {
                output.values[i] = output.quantity.component(&figures, output.component);
            }
            walk.step();
        }
    }
}

/// A run of poses and the places in the result that it fills.
struct Block<'a> {
    start: usize,
    status: &'a mut [i8],
    outputs: Vec<Output<'a>>,
}

/// One number a pose, and where it goes.
struct Output<'a> {
    quantity: Quantity,
    component: usize,
    values: &'a mut [f64],
}

/// A walk over the grid that rebuilds only what changed from one pose to the next.
struct Walk<'a> {
    sweep: &'a Sweep,
    index: Vec<usize>,
    points: HardPoints,
    side: Side,
    rig: Option<Rig>,
    setting: Setting,
    point_offsets: Vec<usize>,
}

impl<'a> Walk<'a> {
    fn new(sweep: &'a Sweep, start: usize) -> Self {
        let mut index = vec![0; sweep.grid.len()];
        let mut rest = start;
        for (i, &n) in index.iter_mut().zip(&sweep.grid).rev() {
            *i = rest % n;
            rest /= n;
        }
        Self {
            sweep,
            index,
            points: sweep.corner.left_twin(),
            side: sweep.corner.side(),
            rig: None,
            setting: Setting::default(),
            // No offset is this large, so that the first pose places its points.
            point_offsets: vec![usize::MAX; sweep.points.len()],
        }
    }

    fn step(&mut self) {
        for (i, &n) in self.index.iter_mut().zip(&self.sweep.grid).rev() {
            *i += 1;
            if *i < n {
                return;
            }
            *i = 0;
        }
    }

    fn figures(&mut self, rates: bool) -> (Figures, Status) {
        let inputs: [f64; INPUTS] = std::array::from_fn(|i| {
            let column = &self.sweep.inputs[i];
            column.values[column.offset(&self.index)]
        });
        let setting = Setting::from_array(std::array::from_fn(|i| inputs[i]));
        let motion = Motion {
            travel_mm: inputs[SETTINGS],
            rack_mm: inputs[SETTINGS + 1],
        };
        if self.place_points() == Status::HardPoints {
            return (Figures::NONE, Status::HardPoints);
        }
        let rig = match &mut self.rig {
            Some(rig) if self.setting == setting => rig,
            Some(rig) if same_but_mount(&self.setting, &setting) => {
                rig.move_mount(&setting);
                rig
            }
            stale => stale.insert(Rig::new(&self.points, &setting)),
        };
        self.setting = setting;
        match rig.reach(&motion, self.sweep.travel_at) {
            Ok(t) => (
                Figures::of(rig, self.side, t, &motion, self.sweep.travel_at, rates),
                Status::Reached,
            ),
            Err(status) => (Figures::NONE, status),
        }
    }

    /// Bring the hard points to this place of the grid; says whether they make a corner.
    fn place_points(&mut self) -> Status {
        let sweep = self.sweep;
        let offsets = || sweep.points.iter().map(|(_, column)| column.offset(&self.index));
        if offsets().eq(self.point_offsets.iter().copied()) {
            return if self.rig.is_some() || sweep.points.is_empty() {
                Status::Reached
            } else {
                Status::HardPoints
            };
        }
        self.point_offsets = offsets().collect();
        self.rig = None;
        let mut points = *sweep.corner.points();
        for ((point, column), &offset) in sweep.points.iter().zip(&self.point_offsets) {
            let at = Point::new(
                column.values[offset],
                column.values[offset + 1],
                column.values[offset + 2],
            );
            point.place(&mut points, at);
        }
        match corner::check(&points) {
            Ok(side) => {
                self.side = side;
                self.points = side.left_twin(&points);
                // A rig stands for "these points make a corner" until the setting builds its own.
                self.setting = Setting::default();
                self.rig = Some(Rig::new(&self.points, &self.setting));
                Status::Reached
            }
            Err(_) => Status::HardPoints,
        }
    }
}

fn same_but_mount(a: &Setting, b: &Setting) -> bool {
    Setting {
        mount_in_mm: b.mount_in_mm,
        mount_back_mm: b.mount_back_mm,
        mount_up_mm: b.mount_up_mm,
        ..*a
    } == *b
}

/// Thread pools of this process, one a count of threads.
///
/// A pool of our own, keyed by process: threads do not survive a fork, and a child that used its parent's pool would
/// wait for ever.
fn pool(threads: usize) -> Result<Arc<ThreadPool>, SweepError> {
    type Pools = Vec<(u32, usize, Arc<ThreadPool>)>;
    static POOLS: Mutex<Pools> = Mutex::new(Vec::new());
    let build = || {
        ThreadPoolBuilder::new()
            .num_threads(threads)
            .thread_name(|i| format!("strutsweep-{i}"))
            .build()
            .map(Arc::new)
            .map_err(|error| SweepError::Threads {
                threads,
                cause: error.to_string(),
            })
    };
    let process = std::process::id();
    // A child forked while another thread held the lock would find it locked for ever: it builds a pool for itself.
    let Ok(mut pools) = POOLS.try_lock() else {
        return build();
    };
    if let Some((_, _, pool)) = pools.iter().find(|(of, count, _)| *of == process && *count == threads) {
        return Ok(Arc::clone(pool));
    }
    for stale in pools.extract_if(.., |(of, _, _)| *of != process) {
        // Its threads live in the parent; dropping the pool here would signal them in vain.
        std::mem::forget(stale);
    }
    let pool = build()?;
    pools.push((process, threads, Arc::clone(&pool)));
    Ok(pool)
}
