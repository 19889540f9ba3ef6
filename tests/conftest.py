"""What any test may ask for."""

from demofolder import kept_sheets

__all__ = ["kept_sheets"]
