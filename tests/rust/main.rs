//! The engine held against the outside world: published numbers, exact relations, second methods, properties, limits.
//!
//! Beside each check stands where its expectation comes from:
//! PUBLISHED (read in the source), MEMORY (recalled from a source, not read again), IDENTITY (follows from geometry,
//! derivation given or cited), SECOND METHOD (computed by code that shares nothing with the engine's formulas).

mod axle;
mod branch;
mod car_file;
mod constraints;
mod corners;
mod degenerate;
mod dual_numbers;
mod extremes;
mod heights;
mod lanes;
mod least_squares;
mod limits;
mod plan;
mod planar_strut;
mod printed;
mod properties;
mod relations;
mod roll;
mod slopes;
mod spatial_strut;
mod sweep;
mod top_plate;
