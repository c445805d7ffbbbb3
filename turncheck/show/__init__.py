"""A whole show: every sheet below a folder, checked in parallel, told on one page, learned from."""
