//! Any grid of poses, in parallel.
//!
//! A [`Sweep`] is a corner, the shape of a grid, and for each input the values that run along some of its axes. The
//! result keeps the shape: a pose out of reach is NaN with its status, in place. Each pose is computed from its own
//! inputs alone, and by the same operations on any number of lanes, so that the same bits come out for any number of
//! threads, any chunking, any order of axes and any level of vector instructions.
//!
//! # How the work is laid out
//!
//! If there is an axis along which nothing but travel changes, a row is what lies along it: one setting and one rack
//! position, whose [`Track`](crate::track::Track) is made once and serves all its travels. As many rows as a pack has
//! lanes go side by side, and travel is laid outermost in the result's memory, so that what a pack gives is written in
//! one piece. Where a sweep has few rows, or long ones, travels of one row go side by side, and travel is laid
//! innermost. [`Sweep::layout`] tells how the grid's axes lie ([`Sweep::run`] turns them back, [`Sweep::run_into`] leaves
//! them). Threads, the caller's among them, take blocks of rows with all their travels, or pieces of rows, smaller ones
//! towards the end.
//!
//! Where rows go side by side and the result is larger than the caches, a few rows at a time are written to a small piece
//! of memory that stays in the cache (`Tray` in `block.rs`), and copied from there to where they belong. New memory, which
//! the system clears where it is first touched, is touched beforehand, page by page: two threads that touch one page at
//! the same time would both clear it, and a single row touches nearly all pages.

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use ndarray::{ArrayViewD, IxDyn};

use crate::corner::{Corner, HardPoint};
use crate::error::InputError;
use crate::hard_points::WheelFigure;
use crate::lanes::Level;
use crate::motion::{MOTION_FIELDS, TravelAt};
use crate::pose::Place;
use crate::reading::Reading;
use crate::setting::{InputField, SETTING_FIELDS};

mod block;
mod fill;
mod share;
pub(crate) mod threads;

use block::{Block, Tray};
use fill::{Fill, Job};
pub use share::Lookout;
use share::share;
pub(crate) use threads::pool;

const SETTINGS: usize = SETTING_FIELDS.len();
const TRAVEL: usize = SETTINGS;
const RACK: usize = SETTINGS + 1;
const ROLL: usize = SETTINGS + 2;
const INPUTS: usize = SETTINGS + MOTION_FIELDS.len();
/// The most axes that a grid may have: arrays of 32 are the largest that pass between Rust and Python, and a place has one
/// more than the grid.
pub const MOST_AXES: usize = 31;

/// The widest pack of any machine.
const MOST_LANES: usize = 8;
/// Rows of more travels than this are filled along themselves: cut into blocks, so that a cancelled sweep stops soon.
const LONG_ROW: usize = 256;

/// Poses for each thread at least: fewer are done before another thread would be awake.
const ALONE: usize = 512;
/// A result of so many bytes lies in memory that nobody has touched yet, most likely: allocators keep smaller pieces.
const FRESH: usize = 32 << 20;
/// A result of so many bytes is larger than what the caches keep of it.
const PAST_CACHES: usize = 16 << 20;
/// Bytes of a large page of the system.
pub(crate) const LARGE_PAGE: usize = 2 << 20;

/// The environment variable that names the level of vector instructions to use: `avx512`, `avx2`, `neon` or `portable`.
pub const LEVEL_VARIABLE: &str = "STRUTSWEEP_LANES";

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
    /// More poses than an address can count or memory can hold.
    #[error("a grid of shape {0:?} has more poses than this machine can hold")]
    TooLarge(Vec<usize>),
    /// The environment names a level of vector instructions that this machine has not.
    #[error("{LEVEL_VARIABLE} is {named:?}, but this machine has {}", here.join(", "))]
    NoSuchLevel {
        /// What the variable says.
        named: String,
        /// What the machine has.
        here: Vec<&'static str>,
    },
    /// Memory that the caller gave is not of the size of the result.
    #[error("room for {found} values was given where {wanted} come out")]
    Room {
        /// How many values come out.
        wanted: usize,
        /// For how many there was room.
        found: usize,
    },
    /// A grid of more axes than any array has.
    #[error("a grid of {0} axes: at most {MOST_AXES} are possible")]
    TooManyAxes(usize),
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
    again: AtomicUsize,
    followed: AtomicUsize,
    cancelled: AtomicBool,
}

impl Watch {
    /// Poses finished so far.
    pub fn done(&self) -> usize {
        self.done.load(Ordering::Relaxed)
    }

    /// Poses so far that the track did not lead to by itself: a step of Newton's method helped.
    pub fn again(&self) -> usize {
        self.again.load(Ordering::Relaxed)
    }

    /// Poses so far that the short cut would not vouch for, and that were found again, one by one, along their paths
    /// from design.
    pub fn followed(&self) -> usize {
        self.followed.load(Ordering::Relaxed)
    }

    /// Ask the sweep to stop; it does within a few milliseconds.
    pub fn cancel(&self) {
        self.cancelled.store(true, Ordering::Relaxed);
    }

    fn is_cancelled(&self) -> bool {
        self.cancelled.load(Ordering::Relaxed)
    }
}

/// Values of one input along the axes of the grid; an axis along which they do not change has stride zero. What is not
/// given has no values and no strides: it is zero.
#[derive(Clone, Debug)]
struct Column {
    values: Vec<f64>,
    strides: Vec<usize>,
}

impl Column {
    const NOT_GIVEN: Self = Self {
        values: Vec::new(),
        strides: Vec::new(),
    };

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
        let mut values = room_for(array.len(), grid)?;
        values.extend(array.iter().copied());
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
    fn value(&self, offset: usize) -> f64 {
        debug_assert!(self.values.is_empty() || offset < self.values.len());
        self.values.get(offset).copied().unwrap_or(0.0)
    }

    fn stride(&self, axis: usize) -> usize {
        self.strides.get(axis).copied().unwrap_or(0)
    }

    #[inline]
    fn offset(&self, index: &[usize]) -> usize {
        self.strides.iter().zip(index).map(|(stride, i)| stride * i).sum()
    }

    fn varies(&self) -> bool {
        self.strides.iter().any(|&stride| stride != 0)
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
    wheel: Vec<(WheelFigure, Column)>,
}

/// The result of a sweep: one column a quantity, in the order asked for, each in the grid's row-major order.
#[derive(Clone, Debug)]
pub struct Swept {
    /// The grid's shape.
    pub grid: Vec<usize>,
    /// Values, NaN where a pose is out of reach; [`Quantity::width`] times the grid's poses in each.
    pub columns: Vec<Vec<f64>>,
    /// Of each column.
    widths: Vec<usize>,
    /// [`Status`](crate::linkage::Status) codes.
    pub status: Vec<i8>,
}

impl Swept {
    /// A column in the grid's shape; a place has an axis of length three in front.
    ///
    /// # Panics
    /// If there is no such column.
    pub fn column(&self, column: usize) -> ArrayViewD<'_, f64> {
        let values = &self.columns[column];
        let width = self.widths[column];
        let lead = (width > 1).then_some(width);
        let shape: Vec<usize> = lead.into_iter().chain(self.grid.iter().copied()).collect();
        ArrayViewD::from_shape(IxDyn(&shape), values).expect("a column has the grid's poses")
    }
}

impl Sweep {
    /// A grid of this shape over a corner, with every input at zero; a grid of no axes is one pose.
    ///
    /// # Errors
    /// [`SweepError::TooLarge`] if the poses cannot be counted.
    pub fn new(corner: &Corner, grid: &[usize], travel_at: TravelAt) -> Result<Self, SweepError> {
        if grid.len() > MOST_AXES {
            return Err(SweepError::TooManyAxes(grid.len()));
        }
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
            inputs: [const { Column::NOT_GIVEN }; INPUTS],
            points: Vec::new(),
            wheel: Vec::new(),
        })
    }

    /// The grid's shape.
    pub fn grid(&self) -> &[usize] {
        &self.grid
    }

    /// How many poses the grid has.
    pub fn poses(&self) -> usize {
        self.poses
    }

    /// The longest axis along which nothing but travel changes.
    fn travel_axis(&self) -> Option<usize> {
        let changes = |column: &Column, axis: usize| column.stride(axis) != 0;
        let others = |axis: usize| {
            let inputs = self
                .inputs
                .iter()
                .enumerate()
                .filter(|(i, _)| *i != TRAVEL)
                .map(|(_, column)| column);
            inputs
                .chain(self.points.iter().map(|(_, column)| column))
                .chain(self.wheel.iter().map(|(_, column)| column))
                .any(|column| changes(column, axis))
        };
        (0..self.grid.len())
            .filter(|&axis| changes(&self.inputs[TRAVEL], axis) && !others(axis))
            .max_by_key(|&axis| self.grid[axis])
    }

    /// Whether rows go side by side: there are enough of them, or none is as long as a pack.
    fn rows_go_side_by_side(&self) -> bool {
        let steps = self.travel_axis().map_or(1, |axis| self.grid[axis]);
        let rows = self.poses.checked_div(steps).unwrap_or(0);
        steps <= LONG_ROW && (rows >= 2 * MOST_LANES || steps < MOST_LANES)
    }

    /// Give an input of [`Setting`](crate::setting::Setting) or [`Motion`](crate::motion::Motion) by its name at the user's face. The array has as many axes as the
    /// grid, each of length one or the grid's.
    ///
    /// # Errors
    /// An unknown name, a shape that does not fit, a value that is not finite.
    pub fn input(&mut self, name: &str, values: &ArrayViewD<'_, f64>) -> Result<(), SweepError> {
        let (place, field) = SETTING_FIELDS
            .iter()
            .chain(&MOTION_FIELDS)
            .enumerate()
            .find(|(_, field)| field.name == name)
            .ok_or_else(|| SweepError::NoSuchInput(name.to_owned()))?;
        let column = Column::new(name, values, &self.grid, 1)?;
        field.check(&column.values)?;
        self.inputs[place] = column;
        Ok(())
    }

    /// Move a hard point along the grid: one knuckle is built a place. The array has one more axis than the grid, of
    /// length three, for X, Y and Z in the car's coordinates.
    ///
    /// # Errors
    /// As [`Self::input`]. Points that make no corner are a status of their poses, not an error.
    pub fn point(&mut self, point: HardPoint, values: &ArrayViewD<'_, f64>) -> Result<(), SweepError> {
        let column = Column::new(point.name(), values, &self.grid, 3)?;
        InputField::new(point.name(), "mm", "", "").check(&column.values)?;
        self.points.push((point, column));
        Ok(())
    }

    /// Change a figure of the wheel along the grid: one corner is built a place, as for [`Self::point`]. The array has as
    /// many axes as the grid.
    ///
    /// # Errors
    /// As [`Self::input`]. Figures that make no corner are a status of their poses, not an error.
    pub fn wheel(&mut self, figure: WheelFigure, values: &ArrayViewD<'_, f64>) -> Result<(), SweepError> {
        let column = Column::new(figure.name(), values, &self.grid, 1)?;
        InputField::new(figure.name(), figure.unit(), "", "").check(&column.values)?;
        self.wheel.push((figure, column));
        Ok(())
    }

    /// Compute the grid on this many threads (all of the machine's if zero), watched from outside, by the widest vector
    /// instructions of the machine or those that [`LEVEL_VARIABLE`] names.
    ///
    /// # Errors
    /// [`SweepError::Cancelled`], [`SweepError::Threads`] if the system gives no threads, [`SweepError::NoSuchLevel`].
    pub fn run(&self, quantities: &[Quantity], threads: usize, watch: &Watch) -> Result<Swept, SweepError> {
        self.run_at(chosen_level()?, quantities, threads, watch)
    }

    /// As [`Self::run`], by the vector instructions of this level.
    ///
    /// # Errors
    /// [`SweepError::Cancelled`], or [`SweepError::Threads`] if the system gives no threads.
    pub fn run_at(
        &self,
        level: Level,
        quantities: &[Quantity],
        threads: usize,
        watch: &Watch,
    ) -> Result<Swept, SweepError> {
        let mut columns: Vec<Vec<f64>> = Vec::with_capacity(quantities.len());
        for quantity in quantities {
            let numbers = quantity.width() * self.poses;
            // Only asked for: what the system gives anew is zero already.
            drop(room_for::<f64>(numbers, &self.grid)?);
            columns.push(vec![0.0; numbers]);
        }
        drop(room_for::<i8>(self.poses, &self.grid)?);
        let mut status = vec![0; self.poses];
        let outputs = columns.iter_mut().map(Vec::as_mut_slice).collect();
        self.run_into(level, quantities, outputs, &mut status, threads, watch)?;
        Ok(Swept {
            grid: self.grid.clone(),
            widths: quantities.iter().map(|quantity| quantity.width()).collect(),
            columns: columns.into_iter().map(|column| self.in_grid_order(column)).collect(),
            status: self.in_grid_order(status),
        })
    }

    /// As [`Self::run_at`], into memory of the caller's: a slice a quantity, of [`Quantity::width`] times the grid's
    /// poses, and one for the status, all laid out as [`Self::layout`] says. What stood in them does not matter.
    ///
    /// # Errors
    /// [`SweepError::Cancelled`], [`SweepError::Threads`] if the system gives no threads, or [`SweepError::Room`] if a
    /// slice is not as long as it has to be.
    pub fn run_into(
        &self,
        level: Level,
        quantities: &[Quantity],
        outputs: Vec<&mut [f64]>,
        status: &mut [i8],
        threads: usize,
        watch: &Watch,
    ) -> Result<(), SweepError> {
        self.run_beside(level, quantities, outputs, status, threads, watch, || (), None)
    }

    /// As [`Self::run_into`], beside something else on the calling thread: `first` is done once, while other threads
    /// compute already (with one thread, before the first pose), and `lookout` now and then until the end.
    ///
    /// # Errors
    /// As [`Self::run_into`].
    #[allow(clippy::too_many_arguments)] // A sweep, its memory, and who is beside it.
    pub fn run_beside(
        &self,
        level: Level,
        quantities: &[Quantity],
        mut outputs: Vec<&mut [f64]>,
        status: &mut [i8],
        threads: usize,
        watch: &Watch,
        first: impl FnOnce(),
        lookout: Option<&Lookout<'_>>,
    ) -> Result<(), SweepError> {
        let room = |wanted: usize, found: usize| {
            if wanted == found {
                Ok(())
            } else {
                Err(SweepError::Room { wanted, found })
            }
        };
        room(quantities.len(), outputs.len())?;
        room(self.poses, status.len())?;
        for (quantity, column) in quantities.iter().zip(&outputs) {
            room(quantity.width() * self.poses, column.len())?;
        }
        // An empty grid has no blocks to divide.
        if self.poses == 0 {
            first();
            return Ok(());
        }
        let threads = worthwhile(self.poses, threads);
        let cancelled = || watch.is_cancelled();
        let bytes: usize = outputs.iter().map(|column| size_of_val(*column)).sum();
        if bytes >= FRESH {
            let mut pages = pages(&mut outputs);
            let next = || pages.next().filter(|_| !cancelled());
            let touch = |(): &mut (), page: &mut [f64], lookout: Option<&Lookout<'_>>| {
                page[0] = 0.0;
                if let Some(lookout) = lookout {
                    lookout.when_due();
                }
            };
            share(threads, next, || (), touch, || (), lookout)?;
        }
        let job = Job::new(self, quantities, watch);
        let mut rest = Block::whole(quantities, outputs, status, job.strip());
        let next = || {
            let left = rest.length();
            (left > 0 && !cancelled()).then(|| rest.cut(job.piece(left, threads)))
        };
        let fill = |tray: &mut Option<Tray>, block: Block<'_>, lookout: Option<&Lookout<'_>>| {
            let poses = block.poses();
            level.run(Fill {
                job: &job,
                block,
                tray: tray.as_mut(),
                lookout,
            });
            watch.done.fetch_add(poses, Ordering::Relaxed);
        };
        let tray = || (bytes >= PAST_CACHES && job.side_by_side()).then(Tray::default);
        share(threads, next, tray, fill, first, lookout)?;
        if watch.is_cancelled() {
            return Err(SweepError::Cancelled);
        }
        Ok(())
    }

    /// Values that were laid out as [`Self::layout`] says, in the grid's own order.
    fn in_grid_order<T: Copy>(&self, values: Vec<T>) -> Vec<T> {
        let layout = self.layout();
        if layout.is_sorted() || values.is_empty() {
            return values;
        }
        let laid_out = layout.iter().map(|&axis| self.grid[axis]);
        let shape: Vec<usize> = std::iter::once(values.len() / self.poses).chain(laid_out).collect();
        let mut turned = vec![0; shape.len()];
        for (place, &axis) in layout.iter().enumerate() {
            turned[axis + 1] = place + 1;
        }
        let view = ArrayViewD::from_shape(IxDyn(&shape), &values).expect("values are the grid's poses");
        view.permuted_axes(IxDyn(&turned)).iter().copied().collect()
    }

    /// The grid's axes from the outermost to the innermost in memory: the axis along which nothing but travel changes,
    /// the longest if there are several, comes first where rows go side by side, else last.
    pub fn layout(&self) -> Vec<usize> {
        let along = self.travel_axis();
        let others = (0..self.grid.len()).filter(|&axis| Some(axis) != along);
        if self.rows_go_side_by_side() {
            along.into_iter().chain(others).collect()
        } else {
            others.chain(along).collect()
        }
    }
}

/// Wake the threads of a sweep of so many poses that is to begin very soon: it takes them as long as a thousand poses.
pub fn rouse(poses: usize, threads: usize) {
    let threads = worthwhile(poses, threads);
    if threads == 1 {
        return;
    }
    // Without threads the sweep itself will say so.
    if let Ok(pool) = pool(threads) {
        for _ in 1..threads {
            pool.spawn(|| ());
        }
    }
}

/// Room for so many values; memory that cannot hold them is told of, where a vector by itself would end the process.
fn room_for<T>(values: usize, grid: &[usize]) -> Result<Vec<T>, SweepError> {
    let mut room = Vec::new();
    room.try_reserve_exact(values)
        .map_err(|_| SweepError::TooLarge(grid.to_vec()))?;
    Ok(room)
}

/// How many threads so many poses are worth, of those wanted.
fn worthwhile(poses: usize, threads: usize) -> usize {
    threads::count(threads).min(poses / ALONE).max(1)
}

/// A piece of each of the system's large pages on which columns lie.
fn pages<'a>(columns: &'a mut [&mut [f64]]) -> impl Iterator<Item = &'a mut [f64]> {
    // Columns that lie one after the other share the page between them.
    let mut last = None;
    let is_new = move |piece: &&mut [f64]| {
        let page = piece.as_ptr().addr() / LARGE_PAGE;
        !piece.is_empty() && last.replace(page) != Some(page)
    };
    columns.iter_mut().flat_map(|column| pieces(column)).filter(is_new)
}

/// A column, cut where large pages begin.
fn pieces(column: &mut [f64]) -> impl Iterator<Item = &mut [f64]> {
    let to_next = column.as_ptr().addr().wrapping_neg() % LARGE_PAGE / size_of::<f64>();
    let (first, rest) = column.split_at_mut(to_next.min(column.len()));
    std::iter::once(first).chain(rest.chunks_mut(LARGE_PAGE / size_of::<f64>()))
}

/// The level of vector instructions that [`LEVEL_VARIABLE`] names, or the machine's best.
///
/// # Errors
/// [`SweepError::NoSuchLevel`] if this machine has not what is named.
pub fn chosen_level() -> Result<Level, SweepError> {
    match std::env::var(LEVEL_VARIABLE) {
        Ok(named) if !named.is_empty() => Level::named(&named).ok_or_else(|| SweepError::NoSuchLevel {
            named,
            here: Level::all().map(Level::name).collect(),
        }),
        _ => Ok(Level::best()),
    }
}
