//! The free body of a loaded strut.

use numpy::PyArray1;
use pyo3::prelude::*;
use pyo3::types::PyDict;

use super::convert;
use super::corner::PyCorner;
use super::error::from_solve;
use crate::motion::{MOTION_FIELDS, Motion};
use crate::setting::{SETTING_FIELDS, Setting};
use crate::space::Vector;
use crate::strut_load::Seats;

/// What holds a wheel that the ground pushes: the free body of wheel, knuckle and strut.
///
/// The unlabelled engine under `strutsweep.springs`.
///
/// Parameters
/// ----------
/// corner : Corner
/// inputs : dict of str to float
///     Fields of setting and motion; zero unless given.
/// travel_at : {"ground", "hub", "strut"}
/// load : sequence of three floats
///     Force of the ground on the wheel at the contact centre, in N, in the car's axes.
/// upper_seat, lower_seat : sequence of three floats, optional
///     Centres of the spring's ends at design, as the left corner has them; on the strut axis unless given.
///
/// Returns
/// -------
/// dict
///     ``spring``, ``tie_rod`` (N), ``side_force``, ``ball_joint`` (N, arrays [x, y, z]), ``cure`` (mm, array),
///     ``strut_axis`` (array of length one), ``motion_ratio``, ``motion_ratio_change`` (per mm) and
///     ``strut_compression`` (mm).
#[pyfunction]
#[pyo3(signature = (corner, inputs, travel_at, load, upper_seat=None, lower_seat=None))]
pub(super) fn strut_load<'py>(
    py: Python<'py>,
    corner: &PyCorner,
    inputs: &Bound<'py, PyDict>,
    travel_at: &str,
    load: [f64; 3],
    upper_seat: Option<[f64; 3]>,
    lower_seat: Option<[f64; 3]>,
) -> PyResult<Bound<'py, PyDict>> {
    let travel_at = convert::travel_at(py, travel_at)?;
    let mut values = Vec::with_capacity(SETTING_FIELDS.len() + MOTION_FIELDS.len());
    for field in SETTING_FIELDS.iter().chain(&MOTION_FIELDS) {
        let given = inputs.get_item(field.name)?;
        values.push(given.map_or(Ok(0.0), |value| value.extract::<f64>())?);
    }
    let setting = Setting::from_array(std::array::from_fn(|i| values[i]));
    let motion = Motion::from_array(std::array::from_fn(|i| values[SETTING_FIELDS.len() + i]));
    let seats = upper_seat.zip(lower_seat).map(|(upper, lower)| Seats {
        upper: upper.into(),
        lower: lower.into(),
    });
    let held = corner
        .inner
        .hold(&setting, &motion, travel_at, seats, Vector::from(load))
        .map_err(|error| from_solve(py, &error))?;
    let array = |vector: Vector| PyArray1::from_slice(py, &<[f64; 3]>::from(vector));
    let dict = PyDict::new(py);
    dict.set_item("spring", held.spring_n)?;
    dict.set_item("tie_rod", held.tie_rod_n)?;
    dict.set_item("side_force", array(held.side_force_n))?;
    dict.set_item("ball_joint", array(held.ball_joint_n))?;
    dict.set_item("cure", array(held.cure_mm))?;
    dict.set_item("strut_axis", array(held.strut_axis))?;
    dict.set_item("motion_ratio", held.motion_ratio)?;
    dict.set_item("motion_ratio_change", held.motion_ratio_change_per_mm)?;
    dict.set_item("strut_compression", held.strut_compression_mm)?;
    Ok(dict)
}
