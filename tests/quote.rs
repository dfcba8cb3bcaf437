//! What a job costs, weighs and grows: sums by hand, published figures, and the same from
//! `plan.json` as from the plan.

#[path = "support/program.rs"]
mod program;

use proptest::prelude::*;
use runwright::export::{Exporter, PlanJson, Sheet};
use runwright::geometry::ellipse_perimeter;
use runwright::job::{Problem, read_job};
use runwright::plan::{Plan, plan, read_plan};
use runwright::shop::{
    Bought, Growth, Item, Line, Made, Money, Quote, QuoteRates, QuotedRun, RunQuote, Unit, Work,
    marked_trim,
};
use runwright::tube::Tube;
use runwright::units::{Length, LengthUnit, Per, Rate};
use serde_json::{Value, json};

/// Half a last digit of minutes, at any of a run's lines.
const MINUTES: f64 = 0.005;

fn job(change: impl FnOnce(&mut Value)) -> Value {
    let mut job = json!({
        "units": "mm",
        "tube": { "od": 63.5, "wall": 1.65, "material": "304" },
        "ports": {
            "a": { "center": [0, 0, 0], "outward": [0, 0, 1] },
            "b": { "center": [300, 0, 400], "outward": [-1, 0, 0] }
        },
        "runs": [{ "name": "run", "from": "a", "to": "b" }]
    });
    change(&mut job);
    job
}

fn read(job: &Value) -> Result<Plan, Vec<Problem>> {
    let bytes = serde_json::to_vec(job).expect("JSON");
    let checked = read_job(&bytes, "job");
    match checked.job {
        Some(job) => plan(&job),
        None => Err(checked.errors),
    }
}

fn planned(job: &Value) -> Plan {
    read(job).unwrap_or_else(|problems| panic!("{problems:?}"))
}

/// What is wrong with a job, as lines `path: message`.
fn refused(job: &Value) -> String {
    match read(job) {
        Ok(_) => panic!("is planned"),
        Err(problems) => problems.iter().map(|p| format!("{p}\n")).collect(),
    }
}

fn plan_json(plan: &Plan) -> Vec<u8> {
    let files = PlanJson.files(plan).expect("a file");
    files.into_iter().next().expect("one file").bytes
}

fn sheet(plan: &Plan) -> String {
    let files = Sheet.files(plan).expect("a file");
    String::from_utf8(files.into_iter().next().expect("one file").bytes).expect("text")
}

fn line(run: &RunQuote, item: Item) -> &Line {
    let found = run.lines.iter().find(|line| line.item == item);
    found.unwrap_or_else(|| panic!("{item:?} is a line"))
}

/// Jobs of every kind: pies, stock bends, both, straight tube, a copy, several runs.
fn examples() -> Vec<Plan> {
    ["stack", "duct", "charge", "copy", "jig"]
        .map(|name| {
            let path = format!("{}/examples/{name}.json", env!("CARGO_MANIFEST_DIR"));
            let bytes = std::fs::read(path).expect("an example");
            plan(&read_job(&bytes, name).job.expect("a job")).expect("a plan")
        })
        .into()
}

#[test]
fn a_quote_by_hand() {
    let tube = Tube::new(Length::from_mm(50.0), Length::from_mm(2.0), "304").expect("a tube");
    let work = Work {
        setups: 2,
        stops: 3,
        clocks: 1,
        cuts: 5,
        joints: 4,
        weld: Length::from_mm(640.0),
        tube: Length::from_mm(812.4),
        length: Length::from_mm(1000.0),
        smallest: None,
        bought: vec![Bought {
            name: "elbow".into(),
            count: 2,
            price: Some(12.5),
        }],
    };
    let rates = runwright::route::Rates::default();
    let run = QuotedRun {
        name: "run",
        tube: &tube,
        gap: Length::ZERO,
        rates: &rates,
        work: &work,
        longer: Length::ZERO,
        weld_flanges: false,
    };
    let quote = Quote::new(&[run], &QuoteRates::default());
    let [run] = quote.runs.as_slice() else {
        panic!("one run");
    };
    let money = |item| line(run, item).money.to_string();
    assert_eq!(money(Item::Tube), "32.48"); // 0.812 m × 40
    assert_eq!(money(Item::StockBend), "25.00"); // 2 × 12.50
    assert_eq!(money(Item::Setups), "10.00"); // 8 min × 75/h
    assert_eq!(money(Item::Stops), "7.50"); // 6 min
    assert_eq!(money(Item::Clocks), "2.50"); // 2 min
    assert_eq!(money(Item::Cuts), "12.50"); // 10 min
    assert_eq!(money(Item::FitUps), "20.00"); // 16 min
    assert_eq!(money(Item::Weld), "16.00"); // 640/50 = 12.8 min
    // 640 mm × 0.75·2² mm² × 8.00 g/cm³ = 15.36 g, as printed 15.4 g, at 30/kg.
    assert_eq!(line(run, Item::Filler).quantity_text(), "15.4 g");
    assert_eq!(money(Item::Filler), "0.46");
    // 6.4 min of arc × 8 L/min at 15/m³.
    assert_eq!(line(run, Item::ShieldingGas).quantity_text(), "51.2 L");
    assert_eq!(money(Item::ShieldingGas), "0.77");
    // 6 × π·23²·1000 mm³ = 9.97 L, and 12.8 min × 5 L/min = 64 L.
    assert_eq!(line(run, Item::PurgeGas).quantity_text(), "74.0 L");
    assert_eq!(money(Item::PurgeGas), "1.11");
    assert_eq!(run.money.to_string(), "128.32");
    // 30 min of job time at 75/h, and 20 % on 165.82.
    assert_eq!(quote.cost.to_string(), "165.82");
    assert_eq!(quote.price.to_string(), "198.98");
    // Rod 1.5875 mm: 1920 mm³ / 1.97933 mm².
    assert!((run.rod.mm() - 970.03).abs() < 0.01, "{:?}", run.rod);
}

#[test]
fn a_quote_agrees_with_what_routes_are_ranked_by() {
    for plan in examples() {
        let quote = plan.quote();
        for (planned, run) in plan.runs.iter().zip(&quote.runs) {
            let cost = &planned.solution.best.cost;
            assert!(
                (run.minutes - cost.minutes).abs() <= 6.0 * MINUTES,
                "{run:?}"
            );
            let ranked = |line: &&Line| {
                line.item.is_labor() || matches!(line.item, Item::Tube | Item::StockBend)
            };
            let money: Money = run.lines.iter().filter(ranked).map(|l| l.money).sum();
            // Half a cent a line, half a millimeter of tube and a half hundredth a time. The
            // quote counts what is sawn longer too.
            let rates = &plan.job.runs[0].task.rates;
            let closing = planned.stack_up.closing;
            let longer = closing.map_or(Length::ZERO, |closing| {
                marked_trim(closing.trim, plan.job.style.unit)
            });
            let money = money.amount() - rates.tube(longer);
            let off = 9.0 * 0.005
                + 0.0005 * rates.tube_rate.metric()
                + 6.0 * MINUTES / 60.0 * rates.labor_per_hour;
            assert!((money - cost.money).abs() <= off, "{money} {}", cost.money);
            // Welds: Ramanujan's second formula for each ellipse is good to 1e-9 here.
            let radius = planned.run().tube().radius().mm();
            let weld: f64 = planned
                .run()
                .welds()
                .map(|joint| {
                    let (a, b) = (radius / joint.cut().cos(), radius);
                    let h = ((a - b) / (a + b)).powi(2);
                    std::f64::consts::PI
                        * (a + b)
                        * (1.0 + 3.0 * h / (10.0 + (4.0 - 3.0 * h).sqrt()))
                })
                .sum();
            assert!((cost.weld.mm() - weld).abs() < 1e-6);
        }
    }
}

#[test]
fn weld_perimeters_are_those_of_the_table() {
    // P/D = 2·E(m)/(π/2)… from Abramowitz & Stegun, Table 17.2 (printing from memory;
    // digits computed with scipy 1.17.1), at saw angles 0 to 45°.
    for (cut, per_od) in [
        (0.0_f64, std::f64::consts::PI),
        (7.5, 3.155_161_55),
        (9.0, 3.161_203_15),
        (11.25, 3.172_441_00),
        (15.0, 3.197_244_46),
        (22.5, 3.272_294_32),
        (30.0, 3.388_958_81),
        (45.0, 3.820_197_79),
    ] {
        let weld = ellipse_perimeter(0.5 / cut.to_radians().cos(), 0.5);
        assert!((weld - per_od).abs() < 1e-8, "{cut}°: {weld}");
    }
}

#[test]
fn a_plan_that_is_read_back_quotes_the_same() {
    for plan in examples() {
        let file = read_plan(&plan_json(&plan)).unwrap_or_else(|p| panic!("{p:?}"));
        assert_eq!(file.quote(), plan.quote());
        assert_eq!(file.cautions(), plan.cautions());
        for ((read, planned), job_run) in file.runs.iter().zip(&plan.runs).zip(&plan.job.runs) {
            let quoting = planned.quoting(job_run, plan.job.style.unit);
            assert_eq!(read.quoting.others.len(), quoting.others.len());
            // But for the last digit of a decimal read back, which no printed line shows.
            let columns = |q: &runwright::plan::Quoting| -> Vec<_> {
                let rates = &plan.job.quote_rates;
                let columns = q.side_by_side(&planned.name, planned.run().tube(), rates);
                let shown = |c: &runwright::plan::Column| (c.minutes, c.money, c.work.joints);
                columns.iter().map(shown).collect()
            };
            assert_eq!(columns(&read.quoting), columns(&quoting));
            let amount = |growth: Option<Growth>| growth.map(|growth| growth.amount().mm());
            match (amount(read.growth()), amount(planned.growth(job_run))) {
                (Some(read), Some(planned)) => assert!((read - planned).abs() < 1e-9),
                (read, planned) => assert_eq!(read, planned),
            }
        }
    }
}

/// The job of `job` in inches: as near as a tape reads it.
fn inch_job(change: impl FnOnce(&mut Value)) -> Value {
    job(|job| {
        job["units"] = json!("in");
        job["tube"] = json!({ "od": 2.5, "wall": 0.065, "material": "304" });
        job["ports"]["b"]["center"] = json!([11.75, 0, 15.75]);
        change(job);
    })
}

/// What of a job's quote is read from its `plan.json` alone, which must be all of it.
fn quoted_again(plan: &Plan) -> Quote {
    let file = read_plan(&plan_json(plan)).unwrap_or_else(|p| panic!("{p:?}"));
    assert_eq!(file.quote(), plan.quote());
    file.quote()
}

#[test]
fn an_inch_job_is_quoted_in_feet_pounds_and_cubic_feet() {
    // Once: 0.401 m at 40/m, welds in mm at 50 mm/min, g and L, which no US shop reads.
    let plan = planned(&inch_job(|_| ()));
    let quote = quoted_again(&plan);
    let run = &quote.runs[0];
    let rates = |item| line(run, item).rate_text();
    assert_eq!(rates(Item::Tube), "12/ft");
    assert_eq!(rates(Item::Filler), "14/lb");
    assert_eq!(rates(Item::ShieldingGas), "0.4/ft³");
    assert_eq!(rates(Item::PurgeGas), "0.4/ft³");
    let all = run.lines.iter().chain(&run.apart);
    let words: Vec<String> = all
        .map(|line| line.quantity_text() + " " + &line.how)
        .collect();
    for metric in [" mm", " m", " g", " L", "mm²", "L/min"] {
        let has = |words: &&String| {
            let at = words.find(metric);
            // "min" is no meter.
            at.is_some_and(|at| !words[at + metric.len()..].starts_with(char::is_alphabetic))
        };
        assert_eq!(words.iter().find(has), None, "{metric}");
    }
    // By hand from the work: a foot is 304.8 mm, a pound 453.59237 g, a cubic foot
    // 28.316846592 L.
    let work = Work::of(&plan.runs[0].solution.best, &[]);
    let closing = plan.runs[0].stack_up.closing.expect("a piece for last");
    let longer = (closing.trim.inches() * 16.0 - 1e-6).ceil() / 16.0;
    let feet = (work.tube.inches() + longer) / 12.0;
    assert!((line(run, Item::Tube).quantity - feet).abs() <= 5.1e-4);
    let wall = 0.065 * 25.4;
    let pounds = work.weld.mm() * 0.75 * wall * wall * 8.0e-3 / 453.592_37;
    assert!((line(run, Item::Filler).quantity - pounds).abs() <= 5.1e-4);
    // Half of the time an arc; two inches a minute.
    let cubic_feet = work.weld.inches() / 2.0 * 0.5 * 15.0 / 60.0;
    assert!((line(run, Item::ShieldingGas).quantity - cubic_feet).abs() <= 5.1e-3);
    let pace = line(run, Item::Weld);
    assert!((pace.quantity - work.weld.inches() / 2.0).abs() <= 5.1e-3);
    assert!(pace.how.ends_with(" in at 2 in/min"), "{}", pace.how);
    // Other programs find the unit beside the quantity, and every rate in metric units too.
    let file: Value = serde_json::from_slice(&plan_json(&plan)).expect("JSON");
    let units: Vec<&str> = file["quote"]["runs"][0]["lines"]
        .as_array()
        .expect("lines")
        .iter()
        .map(|line| line["unit"].as_str().expect("a unit"))
        .collect();
    assert_eq!(units.first(), Some(&"ft"));
    assert_eq!(units[units.len() - 3..], ["lb", "ft3", "ft3"]);
    let rates = &file["runs"][0]["rates"];
    assert_eq!(rates["tube_per_foot"], json!(12.0));
    let per_meter = rates["tube_per_meter"].as_f64().expect("a rate");
    assert!((per_meter - 12.0 / 0.3048).abs() < 1e-12);
}

#[test]
fn a_line_counts_in_the_unit_its_rate_was_written_in() {
    let rates = json!({ "rates": { "tube_per_foot": 9.75, "filler_per_lb": 11,
        "gas_per_cubic_foot": 0.35, "gas_cubic_feet_per_hour": 20 } });
    let quote = quoted_again(&planned(&job(|job| job["shop"] = rates)));
    let run = &quote.runs[0];
    assert_eq!(line(run, Item::Tube).rate_text(), "9.75/ft");
    assert_eq!(line(run, Item::Filler).rate_text(), "11/lb");
    let gas = line(run, Item::ShieldingGas);
    assert_eq!(gas.rate_text(), "0.35/ft³");
    assert!(gas.how.ends_with("× 20 ft³/h"), "{}", gas.how);
    // Its weld is told as the job is written, and its purge flows as usual there.
    assert!(line(run, Item::Weld).how.ends_with(" mm at 50 mm/min"));
    assert!(line(run, Item::PurgeGas).how.ends_with("× 5 L/min"));
    let rates = json!({ "rates": { "tube_per_meter": 40, "filler_per_kg": 30,
        "gas_per_cubic_meter": 15, "gas_liters_per_minute": 8 } });
    let quote = quoted_again(&planned(&inch_job(|job| job["shop"] = rates)));
    let run = &quote.runs[0];
    let units = [Item::Tube, Item::Filler, Item::ShieldingGas].map(|item| line(run, item).unit);
    assert_eq!(units, [Unit::Meters, Unit::Grams, Unit::Liters]);
}

#[test]
fn routes_are_ranked_alike_in_either_unit() {
    let priced = |key: &str, amount: f64| {
        let rates = json!({ key: amount, "weld_per_minute": "50 mm" });
        let plan = planned(&job(|job| job["shop"] = json!({ "rates": rates })));
        plan.runs[0].solution.best.cost.rank
    };
    let (meter, foot) = (
        priced("tube_per_meter", 100.0),
        priced("tube_per_foot", 30.48),
    );
    assert!((meter - foot).abs() < 1e-9, "{meter} {foot}");
}

#[test]
fn a_rate_in_two_units_is_refused() {
    for [one, other] in [
        ["tube_per_meter", "tube_per_foot"],
        ["run_per_meter", "run_per_foot"],
        ["off_length_per_meter", "off_length_per_foot"],
        ["filler_per_kg", "filler_per_lb"],
        ["gas_per_cubic_meter", "gas_per_cubic_foot"],
        ["gas_liters_per_minute", "gas_cubic_feet_per_hour"],
        ["purge_liters_per_minute", "purge_cubic_feet_per_hour"],
    ] {
        let text = refused(&job(|job| {
            job["shop"] = json!({ "rates": { one: 1, other: 1 } })
        }));
        let expected = format!("shop.rates.{other}: stands beside {one}");
        assert!(text.contains(&expected), "{text}");
    }
}

#[test]
fn tube_costs_what_its_sticks_do_where_no_rate_is_written() {
    // Once: a stick of 10 ft for 96 was quoted at the usual 40 a meter.
    let sticks = json!([{ "length": "10 ft", "price": 96 }]);
    let shop = |sticks: &Value| json!({ "sticks": sticks });
    let plan = planned(&inch_job(|job| job["shop"] = shop(&sticks)));
    let quote = quoted_again(&plan);
    let tube = line(&quote.runs[0], Item::Tube);
    assert_eq!(tube.rate_text(), "9.6/ft");
    assert!(
        tube.how.ends_with("; price of sticks: 96 for 10 ft"),
        "{}",
        tube.how
    );
    // Routes are ranked by the same.
    let cost = &plan.runs[0].solution.best.cost;
    let rates = &plan.job.runs[0].task.rates;
    let own = rates.labor(cost.minutes) + 9.6 * cost.tube.inches() / 12.0;
    assert!((cost.money - own).abs() < 1e-9);
    // In meters; a price that does not divide is rounded, so that the line is what it prints.
    let thirds = json!([{ "length": "6 m", "price": 100 }]);
    let quote = quoted_again(&planned(&job(|job| job["shop"] = shop(&thirds))));
    let tube = line(&quote.runs[0], Item::Tube);
    assert_eq!(tube.rate_text(), "16.6667/m");
    assert!(tube.how.ends_with("; price of sticks: 100 for 6 m"));
    // Of several the dearest for its length that there is and that the run may be cut from.
    let several = json!([
        { "length": "20 ft", "price": 96 },
        { "length": "4 ft", "price": 40 },
        { "length": "1 ft", "price": 90, "count": 0 },
        { "length": "1 ft", "price": 99, "od": 3 }
    ]);
    let quote = quoted_again(&planned(&inch_job(|job| job["shop"] = shop(&several))));
    let tube = line(&quote.runs[0], Item::Tube);
    assert_eq!(tube.rate_text(), "10/ft");
    assert!(
        tube.how
            .ends_with("; price of sticks, the dearest: 40 for 4 ft")
    );
    // A written rate counts before it, and without a price there is the usual one.
    for (key, rate, expected) in [
        ("tube_per_foot", json!(7), "7/ft"),
        ("tube_per_meter", json!(7), "7/m"),
        ("tube_per_foot", Value::Null, "9.6/ft"),
    ] {
        let plan = planned(&inch_job(|job| {
            job["shop"] = json!({ "sticks": sticks, "rates": { key: rate } });
        }));
        assert_eq!(
            line(&plan.quote().runs[0], Item::Tube).rate_text(),
            expected
        );
    }
    let unpriced = json!([{ "length": "10 ft" }]);
    let plan = planned(&inch_job(|job| job["shop"] = shop(&unpriced)));
    assert_eq!(line(&plan.quote().runs[0], Item::Tube).rate_text(), "12/ft");
}

#[test]
fn what_is_sawn_longer_for_last_is_in_the_tube() {
    // Once: the tube was that of the pieces and their kerf, and the stick lost more.
    let plan = planned(&job(|_| ()));
    let run = &quoted_again(&plan).runs[0];
    let closing = plan.runs[0].stack_up.closing.expect("a piece for last");
    let longer = (closing.trim.mm() - 1e-6).ceil();
    assert!(longer >= 1.0);
    let used = plan.runs[0].solution.best.cost.tube.mm() + longer;
    let tube = line(run, Item::Tube);
    assert!((tube.quantity * 1000.0 - used).abs() <= 0.51, "{tube:?}");
    let expected = format!("kerf and {longer:.1} mm for the piece left for last included");
    assert_eq!(tube.how, expected);
    // What the saw sheet comes to at the end of its stick, the stick's first cut apart.
    let layouts = [];
    let sawn = plan.job.kerf() + {
        let list = runwright::shop::CutList::new(
            &[plan.runs[0].run()],
            plan.job.kerf(),
            &layouts,
            &plan.longer(),
        );
        let [stick] = list.sticks.as_slice() else {
            panic!("one stick");
        };
        stick.cuts.iter().map(|cut| cut.feed).sum::<Length>()
    };
    assert!((sawn.mm() - used).abs() < 1e-6, "{sawn:?} {used}");
}

#[test]
fn costs_before_and_after_overhead_have_names_of_their_own() {
    // Once: "all costs" stood without overhead, and the markup was "of all costs" with it.
    let plan = planned(&job(|job| {
        job["shop"] = json!({ "rates": { "overhead_percent": 25, "currency": "EUR" } });
    }));
    let quote = plan.quote();
    let text = sheet(&plan);
    let (overhead, markup) = (quote.overhead.clone(), quote.markup.clone());
    let (overhead, markup) = (overhead.expect("a line"), markup.expect("a line"));
    assert_eq!(quote.all_costs(), quote.cost + overhead.money);
    assert_eq!(markup.quantity, quote.all_costs().amount());
    program::says(&text, &format!("{}  costs before overhead", quote.cost));
    program::says(&text, &format!("{}  all costs\n", quote.all_costs()));
    program::says(&text, "labor, tube and bends");
    program::says(
        &text,
        " EUR (QUOTE adds filler, gas and what is sawn longer)",
    );
    assert!(!text.contains("labor and material"));
    let without = sheet(&planned(&job(|_| ())));
    assert!(!without.contains("before overhead") && without.contains("  all costs\n"));
}

#[test]
fn the_rods_diameter_and_its_length_have_names_of_their_own() {
    let plan = planned(&job(|job| job["shop"] = json!({ "rates": { "rod": 2.4 } })));
    let mut file: Value = serde_json::from_slice(&plan_json(&plan)).expect("JSON");
    assert_eq!(file["quoting"]["filler_rod_mm"], json!(2.4));
    let long = file["quote"]["runs"][0]["rod_length_mm"].as_f64();
    assert_eq!(long, Some(plan.quote().runs[0].rod.mm()));
    // An older plan calls the diameter as it then called the length.
    let quoting = file["quoting"].as_object_mut().expect("an object");
    quoting.remove("filler_rod_mm");
    quoting.insert("rod_mm".to_owned(), json!(2.4));
    let bytes = serde_json::to_vec(&file).expect("JSON");
    let read = read_plan(&bytes).unwrap_or_else(|p| panic!("{p:?}"));
    assert_eq!(read.quote(), plan.quote());
}

#[test]
fn an_older_plan_takes_the_defaults() {
    let plan = planned(&job(|_| ()));
    let mut file: Value = serde_json::from_slice(&plan_json(&plan)).expect("JSON");
    let root = file.as_object_mut().expect("an object");
    root.remove("quoting");
    let run = root["runs"][0].as_object_mut().expect("a run");
    for key in ["service", "other_ways", "rates"] {
        run.remove(key);
    }
    let bytes = serde_json::to_vec(&file).expect("JSON");
    let read = read_plan(&bytes).unwrap_or_else(|p| panic!("{p:?}"));
    assert_eq!(read.quote(), plan.quote());
    // Without counts there is nothing to quote, and nothing is made up.
    file["runs"][0]
        .as_object_mut()
        .expect("a run")
        .remove("cost");
    let bytes = serde_json::to_vec(&file).expect("JSON");
    let read = read_plan(&bytes).unwrap_or_else(|p| panic!("{p:?}"));
    assert!(read.quote().runs.is_empty());
}

#[test]
fn spoiled_numbers_of_a_plan_are_refused_with_their_place() {
    let plan = planned(&job(|_| ()));
    let file: Value = serde_json::from_slice(&plan_json(&plan)).expect("JSON");
    for (pointer, spoiled, path) in [
        (
            "/runs/0/rates/labor_per_hour",
            json!(-1),
            "runs[0].rates.labor_per_hour",
        ),
        (
            "/runs/0/rates/weld_mm_per_minute",
            json!(0),
            "runs[0].rates.weld_mm_per_minute",
        ),
        ("/runs/0/cost/cuts", json!(1.5), "runs[0].cost.cuts"),
        ("/runs/0/cost/weld_mm", json!("far"), "runs[0].cost.weld_mm"),
        (
            "/quoting/markup_percent",
            json!(1e300),
            "quoting.markup_percent",
        ),
        ("/quoting/filler_rod_mm", json!(0), "quoting.filler_rod_mm"),
        ("/runs/0/service/flex", json!(1), "runs[0].service.flex"),
    ] {
        let mut file = file.clone();
        *file
            .pointer_mut(pointer)
            .unwrap_or_else(|| panic!("{pointer}")) = spoiled;
        let bytes = serde_json::to_vec(&file).expect("JSON");
        let problems = read_plan(&bytes).expect_err("is refused");
        assert!(
            problems.iter().any(|p| p.path == path),
            "{path}: {problems:?}"
        );
    }
}

#[test]
fn hostile_rates_are_refused_with_their_place() {
    for (key, value) in [
        ("filler_per_kg", json!(-1)),
        ("filler_per_lb", json!(-1)),
        ("tube_per_foot", json!(1e10)),
        ("gas_per_cubic_foot", json!(false)),
        ("gas_cubic_feet_per_hour", json!(1e5)),
        ("purge_cubic_feet_per_hour", json!("10")),
        ("filler_factor", json!(1e9)),
        ("rod", json!(0)),
        ("gas_per_cubic_meter", json!(1e300)),
        ("gas_liters_per_minute", json!("much")),
        ("arc_share", json!(1.5)),
        ("purge", json!("yes")),
        ("purge_liters_per_minute", json!(-0.1)),
        ("purge_changes", json!(1e5)),
        ("job_minutes", json!(1e10)),
        ("overhead_percent", json!(null)),
        ("markup_percent", json!(-5)),
        ("currency", json!("a\u{7}")),
        ("currency", json!("far too long for it")),
    ] {
        if value.is_null() {
            continue; // null is as if it were left out
        }
        let text = refused(&job(|job| job["shop"] = json!({ "rates": { key: value } })));
        assert!(text.contains(&format!("shop.rates.{key}")), "{key}: {text}");
    }
    for (key, value) in [
        ("hot", json!("-300 C")),
        ("hot", json!("9999 C")),
        ("hot", json!("650 in")),
        ("hot", json!(true)),
        ("cold", json!("20 C")),
        ("flex", json!("yes")),
        ("weld_flanges", json!(1)),
    ] {
        let text = refused(&job(|job| job["runs"][0][key] = value.clone()));
        assert!(
            text.contains(&format!("runs[0].{key}")),
            "{key} {value}: {text}"
        );
    }
    for (key, value) in [
        ("density", json!(0)),
        ("density", json!(100)),
        ("expansion", json!(-1)),
    ] {
        let text = refused(&job(|job| job["tube"][key] = value.clone()));
        assert!(text.contains(&format!("tube.{key}")), "{key}: {text}");
    }
}

#[test]
fn the_greatest_rates_still_make_numbers() {
    let most = 1e9;
    let plan = planned(&job(|job| {
        job["shop"] = json!({ "rates": {
            "labor_per_hour": most, "tube_per_meter": most, "cut_minutes": most,
            "fit_up_minutes": most, "filler_per_kg": most, "gas_per_cubic_meter": most,
            "job_minutes": most, "markup_percent": 10_000, "overhead_percent": 10_000 } });
    }));
    let quote = plan.quote();
    assert!(quote.price > quote.cost && quote.price.amount().is_finite());
}

#[test]
fn growth_is_the_chords_whatever_way_the_run_goes() {
    // 304, ASM sheet (seen): 18.7e-6 from 20 to 650 °C; chord 500 mm: 5.8905 mm (computed).
    let hot = |job: &mut Value| job["runs"][0]["hot"] = json!("650 C");
    let plan = planned(&job(hot));
    let growth = plan.runs[0]
        .growth(&plan.job.runs[0])
        .expect("304 is known");
    assert!((growth.amount().mm() - 5.8905).abs() < 1e-9, "{growth:?}");
    let [x, y, z]: [f64; 3] = growth.between.into();
    assert!((x / z - 0.75).abs() < 1e-12 && y.abs() < 1e-12);
    // Its pieces' own growth, added as vectors along their axes, is the same: no route
    // gets round that.
    let mut sum = runwright::geometry::Vector::zeros();
    for placed in plan.runs[0].run().pieces() {
        sum += placed.axis.into_inner() * growth.along(placed.edge).mm();
    }
    assert!((sum - growth.between).norm() < 1e-9);
    assert!(plan.warnings.iter().any(|w| w.path == "runs[0].flex"));
    // The same in °F: 1202 °F.
    let fahrenheit = planned(&job(|job| job["runs"][0]["hot"] = json!("1202 F")));
    let same = fahrenheit.runs[0]
        .growth(&fahrenheit.job.runs[0])
        .expect("known");
    assert!((same.amount() - growth.amount()).abs().mm() < 1e-9);
}

#[test]
fn a_slip_joint_or_a_short_growth_does_not_warn() {
    let warned = |change: &dyn Fn(&mut Value)| {
        let plan = planned(&job(change));
        plan.warnings.iter().any(|w| w.path == "runs[0].flex")
    };
    assert!(!warned(&|_| ()), "nothing is said of heat");
    assert!(!warned(&|job| job["runs"][0]["hot"] = json!("60 C")));
    assert!(warned(&|job| job["runs"][0]["hot"] = json!("650 C")));
    assert!(!warned(&|job| {
        job["runs"][0]["hot"] = json!("650 C");
        job["runs"][0]["flex"] = json!(true);
    }));
}

#[test]
fn a_material_that_is_not_known_is_not_guessed() {
    let plan = planned(&job(|job| {
        job["tube"]["material"] = json!("unobtainium");
        job["runs"][0]["hot"] = json!("650 C");
    }));
    let text = sheet(&plan);
    program::says(&text, "MASS not known");
    program::says(&text, "Known are 304, 316");
    program::says(&text, "GROWTH Not known for 'unobtainium'");
    assert!(plan.warnings.iter().any(|w| w.path == "runs[0].hot"));
    let quote = plan.quote();
    assert!(
        quote.runs[0]
            .lines
            .iter()
            .all(|line| line.item != Item::Filler)
    );
    assert!(
        quote.runs[0]
            .notes
            .iter()
            .any(|note| note.contains("density"))
    );
    // What the job says itself is taken.
    let own = planned(&job(|job| {
        job["tube"]["material"] = json!("unobtainium");
        job["tube"]["density"] = json!(8.0);
        job["tube"]["expansion"] = json!(18.7);
        job["runs"][0]["hot"] = json!("650 C");
    }));
    let growth = own.runs[0].growth(&own.job.runs[0]).expect("the job's own");
    assert!((growth.amount().mm() - 5.8905).abs() < 1e-9);
    let file = read_plan(&plan_json(&own)).expect("a plan");
    assert_eq!(file.runs[0].run.tube(), own.runs[0].run().tube());
}

#[test]
fn masses_of_pieces_add_up() {
    let plan = planned(&job(|_| ()));
    let file: Value = serde_json::from_slice(&plan_json(&plan)).expect("JSON");
    let run = &file["runs"][0];
    let pieces = run["pieces"].as_array().expect("pieces");
    let sum: f64 = pieces
        .iter()
        .filter_map(|piece| piece["mass_kg"].as_f64())
        .sum();
    assert!((sum - run["mass_kg"].as_f64().expect("a mass")).abs() < 1e-12);
    // By the mesh's volume, which knows nothing of the formula, as facets grow.
    let mesh = plan.runs[0]
        .run()
        .mesh(runwright::tube::Facets::at_least(1024), false);
    let by_mesh = mesh.volume_mm3() * 8.0e-6;
    assert!((sum / by_mesh - 1.0).abs() < 1e-4, "{sum} {by_mesh}");
}

#[test]
fn pies_stand_beside_bends_of_the_other_kind() {
    let plan = planned(&job(|_| ()));
    let [other] = plan.runs[0].others.as_slice() else {
        panic!("{:?}", plan.runs[0].others);
    };
    assert!(matches!(other.made, Made::MandrelBends { .. }), "{other:?}");
    let work = other.work.as_ref().expect("a run of bends");
    assert!(!work.is_priced(), "no price is made up");
    let quoting = plan.runs[0].quoting(&plan.job.runs[0], LengthUnit::Mm);
    let columns = quoting.side_by_side("run", plan.runs[0].run().tube(), &plan.job.quote_rates);
    assert_eq!(columns.len(), 2);
    assert!(columns[0].money.is_some() && columns[1].money.is_none());
    // Given a price, there is money, and the bends are a line of it.
    let plan = planned(&job(|job| {
        job["shop"] = json!({ "mandrel_bend_price": 12.5 })
    }));
    let (run, rates) = (&plan.runs[0], &plan.job.quote_rates);
    let quoting = run.quoting(&plan.job.runs[0], LengthUnit::Mm);
    let columns = quoting.side_by_side("run", run.run().tube(), rates);
    let of_bends = runwright::plan::Quoting {
        work: Some(columns[1].work.clone()),
        ..quoting
    };
    let quote = of_bends
        .quote("run", run.run().tube(), rates)
        .expect("counts");
    assert_eq!(columns[1].money, Some(quote.money));
    let bends = f64::from(columns[1].work.stock_bends());
    assert!(bends > 0.0);
    assert_eq!(line(&quote, Item::StockBend).money, Money::of(12.5 * bends));
}

#[test]
fn stock_bends_stand_beside_pies_alone() {
    let bends =
        json!({ "bends": [{ "name": "90", "clr": 95.25, "turn": 90, "leg": 100, "price": 5 }] });
    for made_of in ["stock", "pies", "either"] {
        let plan = planned(&job(|job| {
            job["shop"] = bends.clone();
            job["runs"][0]["made_of"] = json!(made_of);
        }));
        let stock = plan.runs[0].solution.best.cost.stock_bends > 0;
        let made: Vec<Made> = plan.runs[0].others.iter().map(|way| way.made).collect();
        let expected = if stock { Made::Pies } else { Made::StockBends };
        assert!(made.contains(&expected), "{made_of}: {made:?}");
        for way in &plan.runs[0].others {
            let work = way.work.as_ref().expect("a run");
            assert_eq!(work.stock_bends() > 0, way.made == Made::StockBends);
            assert!(work.is_priced());
        }
    }
}

#[test]
fn flange_welds_are_shown_apart_or_counted() {
    let apart = planned(&job(|_| ())).quote();
    let counted = planned(&job(|job| job["runs"][0]["weld_flanges"] = json!(true))).quote();
    assert_eq!(apart.runs[0].apart.len(), 4);
    assert!(counted.runs[0].apart.is_empty());
    let weld = line(&counted.runs[0], Item::FlangeWeld);
    // 2·π·63.5 mm at 50 mm/min, to a hundredth.
    assert_eq!(weld.quantity_text(), "7.98 min");
    assert!(counted.price > apart.price);
}

#[test]
fn cautions_stand_on_the_sheet_with_their_sources() {
    let text = sheet(&planned(&job(|_| ())));
    for words in [
        "not a pressure-piping design",
        "29 CFR 1910.1026",
        "29 CFR 1910.252",
        "7522(a)(3)",
        "QUOTE",
        "PRICE",
    ] {
        program::says(&text, words);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    /// Every line is what it prints, and every sum that of printed lines.
    #[test]
    fn lines_add_up_as_printed(
        counts in [0_u32..60, 0..60, 0..60, 0..200, 0..60],
        weld in 0.0..20_000.0_f64,
        tube in 0.0..30_000.0_f64,
        rates in [0.0..500.0_f64, 0.0..300.0, 0.0..30.0, 0.0..100.0],
        price in 0.0..200.0_f64,
        percents in [0.0..100.0_f64, 0.0..100.0],
        flanges in any::<bool>(),
        feet in any::<bool>(),
        longer in 0.0..40.0_f64,
    ) {
        let pipe = Tube::new(Length::from_mm(60.3), Length::from_mm(2.77), "321").expect("a tube");
        let work = Work {
            setups: counts[0], stops: counts[1], clocks: counts[2], cuts: counts[3],
            joints: counts[4],
            weld: Length::from_mm(weld),
            tube: Length::from_mm(tube),
            length: Length::from_mm(tube * 0.9),
            smallest: None,
            bought: vec![Bought { name: "bend".into(), count: 3, price: Some(price) }],
        };
        let shop = runwright::route::Rates {
            labor_per_hour: rates[0],
            tube_rate: Rate::new(rates[1], if feet { Per::Foot } else { Per::Meter }),
            cut_minutes: rates[2],
            ..runwright::route::Rates::default()
        };
        let quoting = QuoteRates {
            gas: Rate::new(rates[3], if feet { Per::CubicFoot } else { Per::CubicMeter }),
            filler: Rate::new(rates[2], if feet { Per::Pound } else { Per::Kilogram }),
            overhead_percent: percents[0],
            markup_percent: percents[1],
            ..QuoteRates::default()
        };
        let run = QuotedRun {
            name: "run", tube: &pipe, gap: Length::ZERO, rates: &shop, work: &work,
            longer: Length::from_mm(longer),
            weld_flanges: flanges,
        };
        let quote = Quote::new(&[run, run], &quoting);
        let cents = |money: Money| (money.amount() * 100.0).round() as i64;
        let printed = |line: &Line| -> i64 {
            let text = line.money.to_string();
            text.replace('.', "").parse().expect("cents")
        };
        let mut cost = 0;
        for run in &quote.runs {
            for line in &run.lines {
                let digits = usize::try_from(line.unit.digits()).expect("not negative");
                let quantity: f64 = format!("{:.digits$}", line.quantity).parse().expect("a number");
                prop_assert_eq!(quantity, line.quantity);
                let exact = quantity * line.rate / line.unit.per();
                prop_assert!((line.money.amount() - exact).abs() < 0.005 + 1e-6);
            }
            let sum: i64 = run.lines.iter().map(printed).sum();
            prop_assert_eq!(sum, cents(run.money));
            cost += sum;
        }
        cost += quote.shared.iter().map(printed).sum::<i64>();
        prop_assert_eq!(cost, cents(quote.cost));
        let added: i64 = quote.overhead.iter().chain(&quote.markup).map(printed).sum();
        prop_assert_eq!(cost + added, cents(quote.price));
        let labor: i64 = quote.runs.iter().flat_map(|run| &run.lines).chain(&quote.shared)
            .filter(|line| line.item.is_labor()).map(printed).sum();
        if let Some(overhead) = &quote.overhead {
            prop_assert_eq!(overhead.unit, Unit::Money);
            prop_assert_eq!((overhead.quantity * 100.0).round() as i64, labor);
        }
    }
}
