"""python -m voice: the same as the gladhand command."""

from voice.cli import main

main()
