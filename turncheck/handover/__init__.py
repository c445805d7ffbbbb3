"""What the rigger builds on: pivots, parts that lie hidden, guides to redraw over."""
