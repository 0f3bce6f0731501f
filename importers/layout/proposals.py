"""One column of a file to its channel: unit, kind and conversion, with what is open asked."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from contextlib import suppress

import numpy as np
import numpy.typing as npt
from msgspec.structs import replace

from analyser.core.channels import EXTRA, TIME, parse
from analyser.core.findings import Finding, Text, say
from importers.layout import corrections, mapping
from importers.layout.codes import LayoutCode, LayoutRefused
from importers.meaning import certainty, choices, columns, units, witness
from importers.meaning.codes import MeaningCode
from importers.meaning.names import Known
from importers.meaning.words import meanings
from importers.model import ColumnPlan, Question
from importers.refusal import Refusal
from importers.table.columns import Columns, different
from importers.table.dialect import Dialect
from importers.table.values import FALSE, FLAGS, FULL, PRINTED_MINUS, TRUE

FloatArray = npt.NDArray[np.float64]
MOST_NAMED = 8
"""A question names so many columns."""
MAPPED = say(LayoutCode.MAPPED)
AS_SAID = say(LayoutCode.AS_SAID)
"""Reasons of a saved mapping, and of what a person said."""
_KINDS = {
    "V": "voltage", "A": "current", "mAh": "charge", "°C": "temperature", "mL": "volume", "mL/min": "flow",
    "rpm": "revolutions", "m": "height", "m/s": "speed", "m/s²": "acceleration", "Pa": "pressure", "dBm": "signal",
    "°": "angle", "%": "share",
}  # fmt: skip
"""A channel's unit → what a question about the unit of several columns is called."""
_MAY_REMAIN = ("remaining_ml", "remaining_percent", "used_mah")


def column(
    heading: columns.Heading, values: Sequence[str], dialect: Dialect, said: Mapping[str, str],
    saved: mapping.Mapping | None, questions: list[Question], known_names: columns.Known | None = None,
    numbers: FloatArray | None = None,
) -> ColumnPlan:  # fmt: skip
    """What one column is taken for, going by its heading, its unit and some of its values (none: it holds none).

    ``numbers`` are those of the values, where they have been read already.
    """
    text, own = heading.text, columns.dissect(heading.plain)
    forced = saved.columns.get(text) if saved else None
    if saved and forced and forced.startswith(f"{EXTRA}."):
        found = column(replace(heading, words=(), ideas=(), unit=None), values, dialect, said, None, [])
        return replace(found, channel=forced if found.channel else "", reason=MAPPED, settled=True)
    examples = tuple(values[:3])
    plan = ColumnPlan(text, f"{EXTRA}.{columns.slug(text)}", heading.unit_text, "", examples, 1.0, "",
                      written=heading.written)  # fmt: skip
    if forced == "" or not examples:
        return replace(plan, channel="", reason=say(LayoutCode.NO_VALUE) if not examples else AS_SAID, kind="skip")
    numbers = floats(values, dialect) if numbers is None else numbers
    numbers = numbers[np.isfinite(numbers)]
    may_be = examples[0] in FLAGS and (not numbers.size or numbers.max() <= 1.0)
    flags = may_be and FLAGS.issuperset(different(values))
    flags = flags or ("gear" in heading.ideas and heading.unit == "%" and all(v in FULL or v in FALSE for v in values))
    numeric = len(numbers) > 0.5 * len(values)
    unit_key = f"unit.{columns.slug(text)}"
    if own.unit and heading.unit and unit_key not in said and not (saved and text in saved.units):
        between = units.conversion(own.unit, heading.unit)
        if between is not None and not between.identity:  # of one kind, so not a letter that only looks like a unit
            ask = say(LayoutCode.ASK_UNIT_BESIDE, heading=text, unit=heading.unit_text)
            questions.append(Question(unit_key, ask, (own.unit_text, heading.unit_text), (text,)))
    unit_said = (saved.units.get(text) if saved else None) or said.get(unit_key)
    if unit_said and (unit := units.looks_up(unit_said)):
        heading = replace(heading, unit=unit, unit_text=unit_said, unit_by="said", scale=0)
        plan = replace(plan, unit_found=unit_said)
    if forced and (known := parse(forced)):
        reason = MAPPED if saved and saved.name and text not in corrections.taken(said)[0] else AS_SAID
        if known.channel.unit == "bool":
            return replace(plan, channel=forced, reason=reason, kind="bool", settled=True)
        seen = witness.numbers(numbers) if numeric else None
        of = choices.choose(
            f"{known.channel.subject}.{known.channel.quantity}", known.channel, heading, seen, flags=False
        )
        if of is None and heading.unit:
            corrected = any(text in some for some in corrections.taken(said)) or unit_key in said
            raise Refusal(
                saved.name if saved and saved.name and not corrected else say(LayoutCode.A_CORRECTION),
                LayoutRefused.OTHER_KIND,
                column=text, channel=forced, unit=heading.unit_text, wanted=known.channel.unit,
                near=units.nearest(heading.unit_text, known.channel.unit),
            )  # fmt: skip
        if of is not None and of.ask:
            asked = say(LayoutCode.ASK_UNIT_MAPPED, heading=text, examples=plan.samples, channel=forced)
            questions.append(Question(unit_key, asked, of.ask, (text,)))
        factor = of.conversion if of else units.Conversion()
        shown = replace(heading, unit=of.unit) if of and of.unit else heading
        return replace(plan, channel=forced, conversion=_shown(factor, shown, known.channel.unit), reason=reason,
                       factor=factor, settled=True)  # fmt: skip
    if not numeric and not flags:
        return _text(plan)
    unread = any(q.key == "decimal" for q in questions)  # what the numbers are is not known yet
    seen = witness.numbers(numbers) if numeric and not unread else None
    match = columns.match(heading, flags=flags, seen=seen, known=known_names)
    if "decimal" in said and match.evidence.get("odd"):  # a person has said what the numbers are
        sure = certainty.weights()({k: v for k, v in match.evidence.items() if k != "odd"})
        match = replace(match, confidence=round(sure, 3))
    if unit_said and parse(match.channel) is None and not forced:
        plain = columns.match(own, flags=flags, seen=seen, known=known_names)
        # What was offered as an answer is one, though no channel is in that unit.
        if (other := parse(plain.channel)) and heading.unit and unit_said not in plain.ask:
            raise Refusal(say(LayoutCode.A_CORRECTION), LayoutRefused.OTHER_KIND, column=text,
                          channel=plain.channel, unit=unit_said, wanted=other.channel.unit,
                          near=units.nearest(unit_said, other.channel.unit))  # fmt: skip
    if len(match.ask) > 1 and (shared := said.get(kind_key(match.channel), "")) in match.ask:
        heading = replace(heading, unit=units.understand(shared) or shared, unit_text=shared, unit_by="said")
        match = columns.match(heading, flags=flags, seen=seen, known=known_names)
    if len(match.ask) > 1:
        asked = say(LayoutCode.ASK_UNIT, heading=text, examples=plan.samples)
        questions.append(Question(unit_key, asked, match.ask, (text,)))
    if match.channel.endswith("used_mah") and len(numbers) > 2 and _falls(numbers):
        return replace(plan, confidence=0.6, reason=_kept(LayoutCode.FALLS))
    match = _turned(match, numbers)
    known = parse(match.channel)
    heading = replace(heading, unit=match.unit) if heading.scale and match.unit else heading
    if not known and not numeric and all(len(v) == 1 for v in values):
        return _text(plan)  # N and S, say, are no states
    if not known and numbers.size and float(np.abs(numbers).max()) >= 2**53:
        return replace(plan, reason=say(LayoutCode.TOO_LONG), kind="text")
    return replace(
        plan, channel=match.channel, conversion=_shown(match.conversion, heading, known.channel.unit if known else ""),
        confidence=match.confidence, reason=match.reason, factor=match.conversion,
        kind=match.kind if known else "bool" if flags and not numeric else "number",
        antenna=match.antenna, rivals=match.rivals, evidence=match.evidence, settled=heading.unit_by == "said",
    )  # fmt: skip


def kind_key(channel: str) -> str:
    """Key of the question that asks the unit of all columns of a channel's kind, '' where there is none."""
    known = parse(channel)
    kind = _KINDS.get(known.channel.unit, "") if known else ""
    return f"unit.all.{kind}" if kind else ""


def also(reason: Text, code: LayoutCode, **values: Text) -> Finding:
    """A reason, and a further one behind it."""
    return say(LayoutCode.ALSO, first=reason, more=say(code, **values))


def _text(plan: ColumnPlan) -> ColumnPlan:
    return replace(plan, reason=_kept(LayoutCode.HOLDS_TEXT, example=plan.samples[0][:20]), kind="text")


def _kept(code: LayoutCode, **values: str) -> Finding:
    return say(MeaningCode.KEPT, why=say(code, **values))


def _turned(match: columns.Match, numbers: FloatArray) -> columns.Match:
    """Propose the other total where the values run against the heading: what "remains" and rises is what is used."""
    if "contradicted" not in match.evidence or "still" in match.evidence or len(numbers) < 3:
        return match
    for quantity, other, code in (
        ("remaining_ml", "used_ml", LayoutCode.MAY_BE_USED), ("used_ml", "remaining_ml", LayoutCode.MAY_BE_REMAINING),
    ):  # fmt: skip
        steps = np.diff(numbers)
        against = bool(numbers[-1] > numbers[0]) if code is LayoutCode.MAY_BE_USED else _falls(numbers)
        if match.channel.endswith(quantity) and against and steps.any():
            reason = also(match.reason, code)
            evidence = {**match.evidence, "turned": 1.0}
            channel = match.channel.replace(quantity, other)
            sure = certainty.weights().turned
            return replace(match, channel=channel, confidence=sure, reason=reason, evidence=evidence)
    return match


def hemispheres(proposed: Sequence[ColumnPlan], values: Mapping[int, Sequence[str]]) -> list[ColumnPlan]:
    """Let a column of N and S, or of E and W, give degrees without signs of their own theirs."""
    out = list(proposed)
    lettered = [i for i, some in values.items() if some and some[0] in "NSEW"]
    for n, degrees in enumerate(proposed if lettered else ()):
        letters = {"position.latitude_deg": "NS", "position.longitude_deg": "EW"}.get(degrees.channel, "")
        own = values[degrees.column] if letters else []
        if not letters or any(v[0] in f"-{PRINTED_MINUS}{letters}" or v[-1] in letters for v in own):
            continue
        signs = [i for i in lettered if all(v in letters for v in values[i])]
        if signs:
            sign = min(signs, key=lambda i: abs(i - degrees.column))
            out[n] = replace(degrees, sign=sign, reason=also(degrees.reason, LayoutCode.SIGNED_BESIDE))
    return out


def meant(
    proposed: Sequence[ColumnPlan], said: Mapping[str, str], questions: list[Question], names: Known
) -> list[ColumnPlan]:
    """Ask what "left" means, a side or what remains, unless another column speaks of the right."""
    if names.chosen.get("left") == "remaining":
        return list(proposed)
    words = [columns.dissect(c.plain).words for c in proposed]
    open_at = [i for i, c in enumerate(proposed) if _may_mean_both(c, words[i], words)]
    out = list(proposed)
    shared = "meaning.left" if len(open_at) > 1 else ""
    for i in open_at:
        column = proposed[i]
        key = f"meaning.{columns.slug(column.heading)}"
        answer = said.get(key) or said.get("meaning.left")
        if answer == "remaining":
            main = column.channel.replace(".left.", ".main.").replace("_left.", ".")
            kept = column.channel.rpartition(".")[2].startswith("remaining")
            own = f"{EXTRA}.{columns.slug(column.heading)}"
            out[i] = replace(
                column,
                channel=main if kept else own,
                confidence=1.0,
                reason=say(LayoutCode.REMAINING_AS_SAID),
                factor=column.factor if kept else units.Conversion(),
                settled=True,
            )
        elif answer == "left-side":
            out[i] = replace(column, confidence=1.0, reason=also(column.reason, LayoutCode.LEFT_AS_SAID), settled=True)
        elif not shared:
            asked = say(LayoutCode.ASK_LEFT, headings=(column.heading,))
            questions.append(Question(key, asked, ("left-side", "remaining"), (column.heading,)))
    still = [proposed[i].heading for i in open_at if out[i] is proposed[i]]
    if shared and still:
        asked = say(LayoutCode.ASK_LEFT, headings=tuple(still))
        questions.append(Question(shared, asked, ("left-side", "remaining"), tuple(still)))
    return out


def _may_mean_both(column: ColumnPlan, words: Sequence[str], others: Sequence[Sequence[str]]) -> bool:
    """Whether "left" in a heading may be a side or what remains: no other column says the same of the right."""
    known = parse(column.channel)
    if not known or known.channel.quantity not in _MAY_REMAIN or column.reason == MAPPED:
        return False
    if parse(column.plain):  # a channel's own name means that channel
        return False
    if (
        words.count("left") != 1
        or any(w != "left" and meanings(w)[:1] in (("left",), ("right",)) for w in words)
        or known.instance.rpartition("_")[2] not in ("left", "main")
    ):
        return False
    return not any("right" in w and sorted(w) == sorted("right" if x == "left" else x for x in words) for w in others)


def _shown(factor: units.Conversion, heading: columns.Heading, wanted: str) -> str:
    return "" if factor.identity or not heading.unit else f"{units.written(heading.unit)} → {wanted}"


def _falls(numbers: FloatArray) -> bool:
    steps = np.diff(numbers)
    return bool(numbers[-1] < numbers[0]) and int((steps < 0).sum()) > 2 * int((steps > 0).sum())


def states(cells: Sequence[str]) -> FloatArray:
    """Cells of a state: 1 where it holds, 0 where it does not, NaN where nothing is said."""
    return np.array([1.0 if c in TRUE or c in FULL else 0.0 if c in FALSE else np.nan for c in cells])


def floats(cells: Sequence[str], dialect: Dialect) -> FloatArray:
    """Numbers of some cells, NaN where there is none."""
    cells = _filled(cells)
    if (read := _at_once(cells, dialect)) is not None:
        return read
    made = {text: _number(text, dialect) for text in set(cells)}
    some = {text: np.nan if number is None else number for text, number in made.items()}
    return np.fromiter(map(some.__getitem__, cells), float, len(cells))


def _filled(cells: Sequence[str]) -> Sequence[str]:
    return [c or "nan" for c in cells] if "" in cells else cells


def _at_once(cells: Sequence[str], dialect: Dialect) -> FloatArray | None:
    """Numbers without any mark but a point, several times as quick as cell by cell; None where one has another."""
    if dialect.decimal == "." and not dialect.thousands:
        with suppress(ValueError):
            return np.fromiter(map(float, cells), float, len(cells))
    return None


class Floats:
    """The numbers in the columns of a file's first rows, NaN where there is none; each column is read once."""

    def __init__(self, cells: Columns, dialect: Dialect) -> None:
        self._cells, self._dialect = cells, dialect
        self._read = dict(cells.numbers)
        self._plain = set(self._read)

    def __call__(self, i: int) -> FloatArray:
        """Those of one column, by number from 0."""
        if i not in self._read:
            cells = _filled(self._cells[i])
            read = _at_once(cells, self._dialect)
            self._plain |= {i} if read is not None else set()
            self._read[i] = floats(cells, self._dialect) if read is None else read
        return self._read[i]

    def plain(self, i: int) -> bool:
        """Whether a column holds numbers alone: no unit or other mark beside them."""
        self(i)
        return i in self._plain


def _number(text: str, dialect: Dialect) -> float | None:
    if dialect.decimal == "." and not dialect.thousands:
        try:
            return float(text)
        except ValueError:
            pass
    if dialect.thousands:
        text = text.replace(dialect.thousands, "")
    try:
        return float(re.sub(f"^[{PRINTED_MINUS}]", "-", text.replace(dialect.decimal, ".")).rstrip("% "))
    except ValueError:
        return None


def _understood(proposed: Sequence[ColumnPlan], places: Sequence[int]) -> int:
    """The only column of several that says its unit and is borne out by others, or that is understood; -1 for none."""
    said = [i for i in places if {"unit_said", "unit_by_values"} & proposed[i].evidence.keys()]
    if len(said) == 1 and "agrees" in proposed[said[0]].evidence:
        return said[0]  # "GS (mph)", which the way from place to place bears out, beside "Gs"
    sure = [i for i in places if proposed[i].confidence >= certainty.ASK_BELOW]
    rest = [proposed[i].evidence for i in places if i not in sure]
    strange = all({"unknown", "foreign"} & evidence.keys() for evidence in rest)
    return sure[0] if len(sure) == 1 and strange else -1


def settle(proposed: list[ColumnPlan], said: Mapping[str, str], questions: list[Question]) -> list[ColumnPlan]:
    """Two columns for one channel are a question; extras get names of their own."""
    at: dict[str, list[int]] = {}
    for i, c in enumerate(proposed):
        if c.channel not in ("", TIME):
            at.setdefault(c.channel, []).append(i)
    out = list(proposed)
    taken = set(at)
    for channel, places in at.items():
        if len(places) == 1:
            continue
        keep = -1
        if not channel.startswith(f"{EXTRA}."):
            key = f"column.{channel}"
            names = tuple(proposed[i].heading for i in places)
            keep = next((i for i in places if proposed[i].heading == said.get(key)), -1)
            keep = _understood(proposed, places) if key not in said else keep
            if keep < 0 and said.get(key) != "none":
                more = max(len(names) - MOST_NAMED, 0)
                asked = say(LayoutCode.ASK_WHICH_COLUMN, channel=channel, headings=names[:MOST_NAMED], more=more)
                questions.append(Question(key, asked, (*names, "none"), names))
            elif keep >= 0:  # of what is kept aside no unit is asked
                aside = {(proposed[i].heading,) for i in places if i != keep}
                questions[:] = [q for q in questions if not (q.key.startswith("unit.") and q.columns in aside)]
        for i in places:
            if i == keep or (keep < 0 and i == places[0] and channel.startswith(f"{EXTRA}.")):
                continue
            base = f"{EXTRA}.{columns.slug(proposed[i].heading)}"
            name, n = base, 2
            while name in taken:
                name, n = f"{base}_{n}", n + 1
            taken.add(name)
            out[i] = replace(out[i], channel=name, factor=units.Conversion(), conversion="",
                             reason=say(LayoutCode.OTHER_COLUMN, channel=channel))  # fmt: skip
    return out
