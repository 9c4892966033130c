//! The adjustable top of a strut: a plate that slides on the tower's face, an insert that slides in the plate.
//!
//! The plate is bolted to a tilted tower face through slots, usually fore and aft; it carries an insert in a slot of its
//! own, usually in and out, which may be refitted in several positions because its bearing seat is off centre. From
//! where the hardware is follows where the strut-top pivot is, exactly: every shift lies in planes parallel to the face.
//!
//! The plate's frame: its origin is the foot of the measured strut top (`strut.top`) on the face, its first axis points
//! inboard in the face, its second rearward, square to the first, and its third along the face's normal, upward. With
//! no tilt these are the car's inboard, rearward and up. Tilted, the first axis is the line of the face that runs
//! straight inboard as seen from above. `yaw` turns first and second axis in the face, inboard towards rearward. Angles
//! in the plate count from its first axis towards its second: 0 is inboard, 90 rearward. A right plate is the mirror
//! image of the left one, so that the same numbers mean the same on either side.

use crate::corner::check_range;
use crate::error::{Fault, GeometryError, Given};
use crate::number::Number;
use crate::outline::Outline;
use crate::space::Vector;

/// Steepest lean of a tower face in front or side view.
pub const MOST_TILT_DEG: f64 = 45.0;
/// Most that the plate is turned in the face.
pub const MOST_YAW_DEG: f64 = 90.0;
/// Farthest that anything of a top plate lies from its middle.
pub const MOST_PLATE_MM: f64 = 1_000.0;
/// Least angle between the two slots.
pub const LEAST_SLOT_ANGLE_DEG: f64 = 10.0;
/// Most positions of an insert: more than anyone would tell apart.
pub const MOST_POSITIONS: usize = 24;
/// An insert's bolts still find their slots when they are this far off: a tenth of their clearance at usual sizes.
pub const MOST_PATTERN_DEG: f64 = 0.05;
/// A normal flatter than this is no tower face: least share of its length along Z.
pub const LEAST_NORMAL_RISE: f64 = 0.5;

const TABLE: &str = "top_plate";
const LEAST_LENGTH: f64 = 1e-6;

/// Which way the tower's face looks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Facing {
    /// By how far its normal leans.
    Tilts {
        /// In front view, positive where the normal leans inboard: the face falls towards the centre line.
        in_deg: f64,
        /// In side view, positive where the normal leans rearward: the face falls towards the rear.
        back_deg: f64,
    },
    /// By its normal on the left side, in the car's coordinates, upward; its length is free.
    Normal(Vector),
}

/// A straight slot and the bolts in it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slot {
    /// Which way it runs in the plate: 0 inboard, 90 rearward.
    pub direction_deg: f64,
    /// How far the bolts may slide from the middle, the lesser end first.
    pub reach_mm: [f64; 2],
    /// Diameter of the bolts.
    pub bolt_mm: Option<f64>,
    /// Width of the slot.
    pub width_mm: Option<f64>,
}

/// The insert that carries the bearing.
#[derive(Clone, Debug, PartialEq)]
pub struct Insert {
    /// How far the bearing's centre is off the insert's middle.
    pub offset_mm: f64,
    /// Where the offset points in the plate in each position: 0 inboard, 90 rearward.
    pub angles_deg: Vec<f64>,
    /// How much higher the bearing sits in each position, along the face's normal; none if all alike.
    pub heights_mm: Vec<f64>,
}

/// Bolts evenly spaced on a circle about the middle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BoltCircle {
    /// How many.
    pub count: u32,
    /// Diameter of the circle through their centres.
    pub circle_mm: f64,
    /// Where the first one is: 0 inboard, 90 rearward.
    pub first_deg: f64,
}

/// What has to pass the tower's opening, as radii about the rod or the bearing; none where it does not matter.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Clearing {
    /// Radius that the rod's nut needs, socket included.
    pub nut_mm: Option<f64>,
    /// Height of the nut's middle over the face, along its normal.
    pub nut_height_mm: f64,
    /// Radius of the insert's housing about the bearing's centre.
    pub insert_mm: Option<f64>,
    /// Radius of the damper rod.
    pub rod_mm: Option<f64>,
}

/// An adjustable strut top.
#[derive(Clone, Debug, PartialEq)]
pub struct TopPlate {
    /// Which way the tower's face looks.
    pub facing: Facing,
    /// How far the plate is turned in the face, its inboard side rearward.
    pub yaw_deg: f64,
    /// Where the hardware's middle (both slides at zero, insert without offset) lies from the measured strut top.
    pub middle_mm: [f64; 2],
    /// From the face up to the bearing's centre, along the normal.
    pub bearing_height_mm: f64,
    /// From the face up to the spring's seat, along the normal.
    pub seat_height_mm: Option<f64>,
    /// The slots by which the plate slides on the tower.
    pub plate_slot: Slot,
    /// The slots by which the insert slides in the plate.
    pub insert_slot: Slot,
    /// The insert.
    pub insert: Insert,
    /// The tower's studs.
    pub studs: Option<BoltCircle>,
    /// The insert's bolts.
    pub insert_bolts: Option<BoltCircle>,
    /// The opening in the tower's face.
    pub opening: Option<Outline>,
    /// What passes the opening.
    pub clearing: Clearing,
}

/// The plate's frame on a left corner: three unit vectors in the car's coordinates, square to each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// Inboard in the plate.
    pub inboard: Vector,
    /// Rearward in the plate.
    pub rearward: Vector,
    /// Normal of the face, upward.
    pub normal: Vector,
}

impl Frame {
    /// A vector given by its components along the frame's axes.
    #[inline(always)]
    pub fn vector<N: Number>(&self, [inboard, rearward, normal]: [N; 3]) -> Vector<N> {
        Vector::constant(self.inboard) * inboard
            + Vector::constant(self.rearward) * rearward
            + Vector::constant(self.normal) * normal
    }
}

/// The unit vector of an angle in the plate.
fn pointing(angle_deg: f64) -> [f64; 2] {
    // Quarter turns are exact, so that a slot straight inboard moves nothing rearward by round-off.
    let quarters = angle_deg / 90.0;
    #[allow(clippy::float_cmp)]
    if quarters == quarters.round() {
        let turned = quarters.rem_euclid(4.0);
        return match turned {
            t if t < 0.5 => [1.0, 0.0],
            t if t < 1.5 => [0.0, 1.0],
            t if t < 2.5 => [-1.0, 0.0],
            _ => [0.0, -1.0],
        };
    }
    let (sine, cosine) = angle_deg.to_radians().sin_cos();
    [cosine, sine]
}

impl Slot {
    /// The slot's direction in the plate, of length one: inboard and rearward.
    pub fn direction(&self) -> [f64; 2] {
        pointing(self.direction_deg)
    }
}

impl BoltCircle {
    /// The bolts' centres in the plate: inboard and rearward from the middle.
    pub fn centres_mm(&self) -> Vec<[f64; 2]> {
        (0..self.count)
            .map(|bolt| {
                let at = pointing(self.first_deg + 360.0 * f64::from(bolt) / f64::from(self.count));
                at.map(|share| 0.5 * self.circle_mm * share)
            })
            .collect()
    }
}

impl Insert {
    /// Where the bearing's centre is in a position, from the insert's middle: inboard, rearward, along the normal.
    ///
    /// NaN for a position that there is not.
    pub fn offset(&self, position: usize) -> [f64; 3] {
        let Some(angle_deg) = self.angles_deg.get(position) else {
            return [f64::NAN; 3];
        };
        let [inboard, rearward] = pointing(*angle_deg).map(|share| self.offset_mm * share);
        [inboard, rearward, self.heights_mm.get(position).copied().unwrap_or(0.0)]
    }
}

impl TopPlate {
    /// The plate's frame on a left corner.
    pub fn frame(&self) -> Frame {
        let normal = match self.facing {
            Facing::Normal(normal) => normal,
            Facing::Tilts { in_deg, back_deg } => {
                // Left: inboard is -Y, rearward is -X.
                Vector::new(-back_deg.to_radians().tan(), -in_deg.to_radians().tan(), 1.0)
            }
        }
        .unit();
        // In the face, with no part along X: straight inboard as seen from above.
        let inboard = Vector::new(0.0, -normal.z, normal.y).unit();
        let rearward = inboard.cross(normal);
        let [cosine, sine] = pointing(self.yaw_deg);
        Frame {
            inboard: inboard * cosine + rearward * sine,
            rearward: rearward * cosine - inboard * sine,
            normal,
        }
    }

    /// Where the bearing's centre is in the plate's frame, from the measured strut top: inboard, rearward, along the
    /// normal, for slides of plate and insert along their slots and a position of the insert.
    ///
    /// Affine in the slides, so that their derivatives follow from any number that carries some. NaN for a position
    /// that there is not.
    #[inline(always)]
    pub fn in_plate<N: Number>(&self, plate_mm: N, insert_mm: N, position: usize) -> [N; 3] {
        let offset = self.insert.offset(position);
        let (plate, insert) = (self.plate_slot.direction(), self.insert_slot.direction());
        let along = |axis: usize| {
            N::constant(self.middle_mm[axis] + offset[axis])
                + N::constant(plate[axis]) * plate_mm
                + N::constant(insert[axis]) * insert_mm
        };
        [along(0), along(1), N::constant(offset[2])]
    }

    /// How the strut-top pivot is shifted by the hardware: `mount_in`, `mount_back` and `mount_up`, on either side.
    #[inline(always)]
    pub fn mount<N: Number>(&self, plate_mm: N, insert_mm: N, position: usize) -> [N; 3] {
        let shift = self.frame().vector(self.in_plate(plate_mm, insert_mm, position));
        [-shift.y, -shift.x, shift.z]
    }

    /// How far the strut-top pivot rises per millimetre inboard and per millimetre rearward, kept in its plane parallel to
    /// the face: [`TopPlate::mount`] of any slides keeps to it. Negative where the face falls that way.
    pub fn rise(&self) -> [f64; 2] {
        // In that plane shift . normal stays, with the shift (-back, -in, up) on the left.
        let normal = self.frame().normal;
        [normal.y / normal.z, normal.x / normal.z]
    }

    /// The slides of plate and insert that put the bearing's centre at a place of the plate's frame, inboard and
    /// rearward of the measured strut top, in a position of the insert: the inverse of [`TopPlate::in_plate`].
    pub fn slides_mm(&self, [inboard_mm, rearward_mm]: [f64; 2], position: usize) -> [f64; 2] {
        let offset = self.insert.offset(position);
        let x = inboard_mm - self.middle_mm[0] - offset[0];
        let y = rearward_mm - self.middle_mm[1] - offset[1];
        let (plate, insert) = (self.plate_slot.direction(), self.insert_slot.direction());
        let determinant = plate[0] * insert[1] - plate[1] * insert[0];
        [
            (x * insert[1] - y * insert[0]) / determinant,
            (plate[0] * y - plate[1] * x) / determinant,
        ]
    }

    /// How far nut, insert and rod are from the edge of the tower's opening; NaN for what the plate does not tell.
    ///
    /// `shift` is where the strut-top pivot is from where it was measured, `rod` points along the damper rod, both on a
    /// left corner. The nut is a disc about the rod at its height over the face. The insert is a disc about the
    /// bearing's centre. The rod is where it passes the face: an ellipse there, taken for the circle around it.
    pub fn gaps_mm(&self, frame: &Frame, shift: Vector, rod: Vector) -> [f64; 3] {
        let Some(opening) = &self.opening else {
            return [f64::NAN; 3];
        };
        let [inboard, rearward, height] = [
            shift.dot(frame.inboard),
            shift.dot(frame.rearward),
            shift.dot(frame.normal) + self.bearing_height_mm,
        ];
        let rise = rod.dot(frame.normal);
        let (lean_in, lean_back) = (rod.dot(frame.inboard) / rise, rod.dot(frame.rearward) / rise);
        let along_rod = |at_height_mm: f64| {
            let up = at_height_mm - height;
            [inboard + lean_in * up, rearward + lean_back * up]
        };
        let room = |at: [f64; 2], radius_mm: Option<f64>, stretch: f64| {
            radius_mm.map_or(f64::NAN, |radius| opening.gap_mm(at) - stretch * radius)
        };
        [
            room(along_rod(self.clearing.nut_height_mm), self.clearing.nut_mm, 1.0),
            room([inboard, rearward], self.clearing.insert_mm, 1.0),
            room(along_rod(0.0), self.clearing.rod_mm, rod.length() / rise.abs()),
        ]
    }

    /// Check every number of the plate.
    ///
    /// # Errors
    /// [`GeometryError`] names the field, the value and what is wrong: a slot of negative length, one narrower than its
    /// bolt, slots that run alike, a normal of no length, an insert without positions or in one that its bolts do not fit,
    /// an opening that the rod does not
    /// pass, a polygon that crosses itself, a number that is not finite or out of all proportion.
    pub fn check(&self) -> Result<(), GeometryError> {
        self.check_facing()?;
        let [inboard, rearward] = self.middle_mm;
        for value in [inboard, rearward] {
            check("middle", value, -MOST_PLATE_MM, MOST_PLATE_MM, "mm")?;
        }
        check(
            "bearing_height",
            self.bearing_height_mm,
            -MOST_PLATE_MM,
            MOST_PLATE_MM,
            "mm",
        )?;
        if let Some(height) = self.seat_height_mm {
            check("seat_height", height, -MOST_PLATE_MM, MOST_PLATE_MM, "mm")?;
        }
        check_slot("plate_slot", &self.plate_slot)?;
        check_slot("insert_slot", &self.insert_slot)?;
        self.check_slots_differ()?;
        self.check_insert()?;
        for (name, bolts) in [("studs", &self.studs), ("insert_bolts", &self.insert_bolts)] {
            if let Some(bolts) = bolts {
                check(&format!("{name}.count"), f64::from(bolts.count), 1.0, 24.0, "bolts")?;
                check(&format!("{name}.circle"), bolts.circle_mm, 0.0, MOST_PLATE_MM, "mm")?;
                check(&format!("{name}.first"), bolts.first_deg, -360.0, 360.0, "deg")?;
            }
        }
        self.check_pattern()?;
        self.check_opening()
    }

    fn check_facing(&self) -> Result<(), GeometryError> {
        match self.facing {
            Facing::Tilts { in_deg, back_deg } => {
                check("tilt_in", in_deg, -MOST_TILT_DEG, MOST_TILT_DEG, "deg")?;
                check("tilt_back", back_deg, -MOST_TILT_DEG, MOST_TILT_DEG, "deg")?;
            }
            Facing::Normal(normal) => {
                let wrong = |fault| Err(error("normal", Given::Triple(normal.into()), fault));
                let length = normal.length();
                if !length.is_finite() {
                    return wrong(Fault::NotFinite);
                }
                if length < LEAST_LENGTH {
                    return wrong(Fault::TooSmall {
                        least: LEAST_LENGTH,
                        unit: "in length",
                        hint: ": a normal needs a length",
                    });
                }
                if normal.z < LEAST_NORMAL_RISE * length {
                    return wrong(Fault::NotUpward {
                        least_rise: LEAST_NORMAL_RISE,
                    });
                }
            }
        }
        check("yaw", self.yaw_deg, -MOST_YAW_DEG, MOST_YAW_DEG, "deg")
    }

    fn check_slots_differ(&self) -> Result<(), GeometryError> {
        let (plate, insert) = (self.plate_slot.direction(), self.insert_slot.direction());
        let angle_deg = (plate[0] * insert[1] - plate[1] * insert[0]).abs().asin().to_degrees();
        if angle_deg < LEAST_SLOT_ANGLE_DEG {
            return Err(error(
                "insert_slot.direction",
                Given::Number(self.insert_slot.direction_deg),
                Fault::AlongSide {
                    other: "top_plate.plate_slot.direction",
                    angle_deg,
                    least_deg: LEAST_SLOT_ANGLE_DEG,
                },
            ));
        }
        Ok(())
    }

    fn check_insert(&self) -> Result<(), GeometryError> {
        let insert = &self.insert;
        check("insert.offset", insert.offset_mm, 0.0, MOST_PLATE_MM, "mm")?;
        if insert.angles_deg.is_empty() {
            return Err(error(
                "insert.angles",
                Given::Text("[]".to_owned()),
                Fault::TooFew {
                    what: "positions of the insert",
                    least: 1,
                },
            ));
        }
        let positions = insert.angles_deg.len();
        check_range_of("insert.angles", positions as f64, MOST_POSITIONS as f64, "positions")?;
        for angle in &insert.angles_deg {
            check("insert.angles", *angle, -360.0, 360.0, "deg")?;
        }
        for height in &insert.heights_mm {
            check("insert.heights", *height, -MOST_PLATE_MM, MOST_PLATE_MM, "mm")?;
        }
        if !insert.heights_mm.is_empty() && insert.heights_mm.len() != positions {
            return Err(error(
                "insert.heights",
                Given::Text(format!("{} numbers", insert.heights_mm.len())),
                Fault::OtherCount {
                    other: "top_plate.insert.angles",
                    wanted: positions,
                },
            ));
        }
        Ok(())
    }

    /// An insert goes into its slots in a position only if that puts its bolts where they were in the first.
    fn check_pattern(&self) -> Result<(), GeometryError> {
        let (Some(bolts), Some(first_deg)) = (&self.insert_bolts, self.insert.angles_deg.first()) else {
            return Ok(());
        };
        let apart_deg = 360.0 / f64::from(bolts.count);
        let off_deg = |angle_deg: f64| {
            let beyond = angle_deg.rem_euclid(apart_deg);
            beyond.min(apart_deg - beyond)
        };
        // Turned in its plane by whole steps of the bolts; or turned over, about a line through a bolt or between two.
        let mirrored_deg = 2.0 * bolts.first_deg - first_deg;
        for angle_deg in &self.insert.angles_deg {
            if off_deg(angle_deg - first_deg).min(off_deg(angle_deg - mirrored_deg)) > MOST_PATTERN_DEG {
                let round = |start_deg: f64| {
                    let turned =
                        (0..bolts.count).map(|step| (start_deg + f64::from(step) * apart_deg).rem_euclid(360.0));
                    let mut angles: Vec<f64> = turned.map(|angle| (angle * 1e3).round() / 1e3 + 0.0).collect();
                    angles.sort_by(f64::total_cmp);
                    angles.iter().map(f64::to_string).collect::<Vec<_>>().join(", ")
                };
                return Err(error(
                    "insert.angles",
                    Given::Number(*angle_deg),
                    Fault::OffPattern {
                        other: "top_plate.insert_bolts",
                        bolts: bolts.count,
                        first_deg: *first_deg,
                        turned: round(*first_deg),
                        mirrored: round(mirrored_deg),
                    },
                ));
            }
        }
        Ok(())
    }

    fn check_opening(&self) -> Result<(), GeometryError> {
        let clearing = &self.clearing;
        let radii = [
            ("clearing.nut", clearing.nut_mm),
            ("clearing.insert", clearing.insert_mm),
            ("clearing.rod", clearing.rod_mm),
        ];
        for (field, radius) in radii {
            if let Some(radius) = radius {
                check(field, radius, 0.0, MOST_PLATE_MM, "mm")?;
            }
        }
        check(
            "clearing.nut_height",
            clearing.nut_height_mm,
            -MOST_PLATE_MM,
            MOST_PLATE_MM,
            "mm",
        )?;
        let Some(opening) = &self.opening else { return Ok(()) };
        opening.check("top_plate.opening", MOST_PLATE_MM)?;
        let widest = opening.widest_mm();
        match clearing.rod_mm {
            Some(rod) if !(widest > rod) => Err(GeometryError::new(
                "top_plate.opening",
                Given::Text(format!("a widest circle of radius {widest:.3}")),
                Fault::TooSmall {
                    least: rod,
                    unit: "mm",
                    hint: ": the rod (top_plate.clearing.rod) does not pass",
                },
            )),
            _ => Ok(()),
        }
    }
}

fn error(field: &str, value: Given, fault: Fault) -> GeometryError {
    GeometryError::new(field, value, fault).within(TABLE)
}

fn check(field: &str, value: f64, least: f64, most: f64, unit: &'static str) -> Result<(), GeometryError> {
    check_range(field, value, least, most, unit).map_err(|error| error.within(TABLE))
}

fn check_range_of(field: &str, count: f64, most: f64, unit: &'static str) -> Result<(), GeometryError> {
    check(field, count, 0.0, most, unit)
}

fn check_slot(name: &str, slot: &Slot) -> Result<(), GeometryError> {
    let field = |key: &str| format!("{name}.{key}");
    check(&field("direction"), slot.direction_deg, -360.0, 360.0, "deg")?;
    let [least, most] = slot.reach_mm;
    for end in slot.reach_mm {
        check(&field("reach"), end, -MOST_PLATE_MM, MOST_PLATE_MM, "mm")?;
    }
    if most < least {
        return Err(error(
            &field("reach"),
            Given::Text(format!("[{least}, {most}]")),
            Fault::NegativeLength {
                length_mm: most - least,
            },
        ));
    }
    if let Some(bolt) = slot.bolt_mm {
        check(&field("bolt"), bolt, 1.0, 100.0, "mm")?;
    }
    if let Some(width) = slot.width_mm {
        check(&field("width"), width, 1.0, 200.0, "mm")?;
    }
    match (slot.bolt_mm, slot.width_mm) {
        (Some(bolt), Some(width)) if width < bolt => Err(error(
            &field("width"),
            Given::Number(width),
            Fault::TooSmall {
                least: bolt,
                unit: "mm",
                hint: ", the diameter of the bolt in it",
            },
        )),
        _ => Ok(()),
    }
}
