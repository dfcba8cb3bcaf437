//! Runs that tests of building share.

use crate::support::{Numbers, run_along};
use runwright::geometry::{Direction, Point, Polyline, perpendicular, toward};
use runwright::run::{Allowance, Centerline, Port, Run};
use runwright::tube::Tube;
use runwright::units::{Angle, Length};

/// A run and its ports.
pub type Ported = (Run, Port, Port);

/// 2 in tube of 16 gauge.
pub fn small_tube() -> Tube {
    Tube::new(Length::from_mm(50.8), Length::from_mm(1.65), "304").expect("a real tube")
}

/// A walk of three to seven pieces, turned and clocked anyhow; inner edges are `shortest` mm
/// or more.
pub fn any_run(numbers: &mut Numbers, shortest: f64) -> Ported {
    let mut axis = numbers.direction();
    let mut zero = perpendicular(&axis);
    let mut points = vec![Point::from(
        [(); 3].map(|()| numbers.between(-500.0, 500.0)),
    )];
    let joints = numbers.between(2.0, 6.99) as usize;
    for _ in 0..joints {
        let edge = numbers.between(shortest, 200.0);
        points.push(points[points.len() - 1] + axis.into_inner() * edge);
        let clock = Angle::from_degrees(numbers.between(0.0, 360.0));
        let side = toward(&axis, &zero, clock);
        let (sin, cos) = Angle::from_degrees(numbers.between(5.0, 40.0)).sin_cos();
        let next = Direction::new_normalize(axis.into_inner() * cos + side.into_inner() * sin);
        zero = Direction::new_normalize(axis.cross(&next));
        axis = next;
    }
    points.push(points[points.len() - 1] + axis.into_inner() * (shortest + 20.0));
    run_along(&small_tube(), points)
}

/// Two stock bends out of one plane, a miter between them.
pub fn with_stock_bends() -> Ported {
    let points = [
        [0.0, 0.0, 0.0],
        [0.0, 0.0, 120.0],
        [0.0, 0.0, 190.0],
        [70.0, 0.0, 190.0],
        [200.0, 0.0, 190.0],
        [330.0, 30.0, 190.0],
        [427.5, 52.5, 190.0],
        [410.0, 100.0, 290.0],
        [392.5, 147.5, 390.0],
    ];
    let mut bends = vec![None; points.len()];
    bends[2] = Some(Length::from_mm(60.0));
    bends[6] = Some(Length::from_mm(50.0));
    let polyline = Polyline::new(points.map(Point::from).to_vec()).expect("a polyline");
    let directions = polyline.directions();
    let ends = [polyline.points()[0], polyline.points()[8]];
    let start = Port::new("start", ends[0], directions[0]);
    let end = Port::new("end", ends[1], -directions[directions.len() - 1]);
    let centerline = Centerline::new(polyline, bends).expect("arcs fit");
    let run = Run::new(
        &small_tube(),
        &start,
        &end,
        centerline,
        Allowance::default(),
    );
    (run.expect("a run"), start, end)
}
