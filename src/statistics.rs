//! What a batch of samples looks like: mean, spread, percentiles, a histogram.
//!
//! Each column of a batch is summed up by itself, columns in parallel. What is no finite number (a pose out of reach)
//! is left out and counted.

use ndarray::ArrayView2;
use rayon::prelude::*;

use crate::sweep::{SweepError, threads};

/// What one column of a batch looks like.
#[derive(Clone, Debug, PartialEq)]
pub struct Summary {
    /// How many finite numbers it holds; of fewer than two nothing else is known but the mean of one.
    pub count: usize,
    /// Their mean.
    pub mean: f64,
    /// Their standard deviation, as an estimate of that of all that could be drawn: divided by count - 1.
    pub standard_deviation: f64,
    /// Their percentiles, in the order asked for.
    pub percentiles: Vec<f64>,
    /// How many fall in each bin of the histogram; those beyond its ends in the bins at the ends.
    pub histogram: Vec<u32>,
}

/// Bins of equal width between two ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bins {
    /// Lower end of the first bin.
    pub low: f64,
    /// Upper end of the last bin.
    pub high: f64,
    /// How many there are.
    pub count: usize,
}

impl Bins {
    // A share that is negative or no number becomes bin zero.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    fn of(&self, value: f64) -> usize {
        let share = (value - self.low) / (self.high - self.low);
        ((share * self.count as f64) as usize).min(self.count - 1)
    }
}

/// A percentile of numbers by interpolation between order statistics whose medians it hits, whatever they are drawn
/// from: definition 8 of Hyndman and Fan, Sample Quantiles in Statistical Packages, The American Statistician 50 (1996)
/// 361, and the one that they recommend. Few numbers give it no bias that matters; beyond the outermost ones it stays
/// there.
///
/// The `sorted_from` numbers at the front are known to be the smallest ones; it grows with each call, so that ascending
/// percentiles cost less and less. Order among the numbers is changed.
// A place within the numbers is a whole number that fits.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
fn percentile(numbers: &mut [f64], sorted_from: &mut usize, percent: f64) -> f64 {
    let count = numbers.len() as f64;
    let share = (percent / 100.0).clamp(0.0, 1.0);
    let place = ((count + 1.0 / 3.0) * share - 2.0 / 3.0).clamp(0.0, count - 1.0);
    let below = (place.floor() as usize).max(*sorted_from);
    let from = *sorted_from;
    let (_, at, above) = numbers[from..].select_nth_unstable_by(below - from, f64::total_cmp);
    let at = *at;
    let next = above.iter().copied().fold(f64::INFINITY, f64::min);
    *sorted_from = below;
    let share = (place - below as f64).clamp(0.0, 1.0);
    if share > 0.0 && next.is_finite() {
        at + share * (next - at)
    } else {
        at
    }
}

impl Summary {
    /// Sum up numbers; `percents` ascend, 0 to 100.
    pub fn of(numbers: impl Iterator<Item = f64>, percents: &[f64], bins: Option<Bins>) -> Self {
        let mut finite: Vec<f64> = numbers.filter(|number| number.is_finite()).collect();
        let count = finite.len();
        let mean = finite.iter().sum::<f64>() / count as f64;
        let square = finite
            .iter()
            .map(|number| (number - mean) * (number - mean))
            .sum::<f64>();
        let mut histogram = vec![0; bins.map_or(0, |bins| bins.count)];
        if let Some(bins) = bins {
            for &number in &finite {
                histogram[bins.of(number)] += 1;
            }
        }
        let mut sorted_from = 0;
        let percentiles = percents
            .iter()
            .map(|&percent| {
                if finite.is_empty() {
                    f64::NAN
                } else {
                    percentile(&mut finite, &mut sorted_from, percent)
                }
            })
            .collect();
        Self {
            count,
            mean,
            standard_deviation: if count > 1 {
                (square / (count - 1) as f64).sqrt()
            } else {
                f64::NAN
            },
            percentiles,
            histogram,
        }
    }
}

/// Sum up every column of a batch (samples by columns) on this many threads, all of the machine's if zero.
///
/// # Errors
/// [`SweepError::Threads`] if the system gives no threads.
pub fn summaries(
    batch: &ArrayView2<'_, f64>,
    percents: &[f64],
    bins: &[Option<Bins>],
    threads: usize,
) -> Result<Vec<Summary>, SweepError> {
    let columns = batch.ncols();
    Ok(threads::pool(threads)?.install(|| {
        (0..columns)
            .into_par_iter()
            .map(|column| {
                let bins = bins.get(column).copied().flatten();
                Summary::of(batch.column(column).iter().copied(), percents, bins)
            })
            .collect()
    }))
}
