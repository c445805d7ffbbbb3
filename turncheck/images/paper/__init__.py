"""Drawings on paper: the ground they stand on, what is ruled over it, and what is left."""
