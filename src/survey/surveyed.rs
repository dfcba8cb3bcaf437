//! [`Surveyed`]: a port from readings, and how far to trust it.

use super::adjust::{Hold, Model, adjust, chance};
use super::guess::{guesses, points};
use super::judge::{Suspicion, judge};
use super::left::{LeftOver, left_over};
use super::next::{Next, next};
use super::reading::{Observed, Readings};
use super::stance::{Chart, LEAN, Stance};
use super::survey_error::SurveyError;
use super::weak::{Cause, causes};
use crate::geometry::{Direction, Point, Scatter, Vector, angle_between};
use crate::units::{Angle, Length, direction_text};
use nalgebra::DVector;

/// Most readings of one port.
pub const MOST_READINGS: usize = 1000;

/// Greatest coordinate or distance, mm: a kilometer.
const FARTHEST: f64 = 1e6;

/// Sum of squares beyond the least that a place may have and still be meant: chance
/// exceeds it once in ten thousand.
const PLAUSIBLE: f64 = 15.0;

/// Places nearer than this, mm, and directions nearer than so many units of [`LEAN`],
/// are one.
const ONE: f64 = 1e-3;

/// Charts that a guess is followed through at most.
const MOST_CHARTS: usize = 6;

/// Part by which another chart must lower the squares to be worth a further one.
const SETTLED: f64 = 1e-9;

/// Candidates nearer to each other than this part of a deviation are one port.
const ALIKE: f64 = 0.3;

/// Cosine, some 84°, within which 'toward' says nothing clearly.
const ASIDE: f64 = 0.1;

/// A place is meant by 'near' if no other is less than so many times as far from it.
const CLEARLY_FARTHER: f64 = 1.15;

/// Readings that are off by so many deviations in the mean contradict each other.
const TORN: f64 = 5.0;

/// Readings that are named where they do.
const MOST_TORN: usize = 4;

/// Part of a free direction, of length 1, that must be the port's own for the port to be
/// free: below it only a radius or a rod is.
const OWN: f64 = 1e-6;

/// How often chance alone makes all readings look worse than they are.
const RARE: f64 = 1e-3;

/// A center held to worse than this is not held at all: what was fitted means nothing.
const LOOSE_PLACE: Length = Length::from_mm(100.0);

/// The same for a direction; first order ends here.
const LOOSE_LEAN: Angle = Angle::from_degrees(20.0);

/// A center held to worse than this, one standard deviation, is poorly held: a fit-up
/// takes no more.
const POOR_PLACE: Length = Length::from_mm(2.0);

/// A direction held to worse than this is poorly held: 9 mm at the end of 500.
const POOR_LEAN: Angle = Angle::from_degrees(1.0);

/// A port from readings, and how far to trust it.
#[derive(Clone, Debug, PartialEq)]
pub struct Surveyed {
    /// Center of the face.
    pub center: Point,
    /// From the face into free space.
    pub outward: Direction,
    /// Square to the face, and outward: where that is square, `outward`.
    pub normal: Direction,
    /// How well center and outward direction are known. From the readings' deviations; and if these disagree
    /// more than chance explains, as much more as they disagree.
    pub scatter: Scatter,
    /// How well center and normal are known, likewise.
    pub face_scatter: Scatter,
    /// Diameter of the rim, which is the tube's, where rim or outside were touched.
    pub rim: Option<Length>,
    /// Diameter of the bolt circle, where its holes were touched.
    pub bolt_circle: Option<Length>,
    /// How far the rod's tip is out of the face, where it was taped.
    pub tip: Option<Length>,
    /// What is left over, one entry a reading.
    pub left: Vec<LeftOver>,
    /// Numbers read beyond what it takes: none, and nothing tells a wrong one.
    pub spare: usize,
    /// By how much the readings disagree more than they should; 1 where they should as
    /// they do.
    pub disagreement: f64,
    /// Readings that do not go with the others, the worst first.
    pub suspicions: Vec<Suspicion>,
    /// What holds the port poorly, if it is.
    pub poor: Option<Poor>,
    /// The one more reading that would help most.
    pub next: Option<Next>,
}

/// A port that is poorly held, and why.
#[derive(Clone, Debug, PartialEq)]
pub struct Poor {
    /// The greatest standard deviation of the center, and along what.
    pub place: (Length, Direction),
    /// The greatest standard deviation of the direction, and to which side.
    pub lean: (Angle, Direction),
    /// The same of the face's normal, where that is its own.
    pub face: Option<(Angle, Direction)>,
    /// What about the readings makes it so.
    pub causes: Vec<Cause>,
}

/// A port from all its readings: the least sum of squares, each in its own standard
/// deviations, over center, direction and what else the readings depend on.
///
/// Begins from every guess that the readings give, so that places which fit as well, such
/// as mirrored ones, are found and told. First-order covariance. Bounded: some hundred
/// guesses at most, each with a bounded number of steps.
pub fn survey(readings: &Readings) -> Result<Surveyed, SurveyError> {
    check(readings)?;
    let found = candidates(readings);
    let best = choose(readings, found)?;
    let found = describe(readings, &best).ok_or(SurveyError::Nowhere)?;
    let (place, lean) = (
        found.scatter.ellipsoid()[0].0,
        found.scatter.lean(&found.outward),
    );
    let face = readings
        .face
        .is_mitered()
        .then(|| found.face_scatter.lean(&found.normal));
    if place > LOOSE_PLACE || lean > LOOSE_LEAN || face.is_some_and(|face| face > LOOSE_LEAN) {
        let causes = causes(readings, &best.stance);
        return Err(SurveyError::Loose {
            place,
            lean,
            face,
            causes,
        });
    }
    Ok(found)
}

/// A stance that fits as well as any near it.
struct Found {
    stance: Stance,
    squares: f64,
}

fn check(readings: &Readings) -> Result<(), SurveyError> {
    let count = readings.list.len();
    if count == 0 || count > MOST_READINGS {
        return Err(SurveyError::Count { count });
    }
    let near = readings.near.unwrap_or_default();
    let pins = readings.pins.iter().map(|pin| (&pin.name, pin.at));
    let points = readings
        .list
        .iter()
        .filter_map(|r| Some((&r.name, r.what.point()?)));
    let name = String::from("'near'");
    let wrong = |at: &Point| !at.iter().all(|c| c.abs() <= FARTHEST);
    let places = pins.chain(points).chain([(&name, near)]);
    for (name, at) in places {
        if wrong(&at) {
            return Err(SurveyError::NotFinite { name: name.clone() });
        }
    }
    Ok(())
}

/// Every stance that fits best in its neighborhood, each once, the best first.
fn candidates(readings: &Readings) -> Vec<Found> {
    let has_tip = readings.has(|w| matches!(w, Observed::ToTip { .. }));
    let mut found: Vec<Found> = Vec::new();
    for guess in guesses(readings) {
        let Some((stance, squares)) = settle(readings, guess) else {
            continue;
        };
        // A rod's tip is out of the face, never inside.
        if has_tip && stance.tip <= 0.0 {
            continue;
        }
        // Nor does a face look into its tube.
        if stance.outward.dot(&stance.face) <= 0.0 {
            continue;
        }
        let is_same = |other: &&mut Found| {
            let lean = angle_between(&other.stance.outward, &stance.outward).radians();
            let tilt = angle_between(&other.stance.face, &stance.face).radians();
            let turned = lean.max(tilt);
            (other.stance.center - stance.center).norm() < ONE && turned < ONE * LEAN
        };
        match found.iter_mut().find(is_same) {
            Some(other) if other.squares <= squares => {}
            Some(other) => *other = Found { stance, squares },
            None => found.push(Found { stance, squares }),
        }
    }
    found.sort_by(|a, b| a.squares.total_cmp(&b.squares));
    found
}

/// The best fit from a guess on, about a chart of its own until it stays where it is:
/// leans are small there.
fn settle(readings: &Readings, guess: Stance) -> Option<(Stance, f64)> {
    let mut stance = guess;
    let mut squares = f64::INFINITY;
    for _ in 0..MOST_CHARTS {
        let chart = Chart::new(readings, stance);
        let adjusted = adjust(&chart, chart.start(), None)?;
        stance = chart.stance(&adjusted.x);
        let is_settled = adjusted.squares >= squares * (1.0 - SETTLED);
        squares = adjusted.squares;
        if is_settled {
            break;
        }
    }
    Some((stance, squares))
}

/// The stance that is meant.
fn choose(readings: &Readings, found: Vec<Found>) -> Result<Found, SurveyError> {
    let mut found = found.into_iter();
    let best = found.next().ok_or(SurveyError::Nowhere)?;
    let hold = hold(readings, &best.stance).ok_or(SurveyError::Nowhere)?;
    let free = freedoms(&hold, readings, &best.stance);
    let torn = torn(readings, &best);
    if !free.is_empty() {
        if let Some(error) = torn {
            return Err(error);
        }
        let causes = causes(readings, &best.stance);
        return Err(SurveyError::Free { free, causes });
    }
    let most = best.squares + PLAUSIBLE;
    let faced = best.stance.outward;
    let same = alike(&hold, readings, &best.stance);
    let is_held = !is_saddle(readings, &best.stance);
    let mut all: Vec<Found> = Vec::new();
    for one in std::iter::once(best).chain(found) {
        let is_new = !all.iter().any(|other| same(&other.stance, &one.stance));
        if one.squares <= most && is_new && !(is_held && is_saddle(readings, &one.stance)) {
            all.push(one);
        }
    }
    all.retain(|one| is_behind(readings, &one.stance));
    if all.is_empty() {
        return Err(torn.unwrap_or(SurveyError::Ahead));
    }
    if let Some(toward) = readings.toward {
        keep_toward(readings, &toward, &mut all);
        if all.is_empty() {
            return Err(torn.unwrap_or(SurveyError::Away { outward: faced }));
        }
    }
    if let Some(near) = readings.near {
        let apart = |one: &Found| (one.stance.center - near).norm();
        let least = all.iter().map(apart).fold(f64::INFINITY, f64::min);
        all.retain(|one| apart(one) <= least * CLEARLY_FARTHER + ONE);
    }
    if all.len() > 1 {
        if let Some(error) = torn {
            return Err(error);
        }
        let port = |one: &Found| (one.stance.center, one.stance.outward);
        let ports = Box::new([port(&all[0]), port(&all[1])]);
        let help = tell_apart(readings, &ports);
        return Err(SurveyError::Ambiguous { ports, help });
    }
    Ok(all.swap_remove(0))
}

/// Keeps those that 'toward' may mean.
fn keep_toward(readings: &Readings, toward: &Direction, all: &mut Vec<Found>) {
    // Where it stands square to the axis it tells neither side from the other.
    all.retain(|one| one.stance.outward.dot(toward) > 0.0 || is_aside(one, toward));
    if readings.face.is_mitered() {
        // Two that are each other's mirror image in the face may be near each other.
        let apart = |one: &Found| angle_between(&one.stance.outward, toward).radians();
        let least = all.iter().map(apart).fold(f64::INFINITY, f64::min);
        all.retain(|one| apart(one) <= least * CLEARLY_FARTHER + ONE * LEAN);
    }
}

/// Whether 'toward' says nothing clearly of a port's side.
fn is_aside(one: &Found, toward: &Direction) -> bool {
    one.stance.outward.dot(toward).abs() < ASIDE
}

/// Whether a mitered end is one at which a search may rest though it is no best fit:
/// between two that are each other's mirror image in the face nothing holds the axis.
fn is_saddle(readings: &Readings, stance: &Stance) -> bool {
    if !readings.face.is_mitered() {
        return false;
    }
    let Some(hold) = hold(readings, stance) else {
        return true;
    };
    let chart = Chart::new(readings, stance.clone());
    let lean = chart.scatter(&hold.covariance).lean(&stance.outward);
    lean > LOOSE_LEAN || !freedoms(&hold, readings, stance).is_empty()
}

/// Whether most of the points on the outside are behind the face, where the tube is.
fn is_behind(readings: &Readings, stance: &Stance) -> bool {
    let outside = points(readings, |what| matches!(what, Observed::OnOutside { .. }));
    let is_ahead = |at: &&Point| stance.face.dot(&(**at - stance.center)) > 0.0;
    outside.iter().filter(is_ahead).count() * 2 <= outside.len()
}

/// That readings contradict each other so much that what was fitted means nothing, with
/// those that fit worst.
fn torn(readings: &Readings, best: &Found) -> Option<SurveyError> {
    let chart = Chart::new(readings, best.stance.clone());
    let left = chart.evaluate(&chart.start()).0;
    if best.squares <= TORN * TORN * left.len() as f64 {
        return None;
    }
    let worst = |rows: &std::ops::Range<usize>| left.rows(rows.start, rows.len()).norm();
    let mut order: Vec<usize> = (0..readings.list.len()).collect();
    order.sort_by(|&a, &b| worst(&chart.rows[b]).total_cmp(&worst(&chart.rows[a])));
    let named = order.iter().take(MOST_TORN);
    Some(SurveyError::Torn {
        names: named.map(|&i| readings.list[i].name.clone()).collect(),
    })
}

/// Whether two stances are one port, as well as that is known.
fn alike(
    hold: &Hold,
    readings: &Readings,
    at: &Stance,
) -> impl Fn(&Stance, &Stance) -> bool + use<> {
    let chart = Chart::new(readings, at.clone());
    let scatter = chart.scatter(&hold.covariance);
    let place = ALIKE * scatter.ellipsoid()[0].0.mm();
    let lean = ALIKE * scatter.lean(&at.outward).radians();
    let tilt = ALIKE
        * chart
            .face_scatter(&hold.covariance)
            .lean(&at.face)
            .radians();
    move |a, b| {
        (a.center - b.center).norm() <= place.max(ONE)
            && angle_between(&a.outward, &b.outward).radians() <= lean.max(ONE * LEAN)
            && angle_between(&a.face, &b.face).radians() <= tilt.max(ONE * LEAN)
    }
}

/// What would tell two ports apart.
fn tell_apart(readings: &Readings, ports: &[(Point, Direction); 2]) -> String {
    let mut helps = Vec::new();
    let is_free = readings.has(|w| matches!(w, Observed::ToTip { .. }))
        && !readings.has(|w| matches!(w, Observed::TipOut { .. }));
    if is_free {
        helps.push("give 'tip', how far the rod's tip is out of the face");
    }
    match readings.toward {
        None => helps.push("add 'toward', about which way is out"),
        Some(_) if ports[0].1.dot(&ports[1].1) < 0.0 => {
            helps.push("turn 'toward' to lean clearly to one side");
        }
        Some(_) if readings.face.is_mitered() => {
            helps.push("turn 'toward' clearly nearer to one of them");
        }
        Some(_) => {}
    }
    if (ports[0].0 - ports[1].0).norm() > ONE {
        helps.push(match readings.near {
            None => "add 'near', about where the center is",
            Some(_) => "move 'near' clearly nearer to one of them",
        });
    }
    if helps.is_empty() {
        helps.push("measure one thing more");
    }
    helps.join(", or ")
}

fn hold(readings: &Readings, stance: &Stance) -> Option<Hold> {
    let chart = Chart::new(readings, stance.clone());
    let slopes = chart.evaluate(&chart.start()).1;
    Hold::of(&slopes)
}

/// What of the port is free, in words.
fn freedoms(hold: &Hold, readings: &Readings, stance: &Stance) -> Vec<String> {
    let chart = Chart::new(readings, stance.clone());
    let motions = chart.motions();
    let face_motions = chart.face_motions();
    let described = hold.free.iter().filter_map(|free| {
        let port = free.rows(0, chart.own()).norm();
        if port <= OWN {
            return None;
        }
        let motion: DVector<f64> = &motions * free;
        let shift: Vector = motion.fixed_rows::<3>(0).into_owned();
        let lean = |motion: DVector<f64>, axis: &Direction| {
            let turn: Vector = motion.fixed_rows::<3>(3).into_owned() / LEAN;
            turn.cross(axis)
        };
        let leans = lean(motion, &stance.outward);
        let tilts = readings
            .face
            .is_mitered()
            .then(|| lean(&face_motions * free, &stance.face));
        Some(free_in_words(&shift, &leans, tilts.as_ref()))
    });
    described.collect()
}

/// What may move, from a shift, leans of the axis and those of a face of its own.
fn free_in_words(shift: &Vector, leans: &Vector, tilts: Option<&Vector>) -> String {
    let center = Direction::try_new(*shift, OWN).map(|along| {
        format!(
            "its center may be anywhere along {}",
            direction_text(along.into_inner())
        )
    });
    let leaning = |what: &str, leans: &Vector| {
        let side = Direction::try_new(*leans, OWN)?;
        let side = direction_text(side.into_inner());
        Some(format!("its {what} may lean any amount to {side}"))
    };
    let axis = if tilts.is_some() { "axis" } else { "direction" };
    let lean = leaning(axis, leans);
    let tilt = tilts.and_then(|tilts| leaning("face", tilts));
    let all: Vec<String> = center.into_iter().chain(lean).chain(tilt).collect();
    if all.is_empty() {
        "it is free".to_owned()
    } else {
        all.join(" while ")
    }
}

fn describe(readings: &Readings, best: &Found) -> Option<Surveyed> {
    let judged = judge(readings, &best.stance)?;
    let stance = &judged.stance;
    let chart = Chart::new(readings, stance.clone());
    let left = chart.evaluate(&chart.start()).0;
    let beyond = judged.spare > 0 && judged.squares > chance(judged.spare, RARE);
    let disagreement = if beyond {
        (judged.squares / judged.spare as f64).sqrt()
    } else {
        1.0
    };
    let disagreement = disagreement.max(judged.unsettled);
    let own = chart.scatter(&judged.hold.covariance);
    let of_face = chart.face_scatter(&judged.hold.covariance);
    let [scatter, face_scatter] =
        [own, of_face].map(|own| own.scaled(disagreement).plus(&readings.frame));
    let has = |test| readings.has(test);
    let diameter = |touched: bool, radius: f64| touched.then(|| Length::from_mm(2.0 * radius));
    Some(Surveyed {
        center: stance.center,
        outward: stance.outward,
        normal: stance.face,
        rim: diameter(has(Observed::is_on_tube), stance.rim),
        bolt_circle: diameter(
            has(|w| matches!(w, Observed::OnBoltCircle { .. })),
            stance.bolts,
        ),
        tip: has(|w| matches!(w, Observed::ToTip { .. })).then(|| Length::from_mm(stance.tip)),
        left: left_over(readings, &chart, Some(&judged.hold), &left),
        spare: judged.spare,
        disagreement,
        poor: poor(readings, stance, &scatter, &face_scatter),
        next: next(readings, &chart, stance, &judged.hold, disagreement),
        suspicions: judged.suspicions,
        scatter,
        face_scatter,
    })
}

/// Whether a port is too poorly held, and why.
fn poor(
    readings: &Readings,
    stance: &Stance,
    scatter: &Scatter,
    face_scatter: &Scatter,
) -> Option<Poor> {
    let place = scatter.ellipsoid()[0];
    let lean = scatter.leans(&stance.outward)[0];
    let is_mitered = readings.face.is_mitered();
    let face = is_mitered.then(|| face_scatter.leans(&stance.face)[0]);
    let worst = face.map_or(lean.0, |face| lean.0.max(face.0));
    (place.0 > POOR_PLACE || worst > POOR_LEAN).then(|| Poor {
        place,
        lean,
        face,
        causes: causes(readings, stance),
    })
}

/// A place in words, mm.
pub(super) fn at(point: &Point) -> String {
    let [x, y, z] = [point.x, point.y, point.z].map(|c| c + 0.0);
    format!("({x:.1}, {y:.1}, {z:.1}) mm")
}
