//! What a quote and the growth of a run need to know: the file's, checked.

use super::file::TubeFile;
use super::file_values::Quantity;
use super::path::Path;
use super::rates_file::RatesFile;
use super::run_file::RunFile;
use super::shop::MOST_RATE;
use super::shop_file::ShopFile;
use super::values::{Reader, Sign};
use super::words::kind;
use crate::shop::{MandrelBend, QuoteRates, Service};
use crate::tube::OwnProperties;
use crate::units::{
    Denominator, FlowUnit, Length, Per, Style, Temperature, TemperatureUnit, parse_temperature,
};

/// Greatest percentage.
const MOST_PERCENT: f64 = 10_000.0;

/// Greatest flow of gas, liters a minute or cubic feet an hour: a line that stands open.
const MOST_FLOW: f64 = 10_000.0;

/// Most changes of the bore's gas.
const MOST_CHANGES: f64 = 1000.0;

/// Greatest cross-section of filler, in squares of the wall.
const MOST_FILLER: f64 = 100.0;

/// Thinnest filler rod.
const LEAST_ROD: Length = Length::from_mm(0.1);

/// Densities, g/cm³, from foam metal to past osmium.
const DENSITIES: [f64; 2] = [0.1, 25.0];

/// Coefficients of expansion, 10⁻⁶/°C, that solids have.
const EXPANSIONS: [f64; 2] = [0.0, 200.0];

/// Past this no tube is solid.
const HOTTEST: Temperature = Temperature::from_celsius(3500.0);

/// Longest sign of a currency.
const LONGEST_CURRENCY: usize = 8;

impl Reader<'_> {
    /// What the job says itself of its tube's material.
    pub(super) fn own_properties(&mut self, file: &TubeFile, path: &Path) -> Option<OwnProperties> {
        let mut number = |value: &Option<Quantity>, key: &str, [least, most]: [f64; 2]| match value
        {
            Some(value) => self.number(value, &path.key(key), least, most).map(Some),
            None => Some(None),
        };
        let density = number(&file.density, "density", DENSITIES);
        let expansion = number(&file.expansion, "expansion", EXPANSIONS);
        Some(OwnProperties {
            density: density?,
            expansion: expansion?.map(|micro| micro * 1e-6),
        })
    }

    /// How a run is used.
    pub(super) fn service(&mut self, file: &RunFile, path: &Path) -> Option<Service> {
        let usual = Service::default();
        let hot = match &file.hot {
            Some(value) => self.temperature(value, &path.key("hot")).map(Some),
            None => Some(None),
        };
        let cold = match &file.cold {
            Some(value) => self.temperature(value, &path.key("cold")),
            None => Some(usual.cold),
        };
        if file.cold.is_some() && file.hot.is_none() {
            self.error(
                &path.key("cold"),
                "says how cold the tube is fitted, but not how hot it gets",
                "add \"hot\", such as \"650 C\" or \"1200 F\"",
            );
        }
        let flex = self.flag(&file.flex, &path.key("flex"));
        let weld_flanges = self.flag(&file.weld_flanges, &path.key("weld_flanges"));
        Some(Service {
            hot: hot?,
            cold: cold?,
            flex: flex?,
            weld_flanges: weld_flanges?,
        })
    }

    /// A temperature; a number alone is in °F beside inches and feet, else in °C.
    fn temperature(&mut self, value: &Quantity, path: &Path) -> Option<Temperature> {
        let help = "write text such as \"650 C\" or \"1200 F\"";
        let unit = TemperatureUnit::beside(self.unit.is_imperial());
        let temperature = match (value.0.as_f64(), value.0.as_str()) {
            (Some(number), _) => Temperature::from_unit(number, unit),
            (_, Some(text)) => match parse_temperature(text, unit) {
                Ok(temperature) => temperature,
                Err(error) => return self.fail(path, format!("{text:?} {error}"), help),
            },
            _ => {
                let message = format!("is {}, but must be a temperature", kind(&value.0));
                return self.fail(path, message, help);
            }
        };
        let shown = kind(&value.0);
        if temperature < Temperature::ABSOLUTE_ZERO {
            return self.fail(path, format!("is {shown}: nothing is so cold"), help);
        }
        if !temperature.celsius().is_finite() || temperature > HOTTEST {
            return self.fail(path, format!("is {shown}: no tube is solid there"), help);
        }
        Some(temperature)
    }

    /// A mandrel bend where the shop lists no bends.
    pub(super) fn mandrel_bend(&mut self, file: &ShopFile, path: &Path) -> Option<MandrelBend> {
        let usual = MandrelBend::default();
        let leg = self.length_or(
            &file.mandrel_bend_leg,
            &path.key("mandrel_bend_leg"),
            Sign::NotNegative,
            usual.leg,
        );
        let key = path.key("mandrel_bend_price");
        let price = match &file.mandrel_bend_price {
            Some(value) => self.number(value, &key, 0.0, MOST_RATE).map(Some),
            None => Some(None),
        };
        Some(MandrelBend {
            leg: leg?,
            price: price?,
        })
    }

    /// The rates that a quote counts beside what routes are ranked by.
    pub(super) fn quote_rates(
        &mut self,
        file: Option<&RatesFile>,
        path: &Path,
        denominator: Denominator,
    ) -> Option<QuoteRates> {
        let defaults = RatesFile::default();
        let file = file.unwrap_or(&defaults);
        let style = Style {
            unit: self.unit,
            denominator,
        };
        let usual = QuoteRates::usual(style);
        let currency = self.currency(file, &path.key("currency"));
        let rod = self.filler_rod(file, &path.key("rod"), usual.rod);
        let purge = match &file.purge {
            Some(_) => self.flag(&file.purge, &path.key("purge")).map(Some),
            None => Some(usual.purge),
        };
        let filler = self.rate(
            [
                (&file.filler_per_kg, "filler_per_kg", Per::Kilogram),
                (&file.filler_per_lb, "filler_per_lb", Per::Pound),
            ],
            path,
            MOST_RATE,
            usual.filler,
        );
        let gas = self.rate(
            [
                (
                    &file.gas_per_cubic_meter,
                    "gas_per_cubic_meter",
                    Per::CubicMeter,
                ),
                (
                    &file.gas_per_cubic_foot,
                    "gas_per_cubic_foot",
                    Per::CubicFoot,
                ),
            ],
            path,
            MOST_RATE,
            usual.gas,
        );
        let flow = self.flow(
            [
                (
                    &file.gas_liters_per_minute,
                    "gas_liters_per_minute",
                    FlowUnit::LitersPerMinute,
                ),
                (
                    &file.gas_cubic_feet_per_hour,
                    "gas_cubic_feet_per_hour",
                    FlowUnit::CubicFeetPerHour,
                ),
            ],
            path,
            MOST_FLOW,
            usual.gas_flow,
        );
        let purge_flow = self.flow(
            [
                (
                    &file.purge_liters_per_minute,
                    "purge_liters_per_minute",
                    FlowUnit::LitersPerMinute,
                ),
                (
                    &file.purge_cubic_feet_per_hour,
                    "purge_cubic_feet_per_hour",
                    FlowUnit::CubicFeetPerHour,
                ),
            ],
            path,
            MOST_FLOW,
            usual.purge_flow,
        );
        let mut number = |value: &Option<Quantity>, key: &str, most: f64, usual: f64| match value {
            Some(value) => self.number(value, &path.key(key), 0.0, most),
            None => Some(usual),
        };
        let factor = number(
            &file.filler_factor,
            "filler_factor",
            MOST_FILLER,
            usual.filler_factor,
        );
        let arc = number(&file.arc_share, "arc_share", 1.0, usual.arc_share);
        let changes = number(
            &file.purge_changes,
            "purge_changes",
            MOST_CHANGES,
            usual.purge_changes,
        );
        let job = number(
            &file.job_minutes,
            "job_minutes",
            MOST_RATE,
            usual.job_minutes,
        );
        let overhead = number(
            &file.overhead_percent,
            "overhead_percent",
            MOST_PERCENT,
            usual.overhead_percent,
        );
        let markup = number(
            &file.markup_percent,
            "markup_percent",
            MOST_PERCENT,
            usual.markup_percent,
        );
        Some(QuoteRates {
            currency: currency?,
            style,
            filler: filler?,
            filler_factor: factor?,
            rod: rod?,
            gas: gas?,
            gas_flow: flow?,
            arc_share: arc?,
            purge: purge?,
            purge_flow: purge_flow?,
            purge_changes: changes?,
            job_minutes: job?,
            overhead_percent: overhead?,
            markup_percent: markup?,
        })
    }

    fn currency(&mut self, file: &RatesFile, path: &Path) -> Option<String> {
        let Some(text) = &file.currency else {
            return Some(String::new());
        };
        let text = self.text(text, path)?;
        if text.chars().count() > LONGEST_CURRENCY {
            let message = format!("is longer than {LONGEST_CURRENCY} characters");
            return self.fail(path, message, "write a sign such as USD or €");
        }
        Some(text)
    }

    fn filler_rod(&mut self, file: &RatesFile, path: &Path, usual: Length) -> Option<Length> {
        let rod = self.small_or(&file.rod, path, usual)?;
        if rod < LEAST_ROD {
            return self.fail(path, "is less than 0.1 mm", "check the unit");
        }
        Some(rod)
    }
}
