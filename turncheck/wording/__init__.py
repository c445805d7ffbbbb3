"""How everything is written for the people who draw: figures, names, findings, what to do."""
