"""A vehicle identification number: the model years that it can stand for.

Position 10 is the model year (49 CFR 565.15, table VII; ISO 3779 leaves it to the maker). The letters repeat every 30
years; vininfo reads them.
"""

from __future__ import annotations

import re
from functools import lru_cache


@lru_cache
def model_years_of(vin: str) -> tuple[int, ...]:
    """Model years that a VIN can stand for, newest first; empty where it is no VIN or tells none."""
    if not re.fullmatch(r"[A-HJ-NPR-Z0-9]{17}", vin.strip().upper()):
        return ()
    from vininfo import Vin
    from vininfo.exceptions import ValidationError

    try:
        years = Vin(vin.strip().upper()).years
    except (ValidationError, ValueError):
        return ()
    return tuple(sorted(years, reverse=True))
