//! Errors of the crate as the exceptions of `strutsweep.errors`, with their attributes.

use pyo3::IntoPyObjectExt;
use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::error::{GeometryError, Given, InputError, ReachError};
use crate::file::{FileError, FileFault};
use crate::plan::PlanError;
use crate::pose::SolveError;
use crate::sweep::SweepError;

/// An exception class of `strutsweep.errors`, raised with a message and its attributes.
fn raise(py: Python<'_>, class: &str, message: &str, attributes: &Bound<'_, PyDict>) -> PyErr {
    let raised = py
        .import("strutsweep.errors")
        .and_then(|errors| errors.getattr(class))
        .and_then(|class| class.call((message,), Some(attributes)));
    match raised {
        Ok(exception) => PyErr::from_value(exception),
        // Nothing is lost even if the exceptions' own module is broken: that is the error then.
        Err(error) => error,
    }
}

fn given(py: Python<'_>, value: &Given) -> PyResult<Py<PyAny>> {
    match value {
        Given::Number(value) => value.into_py_any(py),
        Given::Triple(triple) => triple.into_py_any(py),
        Given::Text(text) => text.into_py_any(py),
    }
}

fn geometry_attributes<'py>(py: Python<'py>, error: &GeometryError) -> PyResult<Bound<'py, PyDict>> {
    let attributes = PyDict::new(py);
    attributes.set_item("field", &error.field)?;
    attributes.set_item("value", given(py, &error.value)?)?;
    attributes.set_item("reason", error.fault.to_string())?;
    let limit = error.fault.limit();
    attributes.set_item("limit", limit.map(|(limit, _)| limit))?;
    attributes.set_item("unit", limit.map(|(_, unit)| unit))?;
    Ok(attributes)
}

/// Hard points that make no corner.
pub(super) fn from_geometry(py: Python<'_>, error: &GeometryError) -> PyErr {
    match geometry_attributes(py, error) {
        Ok(attributes) => raise(py, "GeometryError", &error.to_string(), &attributes),
        Err(error) => error,
    }
}

/// A car file, or tables of its form, that cannot be read.
pub(super) fn from_file(py: Python<'_>, error: &FileError) -> PyErr {
    file_exception(py, error).unwrap_or_else(|error| error)
}

fn file_exception(py: Python<'_>, error: &FileError) -> PyResult<PyErr> {
    let message = error.to_string();
    let (class, attributes) = match &error.fault {
        FileFault::Geometry(geometry) => ("GeometryError", geometry_attributes(py, geometry)?),
        fault => {
            let attributes = PyDict::new(py);
            attributes.set_item("reason", fault.to_string())?;
            match fault {
                FileFault::UnknownKey {
                    table, key, nearest, ..
                } => {
                    attributes.set_item("table", table)?;
                    attributes.set_item("key", key)?;
                    attributes.set_item("nearest", *nearest)?;
                }
                FileFault::Missing { field, .. }
                | FileFault::Elsewhere { field, .. }
                | FileFault::WrongKind { field, .. }
                | FileFault::WrongCount { field, .. } => attributes.set_item("field", field)?,
                FileFault::Schema { .. } => attributes.set_item("field", "schema")?,
                FileFault::System(_) | FileFault::Syntax(_) | FileFault::Geometry(_) => {}
            }
            ("FileError", attributes)
        }
    };
    attributes.set_item("path", error.path.as_deref())?;
    attributes.set_item("line", error.line)?;
    Ok(raise(py, class, &message, &attributes))
}

/// An input of `solve` or `sweep` that cannot be worked with.
pub(super) fn from_input(py: Python<'_>, error: &InputError) -> PyErr {
    let attributes = PyDict::new(py);
    let filled = attributes
        .set_item("name", &error.field)
        .and_then(|()| attributes.set_item("value", error.value))
        .and_then(|()| attributes.set_item("index", error.index))
        .and_then(|()| attributes.set_item("limit", error.most))
        .and_then(|()| attributes.set_item("unit", error.unit));
    match filled {
        Ok(()) => raise(py, "InputError", &error.to_string(), &attributes),
        Err(error) => error,
    }
}

/// An input that is none of the words allowed for it.
pub(super) fn not_one_of(py: Python<'_>, name: &str, value: &str, allowed: &[&str]) -> PyErr {
    let near = crate::file::nearest(value, allowed).map_or(String::new(), |near| format!("; did you mean {near:?}?"));
    let message = format!("{name} = {value:?} is not one of {}{near}", allowed.join(", "));
    let attributes = PyDict::new(py);
    let filled = attributes
        .set_item("name", name)
        .and_then(|()| attributes.set_item("value", value));
    match filled {
        Ok(()) => raise(py, "InputError", &message, &attributes),
        Err(error) => error,
    }
}

fn from_reach(py: Python<'_>, error: ReachError) -> PyErr {
    let attributes = PyDict::new(py);
    let filled = attributes
        .set_item("part", error.status.name())
        .and_then(|()| attributes.set_item("status", error.status.code()))
        .and_then(|()| attributes.set_item("reason", error.status.reason()));
    match filled {
        Ok(()) => raise(py, "ReachError", &error.to_string(), &attributes),
        Err(error) => error,
    }
}

/// Why a single pose could not be given.
pub(super) fn from_solve(py: Python<'_>, error: &SolveError) -> PyErr {
    match error {
        SolveError::Input(error) => from_input(py, error),
        SolveError::Reach(error) => from_reach(py, *error),
    }
}

/// What was wrong with what a plan was asked.
pub(super) fn from_plan(py: Python<'_>, error: &PlanError) -> PyErr {
    let attributes = PyDict::new(py);
    let filled = match error {
        PlanError::StartOutOfReach { status, .. } => {
            let filled = attributes
                .set_item("part", status.name())
                .and_then(|()| attributes.set_item("status", status.code()))
                .and_then(|()| attributes.set_item("reason", status.reason()));
            return match filled {
                Ok(()) => raise(py, "ReachError", &error.to_string(), &attributes),
                Err(error) => error,
            };
        }
        PlanError::WrongUnit {
            reading,
            value,
            unit,
            most,
        } => attributes
            .set_item("name", reading)
            .and_then(|()| attributes.set_item("value", value))
            .and_then(|()| attributes.set_item("limit", most))
            .and_then(|()| attributes.set_item("unit", unit)),
        PlanError::NoTie { name, per: value, .. } | PlanError::NoScale { name, value, .. } => attributes
            .set_item("name", name)
            .and_then(|()| attributes.set_item("value", value)),
        PlanError::EmptyLimits {
            name,
            least,
            most,
            unit,
        }
        | PlanError::StartsOutside {
            name,
            least,
            most,
            unit,
            ..
        } => attributes
            .set_item("name", name)
            .and_then(|()| attributes.set_item("value", (least, most)))
            .and_then(|()| attributes.set_item("unit", unit)),
        PlanError::WantedTwice { reading: name, .. }
        | PlanError::FreeTwice(name)
        | PlanError::MovesNothing { name, .. } => attributes.set_item("name", name),
        PlanError::NothingWanted => attributes.set_item("name", "want"),
        PlanError::NothingFree => attributes.set_item("name", "free"),
        PlanError::Count { .. } | PlanError::Cancelled | PlanError::Threads(_) => Ok(()),
    };
    match filled {
        Ok(()) => raise(py, "InputError", &error.to_string(), &attributes),
        Err(error) => error,
    }
}

/// What was wrong with a sweep.
pub(super) fn from_sweep(py: Python<'_>, error: &SweepError) -> PyErr {
    match error {
        SweepError::Input(error) => from_input(py, error),
        other => raise(py, "InputError", &other.to_string(), &PyDict::new(py)),
    }
}
