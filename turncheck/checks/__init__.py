"""The checks: one module each, found by itself.

A check module holds `CHECK`, a `Check` record whose `run` yields findings. Adding a check is
adding such a module and its test; nothing else names it.
"""
