//! Pictures off screen: what they must show, and a few against those kept beside the tests.
//!
//! `RUNWRIGHT_PICTURES=keep cargo test -p runwright-bench --test pictures` keeps new ones:
//! look at them before they are committed.

use image::RgbImage;
use runwright_bench::palette;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Part of the largest difference that a picture may be off in the mean: drivers round
/// and smooth edges in their own ways.
const MEAN_OFF: f64 = 0.012;
/// Cells a side that pictures are compared by: an edge that is a pixel off shows little,
/// a part that is missing much.
const CELLS: u32 = 40;
/// Part of the largest difference that the worst cell may be off.
const WORST_OFF: f64 = 0.12;

fn example(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../examples")
        .join(name)
}

/// A picture by the program itself, as a user makes one.
fn draw(file: &str, more: &[&str]) -> RgbImage {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("picture.png");
    let size: &[&str] = if more.contains(&"--size") {
        &[]
    } else {
        &["--size", "800x600"]
    };
    let done = Command::new(env!("CARGO_BIN_EXE_runwright-bench"))
        .arg(example(file))
        .arg("--snapshot")
        .arg(&out)
        .args(size)
        .args(more)
        .env("XDG_RUNTIME_DIR", folder.path())
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&done.stderr);
    assert!(
        done.status.success(),
        "{said}\nWithout a graphics card: apt-get install -y mesa-vulkan-drivers"
    );
    image::open(&out).unwrap().to_rgb8()
}

/// Mean color of each cell.
fn cells(picture: &RgbImage) -> Vec<[f64; 3]> {
    let (wide, tall) = (picture.width() / CELLS, picture.height() / CELLS);
    let mut means = Vec::new();
    for row in 0..CELLS {
        for column in 0..CELLS {
            let mut sum = [0.0; 3];
            for y in row * tall..(row + 1) * tall {
                for x in column * wide..(column + 1) * wide {
                    let pixel = picture.get_pixel(x, y).0;
                    (0..3).for_each(|i| sum[i] += f64::from(pixel[i]));
                }
            }
            means.push(sum.map(|sum| sum / f64::from(wide * tall) / 255.0));
        }
    }
    means
}

fn compare(name: &str, picture: &RgbImage) {
    let kept = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/pictures")
        .join(name);
    if std::env::var("RUNWRIGHT_PICTURES").is_ok_and(|wish| wish == "keep") {
        picture.save(&kept).unwrap();
        return;
    }
    let other = image::open(&kept)
        .unwrap_or_else(|error| panic!("{}: {error}", kept.display()))
        .to_rgb8();
    assert_eq!(
        (picture.width(), picture.height()),
        (other.width(), other.height())
    );
    let off: Vec<f64> = cells(picture)
        .iter()
        .zip(cells(&other))
        .map(|(a, b)| (0..3).map(|i| (a[i] - b[i]).abs()).fold(0.0, f64::max))
        .collect();
    let mean = off.iter().sum::<f64>() / off.len() as f64;
    let worst = off.iter().copied().fold(0.0, f64::max);
    if mean > MEAN_OFF || worst > WORST_OFF {
        let now = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
        picture.save(&now).unwrap();
        panic!(
            "{name}: off by {mean:.4} in the mean, {worst:.3} at worst; see {}",
            now.display()
        );
    }
}

/// How many pixels are about of a color.
fn count(picture: &RgbImage, color: palette::Color, within: i32) -> usize {
    let near = |a: u8, b: u8| (i32::from(a) - i32::from(b)).abs() <= within;
    picture
        .pixels()
        .filter(|p| near(p[0], color.0) && near(p[1], color.1) && near(p[2], color.2))
        .count()
}

#[test]
fn the_run_from_the_corner() {
    compare("run.png", &draw("stack.json", &["--bare"]));
}

#[test]
fn the_room_of_a_run_among_bodies() {
    compare(
        "room.png",
        &draw("bay.json", &["--bare", "--heat", "--view", "x"]),
    );
}

#[test]
fn a_section_through_a_run() {
    compare(
        "section.png",
        &draw(
            "stack.json",
            &["--bare", "--view", "minus-y", "--section", "y=0.4"],
        ),
    );
}

#[test]
fn a_step_of_building_in_large_letters() {
    let picture = draw("stack.json", &["--step", "4", "--size", "1600x1000"]);
    compare("step.png", &picture);
    // Letters of the saw's numbers: the tallest column of ink without a gap is a
    // capital's stem, which must be seen from two meters.
    let is_ink = |x: u32, y: u32| picture.get_pixel(x, y).0.iter().all(|part| *part < 70);
    let tallest = (900..1500)
        .map(|x| {
            let mut best = 0;
            let mut run = 0;
            for y in 160..800 {
                run = if is_ink(x, y) { run + 1 } else { 0 };
                best = best.max(run);
            }
            best
        })
        .max()
        .unwrap();
    assert!(
        tallest >= 64,
        "{tallest} pixels: less than 17 mm at 96 to the inch"
    );
}

#[test]
fn a_joint_is_tacked_with_its_marks_drawn_and_what_is_to_come_ghosted() {
    let picture = draw("stack.json", &["--step", "12", "--size", "1600x1000"]);
    compare("tack.png", &picture);
    assert!(
        count(&picture, palette::TIGHT, 24) > 300,
        "marks on the pieces"
    );
}

/// Through the plane of a section one looks into the walls themselves, which are filled.
#[test]
fn cut_walls_are_filled() {
    let view = ["--bare", "--view", "minus-y"];
    let filled = |more: &[&str]| {
        let picture = draw("stack.json", &[&view, more].concat());
        let [a, b] = palette::TUBE;
        // As dark as the shader makes the color of a cut.
        let dark = |part: u8| ((f64::from(part) / 255.0).powf(2.2) * 0.42).powf(1.0 / 2.2) * 255.0;
        let dark =
            |c: palette::Color| palette::Color(dark(c.0) as u8, dark(c.1) as u8, dark(c.2) as u8);
        count(&picture, dark(a), 3) + count(&picture, dark(b), 3)
    };
    let (cut, whole) = (filled(&["--section", "y=0.4"]), filled(&[]));
    assert!(cut > whole + 500, "{cut} and {whole}");
}

#[test]
fn the_chosen_piece_is_seen() {
    let chosen = |picture: &RgbImage| count(picture, palette::CHOSEN, 40);
    let without = draw("stack.json", &["--bare"]);
    let with = draw("stack.json", &["--bare", "--piece", "4"]);
    assert!(
        chosen(&with) > chosen(&without) + 3000,
        "{} and {}",
        chosen(&with),
        chosen(&without)
    );
}

#[test]
fn a_broken_job_still_makes_a_picture() {
    let folder = tempfile::tempdir().unwrap();
    for (i, bytes) in [
        b"".as_slice(),
        b"{",
        b"{\"units\": 7}",
        b"\xff\xfe",
        b"{\"format\": 1}",
    ]
    .iter()
    .enumerate()
    {
        let path = folder.path().join(format!("{i}.json"));
        std::fs::write(&path, bytes).unwrap();
        let picture = draw(&path.display().to_string(), &["--size", "900x700"]);
        assert!(count(&picture, palette::PAPER, 2) > 10_000);
    }
}
