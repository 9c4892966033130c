//! The sweep: arrays in, arrays out, the interpreter let go in between.

use std::sync::{Condvar, Mutex, PoisonError};
use std::time::Duration;

use numpy::{PyArray1, PyArrayDyn, PyArrayMethods, PyReadonlyArrayDyn};
use pyo3::exceptions::PyRuntimeError;
use pyo3::prelude::*;
use pyo3::types::PyDict;

use super::convert;
use super::corner::PyCorner;
use super::error::{from_sweep, not_one_of};
use crate::corner::HardPoint;
use crate::pose::Place;
use crate::reading::Reading;
use crate::sweep::{Quantity, Sweep, SweepError, Swept, Watch};

/// How long the caller sleeps between two looks for signals: Ctrl-C is felt within this and a block of poses.
const LOOK_EVERY: Duration = Duration::from_millis(50);
/// A grid this small ends before anyone could interrupt it.
const SMALL: usize = 512;

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
///     Hard points that move along the grid; each array has one more axis, of length three.
/// readings, places : sequence of str
///     What to compute.
/// travel_at : {"ground", "hub", "strut"}
/// threads : int
///     0 for all of the machine's.
/// progress : callable or None
///     Called every 50 ms with the number of poses done.
///
/// Returns
/// -------
/// dict of str to array, array
///     Per reading an array of the grid's shape, per place one with a leading axis of length three; and the status codes.
#[pyfunction]
#[pyo3(signature = (corner, grid, inputs, points, readings, places, travel_at, threads, progress))]
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
    progress: Option<Bound<'py, PyAny>>,
) -> PyResult<(Bound<'py, PyDict>, Bound<'py, PyArrayDyn<i8>>)> {
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
        let point = HardPoint::from_name(&name)
            .ok_or_else(|| not_one_of(py, "points", &name, &HardPoint::ALL.map(HardPoint::name)))?;
        let values: PyReadonlyArrayDyn<'py, f64> = values.extract()?;
        sweep.point(point, &values.as_array()).map_err(refuse)?;
    }
    let swept = run(py, &sweep, &quantities, threads, progress.as_ref())?;
    label(py, swept, &quantities)
}

fn quantities(py: Python<'_>, readings: &[String], places: &[String]) -> PyResult<Vec<Quantity>> {
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

/// Run a sweep with the interpreter let go; look for signals and tell progress now and then.
fn run(
    py: Python<'_>,
    sweep: &Sweep,
    quantities: &[Quantity],
    threads: usize,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<Swept> {
    let watch = Watch::default();
    if sweep.poses() <= SMALL {
        return py
            .detach(|| sweep.run(quantities, threads, &watch))
            .map_err(|error| from_sweep(py, &error));
    }
    let slot: Mutex<Option<Result<Swept, SweepError>>> = Mutex::new(None);
    let bell = Condvar::new();
    std::thread::scope(|scope| {
        let worker = scope.spawn(|| {
            let result = sweep.run(quantities, threads, &watch);
            *slot.lock().unwrap_or_else(PoisonError::into_inner) = Some(result);
            bell.notify_all();
        });
        loop {
            let result = py.detach(|| {
                let slot = slot.lock().unwrap_or_else(PoisonError::into_inner);
                let waited = bell.wait_timeout_while(slot, LOOK_EVERY, |slot| slot.is_none());
                waited.unwrap_or_else(PoisonError::into_inner).0.take()
            });
            if let Some(result) = result {
                return result.map_err(|error| from_sweep(py, &error));
            }
            if worker.is_finished() {
                return Err(PyRuntimeError::new_err("the sweep's thread ended without a result"));
            }
            let looked = py.check_signals().and_then(|()| match progress {
                Some(progress) => progress.call1((watch.done(),)).map(drop),
                None => Ok(()),
            });
            if let Err(interrupt) = looked {
                watch.cancel();
                return Err(interrupt);
            }
        }
    })
}

/// Hand the columns over to NumPy, without a copy, under their names.
fn label<'py>(
    py: Python<'py>,
    swept: Swept,
    quantities: &[Quantity],
) -> PyResult<(Bound<'py, PyDict>, Bound<'py, PyArrayDyn<i8>>)> {
    let Swept { grid, columns, status } = swept;
    let with_axes: Vec<usize> = [3].iter().chain(&grid).copied().collect();
    let named = PyDict::new(py);
    for (quantity, column) in quantities.iter().zip(columns) {
        let (name, shape) = match quantity {
            Quantity::Reading(reading) => (reading.name(), &grid),
            Quantity::Place(place) => (place.name(), &with_axes),
        };
        named.set_item(name, PyArray1::from_vec(py, column).reshape(shape.as_slice())?)?;
    }
    Ok((named, PyArray1::from_vec(py, status).reshape(grid.as_slice())?))
}
