//! The sweep: arrays in, arrays out, the interpreter let go in between.

use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use ndarray::IxDyn;
use numpy::{Element, PyArray1, PyArrayDyn, PyArrayMethods, PyReadwriteArray1};
use pyo3::intern;
use pyo3::prelude::*;
use pyo3::sync::PyOnceLock;
use pyo3::types::{PyDict, PySlice};

use super::convert::{self, Numbers};
use super::corner::PyCorner;
use super::error::{from_sweep, not_one_of};
use crate::hard_points::WheelFigure;
use crate::lanes::Level;
use crate::pose::Place;
use crate::reading::Reading;
use crate::sweep::{self, LARGE_PAGE, Lookout, Quantity, Sweep, SweepError, Watch};

/// How often the caller looks for signals: Ctrl-C is felt within this and a millisecond or two.
const LOOK_EVERY: Duration = Duration::from_millis(50);
/// NumPy asks for large pages for an array of this many bytes.
const ADVISED: usize = 4 << 20;
/// Columns smaller than this are kept together, so that they share their pages.
const LARGE_COLUMN: usize = 4 << 20;
/// Columns begin at a multiple of this, so that a pack of the widest instructions does not cross a line of the cache.
const LINE: usize = 64;

/// Arrays by name, and status codes.
type Arrays<'py> = (Bound<'py, PyDict>, Bound<'py, PyArrayDyn<i8>>);
/// The same while the interpreter is let go, and labels.
type Labelled = (Py<PyDict>, Py<PyArrayDyn<i8>>, Py<PyAny>);
/// Arrays by name, status codes, effort, labels.
type Computed<'py> = (
    Bound<'py, PyDict>,
    Bound<'py, PyArrayDyn<i8>>,
    Bound<'py, PyDict>,
    Option<Py<PyAny>>,
);

/// Compute a grid of poses.
///
/// The unlabelled engine under `strutsweep.sweep`, which is what to call: it names axes and labels results.
///
/// Parameters
/// ----------
/// corner : Corner
/// grid : sequence of int
///     Shape of the grid.
/// inputs : dict of str to array
///     Fields of setting and motion; each array has the grid's number of axes, of length one or the grid's.
/// points : dict of str to array
///     Hard points that move along the grid; each array has one more axis, of length three. And figures of the wheel
///     (``wheel_radius``, ``camber``, ``toe``), whose arrays have the grid's axes.
/// readings, places : sequence of str
///     What to compute.
/// travel_at : {"ground", "hub", "strut"}
/// threads : int
///     0 for all of the machine's.
/// progress : callable or None
///     Called every 50 ms with the number of poses done.
/// label : callable or None
///     Called once with the arrays and the status codes, in which nothing is to be read yet: other threads fill them
///     meanwhile; with one thread, or few poses, they are filled after it.
///
/// Returns
/// -------
/// dict of str to array, array, dict of str to int, object
///     Per reading an array of the grid's shape, per place one with a leading axis of length three; the status codes; and
///     the effort: ``poses``, those of them that needed a step of Newton's method (``again``), and those that had to be ``followed``
///     along their path from design; and what `label` gave. Arrays may be views whose axes are turned in memory.
#[pyfunction]
#[pyo3(signature = (corner, grid, inputs, points, readings, places, travel_at, threads, progress, label=None))]
#[allow(clippy::too_many_arguments, clippy::needless_pass_by_value)]
pub(super) fn sweep_grid<'py>(
    py: Python<'py>,
    corner: &PyCorner,
    grid: Vec<usize>,
    inputs: &Bound<'py, PyDict>,
    points: &Bound<'py, PyDict>,
    readings: Vec<String>,
    places: Vec<String>,
    travel_at: &str,
    threads: usize,
    progress: Option<Py<PyAny>>,
    label: Option<Py<PyAny>>,
) -> PyResult<Computed<'py>> {
    let travel_at = convert::travel_at(py, travel_at)?;
    let quantities = quantities(py, &readings, &places)?;
    let refuse = |error: SweepError| from_sweep(py, &error);
    let mut sweep = Sweep::new(&corner.inner, &grid, travel_at).map_err(refuse)?;
    for (name, values) in inputs.iter() {
        let values: Numbers<'py, f64, IxDyn> = values.extract()?;
        sweep
            .input(&name.extract::<String>()?, &values.as_array())
            .map_err(refuse)?;
    }
    for (name, values) in points.iter() {
        let name: String = name.extract()?;
        if let Some(figure) = WheelFigure::from_name(&name) {
            let values: Numbers<'py, f64, IxDyn> = values.extract()?;
            sweep.wheel(figure, &values.as_array()).map_err(refuse)?;
            continue;
        }
        let point = convert::hard_point(py, "points", &name)?;
        let values: Numbers<'py, f64, IxDyn> = values.extract()?;
        sweep.point(point, &values.as_array()).map_err(refuse)?;
    }
    let memory = Memory::new(py, &sweep, &quantities)?;
    let watch = Watch::default();
    let meanwhile = Meanwhile { label, progress };
    let ((named, status), labelled) = run(py, &sweep, &quantities, &memory, threads, &watch, &meanwhile)?;
    let effort = PyDict::new(py);
    effort.set_item(intern!(py, "poses"), sweep.poses())?;
    effort.set_item(intern!(py, "again"), watch.again())?;
    effort.set_item(intern!(py, "followed"), watch.followed())?;
    Ok((named, status, effort, labelled))
}

/// Wake the threads of a sweep that is about to begin: it takes them as long as a thousand poses.
#[pyfunction]
pub(super) fn rouse(poses: usize, threads: usize) {
    sweep::rouse(poses, threads);
}

pub(super) fn quantities(py: Python<'_>, readings: &[String], places: &[String]) -> PyResult<Vec<Quantity>> {
    let reading = |name: &String| {
        Reading::from_name(name)
            .map(Quantity::Reading)
            .ok_or_else(|| not_one_of(py, "readings", name, &Reading::ALL.map(Reading::name)))
    };
    let place = |name: &String| {
        Place::from_name(name)
            .map(Quantity::Place)
            .ok_or_else(|| not_one_of(py, "places", name, &Place::ALL.map(Place::name)))
    };
    readings.iter().map(reading).chain(places.iter().map(place)).collect()
}

/// Where one column lies: in which of several pieces of memory, from which of its numbers on.
struct Room {
    piece: usize,
    from: usize,
    length: usize,
}

/// A piece of NumPy's memory for several columns of so many numbers each, one after the other, and where each begins.
///
/// NumPy asks the system for large pages, but a large page is given only where a whole one fits: the first column begins
/// at one and the piece has room to the end of the last. What is never touched is never given.
fn piece<T: Element>(py: Python<'_>, lengths: &[usize]) -> PyResult<(Py<PyArray1<T>>, Vec<usize>)> {
    static EMPTY: PyOnceLock<Py<PyAny>> = PyOnceLock::new();
    let line = LINE / size_of::<T>();
    let total: usize = lengths.iter().map(|length| length.next_multiple_of(line)).sum();
    let is_large = total * size_of::<T>() >= LARGE_PAGE / 2;
    let unit = if is_large { LARGE_PAGE } else { LINE };
    let whole = if is_large {
        (total * size_of::<T>()).next_multiple_of(unit).max(ADVISED) / size_of::<T>()
    } else {
        total
    } + unit / size_of::<T>();
    let array = EMPTY
        .import(py, "numpy", "empty")?
        .call1((whole, numpy::dtype::<T>(py)))?
        .cast_into::<PyArray1<T>>()?;
    let address = array.readonly().as_slice()?.as_ptr().addr();
    let mut start = (address.next_multiple_of(unit) - address) / size_of::<T>();
    let froms = lengths
        .iter()
        .map(|length| {
            let from = start;
            start += length.next_multiple_of(line);
            from
        })
        .collect();
    Ok((array.unbind(), froms))
}

/// A part of a piece, in the shape in which it is laid out, its axes turned into the grid's order.
fn part<'py, T: Element>(
    py: Python<'py>,
    piece: &Py<PyArray1<T>>,
    [from, length]: [usize; 2],
    shape: &[usize],
    axes: &[usize],
) -> PyResult<Bound<'py, PyArrayDyn<T>>> {
    let slice = PySlice::new(py, isize::try_from(from)?, isize::try_from(from + length)?, 1);
    let flat = piece.bind(py).get_item(slice)?.cast_into::<PyArray1<T>>()?;
    flat.reshape(shape)?.permute(Some(axes.to_vec()))
}

/// Where the result goes: NumPy's own memory.
struct Memory {
    pieces: Vec<Py<PyArray1<f64>>>,
    /// Of each quantity.
    rooms: Vec<(Quantity, Room)>,
    status: Py<PyArray1<i8>>,
    status_from: usize,
    poses: usize,
    /// The grid's lengths as they are laid out, and the place in it of each of the grid's axes.
    laid_out: Vec<usize>,
    turned: Vec<usize>,
}

impl Memory {
    fn new(py: Python<'_>, sweep: &Sweep, quantities: &[Quantity]) -> PyResult<Self> {
        let poses = sweep.poses();
        let length = |quantity: &Quantity| quantity.width().checked_mul(poses);
        let fits = |numbers: &usize| *numbers <= isize::MAX as usize / size_of::<f64>();
        let lengths: Option<Vec<usize>> = quantities.iter().map(|each| length(each).filter(fits)).collect();
        let lengths = lengths.ok_or_else(|| from_sweep(py, &SweepError::TooLarge(sweep.grid().to_vec())))?;
        let together = poses * size_of::<f64>() < LARGE_COLUMN;
        let mut pieces = Vec::new();
        let mut rooms = Vec::with_capacity(lengths.len());
        for lengths in lengths.chunks(if together { lengths.len().max(1) } else { 1 }) {
            let (array, froms) = piece(py, lengths)?;
            rooms.extend(froms.into_iter().zip(lengths).map(|(from, &length)| Room {
                piece: pieces.len(),
                from,
                length,
            }));
            pieces.push(array);
        }
        let (status, status_froms) = piece(py, &[poses])?;
        let layout = sweep.layout();
        let mut turned = vec![0; layout.len()];
        for (place, &axis) in layout.iter().enumerate() {
            turned[axis] = place;
        }
        Ok(Self {
            pieces,
            rooms: quantities.iter().copied().zip(rooms).collect(),
            status,
            status_from: status_froms[0],
            poses,
            laid_out: layout.iter().map(|&axis| sweep.grid()[axis]).collect(),
            turned,
        })
    }

    /// The arrays in the grid's order, under their names.
    fn arrays<'py>(&self, py: Python<'py>) -> PyResult<Arrays<'py>> {
        let named = PyDict::new(py);
        let of_places = [&[3], &self.laid_out[..]].concat();
        let axes_of_places: Vec<usize> = std::iter::once(0)
            .chain(self.turned.iter().map(|axis| axis + 1))
            .collect();
        for (quantity, room) in &self.rooms {
            let (name, shape, axes) = match quantity {
                Quantity::Reading(reading) => (reading.name(), &self.laid_out, &self.turned),
                Quantity::Place(place) => (place.name(), &of_places, &axes_of_places),
            };
            let array = part(py, &self.pieces[room.piece], [room.from, room.length], shape, axes)?;
            named.set_item(name, array)?;
        }
        let status = part(
            py,
            &self.status,
            [self.status_from, self.poses],
            &self.laid_out,
            &self.turned,
        )?;
        Ok((named, status))
    }

    /// The columns, to be written to.
    fn columns<'a>(&self, pieces: &'a mut [PyReadwriteArray1<'_, f64>]) -> PyResult<Vec<&'a mut [f64]>> {
        let mut left: Vec<(usize, &mut [f64])> = pieces
            .iter_mut()
            .map(|piece| Ok((0, piece.as_slice_mut()?)))
            .collect::<PyResult<_>>()?;
        // Rooms of one piece stand in its order.
        let cut = |(_, room): &(Quantity, Room)| {
            let (at, rest) = &mut left[room.piece];
            let (_, from) = std::mem::take(rest).split_at_mut(room.from - *at);
            let (column, after) = from.split_at_mut(room.length);
            (*at, *rest) = (room.from + room.length, after);
            column
        };
        Ok(self.rooms.iter().map(cut).collect())
    }
}

/// What of Python's has its turn while a sweep runs.
struct Meanwhile {
    label: Option<Py<PyAny>>,
    progress: Option<Py<PyAny>>,
}

/// Run a sweep with the interpreter let go but for labels, and, now and then, for signals and progress. Gives the arrays
/// and the labels.
fn run<'py>(
    py: Python<'py>,
    sweep: &Sweep,
    quantities: &[Quantity],
    memory: &Memory,
    threads: usize,
    watch: &Watch,
    meanwhile: &Meanwhile,
) -> PyResult<(Arrays<'py>, Option<Py<PyAny>>)> {
    let level: Level = sweep::chosen_level().map_err(|error| from_sweep(py, &error))?;
    let borrow = |piece: &Py<PyArray1<f64>>| piece.bind(py).try_readwrite();
    let mut pieces = memory.pieces.iter().map(borrow).collect::<Result<Vec<_>, _>>()?;
    let outputs = memory.columns(&mut pieces)?;
    let mut status = memory.status.bind(py).try_readwrite()?;
    let status = &mut status.as_slice_mut()?[memory.status_from..][..memory.poses];
    let interrupt: Mutex<Option<PyErr>> = Mutex::new(None);
    let labelled: Mutex<Option<Labelled>> = Mutex::new(None);
    // Nothing of Python's is asked again once it has failed.
    let ask = |what: &dyn Fn(Python<'_>) -> PyResult<()>| {
        let mut interrupt = interrupt.lock().unwrap_or_else(PoisonError::into_inner);
        if interrupt.is_none()
            && let Err(error) = Python::attach(what)
        {
            *interrupt = Some(error);
            watch.cancel();
        }
    };
    let label = || {
        if let Some(label) = &meanwhile.label {
            ask(&|py| {
                let (named, status) = memory.arrays(py)?;
                let given = label.call1(py, (&named, &status))?;
                let labels = (named.unbind(), status.unbind(), given);
                *labelled.lock().unwrap_or_else(PoisonError::into_inner) = Some(labels);
                Ok(())
            });
        }
    };
    let look = || {
        ask(&|py| {
            py.check_signals()?;
            match &meanwhile.progress {
                Some(progress) => progress.call1(py, (watch.done(),)).map(drop),
                None => Ok(()),
            }
        });
    };
    let ended = py.detach(|| {
        let lookout = Lookout::new(LOOK_EVERY, &look);
        sweep.run_beside(
            level,
            quantities,
            outputs,
            status,
            threads,
            watch,
            label,
            Some(&lookout),
        )
    });
    if let Some(error) = interrupt.into_inner().unwrap_or_else(PoisonError::into_inner) {
        return Err(error);
    }
    ended.map_err(|error| from_sweep(py, &error))?;
    match labelled.into_inner().unwrap_or_else(PoisonError::into_inner) {
        Some((named, status, given)) => Ok(((named.into_bound(py), status.into_bound(py)), Some(given))),
        None => Ok((memory.arrays(py)?, None)),
    }
}
