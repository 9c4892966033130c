//! Slopes: arrays of a pose's derivatives, handed to Python's labels.

use numpy::{PyArray1, PyArray2};
use pyo3::prelude::*;
use pyo3::types::PyDict;

use super::corner::PyCorner;
use super::error::not_one_of;
use super::pose::PyPose;
use super::sweep::quantities;
use crate::derivative::{Derivatives, Parameter};
use crate::motion::MOTION_FIELDS;
use crate::pose::Figures;
use crate::reading::Reading;
use crate::setting::SETTING_FIELDS;
use crate::sweep::Quantity;

/// The parameters of these names; every setting and motion unless given.
pub(super) fn parameters(py: Python<'_>, names: Option<Vec<String>>) -> PyResult<Vec<Parameter>> {
    let Some(names) = names else {
        let settings = (0..SETTING_FIELDS.len()).map(Parameter::Setting);
        let motions = (0..MOTION_FIELDS.len()).map(Parameter::Motion);
        return Ok(settings.chain(motions).collect());
    };
    let known: Vec<String> = Parameter::all().into_iter().map(Parameter::name).collect();
    let known: Vec<&str> = known.iter().map(String::as_str).collect();
    names
        .iter()
        .map(|name| Parameter::from_name(name).ok_or_else(|| not_one_of(py, "inputs", name, &known)))
        .collect()
}

/// A labelled dataset of slopes.
pub(super) fn labelled<'py>(
    py: Python<'py>,
    corner: &PyCorner,
    found: &Derivatives,
    parameters: &[Parameter],
    readings: Option<Vec<String>>,
    places: Option<Vec<String>>,
) -> PyResult<Bound<'py, PyAny>> {
    let readings = readings.unwrap_or_else(|| Reading::ALL.map(|reading| reading.name().to_owned()).to_vec());
    let slopes = PyDict::new(py);
    for quantity in quantities(py, &readings, &places.unwrap_or_default())? {
        match quantity {
            Quantity::Reading(reading) => {
                let values = found.slopes.iter().map(|slopes| slopes.readings[reading as usize]);
                slopes.set_item(reading.name(), PyArray1::from_iter(py, values))?;
            }
            Quantity::Place(place) => {
                let component = |of: fn(&Figures, usize) -> f64| -> Vec<f64> {
                    found.slopes.iter().map(|slopes| of(slopes, place as usize)).collect()
                };
                let rows = [
                    component(|slopes, place| slopes.places[place].x),
                    component(|slopes, place| slopes.places[place].y),
                    component(|slopes, place| slopes.places[place].z),
                ];
                slopes.set_item(place.name(), PyArray2::from_vec2(py, &rows)?)?;
            }
        }
    }
    let names: Vec<String> = parameters.iter().map(|parameter| parameter.name()).collect();
    let units: Vec<&str> = parameters.iter().map(|parameter| parameter.unit()).collect();
    let pose = PyPose {
        inner: found.pose.clone(),
    };
    py.import("strutsweep._slopes")?
        .getattr("labelled")?
        .call1((corner.clone(), pose, names, units, slopes))
}
