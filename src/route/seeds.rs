//! First guesses for the local search.

use super::Layout;
use crate::geometry::{Direction, Point, Vector, perpendicular};
use crate::run::Port;

/// How far out along their axes the first and last corners start, in units.
const REACHES: [f64; 5] = [0.08, 0.25, 0.6, 1.2, 2.5];
/// Distance of inner corners from the straight line between their neighbors, in units.
const SWINGS: [f64; 3] = [0.0, 0.5, 1.5];
/// Weight of a violated margin against length when guesses are ranked.
const VIOLATION_WEIGHT: f64 = 10.0;
/// Sines below this give no side to bow out to.
const LEAST_SIDE: f64 = 1e-6;
/// Guesses nearer to each other than this, in units, count as one.
const DISTINCT: f64 = 0.3;

/// The `count` most promising and different guesses for `layout`, best first.
///
/// All guesses are built from the ports alone, so that moving or turning the job
/// moves and turns the guesses with it.
pub(super) fn seeds(layout: &Layout<'_>, start: &Port, end: &Port, count: usize) -> Vec<Vec<f64>> {
    let mut guesses: Vec<(f64, Vec<f64>)> = guesses(layout, start, end)
        .into_iter()
        .map(|x| {
            let evaluation = layout.evaluate(&x);
            let violation: f64 = evaluation.margins[..evaluation.count]
                .iter()
                .map(|margin| (-margin).max(0.0))
                .sum();
            (evaluation.objective + VIOLATION_WEIGHT * violation, x)
        })
        .filter(|(rank, _)| rank.is_finite())
        .collect();
    guesses.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut chosen: Vec<Vec<f64>> = Vec::new();
    for (_, guess) in guesses {
        if chosen.len() == count {
            break;
        }
        let near = |other: &Vec<f64>| {
            let apart = guess.iter().zip(other).map(|(a, b)| (a - b).abs());
            apart.fold(0.0, f64::max) < DISTINCT
        };
        if !chosen.iter().any(near) {
            chosen.push(guess);
        }
    }
    chosen
}

fn guesses(layout: &Layout<'_>, start: &Port, end: &Port) -> Vec<Vec<f64>> {
    let unit = layout.unit();
    let mut guesses = Vec::new();
    for s in REACHES {
        for t in REACHES {
            let (s, t) = (unit * s, unit * t);
            if layout.corners() == 2 {
                guesses.push(layout.variables_at(s, t, &[]));
                continue;
            }
            let first = start.center + start.outward.into_inner() * s.mm();
            let last = end.center + end.outward.into_inner() * t.mm();
            for side in sides(start, end) {
                for swing in SWINGS {
                    let bow = side.into_inner() * (unit * swing).mm();
                    let between = between(first, last, bow, layout.corners() - 2);
                    guesses.push(layout.variables_at(s, t, &between));
                }
            }
        }
    }
    guesses
}

/// `count` points from `first` to `last`, bowed out by `bow`.
fn between(first: Point, last: Point, bow: Vector, count: usize) -> Vec<Point> {
    (1..=count)
        .map(|i| {
            let part = i as f64 / (count + 1) as f64;
            first + (last - first) * part + bow
        })
        .collect()
}

/// Ways for inner corners to bow out, made from the ports' axes and chord.
fn sides(start: &Port, end: &Port) -> Vec<Direction> {
    let (a, b) = (start.outward.into_inner(), end.outward.into_inner());
    let chord = end.center - start.center;
    let scaled = chord / chord.norm().max(f64::MIN_POSITIVE);
    let square = |axis: Vector| scaled - axis * axis.dot(&scaled);
    let candidates = [
        a + b,
        a.cross(&b),
        square(a),
        a.cross(&scaled),
        square(b),
        b.cross(&scaled),
    ];
    let mut sides: Vec<Direction> = candidates
        .iter()
        .filter_map(|v| Direction::try_new(*v, LEAST_SIDE))
        .flat_map(|side| [side, -side])
        .collect();
    if sides.is_empty() {
        // Both ports on one line: any side is as good as any other.
        let spare = perpendicular(&start.outward);
        sides.extend([spare, -spare]);
    }
    sides
}
