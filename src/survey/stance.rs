//! [`Stance`]: a port's unknowns, and what each reading says of them.

use super::adjust::Model;

use super::reading::{Observed, Readings};
use super::rows::{LEAST_DEVIATION, LEAST_LEAN, Rows};
use crate::geometry::{Direction, Point, Scatter, Vector, across};
use crate::units::{Angle, Length};
use nalgebra::{DMatrix, DVector, Matrix6};
use std::ops::Range;

/// Lean, rad, of one unit of the unknowns that stand for it.
pub(super) const LEAN: f64 = 0.01;

/// Unknowns of a place.
const PLACE: usize = 3;

/// Unknowns of an end whose face is square: its place, and two leans.
const SQUARE: usize = 5;

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
    pub(super) readings: &'a Readings,
    /// Where all unknowns are zero, but for radii and distances.
    pub(super) base: Stance,
    /// Square to the base's outward direction.
    pub(super) across: [Vector; 2],
    /// Square to the base's face normal.
    pub(super) face_across: [Vector; 2],
    /// Where the leans of a face's own normal are.
    pub(super) face: Option<usize>,
    pub(super) rim: Option<usize>,
    pub(super) bolts: Option<usize>,
    pub(super) tip: Option<usize>,
    pub(super) laid: Option<usize>,
    pub(super) pins: Vec<Option<usize>>,
    pub(super) unknowns: usize,
    /// Rows of each reading.
    pub rows: Vec<Range<usize>>,
    /// Rows in all, with those of the pins.
    pub(super) height: usize,
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
    pub(super) fn tilt(&self, x: &DVector<f64>, place: usize) -> Vector {
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
pub(super) fn length(good_to: &Length) -> f64 {
    good_to.mm().max(LEAST_DEVIATION)
}

/// A deviation of angles, rad.
pub(super) fn lean(good_to: &Angle) -> f64 {
    good_to.radians().max(LEAST_LEAN)
}

#[cfg(test)]
mod tests {
    use super::super::Face;
    use super::super::reading::{Pin, Reading};
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
