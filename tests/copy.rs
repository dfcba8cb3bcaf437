//! Tubes that are planted, touched, and traced again.

mod support;

use nalgebra::{DVector, SymmetricEigen};
use proptest::prelude::*;
use runwright::geometry::{Direction, Point, Scatter, Vector, perpendicular};
use runwright::survey::{
    Caution, MOST_POINTS, Spot, Touched, Trace, TraceError, Traced, TubeEnd, trace,
};
use runwright::units::{Angle, Length};
use support::Numbers;

const RADIUS: f64 = 31.75;

/// A normal deviate: the polar method.
fn normal(numbers: &mut Numbers) -> f64 {
    loop {
        let (u, v) = (numbers.between(-1.0, 1.0), numbers.between(-1.0, 1.0));
        let s: f64 = u * u + v * v;
        if s > 0.0 && s < 1.0 {
            return u * (-2.0 * s.ln() / s).sqrt();
        }
    }
}

/// A polyline that somebody could weld: `joints` joints that turn 3° to 45°, edges of one
/// to six radii.
fn tube(numbers: &mut Numbers, joints: usize) -> Vec<Point> {
    let mut at = Point::new(120.0, -300.0, 55.0);
    let mut way = numbers.direction();
    let mut vertices = vec![at];
    for joint in 0..=joints {
        at += way.into_inner() * numbers.between(RADIUS, 6.0 * RADIUS);
        vertices.push(at);
        if joint < joints {
            let turn = numbers.between(3.0, 45.0).to_radians();
            let side = across(&way, numbers.between(0.0, 360.0));
            way = Direction::new_normalize(way.into_inner() * turn.cos() + side * turn.sin());
        }
    }
    vertices
}

/// Square to an axis, at a clock in degrees.
fn across(axis: &Direction, clock: f64) -> Vector {
    let first = perpendicular(axis).into_inner();
    let (sin, cos) = clock.to_radians().sin_cos();
    first * cos + axis.cross(&first) * sin
}

fn direction(vertices: &[Point], piece: usize) -> Direction {
    Direction::new_normalize(vertices[piece + 1] - vertices[piece])
}

fn ends(vertices: &[Point]) -> [TubeEnd; 2] {
    let last = vertices.len() - 1;
    [
        TubeEnd {
            center: vertices[0],
            outward: direction(vertices, 0),
            scatter: Scatter::none(),
        },
        TubeEnd {
            center: vertices[last],
            outward: -direction(vertices, last - 1),
            scatter: Scatter::none(),
        },
    ]
}

/// Points on the outside of each piece: all round, from one end to the other.
fn outside(numbers: &mut Numbers, vertices: &[Point], each: usize) -> Vec<Vec<Point>> {
    let pieces = 0..vertices.len() - 1;
    pieces
        .map(|piece| {
            let axis = direction(vertices, piece);
            let edge = vertices[piece + 1] - vertices[piece];
            let first = numbers.between(0.0, 360.0);
            (0..each)
                .map(|i| {
                    // Round by 150° or so a point, to and fro along the piece.
                    let clock = first + 150.0 * i as f64 + numbers.between(-20.0, 20.0);
                    let part = [0.05, 0.95, 0.5][i % 3] + numbers.between(-0.05, 0.05);
                    vertices[piece] + edge * part + across(&axis, clock) * RADIUS
                })
                .collect()
        })
        .collect()
}

fn along(vertices: &[Point], each: usize) -> Vec<Point> {
    let pieces = vertices.windows(2);
    pieces
        .flat_map(|pair| {
            let edge = pair[1] - pair[0];
            (0..each).map(move |i| pair[0] + edge * ((i as f64 + 0.5) / each as f64))
        })
        .collect()
}

fn shaken(numbers: &mut Numbers, point: Point, sigma: f64) -> Point {
    point + Vector::new(normal(numbers), normal(numbers), normal(numbers)) * sigma
}

fn tracing(ends: [TubeEnd; 2], touched: Touched, accuracy: f64) -> Result<Traced, Vec<TraceError>> {
    trace(&Trace {
        ends,
        radius: Length::from_mm(RADIUS),
        touched,
        accuracy: Length::from_mm(accuracy),
    })
}

/// Greatest distance of vertices from where they were planted.
fn farthest(traced: &Traced, vertices: &[Point]) -> f64 {
    assert_eq!(traced.vertices.len(), vertices.len(), "joints");
    let pairs = traced.vertices.iter().zip(vertices);
    pairs.map(|(a, b)| (a - b).norm()).fold(0.0, f64::max)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn exact_joints_are_met(seed in any::<u64>(), joints in 1_usize..=12) {
        let mut numbers = Numbers::new(seed);
        let vertices = tube(&mut numbers, joints);
        let touched = Touched::Joints(vertices[1..=joints].to_vec());
        let traced = tracing(ends(&vertices), touched, 0.5).expect("a tube");
        prop_assert!(farthest(&traced, &vertices) < 1e-9, "{}", farthest(&traced, &vertices));
        prop_assert!(traced.suspects.is_empty());
    }

    #[test]
    fn exact_points_on_the_outside_are_met(seed in any::<u64>(), joints in 1_usize..=12, each in 7_usize..12) {
        let mut numbers = Numbers::new(seed);
        let vertices = tube(&mut numbers, joints);
        let touched = Touched::Pieces(outside(&mut numbers, &vertices, each));
        let traced = tracing(ends(&vertices), touched, 0.01).expect("a tube");
        prop_assert!(farthest(&traced, &vertices) < 1e-9, "{}", farthest(&traced, &vertices));
        prop_assert!(traced.suspects.is_empty());
    }

    #[test]
    fn exact_points_of_the_centerline_are_met(seed in any::<u64>(), joints in 1_usize..=12, each in 4_usize..9) {
        let mut numbers = Numbers::new(seed);
        let vertices = tube(&mut numbers, joints);
        let touched = Touched::Centerline {
            points: along(&vertices, each),
            within: Some(Length::from_mm(1e-3)),
        };
        let traced = tracing(ends(&vertices), touched, 1e-4).expect("a tube");
        prop_assert!(farthest(&traced, &vertices) < 1e-9, "{}", farthest(&traced, &vertices));
        prop_assert!(traced.suspects.is_empty());
    }

    #[test]
    fn no_number_breaks_it(
        points in prop::collection::vec(prop::collection::vec(prop::array::uniform3(-300.0..300.0_f64), 0..7), 0..6),
        kind in 0..3,
    ) {
        let pieces: Vec<Vec<Point>> = points.iter().map(|piece| piece.iter().map(|p| Point::from(*p)).collect()).collect();
        let flat: Vec<Point> = pieces.iter().flatten().copied().collect();
        let touched = match kind {
            0 => Touched::Joints(flat),
            1 => Touched::Pieces(pieces),
            _ => Touched::Centerline { points: flat, within: None },
        };
        let vertices = [[0.0, 0.0, 0.0], [0.0, 0.0, 50.0], [200.0, 0.0, 60.0]].map(Point::from);
        if let Ok(traced) = tracing(ends(&vertices), touched, 0.5) {
            prop_assert!(traced.vertices.iter().all(|v| v.iter().all(|c| c.is_finite())));
        }
    }
}
