"""One pack over its life."""

from __future__ import annotations

from typing import Any

from analyser.core.figures import figures_of
from analyser.season.packs.history import PackHistory
from reports.figures.plain import trend
from reports.model import Site
from reports.pages.flight import brief_names, path_of
from reports.render import Shell, page


def render(history: PackHistory, site: Site, shell: Shell) -> str:
    """Make the page of one pack."""
    pack = history.pack
    titles = {f.record.flight_id: f.title for f in site.flights}
    labels = [titles.get(i, i) for i in history.flight_ids]
    briefs = brief_names(site)
    short = [briefs.get(i, i) for i in history.flight_ids]
    rule = pack.retire
    rated = pack.rated_mah
    resistance = pack.new_resistance_mohm
    curves = (
        (
            "resistance",
            "Internal resistance",
            history.resistances_mohm,
            "mΩ",
            resistance * rule.resistance_ratio if resistance else None,
            f"rule: {rule.resistance_ratio:g} times new",
        ),
        (
            "capacity",
            "Capacity",
            history.capacities_mah,
            "mAh",
            rated * rule.capacity_percent / 100 if rated else None,
            f"rule: {rule.capacity_percent:g} % of the label",
        ),
        ("spread", "Cell spread", history.cell_spreads_v, "V", rule.cell_spread_v, f"rule: {rule.cell_spread_v:g} V"),
        ("sag", "Sag at a load of 10 A", history.sags_v, "V", None, ""),
        ("lowest", "Lowest voltage in each flight", history.lowest_v, "V", None, ""),
    )
    plots: dict[str, Any] = {}
    drawn = []
    for key, title, figures, unit, limit, name in curves:
        known = [f.value for f in figures if f.value is not None]
        # A limit far outside the data would flatten the curve: it is then only named.
        near = limit is not None and bool(known) and limit <= 4 * max(known) and limit >= 0.25 * min(known)
        spec = trend([(title, short, figures)], unit, limit=limit if near else None, limit_name=name)
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
                    history.capacities_mah,
                    history.resistances_mohm,
                    history.cell_spreads_v,
                    history.sags_v,
                    history.lowest_v,
                )
            ),
        )
        for n, (i, label) in enumerate(zip(history.flight_ids, labels, strict=True))
    ]
    # One figure a flight is drawn and stands in the table of flights; the list has what is said of the pack as a whole.
    whole = [f for path, f in figures_of(history) if not path.rpartition(".")[2].isdigit()]
    # A verdict that only strings its reasons together is better read as a list.
    listed = bool(history.reasons) and all(r in history.sentence for r in history.reasons)
    head, _, _ = history.sentence.partition(":")
    return page(
        "pack.html",
        shell,
        title=f"Pack {pack.name}",
        plots={"plots": plots},
        history=history,
        pack=pack,
        drawn=drawn,
        rows=rows[::-1],
        figures=whole,
        verdict=f"{head}." if listed else history.sentence,
    )
