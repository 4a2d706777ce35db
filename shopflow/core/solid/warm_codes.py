"""Exit codes of a child of the warm parent, apart from the parent so that callers need not import it."""

DONE, REFUSED, OUT_OF_MEMORY, FAILED = 0, 3, 4, 5
