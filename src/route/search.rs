//! Local search: the best layout near a first guess that keeps its margins.

use super::evaluate::Evaluation;
use super::layout::Layout;
use super::shape::Shape;
use super::term::Term;
use argmin::core::{CostFunction, Error, Executor, Gradient};
use argmin::solver::linesearch::MoreThuenteLineSearch;
use argmin::solver::quasinewton::LBFGS;
use std::cell::{Cell, RefCell, RefMut};

/// What a local search ended with.
#[derive(Clone, Debug)]
pub(super) struct Found {
    /// The variables.
    pub x: Vec<f64>,
    /// What was made least, in units; a length where turns weigh nothing.
    pub objective: f64,
    /// Worst margin in units; negative is violated.
    pub worst_margin: f64,
    /// What each term pushed with at last.
    pushes: Vec<f64>,
}

impl Found {
    /// Whether every margin is kept to within `tolerance`, in units.
    pub fn is_feasible(&self, tolerance: f64) -> bool {
        self.worst_margin >= -tolerance
    }
}

/// Violation, in units, that counts as none in a result: 0.01 µm on a 1 m job.
pub(super) const EXACT: f64 = 1e-8;
/// Violation, in units, that will do for a guess that is refined later.
pub(super) const ROUGH: f64 = 1e-4;

/// Rounds of multiplier updates. Each cuts the violation by the penalty's growth
/// at least; more never changed a result in tests.
const MAX_ROUNDS: usize = 16;
/// Quasi-Newton steps a round.
const MAX_STEPS: u64 = 40;
/// Calls of the merit a round, line searches included.
const MAX_CALLS: u32 = 120;
/// First penalty. Margins and lengths are near 1; a softer start lets the search
/// leave the basin of its first guess through forbidden ground.
const FIRST_PENALTY: f64 = 1500.0;
/// First penalty among scans, whose walls may be thin: a firmer start keeps a leg on the
/// side that its first guess is on.
const FIRST_PENALTY_AMONG_SCANS: f64 = 6000.0;
/// Growth of the penalty when a round brings too little.
const PENALTY_GROWTH: f64 = 6.0;
/// Penalty beyond which the quasi-Newton steps lose their digits.
const LAST_PENALTY: f64 = 1e7;
/// Gradient at which the first round is good enough; later ones are sharper.
const FIRST_SLOPE: f64 = 1e-4;
/// How much sharper each round is than the one before.
const SLOPE_STEP: f64 = 0.1;
/// Gradient at which rounding takes over.
const LAST_SLOPE: f64 = 1e-10;
/// Rounds before a search without progress is given up.
const PATIENCE: usize = 2;
/// Violation, in units, that no progress in a round means is there to stay.
const HOPELESS: f64 = 1e-3;
/// Corrections that the quasi-Newton model remembers; enough for 16 variables.
const MEMORY: usize = 8;

/// Route of least objective of `layout` near `start`, by the method of multipliers
/// (augmented Lagrangian; Nocedal & Wright, *Numerical Optimization*, 2nd ed.,
/// section 17.3) with argmin's L-BFGS inside.
///
/// `tolerance` is the violation and the change of objective at which it stops:
/// [`EXACT`] or [`ROUGH`], or what lies between; each factor of ten costs about one
/// round. Bounded by rounds × calls whatever the input. Precondition: `start` has
/// as many finite entries as `layout` has places. Returns the best point seen: feasible and
/// least, or else least violated.
pub(super) fn minimize(layout: &Layout<'_>, start: Vec<f64>, tolerance: f64) -> Found {
    minimize_while(layout, start, tolerance, |_| true)
}

/// As [`minimize`], but once the violation and the change of objective are [`ROUGH`],
/// only on if what was found so far is worth it.
pub(super) fn minimize_while(
    layout: &Layout<'_>,
    start: Vec<f64>,
    tolerance: f64,
    worth_it: impl Fn(&Found) -> bool,
) -> Found {
    let begin = Begin {
        multipliers: vec![0.0; layout.terms().len()],
        penalty: first_penalty(layout),
        slope: FIRST_SLOPE,
        asked: tolerance >= ROUGH,
    };
    search(layout, start, begin, tolerance, worth_it)
}

/// As [`minimize`], from where a search of a layout that differs but little ended.
pub(super) fn minimize_again(layout: &Layout<'_>, found: Found, tolerance: f64) -> Found {
    let begin = Begin {
        multipliers: found.pushes,
        penalty: first_penalty(layout) * PENALTY_GROWTH,
        slope: FIRST_SLOPE * SLOPE_STEP,
        asked: true,
    };
    search(layout, found.x, begin, tolerance, |_| true)
}

const fn first_penalty(layout: &Layout<'_>) -> f64 {
    if layout.field().chart.is_some() {
        FIRST_PENALTY_AMONG_SCANS
    } else {
        FIRST_PENALTY
    }
}

/// What the first round begins with.
struct Begin {
    multipliers: Vec<f64>,
    penalty: f64,
    slope: f64,
    /// Whether it is no question any more whether to go on.
    asked: bool,
}

fn search(
    layout: &Layout<'_>,
    start: Vec<f64>,
    begin: Begin,
    tolerance: f64,
    worth_it: impl Fn(&Found) -> bool,
) -> Found {
    let Begin {
        mut multipliers,
        mut penalty,
        mut slope,
        mut asked,
    } = begin;
    let mut x = start;
    let mut best = found(layout, &x);
    let mut last_violation = f64::INFINITY;
    let mut last_objective = best.objective;
    for round in 0..MAX_ROUNDS {
        let merit = Merit {
            layout,
            multipliers: &multipliers,
            penalty,
            calls_left: Cell::new(MAX_CALLS),
            best: RefCell::new((f64::INFINITY, Vec::new())),
            known: RefCell::new(None),
        };
        x = descend(&merit, x, slope);
        slope = (slope * SLOPE_STEP).max(LAST_SLOPE);
        let here = found(layout, &x);
        let moved = (here.objective - last_objective).abs();
        last_objective = here.objective;
        let violation = (-here.worst_margin).max(0.0);
        if !asked && violation <= ROUGH && moved <= ROUGH {
            asked = true;
            if !worth_it(&here) {
                return here;
            }
        }
        if is_better(&here, &best, tolerance) {
            best = here;
        }
        best.pushes.clone_from(&multipliers);
        if violation <= tolerance && moved <= tolerance.max(layout.still()) {
            break;
        }
        let evaluation = layout.evaluate(&x);
        let terms = layout.terms().iter().zip(evaluation.margins);
        for (multiplier, (term, margin)) in multipliers.iter_mut().zip(terms) {
            *multiplier = push(term, *multiplier - penalty * margin);
        }
        if violation > HOPELESS && round >= PATIENCE && violation > last_violation * 0.7 {
            break;
        }
        if violation > last_violation / PENALTY_GROWTH {
            if penalty >= LAST_PENALTY {
                break;
            }
            penalty *= PENALTY_GROWTH;
        }
        last_violation = violation;
    }
    best
}

fn found(layout: &Layout<'_>, x: &[f64]) -> Found {
    let evaluation = layout.evaluate(x);
    let terms = layout.terms().iter().zip(evaluation.margins);
    let kept = terms.map(|(term, margin)| layout.kept(term, margin));
    Found {
        x: x.to_vec(),
        objective: evaluation.objective,
        worst_margin: kept.fold(f64::INFINITY, f64::min),
        pushes: vec![0.0; layout.terms().len()],
    }
}

/// What a term pushes with: an equality both ways, a limit only back.
fn push(term: &Term, force: f64) -> f64 {
    if term.is_equality() {
        force
    } else {
        force.max(0.0)
    }
}

/// Feasible before infeasible, then shorter, else less violated.
fn is_better(here: &Found, best: &Found, tolerance: f64) -> bool {
    match (here.is_feasible(tolerance), best.is_feasible(tolerance)) {
        (true, true) => here.objective < best.objective,
        (false, false) => here.worst_margin > best.worst_margin,
        (feasible, _) => feasible,
    }
}

/// One round: the least merit that argmin finds from `x`.
///
/// The merit itself keeps the best point and ends the search when its calls run
/// out, because argmin's line searches have no bound of their own and lose their
/// point where they break down.
fn descend(merit: &Merit<'_>, x: Vec<f64>, slope: f64) -> Vec<f64> {
    let line_search = MoreThuenteLineSearch::new();
    let solver = LBFGS::new(line_search, MEMORY)
        .with_tolerance_grad(slope)
        .and_then(|solver| solver.with_tolerance_cost(slope * slope));
    if let Ok(solver) = solver {
        // An error here is the end of the calls or of the line search's digits:
        // either way the best point stands.
        let _ = Executor::new(merit, solver)
            .configure(|state| state.param(x.clone()).max_iters(MAX_STEPS))
            .timer(false)
            .run();
    }
    let best = merit.best.take();
    if best.1.is_empty() { x } else { best.1 }
}

/// Objective plus multiplier and penalty terms, `f + Σ (p² − λ²)/(2ρ)` with
/// p = max(0, λ − ρ·c) for margins c ≥ 0 and p = λ − ρ·c for equalities c = 0.
struct Merit<'a> {
    layout: &'a Layout<'a>,
    multipliers: &'a [f64],
    penalty: f64,
    calls_left: Cell<u32>,
    best: RefCell<(f64, Vec<f64>)>,
    known: RefCell<Option<Known>>,
}

/// What the merit knows of one point; line searches ask for value and slope in turn.
struct Known {
    x: Vec<f64>,
    shape: Shape,
    evaluation: Evaluation,
}

impl Merit<'_> {
    /// Looks at `x`, unless that was the last point looked at.
    fn look(&self, x: &[f64]) -> RefMut<'_, Option<Known>> {
        let mut known = self.known.borrow_mut();
        if !known.as_ref().is_some_and(|known| known.x == x) {
            let shape = Shape::new(self.layout, x);
            let evaluation = self.layout.evaluate_shape(&shape);
            *known = Some(Known {
                x: x.to_vec(),
                shape,
                evaluation,
            });
        }
        known
    }

    /// What each term pushes with.
    fn pushes(&self, evaluation: &Evaluation) -> impl Iterator<Item = f64> {
        let terms = self.layout.terms().iter().zip(&evaluation.margins);
        terms
            .zip(self.multipliers)
            .map(|((term, margin), multiplier)| push(term, multiplier - self.penalty * margin))
    }

    fn value(&self, evaluation: &Evaluation) -> f64 {
        let pushes = self.pushes(evaluation).zip(self.multipliers);
        let penalty: f64 = pushes
            .map(|(push, multiplier)| push * push - multiplier * multiplier)
            .sum();
        evaluation.objective + penalty / (2.0 * self.penalty)
    }
}

impl CostFunction for &Merit<'_> {
    type Param = Vec<f64>;
    type Output = f64;

    fn cost(&self, x: &Self::Param) -> Result<f64, Error> {
        let Some(left) = self.calls_left.get().checked_sub(1) else {
            return Err(Error::msg("calls spent"));
        };
        self.calls_left.set(left);
        let known = self.look(x);
        let value = known
            .as_ref()
            .map_or(f64::NAN, |known| self.value(&known.evaluation));
        if !value.is_finite() {
            return Err(Error::msg("not finite"));
        }
        let mut best = self.best.borrow_mut();
        if value < best.0 {
            *best = (value, x.clone());
        }
        Ok(value)
    }
}

impl Gradient for &Merit<'_> {
    type Param = Vec<f64>;
    type Gradient = Vec<f64>;

    fn gradient(&self, x: &Self::Param) -> Result<Vec<f64>, Error> {
        let known = self.look(x);
        let known = known.as_ref().ok_or_else(|| Error::msg("nothing known"))?;
        let weights = self.pushes(&known.evaluation).map(|push| -push);
        Ok(self.layout.gradient(&known.shape, weights))
    }
}
