"""Prices: from a supplier's file to offers. Usable alone, with no book in sight."""
