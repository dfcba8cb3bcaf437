//! [`Stance`]: a port's unknowns, and what each reading says of them.

use super::adjust::Model;
use super::reading::{Observed, Pin, Readings};
use crate::geometry::{Direction, Point, Scatter, Vector, across};
use crate::units::{Angle, Length};
use nalgebra::{DMatrix, DVector, Matrix6};
use std::ops::Range;

/// Lean, rad, of one unit of the unknowns that stand for it.
pub(super) const LEAN: f64 = 0.01;
/// Least standard deviation, mm, so that exact numbers can be weighed beside others: a
/// micron.
const LEAST_DEVIATION: f64 = 1e-3;
/// The same of angles, rad.
const LEAST_LEAN: f64 = 1e-5;
/// Lean, rad, below which it and its sine are the same: their difference is 2e-13.
const SMALL_LEAN: f64 = 1e-4;
/// Sine below which the direction over the ground is no direction.
const PLUMB: f64 = 1e-6;
/// Unknowns of a place.
const PLACE: usize = 3;
/// Unknowns of an end whose face is square: its place, and two leans.
const SQUARE: usize = 5;
/// Sine of a cut below which nothing tells which way the face leans.
const UNCUT: f64 = 1e-9;
/// Least sine between a tube's side and its face that counts as their crossing: a cut of
/// 87°, which no saw makes.
const GRAZING: f64 = 0.05;

/// Values of a port's unknowns.
#[derive(Clone, Debug)]
pub(super) struct Stance {
    pub center: Point,
    pub outward: Direction,
    /// Square to the face, and outward; where that is square, the outward direction.
    pub face: Direction,
    pub rim: f64,
    pub bolts: f64,
    pub tip: f64,
    /// A point of the laid rod's line.
    pub laid: Point,
    pub pins: Vec<Point>,
}

/// A port's unknowns about a stance: the center's coordinates; two leans of the outward
/// direction, in units of [`LEAN`]; where the face is mitered two of its normal; then,
/// where readings need them, the rim's radius,
/// the bolt circle's, the tip's distance, two offsets of the laid rod, and coordinates of
/// pins that are not exact.
pub(super) struct Chart<'a> {
    readings: &'a Readings,
    /// Where all unknowns are zero, but for radii and distances.
    base: Stance,
    /// Square to the base's outward direction.
    across: [Vector; 2],
    /// Square to the base's face normal.
    face_across: [Vector; 2],
    /// Where the leans of a face's own normal are.
    face: Option<usize>,
    rim: Option<usize>,
    bolts: Option<usize>,
    tip: Option<usize>,
    laid: Option<usize>,
    pins: Vec<Option<usize>>,
    unknowns: usize,
    /// Rows of each reading.
    pub rows: Vec<Range<usize>>,
    /// Rows in all, with those of the pins.
    height: usize,
}

impl<'a> Chart<'a> {
    pub(super) fn new(readings: &'a Readings, base: Stance) -> Self {
        let has = |test| readings.has(test);
        let mut unknowns = SQUARE;
        let mut place = |needed: bool, count: usize| {
            needed.then(|| {
                unknowns += count;
                unknowns - count
            })
        };
        let face = place(readings.face.is_mitered(), 2);
        let rim = place(has(Observed::is_on_tube), 1);
        let bolts = place(has(|w| matches!(w, Observed::OnBoltCircle { .. })), 1);
        let tip = place(has(|w| matches!(w, Observed::ToTip { .. })), 1);
        let laid = place(has(|w| matches!(w, Observed::OnLaidRod { .. })), 2);
        let pins = readings.pins.iter().enumerate().map(|(i, pin)| {
            let used = readings.list.iter().any(|r| pin_of(&r.what) == Some(i));
            place(used && pin.good_to > Length::ZERO, 3)
        });
        let pins: Vec<Option<usize>> = pins.collect();
        let mut height = 0;
        let rows = readings.list.iter().map(|reading| {
            height += reading.what.rows();
            height - reading.what.rows()..height
        });
        let rows: Vec<Range<usize>> = rows.collect();
        Self {
            across: across(&base.outward).map(Direction::into_inner),
            face_across: across(&base.face).map(Direction::into_inner),
            height: height + 3 * pins.iter().flatten().count(),
            readings,
            base,
            face,
            rim,
            bolts,
            tip,
            laid,
            pins,
            unknowns,
            rows,
        }
    }

    /// How many of the unknowns, the first, are the end's own: its place, its axis and
    /// its face.
    pub(super) const fn own(&self) -> usize {
        match self.face {
            Some(place) => place + 2,
            None => SQUARE,
        }
    }

    /// The unknowns at the base.
    pub(super) fn start(&self) -> DVector<f64> {
        let mut x = DVector::zeros(self.unknowns);
        x.fixed_rows_mut::<3>(0).copy_from(&self.base.center.coords);
        for (place, value) in [
            (self.rim, self.base.rim),
            (self.bolts, self.base.bolts),
            (self.tip, self.base.tip),
        ] {
            if let Some(place) = place {
                x[place] = value;
            }
        }
        if let Some(place) = self.laid {
            let offset = self.base.laid - self.base.center;
            for (i, across) in self.across.iter().enumerate() {
                x[place + i] = across.dot(&offset);
            }
        }
        for (place, at) in self.pins.iter().zip(&self.base.pins) {
            if let Some(place) = place {
                x.fixed_rows_mut::<3>(*place).copy_from(&at.coords);
            }
        }
        x
    }

    /// The stance that unknowns are.
    pub(super) fn stance(&self, x: &DVector<f64>) -> Stance {
        let at = |place: Option<usize>| place.map_or(0.0, |place| x[place]);
        let center = Point::new(x[0], x[1], x[2]);
        let lean = (self.across[0] * x[3] + self.across[1] * x[4]) * LEAN;
        let offset = |place: usize| self.across[0] * x[place] + self.across[1] * x[place + 1];
        let pins = self.pins.iter().zip(&self.readings.pins);
        let outward = Direction::new_normalize(self.base.outward.into_inner() + lean);
        let face =
            |place| Direction::new_normalize(self.base.face.into_inner() + self.tilt(x, place));
        Stance {
            center,
            outward,
            face: self.face.map_or(outward, face),
            rim: at(self.rim),
            bolts: at(self.bolts),
            tip: at(self.tip),
            laid: self.laid.map_or(center, |place| center + offset(place)),
            pins: pins
                .map(|(place, pin)| place.map_or(pin.at, |p| Point::new(x[p], x[p + 1], x[p + 2])))
                .collect(),
        }
    }

    /// Lean of the face's normal from the base's.
    fn tilt(&self, x: &DVector<f64>, place: usize) -> Vector {
        (self.face_across[0] * x[place] + self.face_across[1] * x[place + 1]) * LEAN
    }

    /// Motion of the port, shift first, by the unknowns: du = ω × u, with ω square to u.
    /// Exact at the base.
    pub(super) fn motions(&self) -> DMatrix<f64> {
        self.motions_of(&self.base.outward, &self.across, PLACE)
    }

    /// The same of the face: dn = ω × n, with ω square to its normal n.
    pub(super) fn face_motions(&self) -> DMatrix<f64> {
        self.face.map_or_else(
            || self.motions(),
            |place| self.motions_of(&self.base.face, &self.face_across, place),
        )
    }

    /// Shift, and turn of an axis whose leans to both sides are unknowns from `place` on.
    fn motions_of(&self, axis: &Direction, across: &[Vector; 2], place: usize) -> DMatrix<f64> {
        let mut motions = DMatrix::zeros(6, self.unknowns);
        for i in 0..PLACE {
            motions[(i, i)] = 1.0;
        }
        for (i, across) in across.iter().enumerate() {
            let turn = axis.cross(across) * LEAN;
            motions
                .fixed_view_mut::<3, 1>(3, place + i)
                .copy_from(&turn);
        }
        motions
    }

    /// How far the port may be off, from the covariance of the unknowns; at the base.
    pub(super) fn scatter(&self, covariance: &DMatrix<f64>) -> Scatter {
        scatter(&self.motions(), covariance)
    }

    /// How far its face may be off.
    pub(super) fn face_scatter(&self, covariance: &DMatrix<f64>) -> Scatter {
        scatter(&self.face_motions(), covariance)
    }

    /// Rows that a reading which is not among the list would add at the base.
    pub(super) fn slopes_of(&self, what: &Observed) -> DMatrix<f64> {
        let mut rows = Rows::new(self, &self.start(), what.rows());
        rows.read(what);
        rows.slopes
    }
}

impl Model for Chart<'_> {
    fn unknowns(&self) -> usize {
        self.unknowns
    }

    fn rows(&self) -> usize {
        self.height
    }

    fn evaluate(&self, x: &DVector<f64>) -> (DVector<f64>, DMatrix<f64>) {
        let mut rows = Rows::new(self, x, self.height);
        for reading in &self.readings.list {
            rows.read(&reading.what);
        }
        for (place, pin) in self.pins.iter().zip(&self.readings.pins) {
            if let Some(place) = *place {
                rows.pin(place, pin, x);
            }
        }
        (rows.left, rows.slopes)
    }
}

/// How far something may be off that moves so by the unknowns.
fn scatter(motions: &DMatrix<f64>, covariance: &DMatrix<f64>) -> Scatter {
    let of_port = motions * covariance * motions.transpose();
    Scatter::new(Matrix6::from_iterator(of_port.iter().copied()))
}

/// Which pin a reading was taken from.
pub(super) const fn pin_of(what: &Observed) -> Option<usize> {
    match what {
        Observed::ToCenter { pin, .. } | Observed::ToTip { pin, .. } => Some(*pin),
        _ => None,
    }
}

/// A deviation of lengths, mm.
fn length(good_to: &Length) -> f64 {
    good_to.mm().max(LEAST_DEVIATION)
}

/// A deviation of angles, rad.
fn lean(good_to: &Angle) -> f64 {
    good_to.radians().max(LEAST_LEAN)
}

/// A row's slopes by center, outward direction and face normal, all as vectors, and by
/// others.
#[derive(Default)]
struct Slope<'s> {
    center: Vector,
    outward: Vector,
    face: Vector,
    others: &'s [(Option<usize>, f64)],
}

/// Rows as they are written.
struct Rows<'c> {
    chart: &'c Chart<'c>,
    at: Stance,
    /// The outward direction's slopes by the two leans.
    leans: [Vector; 2],
    /// The face normal's slopes by its two.
    tilts: [Vector; 2],
    left: DVector<f64>,
    slopes: DMatrix<f64>,
    next: usize,
}

impl<'c> Rows<'c> {
    fn new(chart: &'c Chart<'c>, x: &DVector<f64>, height: usize) -> Self {
        let lean = (chart.across[0] * x[3] + chart.across[1] * x[4]) * LEAN;
        let at = chart.stance(x);
        let u = at.outward.into_inner();
        let norm = (chart.base.outward.into_inner() + lean).norm();
        let tilts = chart.face.map(|place| {
            let n = at.face.into_inner();
            let norm = (chart.base.face.into_inner() + chart.tilt(x, place)).norm();
            chart
                .face_across
                .map(|e| (e - n * e.dot(&n)) * (LEAN / norm))
        });
        Self {
            leans: chart.across.map(|e| (e - u * e.dot(&u)) * (LEAN / norm)),
            tilts: tilts.unwrap_or_default(),
            at,
            left: DVector::zeros(height),
            slopes: DMatrix::zeros(height, chart.unknowns),
            next: 0,
            chart,
        }
    }

    fn push(&mut self, left: f64, good_to: f64, slope: &Slope<'_>) {
        let row = self.next;
        self.left[row] = left / good_to;
        for i in 0..3 {
            self.slopes[(row, i)] = slope.center[i] / good_to;
        }
        for (i, lean) in self.leans.iter().enumerate() {
            self.slopes[(row, 3 + i)] = slope.outward.dot(lean) / good_to;
        }
        if let Some(place) = self.chart.face {
            for (i, tilt) in self.tilts.iter().enumerate() {
                self.slopes[(row, place + i)] = slope.face.dot(tilt) / good_to;
            }
        }
        for (place, value) in slope.others {
            if let Some(place) = *place {
                self.slopes[(row, place)] = value / good_to;
            }
        }
        self.next += 1;
    }

    fn pin(&mut self, place: usize, pin: &Pin, x: &DVector<f64>) {
        for i in 0..3 {
            let others = [(Some(place + i), 1.0)];
            let slope = Slope {
                others: &others,
                ..Slope::default()
            };
            self.push(x[place + i] - pin.at[i], length(&pin.good_to), &slope);
        }
    }

    fn read(&mut self, what: &Observed) {
        match what {
            Observed::Coordinate { axis, at, good_to } => {
                let mut center = Vector::zeros();
                center[*axis] = 1.0;
                let slope = Slope {
                    center,
                    ..Slope::default()
                };
                self.push(self.at.center[*axis] - at.mm(), length(good_to), &slope);
            }
            Observed::Outward {
                direction,
                across,
                good_to,
            } => self.outward(direction, across, good_to),
            Observed::Elevation { up, angle, good_to } => {
                let sine = self.at.outward.dot(up).clamp(-1.0, 1.0);
                let cosine = (1.0 - sine * sine).sqrt().max(PLUMB);
                let slope = Slope {
                    outward: up.into_inner() / cosine,
                    ..Slope::default()
                };
                let left = sine.atan2((1.0 - sine * sine).sqrt()) - angle.radians();
                self.push(left, lean(good_to), &slope);
            }
            Observed::Heading {
                up,
                ahead,
                angle,
                good_to,
            } => self.heading(up, ahead, *angle, *good_to),
            Observed::OnRim { at, good_to } => {
                let (radius, place) = (self.at.rim, self.chart.rim);
                self.on_edge(at, radius, place, length(good_to));
            }
            Observed::OnBoltCircle { at, good_to } => {
                let (radius, place) = (self.at.bolts, self.chart.bolts);
                self.on_edge(at, radius, place, length(good_to));
            }
            Observed::OnFace { at, good_to } => self.on_face(at, length(good_to)),
            Observed::OnOutside { at, good_to } => {
                let (radius, place) = (self.at.rim, self.chart.rim);
                self.on_circle(at, radius, place, length(good_to));
            }
            Observed::Cut { angle, good_to } => self.cut(*angle, lean(good_to)),
            Observed::RimRadius { radius, good_to } => {
                self.alone(self.chart.rim, self.at.rim - radius.mm(), length(good_to));
            }
            Observed::BoltRadius { radius, good_to } => {
                self.alone(
                    self.chart.bolts,
                    self.at.bolts - radius.mm(),
                    length(good_to),
                );
            }
            Observed::OnRod { at, good_to, out } => {
                self.beside_axis(&(at - self.at.center), length(good_to), None);
                if let Some((out, out_good_to)) = out {
                    self.out_of_face(at, out.mm(), length(good_to).hypot(length(out_good_to)));
                }
            }
            Observed::OnLaidRod { at, good_to } => {
                self.beside_axis(&(at - self.at.laid), length(good_to), self.chart.laid);
            }
            Observed::ToCenter {
                pin,
                distance,
                good_to,
            } => self.tape(*pin, 0.0, None, distance.mm(), length(good_to)),
            Observed::ToTip {
                pin,
                distance,
                good_to,
            } => {
                let (tip, place) = (self.at.tip, self.chart.tip);
                self.tape(*pin, tip, place, distance.mm(), length(good_to));
            }
            Observed::TipOut { out, good_to } => {
                self.alone(self.chart.tip, self.at.tip - out.mm(), length(good_to));
            }
        }
    }

    /// A reading of one of the further unknowns; says nothing where nothing needs it.
    fn alone(&mut self, place: Option<usize>, left: f64, good_to: f64) {
        let others = [(place, 1.0)];
        let left = if place.is_some() { left } else { 0.0 };
        let slope = Slope {
            others: &others,
            ..Slope::default()
        };
        self.push(left, good_to, &slope);
    }

    /// Lean from `direction` as a rotation vector's parts: θ/sin θ · e·u.
    fn outward(&mut self, direction: &Direction, across: &[Direction; 2], good_to: &[Angle; 2]) {
        let u = self.at.outward.into_inner();
        let cosine = direction.dot(&u);
        let sine = direction.cross(&u).norm();
        let angle = sine.atan2(cosine);
        // Near zero the sine says little.
        let (stretch, growth) = if sine > SMALL_LEAN {
            let growth = (sine - angle * cosine) / (sine * sine);
            (angle / sine, -growth / sine)
        } else {
            (1.0, 0.0)
        };
        if sine <= SMALL_LEAN && cosine < 0.0 {
            // Half a turn off, whichever way it went.
            self.push(angle, lean(&good_to[0]), &Slope::default());
            return self.push(0.0, lean(&good_to[1]), &Slope::default());
        }
        for (e, good_to) in across.iter().zip(good_to) {
            let part = e.dot(&u);
            let outward = e.into_inner() * stretch + direction.into_inner() * (growth * part);
            let slope = Slope {
                outward,
                ..Slope::default()
            };
            self.push(stretch * part, lean(good_to), &slope);
        }
    }

    fn heading(&mut self, up: &Direction, ahead: &Direction, angle: Angle, good_to: Angle) {
        // Clockwise for someone who looks down: from ahead to the right.
        let right = ahead.cross(up);
        let u = self.at.outward.into_inner();
        let (x, y) = (u.dot(ahead), u.dot(&right));
        let ground = x * x + y * y;
        if ground < PLUMB * PLUMB {
            return self.push(0.0, lean(&good_to), &Slope::default());
        }
        let off = Angle::from_radians(y.atan2(x)) - angle + Angle::HALF;
        let slope = Slope {
            outward: (right * x - ahead.into_inner() * y) / ground,
            ..Slope::default()
        };
        let left = (off.wrapped() - Angle::HALF).radians();
        self.push(left, lean(&good_to), &slope);
    }

    /// How far ahead of the face: v·n, v = p − c.
    fn on_face(&mut self, at: &Point, good_to: f64) {
        if self.chart.face.is_none() {
            return self.out_of_face(at, 0.0, good_to);
        }
        let (n, v) = (self.at.face.into_inner(), at - self.at.center);
        let slope = Slope {
            center: -n,
            face: v,
            ..Slope::default()
        };
        self.push(v.dot(&n), good_to, &slope);
    }

    /// Off the edge in which a cylinder about the axis ends at the face: ahead of the
    /// face, and outside the edge within the face.
    fn on_edge(&mut self, at: &Point, radius: f64, place: Option<usize>, good_to: f64) {
        self.on_face(at, good_to);
        if self.chart.face.is_some() {
            self.on_ellipse(at, radius, place, good_to);
        } else {
            self.on_circle(at, radius, place, good_to);
        }
    }

    fn out_of_face(&mut self, at: &Point, out: f64, good_to: f64) {
        let (u, v) = (self.at.outward.into_inner(), at - self.at.center);
        let slope = Slope {
            center: -u,
            outward: v,
            ..Slope::default()
        };
        self.push(v.dot(&u) - out, good_to, &slope);
    }

    /// How far outside a circle about the axis: |v − (v·u)u| − r.
    fn on_circle(&mut self, at: &Point, radius: f64, place: Option<usize>, good_to: f64) {
        let (u, v) = (self.at.outward.into_inner(), at - self.at.center);
        let ahead = v.dot(&u);
        let flat = v - u * ahead;
        let off_axis = flat.norm();
        let toward = flat.try_normalize(f64::MIN_POSITIVE).unwrap_or_default();
        let others = [(place, -1.0)];
        let slope = Slope {
            center: -toward,
            outward: -toward * ahead,
            others: &others,
            ..Slope::default()
        };
        self.push(off_axis - radius, good_to, &slope);
    }

    /// How far outside an ellipse within the face, to first order: (d − r)/√(1 − s²),
    /// where d is how far the point's foot on the face is off the axis, and s the cosine
    /// between the cylinder's side there and the face's normal.
    ///
    /// The foot, so that an error ahead of the face is not counted again: both rows are
    /// independent then, as those of a square face are.
    fn on_ellipse(&mut self, at: &Point, radius: f64, place: Option<usize>, good_to: f64) {
        let (u, n) = (self.at.outward.into_inner(), self.at.face.into_inner());
        let v = at - self.at.center;
        let height = v.dot(&n);
        let q = v - n * height;
        let ahead = q.dot(&u);
        let flat = q - u * ahead;
        let off_axis = flat.norm();
        let side = flat.try_normalize(f64::MIN_POSITIVE).unwrap_or_default();
        let s = side.dot(&n);
        let crossing = (1.0 - s * s).max(0.0).sqrt();
        // By the foot q, by u and by n: of d, and of s times d.
        let by_foot = side;
        let by_outward = -side * ahead;
        let s_by_foot = n - u * n.dot(&u) - side * s;
        let s_by_outward = -q * n.dot(&u) - n * ahead + side * (s * ahead);
        let s_by_face = side * off_axis;
        let off = off_axis - radius;
        let (stretch, growth) = if crossing > GRAZING && off_axis > f64::MIN_POSITIVE {
            (crossing, off * s / (crossing.powi(3) * off_axis))
        } else {
            (crossing.max(GRAZING), 0.0)
        };
        let foot = by_foot / stretch + s_by_foot * growth;
        let along = foot.dot(&n);
        let others = [(place, -1.0 / stretch)];
        let slope = Slope {
            center: n * along - foot,
            outward: by_outward / stretch + s_by_outward * growth,
            // The foot moves with the normal: dq = −(v·dn)n − (v·n)dn.
            face: s_by_face * growth - v * along - foot * height,
            others: &others,
        };
        self.push(off / stretch, good_to, &slope);
    }

    /// The angle between the face's normal and the axis; nothing of a face that has none
    /// of its own.
    fn cut(&mut self, angle: Angle, good_to: f64) {
        if self.chart.face.is_none() {
            return self.push(0.0, good_to, &Slope::default());
        }
        let (u, n) = (self.at.outward.into_inner(), self.at.face.into_inner());
        let (sine, cosine) = (u.cross(&n).norm(), u.dot(&n));
        let left = sine.atan2(cosine) - angle.radians();
        if sine < UNCUT {
            // Any way is more: none is the slope's.
            return self.push(left, good_to, &Slope::default());
        }
        let slope = Slope {
            outward: (u * cosine - n) / sine,
            face: (n * cosine - u) / sine,
            ..Slope::default()
        };
        self.push(left, good_to, &slope);
    }

    /// Two distances beside the line along u from which v was taken; `laid` holds that
    /// line's offset from the center.
    fn beside_axis(&mut self, v: &Vector, good_to: f64, laid: Option<usize>) {
        let u = self.at.outward.into_inner();
        let (ahead, across) = (v.dot(&u), self.chart.across);
        let flat = across[0] - u * across[0].dot(&u);
        let Some(first) = flat.try_normalize(f64::EPSILON) else {
            // A quarter turn from the base: nobody leans that far.
            self.push(v.norm(), good_to, &Slope::default());
            return self.push(0.0, good_to, &Slope::default());
        };
        let second = u.cross(&first);
        // As u leans, both sides turn about it by −twist·(second·du).
        let twist = across[0].dot(&u) / flat.norm();
        for (side, other) in [(first, -second.dot(v)), (second, first.dot(v))] {
            let offset = |i: usize| (laid.map(|place| place + i), -side.dot(&across[i]));
            let others = [offset(0), offset(1)];
            let slope = Slope {
                center: -side,
                outward: second * (twist * other) - side * ahead,
                others: &others,
                ..Slope::default()
            };
            self.push(side.dot(v), good_to, &slope);
        }
    }

    /// From a pin to the place `out` along the axis.
    fn tape(&mut self, pin: usize, out: f64, tip: Option<usize>, distance: f64, good_to: f64) {
        let u = self.at.outward.into_inner();
        let Some(from) = self.at.pins.get(pin) else {
            return self.push(0.0, good_to, &Slope::default());
        };
        let arm = self.at.center + u * out - from;
        let toward = arm.try_normalize(f64::MIN_POSITIVE).unwrap_or_default();
        let place = self.chart.pins[pin];
        let of_pin = |i: usize| (place.map(|p| p + i), -toward[i]);
        let others = [(tip, toward.dot(&u)), of_pin(0), of_pin(1), of_pin(2)];
        let slope = Slope {
            center: toward,
            outward: toward * out,
            others: &others,
            ..Slope::default()
        };
        self.push(arm.norm() - distance, good_to, &slope);
    }
}

#[cfg(test)]
mod tests {
    use super::super::Face;
    use super::super::reading::Reading;
    use super::*;
    use crate::geometry::perpendicular;
    use crate::units::Length;
    use proptest::prelude::*;

    fn mm(value: f64) -> Length {
        Length::from_mm(value)
    }

    /// One reading of every kind.
    fn every_kind(points: &[[f64; 3]; 7], angle: f64, face: Face) -> Readings {
        let at = |i: usize| Point::from(points[i]);
        let (good_to, lean) = (mm(0.5), Angle::from_degrees(0.5));
        let (up, ahead) = (Vector::z_axis(), Vector::x_axis());
        let direction = Direction::new_normalize(Vector::new(0.4, -0.8, 0.3));
        let first = perpendicular(&direction);
        let angle = Angle::from_degrees(angle);
        let distance = mm(300.0);
        let all = vec![
            Observed::Coordinate {
                axis: 1,
                at: mm(12.0),
                good_to,
            },
            Observed::Outward {
                direction,
                across: [first, Direction::new_unchecked(direction.cross(&first))],
                good_to: [lean, lean * 2.0],
            },
            Observed::Elevation {
                up,
                angle,
                good_to: lean,
            },
            Observed::Heading {
                up,
                ahead,
                angle,
                good_to: lean,
            },
            Observed::OnRim { at: at(0), good_to },
            Observed::OnBoltCircle { at: at(1), good_to },
            Observed::OnFace { at: at(2), good_to },
            Observed::RimRadius {
                radius: mm(30.0),
                good_to,
            },
            Observed::BoltRadius {
                radius: mm(50.0),
                good_to,
            },
            Observed::OnRod {
                at: at(3),
                good_to,
                out: Some((mm(100.0), good_to)),
            },
            Observed::OnRod {
                at: at(4),
                good_to,
                out: None,
            },
            Observed::OnLaidRod { at: at(5), good_to },
            Observed::OnOutside { at: at(6), good_to },
            Observed::Cut {
                angle: Angle::from_degrees(11.0),
                good_to: lean,
            },
            Observed::ToCenter {
                pin: 0,
                distance,
                good_to,
            },
            Observed::ToTip {
                pin: 1,
                distance,
                good_to,
            },
            Observed::TipOut {
                out: mm(200.0),
                good_to,
            },
        ];
        let pin = |name: &str, at: [f64; 3], good_to: f64| Pin {
            name: name.to_owned(),
            at: Point::from(at),
            good_to: mm(good_to),
        };
        Readings {
            list: all
                .into_iter()
                .map(|what| Reading {
                    name: String::new(),
                    what,
                })
                .collect(),
            pins: vec![
                pin("exact", [300.0, 0.0, -50.0], 0.0),
                pin("loose", [-200.0, 100.0, 40.0], 0.3),
            ],
            face,
            ..Readings::default()
        }
    }

    proptest! {
        #[test]
        fn slopes_agree_with_differences(
            points in prop::array::uniform7(prop::array::uniform3(-90.0..90.0_f64)),
            center in prop::array::uniform3(-50.0..50.0_f64),
            outward in prop::array::uniform3(-1.0..1.0_f64),
            lean in prop::array::uniform3(-0.5..0.5_f64), is_mitered in any::<bool>(),
            nudge in prop::collection::vec(-3.0..3.0_f64, 15), angle in -80.0..80.0_f64,
        ) {
            let outward = Vector::from(outward);
            prop_assume!(outward.norm() > 0.2);
            let outward = Direction::new_normalize(outward);
            // Away from what has no slope: plumb, and readings half a turn off.
            prop_assume!(outward.z.abs() < 0.95);
            // Nor does a cut that is nearly none.
            prop_assume!(outward.cross(&Vector::from(lean)).norm() > 0.15);
            let (kind, face, unknowns) = if is_mitered {
                let face = Direction::new_normalize(outward.into_inner() + Vector::from(lean));
                (Face::Mitered, face, 15)
            } else {
                (Face::Square, outward, 13)
            };
            let readings = every_kind(&points, angle, kind);
            let base = Stance {
                center: Point::from(center), outward, face, rim: 31.0, bolts: 52.0, tip: 190.0,
                laid: Point::from(center) + Vector::new(3.0, 4.0, 5.0),
                pins: readings.pins.iter().map(|pin| pin.at).collect(),
            };
            let chart = Chart::new(&readings, base);
            prop_assert_eq!(chart.unknowns(), unknowns);
            let x = chart.start() + DVector::from_column_slice(&nudge[..unknowns]);
            let slopes = chart.evaluate(&x).1;
            let step = 1e-5;
            for unknown in 0..chart.unknowns() {
                let moved = |by: f64| {
                    let mut x = x.clone();
                    x[unknown] += by;
                    chart.evaluate(&x).0
                };
                let difference = (moved(step) - moved(-step)) / (2.0 * step);
                for row in 0..chart.rows() {
                    let size = slopes.row(row).amax().max(1.0);
                    let (by_slope, by_steps) = (slopes[(row, unknown)], difference[row]);
                    prop_assert!((by_slope - by_steps).abs() < 1e-4 * size, "row {row}, unknown {unknown}: {by_slope} {by_steps}");
                }
            }
        }
    }
}
