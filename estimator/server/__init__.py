"""The page at the bench: a server on this machine alone, made of the same stages that the commands ask."""
