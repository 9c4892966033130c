//! The road spring of a strut and the threads that set it, as far as they are known.

use crate::corner::{Corner, check_range, check_triple};
use crate::error::{Fault, GeometryError, Given};
use crate::space::Point;

/// Farthest apart that the two seats of a spring may lie, and the longest spring.
const MOST_LENGTH_MM: f64 = 2_000.0;
/// Shortest spring.
const LEAST_LENGTH_MM: f64 = 10.0;
/// Softest and stiffest spring.
const RATE_N_PER_MM: [f64; 2] = [1e-3, 1e4];
/// Finest and coarsest thread.
pub(crate) const THREAD_PITCH_MM: [f64; 2] = [0.05, 20.0];
/// Longest thread.
pub(crate) const MOST_THREAD_MM: f64 = 500.0;

/// The coil spring of one strut; the other side's is its mirror image.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Spring {
    /// Force a millimetre of shortening.
    pub rate_n_per_mm: Option<f64>,
    /// Length with no load on it.
    pub free_length_mm: Option<f64>,
    /// Centre of the upper end of the spring at design, on the left, where it meets its seat in the top mount.
    pub upper_seat: Option<Point>,
    /// Centre of the lower end of the spring at design, on the left, where it meets the collar or the perch of the strut.
    pub lower_seat: Option<Point>,
    /// Rise of the lower seat a turn of its collar.
    pub collar_thread_pitch_mm: Option<f64>,
    /// How far the collar can still be screwed up from where it stands at design.
    pub collar_up_mm: Option<f64>,
    /// How far the collar can still be screwed down from where it stands at design.
    pub collar_down_mm: Option<f64>,
}

/// The damper that the spring stands around; the other side's is its mirror image.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Damper {
    /// Change of length a turn, where the strut's body is screwed into its foot.
    pub body_thread_pitch_mm: Option<f64>,
    /// How much shorter the body can be made by that thread.
    pub body_shorter_mm: Option<f64>,
    /// How much longer the body can be made by that thread.
    pub body_longer_mm: Option<f64>,
}

impl Spring {
    /// Length of the spring at design: the distance of its seats along the strut axis, if both are known.
    pub fn length_at_design_mm(&self, left: &Corner) -> Option<f64> {
        let axis = left.points().strut_axis().direction;
        Some((self.upper_seat? - self.lower_seat?).dot(axis))
    }

    /// Check what is known of the spring of this left corner.
    ///
    /// # Errors
    /// [`GeometryError`] names the field, the value and the limit: seats that are no points, or out of order along the
    /// strut axis; a free length that would leave the spring loose at design.
    pub(crate) fn check(&self, left: &Corner) -> Result<(), GeometryError> {
        for (field, seat) in [
            ("spring.upper_seat", self.upper_seat),
            ("spring.lower_seat", self.lower_seat),
        ] {
            if let Some(seat) = seat {
                check_triple(field, seat.into())?;
            }
        }
        let [softest, stiffest] = RATE_N_PER_MM;
        let [finest, coarsest] = THREAD_PITCH_MM;
        let figures = [
            ("spring.rate", self.rate_n_per_mm, softest, stiffest, "N/mm"),
            (
                "spring.free_length",
                self.free_length_mm,
                LEAST_LENGTH_MM,
                MOST_LENGTH_MM,
                "mm",
            ),
            (
                "spring.collar_thread_pitch",
                self.collar_thread_pitch_mm,
                finest,
                coarsest,
                "mm",
            ),
            ("spring.collar_up", self.collar_up_mm, 0.0, MOST_THREAD_MM, "mm"),
            ("spring.collar_down", self.collar_down_mm, 0.0, MOST_THREAD_MM, "mm"),
        ];
        check_figures(&figures)?;
        let (Some(length_mm), Some(upper)) = (self.length_at_design_mm(left), self.upper_seat) else {
            return Ok(());
        };
        if length_mm < LEAST_LENGTH_MM {
            return Err(GeometryError::new(
                "spring.upper_seat",
                Given::Triple(upper.into()),
                Fault::UpsideDown {
                    other: "spring.lower_seat",
                    by: "measured along the strut axis, by at least 10 mm",
                },
            ));
        }
        if let Some(free_length_mm) = self.free_length_mm
            && free_length_mm < length_mm
        {
            return Err(GeometryError::new(
                "spring.free_length",
                Given::Number(free_length_mm),
                Fault::TooSmall {
                    least: length_mm,
                    unit: "mm",
                    hint: ", the distance of its seats along the strut at design: it would lie loose and carry no car",
                },
            ));
        }
        Ok(())
    }
}

impl Damper {
    /// Check what is known of the damper.
    ///
    /// # Errors
    /// [`GeometryError`] names the field, the value and the limit.
    pub(crate) fn check(&self) -> Result<(), GeometryError> {
        let [finest, coarsest] = THREAD_PITCH_MM;
        check_figures(&[
            (
                "damper.body_thread_pitch",
                self.body_thread_pitch_mm,
                finest,
                coarsest,
                "mm",
            ),
            ("damper.body_shorter", self.body_shorter_mm, 0.0, MOST_THREAD_MM, "mm"),
            ("damper.body_longer", self.body_longer_mm, 0.0, MOST_THREAD_MM, "mm"),
        ])
    }
}

/// A field, what is known of it, its least and greatest value, and their unit.
pub(crate) type Figure<'a> = (&'a str, Option<f64>, f64, f64, &'static str);

/// Check figures as far as they are known.
pub(crate) fn check_figures(figures: &[Figure<'_>]) -> Result<(), GeometryError> {
    for &(field, value, least, most, unit) in figures {
        if let Some(value) = value {
            check_range(field, value, least, most, unit)?;
        }
    }
    Ok(())
}
