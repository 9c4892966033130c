//! The words of the crate for Python's labels: names, units, signs, definitions. One list, made in Rust.

use pyo3::prelude::*;
use pyo3::types::{PyDict, PyList};

use super::plan;
use crate::axle_reading::AxleReading;
use crate::corner::HardPoint;
use crate::linkage::Status;
use crate::motion::{MOTION_FIELDS, TravelAt};
use crate::pose::Place;
use crate::reading::Reading;
use crate::setting::{InputField, SETTING_FIELDS};

fn entry<'py>(py: Python<'py>, pairs: &[(&str, &str)]) -> PyResult<Bound<'py, PyDict>> {
    let dict = PyDict::new(py);
    for (key, value) in pairs {
        dict.set_item(key, value)?;
    }
    Ok(dict)
}

fn inputs<'py>(py: Python<'py>, fields: &[InputField]) -> PyResult<Bound<'py, PyDict>> {
    let named = PyDict::new(py);
    for field in fields {
        let words = [
            ("units", field.unit),
            ("long_name", field.long_name),
            ("positive", field.positive),
        ];
        named.set_item(field.name, entry(py, &words)?)?;
    }
    Ok(named)
}

/// Names, units, signs and definitions of everything that has a name: dictionaries `readings`, `axle_readings`, `settings`,
/// `motions`, `places`, `statuses`, `travel_at` and `planning` (usual accuracies of readings, usual efforts of settings,
/// how near counts as met, and outcomes), the list `hard_points`, and what a
/// car file calls each of these, `hard_point_fields`; each in the order of the documentation.
#[pyfunction]
pub(super) fn vocabulary(py: Python<'_>) -> PyResult<Bound<'_, PyDict>> {
    let readings = PyDict::new(py);
    for reading in Reading::ALL {
        let words = [
            ("units", reading.unit()),
            ("long_name", reading.long_name()),
            ("positive", reading.positive()),
            ("definition", reading.definition()),
        ];
        let words = entry(py, &words)?;
        words.set_item("is_rate", reading.is_rate())?;
        readings.set_item(reading.name(), words)?;
    }
    let axle_readings = PyDict::new(py);
    for reading in AxleReading::ALL {
        let words = [
            ("units", reading.unit()),
            ("long_name", reading.long_name()),
            ("positive", reading.positive()),
            ("definition", reading.definition()),
        ];
        let words = entry(py, &words)?;
        words.set_item("is_per_wheel", reading.is_per_wheel())?;
        axle_readings.set_item(reading.name(), words)?;
    }
    let places = PyDict::new(py);
    for place in Place::ALL {
        places.set_item(
            place.name(),
            entry(py, &[("units", "mm"), ("long_name", place.long_name())])?,
        )?;
    }
    let statuses = PyDict::new(py);
    for status in Status::ALL {
        let words = entry(py, &[("reason", status.reason())])?;
        words.set_item("code", status.code())?;
        statuses.set_item(status.name(), words)?;
    }
    let travel_at = PyDict::new(py);
    for way in TravelAt::ALL {
        travel_at.set_item(way.name(), way.held())?;
    }
    let vocabulary = PyDict::new(py);
    vocabulary.set_item("readings", readings)?;
    vocabulary.set_item("axle_readings", axle_readings)?;
    vocabulary.set_item("settings", inputs(py, &SETTING_FIELDS)?)?;
    vocabulary.set_item("motions", inputs(py, &MOTION_FIELDS)?)?;
    vocabulary.set_item("places", places)?;
    vocabulary.set_item("statuses", statuses)?;
    vocabulary.set_item("travel_at", travel_at)?;
    vocabulary.set_item("planning", plan::words(py)?)?;
    vocabulary.set_item("hard_points", PyList::new(py, HardPoint::ALL.map(HardPoint::name))?)?;
    let fields = PyDict::new(py);
    for point in HardPoint::ALL {
        fields.set_item(point.name(), point.field())?;
    }
    vocabulary.set_item("hard_point_fields", fields)?;
    Ok(vocabulary)
}
