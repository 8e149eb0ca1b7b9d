"""`python -m blendwright` is the command `blendwright`."""

from blendwright.cli import main

main()
