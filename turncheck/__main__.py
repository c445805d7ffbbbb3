"""`python -m turncheck`."""

from turncheck.cli import start

start()
