//! [`FlowLoss`]: the pressure that a run's bends take from the flow.
//!
//! Turbulent flow in a smooth bore; each bend as though it stood alone, with
//! straight tube before and after. Good for comparing routes, not for sizing.

use crate::units::Angle;
use std::iter::Sum;
use std::ops::{Add, Mul};

/// Loss coefficient K: total pressure lost over ½·ρ·v², in velocity heads.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct FlowLoss {
    /// Best value, K.
    pub k: f64,
}

impl FlowLoss {
    /// How far published sources differ from each other, as a share of K: 10–30 %.
    pub const SPREAD: f64 = 0.30;

    /// Least K that a source may give, K·(1 − spread).
    pub fn low(self) -> f64 {
        self.k * (1.0 - Self::SPREAD)
    }

    /// Greatest K that a source may give, K·(1 + spread).
    pub fn high(self) -> f64 {
        self.k * (1.0 + Self::SPREAD)
    }

    /// The smaller of two.
    fn min(self, other: Self) -> Self {
        Self {
            k: self.k.min(other.k),
        }
    }

    /// The larger of two.
    fn max(self, other: Self) -> Self {
        Self {
            k: self.k.max(other.k),
        }
    }
}

impl Add for FlowLoss {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self {
            k: self.k + other.k,
        }
    }
}

impl Mul<f64> for FlowLoss {
    type Output = Self;
    fn mul(self, factor: f64) -> Self {
        Self { k: self.k * factor }
    }
}

impl Sum for FlowLoss {
    fn sum<I: Iterator<Item = Self>>(losses: I) -> Self {
        losses.fold(Self::default(), Add::add)
    }
}

/// K of one miter joint that stands alone, by its deflection in degrees.
///
/// 20° to 90°: SMACNA, HVAC Systems Duct Design, 4th ed., Table A-7 (seen). Beyond:
/// 1.2 × w(δ)/w(90°) with Weisbach's w = 0.9457·sin²(δ/2) + 2.047·sin⁴(δ/2) (from
/// memory). Straight lines between, so that no joint is taken for less than its
/// share of 20°.
const MITERS: [(f64, f64); 10] = [
    (0.0, 0.0),
    (20.0, 0.08),
    (30.0, 0.16),
    (45.0, 0.34),
    (60.0, 0.55),
    (75.0, 0.81),
    (90.0, 1.2),
    (120.0, 2.27),
    (150.0, 3.25),
    (180.0, 3.65),
];

/// K of 90° bends by the deflection of each joint in degrees (0 is a smooth bend),
/// then by centerline radius in diameters.
///
/// SMACNA, HVAC Systems Duct Design, 4th ed., Table A-7 (seen): smooth, 5, 4 and 3
/// pieces. A bend of p pieces has p − 1 joints of 90°/(p − 1).
const QUARTER_BENDS: [(f64, [(f64, f64); 4]); 4] = [
    (0.0, [(0.75, 0.33), (1.0, 0.22), (1.5, 0.15), (2.0, 0.13)]),
    (22.5, [(0.75, 0.46), (1.0, 0.33), (1.5, 0.24), (2.0, 0.19)]),
    (30.0, [(0.75, 0.50), (1.0, 0.37), (1.5, 0.27), (2.0, 0.24)]),
    (45.0, [(0.75, 0.54), (1.0, 0.42), (1.5, 0.34), (2.0, 0.33)]),
];

/// Greatest deflection of a joint, in degrees, in [`QUARTER_BENDS`].
const STEEPEST: f64 = 45.0;

/// K of a bend over K of the 90° bend of the same radius, by its turn in degrees.
///
/// SMACNA and ASHRAE duct fitting tables, smooth round elbows (from memory).
const TURN_FACTORS: [(f64, f64); 11] = [
    (0.0, 0.0),
    (20.0, 0.31),
    (30.0, 0.45),
    (45.0, 0.60),
    (60.0, 0.78),
    (75.0, 0.90),
    (90.0, 1.00),
    (110.0, 1.13),
    (130.0, 1.20),
    (150.0, 1.28),
    (180.0, 1.40),
];

/// Loss of a single miter joint that turns the flow by `deflection`.
///
/// The sign of an angle counts for nothing. Beyond 180°, as at 180°; what is not a
/// number is taken for the worst.
pub fn miter_joint(deflection: Angle) -> FlowLoss {
    FlowLoss {
        k: interpolate(&MITERS, degrees(deflection)),
    }
}

/// Loss of a smooth bend of `turn`, its centerline radius in outside diameters:
/// K₉₀ × turn factor, and no more than a single miter of the same turn.
///
/// Radii outside 0.75 … 2 count as the nearest of these. The tables divide by the
/// bore; the outside diameter, a little more, errs to the safe side.
pub fn smooth_bend(turn: Angle, clr_per_od: f64) -> FlowLoss {
    divided_bend(turn, Angle::ZERO, clr_per_od).min(miter_joint(turn))
}

/// Loss of a pie bend of `turn` with `joints` joints, its centerline radius in
/// outside diameters; without a joint, that of a smooth bend.
///
/// Never less than the smooth bend of the turn. Never more than one miter of the
/// whole turn, nor than its joints would lose one by one by the highest source:
/// at R/D 0.75 the tables themselves give a bend up to 15 % more than its joints.
pub fn pie_bend(turn: Angle, joints: u32, clr_per_od: f64) -> FlowLoss {
    let smooth = smooth_bend(turn, clr_per_od);
    match joints {
        0 => smooth,
        1 => miter_joint(turn),
        _ => {
            let count = f64::from(joints);
            let deflection = turn / count;
            let apart = miter_joint(deflection) * (count * (1.0 + FlowLoss::SPREAD));
            divided_bend(turn, deflection, clr_per_od)
                .min(apart)
                .min(miter_joint(turn))
                .max(smooth)
        }
    }
}

/// K₉₀ × turn factor of a bend with joints of `deflection`. Past the steepest joint
/// of the table, K₉₀ grows as that of a single miter does.
fn divided_bend(turn: Angle, deflection: Angle, clr_per_od: f64) -> FlowLoss {
    let deflection = degrees(deflection);
    let at_radius =
        QUARTER_BENDS.map(|(joint, by_radius)| (joint, interpolate(&by_radius, clr_per_od)));
    let miter = |deflection| interpolate(&MITERS, deflection);
    let steeper = miter(deflection.max(STEEPEST)) / miter(STEEPEST);
    let quarter = interpolate(&at_radius, deflection) * steeper;
    FlowLoss {
        k: quarter * interpolate(&TURN_FACTORS, degrees(turn)),
    }
}

/// Magnitude in degrees; 180° for what is not a number.
fn degrees(angle: Angle) -> f64 {
    let degrees = angle.abs().degrees();
    if degrees.is_nan() { 180.0 } else { degrees }
}

/// Value of `table` at `at`: straight lines between its nodes, constant beyond them.
/// What is not a number reads the first node.
fn interpolate(table: &[(f64, f64)], at: f64) -> f64 {
    let next = table.partition_point(|node| node.0 < at);
    let before = next.checked_sub(1).and_then(|index| table.get(index));
    match (before, table.get(next)) {
        (Some((x0, y0)), Some((x1, y1))) => y0 + (y1 - y0) * (at - x0) / (x1 - x0),
        (Some((_, y)), None) | (None, Some((_, y))) => *y,
        (None, None) => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rounding of K, and of whole degrees that went through radians.
    const ROUNDING: f64 = 1e-12;
    /// Radii in diameters, in the tables and beyond.
    const RADII: [f64; 9] = [0.5, 0.75, 0.8, 1.0, 1.25, 1.5, 1.9, 2.0, 5.0];

    fn pie(turn: f64, joints: u32, clr_per_od: f64) -> f64 {
        pie_bend(Angle::from_degrees(turn), joints, clr_per_od).k
    }

    fn smooth(turn: f64, clr_per_od: f64) -> f64 {
        smooth_bend(Angle::from_degrees(turn), clr_per_od).k
    }

    fn miter(deflection: f64) -> f64 {
        miter_joint(Angle::from_degrees(deflection)).k
    }

    fn assert_close(k: f64, expected: f64, what: &str) {
        assert!((k - expected).abs() < ROUNDING, "{what}: {k}, {expected}");
    }

    /// Every whole degree to half a turn.
    fn turns() -> impl Iterator<Item = f64> {
        (0..=180_u32).map(f64::from)
    }

    #[test]
    fn single_miters_are_those_of_smacna() {
        // SMACNA HVAC duct design, 4th ed., Table A-7 (seen).
        let angles = [0.0, 20.0, 30.0, 45.0, 60.0, 75.0, 90.0];
        let published = [0.0, 0.08, 0.16, 0.34, 0.55, 0.81, 1.2];
        for (angle, k) in angles.into_iter().zip(published) {
            assert_close(miter(angle), k, &format!("{angle}°"));
            assert_close(pie(angle, 1, 1.5), k, &format!("one joint, {angle}°"));
        }
    }

    #[test]
    fn quarter_bends_are_those_of_smacna() {
        // SMACNA HVAC duct design, 4th ed., Table A-7 (seen). Pieces are joints + 1.
        let radii = [0.75, 1.0, 1.5, 2.0];
        for (joints, published) in [
            (0, [0.33, 0.22, 0.15, 0.13]),
            (4, [0.46, 0.33, 0.24, 0.19]),
            (3, [0.50, 0.37, 0.27, 0.24]),
            (2, [0.54, 0.42, 0.34, 0.33]),
        ] {
            for (radius, k) in radii.into_iter().zip(published) {
                let what = format!("{joints} joints, R/D {radius}");
                assert_close(pie(90.0, joints, radius), k, &what);
            }
        }
    }

    #[test]
    fn three_gores_agree_with_ashrae() {
        // ASHRAE Fundamentals 2009, p. 21.26 (seen): 3-gore 90° elbows.
        for (radius, k) in [(0.75, 0.54), (1.0, 0.42), (1.5, 0.34), (2.0, 0.33)] {
            let bend = pie_bend(Angle::QUARTER, 2, radius);
            assert!(bend.low() <= k && k <= bend.high(), "R/D {radius}");
        }
    }

    #[test]
    fn miters_grow_with_deflection_as_cranes_do() {
        // Crane, miter bends, K/fT (seen, through `fluids`). Only the ratios compare:
        // Crane's K goes with the pipe's friction factor.
        let crane = [15.0, 30.0, 45.0, 60.0, 75.0, 90.0]
            .into_iter()
            .zip([4.0, 8.0, 15.0, 25.0, 40.0, 60.0]);
        for (angle, k_per_friction) in crane {
            let ratio = miter(angle) / miter(90.0) * 60.0 / k_per_friction;
            assert!((ratio - 1.0).abs() <= FlowLoss::SPREAD, "{angle}°: {ratio}");
        }
    }

    #[test]
    fn beyond_a_quarter_miters_follow_weisbach() {
        // Weisbach's formula for sharp bends (from memory), to the table's digits.
        let weisbach = |degrees: f64| {
            let square = (degrees / 2.0).to_radians().sin().powi(2);
            0.9457 * square + 2.047 * square * square
        };
        for angle in [120.0, 150.0, 180.0] {
            let k = 1.2 * weisbach(angle) / weisbach(90.0);
            assert!((miter(angle) - k).abs() <= 0.005, "{angle}°: {k}");
        }
        assert_eq!(miter(300.0), miter(180.0));
    }

    #[test]
    fn smooth_bends_take_the_turn_factor() {
        // SMACNA and ASHRAE duct fitting tables (from memory).
        for (turn, factor) in [
            (0.0, 0.0),
            (20.0, 0.31),
            (30.0, 0.45),
            (45.0, 0.60),
            (60.0, 0.78),
            (75.0, 0.90),
            (90.0, 1.00),
            (110.0, 1.13),
            (130.0, 1.20),
            (150.0, 1.28),
            (180.0, 1.40),
        ] {
            assert_close(smooth(turn, 1.5), 0.15 * factor, &format!("{turn}°"));
        }
    }

    #[test]
    fn loss_never_falls_with_turn() {
        for (radius, joints) in RADII
            .into_iter()
            .flat_map(|r| (0..=12).map(move |n| (r, n)))
        {
            let losses: Vec<f64> = turns().map(|turn| pie(turn, joints, radius)).collect();
            assert!(losses.is_sorted(), "{joints} joints, R/D {radius}");
        }
    }

    #[test]
    fn loss_never_rises_with_joints() {
        for (radius, turn) in RADII.into_iter().flat_map(|r| turns().map(move |t| (r, t))) {
            let fewer = (1..12).map(|joints| pie(turn, joints, radius));
            let more = (2..=12).map(|joints| pie(turn, joints, radius));
            for (fewer, more) in fewer.zip(more) {
                assert!(more <= fewer + ROUNDING, "{turn}°, R/D {radius}");
            }
        }
    }

    #[test]
    fn loss_never_rises_with_radius() {
        for (turn, joints) in turns().flat_map(|t| (0..=12).map(move |n| (t, n))) {
            let falls = RADII.map(|radius| -pie(turn, joints, radius));
            assert!(falls.is_sorted(), "{turn}°, {joints} joints");
        }
    }

    #[test]
    fn pie_bends_lie_between_a_smooth_bend_and_single_miters() {
        for (radius, turn) in RADII.into_iter().flat_map(|r| turns().map(move |t| (r, t))) {
            for joints in 1..=12_u32 {
                let count = f64::from(joints);
                let apart = miter_joint(Angle::from_degrees(turn / count)).high() * count;
                let k = pie(turn, joints, radius);
                let what = format!("{turn}°, {joints} joints, R/D {radius}: {k}");
                assert!(k >= smooth(turn, radius), "{what}");
                assert!(k <= miter(turn) + ROUNDING, "{what}");
                assert!(k <= apart + ROUNDING, "{what}");
            }
        }
    }

    #[test]
    fn many_joints_come_near_a_smooth_bend() {
        assert!((pie(90.0, 1000, 1.5) / smooth(90.0, 1.5) - 1.0).abs() < 0.01);
    }

    #[test]
    fn losses_add_up_with_their_spread() {
        let total: FlowLoss = [miter_joint(Angle::QUARTER), FlowLoss { k: 0.8 }]
            .into_iter()
            .sum();
        assert_close(total.k, 2.0, "sum");
        assert_close(total.low(), 1.4, "low");
        assert_close(total.high(), 2.6, "high");
        assert_eq!(FlowLoss::default() + total, total);
    }

    #[test]
    fn any_input_gives_a_finite_loss() {
        let wild = [
            f64::NAN,
            f64::INFINITY,
            f64::NEG_INFINITY,
            f64::MAX,
            f64::MIN_POSITIVE,
            -1.0,
            -0.0,
        ];
        for (turn, radius) in wild.into_iter().flat_map(|t| wild.map(|r| (t, r))) {
            for joints in [0, 1, 2, u32::MAX] {
                let k = pie_bend(Angle::from_radians(turn), joints, radius).k;
                assert!(k.is_finite() && k >= 0.0, "{turn} {joints} {radius}: {k}");
            }
        }
    }

    #[test]
    fn what_is_no_number_counts_as_the_worst() {
        assert_eq!(miter(f64::NAN), miter(180.0));
        assert_eq!(smooth(90.0, f64::NAN), smooth(90.0, 0.75));
        assert_eq!(miter(-45.0), miter(45.0));
    }
}
