//! Car files: TOML in and out.
//!
//! Lengths are millimetres, angles degrees, points in the car's coordinates (X forward, Y left, Z up). The main tables
//! describe the left corner. The right one is its mirror image, but for what `[right.*]` tables give, in the car's own
//! coordinates, so with a negative Y. What is written reads back as the same numbers to the last bit.

use std::fmt;
use std::path::{Path, PathBuf};

use crate::axle::Axle;
use crate::corner::Corner;
use crate::error::GeometryError;
use crate::top_plate::TopPlate;

mod plate;
mod read;
mod tree;
mod write;

/// The version of the car file's form that this crate reads and writes.
pub const SCHEMA: u32 = 1;

/// What is wrong with a car file, and where.
#[derive(Clone, Debug, PartialEq)]
pub struct FileError {
    /// The file, if the text came from one.
    pub path: Option<PathBuf>,
    /// The line, counted from one, if the text has lines.
    pub line: Option<usize>,
    /// What is wrong.
    pub fault: FileFault,
}

/// The kinds of trouble with a car file.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum FileFault {
    /// The file cannot be read or written.
    #[error("{0}")]
    System(String),
    /// The text is not TOML.
    #[error("not valid TOML: {0}")]
    Syntax(String),
    /// A key that no car file has.
    #[error("unknown key `{key}` in {}{}", place(table), advice(*nearest, known))]
    UnknownKey {
        /// The table it stands in; empty for the top of the file.
        table: String,
        /// The key.
        key: String,
        /// The known key nearest to it.
        nearest: Option<&'static str>,
        /// The keys known there.
        known: Vec<&'static str>,
    },
    /// A key that every car file needs.
    #[error("`{field}` is missing: {wanted}")]
    Missing {
        /// The field.
        field: String,
        /// What it should be.
        wanted: &'static str,
    },
    /// A key that stands in another table.
    #[error("`{field}` stands elsewhere: give it as `{instead}`")]
    Elsewhere {
        /// The field.
        field: String,
        /// Where it belongs.
        instead: &'static str,
    },
    /// A value of the wrong kind.
    #[error("`{field}` is {found} where {wanted} should be")]
    WrongKind {
        /// The field.
        field: String,
        /// What stands there.
        found: &'static str,
        /// What should.
        wanted: &'static str,
    },
    /// A point that has not three coordinates.
    #[error("`{field}` has {found} numbers where three should be: [x, y, z]")]
    WrongCount {
        /// The field.
        field: String,
        /// How many stand there.
        found: usize,
    },
    /// A form of file that this version does not know.
    #[error("`schema` = {found}, but this version reads schema {SCHEMA}")]
    Schema {
        /// The schema found.
        found: f64,
    },
    /// The numbers make no corner.
    #[error(transparent)]
    Geometry(GeometryError),
}

fn place(table: &str) -> String {
    if table.is_empty() {
        "the top of the file".to_owned()
    } else {
        format!("[{table}]")
    }
}

fn advice(nearest: Option<&'static str>, known: &[&'static str]) -> String {
    match nearest {
        Some(nearest) => format!("; did you mean `{nearest}`?"),
        None => format!("; keys known there: {}", known.join(", ")),
    }
}

impl fmt::Display for FileError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (&self.path, self.line) {
            (Some(path), Some(line)) => write!(f, "{}, line {line}: ", path.display())?,
            (Some(path), None) => write!(f, "{}: ", path.display())?,
            (None, Some(line)) => write!(f, "line {line}: ")?,
            (None, None) => {}
        }
        write!(f, "{}", self.fault)
    }
}

impl std::error::Error for FileError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match &self.fault {
            FileFault::Geometry(error) => Some(error),
            _ => None,
        }
    }
}

impl FileError {
    /// The same error, said of this file.
    #[must_use]
    fn of(mut self, path: &Path) -> Self {
        self.path = Some(path.to_owned());
        self
    }
}

/// Read a car from the text of a car file.
///
/// ```
/// use strutsweep::{demo, file};
/// let text = demo::text("gravel_hatch").unwrap();
/// let mistyped = text.replace("ball_joint", "ball_jiont");
/// let error = file::from_toml(&mistyped).unwrap_err();
/// assert_eq!(error.to_string(), "line 10: unknown key `ball_jiont` in [lower_arm]; did you mean `ball_joint`?");
/// ```
///
/// # Errors
/// [`FileError`] with the line, the field, the value and what is wrong with it.
pub fn from_toml(text: &str) -> Result<Axle, FileError> {
    read::axle(&tree::Item::from_text(text)?)
}

/// Read a car from tables built in memory, of the same form as a car file.
///
/// # Errors
/// As [`from_toml`], without lines.
pub fn from_table(table: &toml::Table) -> Result<Axle, FileError> {
    read::axle(&tree::Item::from_table(table))
}

/// Read one corner, of either side, from tables built in memory: `name`, `lower_arm`, `strut`, `tie_rod`, `wheel` and
/// the direction of a `rack`, as a car file has them.
///
/// # Errors
/// As [`from_table`].
pub fn corner_from_table(table: &toml::Table) -> Result<Corner, FileError> {
    read::corner(&tree::Item::from_table(table))
}

/// Read a top plate from a table built in memory, of the form of a car file's `top_plate`.
///
/// # Errors
/// As [`from_table`].
pub fn top_plate_from_table(table: &toml::Table) -> Result<TopPlate, FileError> {
    read::top_plate(&tree::Item::from_table(table))
}

/// Read a car file.
///
/// # Errors
/// As [`from_toml`], with the path; and if the file cannot be read.
pub fn load(path: &Path) -> Result<Axle, FileError> {
    std::fs::read_to_string(path)
        .map_err(|error| system(&error))
        .and_then(|text| from_toml(&text))
        .map_err(|error| error.of(path))
}

/// Write a car file.
///
/// # Errors
/// If the file cannot be written.
pub fn save(axle: &Axle, path: &Path) -> Result<(), FileError> {
    std::fs::write(path, to_toml(axle)).map_err(|error| system(&error).of(path))
}

fn system(error: &std::io::Error) -> FileError {
    FileError {
        path: None,
        line: None,
        // The system's number for the error tells a user nothing.
        fault: FileFault::System(
            error
                .to_string()
                .split(" (os error")
                .next()
                .unwrap_or_default()
                .to_owned(),
        ),
    }
}

pub use plate::top_plate_to_table;
#[cfg(feature = "python")]
pub(crate) use tree::nearest;
pub use write::{corner_to_table, to_table, to_toml};
