"""The page ended while it saves (kill -9, or the power goes): a job's file is whole, and the next one may save."""

from __future__ import annotations

import contextlib
import random
import re
import sys
import threading
import time
from pathlib import Path

import httpx2
import pytest

from page.conftest import fields_of
from page.served import Served, demo_in, served

LIMITS = "/jobs/exact-block/limits"


def saves_without_end(running: Served, started: threading.Event, hours: range) -> None:
    """One change after the other, until nobody answers."""
    with contextlib.suppress(httpx2.HTTPError), httpx2.Client(base_url=running.address, timeout=60) as client:
        text = client.get(LIMITS, headers={"accept": "text/html"}).text
        fields = fields_of(text, LIMITS)
        for hour in hours:
            said = client.post(LIMITS, data={**fields, "base_hours": str(hour)})
            assert said.status_code in (303, 409)
            started.set()
            told = running.job("exact-block").read_text(encoding="utf-8")
            fields["opened"] = [
                re.sub(r"labour.base_hours = .*", f"labour.base_hours = {_hours(told)}", fields["opened"][0])
            ]
            fields["version"] = [_version(told)]


def _hours(text: str) -> str:
    found = re.search(r"^base_hours = (\S+)$", text, re.M)
    assert found, text
    return found[1]


def _version(text: str) -> str:
    from sourcing.jobfile import JobFile

    return JobFile(Path("job"), text).version


@pytest.mark.skipif(sys.platform == "win32", reason="a process cannot be killed there as the kernel does it here")
def test_a_page_that_is_killed_while_it_saves_leaves_the_job_whole(tmp_path: Path, kept_sheets: Path) -> None:
    demo_in(tmp_path)
    job = tmp_path / "scenarios" / "exact-block.toml"
    before = job.read_text(encoding="utf-8")
    files = {path.name for path in job.parent.glob("*.toml")}
    moments, saved = random.Random(7), set()
    for turn in range(6):
        with served(tmp_path, kept_sheets) as running:
            started = threading.Event()
            hours = range(1000 * (turn + 1), 1000 * (turn + 2))
            saver = threading.Thread(target=saves_without_end, args=(running, started, hours))
            saver.start()
            assert started.wait(60)
            time.sleep(moments.uniform(0.0, 0.15))
            running.process.kill()
            running.process.wait()
            saver.join(60)
            assert not saver.is_alive()
        told = job.read_text(encoding="utf-8")
        assert told == before.replace("base_hours = 13.5", f"base_hours = {_hours(told)}")
        assert {path.name for path in job.parent.glob("*.toml")} == files  # what was half written is nobody's job
        saved.add(int(_hours(told)) // 1000)
    assert saved == set(range(1, 7))  # nobody's lock outlived him
