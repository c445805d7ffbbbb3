"""The whole show: many sheets at once, and what they have in common."""
