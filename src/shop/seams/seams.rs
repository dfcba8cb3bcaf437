//! [`SeamPlan`]: where the lengthwise weld seam of the stock comes to lie in every piece.

use super::sides::{Ends, Link, apart, turn};
use super::stick_piece::StickPiece;
use crate::units::Angle;

/// Gaps that differ by less than this, rad, are equally wide.
const ALIKE: f64 = 1e-9;
/// Most combinations of sticks that are tried one by one; beyond it sticks are turned one at
/// a time while that helps.
const MOST_WAYS: usize = 4096;
/// Most rounds of that.
const MOST_ROUNDS: usize = 20;

/// How seams of neighboring pieces should lie (common practice, no source).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Seams {
    /// Apart from each other, so that no two end in one place of a weld.
    #[default]
    Staggered,
    /// In one line as far as pieces allow it, which looks like one tube.
    InLine,
    /// As they come.
    Any,
}

impl Seams {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Staggered, Self::InLine, Self::Any];

    /// As a job and a plan write it.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Staggered => "staggered",
            Self::InLine => "in_line",
            Self::Any => "any",
        }
    }

    /// From its word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|seams| seams.word() == word)
    }
}

/// Where seams come to lie.
///
/// A seam runs straight along its stick, so one clock a stick, from the scribed line to the
/// seam, settles it in every piece that is cut from there. First of all seams keep off the
/// inside and the outside of bends, which is where a bend works hardest: off the long and the
/// short side of every miter, best on the neutral side, 90° from both (common practice, no
/// source). How far the nearest of them is off is the margin. On a circle of 180°, where long
/// and short sides coincide, the best clock is the middle of the widest gap between the
/// stick's long sides: exactly, and turning pieces end for end changes nothing about it.
///
/// What that leaves open is settled as the job asks: which of equally wide gaps, the side or
/// the one opposite, which pieces are turned end for end. Neighbors cut one after the other
/// have their seams half a turn apart, because the stick is turned half round between them.
#[derive(Clone, Debug, PartialEq)]
pub struct SeamPlan {
    /// What was asked for.
    pub seams: Seams,
    /// Of each stick: clock of the seam from the scribed line, clockwise looking downstream.
    pub offsets: Vec<Angle>,
    /// All straight pieces, by run and number.
    pub pieces: Vec<PieceSeam>,
    /// All joints between two of them, by run and number.
    pub joints: Vec<JointSeam>,
    /// Where a seam comes nearest to the inside or the outside of a bend; none without
    /// miters.
    pub worst: Option<SeamMargin>,
    /// The same run by run.
    pub worst_by_run: Vec<SeamMargin>,
    /// Whether every combination of sticks was tried, so that nothing is better.
    pub proven: bool,
}

/// The seam of one piece.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PieceSeam {
    /// Which stick it is cut from.
    pub stick: usize,
    /// Which run it is for.
    pub run: usize,
    /// Its number there, from 1.
    pub number: usize,
    /// Clock of the seam from the piece's own line, clockwise looking downstream: from its
    /// start's long side, or its end's where the start is square. None where both are: roll
    /// it to suit.
    pub clock: Option<Angle>,
    /// Whether it is turned end for end before it is put in.
    pub turned: bool,
}

/// Two seams that meet at a joint.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct JointSeam {
    /// Which run it is in.
    pub run: usize,
    /// The joint, from 0 at the first port.
    pub joint: usize,
    /// How far apart they are round the joint, 0° to 180°.
    pub apart: Angle,
}

/// How far a seam is off the inside and the outside of a bend.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SeamMargin {
    /// From the nearer of the two, 0° to 90°.
    pub margin: Angle,
    /// Which run it is in.
    pub run: usize,
    /// The piece whose seam it is, from 1.
    pub piece: usize,
    /// The joint at which.
    pub joint: usize,
}

/// A piece of a chain: its stick, and what it is.
type Placed = (usize, StickPiece);

impl SeamPlan {
    /// For pieces cut in order from `sticks`.
    pub fn new(sticks: &[Vec<StickPiece>], seams: Seams) -> Self {
        let chains = chains(sticks);
        let open: Vec<Vec<Angle>> = sticks.iter().map(|stick| best_offsets(stick)).collect();
        let (ways, proven) = best_ways(&chains, &open, seams);
        let offsets: Vec<Angle> = ways.iter().zip(&open).map(|(&i, open)| open[i]).collect();
        let mut plan = Self {
            seams,
            offsets,
            pieces: Vec::new(),
            joints: Vec::new(),
            worst: None,
            worst_by_run: Vec::new(),
            proven,
        };
        for chain in &chains {
            plan.add(chain);
        }
        plan
    }

    /// Fills in one chain of neighbors.
    fn add(&mut self, chain: &[Placed]) {
        let links = links(chain, &self.offsets);
        let (_, turned) = turn(&links, self.seams);
        let lying = links.iter().zip(&turned).map(|(link, turned)| {
            if *turned {
                link.ends.turned()
            } else {
                link.ends
            }
        });
        let lying: Vec<Ends> = lying.collect();
        for ((&(stick, piece), ends), &turned) in chain.iter().zip(&lying).zip(&turned) {
            let clock = match (piece.start, piece.end) {
                (Some(_), _) => Some(ends.start.wrapped()),
                (None, Some(_)) => Some(ends.end.wrapped()),
                (None, None) => None,
            };
            self.pieces.push(PieceSeam {
                stick,
                run: piece.run,
                number: piece.number,
                clock,
                turned,
            });
            let at_start = piece.start.map(|_| (ends.start, piece.number - 1));
            let at_end = piece.end.map(|_| (ends.end, piece.number));
            for (clock, joint) in at_start.into_iter().chain(at_end) {
                self.mind(SeamMargin {
                    margin: off_sides(clock),
                    run: piece.run,
                    piece: piece.number,
                    joint,
                });
            }
        }
        for (pair, ends) in chain.windows(2).zip(lying.windows(2)) {
            self.joints.push(JointSeam {
                run: pair[0].1.run,
                joint: pair[0].1.number,
                apart: apart(ends[0], ends[1]),
            });
        }
    }
}

impl SeamPlan {
    /// Takes in how far one seam is off at one joint.
    fn mind(&mut self, seam: SeamMargin) {
        if self.worst.is_none_or(|worst| seam.margin < worst.margin) {
            self.worst = Some(seam);
        }
        let known = self.worst_by_run.iter_mut().find(|one| one.run == seam.run);
        match known {
            Some(one) if seam.margin < one.margin => *one = seam,
            Some(_) => {}
            None => self.worst_by_run.push(seam),
        }
    }

    /// What it says of one run; sticks keep their numbers.
    pub fn of_run(&self, run: usize) -> Self {
        let worst = self.worst_by_run.iter().find(|one| one.run == run);
        let pieces = self.pieces.iter().filter(|one| one.run == run);
        let joints = self.joints.iter().filter(|one| one.run == run);
        Self {
            pieces: pieces.copied().collect(),
            joints: joints.copied().collect(),
            worst: worst.copied(),
            worst_by_run: worst.copied().into_iter().collect(),
            ..self.clone()
        }
    }

    /// Clock of the seam in each of a run's first `pieces` pieces, by the piece's own clock;
    /// none where there is none or it may lie anywhere. Of the plan of one run.
    pub fn clocks(&self, pieces: usize) -> Vec<Option<Angle>> {
        let of = |number: usize| {
            let seam = self.pieces.iter().find(|seam| seam.number == number);
            seam.and_then(|seam| seam.clock)
        };
        (1..=pieces).map(of).collect()
    }

    /// The sticks that its pieces are cut from, and the clock of each one's seam from the
    /// scribed line, in order.
    pub fn sticks(&self) -> Vec<(usize, Angle)> {
        let mut sticks: Vec<usize> = self.pieces.iter().map(|piece| piece.stick).collect();
        sticks.sort_unstable();
        sticks.dedup();
        let offset = |stick: usize| Some((stick, *self.offsets.get(stick)?));
        sticks.into_iter().filter_map(offset).collect()
    }
}

/// How far a clock from a long side is off it and off the short side opposite.
fn off_sides(clock: Angle) -> Angle {
    let half = half_turn(clock);
    half.min(Angle::HALF - half)
}

/// A clock on the circle of 180° where long and short sides coincide.
fn half_turn(clock: Angle) -> Angle {
    let clock = clock.wrapped();
    if clock >= Angle::HALF {
        clock - Angle::HALF
    } else {
        clock
    }
}

/// Clocks from the scribed line to the seam that keep it farthest off all long and short
/// sides of a stick: the middles of the widest gaps between those, and the sides opposite.
fn best_offsets(stick: &[StickPiece]) -> Vec<Angle> {
    let ends = stick.iter().flat_map(|piece| [piece.start, piece.end]);
    let mut sides: Vec<f64> = ends
        .flatten()
        .map(|side| half_turn(side).radians())
        .collect();
    sides.sort_by(f64::total_cmp);
    let Some(&first) = sides.first() else {
        return vec![Angle::ZERO];
    };
    let half = Angle::HALF.radians();
    let nexts = sides.iter().copied().skip(1).chain([first + half]);
    let gaps: Vec<(f64, f64)> = sides
        .iter()
        .zip(nexts)
        .map(|(&side, next)| (side, next - side))
        .collect();
    let widest = gaps.iter().map(|gap| gap.1).fold(0.0, f64::max);
    let middles = gaps.iter().filter(|gap| gap.1 >= widest - ALIKE);
    let mut offsets: Vec<Angle> = middles
        .map(|(side, gap)| half_turn(Angle::from_radians(side + gap / 2.0)))
        .collect();
    offsets.sort_by(|a, b| a.radians().total_cmp(&b.radians()));
    let opposite: Vec<Angle> = offsets.iter().map(|&one| one + Angle::HALF).collect();
    offsets.extend(opposite);
    offsets
}

/// Neighbors that meet at miters, in order of run and number. A piece that is named twice
/// counts once.
fn chains(sticks: &[Vec<StickPiece>]) -> Vec<Vec<Placed>> {
    let all = sticks.iter().enumerate();
    let mut all: Vec<Placed> = all
        .flat_map(|(stick, pieces)| pieces.iter().map(move |&piece| (stick, piece)))
        .filter(|(_, piece)| piece.number > 0)
        .collect();
    all.sort_by_key(|(_, piece)| (piece.run, piece.number));
    all.dedup_by_key(|(_, piece)| (piece.run, piece.number));
    let mut chains: Vec<Vec<Placed>> = Vec::new();
    for next in all {
        let meets = |before: &Placed| {
            let (before, after) = (before.1, next.1);
            before.run == after.run
                && before.number + 1 == after.number
                && before.end.is_some()
                && after.start.is_some()
        };
        match chains.last_mut() {
            Some(chain) if chain.last().is_some_and(meets) => chain.push(next),
            _ => chains.push(vec![next]),
        }
    }
    chains
}

fn links(chain: &[Placed], offsets: &[Angle]) -> Vec<Link> {
    let link = |&(stick, piece): &Placed| {
        let seam = offsets[stick];
        let from = |side: Option<Angle>| {
            let clock = seam - side.unwrap_or(Angle::ZERO);
            if piece.end_first { -clock } else { clock }
        };
        Link {
            ends: Ends {
                start: from(piece.start),
                end: from(piece.end),
            },
            turnable: piece.turnable,
        }
    };
    chain.iter().map(link).collect()
}

/// Which of its offsets each stick takes, and whether every combination was tried.
fn best_ways(chains: &[Vec<Placed>], open: &[Vec<Angle>], seams: Seams) -> (Vec<usize>, bool) {
    let mut best = vec![0; open.len()];
    if seams == Seams::Any {
        return (best, true);
    }
    let cost = |ways: &[usize]| cost(chains, open, ways, seams);
    let mut least = cost(&best);
    let count = open
        .iter()
        .try_fold(1_usize, |count, open| count.checked_mul(open.len()))
        .filter(|count| *count <= MOST_WAYS);
    if count.is_some() {
        let mut ways = best.clone();
        while advance(&mut ways, open) {
            let found = cost(&ways);
            if is_better(found, least) {
                (least, best) = (found, ways.clone());
            }
        }
        return (best, true);
    }
    for _ in 0..MOST_ROUNDS {
        let before = least;
        for stick in 0..open.len() {
            for way in 0..open[stick].len() {
                let mut ways = best.clone();
                ways[stick] = way;
                let found = cost(&ways);
                if is_better(found, least) {
                    (least, best) = (found, ways);
                }
            }
        }
        if !is_better(least, before) {
            break;
        }
    }
    (best, false)
}

/// The next combination; false after the last.
fn advance(ways: &mut [usize], open: &[Vec<Angle>]) -> bool {
    for (way, open) in ways.iter_mut().zip(open) {
        *way += 1;
        if *way < open.len() {
            return true;
        }
        *way = 0;
    }
    false
}

/// What a combination is worth, and how many pieces it turns: less is better.
fn cost(chains: &[Vec<Placed>], open: &[Vec<Angle>], ways: &[usize], seams: Seams) -> (f64, usize) {
    let offsets: Vec<Angle> = ways.iter().zip(open).map(|(&i, open)| open[i]).collect();
    let each = chains.iter().map(|chain| {
        let (cost, turned) = turn(&links(chain, &offsets), seams);
        (cost, turned.into_iter().filter(|turned| *turned).count())
    });
    each.fold(
        (
            match seams {
                Seams::Staggered => -Angle::HALF.radians(),
                _ => 0.0,
            },
            0,
        ),
        |(cost, count), (next, turned)| {
            let cost = match seams {
                Seams::Staggered => cost.max(next),
                _ => cost + next,
            };
            (cost, count + turned)
        },
    )
}

fn is_better(a: (f64, usize), b: (f64, usize)) -> bool {
    if (a.0 - b.0).abs() > ALIKE {
        a.0 < b.0
    } else {
        a.1 < b.1
    }
}
