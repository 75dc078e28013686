"""Files as they should never be, put before every reader of the program."""
