//! `TopPlate`.
//!
//! Documentation of wrapped items is Python's: their examples run there.
#![allow(clippy::doc_link_with_quotes)]

use ndarray::{Ix1, Ix2};
use numpy::{PyArray2, PyArrayMethods, PyUntypedArrayMethods};
use pyo3::exceptions::PyValueError;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple, PyType};
use toml::{Table, Value};

use super::convert::{Numbers, dict_from_table, table_from_dict};
use super::corner::{PyCorner, hash_of};
use super::error::from_file;
use crate::file;
use crate::hard_points::Side;
use crate::space::{Point, Vector};
use crate::top_plate::{BoltCircle, Slot, TopPlate};

/// An adjustable strut top: a plate that slides on the tower's face, and an insert that slides in the plate.
///
/// Immutable and checked. Made by a car file's ``[top_plate]`` (``car.top_plate``), `TopPlate.from_dict` and
/// `TopPlate.replace`. Plates can be compared, hashed and pickled.
///
/// The plate's frame has its origin at the foot of the measured strut top on the tower's face, its first axis inboard in
/// the face, its second rearward, its third along the face's normal. Angles in the plate count from inboard towards
/// rearward. The right plate is the mirror image of the left one: the same numbers mean the same on either side.
///
/// Examples
/// --------
/// >>> import strutsweep as ss
/// >>> car = ss.demo("gravel_hatch")
/// >>> plate = car.top_plate
/// >>> plate
/// TopPlate(2 insert positions, plate -10 to 10 mm, insert -14 to 14 mm)
/// >>> setting = plate.mount(plate=5.0, insert=4.0, position=0)
/// >>> car.left.solve(**setting).camber < car.left.camber
/// True
#[pyclass(name = "TopPlate", module = "strutsweep", frozen, eq)]
#[derive(Clone, Debug, PartialEq)]
pub(super) struct PyTopPlate {
    pub(super) inner: TopPlate,
}

#[pymethods]
impl PyTopPlate {
    /// A top plate from a dictionary of the form of a car file's ``[top_plate]``.
    ///
    /// Parameters
    /// ----------
    /// tables : dict
    ///     Needed: ``plate_slot`` and ``insert_slot``, each with ``reach`` ([least, most] in mm) and, if wanted,
    ///     ``direction`` (deg in the plate: 0 inboard, 90 rearward), ``bolt`` and ``width`` (mm). If wanted:
    ///     ``tilt_in`` and ``tilt_back`` (deg, how far the face's normal leans inboard and rearward) or ``normal`` (three
    ///     numbers, left side, upward), ``yaw`` (deg, plate turned in the face, inboard side rearward), ``middle``
    ///     ([inboard, rearward] in mm from the measured strut top), ``bearing_height`` and ``seat_height`` (mm over the
    ///     face); tables ``insert`` (``offset`` in mm, ``angles`` in deg, ``heights`` in mm), ``studs`` and
    ///     ``insert_bolts`` (``count``, ``circle`` in mm, ``first`` in deg), ``opening`` (``centre`` in mm from the
    ///     measured strut top and one of ``radius``, ``half_axes`` with ``turned``, ``corners``) and ``clearing``
    ///     (``nut``, ``nut_height``, ``insert``, ``rod``, in mm). How far the bearing may lean is the car's
    ///     ``limits.bearing_angle``.
    ///
    /// Raises
    /// ------
    /// GeometryError
    ///     With ``field``, ``value``, ``reason``: a slot of negative length or narrower than its bolt, slots that run
    ///     alike, a normal of no length, no insert positions or one that its bolts do not fit, an opening that the rod
    ///     does not pass, a polygon that crosses itself, a number that is not finite or out of proportion.
    /// FileError
    ///     An unknown, missing or wrong entry.
    ///
    /// Examples
    /// --------
    /// >>> import strutsweep as ss
    /// >>> plate = ss.TopPlate.from_dict({"plate_slot": {"reach": [-10, 10]}, "insert_slot": {"reach": [-20, 20]}})
    /// >>> plate.mount(insert=20.0)
    /// {'mount_in': 20.0, 'mount_back': 0.0, 'mount_up': 0.0}
    #[staticmethod]
    fn from_dict(py: Python<'_>, tables: &Bound<'_, PyDict>) -> PyResult<Self> {
        Self::from_table(py, &table_from_dict(tables)?)
    }

    /// The plate as a dictionary of the form of a car file's ``[top_plate]``; `from_dict` reads it back to the same plate.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        dict_from_table(py, &file::top_plate_to_table(&self.inner))
    }

    /// The same plate with some of its numbers changed.
    ///
    /// Parameters
    /// ----------
    /// **changes
    ///     Entries as `from_dict` takes them. Of a table, what is given replaces what was; the rest stays. The ``opening``
    ///     is replaced whole, and a ``normal`` replaces the tilts, or they it.
    ///
    /// Raises
    /// ------
    /// GeometryError, FileError
    ///     As `from_dict`.
    ///
    /// Examples
    /// --------
    /// >>> import strutsweep as ss
    /// >>> plate = ss.demo("gravel_hatch").top_plate.replace(insert={"offset": 8.0})
    /// >>> plate.insert["offset"], len(plate.insert["angles"])
    /// (8.0, 2)
    #[pyo3(signature = (**changes))]
    fn replace(&self, py: Python<'_>, changes: Option<&Bound<'_, PyDict>>) -> PyResult<Self> {
        let mut table = file::top_plate_to_table(&self.inner);
        let changes = changes.map_or_else(|| Ok(Table::new()), table_from_dict)?;
        if changes.contains_key("normal") {
            table.remove("tilt_in");
            table.remove("tilt_back");
        } else if changes.contains_key("tilt_in") || changes.contains_key("tilt_back") {
            table.remove("normal");
        }
        for (key, value) in changes {
            match (table.get_mut(&key), value) {
                (Some(Value::Table(old)), Value::Table(new)) if key != "opening" => old.extend(new),
                (_, value) => {
                    table.insert(key, value);
                }
            }
        }
        Self::from_table(py, &table)
    }

    /// The setting that a place of the hardware makes: how the strut-top pivot is shifted.
    ///
    /// Exact for any tilt and yaw of the face: all shifts lie in planes parallel to it.
    ///
    /// Parameters
    /// ----------
    /// plate, insert : float
    ///     How far plate and insert are slid along their slots from the middle, in mm; inboard and rearward positive
    ///     where the slots run that way. Slots' ends are not looked at.
    /// position : int
    ///     Which of the insert's positions, counted from 0.
    ///
    /// Returns
    /// -------
    /// dict of str to float
    ///     ``mount_in``, ``mount_back`` and ``mount_up`` in mm, as `Corner.solve` takes them, on either side.
    ///
    /// Raises
    /// ------
    /// ValueError
    ///     The insert has no such position.
    #[pyo3(signature = (*, plate=0.0, insert=0.0, position=0))]
    fn mount<'py>(&self, py: Python<'py>, plate: f64, insert: f64, position: usize) -> PyResult<Bound<'py, PyDict>> {
        self.check_position(position)?;
        let dict = PyDict::new(py);
        for (name, value) in ["mount_in", "mount_back", "mount_up"]
            .into_iter()
            .zip(self.inner.mount(plate, insert, position))
        {
            // Adding zero leaves no negative zero to be read.
            dict.set_item(name, value + 0.0)?;
        }
        Ok(dict)
    }

    /// As `mount`, for many places of the hardware at once.
    ///
    /// Parameters
    /// ----------
    /// plate, insert : array of float, shape (n,)
    /// position : array of int, shape (n,)
    ///
    /// Returns
    /// -------
    /// array, shape (3, n)
    ///     ``mount_in``, ``mount_back``, ``mount_up`` in mm.
    #[allow(clippy::needless_pass_by_value)]
    fn mounts<'py>(
        &self,
        py: Python<'py>,
        plate: Numbers<'py, f64, Ix1>,
        insert: Numbers<'py, f64, Ix1>,
        position: Numbers<'py, i64, Ix1>,
    ) -> PyResult<Bound<'py, PyArray2<f64>>> {
        self.each(py, &plate, &insert, Some(&position), |p, q, i| {
            self.inner.mount(p, q, i)
        })
    }

    /// Where the bearing's centre is in the plate's frame, for many places of the hardware at once.
    ///
    /// Parameters
    /// ----------
    /// plate, insert : array of float, shape (n,)
    /// position : array of int, shape (n,)
    ///
    /// Returns
    /// -------
    /// array, shape (3, n)
    ///     Inboard, rearward and along the face's normal, in mm from the measured strut top.
    #[allow(clippy::needless_pass_by_value)]
    fn places<'py>(
        &self,
        py: Python<'py>,
        plate: Numbers<'py, f64, Ix1>,
        insert: Numbers<'py, f64, Ix1>,
        position: Numbers<'py, i64, Ix1>,
    ) -> PyResult<Bound<'py, PyArray2<f64>>> {
        self.each(py, &plate, &insert, Some(&position), |p, q, i| {
            self.inner.in_plate(p, q, i)
        })
    }

    /// The slides that put the bearing's centre at places of the plate's frame: the inverse of `places`.
    ///
    /// Parameters
    /// ----------
    /// inboard, rearward : array of float, shape (n,)
    ///     In mm from the measured strut top.
    /// position : array of int, shape (n,)
    ///
    /// Returns
    /// -------
    /// array, shape (2, n)
    ///     Slides of plate and insert in mm.
    #[allow(clippy::needless_pass_by_value)]
    fn slides<'py>(
        &self,
        py: Python<'py>,
        inboard: Numbers<'py, f64, Ix1>,
        rearward: Numbers<'py, f64, Ix1>,
        position: Numbers<'py, i64, Ix1>,
    ) -> PyResult<Bound<'py, PyArray2<f64>>> {
        self.each(py, &inboard, &rearward, Some(&position), |x, y, i| {
            self.inner.slides_mm([x, y], i)
        })
    }

    /// Distance of points from the edge of the tower's opening, positive inside.
    ///
    /// Parameters
    /// ----------
    /// inboard, rearward : array of float, shape (n,)
    ///     In mm in the plate's frame.
    ///
    /// Returns
    /// -------
    /// array, shape (1, n)
    ///     In mm; NaN if the plate tells of no opening.
    #[allow(clippy::needless_pass_by_value)]
    fn room<'py>(
        &self,
        py: Python<'py>,
        inboard: Numbers<'py, f64, Ix1>,
        rearward: Numbers<'py, f64, Ix1>,
    ) -> PyResult<Bound<'py, PyArray2<f64>>> {
        let opening = self.inner.opening.as_ref();
        self.each(py, &inboard, &rearward, None, |x, y, _| {
            [opening.map_or(f64::NAN, |opening| opening.gap_mm([x, y]))]
        })
    }

    /// Distances of nut, insert and rod from the edge of the tower's opening, positive where they pass.
    ///
    /// Parameters
    /// ----------
    /// corner : Corner
    ///     Whose poses these are.
    /// strut_top, strut_low : array of float, shape (3, n)
    ///     Where these points are in each pose, in mm, in the car's coordinates.
    ///
    /// Returns
    /// -------
    /// array, shape (3, n)
    ///     For nut, insert and rod, in mm; NaN for what the plate does not tell.
    #[allow(clippy::needless_pass_by_value)]
    fn gaps<'py>(
        &self,
        py: Python<'py>,
        corner: &PyCorner,
        strut_top: Numbers<'py, f64, Ix2>,
        strut_low: Numbers<'py, f64, Ix2>,
    ) -> PyResult<Bound<'py, PyArray2<f64>>> {
        let (top, low) = (strut_top.as_array(), strut_low.as_array());
        if top.shape() != low.shape() || top.nrows() != 3 {
            return Err(PyValueError::new_err(
                "strut_top and strut_low are arrays of one shape (3, n)",
            ));
        }
        let mirrored = corner.inner.side() == Side::Right;
        let left_twin = |of: &numpy::ndarray::ArrayView2<'_, f64>, i: usize| {
            let point = Point::new(of[[0, i]], of[[1, i]], of[[2, i]]);
            if mirrored { point.mirrored() } else { point }
        };
        let measured = corner.inner.left_twin().strut_top;
        let count = top.ncols();
        let frame = self.inner.frame();
        let result = PyArray2::<f64>::zeros(py, [3, count], false);
        let mut writing = result.readwrite();
        let mut rows = writing.as_array_mut();
        py.detach(|| {
            for i in 0..count {
                let (top, low) = (left_twin(&top, i), left_twin(&low, i));
                for (row, gap) in self
                    .inner
                    .gaps_mm(&frame, top - measured, top - low)
                    .into_iter()
                    .enumerate()
                {
                    rows[[row, i]] = gap;
                }
            }
        });
        drop(writing);
        Ok(result)
    }

    /// The plate's axes in the car's coordinates: rows inboard, rearward and normal, each of length one.
    ///
    /// Parameters
    /// ----------
    /// side : {"left", "right"}
    ///
    /// Returns
    /// -------
    /// array, shape (3, 3)
    ///
    /// Raises
    /// ------
    /// ValueError
    ///     No such side.
    ///
    /// Examples
    /// --------
    /// >>> import strutsweep as ss
    /// >>> ss.demo("gravel_hatch").top_plate.axes("left").shape
    /// (3, 3)
    #[pyo3(signature = (side="left"))]
    fn axes<'py>(&self, py: Python<'py>, side: &str) -> PyResult<Bound<'py, PyArray2<f64>>> {
        let turn = |vector: Vector| -> PyResult<Vec<f64>> {
            let vector: [f64; 3] = match side {
                "left" => vector.into(),
                "right" => vector.mirrored().into(),
                _ => return Err(PyValueError::new_err(format!("side = {side:?} is not left or right"))),
            };
            Ok(vector.to_vec())
        };
        let frame = self.inner.frame();
        let rows = [turn(frame.inboard)?, turn(frame.rearward)?, turn(frame.normal)?];
        Ok(PyArray2::from_vec2(py, &rows)?)
    }

    /// How far the strut-top pivot rises while it slides along the tower's face: per mm of ``mount_in`` and of
    /// ``mount_back``, the same on either side. Negative where the face falls that way.
    ///
    /// Examples
    /// --------
    /// >>> import strutsweep as ss
    /// >>> rise = ss.demo("gravel_hatch").top_plate.rise      # the face falls 5 deg inboard, 3 deg rearward
    /// >>> {name: round(per, 4) for name, per in rise.items()}
    /// {'mount_in': -0.0875, 'mount_back': -0.0524}
    #[getter]
    fn rise<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let [inboard, rearward] = self.inner.rise();
        let rise = PyDict::new(py);
        rise.set_item("mount_in", inboard)?;
        rise.set_item("mount_back", rearward)?;
        Ok(rise)
    }

    /// The slots by which the plate slides on the tower: ``direction`` (deg), ``reach`` ([least, most] in mm), ``bolt`` and
    /// ``width`` (mm, None where unknown).
    #[getter]
    fn plate_slot<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        slot(py, &self.inner.plate_slot)
    }

    /// The slots by which the insert slides in the plate: as `plate_slot`.
    #[getter]
    fn insert_slot<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        slot(py, &self.inner.insert_slot)
    }

    /// The insert: ``offset`` (mm), ``angles`` (deg, one a position) and ``heights`` (mm, as many, or empty if all alike).
    #[getter]
    fn insert<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let insert = PyDict::new(py);
        insert.set_item("offset", self.inner.insert.offset_mm)?;
        insert.set_item("angles", self.inner.insert.angles_deg.clone())?;
        insert.set_item("heights", self.inner.insert.heights_mm.clone())?;
        Ok(insert)
    }

    /// How many positions the insert has.
    #[getter]
    fn positions(&self) -> usize {
        self.inner.insert.angles_deg.len()
    }

    /// The tower's studs: ``count``, ``circle`` (diameter in mm), ``first`` (deg) and ``centres`` ([inboard, rearward] of
    /// each in mm from the hardware's middle), or None.
    #[getter]
    fn studs<'py>(&self, py: Python<'py>) -> PyResult<Option<Bound<'py, PyDict>>> {
        self.inner.studs.as_ref().map(|studs| bolts(py, studs)).transpose()
    }

    /// The insert's bolts: as `studs`.
    #[getter]
    fn insert_bolts<'py>(&self, py: Python<'py>) -> PyResult<Option<Bound<'py, PyDict>>> {
        self.inner
            .insert_bolts
            .as_ref()
            .map(|studs| bolts(py, studs))
            .transpose()
    }

    /// The opening in the tower's face, as the car file has it, or None.
    #[getter]
    fn opening<'py>(&self, py: Python<'py>) -> PyResult<Option<Bound<'py, PyDict>>> {
        match file::top_plate_to_table(&self.inner).get("opening") {
            Some(Value::Table(opening)) => dict_from_table(py, opening).map(Some),
            _ => Ok(None),
        }
    }

    /// What has to pass the opening: ``nut``, ``insert`` and ``rod`` (radii in mm, None where unknown) and ``nut_height``
    /// (mm over the face).
    #[getter]
    fn clearing<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let clearing = PyDict::new(py);
        clearing.set_item("nut", self.inner.clearing.nut_mm)?;
        clearing.set_item("nut_height", self.inner.clearing.nut_height_mm)?;
        clearing.set_item("insert", self.inner.clearing.insert_mm)?;
        clearing.set_item("rod", self.inner.clearing.rod_mm)?;
        Ok(clearing)
    }

    /// Where the hardware's middle is from the measured strut top: [inboard, rearward] in the plate, in mm.
    #[getter]
    fn middle(&self) -> [f64; 2] {
        self.inner.middle_mm
    }

    /// From the face up to the bearing's centre, along the normal, in mm.
    #[getter]
    fn bearing_height(&self) -> f64 {
        self.inner.bearing_height_mm
    }

    /// From the face up to the spring's seat, along the normal, in mm, or None.
    #[getter]
    fn seat_height(&self) -> Option<f64> {
        self.inner.seat_height_mm
    }

    /// How far the plate is turned in the face, its inboard side rearward, in deg.
    #[getter]
    fn yaw(&self) -> f64 {
        self.inner.yaw_deg
    }

    fn __repr__(&self) -> String {
        let positions = self.positions();
        let [plate, insert] = [self.inner.plate_slot.reach_mm, self.inner.insert_slot.reach_mm];
        format!(
            "TopPlate({positions} insert position{}, plate {} to {} mm, insert {} to {} mm)",
            if positions == 1 { "" } else { "s" },
            plate[0],
            plate[1],
            insert[0],
            insert[1]
        )
    }

    fn __hash__(&self) -> u64 {
        // Equal plates hash alike, and 0.0 equals -0.0: adding zero makes them one.
        let bits = |values: [f64; 2]| values.map(|value| (value + 0.0).to_bits());
        hash_of(&(
            bits(self.inner.plate_slot.reach_mm),
            bits(self.inner.insert_slot.reach_mm),
            bits([self.inner.insert.offset_mm, self.inner.yaw_deg]),
            bits(self.inner.middle_mm),
            self.positions(),
        ))
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        let maker = PyType::new::<Self>(py).getattr("from_dict")?;
        Ok((maker, PyTuple::new(py, [self.to_dict(py)?])?))
    }
}

impl PyTopPlate {
    fn from_table(py: Python<'_>, table: &Table) -> PyResult<Self> {
        file::top_plate_from_table(table)
            .map(|inner| Self { inner })
            .map_err(|error| from_file(py, &error))
    }

    fn check_position(&self, position: usize) -> PyResult<()> {
        let positions = self.positions();
        if position < positions {
            return Ok(());
        }
        Err(PyValueError::new_err(format!(
            "position = {position} is not one of the insert's {positions}, counted from 0"
        )))
    }

    /// A function of two numbers and a position, for each place of flat arrays of one length.
    fn each<'py, const K: usize>(
        &self,
        py: Python<'py>,
        first: &Numbers<'py, f64, Ix1>,
        second: &Numbers<'py, f64, Ix1>,
        position: Option<&Numbers<'py, i64, Ix1>>,
        of: impl Fn(f64, f64, usize) -> [f64; K] + Send + Sync,
    ) -> PyResult<Bound<'py, PyArray2<f64>>> {
        let count = first.len();
        let (first, second) = (first.as_array(), second.as_array());
        let position = position.map(|position| position.as_array());
        if second.len() != count || position.is_some_and(|position| position.len() != count) {
            return Err(PyValueError::new_err("the arrays are not of one length"));
        }
        if let Some(position) = position {
            for index in position {
                self.check_position(usize::try_from(*index).unwrap_or(usize::MAX))?;
            }
        }
        let result = PyArray2::<f64>::zeros(py, [K, count], false);
        let mut writing = result.readwrite();
        let mut rows = writing.as_array_mut();
        py.detach(|| {
            for i in 0..count {
                let index = position.map_or(0, |position| usize::try_from(position[i]).unwrap_or_default());
                for (row, value) in of(first[i], second[i], index).into_iter().enumerate() {
                    rows[[row, i]] = value;
                }
            }
        });
        drop(writing);
        Ok(result)
    }
}

fn slot<'py>(py: Python<'py>, slot: &Slot) -> PyResult<Bound<'py, PyDict>> {
    let dict = PyDict::new(py);
    dict.set_item("direction", slot.direction_deg)?;
    dict.set_item("reach", slot.reach_mm)?;
    dict.set_item("bolt", slot.bolt_mm)?;
    dict.set_item("width", slot.width_mm)?;
    Ok(dict)
}

fn bolts<'py>(py: Python<'py>, bolts: &BoltCircle) -> PyResult<Bound<'py, PyDict>> {
    let dict = PyDict::new(py);
    dict.set_item("count", bolts.count)?;
    dict.set_item("circle", bolts.circle_mm)?;
    dict.set_item("first", bolts.first_deg)?;
    dict.set_item("centres", bolts.centres_mm())?;
    Ok(dict)
}
