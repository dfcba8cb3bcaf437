//! Miter geometry against published sources. Inches where the source has inches.

use runwright::geometry::{Direction, Point, Vector, angle_between, ellipse_perimeter};
use runwright::route::{Bend, Make};
use runwright::tube::{Cut, Facets, Outline, Piece, Tube};
use runwright::units::{Angle, Length};

fn bend(turn: f64, clr: Length, joints: u32) -> Bend {
    let (sin, cos) = Angle::from_degrees(turn).sin_cos();
    Bend {
        corner: Point::origin(),
        incoming: Vector::z_axis(),
        outgoing: Direction::new_normalize(Vector::new(sin, 0.0, cos)),
        turn: Angle::from_degrees(turn),
        clr,
        make: Make::Pies { joints },
    }
}

fn near(value: f64, expected: f64, tolerance: f64) {
    assert!(
        (value - expected).abs() <= tolerance,
        "{value} instead of {expected}"
    );
}

#[test]
fn four_piece_round_elbow_of_a_sheet_metal_textbook() {
    // B. Coey, Pattern Development: Sheet Metal Level 1, BCcampus 2021, CC BY 4.0,
    // ch. 19 "Round Elbow": 6 in diameter, 6 in throat radius, 4 pieces, 90°.
    // Ordinates computed exactly; the book gives the seam as 2 7/16 in.
    let elbow = bend(90.0, Length::from_inches(9.0), 3);
    near(elbow.cut().degrees(), 15.0, 1e-12);
    let tube = Tube::new(Length::from_inches(6.0), Length::from_inches(0.03), "sheet").unwrap();
    let end_gore = Piece::new(
        tube,
        elbow.pie_length() / 2.0,
        Cut::SQUARE,
        Cut {
            angle: elbow.cut(),
            clock: Angle::ZERO,
        },
    )
    .unwrap();
    let outline = Outline::new(&end_gore, Angle::ZERO, Length::ZERO);
    near(outline.width().inches(), 6.0 * std::f64::consts::PI, 1e-12);
    let exact = [
        3.21539, 3.10770, 2.81347, 2.41154, 2.00962, 1.71539, 1.60770,
    ];
    for (i, expected) in exact.into_iter().enumerate() {
        let clock = Angle::from_degrees(30.0 * i as f64);
        near(outline.end_at(clock).inches(), expected, 5e-6);
    }
    let seam = outline.end_at(Angle::QUARTER).inches();
    near(seam, 2.0 + 7.0 / 16.0, 1.0 / 32.0);
}

#[test]
fn spacing_of_miters_in_the_process_piping_code() {
    // ASME B31.3-2016, 304.2.3: s = 2·R1·tan θ. The geometry only; thin-wall pies at
    // 1.5 D do not meet the code's least effective radius.
    for clr in [100.0, 114.3, 152.4] {
        for (joints, cut) in [(1, 45.0), (2, 22.5), (4, 11.25), (5, 9.0), (9, 5.0)] {
            let bend = bend(90.0, Length::from_mm(clr), joints);
            near(bend.cut().degrees(), cut, 1e-12);
            let spacing = 2.0 * clr * cut.to_radians().tan();
            for pair in bend.vertices().windows(2) {
                near((pair[1] - pair[0]).norm(), spacing, 1e-9);
            }
        }
    }
    let effective = |od: f64, cut: f64| 25.0 / f64::to_radians(cut).tan() + od / 2.0;
    assert!(114.3 < effective(76.2, 11.25), "R1 114.3 is under 163.8");
    near(effective(76.2, 11.25), 163.8, 0.05);
}

#[test]
fn pieces_of_a_quarter_elbow() {
    // n pieces, end pieces half the others (A. F. Payne, Popular Science Monthly 91,
    // 1917): cut 90/(2(n − 1)). At R1 = 1.5 D: pie, throat and heel over D (computed).
    let d = 100.0;
    let table = [
        (3, 22.5, 1.242_641, 0.828_427, 1.656_854),
        (5, 11.25, 0.596_737, 0.397_825, 0.795_649),
        (6, 9.0, 0.475_153, 0.316_769, 0.633_538),
        (10, 5.0, 0.262_466, 0.174_977, 0.349_955),
    ];
    for (pieces, cut, pie, throat, heel) in table {
        let bend = bend(90.0, Length::from_mm(1.5 * d), pieces - 1);
        let radius = Length::from_mm(d / 2.0);
        near(bend.cut().degrees(), cut, 1e-12);
        near(bend.pie_length().mm() / d, pie, 1e-6);
        near(bend.pie_short_side(radius).mm() / d, throat, 1e-6);
        near(bend.pie_long_side(radius).mm() / d, heel, 1e-6);
        assert_eq!(bend.vertices().len(), pieces as usize - 1);
    }
}

#[test]
fn weld_round_a_miter_face() {
    // P = 4(r/cos θ)·E(sin²θ); P/D computed with scipy 1.17.1's E.
    let table = [
        (0.0, std::f64::consts::PI),
        (7.5, 3.155_161_55),
        (9.0, 3.161_203_15),
        (11.25, 3.172_441_00),
        (15.0, 3.197_244_46),
        (22.5, 3.272_294_32),
        (30.0, 3.388_958_81),
        (45.0, 3.820_197_79),
    ];
    for (cut, expected) in table {
        let major = 0.5 / Angle::from_degrees(cut).cos();
        near(ellipse_perimeter(major, 0.5), expected, 5e-9);
    }
}

#[test]
fn two_turns_in_two_planes() {
    // cos Δ = cos A·cos B − sin A·sin B·cos φ; Δ computed outside the project. The
    // directions here come from rotations, not from that formula.
    let table = [
        (45.0, 45.0, 90.0, 60.0),
        (60.0, 60.0, 90.0, 75.522_488),
        (22.5, 22.5, 90.0, 31.399_715),
        (15.0, 15.0, 45.0, 27.668_935),
    ];
    for (a, b, clock, expected) in table {
        let turn =
            |axis: &Direction, by: f64| nalgebra::Rotation3::from_axis_angle(axis, by.to_radians());
        let first_axis = Vector::y_axis();
        let first = turn(&first_axis, a) * Vector::z();
        let second_axis = turn(&Direction::new_normalize(first), clock) * first_axis;
        let second = turn(&second_axis, b) * first;
        near(
            angle_between(&Vector::z(), &second).degrees(),
            expected,
            1e-6,
        );
    }
}

#[test]
fn area_and_volume_of_one_piece() {
    // D 76.2, wall 1.65, L 120: flat area and wall volume (computed), and the volumes
    // that manifold3d 3.5.4 gave for inscribed meshes (run).
    let tube = Tube::new(Length::from_mm(76.2), Length::from_mm(1.65), "304").unwrap();
    let cut = |angle, clock| Cut {
        angle: Angle::from_degrees(angle),
        clock: Angle::from_degrees(clock),
    };
    let piece = Piece::new(
        tube,
        Length::from_mm(120.0),
        cut(11.25, 0.0),
        cut(9.0, 70.0),
    )
    .unwrap();
    near(piece.outside_area_mm2(), 28_726.723_224, 1e-6);
    near(piece.wall_volume_mm3(), 46_372.735, 1e-4);
    for (facets, volume) in [(64, 46_298.279), (256, 46_368.079), (1024, 46_372.444)] {
        near(
            piece.mesh(Facets::at_least(facets)).volume_mm3(),
            volume,
            1e-3,
        );
    }
}
