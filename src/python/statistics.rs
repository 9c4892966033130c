//! Batches of samples summed up: arrays in, arrays out.

use ndarray::{Ix1, Ix2};
use numpy::{PyArray1, PyArray2};
use pyo3::prelude::*;

use super::convert::Numbers;
use super::error::from_sweep;
use crate::statistics::{self, Bins};

/// Counts, means, standard deviations, percentiles and histograms.
type Statistics<'py> = (
    Bound<'py, PyArray1<u64>>,
    Bound<'py, PyArray1<f64>>,
    Bound<'py, PyArray1<f64>>,
    Bound<'py, PyArray2<f64>>,
    Bound<'py, PyArray2<u32>>,
);

/// Sum up every column of a batch of samples.
///
/// The unlabelled engine under `strutsweep.spread`, which is what to call.
///
/// Parameters
/// ----------
/// batch : array
///     Samples by columns. What is not finite is left out.
/// percents : array
///     Percentiles that are wanted, 0 to 100, ascending.
/// low, high : array
///     Ends of the histogram of each column, or arrays of no length for none.
/// bins : int
///     Bins of a histogram.
/// threads : int
///     0 for all of the machine's.
///
/// Returns
/// -------
/// array, array, array, array, array
///     Per column how many numbers are finite, their mean and standard deviation; columns by percents; columns by bins.
#[pyfunction]
#[pyo3(signature = (batch, percents, low, high, bins, threads))]
#[allow(clippy::needless_pass_by_value)]
pub(super) fn sum_up<'py>(
    py: Python<'py>,
    batch: Numbers<'py, f64, Ix2>,
    percents: Vec<f64>,
    low: Numbers<'py, f64, Ix1>,
    high: Numbers<'py, f64, Ix1>,
    bins: usize,
    threads: usize,
) -> PyResult<Statistics<'py>> {
    let view = batch.as_array();
    let ends: Vec<Option<Bins>> = low
        .as_array()
        .iter()
        .zip(high.as_array().iter())
        .map(|(&low, &high)| (bins > 0 && high > low).then_some(Bins { low, high, count: bins }))
        .collect();
    let found = py
        .detach(|| statistics::summaries(&view, &percents, &ends, threads))
        .map_err(|error| from_sweep(py, &error))?;
    let percentiles: Vec<Vec<f64>> = found.iter().map(|summary| summary.percentiles.clone()).collect();
    let histograms: Vec<Vec<u32>> = found
        .iter()
        .map(|summary| {
            let mut counts = summary.histogram.clone();
            counts.resize(bins, 0);
            counts
        })
        .collect();
    Ok((
        PyArray1::from_iter(py, found.iter().map(|summary| summary.count as u64)),
        PyArray1::from_iter(py, found.iter().map(|summary| summary.mean)),
        PyArray1::from_iter(py, found.iter().map(|summary| summary.standard_deviation)),
        PyArray2::from_vec2(py, &percentiles)?,
        PyArray2::from_vec2(py, &histograms)?,
    ))
}
