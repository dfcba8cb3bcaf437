//! Least squares over readings: the best unknowns, how well they are held, and which
//! reading does not go with the others.

use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::{DMatrix, DVector, Dyn, Owned, SVD};
use statrs::distribution::{ChiSquared, ContinuousCDF};
use std::ops::Range;

/// Relative change of unknowns and squares at which the search ends.
const SETTLED: f64 = 1e-14;
/// The same where fits are only compared: a hundredth of what one deviation in a sum of
/// thousands of squares changes.
const COMPARED: f64 = 1e-8;
/// What has wandered that long is none of those that fit best.
const PATIENCE_COMPARED: usize = 4;
/// Evaluations, in parts of the number of unknowns and one, at which a search that
/// wanders is given up.
const PATIENCE: usize = 20;
/// Standard deviation of an unknown, in its own units, beyond which it counts as not
/// held at all: a meter, or the 10 rad that go with it.
const FREE: f64 = 1e3;
/// Singular values below this part of the greatest are rounding.
const ROUNDING: f64 = 1e-11;
/// Singular values this small, in parts of the greatest, end the decomposition.
const SVD_EPSILON: f64 = 5.0 * f64::EPSILON;
/// Bound on the iterations of a singular value decomposition.
const SVD_STEPS: usize = 10_000;
/// What must be left of a reading's variance for the others to judge it: below it they
/// follow wherever it goes.
const LEAST_SPARE: f64 = 1e-4;

/// Error, in standard deviations of a test statistic, that a test with one false alarm in
/// a thousand sees four times in five (W. Baarda 1968, from memory; 3.29 + 0.84).
const SHOWN: f64 = 4.13;

/// Readings that depend on unknowns.
///
/// Unknowns are scaled by the model so that 1 is about 1 mm of what they move: an angle
/// is in units of 1/100 rad, or so.
pub(crate) trait Model {
    /// Number of unknowns.
    fn unknowns(&self) -> usize;

    /// Number of rows.
    fn rows(&self) -> usize;

    /// What each row says at `x`, less what was read, in standard deviations of the
    /// reading; and its slopes by the unknowns.
    fn evaluate(&self, x: &DVector<f64>) -> (DVector<f64>, DMatrix<f64>);
}

/// Unknowns that fit the readings best.
#[derive(Clone, Debug)]
pub(crate) struct Adjusted {
    /// The unknowns.
    pub x: DVector<f64>,
    /// What is left of each row, in standard deviations.
    pub left: DVector<f64>,
    /// Sum of the squares of what is left.
    pub squares: f64,
}

/// The least sum of squares from `start` on, counting only the rows for which `counts`
/// is true: Levenberg and Marquardt, as in MINPACK. `None` where the numbers run away.
pub(crate) fn adjust(
    model: &impl Model,
    start: DVector<f64>,
    counts: Option<&[bool]>,
) -> Option<Adjusted> {
    adjust_to(model, start, counts, SETTLED, PATIENCE)
}

/// The same to fewer digits, to be compared with others: where much is left, the last
/// digits take most of the time.
pub(crate) fn adjust_roughly(
    model: &impl Model,
    start: DVector<f64>,
    counts: &[bool],
) -> Option<Adjusted> {
    adjust_to(model, start, Some(counts), COMPARED, PATIENCE_COMPARED)
}

fn adjust_to(
    model: &impl Model,
    start: DVector<f64>,
    counts: Option<&[bool]>,
    settled: f64,
    patience: usize,
) -> Option<Adjusted> {
    let problem = Problem {
        model,
        x: start,
        counts,
    };
    let solver = LevenbergMarquardt::new()
        .with_tol(settled)
        .with_patience(patience);
    let (problem, _) = solver.minimize(problem);
    let x = problem.x.clone();
    let left = problem.model.evaluate(&x).0;
    let counted = problem.residuals()?;
    let squares = counted.norm_squared();
    let sound = squares.is_finite() && x.iter().all(|v| v.is_finite());
    sound.then_some(Adjusted { x, left, squares })
}

/// A model as the solver takes it.
struct Problem<'a, M> {
    model: &'a M,
    x: DVector<f64>,
    counts: Option<&'a [bool]>,
}

impl<M: Model> Problem<'_, M> {
    /// Rows that do not count are zero; and there are never fewer rows than unknowns,
    /// which the solver cannot take.
    fn height(&self) -> usize {
        self.model.rows().max(self.model.unknowns())
    }

    fn is_counted(&self, row: usize) -> bool {
        self.counts.is_none_or(|counts| counts[row])
    }
}

impl<M: Model> LeastSquaresProblem<f64, Dyn, Dyn> for Problem<'_, M> {
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;
    type ParameterStorage = Owned<f64, Dyn>;

    fn set_params(&mut self, x: &DVector<f64>) {
        self.x.copy_from(x);
    }

    fn params(&self) -> DVector<f64> {
        self.x.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        let left = self.model.evaluate(&self.x).0;
        let mut all = DVector::zeros(self.height());
        for row in (0..left.len()).filter(|&row| self.is_counted(row)) {
            all[row] = left[row];
        }
        Some(all)
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        let slopes = self.model.evaluate(&self.x).1;
        let mut all = DMatrix::zeros(self.height(), self.model.unknowns());
        for row in (0..slopes.nrows()).filter(|&row| self.is_counted(row)) {
            all.row_mut(row).copy_from(&slopes.row(row));
        }
        Some(all)
    }
}

/// How well readings hold unknowns, to first order.
#[derive(Clone, Debug)]
pub(crate) struct Hold {
    /// Covariance of the unknowns: (JᵀJ)⁻¹, where J are the slopes in standard
    /// deviations. In directions that are free it is zero.
    pub covariance: DMatrix<f64>,
    /// Directions in the space of the unknowns that nothing holds.
    pub free: Vec<DVector<f64>>,
    /// Orthonormal columns that span what the readings can say.
    span: DMatrix<f64>,
}

impl Hold {
    /// From slopes, a row a reading.
    pub(crate) fn of(slopes: &DMatrix<f64>) -> Option<Self> {
        let (rows, unknowns) = slopes.shape();
        // As many rows as unknowns at least, so that there is a vector for each unknown.
        let tall = slopes.clone().resize_vertically(rows.max(unknowns), 0.0);
        let found = SVD::try_new(tall, true, true, SVD_EPSILON, SVD_STEPS)?;
        let (left, right) = (found.u?, found.v_t?);
        let least = (1.0 / FREE).max(ROUNDING * found.singular_values.amax());
        let held: Vec<usize> = (0..unknowns)
            .filter(|&i| found.singular_values[i] >= least)
            .collect();
        let direction = |i: usize| right.row(i).transpose();
        let mut covariance = DMatrix::zeros(unknowns, unknowns);
        let mut span = DMatrix::zeros(rows, held.len());
        for (column, &i) in held.iter().enumerate() {
            let along = direction(i) / found.singular_values[i];
            covariance += &along * along.transpose();
            span.set_column(column, &left.view((0, i), (rows, 1)).column(0));
        }
        let free = (0..unknowns).filter(|i| !held.contains(i)).map(direction);
        Some(Self {
            covariance,
            free: free.collect(),
            span,
        })
    }

    /// Readings beyond what it takes.
    pub(crate) fn spare(&self) -> usize {
        self.span.nrows().saturating_sub(self.span.ncols())
    }

    /// The smallest error in `rows`, in standard deviations, that the others would show
    /// four times in five: the noncentrality 4.13 of a test at one in a thousand, over
    /// the root of the least part of the rows' variance that is left. `None` where
    /// some error in them would never show.
    pub(crate) fn least_shown(&self, rows: &Range<usize>) -> Option<f64> {
        let least = self.spare_part(rows).symmetric_eigenvalues().min();
        (least > LEAST_SPARE).then(|| SHOWN / least.sqrt())
    }

    /// I − UUᵀ over some rows: what is left of their variance.
    fn spare_part(&self, rows: &Range<usize>) -> DMatrix<f64> {
        let span = self.span.rows(rows.start, rows.len());
        DMatrix::identity(rows.len(), rows.len()) - span * span.transpose()
    }

    /// How unlikely it is that what is `left` in `rows` is chance, the others being
    /// right; `None` where the others cannot judge them.
    ///
    /// T = rᵀS⁺r with S = I − UUᵀ over these rows: chi-square distributed with S's rank
    /// as degrees of freedom. W. Baarda, *A testing procedure for use in geodetic
    /// networks* (1968), from memory.
    pub(crate) fn doubt(&self, left: &DVector<f64>, rows: &Range<usize>) -> Option<Doubt> {
        let own = self.spare_part(rows).symmetric_eigen();
        let left = left.rows(rows.start, rows.len());
        let mut doubt = Doubt {
            test: 0.0,
            freedom: 0,
        };
        for (i, &part) in own.eigenvalues.iter().enumerate() {
            if part > LEAST_SPARE {
                let along = own.eigenvectors.column(i).dot(&left);
                doubt.test += along * along / part;
                doubt.freedom += 1;
            }
        }
        (doubt.freedom > 0).then_some(doubt)
    }
}

/// How far some rows are from what the others say.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Doubt {
    /// Square of the distance in its own standard deviations.
    pub test: f64,
    /// Independent numbers in it.
    pub freedom: usize,
}

/// The sum of squares of `freedom` independent numbers of unit deviation that chance
/// exceeds with `probability`.
pub(crate) fn chance(freedom: usize, probability: f64) -> f64 {
    ChiSquared::new(freedom as f64).map_or(0.0, |distribution| {
        distribution.inverse_cdf(1.0 - probability)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Straight line y = a + b·x through readings with deviations.
    struct Line {
        x: Vec<f64>,
        y: Vec<f64>,
        sigma: f64,
    }

    impl Model for Line {
        fn unknowns(&self) -> usize {
            2
        }

        fn rows(&self) -> usize {
            self.x.len()
        }

        fn evaluate(&self, at: &DVector<f64>) -> (DVector<f64>, DMatrix<f64>) {
            let n = self.rows();
            let left = DVector::from_fn(n, |i, _| {
                (at[0] + at[1] * self.x[i] - self.y[i]) / self.sigma
            });
            let slopes = DMatrix::from_fn(n, 2, |i, j| [1.0, self.x[i]][j] / self.sigma);
            (left, slopes)
        }
    }

    fn line(x: &[f64], y: &[f64]) -> Line {
        Line {
            x: x.to_vec(),
            y: y.to_vec(),
            sigma: 0.5,
        }
    }

    fn fit(line: &Line) -> (Adjusted, Hold) {
        let adjusted = adjust(line, DVector::zeros(2), None).expect("numbers");
        let slopes = line.evaluate(&adjusted.x).1;
        (adjusted, Hold::of(&slopes).expect("numbers"))
    }

    #[test]
    fn a_line_with_its_textbook_deviations() {
        let line = line(&[-1.0, 0.0, 1.0], &[1.0, 2.0, 6.0]);
        let (adjusted, hold) = fit(&line);
        assert!((adjusted.x[0] - 3.0).abs() < 1e-12 && (adjusted.x[1] - 2.5).abs() < 1e-12);
        // σ² / n and σ² / Σx².
        assert!((hold.covariance[(0, 0)] - 0.25 / 3.0).abs() < 1e-12);
        assert!((hold.covariance[(1, 1)] - 0.25 / 2.0).abs() < 1e-12);
        assert_eq!((hold.spare(), hold.free.len()), (1, 0));
        // Residuals ½, −1, ½ over σ = ½.
        assert!((adjusted.squares - 6.0).abs() < 1e-12);
    }

    #[test]
    fn with_one_reading_to_spare_each_is_as_doubtful() {
        let (adjusted, hold) = fit(&line(&[-1.0, 0.0, 1.0], &[1.0, 2.0, 6.0]));
        for i in 0..3 {
            let doubt = hold.doubt(&adjusted.left, &(i..i + 1)).expect("spare");
            assert!((doubt.test - 6.0).abs() < 1e-9, "{doubt:?}");
            assert_eq!(doubt.freedom, 1);
        }
    }

    #[test]
    fn what_nothing_holds_is_free() {
        let (_, hold) = fit(&line(&[2.0, 2.0, 2.0], &[1.0, 1.0, 1.0]));
        assert_eq!(hold.free.len(), 1);
        // (a, b) may go along (2, −1).
        assert!((hold.free[0][0] / hold.free[0][1] + 2.0).abs() < 1e-9);
        let (adjusted, hold) = fit(&line(&[3.0], &[1.0]));
        assert_eq!((hold.free.len(), hold.spare()), (1, 0));
        assert_eq!(hold.doubt(&adjusted.left, &(0..1)), None);
    }

    #[test]
    fn what_does_not_count_does_not_pull() {
        let line = line(&[0.0, 1.0, 2.0, 3.0], &[0.0, 1.0, 2.0, 9.0]);
        let counts = [true, true, true, false];
        let adjusted = adjust(&line, DVector::zeros(2), Some(&counts)).expect("numbers");
        assert!(adjusted.x[0].abs() < 1e-12 && (adjusted.x[1] - 1.0).abs() < 1e-12);
        assert!((adjusted.left[3] + 12.0).abs() < 1e-9 && adjusted.squares < 1e-20);
    }

    #[test]
    fn chance_is_the_table_s() {
        // NIST/SEMATECH e-Handbook 1.3.6.7.4, upper critical values.
        for (freedom, probability, value) in [
            (1, 0.05, 3.841),
            (2, 0.01, 9.210),
            (5, 0.001, 20.515),
            (10, 0.1, 15.987),
        ] {
            assert!((chance(freedom, probability) - value).abs() < 6e-4);
        }
    }
}
