"""The built pages: complete, escaped, whole, and touched only when something changed."""

from __future__ import annotations

import html
import json
import re
from html.parser import HTMLParser
from pathlib import Path
from types import SimpleNamespace

import pytest
from msgspec.structs import replace

from analyser.compare import difference
from analyser.core.figures import Figure, Method, figures_of
from reports.markup import gloss, script_json
from reports.model import OverFlights
from reports.render import policy
from reports.site import build_single_flight, build_site, comparison_address
from reports.words.catalogue import interval, number, quantity
from reports.words.times import clock, span
from reports.write import MANIFEST, checksum, damaged
from tests.reports import invented


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("pages")
    build_site(invented.site(4), folder)
    return folder


def pages(folder: Path) -> list[Path]:
    return sorted(folder.rglob("*.html"))


class Links(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.ids: list[str] = []
        self.attributes: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        for key, value in attrs:
            self.attributes.append(key)
            if key in ("href", "src") and value and tag != "use":
                self.found.append(value)
            if key == "id" and value:
                self.ids.append(value)


def read(file: Path) -> Links:
    parser = Links()
    parser.feed(file.read_text("utf-8"))
    return parser


def test_every_kind_of_page_is_there(built: Path) -> None:
    names = {p.relative_to(built).as_posix() for p in pages(built)}
    assert {"index.html", "season.html", "compare.html", "glossary.html", "field-sheet.html"} <= names
    for kind in (
        "flights/tern-001.html",
        "flights/tern-001-card.html",
        "packs/r2-",
        "aircraft/tern-",
        "antennas/tern-",
    ):
        assert any(n.startswith(kind) for n in names), kind
    assert (built / "compare" / "tern-001.js").is_file()


def test_every_link_leads_somewhere(built: Path) -> None:
    for page in pages(built):
        for href in read(page).found:
            path, _, fragment = href.partition("#")
            target = (page.parent / path).resolve() if path else page
            assert target.is_file(), f"{page.name}: {href}"
            assert target.is_relative_to(built.resolve())
            if fragment and not fragment.startswith(("t=", "f=", "airframe=")):
                assert fragment in read(target).ids, f"{page.name}: {href}"


def test_ids_are_unique_and_nothing_is_inline(built: Path) -> None:
    for page in pages(built):
        found = read(page)
        assert len(found.ids) == len(set(found.ids)), page.name
        assert not [a for a in found.attributes if a.startswith("on") or a == "style"], page.name


def test_cautions_label_and_policy_are_on_every_page(built: Path) -> None:
    for page in pages(built):
        text = page.read_text("utf-8")
        assert "national association" in text
        assert "Lithium packs" in text
        assert invented.LABEL in text
        assert "default-src &#39;none&#39;" in text
        assert "unsafe-inline" not in text
        assert "unsafe-eval" not in text
        assert not re.search(r"https?://(?!www\.w3\.org)", text), page.name
        assert "safe to fly" not in text.lower()


def test_a_figure_added_to_a_result_appears_by_itself(built: Path) -> None:
    text = html.unescape((built / "flights/tern-003.html").read_text("utf-8"))
    page = invented.site(4).flights[1]
    labels = {f.label for _, f in figures_of(page.record.result.packs)}
    for label in labels:
        assert label.split(",")[0] in re.sub(r"<[^>]+>", "", text), label


def test_an_unchanged_logbook_touches_nothing(tmp_path: Path) -> None:
    calls: list[int] = []

    def loader():  # type: ignore[no-untyped-def]
        calls.append(1)
        return invented.telemetry(60.0)

    site = invented.site(2)
    site = replace(site, flights=tuple(replace(f, telemetry=loader) for f in site.flights))
    first = build_site(site, tmp_path)
    start = (tmp_path / "index.html").read_text("utf-8")
    assert site.generated in start
    assert "\u2983generated" not in start
    times = {p: p.stat().st_mtime_ns for p in tmp_path.rglob("*") if p.is_file()}
    calls.clear()
    again = build_site(replace(site, generated="another day"), tmp_path)
    assert (again.written, again.removed, again.kept) == (0, 0, first.written)
    assert {p: p.stat().st_mtime_ns for p in tmp_path.rglob("*") if p.is_file()} == times
    assert not calls, "telemetry was loaded for pages that did not change"


def test_a_changed_flight_touches_its_pages_and_what_shows_it(tmp_path: Path) -> None:
    site = invented.site(4)
    build_site(site, tmp_path)
    first = site.flights[2]
    changed = tuple(replace(f, fingerprint="other", title="Renamed") if f is first else f for f in site.flights)
    before = {p: p.read_bytes() for p in pages(tmp_path)}
    done = build_site(replace(site, flights=changed), tmp_path)
    touched = {p.relative_to(tmp_path).as_posix() for p in pages(tmp_path) if p.read_bytes() != before[p]}
    assert "index.html" in touched
    assert "flights/tern-002.html" in touched
    assert "flights/tern-003.html" not in touched
    assert done.removed == 0


def test_a_removed_flight_takes_its_pages_along(tmp_path: Path) -> None:
    site = invented.site(3)
    build_site(site, tmp_path)
    (tmp_path / "notes.txt").write_text("mine")
    fewer = site.flights[:-1]
    done = build_site(replace(site, flights=fewer, over=replace(site.said, season=invented.season(fewer))), tmp_path)
    assert done.removed == 4  # its page, its card, its day and what the comparison loads
    assert not (tmp_path / "flights/tern-001.html").exists()
    assert not (tmp_path / "compare/tern-001.js").exists()
    assert (tmp_path / "notes.txt").read_text() == "mine"


def test_an_interrupted_build_leaves_old_pages_whole_and_is_mended(tmp_path: Path) -> None:
    site = invented.site(2)
    build_site(site, tmp_path)
    before = {p: p.read_bytes() for p in tmp_path.rglob("*.html")}

    def broken():  # type: ignore[no-untyped-def]
        raise KeyboardInterrupt

    newer = tuple(
        replace(f, fingerprint=f"new-{i}", title=f"New {i}", telemetry=broken if i else f.telemetry)
        for i, f in enumerate(site.flights)
    )
    with pytest.raises(KeyboardInterrupt):
        build_site(replace(site, flights=newer), tmp_path)
    for page, content in before.items():
        text = page.read_bytes()
        assert text.rstrip().endswith(b"</html>")
        assert text == content or b"New 0" in text
    told = (tmp_path / ".pages.undone").read_text("utf-8").split()  # what the manifest no longer vouches for
    assert "flights/tern-002.html" in told
    left = [p for p in tmp_path.rglob(".*") if p.name not in (MANIFEST, ".pages.undone")]
    assert not left, "a half-written file was left"
    build_site(site, tmp_path)
    assert not (tmp_path / ".pages.undone").exists()
    assert {p: p.read_bytes() for p in tmp_path.rglob("*.html")} == before


def test_a_damaged_manifest_only_costs_time(tmp_path: Path) -> None:
    site = invented.site(2)
    first = build_site(site, tmp_path)
    (tmp_path / MANIFEST).write_text("not what was written")
    assert build_site(site, tmp_path).written == first.written


def test_a_manifest_cannot_remove_files_elsewhere(tmp_path: Path) -> None:
    outside = tmp_path / "outside.txt"
    outside.write_text("mine")
    folder = tmp_path / "pages"
    folder.mkdir()
    build_site(invented.site(2), folder)
    head, *lines = (folder / MANIFEST).read_text("utf-8").splitlines()
    at = next(n for n, line in enumerate(lines) if "index.html" in line)
    told = lines[at].partition("\t")[2].replace('"index.html"', '"../outside.txt"')
    lines[at] = f"{checksum(told.encode())}\t{told}"
    (folder / MANIFEST).write_text("\n".join([head, *lines, ""]), "utf-8")
    assert "../outside.txt" in damaged(folder)
    build_site(invented.site(2), folder)
    assert outside.exists()


def test_an_empty_logbook_has_a_start_page(tmp_path: Path) -> None:
    site = replace(invented.site(1), flights=(), over=OverFlights(invented.make(type(invented.site(1).season))))
    text = build_site(site, tmp_path).start.read_text("utf-8")
    assert "No flights yet" in text


def test_one_flight_in_one_file_needs_nothing_beside_it(tmp_path: Path) -> None:
    file = build_single_flight(invented.site(3), "tern-002", tmp_path / "one.html")
    found = read(file)
    assert all(h.startswith("#") for h in found.found)
    assert invented.LABEL in file.read_text("utf-8")
    with pytest.raises(KeyError):
        build_single_flight(invented.site(1), "no such flight", tmp_path / "two.html")


def test_one_flight_in_one_file_is_small_enough_to_send(tmp_path: Path) -> None:
    fine = replace(invented.site(1).flights[0], telemetry=lambda: invented.telemetry(600.0, 10.0))
    file = build_single_flight(replace(invented.site(1), flights=(fine,)), "tern-001", tmp_path / "one.html")
    assert file.stat().st_size <= 2_000_000
    page = json.loads(re.search(r'id="plots">(.*?)</script>', file.read_text("utf-8"), re.DOTALL)[1])
    curves = [s for spec in page["plots"].values() for s in spec.get("series", ())]
    assert len(page["times"]) < len(curves), "curves of one rate share their times"
    assert all(0 <= s["t"] < len(page["times"]) for s in curves)


def test_a_comparison_is_an_address_of_chosen_flights(tmp_path: Path) -> None:
    site = invented.site(4)
    build_site(site, tmp_path)
    address = comparison_address(site, ["tern-001", "tern-004"], tmp_path)
    assert address == f"{(tmp_path / 'compare.html').as_uri()}#f=tern-001,tern-004"
    for key in ("tern-001", "tern-004"):
        assert f'data-pick="{key}"' in (tmp_path / "compare.html").read_text("utf-8")
        assert f'["{key}"]=' in (tmp_path / "compare" / f"{key}.js").read_text("utf-8")
    with pytest.raises(ValueError, match="at least two"):
        comparison_address(site, ["tern-001", "tern-001"], tmp_path)


DATA = "plots|words|timers|listed|airframe-data"
EVIL = [
    "<script>alert(1)</script>",
    "../../x",
    '"><img src=x onerror=alert(1)>',
    "</script><script>alert(2)</script>",
    "{{ 7*7 }}",
    "javascript:alert(3)",
]


@pytest.mark.parametrize("evil", EVIL)
def test_names_and_notes_from_files_are_inert(evil: str, tmp_path: Path) -> None:
    aircraft = replace(invented.TERN, name=f"Tern {evil}", note=evil)
    flights = tuple(
        invented.flight(
            n, title=f"Flight {evil} {n}", flight_id=f"{evil}{n}", aircraft=aircraft, remarks=evil, notices=(evil,)
        )
        for n in (2, 1)
    )
    site = replace(
        invented.site(1),
        title=evil,
        labelled=evil,
        flights=flights,
        over=OverFlights(invented.season(flights, aircraft)),
    )
    folder = tmp_path / "deep" / "down"
    build_site(site, folder)
    assert not [p for p in tmp_path.rglob("*") if p.is_file() and not p.is_relative_to(folder)]
    own = {p.name for p in (folder / "assets").iterdir()}
    for page in pages(folder):
        text = page.read_text("utf-8")
        scripts = re.findall(r"<script[^>]*>", text)
        assert all(
            re.fullmatch(rf'<script (src="[./]*(?:assets|data)/[\w.-]+"|type="application/json" id="(?:{DATA})")>', s)
            for s in scripts
        ), page
        assert "<img" not in text
        assert ">49<" not in text
        for href in read(page).found:
            assert not href.startswith("javascript:")
            assert Path(href.partition("#")[0]).name in own or href.startswith("#") or ".html" in href


def test_json_in_a_page_cannot_end_its_element() -> None:
    text = script_json({"a": "</script><!--\u2028&"})
    assert not set("<>&\u2028") & set(text)
    assert json.loads(text) == {"a": "</script><!--\u2028&"}


def test_nothing_in_the_data_of_a_page_hides_or_turns_a_line_round() -> None:
    """Marks of Unicode Standard Annex 9 and a zero-width space: they went raw into the files beside pages."""
    assert json.loads(script_json({"P\u202e1": "a\u2066b\u200b", "−": "1\u00a0V"})) == {
        "P\ufffd1": "a\ufffdb\ufffd",
        "−": "1\u00a0V",
    }


def test_the_policy_allows_no_inline_script() -> None:
    for single in (False, True):
        assert "default-src 'none'" in policy(single)
        assert "unsafe-inline" not in policy(single)
        assert "unsafe-eval" not in policy(single)
    assert "'self'" not in policy(True)


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [(-0.04, 1, "0.0"), (-3.25, 1, "−3.2"), (12345.6, 0, "12\u202f346"), (float("inf"), 1, "∞")],
)
def test_numbers_are_written_for_people(value: float, digits: int, text: str) -> None:
    assert number(value, digits) == text


def test_figures_and_times_are_written_for_people() -> None:
    figure = Figure("Rate", 212.4, "mL/min", Method.ESTIMATED, 198.0, 226.1)
    assert quantity(figure) == "212.4\u00a0mL/min"
    assert interval(figure) == "198.0 to 226.1"
    assert quantity(Figure.unavailable("Rate", "mL/min", "no flow")) == "not available"
    assert [clock(s) for s in (0, 59.96, 61.24, 3600.0)] == ["0:00.0", "1:00.0", "1:01.2", "1:00:00.0"]
    assert [span(s) for s in (0.0, 0.4, 12.3, 484, 3725)] == ["a moment", "0.4 s", "12 s", "8 min 04 s", "1 h 02 min"]


def test_glossary_words_carry_their_meaning_and_stay_escaped() -> None:
    assert 'title="A dip of pack voltage' in gloss("Deepest sag <b>")
    assert "&lt;b&gt;" in gloss("Deepest sag <b>")
    assert gloss("message") == "message"


def test_difference_of_two_figures() -> None:
    a = Figure("Rate", 210.0, "mL/min", Method.ESTIMATED, 207.0, 213.0)
    b = Figure("Rate", 200.0, "mL/min", Method.ESTIMATED, 196.0, 204.0)
    d = difference(a, b)
    assert (d.value, d.low, d.high) == (10.0, 5.0, 15.0)  # 3 and 4 in quadrature are 5
    assert difference(a, replace(b, low=None, high=None)).low is None
    assert difference(a, Figure.unavailable("Rate", "mL/min", "no flow")).missing == "no flow"
    with pytest.raises(ValueError, match="cannot take"):
        difference(a, Figure("Mass", 1.0, "kg", Method.MEASURED))


def test_the_field_sheet_has_the_columns_of_its_csv(built: Path) -> None:
    text = (built / "field-sheet.html").read_text("utf-8")
    found = re.findall(r"<code>([a-z0-9_]+)</code>", text)
    for wanted in [
        "log_file",
        "part",
        "aircraft",
        "layout",
        "pack_rx1",
        "pack_ecu_left",
        "fuel_before_left_ml",
        "fuel_put_in_right_ml",
        "charged_rx2_mah",
        "resistance_rx1_mohm",
        "cell_resistance_rx1_mohm",
        "pack_temperature_rx1_c",
        "air_temperature_c",
        "pilot_latitude_deg",
        "pilot_longitude_deg",
        "pilot_altitude_m",
        "remarks",
    ]:
        assert wanted in found, wanted


def test_flights_begin_elsewhere_before_anything_is_said_over_them(tmp_path):
    """While this process works out what is said over flights, the others are at the flights' own pages."""
    order = []
    site = invented.site(2)

    def over():
        order.append("over flights")
        return site.said

    def run(function, items):
        order.append(f"{len(items)} flights")
        return (SimpleNamespace(item=item, value=function(item), error=None) for item in items)

    built = build_site(replace(site, over=over, snags=False), tmp_path, run=run)
    assert order == ["2 flights", "over flights"]
    assert built.written > 6
    assert not built.failed
