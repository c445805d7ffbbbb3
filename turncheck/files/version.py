"""Which turncheck this is: what it writes says so."""

VERSION = "0.1.0"
