"""`python -m blendwright` is the command `blendwright`."""

from blendwright.app.cli.main import main

main()
