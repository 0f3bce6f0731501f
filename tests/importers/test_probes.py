"""Parts that only an abbreviation names: sides without a counterpart are asked, probes belong to the only shaft."""

import pytest

from analyser.core.channels import parse
from tests.importers.test_tags import flight, planned

SHAFTS = {"en": ("Shaft (rpm)", "EGT {} (C)"), "de": ("Wellendrehzahl (1/min)", "Abgas {} (°C)"),
          "it": ("Giri albero (giri/min)", "Scarico {} (°C)")}  # fmt: skip


@pytest.mark.parametrize("language", SHAFTS)
@pytest.mark.parametrize("names", [("A", "B"), ("1", "2"), ("probe A", "probe B"), ("TC1", "TC2"), ("L", "R")])
def test_two_probes_beside_one_shaft_are_asked(language, names):
    shaft, exhaust = SHAFTS[language]
    egt = flight(11)["engine.main.egt_c"]
    columns = {exhaust.format(n): egt + 3 * i for i, n in enumerate(names)}
    p = planned({shaft: flight(11)["engine.main.speed_rpm"], **columns})
    asked = {h for q in p.questions for h in q.columns}
    engines = {
        parse(c.channel).instance for c in p.columns if c.channel.startswith("engine.") and c.heading not in asked
    }
    assert engines == {"main"}


def test_two_engines_keep_their_letters():
    columns = {}
    for n, seed in (("A", 1), ("B", 2)):
        columns[f"Engine {n} rpm"] = flight(seed)["engine.main.speed_rpm"]
        columns[f"Engine {n} EGT (C)"] = flight(seed)["engine.main.egt_c"]
    assert {c.channel for c in planned(columns).columns} == {
        "time_s", "engine.a.speed_rpm", "engine.b.speed_rpm", "engine.a.egt_c", "engine.b.egt_c"}  # fmt: skip


@pytest.mark.parametrize(("heading", "shaft"), [
    ("Port. carb. (ml/min)", "Giri turbina (giri/min)"), ("Lh fuel flow (ml/min)", "Shaft (rpm)"),
    ("Durchfluss li (ml/min)", "Drehzahl (1/min)"), ("Débit carb. BB (ml/min)", "Régime (tr/min)"),
])  # fmt: skip
def test_an_abbreviated_side_without_a_counterpart_is_not_sure(heading, shaft):
    values = flight(12)
    p = planned({heading: values["fuel.main.flow_ml_per_min"], shaft: values["engine.main.speed_rpm"]})
    at = {c.heading: c.channel for c in p.columns}[heading]
    asked = any(heading in q.columns for q in p.questions)
    assert asked or at == "fuel.main.flow_ml_per_min"


def test_sides_of_two_engines_are_sure():
    flow = flight(13)["fuel.main.flow_ml_per_min"]
    p = planned({"Lh fuel flow (ml/min)": flow, "Rh fuel flow (ml/min)": flow + 9})
    assert {c.channel for c in p.columns} == {"time_s", "fuel.left.flow_ml_per_min", "fuel.right.flow_ml_per_min"}
    assert not p.questions


@pytest.mark.parametrize(("exhaust", "flow"), [
    ("TC1 Exhaust (degC)", "Flow meter (ml/min)"), ("Abgas TC2 (°C)", "Durchfluss (ml/min)"),
])  # fmt: skip
def test_a_probe_without_a_shaft_is_of_the_only_engine(exhaust, flow):
    f = flight(5)
    made = planned({exhaust: f["engine.main.egt_c"], flow: f["fuel.main.flow_ml_per_min"]})
    assert {c.heading: c.channel for c in made.columns}[exhaust] == "engine.main.egt_c"


@pytest.mark.parametrize(("pack", "cell"), [("RX battery (V)", "cell {}/mV"), ("Empfängerakku (V)", "Zelle {} [mV]")])
def test_cells_of_no_name_are_of_the_pack_that_they_make_up_or_asked(pack, cell):
    """A pack in series has the sum of its cells' voltages (Kirchhoff)."""
    volts, ecu = flight(6)["pack.rx1.voltage_v"], {"ECU battery (V)": 12.3 + 0 * flight(6)["pack.rx1.voltage_v"]}
    whole = {cell.format(n): 500 * volts + 3 * n for n in (1, 2)}
    made = planned({pack: volts, **ecu, **whole})
    assert [c.channel for c in made.columns[3:]] == ["pack.rx.cell1_v", "pack.rx.cell2_v"]
    assert not made.questions
    other = {h: 0.85 * x for h, x in whole.items()}
    asked = {h for q in planned({pack: volts, **ecu, **other}).questions for h in q.columns}
    assert asked == set(other)
