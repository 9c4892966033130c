//! Tables between Python's dictionaries and the crate's, and words between text and the crate's.

use std::ops::Deref;

use ndarray::Dimension;
use numpy::{Element, PyReadonlyArray, PyUntypedArrayMethods};
use pyo3::IntoPyObjectExt;
use pyo3::exceptions::PyTypeError;
use pyo3::prelude::*;
use pyo3::types::{PyBool, PyDict, PyFloat, PyInt, PyString};
use toml::{Table, Value};

use super::error::not_one_of;
use crate::corner::HardPoint;
use crate::motion::TravelAt;
use crate::space::{Point, Vector};

/// Tables in tables deeper than this no car file has; one that holds itself has no end.
const DEEPEST: usize = 8;

/// An array to be read. One that does not lie as numbers do in memory, such as a column of packed records, is copied:
/// views count their steps in whole numbers.
pub(super) struct Numbers<'py, T: Element, D: Dimension>(PyReadonlyArray<'py, T, D>);

impl<'a, 'py, T: Element + 'a, D: Dimension + 'a> FromPyObject<'a, 'py> for Numbers<'py, T, D> {
    type Error = PyErr;

    fn extract(array: Borrowed<'a, 'py, PyAny>) -> PyResult<Self> {
        let found: PyReadonlyArray<'py, T, D> = array.extract()?;
        if found.is_aligned() {
            return Ok(Self(found));
        }
        Ok(Self(array.call_method0("copy")?.extract()?))
    }
}

impl<'py, T: Element, D: Dimension> Deref for Numbers<'py, T, D> {
    type Target = PyReadonlyArray<'py, T, D>;

    fn deref(&self) -> &Self::Target {
        &self.0
    }
}

/// A dictionary as the tables of a car file.
pub(super) fn table_from_dict(dict: &Bound<'_, PyDict>) -> PyResult<Table> {
    table_within(dict, "", 0)
}

fn table_within(dict: &Bound<'_, PyDict>, within: &str, depth: usize) -> PyResult<Table> {
    let mut table = Table::new();
    for (key, value) in dict.iter() {
        let Ok(key) = key.extract::<String>() else {
            return Err(PyTypeError::new_err(format!(
                "{key} is not text, and keys of a car's tables are"
            )));
        };
        let field = if within.is_empty() {
            key.clone()
        } else {
            format!("{within}.{key}")
        };
        if !value.is_none() {
            table.insert(key, value_from_python(&value, &field, depth + 1)?);
        }
    }
    Ok(table)
}

fn value_from_python(value: &Bound<'_, PyAny>, field: &str, depth: usize) -> PyResult<Value> {
    if depth > DEEPEST {
        return Err(PyTypeError::new_err(format!(
            "{field} lies deeper than any table of a car: does it hold itself?"
        )));
    }
    if let Ok(dict) = value.cast::<PyDict>() {
        return Ok(Value::Table(table_within(dict, field, depth)?));
    }
    if value.is_instance_of::<PyBool>() {
        return Ok(Value::Boolean(value.extract()?));
    }
    if let Ok(text) = value.cast::<PyString>() {
        return Ok(Value::String(text.extract()?));
    }
    if value.is_instance_of::<PyFloat>() || value.is_instance_of::<PyInt>() {
        // A whole number too large for a float is told as the infinity it is here.
        return Ok(Value::Float(value.extract().unwrap_or(f64::INFINITY)));
    }
    // A numpy scalar is a number too; an array of several is not, and falls through to the list.
    if let Ok(number) = value.extract::<f64>() {
        return Ok(Value::Float(number));
    }
    if let Ok(items) = value.try_iter() {
        let items: PyResult<Vec<Value>> = items.map(|item| value_from_python(&item?, field, depth + 1)).collect();
        return Ok(Value::Array(items?));
    }
    Err(PyTypeError::new_err(format!(
        "{field} is a {}, where a number, a text, a point [x, y, z] or a dictionary should be",
        value.get_type().name()?
    )))
}

/// The tables of a car file as a dictionary.
pub(super) fn dict_from_table<'py>(py: Python<'py>, table: &Table) -> PyResult<Bound<'py, PyDict>> {
    let dict = PyDict::new(py);
    for (key, value) in table {
        dict.set_item(key, python_from_value(py, value)?)?;
    }
    Ok(dict)
}

fn python_from_value(py: Python<'_>, value: &Value) -> PyResult<Py<PyAny>> {
    match value {
        Value::String(text) => text.into_py_any(py),
        Value::Integer(number) => number.into_py_any(py),
        Value::Float(number) => number.into_py_any(py),
        Value::Boolean(truth) => truth.into_py_any(py),
        Value::Datetime(date) => date.to_string().into_py_any(py),
        Value::Array(items) => {
            let items: PyResult<Vec<Py<PyAny>>> = items.iter().map(|item| python_from_value(py, item)).collect();
            items?.into_py_any(py)
        }
        Value::Table(table) => dict_from_table(py, table)?.into_py_any(py),
    }
}

/// Text as Python writes it, in quotes.
pub(super) fn quoted(py: Python<'_>, text: &str) -> PyResult<String> {
    Ok(PyString::new(py, text).repr()?.to_string())
}

/// Where travel is measured, by its name.
pub(super) fn travel_at(py: Python<'_>, name: &str) -> PyResult<TravelAt> {
    TravelAt::from_name(name).ok_or_else(|| not_one_of(py, "travel_at", name, &TravelAt::ALL.map(TravelAt::name)))
}

/// A hard point by its name, which is that of an argument or stands in one.
pub(super) fn hard_point(py: Python<'_>, argument: &str, name: &str) -> PyResult<HardPoint> {
    HardPoint::from_name(name).ok_or_else(|| not_one_of(py, argument, name, &HardPoint::ALL.map(HardPoint::name)))
}

/// Three numbers, of a list, a tuple or an array, as a point.
pub(super) fn point(value: &Bound<'_, PyAny>, field: &str) -> PyResult<Point> {
    triple(value, field).map(Point::from)
}

/// Three numbers, of a list, a tuple or an array, as a direction.
pub(super) fn vector(value: &Bound<'_, PyAny>, field: &str) -> PyResult<Vector> {
    triple(value, field).map(Vector::from)
}

fn triple(value: &Bound<'_, PyAny>, field: &str) -> PyResult<[f64; 3]> {
    let wrong = || {
        let shown = value.repr().map_or_else(|_| "?".to_owned(), |shown| shown.to_string());
        PyTypeError::new_err(format!("{field} = {shown} is not three numbers [x, y, z]"))
    };
    let numbers: Vec<f64> = value
        .try_iter()
        .map_err(|_| wrong())?
        .map(|item| item.and_then(|item| item.extract::<f64>()))
        .collect::<PyResult<_>>()
        .map_err(|_| wrong())?;
    <[f64; 3]>::try_from(numbers).map_err(|_| wrong())
}
