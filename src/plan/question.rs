//! What is asked of a planner: wanted readings, free adjusters, what goes along with them; and what can be wrong with
//! it.

use crate::linkage::Status;
use crate::motion::{MOTION_FIELDS, Motion};
use crate::reading::Reading;
use crate::setting::{SETTING_FIELDS, Setting};

/// A reading that is wanted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Want {
    /// Which.
    pub reading: Reading,
    /// In which motion.
    pub motion: Motion,
    /// How much of it counts as one unit of miss where not everything can be met, in the reading's unit.
    pub accuracy: f64,
}

/// An adjuster that is free.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Adjuster {
    /// Its place among [`SETTING_FIELDS`].
    pub field: usize,
    /// How far it goes.
    pub least: f64,
    /// How far it goes the other way.
    pub most: f64,
    /// How much of it counts as one unit of move where several settings do.
    pub effort: f64,
}

/// A field of the setting that goes along with an adjuster: a strut top that slides on a tilted tower face falls as it
/// goes in. If the field is free too, as a top is that can also be shimmed, what is free of it, and limited, is what it
/// goes by itself: what stands in the setting, less what it goes along with others.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tie {
    /// The field that goes along, by its place among [`SETTING_FIELDS`].
    pub field: usize,
    /// The field that it follows.
    pub follows: usize,
    /// How far it goes for each unit that the other is moved from the start.
    pub per: f64,
}

/// The accuracy of a reading unless the user states one: what a good gauge tells.
pub fn usual_accuracy(reading: Reading) -> f64 {
    match reading.unit() {
        "deg" => 0.01,
        "mm" => 0.1,
        "deg/mm" => 1e-4,
        _ => 1e-3,
    }
}

/// The effort of an adjuster unless the user states one: one mm, or a tenth of a degree.
pub fn usual_effort(field: usize) -> f64 {
    if SETTING_FIELDS[field].unit == "deg" { 0.1 } else { 1.0 }
}

/// The farthest from zero that a wanted reading may be, so that a sheet in the wrong unit is told.
pub fn most_wanted(reading: Reading) -> f64 {
    match reading {
        Reading::Camber => 20.0,
        Reading::CamberGain | Reading::BumpSteer | Reading::CasterGain | Reading::TieRodMargin => 1.0,
        _ if reading.unit() == "deg" => 60.0,
        Reading::SwingArmLength | Reading::SideViewSwingArm | Reading::RollCentreHeight => 1e6,
        Reading::MotionRatio => 10.0,
        _ => 20_000.0,
    }
}

/// What can be wrong with what is asked of a planner.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum PlanError {
    /// No reading is wanted.
    #[error("nothing is wanted: give at least one reading and its value")]
    NothingWanted,
    /// No adjuster is free.
    #[error("nothing is free: give at least one adjuster that may be moved")]
    NothingFree,
    /// The same reading twice in one motion.
    #[error("{reading} is wanted twice at {}", in_words(motion))]
    WantedTwice {
        /// The reading's name.
        reading: &'static str,
        /// The motion.
        motion: Motion,
    },
    /// The same adjuster twice.
    #[error("{0} is free twice")]
    FreeTwice(&'static str),
    /// A limit that leaves nothing, or is no number.
    #[error("the limits of {name} leave nothing: from {least} to {most} {unit}")]
    EmptyLimits {
        /// The adjuster.
        name: &'static str,
        /// Its limits.
        least: f64,
        /// Its limits.
        most: f64,
        /// Their unit.
        unit: &'static str,
    },
    /// The present setting lies beyond its limits.
    #[error("{name} stands at {start} {unit}{}, outside its limits from {least} to {most} {unit}", along_words(*along, unit))]
    StartsOutside {
        /// The adjuster.
        name: &'static str,
        /// Where it stands, by itself.
        start: f64,
        /// What of the setting it goes along with others.
        along: f64,
        /// Its limits.
        least: f64,
        /// Its limits.
        most: f64,
        /// Their unit.
        unit: &'static str,
    },
    /// A value that no wheel has.
    #[error("{reading} = {value} {unit} is wanted, more than {most} {unit} from zero: is this another unit?")]
    WrongUnit {
        /// The reading.
        reading: &'static str,
        /// What is wanted.
        value: f64,
        /// The reading's unit.
        unit: &'static str,
        /// The limit.
        most: f64,
    },
    /// A field that follows itself, follows another one that follows, or follows by what is no number.
    #[error("{name} cannot follow {follows} by {per}: {why}")]
    NoTie {
        /// The field that was to follow.
        name: &'static str,
        /// What it was to follow.
        follows: &'static str,
        /// By how much.
        per: f64,
        /// What is wrong.
        why: &'static str,
    },
    /// An accuracy or an effort that is not a number above zero.
    #[error("the {what} of {name} is {value}: a finite number above zero is needed")]
    NoScale {
        /// `accuracy` or `effort`.
        what: &'static str,
        /// Of what.
        name: &'static str,
        /// What was given.
        value: f64,
    },
    /// An adjuster that does nothing to what is wanted.
    #[error(
        "{name} moves none of the wanted readings ({readings}): {move_by} {unit} of it change less than a gauge tells"
    )]
    MovesNothing {
        /// The adjuster.
        name: &'static str,
        /// How far it was thought to move.
        move_by: f64,
        /// In which unit.
        unit: &'static str,
        /// Names of the readings.
        readings: String,
    },
    /// The corner cannot stand in a motion where something is wanted, as it is set now.
    #[error("as it is set now the corner cannot stand at {}: {}", in_words(motion), status.reason())]
    StartOutOfReach {
        /// The motion.
        motion: Motion,
        /// What ran out.
        status: Status,
    },
    /// Not as many values as readings.
    #[error("{found} values for {wanted} wanted readings")]
    Count {
        /// How many readings are wanted.
        wanted: usize,
        /// How many values were given.
        found: usize,
    },
    /// Cancelled before its end.
    #[error("cancelled")]
    Cancelled,
    /// The threads could not be started.
    #[error("{0}")]
    Threads(String),
}

fn in_words(motion: &Motion) -> String {
    let fields = MOTION_FIELDS.iter().zip(motion.to_array());
    let parts: Vec<String> = fields
        .map(|(field, value)| format!("{} {value} {}", field.name, field.unit))
        .collect();
    parts.join(", ")
}

pub(super) fn check_wants(wants: &[Want]) -> Result<(), PlanError> {
    if wants.is_empty() {
        return Err(PlanError::NothingWanted);
    }
    for (place, want) in wants.iter().enumerate() {
        let same = |other: &Want| other.reading == want.reading && other.motion == want.motion;
        if wants[..place].iter().any(same) {
            return Err(PlanError::WantedTwice {
                reading: want.reading.name(),
                motion: want.motion,
            });
        }
        check_scale("accuracy", want.reading.name(), want.accuracy)?;
    }
    Ok(())
}

/// How far beyond its limit an adjuster may stand: what a setting loses where it is taken apart and put together again.
const ROUND_OFF: f64 = 1e-9;

/// What a field goes along with others, in words.
fn along_words(along: f64, unit: &str) -> String {
    if along == 0.0 {
        String::new()
    } else {
        format!(" by itself (without {along} {unit} that it goes along with others)")
    }
}

/// How far a field goes by itself: what stands in the setting, less what it goes along with others.
pub(super) fn by_itself(setting: &Setting, field: usize, ties: &[Tie]) -> f64 {
    let setting = setting.to_array();
    let along: f64 = ties
        .iter()
        .filter(|tie| tie.field == field)
        .map(|tie| tie.per * setting[tie.follows])
        .sum();
    setting[field] - along
}

pub(super) fn check_adjusters(start: &Setting, adjusters: &[Adjuster], ties: &[Tie]) -> Result<(), PlanError> {
    if adjusters.is_empty() {
        return Err(PlanError::NothingFree);
    }
    for (place, adjuster) in adjusters.iter().enumerate() {
        let field = &SETTING_FIELDS[adjuster.field];
        let (name, unit) = (field.name, field.unit);
        if adjusters[..place].iter().any(|other| other.field == adjuster.field) {
            return Err(PlanError::FreeTwice(name));
        }
        check_scale("effort", name, adjuster.effort)?;
        let (least, most) = (adjuster.least, adjuster.most);
        if !(least <= most) {
            return Err(PlanError::EmptyLimits {
                name,
                least,
                most,
                unit,
            });
        }
        let whole = start.to_array()[adjuster.field];
        let start = by_itself(start, adjuster.field, ties);
        if !(least - ROUND_OFF <= start && start <= most + ROUND_OFF) {
            return Err(PlanError::StartsOutside {
                name,
                start,
                along: whole - start,
                least,
                most,
                unit,
            });
        }
    }
    Ok(())
}

pub(super) fn check_ties(ties: &[Tie]) -> Result<(), PlanError> {
    let follows_too = |field: usize| ties.iter().any(|tie| tie.field == field);
    for tie in ties {
        let wrong = |why| {
            Err(PlanError::NoTie {
                name: SETTING_FIELDS[tie.field].name,
                follows: SETTING_FIELDS[tie.follows].name,
                per: tie.per,
                why,
            })
        };
        if tie.field == tie.follows {
            return wrong("that is itself");
        }
        if follows_too(tie.follows) {
            return wrong("that follows another one");
        }
        if !tie.per.is_finite() {
            return wrong("a finite number is needed");
        }
    }
    Ok(())
}

fn check_scale(what: &'static str, name: &'static str, value: f64) -> Result<(), PlanError> {
    if value.is_finite() && value > 0.0 {
        Ok(())
    } else {
        Err(PlanError::NoScale { what, name, value })
    }
}
