//! Where the hardware of a strut top must stand for wanted angles: slides of plate and insert, and the tie rod.
//!
//! As many unknowns as angles, one place beside another: each has a car, a ride height and a position of its insert of
//! its own. (A [`Planner`](crate::plan::Planner) asks one car in one setting for many readings, within limits; here each
//! place starts from another setting, and slots' ends are what is sought.)
//!
//! # The mathematics
//!
//! Newton's method. Slopes are exact: those of camber, caster and toe in the strut top's three coordinates and in the
//! tie rod are carried by dual numbers ([`crate::derivative`]), and the top's coordinates are linear in the slides
//! ([`TopPlate::mount`]), so that a slope in a slide is the sum of three by the chain rule. A step goes no farther than
//! [`LONGEST_STEP_MM`] in each unknown.

use std::sync::atomic::{AtomicBool, Ordering};

use rayon::prelude::*;

use crate::corner::Corner;
use crate::derivative::{Parameter, Sloped};
use crate::hard_points::{HardPoint, HardPoints};
use crate::least_squares::{Equations, MOST_UNKNOWNS};
use crate::motion::{Motion, TravelAt};
use crate::number::Dual;
use crate::reading::{Reading, Wanted};
use crate::rig::Rig;
use crate::setting::{SETTING_FIELDS, Setting};
use crate::space::Point;
use crate::sweep::threads::pool;
use crate::top_plate::TopPlate;

/// Steps after which a place is given up. Three to five are usual.
const MOST_STEPS: usize = 20;
/// A longer step than this is not to be trusted: no slot is as long.
pub const LONGEST_STEP_MM: f64 = 30.0;
/// No slot slides so far: what is still not met there is out of reach.
pub const FARTHEST_MM: f64 = 300.0;

/// The angles that can be wanted, in the order of [`Place::wanted_deg`].
pub const ANGLES: [Reading; 3] = [Reading::Camber, Reading::Caster, Reading::Toe];
/// What can be unknown, in the order of [`Place::start_mm`].
pub const UNKNOWNS: [&str; 3] = ["plate", "insert", "tie_rod"];

/// Fields of the setting that the hardware changes, by their places among [`SETTING_FIELDS`]: the strut top's three
/// coordinates (`mount_in`, `mount_back`, `mount_up`), then `tie_rod`.
pub const FIELDS: [usize; 4] = [0, 1, 2, 3];

/// One place of the hardware, and what is wanted there.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// The insert's position, counted from 0.
    pub position: usize,
    /// Travel at which the car stands and is set.
    pub ride_height_mm: f64,
    /// Further in, back and up than the hardware puts the mount: a tower that is not where it should be.
    pub tower_mm: [f64; 3],
    /// Slides of plate and insert, and tie rod, to start from; what is not unknown stays.
    pub start_mm: [f64; 3],
    /// Camber, caster and toe.
    pub wanted_deg: [f64; 3],
    /// Hard points of this place's car that are elsewhere than the corner's.
    pub points: Vec<(HardPoint, Point)>,
}

/// What is asked of every place.
#[derive(Clone, Debug)]
pub struct Question<'a> {
    /// The corner.
    pub corner: &'a Corner,
    /// Its adjustable top.
    pub plate: &'a TopPlate,
    /// Where travel is measured.
    pub travel_at: TravelAt,
    /// Which of [`UNKNOWNS`] are.
    pub unknown: [bool; 3],
    /// Which of [`ANGLES`] are wanted: as many.
    pub wanted: [bool; 3],
    /// A wanted angle counts as met within this.
    pub met_deg: f64,
}

/// Where the hardware stands, and what the gauges show there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settled {
    /// Slides of plate and insert, and tie rod.
    pub at_mm: [f64; 3],
    /// Camber, caster and toe.
    pub angles_deg: [f64; 3],
}

/// Angles at a place, and their slopes in slides and tie rod.
struct Look {
    angles_deg: [f64; 3],
    slopes: [[f64; 3]; 3],
}

impl Question<'_> {
    /// Where a place's hardware stands with the wanted angles met; nothing where they cannot be.
    pub fn settle(&self, place: &Place) -> Option<Settled> {
        let rows: Vec<usize> = (0..3).filter(|&row| self.wanted[row]).collect();
        let columns: Vec<usize> = (0..3).filter(|&column| self.unknown[column]).collect();
        let mut points = *self.corner.points();
        for (point, at) in &place.points {
            point.place(&mut points, *at);
        }
        let mut at_mm = place.start_mm;
        for _ in 0..MOST_STEPS {
            let here = self.look(&points, place, at_mm)?;
            let miss: Vec<f64> = rows
                .iter()
                .map(|&row| here.angles_deg[row] - place.wanted_deg[row])
                .collect();
            if miss.iter().all(|miss| miss.abs() < self.met_deg) {
                return Some(Settled {
                    at_mm,
                    angles_deg: here.angles_deg,
                });
            }
            let mut equations = Equations::new(rows.len(), columns.len());
            for (equation, &row) in rows.iter().enumerate() {
                for (unknown, &column) in columns.iter().enumerate() {
                    equations.set(equation, unknown, here.slopes[row][column]);
                }
            }
            let right: Vec<f64> = miss.iter().map(|miss| -miss).collect();
            let step = equations.solve_within(
                &right,
                &[-LONGEST_STEP_MM; MOST_UNKNOWNS],
                &[LONGEST_STEP_MM; MOST_UNKNOWNS],
                &[0.0; MOST_UNKNOWNS],
            );
            for (&column, step) in columns.iter().zip(step) {
                at_mm[column] += step;
            }
            // Not `> FARTHEST_MM`: what is no number is out of reach too.
            if !at_mm.iter().all(|at| at.abs() <= FARTHEST_MM) {
                return None;
            }
        }
        None
    }

    /// As [`Self::settle`], for many places, on this many threads (all of the machine's if zero). Nothing comes back once
    /// `cancelled` is set. The same bits come out for any number of threads.
    ///
    /// # Errors
    /// The system's word if threads cannot be started.
    pub fn settle_many(
        &self,
        places: &[Place],
        threads: usize,
        cancelled: &AtomicBool,
    ) -> Result<Vec<Option<Settled>>, String> {
        let pool = pool(threads).map_err(|error| error.to_string())?;
        Ok(pool.install(|| {
            places
                .par_iter()
                .with_min_len(16)
                .map(|place| {
                    (!cancelled.load(Ordering::Relaxed))
                        .then(|| self.settle(place))
                        .flatten()
                })
                .collect()
        }))
    }

    /// Angles and slopes with the hardware somewhere; nothing where the linkage does not reach.
    fn look(&self, points: &HardPoints, place: &Place, at_mm: [f64; 3]) -> Option<Look> {
        let side = self.corner.side();
        let slides: [Dual<f64, 2>; 2] = [Dual::variable(at_mm[0], 0), Dual::variable(at_mm[1], 1)];
        let mount = self.plate.mount(slides[0], slides[1], place.position);
        let mut setting = [0.0; SETTING_FIELDS.len()];
        for axis in 0..3 {
            setting[FIELDS[axis]] = mount[axis].value + place.tower_mm[axis];
        }
        setting[FIELDS[3]] = at_mm[2];
        let setting = Setting::from_array(setting);
        let motion = Motion {
            travel_mm: place.ride_height_mm,
            ..Motion::default()
        };
        let rig = Rig::new(&side.left_twin(points), &setting);
        let t = rig.reach(&motion.of_left_twin(side), self.travel_at).ok()?;
        let wanted = ANGLES.into_iter().fold(Wanted::NONE, Wanted::with);
        let sloped = Sloped::<4>::new(
            (points, side),
            (&rig, t),
            (&motion, self.travel_at),
            &FIELDS.map(Parameter::Setting),
            wanted,
        );
        let read = ANGLES.map(|angle| sloped.readings[angle as usize].0);
        Some(Look {
            angles_deg: read.map(|angle| angle.value),
            slopes: read.map(|angle| {
                let by_slide = |slide: usize| (0..3).map(|axis| angle.slope[axis] * mount[axis].slope[slide]).sum();
                [by_slide(0), by_slide(1), angle.slope[3]]
            }),
        })
    }
}
