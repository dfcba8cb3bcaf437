//! [`Path`]: lines and cubic Bézier curves in a row.

use super::area::Area;
use crate::tube::{Curve, FlatPoint};

/// Lines and curves, in one stroke or several.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Path {
    steps: Vec<Step>,
    closed: bool,
}

/// One step of a path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Step {
    /// Lift the pen and go to a point.
    Move(FlatPoint),
    /// A straight line to a point.
    Line(FlatPoint),
    /// A cubic Bézier curve: two controls and the point that it goes to.
    Cubic([FlatPoint; 3]),
}

impl Step {
    /// Where it ends.
    pub const fn end(&self) -> FlatPoint {
        match self {
            Self::Move(to) | Self::Line(to) | Self::Cubic([_, _, to]) => *to,
        }
    }
}

/// One line or curve of a path, with where it begins.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Segment {
    /// From one point to another.
    Line([FlatPoint; 2]),
    /// A cubic Bézier curve.
    Cubic(Curve),
}

impl Segment {
    /// Its first point.
    pub const fn start(&self) -> FlatPoint {
        match self {
            Self::Line([from, _]) | Self::Cubic([from, ..]) => *from,
        }
    }
}

impl Path {
    /// With the pen at `start`.
    pub fn from(start: FlatPoint) -> Self {
        Self {
            steps: vec![Step::Move(start)],
            closed: false,
        }
    }

    /// Through `points`.
    pub fn through(points: impl IntoIterator<Item = FlatPoint>) -> Self {
        let mut path = Self::default();
        for point in points {
            path.steps.push(match path.steps.is_empty() {
                true => Step::Move(point),
                false => Step::Line(point),
            });
        }
        path
    }

    /// Along curves that join.
    pub fn along(curves: &[Curve]) -> Self {
        let mut path = Self::default();
        if let Some(curve) = curves.first() {
            path = Self::from(curve[0]);
        }
        path.add_curves(curves);
        path
    }

    /// Closed, or opened.
    #[must_use]
    pub fn closed(mut self, closed: bool) -> Self {
        self.closed = closed;
        self
    }

    /// Lifts the pen.
    pub fn move_to(&mut self, to: FlatPoint) {
        self.steps.push(Step::Move(to));
    }

    /// A straight line.
    pub fn line_to(&mut self, to: FlatPoint) {
        self.steps.push(Step::Line(to));
    }

    /// A curve.
    pub fn cubic_to(&mut self, to: [FlatPoint; 3]) {
        self.steps.push(Step::Cubic(to));
    }

    /// Curves that go on from where the pen is.
    pub fn add_curves(&mut self, curves: &[Curve]) {
        for &[_, a, b, end] in curves {
            self.cubic_to([a, b, end]);
        }
    }

    /// The same curves from their last end to their first start.
    pub fn add_curves_back(&mut self, curves: &[Curve]) {
        for &[start, a, b, _] in curves.iter().rev() {
            self.cubic_to([b, a, start]);
        }
    }

    /// Its steps.
    pub fn steps(&self) -> &[Step] {
        &self.steps
    }

    /// Whether the last stroke goes back to where it began.
    pub const fn is_closed(&self) -> bool {
        self.closed
    }

    /// Its lines and curves, stroke by stroke.
    pub fn strokes(&self) -> Vec<Vec<Segment>> {
        let mut strokes: Vec<Vec<Segment>> = Vec::new();
        let (mut pen, mut begun) = ([0.0; 2], [0.0; 2]);
        for step in &self.steps {
            let segment = match *step {
                Step::Move(to) => {
                    strokes.push(Vec::new());
                    (pen, begun) = (to, to);
                    continue;
                }
                Step::Line(to) => Segment::Line([pen, to]),
                Step::Cubic([a, b, to]) => Segment::Cubic([pen, a, b, to]),
            };
            pen = step.end();
            if let Some(stroke) = strokes.last_mut() {
                stroke.push(segment);
            }
        }
        if let Some(stroke) = strokes.last_mut()
            && self.closed
            && pen != begun
        {
            stroke.push(Segment::Line([pen, begun]));
        }
        strokes.retain(|stroke| !stroke.is_empty());
        strokes
    }

    /// A rectangle that holds it: that of its controls.
    pub fn area(&self) -> Area {
        Area::around(self.steps.iter().flat_map(|step| match *step {
            Step::Move(to) | Step::Line(to) => vec![to],
            Step::Cubic(points) => points.to_vec(),
        }))
    }

    /// Moved.
    pub fn moved(&self, [x, y]: FlatPoint) -> Self {
        let go = |[px, py]: FlatPoint| [px + x, py + y];
        let step = |step: &Step| match *step {
            Step::Move(to) => Step::Move(go(to)),
            Step::Line(to) => Step::Line(go(to)),
            Step::Cubic(points) => Step::Cubic(points.map(go)),
        };
        Self {
            steps: self.steps.iter().map(step).collect(),
            closed: self.closed,
        }
    }
}
