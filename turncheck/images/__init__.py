"""Pictures: reading drawings and getting them ready for the screen."""
