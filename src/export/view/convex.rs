//! [`Convex`]: a convex polygon in a picture.

use super::{Offset, Spot};

/// Corners in order, turning left where y goes up; fewer than three hold no area.
#[derive(Clone, Debug, PartialEq)]
pub struct Convex {
    corners: Vec<Spot>,
    low: Spot,
    high: Spot,
}

impl Convex {
    /// The hull of `spots`, by Andrew's monotone chain.
    pub fn hull(mut spots: Vec<Spot>) -> Self {
        spots.retain(|spot| spot.x.is_finite() && spot.y.is_finite());
        spots.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
        spots.dedup();
        let mut corners: Vec<Spot> = Vec::with_capacity(spots.len() + 1);
        for pass in 0..2 {
            let floor = corners.len();
            for &spot in &spots {
                while corners.len() >= floor + 2 {
                    let [a, b] = [corners[corners.len() - 2], corners[corners.len() - 1]];
                    if cross(&(b - a), &(spot - b)) > 0.0 {
                        break;
                    }
                    corners.pop();
                }
                corners.push(spot);
            }
            corners.pop();
            if pass == 0 {
                spots.reverse();
            }
        }
        Self::new(corners)
    }

    fn new(corners: Vec<Spot>) -> Self {
        let far = Spot::new(f64::INFINITY, f64::INFINITY);
        let (low, high) = corners.iter().fold((far, -far), |(low, high), spot| {
            (low.inf(spot), high.sup(spot))
        });
        Self { corners, low, high }
    }

    /// The corners.
    pub fn corners(&self) -> &[Spot] {
        &self.corners
    }

    /// Least and greatest coordinates.
    pub const fn bounds(&self) -> (Spot, Spot) {
        (self.low, self.high)
    }

    /// Whether the boxes round both meet.
    pub fn is_near(&self, other: &Self) -> bool {
        self.low.x < other.high.x
            && other.low.x < self.high.x
            && self.low.y < other.high.y
            && other.low.y < self.high.y
    }

    /// Whether `spot` is inside or on the edge.
    pub fn contains(&self, spot: &Spot) -> bool {
        self.corners.len() >= 3
            && spot.x >= self.low.x
            && spot.x <= self.high.x
            && spot.y >= self.low.y
            && spot.y <= self.high.y
            && self
                .edges()
                .all(|(a, b)| cross(&(b - a), &(spot - a)) >= 0.0)
    }

    /// What both hold, by Sutherland and Hodgman's clipping.
    pub fn clipped_by(&self, other: &Self) -> Self {
        let mut kept = self.corners.clone();
        for (a, b) in other.edges() {
            if kept.len() < 3 {
                break;
            }
            let side = |spot: &Spot| cross(&(b - a), &(spot - a));
            let mut next = Vec::with_capacity(kept.len() + 1);
            for (i, &from) in kept.iter().enumerate() {
                let to = kept[(i + 1) % kept.len()];
                let (before, after) = (side(&from), side(&to));
                if before >= 0.0 {
                    next.push(from);
                }
                if (before >= 0.0) != (after >= 0.0) {
                    next.push(from + (to - from) * (before / (before - after)));
                }
            }
            kept = next;
        }
        Self::new(if kept.len() < 3 { Vec::new() } else { kept })
    }

    /// Area and the middle of it; `None` with no area.
    pub fn middle(&self) -> Option<(f64, Spot)> {
        let origin = *self.corners.first()?;
        let mut area = 0.0;
        let mut moment = Offset::zeros();
        for (a, b) in self.edges() {
            let (a, b) = (a - origin, b - origin);
            let twice = cross(&a, &b);
            area += twice / 2.0;
            moment += (a + b) * (twice / 6.0);
        }
        (area > 0.0).then(|| (area, origin + moment / area))
    }

    fn edges(&self) -> impl Iterator<Item = (Spot, Spot)> + '_ {
        let next = self.corners.iter().cycle().skip(1);
        self.corners.iter().copied().zip(next.copied())
    }
}

fn cross(a: &Offset, b: &Offset) -> f64 {
    a.x * b.y - a.y * b.x
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(x: f64, y: f64, side: f64) -> Convex {
        let corners = [(0.0, 0.0), (1.0, 1.0), (1.0, 0.0), (0.5, 0.2), (0.0, 1.0)];
        let at = |(u, v): (f64, f64)| Spot::new(x + u * side, y + v * side);
        Convex::hull(corners.map(at).to_vec())
    }

    #[test]
    fn squares_overlap_in_a_square() {
        let (first, second) = (square(0.0, 0.0, 4.0), square(3.0, 2.0, 4.0));
        assert_eq!(first.corners().len(), 4);
        let (area, middle) = first.clipped_by(&second).middle().unwrap();
        assert!((area - 2.0).abs() < 1e-12, "{area}");
        assert!((middle - Spot::new(3.5, 3.0)).norm() < 1e-12);
        assert!(first.contains(&Spot::new(4.0, 0.0)) && !first.contains(&Spot::new(4.1, 1.0)));
        assert!(first.clipped_by(&square(9.0, 0.0, 1.0)).middle().is_none());
        assert!(first.clipped_by(&square(4.0, 0.0, 1.0)).middle().is_none());
    }

    #[test]
    fn what_has_no_area_holds_nothing() {
        for spots in [
            vec![],
            vec![Spot::new(1.0, 1.0)],
            vec![Spot::new(f64::NAN, 0.0); 3],
        ] {
            let flat = Convex::hull(spots);
            assert!(flat.middle().is_none() && !flat.contains(&Spot::new(1.0, 1.0)));
        }
    }
}
