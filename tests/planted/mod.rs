//! Problems with a planted answer: the route comes first, the task is made round it, so
//! that a solver which finds nothing, or something dearer, is known to be wrong.
//!
//! Every planted run goes through [`Task::candidate`], the program's own check, and is the
//! same on every machine. What a problem's cheapest known run costs stands in
//! `best_known.csv`, see [`known`].
#![allow(dead_code, reason = "each user takes what it needs")]

pub mod crowd;
pub mod known;
pub mod shop;
pub mod walk;

use crate::support::Numbers;
use runwright::route::{Candidate, Task};
use runwright::scene::Obstacle;
use shop::Shop;
use walk::Walk;

/// What a problem tests.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// Generous straights.
    Easy,
    /// Straights and turns near their limits.
    Tight,
    /// Either of these among solids.
    Crowded,
    /// One saw setting for all miters.
    OneSetting,
}

/// A task and a run that it is known to have.
pub struct Problem {
    pub name: String,
    pub kind: Kind,
    pub task: Task,
    pub planted: Candidate,
}

/// Draws of one problem before the generator is taken to be broken.
const MOST_DRAWS: usize = 10_000;
/// Keeps the numbers of different kinds apart.
const KIND_SEED: u64 = 0x9E37_79B9;
/// First numbers that are thrown away: neighboring seeds begin alike.
const WARM_UP: usize = 8;
/// The stream of numbers that solids in the way come from.
const BLOCKERS: u64 = 1;
/// Tight draws that the one with its ports closest together is taken from, in every
/// third problem.
const FOLDED_DRAWS: usize = 6;

impl Kind {
    pub const ALL: [Self; 4] = [Self::Easy, Self::Tight, Self::Crowded, Self::OneSetting];

    pub const fn name(self) -> &'static str {
        match self {
            Self::Easy => "easy",
            Self::Tight => "tight",
            Self::Crowded => "crowded",
            Self::OneSetting => "one setting",
        }
    }

    pub const fn count(self) -> usize {
        match self {
            Self::Easy | Self::Crowded => 100,
            Self::Tight | Self::OneSetting => 80,
        }
    }

    /// Numbers for one problem, apart from those of all others.
    fn numbers(self, number: usize, stream: u64) -> Numbers {
        let seed = (self as u64 + 1) * KIND_SEED + number as u64 * 1000 + stream;
        let mut numbers = Numbers::new(seed);
        for _ in 0..WARM_UP {
            numbers.between(0.0, 1.0);
        }
        numbers
    }
}

/// All problems, by kind.
pub fn all() -> Vec<Problem> {
    Kind::ALL.into_iter().flat_map(of_kind).collect()
}

/// All problems of one kind.
pub fn of_kind(kind: Kind) -> Vec<Problem> {
    (0..kind.count())
        .map(|number| problem(kind, number))
        .collect()
}

/// Problem `number` of a kind.
pub fn problem(kind: Kind, number: usize) -> Problem {
    let name = format!("{}-{number:03}", kind.name().replace(' ', "-"));
    let mut numbers = kind.numbers(number, 0);
    let (task, planted) = match kind {
        Kind::Easy => draw(&mut numbers, Shop::easy, Walk::easy),
        Kind::Tight => tight(&mut numbers, number),
        Kind::Crowded => crowded(&mut numbers, number, &name),
        Kind::OneSetting => draw(&mut numbers, Shop::one_setting, Walk::one_setting),
    };
    Problem {
        name,
        kind,
        task,
        planted,
    }
}

/// Draws until a run comes out that the program accepts: one that keeps off itself, with
/// pieces that can be held.
fn draw(
    numbers: &mut Numbers,
    shop: fn(&mut Numbers) -> Shop,
    walk: fn(&mut Numbers, &Shop) -> Walk,
) -> (Task, Candidate) {
    for _ in 0..MOST_DRAWS {
        let shop = shop(numbers);
        let walk = walk(numbers, &shop);
        if let Some(planted) = walk.plant(&shop, numbers) {
            return planted;
        }
    }
    panic!("no draw gives a run that can be built");
}

fn tight(numbers: &mut Numbers, number: usize) -> (Task, Candidate) {
    let draws = if number.is_multiple_of(3) {
        FOLDED_DRAWS
    } else {
        1
    };
    let chord = |task: &Task| (task.end.center - task.start.center).norm() / task.tube.od().mm();
    (0..draws)
        .map(|_| draw(numbers, Shop::tight, Walk::tight))
        .min_by(|a, b| chord(&a.0).total_cmp(&chord(&b.0)))
        .expect("at least one draw")
}

fn crowded(numbers: &mut Numbers, number: usize, name: &str) -> (Task, Candidate) {
    let (mut task, planted) = open(numbers, number);
    task.obstacles = crowd::round(numbers, &task, &planted.run);
    let places = crowd::in_the_way(name);
    task.obstacles
        .extend(blockers(number, &task, &planted, &places));
    let planted = task
        .candidate(planted.route)
        .expect("the solids were put clear of the run");
    (task, planted)
}

/// What stands at `places` of a crowded problem.
pub fn blockers(
    number: usize,
    task: &Task,
    planted: &Candidate,
    places: &[crowd::Place],
) -> Vec<Obstacle> {
    let mut numbers = Kind::Crowded.numbers(number, BLOCKERS);
    let blocker = |place| crowd::blocker(&mut numbers, task, &planted.run, place);
    places.iter().filter_map(blocker).collect()
}

/// A crowded problem's task before anything is put in the way.
fn open(numbers: &mut Numbers, number: usize) -> (Task, Candidate) {
    if number % 4 < 2 {
        draw(numbers, Shop::easy, Walk::easy)
    } else {
        tight(numbers, number)
    }
}

/// As [`problem`], a crowded one without its solids.
pub fn uncrowded(number: usize) -> (String, Task, Candidate) {
    let name = format!("{}-{number:03}", Kind::Crowded.name());
    let (task, planted) = open(&mut Kind::Crowded.numbers(number, 0), number);
    (name, task, planted)
}
