//! Arrays at the door: NumPy in without a copy where it is `float64`, broadcasting, NumPy out without a copy.

use std::borrow::Cow;
use std::marker::PhantomData;

use casetight::quantity::TradeUnits;
use numpy::ndarray::{ArrayD, ArrayViewD, IxDyn, aview0};
use numpy::{
    IntoPyArray, PyArrayDescrMethods, PyArrayDyn, PyReadonlyArrayDyn, PyUntypedArray,
    PyUntypedArrayMethods,
};
use pyo3::prelude::*;
use pyo3::types::{PyFloat, PyInt, PyList, PyString, PyTuple};

use crate::errors::{Answer, Failure, ours};
use crate::scalar::Si;
use crate::units::{as_array, magnitude, time};

/// Points of an array that are worked on between two looks at signals, with the interpreter free meanwhile. Fewer are done
/// without letting go of it, which would take longer than they do.
const CHUNK_POINTS: usize = 1 << 14;
const FEW_POINTS: usize = 256;

/// One number or an array of them, in the SI unit of a quantity.
pub(crate) struct Floats<'py, Q> {
    values: Values<'py>,
    quantity: PhantomData<Q>,
}

enum Values<'py> {
    One(f64),
    Many(PyReadonlyArrayDyn<'py, f64>),
}

impl<'py, Q: TradeUnits> FromPyObject<'_, 'py> for Floats<'py, Q> {
    type Error = PyErr;

    fn extract(object: Borrowed<'_, 'py, PyAny>) -> PyResult<Self> {
        let values = if let Ok(float) = object.cast_exact::<PyFloat>() {
            Values::One(float.value())
        } else if let Some(array) = plain_array(&object) {
            Values::Many(lent(array)?)
        } else if object.is_instance_of::<PyString>() {
            Values::One(object.extract::<Si<Q>>()?.0.si_value())
        } else if object.is_instance_of::<PyList>() || object.is_instance_of::<PyTuple>() {
            converted::<Q>(&without_units::<Q>(&object)?)?
        } else if let Some(magnitude) = magnitude::<Q>(&object)? {
            converted::<Q>(&magnitude)?
        } else {
            converted::<Q>(&object)?
        };
        Ok(Self {
            values,
            quantity: PhantomData,
        })
    }
}

/// An array of 64-bit floats, of NumPy's own class: subclasses may mask or scale what they hold.
fn plain_array<'a, 'py>(object: &'a Bound<'py, PyAny>) -> Option<&'a Bound<'py, PyArrayDyn<f64>>> {
    let plain = object
        .get_type()
        .is(object.py().get_type::<PyUntypedArray>());
    object.cast::<PyArrayDyn<f64>>().ok().filter(|_| plain)
}

fn lent<'py>(array: &Bound<'py, PyArrayDyn<f64>>) -> PyResult<PyReadonlyArrayDyn<'py, f64>> {
    use numpy::PyArrayMethods;
    Ok(array.try_readonly().map_err(Failure::shared)?)
}

impl Failure {
    pub(crate) fn shared(error: numpy::BorrowError) -> Self {
        Self::new(error.to_string())
    }
}

/// A sequence with each element that carries a unit as its number in the quantity's SI unit: NumPy would drop some units.
fn without_units<'py, Q: TradeUnits>(object: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
    let bare = |element: &Bound<'_, PyAny>| {
        element.is_instance_of::<PyFloat>() || element.is_instance_of::<PyInt>()
    };
    let mut changed = false;
    let mut elements = Vec::new();
    for element in object.try_iter()? {
        let element = element?;
        let number = if bare(&element) {
            None
        } else if element.is_instance_of::<PyList>() || element.is_instance_of::<PyTuple>() {
            Some(without_units::<Q>(&element)?)
        } else {
            magnitude::<Q>(&element)?
        };
        changed |= number.is_some();
        elements.push(number.unwrap_or(element));
    }
    if changed {
        return Ok(PyList::new(object.py(), elements)?.into_any());
    }
    Ok(object.clone())
}

/// Numbers of any other type: sequences, integers, single precision, columns of frames.
fn converted<'py, Q: TradeUnits>(object: &Bound<'py, PyAny>) -> PyResult<Values<'py>> {
    if let Some(mask) = object.getattr_opt("mask")?
        && object.getattr_opt("filled")?.is_some()
        && mask.call_method0("any")?.is_truthy()?
    {
        return Err(
            Failure::kind("a masked array with masked elements; take them out first").into(),
        );
    }
    let py = object.py();
    let mut array = as_array(object).map_err(|error| ours(py, error))?;
    if let Some(seconds) = time::<Q>(&array)? {
        array = seconds;
    }
    let untyped = array.cast::<PyUntypedArray>()?;
    if !matches!(untyped.dtype().kind(), b'f' | b'i' | b'u') {
        return Err(Failure::kind(format!(
            "{} of dtype {} where real numbers belong",
            object.get_type().name()?,
            untyped.dtype()
        ))
        .into());
    }
    let floats = array.call_method1("astype", ("float64",))?;
    let floats = lent(floats.cast::<PyArrayDyn<f64>>()?)?;
    Ok(if floats.ndim() == 0 {
        floats
            .as_array()
            .first()
            .map_or(Values::One(f64::NAN), |v| Values::One(*v))
    } else {
        Values::Many(floats)
    })
}

impl<Q> Floats<'_, Q> {
    /// The numbers of a one-dimensional array; borrowed where they lie side by side.
    pub(crate) fn column(&self, name: &str) -> Answer<Cow<'_, [f64]>> {
        match &self.values {
            Values::Many(array) if array.ndim() == 1 => Ok(array.as_slice().map_or_else(
                |_| Cow::Owned(array.as_array().iter().copied().collect()),
                Cow::Borrowed,
            )),
            Values::Many(array) => Err(Failure::new(format!(
                "{name} has the shape {:?}; a run's readings are one-dimensional",
                array.shape()
            ))),
            Values::One(_) => Err(Failure::new(format!(
                "{name} is one number; a run's readings are a sequence"
            ))),
        }
    }

    /// The numbers as a view that can be broadcast.
    fn view(&self) -> ArrayViewD<'_, f64> {
        match &self.values {
            Values::One(value) => aview0(value).into_dyn(),
            Values::Many(array) => array.as_array(),
        }
    }
}

/// An input of [`map`], whatever its quantity.
pub(crate) trait Broadcast {
    /// The numbers as a view that can be broadcast.
    fn view(&self) -> ArrayViewD<'_, f64>;
}

impl<Q> Broadcast for Floats<'_, Q> {
    fn view(&self) -> ArrayViewD<'_, f64> {
        Self::view(self)
    }
}

/// A function of numbers over arrays by the rules of broadcasting: one number where all inputs are, else a new array.
pub(crate) fn map<'py, const N: usize>(
    py: Python<'py>,
    inputs: [&dyn Broadcast; N],
    mut function: impl FnMut([f64; N]) -> Answer<f64> + Send,
) -> Answer<Bound<'py, PyAny>> {
    let views = inputs.map(Broadcast::view);
    let shape = common_shape(views.each_ref().map(|view| -> &[usize] { view.shape() }))?;
    let mismatch = || Failure::new("arrays whose shapes do not broadcast");
    let mut numbers = Vec::with_capacity(N);
    for view in &views {
        let view = view.broadcast(IxDyn(&shape)).ok_or_else(mismatch)?;
        numbers.push(view);
    }
    let mut numbers: Vec<_> = numbers.iter().map(|view| view.iter()).collect();
    let mut next = || -> Option<[f64; N]> {
        let mut point = [0.0; N];
        for (number, values) in point.iter_mut().zip(&mut numbers) {
            *number = *values.next()?;
        }
        Some(point)
    };
    if shape.is_empty() {
        let value = function(next().ok_or_else(mismatch)?)?;
        return Ok(PyFloat::new(py, value).into_any());
    }
    let count = shape
        .iter()
        .try_fold(1_usize, |count, length| count.checked_mul(*length))
        .unwrap_or(usize::MAX);
    let mut found = Vec::new();
    // More than the memory holds is an answer, not an end.
    found.try_reserve_exact(count)?;
    let mut part = || -> Answer<()> {
        let until = found.len().saturating_add(CHUNK_POINTS);
        while found.len() < until
            && let Some(point) = next()
        {
            found.push(function(point)?);
        }
        Ok(())
    };
    for _ in 0..=count / CHUNK_POINTS {
        if count > FEW_POINTS {
            py.detach(&mut part)?;
            py.check_signals()?;
        } else {
            part()?;
        }
    }
    let found = ArrayD::from_shape_vec(IxDyn(&shape), found).map_err(|_| mismatch())?;
    Ok(found.into_pyarray(py).into_any())
}

/// The shape that arrays of these shapes have together.
fn common_shape<const N: usize>(shapes: [&[usize]; N]) -> Answer<Vec<usize>> {
    let dimensions = shapes.iter().map(|shape| shape.len()).max().unwrap_or(0);
    let mut common = vec![1; dimensions];
    for shape in shapes {
        for (place, length) in common.iter_mut().rev().zip(shape.iter().rev()) {
            match (*place, *length) {
                (a, b) if a == b || b == 1 => {}
                (1, b) => *place = b,
                _ => {
                    let told: Vec<String> = shapes.iter().map(|s| format!("{s:?}")).collect();
                    return Err(Failure::new(format!(
                        "the shapes {} do not broadcast together",
                        told.join(" and ")
                    )));
                }
            }
        }
    }
    Ok(common)
}
