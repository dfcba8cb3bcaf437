//! [`Cost`]: what a run costs to make, in the shop's minutes and money.

use super::flow::{FlowLoss, pie_bend, smooth_bend};
use super::setting::SAME_SETTING;
use super::{Bend, Limits, Make, Route};
use crate::run::{Joint, Run};
use crate::tube::StockBend;
use crate::units::{Angle, Length, LengthUnit, Per, Rate};

/// Price of a meter of tube, in hours of labor, that counts where less is given.
const LEAST_TUBE_PRICE: f64 = 0.01;

/// The shop's rates. Money is in whatever currency the shop counts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rates {
    /// Money for an hour of work.
    pub labor_per_hour: f64,
    /// Money for a length of tube.
    pub tube_rate: Rate,
    /// The stick whose price that rate is, where nobody wrote a rate.
    pub stick: Option<StickPrice>,
    /// Minutes to set the saw to another angle and prove it.
    pub setup_minutes: f64,
    /// Minutes to set the stop, or to measure and mark, for another length of piece.
    pub stop_minutes: f64,
    /// Minutes to mark and check a clock, where one bend turns out of the plane of the
    /// bend before.
    pub clock_minutes: f64,
    /// Minutes to mark, clamp, cut and deburr one cut.
    pub cut_minutes: f64,
    /// Minutes to fit, clock and tack one joint.
    pub fit_up_minutes: f64,
    /// Weld laid in a minute, with its share of cleaning and purging.
    pub weld_per_minute: Length,
    /// Width of metal that the saw turns to chips.
    pub kerf: Length,
    /// What a length of run is worth beside its tube: a weight for short runs. Like the
    /// two below it ranks routes and is no part of the money.
    pub run_weight: Rate,
    /// What a loss of one velocity head is worth: a weight for routes that flow.
    pub flow_loss: f64,
    /// What a length off the one that is wished for is worth: a weight for runs of equal
    /// length.
    pub off_length_weight: Rate,
}

/// What a stick of tube is bought for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StickPrice {
    /// Money for one stick.
    pub price: f64,
    /// How long it is.
    pub length: Length,
    /// Whether others cost less for their length.
    pub is_dearest: bool,
}

impl StickPrice {
    /// Parts of the unit of money that a rate taken from a stick is rounded to, so that a
    /// quote prints it whole: a hundredth of a hundredth.
    const PARTS: f64 = 10_000.0;
    /// Parts of a foot or meter in which its length is told.
    const LONG_PARTS: f64 = 1000.0;

    /// How many of `per`, which is a length, it is long.
    pub fn count(&self, per: Per) -> f64 {
        self.length.mm() / LengthUnit::M.mm() / per.metric()
    }

    /// What that comes to for one of `per`.
    pub fn rate(&self, per: Per) -> Rate {
        let amount = self.price / self.count(per);
        Rate::new((amount * Self::PARTS).round() / Self::PARTS, per)
    }

    /// `price of sticks: 96 for 10 ft`.
    pub fn words(&self, per: Per) -> String {
        let which = if self.is_dearest { ", the dearest" } else { "" };
        let long = (self.count(per) * Self::LONG_PARTS).round() / Self::LONG_PARTS;
        let (price, unit) = (self.price, per.symbol());
        format!("price of sticks{which}: {price} for {long} {unit}")
    }
}

impl Default for Rates {
    /// A small shop's round figures (common practice, no source). Everything that
    /// depends on them is echoed in the plan, to be corrected in the job.
    fn default() -> Self {
        Self::usual(false)
    }
}

impl Rates {
    /// [`Rates::default`], or round figures near those in feet and inches.
    pub fn usual(is_imperial: bool) -> Self {
        let either = |metric: f64, feet: f64| match is_imperial {
            false => Rate::new(metric, Per::Meter),
            true => Rate::new(feet, Per::Foot),
        };
        Self {
            labor_per_hour: 75.0,
            tube_rate: either(40.0, 12.0),
            stick: None,
            setup_minutes: 4.0,
            stop_minutes: 2.0,
            clock_minutes: 2.0,
            cut_minutes: 2.0,
            fit_up_minutes: 4.0,
            weld_per_minute: match is_imperial {
                false => Length::from_mm(50.0),
                true => Length::from_inches(2.0),
            },
            kerf: Length::from_inches(1.0 / 16.0),
            run_weight: either(0.0, 0.0),
            flow_loss: 0.0,
            off_length_weight: either(1000.0, 300.0),
        }
    }

    /// Least that one more miter joint can cost on a tube of `radius`: a cut, a
    /// fit-up, the weld of a square butt and the kerf, with no new set-up.
    pub fn least_per_joint(&self, radius: Length) -> f64 {
        let weld = (radius * std::f64::consts::TAU) / self.weld_per_minute;
        self.labor(self.cut_minutes + self.fit_up_minutes + weld) + self.tube(self.kerf)
    }

    /// Length of tube that costs as much as one radian of turn, made of joints at
    /// the usual cut: how far a route may go round to save a joint.
    pub fn length_per_radian(&self, limits: &Limits, radius: Length) -> Length {
        let joints = 1.0 / (2.0 * limits.usual_cut.radians());
        Length::from_mm(self.least_per_joint(radius) * joints / self.per_mm())
    }

    /// Money that a millimeter of run is worth to the search. Without a price of tube,
    /// length must still count for something.
    pub fn per_mm(&self) -> f64 {
        let least = (LEAST_TUBE_PRICE * self.labor_per_hour).max(1e-9);
        (self.tube_rate.metric() + self.run_weight.metric()).max(least) / 1000.0
    }

    /// Money for `minutes` of work.
    pub fn labor(&self, minutes: f64) -> f64 {
        minutes / 60.0 * self.labor_per_hour
    }

    /// Money for `length` of tube.
    pub fn tube(&self, length: Length) -> f64 {
        length.mm() / 1000.0 * self.tube_rate.metric()
    }
}

/// What a run is priced by.
#[derive(Clone, Copy, Debug)]
pub(super) struct Prices<'a> {
    /// The shop's rates.
    pub rates: &'a Rates,
    /// Stock bends, by the places that bends name them by.
    pub stock: &'a [StockBend],
    /// A length that is wished for.
    pub wish: Option<Length>,
}

/// What one run takes to make.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cost {
    /// Different angles that the saw is set to, square included.
    pub setups: u32,
    /// Saw cuts, both square ends of the stick and trimmed stock bends included.
    pub cuts: u32,
    /// Joints to fit up and weld.
    pub joints: u32,
    /// Lengths that the stop is set to: one for each straight piece, and one for all pies
    /// that are alike.
    pub stops: u32,
    /// Bends that turn out of the plane of the bend before.
    pub clocks: u32,
    /// Weld round the outside of all joints.
    pub weld: Length,
    /// Straight stock used, kerf included.
    pub tube: Length,
    /// Stock bends used.
    pub stock_bends: u32,
    /// What they are bought for.
    pub stock_money: f64,
    /// Shop time.
    pub minutes: f64,
    /// Labor, tube and stock bends together, in the rates' currency.
    pub money: f64,
    /// Loss of the bends.
    pub flow: FlowLoss,
    /// What routes are ranked by: the money and what the shop's weights add.
    pub rank: f64,
}

impl Cost {
    /// Cost of `run`, which is `route` as built; straight pieces cut in order from one
    /// stick. Flange welds are the same for every route and are left out.
    pub(super) fn of(route: &Route, run: &Run, prices: &Prices<'_>) -> Self {
        let rates = prices.rates;
        let welds: Vec<&Joint> = run.welds().collect();
        let joints = u32::try_from(welds.len()).unwrap_or(u32::MAX);
        let setups = settings(welds.iter().map(|joint| joint.cut()));
        let straight = run
            .pieces()
            .iter()
            .filter_map(|placed| placed.piece.straight());
        let (mut pieces, mut tube) = (0_u32, Length::ZERO);
        for piece in straight {
            pieces += 1;
            tube = tube + piece.length() + rates.kerf / piece.end().angle.cos();
        }
        // One cut ends a piece and begins the next; the stick's first end is one more.
        let cuts = trims(route, run, prices.stock) + pieces + u32::from(pieces > 0);
        tube += rates.kerf * f64::from(u32::from(pieces > 0));
        let weld = run.weld_length();
        let stock_money = |bend: &Bend| bend.stock().map(|item| prices.stock[item].price);
        let bought: Vec<f64> = route.bends.iter().filter_map(stock_money).collect();
        let (stops, clocks) = (stops(route, run), clocks(run));
        let minutes = rates.setup_minutes * f64::from(setups)
            + rates.stop_minutes * f64::from(stops)
            + rates.clock_minutes * f64::from(clocks)
            + rates.cut_minutes * f64::from(cuts)
            + rates.fit_up_minutes * f64::from(joints)
            + weld / rates.weld_per_minute;
        let stock_money = bought.iter().sum::<f64>() + 0.0;
        let money = rates.labor(minutes) + rates.tube(tube) + stock_money;
        let flow = flow_loss(route, run.tube().od());
        let off = prices
            .wish
            .map_or(Length::ZERO, |wish| (run.length() - wish).abs());
        let weights = rates.run_weight.metric() * run.length().mm() / 1000.0
            + rates.flow_loss * flow.k
            + rates.off_length_weight.metric() * off.mm() / 1000.0;
        Self {
            setups,
            cuts,
            joints,
            stops,
            clocks,
            weld,
            tube,
            stock_bends: u32::try_from(bought.len()).unwrap_or(u32::MAX),
            stock_money,
            minutes,
            money,
            flow,
            rank: money + weights,
        }
    }
}

/// Cuts on stock bends.
fn trims(route: &Route, run: &Run, stock: &[StockBend]) -> u32 {
    let bent = run.pieces().iter();
    let bent = bent.filter_map(|placed| placed.piece.bent());
    let items = route.bends.iter().filter_map(Bend::stock);
    let cuts = bent.zip(items).map(|(piece, item)| {
        let cuts = stock[item].cuts_to(piece).len();
        u32::try_from(cuts).unwrap_or(u32::MAX)
    });
    cuts.sum()
}

/// Loss of a route's bends; published tables differ by as much as the loss says.
fn flow_loss(route: &Route, od: Length) -> FlowLoss {
    let loss = |bend: &Bend| {
        let clr_per_od = bend.clr / od;
        match bend.make {
            Make::Pies { joints } => pie_bend(bend.turn, joints, clr_per_od),
            Make::Stock { .. } => smooth_bend(bend.turn, clr_per_od),
        }
    };
    route.bends.iter().map(loss).sum()
}

/// Two lengths closer than this share one setting of the stop.
const SAME_STOP: Length = Length::from_mm(0.1);
/// Clocks nearer than this to 0° or 180° are bends in one plane.
const SAME_PLANE: Angle = Angle::from_degrees(0.01);

/// Number of lengths that the stop is set to: one for each straight piece, and one for all
/// pies between two joints of a bend that are alike, in whichever bends they are.
fn stops(route: &Route, run: &Run) -> u32 {
    let within_bends = route
        .bends
        .iter()
        .map(|bend| bend.joints().saturating_sub(1));
    let straight = run
        .pieces()
        .iter()
        .filter(|placed| placed.piece.straight().is_some());
    let straights = u32::try_from(straight.count()).unwrap_or(u32::MAX);
    let pies = route.bends.iter().filter(|bend| bend.joints() > 1);
    let alike = groups(
        pies.map(|bend| bend.pie_length().mm()).collect(),
        SAME_STOP.mm(),
    );
    straights.saturating_sub(within_bends.sum()) + alike
}

/// Number of joints where the bend plane turns.
fn clocks(run: &Run) -> u32 {
    let turns = |joint: &&Joint| joint.clock.sin().abs() > SAME_PLANE.sin();
    u32::try_from(run.joints().iter().filter(turns).count()).unwrap_or(u32::MAX)
}

/// Number of different saw settings among square and `cuts`.
fn settings(cuts: impl Iterator<Item = Angle>) -> u32 {
    groups(
        cuts.map(Angle::radians).chain([0.0]).collect(),
        SAME_SETTING.radians(),
    )
}

/// Number of groups of values that lie within `same` of a neighbor.
fn groups(mut values: Vec<f64>, same: f64) -> u32 {
    values.sort_by(f64::total_cmp);
    let steps = values
        .windows(2)
        .filter(|pair| pair[1] - pair[0] > same)
        .count();
    u32::try_from(steps).unwrap_or(u32::MAX - 1) + u32::from(!values.is_empty())
}
