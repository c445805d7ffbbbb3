"""From arrays to arrays: heights, turn, outlines and colours of one body, and how sure they are."""
