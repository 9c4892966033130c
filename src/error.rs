//! What can be wrong with an input, in words for the one who typed it.
//!
//! Wrong input is an error, told with the field, the value and the limit. A pose that cannot be reached is no error of
//! the input: it is a [`Status`], and becomes a [`ReachError`] only where a single pose was
//! asked for.

use std::fmt;

use crate::linkage::Status;

/// The value that was given, as it is shown in a message.
#[derive(Clone, Debug, PartialEq)]
pub enum Given {
    /// A number.
    Number(f64),
    /// The coordinates of a point or the components of a direction.
    Triple([f64; 3]),
    /// Anything else, as text.
    Text(String),
}

impl fmt::Display for Given {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Number(value) => write!(f, "{value}"),
            Self::Triple([x, y, z]) => write!(f, "[{x}, {y}, {z}]"),
            Self::Text(text) => write!(f, "{text}"),
        }
    }
}

/// What is wrong with the hard points of a corner.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Fault {
    /// NaN or infinity.
    #[error("is not a finite number")]
    NotFinite,
    /// A number below its least allowed value.
    #[error("is less than {least} {unit}{hint}")]
    TooSmall {
        /// The least value allowed.
        least: f64,
        /// The unit of the limit.
        unit: &'static str,
        /// What the user may have meant, with its leading separator, or nothing.
        hint: &'static str,
    },
    /// A number above its greatest allowed value.
    #[error("is more than {most} {unit}{hint}")]
    TooLarge {
        /// The greatest value allowed.
        most: f64,
        /// The unit of the limit.
        unit: &'static str,
        /// What the user may have meant, with its leading separator, or nothing.
        hint: &'static str,
    },
    /// The hub lies so near the car's centre plane that left and right cannot be told.
    #[error(
        "does not tell left from right: its Y must be at least {least_mm} mm from the car's centre plane Y = 0 (are these metres?)"
    )]
    NoSide {
        /// The least distance allowed.
        least_mm: f64,
    },
    /// A point of the wheel's side of the corner lies across the car.
    #[error("lies on the {found} of the car (Y is {} there), but this corner is a {wanted} one", if *found == "left" { "positive" } else { "negative" })]
    WrongSide {
        /// The side that the point lies on.
        found: &'static str,
        /// The side of the corner.
        wanted: &'static str,
    },
    /// Two points that must be apart coincide or nearly so.
    #[error("is only {distance_mm:.6} mm from {other}; at least {least_mm} mm is needed")]
    TooNear {
        /// The field of the other point or line, in words.
        other: &'static str,
        /// The distance found.
        distance_mm: f64,
        /// The least distance allowed.
        least_mm: f64,
    },
    /// Two directions that must differ are nearly parallel.
    #[error("lies along {other}: the angle between them is {angle_deg:.4} deg, at least {least_deg} deg is needed")]
    AlongSide {
        /// The other direction, in words.
        other: &'static str,
        /// The angle found.
        angle_deg: f64,
        /// The least angle allowed.
        least_deg: f64,
    },
    /// The order of two points along the strut or in height is upside down.
    #[error("is not above {other} ({by}): are the two swapped?")]
    UpsideDown {
        /// The point that should lie below, in words.
        other: &'static str,
        /// How the height is taken.
        by: &'static str,
    },
    /// The tie rod and its arm are in line at design: the steer angle is undetermined.
    #[error(
        "puts the tie rod in line with the steering arm (over-centre): the sine of the angle between them is {margin:.6}, at least {least} is needed"
    )]
    OverCentre {
        /// The sine found.
        margin: f64,
        /// The least sine allowed.
        least: f64,
    },
    /// The corners of an axle disagree about their rack.
    #[error("differs from the other corner's: an axle has one rack")]
    TwoRacks,
    /// The wheel does not rise with the ball joint.
    #[error(
        "does not lift the wheel: travel at the {travel_at} grows by {rise:.6} mm per mm that it rises at design, at least {least} is needed"
    )]
    NoWheelRise {
        /// Where travel is measured.
        travel_at: &'static str,
        /// Travel per rise of the ball joint.
        rise: f64,
        /// The least allowed.
        least: f64,
    },
    /// A slot whose second end lies before its first.
    #[error("is a slot of negative length: {length_mm} mm from its first end to its second")]
    NegativeLength {
        /// The length found.
        length_mm: f64,
    },
    /// A list with fewer entries than it needs.
    #[error("is too few: at least {least} {what} {} needed", if *least == 1 { "is" } else { "are" })]
    TooFew {
        /// What is listed, in words.
        what: &'static str,
        /// The least number allowed.
        least: usize,
    },
    /// Lists that belong together and differ in length.
    #[error("does not match {other}, which has {wanted}")]
    OtherCount {
        /// The other list.
        other: &'static str,
        /// How many it has.
        wanted: usize,
    },
    /// An angle of an insert at which its bolts do not meet their slots.
    #[error(
        "does not fit {other}: {bolts} bolt{} evenly spaced take an insert that stands at {first_deg} deg at {turned} deg too{}", if *bolts == 1 { "" } else { "s" }, over(turned, mirrored)
    )]
    OffPattern {
        /// The bolts' field.
        other: &'static str,
        /// How many there are.
        bolts: u32,
        /// Where the insert stands in its first position.
        first_deg: f64,
        /// Where it stands turned round.
        turned: String,
        /// Where it stands turned over.
        mirrored: String,
    },
    /// A polygon with two neighbouring corners in one place.
    #[error("repeats a corner: number {first} and the one after it are in one place")]
    SameCorner {
        /// The first of the two, counted from one.
        first: usize,
    },
    /// A polygon whose sides cross or touch.
    #[error("crosses itself: its sides number {first} and {second} meet")]
    CrossesItself {
        /// One side, counted from one.
        first: usize,
        /// The other.
        second: usize,
    },
    /// A normal that does not point up.
    #[error("does not point up: its Z must be at least {least_rise} of its length")]
    NotUpward {
        /// The least share of its length along Z.
        least_rise: f64,
    },
    /// The ball joint does not rise as the arm turns.
    #[error(
        "does not lift the wheel: the ball joint rises {rise:.6} mm per mm of its path at design, at least {least} is needed (is the arm's axis upright?)"
    )]
    NoRise {
        /// Rise per length of path.
        rise: f64,
        /// The least rise allowed.
        least: f64,
    },
}

/// Where an insert stands turned over, if that is another place than turned round.
fn over(turned: &str, mirrored: &str) -> String {
    if turned == mirrored {
        String::new()
    } else {
        format!(", and turned over at {mirrored} deg")
    }
}

impl Fault {
    /// The limit that the value broke, where the limit is one number, and its unit.
    pub fn limit(&self) -> Option<(f64, &'static str)> {
        match *self {
            Self::NotFinite
            | Self::TwoRacks
            | Self::WrongSide { .. }
            | Self::UpsideDown { .. }
            | Self::OffPattern { .. }
            | Self::SameCorner { .. }
            | Self::CrossesItself { .. } => None,
            Self::NegativeLength { .. } => Some((0.0, "mm")),
            Self::TooFew { least, .. } => Some((least as f64, "1")),
            Self::OtherCount { wanted, .. } => Some((wanted as f64, "1")),
            Self::NotUpward { least_rise } => Some((least_rise, "1")),
            Self::TooSmall { least, unit, .. } => Some((least, unit)),
            Self::TooLarge { most, unit, .. } => Some((most, unit)),
            Self::NoSide { least_mm } | Self::TooNear { least_mm, .. } => Some((least_mm, "mm")),
            Self::AlongSide { least_deg, .. } => Some((least_deg, "deg")),
            Self::OverCentre { least, .. } | Self::NoRise { least, .. } | Self::NoWheelRise { least, .. } => {
                Some((least, "1"))
            }
        }
    }
}

/// Hard points that make no corner: which field, what was given, what is wrong with it.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{field} = {value} {fault}")]
pub struct GeometryError {
    /// The field as the car file spells it, such as `lower_arm.ball_joint`.
    pub field: String,
    /// The value that was given.
    pub value: Given,
    /// What is wrong with it.
    pub fault: Fault,
}

impl GeometryError {
    /// The error for one field.
    pub fn new(field: &str, value: Given, fault: Fault) -> Self {
        Self {
            field: field.to_owned(),
            value,
            fault,
        }
    }

    /// The same error with its field named from further out: `strut.top` becomes `right.strut.top`.
    #[must_use]
    pub fn within(mut self, table: &str) -> Self {
        self.field = format!("{table}.{}", self.field);
        self
    }
}

/// A single pose that was asked for and cannot be reached.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("this pose is out of reach: {}", status.reason())]
pub struct ReachError {
    /// Which part ran out.
    pub status: Status,
}

/// Farther than this no part of a corner is moved.
pub const MOST_INPUT_MM: f64 = 20_000.0;
/// Farther than this no clamp is turned.
pub const MOST_INPUT_DEG: f64 = 180.0;

/// An input of `solve` or `sweep` that is no number to work with.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{field} = {value}{} {}", index.map_or(String::new(), |i| format!(" (element {i})")), fault(*value, *most, unit))]
pub struct InputError {
    /// The name of the input.
    pub field: String,
    /// The value found.
    pub value: f64,
    /// Where in a flattened array it stood.
    pub index: Option<usize>,
    /// The greatest magnitude allowed.
    pub most: f64,
    /// Its unit.
    pub unit: &'static str,
}

fn fault(value: f64, most: f64, unit: &str) -> String {
    if value.is_finite() {
        format!("is more than {most} {unit} from zero")
    } else {
        "is not a finite number".to_owned()
    }
}
