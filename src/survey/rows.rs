//! [`Rows`]: what each reading says of a port's unknowns, and by how much it is off.

use super::reading::{Observed, Pin};
use super::stance::{Chart, LEAN, Stance, lean, length};
use crate::geometry::{Direction, Point, Vector};
use crate::units::Angle;
use nalgebra::{DMatrix, DVector};

/// Least standard deviation, mm, so that exact numbers can be weighed beside others: a
/// micron.
pub(super) const LEAST_DEVIATION: f64 = 1e-3;

/// The same of angles, rad.
pub(super) const LEAST_LEAN: f64 = 1e-5;

/// Lean, rad, below which it and its sine are the same: their difference is 2e-13.
const SMALL_LEAN: f64 = 1e-4;

/// Sine below which the direction over the ground is no direction.
const PLUMB: f64 = 1e-6;

/// Sine of a cut below which nothing tells which way the face leans.
const UNCUT: f64 = 1e-9;

/// Least sine between a tube's side and its face that counts as their crossing: a cut of
/// 87°, which no saw makes.
const GRAZING: f64 = 0.05;

/// A row's slopes by center, outward direction and face normal, all as vectors, and by
/// others.
#[derive(Default)]
pub(super) struct Slope<'s> {
    center: Vector,
    outward: Vector,
    face: Vector,
    others: &'s [(Option<usize>, f64)],
}

/// Rows as they are written.
pub(super) struct Rows<'c> {
    pub(super) chart: &'c Chart<'c>,
    pub(super) at: Stance,
    /// The outward direction's slopes by the two leans.
    pub(super) leans: [Vector; 2],
    /// The face normal's slopes by its two.
    pub(super) tilts: [Vector; 2],
    pub(super) left: DVector<f64>,
    pub(super) slopes: DMatrix<f64>,
    pub(super) next: usize,
}

impl<'c> Rows<'c> {
    pub(super) fn new(chart: &'c Chart<'c>, x: &DVector<f64>, height: usize) -> Self {
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

    pub(super) fn push(&mut self, left: f64, good_to: f64, slope: &Slope<'_>) {
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

    pub(super) fn pin(&mut self, place: usize, pin: &Pin, x: &DVector<f64>) {
        for i in 0..3 {
            let others = [(Some(place + i), 1.0)];
            let slope = Slope {
                others: &others,
                ..Slope::default()
            };
            self.push(x[place + i] - pin.at[i], length(&pin.good_to), &slope);
        }
    }

    pub(super) fn read(&mut self, what: &Observed) {
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
    pub(super) fn alone(&mut self, place: Option<usize>, left: f64, good_to: f64) {
        let others = [(place, 1.0)];
        let left = if place.is_some() { left } else { 0.0 };
        let slope = Slope {
            others: &others,
            ..Slope::default()
        };
        self.push(left, good_to, &slope);
    }

    /// Lean from `direction` as a rotation vector's parts: θ/sin θ · e·u.
    pub(super) fn outward(
        &mut self,
        direction: &Direction,
        across: &[Direction; 2],
        good_to: &[Angle; 2],
    ) {
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

    pub(super) fn heading(
        &mut self,
        up: &Direction,
        ahead: &Direction,
        angle: Angle,
        good_to: Angle,
    ) {
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
    pub(super) fn on_face(&mut self, at: &Point, good_to: f64) {
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
    pub(super) fn on_edge(&mut self, at: &Point, radius: f64, place: Option<usize>, good_to: f64) {
        self.on_face(at, good_to);
        if self.chart.face.is_some() {
            self.on_ellipse(at, radius, place, good_to);
        } else {
            self.on_circle(at, radius, place, good_to);
        }
    }

    pub(super) fn out_of_face(&mut self, at: &Point, out: f64, good_to: f64) {
        let (u, v) = (self.at.outward.into_inner(), at - self.at.center);
        let slope = Slope {
            center: -u,
            outward: v,
            ..Slope::default()
        };
        self.push(v.dot(&u) - out, good_to, &slope);
    }

    /// How far outside a circle about the axis: |v − (v·u)u| − r.
    pub(super) fn on_circle(
        &mut self,
        at: &Point,
        radius: f64,
        place: Option<usize>,
        good_to: f64,
    ) {
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
    pub(super) fn on_ellipse(
        &mut self,
        at: &Point,
        radius: f64,
        place: Option<usize>,
        good_to: f64,
    ) {
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
    pub(super) fn cut(&mut self, angle: Angle, good_to: f64) {
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
    pub(super) fn beside_axis(&mut self, v: &Vector, good_to: f64, laid: Option<usize>) {
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
    pub(super) fn tape(
        &mut self,
        pin: usize,
        out: f64,
        tip: Option<usize>,
        distance: f64,
        good_to: f64,
    ) {
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
