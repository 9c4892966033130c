//! The axle's own readings over arrays, and the racks that wanted steer angles need.

use ndarray::{Ix1, Ix2};
use numpy::{PyArray1, PyArrayMethods};
use pyo3::prelude::*;
use pyo3::types::PyDict;

use super::axle::PyAxle;
use super::convert::{self, Numbers};
use super::error::{from_solve, from_sweep, not_one_of};
use crate::axle_reading::{AxleReading, Frame, Wheels, true_outer_deg};
use crate::error::ReachError;
use crate::motion::{MOTION_FIELDS, Motion};
use crate::pose::SolveError;
use crate::setting::{SETTING_FIELDS, Setting};
use crate::space::Point;
use crate::steering::{self, Question, SteerBy, Steered};

const SETTINGS: usize = SETTING_FIELDS.len();
const INPUTS: usize = SETTINGS + MOTION_FIELDS.len();

/// Columns that an axle's own readings are made of, each of two rows, left and right.
const NEEDED: [&str; 7] = [
    "camber",
    "toe",
    "roll_centre_height",
    "anti_dive_angle",
    "contact_x",
    "contact_y",
    "contact_z",
];

/// The axle's own readings from those of its corners.
///
/// The unlabelled engine under the sweep of an axle.
///
/// Parameters
/// ----------
/// axle : Axle
/// readings : sequence of str
///     Names of axle readings.
/// columns : dict of str to array
///     Of shape (2, n), left first: ``camber``, ``toe``, ``roll_centre_height``, ``anti_dive_angle``, ``contact_x``,
///     ``contact_y``, ``contact_z``.
/// roll : array
///     Roll of the body in deg, of length n.
///
/// Returns
/// -------
/// dict of str to array
///     Of shape (2, n); both rows are the same for a reading that belongs to the axle as a whole.
#[pyfunction]
#[allow(clippy::needless_pass_by_value)]
pub(super) fn axle_columns<'py>(
    py: Python<'py>,
    axle: &PyAxle,
    readings: Vec<String>,
    columns: &Bound<'py, PyDict>,
    roll: Numbers<'py, f64, Ix1>,
) -> PyResult<Bound<'py, PyDict>> {
    let names = AxleReading::ALL.map(AxleReading::name);
    let readings: Vec<AxleReading> = readings
        .iter()
        .map(|name| AxleReading::from_name(name).ok_or_else(|| not_one_of(py, "readings", name, &names)))
        .collect::<PyResult<_>>()?;
    let needed: Vec<Numbers<'py, f64, Ix2>> = NEEDED
        .iter()
        .map(|name| {
            let found = columns.get_item(name)?;
            found.ok_or_else(|| not_one_of(py, "columns", name, &NEEDED))?.extract()
        })
        .collect::<PyResult<_>>()?;
    let frame = Frame::of(&axle.inner).map_err(|error| from_solve(py, &error))?;
    let roll = roll.as_array();
    let count = roll.len();
    let needed: Vec<_> = needed.iter().map(|column| column.as_array()).collect();
    if needed.iter().any(|column| column.shape() != [2, count]) {
        return Err(not_one_of(
            py,
            "columns",
            "an array of another shape",
            &["(2, n), n as long as roll"],
        ));
    }
    let pair = |column: usize, i: usize| [needed[column][[0, i]], needed[column][[1, i]]];
    let mut results: Vec<Vec<f64>> = readings.iter().map(|_| vec![0.0; 2 * count]).collect();
    for i in 0..count {
        let at = |side: usize| Point::new(needed[4][[side, i]], needed[5][[side, i]], needed[6][[side, i]]);
        let wheels = Wheels {
            camber_deg: pair(0, i),
            toe_deg: pair(1, i),
            roll_centre_height_mm: pair(2, i),
            anti_dive_deg: pair(3, i),
            contact_centre: [at(0), at(1)],
            roll_deg: roll[i],
        };
        for (reading, result) in readings.iter().zip(&mut results) {
            let [left, right] = reading.read(&wheels, &frame);
            result[i] = left;
            result[count + i] = right;
        }
    }
    let named = PyDict::new(py);
    for (reading, result) in readings.iter().zip(results) {
        let array = PyArray1::from_vec(py, result).reshape([2, count])?;
        named.set_item(reading.name(), array)?;
    }
    Ok(named)
}

/// Racks and status codes.
type Racks<'py> = (Bound<'py, PyArray1<f64>>, Bound<'py, PyArray1<i8>>);

fn steer_by(py: Python<'_>, name: &str) -> PyResult<SteerBy> {
    match name {
        "mean" => Ok(SteerBy::Mean),
        "inner" => Ok(SteerBy::Inner),
        other => Err(not_one_of(py, "by", other, &["mean", "inner"])),
    }
}

/// Settings and motions of one side, from its columns.
fn inputs_at(columns: &[Option<Numbers<'_, f64, Ix2>>; INPUTS], side: usize, i: usize) -> (Setting, Motion) {
    let value = |field: usize| {
        columns[field]
            .as_ref()
            .and_then(|column| column.get([side, i]).copied())
            .unwrap_or(0.0)
    };
    let setting = Setting::from_array(std::array::from_fn(value));
    let motion = Motion::from_array(std::array::from_fn(|k| value(SETTINGS + k)));
    (setting, motion)
}

/// The racks that turn an axle's wheels by wanted angles.
///
/// Parameters
/// ----------
/// axle : Axle
/// inputs : dict of str to array
///     Fields of setting and motion but for ``rack``, each of shape (2, n), left first; zero unless given.
/// wanted : array
///     Steer angles in deg, to the left positive, of length n.
/// by : {"mean", "inner"}
///     Whether the mean of both wheels or the wheel on the inside of the turn is to have the angle.
/// travel_at : {"ground", "hub", "strut"}
/// threads : int
///     0 for all of the machine's.
///
/// Returns
/// -------
/// array, array
///     Rack in mm, NaN where none gives the angle uniquely, and status codes.
#[pyfunction]
#[allow(clippy::needless_pass_by_value)]
pub(super) fn racks_for<'py>(
    py: Python<'py>,
    axle: &PyAxle,
    inputs: &Bound<'py, PyDict>,
    wanted: Numbers<'py, f64, Ix1>,
    by: &str,
    travel_at: &str,
    threads: usize,
) -> PyResult<Racks<'py>> {
    let by = steer_by(py, by)?;
    let travel_at = convert::travel_at(py, travel_at)?;
    let fields = SETTING_FIELDS.iter().chain(&MOTION_FIELDS);
    let mut columns: [Option<Numbers<'py, f64, Ix2>>; INPUTS] = std::array::from_fn(|_| None);
    for (column, field) in columns.iter_mut().zip(fields) {
        if let Some(values) = inputs.get_item(field.name)? {
            *column = Some(values.extract()?);
        }
    }
    let wanted: Vec<f64> = wanted.as_array().iter().copied().collect();
    let questions: Vec<Question> = wanted
        .iter()
        .enumerate()
        .map(|(i, &wanted_deg)| {
            let (left, right) = (inputs_at(&columns, 0, i), inputs_at(&columns, 1, i));
            Question {
                settings: [left.0, right.0],
                motions: [left.1, right.1],
                wanted_deg,
            }
        })
        .collect();
    let axle = &axle.inner;
    let (racks, status) = py
        .detach(|| {
            let corners = [&axle.left, &axle.right];
            steering::racks_for(corners, questions.len(), |i| questions[i], by, travel_at, threads)
        })
        .map_err(|error| from_sweep(py, &error))?;
    Ok((PyArray1::from_vec(py, racks), PyArray1::from_vec(py, status)))
}

/// Which way an axle's rack turns its wheels: +1 where the rack moving to the car's left turns them to the left, as a
/// rack ahead of the axle does, -1 where to the right.
///
/// Parameters
/// ----------
/// axle : Axle
///
/// Returns
/// -------
/// float
#[pyfunction]
pub(super) fn rack_sense(py: Python<'_>, axle: &PyAxle) -> PyResult<f64> {
    let corners = [&axle.inner.left, &axle.inner.right];
    Steered::new(
        corners,
        [Setting::default(); 2],
        [Motion::default(); 2],
        crate::TravelAt::Ground,
    )
    .sense()
    .map_err(|status| from_solve(py, &SolveError::Reach(ReachError { status })))
}

/// The outer wheel's angle that the true condition asks at an inner wheel's angle.
///
/// Parameters
/// ----------
/// inner : float
///     Steer angle of the inner wheel in deg, counted into the turn.
/// kingpin_track : float
///     Distance across the car between the points where the two steering axes meet the ground, in mm.
/// wheelbase : float
///     In mm.
///
/// Returns
/// -------
/// float
///     In deg: cot(outer) = cot(inner) + kingpin track / wheelbase. ISO 8855:2011 7.1.9 in words.
#[pyfunction]
pub(super) fn true_outer(inner: f64, kingpin_track: f64, wheelbase: f64) -> f64 {
    true_outer_deg(inner, kingpin_track, wheelbase)
}
