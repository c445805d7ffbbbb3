"""A whole show: its sheets below one folder, and what is learned from them."""
