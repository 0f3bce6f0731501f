"""Fit the weights of certainty: ``python -m tests.importers.certainty_fit`` rewrites ``certainty.toml``.

The columns are those of the open, held and sealed hands (``tests/importers/hands/``) and of all strangers, traps
included, whose truth is known; the fresh hands are never looked at here. Logs of hands seldom
go wrong in all ways that logs can, so a fiftieth of the weight is mutations of them whose sure reading is wrong: values
scaled by powers of ten, the values of another column, a word replaced by one that nobody knows, a word added that
belongs to another part. The model is logistic, its loss penalised by the squares of its weights, and what speaks
against a reading may only lower its certainty. ``crossed``
prints how certainties come out that are shown by weights fitted without the hand in question.
"""

from __future__ import annotations

import io
import itertools
import sys
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from scipy.optimize import minimize
from scipy.stats import binomtest

from analyser.core.channels import parse
from importers.layout import proposals
from importers.meaning import certainty, columns
from importers.meaning.witness import Numbers, numbers
from importers.model import ColumnPlan
from importers.plan import plan
from importers.refusal import Refusal
from tests.importers.hands.truth import Log

TARGET = Path(certainty.__file__).with_name("certainty.toml")
SPEAKS_FOR = {"unit_said", "file_name", "agrees"}
PARTS = ("open", "held", "sealed", "strangers", "later strangers", "sealed strangers")
FOLDS = 8
MUTATED = 1.0 / 50.0
"""Of a tenth to a four-hundredth this has the least loss on columns of hands that are left out of the fit."""
UNCLEAR = 0.2
"""What each way of reading an unclear heading counts, against 1 for a column of a log: such headings are rare."""
RIDGE = 0.05


class Example(Struct, frozen=True):
    """One reading: its evidence, whether it is right, how much it counts, and the log it is from."""

    evidence: dict[str, float]
    right: bool
    weight: float
    log: str
    heading: str = ""


class _Call(Struct, frozen=True):
    heading: columns.Heading
    seen: Numbers | None
    flags: bool
    known: columns.Known | None


def _judged(logs: Iterable[Log]) -> Iterator[tuple[Log, ColumnPlan, bool, _Call | None]]:
    """Every proposed channel of some logs, whether it is right, and the call that read its heading."""
    for log in logs:
        if log.shape == "turns":  # a column has several truths there, and its first cells are of several
            continue
        recorded: dict[str, _Call] = {}
        with _recording(recorded):
            try:
                made = plan(io.BytesIO(log.data), name="log.csv")
            except Refusal:
                continue
        for column, proposed in _pairs(log, made.columns):
            if parse(proposed.channel) is not None and proposed.evidence and not _unit_asked(proposed, made):
                call = recorded.get(proposed.heading)
                yield log, proposed, _right(column, proposed, call), call


def examples(parts: Sequence[str] = PARTS) -> list[Example]:
    """Readings of all logs of some parts of the hands, and their mutations."""
    from tests.importers.hands.logs import logs

    out: list[Example] = []
    calls: list[tuple[str, _Call, str]] = []
    certainty.GIVE_UP_BELOW = 0.0  # what would be given up must be learned from as well
    for log, proposed, right, call in _judged(log for part in parts for log in logs(part)):
        out.append(Example(dict(proposed.evidence), right, 1.0, log.name, proposed.heading))
        if right and call is not None:
            calls.append((log.name, call, proposed.channel))
    wrong = _mutations(calls)
    out += ambiguous()
    share = MUTATED * len(out) / max(len(wrong), 1)
    return out + [replace(e, weight=share) for e in wrong]


# What two hands mean by one heading, and of what kind its values are: as often one as the other. Written down before
# the weights were fitted; common practice, no source.
AMBIGUOUS: tuple[tuple[str, str], ...] = (
    ("RSSI A", "dbm"), ("RSSI B", "dbm"), ("RSSI 1", "dbm"), ("RSSI 2", "dbm"), ("Signal L", "dbm"), ("Lost A",
    "count"),
    ("A1 RSSI", "dbm"), ("Fades L", "count"), ("Fades 2", "count"), ("Quality B", "percent"), ("Rx A RSSI", "dbm"),
    ("Motor current (A)", "ampere"), ("Motor A", "ampere"), ("Motor voltage (V)", "volt"), ("Motor rpm", "slow"),
    ("Gas", "percent"), ("Power", "percent"), ("Ground", "speed"), ("Hold", "count"), ("T", "warm"), ("V", "volt"),
    ("I", "ampere"), ("C", "cell"), ("Rate (m/s)", "vario"), ("Sat", "count"), ("Dir", "degree"), ("Batt A", "volt"),
    ("Rx A", "volt"), ("Bus A", "volt"), ("Down", "vario"), ("Cap", "count"), ("Reserve (ml)", "fuel"), ("Temp", "hot"),
    ("T1", "hot"), ("T2", "hot"), ("Level", "percent"), ("Elevation", "speed"), ("Gas temp", "hot"), ("P", "percent"),
)  # fmt: skip


SHARED: tuple[tuple[str, str], ...] = (
    ("Zorp V", "volt"), ("Zorp A", "ampere"), ("Zorp mAh", "count"), ("Zorp voltage", "volt"),
    ("Zorp current", "ampere"), ("Zorp temp", "warm"), ("Zorp rpm", "slow"), ("Zorp ml", "fuel"),
    ("Zorp flow (ml/min)", "slow"),
)  # fmt: skip
"""What several columns call by one word that nobody knows is as often a part of the aircraft as a winch or a lamp."""


def ambiguous() -> list[Example]:
    """Readings of headings that mean two things: each as often wrong as right."""
    t = np.linspace(0.0, 1.0, 240)
    wave = np.sin(9.0 * t)
    kinds = {
        "dbm": -62.0 + 17.0 * wave, "count": np.round(60.0 * t), "percent": 50.0 + 45.0 * wave,
        "ampere": 3.0 + 2.5 * wave,
        "volt": 8.2 - 0.6 * t + 0.05 * wave, "slow": 9_000.0 + 6_000.0 * wave, "speed": 35.0 + 20.0 * wave,
        "warm": 28.0 + 9.0 * t,
        "hot": 510.0 + 130.0 * wave, "vario": 9.0 * wave, "degree": 180.0 + 170.0 * wave, "cell": 4.1 - 0.3 * t,
        "fuel": 2_900.0 - 2_300.0 * t,
    }  # fmt: skip
    out = []
    for text, kind in (*AMBIGUOUS, *SHARED):
        together = columns.Known(shared=frozenset({"zorp"}))
        found = columns.match(columns.dissect(text), seen=numbers(kinds[kind]), known=together)
        if parse(found.channel) is not None and found.evidence and not found.ask:
            out += [Example(dict(found.evidence), right, UNCLEAR, "ambiguous") for right in (True, False)]
    return out


def _unit_asked(proposed: ColumnPlan, made: object) -> bool:
    return any(proposed.heading in q.columns and q.key != "doubtful" for q in made.questions)  # type: ignore[attr-defined]


def _pairs(log, proposed: Sequence[ColumnPlan]):  # type: ignore[no-untyped-def]
    from tests.importers.hands.reader import _slug

    for p in proposed:
        if log.shape != "long" and 0 <= p.column < len(log.columns):
            yield log.columns[p.column], p
        else:
            column = next((c for c in log.columns if _slug(c.heading.replace("|", " ")) == _slug(p.heading)), None)
            if column is not None:
                yield column, p


def _right(column, proposed: ColumnPlan, call: _Call | None) -> bool:  # type: ignore[no-untyped-def]
    """Whether name and unit are what the hand meant, whether or not it should have been asked."""
    from tests.importers.hands.score import same_name

    for accept in column.accepts:
        # Degrees and minutes, letters and whole ten-millionths are put right where the cells are read.
        place = proposed.channel in ("position.latitude_deg", "position.longitude_deg")
        seen = call.seen if call else None
        if same_name(accept, proposed.channel)[0] and (place or _unit_right(accept.values, proposed, seen)):
            return True
    return False


def _unit_right(true: np.ndarray, proposed: ColumnPlan, seen: Numbers | None) -> bool:
    """Whether the first values, and the largest of all, are those of the truth in the unit proposed."""
    true = true[np.isfinite(true)]
    if true.size and seen is not None:
        ends = sorted(map(proposed.factor.apply, (seen.low, seen.high)))
        wide = 0.25 * max(abs(ends[0]), abs(ends[1])) + 1e-6
        if np.abs(np.quantile(true, [0.02, 0.98]) - ends).max() > wide:
            return False
    for text in proposed.samples:
        try:
            value = proposed.factor.apply(float(text.replace(",", ".")))
        except ValueError:
            continue
        if true.size and np.abs(true - value).min() > 1e-3 * np.abs(true).max() + 1e-6:
            return False
    return True


class _recording:
    """Keep what :func:`importers.meaning.columns.match` is asked, by heading."""

    def __init__(self, into: dict[str, _Call]) -> None:
        self.into, self.match = into, columns.match

    def __enter__(self) -> None:
        def match(heading, *a, **k):  # type: ignore[no-untyped-def]
            if "seen" in k:
                self.into[heading.text] = _Call(heading, k.get("seen"), k.get("flags", False), k.get("known"))
            return self.match(heading, *a, **k)

        proposals.columns.match = match  # type: ignore[assignment]

    def __exit__(self, *_: object) -> None:
        proposals.columns.match = self.match  # type: ignore[assignment]


def _mutations(calls: Sequence[tuple[str, _Call, str]]) -> list[Example]:
    rng = np.random.default_rng(20261125)
    out = []
    for log, call, channel in calls:
        others = [
            c for n, c, other in calls if n == log and _quantity(other) != _quantity(channel) and c.seen and not c.flags
        ]
        tries = (
            []
            if call.heading.unit_by == "brackets"
            else [replace(call, seen=_scaled(call.seen, float(rng.choice([0.001, 0.01, 0.1, 10.0, 100.0, 1000.0]))))]
        )
        if others and call.heading.unit_by != "brackets":
            tries.append(replace(call, seen=others[int(rng.integers(len(others)))].seen))
        named = [i for i, w in enumerate(call.heading.words) if not w.isdigit() and len(w) > 1]
        if named:
            words = list(call.heading.words)
            words[int(rng.choice(named))] = "zorp"
            tries.append(replace(call, heading=replace(call.heading, words=tuple(words))))
        if call.heading.words:
            word = str(rng.choice(["altitude", "flap", "airspeed", "failsafe", "gps", "rudder"]))
            more = replace(
                call.heading,
                words=(*call.heading.words, word),
                ideas=(*call.heading.ideas, ""),
                glued=(*call.heading.glued, False),
            )
            tries.append(replace(call, heading=more))
        for one in tries:
            found = columns.match(one.heading, seen=one.seen, flags=one.flags, known=one.known)
            if parse(found.channel) is not None and found.evidence and not found.ask:
                out.append(Example(dict(found.evidence), False, 1.0, log))
    return out


def _quantity(channel: str) -> str:
    known = parse(channel)
    return known.channel.unit if known else ""


def _scaled(seen: Numbers | None, by: float) -> Numbers | None:
    if seen is None:
        return None
    return replace(seen, low=seen.low * by, high=seen.high * by, middle=seen.middle * by, first=seen.first * by,
                   last=seen.last * by, whole=seen.whole and by > 1,
                   broad=seen.broad and (seen.broad[0] * by, seen.broad[1] * by))  # fmt: skip


def fit(data: Sequence[Example]) -> certainty.Weights:
    """Maximum of the penalised likelihood, with the signs held."""
    names = sorted({k for e in data for k in e.evidence})
    x = np.array([[e.evidence.get(n, 0.0) for n in names] for e in data])
    y = np.array([e.right for e in data], float)
    w = np.array([e.weight for e in data])

    def loss(beta: np.ndarray) -> tuple[float, np.ndarray]:
        z = beta[0] + x @ beta[1:]
        p = 1 / (1 + np.exp(-z))
        each = np.logaddexp(0, z) - y * z
        slope = w * (p - y)
        ridge = RIDGE * beta[1:]
        return float(w @ each + 0.5 * ridge @ beta[1:] * len(names)), np.concatenate(
            [[slope.sum()], x.T @ slope + ridge * len(names)]
        )

    bounds = [(None, None)] + [(0.0, 2.0) if n in SPEAKS_FOR else (-8.0, 0.0) for n in names]
    best = minimize(loss, np.concatenate([[3.0], np.zeros(len(names))]), jac=True, bounds=bounds, method="L-BFGS-B")
    return certainty.Weights(float(best.x[0]), dict(zip(names, map(float, best.x[1:]), strict=True)))


def write(weights: certainty.Weights, data: Sequence[Example]) -> str:
    """The fitted model as TOML, with where it comes from."""
    natural = [e for e in data if e.weight == 1.0]
    lines = [
        "# Fitted by `python -m tests.importers.certainty_fit`; never edited by hand.",
        f"# From {len(natural)} columns of {len({e.log for e in natural})} logs of hands ({', '.join(PARTS)}),",
        f"# of which {sum(e.right for e in natural)} are right,",
        f"# and {sum(e.log != 'ambiguous' and e.weight < 1.0 for e in data)} mutations of them that are wrong, "
        f"with a fiftieth of the weight.",
        f"# The {sum(e.log == 'ambiguous' for e in data) // 2} headings that mean two things count half as "
        f"right and half as wrong.",
        "# Below the threshold of asking, bands (upper bound, share) tell what held of hands left out of the fit.",
        f"bias = {weights.bias:.3f}", f"bands = {[list(b) for b in weights.bands]}",
        "# What held of totals that were taken for the other total, since their values run against the heading.",
        f"turned = {weights.turned:.2f}", "", "[weights]",
        *(f"{k} = {v:.3f}" for k, v in sorted(weights.weights.items())),
    ]  # fmt: skip
    return "\n".join(lines) + "\n"


BINS = (0.0, 0.5, 0.95, 0.98, 1.0)


def shown(half: str = "held", every: int = 1, seed: int = 0) -> tuple[np.ndarray, np.ndarray]:
    """Certainty shown of every proposed channel of some logs, and whether it is right."""
    from tests.importers.hands.logs import logs

    judged = [(proposed.confidence, right) for _, proposed, right, _ in _judged(logs(half, seed)[::every])]
    return np.array([c for c, _ in judged]), np.array([r for _, r in judged])


def crossed(data: Sequence[Example], folds: int = FOLDS) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Headings of hands, each once: the model's probability fitted without the hand, whether it is right, its fold.

    A hand's other logs are no independent trials of a heading.
    """
    natural = list({(_hand(e), e.heading): e for e in reversed([e for e in data if e.weight == 1.0])}.values())
    hands = sorted({_hand(e) for e in natural})
    at = {h: i % folds for i, h in enumerate(np.random.default_rng(0).permutation(hands))}
    sure, right, fold = [], [], []
    for k in range(folds):
        without = fit([e for e in data if at.get(_hand(e), -1) != k])
        own = [e for e in natural if at[_hand(e)] == k]
        sure += [without.model(e.evidence) for e in own]
        right += [e.right for e in own]
        fold += [k] * len(own)
    return np.array(sure), np.array(right), np.array(fold)


def bands(sure: np.ndarray, right: np.ndarray) -> tuple[tuple[float, float], ...]:
    """What held of headings below and above an even chance, of those that the model is not sure of."""
    edges = (0.0, 0.5, certainty.ASK_BELOW)
    inside = [(sure >= low) & (sure < high) for low, high in itertools.pairwise(edges)]
    return tuple((high, round(float(right[n].mean()), 2)) for high, n in zip(edges[1:], inside, strict=True))


def held(sure: np.ndarray, right: np.ndarray, fold: np.ndarray) -> np.ndarray:
    """What would be shown of each heading, mended by the others' folds."""
    out = sure.copy()
    for k in range(int(fold.max()) + 1):
        made = certainty.Weights(0.0, {}, bands(sure[fold != k], right[fold != k]))
        own = (fold == k) & (sure < certainty.ASK_BELOW)
        out[own] = [made.mended(float(p)) for p in sure[own]]
    return out


def split(data: Sequence[Example]) -> tuple[list[Example], list[Example]]:
    """All but the totals that were turned about, and these: the model says nothing of them."""
    turned = [e.evidence.get("turned", 0.0) > 0.0 for e in data]
    rest = [e for e, t in zip(data, turned, strict=True) if not t]
    return rest, [e for e, t in zip(data, turned, strict=True) if t and e.weight == 1.0]


def share(some: Sequence[Example]) -> float:
    """What held of some columns, each heading of a hand once; never so much that it would not be asked."""
    once = list({(_hand(e), e.heading): e.right for e in some}.values())
    return min(float(np.mean(once)), certainty.ASK_BELOW - 0.001)


def _hand(example: Example) -> str:
    return example.log.rpartition(" ")[0]


def reliability(sure: np.ndarray, right: np.ndarray) -> list[tuple[float, float, int, float, float, float, float]]:
    """By bins of certainty: low, high, columns, mean shown, share right, its 95 % interval (Clopper and Pearson)."""
    out = []
    for low, high in itertools.pairwise(BINS):
        inside = (sure >= low) & (sure < high if high < 1.0 else sure <= high)
        if inside.any():
            n, good = int(inside.sum()), int(right[inside].sum())
            interval = binomtest(good, n).proportion_ci(0.95, method="exact")
            mean = float(sure[inside].mean())
            out.append((low, high, n, mean, good / n, float(interval.low), float(interval.high)))
    return out


def table(sure: np.ndarray, right: np.ndarray) -> str:
    """A reliability table, as Markdown."""
    lines = ["| shown | headings | mean shown | right | 95 % interval |", "| --- | --: | --: | --: | --- |"]
    for low, high, n, mean, good, a, b in reliability(sure, right):
        lines.append(f"| {low:.0%} to {high:.0%} | {n} | {mean:.1%} | {good:.1%} | {a:.1%} to {b:.1%} |")
    return "\n".join(lines)


def main() -> None:
    """Fit, write, and print what was found; with ``crossed`` or a part of the hands, only print how that comes out."""
    if sys.argv[1:] == ["crossed"]:
        sure, right, fold = crossed(split(examples())[0])
        print(table(held(sure, right, fold), right))
        return
    if sys.argv[1:]:
        print(table(*shown(sys.argv[1], seed=int(sys.argv[2]) if sys.argv[2:] else 0)))
        return
    data, others = split(examples())
    sure, right, _ = crossed(data)
    text = write(replace(fit(data), bands=bands(sure, right), turned=share(others)), data)
    TARGET.write_text(text, encoding="utf-8")
    print(text)


if __name__ == "__main__":
    main()
