"""What comes out: the record, and what a person reads in a terminal."""
