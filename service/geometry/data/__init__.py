"""Reference data as it is printed: texts and units, each row with its source."""
