//! Facts of the trade. All: common practice, no source.

mod support;

use runwright::route::{Bend, Limits, Task, solve};
use runwright::tube::{Cut, Piece, Tube};
use runwright::units::{Angle, Length};

/// What a pencil, a tape and a hand-made pattern are good to.
const BY_HAND: f64 = 1.0 / 16.0;

fn three_inch() -> Tube {
    Tube::new(Length::from_inches(3.0), Length::from_inches(0.065), "304").unwrap()
}

/// A quarter bend alone: ports as near as the default straights allow.
fn quarter_bend(clr: Length) -> (Task, Bend) {
    let tube = three_inch();
    let reach = clr.mm() + 12.7;
    let start = support::port("a", [0.0; 3], [0.0, 0.0, 1.0]);
    let end = support::port("b", [reach, 0.0, reach], [-1.0, 0.0, 0.0]);
    let task = Task {
        limits: Limits {
            clr_min: clr,
            clr_max: clr,
            ..Limits::for_tube(&tube)
        },
        most_bends: 1,
        ..Task::new(tube, start, end)
    };
    let solution = solve(&task).expect("a normal bend");
    let bend = solution.best.route.bends[0];
    (task, bend)
}

#[test]
fn three_inch_tube_is_9_42_inches_round() {
    assert!((three_inch().circumference().inches() - 9.42).abs() < 0.005);
}

#[test]
fn a_nine_degree_cut_makes_an_eighteen_degree_change() {
    let (_, bend) = quarter_bend(Length::from_inches(2.0));
    assert!((bend.cut().degrees() - 9.0).abs() < 1e-9);
    let run = solve(&quarter_bend(Length::from_inches(2.0)).0)
        .unwrap()
        .best
        .run;
    for joint in run.welds() {
        assert!((joint.deflection.degrees() - 18.0).abs() < 1e-9);
    }
}

#[test]
fn a_tight_quarter_bend_is_planned_with_the_defaults() {
    // CLR 2 in on 3 in tube: smaller than the tube's diameter, and normal.
    let (task, bend) = quarter_bend(Length::from_inches(2.0));
    assert_eq!(bend.joints(), 5);
    let short = bend.pie_short_side(task.tube.radius()).inches();
    assert!((short - 0.158).abs() < 5e-4, "{short}");
}

#[test]
fn a_hand_drafted_pie_agrees() {
    // 9° on 3 in tube: about 1 3/8 long, 7/16 short, 7/8 center.
    let cut = |clock| Cut {
        angle: Angle::from_degrees(9.0),
        clock,
    };
    let piece = Piece::new(
        three_inch(),
        Length::from_inches(0.875),
        cut(Angle::ZERO),
        cut(Angle::ZERO),
    )
    .unwrap();
    let (long, short) = (piece.long_side().inches(), piece.short_side().inches());
    assert!((long - 1.375).abs() < BY_HAND, "{long}");
    assert!((short - 0.4375).abs() < BY_HAND, "{short}");
    let differ = 3.0 * 2.0 * Angle::from_degrees(9.0).tan();
    assert!((long - short - differ).abs() < 1e-12);
}

#[test]
fn the_outside_swings_through_clr_and_half_the_diameter() {
    let (task, bend) = quarter_bend(Length::from_inches(4.5));
    assert!((bend.outside_swing(task.tube.radius()).inches() - 6.0).abs() < 1e-12);
}

#[test]
fn longer_pieces_at_the_same_cut_give_a_larger_clr() {
    let pie = |inches: f64| {
        let (_, bend) = quarter_bend(Length::from_inches(inches));
        (bend.cut().degrees(), bend.pie_length())
    };
    let (tight, wide) = (pie(3.0), pie(6.0));
    assert!((tight.0 - wide.0).abs() < 1e-9);
    assert!(wide.1 > tight.1);
    // And back: CLR = pie/(2·tan κ).
    let clr = wide.1 / (2.0 * Angle::from_degrees(wide.0).tan());
    assert!((clr.inches() - 6.0).abs() < 1e-9);
}

#[test]
fn ten_joints_on_three_inch_tube_are_close_to_95_inches_of_weld() {
    let (task, _) = quarter_bend(Length::from_inches(4.5));
    let run = solve(&task).unwrap().best.run;
    let per_joint = run.weld_length().inches() / run.welds().count() as f64;
    assert!(
        (10.0 * per_joint - 95.0).abs() < 0.5,
        "{}",
        10.0 * per_joint
    );
}
