"""`python -m relearn` is the same as `relearn`."""

from relearn.cli import main

main()
