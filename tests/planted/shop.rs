//! [`Shop`]: the tube and the limits that a problem is drawn with.

use crate::support::Numbers;
use runwright::route::{Limits, MAX_BENDS, Task};
use runwright::run::Port;
use runwright::tube::Tube;
use runwright::units::{Angle, Length};

/// Outside diameters of tube on the shelf, in.
const ODS: [f64; 6] = [1.5, 1.75, 2.0, 2.25, 2.5, 3.0];
/// Wall, in.
const WALL: f64 = 0.065;
/// CLRs in outside diameters.
const CLR_PER_OD: (f64, f64) = (1.0, 2.0);
/// Usual cuts, degrees; the common one more often.
const USUAL_CUTS: [f64; 4] = [9.0, 9.0, 9.0, 7.5];
/// Greatest cuts, degrees.
const GREATEST_CUTS: [f64; 3] = [11.25, 11.25, 10.0];
/// Least short sides, mm.
const SHORT_SIDES: [f64; 3] = [3.175, 3.175, 1.5];
/// Least straights between bends, mm.
const BETWEEN: [f64; 4] = [0.0, 0.0, 5.0, 15.0];
/// Least straights at the ports, mm.
const PORT_STRAIGHTS: [f64; 4] = [6.0, 12.7, 12.7, 25.0];
/// Part of the problems that allow no more bends than are planted.
const FEW_BENDS: f64 = 1.0 / 3.0;
/// CLRs in a list.
const LISTED: usize = 3;

/// How CLRs are given.
#[derive(Clone, Debug)]
pub enum Radii {
    One(Length),
    Range(Length, Length),
    List(Vec<Length>),
}

/// Tube and limits.
#[derive(Clone, Debug)]
pub struct Shop {
    pub tube: Tube,
    pub limits: Limits,
    pub radii: Radii,
    pub port_straights: [Length; 2],
    pub one_setting: bool,
    /// Whether no more bends are allowed than the planted run has, which leaves fewer ways
    /// round it.
    pub few_bends: bool,
}

/// One of `of`, each as likely.
pub fn pick<T: Clone>(numbers: &mut Numbers, of: &[T]) -> T {
    let at = numbers.between(0.0, of.len() as f64) as usize;
    of[at.min(of.len() - 1)].clone()
}

impl Shop {
    pub fn easy(numbers: &mut Numbers) -> Self {
        Self::any(numbers, USUAL_CUTS.as_slice())
    }

    pub fn tight(numbers: &mut Numbers) -> Self {
        Self::any(numbers, USUAL_CUTS.as_slice())
    }

    pub fn one_setting(numbers: &mut Numbers) -> Self {
        Self {
            one_setting: true,
            ..Self::any(numbers, &[Limits::USUAL_CUT.degrees()])
        }
    }

    fn any(numbers: &mut Numbers, usual_cuts: &[f64]) -> Self {
        let od = Length::from_inches(pick(numbers, &ODS));
        let tube = Tube::new(od, Length::from_inches(WALL), "304").expect("a real tube");
        let radii = Radii::any(numbers, od);
        let [clr_min, clr_max] = radii.bounds();
        let limits = Limits {
            clr_min,
            clr_max,
            usual_cut: Angle::from_degrees(pick(numbers, usual_cuts)),
            max_cut: Angle::from_degrees(pick(numbers, &GREATEST_CUTS)),
            min_short_side: Length::from_mm(pick(numbers, &SHORT_SIDES)),
            min_between: Length::from_mm(pick(numbers, &BETWEEN)),
        };
        let port_straights = [(); 2].map(|()| Length::from_mm(pick(numbers, &PORT_STRAIGHTS)));
        Self {
            tube,
            limits,
            radii,
            port_straights,
            one_setting: false,
            few_bends: numbers.between(0.0, 1.0) < FEW_BENDS,
        }
    }

    /// Most bends of a task whose planted run has `planted`.
    pub fn most_bends(&self, planted: usize) -> usize {
        if self.few_bends { planted } else { MAX_BENDS }
    }

    /// The task between two ports at this shop.
    pub fn task(&self, start: Port, end: Port) -> Task {
        let [first, last] = self.port_straights;
        let ports = [(start, first), (end, last)];
        let [start, end] = ports.map(|(port, straight)| Port { straight, ..port });
        Task {
            limits: self.limits,
            clrs: match &self.radii {
                Radii::List(list) => list.clone(),
                Radii::One(_) | Radii::Range(..) => Vec::new(),
            },
            one_setting: self.one_setting,
            ..Task::new(self.tube.clone(), start, end)
        }
    }
}

impl Radii {
    /// One CLR in six problems of ten, a range or a list in two each.
    fn any(numbers: &mut Numbers, od: Length) -> Self {
        let (least, most) = CLR_PER_OD;
        let way = numbers.between(0.0, 10.0);
        let mut clr = || od * numbers.between(least, most);
        if way < 6.0 {
            return Self::One(clr());
        }
        if way < 8.0 {
            let (a, b) = (clr(), clr());
            return Self::Range(a.min(b), a.max(b));
        }
        Self::List((0..LISTED).map(|_| clr()).collect())
    }

    fn bounds(&self) -> [Length; 2] {
        match self {
            Self::One(clr) => [*clr; 2],
            Self::Range(least, most) => [*least, *most],
            Self::List(list) => [Length::min, Length::max].map(|bound| {
                let rest = list.iter().copied().reduce(bound);
                rest.expect("lists are not empty")
            }),
        }
    }

    /// A CLR that is allowed.
    pub fn draw(&self, numbers: &mut Numbers) -> Length {
        match self {
            Self::One(clr) => *clr,
            Self::Range(least, most) => *least + (*most - *least) * numbers.between(0.0, 1.0),
            Self::List(list) => pick(numbers, list),
        }
    }
}
