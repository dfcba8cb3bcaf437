//! [`Sleeve`]: straight tube whose ends follow plane cuts or scribed edges.

use super::{Cut, Edge, Facets, Mesh, Piece, PieceError, Ring, Tube};
use crate::geometry::{Direction, Point, Vector, toward};
use crate::units::{Angle, Length};

/// A straight tube cut at both ends, in a plane or along a scribed edge.
///
/// The frame is a [`Piece`]'s: the axis downstream along +z, the center of the start at
/// the origin and clock zero along +x. A sleeve of two plane cuts is a piece in every
/// number.
#[derive(Clone, Debug, PartialEq)]
pub struct Sleeve {
    tube: Tube,
    length: Length,
    start: Edge,
    end: Edge,
}

/// The least and the greatest side, each with its clock.
struct Sides {
    short: (Length, Angle),
    long: (Length, Angle),
}

/// Sides looked at round the tube, beside those at scribed points: half a degree apart.
const STATIONS: u32 = 720;

/// Halvings that close in on the clock of an extreme side: from a degree to a rounding.
const HALVINGS: u32 = 50;

impl Sleeve {
    /// From the length between the ends' centers and two edges.
    ///
    /// Refuses what [`Piece::new`] refuses: cut angles that no saw has, and a sleeve
    /// without a short side, outside or in the bore. See [`Self::short_side`] for how
    /// sharply that is known.
    pub fn new(tube: Tube, length: Length, start: Edge, end: Edge) -> Result<Self, PieceError> {
        let sane = |edge: &Edge| match edge {
            Edge::Cut(cut) => cut.is_sane(),
            Edge::Scribed(_) => true,
        };
        if !(sane(&start) && sane(&end) && length.is_finite()) {
            return Err(PieceError::CutAngle);
        }
        let sleeve = Self {
            tube,
            length,
            start,
            end,
        };
        // A plane cut reaches less far in the bore, where the other end may go deeper.
        let radii = [sleeve.tube.radius(), sleeve.tube.bore_radius()];
        let [outside, bore] = radii.map(|radius| sleeve.sides(radius).short.0);
        let short = outside.min(bore);
        if short > Length::ZERO {
            Ok(sleeve)
        } else {
            Err(PieceError::Vanishes { short })
        }
    }

    /// The stock.
    pub const fn tube(&self) -> &Tube {
        &self.tube
    }

    /// Length along the axis, center of the start to center of the end.
    pub const fn length(&self) -> Length {
        self.length
    }

    /// The upstream end.
    pub const fn start(&self) -> &Edge {
        &self.start
    }

    /// The downstream end.
    pub const fn end(&self) -> &Edge {
        &self.end
    }

    /// Length of the outside surface at `clock`.
    pub fn side(&self, clock: Angle) -> Length {
        self.side_at(self.tube.radius(), clock)
    }

    /// Height of the start's outside at `clock`: negative where the sleeve is longer
    /// than at its center.
    pub fn start_at(&self, clock: Angle) -> Length {
        -self.start.extension(self.tube.radius(), clock)
    }

    /// Height of the end's outside at `clock`.
    pub fn end_at(&self, clock: Angle) -> Length {
        self.length + self.end.extension(self.tube.radius(), clock)
    }

    /// The longest side and its clock, as sharp as [`Self::short_side`].
    pub fn long_side(&self) -> (Length, Angle) {
        self.sides(self.tube.radius()).long
    }

    /// The shortest side and its clock.
    ///
    /// Exact for two plane cuts. With a scribed edge it is the least of the sides at
    /// every scribed point, each half degree, and wherever between two of those the
    /// side turns from falling to rising. A dip that begins and ends between two of them
    /// is missed; where the side bends by no more than B mm a square radian, such a dip
    /// is shallower than B·10⁻⁵.
    pub fn short_side(&self) -> (Length, Angle) {
        self.sides(self.tube.radius()).short
    }

    /// The sleeve as a closed mesh in its own frame.
    ///
    /// A plane cut is met at the bore as outside. At a scribed edge the bore is as high
    /// as the outside at the same clock: cut square to the wall.
    pub fn mesh(&self, facets: Facets) -> Mesh {
        let rings = |radius: Length| {
            [
                ring(facets, radius, |clock| -self.start.extension(radius, clock)),
                ring(facets, radius, |clock| {
                    self.length + self.end.extension(radius, clock)
                }),
            ]
        };
        Mesh::hollow(&rings(self.tube.radius()), &rings(self.tube.bore_radius()))
    }

    fn side_at(&self, radius: Length, clock: Angle) -> Length {
        self.length + self.start.extension(radius, clock) + self.end.extension(radius, clock)
    }

    fn slope_at(&self, radius: Length, clock: Angle) -> f64 {
        self.start.slope(radius, clock) + self.end.slope(radius, clock)
    }

    fn sides(&self, radius: Length) -> Sides {
        match (&self.start, &self.end) {
            (Edge::Cut(start), Edge::Cut(end)) => {
                let (amplitude, clock) = Cut::together(start, end, radius);
                Sides {
                    short: (self.length - amplitude, (clock + Angle::HALF).wrapped()),
                    long: (self.length + amplitude, clock),
                }
            }
            _ => self.sides_looked_at(radius),
        }
    }

    fn sides_looked_at(&self, radius: Length) -> Sides {
        let clocks = self.stations();
        let next = clocks.iter().cycle().skip(1);
        let turns = clocks.iter().zip(next);
        let turns = turns.filter_map(|(&from, &to)| self.turn_between(radius, from, to));
        let first = (self.side_at(radius, Angle::ZERO), Angle::ZERO);
        let sides = Sides {
            short: first,
            long: first,
        };
        clocks
            .iter()
            .copied()
            .chain(turns)
            .fold(sides, |mut sides, clock| {
                let side = self.side_at(radius, clock);
                if side < sides.short.0 {
                    sides.short = (side, clock);
                }
                if side > sides.long.0 {
                    sides.long = (side, clock);
                }
                sides
            })
    }

    /// Clocks to look at, rising in [0°, 360°).
    fn stations(&self) -> Vec<Angle> {
        let step = 360.0 / f64::from(STATIONS);
        let mut clocks: Vec<Angle> = (0..STATIONS)
            .map(|i| Angle::from_degrees(f64::from(i) * step))
            .collect();
        clocks.extend(self.start.knots());
        clocks.extend(self.end.knots());
        clocks.sort_by(|a, b| a.radians().total_cmp(&b.radians()));
        clocks
    }

    /// Where between two neighboring clocks the side turns from falling to rising or
    /// back, if their slopes say that it does.
    fn turn_between(&self, radius: Length, from: Angle, to: Angle) -> Option<Angle> {
        let rises = |clock| self.slope_at(radius, clock) > 0.0;
        let rising = rises(from);
        if rising == rises(to) {
            return None;
        }
        let (mut low, mut high) = (Angle::ZERO, (to - from).wrapped());
        for _ in 0..HALVINGS {
            let middle = (low + high) / 2.0;
            if rises(from + middle) == rising {
                low = middle;
            } else {
                high = middle;
            }
        }
        Some((from + low).wrapped())
    }
}

impl From<&Piece> for Sleeve {
    fn from(piece: &Piece) -> Self {
        Self {
            tube: piece.tube().clone(),
            length: piece.length(),
            start: Edge::Cut(piece.start()),
            end: Edge::Cut(piece.end()),
        }
    }
}

impl From<Piece> for Sleeve {
    fn from(piece: Piece) -> Self {
        Self::from(&piece)
    }
}

impl From<&Self> for Sleeve {
    fn from(sleeve: &Self) -> Self {
        sleeve.clone()
    }
}

fn ring(facets: Facets, radius: Length, height: impl Fn(Angle) -> Length) -> Ring {
    let (axis, zero): (Direction, Direction) = (Vector::z_axis(), Vector::x_axis());
    facets
        .clocks()
        .map(|clock| {
            let out = toward(&axis, &zero, clock).into_inner() * radius.mm();
            Point::from(out + axis.into_inner() * height(clock).mm())
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tube::{Outline, Scribed};
    use proptest::prelude::*;

    fn mm(mm: f64) -> Length {
        Length::from_mm(mm)
    }

    fn tube() -> Tube {
        Tube::new(mm(76.2), mm(1.65), "304").unwrap()
    }

    fn cut() -> impl Strategy<Value = Edge> {
        (0.0..45.0_f64, 0.0..360.0_f64).prop_map(|(angle, clock)| {
            Edge::Cut(Cut {
                angle: Angle::from_degrees(angle),
                clock: Angle::from_degrees(clock),
            })
        })
    }

    fn scribed() -> impl Strategy<Value = Edge> {
        (
            prop::collection::vec(-30.0..30.0_f64, 3..30),
            0.0..360.0_f64,
        )
            .prop_map(|(heights, first)| {
                let step = 360.0 / heights.len() as f64;
                let points: Vec<_> = (0..heights.len())
                    .map(|i| Angle::from_degrees(first + step * i as f64))
                    .zip(heights.iter().copied().map(mm))
                    .collect();
                Edge::Scribed(Scribed::new(&points).unwrap())
            })
    }

    /// With at least one scribed edge.
    fn sleeve() -> impl Strategy<Value = Sleeve> {
        let edges = prop_oneof![
            (scribed(), scribed()),
            (scribed(), cut()),
            (cut(), scribed())
        ];
        (edges, 1.0..200.0_f64).prop_map(|((start, end), spare)| {
            let least = |edge: &Edge| edge.range(tube().radius()).0;
            let length = mm(spare) - least(&start) - least(&end);
            Sleeve::new(tube(), length, start, end).unwrap()
        })
    }

    /// Mean of `height` over a turn.
    fn mean(height: impl Fn(Angle) -> Length) -> f64 {
        let stations = 20_000;
        let at = |i| height(Angle::FULL * ((f64::from(i) + 0.5) / f64::from(stations))).mm();
        (0..stations).map(at).sum::<f64>() / f64::from(stations)
    }

    #[test]
    fn sleeves_without_a_short_side_are_refused() {
        let dent = |depth: f64| {
            let heights = [0.0, -depth, 0.0, 0.0].map(mm);
            let clocks = [0.0, 90.0, 180.0, 270.0].map(Angle::from_degrees);
            let points: Vec<_> = clocks.into_iter().zip(heights).collect();
            Edge::Scribed(Scribed::new(&points).unwrap())
        };
        let new = |length, start, end| Sleeve::new(tube(), mm(length), start, end);
        assert!(new(10.0, dent(9.9), Edge::SQUARE).is_ok());
        let short = new(10.0, dent(6.0), dent(5.0)).unwrap_err();
        assert_eq!(short, PieceError::Vanishes { short: mm(-1.0) });
        let steep = Cut {
            angle: Angle::QUARTER,
            clock: Angle::ZERO,
        };
        let refused = new(10.0, dent(1.0), Edge::Cut(steep));
        assert_eq!(refused, Err(PieceError::CutAngle));
        assert_eq!(
            new(f64::NAN, Edge::SQUARE, dent(1.0)),
            Err(PieceError::CutAngle)
        );
    }

    #[test]
    fn a_dent_that_meets_a_cut_only_in_the_bore_is_refused() {
        // The cut makes the outside 21.997 mm longer at 0°, the bore 21.044 mm.
        let cut = Cut {
            angle: Angle::from_degrees(30.0),
            clock: Angle::ZERO,
        };
        let dent = |depth: f64| {
            let points = [(0.0, -depth), (40.0, 30.0), (320.0, 30.0), (180.0, 40.0)];
            let points = points.map(|(clock, height)| (Angle::from_degrees(clock), mm(height)));
            Edge::Scribed(Scribed::new(&points).unwrap())
        };
        let new = |depth| Sleeve::new(tube(), mm(10.0), Edge::Cut(cut), dent(depth));
        assert!(new(31.0).is_ok());
        assert!(matches!(new(31.5), Err(PieceError::Vanishes { short }) if short > mm(-0.5)));
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, cases: 64, ..ProptestConfig::default() })]

        #[test]
        fn sides_are_the_extremes_over_all_clocks(sleeve in sleeve()) {
            let (long, long_clock) = sleeve.long_side();
            let (short, short_clock) = sleeve.short_side();
            prop_assert_eq!(sleeve.side(long_clock), long);
            prop_assert_eq!(sleeve.side(short_clock), short);
            for i in 0..36_000 {
                let clock = Angle::from_degrees(f64::from(i) / 100.0);
                let side = sleeve.side(clock);
                // Edges as wild as these bend by up to 10⁴ mm a square radian.
                let missed = mm(0.1);
                prop_assert!(side >= short - missed && side <= long + missed);
                let height = sleeve.end_at(clock) - sleeve.start_at(clock);
                prop_assert!((height - side).abs() < mm(1e-9));
            }
        }

        #[test]
        fn unrolled_area_is_the_sides_round_the_tube(
            sleeve in sleeve(), first in 0.0..360.0_f64, paper in 0.0..1.0_f64,
        ) {
            let first = Angle::from_degrees(first);
            let outline = Outline::new(&sleeve, first, mm(paper));
            // Under a Bézier curve by Green's theorem: ∫ y·dx with x running evenly.
            let under = |curves: Vec<[[f64; 2]; 4]>| -> f64 {
                let mean = |curve: &[[f64; 2]; 4]| curve.iter().map(|p| p[1]).sum::<f64>() / 4.0;
                curves.iter().map(|c| (c[3][0] - c[0][0]) * mean(c)).sum()
            };
            let area = under(outline.end_curve()) - under(outline.start_curve());
            let expected = mean(|clock| sleeve.side(clock)) * outline.width().mm();
            prop_assert!((area / expected - 1.0).abs() < 1e-5, "{area} {expected}");
        }

        #[test]
        fn outlines_follow_the_edges(sleeve in sleeve(), first in 0.0..360.0_f64) {
            let first = Angle::from_degrees(first);
            let outline = Outline::new(&sleeve, first, mm(0.1));
            let width = outline.width().mm();
            for (curves, is_end) in [(outline.start_curve(), false), (outline.end_curve(), true)] {
                prop_assert_eq!(curves.first().map(|c| c[0][0]), Some(0.0));
                prop_assert!((curves.last().unwrap()[3][0] - width).abs() < 1e-9);
                for [a, b, c, d] in curves {
                    let at = |i: usize, s: f64| {
                        let t = 1.0 - s;
                        a[i] * t * t * t + 3.0 * b[i] * s * t * t + 3.0 * c[i] * s * s * t + d[i] * s * s * s
                    };
                    for s in [0.0, 0.2, 0.5, 0.9] {
                        let clock = first + Angle::FULL * (at(0, s) / width);
                        let exact = if is_end { outline.end_at(clock) } else { outline.start_at(clock) };
                        let edge = if is_end { sleeve.end() } else { sleeve.start() };
                        let slack = if matches!(edge, Edge::Cut(_)) { 1e-3 } else { 1e-9 };
                        prop_assert!((at(1, s) - exact.mm()).abs() < slack);
                    }
                }
            }
        }

        #[test]
        fn meshes_are_watertight_with_the_right_volume(sleeve in sleeve()) {
            // A plane cut adds nothing over a turn; a scribed edge its mean, at any radius.
            let expected = sleeve.tube().wall_area_mm2() * mean(|clock| sleeve.side(clock));
            for (count, slack) in [(360, 2e-3), (1440, 2e-4)] {
                let mesh = sleeve.mesh(Facets::at_least(count));
                prop_assert!(mesh.is_watertight());
                let found = mesh.volume_mm3();
                prop_assert!((found / expected - 1.0).abs() < slack, "{found} {expected}");
            }
        }
    }
}
