"""The book: what fits what. Usable alone, with no price in sight."""
