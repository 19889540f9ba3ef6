"""`python -m sourcing`."""

from sourcing.cli import main

main()
