//! The axle's own readings over arrays, and the racks that wanted steer angles need.

use ndarray::{Ix1, Ix2, Ix3};
use numpy::{PyArray1, PyArrayMethods};
use pyo3::prelude::*;
use pyo3::types::PyDict;

use super::axle::PyAxle;
use super::convert::{self, Numbers};
use super::error::{from_solve, from_sweep, not_one_of};
use crate::axle::Axle;
use crate::axle_reading::{AxleReading, Frame, Wheels, true_outer_deg};
use crate::corner::{Corner, HardPoint, HardPoints};
use crate::error::ReachError;
use crate::hard_points::WheelFigure;
use crate::linkage::Status;
use crate::motion::{MOTION_FIELDS, Motion, TravelAt};
use crate::pose::SolveError;
use crate::setting::{SETTING_FIELDS, Setting};
use crate::space::Point;
use crate::steering::{self, SteerBy, Steered};

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
/// at_design : dict of str to array, optional
///     Of shape (2, n, 3), left first: where ``steering_axis_at_ground`` and ``contact_centre`` stand at design. The axle's own
///     unless given: those of hard points that move.
///
/// Returns
/// -------
/// dict of str to array
///     Of shape (2, n); both rows are the same for a reading that belongs to the axle as a whole.
#[pyfunction]
#[pyo3(signature = (axle, readings, columns, roll, at_design=None))]
#[allow(clippy::needless_pass_by_value)]
pub(super) fn axle_columns<'py>(
    py: Python<'py>,
    axle: &PyAxle,
    readings: Vec<String>,
    columns: &Bound<'py, PyDict>,
    roll: Numbers<'py, f64, Ix1>,
    at_design: Option<&Bound<'py, PyDict>>,
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
    let own = Frame::of(&axle.inner).map_err(|error| from_solve(py, &error))?;
    let roll = roll.as_array();
    let count = roll.len();
    let places = |name: &str| -> PyResult<Option<Places<'py>>> {
        let Some(given) = at_design else { return Ok(None) };
        let found = given.get_item(name)?;
        let found =
            found.ok_or_else(|| not_one_of(py, "at_design", name, &["steering_axis_at_ground", "contact_centre"]))?;
        Places::new(py, name, &found, count).map(Some)
    };
    let at_design = places("steering_axis_at_ground")?.zip(places("contact_centre")?);
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
        let frame = at_design.as_ref().map_or(own, |(axis, contact)| {
            Frame::at_design(&axle.inner.dimensions, axis.at(i), contact.at(i))
        });
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

/// A point of either side, left first, in each of many poses.
struct Places<'py>(Numbers<'py, f64, Ix3>);

impl<'py> Places<'py> {
    fn new(py: Python<'py>, name: &str, values: &Bound<'py, PyAny>, count: usize) -> PyResult<Self> {
        let values: Numbers<'py, f64, Ix3> = values.extract()?;
        if values.as_array().shape() == [2, count, 3] {
            return Ok(Self(values));
        }
        Err(not_one_of(py, name, "an array of another shape", &["(2, n, 3)"]))
    }

    fn at(&self, i: usize) -> [Point; 2] {
        let values = self.0.as_array();
        [0, 1].map(|side| {
            let component = |axis: usize| values[[side, i, axis]];
            Point::new(component(0), component(1), component(2))
        })
    }
}

/// Hard points and figures of the wheel that move, of either side, left first.
struct Moved<'py> {
    points: Vec<(HardPoint, Places<'py>)>,
    wheel: Vec<(WheelFigure, Numbers<'py, f64, Ix2>)>,
}

impl<'py> Moved<'py> {
    fn new(py: Python<'py>, given: &Bound<'py, PyDict>, count: usize) -> PyResult<Self> {
        let (mut points, mut wheel) = (Vec::new(), Vec::new());
        for (name, values) in given.iter() {
            let name: String = name.extract()?;
            if let Some(figure) = WheelFigure::from_name(&name) {
                let values: Numbers<'py, f64, Ix2> = values.extract()?;
                if values.as_array().shape() != [2, count] {
                    return Err(not_one_of(py, &name, "an array of another shape", &["(2, n)"]));
                }
                wheel.push((figure, values));
                continue;
            }
            let point = convert::hard_point(py, "points", &name)?;
            points.push((point, Places::new(py, &name, &values, count)?));
        }
        Ok(Self { points, wheel })
    }

    /// The axle's hard points where they are in each of so many poses; none if none moves.
    fn points(&self, axle: &Axle, count: usize) -> Vec<[HardPoints; 2]> {
        if self.points.is_empty() && self.wheel.is_empty() {
            return Vec::new();
        }
        let at = |i: usize| {
            let mut both = [*axle.left.points(), *axle.right.points()];
            for (point, places) in &self.points {
                for (points, at) in both.iter_mut().zip(places.at(i)) {
                    point.place(points, at);
                }
            }
            for (figure, values) in &self.wheel {
                for (side, points) in both.iter_mut().enumerate() {
                    figure.put(points, values.as_array()[[side, i]]);
                }
            }
            both
        };
        (0..count).map(at).collect()
    }
}

/// An axle in one of many poses, its hard points where they are there.
fn steered(
    axle: &Axle,
    moved: Option<&[HardPoints; 2]>,
    settings: [Setting; 2],
    motions: [Motion; 2],
    travel_at: TravelAt,
) -> Result<Steered, Status> {
    let Some([left, right]) = moved else {
        return Ok(Steered::new([&axle.left, &axle.right], settings, motions, travel_at));
    };
    let corner = |points: &HardPoints| Corner::new("", *points).map_err(|_| Status::HardPoints);
    Ok(Steered::new(
        [&corner(left)?, &corner(right)?],
        settings,
        motions,
        travel_at,
    ))
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
/// points : dict of str to array
///     Hard points that move, each of shape (2, n, 3), left first, and figures of the wheel, of shape (2, n).
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
#[allow(clippy::needless_pass_by_value, clippy::too_many_arguments)]
pub(super) fn racks_for<'py>(
    py: Python<'py>,
    axle: &PyAxle,
    inputs: &Bound<'py, PyDict>,
    points: &Bound<'py, PyDict>,
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
    let count = wanted.len();
    let axle = &axle.inner;
    let moved = Moved::new(py, points, count)?.points(axle, count);
    let inputs: Vec<_> = (0..count)
        .map(|i| (inputs_at(&columns, 0, i), inputs_at(&columns, 1, i)))
        .collect();
    let question = |i: usize| {
        let (left, right) = inputs[i];
        let (settings, motions) = ([left.0, right.0], [left.1, right.1]);
        let steered = steered(axle, moved.get(i), settings, motions, travel_at)?;
        Ok((steered, wanted[i]))
    };
    let (racks, status) = py
        .detach(|| steering::racks_for(count, question, by, threads))
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
        TravelAt::Ground,
    )
    .sense()
    .map_err(|status| from_solve(py, &SolveError::Reach(ReachError { status })))
}

/// As `rack_sense`, of an axle whose hard points move.
///
/// Parameters
/// ----------
/// axle : Axle
/// points : dict of str to array
///     Hard points that move, each of shape (2, n, 3), left first, and figures of the wheel, of shape (2, n).
/// count : int
///     n.
///
/// Returns
/// -------
/// array
///     Of length n; 0 where the points make no corner, or one that cannot stand.
#[pyfunction]
pub(super) fn rack_senses<'py>(
    py: Python<'py>,
    axle: &PyAxle,
    points: &Bound<'py, PyDict>,
    count: usize,
) -> PyResult<Bound<'py, PyArray1<f64>>> {
    let axle = &axle.inner;
    let moved = Moved::new(py, points, count)?.points(axle, count);
    let sense = |i: usize| {
        let at_rest = ([Setting::default(); 2], [Motion::default(); 2]);
        steered(axle, moved.get(i), at_rest.0, at_rest.1, TravelAt::Ground)
            .and_then(|steered| steered.sense())
            .unwrap_or(0.0)
    };
    Ok(PyArray1::from_vec(py, (0..count).map(sense).collect()))
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
