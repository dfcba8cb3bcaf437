//! Plans on a scanned vehicle: from two open engine ports to outlets behind the engine,
//! clear of everything by 8 mm.
//!
//! Run: cargo bench --bench motorcycle [-- --effort thorough]
//!
//! The mesh is that of tests/reference/fetch_meshes.py, in target/meshes or
//! $RUNWRIGHT_MESHES; without it there is nothing to plan, which is said. Every plan
//! begins with nothing known of the scan but its index.

#![allow(missing_docs, reason = "a benchmark")]

use runwright::geometry::{Direction, Point, Vector};
use runwright::route::{Charts, Control, Effort, Task, solve_with};
use runwright::run::Port;
use runwright::scan::{Surface, Wanted, read_mesh};
use runwright::scene::{Body, Obstacle, Side};
use runwright::tube::Tube;
use runwright::units::{Length, LengthUnit};
use serde_json::Value;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::{Duration, Instant};

const TARGETS: &str = include_str!("../reference/targets.json");
/// 1.5 in tube of 16 gauge.
const OD: Length = Length::from_mm(38.1);
const WALL: Length = Length::from_mm(1.65);
const CLEARANCE: Length = Length::from_mm(8.0);

fn main() {
    let usual = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("target/meshes");
    let folder = std::env::var_os("RUNWRIGHT_MESHES").map_or(usual, PathBuf::from);
    let path = folder.join("motorBike.obj.gz");
    let Ok(bytes) = std::fs::read(&path) else {
        eprintln!("no mesh: run tests/reference/fetch_meshes.py target/meshes first");
        return;
    };
    let begun = Instant::now();
    let wanted = Wanted {
        drop: vec!["exhaust*".to_owned()],
        ..Wanted::all(Length::from_unit(1.0, LengthUnit::M))
    };
    let mesh = read_mesh("motorBike.obj.gz", &bytes[..], &wanted).expect("a whole mesh");
    let read = begun.elapsed();
    let surface = Arc::new(Surface::new(mesh.mesh));
    println!("read {read:.2?}, indexed {:.2?}", begun.elapsed() - read);
    let control = Control {
        effort: effort(),
        explain: false,
        ..Control::default()
    };
    let mut times = Vec::new();
    for task in tasks(&surface) {
        times.push(plan(&task, &control));
    }
    times.sort();
    println!(
        "{} plans: median {:.2?}, worst {:.2?}",
        times.len(),
        times[times.len() / 2],
        times[times.len() - 1]
    );
}

fn effort() -> Effort {
    let mut arguments = std::env::args().skip_while(|argument| argument != "--effort");
    match arguments.nth(1).as_deref() {
        Some("quick") => Effort::Quick,
        Some("thorough") => Effort::Thorough,
        _ => Effort::Normal,
    }
}

fn tasks(surface: &Arc<Surface>) -> Vec<Task> {
    let targets: Value = serde_json::from_str(TARGETS).expect("JSON");
    let ports = |key: &str| -> Vec<Port> {
        let ports = targets[key].as_object().expect("ports by name");
        ports
            .iter()
            .map(|(name, port)| self::port(name, port))
            .collect()
    };
    let tube = Tube::new(OD, WALL, "304").expect("a tube");
    let starts = ports("ports");
    let ends = ports("outlets");
    let pairs = starts.iter().flat_map(|a| ends.iter().map(move |b| (a, b)));
    pairs
        .map(|(start, end)| Task {
            obstacles: vec![Obstacle {
                name: "motorcycle".to_owned(),
                body: Body::Scan(surface.clone()),
                side: Side::KeepOut,
                clearance: CLEARANCE,
                reach: Length::ZERO,
            }],
            charts: Charts::default(),
            ..Task::new(tube.clone(), start.clone(), end.clone())
        })
        .collect()
}

fn port(name: &str, port: &Value) -> Port {
    let vector = |key: &str| {
        let numbers = port[key].as_array().expect("three numbers");
        let number = |i: usize| numbers[i].as_f64().expect("a number");
        Vector::new(number(0), number(1), number(2))
    };
    Port {
        straight: Length::from_inches(0.5),
        ..Port::new(
            name,
            Point::from(vector("center")),
            Direction::new_normalize(vector("outward")),
        )
    }
}

fn plan(task: &Task, control: &Control<'_>) -> Duration {
    let begun = Instant::now();
    let solution = solve_with(task, control);
    let took = begun.elapsed();
    let names = format!("{} to {}", task.start.name, task.end.name);
    match solution {
        Err(_) => println!("{names:24} {took:8.2?}  no route"),
        Ok(solution) => {
            let (best, obstacle) = (&solution.best, &task.obstacles[0]);
            let left = best.run.clearance_to(obstacle, task.outside(obstacle));
            println!(
                "{names:24} {took:8.2?}  cost {:6.1}, {} bends, {:2} pieces, {:4.0} mm, {:.2} mm to spare, {} others, {} searches",
                best.cost.rank,
                best.route.bends.len(),
                best.run.pieces().len(),
                best.run.length().mm(),
                left.map_or(f64::NAN, |left| left.distance.mm()),
                solution.alternatives.len(),
                solution.searches,
            );
        }
    }
    took
}
