"""How sure a reading is: a logistic model of what speaks for and against it, fitted on the project's own logs.

The weights in ``certainty.toml`` are made by ``python -m tests.importers.certainty_fit`` from columns whose truth is
known;
that file says from which and when. They are never set by hand. A test compares what is shown with what is right.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from functools import lru_cache
from importlib.resources import files

from msgspec import Struct

from importers.meaning.heading import Heading
from importers.meaning.readings import BORNE, Reading
from importers.meaning.rules import holds, implied
from importers.meaning.witness import Verdict
from importers.meaning.words import meanings

WRONG_COSTS = 20.0
"""What a wrong column that nobody looks at again costs, in questions: a pilot may act on it."""
ASK_BELOW = 1.0 - 1.0 / WRONG_COSTS
"""Below this a question is cheaper than the risk: (1 - p) × cost > 1."""
GIVE_UP_BELOW = 0.05
"""Below this a column is kept under its own name: the proposal would mislead more often than it helps."""

_TELLING = ("Pa", "mL/min", "rpm", "dBm", "m/s²", "mAh")
"""Units that hardly anything but one quantity is given in."""

_OF_SUBJECT = {
    "pack": frozenset({"pack", "rx", "ecu", "cell"}),
    "engine": frozenset({"engine", "egt", "rpm", "pump", "ecu", "nozzle"}),
    "fuel": frozenset({"fuel", "tank", "flow"}),
}
"""Ideas that name a subject which a heading must say."""


class Weights(Struct, frozen=True):
    """A fitted model: log-odds are ``bias`` + Σ weight × evidence.

    Below :data:`ASK_BELOW` its probability tells little more than whether a reading is likelier right than wrong: in
    each of the ``bands`` (upper bound, share) what held of hands that were left out of the fit is shown instead
    (histogram binning; Zadrozny and Elkan, Obtaining calibrated probability estimates, 2001; from memory). ``turned``
    is what held of totals whose values run against their heading, taken for the other total: they are always asked.
    """

    bias: float
    weights: Mapping[str, float]
    bands: tuple[tuple[float, float], ...] = ()
    turned: float = 0.5

    def __call__(self, evidence: Mapping[str, float]) -> float:
        """Probability that a reading with this evidence is right, 0.01 to 0.99."""
        p = self.model(evidence)
        return p if p >= ASK_BELOW else self.mended(p)

    def mended(self, p: float) -> float:
        """A probability below the threshold as it held."""
        held = next((share for upper, share in self.bands if p < upper), p)
        return min(max(held, 0.01), ASK_BELOW - 0.001)

    def model(self, evidence: Mapping[str, float]) -> float:
        """The model's own probability, 0.01 to 0.995."""
        odds = self.bias + sum(self.weights.get(k, 0.0) * v for k, v in evidence.items())
        return min(max(1.0 / (1.0 + math.exp(-odds)), 0.01), 0.995)


@lru_cache(maxsize=1)
def weights() -> Weights:
    """The model that is shipped."""
    content = tomllib.loads(files("importers.meaning").joinpath("certainty.toml").read_text(encoding="utf-8"))
    bands = tuple((float(upper), float(share)) for upper, share in content.get("bands", ()))
    return Weights(float(content["bias"]), {k: float(v) for k, v in content["weights"].items()}, bands,
                   float(content["turned"]))  # fmt: skip


def _elsewhere(best: Reading, rival: Reading) -> bool:
    """Whether a rival is the same quantity of another subject: "telemetry" may be a link, or the one downwards."""
    return best.channel.quantity == rival.channel.quantity and best.channel.subject != rival.channel.subject


def evidence(
    heading: Heading, best: Reading, rival: Reading | None, *, firm: bool = False, level: bool = False,
    owned: bool = False,
) -> dict[str, float]:  # fmt: skip
    """What speaks for and against a reading, as numbers; those that are nought are left out.

    ``firm``: other columns bear out its short words; ``level``: it keeps one value, other than nought; ``owned``: its
    number, letter or side is that of a part of its subject in other columns.
    """
    words = [w for w, i in zip(heading.words, best.ideas, strict=True) if i in best.rule.speaks]
    gap = rival.cost - best.cost if rival else 9.0
    subjects = _OF_SUBJECT.get(best.channel.subject)
    said = implied(heading.unit or "")
    borne = said in best.rule.speaks or (best.unit.how == "said" and best.channel.unit in _TELLING)
    borne = borne or (best.channel.quantity == "satellites" and best.unit.verdict is Verdict.FITS)
    borne = borne or (best.channel.subject == "fuel" and holds(heading.unit or ""))
    alone = best.unit.how == "said" and gap >= 1.0  # what else the words may mean is not given in this unit
    letter = words[0] if words and max(map(len, words)) == 1 else ""
    beside = any(w != letter and i not in ("", "#", "?") for w, i in zip(heading.words, best.ideas, strict=True))
    # "RXV1": a letter run together with the part it is of is no letter alone.
    firm = firm or (letter in ("u", "v") and heading.glued[heading.words.index(letter)])
    odd = best.unit.verdict is Verdict.ODD
    # Unusual values do not outweigh a heading that says quantity and unit in full: they are possible, and said aloud.
    plain = (
        best.unit.how == "said"
        and heading.unit_by == "brackets"
        and (best.quantity_said or best.subject_said)
        and not best.named.unknown
        and not best.unit.other_fits
    )
    seen = {
        "unknown": min(len(best.named.unknown), 2),
        "foreign": min(len(best.named.foreign), 2),
        "shared_name": best.named.source == "shared",
        "file_name": best.named.source == "file",
        "unit_said": best.unit.how == "said",
        "unit_by_values": best.unit.how in ("values", "sign"),
        "unit_by_convention": best.unit.how == "convention",
        "unit_only": not best.quantity_said
        and not best.subject_said
        and best.named.source != "file"  # the name of a part says what it is
        and best.channel.unit not in _TELLING,
        "quantity_by_unit": not best.quantity_said and best.subject_said,
        "no_subject": subjects is not None
        and not owned
        and not (best.rule.key == "engine.egt_c" and best.rule.speaks == {"temperature"})  # nothing else glows
        and not subjects & {*best.ideas, said}
        and not (best.channel.subject == "fuel" and holds(heading.unit or ""))
        and best.named.source not in ("shared", "word", "file"),
        "short_word": bool(letter) and not firm and not (beside and heading.unit in BORNE.get(letter, ())),
        "second_meaning": 0 if alone else min(best.order, 2),
        "open_word": bool(words)
        and all(sum(m != "" for m in meanings(w)) > 1 for w in words)
        and not firm
        and not borne
        and not alone,
        "unsure_name": best.named.unsure
        or best.named.source == "word"
        or (gap < 0.25 and rival is not None and _elsewhere(best, rival)),
        "elsewhere": best.elsewhere or best.rule.speaks == {"sink"},  # down may count as more, or as less
        "odd": odd and not plain,
        "silent": best.unit.verdict is Verdict.SILENT and not plain and level,
        "contradicted": best.unit.verdict in (Verdict.CONTRADICTS, Verdict.RESTS),
        "still": best.unit.verdict is Verdict.RESTS,
        "close_rival": max(0.0, 0.5 - gap) * 2 if heading.words.count("left") < 2 else 0.0,
    }
    return {k: float(v) for k, v in seen.items() if v}
