"""A picture for the letterhead, kept beside shop.toml under a name of its own."""

from __future__ import annotations

from pathlib import Path

from sourcing.faults import BadInput, BadValue, shown
from sourcing.letterhead import MOST_BYTES, picture_size
from sourcing.page.safename import safe_name
from sourcing.prices.placing import put_in_place, written_beside

MOST_NAMES = 1000


def keep_picture(catalogs: Path, name: str, content: bytes) -> tuple[str, bool]:
    """Its name, and whether it is new there. Raises BadInput where it is no picture that can be printed, or too large."""
    file, place = shown(catalogs / "shop.toml"), "letterhead logo"
    if len(content) > MOST_BYTES:
        raise BadInput([BadValue(file=file, place=place, found="a larger one", expected=f"at most {MOST_BYTES} bytes",
                                 remedy="Save the picture smaller.")])  # fmt: skip
    if picture_size(content) is None:
        raise BadInput([BadValue(file=file, place=place, found=f'"{safe_name(name)}", which is neither',
                                 expected="a .png or .jpg picture")])  # fmt: skip
    stem = Path(safe_name(name)).stem.strip(" .") or "logo"
    ending = ".png" if content.startswith(b"\x89PNG") else ".jpg"
    for number in range(1, MOST_NAMES):
        target = catalogs / (f"{stem}{ending}" if number == 1 else f"{stem} {number}{ending}")
        if target.is_file() and target.read_bytes() == content:
            return target.name, False
        if not target.exists() and not target.is_symlink():
            break
    temporary = written_beside(target, content)
    try:
        put_in_place(temporary, target)
    finally:
        temporary.unlink(missing_ok=True)
    return target.name, True
