"""Coverage-guided fuzzing of the importer: any bytes are read or refused, never a traceback.

Run ``make fuzz`` (three minutes) or ``python tests/fuzz/fuzz_import.py [libFuzzer options] [corpus folder …]``.
What breaks it is written to ``tests/fuzz/corpus/``, where the plain test suite replays it ever after.
"""

from __future__ import annotations

import io
import sys
import tempfile
import warnings
from pathlib import Path

CORPUS = Path(__file__).parent / "corpus"
ROWS = 200_000
"""Rows beyond which an input proves nothing more."""


def attempt(data: bytes) -> str:
    """Plan and read bytes as a user would: answer what is asked with the first answer offered, then write.

    Returns
    -------
    str
        What became of it: ``read``, ``asked`` or the refusal. Anything but a refusal passes as an exception.
    """
    import numpy as np

    from importers.plan import plan
    from importers.read import read
    from importers.refusal import Refusal
    from spooldown import problems  # noqa: F401 - lets refusals read as sentences

    try:
        proposal = plan(io.BytesIO(data), name="fuzz.csv")
        if proposal.questions:
            answers = {q.key: q.answers[0] for q in proposal.questions}
            proposal = plan(io.BytesIO(data), name="fuzz.csv", answers=answers)
            if proposal.questions:
                return "asked"
        rows, last = 0, -1.0
        for draft in read(proposal):
            last = -1.0
            for batch in draft.batches:
                assert batch.schema.equals(draft.schema)
                time = np.asarray(batch.column(0))
                assert np.isfinite(time).all()
                assert (np.diff(time, prepend=last) > 0).all(), "time must grow"
                last = float(time[-1]) if time.size else last
                rows += batch.num_rows
            assert all("\n" not in notice for notice in map(str, draft.notices))
            if rows > ROWS:
                break
    except Refusal as refusal:
        sentence = str(refusal)
        assert sentence.startswith("fuzz.csv")
        assert "\n" not in sentence
        assert sentence.endswith(".")
        return sentence
    return "read"


PIECES = (1, 900, 7, 4000, 63)
"""Sizes in which bytes arrive."""


def attempt_live(data: bytes) -> int:
    """Read bytes as they would arrive, with a hole now and then; returns how many rows were understood."""
    import itertools

    import numpy as np

    from importers.live import Live
    from spooldown.live.scrutiny import Scrutiny
    from spooldown.live.state import State

    live, state, scrutiny, at = Live("fuzz.csv"), State(), Scrutiny(), 0
    for n, size in enumerate(itertools.cycle(PIECES)):
        piece = data[at : at + size]
        at += size
        if not piece:
            break
        scrutiny.look(piece)
        for seen in live.feed(piece):
            assert np.isfinite(seen.times_s).all()
            state.push(seen.times_s, seen.table)
        if n % 50 == 49:
            live.broken()
    assert scrutiny.garbage <= len(data)
    return state.rows


def _one(data: bytes) -> None:
    attempt(data)
    attempt_live(data)


def seeds(folder: Path) -> None:
    """Write the dialects of the corpus, shortened, as starting points."""
    from tests.importers.corpus.cases import CASES

    for n, case in enumerate(CASES):
        packed = case.data[:2] in (b"PK", b"\x1f\x8b", b"BZ", b"\xfd7", b"(\xb5")
        (folder / f"case{n:03d}").write_bytes(case.data[: 20_000 if packed else 1_200])


def main() -> None:
    """Fuzz until told to stop."""
    import atheris

    sys.path.insert(0, str(Path(__file__).parents[2]))
    with atheris.instrument_imports(include=["importers", "csv", "gzip", "zipfile"]):
        import importers.read  # noqa: F401
    warnings.simplefilter("ignore")
    CORPUS.mkdir(exist_ok=True)
    # The fuzzer ends without unwinding, so its inputs stay in one known folder, where the next run goes on with them.
    scratch = Path(tempfile.gettempdir()) / "spooldown-fuzz"
    scratch.mkdir(exist_ok=True)
    seeds(scratch)
    options = [f"-artifact_prefix={CORPUS}/", f"-dict={CORPUS.parent / 'words.dict'}", "-timeout=20",
               "-rss_limit_mb=2048", "-max_len=4000"]  # fmt: skip
    atheris.Setup([sys.argv[0], *options, *sys.argv[1:], str(scratch), str(CORPUS)], _one)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
