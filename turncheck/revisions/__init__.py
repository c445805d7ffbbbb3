"""A character's revisions: which of them is approved, and whether it still is what was approved."""
