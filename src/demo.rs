//! The demonstration cars. Both are invented: no real car, and no number measured on one.

use crate::axle::Axle;
use crate::file;

/// The demonstration cars: name and car file.
pub const CARS: [(&str, &str); 2] = [
    ("gravel_hatch", include_str!("demo/gravel_hatch.toml")),
    ("hillclimb_saloon", include_str!("demo/hillclimb_saloon.toml")),
];

/// The car file of a demonstration car, as text; nothing for another name.
pub fn text(name: &str) -> Option<&'static str> {
    CARS.iter().find(|(car, _)| *car == name).map(|(_, text)| *text)
}

/// A demonstration car; nothing for another name.
///
/// # Panics
/// Never: the car files are part of the crate, and its tests read them.
pub fn car(name: &str) -> Option<Axle> {
    text(name).map(|text| file::from_toml(text).expect("a demonstration car is a valid car file"))
}
