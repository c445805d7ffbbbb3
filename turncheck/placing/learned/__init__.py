"""Where points lie on a show's characters, as its marked sheets have it; numpy alone."""
