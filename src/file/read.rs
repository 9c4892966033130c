//! What the tables of a car file mean.

use super::plate;
use super::tree::{Item, Table};
use super::{FileError, FileFault, SCHEMA};
use crate::axle::{Axle, Dimensions, Envelope, Limits, Rack};
use crate::corner::{Corner, HardPoints, RACK_ACROSS};
use crate::error::GeometryError;
use crate::space::{Point, Vector};
use crate::spring::{Damper, Spring};
use crate::tie_rod::{Hand, Thread, TieRod};
use crate::top_plate::TopPlate;

/// A car.
pub(super) fn axle(tree: &Item) -> Result<Axle, FileError> {
    let mut root = Table::root(tree);
    let mut lines = Lines::default();
    schema(&mut root)?;
    let name = root.text("name")?.unwrap_or_else(|| "unnamed car".to_owned());
    let note = root.text("note")?;
    let mut draft = Draft {
        tie_rod: Some(TieRod::default()),
        ..Draft::default()
    };
    draft.read(&mut root, &mut lines)?;
    let (rack, rack_direction) = rack(&mut root, &mut lines)?;
    draft.rack_direction = rack_direction;
    let dimensions = dimensions(&mut root, &mut lines)?;
    let limits = limits(&mut root, &mut lines)?;
    let envelope = envelope(&mut root, &mut lines)?;
    let spring = spring(&mut root, &mut lines)?;
    let damper = damper(&mut root, &mut lines)?;
    let top_plate = root
        .table("top_plate")?
        .map(|table| plate::top_plate(table, &mut lines))
        .transpose()?;
    let right_tables = root.table("right")?;
    // Before what is missing is told: a mistyped table is both, and its name is the better clue.
    root.finish()?;

    let left = Corner::new(&name, draft.complete("")?).map_err(|error| lines.locate(error))?;
    let left_is_left = Axle::new(&name, left.clone(), None).map_err(|error| lines.locate(error))?;
    let left_tie_rod = draft.tie_rod.unwrap_or_default();
    let mut right_tie_rod = left_tie_rod;
    check_threads(&left_tie_rod, "tie_rod")?;
    let right = match right_tables {
        None => left_is_left.right,
        Some(mut tables) => {
            // Lines of the left corner's fields must not be told of the right corner's.
            let mut lines = Lines::default();
            let mut draft = Draft {
                tie_rod: Some(left_tie_rod),
                ..Draft::from(left_is_left.right.points())
            };
            draft.read(&mut tables, &mut lines)?;
            tables.finish()?;
            right_tie_rod = draft.tie_rod.unwrap_or_default();
            check_threads(&right_tie_rod, "right.tie_rod")?;
            right_tie_rod
                .check("tie_rod")
                .map_err(|error| lines.locate_right(error))?;
            let corner = draft
                .complete("right")
                .and_then(|points| Corner::new(&name, points).map_err(|error| lines.locate_right(error)))?;
            Axle::new(&name, left.clone(), Some(corner))
                .map_err(|error| lines.locate_right(error))?
                .right
        }
    };
    let axle = Axle {
        name,
        note,
        left,
        right,
        rack,
        dimensions,
        limits,
        envelope,
        spring,
        damper,
        left_tie_rod,
        right_tie_rod,
        top_plate,
    };
    axle.check().map_err(|error| lines.locate(error))?;
    Ok(axle)
}

/// One corner of either side.
pub(super) fn corner(tree: &Item) -> Result<Corner, FileError> {
    let mut root = Table::root(tree);
    let mut lines = Lines::default();
    let name = root.text("name")?.unwrap_or_else(|| "unnamed car".to_owned());
    let mut draft = Draft::default();
    draft.read(&mut root, &mut lines)?;
    if let Some(mut table) = root.table("rack")? {
        draft.rack_direction = lines.triple(&mut table, "rack", "direction")?.map(Vector::from);
        table.finish()?;
    }
    root.finish()?;
    Corner::new(&name, draft.complete("")?).map_err(|error| lines.locate(error))
}

/// A top plate alone, checked.
pub(super) fn top_plate(tree: &Item) -> Result<TopPlate, FileError> {
    let mut lines = Lines::default();
    let plate = plate::top_plate(Table::whole(tree, "top_plate"), &mut lines)?;
    plate.check().map_err(|error| lines.locate(error))?;
    Ok(plate)
}

fn schema(root: &mut Table<'_>) -> Result<(), FileError> {
    match root.number("schema")? {
        #[allow(clippy::float_cmp)]
        Some((found, _)) if found == f64::from(SCHEMA) => Ok(()),
        Some((found, line)) => Err(FileError {
            path: None,
            line,
            fault: FileFault::Schema { found },
        }),
        None => Err(FileError {
            path: None,
            line: None,
            fault: FileFault::Missing {
                field: "schema".to_owned(),
                wanted: "the number 1, for this form of car file",
            },
        }),
    }
}

fn rack(root: &mut Table<'_>, lines: &mut Lines) -> Result<(Rack, Option<Vector>), FileError> {
    let Some(mut table) = root.table("rack")? else {
        return Ok((Rack::default(), None));
    };
    let direction = lines.triple(&mut table, "rack", "direction")?.map(Vector::from);
    let rack = Rack {
        mm_per_turn: lines.number(&mut table, "rack", "mm_per_turn")?,
        stroke_mm: lines.number(&mut table, "rack", "stroke")?,
    };
    table.finish()?;
    Ok((rack, direction))
}

fn dimensions(root: &mut Table<'_>, lines: &mut Lines) -> Result<Dimensions, FileError> {
    let Some(mut table) = root.table("axle")? else {
        return Ok(Dimensions::default());
    };
    let dimensions = Dimensions {
        wheelbase_mm: lines.number(&mut table, "axle", "wheelbase")?,
        centre_of_gravity_height_mm: lines.number(&mut table, "axle", "centre_of_gravity_height")?,
        front_brake_share: lines.number(&mut table, "axle", "front_brake_share")?,
        wheel_load_n: lines.number(&mut table, "axle", "wheel_load")?,
        unsprung_mass_kg: lines.number(&mut table, "axle", "unsprung_mass")?,
    };
    table.finish()?;
    Ok(dimensions)
}

fn limits(root: &mut Table<'_>, lines: &mut Lines) -> Result<Limits, FileError> {
    let Some(mut table) = root.table("limits")? else {
        return Ok(Limits::default());
    };
    let limits = Limits {
        bump_mm: lines.number(&mut table, "limits", "bump")?,
        droop_mm: lines.number(&mut table, "limits", "droop")?,
        mount_in_mm: lines.number(&mut table, "limits", "mount_in")?,
        mount_back_mm: lines.number(&mut table, "limits", "mount_back")?,
        mount_up_mm: lines.number(&mut table, "limits", "mount_up")?,
        tie_rod_mm: lines.number(&mut table, "limits", "tie_rod")?,
        clamp_deg: lines.number(&mut table, "limits", "clamp")?,
        arm_mm: lines.number(&mut table, "limits", "arm")?,
        bearing_angle_deg: lines.number(&mut table, "limits", "bearing_angle")?,
        tie_rod_margin: lines.number(&mut table, "limits", "tie_rod_margin")?,
        tie_rod_end_angle_deg: lines.number(&mut table, "limits", "tie_rod_end_angle")?,
    };
    table.finish()?;
    Ok(limits)
}

fn envelope(root: &mut Table<'_>, lines: &mut Lines) -> Result<Envelope, FileError> {
    let Some(mut table) = root.table("envelope")? else {
        return Ok(Envelope::default());
    };
    let envelope = Envelope {
        tyre_radius_mm: lines.number(&mut table, "envelope", "tyre_radius")?,
        tyre_width_mm: lines.number(&mut table, "envelope", "tyre_width")?,
        arch_front: lines.point(&mut table, "envelope", "arch_front")?,
        arch_rear: lines.point(&mut table, "envelope", "arch_rear")?,
        rail: lines.point(&mut table, "envelope", "rail")?,
        arch_top: lines.point(&mut table, "envelope", "arch_top")?,
    };
    table.finish()?;
    Ok(envelope)
}

fn spring(root: &mut Table<'_>, lines: &mut Lines) -> Result<Spring, FileError> {
    let Some(mut table) = root.table("spring")? else {
        return Ok(Spring::default());
    };
    let spring = Spring {
        rate_n_per_mm: lines.number(&mut table, "spring", "rate")?,
        free_length_mm: lines.number(&mut table, "spring", "free_length")?,
        upper_seat: lines.point(&mut table, "spring", "upper_seat")?,
        lower_seat: lines.point(&mut table, "spring", "lower_seat")?,
        collar_thread_pitch_mm: lines.number(&mut table, "spring", "collar_thread_pitch")?,
        collar_up_mm: lines.number(&mut table, "spring", "collar_up")?,
        collar_down_mm: lines.number(&mut table, "spring", "collar_down")?,
    };
    table.finish()?;
    Ok(spring)
}

fn damper(root: &mut Table<'_>, lines: &mut Lines) -> Result<Damper, FileError> {
    let Some(mut table) = root.table("damper")? else {
        return Ok(Damper::default());
    };
    let damper = Damper {
        body_thread_pitch_mm: lines.number(&mut table, "damper", "body_thread_pitch")?,
        body_shorter_mm: lines.number(&mut table, "damper", "body_shorter")?,
        body_longer_mm: lines.number(&mut table, "damper", "body_longer")?,
    };
    table.finish()?;
    Ok(damper)
}

/// Object to a thread whose hand or engagement is told, but not its pitch.
fn check_threads(tie_rod: &TieRod, table: &str) -> Result<(), FileError> {
    for (end, thread) in [("inner", &tie_rod.inner), ("outer", &tie_rod.outer)] {
        if thread.pitch_mm.is_none() && *thread != Thread::default() {
            return Err(FileError {
                path: None,
                line: None,
                fault: FileFault::Missing {
                    field: format!("{table}.{end}_thread_pitch"),
                    wanted: "the advance of that thread a turn in mm, as its hand or engagement is given",
                },
            });
        }
    }
    Ok(())
}

/// The line of each field read so far.
#[derive(Default)]
pub(super) struct Lines(Vec<(String, usize)>);

impl Lines {
    pub(super) fn note(&mut self, table: &str, key: &str, line: Option<usize>) {
        if let Some(line) = line {
            self.0.push((format!("{table}.{key}"), line));
        }
    }

    pub(super) fn number(
        &mut self,
        table: &mut Table<'_>,
        name: &str,
        key: &'static str,
    ) -> Result<Option<f64>, FileError> {
        let found = table.number(key)?;
        Ok(found.map(|(value, line)| {
            self.note(name, key, line);
            value
        }))
    }

    pub(super) fn triple(
        &mut self,
        table: &mut Table<'_>,
        name: &str,
        key: &'static str,
    ) -> Result<Option<[f64; 3]>, FileError> {
        let found = table.triple(key)?;
        Ok(found.map(|(value, line)| {
            self.note(name, key, line);
            value
        }))
    }

    /// What a table gives of the thread at one end of a tie rod; the rest is kept.
    fn thread(
        &mut self,
        table: &mut Table<'_>,
        [pitch, hand, engaged]: [&'static str; 3],
        kept: &mut Thread,
    ) -> Result<(), FileError> {
        replace(&mut kept.pitch_mm, self.number(table, "tie_rod", pitch)?);
        replace(
            &mut kept.hand,
            table.choice(hand, "\"right\" or \"left\"", Hand::from_name)?,
        );
        replace(&mut kept.engaged_mm, self.number(table, "tie_rod", engaged)?);
        Ok(())
    }

    pub(super) fn pair(
        &mut self,
        table: &mut Table<'_>,
        name: &str,
        key: &'static str,
    ) -> Result<Option<[f64; 2]>, FileError> {
        let found = table.pair(key)?;
        Ok(found.map(|(value, line)| {
            self.note(name, key, line);
            value
        }))
    }

    pub(super) fn numbers(
        &mut self,
        table: &mut Table<'_>,
        name: &str,
        key: &'static str,
    ) -> Result<Option<Vec<f64>>, FileError> {
        let found = table.numbers(key)?;
        Ok(found.map(|(value, line)| {
            self.note(name, key, line);
            value
        }))
    }

    pub(super) fn pairs(
        &mut self,
        table: &mut Table<'_>,
        name: &str,
        key: &'static str,
    ) -> Result<Option<Vec<[f64; 2]>>, FileError> {
        let found = table.pairs(key)?;
        Ok(found.map(|(value, line)| {
            self.note(name, key, line);
            value
        }))
    }

    fn point(&mut self, table: &mut Table<'_>, name: &str, key: &'static str) -> Result<Option<Point>, FileError> {
        Ok(self.triple(table, name, key)?.map(Point::from))
    }

    pub(super) fn locate(&self, error: GeometryError) -> FileError {
        let line = self
            .0
            .iter()
            .find(|(field, _)| *field == error.field)
            .map(|(_, line)| *line);
        FileError {
            path: None,
            line,
            fault: FileFault::Geometry(error),
        }
    }

    fn locate_right(&self, error: GeometryError) -> FileError {
        let FileError { line, .. } = self.locate(error.clone());
        FileError {
            path: None,
            line,
            fault: FileFault::Geometry(error.within("right")),
        }
    }
}

/// The hard points of a corner as far as they have been read.
#[derive(Default)]
struct Draft {
    arm_front: Option<Point>,
    arm_rear: Option<Point>,
    ball_joint: Option<Point>,
    strut_top: Option<Point>,
    strut_low: Option<Point>,
    strut_clamp: Option<Point>,
    bearing_axis: Option<Vector>,
    tie_inner: Option<Point>,
    tie_outer: Option<Point>,
    wheel_centre: Option<Point>,
    wheel_radius_mm: Option<f64>,
    camber_deg: Option<f64>,
    toe_deg: Option<f64>,
    rack_direction: Option<Vector>,
    /// Threads of the tie rod, where a whole car is read: a corner alone has none.
    tie_rod: Option<TieRod>,
}

impl From<&HardPoints> for Draft {
    fn from(points: &HardPoints) -> Self {
        Self {
            arm_front: Some(points.arm_front),
            arm_rear: Some(points.arm_rear),
            ball_joint: Some(points.ball_joint),
            strut_top: Some(points.strut_top),
            strut_low: Some(points.strut_low),
            strut_clamp: points.strut_clamp,
            bearing_axis: points.bearing_axis,
            tie_inner: Some(points.tie_inner),
            tie_outer: Some(points.tie_outer),
            wheel_centre: Some(points.wheel_centre),
            wheel_radius_mm: Some(points.wheel_radius_mm),
            camber_deg: Some(points.camber_deg),
            toe_deg: Some(points.toe_deg),
            rack_direction: Some(points.rack_direction),
            tie_rod: None,
        }
    }
}

fn replace<T>(kept: &mut Option<T>, read: Option<T>) {
    if read.is_some() {
        *kept = read;
    }
}

impl Draft {
    /// Take what the four tables of a corner give; keep the rest.
    fn read(&mut self, root: &mut Table<'_>, lines: &mut Lines) -> Result<(), FileError> {
        if let Some(mut table) = root.table("lower_arm")? {
            let name = "lower_arm";
            replace(&mut self.arm_front, lines.point(&mut table, name, "front")?);
            replace(&mut self.arm_rear, lines.point(&mut table, name, "rear")?);
            replace(&mut self.ball_joint, lines.point(&mut table, name, "ball_joint")?);
            table.finish()?;
        }
        if let Some(mut table) = root.table("strut")? {
            let name = "strut";
            replace(&mut self.strut_top, lines.point(&mut table, name, "top")?);
            replace(&mut self.strut_low, lines.point(&mut table, name, "low")?);
            replace(&mut self.strut_clamp, lines.point(&mut table, name, "clamp")?);
            let bearing_axis = lines.triple(&mut table, name, "bearing_axis")?.map(Vector::from);
            replace(&mut self.bearing_axis, bearing_axis);
            table.finish()?;
        }
        if let Some(mut table) = root.table("tie_rod")? {
            let name = "tie_rod";
            replace(&mut self.tie_inner, lines.point(&mut table, name, "inner")?);
            replace(&mut self.tie_outer, lines.point(&mut table, name, "outer")?);
            if let Some(tie_rod) = &mut self.tie_rod {
                let keys = ["inner_thread_pitch", "inner_thread_hand", "inner_thread_engaged"];
                lines.thread(&mut table, keys, &mut tie_rod.inner)?;
                let keys = ["outer_thread_pitch", "outer_thread_hand", "outer_thread_engaged"];
                lines.thread(&mut table, keys, &mut tie_rod.outer)?;
                let least = lines.number(&mut table, name, "least_thread_engaged")?;
                replace(&mut tie_rod.least_engaged_mm, least);
            }
            table.finish()?;
        }
        if let Some(mut table) = root.table("wheel")? {
            let name = "wheel";
            replace(&mut self.wheel_centre, lines.point(&mut table, name, "centre")?);
            replace(&mut self.wheel_radius_mm, lines.number(&mut table, name, "radius")?);
            replace(&mut self.camber_deg, lines.number(&mut table, name, "camber")?);
            replace(&mut self.toe_deg, lines.number(&mut table, name, "toe")?);
            table.finish()?;
        }
        Ok(())
    }

    /// The hard points, if none that is needed is missing.
    fn complete(&self, within: &str) -> Result<HardPoints, FileError> {
        let missing = |field: &str, wanted| FileError {
            path: None,
            line: None,
            fault: FileFault::Missing {
                field: if within.is_empty() {
                    field.to_owned()
                } else {
                    format!("{within}.{field}")
                },
                wanted,
            },
        };
        let point = |field: &str, read: Option<Point>| read.ok_or_else(|| missing(field, "a point [x, y, z] in mm"));
        let number = |field: &str, read: Option<f64>, wanted| read.ok_or_else(|| missing(field, wanted));
        Ok(HardPoints {
            arm_front: point("lower_arm.front", self.arm_front)?,
            arm_rear: point("lower_arm.rear", self.arm_rear)?,
            ball_joint: point("lower_arm.ball_joint", self.ball_joint)?,
            strut_top: point("strut.top", self.strut_top)?,
            strut_low: point("strut.low", self.strut_low)?,
            strut_clamp: self.strut_clamp,
            bearing_axis: self.bearing_axis,
            tie_inner: point("tie_rod.inner", self.tie_inner)?,
            tie_outer: point("tie_rod.outer", self.tie_outer)?,
            wheel_centre: point("wheel.centre", self.wheel_centre)?,
            wheel_radius_mm: number("wheel.radius", self.wheel_radius_mm, "the loaded radius in mm")?,
            camber_deg: number("wheel.camber", self.camber_deg, "the camber at design in degrees")?,
            toe_deg: number("wheel.toe", self.toe_deg, "the toe of this wheel at design in degrees")?,
            rack_direction: self.rack_direction.unwrap_or(RACK_ACROSS),
        })
    }
}
