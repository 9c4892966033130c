//! Kinematics of the MacPherson strut: from the hard points of a corner to camber, toe, caster, kingpin inclination,
//! scrub radius and the rest, over all of travel and lock and any number of top-mount positions.
//!
//! Four nouns, and arrows between them. A [`Corner`] holds hard points, a [`Setting`] what a spanner changes, a
//! [`Motion`] what road and driver change, a [`Reading`] what gauges show. [`Corner::solve`] and [`Sweep`] go from the
//! first three to the last.
//!
//! Axes are ISO 8855's: X forward, Y left, Z up. Millimetres and degrees at every face, with the unit in the name;
//! radians only inside. Left and right corners read alike.
//!
//! ```
//! use strutsweep::{Motion, Reading, Setting, TravelAt, demo};
//!
//! let corner = demo::car("hillclimb_saloon").unwrap().left;
//! let inboard = Setting { mount_in_mm: 10.0, ..Setting::default() };
//! let before = corner.solve(&Setting::default(), &Motion::default(), TravelAt::Ground)?;
//! let after = corner.solve(&inboard, &Motion::default(), TravelAt::Ground)?;
//! let camber = after.reading(Reading::Camber) - before.reading(Reading::Camber);
//! assert!((camber + 0.79).abs() < 0.01); // 10 mm inboard: 0.79 deg more negative camber
//! # Ok::<(), strutsweep::SolveError>(())
//! ```

// What formulas run on, and space without a suspension in it.
pub mod angle;
pub mod lanes;
pub mod least_squares;
pub mod number;
pub mod outline;
pub mod space;

// The nouns.
pub mod error;
pub mod hard_points;
pub mod motion;
pub mod reading;
pub mod setting;
pub mod top_plate;

// How a corner moves, and what gauges show of it.
pub mod gauge;
pub mod linkage;
pub mod rig;
pub mod track;

// A corner: hard points that can be moved.
pub mod corner;

// One pose and its slopes; any grid of poses.
pub mod derivative;
pub mod pose;
pub mod steering;
pub mod strut_load;
pub mod sweep;

// Slopes of many poses; samples summed up.
pub mod jacobian;
pub mod statistics;
// The way back: from readings to the setting that gives them.
pub mod plan;
pub mod settle;

// A car and its file.
pub mod axle;
pub mod axle_reading;
pub mod demo;
pub mod file;
pub mod heights;
pub mod spring;
pub mod tie_rod;

#[cfg(feature = "python")]
mod python;

pub use axle::Axle;
pub use axle_reading::AxleReading;
pub use corner::{Corner, HardPoint, HardPoints, Side};
pub use error::{Fault, GeometryError, Given, InputError, ReachError};
pub use file::FileError;
pub use linkage::Status;
pub use motion::{Motion, TravelAt};
pub use outline::Outline;
pub use pose::{Place, Pose, SolveError};
pub use reading::Reading;
pub use setting::Setting;
pub use sweep::{Quantity, Sweep, SweepError, Swept, Watch};
pub use top_plate::TopPlate;
