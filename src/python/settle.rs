//! Places of a strut top's hardware: arrays in, arrays out, the interpreter let go in between.

use std::sync::atomic::AtomicBool;

use ndarray::{Ix1, Ix2};
use numpy::{PyArray2, PyArrayMethods, PyUntypedArrayMethods};
use pyo3::exceptions::{PyRuntimeError, PyValueError};
use pyo3::prelude::*;
use pyo3::types::PyDict;

use super::convert::{self, Numbers};
use super::corner::PyCorner;
use super::error::not_one_of;
use super::top_plate::PyTopPlate;
use crate::hard_points::HardPoint;
use crate::reading::Reading;
use crate::settle::{ANGLES, Place, Question, UNKNOWNS};
use crate::space::Point;

/// Places worked on before the caller looks for signals again.
const RUN: usize = 20_000;

/// Slides and tie rods, angles.
type Found<'py> = (Bound<'py, PyArray2<f64>>, Bound<'py, PyArray2<f64>>);

/// Where the hardware of a strut top must stand for wanted angles, for many places at once.
///
/// The unlabelled engine under `strutsweep.top_plates`, which is what to call.
///
/// Parameters
/// ----------
/// corner : Corner
/// top_plate : TopPlate
/// position : array of int, shape (n,)
///     Positions of the insert.
/// ride_height : array, shape (n,)
///     Travels at which the car stands and is set, in mm.
/// tower : array, shape (3, n)
///     Further in, back and up than the hardware puts the mount, in mm.
/// points : dict of str to array, shape (3, n)
///     Hard points that are elsewhere than the corner's.
/// start, wanted : array, shape (3, n)
///     Slides of plate and insert and tie rod to start from, in mm; camber, caster and toe, in deg.
/// unknowns, angles : sequence of str
///     As many of ``plate``, ``insert``, ``tie_rod`` as of ``camber``, ``caster``, ``toe``.
/// travel_at : {"ground", "hub", "strut"}
/// met : float
///     An angle counts as met within this, in deg.
/// threads : int
///     0 for all of the machine's.
///
/// Returns
/// -------
/// array, array
///     Shapes (3, n): slides and tie rod, and the angles there. NaN where what is wanted cannot be met.
#[pyfunction]
#[pyo3(signature = (
    corner, top_plate, position, ride_height, tower, points, start, wanted, unknowns, angles, travel_at, met, threads
))]
#[allow(clippy::too_many_arguments, clippy::needless_pass_by_value)]
pub(super) fn settle_top<'py>(
    py: Python<'py>,
    corner: &PyCorner,
    top_plate: &PyTopPlate,
    position: Numbers<'py, i64, Ix1>,
    ride_height: Numbers<'py, f64, Ix1>,
    tower: Numbers<'py, f64, Ix2>,
    points: &Bound<'py, PyDict>,
    start: Numbers<'py, f64, Ix2>,
    wanted: Numbers<'py, f64, Ix2>,
    unknowns: Vec<String>,
    angles: Vec<String>,
    travel_at: &str,
    met: f64,
    threads: usize,
) -> PyResult<Found<'py>> {
    let question = Question {
        corner: &corner.inner,
        plate: &top_plate.inner,
        travel_at: convert::travel_at(py, travel_at)?,
        unknown: chosen(py, "unknowns", &unknowns, &UNKNOWNS)?,
        wanted: chosen(py, "angles", &angles, &ANGLES.map(Reading::name))?,
        met_deg: met,
    };
    let count = position.len();
    let mut moved: Vec<(HardPoint, Numbers<'py, f64, Ix2>)> = Vec::new();
    for (name, values) in points.iter() {
        let name: String = name.extract()?;
        let point = convert::hard_point(py, "points", &name)?;
        moved.push((point, values.extract()?));
    }
    let columns = [&tower, &start, &wanted]
        .into_iter()
        .chain(moved.iter().map(|(_, values)| values));
    if unknowns.len() != angles.len()
        || ride_height.len() != count
        || columns.into_iter().any(|values| values.shape() != [3, count])
    {
        return Err(PyValueError::new_err(
            "as many unknowns as angles, and arrays of one length, are wanted",
        ));
    }
    let column = |values: &Numbers<'py, f64, Ix2>, i: usize| {
        let values = values.as_array();
        [values[[0, i]], values[[1, i]], values[[2, i]]]
    };
    let result = [(); 2].map(|()| PyArray2::<f64>::zeros(py, [3, count], false));
    let [at, read] = &result;
    let (mut at, mut read) = (at.readwrite(), read.readwrite());
    let (mut at, mut read) = (at.as_array_mut(), read.as_array_mut());
    let never = AtomicBool::new(false);
    for first in (0..count).step_by(RUN) {
        py.check_signals()?;
        let places: Vec<Place> = (first..count.min(first + RUN))
            .map(|i| Place {
                position: usize::try_from(position.as_array()[i]).unwrap_or(usize::MAX),
                ride_height_mm: ride_height.as_array()[i],
                tower_mm: column(&tower, i),
                start_mm: column(&start, i),
                wanted_deg: column(&wanted, i),
                points: moved
                    .iter()
                    .map(|(point, values)| (*point, Point::from(column(values, i))))
                    .collect(),
            })
            .collect();
        let found = py
            .detach(|| question.settle_many(&places, threads, &never))
            .map_err(PyRuntimeError::new_err)?;
        for (i, settled) in (first..).zip(found) {
            for row in 0..3 {
                at[[row, i]] = settled.map_or(f64::NAN, |settled| settled.at_mm[row]);
                read[[row, i]] = settled.map_or(f64::NAN, |settled| settled.angles_deg[row]);
            }
        }
    }
    let [at, read] = result;
    Ok((at, read))
}

/// Which of three names are chosen.
fn chosen(py: Python<'_>, field: &str, names: &[String], known: &[&str; 3]) -> PyResult<[bool; 3]> {
    for name in names {
        if !known.contains(&name.as_str()) {
            return Err(not_one_of(py, field, name, known));
        }
    }
    Ok(known.map(|known| names.iter().any(|name| name == known)))
}
