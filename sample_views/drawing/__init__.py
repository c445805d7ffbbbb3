"""Solid models of the sample characters and the pen that inks them."""
