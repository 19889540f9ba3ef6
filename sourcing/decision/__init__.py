"""What the answer means. Knows one verb, `answer(problem) -> Plan`, and is handed it; reads no file, knows no solver."""

from __future__ import annotations

from collections.abc import Callable

from sourcing.plan import Plan
from sourcing.problem import Problem

Answer = Callable[[Problem], Plan]
