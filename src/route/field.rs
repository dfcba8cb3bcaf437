//! [`Field`]: a task as the search sees it.

use super::chart::Chart;
use super::limits::MAX_TURN;
use super::{Limits, Task};
use crate::geometry::{Direction, Point, Vector, across, perpendicular};
use crate::run::Port;
use crate::units::Length;
use std::sync::Arc;

/// A task in a frame made from its ports, in units of its own size: the first port at
/// the origin and facing +z, the last in the half plane x ≥ 0. The search works here,
/// so that a job moved or turned is searched in the same way.
#[derive(Clone, Debug)]
pub(super) struct Field<'a> {
    pub task: &'a Task,
    /// The task's limits, grown by what the allowances take.
    pub limits: Limits,
    /// The length that everything is counted in, mm: what makes variables near 1.
    pub unit: f64,
    pub job_from_frame: nalgebra::Rotation3<f64>,
    pub ends: [End; 2],
    pub passes: Vec<Opening>,
    /// The room among what is scanned.
    pub chart: Option<Arc<Chart>>,
    /// CLRs that a pie bend may have; choices name them by their place here.
    pub radii: Vec<Radius>,
}

/// CLR of a pie bend, in units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Radius {
    Only(f64),
    Between(f64, f64),
}

impl Radius {
    pub const fn least(self) -> f64 {
        match self {
            Self::Only(radius) | Self::Between(radius, _) => radius,
        }
    }
}

/// A port.
#[derive(Clone, Debug)]
pub(super) struct End {
    pub center: Vector,
    pub outward: Vector,
    pub slides: Vec<Track>,
    /// Tangent of the cone that the outward direction may lean within.
    pub lean: f64,
    /// Two directions square to the outward one.
    pub across: [Vector; 2],
    pub straight: f64,
}

/// A direction that a port may slide along.
#[derive(Clone, Copy, Debug)]
pub(super) struct Track {
    pub along: Vector,
    pub back: f64,
    pub ahead: f64,
}

impl End {
    /// Number of variables that place it.
    pub fn variables(&self) -> usize {
        self.slides.len() + if self.lean > 0.0 { 2 } else { 0 }
    }

    pub fn is_fixed(&self) -> bool {
        self.variables() == 0
    }
}

/// A place to pass through.
#[derive(Clone, Copy, Debug)]
pub(super) struct Opening {
    pub center: Vector,
    pub direction: Option<Vector>,
    pub radius: f64,
}

/// Out of one plane by less than this, in units, is in it.
const FLAT: f64 = 1e-6;
/// Single CLRs searched across a range before the range as a whole.
const RANGE_STEPS: u32 = 5;
/// Sideways parts smaller than this, in units, give no direction.
const LEAST_SIDE: f64 = 1e-9;

impl<'a> Field<'a> {
    pub fn new(task: &'a Task) -> Self {
        let limits = task.search_limits();
        let chord = (task.end.center - task.start.center).norm();
        let unit = chord + limits.clr_min.mm();
        let job_from_frame = frame(&task.start, &task.end, unit);
        let mut field = Self {
            task,
            limits,
            unit,
            job_from_frame,
            ends: [&task.start, &task.end].map(|_| End::default()),
            passes: Vec::new(),
            chart: task.charts.of(task.ground()),
            radii: radii(task, &limits, unit),
        };
        field.ends = [&task.start, &task.end].map(|port| field.end(port));
        let passes = task.passes.iter().map(|pass| Opening {
            center: field.in_frame(&pass.center),
            direction: pass
                .direction
                .map(|d| job_from_frame.inverse() * d.into_inner()),
            radius: pass.radius.mm() / unit,
        });
        field.passes = passes.collect();
        field
    }

    fn end(&self, port: &Port) -> End {
        let turn = |v: Vector| self.job_from_frame.inverse() * v;
        let outward = turn(port.outward.into_inner());
        let slides = port.freedom.slides.iter().map(|slide| Track {
            along: turn(slide.along.into_inner()),
            back: slide.back.mm() / self.unit,
            ahead: slide.ahead.mm() / self.unit,
        });
        End {
            center: self.in_frame(&port.center),
            outward,
            slides: slides.collect(),
            lean: port.freedom.cone.tan(),
            across: across(&Direction::new_unchecked(outward)).map(Direction::into_inner),
            straight: port.straight.mm() / self.unit,
        }
    }

    /// Whether the ports lie in one plane, or may, so that a run between them need not
    /// leave it.
    pub fn is_flat(&self) -> bool {
        let [start, end] = &self.ends;
        let is_fixed = start.is_fixed() && end.is_fixed();
        let out = start
            .outward
            .cross(&(end.center - start.center))
            .dot(&end.outward);
        !is_fixed || out.abs() < FLAT
    }

    /// Units of a length.
    pub fn units(&self, length: Length) -> f64 {
        length.mm() / self.unit
    }

    /// A length in units.
    pub fn length(&self, units: f64) -> Length {
        Length::from_mm(units * self.unit)
    }

    /// Outside radius of the tube, in units.
    pub fn tube_radius(&self) -> f64 {
        self.units(self.task.tube.radius())
    }

    /// Greatest turn, rad, of `joints` joints at a CLR of `radius` units.
    pub fn greatest_turn(&self, joints: u32, radius: f64) -> f64 {
        let tube = self.task.tube.radius();
        let greatest = self.limits.greatest_turn(joints, self.length(radius), tube);
        greatest.min(MAX_TURN).radians()
    }

    /// A point of the job, seen from here.
    pub fn in_frame(&self, point: &Point) -> Vector {
        self.job_from_frame.inverse() * (point - self.task.start.center) / self.unit
    }

    /// A point of the frame, as the job has it.
    pub fn in_job(&self, point: &Vector) -> Point {
        self.task.start.center + self.job_from_frame * point * self.unit
    }
}

impl Default for End {
    fn default() -> Self {
        Self {
            center: Vector::zeros(),
            outward: Vector::z(),
            slides: Vec::new(),
            lean: 0.0,
            across: [Vector::x(), Vector::y()],
            straight: 0.0,
        }
    }
}

fn frame(start: &Port, end: &Port, unit: f64) -> nalgebra::Rotation3<f64> {
    let z = start.outward;
    let chord = end.center - start.center;
    let square = |v: Vector| v - z.into_inner() * z.dot(&v);
    // Sideways is where the last port lies, or else where it faces.
    let x = Direction::try_new(square(chord / unit), LEAST_SIDE)
        .or_else(|| Direction::try_new(square(end.outward.into_inner()), LEAST_SIDE))
        .unwrap_or_else(|| perpendicular(&z));
    let y = z.cross(&x);
    let axes = nalgebra::Matrix3::from_columns(&[x.into_inner(), y, z.into_inner()]);
    nalgebra::Rotation3::from_matrix_unchecked(axes)
}

/// The CLRs to search with, in units: those that the task lists; or across its range
/// some single ones, each a simpler search than the range as a whole, so that a wider
/// range does no worse than one inside.
fn radii(task: &Task, limits: &Limits, unit: f64) -> Vec<Radius> {
    if !task.clrs.is_empty() {
        let only = |clr: &Length| Radius::Only(clr.mm() / unit);
        return task.clrs.iter().map(only).collect();
    }
    let greatest = limits.clr_max;
    let least = limits
        .clr_min
        .max(limits.least_pie_clr(task.tube.radius()))
        .min(greatest);
    if limits.clr_min == greatest {
        return vec![Radius::Only(greatest.mm() / unit)];
    }
    let step = |i: u32| {
        let part = f64::from(i) / f64::from(RANGE_STEPS - 1);
        let clr = least.mm().powf(1.0 - part) * greatest.mm().powf(part);
        Radius::Only(clr.max(least.mm()).min(greatest.mm()) / unit)
    };
    (0..RANGE_STEPS)
        .map(step)
        .chain([Radius::Between(least.mm() / unit, greatest.mm() / unit)])
        .collect()
}
