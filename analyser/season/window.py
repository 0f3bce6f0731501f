"""Which flights the histories rest on: the newest of an aircraft, of a pack and of a layout, however long the log.

What is counted (hours, starts, cycles, brown-outs) counts every flight; what is estimated (trends, changes, odds, maps)
rests on the newest: an engine, a pack or an antenna is what it is now, and one flight more costs the same after the
ten-thousandth as after the hundredth.
"""

from __future__ import annotations

from msgspec import Struct, field

from analyser.season.lineup import Lineup

FLIGHTS = 60
"""So many of an aircraft's newest flights carry its trends (a season; common practice, no source)."""
USES = 60
"""So many of the newest flights of a pack carry its trends, with its first ones."""
FIRST_USES = 6
"""So many of a pack's first flights stay: they tell what it was when new."""
PER_LAYOUT = 30
"""So many of the newest flights with one antenna layout carry its maps."""


class Windows(Struct):
    """Ids of flights, oldest first, by what they are read for.

    Parameters
    ----------
    aircraft : dict of str to list of str
        Newest flights of each aircraft, '' for flights of none.
    layouts : dict of str to dict of str to list of str
        Newest flights of each aircraft with each of its layouts, '' for those with none; layouts in the order they were
        first flown among these.
    packs : dict of str to list of str
        First and newest flights of each pack.
    flown : dict of str to list of str
        Every flight of each aircraft.
    uses : dict of str to list of str
        Every flight of each pack.
    """

    aircraft: dict[str, list[str]] = field(default_factory=dict)
    layouts: dict[str, dict[str, list[str]]] = field(default_factory=dict)
    packs: dict[str, list[str]] = field(default_factory=dict)
    flown: dict[str, list[str]] = field(default_factory=dict)
    uses: dict[str, list[str]] = field(default_factory=dict)

    def needed(self, aircraft: str) -> list[str]:
        """Flights that an aircraft's histories read, oldest first."""
        mapped = (i for ids in self.layouts.get(aircraft, {}).values() for i in ids)
        wanted = {*self.aircraft.get(aircraft, ()), *mapped}
        return [i for i in self.flown.get(aircraft, ()) if i in wanted]


def windows_of(lineup: Lineup) -> Windows:
    """Find the flights that histories rest on, among all flights in order."""
    flown = {name: lineup.named(places) for name, places in lineup.owned.items()}
    uses = {name: lineup.named(places) for name, places in lineup.grouped(lambda f: dict.fromkeys(f.packs)).items()}
    layouts: dict[str, dict[str, list[str]]] = {name: {} for name in flown}
    mapped = {key: places[-PER_LAYOUT:] for key, places in lineup.grouped(lambda f: ((f.aircraft, f.layout),)).items()}
    for aircraft, layout in sorted(mapped, key=lambda key: int(mapped[key][0])):
        layouts[aircraft][layout] = lineup.named(mapped[aircraft, layout])
    return Windows(
        aircraft={name: ids[-FLIGHTS:] for name, ids in flown.items()},
        layouts=layouts,
        packs={
            name: ids if len(ids) <= USES + FIRST_USES else ids[:FIRST_USES] + ids[-USES:] for name, ids in uses.items()
        },
        flown=flown,
        uses=uses,
    )
