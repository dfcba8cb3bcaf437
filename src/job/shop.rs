//! [`Shop`]: what the shop can do and what it costs, checked.

use super::file_values::Quantity;
use super::path::Path;
use super::rates_file::RatesFile;
use super::shop_file::ShopFile;
use super::stock::Shelf;
use super::values::{Reader, Sign};
use crate::route::{Limits, LimitsError, Rates};
use crate::run::Allowance;
use crate::scene::Obstacle;
use crate::shop::{Accuracy, MandrelBend, QuoteRates, StickStock};
use crate::tube::Tube;
use crate::units::{Angle, Denominator, Length, Per};

/// Greatest rate, in money or minutes: beyond it, costs are no numbers.
pub(super) const MOST_RATE: f64 = 1e9;

/// Least weld laid in a minute.
const LEAST_WELD: Length = Length::from_mm(0.1);

/// Least usual cut that divides a bend into a sane number of joints.
const LEAST_CUT: Angle = Angle::from_degrees(0.5);

/// What the shop allows in every run, and what is in the way of each.
pub(super) struct Shop {
    pub limits: Limits,
    pub saw_angles: Vec<Angle>,
    pub shelf: Vec<Shelf>,
    pub obstacles: Vec<Obstacle>,
    pub allowance: Allowance,
    pub accuracy: Accuracy,
    pub stick_stock: StickStock,
    pub rates: Rates,
    /// Whether the job says what tube costs.
    pub is_tube_priced: bool,
    pub quote_rates: QuoteRates,
    pub mandrel_bend: MandrelBend,
    pub denominator: Denominator,
}

impl Shop {
    /// The rates of a run of `tube`. Where nobody wrote what tube costs, it costs what its
    /// sticks do.
    pub(super) fn rates_for(&self, tube: &Tube) -> Rates {
        let stick = self.stick_stock.dearest(tube);
        match stick.filter(|_| !self.is_tube_priced) {
            Some(stick) => Rates {
                tube_rate: stick.rate(self.rates.tube_rate.per),
                stick: Some(stick),
                ..self.rates
            },
            None => self.rates,
        }
    }
}

impl Reader<'_> {
    pub(super) fn shop(
        &mut self,
        file: Option<&ShopFile>,
        path: &Path,
        obstacles: Option<Vec<Obstacle>>,
    ) -> Option<Shop> {
        let defaults = ShopFile::default();
        let file = file.unwrap_or(&defaults);
        let usual_default = Limits::USUAL_CUT;
        let max_default = Limits::MAX_CUT;
        // Either given alone takes the other along.
        let usual_cut = self.angle_or(&file.usual_cut, &path.key("usual_cut"), usual_default);
        let max = max_default.max(usual_cut.unwrap_or(usual_default));
        let max_cut = self.angle_or(&file.max_cut, &path.key("max_cut"), max);
        let usual_cut = match file.usual_cut {
            Some(_) => usual_cut,
            None => Some(usual_default.min(max_cut.unwrap_or(max))),
        };
        let short = Limits::MIN_SHORT_SIDE;
        let short = self.length_or(
            &file.min_short_side,
            &path.key("min_short_side"),
            Sign::NotNegative,
            short,
        );
        let gap = self.small_or(&file.gap, &path.key("gap"), Length::ZERO);
        let shrinkage = self.small_or(&file.shrinkage, &path.key("shrinkage"), Length::ZERO);
        let denominator = self.denominator(file.fraction.as_ref(), &path.key("fraction"));
        let accuracy = self.accuracy(file.accuracy.as_ref(), &path.key("accuracy"));
        let stick_stock = self.stick_stock(file, path);
        let rates = self.rates(file, path);
        let quote_rates = self.quote_rates(
            file.rates.as_ref(),
            &path.key("rates"),
            denominator.unwrap_or(Denominator::DEFAULT),
        );
        let mandrel_bend = self.mandrel_bend(file, path);
        let saw_angles = self.saw_angles(file.saw_angles.as_deref(), &path.key("saw_angles"));
        let shelf = self.shelf(file.bends.as_deref(), &path.key("bends"));
        let (usual_cut, max_cut) = (usual_cut?, max_cut?);
        if usual_cut < LEAST_CUT {
            self.error(
                &path.key("usual_cut"),
                "is less than 0.5°: hundreds of joints a bend",
                "9 deg is usual",
            );
        }
        let limits = Limits {
            // Each run fills in its own CLR.
            clr_min: Length::from_mm(1.0),
            clr_max: Length::from_mm(1.0),
            usual_cut,
            max_cut,
            min_short_side: short?,
            min_between: Length::ZERO,
        };
        if limits.check() == Err(LimitsError::Cut) {
            return self.fail(
                &path.key("max_cut"),
                LimitsError::Cut,
                "write for example \"usual_cut\": 9, \"max_cut\": 11.25",
            );
        }
        Some(Shop {
            limits,
            saw_angles: saw_angles?,
            shelf: shelf?,
            obstacles: obstacles?,
            allowance: Allowance {
                gap: gap?,
                shrinkage: shrinkage?,
            },
            accuracy: accuracy?,
            stick_stock: stick_stock?,
            rates: rates?,
            is_tube_priced: file.rates.as_ref().is_some_and(RatesFile::is_tube_priced),
            quote_rates: quote_rates?,
            mandrel_bend: mandrel_bend?,
            denominator: denominator?,
        })
    }

    pub(super) fn rates(&mut self, shop: &ShopFile, path: &Path) -> Option<Rates> {
        let defaults = RatesFile::default();
        let file = shop.rates.as_ref().unwrap_or(&defaults);
        let usual = Rates::usual(self.unit.is_imperial());
        let rates = path.key("rates");
        let kerf = self.small_or(&shop.kerf, &path.key("kerf"), usual.kerf);
        let weld = self.length_or(
            &file.weld_per_minute,
            &rates.key("weld_per_minute"),
            Sign::Positive,
            usual.weld_per_minute,
        );
        if weld.is_some_and(|weld| weld < LEAST_WELD) {
            let help = "check the unit";
            return self.fail(&rates.key("weld_per_minute"), "is less than 0.1 mm", help);
        }
        let mut rate = |[metric, other]: [(&Option<Quantity>, &'static str); 2], usual| {
            let keys = [
                (metric.0, metric.1, Per::Meter),
                (other.0, other.1, Per::Foot),
            ];
            self.rate(keys, &rates, MOST_RATE, usual)
        };
        let tube = rate(
            [
                (&file.tube_per_meter, "tube_per_meter"),
                (&file.tube_per_foot, "tube_per_foot"),
            ],
            usual.tube_rate,
        );
        let of_run = rate(
            [
                (&file.run_per_meter, "run_per_meter"),
                (&file.run_per_foot, "run_per_foot"),
            ],
            usual.run_weight,
        );
        let off_length = rate(
            [
                (&file.off_length_per_meter, "off_length_per_meter"),
                (&file.off_length_per_foot, "off_length_per_foot"),
            ],
            usual.off_length_weight,
        );
        let mut number = |value: &Option<Quantity>, key: &str, default: f64| match value {
            Some(value) => self.number(value, &rates.key(key), 0.0, MOST_RATE),
            None => Some(default),
        };
        let labor = number(&file.labor_per_hour, "labor_per_hour", usual.labor_per_hour);
        let setup = number(&file.setup_minutes, "setup_minutes", usual.setup_minutes);
        let stop = number(&file.stop_minutes, "stop_minutes", usual.stop_minutes);
        let clock = number(&file.clock_minutes, "clock_minutes", usual.clock_minutes);
        let flow_loss = number(&file.flow_loss, "flow_loss", usual.flow_loss);
        let cut = number(&file.cut_minutes, "cut_minutes", usual.cut_minutes);
        let fit_up = number(&file.fit_up_minutes, "fit_up_minutes", usual.fit_up_minutes);
        Some(Rates {
            labor_per_hour: labor?,
            tube_rate: tube?,
            stick: None,
            setup_minutes: setup?,
            cut_minutes: cut?,
            fit_up_minutes: fit_up?,
            weld_per_minute: weld?,
            kerf: kerf?,
            stop_minutes: stop?,
            clock_minutes: clock?,
            run_weight: of_run?,
            flow_loss: flow_loss?,
            off_length_weight: off_length?,
        })
    }
}
