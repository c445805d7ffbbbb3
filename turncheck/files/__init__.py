"""The edge where files of a user are found, read as text, and written whole or not at all."""
