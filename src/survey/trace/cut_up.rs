//! Which points of a centerline lie along which piece: dynamic programming over where
//! pieces begin and end.
//!
//! E(m, j) is the least sum of squared distances of the first j points, from the first
//! end's axis and m lines of their own: E(m, j) = min over i of E(m − 1, i) + c(i, j),
//! where c is that of points i … j − 1 from their best line. Running sums give c in
//! constant time: the trace of the points' spread less its greatest eigenvalue. O(n²) a
//! line, and n² numbers kept for n points.

use super::lines::Line;
use crate::geometry::{Point, Vector};
use nalgebra::Matrix3;

/// Fewest points of a piece between two others: one more than hold its line.
const LEAST: usize = 3;

/// Costs of all stretches of a centerline.
pub(super) struct CutUp {
    count: usize,
    /// c(i, j) at i·(count + 1) + j.
    along_a_line: Vec<f64>,
    /// Of the points from j on from the last end's axis.
    along_end: Vec<f64>,
    /// E(m, ·) for each m so far.
    least: Vec<Vec<f64>>,
    /// Where the last of m lines begins, for each m ≥ 1.
    from: Vec<Vec<usize>>,
}

impl CutUp {
    pub(super) fn new(points: &[Point], axes: [Line; 2]) -> Self {
        let count = points.len();
        let square = |line: &Line, p: &Point| (p - line.nearest_to(p)).norm_squared();
        let mut along_start = vec![0.0; count + 1];
        let mut along_end = vec![0.0; count + 1];
        for (i, point) in points.iter().enumerate() {
            along_start[i + 1] = along_start[i] + square(&axes[0], point);
        }
        for (i, point) in points.iter().enumerate().rev() {
            along_end[i] = along_end[i + 1] + square(&axes[1], point);
        }
        Self {
            count,
            along_a_line: stretches(points),
            least: vec![along_start],
            along_end,
            from: Vec::new(),
        }
    }

    /// Where pieces begin with `lines` lines between the ends' axes: as many numbers and
    /// one more, the last one where the last piece begins. `None` with too few points.
    pub(super) fn pieces(&mut self, lines: usize) -> Option<Vec<usize>> {
        while self.least.len() <= lines {
            self.add_line();
        }
        let last = &self.least[lines];
        let total = |j: &usize| last[*j] + self.along_end[*j];
        let mut end = (0..=self.count).min_by(|a, b| total(a).total_cmp(&total(b)))?;
        if !total(&end).is_finite() {
            return None;
        }
        let mut begins = vec![end];
        for m in (0..lines).rev() {
            end = self.from[m][end];
            begins.push(end);
        }
        begins.reverse();
        Some(begins)
    }

    fn add_line(&mut self) {
        let before = &self.least[self.least.len() - 1];
        let mut least = vec![f64::INFINITY; self.count + 1];
        let mut from = vec![0; self.count + 1];
        for j in LEAST..=self.count {
            for (i, before) in before.iter().enumerate().take(j - LEAST + 1) {
                let sum = before + self.along_a_line[i * (self.count + 1) + j];
                if sum < least[j] {
                    (least[j], from[j]) = (sum, i);
                }
            }
        }
        self.least.push(least);
        self.from.push(from);
    }
}

/// c(i, j) for all i and j, from running sums.
fn stretches(points: &[Point]) -> Vec<f64> {
    let count = points.len();
    let origin = super::lines::middle(points);
    let mut sums = vec![(Vector::zeros(), Matrix3::zeros())];
    for (i, point) in points.iter().enumerate() {
        let w = point - origin;
        let (sum, squares) = sums[i];
        sums.push((sum + w, squares + w * w.transpose()));
    }
    let mut costs = vec![0.0; (count + 1) * (count + 1)];
    for i in 0..count {
        for j in i + LEAST..=count {
            let (sum, squares) = (sums[j].0 - sums[i].0, sums[j].1 - sums[i].1);
            let spread = squares - sum * sum.transpose() / (j - i) as f64;
            costs[i * (count + 1) + j] = (spread.trace() - greatest_eigenvalue(&spread)).max(0.0);
        }
    }
    costs
}

/// The greatest eigenvalue of a symmetric matrix: q + 2p·cos(φ/3) with q the mean of the
/// diagonal, p² = tr((A − q)²)/6, cos φ = det((A − q)/p)/2. O. K. Smith, *Eigenvalues of
/// a symmetric 3 × 3 matrix* (1961), from memory.
fn greatest_eigenvalue(matrix: &Matrix3<f64>) -> f64 {
    let q = matrix.trace() / 3.0;
    let apart = matrix - Matrix3::identity() * q;
    let p = (apart.norm_squared() / 6.0).sqrt();
    if p <= f64::MIN_POSITIVE {
        return q;
    }
    let cosine = ((apart / p).determinant() / 2.0).clamp(-1.0, 1.0);
    q + 2.0 * p * (cosine.acos() / 3.0).cos()
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::SymmetricEigen;

    #[test]
    fn the_closed_form_is_the_iteration_s() {
        let mut x = 0.3_f64;
        for _ in 0..200 {
            let entries: Vec<f64> = (0..9)
                .map(|_| {
                    x = (x * 9.7 + 0.123).fract();
                    x * 10.0 - 5.0
                })
                .collect();
            let root = Matrix3::from_column_slice(&entries);
            let matrix = root * root.transpose();
            let greatest = SymmetricEigen::new(matrix).eigenvalues.max();
            assert!((greatest_eigenvalue(&matrix) - greatest).abs() < 1e-9 * greatest);
        }
    }

    #[test]
    fn pieces_begin_where_they_do() {
        // 5 points up, 4 along x, 5 along y.
        let mut points: Vec<Point> = (0..5)
            .map(|i| Point::new(0.0, 0.0, f64::from(i) * 10.0))
            .collect();
        points.extend((0..4).map(|i| Point::new(5.0 + 10.0 * f64::from(i), 0.0, 45.0)));
        points.extend((0..5).map(|i| Point::new(40.0, 5.0 + 10.0 * f64::from(i), 45.0)));
        let axis = |point: [f64; 3], direction| Line {
            point: Point::from(point),
            direction,
        };
        let axes = [
            axis([0.0; 3], Vector::z()),
            axis([40.0, 90.0, 45.0], -Vector::y()),
        ];
        let mut cut_up = CutUp::new(&points, axes);
        assert_eq!(cut_up.pieces(1), Some(vec![5, 9]));
        assert_eq!(cut_up.pieces(5), None);
    }
}
