"""What people get wrong before any drawing is wrong."""
