//! The table `[top_plate]`, in and out.

use serde::Serialize;

use super::read::Lines;
use super::tree::Table;
use super::{FileError, FileFault};
use crate::outline::{Outline, Shape};
use crate::space::Vector;
use crate::top_plate::{BoltCircle, Clearing, Facing, Insert, Slot, TopPlate};

/// Fore and aft: which way a plate slides unless the file says otherwise.
const REARWARD_DEG: f64 = 90.0;
/// In and out: which way an insert slides unless the file says otherwise.
const INBOARD_DEG: f64 = 0.0;

/// What the table says, unchecked.
pub(super) fn top_plate(mut table: Table<'_>, lines: &mut Lines) -> Result<TopPlate, FileError> {
    let name = table.name().to_owned();
    // A bearing leans in cars without such a plate too: the limit is the car's, and stands in one place.
    table.elsewhere("most_bearing_angle", "limits.bearing_angle")?;
    let tilt_in = lines.number(&mut table, &name, "tilt_in")?;
    let tilt_back = lines.number(&mut table, &name, "tilt_back")?;
    let normal = lines.triple(&mut table, &name, "normal")?.map(Vector::from);
    if normal.is_some() && (tilt_in.is_some() || tilt_back.is_some()) {
        let field = format!("{name}.normal");
        return Err(one_or_the_other(
            field,
            "nothing else: the tilts say the same, give one of the two",
        ));
    }
    let facing = normal.map_or(
        Facing::Tilts {
            in_deg: tilt_in.unwrap_or(0.0),
            back_deg: tilt_back.unwrap_or(0.0),
        },
        Facing::Normal,
    );
    let plate = TopPlate {
        facing,
        yaw_deg: lines.number(&mut table, &name, "yaw")?.unwrap_or(0.0),
        middle_mm: lines.pair(&mut table, &name, "middle")?.unwrap_or([0.0; 2]),
        bearing_height_mm: lines.number(&mut table, &name, "bearing_height")?.unwrap_or(0.0),
        seat_height_mm: lines.number(&mut table, &name, "seat_height")?,
        plate_slot: slot(table.table("plate_slot")?, lines, "top_plate.plate_slot", REARWARD_DEG)?,
        insert_slot: slot(table.table("insert_slot")?, lines, "top_plate.insert_slot", INBOARD_DEG)?,
        insert: insert(table.table("insert")?, lines)?,
        studs: bolts(table.table("studs")?, lines)?,
        insert_bolts: bolts(table.table("insert_bolts")?, lines)?,
        opening: opening(table.table("opening")?, lines)?,
        clearing: clearing(table.table("clearing")?, lines)?,
    };
    table.finish()?;
    Ok(plate)
}

fn missing(field: String, wanted: &'static str) -> FileError {
    FileError {
        path: None,
        line: None,
        fault: FileFault::Missing { field, wanted },
    }
}

fn one_or_the_other(field: String, wanted: &'static str) -> FileError {
    FileError {
        path: None,
        line: None,
        fault: FileFault::WrongKind {
            field,
            found: "one of several that exclude each other,",
            wanted,
        },
    }
}

fn slot(
    table: Option<Table<'_>>,
    lines: &mut Lines,
    expected: &str,
    usual_direction_deg: f64,
) -> Result<Slot, FileError> {
    const WANTED: &str = "how far the bolts slide, [least, most] in mm";
    let Some(mut table) = table else {
        return Err(missing(format!("{expected}.reach"), WANTED));
    };
    let name = table.name().to_owned();
    let slot = Slot {
        direction_deg: lines
            .number(&mut table, &name, "direction")?
            .unwrap_or(usual_direction_deg),
        reach_mm: lines
            .pair(&mut table, &name, "reach")?
            .ok_or_else(|| missing(format!("{name}.reach"), WANTED))?,
        bolt_mm: lines.number(&mut table, &name, "bolt")?,
        width_mm: lines.number(&mut table, &name, "width")?,
    };
    table.finish()?;
    Ok(slot)
}

fn insert(table: Option<Table<'_>>, lines: &mut Lines) -> Result<Insert, FileError> {
    let mut insert = Insert {
        offset_mm: 0.0,
        angles_deg: vec![INBOARD_DEG],
        heights_mm: Vec::new(),
    };
    let Some(mut table) = table else { return Ok(insert) };
    let name = table.name().to_owned();
    insert.offset_mm = lines.number(&mut table, &name, "offset")?.unwrap_or(0.0);
    if let Some(angles) = lines.numbers(&mut table, &name, "angles")? {
        insert.angles_deg = angles;
    }
    insert.heights_mm = lines.numbers(&mut table, &name, "heights")?.unwrap_or_default();
    table.finish()?;
    Ok(insert)
}

fn bolts(table: Option<Table<'_>>, lines: &mut Lines) -> Result<Option<BoltCircle>, FileError> {
    let Some(mut table) = table else { return Ok(None) };
    let name = table.name().to_owned();
    let count = lines
        .number(&mut table, &name, "count")?
        .ok_or_else(|| missing(format!("{name}.count"), "how many bolts"))?;
    let circle_mm = lines.number(&mut table, &name, "circle")?.ok_or_else(|| {
        missing(
            format!("{name}.circle"),
            "the diameter of the circle through the bolts in mm",
        )
    })?;
    let first_deg = lines.number(&mut table, &name, "first")?.unwrap_or(0.0);
    table.finish()?;
    // A count that is none becomes zero, which is refused with its name when the plate is checked.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let count = if count.fract() == 0.0 && (0.0..1e6).contains(&count) {
        count as u32
    } else {
        0
    };
    Ok(Some(BoltCircle {
        count,
        circle_mm,
        first_deg,
    }))
}

fn opening(table: Option<Table<'_>>, lines: &mut Lines) -> Result<Option<Outline>, FileError> {
    const WANTED: &str = "`radius`, `half_axes` or `corners`, and only one of them";
    let Some(mut table) = table else { return Ok(None) };
    let name = table.name().to_owned();
    let centre_mm = lines.pair(&mut table, &name, "centre")?.unwrap_or([0.0; 2]);
    let radius = lines.number(&mut table, &name, "radius")?;
    let half_axes = lines.pair(&mut table, &name, "half_axes")?;
    let turned_deg = lines.number(&mut table, &name, "turned")?.unwrap_or(0.0);
    let corners = lines.pairs(&mut table, &name, "corners")?;
    table.finish()?;
    let shape = match (radius, half_axes, corners) {
        (Some(radius_mm), None, None) => Shape::Circle { radius_mm },
        (None, Some(half_axes_mm), None) => Shape::Ellipse {
            half_axes_mm,
            turned_deg,
        },
        (None, None, Some(corners_mm)) => Shape::Polygon { corners_mm },
        (None, None, None) => return Err(missing(format!("{name}.radius"), WANTED)),
        _ => return Err(one_or_the_other(name, WANTED)),
    };
    Ok(Some(Outline { centre_mm, shape }))
}

fn clearing(table: Option<Table<'_>>, lines: &mut Lines) -> Result<Clearing, FileError> {
    let Some(mut table) = table else {
        return Ok(Clearing::default());
    };
    let name = table.name().to_owned();
    let clearing = Clearing {
        nut_mm: lines.number(&mut table, &name, "nut")?,
        nut_height_mm: lines.number(&mut table, &name, "nut_height")?.unwrap_or(0.0),
        insert_mm: lines.number(&mut table, &name, "insert")?,
        rod_mm: lines.number(&mut table, &name, "rod")?,
    };
    table.finish()?;
    Ok(clearing)
}

/// The table as it is written: every number that is not the usual one, tables last.
#[derive(Serialize)]
pub(super) struct TopPlateTable {
    #[serde(skip_serializing_if = "Option::is_none")]
    tilt_in: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    tilt_back: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    normal: Option<[f64; 3]>,
    yaw: f64,
    middle: [f64; 2],
    bearing_height: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    seat_height: Option<f64>,
    plate_slot: SlotTable,
    insert_slot: SlotTable,
    insert: InsertTable,
    #[serde(skip_serializing_if = "Option::is_none")]
    studs: Option<BoltTable>,
    #[serde(skip_serializing_if = "Option::is_none")]
    insert_bolts: Option<BoltTable>,
    #[serde(skip_serializing_if = "Option::is_none")]
    opening: Option<OpeningTable>,
    #[serde(skip_serializing_if = "Option::is_none")]
    clearing: Option<ClearingTable>,
}

#[derive(Serialize)]
struct SlotTable {
    direction: f64,
    reach: [f64; 2],
    #[serde(skip_serializing_if = "Option::is_none")]
    bolt: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    width: Option<f64>,
}

#[derive(Serialize)]
struct InsertTable {
    offset: f64,
    angles: Vec<f64>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    heights: Vec<f64>,
}

#[derive(Serialize)]
struct BoltTable {
    count: u32,
    circle: f64,
    first: f64,
}

#[derive(Serialize)]
struct OpeningTable {
    centre: [f64; 2],
    #[serde(skip_serializing_if = "Option::is_none")]
    radius: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    half_axes: Option<[f64; 2]>,
    #[serde(skip_serializing_if = "Option::is_none")]
    turned: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    corners: Option<Vec<[f64; 2]>>,
}

#[derive(Serialize)]
struct ClearingTable {
    #[serde(skip_serializing_if = "Option::is_none")]
    nut: Option<f64>,
    nut_height: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    insert: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    rod: Option<f64>,
}

impl From<&Slot> for SlotTable {
    fn from(slot: &Slot) -> Self {
        Self {
            direction: slot.direction_deg,
            reach: slot.reach_mm,
            bolt: slot.bolt_mm,
            width: slot.width_mm,
        }
    }
}

impl From<&BoltCircle> for BoltTable {
    fn from(bolts: &BoltCircle) -> Self {
        Self {
            count: bolts.count,
            circle: bolts.circle_mm,
            first: bolts.first_deg,
        }
    }
}

impl From<&Outline> for OpeningTable {
    fn from(outline: &Outline) -> Self {
        let mut table = Self {
            centre: outline.centre_mm,
            radius: None,
            half_axes: None,
            turned: None,
            corners: None,
        };
        match &outline.shape {
            Shape::Circle { radius_mm } => table.radius = Some(*radius_mm),
            Shape::Ellipse {
                half_axes_mm,
                turned_deg,
            } => {
                table.half_axes = Some(*half_axes_mm);
                table.turned = Some(*turned_deg);
            }
            Shape::Polygon { corners_mm } => table.corners = Some(corners_mm.clone()),
        }
        table
    }
}

impl From<&TopPlate> for TopPlateTable {
    fn from(plate: &TopPlate) -> Self {
        let (tilt_in, tilt_back, normal) = match plate.facing {
            Facing::Tilts { in_deg, back_deg } => (Some(in_deg), Some(back_deg), None),
            Facing::Normal(normal) => (None, None, Some(normal.into())),
        };
        let clearing = &plate.clearing;
        Self {
            tilt_in,
            tilt_back,
            normal,
            yaw: plate.yaw_deg,
            middle: plate.middle_mm,
            bearing_height: plate.bearing_height_mm,
            seat_height: plate.seat_height_mm,
            plate_slot: SlotTable::from(&plate.plate_slot),
            insert_slot: SlotTable::from(&plate.insert_slot),
            insert: InsertTable {
                offset: plate.insert.offset_mm,
                angles: plate.insert.angles_deg.clone(),
                heights: plate.insert.heights_mm.clone(),
            },
            studs: plate.studs.as_ref().map(BoltTable::from),
            insert_bolts: plate.insert_bolts.as_ref().map(BoltTable::from),
            opening: plate.opening.as_ref().map(OpeningTable::from),
            clearing: (*clearing != Clearing::default()).then_some(ClearingTable {
                nut: clearing.nut_mm,
                nut_height: clearing.nut_height_mm,
                insert: clearing.insert_mm,
                rod: clearing.rod_mm,
            }),
        }
    }
}

/// The table of a top plate, as [`top_plate_from_table`](super::top_plate_from_table) reads it.
///
/// # Panics
/// Never: every value of a top plate has a place in TOML.
pub fn top_plate_to_table(plate: &TopPlate) -> toml::Table {
    toml::Table::try_from(TopPlateTable::from(plate)).expect("every value of a top plate has a place in TOML")
}
