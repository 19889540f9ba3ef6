"""Write expected.json: the answer to each of the demo's jobs, found by the buyer that tries everything.

    python tests/demo/make_expected.py          all jobs
    python tests/demo/make_expected.py JOB..    prints what these jobs cost in full, and writes nothing

Run it from the repository's root after changing make_sheets.py, the catalogs or a job. The buyer reads plain
csv only, so the sheets' data go to a temporary folder in that form first: what is expected of the demo does
not depend on how the tool reads a sheet.
"""

from __future__ import annotations

import csv
import json
import shutil
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(Path(__file__).resolve().parent)]

import make_sheets  # noqa: E402  (both lie beside this script, which is no package)

from tests.oracle.brute import best  # noqa: E402
from tests.oracle.reading import read_problem  # noqa: E402

HEADERS = ["Part Number", "Price", "Core Charge", "Stock", "Pack", "Min Qty", "Lead Days", "Valid Until"]
STEPS = (3, 5, 6, 10)
RUNS = {
    "harbour": (make_sheets.HARBOUR, make_sheets.HARBOUR_ISSUES),
    "quarry": (make_sheets.QUARRY, make_sheets.QUARRY_ISSUES),
    "tallow": (make_sheets.TALLOW, make_sheets.TALLOW_ISSUES),
    "birkental": (make_sheets.BIRKENTAL, make_sheets.BIRKENTAL_ISSUES),
    "saltpan": (make_sheets.SALTPAN, make_sheets.SALTPAN_ISSUES),
}


def plain_price(supplier: str, price: str) -> str:
    return price.replace(".", "").replace(",", ".") if supplier == "birkental" else price.replace(",", "")


def write_plain_shop(folder: Path) -> None:
    """The demo's catalogs with each price sheet as a plain csv of the same lines."""
    shutil.copytree(ROOT / "catalogs", folder, ignore=shutil.ignore_patterns("price-sheets"))
    for supplier, (first, run) in RUNS.items():
        (folder / "price-sheets" / supplier).mkdir(parents=True)
        for issue, lines in make_sheets.issues(first, run):
            path = folder / "price-sheets" / supplier / f"{Path(issue.name).stem}.csv"
            with path.open("w", encoding="utf-8", newline="") as file:
                writer = csv.writer(file)
                writer.writerow([*HEADERS, *(f"{step}+" for step in STEPS)])
                for line in lines:
                    if isinstance(line, make_sheets.Article):
                        row = [
                            line.number,
                            plain_price(supplier, line.price),
                            line.core,
                            line.stock,
                            line.pack,
                        ]
                        row += [line.minimum, line.lead_days, line.valid_until]
                        writer.writerow([*row, *(line.break_price(step) for step in STEPS)])


def expected(answer: dict[str, Any], minimise: str) -> dict[str, Any]:
    """What the file keeps of an answer: its status, cost, block and other designs."""
    if answer["status"] != "proven":
        return {"status": answer["status"], "cost": None, "block": None}
    combination = answer["combination"]
    here = {part["position"]: part["becomes"] for part in answer.get("in_hand", [])}
    return {
        **({"in_hand": here} if here else {}),
        "status": "proven",
        "cost": answer["totals"][minimise],
        "minimise": minimise,
        "block": combination["block"],
        "combination": combination,
        "kept": answer["kept"],
        "parts": [f"{p['quantity']} x {p['supplier']}/{p['part_number']}" for p in answer["purchases"]],
    }


def main(names: Sequence[str]) -> None:
    jobs = [Path(name) for name in names] or sorted((ROOT / "scenarios").glob("*.toml"))
    answers = {}
    with tempfile.TemporaryDirectory() as temporary:
        shop = Path(temporary) / "catalogs"
        write_plain_shop(shop)
        for job in jobs:
            answer = best(shop, job)
            answers[job.name] = expected(answer, read_problem(shop, job).job.minimise)
            print(json.dumps(answer if names else {job.name: answers[job.name]}, indent=1 if names else None))
    if not names:
        text = json.dumps(answers, indent=1, sort_keys=True) + "\n"
        (ROOT / "tests" / "demo" / "expected.json").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
