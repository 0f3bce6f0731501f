"""One pack over its life."""

from __future__ import annotations

from typing import Any

from analyser.core.figures import figures_of
from analyser.core.findings import Finding, Text
from analyser.season.packs.codes import SeasonPackCode
from analyser.season.packs.history import PackHistory
from reports.figures.plain import trend
from reports.model import Site
from reports.pages.bench import of_pack
from reports.pages.flight import brief_name, path_of
from reports.pages.start import verdict
from reports.render import Shell, page
from reports.words.catalogue import message


def render(history: PackHistory, site: Site, shell: Shell) -> str:
    """Make the page of one pack."""
    pack = history.pack
    labels = [site.title_of(i) for i in history.flight_ids]
    short = [brief_name(site, i) for i in history.flight_ids]
    rule = pack.retire
    rated = pack.rated_mah
    resistance = pack.new_resistance_mohm
    curves = (
        (
            "resistance",
            history.resistance.figures,
            "mΩ",
            resistance * rule.resistance_ratio if resistance else None,
            rule.resistance_ratio,
        ),
        (
            "capacity",
            history.capacity.figures,
            "mAh",
            rated * rule.capacity_percent / 100 if rated else None,
            rule.capacity_percent,
        ),
        ("spread", history.spread.figures, "V", rule.cell_spread_v, rule.cell_spread_v),
        ("sag", history.sags_v, "V", None, 0.0),
        ("lowest", history.lowest_v, "V", None, 0.0),
    )
    plots: dict[str, Any] = {}
    drawn = []
    for key, figures, unit, limit, bound in curves:
        title = message(f"pack.curve.{key}")
        known = [f.value for f in figures if f.value is not None]
        # A limit far outside the data would flatten the curve: it is then only named.
        near = limit is not None and bool(known) and limit <= 4 * max(known) and limit >= 0.25 * min(known)
        rule_words = message(f"pack.rule_line.{key}", bound=bound) if near else ""
        spec = trend([(title, short, figures)], unit, limit=limit if near else None, limit_name=rule_words)
        if spec:
            plots[key] = spec
            drawn.append((key, title, unit))
    rows = [
        (
            path_of(i),
            label,
            *(
                t[n] if n < len(t) else None
                for t in (
                    history.capacity.figures,
                    history.resistance.figures,
                    history.spread.figures,
                    history.sags_v,
                    history.lowest_v,
                )
            ),
        )
        for n, (i, label) in enumerate(zip(history.flight_ids, labels, strict=True))
    ]
    # One figure a flight is drawn and stands in the table of flights; the list has what is said of the pack as a whole.
    # What the gravest reason rests on is one of the others.
    whole = [f for path, f in figures_of(history) if path != "matter" and not path.rpartition(".")[2].isdigit()]
    return page(
        "pack.html",
        shell,
        title=message("pack.title", pack=pack.name),
        plots={"plots": plots},
        history=history,
        pack=pack,
        drawn=drawn,
        rows=rows[::-1],
        routes={"capacity": history.capacity.route, "resistance": history.resistance.route},
        figures=whole,
        verdict=verdict(history),
        asks=_not_said(history),
        bench=of_pack(site.bench, pack.name),
    )


def _not_said(history: PackHistory) -> tuple[Text, ...]:
    """What is asked of the owner, but for what the verdict asks already."""
    sentence = history.sentence
    remedies = sentence.values.get("remedies", ()) if isinstance(sentence, Finding) else ()
    if any(isinstance(r, Finding) and r.code == SeasonPackCode.TELLS_CAPACITY for r in remedies):
        return tuple(a for a in history.asks if not (isinstance(a, Finding) and a.code == SeasonPackCode.ASK_NOW))
    return history.asks
