//! Readings and slopes of many poses: arrays in, arrays out.

use ndarray::Ix2;
use numpy::{PyArray1, PyArray2, PyArray3, PyArrayMethods};
use pyo3::exceptions::PyValueError;
use pyo3::prelude::*;

use super::convert::Numbers;
use super::corner::PyCorner;
use super::error::{from_sweep, not_one_of};
use super::{convert, derivative};
use crate::jacobian::Asked;
use crate::motion::{MOTION_FIELDS, Motion};
use crate::reading::Reading;
use crate::setting::{SETTING_FIELDS, Setting};

/// Readings, slopes, status codes.
type Found<'py> = (
    Bound<'py, PyArray2<f64>>,
    Bound<'py, PyArray3<f64>>,
    Bound<'py, PyArray1<i8>>,
);

/// Readings of many poses of one corner with their exact slopes.
///
/// The unlabelled engine under `strutsweep.sensitivities`, `strutsweep.fit` and `strutsweep.search`, which are what to
/// call.
///
/// Parameters
/// ----------
/// corner : Corner
/// poses : array
///     A row a pose: the fields of a setting, then those of a motion, in the order of their tables.
/// travel_at : sequence of str
///     Per pose where its travel is measured.
/// readings : sequence of str
///     What to compute.
/// parameters : sequence of str
///     What slopes are taken in: settings and motions by their keywords, measurements as a car file spells them, such
///     as ``"strut.top.y"``.
/// threads : int
///     0 for all of the machine's.
///
/// Returns
/// -------
/// array, array, array
///     Poses by readings; poses by readings by parameters; status codes. NaN where a pose is out of reach.
#[pyfunction]
#[pyo3(signature = (corner, poses, travel_at, readings, parameters, threads))]
#[allow(clippy::needless_pass_by_value)]
pub(super) fn slope_grid<'py>(
    py: Python<'py>,
    corner: &PyCorner,
    poses: Numbers<'py, f64, Ix2>,
    travel_at: Vec<String>,
    readings: Vec<String>,
    parameters: Vec<String>,
    threads: usize,
) -> PyResult<Found<'py>> {
    const SETTINGS: usize = SETTING_FIELDS.len();
    const INPUTS: usize = SETTINGS + MOTION_FIELDS.len();
    let rows = poses.as_array();
    if rows.ncols() != INPUTS || rows.nrows() != travel_at.len() {
        return Err(PyValueError::new_err(format!(
            "poses of shape {:?} with {} places of travel: a row of {INPUTS} numbers and a place a pose are wanted",
            rows.shape(),
            travel_at.len()
        )));
    }
    let asked = rows
        .rows()
        .into_iter()
        .zip(&travel_at)
        .map(|(row, travel_at)| {
            Ok(Asked {
                setting: Setting::from_array(std::array::from_fn(|field| row[field])),
                motion: Motion::from_array(std::array::from_fn(|field| row[SETTINGS + field])),
                travel_at: convert::travel_at(py, travel_at)?,
            })
        })
        .collect::<PyResult<Vec<Asked>>>()?;
    let quantities: Vec<Reading> = readings
        .iter()
        .map(|name| {
            Reading::from_name(name).ok_or_else(|| not_one_of(py, "readings", name, &Reading::ALL.map(Reading::name)))
        })
        .collect::<PyResult<_>>()?;
    let parameters = derivative::parameters(py, Some(parameters))?;
    let found = py
        .detach(|| corner.inner.jacobian(&asked, &quantities, &parameters, threads))
        .map_err(|error| from_sweep(py, &error))?;
    let (poses, width, depth) = (asked.len(), quantities.len(), parameters.len());
    Ok((
        PyArray1::from_vec(py, found.readings).reshape([poses, width])?,
        PyArray1::from_vec(py, found.slopes).reshape([poses, width, depth])?,
        PyArray1::from_iter(py, found.status.iter().map(|status| status.code())),
    ))
}
