"""The whole quote again from what plan.json says of a run, with scipy's elliptic integral
for the welds; mass from the pieces' volumes; growth from the two ends alone.
"""

import math

import numpy as np
import pytest
from scipy.special import ellipe

from conftest import EXAMPLES
from jobs import OFFSET, STACK, TWISTED, U_TURN

DUCT = {
    "units": "mm",
    "tube": {"od": 60.3, "wall": 2.77, "material": "316L"},
    "ports": {
        "a": {"center": [0, 0, 0], "outward": [0, 0, 1]},
        "b": {"center": [500, 300, 700], "outward": [-1, 0, 0]},
    },
    "runs": [
        {"name": "duct", "from": "a", "to": "b", "weld_flanges": True, "hot": "400 C", "cold": "-10 C"}
    ],
    "shop": {
        "gap": 0.8,
        "bends": [{"b16_9": "2 LR 90", "price": 12.35}, {"b16_9": "2 LR 45", "price": 9}],
        "rates": {"overhead_percent": 12.5, "markup_percent": 33, "rod": 2.4, "currency": "EUR"},
    },
}
STICKS = STACK | {
    "shop": {
        "sticks": [{"length": "10 ft", "price": 97}, {"length": "20 ft", "price": 150}],
        "rates": {"filler_per_lb": 13.5, "gas_per_cubic_meter": 12.5, "gas_cubic_feet_per_hour": 18},
    }
}
PRICED = STACK | {"shop": {"mandrel_bend_price": 17.5, "mandrel_bend_leg": "50 mm"}}
JOBS = {
    "stack": STACK,
    "offset": OFFSET,
    "u-turn": U_TURN,
    "twisted": TWISTED,
    "duct": DUCT,
    "priced": PRICED,
    "sticks": STICKS,
}
FAMILIES_PURGED = ("304", "316", "321", "409", "Ti", "titanium", "625")


def nearest(value, digits):
    """Rounded to digits, halves up, as the plan says its lines are."""
    return math.floor(value * 10**digits + 1e-6 + 0.5) / 10**digits


def perimeter(od, cut_deg):
    """Of the ellipse that a miter cuts, by scipy."""
    cut = math.radians(cut_deg)
    return 4 * (od / 2 / math.cos(cut)) * ellipe(math.sin(cut) ** 2)


# What a meter, kilogram or cubic meter is in what lines count in, decimals, and what the
# rate is for; exact by the agreement of 1959.
METERS, FEET = ("m", 1, 3, 1), ("ft", 1 / 0.3048, 3, 1)
GRAMS, POUNDS = ("g", 1000, 1, 1000), ("lb", 1 / 0.45359237, 3, 1)
LITERS, CUBIC_FEET = ("L", 1000, 1, 1000), ("ft3", 1 / 0.3048**3, 2, 1)


def written(rates, imperial, metric, units):
    """The rate that counts and what its lines count in: the first that is not null."""
    if rates[imperial] is not None:
        return rates[imperial], units[1]
    return rates[metric], units[0]


def sawn_longer(plan, run):
    """Of the piece left for last: its trim up to the next mark."""
    closure = run["stack_up"]["closure"]
    step = 25.4 / 16 if plan["units"] in ("in", "ft") else 1
    return math.ceil(closure["trim_mm"] / step - 1e-6) * step if closure else 0


def expected_lines(plan, run):
    """(item, unit, digits, quantity, rate, per) of a run's lines, by hand."""
    rates, quoting, cost, tube = run["rates"], plan["quoting"], run["cost"], run["tube"]
    od, wall = tube["od_mm"], tube["wall_mm"]
    inner = [joint for joint in run["joints"] if joint["kind"] != "flange"]
    weld = sum(perimeter(od, joint["cut_deg"]) for joint in inner)
    flanges = 2 * math.pi * od
    labor = (rates["labor_per_hour"], 60)
    pace = rates["weld_mm_per_minute"]
    area = quoting["filler_factor"] * wall**2 + wall * run["allowance"]["gap_mm"]
    per_length = written(rates, "tube_per_foot", "tube_per_meter", (METERS, FEET))
    per_mass = written(quoting, "filler_per_lb", "filler_per_kg", (GRAMS, POUNDS))
    per_volume = written(quoting, "gas_per_cubic_foot", "gas_per_cubic_meter", (LITERS, CUBIC_FEET))

    def rated(item, metric, rate):
        amount, (unit, each, digits, per) = rate
        return (item, unit, digits, metric * each, amount, per)

    def timed(item, minutes):
        return (item, "min", 2, minutes, *labor)

    def filler(length):
        # Where the density is not known, filler is not counted.
        return length * area * (tube["density_g_per_cm3"] or 0) / 1e6

    def shield(length):
        return length / pace * quoting["arc_share"] * quoting["gas_liters_per_minute"] / 1000

    # Straight pieces with the kerf of their cut, and the stick's first end.
    straight = [piece for piece in run["pieces"] if piece["kind"] == "straight"]
    kerf = rates["kerf_mm"]
    used = sum(p["cut_length_mm"] + kerf / math.cos(math.radians(p["end_cut_deg"])) for p in straight)
    used += kerf + sawn_longer(plan, run) if straight else 0
    lines = [rated("tube", used / 1000, per_length)]
    lines += [("stock-bend", "each", 0, kind["count"], kind["price"], 1) for kind in cost["bought"]]
    for item, count, each in [
        ("saw-settings", cost["setups"], rates["setup_minutes"]),
        ("stop-settings", cost["stops"], rates["stop_minutes"]),
        ("clocks", cost["clocks"], rates["clock_minutes"]),
        ("cuts", cost["cuts"], rates["cut_minutes"]),
        ("fit-ups", len(inner), rates["fit_up_minutes"]),
    ]:
        lines.append(timed(item, count * each))
    lines.append(timed("weld", weld / pace))
    lines.append(rated("filler", filler(weld), per_mass))
    lines.append(rated("shielding-gas", shield(weld), per_volume))
    counted = run["service"]["weld_flanges"]
    purged = quoting["purge"]
    if purged is None:
        purged = any(word in tube["material"] for word in FAMILIES_PURGED)
    if purged:
        bore = math.pi * (od / 2 - wall) ** 2 * run["length_mm"] / 1e9
        minutes = (weld + (flanges if counted else 0)) / pace
        volume = quoting["purge_changes"] * bore + minutes * quoting["purge_liters_per_minute"] / 1000
        lines.append(rated("purge-gas", volume, per_volume))
    apart = [
        timed("flange-fit-ups", 2 * rates["fit_up_minutes"]),
        timed("flange-weld", flanges / pace),
        rated("flange-filler", filler(flanges), per_mass),
        rated("flange-gas", shield(flanges), per_volume),
    ]
    return (lines + apart, []) if counted else (lines, apart)


def check_lines(written, expected):
    expected = [line for line in expected if nearest(line[3], line[2]) > 0]
    assert [line["item"] for line in written] == [line[0] for line in expected]
    for line, (item, unit, digits, quantity, rate, per) in zip(written, expected):
        assert line["unit"] == unit, item
        assert line["quantity"] == pytest.approx(nearest(quantity, digits), abs=1e-9), item
        assert (line["rate"], line["per"]) == (rate, per), item
        assert line["money"] == pytest.approx(nearest(line["quantity"] * rate / per, 2), abs=1e-9), item


def cents(amount):
    whole = round(amount * 100)
    assert amount == pytest.approx(whole / 100, abs=1e-9)
    return whole


@pytest.mark.parametrize("name", JOBS)
def test_quote_again_from_the_plan(plan, name):
    planned = plan(JOBS[name])
    quote, quoting = planned.plan["quote"], planned.plan["quoting"]
    cost = labor = 0
    timed = {"saw-settings", "stop-settings", "clocks", "cuts", "fit-ups", "weld"}
    timed |= {"flange-fit-ups", "flange-weld", "job-time"}
    for run, quoted in zip(planned.runs, quote["runs"], strict=True):
        counted, apart = expected_lines(planned.plan, run)
        check_lines(quoted["lines"], counted)
        check_lines(quoted["apart"], apart)
        money = sum(cents(line["money"]) for line in quoted["lines"])
        assert cents(quoted["money"]) == money
        cost += money
        labor += sum(cents(l["money"]) for l in quoted["lines"] if l["item"] in timed)
        # What routes are ranked by counts the same minutes.
        minutes = sum(l["quantity"] for l in quoted["lines"] if l["item"] in timed)
        flanges = sum(l["quantity"] for l in quoted["lines"] if l["item"].startswith("flange-") and l["unit"] == "min")
        assert minutes - flanges == pytest.approx(run["cost"]["minutes"], abs=0.03)
    (shared,) = quote["shared"]
    assert shared["quantity"] == quoting["job_minutes"]
    cost += cents(shared["money"])
    labor += cents(shared["money"])
    assert cents(quote["cost"]) == cost
    overhead = 0
    if quoting["overhead_percent"]:
        overhead = cents(nearest(labor / 100 * quoting["overhead_percent"] / 100, 2))
        assert cents(quote["overhead"]["money"]) == overhead
    markup = cents(nearest((cost + overhead) / 100 * quoting["markup_percent"] / 100, 2))
    assert cents(quote["markup"]["money"]) == markup
    assert cents(quote["price"]) == cost + overhead + markup


def test_tube_costs_what_the_dearest_stick_does(plan):
    planned = plan(STICKS)
    (tube, *_) = planned.plan["quote"]["runs"][0]["lines"]
    assert (tube["unit"], tube["rate"]) == ("ft", 9.7)
    rates, cost = planned.run["rates"], planned.run["cost"]
    assert rates["tube_stick"] == {"price": 97, "length_mm": pytest.approx(3048), "is_dearest": True}
    assert rates["tube_per_meter"] == pytest.approx(9.7 / 0.3048, rel=1e-12)
    # What routes are ranked by.
    money = cost["minutes"] / 60 * rates["labor_per_hour"] + cost["tube_mm"] / 304.8 * 9.7
    assert cost["money"] == pytest.approx(money, rel=1e-9)


@pytest.mark.parametrize("name", JOBS)
def test_mass_is_volume_times_density(plan, name):
    for run in plan(JOBS[name]).runs:
        tube = run["tube"]
        if tube["material"] == "unspecified":
            assert run["mass_kg"] is None and run["growth"] is None
            continue
        area = math.pi * (tube["od_mm"] - tube["wall_mm"]) * tube["wall_mm"]
        masses = [area * piece["cut_length_mm"] * tube["density_g_per_cm3"] * 1e-6 for piece in run["pieces"]]
        assert [piece["mass_kg"] for piece in run["pieces"]] == pytest.approx(masses, rel=1e-12)
        assert run["mass_kg"] == pytest.approx(sum(masses), rel=1e-12)


def test_growth_from_the_ends_alone(plan):
    run = plan(DUCT).run
    growth = run["growth"]
    # 316, ASM sheet (from memory): 15.9 to 100, 16.2 to 315, 17.5 to 538 °C, from 20 °C.
    mean = lambda t: np.interp(t, [100, 315, 538], [15.9e-6, 16.2e-6, 17.5e-6])
    strain = mean(400) * (400 - 20) - mean(-10) * (-10 - 20)
    start, end = (np.array(end["center_mm"]) for end in run["ends"])
    assert np.array(growth["between_mm"]) == pytest.approx(strain * (end - start), rel=1e-9)
    assert growth["pieces_mm"] == pytest.approx([strain * p["length_mm"] for p in run["pieces"]], rel=1e-9)
    assert growth["is_beyond_published"], "-10 °C is below what is published"
    assert growth["is_too_much"]


def test_other_ways_are_priced_the_same(plan):
    planned = plan(PRICED)
    run = planned.run
    (other,) = run["other_ways"]
    work, rates = other["work"], run["rates"]
    assert other["made"] == "mandrel-bends-assumed" and other["leg_mm"] == 50
    assert all(kind["price"] == 17.5 for kind in work["bought"])
    labor = sum(
        work[count] * rates[each]
        for count, each in [
            ("setups", "setup_minutes"),
            ("stops", "stop_minutes"),
            ("clocks", "clock_minutes"),
            ("cuts", "cut_minutes"),
            ("joints", "fit_up_minutes"),
        ]
    )
    labor += work["weld_mm"] / rates["weld_mm_per_minute"]
    assert other["minutes"] == pytest.approx(labor, abs=0.03)
    # Welds between bends are square.
    assert work["weld_mm"] == pytest.approx(work["joints"] * math.pi * run["tube"]["od_mm"], rel=1e-9)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_example_says_what_it_costs(path, tmp_path):
    import json

    from conftest import runwright

    runwright("plan", path, "-o", tmp_path / "out")
    plan = json.loads((tmp_path / "out" / "plan.json").read_text())
    assert plan["quote"]["price"] > 0
    names = [caution["name"] for caution in plan["cautions"]]
    assert names[0] == "not-a-pressure-piping-design"
