//! [`Worth`]: why some sticks cannot hold all pieces, if even cut up they could not.

use super::cutting::Cutting;
use super::patterns::Pattern;
use microlp::{ComparisonOp, OptimizationDirection, Problem, Variable};

/// Rounds of pricing after which no more is asked.
const MOST_ROUNDS: usize = 120;
/// Length left over, in longest sticks, that is no more than rounding.
const NOTHING: f64 = 1e-6;
/// Length, in longest sticks, within which the most that a stick can hold is worked out.
const SLACK: f64 = 1e-8;

/// What pieces and sticks are worth, such that no stick holds more than it is worth: so
/// all sticks must be worth at least what all pieces are.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Worth {
    /// Of a stick of each supply.
    pub sticks: Vec<f64>,
    /// Of all pieces together.
    pub pieces: f64,
}

impl Worth {
    /// What pieces are worth by `values`, one a kind.
    pub fn new(cutting: &Cutting<'_>, values: &[f64], slack: f64) -> Self {
        let supplies = cutting.supplies.iter();
        let most = supplies.map(|supply| cutting.best_fill(values, supply.length, slack).bound);
        let counts = cutting.counts();
        let all = values.iter().zip(&counts);
        Self {
            sticks: most.collect(),
            pieces: all.map(|(value, &count)| value * f64::from(count)).sum(),
        }
    }
}

/// What came of asking whether sticks hold pieces.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Asked {
    /// They do not, and neither do any others that are worth too little.
    Refused(Worth),
    /// Fractions of patterns do, or it is not known; the patterns that were priced.
    Held(Vec<Pattern>),
}

/// Whether `choice` sticks of each supply may hold all pieces.
///
/// The linear program asks how little length must be left out, if sticks may be filled
/// by fractions of patterns (Gilmore and Gomory, Operations Research 9, 1961, from
/// memory). It is solved from its dual side: values of kinds, at most their weights, and
/// of sticks are cut off by the patterns that are worth more than their stick, until
/// there are none.
pub(super) fn ask(cutting: &Cutting<'_>, choice: &[u32]) -> Asked {
    let mut patterns = Vec::new();
    match refused(cutting, choice, &mut patterns) {
        Some(worth) => Asked::Refused(worth),
        None => Asked::Held(patterns),
    }
}

/// Worths by which the choice cannot hold all pieces, if there are any.
fn refused(cutting: &Cutting<'_>, choice: &[u32], priced: &mut Vec<Pattern>) -> Option<Worth> {
    let used: Vec<usize> = (0..choice.len()).filter(|&i| choice[i] > 0).collect();
    let unit = cutting
        .supplies
        .iter()
        .map(|s| s.length)
        .fold(1.0, f64::max);
    let counts = cutting.counts();
    let weights: Vec<f64> = cutting.weights().iter().map(|w| w / unit).collect();
    let mut problem = Problem::new(OptimizationDirection::Maximize);
    let values: Vec<Variable> = weights
        .iter()
        .zip(&counts)
        .map(|(&weight, &count)| problem.add_var(f64::from(count), (0.0, weight)))
        .collect();
    let sticks: Vec<Variable> = used
        .iter()
        .map(|&supply| problem.add_var(-f64::from(choice[supply]), (0.0, f64::INFINITY)))
        .collect();
    let row = |pattern: &[u32], stick: Variable| {
        let values = values.iter().zip(pattern).filter(|(_, count)| **count > 0);
        let mut row: Vec<(Variable, f64)> =
            values.map(|(&value, &n)| (value, f64::from(n))).collect();
        row.push((stick, -1.0));
        row
    };
    for (&supply, &stick) in used.iter().zip(&sticks) {
        let length = cutting.supplies[supply].length;
        let pattern = cutting.best_fill(&weights, length, SLACK).counts;
        problem.add_constraint(row(&pattern, stick), ComparisonOp::Le, 0.0);
        priced.push(Pattern::new(cutting, supply, pattern));
    }
    let mut solution = problem.solve().ok()?.into_solution().ok()?;
    for _ in 0..MOST_ROUNDS {
        if solution.objective() <= NOTHING || cutting.nodes.get() == 0 {
            return None;
        }
        let found: Vec<f64> = values
            .iter()
            .map(|&v| solution.var_value(v).max(0.0))
            .collect();
        let mut short: f64 = found
            .iter()
            .zip(&counts)
            .map(|(v, &n)| v * f64::from(n))
            .sum();
        let mut rows = Vec::new();
        for (&supply, &stick) in used.iter().zip(&sticks) {
            let fill = cutting.best_fill(&found, cutting.supplies[supply].length, SLACK);
            short -= fill.bound * f64::from(choice[supply]);
            if fill.value > solution.var_value(stick) + NOTHING {
                rows.push(row(&fill.counts, stick));
                priced.push(Pattern::new(cutting, supply, fill.counts));
            }
        }
        if short > NOTHING {
            return Some(Worth::new(cutting, &found, SLACK));
        }
        if rows.is_empty() {
            return None;
        }
        for row in rows {
            let outcome = solution.add_constraint(row, ComparisonOp::Le, 0.0).ok()?;
            solution = outcome.into_solution().ok()?;
        }
    }
    None
}
