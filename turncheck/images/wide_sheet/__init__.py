"""One wide picture with several figures: where each of them is."""
