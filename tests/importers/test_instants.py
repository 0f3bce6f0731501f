"""Long tables made wide: the quick way for regular ones gives what the general way gives."""

import numpy as np
import pyarrow as pa
import pytest

from importers.clock import instants


@pytest.mark.parametrize("order", [[0, 1, 2], [2, 0, 1]])
@pytest.mark.parametrize("spoil", ["nothing", "a swap", "one missing", "an empty value", "a stranger"])
def test_the_quick_way_is_the_general_way(order, spoil, monkeypatch):
    rng = np.random.default_rng(3)
    times, codes = np.repeat(np.arange(50) / 5, 3), np.tile(order, 50)
    values = rng.normal(size=150).round(3).tolist()
    if spoil == "a swap":
        codes[[30, 31]] = codes[[31, 30]]
    elif spoil == "one missing":
        times, codes, values = np.delete(times, 40), np.delete(codes, 40), values[:40] + values[41:]
    elif spoil == "an empty value":
        values[77] = None
    elif spoil == "a stranger":
        codes[60] = -1

    def wide():
        stamps, columns = instants.pivot(times, codes, pa.array(values, pa.float64()), 3)
        return stamps.tolist(), [(v if at is None else v.take(at)).to_pylist() for v, at in columns]

    quick = wide()
    assert (instants._regular(times, codes, pa.array(values, pa.float64()), 3) is not None) == (spoil == "nothing")
    monkeypatch.setattr(instants, "_regular", lambda *_: None)
    assert quick == wide()


def test_codes_of_names_in_a_dictionary():
    names = pa.array(["b", None, "a", "x", "b"]).dictionary_encode()
    assert instants.codes_of(names, pa.array(["a", "b", "c"])).tolist() == [1, -1, 0, -1, 1]
