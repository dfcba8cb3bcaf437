//! First guesses for the local search.

use super::field::Field;
use super::layout::{Guess, Layout};
use super::ways::Way;
use crate::geometry::{Direction, Vector, perpendicular};
use crate::run::Port;
use std::f64::consts::TAU;

/// How far out along their axes the first and last corners start, in units.
const REACHES: [f64; 5] = [0.08, 0.25, 0.6, 1.2, 2.5];
/// Distance of inner corners from the straight line between their neighbors, in units.
const SWINGS: [f64; 3] = [0.0, 0.5, 1.5];
/// Least and greatest reach of scattered guesses, in units.
const SCATTERED_REACH: (f64, f64) = (0.05, 2.0);
/// Radius of the ball round the ports' middle that scattered corners lie in, in units.
const SCATTERED_SWING: f64 = 1.0;
/// Weight of a violated margin against length when guesses are ranked.
const VIOLATION_WEIGHT: f64 = 10.0;
/// Sines below this give no side to bow out to.
const LEAST_SIDE: f64 = 1e-6;
/// Guesses nearer to each other than this, in units, count as one.
const DISTINCT: f64 = 0.3;
/// The same among guesses round obstacles, where a little makes a difference.
const DISTINCT_AMONG_OBSTACLES: f64 = 0.1;

/// Guesses along the ways among scans, and the `count` most promising and different ones
/// for `layout`, best first: from a grid, and `scatter` more from the numbers of `seed`.
///
/// All guesses are built in the field's frame, so that moving or turning the job moves
/// and turns the guesses with it.
pub(super) fn seeds(layout: &Layout<'_>, count: usize, scatter: usize, seed: u64) -> Vec<Guess> {
    let field = layout.field();
    let mut guesses = grid(field, layout.bends());
    let mut numbers = Numbers::new(seed, layout.bends());
    guesses.extend((0..scatter).map(|_| scattered(field, layout.bends(), &mut numbers)));
    for guess in &mut guesses {
        aim_at_passes(layout, guess, &mut numbers);
    }
    // Ways among scans lead through where ranks do not tell: they all come first.
    let ways = round_scans(field, layout.bends());
    let rest = best_of(layout, &guesses, count);
    ways.into_iter().chain(rest).collect()
}

/// The `count` most promising and different of `guesses` for `layout`, best first.
pub(super) fn best_of(layout: &Layout<'_>, guesses: &[Guess], count: usize) -> Vec<Guess> {
    let mut ranked: Vec<(f64, Vec<f64>)> = guesses
        .iter()
        .map(|guess| {
            let x = layout.pack(guess);
            let evaluation = layout.evaluate(&x);
            let terms = layout.terms().iter().zip(evaluation.margins);
            let violation: f64 = terms
                .map(|(term, margin)| (-term.kept(margin)).max(0.0))
                .sum();
            (evaluation.objective + VIOLATION_WEIGHT * violation, x)
        })
        .filter(|(rank, _)| rank.is_finite())
        .collect();
    ranked.sort_by(|a, b| a.0.total_cmp(&b.0));
    let distinct = if layout.has_room() {
        DISTINCT_AMONG_OBSTACLES
    } else {
        DISTINCT
    };
    let mut chosen: Vec<Vec<f64>> = Vec::new();
    for (_, guess) in ranked {
        if chosen.len() == count {
            break;
        }
        let near = |other: &Vec<f64>| {
            let apart = guess.iter().zip(other).map(|(a, b)| (a - b).abs());
            apart.fold(0.0, f64::max) < distinct
        };
        if !chosen.iter().any(near) {
            chosen.push(guess);
        }
    }
    chosen.iter().map(|x| layout.unpack(x)).collect()
}

/// Guesses made from the ports' axes and chord alone.
fn grid(field: &Field<'_>, bends: usize) -> Vec<Guess> {
    let mut guesses = Vec::new();
    let sides = sides(field);
    let [start, end] = &field.ends;
    for s in REACHES {
        for t in REACHES {
            if bends <= 2 {
                guesses.push(Guess::at(field, [s, t], Vec::new()));
                continue;
            }
            let first = start.center + start.outward * s;
            let last = end.center + end.outward * t;
            for side in &sides {
                for swing in SWINGS {
                    let corners = between(first, last, side.into_inner() * swing, bends - 2);
                    guesses.push(Guess::at(field, [s, t], corners));
                }
            }
        }
    }
    guesses
}

/// Guesses along the ways among scans.
fn round_scans(field: &Field<'_>, bends: usize) -> Vec<Guess> {
    let ways = field.chart.as_ref().map_or(&[][..], |chart| &chart.ways);
    let task = field.task;
    let guess = |way: &Way| {
        let on_axis = |port: &Port, reach: f64| port.center + port.outward.into_inner() * reach;
        let ends = [
            on_axis(&task.start, way.reaches[0]),
            on_axis(&task.end, way.reaches[1]),
        ];
        let corners = way.with_corners(ends, bends.saturating_sub(2));
        Guess::at(
            field,
            way.reaches.map(|reach| reach / field.unit),
            corners
                .iter()
                .map(|corner| field.in_frame(corner))
                .collect(),
        )
    };
    ways.iter().map(guess).collect()
}

/// `count` points from `first` to `last`, bowed out by `bow`.
fn between(first: Vector, last: Vector, bow: Vector, count: usize) -> Vec<Vector> {
    (1..=count)
        .map(|i| {
            let part = i as f64 / (count + 1) as f64;
            first + (last - first) * part + bow
        })
        .collect()
}

/// Ways for inner corners to bow out, made from the ports' axes and chord.
fn sides(field: &Field<'_>) -> Vec<Direction> {
    let [start, end] = &field.ends;
    let (a, b) = (start.outward, end.outward);
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
        let spare = perpendicular(&Direction::new_unchecked(a));
        sides.extend([spare, -spare]);
    }
    sides
}

/// A guess from anywhere round the ports.
fn scattered(field: &Field<'_>, bends: usize, numbers: &mut Numbers) -> Guess {
    let (least, most) = SCATTERED_REACH;
    let mut reach = || least * (most / least).powf(numbers.part());
    let reaches = [reach(), reach()];
    let middle = (field.ends[0].center + field.ends[1].center) / 2.0;
    let corners =
        (0..bends.saturating_sub(2)).map(|_| middle + numbers.in_ball() * SCATTERED_SWING);
    let mut guess = Guess::at(field, reaches, corners.collect());
    for (end, variables) in field.ends.iter().zip(&mut guess.ends) {
        let slides = end
            .slides
            .iter()
            .map(|track| numbers.between(-track.back, track.ahead));
        let slides: Vec<f64> = slides.collect();
        variables[..slides.len()].copy_from_slice(&slides);
        for lean in &mut variables[slides.len()..] {
            *lean = end.lean * numbers.between(-0.7, 0.7);
        }
    }
    guess
}

/// Moves free corners so that legs lead through their passes.
fn aim_at_passes(layout: &Layout<'_>, guess: &mut Guess, numbers: &mut Numbers) {
    let k = layout.bends();
    let field = layout.field();
    for (pass, &leg) in layout.choice().pass_legs.iter().enumerate() {
        if leg == 0 || leg == k {
            continue;
        }
        let center = field.passes[pass].center;
        let far = numbers.between(0.15, 0.8);
        let corner = |guess: &Guess, i: usize| match i {
            0 => field.ends[0].center + field.ends[0].outward * guess.reaches[0],
            i if i == k - 1 => field.ends[1].center + field.ends[1].outward * guess.reaches[1],
            i => guess.between[i - 1],
        };
        let is_free = |i: usize| i > 0 && i + 1 < k;
        let (before, after) = (corner(guess, leg - 1), corner(guess, leg));
        let chord = after - before;
        let axis = field.passes[pass]
            .direction
            .map_or(chord, |d| d * d.dot(&chord).signum());
        let through = |from: Vector| (center - from) / (center - from).norm().max(1e-9);
        match (is_free(leg - 1), is_free(leg)) {
            (true, true) => {
                let axis = axis / axis.norm().max(1e-9);
                guess.between[leg - 2] = center - axis * far;
                guess.between[leg - 1] = center + axis * far;
            }
            (true, false) => guess.between[leg - 2] = center + through(after) * far,
            (false, true) => guess.between[leg - 1] = center + through(before) * far,
            (false, false) => {}
        }
    }
}

/// Numbers that look random and are the same on every machine: SplitMix64 (Steele, Lea
/// and Flood 2014, from memory).
struct Numbers(u64);

impl Numbers {
    const fn new(seed: u64, stream: usize) -> Self {
        Self(seed ^ (stream as u64).wrapping_mul(0x2545_F491_4F6C_DD1D))
    }

    /// From 0 to 1.
    fn part(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((mixed ^ (mixed >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.part()
    }

    /// Evenly in the unit ball.
    fn in_ball(&mut self) -> Vector {
        let (height, turn, depth) = (self.between(-1.0, 1.0), self.between(0.0, TAU), self.part());
        let (sin, cos) = turn.sin_cos();
        let flat = (1.0 - height * height).sqrt();
        Vector::new(flat * cos, flat * sin, height) * depth.cbrt()
    }
}
