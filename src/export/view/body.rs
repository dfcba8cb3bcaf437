//! [`Body`]: a part of a run between two planes, as it is looked at.

use super::{Convex, Curve, Gaze, Ring, Spot};
use crate::geometry::{Direction, Plane, Vector};
use std::f64::consts::{PI, TAU};

/// Spots round each half of a ring in a body's hull, by which overlaps are found: inside
/// the true outline by no more than 0.5 % of the radius.
const HULL_SPOTS: u32 = 16;
/// Where a tube that bends comes to run along the line of sight, its sides swap in the
/// picture. Cosine of the greatest turn of the sides that an outline follows.
const SWAPPED: f64 = 0.7;
/// A line of sight this near along a body, as a squared sine, meets its side nowhere.
const ALONG_AXIS: f64 = 1e-18;

/// What is at an end of a body.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum EndKind {
    /// An open end: wall and bore are seen.
    Open,
    /// A weld to a piece with this downstream axis.
    Joint(Direction),
    /// The same tube goes on: a cut made for the picture alone.
    Seam,
}

/// An end of a body.
#[derive(Clone, Copy, Debug)]
pub struct End {
    /// Its ellipse.
    pub ring: Ring,
    /// What is there.
    pub kind: EndKind,
    /// Whether its face is turned to the viewer.
    pub shows: bool,
}

/// Round tube between two planes: a straight stretch, which is convex, or so short a
/// stretch of a bend that it nearly is.
#[derive(Clone, Debug)]
pub struct Body {
    /// Which of the runs.
    pub run: usize,
    /// Which of its pieces, from 0.
    pub piece: usize,
    /// The ends, upstream first.
    pub ends: [End; 2],
    /// Outside radius, mm.
    pub radius: f64,
    /// Bore radius, mm.
    pub bore: f64,
    /// Middle of its depths, mm.
    pub depth: f64,
    bent: bool,
    chord: Direction,
    gaze: Gaze,
    hull: Convex,
}

/// Whose a body is.
#[derive(Clone, Copy, Debug)]
pub struct Owner {
    /// Which of the runs.
    pub run: usize,
    /// Which of its pieces, from 0.
    pub piece: usize,
    /// Outside and bore radius, mm.
    pub radii: [f64; 2],
}

/// Where a body ends: plane, downstream axis, what is there.
pub type Cut = (Plane, Direction, EndKind);

impl Body {
    /// The tube between two cuts; `None` where they leave nothing that can be seen.
    pub fn new(owner: Owner, cuts: [Cut; 2], gaze: &Gaze) -> Option<Self> {
        let [from, to] = [cuts[0].0.point, cuts[1].0.point];
        let chord = Direction::try_new(to - from, SHORTEST)?;
        let mut outward = -1.0;
        let ends = cuts.map(|(plane, axis, kind)| {
            let ring = Ring::new(&plane, &axis, gaze);
            let shows = ring.normal.dot(&gaze.toward) * outward > 0.0;
            outward = 1.0;
            End { ring, kind, shows }
        });
        let [radius, bore] = owner.radii;
        let mut spots = Vec::with_capacity(4 * HULL_SPOTS as usize);
        for end in &ends {
            for i in 0..2 * HULL_SPOTS {
                let t = PI * f64::from(i) / f64::from(HULL_SPOTS);
                spots.push(end.ring.seen(gaze, radius, t).0);
            }
        }
        let hull = Convex::hull(spots);
        (hull.corners().len() >= 3).then(|| Self {
            run: owner.run,
            piece: owner.piece,
            ends,
            radius,
            bore,
            depth: (gaze.depth(&from) + gaze.depth(&to)) / 2.0,
            bent: (cuts[0].1.into_inner() - cuts[1].1.into_inner()).norm() > STRAIGHT,
            chord,
            gaze: *gaze,
            hull,
        })
    }

    /// The convex polygon by which overlaps are found.
    pub const fn hull(&self) -> &Convex {
        &self.hull
    }

    /// Whether it is a stretch of a bend.
    pub const fn is_bent(&self) -> bool {
        self.bent
    }

    /// The line that it is drawn along, downstream.
    pub const fn chord(&self) -> Direction {
        self.chord
    }

    /// Whether its two sides swap in the picture.
    pub fn swaps(&self) -> bool {
        let [a, b] = &self.ends;
        self.bent && a.ring.across.dot(&b.ring.across) < SWAPPED
    }

    /// Where its side turns out of sight: on a straight stretch two lines.
    pub fn sides(&self) -> Vec<Curve> {
        if self.swaps() {
            return vec![self.hull_curve()];
        }
        vec![self.side(0.0), self.side(PI)]
    }

    /// Its closed outline in the picture.
    pub fn outline(&self) -> Curve {
        self.outline_beyond([0.0; 2])
    }

    /// Its closed outline, were its ends so far beyond where they are, mm.
    pub fn outline_beyond(&self, beyond: [f64; 2]) -> Curve {
        if self.swaps() {
            return self.hull_curve();
        }
        let [start, end] = [0, 1].map(|i| {
            let End {
                mut ring, shows, ..
            } = self.ends[i];
            let off = if i == 0 { -beyond[0] } else { beyond[1] };
            ring.center += ring.axis.into_inner() * off;
            End {
                ring,
                shows,
                ..self.ends[i]
            }
        });
        let mut outline = self.side(0.0);
        // A face that shows is seen whole, so the outline goes round behind it.
        self.go_round(&mut outline, &end, [0.0, if end.shows { -PI } else { PI }]);
        let back = self.side(PI).reversed();
        outline.line_to(back.start);
        outline.join(&back);
        self.go_round(
            &mut outline,
            &start,
            [PI, if start.shows { TAU } else { 0.0 }],
        );
        outline
    }

    fn go_round(&self, outline: &mut Curve, end: &End, [from, to]: [f64; 2]) {
        outline.line_to(end.ring.seen(&self.gaze, self.radius, from).0);
        outline.follow(&end.ring, &self.gaze, self.radius, from, to);
    }

    /// The ring of an end, from one clock to another.
    pub fn ring_curve(&self, end: usize, radius: f64, from: f64, to: f64) -> Curve {
        Curve::of_ring(&self.ends[end].ring, &self.gaze, radius, from, to)
    }

    fn side(&self, t: f64) -> Curve {
        let [start, end] = &self.ends;
        let at = |end: &End| end.ring.seen(&self.gaze, self.radius, t).0;
        let mut side = Curve::from(at(start));
        if self.bent {
            let along = |end: &End| self.gaze.flatten(&end.ring.axis);
            side.sweep_to(along(start), at(end), along(end));
        } else {
            side.line_to(at(end));
        }
        side
    }

    fn hull_curve(&self) -> Curve {
        let corners = self.hull.corners();
        let mut curve = Curve::from(corners[0]);
        for corner in corners.iter().cycle().skip(1).take(corners.len()) {
            curve.line_to(*corner);
        }
        curve
    }

    /// Least and greatest depth of the body at a spot, mm; `None` where it is not.
    ///
    /// Exact for a straight stretch: the line of sight within a cylinder and two planes. A
    /// stretch of a bend counts as the cylinder about its chord.
    pub fn depths(&self, spot: &Spot) -> Option<(f64, f64)> {
        let (base, toward) = (self.gaze.lift(spot, 0.0), self.gaze.toward.into_inner());
        let [a, b] = self.ends.each_ref().map(|end| end.ring.center);
        let axis = self.chord.into_inner();
        let square = |v: Vector| v - axis * axis.dot(&v);
        let (q, t) = (square(base - nalgebra::center(&a, &b)), square(toward));
        let (tt, qt) = (t.norm_squared(), q.dot(&t));
        let room = self.radius * self.radius - q.norm_squared();
        let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
        if tt > ALONG_AXIS {
            let root = (qt * qt + tt * room).sqrt();
            (low, high) = ((-qt - root) / tt, (-qt + root) / tt);
        } else if room < 0.0 {
            return None;
        }
        for (end, outward) in self.ends.iter().zip([-1.0, 1.0]) {
            let normal = end.ring.normal.into_inner() * outward;
            let (ahead, rate) = (normal.dot(&(base - end.ring.center)), normal.dot(&toward));
            let meets = -ahead / rate;
            if rate > 0.0 {
                high = high.min(meets);
            } else if rate < 0.0 {
                low = low.max(meets);
            } else if ahead > 0.0 {
                return None;
            }
        }
        // Not so for NaN either, where the line of sight passes beside.
        (low <= high).then_some((low, high))
    }

    /// How far along the chord, from the middle, what is seen at a spot lies, mm.
    pub fn along(&self, spot: &Spot) -> Option<f64> {
        let (low, high) = self.depths(spot)?;
        let [a, b] = self.ends.each_ref().map(|end| end.ring.center);
        let point = self.gaze.lift(spot, f64::midpoint(low, high));
        Some(self.chord.dot(&(point - nalgebra::center(&a, &b))))
    }

    /// Both parts of a straight stretch cut square `along` from its middle, if the cut
    /// clears both ends.
    pub fn split(&self, along: f64) -> Option<[Self; 2]> {
        let [start, end] = &self.ends;
        let middle = nalgebra::center(&start.ring.center, &end.ring.center);
        let plane = Plane {
            point: middle + self.chord.into_inner() * along,
            normal: self.chord,
        };
        let clears = |end: &End, outward: f64| {
            (0..2 * HULL_SPOTS).all(|i| {
                let t = PI * f64::from(i) / f64::from(HULL_SPOTS);
                plane.distance(&end.ring.at(self.radius, t)) * outward > 0.0
            })
        };
        if self.bent || !clears(start, -1.0) || !clears(end, 1.0) {
            return None;
        }
        let owner = Owner {
            run: self.run,
            piece: self.piece,
            radii: [self.radius, self.bore],
        };
        let cut = |end: &End| {
            let plane = Plane {
                point: end.ring.center,
                normal: end.ring.normal,
            };
            (plane, end.ring.axis, end.kind)
        };
        let seam = (plane, self.chord, EndKind::Seam);
        let first = Self::new(owner, [cut(start), seam], &self.gaze)?;
        let second = Self::new(owner, [seam, cut(end)], &self.gaze)?;
        Some([first, second])
    }
}

/// Axes at both ends that differ by less, rad, are one: rounding.
const STRAIGHT: f64 = 1e-9;
/// Stretches shorter than this, mm, cannot be seen.
const SHORTEST: f64 = 1e-6;
