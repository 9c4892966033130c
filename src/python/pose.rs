//! `Pose`.
//!
//! Documentation of wrapped items is Python's: their examples run there.
#![allow(clippy::doc_link_with_quotes)]

use numpy::PyArray1;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple, PyType};

use super::convert;
use super::error::not_one_of;
use crate::for_each_reading;
use crate::motion::{MOTION_FIELDS, Motion};
use crate::pose::{Figures, PLACE_COUNT, Place, Pose};
use crate::reading::{READING_COUNT, Reading};
use crate::setting::{SETTING_FIELDS, Setting};
use crate::space::Point;

/// A corner in one pose: every reading as an attribute, and where its points are.
///
/// Millimetres and degrees; places in the car's coordinates. Made by `Corner.solve`.
///
/// Examples
/// --------
/// >>> import strutsweep as ss
/// >>> pose = ss.demo("gravel_hatch").left.solve(travel=20.0)
/// >>> pose.camber == pose.readings["camber"]
/// True
/// >>> pose.point("strut_top")
/// array([-35., 548., 840.])
#[pyclass(name = "Pose", module = "strutsweep", frozen, eq)]
#[derive(Clone, Debug, PartialEq)]
pub(super) struct PyPose {
    pub(super) inner: Pose,
}

macro_rules! declare_pose {
    ($($name:ident, $variant:ident, $unit:literal, $long:literal, $positive:literal, $doc:literal;)*) => {
        #[pymethods]
        impl PyPose {
            $(
                #[doc = concat!($long, " (", $unit, "). Positive: ", $positive, ".\n\n", $doc)]
                #[getter]
                fn $name(&self) -> f64 {
                    self.inner.reading(Reading::$variant)
                }
            )*

            /// Every reading: a dictionary from name to value, in mm, deg, deg/mm or a plain ratio.
            #[getter]
            fn readings<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
                let readings = PyDict::new(py);
                for reading in Reading::ALL {
                    readings.set_item(reading.name(), self.inner.reading(reading))?;
                }
                Ok(readings)
            }

            /// Where a point is in this pose, as an array [x, y, z] in mm, in the car's coordinates.
            ///
            /// Parameters
            /// ----------
            /// name : str
            ///     A key of ``points``.
            fn point<'py>(&self, py: Python<'py>, name: &str) -> PyResult<Bound<'py, PyArray1<f64>>> {
                let place = Place::from_name(name)
                    .ok_or_else(|| not_one_of(py, "name", name, &Place::ALL.map(Place::name)))?;
                let at: [f64; 3] = self.inner.place(place).into();
                Ok(PyArray1::from_slice(py, &at))
            }

            /// Where every point is: a dictionary of arrays [x, y, z] in mm, in the car's coordinates.
            #[getter]
            fn points<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
                let points = PyDict::new(py);
                for place in Place::ALL {
                    let at: [f64; 3] = self.inner.place(place).into();
                    points.set_item(place.name(), PyArray1::from_slice(py, &at))?;
                }
                Ok(points)
            }

            /// The setting and the motion that this pose stands in, by name, in mm and deg.
            #[getter]
            fn inputs<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
                let inputs = PyDict::new(py);
                for (field, value) in SETTING_FIELDS.iter().zip(self.inner.setting.to_array()) {
                    inputs.set_item(field.name, value)?;
                }
                for (field, value) in MOTION_FIELDS.iter().zip(self.inner.motion.to_array()) {
                    inputs.set_item(field.name, value)?;
                }
                Ok(inputs)
            }

            /// Where travel is measured: ``"ground"``, ``"hub"`` or ``"strut"``.
            #[getter]
            fn travel_at(&self) -> &'static str {
                self.inner.travel_at.name()
            }

            /// A pose from what `__reduce__` made of it.
            #[staticmethod]
            fn _from_state(
                py: Python<'_>,
                inputs: [f64; SETTING_FIELDS.len() + MOTION_FIELDS.len()],
                travel_at: &str,
                readings: [f64; READING_COUNT],
                places: [[f64; 3]; PLACE_COUNT],
            ) -> PyResult<Self> {
                let (setting, motion) = inputs.split_at(SETTING_FIELDS.len());
                let inner = Pose {
                    setting: Setting::from_array(std::array::from_fn(|i| setting[i])),
                    motion: Motion::from_array(std::array::from_fn(|i| motion[i])),
                    travel_at: convert::travel_at(py, travel_at)?,
                    figures: Figures {
                        readings,
                        places: places.map(Point::from),
                    },
                };
                Ok(Self { inner })
            }

            fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
                let Pose {
                    setting,
                    motion,
                    travel_at,
                    figures,
                } = &self.inner;
                let inputs: Vec<f64> = setting.to_array().into_iter().chain(motion.to_array()).collect();
                let state = (inputs, travel_at.name(), figures.readings, figures.places.map(<[f64; 3]>::from));
                let maker = PyType::new::<Self>(py).getattr("_from_state")?;
                Ok((maker, state.into_pyobject(py)?))
            }

            fn __repr__(&self) -> String {
                let head = [Reading::Camber, Reading::Toe, Reading::Caster, Reading::KingpinInclination];
                let shown: Vec<String> = head
                    .iter()
                    .map(|&reading| format!("{}={:.4}", reading.name(), self.inner.reading(reading)))
                    .collect();
                let motion = &self.inner.motion;
                format!(
                    "Pose(travel={}, rack={}, travel_at='{}': {} deg, ...)",
                    motion.travel_mm,
                    motion.rack_mm,
                    self.inner.travel_at.name(),
                    shown.join(", ")
                )
            }
        }
    };
}

for_each_reading!(declare_pose);
