"""`python -m turncheck`."""

from turncheck.cli import main

main(prog_name="turncheck")
