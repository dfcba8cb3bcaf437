//! [`Chooser`]: which sticks to take, of those that are not known to hold too little.

use super::supply::{LEVELS, Supply};
use super::worth::Worth;
use microlp::{
    ComparisonOp, OptimizationDirection, Problem, Solution, SolutionStatus, SolveOptions, Variable,
};

/// Nodes of branch and bound after which a choice is only the best found.
const MOST_NODES: u64 = 2_000;
/// Costs that differ by less, in the costliest stick, are equal: rounding.
const EQUAL: f64 = 1e-6;

/// A choice of sticks.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Choice {
    /// How many of each supply.
    pub counts: Vec<u32>,
    /// What every remaining choice costs at least, level by level: no less than this at
    /// the first level, and where it costs just that, no less at the second, and so on.
    pub least: [f64; LEVELS],
}

/// The choices that remain: all of integer counts within the supplies' limits that are
/// worth what the pieces are, by every worth, and that take more of at least one supply
/// than any choice that was tried.
#[derive(Debug)]
pub(super) struct Chooser<'a> {
    supplies: &'a [Supply],
    worths: Vec<Worth>,
    tried: Vec<Vec<u32>>,
}

impl<'a> Chooser<'a> {
    pub const fn new(supplies: &'a [Supply]) -> Self {
        Self {
            supplies,
            worths: Vec::new(),
            tried: Vec::new(),
        }
    }

    /// Leaves out all choices that are worth too little.
    pub fn ask(&mut self, worth: Worth) {
        self.worths.push(worth);
    }

    /// Leaves out all choices that take no more of any supply than this one.
    pub fn leave_out(&mut self, counts: &[u32]) {
        self.tried.push(counts.to_vec());
    }

    /// The choice that costs least, level by level; `None` if there is none, or the
    /// solver has no answer.
    pub fn next(&self) -> Option<Choice> {
        let mut spent: Vec<(Vec<f64>, f64)> = Vec::new();
        let mut counts = None;
        let mut least = [0.0; LEVELS];
        for (level, least) in least.iter_mut().enumerate() {
            let costs = self.supplies.iter().map(|supply| supply.costs[level]);
            let most = costs.clone().fold(0.0, f64::max);
            if most <= 0.0 {
                continue;
            }
            let costs: Vec<f64> = costs.map(|cost| cost / most).collect();
            let (solution, variables) = self.solve(&costs, &spent)?;
            let found: Vec<u32> = variables
                .iter()
                .map(|&count| solution.var_value(count).round().max(0.0) as u32)
                .collect();
            let priced = costs.iter().zip(&found);
            let sum: f64 = priced.map(|(cost, &n)| cost * f64::from(n)).sum();
            let bound = match solution.status() {
                SolutionStatus::Optimal => sum,
                SolutionStatus::Feasible => solution.stats().best_bound.unwrap_or(0.0).min(sum),
            };
            *least = bound.max(0.0) * most;
            spent.push((costs, sum));
            counts = Some(found);
        }
        Some(Choice {
            counts: counts?,
            least,
        })
    }

    fn solve(&self, costs: &[f64], spent: &[(Vec<f64>, f64)]) -> Option<(Solution, Vec<Variable>)> {
        let mut problem = Problem::new(OptimizationDirection::Minimize);
        let pairs = self.supplies.iter().zip(costs);
        let counts: Vec<Variable> = pairs
            .map(|(supply, &cost)| {
                let limit = i32::try_from(supply.limit).unwrap_or(i32::MAX);
                problem.add_integer_var(cost, (0, limit))
            })
            .collect();
        let row = |factors: &[f64], scale: f64| -> Vec<(Variable, f64)> {
            let factors = counts.iter().copied().zip(factors);
            factors
                .map(|(count, factor)| (count, factor / scale))
                .collect()
        };
        for worth in &self.worths {
            let scale = worth
                .sticks
                .iter()
                .fold(f64::MIN_POSITIVE, |a, b| a.max(*b));
            let row = row(&worth.sticks, scale);
            problem.add_constraint(row, ComparisonOp::Ge, worth.pieces / scale);
        }
        for (costs, sum) in spent {
            problem.add_constraint(row(costs, 1.0), ComparisonOp::Le, sum + EQUAL);
        }
        for tried in &self.tried {
            // One of these is 1, and then that supply gives one more than was tried.
            let more: Vec<(Variable, f64)> = counts
                .iter()
                .zip(tried)
                .zip(self.supplies)
                .filter(|((_, tried), supply)| **tried < supply.limit)
                .map(|((&count, &tried), _)| {
                    let more = problem.add_binary_var(0.0);
                    let row = [(count, 1.0), (more, -f64::from(tried + 1))];
                    problem.add_constraint(row, ComparisonOp::Ge, 0.0);
                    (more, 1.0)
                })
                .collect();
            problem.add_constraint(more, ComparisonOp::Ge, 1.0);
        }
        let mut options = SolveOptions::default();
        options.node_limit = Some(MOST_NODES);
        let outcome = problem.solve_with(options).ok()?;
        Some((outcome.into_solution().ok()?, counts))
    }
}
