//! Plans: wanted readings in, settings out, the interpreter let go in between.

use std::sync::atomic::AtomicBool;

use ndarray::Ix2;
use numpy::{PyArray1, PyArray2};
use pyo3::prelude::*;
use pyo3::types::PyDict;

use super::convert::{self, Numbers};
use super::corner::PyCorner;
use super::error::{from_plan, not_one_of};
use crate::derivative::Parameter;
use crate::linkage::Status;
use crate::motion::{MOTION_FIELDS, Motion};
use crate::plan::{self, Adjuster, Outcome, Plan, Planner, Tie, Want};
use crate::reading::Reading;
use crate::setting::{SETTING_FIELDS, Setting};

/// Plans worked on before the caller looks for signals again.
const RUN: usize = 20_000;

/// A wanted reading: its name, the motion it is wanted in, and its accuracy.
type Wanted = (String, [f64; MOTION_FIELDS.len()], Option<f64>);
/// A free adjuster: its name, its limits, and its effort.
type Free = (String, f64, f64, Option<f64>);
/// A setting that goes along: its name, that of the one it follows, and how far it goes per unit of that.
type Along = (String, String, f64);

/// Find settings for wanted readings.
///
/// The unlabelled engine under `strutsweep.plan` and `strutsweep.plan_map`, which are what to call.
///
/// Parameters
/// ----------
/// corner : Corner
/// start : sequence of float
///     The present setting, every field in the order of the documentation.
/// travel_at : {"ground", "hub", "strut"}
/// wants : sequence of (str, sequence of float, float or None)
///     Per wanted reading its name, its motion, every field in the order of the documentation, and its accuracy.
/// free : sequence of (str, float, float, float or None)
///     Per free adjuster its name, its least and greatest value, and its effort.
/// ties : sequence of (str, str, float)
///     Per setting that goes along with an adjuster its name, the adjuster's, and how far it goes per unit of that.
/// values : array
///     A row for each plan, a column for each wanted reading.
/// threads : int
///     0 for all of the machine's.
///
/// Returns
/// -------
/// dict of str to array
///     ``setting`` (plans by fields), ``outcome``, ``at_limit`` (plans by adjusters), ``residual`` (plans by readings),
/// ``steps``, ``ran_out`` (status codes, 0 for none), ``folded``, and ``before`` (the wanted readings at the start).
#[pyfunction]
#[pyo3(signature = (corner, start, travel_at, wants, free, ties, values, threads))]
#[allow(clippy::too_many_arguments, clippy::needless_pass_by_value)]
pub(super) fn plan_grid<'py>(
    py: Python<'py>,
    corner: &PyCorner,
    start: [f64; SETTING_FIELDS.len()],
    travel_at: &str,
    wants: Vec<Wanted>,
    free: Vec<Free>,
    ties: Vec<Along>,
    values: Numbers<'py, f64, Ix2>,
    threads: usize,
) -> PyResult<Bound<'py, PyDict>> {
    let travel_at = convert::travel_at(py, travel_at)?;
    let wants = wants.iter().map(|want| named_want(py, want)).collect::<PyResult<_>>()?;
    let free = free
        .iter()
        .map(|free| named_adjuster(py, free))
        .collect::<PyResult<_>>()?;
    let ties = ties.iter().map(|tie| named_tie(py, tie)).collect::<PyResult<_>>()?;
    let start = Setting::from_array(start);
    let planner =
        Planner::new(&corner.inner, &start, travel_at, wants, free, ties).map_err(|error| from_plan(py, &error))?;
    let targets: Vec<f64> = values.as_array().iter().copied().collect();
    let mut plans = Vec::with_capacity(targets.len() / planner.wants().len());
    let never = AtomicBool::new(false);
    for run in targets.chunks(RUN * planner.wants().len()) {
        py.check_signals()?;
        let more = py
            .detach(|| planner.plan_many(run, threads, &never))
            .map_err(|error| from_plan(py, &error))?;
        plans.extend(more);
    }
    arrays(py, &planner, &plans)
}

fn named_want(py: Python<'_>, (name, motion, accuracy): &Wanted) -> PyResult<Want> {
    let reading =
        Reading::from_name(name).ok_or_else(|| not_one_of(py, "want", name, &Reading::ALL.map(Reading::name)))?;
    Ok(Want {
        reading,
        motion: Motion::from_array(*motion),
        accuracy: accuracy.unwrap_or_else(|| plan::usual_accuracy(reading)),
    })
}

fn named_adjuster(py: Python<'_>, (name, least, most, effort): &Free) -> PyResult<Adjuster> {
    let field = field_of(py, "free", name)?;
    Ok(Adjuster {
        field,
        least: *least,
        most: *most,
        effort: effort.unwrap_or_else(|| plan::usual_effort(field)),
    })
}

fn named_tie(py: Python<'_>, (name, follows, per): &Along) -> PyResult<Tie> {
    Ok(Tie {
        field: field_of(py, "along", name)?,
        follows: field_of(py, "along", follows)?,
        per: *per,
    })
}

/// The place of a setting among all of them.
fn field_of(py: Python<'_>, argument: &str, name: &str) -> PyResult<usize> {
    match Parameter::from_name(name) {
        Some(Parameter::Setting(field)) => Ok(field),
        _ => Err(not_one_of(py, argument, name, &SETTING_FIELDS.map(|field| field.name))),
    }
}

fn arrays<'py>(py: Python<'py>, planner: &Planner, plans: &[Plan]) -> PyResult<Bound<'py, PyDict>> {
    let table = |of: &dyn Fn(&Plan) -> Vec<f64>| -> Vec<Vec<f64>> { plans.iter().map(of).collect() };
    let named = PyDict::new(py);
    let settings = table(&|plan| plan.setting.to_array().to_vec());
    named.set_item("setting", PyArray2::from_vec2(py, &settings)?)?;
    named.set_item(
        "residual",
        PyArray2::from_vec2(py, &table(&|plan| plan.residuals.clone()))?,
    )?;
    let at_limit: Vec<Vec<i8>> = plans.iter().map(|plan| plan.at_limit.clone()).collect();
    named.set_item("at_limit", PyArray2::from_vec2(py, &at_limit)?)?;
    let outcomes = plans.iter().map(|plan| plan.outcome.code());
    named.set_item("outcome", PyArray1::from_iter(py, outcomes))?;
    let steps = plans.iter().map(|plan| i64::from(plan.steps));
    named.set_item("steps", PyArray1::from_iter(py, steps))?;
    let ran_out = plans.iter().map(|plan| plan.ran_out.map_or(0, Status::code));
    named.set_item("ran_out", PyArray1::from_iter(py, ran_out))?;
    named.set_item("folded", PyArray1::from_iter(py, plans.iter().map(|plan| plan.folded)))?;
    named.set_item("before", PyArray1::from_slice(py, planner.before()))?;
    Ok(named)
}

/// Accuracies, efforts and outcomes as the engine knows them, for Python's words.
pub(super) fn words(py: Python<'_>) -> PyResult<Bound<'_, PyDict>> {
    let accuracies = PyDict::new(py);
    let closed = PyDict::new(py);
    for reading in Reading::ALL {
        accuracies.set_item(reading.name(), plan::usual_accuracy(reading))?;
        closed.set_item(reading.name(), plan::closed(reading))?;
    }
    let efforts = PyDict::new(py);
    for (field, words) in SETTING_FIELDS.iter().enumerate() {
        efforts.set_item(words.name, plan::usual_effort(field))?;
    }
    let outcomes = PyDict::new(py);
    for outcome in Outcome::ALL {
        let entry = PyDict::new(py);
        entry.set_item("code", outcome.code())?;
        entry.set_item("reason", outcome.reason())?;
        outcomes.set_item(outcome.name(), entry)?;
    }
    let words = PyDict::new(py);
    words.set_item("accuracies", accuracies)?;
    words.set_item("closed", closed)?;
    words.set_item("efforts", efforts)?;
    words.set_item("outcomes", outcomes)?;
    Ok(words)
}
