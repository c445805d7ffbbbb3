"""Arithmetic that every room may use and that knows of none: robust statistics, angles."""
