//! Readings of many poses of one corner with their exact slopes, in parallel: what a linear estimate of spread, a fit
//! to measurements and a search stand on.

use rayon::prelude::*;

use crate::corner::Corner;
use crate::derivative::{Parameter, Sloped};
use crate::linkage::Status;
use crate::motion::{Motion, TravelAt};
use crate::pose::SolveError;
use crate::reading::{Reading, Wanted};
use crate::setting::Setting;
use crate::sweep::{SweepError, threads};

/// Directions that one pass carries.
const BLOCK: usize = 4;

/// What one pose is asked for: a setting, a motion, and where its travel is measured.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Asked {
    /// What a spanner changed.
    pub setting: Setting,
    /// What road and driver changed.
    pub motion: Motion,
    /// Where travel is measured.
    pub travel_at: TravelAt,
}

/// Readings of poses, and their slopes.
#[derive(Clone, Debug, PartialEq)]
pub struct Jacobian {
    /// Pose by pose the readings asked for; NaN where a pose is out of reach.
    pub readings: Vec<f64>,
    /// Pose by pose, reading by reading, the slope in each parameter, per mm or deg of it.
    pub slopes: Vec<f64>,
    /// Pose by pose whether it was reached.
    pub status: Vec<Status>,
}

impl Corner {
    /// Readings of many poses with their exact slopes, on this many threads, all of the machine's if zero.
    ///
    /// Slopes are those of [`Corner::derivatives`].
    ///
    /// ```
    /// use strutsweep::derivative::Parameter;
    /// use strutsweep::jacobian::Asked;
    /// use strutsweep::{Reading, demo};
    /// let corner = demo::car("hillclimb_saloon").unwrap().left;
    /// let toe = Parameter::from_name("wheel.toe").unwrap();
    /// let found = corner.jacobian(&[Asked::default()], &[Reading::Toe], &[toe], 1)?;
    /// assert!((found.slopes[0] - 1.0).abs() < 1e-12); // toe at design is what it was measured to be
    /// # Ok::<(), strutsweep::SweepError>(())
    /// ```
    ///
    /// # Errors
    /// [`SweepError::Input`] for a field that is not finite, [`SweepError::Threads`] if the system gives no threads.
    pub fn jacobian(
        &self,
        poses: &[Asked],
        readings: &[Reading],
        parameters: &[Parameter],
        threads: usize,
    ) -> Result<Jacobian, SweepError> {
        let wanted = readings
            .iter()
            .fold(Wanted::NONE, |wanted, &reading| wanted.with(reading));
        let (width, depth) = (readings.len(), parameters.len());
        let mut found = Jacobian {
            readings: vec![f64::NAN; poses.len() * width],
            slopes: vec![f64::NAN; poses.len() * width * depth],
            status: vec![Status::Reached; poses.len()],
        };
        if width == 0 {
            return Ok(found);
        }
        // Without parameters there are no slopes to divide among the poses, and one that nobody reads does no harm.
        let mut spare = vec![0.0; if depth == 0 { poses.len() * width } else { 0 }];
        let slopes = if depth == 0 { &mut spare } else { &mut found.slopes };
        threads::pool(threads)?.install(|| {
            poses
                .par_iter()
                .zip(found.readings.par_chunks_mut(width))
                .zip(slopes.par_chunks_mut(width * depth.max(1)))
                .zip(found.status.par_iter_mut())
                .try_for_each(|(((asked, values), slopes), status)| {
                    match self.solve_on_rig(&asked.setting, &asked.motion, asked.travel_at) {
                        Err(SolveError::Input(error)) => return Err(SweepError::Input(error)),
                        Err(SolveError::Reach(error)) => *status = error.status,
                        Ok((pose, rig, t)) => {
                            for (value, &reading) in values.iter_mut().zip(readings) {
                                *value = pose.reading(reading);
                            }
                            for (block, chosen) in parameters.chunks(BLOCK).enumerate() {
                                let sloped = Sloped::<BLOCK>::new(
                                    (self.points(), self.side()),
                                    (&rig, t),
                                    (&asked.motion, asked.travel_at),
                                    chosen,
                                    wanted,
                                );
                                for (row, &reading) in slopes.chunks_mut(depth).zip(readings) {
                                    let slope = sloped.readings[reading as usize].0.slope;
                                    row[block * BLOCK..][..chosen.len()].copy_from_slice(&slope[..chosen.len()]);
                                }
                            }
                        }
                    }
                    Ok(())
                })
        })?;
        Ok(found)
    }
}
