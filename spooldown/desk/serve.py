"""Start the desk: find a port, tell a second desk of the first, open the browser, and stop cleanly."""

from __future__ import annotations

import hashlib
import json
import os
import socket
import threading
import time
import urllib.request
import webbrowser
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

from reports.words.catalogue import message
from spooldown.desk.session import Place
from spooldown.problems import UsageProblem

PORT = 8765
LOCAL = "127.0.0.1"


def note_of(folder: Path) -> Path:
    """Where a running desk of this logbook leaves its address: a private file of the user's, not in the logbook."""
    from platformdirs import user_cache_path

    name = hashlib.sha256(os.fsencode(folder.resolve())).hexdigest()[:16]
    return user_cache_path("spooldown", appauthor=False) / "desk" / f"{name}.json"


def free_port(wanted: int | None, address: str = LOCAL) -> socket.socket:
    """Bind a port: the one asked for, or the usual one, or else any that is free.

    Raises
    ------
    UsageProblem
        If the port asked for is taken.
    """
    for port in (wanted,) if wanted else (PORT, 0):
        bound = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if os.name == "posix":
            bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            bound.bind((address, port or 0))
            bound.listen()  # until then another desk could bind it too
        except OSError as error:
            bound.close()
            if wanted:
                raise UsageProblem(
                    message("desk.terminal.port", port=wanted, address=address, why=error.strerror or str(error))
                ) from error
            continue
        return bound
    raise UsageProblem(message("desk.terminal.no_port", address=address))


def running(note: Path) -> str:
    """Address of a desk that runs on this logbook already, '' where none does."""
    try:
        told = json.loads(note.read_text("utf-8"))
        url, name = str(told["url"]), str(told["name"])
    except (OSError, ValueError, KeyError, TypeError):
        return ""
    if not url.startswith(f"http://{LOCAL}:"):
        return ""
    try:
        with urllib.request.urlopen(f"{url}/alive", timeout=1.0) as answer:  # http to this machine  # nosec B310
            return url if json.load(answer).get("name") == name else ""
    except (OSError, ValueError):
        return ""


def serve(
    folder: Path,
    *,
    port: int | None = None,
    open_browser: bool = True,
    lan: str = "",
    say: Callable[[str], None] = print,
    ready: Callable[[Place, str], None] | None = None,
) -> None:
    """Run the desk until it is stopped.

    Parameters
    ----------
    folder : Path
        The logbook.
    port : int or None
        Where to listen; the usual port, or any free one, where None.
    open_browser : bool
        Whether to open the address in the browser.
    lan : str
        This machine's address on the field's network, '' to listen on this machine alone.
    say : callable
        Told what a person should read.
    ready : callable or None
        Told the place and the entry address once the desk answers; used by tests.
    """
    import uvicorn

    from spooldown.desk.application import make

    note = note_of(folder)
    if url := running(note):
        say(message("desk.terminal.running", url=url))
        if open_browser:
            _ask_for_entry(note, url)
        return
    bound = [free_port(port)]
    place = Place(LOCAL, bound[0].getsockname()[1])
    hosts = [f"{LOCAL}:{place.port}", f"localhost:{place.port}"]
    if lan:
        bound.append(free_port(place.port, lan))
        hosts.append(f"{lan}:{place.port}")
    desk = make(folder, place, hosts, lan=Place(lan, place.port) if lan else None)
    entry = f"{place.url}/enter?code={desk.keys.code(own=True)}"
    config = uvicorn.Config(desk.app, log_level="warning", lifespan="on", server_header=False, timeout_keep_alive=15)
    server = uvicorn.Server(config)
    desk.say = say
    desk.stop = lambda: setattr(server, "should_exit", True)
    _remember(note, {"url": place.url, "name": desk.name, "door": str(desk.door)})

    # Another thread says it, where nobody knows who reads.
    phones = message("desk.terminal.phones", url=f"http://{lan}:{place.port}")
    told = (message("desk.terminal.open", url=place.url), phones)

    def tell() -> None:
        while not server.started:
            time.sleep(0.01)
            if server.should_exit:
                return
        say(told[0])
        say(f"  {entry}")
        if lan:
            say(told[1])
        if ready:
            ready(place, entry)
        if open_browser:
            webbrowser.open(entry)

    threading.Thread(target=tell, daemon=True).start()
    try:
        server.run(sockets=bound)
    finally:
        desk.close()
        note.unlink(missing_ok=True)
        for one in bound:
            one.close()


def _remember(note: Path, told: dict[str, Any]) -> None:
    # On a read-only medium a second desk just does not find the first.
    with suppress(OSError):
        note.parent.mkdir(parents=True, exist_ok=True)
        part = note.with_suffix(f".{os.getpid()}.part")
        part.touch(mode=0o600)
        part.write_text(json.dumps(told), "utf-8")
        os.replace(part, note)


def _ask_for_entry(note: Path, url: str) -> None:
    """Ask the running desk for a way in: whoever may read its private file may have one."""
    try:
        door = json.loads(note.read_text("utf-8"))["door"]
    except (OSError, ValueError, KeyError):
        return
    webbrowser.open(f"{url}/enter?door={door}")
