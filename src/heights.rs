//! Heights: what another top, a turn of the collar or a shorter strut body does to ride height, travels and preload.
//!
//! A top mount has three heights, and they change apart. Where the bearing's centre stands in the body places the
//! strut. Where the spring's seat stands decides how much strut there is under a spring of one length. Where the
//! shoulder of the damper rod stands decides at what strut length the damper runs out, in bump and in droop.
//!
//! With D the strut's length from a point fixed in the knuckle's clamp up to the bearing's centre, a the seat's and d
//! the shoulder's height above that centre along the strut, and c the collar's height above the fixed point:
//!
//! - spring length: D + a - c. So while the spring keeps its length, D changes by (change of c) - (change of a);
//! - the damper runs out at a fixed D + d - (length of the body). So the D of either stop changes by what the
//!   body's length does, less what d does;
//! - the collar sits on the body: c changes by what the body does and by what the collar is turned.
//!
//! The linkage links D to ride height: `travel_at` the strut. A spring that keeps its length keeps its force; that the
//! force which carries the car changes a little with the motion ratio is left out.

use crate::corner::Corner;
use crate::motion::{Motion, TravelAt};
use crate::pose::{Place, SolveError};
use crate::reading::Reading;
use crate::setting::Setting;
use crate::spring::Spring;

/// What changes at a strut: the three heights of its top in the body, up positive, and its two threads.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct StrutChange {
    /// The bearing's centre stands higher in the body, straight up, on top of the setting's own `mount_up_mm`.
    pub bearing_mm: f64,
    /// The spring's upper seat stands higher; what it differs by from the bearing lies along the strut.
    pub seat_mm: f64,
    /// The shoulder of the damper rod stands higher; what it differs by from the bearing lies along the strut.
    pub shoulder_mm: f64,
    /// The strut's body is longer at its threaded foot, below the collar.
    pub body_mm: f64,
    /// The collar under the spring stands higher on the body.
    pub collar_mm: f64,
}

impl StrutChange {
    /// How much shorter the strut is while the spring keeps its length.
    fn compression_mm(&self) -> f64 {
        self.seat_mm - self.bearing_mm - self.collar_mm - self.body_mm
    }

    /// How much shorter the strut is when the damper runs out, at either stop.
    fn stop_mm(&self) -> f64 {
        self.shoulder_mm - self.bearing_mm - self.body_mm
    }
}

/// Wheel travels from design height to the stops, as far as they are known, both positive.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Stops {
    /// To the bump stop.
    pub bump_mm: Option<f64>,
    /// To full droop.
    pub droop_mm: Option<f64>,
}

/// Where a car settles after a change, its spring as long as before.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settled {
    /// The body stands higher at this wheel.
    pub ride_height_mm: f64,
    /// How much shorter the strut is than at design.
    pub strut_compression_mm: f64,
    /// Wheel travel left to the bump stop.
    pub bump_left_mm: Option<f64>,
    /// Wheel travel left to full droop.
    pub droop_left_mm: Option<f64>,
    /// How much longer the spring is at full droop than at design; negative where its seats come nearer.
    pub spring_longer_at_droop_mm: Option<f64>,
}

/// What holds a spring at full droop.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Preload {
    /// How much shorter than its free length it is held there; negative: the gap in which it lies loose.
    pub length_mm: f64,
    /// The force on it there, if the rate is known; none where it is loose.
    pub force_n: Option<f64>,
}

impl Corner {
    /// The corner with its top raised in the body by what the change says.
    fn raised(setting: &Setting, change: &StrutChange) -> Setting {
        Setting {
            mount_up_mm: setting.mount_up_mm + change.bearing_mm,
            ..*setting
        }
    }

    /// Rise of the contact centre against the body from design, with the strut so much shorter than at design.
    fn rise_mm(&self, setting: &Setting, strut_compression_mm: f64) -> Result<f64, SolveError> {
        let height_mm = |setting: &Setting, travel_mm: f64| {
            let motion = Motion {
                travel_mm,
                ..Motion::default()
            };
            self.solve(setting, &motion, TravelAt::Strut)
                .map(|pose| pose.place(Place::ContactCentre).z)
        };
        Ok(height_mm(setting, strut_compression_mm)? - height_mm(&Setting::default(), 0.0)?)
    }

    /// How much shorter the strut is than at design, with the wheel at a travel measured at the ground.
    fn compression_mm(&self, setting: &Setting, travel_mm: f64) -> Result<f64, SolveError> {
        let motion = Motion {
            travel_mm,
            ..Motion::default()
        };
        let pose = self.solve(setting, &motion, TravelAt::Ground)?;
        Ok(pose.reading(Reading::StrutCompression))
    }

    /// Where this corner's car settles with a setting and a change at the strut, the spring as long as at design.
    ///
    /// ```
    /// # use strutsweep::{demo, Setting, heights::{Stops, StrutChange}};
    /// let corner = demo::car("gravel_hatch").unwrap().left;
    /// let collar = StrutChange { collar_mm: 10.0, ..StrutChange::default() };
    /// let settled = corner.settle(&Setting::default(), &collar, &Stops::default())?;
    /// assert!(settled.ride_height_mm > 9.0); // a collar screwed up raises the car
    /// # Ok::<(), strutsweep::SolveError>(())
    /// ```
    ///
    /// # Errors
    /// [`SolveError`] where a number is not finite or a pose, a stop's among them, is out of reach.
    pub fn settle(&self, setting: &Setting, change: &StrutChange, stops: &Stops) -> Result<Settled, SolveError> {
        let raised = Self::raised(setting, change);
        let strut_compression_mm = change.compression_mm();
        let travel_mm = self.rise_mm(&raised, strut_compression_mm)?;
        // The damper that runs out is the design's: its stops are known by wheel travel as the car was measured.
        let stop = |at_mm: f64| -> Result<(f64, f64), SolveError> {
            let as_measured_mm = self.compression_mm(&Setting::default(), at_mm)?;
            let compression_mm = as_measured_mm + change.stop_mm();
            Ok((compression_mm, self.rise_mm(&raised, compression_mm)?))
        };
        let bump = stops.bump_mm.map(stop).transpose()?;
        let droop = stops.droop_mm.map(|droop_mm| stop(-droop_mm)).transpose()?;
        Ok(Settled {
            ride_height_mm: -travel_mm,
            strut_compression_mm,
            bump_left_mm: bump.map(|(_, at_mm)| at_mm - travel_mm),
            droop_left_mm: droop.map(|(_, at_mm)| travel_mm - at_mm),
            spring_longer_at_droop_mm: droop.map(|(compression_mm, _)| strut_compression_mm - compression_mm),
        })
    }

    /// The collar's height on the body, from where it stood at design, that brings the body to a ride height
    /// `ride_height_mm` above design with this setting and change, whatever the change's own collar says.
    ///
    /// # Errors
    /// As [`Corner::settle`].
    pub fn collar_for_ride_height_mm(
        &self,
        setting: &Setting,
        change: &StrutChange,
        ride_height_mm: f64,
    ) -> Result<f64, SolveError> {
        let without = StrutChange {
            collar_mm: 0.0,
            ..*change
        };
        let wanted_mm = self.compression_mm(&Self::raised(setting, change), -ride_height_mm)?;
        Ok(without.compression_mm() - wanted_mm)
    }
}

impl Spring {
    /// What holds the spring at full droop, if its free length and its seats are known; `longer_mm` is what it is
    /// longer there than at design, as [`Settled`] says.
    pub fn preload(&self, left: &Corner, longer_mm: f64) -> Option<Preload> {
        let length_mm = self.free_length_mm? - (self.length_at_design_mm(left)? + longer_mm);
        Some(Preload {
            length_mm,
            force_n: self.rate_n_per_mm.map(|rate| rate * length_mm.max(0.0)),
        })
    }
}
