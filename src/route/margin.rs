//! Every term's margin and its slopes, side by side.
//!
//! A layout lists its terms once; values and slopes are both driven by that list.

use super::choice::MAX_BENDS;
use super::crossing::Crossing;
use super::layout::Layout;
use super::nearness::{nearest_edge, nearest_pair};
use super::scanned::near_scan;
use super::shape::{Shape, Slopes};
use super::slant::{merged_short, merged_slope};
use super::term::Term;
use crate::geometry::Vector;

/// Margin of a term that has nothing to say, in units.
const NO_MATTER: f64 = 1.0;
/// Step of the difference by which the greatest turn's slope over the CLR is taken,
/// as a part of the CLR. It is piecewise smooth; ∛ε is best for a central difference.
const CLR_STEP: f64 = 6e-6;

impl Term {
    /// The margin in units: positive where there is room, negative where it is violated.
    pub fn margin(
        &self,
        layout: &Layout<'_>,
        shape: &Shape,
        straights: &[f64; MAX_BENDS + 1],
    ) -> f64 {
        match *self {
            Self::Straight { leg, least } => straights[leg] - least,
            Self::Turn { bend } => {
                layout.turn_scale()
                    * (greatest_turn(layout, bend, shape.radii[bend]) - shape.turns[bend])
            }
            Self::TurnAtMost { bend, most } => layout.turn_scale() * (most - shape.turns[bend]),
            Self::TurnIs { bend, turn } => layout.turn_scale() * (turn - shape.turns[bend]),
            Self::TurnShared { bend, cuts } => {
                layout.turn_scale() * (cuts * shape.cut - shape.turns[bend])
            }
            Self::PieShort { bend, least } => {
                2.0 * (shape.radii[bend] - layout.tube_radius()) * shape.cut_tans[bend] - least
            }
            Self::ShortSide { leg, least } => {
                merged_short(layout, shape, straights[leg], leg) - least
            }
            Self::ClrLeast { bend, least } => shape.radii[bend] - least,
            Self::ClrMost { bend, most } => most - shape.radii[bend],
            Self::Slide { end, slide, ahead } => {
                let track = layout.field().ends[end].slides[slide];
                let part = slid(layout, shape, end, slide);
                if ahead {
                    track.ahead - part
                } else {
                    track.back + part
                }
            }
            Self::Cone { end } => {
                let port = &layout.field().ends[end];
                let lean = leaning(layout, shape, end);
                // In squares, which are smooth at the cone's axis.
                (port.lean * port.lean - lean.norm_squared()) / (2.0 * port.lean)
            }
            Self::Closed { axis } => gap(layout, shape)[axis],
            Self::Facing { axis } => (shape.outward[0] + shape.outward[1])[axis],
            Self::Clear {
                first,
                last,
                obstacle,
            } => nearest_edge(layout, shape, first..last, obstacle)
                .map_or(NO_MATTER, |near| near.margin),
            Self::ClearScan(part) => near_scan(layout, shape, &part)
                .map_or(NO_MATTER, |near| near.margin + layout.correction(part.slot)),
            Self::SelfClear => nearest_pair(layout, shape).map_or(NO_MATTER, |pair| pair.margin()),
            Self::PassRoom { leg, pass } => Crossing::new(layout, shape, leg, pass).room,
            Self::PassAfter { leg, pass } => {
                Crossing::new(layout, shape, leg, pass).along
                    - leg.checked_sub(1).map_or(0.0, |bend| shape.take_outs[bend])
            }
            Self::PassBefore { leg, pass } => {
                let taken = if leg < layout.bends() {
                    shape.take_outs[leg]
                } else {
                    0.0
                };
                shape.lengths[leg] - taken - Crossing::new(layout, shape, leg, pass).along
            }
        }
    }

    /// Adds `weight` times the margin's slopes.
    pub fn add_slopes(&self, layout: &Layout<'_>, shape: &Shape, weight: f64, slopes: &mut Slopes) {
        match *self {
            Self::Straight { leg, .. } => straight_slope(layout, leg, weight, slopes),
            Self::Turn { bend } => {
                let weight = weight * layout.turn_scale();
                slopes.turns[bend] -= weight;
                if layout.places().radii[bend].is_some() {
                    slopes.radii[bend] +=
                        weight * greatest_turn_slope(layout, bend, shape.radii[bend]);
                }
            }
            Self::TurnAtMost { bend, .. } | Self::TurnIs { bend, .. } => {
                slopes.turns[bend] -= weight * layout.turn_scale();
            }
            Self::TurnShared { bend, cuts } => {
                slopes.turns[bend] -= weight * layout.turn_scale();
                slopes.cut += weight * layout.turn_scale() * cuts;
            }
            Self::PieShort { bend, .. } => {
                slopes.radii[bend] += 2.0 * weight * shape.cut_tans[bend];
                slopes.cut_tans[bend] += 2.0 * weight * (shape.radii[bend] - layout.tube_radius());
            }
            Self::ShortSide { leg, .. } => {
                straight_slope(layout, leg, weight, slopes);
                merged_slope(layout, shape, leg, weight, slopes);
            }
            Self::ClrLeast { bend, .. } => slopes.radii[bend] += weight,
            Self::ClrMost { bend, .. } => slopes.radii[bend] -= weight,
            Self::Slide { end, slide, ahead } => {
                let direct = if ahead { -weight } else { weight };
                slopes.centers[end] += slid_slope(layout, end, slide) * direct;
            }
            Self::Cone { end } => cone_slope(layout, shape, end, weight, slopes),
            Self::Closed { axis } => gap_slope(layout, shape, axis, weight, slopes),
            Self::Facing { axis } => {
                slopes.outward[0][axis] += weight;
                slopes.outward[1][axis] += weight;
            }
            Self::Clear {
                first,
                last,
                obstacle,
            } => {
                if let Some(near) = nearest_edge(layout, shape, first..last, obstacle) {
                    near.add_slopes(layout, shape, weight, slopes);
                }
            }
            Self::ClearScan(part) => {
                if let Some(near) = near_scan(layout, shape, &part) {
                    near.add_slopes(layout, shape, weight, slopes);
                }
            }
            Self::SelfClear => {
                if let Some(pair) = nearest_pair(layout, shape) {
                    pair.add_slopes(layout, shape, weight, slopes);
                }
            }
            Self::PassRoom { leg, pass } => {
                Crossing::new(layout, shape, leg, pass).room_slope(layout, shape, weight, slopes);
            }
            Self::PassAfter { leg, pass } => {
                Crossing::new(layout, shape, leg, pass).along_slope(layout, shape, weight, slopes);
                if let Some(bend) = leg.checked_sub(1) {
                    slopes.take_outs[bend] -= weight;
                }
            }
            Self::PassBefore { leg, pass } => {
                Crossing::new(layout, shape, leg, pass).along_slope(layout, shape, -weight, slopes);
                slopes.lengths[leg] += weight;
                if leg < layout.bends() {
                    slopes.take_outs[leg] -= weight;
                }
            }
        }
    }
}

fn straight_slope(layout: &Layout<'_>, leg: usize, weight: f64, slopes: &mut Slopes) {
    slopes.lengths[leg] += weight;
    for bend in layout.bends_beside(leg).into_iter().flatten() {
        slopes.take_outs[bend] -= weight;
    }
}

/// Greatest turn, rad, of a bend at a CLR of `radius` units.
fn greatest_turn(layout: &Layout<'_>, bend: usize, radius: f64) -> f64 {
    layout
        .field()
        .greatest_turn(layout.choice().bends[bend].joints(), radius)
}

/// Slope of the greatest turn over the CLR, rad a unit.
fn greatest_turn_slope(layout: &Layout<'_>, bend: usize, radius: f64) -> f64 {
    let step = radius * CLR_STEP;
    (greatest_turn(layout, bend, radius + step) - greatest_turn(layout, bend, radius - step))
        / (2.0 * step)
}

/// How far a port has slid along one of its slides.
fn slid(layout: &Layout<'_>, shape: &Shape, end: usize, slide: usize) -> f64 {
    let offset = shape.centers[end] - layout.field().ends[end].center;
    slid_slope(layout, end, slide).dot(&offset)
}

/// The direction whose product with a port's offset is its part along one slide: the
/// dual of the slides.
fn slid_slope(layout: &Layout<'_>, end: usize, slide: usize) -> Vector {
    let slides = &layout.field().ends[end].slides;
    let along = |i: usize| slides[i % slides.len()].along;
    let this = along(slide);
    let dual = match slides.len() {
        1 => this,
        2 => {
            let other = along(slide + 1);
            this - other * other.dot(&this)
        }
        _ => along(slide + 1).cross(&along(slide + 2)),
    };
    dual / dual.dot(&this)
}

/// How far, as tangents along the end's two directions across, a port's direction leans.
fn leaning(layout: &Layout<'_>, shape: &Shape, end: usize) -> nalgebra::Vector2<f64> {
    let port = &layout.field().ends[end];
    let outward = shape.outward[end];
    let along = outward.dot(&port.outward);
    nalgebra::Vector2::new(outward.dot(&port.across[0]), outward.dot(&port.across[1])) / along
}

fn cone_slope(layout: &Layout<'_>, shape: &Shape, end: usize, weight: f64, slopes: &mut Slopes) {
    let port = &layout.field().ends[end];
    let along = shape.outward[end].dot(&port.outward);
    let lean = leaning(layout, shape, end);
    let pull = lean * (-weight / port.lean);
    for (across, pull) in port.across.iter().zip(pull.iter()) {
        slopes.outward[end] += across * (pull / along);
    }
    slopes.outward[end] -= port.outward * (pull.dot(&lean) / along);
}

/// From where the last port would have the run end to where it ends.
fn gap(layout: &Layout<'_>, shape: &Shape) -> Vector {
    let reached = shape.centers[0] + shape.outward[0] * shape.lengths[0];
    if layout.bends() == 0 {
        return reached - shape.centers[1];
    }
    reached - shape.centers[1] - shape.outward[1] * shape.lengths[1]
}

fn gap_slope(layout: &Layout<'_>, shape: &Shape, axis: usize, weight: f64, slopes: &mut Slopes) {
    slopes.centers[0][axis] += weight;
    slopes.centers[1][axis] -= weight;
    slopes.outward[0][axis] += weight * shape.lengths[0];
    slopes.lengths[0] += weight * shape.outward[0][axis];
    if layout.bends() > 0 {
        slopes.outward[1][axis] -= weight * shape.lengths[1];
        slopes.lengths[1] -= weight * shape.outward[1][axis];
    }
}

#[cfg(test)]
mod tests {
    use super::super::choice::{Choice, CutRule, Making};
    use super::super::field::Field;
    use super::super::layout::{Aim, Layout, Worth};
    use super::super::nearness::{PLENTY, nearest_pair};
    use super::super::{Charts, Pass, Task};
    use super::{Shape, Term};
    use crate::geometry::{Direction, Plane, Point, Vector};
    use crate::run::{Freedom, Port, Slide};
    use crate::scan::{Group, Mesh, Surface};
    use crate::scene::{Body, Obstacle, Side, Solid};
    use crate::tube::{StockBend, Tube};
    use crate::units::{Angle, Length};
    use proptest::prelude::*;
    use std::sync::{Arc, OnceLock};

    /// Step of the central difference that slopes are checked against, in units.
    const STEP: f64 = 1e-6;

    fn direction(x: f64, y: f64, z: f64) -> Direction {
        Direction::new_normalize(Vector::new(x, y, z))
    }

    /// A task that calls for every kind of term.
    fn task(clr_max: f64, is_free: bool) -> Task {
        let tube = Tube::new(Length::from_mm(60.0), Length::from_mm(1.5), "304").unwrap();
        let mut start = Port::new("a", Point::new(10.0, -20.0, 30.0), direction(0.1, 0.2, 1.0));
        let mut end = Port::new(
            "b",
            Point::new(300.0, 150.0, 250.0),
            direction(-1.0, 0.3, 0.2),
        );
        if is_free {
            let slide = |x, y, z| Slide {
                along: direction(x, y, z),
                back: Length::from_mm(30.0),
                ahead: Length::from_mm(50.0),
            };
            end.freedom = Freedom {
                slides: vec![slide(1.0, 0.2, 0.0), slide(0.0, 1.0, 0.3)],
                cone: Angle::from_degrees(20.0),
            };
            start.freedom.cone = Angle::from_degrees(10.0);
        }
        let mut task = Task::new(tube, start, end);
        task.limits.clr_min = Length::from_mm(60.0);
        task.limits.clr_max = Length::from_mm(clr_max);
        task.saw_angles = vec![Angle::from_degrees(7.5)];
        task.stock = vec![StockBend {
            name: "90".to_owned(),
            od: Length::from_mm(60.0),
            clr: Length::from_mm(90.0),
            turn: Angle::QUARTER,
            leg: Length::from_mm(50.0),
            price: 10.0,
            count: None,
        }];
        let obstacle = |solid, side| Obstacle {
            name: "thing".to_owned(),
            body: Body::Solid(solid),
            side,
            clearance: Length::from_mm(5.0),
            reach: Length::ZERO,
        };
        let ball = Solid::Capsule {
            from: Point::new(120.0, 60.0, 200.0),
            to: Point::new(160.0, 90.0, 180.0),
            radius: Length::from_mm(20.0),
        };
        let ground = Solid::HalfSpace(Plane {
            point: Point::new(0.0, 0.0, -100.0),
            normal: direction(0.1, 0.0, 1.0),
        });
        let bay = Solid::between(
            Point::new(-200.0, -200.0, -200.0),
            Point::new(500.0, 400.0, 500.0),
        );
        task.obstacles = vec![
            obstacle(ball, Side::KeepOut),
            obstacle(ground, Side::KeepOut),
            obstacle(bay, Side::KeepIn),
        ];
        let (heap, charts) = heap();
        task.obstacles.push(Obstacle {
            body: Body::Scan(heap),
            ..task.obstacles[0].clone()
        });
        task.charts = charts;
        task.passes = vec![
            Pass {
                name: "hole".to_owned(),
                center: Point::new(100.0, 50.0, 200.0),
                direction: Some(direction(1.0, 0.4, 0.2)),
                radius: Length::from_mm(60.0),
            },
            Pass {
                name: "bracket".to_owned(),
                center: Point::new(200.0, 100.0, 220.0),
                direction: None,
                radius: Length::from_mm(5.0),
            },
        ];
        task
    }

    /// A scan of an open bowl among the ports, and its chart, made once for all cases.
    fn heap() -> (Arc<Surface>, Charts) {
        static HEAP: OnceLock<(Arc<Surface>, Charts)> = OnceLock::new();
        let made = HEAP.get_or_init(|| {
            let at = |i: u32, j: u32| {
                let (x, y) = (f64::from(i) * 10.0 - 50.0, f64::from(j) * 10.0 - 50.0);
                Point::new(x + 150.0, y + 90.0, 100.0 - (x * x + y * y) / 80.0)
            };
            let corner = |i: u32, j: u32| i + 11 * j;
            let mesh = Mesh {
                points: (0..121).map(|n| at(n % 11, n / 11)).collect(),
                triangles: (0..100)
                    .map(|n| (n % 10, n / 10))
                    .flat_map(|(i, j)| {
                        let across = [corner(i + 1, j), corner(i, j + 1)];
                        [
                            [corner(i, j), across[0], across[1]],
                            [across[0], corner(i + 1, j + 1), across[1]],
                        ]
                    })
                    .collect(),
                groups: vec![Group {
                    name: "bowl".to_owned(),
                    triangles: 0..200,
                }],
            };
            (Arc::new(Surface::new(mesh)), Charts::default())
        });
        made.clone()
    }

    fn check(
        task: &Task,
        bends: Vec<Making>,
        aim: Aim,
        x: &[f64],
        weights: &[f64],
    ) -> Result<(), TestCaseError> {
        let field = Field::new(task);
        let legs = bends.len();
        let choice = Choice {
            pass_legs: vec![legs / 2, legs - 1],
            bends,
        };
        let layout = Layout::new(&field, choice, aim).clear_of_itself();
        let mut x = x[..layout.places().count].to_vec();
        for (slot, radius) in layout
            .places()
            .radii
            .iter()
            .flatten()
            .zip([0.2, 0.25, 0.3, 0.22, 0.28])
        {
            x[*slot] = radius;
        }
        for end in 0..2 {
            for slot in &mut x[layout.places().ends[end]..][..field.ends[end].variables()] {
                *slot *= 0.1;
            }
        }
        let shape = Shape::new(&layout, &x);
        let is_plain = shape.lengths[1..legs].iter().all(|length| *length > 0.05)
            && shape.turns[..legs]
                .iter()
                .all(|turn| (0.05..2.7).contains(turn));
        prop_assume!(is_plain);
        let terms = layout.terms().len();
        for (i, weight) in weights.iter().cycle().take(terms).enumerate() {
            // One term at a time: a wrong slope is not hidden by the others.
            let mut weights = vec![0.0; terms];
            weights[i] = *weight;
            let value = |x: &[f64]| {
                let evaluation = layout.evaluate(x);
                evaluation.objective + evaluation.margins[i] * weight
            };
            let is_bound = layout.evaluate(&x).margins[i] >= 0.9 * PLENTY
                && matches!(layout.terms()[i], Term::Clear { .. } | Term::ClearScan(_));
            let crosses = layout.terms()[i] == Term::SelfClear
                && nearest_pair(&layout, &shape).is_some_and(|pair| pair.distance < 1e-4);
            if is_bound || crosses {
                // Only a lower bound is known of room in plenty; and where centerlines
                // cross, nothing says which way apart is.
                continue;
            }
            let slopes = layout.gradient(&Shape::new(&layout, &x), weights.iter().copied());
            for (k, slope) in slopes.iter().enumerate() {
                let at = |step: f64| {
                    let mut moved = x.clone();
                    moved[k] += step;
                    value(&moved)
                };
                let (behind, here, ahead) = (at(-STEP), at(0.0), at(STEP));
                let near = (ahead - behind) / (2.0 * STEP);
                // At a kink (another edge nearest) the two sides disagree.
                let bend = ((ahead - here) - (here - behind)) / STEP;
                let is_smooth = bend.abs() < 1e-3 * (1.0 + near.abs());
                prop_assert!(
                    !is_smooth || (slope - near).abs() < 2e-3 * (1.0 + slope.abs()),
                    "{:?} by variable {k}: {slope} and {near}",
                    layout.terms()[i]
                );
            }
        }
        Ok(())
    }

    fn making() -> impl Strategy<Value = Making> {
        let pies = |cut| {
            (1_u32..6).prop_map(move |joints| Making::Pies {
                radius: 0,
                joints,
                cut,
            })
        };
        prop_oneof![
            Just(Making::Arc { radius: 0 }),
            pies(CutRule::Free),
            pies(CutRule::Shared),
            pies(CutRule::Listed(0)),
            any::<bool>().prop_map(|whole| Making::Stock { item: 0, whole }),
        ]
    }

    proptest! {
        #![proptest_config(ProptestConfig {
            failure_persistence: None,
            rng_seed: proptest::test_runner::RngSeed::Fixed(20_261_125),
            ..ProptestConfig::default()
        })]

        #[test]
        fn slopes_are_those_of_the_values(
            bends in prop::collection::vec(making(), 1..=5),
            range in any::<bool>(),
            is_free in any::<bool>(),
            wishes in any::<bool>(),
            mut x in prop::collection::vec(-0.8..1.2_f64, 40),
            reach in prop::array::uniform2(0.2..1.5_f64),
            weights in prop::collection::vec(0.2..1.0_f64, 7),
        ) {
            x[..2].copy_from_slice(&reach);
            let mut task = task(if range { 200.0 } else { 60.0 }, is_free);
            // Only a range as a whole has CLRs to choose; it comes last.
            if range {
                task.clrs.clear();
            }
            let last = Field::new(&task).radii.len() - 1;
            let with_last = |making: Making| match making {
                Making::Arc { .. } => Making::Arc { radius: last },
                Making::Pies { joints, cut, .. } => Making::Pies { radius: last, joints, cut },
                stock @ Making::Stock { .. } => stock,
            };
            let making = Worth { weld: 0.2, joint: 0.1, stock: 0.7 };
            let aim = Aim { per_radian: 0.3, wish: wishes.then_some((1.5, 4.0)), making };
            check(&task, bends.into_iter().map(with_last).collect(), aim, &x, &weights)?;
        }
    }
}
