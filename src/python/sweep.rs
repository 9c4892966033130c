//! The sweep: arrays in, arrays out, the interpreter let go in between.

use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use numpy::{PyArrayDyn, PyArrayMethods, PyReadonlyArray1, PyReadonlyArrayDyn, PyReadwriteArray1};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PySlice};

use super::convert;
use super::corner::PyCorner;
use super::error::{from_sweep, not_one_of};
use crate::corner::HardPoint;
use crate::hard_points::WheelFigure;
use crate::lanes::Level;
use crate::pose::Place;
use crate::reading::Reading;
use crate::sweep::{self, LARGE_PAGE, Lookout, Quantity, Sweep, SweepError, Watch};

/// How often the caller looks for signals: Ctrl-C is felt within this and a pack of poses.
const LOOK_EVERY: Duration = Duration::from_millis(50);
/// NumPy asks for large pages for an array of this many bytes.
const ADVISED: usize = 4 << 20;
/// Columns smaller than this are kept together, so that they share their pages.
const LARGE_COLUMN: usize = 4 << 20;
/// Columns begin at a multiple of this, so that a pack of the widest instructions does not cross a line of the cache.
const LINE: usize = 64;

/// Arrays by name, and status codes.
type Arrays<'py> = (Bound<'py, PyDict>, Bound<'py, PyArrayDyn<i8>>);
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
        let values: PyReadonlyArrayDyn<'py, f64> = values.extract()?;
        sweep
            .input(&name.extract::<String>()?, &values.as_array())
            .map_err(refuse)?;
    }
    for (name, values) in points.iter() {
        let name: String = name.extract()?;
        if let Some(figure) = WheelFigure::from_name(&name) {
            let values: PyReadonlyArrayDyn<'py, f64> = values.extract()?;
            sweep.wheel(figure, &values.as_array()).map_err(refuse)?;
            continue;
        }
        let point = HardPoint::from_name(&name)
            .ok_or_else(|| not_one_of(py, "points", &name, &HardPoint::ALL.map(HardPoint::name)))?;
        let values: PyReadonlyArrayDyn<'py, f64> = values.extract()?;
        sweep.point(point, &values.as_array()).map_err(refuse)?;
    }
    let mut memory = Memory::new(py, &sweep, &quantities)?;
    let watch = Watch::default();
    let arrays = memory.arrays(py, &sweep, &quantities, &grid)?;
    let meanwhile = Meanwhile { label, progress };
    let labelled = run(
        py,
        &sweep,
        &quantities,
        &mut memory,
        threads,
        &watch,
        &meanwhile,
        &arrays,
    )?;
    let effort = PyDict::new(py);
    effort.set_item("poses", sweep.poses())?;
    effort.set_item("again", watch.again())?;
    effort.set_item("followed", watch.followed())?;
    let (named, status) = arrays;
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

/// Memory for several arrays of so many bytes each, one after the other in one piece of NumPy's.
///
/// NumPy asks the system for large pages, but a large page is given only where a whole one fits: the piece begins at one
/// and has room to its end. What is never touched is never given.
fn rooms<'py>(py: Python<'py>, sizes: &[usize]) -> PyResult<Vec<Bound<'py, PyAny>>> {
    let total: usize = sizes.iter().map(|size| size.next_multiple_of(LINE)).sum();
    let is_large = total >= LARGE_PAGE / 2;
    let unit = if is_large { LARGE_PAGE } else { LINE };
    let whole = if is_large {
        total.next_multiple_of(unit).max(ADVISED)
    } else {
        total
    } + unit;
    let piece = py.import("numpy")?.getattr("empty")?.call1((whole, "uint8"))?;
    let address = {
        let bytes: PyReadonlyArray1<'py, u8> = piece.extract()?;
        bytes.as_slice()?.as_ptr().addr()
    };
    let mut start = address.next_multiple_of(unit) - address;
    let cut = |&size: &usize| {
        let (from, to) = (isize::try_from(start)?, isize::try_from(start + size)?);
        start += size.next_multiple_of(LINE);
        piece.get_item(PySlice::new(py, from, to, 1))
    };
    sizes.iter().map(cut).collect()
}

/// Where the result goes: NumPy's own memory.
struct Memory<'py> {
    /// One flat array a quantity.
    columns: Vec<PyReadwriteArray1<'py, f64>>,
    status: PyReadwriteArray1<'py, i8>,
}

impl<'py> Memory<'py> {
    fn new(py: Python<'py>, sweep: &Sweep, quantities: &[Quantity]) -> PyResult<Self> {
        let poses = sweep.poses();
        let bytes = |quantity: &Quantity| quantity.width().checked_mul(poses * size_of::<f64>());
        let columns: Option<Vec<usize>> = quantities.iter().map(bytes).collect();
        let columns = columns.ok_or_else(|| from_sweep(py, &SweepError::TooLarge(sweep.grid().to_vec())))?;
        // Arrays of nothing lie at one place, if kept together, and only one of them could be written to.
        let together = poses > 0 && poses * size_of::<f64>() < LARGE_COLUMN;
        let columns = if together {
            rooms(py, &columns)?
        } else {
            let alone: PyResult<Vec<_>> = columns.iter().map(|&bytes| rooms(py, &[bytes])).collect();
            alone?.concat()
        };
        let status = rooms(py, &[poses])?;
        let as_type = |room: &Bound<'py, PyAny>, name: &str| room.call_method1("view", (name,));
        Ok(Self {
            columns: columns
                .iter()
                .map(|room| as_type(room, "float64")?.extract())
                .collect::<PyResult<_>>()?,
            status: as_type(&status[0], "int8")?.extract()?,
        })
    }

    /// The arrays in the grid's order, under their names.
    fn arrays(&self, py: Python<'py>, sweep: &Sweep, quantities: &[Quantity], grid: &[usize]) -> PyResult<Arrays<'py>> {
        let layout = sweep.layout();
        let laid_out: Vec<usize> = layout.iter().map(|&axis| grid[axis]).collect();
        let mut turned = vec![0; layout.len()];
        for (place, &axis) in layout.iter().enumerate() {
            turned[axis] = place;
        }
        let named = PyDict::new(py);
        for (quantity, column) in quantities.iter().zip(&self.columns) {
            let (name, shape, axes): (_, Vec<usize>, Vec<usize>) = match quantity {
                Quantity::Reading(reading) => (reading.name(), laid_out.clone(), turned.clone()),
                Quantity::Place(place) => (
                    place.name(),
                    std::iter::once(3).chain(laid_out.iter().copied()).collect(),
                    std::iter::once(0).chain(turned.iter().map(|axis| axis + 1)).collect(),
                ),
            };
            named.set_item(name, column.reshape(shape)?.permute(Some(axes))?)?;
        }
        Ok((named, self.status.reshape(laid_out)?.permute(Some(turned))?))
    }
}

/// What of Python's has its turn while a sweep runs.
struct Meanwhile {
    label: Option<Py<PyAny>>,
    progress: Option<Py<PyAny>>,
}

/// Run a sweep with the interpreter let go but for labels, and, now and then, for signals and progress. Gives the labels.
#[allow(clippy::too_many_arguments)] // A sweep, its memory, and who watches it.
fn run<'py>(
    py: Python<'py>,
    sweep: &Sweep,
    quantities: &[Quantity],
    memory: &mut Memory<'py>,
    threads: usize,
    watch: &Watch,
    meanwhile: &Meanwhile,
    arrays: &Arrays<'py>,
) -> PyResult<Option<Py<PyAny>>> {
    let level: Level = sweep::chosen_level().map_err(|error| from_sweep(py, &error))?;
    let outputs: Vec<&mut [f64]> = memory
        .columns
        .iter_mut()
        .map(|column| column.as_slice_mut())
        .collect::<Result<_, _>>()?;
    let status = memory.status.as_slice_mut()?;
    let interrupt: Mutex<Option<PyErr>> = Mutex::new(None);
    let labelled: Mutex<Option<Py<PyAny>>> = Mutex::new(None);
    let (named, codes) = (arrays.0.clone().unbind(), arrays.1.clone().unbind());
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
                let given = label.call1(py, (&named, &codes))?;
                *labelled.lock().unwrap_or_else(PoisonError::into_inner) = Some(given);
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
    Ok(labelled.into_inner().unwrap_or_else(PoisonError::into_inner))
}
