"""Price sheets as suppliers send them, one for each trait and some with several, each with what must be read from it.

Everything in them is invented. A sheet is built by code that reads like its trait; `SHEETS` lists them all.
"""

from __future__ import annotations

from . import amounts, encodings, layouts, numbers, shapes
from .case import Case

SHEETS: list[Case] = [*layouts.SHEETS, *numbers.SHEETS, *amounts.SHEETS, *encodings.SHEETS, *shapes.SHEETS]
