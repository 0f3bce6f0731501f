"""Add the script that pages carry to a bill of materials and licences: ``carried.py BILL.json LICENCES.md``."""

from __future__ import annotations

import hashlib
import json
import re
import sys
from pathlib import Path

VENDOR = Path(__file__).parents[1] / "reports" / "assets" / "vendor"
HEADING = re.compile(r"\* (?P<name>\S+) \((?P<bundle>\w+)[^)]*\) v(?P<version>[\d.]+)")


def main(bill_file: Path, licences_file: Path) -> None:
    """Read name and version in each script's own heading, its licence in the file beside it."""
    bill = json.loads(bill_file.read_text())
    for script in sorted(VENDOR.glob("*.js")):
        told = HEADING.search(script.read_text()[:400])
        licence = script.with_name(script.name.removesuffix(".min.js") + ".LICENSE").read_text()
        if told is None or not licence.startswith("MIT License"):
            raise SystemExit(f"{script}: name and version were expected in its heading, an MIT licence beside it")
        name, version = told["name"], told["version"]
        bill["components"].append({
            "bom-ref": f"{name}=={version}",
            "description": f"{told['bundle']} bundle, carried inside as {script.relative_to(VENDOR.parents[2])}",
            "hashes": [{"alg": "SHA-256", "content": hashlib.sha256(script.read_bytes()).hexdigest()}],
            "licenses": [{"license": {"acknowledgement": "declared", "id": "MIT"}}],
            "name": name,
            "type": "library",
            "version": version,
        })  # fmt: skip
        with licences_file.open("a") as table:
            table.write(f"| {name} ({told['bundle']} bundle, in the pages) | {version} | MIT | {script.name} |\n")
    bill_file.write_text(json.dumps(bill, indent=2) + "\n")


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
