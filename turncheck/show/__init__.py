"""The whole show: every sheet below a folder, checked in parallel and shown on one page."""
