//! [`by_patterns`]: packing by an integer program over all sets of pieces that fill a
//! stick.

use super::cutting::{Cutting, FITS};
use super::pack::Packed;
use super::trail::Trails;
use microlp::{
    ComparisonOp, OptimizationDirection, Problem, SolutionStatus, SolveOptions, Variable,
};

/// Most patterns that the program chooses from, and most that are listed.
const MOST_PATTERNS: usize = 1_000;
const MOST_LISTED: usize = 20_000;
/// Steps of listing them.
const MOST_STEPS: usize = 60_000;
/// Nodes of branch and bound.
const MOST_NODES: u64 = 100;
/// Pieces that are left out in all, below which none is: rounding of integers.
const NONE: f64 = 1e-3;

/// Whether all pieces go into `choice` sticks of each supply; the sets are given in the
/// order of `sticks`, the supply of each.
///
/// Every set of pieces to which nothing can be added is a pattern, and a column, unless
/// it wastes more than all sticks together may; pieces that are in more patterns than there
/// are of them are simply not cut again. So where the list is whole, a refusal by the
/// program is final. Where it is too long, those that waste least are chosen from, and
/// those that were `priced`.
pub(super) fn by_patterns(
    cutting: &Cutting<'_>,
    choice: &[u32],
    sticks: &[usize],
    priced: Vec<Pattern>,
) -> Packed {
    let mut list = List {
        cutting,
        trails: cutting.trails(),
        steps: MOST_STEPS,
        doubt: false,
        least: 0.0,
        patterns: Vec::new(),
    };
    let most = most(cutting, choice);
    let held = most.iter().zip(choice);
    let held: f64 = held.map(|(most, &count)| most * f64::from(count)).sum();
    let spare = held - cutting.weight(&cutting.counts());
    for supply in (0..choice.len()).filter(|&supply| choice[supply] > 0) {
        let mut counts = vec![0; cutting.kinds.len()];
        list.least = most[supply] - spare - FITS;
        if list.from(0, 0.0, supply, &mut counts).is_none() {
            list.doubt = true;
        }
    }
    list.doubt |= list.patterns.len() > MOST_PATTERNS;
    list.patterns.sort_by(|a, b| a.waste.total_cmp(&b.waste));
    list.patterns.truncate(MOST_PATTERNS);
    if list.doubt {
        let priced = priced.into_iter();
        let fitting: Vec<Pattern> = priced
            .filter(|pattern| list.fits(pattern.supply, &pattern.counts))
            .collect();
        list.patterns.extend(fitting);
    }
    let Some(times) = solve(cutting, choice, &list.patterns) else {
        return Packed::Unknown;
    };
    match times {
        Some(times) => Packed::Yes(shared_out(cutting, &list.patterns, times, sticks)),
        None if list.doubt => Packed::Unknown,
        None => Packed::No,
    }
}

/// The most that a stick of each supply can hold, where any are chosen.
fn most(cutting: &Cutting<'_>, choice: &[u32]) -> Vec<f64> {
    let weights = cutting.weights();
    let supplies = cutting.supplies.iter().zip(choice);
    supplies
        .map(|(supply, &count)| match count {
            0 => 0.0,
            _ => cutting.best_fill(&weights, supply.length, FITS).bound,
        })
        .collect()
}

/// A set of pieces and the supply whose sticks it fills.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Pattern {
    pub supply: usize,
    pub counts: Vec<u32>,
    /// What is left over, mm.
    pub waste: f64,
}

impl Pattern {
    pub fn new(cutting: &Cutting<'_>, supply: usize, counts: Vec<u32>) -> Self {
        let room = cutting.room(cutting.supplies[supply].length);
        Self {
            supply,
            waste: room - cutting.weight(&counts),
            counts,
        }
    }
}

struct List<'a> {
    cutting: &'a Cutting<'a>,
    trails: Trails<'a>,
    steps: usize,
    doubt: bool,
    /// What a pattern must hold at least.
    least: f64,
    patterns: Vec<Pattern>,
}

impl List<'_> {
    /// Lists all patterns of a supply that have `counts` of the kinds before `kind`;
    /// `None` if there are too many.
    fn from(
        &mut self,
        kind: usize,
        weight: f64,
        supply: usize,
        counts: &mut Vec<u32>,
    ) -> Option<()> {
        self.steps = self.steps.checked_sub(1)?;
        let room = self.cutting.room(self.cutting.supplies[supply].length) - weight;
        let rest = self.cutting.kinds[kind..].iter();
        let rest: f64 = rest
            .map(|kind| kind.weight * kind.blanks.len() as f64)
            .sum();
        if weight + rest.min(room) < self.least {
            return Some(());
        }
        let Some(own) = self.cutting.kinds.get(kind) else {
            return self.add(room, supply, counts);
        };
        let most = (own.blanks.len() as u32).min((room / own.weight).max(0.0) as u32);
        for count in (0..=most).rev() {
            counts[kind] = count;
            if count == 0 || self.fits(supply, counts) {
                let weight = weight + own.weight * f64::from(count);
                self.from(kind + 1, weight, supply, counts)?;
            }
        }
        counts[kind] = 0;
        Some(())
    }

    /// Lists a pattern, if nothing can be added to it.
    fn add(&mut self, room: f64, supply: usize, counts: &mut [u32]) -> Option<()> {
        for kind in 0..counts.len() {
            let own = &self.cutting.kinds[kind];
            if counts[kind] as usize >= own.blanks.len() || own.weight > room {
                continue;
            }
            counts[kind] += 1;
            let fits = self.fits(supply, counts);
            counts[kind] -= 1;
            if fits {
                return Some(());
            }
        }
        self.patterns.push(Pattern {
            supply,
            counts: counts.to_vec(),
            waste: room,
        });
        (self.patterns.len() <= MOST_LISTED).then_some(())
    }

    fn fits(&mut self, supply: usize, counts: &[u32]) -> bool {
        if self.cutting.is_of_one_face() {
            return true;
        }
        let length = self.cutting.supplies[supply].length + FITS;
        let [found, least] = self.cutting.taken(&mut self.trails, counts);
        self.doubt |= found > length && least <= length;
        found <= length
    }
}

/// How often each pattern is cut; `Some(None)` if no way leaves no piece out, `None`
/// without an answer.
fn solve(cutting: &Cutting<'_>, choice: &[u32], patterns: &[Pattern]) -> Option<Option<Vec<u32>>> {
    let mut problem = Problem::new(OptimizationDirection::Minimize);
    let times: Vec<Variable> = patterns
        .iter()
        .map(|pattern| {
            let most = i32::try_from(choice[pattern.supply]).unwrap_or(i32::MAX);
            problem.add_integer_var(0.0, (0, most))
        })
        .collect();
    for (kind, own) in cutting.kinds.iter().enumerate() {
        let missing = problem.add_var(1.0, (0.0, f64::INFINITY));
        let used = patterns.iter().zip(&times);
        let used = used.filter(|(pattern, _)| pattern.counts[kind] > 0);
        let mut row: Vec<(Variable, f64)> = used
            .map(|(pattern, &times)| (times, f64::from(pattern.counts[kind])))
            .collect();
        row.push((missing, 1.0));
        problem.add_constraint(row, ComparisonOp::Ge, own.blanks.len() as f64);
    }
    for (supply, &count) in choice.iter().enumerate().filter(|(_, count)| **count > 0) {
        let own = patterns.iter().zip(&times);
        let own = own.filter(|(pattern, _)| pattern.supply == supply);
        let row: Vec<(Variable, f64)> = own.map(|(_, &times)| (times, 1.0)).collect();
        problem.add_constraint(row, ComparisonOp::Le, f64::from(count));
    }
    let mut options = SolveOptions::default();
    options.node_limit = Some(MOST_NODES);
    let solution = problem.solve_with(options).ok()?.into_solution().ok()?;
    if solution.objective() < NONE {
        let times = times.iter().map(|&times| solution.var_value(times));
        return Some(Some(
            times.map(|times| times.round().max(0.0) as u32).collect(),
        ));
    }
    (solution.status() == SolutionStatus::Optimal).then_some(None)
}

/// Gives each stick its pattern, and no piece twice.
fn shared_out(
    cutting: &Cutting<'_>,
    patterns: &[Pattern],
    mut times: Vec<u32>,
    sticks: &[usize],
) -> Vec<Vec<u32>> {
    let mut left = cutting.counts();
    let share = |&supply: &usize| {
        let own = (0..patterns.len()).find(|&i| times[i] > 0 && patterns[i].supply == supply);
        let Some(own) = own else {
            return vec![0; left.len()];
        };
        times[own] -= 1;
        let counts = patterns[own].counts.iter().zip(&mut left);
        counts
            .map(|(&count, left)| {
                let count = count.min(*left);
                *left -= count;
                count
            })
            .collect()
    };
    sticks.iter().map(share).collect()
}
