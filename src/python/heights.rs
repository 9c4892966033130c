//! Heights of a top, and turns of a tie rod, for one side of a car.

use pyo3::prelude::*;
use pyo3::types::PyDict;

use super::axle::PyAxle;
use super::error::{from_solve, not_one_of};
use crate::corner::Side;
use crate::heights::{Stops, StrutChange};
use crate::setting::{SETTING_FIELDS, Setting};

fn side(py: Python<'_>, name: &str) -> PyResult<Side> {
    [Side::Left, Side::Right]
        .into_iter()
        .find(|side| side.name() == name)
        .ok_or_else(|| not_one_of(py, "side", name, &["left", "right"]))
}

fn setting(py: Python<'_>, named: &Bound<'_, PyDict>) -> PyResult<Setting> {
    let mut values = Setting::default().to_array();
    for (name, value) in named {
        let name: String = name.extract()?;
        let at = SETTING_FIELDS
            .iter()
            .position(|field| field.name == name)
            .ok_or_else(|| not_one_of(py, "setting", &name, &SETTING_FIELDS.map(|field| field.name)))?;
        values[at] = value.extract()?;
    }
    Ok(Setting::from_array(values))
}

/// Where one side of a car settles: `strutsweep.heights` without its words.
///
/// Parameters
/// ----------
/// car : Axle
/// side : str
/// setting : dict
///     Fields of a setting, mm and deg.
/// change : tuple of float
///     Bearing, seat, shoulder, body, collar; mm.
/// ride_height : float
///     What the collar shall bring, mm above design.
///
/// Returns
/// -------
/// dict
///     Figures in mm and N; None where the car file does not tell what they need.
#[pyfunction]
pub(super) fn settle<'py>(
    py: Python<'py>,
    car: &PyAxle,
    side: &str,
    setting: &Bound<'py, PyDict>,
    change: [f64; 5],
    ride_height: f64,
) -> PyResult<Bound<'py, PyDict>> {
    let axle = &car.inner;
    let corner = axle.corner(self::side(py, side)?);
    let setting = self::setting(py, setting)?;
    let [bearing_mm, seat_mm, shoulder_mm, body_mm, collar_mm] = change;
    let change = StrutChange {
        bearing_mm,
        seat_mm,
        shoulder_mm,
        body_mm,
        collar_mm,
    };
    let stops = Stops {
        bump_mm: axle.limits.bump_mm,
        droop_mm: axle.limits.droop_mm,
    };
    let settled = corner
        .settle(&setting, &change, &stops)
        .map_err(|error| from_solve(py, &error))?;
    let collar = corner
        .collar_for_ride_height_mm(&setting, &change, ride_height)
        .map_err(|error| from_solve(py, &error))?;
    let preload = settled
        .spring_longer_at_droop_mm
        .and_then(|longer_mm| axle.spring.preload(&axle.left, longer_mm));
    let figures = PyDict::new(py);
    figures.set_item("ride_height", settled.ride_height_mm)?;
    figures.set_item("strut_compression", settled.strut_compression_mm)?;
    figures.set_item("bump_left", settled.bump_left_mm)?;
    figures.set_item("droop_left", settled.droop_left_mm)?;
    figures.set_item("collar_for_ride_height", collar)?;
    figures.set_item("preload_length", preload.map(|preload| preload.length_mm))?;
    figures.set_item("preload_force", preload.and_then(|preload| preload.force_n))?;
    Ok(figures)
}

/// Turns of one side's tie rod that make it longer by ``longer`` mm, clockwise as seen from its outer end positive, and
/// the length of thread in mm then screwed in at its inner and its outer end; None where the car file does not tell.
#[pyfunction]
pub(super) fn tie_rod_turns(
    py: Python<'_>,
    car: &PyAxle,
    side: &str,
    longer: f64,
) -> PyResult<(Option<f64>, Option<f64>, Option<f64>)> {
    let tie_rod = car.inner.tie_rod(self::side(py, side)?);
    let [inner, outer] = tie_rod.engaged_mm(longer);
    Ok((tie_rod.turns(longer), inner, outer))
}
