"""A mapping is saved, recognised by its headings, edited by hand, and refused with the nearest key when wrong."""

import io

import pytest

from importers.layout.mapping import load, to_toml
from importers.plan import plan
from importers.read import read
from importers.refusal import Refusal

LOG = ("t (s),Rx1 Akku (V),Fuel left (mL),Zwischenwert\n"
       + "".join(f"{i / 10},7.4,{900 - i},{i}\n" for i in range(30))).encode()  # fmt: skip
KEY = "meaning.fuel_left_ml"


@pytest.fixture
def saved(tmp_path):
    path = tmp_path / "own.toml"
    path.write_text(to_toml(plan(io.BytesIO(LOG), answers={KEY: "remaining"}), "own"), encoding="utf-8")
    return path


def channels(path, data=LOG):
    proposal = plan(io.BytesIO(data), mappings=[path])
    (table,) = [d.telemetry().table for d in read(proposal)]
    return table.column_names, proposal


def test_a_saved_mapping_answers_next_time(saved):
    assert [q.key for q in plan(io.BytesIO(LOG)).questions] == [KEY]
    names, proposal = channels(saved)
    assert proposal.mapping == "own"
    assert "fuel.main.remaining_ml" in names


def test_other_headings_are_not_recognised(saved):
    other = LOG.replace(b"Zwischenwert", b"Anderes")
    assert [q.key for q in plan(io.BytesIO(other), mappings=[saved]).questions] == [KEY]


def test_an_edited_mapping_decides(saved):
    text = saved.read_text()
    text = text.replace('"pack.rx1.voltage_v"', '"bus.main.voltage_v"')
    text = text.replace('"extra.zwischenwert"', '""')
    saved.write_text(text)
    names, proposal = channels(saved)
    assert "bus.main.voltage_v" in names
    assert not any("zwischenwert" in n for n in names)
    assert {str(c.reason) for c in proposal.columns} >= {"as the mapping says", "as you said"}


@pytest.mark.parametrize(("content", "said"), [
    ('fingerprnt = "x"', "did you mean 'fingerprint'"), ("columns = 3", "table of texts"),
    ('[columns]\n"a" = "pack.rx1.voltge_v"', "pack.rx1.voltage_v"), ("name = ", "TOML"),
])  # fmt: skip
def test_a_wrong_mapping_is_refused(tmp_path, content, said):
    path = tmp_path / "wrong.toml"
    path.write_text(content)
    with pytest.raises(Refusal, match=said):
        load(path)


def test_two_columns_for_one_channel_are_asked_and_either_may_be_it():
    data = ("t (s),Rx1 RSSI (dBm),RSSI Rx1 (dBm)\n" + "".join(f"{i / 10},-60,-70\n" for i in range(30))).encode()
    (question,) = plan(io.BytesIO(data)).questions
    assert question.key == "column.link.rx1.rssi_dbm"
    assert question.answers == ("Rx1 RSSI (dBm)", "RSSI Rx1 (dBm)", "none")
    for answer, value in (("Rx1 RSSI (dBm)", -60), ("RSSI Rx1 (dBm)", -70)):
        proposal = plan(io.BytesIO(data), answers={question.key: answer})
        (table,) = [d.telemetry().table for d in read(proposal)]
        assert table.column("link.rx1.rssi_dbm")[0].as_py() == value
        assert table.num_columns == 3
    with pytest.raises(Refusal, match="open question"):
        next(read(plan(io.BytesIO(data))))


def test_a_column_empty_in_one_log_is_not_dropped_from_the_next(tmp_path):
    path = tmp_path / "own.toml"
    text = "t (s),Rx1 Akku (V),EGT (°C)\n" + "".join(f"{i / 10},7.4,\n" for i in range(30))
    path.write_text(to_toml(plan(io.BytesIO(text.encode())), "own"), encoding="utf-8")
    filled = "t (s),Rx1 Akku (V),EGT (°C)\n" + "".join(f"{i / 10},7.4,{500 + i}\n" for i in range(30))
    names, _ = channels(path, filled.encode())
    assert "engine.main.egt_c" in names


def test_an_edited_mapping_may_keep_a_known_column_as_an_extra(saved):
    saved.write_text(saved.read_text().replace('"pack.rx1.voltage_v"', '"extra.bench"'))
    names, _ = channels(saved)
    assert "extra.bench" in names
    assert not any(n.startswith("pack.") for n in names)


def test_a_mapping_to_a_channel_of_another_kind_is_refused(saved):
    saved.write_text(saved.read_text().replace('"pack.rx1.voltage_v"', '"engine.left.egt_c"'))
    with pytest.raises(Refusal, match=r"'Rx1 Akku \(V\)'.*V.*°C"):
        plan(io.BytesIO(LOG), mappings=[saved])
